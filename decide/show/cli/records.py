"""The command that tells what a shop's own job book says, and saves its figures for use in place of shipped ones.

`cli.py` adds it to the command `mendpoint`; status and errors are as described there.
"""

import datetime
import json as json_module
from pathlib import Path
from typing import Annotated

from ..terminal.outlet import print_json, tell
from . import given
from .given import argument, option


def records(
    book: Annotated[Path, argument("records.book", metavar="BOOK")],
    mapping: Annotated[Path | None, option("records.mapping", metavar="MAPPING.toml")] = None,
    place: given.BookPlace = None,
    mended: given.Mended = None,
    sheet: given.Sheet = None,
    answers: given.Answers = None,
    shop: Annotated[str | None, option("records.shop")] = None,
    save: Annotated[Path | None, option("records.save", metavar="FIGURES.csv")] = None,
    save_counts: Annotated[Path | None, option("records.save_counts", metavar="COUNTS.json")] = None,
    force: given.Force = False,
    json: given.Json = False,
) -> None:
    """Tell what a job book says of lives, quotes, callbacks and faults."""
    from ...load.files.plain_file import write_file
    from ...load.jobs.own_figures import written
    from ...load.jobs.own_records import book_of, callbacks_of, local_figures, records_of, symptom_counts
    from ..terminal.records import records_data, show_records

    given.ready_to_write(force, (book, mapping, mended, answers), save, save_counts)
    asked = given.asked_book(book, mapping, place, mended, answers, sheet=sheet)
    jobs, reference, held, words = asked.jobs, asked.reference, asked.held, asked.words
    called = callbacks_of(jobs, words.region, reference, asked.columns.callbacks)
    found = records_of(jobs, words.region, reference, called)
    figures = local_figures(found, book_of(jobs, shop or book.stem, datetime.date.today())) if save else ()
    kept = () if held else figures
    if save and kept:
        write_file(save, written(kept), force)
    if save_counts:
        write_file(save_counts, json_module.dumps(symptom_counts(jobs, words.region), indent=1), force)
    if json:
        print_json(records_data(found, called, asked.coverage, held))
    else:
        asked.say_first()
        show_records(words, found, called, held)
    if save and held:
        tell(words.say("records.held_back"))
    elif save:
        key = "records.written" if kept else "records.nothing_to_write"
        tell(words.say(key, n=words.number(len(kept), 0), path=str(save)))
