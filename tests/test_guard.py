"""The served program, attacked over loopback: who gets an answer, with which headers, and how much memory it costs.

Three ways of serving are attacked: `mendpoint open`, the same in a shop's network, and `streamlit run app.py`.
"""

import asyncio
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from typing import Any

import pytest
from conftest import ROOT
from starlette.responses import PlainTextResponse
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from test_network import NAME, Site, running
from websockets.exceptions import InvalidStatus
from websockets.sync.client import ClientConnection, connect

from decide.show.screens import guard

WAYS: dict[str, dict[str, Any]] = {"home": {}, "network": {"network": NAME}, "checkout": {"checkout": True}}
BOOK = 45_000_000
"""An upload just below the largest. [byte]"""


@pytest.fixture(scope="module", params=WAYS)
def site(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with running(tmp_path_factory.mktemp(request.param), **WAYS[request.param]) as found:
        yield found


@contextmanager
def page_of(site: Site) -> Iterator[str]:
    """A page that is open, as its browser would; gives the id of its session."""
    address = f"127.0.0.1:{site.port}/_stcore/stream"
    with connect(
        f"ws://{address}", origin=own(site), subprotocols=["streamlit"], max_size=None, max_queue=None, close_timeout=1
    ) as line:
        yield session_of(line)


def session_of(line: ClientConnection) -> str:
    asked = BackMsg()
    asked.rerun_script.query_string = ""
    line.send(asked.SerializeToString())
    while True:
        message = ForwardMsg.FromString(bytes(line.recv(timeout=60)))
        if message.WhichOneof("type") == "new_session":
            return message.new_session.initialize.session_id


def own(site: Site) -> Any:
    return f"http://127.0.0.1:{site.port}"


def put(site: Site, session: str, name: str, size: int, **headers: str) -> int:
    """Upload so many bytes; gives the status, 0 where the server hung up first."""
    token = site.answer("/_stcore/health")[2]["Set-Cookie"].partition("=")[2].partition(";")[0]
    head = b'--b\r\nContent-Disposition: form-data; name="f"; filename="x.csv"\r\n\r\n'
    body = head + bytes(size - len(head) - 9) + b"\r\n--b--\r\n" if size else b""
    values = {
        "X_Xsrftoken": token, "Cookie": f"_streamlit_xsrf={token}", "Content_Length": str(len(body)),
        "Content_Type": "multipart/form-data; boundary=b", **headers,
    }  # fmt: skip
    with suppress(ConnectionError):
        return site.answer(f"/_stcore/upload_file/{session}/{name}", "PUT", body, **values)[0]
    return 0


# Headers


def a_script(site: Site) -> str:
    found = re.search(r'src="\.(/static/js/[^"]+)"', site.answer("/")[1].decode())
    assert found
    return found[1]


ASKED = {
    "the page": ("/", {}, 200),
    "a page": ("/shop", {}, 200),
    "a script": (a_script, {}, 200),
    "health": ("/_stcore/health", {}, 200),
    "the settings for a frame": ("/_stcore/host-config", {}, 200),
    "a page with a slash": ("/shop/", {}, 301),
    "the door by its name": ("/door", {}, 308),
    "no file": ("/media/none.pdf", {}, 404),
    "metrics": ("/_stcore/metrics", {}, 404),
    "a path out": ("//etc/passwd", {}, 400),
    "a post": ("/", {"method": "POST", "Content_Length": "0"}, 405),
    "an upload to no session": ("/_stcore/upload_file/x/y", {"method": "PUT", "Content_Length": "0"}, 403),
    "a foreign host": ("/", {"Host": "evil.test"}, 403),
    "a foreign page": ("/", {"Origin": "http://evil.test"}, 403),
}


@pytest.mark.parametrize("asked", ASKED)
def test_every_answer_keeps_frames_and_foreign_scripts_out(site: Site, asked: str) -> None:
    path, values, expected = ASKED[asked]
    status, _, headers = site.answer(path(site) if callable(path) else path, **values)  # type: ignore[operator]
    assert status == expected
    assert_shielded(headers)


@pytest.mark.parametrize("query", ["", "?kind=refrigerator&title=a%20b%26c"])
def test_the_door_by_its_name_is_the_first_page_with_all_that_was_asked(site: Site, query: str) -> None:
    _, _, headers = site.answer(f"/door{query}")
    assert headers["Location"] == f"/{query}"
    assert site.answer("/home")[0] == 200


def test_the_stream_bears_the_headers_too_open_or_refused(site: Site) -> None:
    for origin, status in ((own(site), 101), ("http://evil.test", 403)):
        line = site.stream(f"127.0.0.1:{site.port}", origin)
        answer = line.getresponse()
        assert answer.status == status
        assert_shielded(answer.headers)
        line.close()


def assert_shielded(headers: Any) -> None:
    assert headers.get_all("X-Frame-Options") == ["DENY"]
    assert headers.get_all("X-Content-Type-Options") == ["nosniff"]
    assert headers.get_all("Referrer-Policy") == ["no-referrer"]
    assert headers.get_all("Cross-Origin-Resource-Policy") == ["same-origin"]
    (policy,) = headers.get_all("Content-Security-Policy")
    parts = {part.split()[0]: part.split()[1:] for part in policy.split(";")}
    assert parts["frame-ancestors"] == ["'none'"]
    assert parts["default-src"] == ["'self'"]
    assert parts["script-src"][0] == "'self'"
    assert all(each.startswith("'sha256-") for each in parts["script-src"][1:]), "no script but known ones"
    assert all(
        each == "'self'" or each.startswith(("ws://127.0.0.1:", "wss://127.0.0.1:")) for each in parts["connect-src"]
    )


def test_no_origin_is_trusted_to_steer_the_page(site: Site) -> None:
    import json

    assert json.loads(site.answer("/_stcore/host-config")[1])["allowedOrigins"] == []


def test_an_error_of_the_library_bears_the_headers(monkeypatch: pytest.MonkeyPatch) -> None:
    async def broken(scope: Any, receive: Any, send: Any) -> None:
        raise RuntimeError("a-secret")

    status, headers, body, raised = asked_of(broken, monkeypatch, "/")
    assert (status, body) == (500, b"")
    assert headers["x-frame-options"] == "DENY"
    assert isinstance(raised, RuntimeError), "the server's log still has it"


def asked_of(
    app: Any, monkeypatch: pytest.MonkeyPatch, path: str, method: str = "GET", waiting: Any = (), size: int = 0
) -> tuple[int, dict[str, str], bytes, Exception | None]:
    """What the guard answers before an application of ours."""
    settings = {"server.allowedHosts": ["localhost"], "server.maxUploadSize": 50, "server.sslCertFile": None}
    monkeypatch.setattr(guard.config, "get_option", settings.__getitem__)
    monkeypatch.setattr(guard, "_waiting", lambda: list(waiting))
    headers = [(b"host", b"localhost"), (b"content-length", str(size).encode())]
    scope = {"type": "http", "method": method, "path": path, "headers": headers}
    sent: list[Any] = []
    raised = None

    async def ask() -> None:
        async def send(message: Any) -> None:
            sent.append(message)

        async def receive() -> Any:
            return {"type": "http.request", "body": b"", "more_body": False}

        await guard.Guard(app)(scope, receive, send)

    try:
        asyncio.run(ask())
    except Exception as error:
        raised = error
    begun = [message for message in sent if message["type"] == "http.response.start"]
    assert len(begun) == 1
    values = {name.decode(): value.decode() for name, value in begun[0]["headers"]}
    return begun[0]["status"], values, b"".join(message.get("body", b"") for message in sent), raised


# Who is answered


@pytest.mark.parametrize("path", ["/", "/shop", "/_stcore/health", "/_stcore/host-config", "/static/js/x.js"])
@pytest.mark.parametrize(
    "host",
    [
        "evil.test",
        f"{NAME}.evil.test",
        "169.254.169.254",
        "",
        "127.0.0.1:99999999",
        "x@127.0.0.1",
        "127.0.0.1;x",
        "[::1]",
    ],
)
def test_a_host_that_is_not_served_gets_nothing(site: Site, path: str, host: str) -> None:
    status, body, _ = site.answer(path, Host=host)
    assert status in (400, 403)
    assert b"<script" not in body
    assert b"Streamlit" not in body


def test_a_host_that_is_not_served_cannot_upload(site: Site) -> None:
    with page_of(site) as session:
        assert put(site, session, "a", 1000, Host="evil.test") == 403
        assert put(site, session, "a", 1000, Origin="http://evil.test") == 403
        assert put(site, session, "a", 1000, Origin=f"http://127.0.0.1:{site.port + 1}") == 403
        assert put(site, session, "a", 1000, Origin=own(site)) == 204


def test_whoever_comes_by_a_wrong_name_is_told_what_to_do(site: Site) -> None:
    assert "Open the address that it printed" in site.answer("/", Host="evil.test")[1].decode()


@pytest.mark.parametrize(
    "origin",
    ["http://localhost:9", "http://127.0.0.1:9", "http://127.0.0.1", "https://127.0.0.1:{port}",
     "http://localhost:{port}", "http://127.0.0.1:{port}.evil.test", "https://shop.test", None],
)  # fmt: skip
def test_a_page_of_another_origin_or_port_opens_no_stream(site: Site, origin: Any) -> None:
    there = origin and origin.format(port=site.port)
    with pytest.raises(InvalidStatus) as refused:
        connect(f"ws://127.0.0.1:{site.port}/_stcore/stream", origin=there, subprotocols=["streamlit"])  # type: ignore[list-item]
    assert refused.value.response.status_code == 403


def test_its_own_page_opens_the_stream(site: Site) -> None:
    with page_of(site) as session:
        assert session


def test_a_page_elsewhere_is_no_stream(site: Site) -> None:
    with pytest.raises(InvalidStatus) as refused:
        connect(f"ws://127.0.0.1:{site.port}/shop", origin=own(site))
    assert refused.value.response.status_code == 404


@pytest.mark.parametrize(
    "path",
    ["/_stcore/metrics", "/_stcore/metrics/", "/_stcore/metrics?families=x", "/_stcore%2fmetrics", "/%5fstcore/metrics",
     "/x/_stcore/metrics", "/_stcore/script-health-check", "/_stcore/agent/openapi.json"],
)  # fmt: skip
def test_what_is_inside_stays_shut(site: Site, path: str) -> None:
    status, body, _ = site.answer(path)
    assert status in (400, 403, 404)
    assert b"HELP" not in body


# Memory


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with running(tmp_path_factory.mktemp("memory"), NAME) as found:
        yield found


def test_many_uploads_into_one_page_stay_within_bounds(alone: Site) -> None:
    before = alone.memory()
    with page_of(alone) as session:
        found = [put(alone, session, f"f{n}", BOOK) for n in range(30)]
        assert found.count(204) == 2, "two of the largest, and no more"
        assert put(alone, session, "last", BOOK, Content_Length=str(BOOK)) in (413, 0)
        assert alone.memory() - before < 250_000_000  # 1,350 MB without the bound
        assert put(alone, session, "small", 1000) == 204, "what is small still goes"


def test_many_pages_together_stay_within_bounds_and_a_closed_one_makes_room(alone: Site) -> None:
    before, taken = alone.memory(), []
    with ExitStack() as open_pages:
        for _ in range(6):
            session = open_pages.enter_context(page_of(alone))
            taken += [put(alone, session, f"f{n}", BOOK) for n in range(2)]
        assert taken.count(204) == 4, "four of the largest, and no more"
        assert alone.memory() - before < 350_000_000
    with page_of(alone) as session:
        assert put(alone, session, "f", BOOK) == 204
    assert alone.memory() - before < 200_000_000


def test_a_length_that_lies_or_lacks_counts_as_the_largest(alone: Site) -> None:
    with page_of(alone) as session:
        assert [put(alone, session, f"f{n}", BOOK // 3) for n in range(4)] == [204] * 4, "60 MB wait"
        for headers in ({"Transfer_Encoding": "chunked", "Content_Length": "10"}, {"Transfer_Encoding": "chunked"}):
            assert put(alone, session, "f", 0, **headers) == 413


def test_many_small_uploads_are_too_many_in_the_end(monkeypatch: pytest.MonkeyPatch) -> None:
    most, path = guard.MOST_OF_ONE // guard.LEAST, "/_stcore/upload_file/a/b"
    for of, there, status in (("a", most, 413), ("a", most - 1, 204), ("b", most, 204), ("b", 2 * most, 413)):
        waiting = [(of, guard.LEAST)] * there
        assert asked_of(PlainTextResponse("", 204), monkeypatch, path, "PUT", waiting, size=1)[0] == status


def test_an_upload_that_never_ends_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    async def waiting(scope: Any, receive: Any, send: Any) -> None:
        await asyncio.Event().wait()

    monkeypatch.setattr(guard, "LONGEST", 0.05)
    status, headers, _, raised = asked_of(waiting, monkeypatch, "/_stcore/upload_file/a/b", "PUT")
    assert (status, raised) == (408, None)
    assert headers["x-frame-options"] == "DENY"


def test_pages_beyond_the_most_are_refused_and_a_closed_one_makes_room(monkeypatch: pytest.MonkeyPatch) -> None:
    """1,000 open pages would take all memory, and all files that a system lets a program open."""
    settings = {"server.allowedHosts": ["localhost"], "server.sslCertFile": None}
    monkeypatch.setattr(guard.config, "get_option", settings.__getitem__)
    monkeypatch.setattr(guard, "MOST_STREAMS", 2)
    headers = [(b"host", b"localhost"), (b"origin", b"http://localhost")]
    scope = {"type": "websocket", "path": "/_stcore/stream", "headers": headers}
    scope["extensions"] = {"websocket.http.response": {}}

    async def ask() -> None:
        closed = asyncio.Event()
        begun: list[Any] = []

        async def page(scope: Any, receive: Any, send: Any) -> None:
            await send({"type": "websocket.accept"})
            await closed.wait()

        async def send(message: Any) -> None:
            if message["type"] in ("websocket.accept", "websocket.http.response.start"):
                begun.append(message.get("status", 101))

        async def receive() -> Any:
            return {"type": "websocket.connect"}

        at_the_gate = guard.Guard(page)
        pages = [asyncio.create_task(at_the_gate(scope, receive, send)) for _ in range(4)]
        await asyncio.sleep(0.01)
        assert sorted(begun) == [101, 101, 503, 503]
        closed.set()
        await asyncio.gather(*pages)
        await at_the_gate(scope, receive, send)
        assert begun[-1] == 101

    asyncio.run(ask())


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such bound")
def test_the_program_may_open_as_many_files_as_its_pages_need() -> None:
    """A usual bound of 1,024 is passed by 250 open pages; the library then writes thousands of faults a second."""
    asked = "import resource as r; of = r.RLIMIT_NOFILE; r.setrlimit(of, (256, r.getrlimit(of)[1]))\n"
    asked += "from decide.show.serve import _allow_open_files as allow; allow(); print(*r.getrlimit(of))"
    told = subprocess.run([sys.executable, "-c", asked], check=True, capture_output=True, text=True, cwd=ROOT).stdout
    soft, hard = map(int, told.split())
    assert soft == min(hard, 10_240) > 256
