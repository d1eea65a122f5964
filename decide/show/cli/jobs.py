"""Commands on a shop's job book: weighed, row by row and in sums; and what its own records say.

`main.py` adds them to the command `mendpoint`; status and errors are as described there. Progress messages go to
standard error, so that standard output holds the answer alone.
"""

import datetime
import json as json_module
from contextlib import ExitStack
from pathlib import Path
from typing import Annotated

from ..terminal.outlet import print_json, tell
from . import given
from .given import argument, option


def jobs(
    book: Annotated[Path, argument("jobs.book", metavar="BOOK")],
    mapping: Annotated[Path | None, option("jobs.mapping", metavar="MAP.toml")] = None,
    save_mapping: Annotated[Path | None, option("jobs.save_mapping", metavar="MAP.toml")] = None,
    place: given.BookPlace = None,
    mended: given.Mended = None,
    answers: given.Answers = None,
    out: Annotated[Path | None, option("jobs.out", metavar="FILE")] = None,
    words_out: Annotated[Path | None, option("jobs.words", "--words", metavar="WORDS.csv")] = None,
    sheet: given.Sheet = None,
    figures: given.Figures = None,
    with_people: Annotated[bool, option("jobs.with_people", "--with-people")] = False,
    force: given.Force = False,
    json: Annotated[bool, option("jobs.json", "--json")] = False,
) -> None:
    """Weigh every job of a shop's book."""
    from ...answers.book import weigh_book
    from ...load.files.plain_file import write_file
    from ...load.jobs.columns import write_mapping
    from ...load.jobs.export import RowWriter, write_table
    from ...load.jobs.open_words import ranked
    from ...load.jobs.people import left_out, people_like
    from ..terminal.records import jobs_data, show_jobs, show_mapping
    from ..text.jobs import rows_out, sheet_form, skipped_out, summary_lines
    from ..text.words import Words

    def progress(rows: int, share: float) -> None:
        """A line now and then, on standard error."""
        if share < 1:  # what came of it follows
            tell(words.say("terminal.jobs.progress_plain", rows=words.number(rows, 0), share=words.percent(share, 0)))

    given.GIVEN.set(given.home_of(place))
    opened = given.opened_book(book, mended, sheet)
    skipped = None if out is None else out.with_name(f"{out.stem}.set-apart.csv")
    given.ready_to_write(force, (book, mapping, mended, answers, figures), save_mapping, out, skipped, words_out)
    columns, reference = given.columns_of(opened, mapping, place, answers), given.tables_with(figures)
    words = Words.for_place(columns.place)
    if save_mapping is not None:
        write_file(save_mapping, write_mapping(columns), force)
        tell(words.say("terminal.jobs.mapping_written", path=str(save_mapping)))
    if not json:
        show_mapping(words, opened.header, columns)
    without = () if with_people or out is None else people_like(opened, left_out(opened.header, columns))
    with ExitStack() as files:
        header, write, write_skipped = opened.header, None, None
        if out is not None and skipped is not None:
            rows = files.enter_context(RowWriter.of(out, force, sheet_form(words, header, columns)))
            apart = files.enter_context(RowWriter.of(skipped, force))
            write, write_skipped = rows_out(words, header, rows, without), skipped_out(words, header, apart, without)
        found = weigh_book(opened, columns, reference, write, write_skipped, progress)
        if write is not None:
            rows.summarise(summary_lines(words, found, reference))
    if out is not None:
        tell(words.say("terminal.jobs.rows_written", path=str(out)))
    if without:
        tell(words.say("terminal.jobs.left_out", columns=", ".join(without)))
    if words_out is not None and (open_words := ranked(columns, found.coverage)):
        write_table(words_out, [{**vars(word), "means": ""} for word in open_words], force)
        tell(words.say("terminal.jobs.words_written", n=words.number(len(open_words), 0), path=str(words_out)))
    if json:
        print_json(jobs_data(found, words.currency, found.coverage.held_back(reference, columns.place)))
    else:
        show_jobs(words, found, reference, str(skipped) if skipped and found.skipped else "")


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
