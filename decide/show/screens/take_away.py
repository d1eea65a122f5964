"""What the customer takes away: the answer on paper, or sent from this phone, and the case as a file."""

import datetime
import functools
import re
from dataclasses import replace
from hashlib import sha256

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from ...answers.answer import Answer
from ...load.cases.case_file import Entries, write_case
from ..pdf.handout import handout
from ..pdf.sheet import Sheet, message_of, sheet_of, sheet_text
from .asked import PageCase
from .evidence import seen_here
from .html import ways_to_send
from .state.repository import paper_here, shop_here, taken
from .state.visits import details_here, title_of
from .widgets import download, say_text, set_fields, show


def take_away(case: PageCase, found: Answer) -> None:
    """Offer the answer on paper and to be sent, the case as a file, and to print the page."""
    words, held = case.words, _held(case)
    st.subheader(words.say("take_away.head"), anchor="take")
    message = message_of(words, found, shop_here())
    labels = [words.say(f"take_away.{key}") for key in ("share", "print")]
    labels[1:1] = [words.say(f"pocket.{key}") for key in ("sms", "mail")]
    show(ways_to_send(labels, words.kind(found.case.appliance.kind), message))
    with st.container(key="take_away", horizontal=True):
        for key, made, ending, mime in (
            ("paper", lambda: _paper(case, found, held), "pdf", "application/pdf"),
            ("text", lambda: sheet_text(words, _sheet(case, found, held)), "txt", "text/plain"),
            ("case", functools.partial(write_case, case.question.entries), "toml", "application/toml"),
        ):
            label = words.say(f"take_away.{key}")
            download(label, taken(made), file_name(case, ending), mime, f"take_{key}", first=False)
    if st.session_state["files"]:
        say_text("small", words.say("door.save_files"))


def give(case: PageCase, found: Answer, label: str = "door.give") -> None:
    """Offer the sheet at the thumb, until it was given for what stands on the page."""
    if is_given(case):
        return
    made, given = functools.partial(_paper, case, found, _held(case)), set_fields({"given": _what(case)})
    download(
        case.words.say(label), taken(made), file_name(case, "pdf"), "application/pdf", "give", True, on_click=given
    )


def is_given(case: PageCase) -> bool:
    """Whether the sheet was given for what stands on the page."""
    return bool(st.session_state["given"] == _what(case))


def _what(case: PageCase) -> tuple[Entries, str]:
    return case.question.entries, case.words.language


def file_name(case: PageCase, ending: str) -> str:
    """A file name of the visit's own: the day, what the visit is found by, and a mark that no other visit has."""
    state = st.session_state
    named = "-".join(re.findall(r"\w+", title_of(case.words, case.question).lower()))[:60]
    run = get_script_run_ctx()  # a page that only its address holds is kept nowhere
    own = state["visit"] or f"{run.session_id if run else ''}{state['uploads']}"
    mark = sha256(own.encode()).hexdigest()[:6]
    return f"{datetime.date.today().isoformat()}-{named}-{mark}.{ending}"


def _held(case: PageCase) -> tuple[list[str], dict[str, str]]:
    """What was seen here and whose it is, taken while the page is drawn: a file is made outside of its session."""
    return seen_here(case), details_here()


def _sheet(case: PageCase, found: Answer, held: tuple[list[str], dict[str, str]]) -> Sheet:
    (seen, whose), shop = held, shop_here()
    shop = replace(shop, technician=whose.get("technician", shop.technician))
    customer = whose.get("customer", "")
    return sheet_of(case.words, found, on=datetime.date.today(), shop=shop, found=seen, customer=customer)


def _paper(case: PageCase, found: Answer, held: tuple[list[str], dict[str, str]]) -> bytes:
    return handout(case.words, found, _sheet(case, found, held), paper_here(case.words))
