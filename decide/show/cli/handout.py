"""Commands that write a page: the one to hand over, and the pocket page; `main.py` adds them to `mendpoint`."""

import datetime
import time
from pathlib import Path
from typing import Annotated

import typer

from ...errors import CaseError, ReadError
from ...load.files.plain_file import open_plain, write_file
from ..terminal.outlet import tell
from ..text.phrases import Phrases
from .given import (
    GIVEN,
    CaseFile,
    Figures,
    Force,
    PaperSize,
    Place,
    answered,
    home_of,
    option,
    ready_to_write,
    size_of,
    tables_with,
)  # fmt: skip


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
    plain = sheet_text(words, sheet)
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


def pocket(
    out: Annotated[Path, option("pocket.out")],
    place: Place = "US",
    shop: Annotated[str, option("pocket.shop")] = "",
    classes: Annotated[str, option("shop.classes")] = "",
    figures: Figures = None,
    force: Force = False,
) -> None:
    """Write the pocket page."""
    from ...load.files.plain_file import write_file
    from ..pocket.page import pocket_page

    GIVEN.set(home_of(place))
    if out.suffix.lower() != ".html":
        raise CaseError("--out", "must be one of {known}, got {got}", ".html", out.suffix)
    ready_to_write(force, (figures,), out)
    begun = time.monotonic()
    reference = tables_with(figures)
    kinds = [reference.kind(each.strip()).kind for each in classes.split(",") if each.strip()]
    with typer.progressbar(length=100, show_pos=False, file=typer.get_text_stream("stderr")) as bar:
        page = pocket_page(
            reference.place(place).place,
            datetime.date.today(),
            reference,
            shop.strip(),
            kinds,
            lambda share: bar.update(round(100 * share) - bar.pos),
        )
    write_file(out, page, force)
    words = Phrases.of()
    size, taken = (words.number(each, 0) for each in (len(page) / 1000, time.monotonic() - begun))
    tell(words.say("command.pocket.size", path=str(out), size=size, seconds=taken))
