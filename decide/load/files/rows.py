"""Rows of a csv file, each with where it stands, so that whatever is wrong with one is said with file and line."""

import csv
import datetime
import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from ...errors import DataError, Message

Key = TypeVar("Key", bound=str | tuple[str, ...])
Thing = TypeVar("Thing")

ANY = "*"  # all classes, all faults, or all regions


@dataclass(frozen=True, slots=True)
class CsvRow:
    """One line of a file, and how to complain about it."""

    where: str
    cells: Mapping[str, str]

    def broken(self, message: str, *facts: object) -> DataError:
        """Make the error that names this row."""
        return DataError("{where}: {message}", self.where, Message(message, *facts))

    def text(self, column: str) -> str:
        """Read a cell that may not be empty."""
        if not self.cells[column]:
            raise self.broken("{column} is empty", column)
        return self.cells[column]

    def choice(self, column: str, allowed: Collection[str]) -> str:
        """Read a cell that must hold one of a few words."""
        if (cell := self.cells[column]) not in allowed:
            raise self.broken("{key} must be one of {known}, got {got!r}", column, ", ".join(allowed), cell)
        return cell

    def choices(self, column: str, allowed: Collection[str]) -> tuple[str, ...]:
        """Read a list set apart by semicolons; where '*' is allowed, it stands alone and means all."""
        listed = tuple(part for part in self.cells[column].split(";") if part)
        if not listed and ANY in allowed:
            raise self.broken("{column} is empty; write {any} for all", column, ANY)
        if len(set(listed)) < len(listed) or (ANY in listed and len(listed) > 1):
            raise self.broken("{column} lists something twice: {text!r}", column, self.cells[column])
        for part in listed:
            if part not in allowed:
                raise self.broken("{column} must list only {allowed}, got {got!r}", column, ", ".join(allowed), part)
        return listed

    def number(self, column: str) -> float:
        """Read a finite number."""
        try:
            number = float(self.cells[column])
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            raise self.broken("{where} must be a number, got {got!r}", column, self.cells[column])
        return number

    def bounds(self, value: float) -> tuple[float, float] | tuple[None, None]:
        """Read the range about a value from `low` and `high`: both or neither."""
        if not self.cells["low"] and not self.cells["high"]:
            return None, None
        low, high = self.number("low"), self.number("high")
        if not low <= value <= high:
            raise self.broken("low <= value <= high does not hold for {low:g}, {value:g}, {high:g}", low, value, high)
        return low, high

    def day(self, column: str) -> datetime.date | None:
        """Read a day; None where the cell is empty."""
        try:
            return datetime.date.fromisoformat(self.cells[column]) if self.cells[column] else None
        except ValueError:
            template = "{column} must be a day such as 2026-07-31, got {got!r}"
            raise self.broken(template, column, self.cells[column]) from None

    def year(self) -> int:
        """Read the year of publication."""
        year = self.number("year")
        if year not in range(1950, 2101):
            raise self.broken("year must be a whole year from 1950 to 2100, got {got}", self.cells["year"])
        return int(year)


def rows(path: Path, header: str) -> Iterator[CsvRow]:
    """Read a file row by row; lines at its top that start with '#' are remarks."""
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    remarks = next((at for at, line in enumerate(lines) if not line.startswith("#")), len(lines))
    reader = csv.reader(lines[remarks:], strict=True)
    columns = next(reader, [])
    if columns != header.split(","):
        raise DataError("{name} line {line}: the columns must be {header}", path.name, remarks + 1, header)
    for cells in reader:
        where = f"{path.name} line {remarks + reader.line_num}"
        if len(cells) != len(columns):
            raise DataError("{where}: needs {n} cells, has {got}", where, len(columns), len(cells))
        yield CsvRow(where, dict(zip(columns, (cell.strip() for cell in cells), strict=True)))


def keyed(read_rows: Iterable[CsvRow], read: Callable[[CsvRow], tuple[Key, Thing]]) -> dict[Key, Thing]:
    """Read every row to a key and its thing; no key may come twice."""
    things: dict[Key, Thing] = {}
    for row in read_rows:
        key, thing = read(row)
        if key in things:
            raise row.broken("{key} is listed twice", key if isinstance(key, str) else " ".join(key))
        things[key] = thing
    return things
