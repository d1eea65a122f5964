"""The pocket page where the program serves it: made in the shop, kept in the store, given to phones at one address."""

import datetime
from collections.abc import Callable, Mapping
from typing import Final

import streamlit as st
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response
from starlette.types import Receive, Scope, Send

from ...errors import MendpointError
from ...load.store.store import Store
from ...load.tables.tables import Tables
from ..pocket.page import is_fresh, is_ours, part, pocket_page, served_policy
from ..text.words import Words
from . import sign_in
from .state.repository import keeping, look_up, shop_here, taken
from .widgets import download, say_text

ADDRESS: Final = "/pocket/"
WORKER: Final = f"{ADDRESS}worker.js"
"""What keeps the page on a phone. Its scope is the page: a worker reaches no further than its own folder."""
ANSWERS: Final = (ADDRESS, ADDRESS.rstrip("/"), WORKER)

POLICIES: Final[Mapping[str, Callable[[], str]]] = {
    ADDRESS: served_policy,
    WORKER: lambda: "default-src 'none'; connect-src 'self'",
}
"""What each may do."""

KEPT: Final = "pocket_page"
"""The setting that holds the page."""


async def answer(scope: Scope, receive: Receive, send: Send) -> None:
    """Give the page, or the worker that keeps it on the phone; 404 while no page was made."""
    fresh = {"Cache-Control": "no-cache"}
    if scope["method"] not in ("GET", "HEAD"):
        found = Response(status_code=405)
    elif scope["path"] == WORKER:
        found = Response(part("worker.js"), media_type="text/javascript", headers=fresh)
    elif scope["path"] != ADDRESS:
        found = RedirectResponse(ADDRESS)
    else:
        page = await run_in_threadpool(_kept, sign_in.name_in(scope))
        found = Response(page or b"", 200 if page else 404, media_type="text/html", headers=fresh)
    await found(scope, receive, send)


def _kept(name: str | None) -> bytes | None:
    """The page that was made last; what the store cannot give, or not to this name, or is foreign, is not there."""
    try:
        with Store.open(who=lambda: name) as store:
            page = store.settings().get(KEPT)
    except MendpointError:
        return None
    return page if is_ours(page) else None


def say_pocket(words: Words, reference: Tables) -> None:
    """Offer to make the page for the phones of the shop, and to take away the one that was made last."""
    st.header(words.say("pocket.download"), anchor="pocket")
    say_text("sentence", words.say("pocket.about"))
    page = (look_up(Store.settings) or {}).get(KEPT)
    with st.container(key="pocket", horizontal=True):
        wanted = st.button(words.say("pocket.making"), key="make_pocket")
        if is_ours(page):
            name = f"pocket-{datetime.date.today().isoformat()}.html"
            given = taken(lambda: page, name)
            download(words.say("pocket.take_page"), given, name, "text/html", "take_pocket", first=False)
    if page is not None and not is_fresh(page):
        say_text("finding", words.say("pocket.stale"))
    if is_ours(page):
        say_text("small", words.say("pocket.address", address=ADDRESS))
    if wanted:
        label, shop = words.say("pocket.progress"), shop_here()
        bar = st.progress(0.0, label)
        signed = ", ".join(filter(None, (shop.name.strip(), shop.phone.strip() or shop.address.strip())))
        made = pocket_page(
            st.session_state["place"],
            datetime.date.today(),
            reference,
            signed,
            progress=lambda share: bar.progress(share, label),
        )
        keeping(lambda there: there.save_settings({KEPT: made.encode()}))
        st.rerun()
