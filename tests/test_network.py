"""The served screens, probed as a stranger would: foreign names and origins, large uploads, errors, and calls outside.

In the shop's network the server is bound to this computer's own loopback here, since a machine that tests need not have
another address; the name that it is called by is the network's.
"""

import base64
import http.client
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, _wait_for, at_rest, free_port

from decide.errors import CaseError
from decide.show.serve import SETTINGS, serve

NAME = "shop-pc.test"
SECRET = "a-secret-in-an-error"

START = """
import json, sys, threading, time
from pathlib import Path

def hear(event, told):
    if event in ("socket.connect", "socket.sendto", "socket.getaddrinfo", "socket.gethostbyname"):
        with open("asked.txt", "a") as heard:
            heard.write(json.dumps([event, str(told[1] if event in ("socket.connect",
            "socket.sendto") else told[0])]) + "\\n")

sys.addaudithook(hear)
import decide.show.serve as served

def sessions():
    from streamlit.runtime import exists, get_instance
    while True:
        time.sleep(0.2)
        if exists() and hasattr(get_instance(), "_session_mgr"):
            active = [each.session.id for each in get_instance()._session_mgr.list_active_sessions()]
            Path("sessions.tmp").write_text("\\n".join(active))
            Path("sessions.tmp").replace("sessions.txt")
            waiting = get_instance().uploaded_file_mgr.file_storage.values()
            sizes = [len(file.data) for files in list(waiting) for file in list(files.values())]
            Path("uploads.tmp").write_text(json.dumps(sizes))
            Path("uploads.tmp").replace("uploads.txt")

threading.Thread(target=sessions, daemon=True).start()
if __BROKEN__:
    import decide.show.screens.main as main
    def begin(reference):
        raise RuntimeError("__SECRET__ in " + __file__ if "__file__" in globals() else "__SECRET__")
    main.begin = begin
if __NETWORK__:
    served._address_in_network = lambda name: served.ADDRESS
served.serve(__PORT__, network=__NETWORK__)
""".replace("__SECRET__", SECRET)


@dataclass(frozen=True)
class Site:
    """A server of the screens under test."""

    port: int
    folder: Path
    pid: int

    def memory(self) -> int:
        """What the serving process holds in memory. [byte]"""
        status = Path(f"/proc/{self.pid}/status").read_text().splitlines()
        return 1024 * next(int(line.split()[1]) for line in status if line.startswith("VmRSS"))

    def status(self, path: str, method: str = "GET", **headers: str) -> int:
        return self.answer(path, method, **headers)[0]

    def answer(self, path: str, method: str = "GET", body: bytes = b"", **headers: str) -> tuple[int, bytes, Any]:
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        line.putrequest(method, path, skip_host="Host" in headers, skip_accept_encoding=True)
        for name, value in headers.items():
            line.putheader(name.replace("_", "-"), value)
        line.endheaders(body or None)
        got = line.getresponse()
        found = got.status, got.read(200_000), got.headers
        got.close()
        line.close()
        return found

    def stream(self, host: str, origin: str | None) -> http.client.HTTPConnection:
        """A connection on which the page's stream was asked for."""
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        line.putrequest("GET", "/_stcore/stream", skip_host=True)
        values = {
            "Host": host, "Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13",
            "Sec-WebSocket-Key": base64.b64encode(os.urandom(16)).decode(),
        } | ({"Origin": origin} if origin else {})  # fmt: skip
        for name, value in values.items():
            line.putheader(name, value)
        line.endheaders()
        return line

    def stream_status(self, host: str, origin: str | None) -> int:
        line = self.stream(host, origin)
        got = line.getresponse()
        got.close()
        line.close()
        return got.status

    def asked_outside(self) -> list[str]:
        """Whom the serving process called, or looked up, beyond this computer."""
        heard = self.folder / "asked.txt"
        lines = [json.loads(line) for line in heard.read_text().splitlines()] if heard.exists() else []
        return [found for _, found in lines if not any(home in found for home in ("127.0.0.1", "localhost", "::1"))]


@contextmanager
def running(folder: Path, network: str | None = None, broken: bool = False, checkout: bool = False) -> Iterator[Site]:
    port = free_port()
    start = START.replace("__NETWORK__", repr(network)).replace("__BROKEN__", repr(broken))
    command = ["-c", start.replace("__PORT__", str(port))]
    if checkout:
        command = ["-m", "streamlit", "run", str(ROOT / "app.py"), "--server.port", str(port)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "MENDPOINT_STORE": str(folder / "store")}
    with (folder / "server.log").open("w") as log:
        server = subprocess.Popen(
            [sys.executable, *command], cwd=folder, env=environment, stdout=log, stderr=subprocess.STDOUT,
        )  # fmt: skip
        try:
            _wait_for(f"http://127.0.0.1:{port}", server, folder / "server.log")
            yield Site(port, folder, server.pid)
        finally:
            server.terminate()
            try:
                server.wait(5)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()


@pytest.fixture(scope="module")
def at_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with running(tmp_path_factory.mktemp("home")) as site:
        yield site


@pytest.fixture(scope="module")
def in_network(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with running(tmp_path_factory.mktemp("network"), NAME) as site:
        yield site


FOREIGN = (
    "evil.test",
    f"{NAME}.evil.test",
    f"evil-{NAME}",
    "169.254.169.254",
    "",
    f"x@{NAME}",
    f"{NAME}/x",
    f"{NAME}:99999",
)


def test_the_command_says_the_address_in_one_line_of_its_own(at_home: Site) -> None:
    text = (at_home.folder / "server.log").read_text("utf-8")
    assert text == f"The screens are at http://127.0.0.1:{at_home.port}; Ctrl+C ends them.\n"


def test_both_ways_of_serving_are_in_health(at_home: Site, in_network: Site) -> None:
    for site in (at_home, in_network):
        assert site.answer("/_stcore/health")[:2] == (200, b"ok")
        assert site.status("/") == 200


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost"])
def test_at_home_the_page_streams_to_this_computer(at_home: Site, host: str) -> None:
    called = f"{host}:{at_home.port}"
    assert at_home.stream_status(called, f"http://{called}") == 101


def test_in_the_network_the_page_streams_under_its_name(in_network: Site) -> None:
    called = f"{NAME}:{in_network.port}"
    assert in_network.stream_status(called, f"http://{called}") == 101
    assert in_network.stream_status(NAME.upper(), f"http://{NAME.upper()}") == 101


@pytest.mark.parametrize("host", [*FOREIGN, NAME])
def test_at_home_a_foreign_host_gets_no_stream(at_home: Site, host: str) -> None:
    assert at_home.stream_status(host, f"http://{host}") in (400, 403)


@pytest.mark.parametrize("host", [*FOREIGN, "localhost"])
def test_in_the_network_a_foreign_host_gets_no_stream(in_network: Site, host: str) -> None:
    assert in_network.stream_status(host, f"http://{host}") in (400, 403)


@pytest.mark.parametrize(
    "origin", ["http://evil.test", f"http://{NAME}.evil.test", "null", "file://", "http://evil.test:80@x"]
)
def test_a_page_of_a_foreign_origin_gets_no_stream_and_no_call_leaves(
    at_home: Site, in_network: Site, origin: str
) -> None:
    for site, name in ((at_home, "localhost"), (in_network, NAME)):
        assert site.stream_status(f"{name}:{site.port}", origin) == 403
        status, _, headers = site.answer("/_stcore/health", Origin=origin)
        assert status == 403
        assert headers.get("Access-Control-Allow-Origin") is None
        assert site.asked_outside() == []


def test_the_server_calls_nobody_when_it_starts_and_serves(at_home: Site, in_network: Site) -> None:
    for site, name in ((at_home, "localhost"), (in_network, NAME)):
        line = site.stream(f"{name}:{site.port}", f"http://{name}:{site.port}")
        assert line.getresponse().status == 101
        time.sleep(0.5)
        line.close()
        assert site.asked_outside() == []


# Uploads


def test_an_upload_above_the_limit_is_refused_before_it_is_read(at_home: Site) -> None:
    line = at_home.stream(f"localhost:{at_home.port}", f"http://localhost:{at_home.port}")
    assert line.getresponse().status == 101
    session = _session(at_home)
    path = f"/_stcore/upload_file/{session}/some-file"
    status, _, headers = at_home.answer("/_stcore/health")
    token = headers["Set-Cookie"].partition("=")[2].partition(";")[0]
    values = {
        "X_Xsrftoken": token,
        "Cookie": f"_streamlit_xsrf={token}",
        "Content_Type": "multipart/form-data; boundary=b",
    }
    part = b'--b\r\nContent-Disposition: form-data; name="f"; filename="../../x.csv"\r\n\r\n%s\r\n--b--\r\n'

    def put(body: bytes, **headers: str) -> int:
        return at_home.answer(path, "PUT", body, Content_Length=str(len(body)), **headers)[0]

    assert status == 200
    assert put(part % b"1,2", **values) == 204
    limit = SETTINGS["server.maxUploadSize"] * 1024 * 1024
    stated = {**values, "Content_Length": str(limit + 1_000_000)}
    assert at_home.answer(path, "PUT", **stated)[0] == 413
    assert put(part % b"1,2") == 403, "without the token of its own page"
    assert put(part % b"1,2", **{**values, "X_Xsrftoken": "x"}) == 403
    line.close()
    assert not list(at_home.folder.rglob("x.csv"))


def _session(site: Site) -> str:
    """Id of the one session, which nobody outside is told."""
    deadline = time.monotonic() + 20
    while time.monotonic() < deadline:
        there = site.folder / "sessions.txt"
        if there.exists() and there.read_text().split():
            return there.read_text().split()[-1]
        time.sleep(0.1)
    raise AssertionError("no session began")


@pytest.mark.parametrize("path", ["/_stcore/upload_file/x/y", "/_stcore/upload_file/../../x/y"])
def test_an_upload_without_a_session_is_refused(at_home: Site, path: str) -> None:
    assert at_home.status(path, "PUT", Content_Length="0") in (400, 403, 404, 405)


@pytest.mark.parametrize(
    "path", ["/../../etc/passwd", "/..%2f..%2f..%2fetc/passwd", "/static/..%5c..%5cx", "/media/../../etc/passwd",
    "//etc/passwd",
             "/app/static/../../pyproject.toml", "/component/x/../../../etc/passwd", "/_stcore/../../etc/passwd"],
)  # fmt: skip
def test_no_path_leads_out_of_what_is_served(at_home: Site, path: str) -> None:
    status, body, _ = at_home.answer(path)
    assert b"root:" not in body
    assert b"[project]" not in body
    assert status in (200, 307, 400, 403, 404), "the page itself stands at any name of a page"


# Errors


@pytest.mark.browser
@pytest.mark.parametrize("network", [None, NAME])
def test_an_error_that_nobody_caught_shows_no_detail(chromium: Any, tmp_path: Path, network: str | None) -> None:
    with running(tmp_path, network, broken=True) as site:
        page = chromium.new_context().new_page()
        page.goto(f"http://127.0.0.1:{site.port}")
        at_rest(page).wait_for_selector("[data-testid=stException], [data-testid=stAlert]")
        shown = page.content()
        page.context.close()
        assert SECRET in (site.folder / "server.log").read_text(), "the owner of the server finds it in the log"
    for detail in (SECRET, "Traceback", str(ROOT), ".py", *(["RuntimeError"] if network else [])):
        assert detail not in page_text(shown)


def page_text(content: str) -> str:
    """What a page says, without its scripts."""
    import re

    return re.sub(r"<[^>]*>", " ", re.sub(r"(?s)<(script|style)\b.*?</\1>", " ", content))


# Names


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("127.0.0.1", "stands for 127.0.0.1, which others cannot reach; give its own address"),
        ("localhost", "which others cannot reach"),
        ("0.0.0.0", "stands for 0.0.0.0, which others cannot reach"),
        ("no-such-name.invalid", "is no name or address of this computer"),
        ("", "which others cannot reach"),
        ("a" * 300, "is no name or address of this computer"),
        ("a..b", "is no name or address of this computer"),
        ("198.51.100.7", "stands for 198.51.100.7, which is not this computer's"),
    ],
)
def test_a_name_that_others_cannot_use_is_refused_plainly(name: str, says: str) -> None:
    with pytest.raises(CaseError, match=says):
        serve(network=name)


@pytest.mark.slow
def test_the_command_says_so_without_a_traceback() -> None:
    command = [sys.executable, "-m", "decide", "open", "--network", "127.0.0.1"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2 or done.returncode == 1
    assert "which others cannot reach" in " ".join((done.stderr + done.stdout).split())
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(("variable", "threads"), [(None, "1"), ("3", "3")])
def test_algebra_has_one_thread_unless_the_owner_says_otherwise(variable: str | None, threads: str) -> None:
    look = "import decide.show.cli.main, numpy, os; print(os.environ['OPENBLAS_NUM_THREADS'])"
    early = "import sys, decide.show; assert 'numpy' not in sys.modules; "
    environment = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    environment |= {"OPENBLAS_NUM_THREADS": variable} if variable else {}
    process = subprocess.run(
        [sys.executable, "-c", early + look], cwd=ROOT, env=environment, capture_output=True, text=True, check=True
    )
    assert process.stdout.strip() == threads
