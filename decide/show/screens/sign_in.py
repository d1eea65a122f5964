"""Who asks: a name that a reverse proxy on this computer has checked, or one that an OpenID provider vouches for.

The guard looks at each request, takes away whatever a stranger says of himself, and writes the name in a header of its
own. Pages and the store read that header, and nothing else. What a name may do is the store's to say.
"""

import hmac
import json
import time
from collections.abc import Callable
from contextvars import ContextVar, copy_context
from dataclasses import dataclass
from typing import Any, Final, TypeVar
from urllib.parse import quote, unquote

import streamlit as st
from starlette.requests import HTTPConnection
from starlette.types import Scope
from streamlit.web.server.starlette.starlette_server_config import USER_COOKIE_NAME
from streamlit.web.server.starlette.starlette_websocket import _get_signed_cookie_with_chunks

Made = TypeVar("Made")

NAME: Final = b"mendpoint-name"
"""Header with the name, from the proxy to the guard, and from the guard to the pages."""
SECRET: Final = b"mendpoint-secret"
"""Header with what only the proxy and this program know."""
LONGEST_SESSION: Final = 12 * 60 * 60
"""After this a stream ends, and a provider is asked anew. [s]"""
EARLY: Final = 120
"""How far a provider's clock may be ahead. [s]"""
INSIDE: Final = ("/pocket", "/media/", "/_stcore/upload_file/")
"""What nobody gets before a provider has said who it is; all else is the empty page on which to sign in."""


@dataclass(frozen=True)
class SignIn:
    """How people sign in."""

    origin: str
    """The address that people open, as in `https://shop.example`."""
    secret: bytes = b""
    """Of the proxy; none where a provider is asked."""
    client: str = ""
    """What the provider knows this program by."""

    @property
    def host(self) -> str:
        """The name that people call it by, without a port."""
        return self.origin.partition("://")[2].partition(":")[0]


NOBODY: Final = "", float(LONGEST_SESSION)
_way: SignIn | None = None
_NAMED: ContextVar[str | None] = ContextVar("_NAMED", default=None)
"""The name for what a page does after its run, when it has no headers any more."""


def ask_by(way: SignIn | None) -> None:
    """Let people sign in like this from now on; None: nobody signs in, and everybody may do all."""
    global _way
    _way = way


def way() -> SignIn | None:
    """How people sign in, if they do."""
    return _way


def vouched(scope: Scope) -> tuple[str, float]:
    """The name that a request comes from, '' for nobody, and how long its stream may last [s]."""
    assert _way is not None
    if _way.secret:
        names, secrets = ([value for name, value in scope["headers"] if name == wanted] for wanted in (NAME, SECRET))
        if len(names) != 1 or len(secrets) != 1 or not hmac.compare_digest(secrets[0], _way.secret):
            return NOBODY
        return names[0].decode("utf-8", "replace"), LONGEST_SESSION
    raw = _get_signed_cookie_with_chunks(HTTPConnection(scope).cookies, USER_COOKIE_NAME)
    claims: dict[str, Any] = json.loads(raw) if raw else {}
    age, audience = time.time() - claims.get("iat", 0), claims.get("aud")
    if claims.get("origin") != _way.origin or not -EARLY <= age < LONGEST_SESSION:
        return NOBODY
    if _way.client not in (audience if isinstance(audience, list) else [audience]):
        return NOBODY
    # an address that the provider has not checked could be anybody's; its own number for somebody is not
    sure = claims.get("email_verified") is True and claims.get("email")
    return str(sure or f"sub:{claims['sub']}"), LONGEST_SESSION - age


def stamped(scope: Scope, name: str) -> Scope:
    """The request with the name that the guard found, in place of any that it came with."""
    headers = [each for each in scope["headers"] if each[0] not in (NAME, SECRET)]
    return {**scope, "headers": [*headers, (NAME, quote(name).encode())]}


def name_in(scope: Scope) -> str | None:
    """The name that the guard has put on a request: '' for nobody, None where nobody signs in."""
    return (
        None if _way is None else next((unquote(value.decode()) for key, value in scope["headers"] if key == NAME), "")
    )


def is_shut(path: str) -> bool:
    """Whether a path is for those alone who are known."""
    return _way is not None and (bool(_way.secret) or path.startswith(INSIDE))


def who() -> str | None:
    """The name of whoever is at this page: '' for nobody, None where nobody signs in."""
    if _way is None:
        return None
    named = _NAMED.get()
    return unquote(st.context.headers.get(NAME.decode(), "")) if named is None else named


def as_here(made: Callable[[], Made]) -> Callable[[], Made]:
    """The same, to be done later in the name of whoever is at this page now."""
    context = copy_context()
    context.run(_NAMED.set, who())
    return lambda: context.copy().run(made)
