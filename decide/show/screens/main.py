"""The screens: which pages there are, and what stands around them."""

from collections.abc import Sequence
from typing import Any

import streamlit as st
from streamlit.navigation.page import StreamlitPage
from streamlit.runtime.scriptrunner import get_script_run_ctx
from streamlit.runtime.uploaded_file_manager import UploadedFileRec
from streamlit.typing import UploadedFile

from ...load.store.store import Store
from ...load.tables.tables import tables
from ..text.phrases import languages
from ..text.words import Words
from .door import page as door
from .home import page as home
from .html import skip
from .shop import page as shop
from .sign_in import way, who
from .state.repository import is_owner, look_up, say_not_saved
from .state.session import begin
from .theme import ICON, dress
from .widgets import say_text, show, words_here


def main() -> None:
    """Run the page that is asked for."""
    begin(tables())
    words = words_here()
    pages = [
        st.Page(door.page, title=words.say("door.page"), url_path="door", default=True),
        st.Page(home.page, title=words.say("home.page"), url_path="home"),
        st.Page(shop.page, title=words.say("shop.page"), url_path="shop"),
    ]
    page = st.navigation(pages, position="hidden")
    st.set_page_config(page_title=f"{page.title} - Mendpoint", page_icon=str(ICON), layout="wide")
    dress(words.language)
    _around(words, pages)
    if _admits(words, page):
        page.run()
    _let_go()


def _admits(words: Words, page: StreamlitPage) -> bool:
    """Whether whoever is here may see a page; what stands in the way is said. Asked at every run, before all else."""
    name, state = who(), st.session_state
    if name is None:
        return True
    if state.setdefault("person", name) != name:  # somebody else goes on with this session
        state.clear()
        st.rerun()
    role = look_up(Store.role)
    if role is not None and (is_owner() or page.url_path != "shop"):
        return True
    st.title(page.title if name else words.say("sign_in.title"), anchor=False)
    reason = "owners" if role else "no_role" if name else "first"
    say_text("sentence", words.say(f"sign_in.{reason}", name=name))
    if role is None:
        say_not_saved(words)
    if not name and st.button(words.say("sign_in.go"), key="sign_in", type="primary"):
        st.login()
    return False


def _around(words: Words, pages: Sequence[StreamlitPage]) -> None:
    """The ways to the other pages, and the language."""
    known = languages()
    show(skip(words.say("around.skip")))
    with st.container(key="around", horizontal=True, vertical_alignment="center"):
        for page in pages if is_owner() else pages[:-1]:
            st.page_link(page)
        if who() and (asked := way()) and not asked.secret and st.button(words.say("sign_in.out"), key="sign_out"):
            st.logout()
        if len(known) > 1:
            with st.popover(known[words.language], key="language_choice"):
                label, shown = words.say("around.language"), known.__getitem__
                st.radio(label, list(known), format_func=shown, key="language", persist_state="session")


def _let_go() -> None:
    """Empty what was uploaded: a field hands its file over when it changes, before the run; nobody reads it later."""
    run = get_script_run_ctx()
    held: Any = run.uploaded_file_mgr if run else None
    for given in st.session_state.to_dict().values():
        if run and isinstance(given, UploadedFile) and given.size:
            held.add_file(run.session_id, UploadedFileRec(given.file_id, given.name, given.type, b""))
