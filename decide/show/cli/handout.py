"""The command that writes the one page to hand over; `cli.py` adds it to the command `mendpoint`."""

import datetime
from pathlib import Path
from typing import Annotated

import typer

from ...errors import ReadError
from ...load.files.plain_file import open_plain, write_file
from ..terminal.outlet import tell
from .given import CaseFile, Figures, Force, PaperSize, answered, option, ready_to_write, size_of


def handout(
    case: CaseFile,
    out: Annotated[Path | None, option("handout.out", metavar="FILE")] = None,
    paper: PaperSize = None,
    shop: Annotated[str, option("handout.shop")] = "",
    address: Annotated[str, option("handout.address")] = "",
    logo: Annotated[Path | None, option("handout.logo")] = None,
    figures: Figures = None,
    text: Annotated[bool, option("handout.text", "--text")] = False,
    force: Force = False,
) -> None:
    """Write the answer on one page."""
    from ..pdf.handout import handout as print_page
    from ..pdf.logo import MOST_BYTES, Shop
    from ..pdf.sheet import handout_text, sheet_of
    from ..text.carbon_words import beside_the_money
    from ..text.words import Words

    found = answered(case, figures)
    words = Words.for_household(found.case.household)
    size = size_of(words, paper)
    mine = Shop(shop, address)
    if logo is not None:
        try:
            with open_plain(logo) as file:
                mine = Shop(shop, address, file.read(MOST_BYTES + 1))  # no more than shows that it is too large
        except OSError as error:
            raise ReadError(str(logo), error.strerror or "cannot be read") from error
    path = out or case.with_suffix(".pdf")
    if path.suffix.lower() not in (".pdf", ".txt"):
        raise ReadError(str(path), "must end in .pdf or .txt")
    if out is not None or not text:
        ready_to_write(force, (case, figures, logo), path)
    sheet = sheet_of(words, found, on=datetime.date.today(), shop=mine, extra=beside_the_money(words, found))
    plain = handout_text(words, found, sheet)
    if text:
        typer.echo(plain, nl=False)
    if out is not None or not text:
        page: bytes | str = plain
        if path.suffix.lower() == ".pdf":
            page = print_page(words, found, sheet, size)
        write_file(path, page, force)
        tell(words.say("paper.written", path=str(path)))
