"""The command that tells what a shop's own job book says, and saves its figures for use in place of shipped ones.

`cli.py` adds it to the command `mendpoint`; status and errors are as described there.
"""

import datetime
import json as json_module
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from ..errors import MendpointError, ReadError
from .outlet import print_json, refused
from .phrases import Phrases

if TYPE_CHECKING:
    from ..load.tables import Tables

PHRASES: Final = Phrases.of()

Figures = Annotated[
    Path | None,
    typer.Option("--figures", metavar="FIGURES.csv", help=PHRASES.say("command.records.figures"), show_default=False),
]
"""The option by which own figures reach an answer."""


def records(
    book: Annotated[Path, typer.Argument(metavar="BOOK", help=PHRASES.say("command.records.book"), show_default=False)],
    mapping: Annotated[
        Path | None,
        typer.Option(metavar="MAPPING.toml", help=PHRASES.say("command.records.mapping"), show_default=False),
    ] = None,
    place: Annotated[str, typer.Option(help=PHRASES.say("command.records.place"))] = "US",
    shop: Annotated[str | None, typer.Option(help=PHRASES.say("command.records.shop"), show_default=False)] = None,
    save: Annotated[
        Path | None, typer.Option(metavar="FIGURES.csv", help=PHRASES.say("command.records.save"), show_default=False)
    ] = None,
    save_counts: Annotated[
        Path | None,
        typer.Option(metavar="COUNTS.json", help=PHRASES.say("command.records.save_counts"), show_default=False),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help=PHRASES.say("command.records.json"))] = False,
) -> None:
    """Tell what a job book says of lives, quotes, callbacks and faults."""
    from ..load.job_book import open_book
    from ..load.job_columns import guess_mapping, read_mapping
    from ..load.job_rows import read_jobs
    from ..load.own_figures import save_figures
    from ..load.own_records import book_of, local_figures, records_of, symptom_counts
    from ..load.tables import tables
    from .records_terminal import records_data, show_records
    from .words import Words

    try:
        region = tables().region_of(place)
        opened = open_book(book, book.name)
        jobs, apart = read_jobs(opened, read_mapping(mapping) if mapping else guess_mapping(opened, place))
        found = records_of(jobs, region, tables())
        kept = local_figures(found, book_of(jobs, shop or book.stem, datetime.date.today())) if save else ()
        if save and kept:
            save_figures(save, kept)
        if save_counts:
            _save_counts(save_counts, symptom_counts(jobs))
    except MendpointError as fault:
        raise refused(fault, {"household": {"place": place}}) from None
    words = Words.for_place(place)
    if json:
        print_json(records_data(found))
    else:
        show_records(words, tables(), found)
    if apart:
        typer.echo(words.say("records.apart", n=words.number(len(apart), 0)), err=True)
    if save:
        key = "records.written" if kept else "records.nothing_to_write"
        typer.echo(words.say(key, n=words.number(len(kept), 0), path=str(save)), err=True)


def _save_counts(path: Path, counts: Mapping[str, Mapping[str, float]]) -> None:
    try:
        path.write_text(json_module.dumps(counts, indent=1), "utf-8")
    except OSError as error:
        raise ReadError(str(path), error.strerror or "cannot be written") from error


def tables_with(figures: Path | None) -> "Tables | None":
    """The tables with a shop's own figures, where some are given; none stands for the shipped ones."""
    if figures is None:
        return None
    from ..load.own_figures import read_figures, with_local
    from ..load.tables import tables

    return with_local(tables(), read_figures(figures))
