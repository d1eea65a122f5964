"""From cells to jobs: a chunk of text, read by a mapping into columns, and the rows that cannot be read skipped.

A row is skipped at its first cell that cannot be read, whichever its role; nothing is put in its place. The rest go
on. What has a blank cell goes on without, unless the class, the age or the quote is missing. An error whose words are
not known is `other`, and an outcome whose words are not known is `unknown`; the mapping lists such words. Words
count as the mapping or the tables have them: likeness of spelling is for the guess, which the owner sees.

The age counts as it stands. Where the year of manufacture is given instead, the unit is taken to be made in the middle
of that year. Where both are given and no day of that year makes the age right to within a year, the row is skipped:
one of the two is wrong, and nobody can tell which.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from ...arrays import Floats
from ...economics.case import MONEY, Bounds, Quote
from ...errors import ReadError
from ...shop.jobs import DECISIONS, OPEN, OUTCOMES, UNKNOWN, Codes, Dates, Jobs, concatenate
from ...shop.weigh_jobs import AGES, OWN_BOUNDS, bounds_of
from ..tables.dates import MONTH_FIRST, TIME_OF_DAY, readings
from ..tables.tables import tables
from ..tables.vocabulary import plain, vocabulary
from .book import JobBook, open_book
from .chunks import RejectedRow, TextChunk, series, short
from .columns import IGNORE, ColumnMapping
from .numbers import numbers_of

if TYPE_CHECKING:
    import pandas as pd

    Text = pd.Series[str]

OTHER: Final = "other"
MISSING, UNKNOWN_WORD, TWO_CLASSES = "missing", "unknown_word", "two_meanings"
NO_DATE, DATE_ORDER, NO_YEAR = "no_date", "date_order", "no_year"
OUT_OF_RANGE, AGE_A_YEAR, AGE_AND_YEAR, MADE_LATER, NO_DAY = "range", "a_year", "age_and_year", "made_later", "no_day"
CREDIT, TOO_LONG = "credit", "too_long"

DAYS_IN_YEAR: Final = 365.25
LONGEST_UNIT: Final = 64
"""Of what tells one unit from another. [character]"""
OFF: Final = 1.0
"""How far an age and a year of manufacture may disagree beyond what the year leaves open. [year]"""
YEARS: Final = (1900, 2100)


_MONEY: Final = {
    "quote": bounds_of(Quote, "amount"), "parts": bounds_of(Quote, "parts"), "labour": bounds_of(Quote, "amount"),
    "trip": bounds_of(Quote, "trip"), "fee": bounds_of(Quote, "fee_if_declined"),
}  # fmt: skip
_HOURS: Final = bounds_of(Quote, "labour_hours")


@dataclass(frozen=True)
class _Chunk:
    """A chunk that is being read: the reason of each row's first error, and where it stands."""

    text: TextChunk
    mapping: ColumnMapping
    reasons: NDArray[np.object_]
    roles: NDArray[np.object_]

    def __len__(self) -> int:
        return len(self.text)

    def has(self, role: str) -> bool:
        return role in self.mapping.columns

    def cells(self, role: str) -> "Text":
        return self.text.columns[self.mapping.columns[role]]

    def numeric(self, role: str) -> Floats | None:
        return self.text.numbers.get(self.mapping.columns[role])

    def refuse(self, role: str, reason: str, which: NDArray[np.bool_] | NDArray[np.intp]) -> None:
        """Note an error of some rows, where they have none yet."""
        at = np.flatnonzero(which) if which.dtype == np.bool_ else which
        at = at[self.reasons[at] == ""]
        self.reasons[at] = reason
        self.roles[at] = role

    def skipped(self) -> tuple[RejectedRow, ...]:
        found = []
        for at in np.flatnonzero(self.reasons != "").tolist():
            column = self.mapping.columns.get(self.roles[at], "")
            text = str(self.text.columns[column].iloc[at]) if column else ""
            found.append(RejectedRow(int(self.text.lines[at]), column, str(self.reasons[at]), short(text.strip())))
        return tuple(found)


def jobs_of(chunk: TextChunk, mapping: ColumnMapping) -> tuple[Jobs, tuple[RejectedRow, ...]]:
    """Read a chunk of a book by a mapping: the jobs in columns, and the skipped rows, in the order of their lines.

    Rows without any filled cell are passed over.

    Raises
    ------
    ReadError
        The mapping names a column that the book has not, or lacks the class, the age or the quote.
    """
    _check(chunk, mapping)
    filled = _filled(chunk)
    reading = _Chunk(chunk, mapping, np.full(len(chunk), "", object), np.full(len(chunk), "", object))
    kinds = tuple(tables().known_classes)
    faults = (OTHER, *(fault for fault in tables().known_faults if fault != OTHER))
    kind, fault = _kinds(reading, kinds), np.zeros(len(chunk), dtype=np.int16)
    days = {role: _days(reading, role) for role in ("date", "known_since", "outcome_date")}
    money = {role: _number(reading, role, MONEY, bounds) for role, bounds in _MONEY.items()}
    age = _ages(reading, days["date"])
    reading.refuse("quote", MISSING, np.isnan(money["quote"]))
    if reading.has("fault"):
        fault = _possible(kind, _words(reading, "fault", faults, OTHER, None), kinds, faults)
    jobs = Jobs(
        row=chunk.lines,
        date=days["date"],
        kinds=kinds,
        kind=kind,
        age=age,
        faults=faults,
        fault=fault,
        labour_hours=_number(reading, "labour_hours", "hour", _HOURS),
        fee_credited=_credited(reading, money["fee"]),
        decision=_words(reading, "decision", DECISIONS, OPEN, UNKNOWN_WORD),
        outcome=_words(reading, "outcome", OUTCOMES, UNKNOWN, None),
        outcome_date=days["outcome_date"],
        known_since=days["known_since"],
        unit=_units(reading),
        own={role: _own(reading, role, bounds) for role, bounds in OWN_BOUNDS.items() if reading.has(role)},
        **money,
    )
    reading.reasons[~filled] = ""
    skipped = tuple(sorted((*reading.skipped(), *chunk.skipped), key=lambda each: each.row))
    return jobs.take((reading.reasons == "") & filled), skipped


def read_jobs(source: JobBook | Path | bytes, mapping: ColumnMapping) -> tuple[Jobs, list[RejectedRow]]:
    """Read a whole book at once, for what has to see all jobs together."""
    if not isinstance(source, JobBook):
        source = open_book(source, source.name if isinstance(source, Path) else "job book")
    read = [jobs_of(no_rows(source), mapping)[0]]
    skipped: list[RejectedRow] = []
    for chunk in source.chunks():
        jobs, some = jobs_of(chunk, mapping)
        read.append(jobs)
        skipped += some
    return concatenate(read), skipped


def no_rows(book: JobBook) -> TextChunk:
    """The columns of a book alone."""
    return TextChunk(np.array([], dtype=np.int64), {name: series([]) for name in book.header})


def _check(chunk: TextChunk, mapping: ColumnMapping) -> None:
    lacking = [need for need in mapping.missing() if need not in ("date_order", "decimal_mark")]
    if lacking:
        raise ReadError("mapping", "must say which column is {lacking}", ", ".join(lacking))
    for role, name in mapping.columns.items():
        if name not in chunk.columns:
            raise ReadError("mapping", "takes {role} from a column {name!r}, which the book has not", role, short(name))


def _filled(chunk: TextChunk) -> NDArray[np.bool_]:
    filled = np.zeros(len(chunk), dtype=np.bool_)
    for cells in chunk.columns.values():
        at = np.flatnonzero(~filled)
        if not len(at):
            break
        filled[at] = (cells.iloc[at].str.strip() != "").to_numpy(bool)
    return filled


# Numbers


def _number(reading: _Chunk, role: str, unit: str, bounds: Bounds) -> Floats:
    if not reading.has(role):
        return np.full(len(reading), np.nan)
    values, _, refused = numbers_of(reading.cells(role), reading.numeric(role), unit, reading.mapping.decimal_mark)
    _note(reading, role, refused)
    reading.refuse(role, OUT_OF_RANGE, ~(np.isnan(values) | ((values >= bounds.low) & (values <= bounds.high))))
    return values


def _own(reading: _Chunk, role: str, bounds: Bounds) -> Floats:
    """What a job says of its own case; a rate may be written in percent."""
    return _number(reading, role, "" if role == "rate" else bounds.unit, bounds)


def _note(reading: _Chunk, role: str, refused: Mapping[int, str]) -> None:
    for reason in set(refused.values()):
        reading.refuse(role, reason, np.array([at for at, why in refused.items() if why == reason]))


def _credited(reading: _Chunk, fee: Floats) -> Floats:
    """Share of the fee that came off: yes or no, a percentage, a share up to 1, or the whole amount of the fee.

    Of any other number nobody can say whether it is an amount or a percentage without its sign.
    """
    if not reading.has("fee_credited"):
        return np.full(len(reading), np.nan)
    codes, different = _coded(reading.cells("fee_credited"))
    answers = {"yes": 1.0, "no": 0.0}
    credited = np.array(
        [next((answers[means] for means in vocabulary()["answer"].get(plain(word), ())), np.nan) for word in different]
    )
    shares = credited[codes] if len(different) else np.full(len(reading), np.nan)
    asked = np.isnan(shares)
    values, _, refused = numbers_of(reading.cells("fee_credited"), reading.numeric("fee_credited"), "", None)
    _note(reading, "fee_credited", {at: why for at, why in refused.items() if asked[at]})
    shares = np.where(asked, np.where((values > 1) & (values == fee), 1.0, values), shares)
    reading.refuse("fee_credited", CREDIT, ~(np.isnan(shares) | ((shares >= 0) & (shares <= 1))))
    return shares


def _ages(reading: _Chunk, date: Dates) -> Floats:
    """Age from the age, or from the year of manufacture; the row is skipped where both are blank or at odds."""
    ages = np.full(len(reading), np.nan)
    if reading.has("age"):
        ages = _number(reading, "age", "year", YEARS_OR_AGES)
        reading.refuse("age", AGE_A_YEAR, ages >= YEARS[0])
        reading.refuse("age", OUT_OF_RANGE, ~(np.isnan(ages) | ((ages >= AGES.low) & (ages <= AGES.high))))
    role = "age" if reading.has("age") else "year"
    if reading.has("year"):
        made = _years(reading)
        since = date.astype("datetime64[Y]")
        begun = (date - since.astype("datetime64[D]")) / np.timedelta64(1, "D") / DAYS_IN_YEAR
        year = np.where(np.isnat(date), np.nan, since.astype(np.int64) + 1970.0)
        most = year + begun - made
        reading.refuse("year", MADE_LATER, made > year)
        reading.refuse("year", AGE_AND_YEAR, (ages > most + OFF) | (ages < most - 1 - OFF))
        reading.refuse("date", NO_DAY, np.isnan(ages) & ~np.isnan(made) & np.isnan(year))
        reading.refuse("year", OUT_OF_RANGE, np.isnan(ages) & (most - 0.5 > AGES.high))
        ages = np.where(np.isnan(ages), np.maximum(most - 0.5, 0.0), ages)
    reading.refuse(role, MISSING, np.isnan(ages))
    return ages


YEARS_OR_AGES: Final = Bounds("year", -np.inf, np.inf)
"""Ages are looked at twice: a year of the calendar in their column has a reason of its own."""


def _years(reading: _Chunk) -> Floats:
    """Years of manufacture: four digits, alone or in a date."""
    codes, different = _coded(reading.cells("year"))
    found = np.array([_year(word) for word in different])
    made = found[codes] if len(different) else np.full(len(reading), np.nan)
    reading.refuse("year", NO_YEAR, made == -1)
    return np.where(made == -1, np.nan, made)


@lru_cache(maxsize=10_000)
def _year(word: str) -> float:
    """The year in a text; NaN for nothing, and -1 for something else."""
    bare = plain(word)
    if not bare or bare in vocabulary()["empty"]:
        return np.nan
    parts = [part for part in bare.split() if part.isdecimal() and len(part) == 4]
    others = [part for part in bare.split() if not (part.isdecimal() and len(part) <= 4)]
    within = len(parts) == 1 and not others and YEARS[0] <= int(parts[0]) <= YEARS[1]
    return float(parts[0]) if within else -1.0


# Days


def _days(reading: _Chunk, role: str) -> Dates:
    if not reading.has(role):
        return np.full(len(reading), np.datetime64("NaT"), dtype="datetime64[D]")
    codes, different = _coded(reading.cells(role), TIME_OF_DAY)
    found = [_day(word, reading.mapping.date_order) for word in different]
    reasons = np.array([reason for _, reason in found], dtype=object)
    days = np.array([day for day, _ in found], dtype="datetime64[D]")
    if not len(different):
        return np.full(len(reading), np.datetime64("NaT"), dtype="datetime64[D]")
    for reason in (NO_DATE, DATE_ORDER):
        reading.refuse(role, reason, (reasons == reason)[codes])
    return days[codes]


_NO_DAY: Final = np.datetime64("NaT", "D")


@lru_cache(maxsize=100_000)
def _day(word: str, order: str | None) -> tuple[np.datetime64, str]:
    """A day and no reason, or no day and the reason."""
    if not plain(word) or plain(word) in vocabulary()["empty"]:
        return _NO_DAY, ""
    day_first, month_first = readings(word)
    if order is None and day_first != month_first and None not in (day_first, month_first):
        return _NO_DAY, DATE_ORDER
    day = month_first if order == MONTH_FIRST or (order is None and day_first is None) else day_first
    return (_NO_DAY, NO_DATE) if day is None else (np.datetime64(day, "D"), "")


# Words


def _coded(cells: "Text", cut: str = "") -> tuple[NDArray[np.int32], list[str]]:
    """Different texts of a column, trimmed, and which of them each cell is."""
    import pyarrow as pa
    import pyarrow.compute as pc

    text = pc.utf8_trim_whitespace(pa.array(cells.array))
    if cut:
        text = pc.replace_substring_regex(text, cut, "")
    coded = text.dictionary_encode()
    coded = coded.combine_chunks() if isinstance(coded, pa.ChunkedArray) else coded
    return coded.indices.to_numpy(zero_copy_only=False), coded.dictionary.to_pylist()


def _words(reading: _Chunk, role: str, codes: tuple[str, ...], blank: str, unknown: str | None) -> Codes:
    """Codes of a column of words; an unknown word skips its row where a reason is given, else counts as blank."""
    if not reading.has(role):
        return np.full(len(reading), codes.index(blank), dtype=np.int16)
    own = {plain(word): means for word, means in getattr(reading.mapping, f"{role}s").items()}
    positions, different = _coded(reading.cells(role))
    found = np.array([_code(word, own, vocabulary()[role], codes, blank) for word in different], dtype=np.int16)
    which = found[positions] if len(different) else np.zeros(len(reading), dtype=np.int16)
    if unknown is not None:
        reading.refuse(role, unknown, which < 0)
    return np.where(which < 0, codes.index(blank), which).astype(np.int16)


def _code(
    word: str, own: Mapping[str, str], words: Mapping[str, frozenset[str]], codes: tuple[str, ...], blank: str
) -> int:
    """Index of a word's meaning; -1 where it has none, or two."""
    bare = plain(word)
    if bare in own:
        return codes.index(own[bare] if own[bare] != IGNORE else blank)
    means = words.get(bare, frozenset())
    if len(means) == 1:
        return codes.index(next(iter(means)))
    return codes.index(blank) if not bare or bare in vocabulary()["empty"] else -1


def _kinds(reading: _Chunk, kinds: tuple[str, ...]) -> Codes:
    """Codes of classes; a word that is blank, unknown, or means two classes that are sold here skips its row."""
    own = {plain(word): means for word, means in reading.mapping.classes.items()}
    here = {known.kind for known in tables().classes(tables().region_of(reading.mapping.place))}
    positions, different = _coded(reading.cells("class"))
    found = [_kind(word, own, here) for word in different]
    reasons = np.array([reason for _, reason in found], dtype=object)
    codes = np.array([kinds.index(kind) if kind else 0 for kind, _ in found], dtype=np.int16)
    if not different:
        return np.zeros(len(reading), dtype=np.int16)
    for reason in (MISSING, UNKNOWN_WORD, TWO_CLASSES):
        reading.refuse("class", reason, (reasons == reason)[positions])
    return codes[positions]


def _kind(word: str, own: Mapping[str, str], here: set[str]) -> tuple[str, str]:
    bare = plain(word)
    if bare in own:
        return own[bare], "" if own[bare] != IGNORE else UNKNOWN_WORD
    if not bare or bare in vocabulary()["empty"]:
        return "", MISSING
    means = vocabulary()["class"].get(bare, frozenset()) & here
    return (next(iter(means)), "") if len(means) == 1 else ("", TWO_CLASSES if means else UNKNOWN_WORD)


def _possible(kind: Codes, fault: Codes, kinds: tuple[str, ...], faults: tuple[str, ...]) -> Codes:
    """A fault that its class cannot have is `other`."""
    can = np.zeros((len(kinds), len(faults)), dtype=np.bool_)
    for at, each in enumerate(kinds):
        can[at, [faults.index(known.fault) for known in tables().faults(each)]] = True
    return np.where(can[kind, fault], fault, 0).astype(np.int16)


def _units(reading: _Chunk) -> NDArray[np.str_]:
    if not reading.has("unit"):
        return np.full(len(reading), "")
    text = reading.cells("unit").str.strip()
    long = (text.str.len() > LONGEST_UNIT).to_numpy(bool)
    reading.refuse("unit", TOO_LONG, long)
    return np.array(text.where(~long, "").tolist(), dtype=np.str_)
