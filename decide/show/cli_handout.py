"""The command that writes the one page to hand over; `cli.py` adds it to the command `mendpoint`."""

import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from ..errors import MendpointError, ReadError
from .outlet import refused
from .phrases import Phrases

if TYPE_CHECKING:
    from ..load.case_file import Entries
    from ..uncertainty import HowSure
    from .answer import Answer
    from .paper import Size

PHRASES: Final = Phrases.of()

SIZES: Final[dict[str, "Size"]] = {"a4": "A4", "letter": "Letter"}
OF_REGION: Final = {"US": "letter", "EU": "a4"}


def handout(
    case: Annotated[Path, typer.Argument(metavar="CASE.toml", help=PHRASES.say("command.case"), show_default=False)],
    out: Annotated[
        Path | None, typer.Option(metavar="FILE.pdf", help=PHRASES.say("command.handout.out"), show_default=False)
    ] = None,
    paper: Annotated[str | None, typer.Option(help=PHRASES.say("command.handout.paper"), show_default=False)] = None,
    shop: Annotated[str, typer.Option(help=PHRASES.say("command.handout.shop"), show_default=False)] = "",
    address: Annotated[str, typer.Option(help=PHRASES.say("command.handout.address"), show_default=False)] = "",
    logo: Annotated[Path | None, typer.Option(help=PHRASES.say("command.handout.logo"), show_default=False)] = None,
    text: Annotated[bool, typer.Option("--text", help=PHRASES.say("command.handout.text"))] = False,
) -> None:
    """Write the answer on one page."""
    from ..load.case_file import read_case
    from .answer import answer
    from .handout import Shop, handout_text
    from .handout import handout as print_page
    from .words import Words

    entries: Entries = {}
    try:
        entries = read_case(case)
        found = answer(entries, folder=case.parent)
        words = Words.for_place(found.case.household.place)
        size = _size(words, paper or OF_REGION[words.region])
        mine = Shop(shop, address, _read(words, logo) if logo else b"")
        today, sure = datetime.date.today(), _how_sure(found)
        if text:
            typer.echo(handout_text(words, found, on=today, shop=mine, sure=sure), nl=False)
        if out is not None or not text:
            path = out or case.with_suffix(".pdf")
            _write(words, path, print_page(words, found, on=today, shop=mine, size=size, sure=sure))
            typer.echo(words.say("paper.written", path=str(path)), err=True)
    except MendpointError as fault:
        raise refused(fault, entries) from None


def _how_sure(answer: "Answer") -> "HowSure | tuple[float, float] | None":
    """How sure the verdict is; without a quote, how sure the highest one worth paying; none where a repair is out."""
    from .certainty import has_limit, has_verdict, limits_drawn, sure_of

    if has_verdict(answer):
        return sure_of(answer.entered, answer.ranges)
    return limits_drawn(answer.entered, answer.ranges) if has_limit(answer) and answer.ranges else None


def _size(words: Phrases, given: str) -> "Size":
    if given.lower() not in SIZES:
        raise ReadError("--paper", words.say("paper.size", given=given))
    return SIZES[given.lower()]


def _read(words: Phrases, path: Path) -> bytes:
    from .logo import MOST_BYTES

    try:
        with path.open("rb") as file:
            return file.read(MOST_BYTES + 1)  # no more than shows that it is too large
    except OSError as error:
        raise ReadError(str(path), error.strerror or words.say("paper.unreadable")) from error


def _write(words: Phrases, path: Path, data: bytes) -> None:
    try:
        path.write_bytes(data)
    except OSError as error:
        raise ReadError(str(path), error.strerror or words.say("paper.unwritable")) from error
