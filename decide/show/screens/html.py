"""The text of a page as HTML: sentences, rows with labels, lists and cards. No Streamlit here.

Names and titles come from customers and files, so every text is escaped: none is ever read as marks. One piece takes
the place of dozens of the screen's own, which a phone draws in a fraction of the time, and what reads a page aloud
hears a list of so many.
"""

import html
from collections.abc import Iterable, Sequence
from urllib.parse import quote

from ..text.certainty import Line


def text(kind: str, content: str) -> str:
    """A text as it is, line breaks and all; `kind` is how it looks."""
    return f'<p class="{kind}">{html.escape(content)}</p>'


def rows(kind: str, lines: Iterable[Line]) -> str:
    """Rows of a label with what it says: below each other as `lines`, beside each other as `facts`, large as `sums`."""
    return f'<dl class="{kind}">{"".join(map(_row, lines))}</dl>'


def _row(row: Line) -> str:
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


def drawing(svg: str) -> str:
    """A drawing of our own, which a script of the page puts in: the library lets none through."""
    return f'<div class="drawn" data-svg="{html.escape(svg)}"></div>'


def ways_to_send(labels: Sequence[str], subject: str, message: str) -> str:
    """A message, and buttons that hand it to the phone's own apps or print the page; by itself nothing leaves."""
    share, sms, mail, print_page = map(html.escape, labels)
    body, head = quote(message), quote(subject)
    return (
        f'<div class="send"><button data-share="{html.escape(message)}">{share}</button>'
        f'<a href="sms:?body={body}">{sms}</a><a href="mailto:?subject={head}&amp;body={body}">{mail}</a>'
        f'<button data-print="">{print_page}</button></div>{text("message", message)}'
    )


def late(content: str) -> str:
    """What a script of the page says once the server has been silent for too long."""
    return f'<p class="live-note" role="status" hidden data-late="{html.escape(content)}"></p>'


def unseen_head(content: str, anchor: str = "") -> str:
    """A heading for who goes by headings, where the eye has another sign; a link may lead to it."""
    leads = f' id="{anchor}"' if anchor else ""
    return f'<h2 class="heard"{leads}>{html.escape(content)}</h2>'


def skip(content: str) -> str:
    """A way for the keys, over what is asked to what is answered."""
    return f'<a class="skip" href="#answer">{html.escape(content)}</a>'


def compared(labels: Iterable[str], columns: Iterable[tuple[str, Iterable[str], bool]]) -> str:
    """Ways beside each other, each a card; the one to choose stands out."""
    names, values, best = zip(*((name, tuple(held), is_best) for name, held, is_best in columns), strict=True)
    looks = [' class="best"' if each else "" for each in best]
    head = "".join(f'<th scope="col"{look}>{html.escape(name)}</th>' for name, look in zip(names, looks, strict=True))
    lines = (
        f'<tr><th scope="row">{html.escape(label)}</th>'
        + "".join(f"<td{look}>{html.escape(cell)}</td>" for cell, look in zip(cells, looks, strict=True))
        + "</tr>"
        for label, cells in zip(labels, zip(*values, strict=True), strict=True)
    )
    return f'<table class="cards"><thead><tr><td></td>{head}</tr></thead><tbody>{"".join(lines)}</tbody></table>'


def table(lines: Iterable[Iterable[str]]) -> str:
    """A table whose first line is its head; the first cell of each other line names it and stands above the rest."""
    head, *others = ([html.escape(cell) for cell in line] for line in lines)
    heads = "".join(f'<th scope="col">{cell}</th>' for cell in head[1:])
    body = (
        f'<tbody><tr><th scope="rowgroup" colspan="{len(head) - 1}">{line[0]}</th></tr>'
        f"<tr>{''.join(f'<td>{cell}</td>' for cell in line[1:])}</tr></tbody>"
        for line in others
    )
    return f'<table class="side">{f"<thead><tr>{heads}</tr></thead>" if heads else ""}{"".join(body)}</table>'


def cards(pieces: Iterable[str]) -> str:
    """Cards beside each other."""
    made = "".join(f'<li class="card">{piece}</li>' for piece in pieces)
    return f'<ul class="cards">{made}</ul>'
