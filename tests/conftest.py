"""The tiers of the tests, a server of the real screens on a free port, and Debian's Chromium to look at them."""

import functools
import html
import os
import re
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from streamlit.components.v2 import manifest_scanner

pytest_plugins = ["published"]

ROOT = Path(__file__).resolve().parents[1]
QUIET_BROWSER = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
PHONE = {"viewport": {"width": 390, "height": 844}, "device_scale_factor": 2, "is_mobile": True, "has_touch": True}
PAUSE = 500
"""After what is typed is sent, and its run begins. [ms]"""
DESK = {"viewport": {"width": 1280, "height": 800}}


settings.register_profile("dev", max_examples=20, deadline=None)
settings.register_profile("ci", max_examples=100, deadline=None, derandomize=True, print_blob=True)
settings.register_profile("soak", max_examples=5000, deadline=None, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") == "true" else "dev")

# each page run by a test would read what is known of every package installed, for components, of which there are none
manifest_scanner.scan_component_manifests = functools.cache(manifest_scanner.scan_component_manifests)

SERVERS = {"at_home", "in_network", "site", "alone", "server", "proxied", "provided"}
"""Fixtures that start a server."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put whatever asks for a started server, and for no browser, into the tier `server`; the pocket page goes first.

    Its tables take minutes to make, so that one process would be at them while others have nothing left to do.
    """
    items.sort(key=lambda item: not item.path.name.startswith("test_pocket_"))
    for item in items:
        fixtures, params = getattr(item, "fixturenames", ()), item.callspec.params if hasattr(item, "callspec") else {}
        starts = SERVERS.intersection(fixtures) or params.get("address") == "server"
        if starts and item.get_closest_marker("browser") is None:
            item.add_marker(pytest.mark.server)


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """Let nothing pass as skipped where all must run."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter else []
    if os.environ.get("CI") == "true" and session.exitstatus == pytest.ExitCode.OK and skipped:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def free_port() -> int:
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        return int(door.getsockname()[1])


def at_rest(page: Any) -> Any:
    """The page once it is drawn and nothing typed waits to be sent: what stood there before lies beside what comes."""
    for wait in (PAUSE, 0):
        page.wait_for_selector("[data-testid=stApp][data-test-script-state=notRunning]")
        page.wait_for_timeout(wait)
    return page


def unfold(page: Any, part: str) -> Any:
    """Open a folded part of the page; gives its summary. What was typed just before may redraw it closed again."""
    from playwright.sync_api import expect

    summary = page.locator("summary", has_text=part)
    for _ in range(5):
        expect(at_rest(page).locator("summary", has_text=part)).to_have_count(1)
        if summary.evaluate("summary => summary.parentElement.open"):
            return summary
        summary.click()
        page.wait_for_timeout(PAUSE)
    raise AssertionError(f"{part!r} did not stay open")


@contextmanager
def served(folder: Path, case: Path | None = None, started: list[int] | None = None) -> Iterator[str]:
    """The address of the screens, started from a folder that has nothing to do with the program.

    The process's id is added to `started`, for a test that halts it.
    """
    port = free_port()
    start = f"from pathlib import Path; from decide.show.serve import serve; serve({port}, {case!r})"
    start = start.replace("PosixPath", "Path").replace("WindowsPath", "Path")
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "MENDPOINT_STORE": str(folder / "store")}
    with (folder / "server.log").open("w") as log:
        server = subprocess.Popen(
            [sys.executable, "-c", start], cwd=folder, env=environment, stdout=log, stderr=subprocess.STDOUT
        )
        try:
            if started is not None:
                started.append(server.pid)
            url = f"http://127.0.0.1:{port}"
            _wait_for(url, server, folder / "server.log")
            yield url
        finally:
            server.terminate()
            try:
                server.wait(5)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()


def _wait_for(url: str, server: "subprocess.Popen[bytes]", log: Path) -> None:
    deadline = time.monotonic() + 30
    while time.monotonic() < deadline and server.poll() is None:
        try:
            urllib.request.urlopen(f"{url}/_stcore/health", timeout=2).close()
            return
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            time.sleep(0.05)
    raise AssertionError(f"the screens did not start: {log.read_text()}")


@pytest.fixture(autouse=True)
def own_store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test writes into the store of whoever runs it, nor finds what another one kept."""
    monkeypatch.setenv("MENDPOINT_STORE", str(tmp_path / "store"))


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with served(tmp_path_factory.mktemp("elsewhere")) as url:
        yield url


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=20_000)  # a busy machine draws a page slowly

    path = shutil.which("chromium")
    if path is None:
        if os.environ.get("CI") == "true":
            pytest.fail("no chromium: the screens would go untested")
        pytest.skip("no chromium on this machine")
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=path, args=QUIET_BROWSER)
        yield browser
        browser.close()


@pytest.fixture(params=[PHONE, DESK], ids=["phone", "desk"])
def screen(request: pytest.FixtureRequest) -> dict[str, Any]:
    """A phone in the hand, and a screen on a desk."""
    return dict(request.param)


@pytest.fixture
def opened(chromium: Any, screen: dict[str, Any]) -> Iterator[Callable[[str], Any]]:
    """Open an address; whatever a page asks of another host makes the test fail."""
    context = chromium.new_context(**screen, locale="en-US")
    asked: list[str] = []

    def open_page(url: str) -> Any:
        page = context.new_page()
        page.on("request", lambda request: asked.append(request.url))
        page.goto(url)
        return page

    yield open_page
    context.close()
    foreign = [url for url in asked if not url.startswith(("http://127.0.0.1", "ws://127.0.0.1", "data:", "blob:"))]
    assert asked
    assert not foreign, f"left this machine: {foreign}"


class _Pieces(HTMLParser):
    """Gathers what stands in each text, label and row of the pieces of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.small: list[bool] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.inside = tag in ("p", "dt", "dd", "th", "td", "li")
        drawn = re.search('aria-label="(.*?)"', dict(attrs).get("data-svg") or "")
        if drawn:
            self.texts.append(html.unescape(drawn[1]))
            self.small.append(False)
        if self.inside:
            self.texts.append("")
            self.small.append(("class", "small") in attrs)

    def handle_endtag(self, tag: str) -> None:
        self.inside = False

    def handle_data(self, data: str) -> None:
        if self.inside:
            self.texts[-1] += data


def texts(part: Any, with_small: bool = True) -> list[str]:
    """What a page that runs without a browser tells, or a part of it."""
    pieces = _Pieces()
    for each in part.get("html"):
        pieces.feed(each.value)
    return [
        text.replace("\n", " ")
        for text, small in zip(pieces.texts, pieces.small, strict=True)
        if text and (with_small or not small)
    ]
