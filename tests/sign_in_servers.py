"""What the tests of signing in talk to: the screens behind a real Caddy on loopback, and pages of browsers."""

import base64
import http.client
import json
import os
import shutil
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, free_port
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.sync.client import ClientConnection, connect

NAME = "shop.test"
SECRET = "a-secret-of-the-proxy-which-only-it-and-the-program-know"
PEOPLE = {"boss": "owner's word", "van1": "van1's word", "van2": "van2's word", "guest": "guest's word"}
"""Names that the proxy knows, with their passwords."""

START = """
import sys

def hear(event, told):
    if event == "socket.connect":
        with open("asked.txt", "a") as heard:
            heard.write(f"{told[1]}\\n")

sys.addaudithook(hear)
import decide.show.screens.sign_in as signing
signing.LONGEST_SESSION = float(sys.argv[1])
from pathlib import Path
from decide.show.serve import serve
port, behind, secret, provider, owners = eval(sys.argv[2])
path = lambda text: Path(text) if text else None
serve(port, behind=behind, proxy_secret=path(secret), sign_in=path(provider), owners=owners)
"""


def caddy() -> str:
    found = shutil.which("caddy")
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail("no caddy: signing in would go untested")
        pytest.skip("no caddy on this machine")
    return found


def written(path: Path, text: str, mode: int = 0o600) -> Path:
    path.write_text(text)
    path.chmod(mode)
    return path


def certificate(folder: Path) -> None:
    command = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", f"/CN={NAME}",
               "-addext", f"subjectAltName=DNS:{NAME}", "-keyout", folder / "key.pem", "-out",
               folder / "cert.pem"]  # fmt: skip
    subprocess.run(command, check=True, capture_output=True)


@dataclass
class Shop:
    """The screens behind a proxy."""

    folder: Path
    outside: int
    """Port of the proxy."""
    inside: int
    """Port of the program, which other accounts of this computer reach too."""
    cookies: dict[str, str] = field(default_factory=dict)

    @property
    def origin(self) -> str:
        return f"https://{NAME}:{self.outside}"

    @property
    def host(self) -> str:
        return f"{NAME}:{self.outside}"

    @property
    def store(self) -> str:
        return str(self.folder / "store")

    def line(self, through: bool = True) -> socket.socket:
        """A connection through the proxy, or past it."""
        plain = socket.create_connection(("127.0.0.1", self.outside if through else self.inside), timeout=60)
        if not through:
            return plain
        trusted = ssl.create_default_context(cafile=str(self.folder / "cert.pem"))
        # a ticket of TLS 1.3 after the handshake wakes the thread that reads while another writes: both wait for ever
        trusted.maximum_version = ssl.TLSVersion.TLSv1_2
        return trusted.wrap_socket(plain, server_hostname=NAME)

    def ask(
        self, path: str, headers: dict[str, str], through: bool = True, method: str = "GET", body: bytes = b""
    ) -> tuple[int, bytes, Any]:
        line = http.client.HTTPConnection(NAME, timeout=60)
        line.sock = self.line(through)
        line.request(method, path, body or None, {"Host": self.host, **headers})
        got = line.getresponse()
        found = got.status, got.read(), got.headers
        line.close()
        return found

    def stream(self, headers: dict[str, str], through: bool = True, session: str = "") -> ClientConnection:
        """The stream of a page; `session` is one that it goes on with."""
        return connect(
            f"ws://{self.host}/_stcore/stream", sock=self.line(through),
            origin=self.origin, additional_headers=headers, close_timeout=1, open_timeout=60, max_size=None,  # type: ignore[arg-type]
            subprotocols=["streamlit", "x", session] if session else ["streamlit"],  # type: ignore[list-item]
        )  # fmt: skip


def word_of(name: str, word: str | None = None) -> dict[str, str]:
    """The header by which a browser says name and password."""
    told = base64.b64encode(f"{name}:{PEOPLE[name] if word is None else word}".encode()).decode()
    return {"Authorization": f"Basic {told}"}


class Page:
    """A page that somebody has open: what it shows, and what can be tapped."""

    def __init__(self, line: ClientConnection, address: str = "/", query: str = "") -> None:
        self.line, self.query = line, query
        self.state: dict[str, Any] = {}
        self.run(address)

    def run(self, address: str = "/", **taps: Any) -> str:
        """Run it at an address, some button tapped or text typed; gives all that it shows."""
        asked = BackMsg()
        asked.rerun_script.query_string = self.query
        asked.rerun_script.page_name = address.strip("/")
        for key, value in taps.items():
            state = asked.rerun_script.widget_states.widgets.add()
            state.id = self.ids[key]
            if value is True:
                state.trigger_value = True
            else:
                state.string_value = value
        self.line.send(asked.SerializeToString())
        shown: list[str] = []
        self.ids: dict[str, str] = getattr(self, "ids", {})
        while True:
            message = ForwardMsg.FromString(bytes(self.line.recv(timeout=90)))
            kind = message.WhichOneof("type")
            if kind == "new_session":
                self.session = message.new_session.initialize.session_id
            if kind == "auth_redirect":
                self.redirect = message.auth_redirect.url
            if kind == "delta":
                shown.append(str(message.delta))
                for part in ("button", "text_area", "text_input", "download_button"):
                    each = getattr(message.delta.new_element, part, None)
                    if each is not None and each.id:
                        self.ids[each.id.rpartition("-")[2]] = each.id
            if kind == "script_finished":
                self.text = "\n".join(shown).replace("\\\\'", "'").replace("&#x27;", "'")
                assert "exception {" not in self.text
                return self.text


@contextmanager
def process(command: list[Any], log: Path, **settings: Any) -> Iterator["subprocess.Popen[bytes]"]:
    with log.open("w") as told:
        found = subprocess.Popen([str(each) for each in command], stdout=told, stderr=subprocess.STDOUT, **settings)
        try:
            yield found
        finally:
            found.terminate()
            try:
                found.wait(10)
            except subprocess.TimeoutExpired:
                found.kill()
                found.wait()


def answers(port: int, running: "subprocess.Popen[bytes]", log: Path) -> None:
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline and running.poll() is None:
        with suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=2):
            return
        time.sleep(0.05)
    raise AssertionError(f"nothing answers: {log.read_text()}")


@contextmanager
def shop_behind(
    folder: Path,
    site: str,
    longest: float = 12 * 3600,
    provider: "Provider | None" = None,
    owners: tuple[str, ...] = ("boss",),
) -> Iterator[Shop]:
    """The screens behind a Caddy whose site block holds these lines."""
    shop = Shop(folder, free_port(), free_port())
    certificate(folder)
    secret = "" if provider else str(written(folder / "secret", f"{SECRET}\n"))
    file = str(provider.file(folder, shop.origin)) if provider else ""
    config = f"{{\n admin off\n auto_https disable_redirects\n storage file_system {folder}\n}}\n"
    config += f"{shop.origin} {{\n bind 127.0.0.1\n tls {folder}/cert.pem {folder}/key.pem\n"
    config += site.replace("127.0.0.1:8501", f"127.0.0.1:{shop.inside}") + "\n}\n"
    written(folder / "Caddyfile", config)
    asked = json.dumps([shop.inside, shop.origin, secret, file, owners])
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "MENDPOINT_STORE": shop.store}
    inside = [sys.executable, "-c", START, longest, asked]
    outside = [caddy(), "run", "--config", folder / "Caddyfile", "--adapter", "caddyfile"]
    with process(inside, folder / "server.log", cwd=folder, env=environment) as program:
        answers(shop.inside, program, folder / "server.log")
        with process(outside, folder / "caddy.log", cwd=folder, env={**os.environ, "HOME": str(folder)}) as proxy:
            answers(shop.outside, proxy, folder / "caddy.log")
            yield shop


def by_the_proxy(people: dict[str, str] = PEOPLE) -> str:
    """The lines of a site whose proxy asks for names."""
    lines = "\n".join(f"  {name} {hashed(word)}" for name, word in people.items())
    return f""" basicauth {{
{lines}
 }}
 reverse_proxy 127.0.0.1:8501 {{
  header_up -Authorization
  header_up Mendpoint-Name {{http.auth.user.id}}
  header_up Mendpoint-Secret {SECRET}
 }}"""


def hashed(word: str) -> str:
    asked = [caddy(), "hash-password", "--plaintext", word]
    return subprocess.run(asked, check=True, capture_output=True, text=True).stdout.strip()


# a provider

PROVIDER = """
import sys, time
from pathlib import Path
from joserfc.jwk import RSAKey
import oidc_provider_mock._app as provider
from oidc_provider_mock import app

asked = Path(sys.argv[2])  # how the next token is spoilt
usual = provider.OpenIDCode.get_jwt_config

def config(self, grant, client=None):
    found, how = usual(self, grant, client), asked.read_text()
    if how == "expired":
        found["exp"] = -7200
    if how == "issuer":
        found["iss"] = "https://evil.test"
    if how == "key":
        found["key"] = RSAKey.generate_key(2048).as_dict(private=True)
    return found

def audiences(self, request):
    return ["another-program"] if asked.read_text() == "audience" else [request.client.get_client_id()]

provider.OpenIDCode.get_jwt_config, provider.OpenIDCode.get_audiences = config, audiences
if __name__ == "__main__":
    app(require_nonce=True).run(host="127.0.0.1", port=int(sys.argv[1]))
"""

CLIENT = "mendpoint-of-the-shop"


@dataclass
class Provider:
    """An OpenID provider on loopback."""

    port: int
    folder: Path

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def spoil(self, how: str) -> None:
        """Let every token be wrong from now on: expired, of another issuer, key or audience; '' for none."""
        (self.folder / "how").write_text(how)

    def ask(self, method: str, path: str, body: str = "", kind: str = "application/json") -> Any:
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        line.request(method, path, body, {"Content-Type": kind})
        got = line.getresponse()
        got.read()
        line.close()
        return got

    def knows(self, sub: str, **claims: object) -> None:
        assert self.ask("PUT", f"/users/{sub}", json.dumps(claims)).status < 300

    def file(self, folder: Path, origin: str) -> Path:
        """What the program is told of it."""
        return written(
            folder / "provider.toml",
            f'[auth]\nredirect_uri = "{origin}/oauth2callback"\ncookie_secret = "{"c" * 40}"\nclient_id = "{CLIENT}"\n'
            f'client_secret = "secret"\nserver_metadata_url = "{self.address}/.well-known/openid-configuration"\n',
        )


@contextmanager
def provider_running(folder: Path) -> Iterator[Provider]:
    found = Provider(free_port(), folder)
    found.spoil("")
    written(folder / "provider.py", PROVIDER)
    command = [sys.executable, folder / "provider.py", found.port, folder / "how"]
    with process(command, folder / "provider.log", cwd=folder) as running:
        answers(found.port, running, folder / "provider.log")
        yield found


class Visitor:
    """A browser without its window: it keeps cookies, and follows where it is sent."""

    def __init__(self, shop: Shop) -> None:
        self.shop, self.cookies = shop, dict[str, str]()

    @property
    def headers(self) -> dict[str, str]:
        return {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}

    def get(self, path: str) -> tuple[int, str]:
        """The status, and where it leads."""
        status, _, headers = self.shop.ask(path, self.headers)
        for each in headers.get_all("Set-Cookie") or ():
            assert "; Secure" in each
            name, _, value = each.partition(";")[0].partition("=")
            self.cookies[name] = value
            if not value.strip('"'):
                del self.cookies[name]
        return status, headers.get("Location", "")

    def sign_in(self, provider: Provider, sub: str) -> None:
        """Tap "Sign in" and say at the provider who one is."""
        with self.shop.stream(self.headers) as line:
            page = Page(line)
            assert "Sign in to go on" in page.text
            page.run("/", sign_in=True)
        status, there = self.get(page.redirect)
        assert status == 302
        assert there.startswith(provider.address)
        form = "application/x-www-form-urlencoded"
        got = provider.ask("POST", there.removeprefix(provider.address), f"sub={sub}", form)
        back = got.headers["Location"]
        assert back.startswith(f"{self.shop.origin}/oauth2callback?")
        assert self.get(back.removeprefix(self.shop.origin)) == (302, "/")

    def page(self, address: str = "/", query: str = "") -> str:
        """All that a page shows."""
        with self.shop.stream(self.headers) as line:
            return Page(line, address, query).text
