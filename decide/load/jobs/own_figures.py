"""Figures of a shop of its own: named, dated, with their interval; kept in a file, and put in place of shipped ones."""

import csv
import datetime
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Final

from ...errors import CaseError, Message, ReadError
from ...finance.life import FOR_EVER, SHAPES
from ..cases.renamed import name_of_today
from ..files.plain_file import content_of
from ..tables.tables import CURRENCIES, UNITS, Estimate, Source, Tables
from .export import neutralised

LIFE: Final = ("mean_life", "life_shape", "failure_free_years")
"""Figures of one law of life: each means something only beside the other two, so they are replaced together."""

BOUNDS: Final = {
    "mean_life": (1e-3, FOR_EVER),
    "life_shape": SHAPES,
    "failure_free_years": (0.0, FOR_EVER),
    "quote_share": (0.0, 10.0),
    "later_repair_log_sd": (0.0, 5.0),
    "repair_success_probability": (0.0, 1.0),
}
"""What can be replaced, and what each may be, in the unit of the tables."""

OWN_RECORDS: Final = "own records"
"""Status of a figure from a shop's own records, which takes the place of a shipped one; no shipped row has it."""

KEY: Final = "own-records"
COLUMNS: Final = ("class", "region", "quantity", "value", "low", "high", "unit", "n", "from", "to", "shop", "made")
LONGEST_NAME: Final = 80
"""[character]"""
LARGEST_FILE: Final = 1_000_000
"""[byte]"""


@dataclass(frozen=True, kw_only=True)
class LocalFigure:
    """One figure that a shop has from its own records."""

    kind: str
    region: str
    quantity: str
    value: float
    low: float
    high: float
    unit: str
    n: int
    """Jobs that it rests on."""
    since: datetime.date
    """Day of the first job of the book; `until` is that of the last."""
    until: datetime.date
    shop: str
    made: datetime.date
    """Day that it was worked out."""

    def __post_init__(self) -> None:
        """Refuse what no figure can be, so that a file edited by hand cannot carry nonsense into an answer."""
        if self.quantity not in BOUNDS:
            raise CaseError("quantity", "must be one of {known}, got {got!r}", ", ".join(BOUNDS), self.quantity)
        if self.unit != UNITS[self.quantity]:
            facts = (UNITS[self.quantity], self.quantity, self.unit)
            raise CaseError("unit", "must be {unit} for {quantity}, got {got!r}", *facts)
        if self.region not in CURRENCIES:
            raise CaseError("region", "must be one of {known}, got {got!r}", ", ".join(CURRENCIES), self.region)
        low, high = BOUNDS[self.quantity]
        if not low <= self.low <= self.value <= self.high <= high:
            wanted = (
                "of {quantity} must have {low:g} <= low <= value <= high <= {high:g} {unit}, got "
                "{below:g}, {value:g}, {above:g}"
            )
            raise CaseError("value", wanted, self.quantity, low, high, self.unit, self.low, self.value, self.high)
        if self.n < 1:
            raise CaseError("n", "must be 1 job or more, got {got}", self.n)
        if not self.since <= self.until:
            raise CaseError("to", "must not be before {since}, got {got}", self.since, self.until)
        name = self.shop
        if not 0 < len(name.strip()) <= LONGEST_NAME or not name.isprintable() or name != neutralised(name):
            wanted = "must be a name of at most {most} letters that begins as no formula does, got {got!r}"
            raise CaseError("shop", wanted, LONGEST_NAME, name)

    @property
    def citation(self) -> str:
        """How the tables cite it."""
        jobs = "1 job" if self.n == 1 else f"{self.n:,} jobs"
        return f"Own records of {self.shop}, {jobs}, {self.since} to {self.until}"


@dataclass(frozen=True, kw_only=True)
class BookOrigin:
    """Whose records figures are from, and of when."""

    shop: str
    since: datetime.date
    until: datetime.date
    made: datetime.date


def written(figures: Iterable[LocalFigure]) -> str:
    """The figures as csv text, one a row."""
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(COLUMNS)
    for figure in figures:
        writer.writerow([getattr(figure, item.name) for item in fields(figure)])
    return file.getvalue()


def read_figures(path: Path) -> tuple[LocalFigure, ...]:
    """Read figures from a file; `ReadError` where it cannot be read, or a row of it is no figure."""
    content = content_of(path, LARGEST_FILE, Message("is larger than {most} MB", LARGEST_FILE // 1_000_000))
    try:
        return parsed(content.decode("utf-8-sig"), path.name)
    except UnicodeDecodeError as error:
        raise ReadError(path.name, "is not text in UTF-8") from error


def parsed(text: str, name: str) -> tuple[LocalFigure, ...]:
    """Read figures from csv text; the name is for messages only."""
    try:
        rows = list(csv.reader(io.StringIO(text), strict=True))
    except csv.Error as error:
        raise ReadError(name, "is no csv: {error}", error) from error
    if not rows or tuple(rows[0]) != COLUMNS:
        raise ReadError(Message("{name} line 1", name), "the columns must be {columns}", ",".join(COLUMNS))
    return tuple(_read(cells, f"{name} line {line}") for line, cells in enumerate(rows[1:], 2) if any(cells))


def _read(cells: Sequence[str], where: str) -> LocalFigure:
    if len(cells) != len(COLUMNS):
        raise ReadError(where, "needs {n} cells, has {got}", len(COLUMNS), len(cells))
    given: dict[str, object] = {}
    for item, column, cell in zip(fields(LocalFigure), COLUMNS, cells, strict=True):
        try:
            given[item.name] = item.type(cell) if item.type in (int, float, str) else datetime.date.fromisoformat(cell)
        except ValueError:
            meant = Message("a day such as 2026-03-01" if item.type is datetime.date else "a number")
            raise ReadError(where, "{column} must be {meant}, got {got!r}", column, meant, cell) from None
    given["quantity"] = name_of_today(str(given["quantity"]))
    try:
        return LocalFigure(**given)  # type: ignore[arg-type]
    except CaseError as error:
        raise ReadError(where, error.sentence) from error


def with_local(reference: Tables, figures: Sequence[LocalFigure]) -> Tables:
    """The tables with a shop's own figures in the place of shipped ones.

    Raises `CaseError`: a class that is not sold in its region, a figure that comes twice, or a life that is not whole.
    """
    cited = dict.fromkeys(figure.citation for figure in figures)
    keys = {citation: KEY if at == 1 else f"{KEY}-{at}" for at, citation in enumerate(cited, 1)}
    own: dict[tuple[str, str, str], Estimate] = {}
    for figure in figures:
        key = (figure.kind, figure.region, figure.quantity)
        if figure.region not in reference.kind(figure.kind).regions:
            raise CaseError("figures", "{kind} has no figures for {region}", figure.kind, figure.region)
        if key in own:
            raise CaseError("figures", "{key} is there twice", " ".join(key))
        own[key] = Estimate(
            value=figure.value,
            low=figure.low,
            high=figure.high,
            unit=figure.unit,
            source=Source(keys[figure.citation], figure.citation, "the shop's own", ""),
            locator=figure.kind,
            year=figure.made.year,
            status=OWN_RECORDS,
            note="",
        )
    for kind, region in {key[:2] for key in own}:
        there = [quantity for quantity in LIFE if (kind, region, quantity) in own]
        if there and len(there) < len(LIFE):
            facts = (kind, region, ", ".join(LIFE), ", ".join(there))
            raise CaseError("figures", "{kind} {region} must have all of {known} or none, got {got}", *facts)
        if there and own[kind, region, LIFE[2]].high >= own[kind, region, LIFE[0]].low:  # type: ignore[operator]
            raise CaseError("figures", "{kind} {region}: the delay must be below the mean life", kind, region)
    named = {estimate.source.key: estimate.source for estimate in own.values()}
    return replace(reference, sources={**reference.sources, **named}, figures={**reference.figures, **own})
