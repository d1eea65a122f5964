"""Figures with who says so: a figure, its source, and the register that holds each row to a listed one."""

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ...errors import DataError
from ..files.rows import CsvRow, rows

STATUSES = ("found", "second-hand", "from memory", "judgement")  # How far a shipped figure can be trusted, best first.


@functools.cache
def data_dir() -> Path:
    """Find the folder of tables: inside the installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parents[2]
    for folder in (package / "data", package.parent / "data"):
        if (folder / "figures.csv").is_file():
            return folder
    raise DataError("the reference tables are missing; reinstall the program")


def columns_of(*names: str) -> Mapping[str, str]:
    """Columns of some shipped files, in order, which a file of that name from elsewhere must have as well."""
    found = {}
    for name in (f"{each}.csv" for each in names):
        with (data_dir() / name).open(encoding="utf-8") as lines:
            found[name] = next(line for line in lines if not line.startswith("#")).rstrip("\n")
    return found


def units_of(name: str) -> Mapping[str, str]:
    """Quantities that a table holds, each with its unit; `currency` stands for the money of the row's region."""
    listed = rows(data_dir() / "quantities.csv", "quantity,file,unit")
    return {row.text("quantity"): row.text("unit") for row in listed if row.text("file") == name}


@dataclass(frozen=True, slots=True)
class Source:
    """Who says so."""

    key: str
    citation: str
    licence: str
    note: str
    address: str = ""  # DOI or official page; empty where there is none.


@dataclass(frozen=True, slots=True, kw_only=True)
class Citation:
    """Who says so, where, in which year, how surely it is known, and what is to be said of it."""

    source: Source
    locator: str
    year: int
    status: str
    note: str


@dataclass(frozen=True, slots=True)
class Estimate(Citation):
    """A figure, the range it may lie in (None where no range is known), and who says so."""

    value: float
    low: float | None
    high: float | None
    unit: str
    price_year: str = ""
    """Year or month whose money it was published in, `unknown`, or the period of a tariff; '' where there is none."""
    published: float | None = None  # What it was in that money, where an index brought it to another.
    index: str = ""  # Kind of that index.


@dataclass(frozen=True)
class Register:
    """The sources, and which of them a row has used."""

    sources: Mapping[str, Source]
    used: set[str] = field(default_factory=set)

    def source(self, row: CsvRow) -> Source:
        """The source that a row names; one that is not listed is refused."""
        key = row.text("source")
        if key not in self.sources:
            raise row.broken("source {key!r} is not listed in sources.csv", key)
        self.used.add(key)
        return self.sources[key]

    def refuse_unused(self) -> None:
        """Refuse a source that no row has named."""
        unused = sorted(self.sources.keys() - self.used)
        if unused:
            raise DataError("sources.csv: no row uses {unused}", ", ".join(unused))

    def estimate(self, row: CsvRow, unit: str, low: float | None = None, high: float | None = None) -> Estimate:
        """The figure of a row in the unit that it must have."""
        if row.text("unit") != unit:
            raise row.broken("unit must be {unit}, got {got!r}", unit, row.text("unit"))
        return Estimate(row.number("value"), low, high, unit, **self.cited(row))

    def cited(self, row: CsvRow) -> dict[str, Any]:
        """Who says what a row holds, as the fields of a Citation."""
        return {"source": self.source(row), **standing(row)}


def standing(row: CsvRow) -> dict[str, Any]:
    """Where what a row holds stands, and how surely it is known; a judgement without its reason is refused."""
    status, note = row.choice("status", STATUSES), row.cells["note"]
    if status == "judgement" and not note:
        raise row.broken("a judgement must give its reason in note")
    return {"locator": row.text("locator"), "year": row.year(), "status": status, "note": note}


def above_zero(row: CsvRow, column: str, most: float) -> float:
    """Read a number above 0, and a limit at most."""
    if not 0 < (number := row.number(column)) <= most:
        raise row.broken("{column} must lie above 0 and be {most:g} at most, got {got:g}", column, most, number)
    return number


def open_ends(row: CsvRow, low: float = math.nan, high: float = math.nan) -> tuple[float, float]:
    """Read `low` and `high`, of which one may be empty: then it is what is given here."""
    ends = [row.number(end) if row.cells[end] else math.nan for end in ("low", "high")]
    if all(map(math.isnan, ends)) or ends[0] > ends[1]:
        raise row.broken("needs low, high, or both with low <= high")
    return low if math.isnan(ends[0]) else ends[0], high if math.isnan(ends[1]) else ends[1]
