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
    phone: Annotated[str, option("handout.phone")] = "",
    licence: Annotated[str, option("handout.licence")] = "",
    technician: Annotated[str, option("handout.technician")] = "",
    valid: Annotated[int, option("handout.valid", metavar="DAYS", min=0, max=365)] = 0,
    seen: Annotated[list[str] | None, option("handout.found", "--found")] = None,
    logo: Annotated[Path | None, option("handout.logo")] = None,
    figures: Figures = None,
    text: Annotated[bool, option("handout.text", "--text")] = False,
    force: Force = False,
) -> None:
    """Write the answer on one page."""
    from ..pdf.handout import handout as print_page
    from ..pdf.logo import Shop
    from ..pdf.sheet import sheet_of, sheet_text
    from ..text.words import Words

    found = answered(case, figures)
    words = Words.for_household(found.case.household)
    size = size_of(words, paper)
    mine = Shop(shop, address, _read(logo) if logo else b"", phone, licence, technician, valid)
    path = out or case.with_suffix(".pdf")
    if path.suffix.lower() not in (".pdf", ".txt"):
        raise ReadError(str(path), "must end in .pdf or .txt")
    if out is not None or not text:
        ready_to_write(force, (case, figures, logo), path)
    sheet = sheet_of(words, found, on=datetime.date.today(), shop=mine, found=seen or ())
    plain = sheet_text(words, sheet, found.case.household.currency)
    if text:
        typer.echo(plain, nl=False)
    if out is not None or not text:
        page: bytes | str = plain
        if path.suffix.lower() == ".pdf":
            page = print_page(words, found, sheet, size)
        write_file(path, page, force)
        tell(words.say("paper.written", path=str(path)))


def _read(path: Path) -> bytes:
    from ..pdf.logo import MOST_BYTES

    try:
        with open_plain(path) as file:
            return file.read(MOST_BYTES + 1)  # no more than shows that it is too large
    except OSError as error:
        raise ReadError(str(path), error.strerror or "cannot be read") from error
