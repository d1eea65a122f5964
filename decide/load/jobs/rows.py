"""From cells to jobs: a chunk of text, read by a mapping into columns, and the rows that cannot be read skipped.

A row is skipped at its first cell that cannot be read, whichever its role; nothing is put in its place. The rest go
on. What has a blank cell goes on without, unless the class, the age or the quote is missing. An error whose words are
not known is `other`, and an outcome whose words are not known is `unknown`; the mapping lists such words. Words
count as the mapping or the tables have them, whole or in a longer text; likeness of spelling is only suggested. A
text means a fault if its words lead to one fault that its class can have.

The age counts as `ages` reads it. Where the year of manufacture is given instead, the unit is taken to be made in the
middle of that year. Where both are given and no day of that year makes the age right to within a year, the row is
skipped: one of the two is wrong, and nobody can tell which.
"""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from hashlib import blake2b
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from ...arrays import Floats
from ...economics.bounds import MONEY, Bounds
from ...economics.bounds import numbers_of as inputs_of
from ...economics.case import Quote
from ...errors import ReadError
from ...shop.jobs import DECISIONS, OPEN, OUTCOMES, UNKNOWN, Codes, Dates, Jobs, concatenate
from ...shop.weigh_jobs import AGES, OWN_BOUNDS
from ..tables.dates import MONTH_FIRST, TIME_OF_DAY, readings, written_age
from ..tables.tables import tables
from ..tables.vocabulary import plain, vocabulary
from .book import JobBook, Progress, open_book
from .chunks import RejectedRow, TextChunk, series, short, trimmed
from .columns import ColumnMapping
from .coverage import Coverage, OpenCell
from .lines import job_chunks
from .numbers import numbers_of
from .words import IGNORE, MISSING, OTHER, UNKNOWN_WORD, fault_of, kind_of, means_nothing

if TYPE_CHECKING:
    import pandas as pd

    Text = pd.Series[str]

NO_DATE, DATE_ORDER, NO_YEAR = "no_date", "date_order", "no_year"
OUT_OF_RANGE, A_YEAR, AGE_AND_YEAR, MADE_LATER, NO_DAY = "range", "a_year", "age_and_year", "made_later", "no_day"
CREDIT, TOO_LONG, UNTOLD_FAULT = "credit", "too_long", "fault_not_told"

DAYS_IN_YEAR: Final = 365.25
LONGEST_UNIT: Final = 64
"""Of what tells one unit from another. [character]"""
OFF: Final = 1.0
"""How far an age and a year of manufacture may disagree beyond what the year leaves open. [year]"""
YEARS: Final = (1900, 2100)


LEAST_SIZE: Final = 25.0
"""Quotes are told apart by doublings of this. [money]"""

_OF_QUOTE: Final = inputs_of(Quote)
_MONEY: Final = {
    "quote": Bounds("money", -np.inf, _OF_QUOTE["amount"].high), "tax": _OF_QUOTE["amount"],
    "parts": _OF_QUOTE["parts"], "labour": _OF_QUOTE["amount"],
    "trip": _OF_QUOTE["trip"], "fee": _OF_QUOTE["fee_if_declined"],
}  # fmt: skip


@dataclass(frozen=True)
class _Chunk:
    """A chunk that is being read: the reason of each row's first error, and where it stands."""

    text: TextChunk
    mapping: ColumnMapping
    reasons: NDArray[np.object_]
    roles: NDArray[np.object_]
    failed: dict[str, NDArray[np.bool_]] = field(default_factory=dict)
    """By role, the rows with a cell that cannot be read."""
    seen: dict[str, tuple[NDArray[np.int64], dict[int, str]]] = field(default_factory=dict)
    """By role of words, a code a row, and what each code means, or the word where it means nothing."""

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
        self.failed.setdefault(role, np.zeros(len(self), bool))[at] = True
        at = at[self.reasons[at] == ""]
        self.reasons[at] = reason
        self.roles[at] = role

    def skipped(self) -> tuple[tuple[RejectedRow, ...], Counter[OpenCell]]:
        """The rows that cannot be read, and by what alone."""
        errors, found, alone = sum(self.failed.values(), np.zeros(len(self), int)), [], Counter[OpenCell]()
        at = np.flatnonzero(self.reasons != "")
        roles, cells = self.roles[at], np.full(len(at), "", object)
        for role in set(roles) & self.mapping.columns.keys():
            cells[roles == role] = trimmed(self.cells(role).iloc[at[roles == role]]).to_pylist()
        rows = (each.tolist() for each in (self.text.lines[at], roles, self.reasons[at], cells, errors[at]))
        for line, role, reason, cell, n in zip(*rows, strict=True):
            text = short(cell)
            found.append(RejectedRow(line, self.mapping.columns.get(role, ""), reason, text))
            if n == 1:
                alone[OpenCell(role=role, reason=reason, text=text)] += 1
        return tuple(found), alone


class ReadChunk(NamedTuple):
    """What a chunk, or a book, comes to."""

    jobs: Jobs
    skipped: tuple[RejectedRow, ...]
    coverage: Coverage


def chunk_read(chunk: TextChunk, mapping: ColumnMapping) -> ReadChunk:
    """Read a chunk of a book by a mapping: the jobs in columns, the skipped rows by their lines, and the coverage.

    Rows without any filled cell are passed over. `ReadError`: the mapping names a column that the book has not, or
    lacks the class, the age or the quote.
    """
    _check(chunk, mapping)
    filled = _filled(chunk)
    reading = _Chunk(chunk, mapping, np.full(len(chunk), "", object), np.full(len(chunk), "", object))
    kinds = tuple(tables().known_classes)
    faults = (OTHER, *(fault for fault in tables().known_faults if fault != OTHER))
    kind = _kinds(reading, kinds)
    days = {role: _days(reading, role) for role in ("date", "known_since", "outcome_date")}
    money = {role: _number(reading, role, MONEY, bounds) for role, bounds in _MONEY.items()}
    tax, given = money.pop("tax"), money["quote"]
    money["quote"] = _quotes(reading, given, [money[role] for role in ("parts", "labour", "trip")], tax)
    age = _ages(reading, days["date"])
    refund = money["quote"] < 0
    reading.refuse("quote", MISSING, np.isnan(money["quote"]))
    fault, open_faults = _faults(reading, kind, kinds, faults)
    jobs = Jobs(
        row=chunk.lines,
        date=days["date"],
        kinds=kinds,
        kind=kind,
        age=age,
        faults=faults,
        fault=fault,
        labour_hours=_number(reading, "labour_hours", "hour", _OF_QUOTE["labour_hours"]),
        fee_credited=_credited(reading, money["fee"]),
        decision=_words(reading, "decision", DECISIONS, OPEN, UNKNOWN_WORD),
        outcome=_words(reading, "outcome", OUTCOMES, UNKNOWN, None),
        outcome_date=days["outcome_date"],
        known_since=days["known_since"],
        unit=_units(reading, kind),
        own={  # a rate may be written in percent
            role: _number(reading, role, "" if role == "rate" else bounds.unit, bounds)
            for role, bounds in {**OWN_BOUNDS, "parts_cost": _MONEY["parts"]}.items()
            if reading.has(role)
        },
        traits={role: _names(reading, role) for role in ("technician", "postcode") if reading.has(role)},
        **money,
    )
    reading.reasons[~filled | refund] = ""
    found, alone = reading.skipped()
    skipped = tuple(sorted((*found, *chunk.skipped), key=lambda each: each.row))
    folded = Counter(chunk.folded) + Counter(refund=int(np.sum(refund & filled)))
    read, wanted = (reading.reasons == "") & filled, filled & ~refund
    rows = int(filled.sum()) + len(chunk.skipped) + Counter(chunk.folded).total()
    coverage = Coverage(
        rows=rows,
        read=rows - len(skipped),
        folded=folded,
        open=alone + open_faults,
        mix=_mix(reading, days["date"], money["quote"], read, wanted),
    )
    return ReadChunk(jobs.take(read & ~refund), skipped, coverage)


def _mix(
    reading: _Chunk, date: Dates, quote: Floats, read: NDArray[np.bool_], wanted: NDArray[np.bool_]
) -> Counter[tuple[str, str, bool]]:
    """Rows by trait, category and whether they were read."""
    months = date.astype("datetime64[M]").astype(np.int64)
    known = {int(month): str(np.datetime64(int(month), "M")) for month in np.unique(months[~np.isnat(date)])}
    size = np.floor(np.log2(np.clip(np.nan_to_num(quote, nan=-1.0), 1.0, None) / LEAST_SIZE)).astype(np.int64)
    sizes = {int(each): f"{LEAST_SIZE * 2.0**each:.0f}" for each in np.unique(size)}
    size = np.where(np.isnan(quote), np.iinfo(np.int64).max >> 2, size)
    traits = {**reading.seen, "month": (np.where(np.isnat(date), -1, months), known), "size": (size, sizes)}
    mix: Counter[tuple[str, str, bool]] = Counter()
    for trait, (codes, names) in traits.items():
        found, counts = np.unique(2 * codes[wanted].astype(np.int64) + read[wanted], return_counts=True)
        for pair, n in zip(found.tolist(), counts.tolist(), strict=True):
            if pair >> 1 in names:  # a code without a name is left out
                mix[trait, names[pair >> 1], bool(pair & 1)] += n
    return mix


def read_book(source: JobBook | Path | bytes, mapping: ColumnMapping, progress: Progress | None = None) -> ReadChunk:
    """Read a whole book at once, for what has to see all jobs together; `progress` is told after each part."""
    if not isinstance(source, JobBook):
        source = open_book(source, source.name if isinstance(source, Path) else "job book")
    read = [chunk_read(no_rows(source), mapping)]
    for chunk in job_chunks(source, mapping):
        read.append(chunk_read(chunk, mapping))
        if progress is not None:
            progress(sum(len(each.jobs) for each in read), chunk.share_done)
    jobs, skipped, coverage = zip(*read, strict=True)
    return ReadChunk(concatenate(jobs), tuple(row for some in skipped for row in some), sum(coverage, Coverage()))


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
    tax = tables().usual("sales_tax", reading.mapping.place).value if role == "quote" else 0.0
    values, refused = numbers_of(reading.cells(role), reading.numeric(role), unit, reading.mapping.decimal_mark, tax)
    _note(reading, role, refused)
    reading.refuse(role, OUT_OF_RANGE, ~(np.isnan(values) | ((values >= bounds.low) & (values <= bounds.high))))
    return values


def _note(reading: _Chunk, role: str, refused: Mapping[int, str]) -> None:
    for reason in set(refused.values()):
        reading.refuse(role, reason, np.array([at for at, why in refused.items() if why == reason]))


def _quotes(reading: _Chunk, quote: Floats, lines: list[Floats], tax: Floats) -> Floats:
    """Quotes with tax: the sum of the lines where there is no column for it, or where that leaves the tax out.

    Whether a column of quotes leaves it out, most of the rows tell that say both.
    """
    summed = np.nansum(lines, axis=0)
    if not reading.has("quote"):
        return np.where(np.all(np.isnan(lines), axis=0), np.nan, summed + np.nan_to_num(tax))
    comparable = (tax > 0) & (summed > 0) & ~np.isnan(quote)
    without = np.abs(quote - summed)[comparable] < np.abs(quote - summed - tax)[comparable]
    return quote + np.nan_to_num(tax) if len(without) and np.mean(without) > 0.5 else quote


def _credited(reading: _Chunk, fee: Floats) -> Floats:
    """Share of the fee that came off: yes or no, a percentage, a share up to 1, or the whole amount of the fee.

    Of any other number nobody can say whether it is an amount or a percentage without its sign.
    """
    if not reading.has("fee_credited"):
        return np.full(len(reading), np.nan)
    codes, different = _coded(reading.cells("fee_credited"))
    answers, means = {"yes": 1.0, "no": 0.0}, vocabulary()["answer"]
    credited = [next((answers[each] for each in means.get(plain(word), ())), np.nan) for word in different]
    shares = np.array(credited, dtype=float)[codes]
    asked, numeric = np.flatnonzero(np.isnan(shares)), reading.numeric("fee_credited")
    cells = reading.cells("fee_credited").iloc[asked]
    values, refused = numbers_of(cells, None if numeric is None else numeric[asked], "", None)
    _note(reading, "fee_credited", {int(asked[at]): why for at, why in refused.items()})
    shares[asked] = np.where((values > 1) & (values == fee[asked]), 1.0, values)
    reading.refuse("fee_credited", CREDIT, ~(np.isnan(shares) | ((shares >= 0) & (shares <= 1))))
    return shares


def _ages(reading: _Chunk, date: Dates) -> Floats:
    """Age from the age, or from the year of manufacture; the row is skipped where both are blank or at odds."""
    ages, now = np.full(len(reading), np.nan), _moment(date)
    if reading.has("age"):
        ages, made, refused = _written_ages(reading, now)
        _note(reading, "age", refused)
        reading.refuse("age", A_YEAR, ~np.isnan(made) & np.isnan(now))
        reading.refuse("age", MADE_LATER, made > now + 0.5)  # a year is taken at its middle
        ages = np.where(np.isnan(made), ages, np.maximum(now - made, 0.0))
        reading.refuse("age", OUT_OF_RANGE, ~(np.isnan(ages) | ((ages >= AGES.low) & (ages <= AGES.high))))
    role = "age" if reading.has("age") else "year"
    if reading.has("year"):
        codes, _, found = _by_text(reading, "year", _year)
        made, year = np.array(found, dtype=float)[codes], np.floor(now)
        most = now - made
        reading.refuse("year", MADE_LATER, made > year)
        reading.refuse("year", AGE_AND_YEAR, (ages > most + OFF) | (ages < most - 1 - OFF))
        reading.refuse("date", NO_DAY, np.isnan(ages) & ~np.isnan(made) & np.isnan(year))
        reading.refuse("year", OUT_OF_RANGE, np.isnan(ages) & (most - 0.5 > AGES.high))
        ages = np.where(np.isnan(ages), np.maximum(most - 0.5, 0.0), ages)
    reading.refuse(role, MISSING, np.isnan(ages))
    return ages


def _moment(date: Dates) -> Floats:
    """Days as years of the calendar; NaN for none. [year]"""
    since = date.astype("datetime64[Y]")
    begun = (date - since.astype("datetime64[D]")) / np.timedelta64(1, "D") / DAYS_IN_YEAR
    return np.where(np.isnat(date), np.nan, since.astype(np.int64) + 1970.0 + begun)


def _written_ages(reading: _Chunk, now: Floats) -> tuple[Floats, Floats, dict[int, str]]:
    """Ages, when units were made, and the reasons of cells that say neither. [year]"""
    ages, refused = numbers_of(reading.cells("age"), reading.numeric("age"), "year", reading.mapping.decimal_mark)
    made, by = np.full(len(ages), np.nan), int(np.nanmax(now)) if np.any(~np.isnan(now)) else YEARS[1]
    odd = [*refused, *np.flatnonzero(ages > AGES.high).tolist()]
    for at, word in zip(odd, trimmed(reading.cells("age").iloc[odd]).to_pylist(), strict=True):
        age, year = written_age(word, reading.mapping.date_order, by)
        if not (np.isnan(age) and np.isnan(year)):
            ages[at], made[at] = age, year
            refused.pop(at, None)
    return ages, made, refused


@lru_cache(maxsize=10_000)
def _year(word: str) -> tuple[float, str]:
    """The year of four digits in a text and no reason; NaN for nothing, and with a reason for something else."""
    if means_nothing(word):
        return np.nan, ""
    parts = [part for part in plain(word).split() if part.isdecimal() and len(part) == 4]
    others = [part for part in plain(word).split() if not (part.isdecimal() and len(part) <= 4)]
    within = len(parts) == 1 and not others and YEARS[0] <= int(parts[0]) <= YEARS[1]
    return (float(parts[0]), "") if within else (np.nan, NO_YEAR)


# Days


def _days(reading: _Chunk, role: str) -> Dates:
    if not reading.has(role):
        return np.full(len(reading), np.datetime64("NaT"), dtype="datetime64[D]")
    order = reading.mapping.date_order
    codes, _, found = _by_text(reading, role, lambda word: day_of(word, order), TIME_OF_DAY)
    return np.array(found, dtype="datetime64[D]")[codes]


_NO_DAY: Final = np.datetime64("NaT", "D")


@lru_cache(maxsize=100_000)
def day_of(word: str, order: str | None) -> tuple[np.datetime64, str]:
    """A day and no reason, or no day and the reason."""
    if means_nothing(word):
        return _NO_DAY, ""
    day_first, month_first = readings(word)
    if order is None and day_first != month_first and None not in (day_first, month_first):
        return _NO_DAY, DATE_ORDER
    day = month_first if order == MONTH_FIRST or (order is None and day_first is None) else day_first
    return (_NO_DAY, NO_DATE) if day is None else (np.datetime64(day, "D"), "")


# Words


def _coded(cells: "Text", cut: str = "") -> tuple[NDArray[np.int32], list[str]]:
    """Different texts of a column, trimmed, and which of them each cell is."""
    import pyarrow.compute as pc

    text = trimmed(cells)
    coded = (pc.replace_substring_regex(text, cut, "") if cut else text).dictionary_encode()
    return coded.indices.to_numpy(zero_copy_only=False), coded.dictionary.to_pylist()


def _by_text(
    reading: _Chunk, role: str, meaning: Callable[[str], tuple[Any, str]], cut: str = ""
) -> tuple[NDArray[np.int32], list[str], list[Any]]:
    """What each different text of a column means, looked up once each; one with a reason skips its rows."""
    codes, different = _coded(reading.cells(role), cut)
    found = [meaning(word) for word in different]
    reasons = np.array([reason for _, reason in found], dtype=object)
    for reason in dict.fromkeys(filter(None, reasons.tolist())):
        reading.refuse(role, reason, (reasons == reason)[codes])
    return codes, different, [meant for meant, _ in found]


def _words(reading: _Chunk, role: str, codes: tuple[str, ...], blank: str, unknown: str | None) -> Codes:
    """Codes of a column of words; an unknown word skips its row where a reason is given, else counts as blank."""
    if not reading.has(role):
        return np.full(len(reading), codes.index(blank), dtype=np.int16)
    own = {plain(word): means for word, means in getattr(reading.mapping, f"{role}s").items()}
    positions, different = _coded(reading.cells(role))
    found = np.array([_code(word, own, vocabulary()[role], codes, blank) for word in different], dtype=np.int16)
    which = found[positions]
    names = dict(enumerate(codes)) | {len(codes) + at: word for at, word in enumerate(different)}
    reading.seen[role] = np.where(which < 0, len(codes) + positions, which).astype(np.int64), names
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
    return codes.index(blank) if means_nothing(word) else -1


def _kinds(reading: _Chunk, kinds: tuple[str, ...]) -> Codes:
    """Codes of classes; a word that is blank, unknown, or means two classes that are sold here skips its row."""
    own = {plain(word): means for word, means in reading.mapping.classes.items()}
    here = {known.kind for known in tables().classes(tables().region_of(reading.mapping.place))}
    positions, different, found = _by_text(reading, "class", lambda word: kind_of(word, own, here))
    unread = {len(kinds) + at: word for at, word in enumerate(different) if not found[at] and plain(word)}
    codes = np.array([kinds.index(kind) if kind else len(kinds) + at for at, kind in enumerate(found)], np.int64)
    reading.seen["class"] = codes[positions], dict(enumerate(kinds)) | unread
    return np.where(codes < len(kinds), codes, 0).astype(np.int16)[positions]


def _faults(
    reading: _Chunk, kind: Codes, kinds: tuple[str, ...], faults: tuple[str, ...]
) -> tuple[Codes, Counter[OpenCell]]:
    """Faults by what a text says of a class: the one of its faults that the words lead to, else `other`, and asked."""
    if not reading.has("fault"):
        return np.zeros(len(reading), np.int16), Counter()
    own = {plain(word): means for word, means in reading.mapping.faults.items()}
    positions, different = _coded(reading.cells("fault"))
    kind = np.where(reading.failed.get("class", False), -1, kind)
    pair, which, counts = np.unique(
        kind.astype(np.int64) * max(1, len(different)) + positions, return_inverse=True, return_counts=True
    )
    found, left = np.zeros(len(pair), np.int16), Counter[OpenCell]()
    for at, (code, n) in enumerate(zip(pair.tolist(), counts.tolist(), strict=True)):
        if code < 0:  # of no class that is known
            continue
        of, word = kinds[code // len(different)], different[code % len(different)]
        means = fault_of(word, of, own.get(plain(word)))
        found[at] = faults.index(means or OTHER)
        if means is None:
            left[OpenCell(role="fault", reason=UNTOLD_FAULT, text=short(word))] += n
    return found[which], left


def _names(reading: _Chunk, role: str) -> NDArray[np.str_]:
    """Names of whoever or wherever it was; what differs in capitals and marks alone is one."""
    codes, different = _coded(reading.cells(role))
    reading.seen[role] = codes.astype(np.int64), {at: word for at, word in enumerate(different) if plain(word)}
    return np.array([short(plain(word)).upper() for word in different], dtype=np.str_)[codes]


def _units(reading: _Chunk, kind: Codes) -> NDArray[np.str_]:
    """What tells one appliance from another: its serial number; without one the class, the customer and the address."""
    import pyarrow as pa
    import pyarrow.compute as pc

    units = np.full(len(reading), "", dtype=f"<U{LONGEST_UNIT}")
    if reading.has("unit"):
        text = reading.cells("unit").str.strip()
        long = (text.str.len() > LONGEST_UNIT).to_numpy(bool)
        reading.refuse("unit", TOO_LONG, long)
        serials = pc.replace_substring_regex(pc.utf8_upper(pa.array(text.where(~long, "").array)), r"[\s./-]+", "")
        none = {"0", "00", "000", *(word.replace(" ", "").upper() for word in vocabulary()["empty"])}
        nothing = pc.is_in(serials, pa.array(sorted(none), serials.type))
        units = np.array(pc.if_else(nothing, "", serials).to_pylist(), dtype=np.str_)
    if reading.has("customer") and reading.has("address"):
        people = [reading.cells(role).tolist() for role in ("customer", "address")]
        homes = [
            blake2b(f"{who}\n{where}\n{code}".encode(), digest_size=8).hexdigest() if who and where else ""
            for who, where, code in zip(*(map(plain, each) for each in people), kind.tolist(), strict=True)
        ]
        units = np.where(units == "", homes, units)
    return units
