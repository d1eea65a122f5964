"""The command that writes the pocket page; `cli.py` adds it to the command `mendpoint`."""

import datetime
import time
from pathlib import Path
from typing import Annotated

import typer

from ...errors import CaseError
from ..terminal.outlet import tell
from ..text.phrases import Phrases
from .given import GIVEN, Figures, Force, Place, home_of, option, ready_to_write, tables_with


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
