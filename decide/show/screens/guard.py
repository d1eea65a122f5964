"""Guards the served program: it answers only its own pages, under its own names, and holds few uploads in memory."""

import asyncio
import functools
import re
from base64 import b64encode
from hashlib import sha256
from importlib.resources import files
from typing import Any, Final

from starlette.datastructures import Headers
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from streamlit import config, runtime

from ..text.phrases import Phrases
from . import pocket, sign_in
from .theme import scripts

HOST: Final = re.compile(r"([a-z0-9._-]+)(?::\d{1,5})?")
"""A name or IPv4 address, perhaps with a port; nothing that could end a header or a policy."""
INSIDE: Final = re.compile(r"/_stcore/(?!(?:health|host-config|stream)$|upload_file/)")
"""What the library serves besides the pages and nobody here needs: metrics above all."""

MOST_OF_ONE: Final = 100_000_000
"""Uploads that wait in memory for one page: two of the largest. [byte]"""
MOST_OF_ALL: Final = 200_000_000
"""The same for all pages together. [byte]"""
LEAST: Final = 10_000
"""What the smallest upload counts for, so that many empty ones are too many in the end. [byte]"""
MOST_STREAMS: Final = 500
"""Pages open at once: each holds about a megabyte and four open files, and a stranger may ask for any number."""
LONGEST: Final = 300
"""An upload slower than this is given up: a book of the largest size at 1.4 Mbit/s. [s]"""


@functools.cache
def _policy() -> str:
    """What a page may load, run and call: only what this server sends; scripts by their digests."""
    index = files("streamlit").joinpath("static/index.html").read_text("utf-8")
    library = re.findall("<script>(.*?)</script>", index, re.S)
    digests = " ".join(f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'" for text in library + scripts())
    return (
        f"default-src 'self'; script-src 'self' {digests}; style-src 'self' 'unsafe-inline'; "
        "img-src 'self' data: blob:; font-src 'self' data:; object-src 'none'; frame-src 'none'; base-uri 'none'; "
        "form-action 'none'; frame-ancestors 'none'; connect-src 'self'"
    )


def _shield(host: str | None, path: str) -> list[tuple[bytes, bytes]]:
    """Headers of every answer. A browser that does not count the page's stream as its own is told its address."""
    policy = pocket.POLICIES[path]() if path in pocket.POLICIES else _policy()
    values = {
        "Content-Security-Policy": policy
        + (f" ws://{host} wss://{host}" if host and path not in pocket.POLICIES else ""),
        "Cross-Origin-Resource-Policy": "same-origin",
        "Referrer-Policy": "no-referrer",
        "X-Content-Type-Options": "nosniff",
        "X-Frame-Options": "DENY",
    }
    return [(name.lower().encode(), value.encode()) for name, value in values.items()]


def _served(headers: Headers) -> str | None:
    """The host that is asked, where the program is served under that name."""
    asked = [host.lower() for host in headers.getlist("host")]
    found = HOST.fullmatch(asked[0]) if len(asked) == 1 else None
    return asked[0] if found and found[1] in config.get_option("server.allowedHosts") else None


def _refused(scope: Scope, headers: Headers, host: str | None) -> tuple[int, str] | None:
    """Status and text for who asks from outside, or asks for what is not served."""
    scheme, way = "https" if config.get_option("server.sslCertFile") else "http", sign_in.way()
    own = f"{scheme}://{host}" if way is None else way.origin
    if host is None or own.partition("://")[2] != host:
        return 403, Phrases.of().say("command.wrong_name")
    origins, is_stream = headers.getlist("origin"), scope["type"] == "websocket"
    if any(origin.lower() != own for origin in origins) or (is_stream and not origins):
        return 403, Phrases.of().say("command.wrong_origin")
    if INSIDE.search(scope["path"]) or (is_stream and not scope["path"].endswith("/_stcore/stream")):
        return 404, ""
    return None


class Guard:
    """Stands before all that the library answers, pages and streams alike."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self.coming: list[tuple[str, int]] = []
        """Uploads on their way, each with its session. [byte]"""
        self.streams = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse; either way with the headers that keep others out."""
        if scope["type"] == "lifespan":
            return await self.app(scope, receive, send)
        headers = Headers(scope=scope)
        host, begun = _served(headers), False

        async def answer(message: Message) -> None:
            nonlocal begun
            if message["type"] in ("http.response.start", "websocket.accept", "websocket.http.response.start"):
                begun, sent = True, message.get("headers", ())
                if sign_in.way() is not None:  # who signed in over HTTPS is told to nobody without it
                    sent = [(name, value + b"; Secure" * (name == b"set-cookie")) for name, value in sent]
                # a proxy that used the connection of a refused stream again would wait on it for ever
                ends = [(b"connection", b"close")] if message["type"] == "websocket.http.response.start" else []
                message = {**message, "headers": [*sent, *_shield(host, scope["path"]), *ends]}
            await send(message)

        refused = _refused(scope, headers, host)
        if refused is not None:
            return await PlainTextResponse(refused[1], refused[0])(scope, receive, answer)
        left: float | None = None
        if sign_in.way() is not None:
            name, left = sign_in.vouched(scope)
            if not name and sign_in.is_shut(scope["path"]):
                return await PlainTextResponse(Phrases.of().say("sign_in.unknown"), 403)(scope, receive, answer)
            scope = sign_in.stamped(scope, name)
        if scope["path"] in pocket.ANSWERS and scope["type"] == "http":
            return await pocket.answer(scope, receive, answer)
        if scope["path"] == "/door":  # as people type the first page, which stands at the root
            way = f"/?{scope['query_string'].decode('latin-1')}".rstrip("?")
            return await RedirectResponse(way, 308)(scope, receive, answer)
        try:
            await self._pass_on(left, headers, scope, receive, answer)
        except Exception:
            if not begun:
                await PlainTextResponse("", 500)(scope, receive, answer)
            raise

    async def _pass_on(
        self, left: float | None, headers: Headers, scope: Scope, receive: Receive, answer: Send
    ) -> None:
        """Have a request answered: an upload where there is room, a stream for as long as who asks is vouched for."""
        _, _, upload = scope["path"].partition("/_stcore/upload_file/")
        if upload and scope["method"] == "PUT":
            await self._take(upload.partition("/")[0], headers, scope, receive, answer)
        elif scope["type"] == "websocket" and self.streams >= MOST_STREAMS:
            await PlainTextResponse("", 503)(scope, receive, answer)
        elif scope["type"] == "websocket":
            self.streams += 1
            try:
                async with asyncio.timeout(left):
                    await self.app(scope, receive, answer)
            except TimeoutError:  # the page asks anew, with what its browser then has to show
                await answer({"type": "websocket.close", "code": 1008})
            finally:
                self.streams -= 1
        else:
            await self.app(scope, receive, answer)

    async def _take(self, session: str, headers: Headers, scope: Scope, receive: Receive, answer: Send) -> None:
        """Let an upload in while there is room for it beside what waits, and what is on its way."""
        text = headers.get("content-length", "") if "transfer-encoding" not in headers else ""
        most = config.get_option("server.maxUploadSize") * 1024 * 1024
        coming = session, max(LEAST, int(text) if text.isdecimal() else most)
        room = [coming, *self.coming, *_waiting()]
        if sum(size for of, size in room if of == session) > MOST_OF_ONE or sum(size for _, size in room) > MOST_OF_ALL:
            return await PlainTextResponse("", 413)(scope, receive, answer)
        self.coming.append(coming)
        try:
            async with asyncio.timeout(LONGEST):
                await self.app(scope, receive, answer)
        except TimeoutError:
            await PlainTextResponse("", 408)(scope, receive, answer)
        finally:
            self.coming.remove(coming)


def _waiting() -> list[tuple[str, int]]:
    """Uploads in memory, each with its session; those of pages that were closed are emptied. [byte]"""
    running = runtime.get_instance()
    kept: Any = running.uploaded_file_mgr
    found = []
    for session, held in list(kept.file_storage.items()):
        for file in list(held.values()):
            if running.is_active_session(session):
                found.append((session, max(LEAST, len(file.data))))
            elif file.data:
                kept.add_file(session, file._replace(data=b""))
    return found


GUARDED: Final = [Middleware(Guard)]
"""What `st.App` is given, in `serve.py` and `app.py`."""
