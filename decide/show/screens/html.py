"""The text of a page as HTML: sentences, rows with labels, lists and cards. No Streamlit here.

Names and titles come from customers and files, so every text is escaped: none is ever read as marks. One piece takes
the place of dozens of the screen's own, which a phone draws in a fraction of the time, and what reads a page aloud
hears a list of so many.
"""

import html
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class LabelledRow:
    """A label, what it says, and what stands small below; one that looks unlike the others has a name."""

    label: str
    text: str
    small: str = ""
    name: str = ""


def text(kind: str, content: str) -> str:
    """A text as it is, line breaks and all; `kind` is how it looks.

    >>> text("note", "a < b")
    '<p class="note">a &lt; b</p>'
    """
    return f'<p class="{kind}">{html.escape(content)}</p>'


def rows(kind: str, lines: Iterable[LabelledRow]) -> str:
    """Rows of a label with what it says: below each other as `lines`, beside each other as `facts`, large as `sums`.

    >>> rows("facts", [LabelledRow("Today", "$530")])
    '<dl class="facts"><div><dt>Today</dt><dd>$530</dd></div></dl>'
    """
    return f'<dl class="{kind}">{"".join(map(_row, lines))}</dl>'


def _row(row: LabelledRow) -> str:
    small = f'<dd class="small">{html.escape(row.small)}</dd>' if row.small else ""
    named = f' class="{row.name}"' if row.name else ""
    return f"<div{named}><dt>{html.escape(row.label)}</dt><dd>{html.escape(row.text)}</dd>{small}</div>"


def listed(kind: str, items: Iterable[str]) -> str:
    """A list of pieces."""
    return f'<ul class="{kind}">{"".join(f"<li>{item}</li>" for item in items)}</ul>'


def error(place: str, sentences: Iterable[str]) -> str:
    """What cannot be used, and a place that a link leads to."""
    return f'<div class="error" id="at-{place}">{"".join(text("sentence", each) for each in sentences)}</div>'


def order(verdict: str, what: str) -> str:
    """What stops the use of a unit and what to do now, and the place that a link leads to."""
    return f'<div class="order" id="at-stop">{text("verdict", verdict)}{text("headline", what)}</div>'


def unseen_head(content: str) -> str:
    """A heading for who goes by headings, where the eye has another sign."""
    return f'<h2 class="heard">{html.escape(content)}</h2>'


def skip(content: str) -> str:
    """A way for the keys, over what is asked to what is answered."""
    return f'<a class="skip" href="#answer">{html.escape(content)}</a>'


def cards(pieces: Iterable[tuple[str, bool]]) -> str:
    """Cards beside each other; the one to choose stands out."""
    made = (f'<li class="card{" best" if is_best else ""}">{piece}</li>' for piece, is_best in pieces)
    return f'<ul class="cards">{"".join(made)}</ul>'
