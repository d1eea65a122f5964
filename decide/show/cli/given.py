"""What several commands are given: a case file, a shop's own figures, a job book and its place, a size of paper.

Whatever is heavy is imported inside the function that needs it, so that the command starts fast.
"""

from collections.abc import Iterable, Mapping
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from ...errors import ReadError
from ..terminal.outlet import tell
from ..text.phrases import Phrases

if TYPE_CHECKING:
    from ...answers.answer import Answer
    from ...load.cases.case_file import Entries
    from ...load.jobs.book import JobBook
    from ...load.jobs.columns import ColumnMapping
    from ...load.jobs.coverage import Coverage
    from ...load.tables.tables import Tables
    from ...shop.jobs import Jobs
    from ..pdf.paper import Size
    from ..text.words import Words

PHRASES: Final = Phrases.of()
"""What is said before a case and its region are known."""

GIVEN: Final[ContextVar[Mapping[str, Any]]] = ContextVar("GIVEN")
"""Entries of the case, or of what is known of it, by which an error is told in the words of its region."""


def option(key: str, *names: str, **settings: Any) -> Any:
    """An option of a command, with the help that the texts have for it."""
    return typer.Option(*names, help=PHRASES.say(f"command.{key}"), **settings)


def argument(key: str, **settings: Any) -> Any:
    """An argument of a command, with the help that the texts have for it."""
    return typer.Argument(help=PHRASES.say(f"command.{key}"), **settings)


Force = Annotated[bool, option("force", "--force")]
"""The option without which no file is written over."""
CaseFile = Annotated[Path, argument("case", metavar="CASE.toml")]
Json = Annotated[bool, option("as_json", "--json")]
Figures = Annotated[Path | None, option("figures", "--figures", metavar="FIGURES.csv")]
"""The option by which own figures reach an answer."""
Place = Annotated[str, option("place")]
BookPlace = Annotated[str | None, option("book_place", "--place")]
"""The option that says where a shop is, over what its mapping says."""
Mended = Annotated[Path | None, option("jobs.mended", "--mended", metavar="FILE.csv")]
"""The option by which skipped rows come back."""
Sheet = Annotated[str | None, option("jobs.sheet", "--sheet")]
Answers = Annotated[Path | None, option("jobs.answers", "--answers", metavar="WORDS.csv")]
"""The option by which words are told."""
PaperSize = Annotated[str | None, option("paper", "--paper")]


def ready_to_write(force: bool, read: Iterable[Path | None], *written: Path | None) -> None:
    """Refuse files to write that are read too, named twice, in a place for no file, or there without `--force`."""
    from ...load.files.plain_file import refuse_target

    taken: set[Path] = set()
    for path in filter(None, written):
        refuse_target(path, over=True)
        if any(path.exists() and each.exists() and path.samefile(each) for each in filter(None, read)):
            raise ReadError(str(path), "is a file that is read here; name another one to write")
        if path.resolve() in taken:
            raise ReadError(str(path), "is named for two files to write")
        taken.add(path.resolve())
        refuse_target(path, force)


def tables_with(figures: Path | None) -> "Tables":
    """The tables, with a shop's own figures in place of shipped ones where some are given."""
    from ...load.tables.tables import tables

    if figures is None:
        return tables()
    from ...load.jobs.own_figures import read_figures, with_local

    return with_local(tables(), read_figures(figures))


def entries_of(case: Path) -> "Entries":
    """The entries of a case file, noted so that errors are told in the words of its region; old names are told."""
    from ...load.cases.case_file import read_case

    old: dict[str, str] = {}
    entries = read_case(case, old)
    GIVEN.set(entries)
    for before, now in old.items():
        tell_renamed(before, now)
    return entries


def path_of_today(path: str) -> str:
    """The path of an entry that was typed, as it is called now; an old name is told."""
    from ...load.cases.renamed import name_of_today

    new = name_of_today(path)
    if new != path:
        tell_renamed(path, new)
    return new


def tell_renamed(old: str, new: str) -> None:
    """Say on standard error that an entry is called otherwise now."""
    typer.echo(PHRASES.say("file.renamed" if new else "file.gone", old=old, new=new), err=True)


def answered(case: Path, figures: Path | None) -> "Answer":
    """The answer of a case file."""
    from ...answers.answer import answer

    return answer(entries_of(case), tables_with(figures), case.parent)


def opened_book(book: Path, mended: Path | None = None, sheet: str | None = None) -> "JobBook":
    """A job book, with skipped rows as they were mended; which sheets there are is told."""
    from ...load.jobs.book import mended as with_mended
    from ...load.jobs.book import open_book

    opened = open_book(book, book.name or str(book), sheet)
    if len(opened.sheets) > 1:
        typer.echo(PHRASES.say("coverage.sheets", sheets=", ".join(opened.sheets), sheet=str(opened.sheet)), err=True)
    return opened if mended is None else with_mended(opened, open_book(mended, mended.name or str(mended)))


def columns_of(
    book: "JobBook", mapping: Path | None, place: str | None, answers: Path | None = None
) -> "ColumnMapping":
    """How the columns are read: as the owner's file says, or guessed; the place as asked for, words as answered."""
    from dataclasses import replace

    from ...load.jobs.columns import guess_mapping, looked_over, read_mapping
    from ...load.jobs.open_words import read_answers
    from ...load.tables.tables import tables

    known = None if place is None else tables().place(place).place
    read = guess_mapping(book, known or "US") if mapping is None else read_mapping(mapping)
    read = read if known is None else replace(read, place=known)
    return read if answers is None else looked_over(book, read_answers(answers, read))


@dataclass(frozen=True)
class AskedBook:
    """A whole book that was read, and what it rests on."""

    jobs: "Jobs"
    columns: "ColumnMapping"
    coverage: "Coverage"
    held: str
    """Why nothing is concluded from it; '' where something is."""
    reference: "Tables"
    words: "Words"

    def say_first(self) -> None:
        """Say how much of it was read, and what looks wrong with its columns."""
        from ...answers.book import suspicions_of
        from ..text.jobs import coverage_sentences

        for each in suspicions_of(self.jobs, self.columns.place, self.reference):
            tell(self.words.say(f"suspicion.{each}"))
        for sentence in coverage_sentences(self.words, self.coverage, self.reference):
            typer.echo(sentence)


def asked_book(
    book: Path, mapping: Path | None, place: str | None, mended: Path | None, answers: Path | None,
    figures: Path | None = None, sheet: str | None = None,
) -> AskedBook:  # fmt: skip
    """Read a whole book as it was asked for."""
    from ...load.jobs.rows import read_book
    from ..text.words import Words

    GIVEN.set(home_of(place))
    opened, reference = opened_book(book, mended, sheet), tables_with(figures)
    columns = columns_of(opened, mapping, place, answers)
    jobs, _, coverage = read_book(opened, columns)
    held = coverage.held_back(reference, columns.place)
    return AskedBook(jobs, columns, coverage, held, reference, Words.for_place(columns.place))


def home_of(place: str | None) -> Mapping[str, Any]:
    """Entries by which an error is told in the words of a place, where no case says it."""
    return {"household": {"place": place or "US"}}


def size_of(words: Phrases, given: str | None) -> "Size":
    """The size of paper that is named, or the usual one of the region."""
    from ..pdf.paper import SIZES, USUAL_SIZE

    if given is None:
        return USUAL_SIZE[words.region]
    for size in SIZES:
        if given.lower() == size.lower():
            return size
    raise ReadError("--paper", "{given} is no size of paper: a4 or letter.", given)
