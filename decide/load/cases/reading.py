"""What comes up while entries are read: errors, figures taken from the tables, and figures worked out on the way.

One `CaseReader` goes through all the parts of a case, so that all errors are reported in one go.
"""

import dataclasses
import difflib
import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any, Final

from ...economics.bounds import Bounds
from ...economics.bounds import numbers_of as numbers_of
from ...errors import CaseError, Message, OutOfRange, bounds_in_words
from ..files.file_names import plain_name
from ..files.rows import ANY, rows
from ..tables.labels import Basis, least_sure
from ..tables.tables import Estimate, Tables, data_dir
from ..tables.typed import NoNumber
from .renamed import RENAMED


def declared(part: str) -> dict[str, Bounds]:
    """Numbers that can be entered in a part of a case, beside those that the nouns of `case.py` declare."""
    return {
        row.text("name"): Bounds(row.text("unit").removeprefix("-"), row.number("low"), row.number("high"))
        for row in rows(data_dir() / "entries.csv", "part,name,unit,low,high")
        if row.text("part") == part
    }


CYCLES: Final = declared("appliance")["cycles"]  # how often a unit runs

MOST_NAMED: Final = 20
"""Names that are not known in one table, of which each is looked at by itself."""


class Needed(CaseError):
    """A number that nobody entered and no table knows."""

    def __init__(self, field: str, bounds: Bounds) -> None:
        super().__init__(field, "is needed, {bounds}", allowed(bounds))
        self.bounds = bounds


@dataclass(frozen=True)
class DefaultUsed:
    """An input that nobody entered: what was taken for it, and who says so."""

    field: str
    value: float
    unit: str
    estimate: Estimate
    rule: str = ""
    """How the value follows from the figure, where it is not the figure itself."""
    stands_for: str = ""
    """The place for which no price of energy is published, where that of its region stands for it."""
    period: str = ""
    """Of the average price that a price of energy follows from."""


@dataclass(frozen=True, kw_only=True)
class Derived:
    """An input that was worked out from what was entered: a label, a meter's log, a tariff."""

    field: str
    value: float
    unit: str
    way: str
    """How: `print`, `rating`, `limit`, `class`, `log`, `readings`, `tariff`."""
    low: float | None = None
    high: float | None = None
    """What the value may be instead, where that is known."""
    bases: tuple[Basis, ...] = ()
    """Rows of the tables that it rests on."""
    source: str = ""
    """What was entered, in the words of who entered it: a class, a file's name, a tariff's source."""
    counts: str = ""
    """What the figure counts besides the unit itself: '', `hot_water` or `hot_water_and_drying`."""
    facts: Mapping[str, float] = dataclasses.field(default_factory=dict)
    """Numbers to tell with it, such as the hours measured."""
    remarks: tuple[str, ...] = ()
    """What was left out or mended in reading what was entered, in sentences."""

    @property
    def status(self) -> str:
        """How sure the least sure row is; `entered` where no row was used, `measured` where a meter was."""
        if self.bases:
            return least_sure(self.bases)
        return "measured" if self.way in ("log", "readings") else "entered"


@dataclass
class CaseReader:
    """Notes each error, each default and each figure worked out."""

    reference: Tables
    folder: Path | None = None
    """Where files that entries name are looked up."""
    region: str = ""
    """Of the household, whose figures fill what is not entered."""
    errors: list[CaseError] = dataclasses.field(default_factory=list)
    defaults: list[DefaultUsed] = dataclasses.field(default_factory=list)
    derived: list[Derived] = dataclasses.field(default_factory=list)

    def refuse(self, path: str, message: str, *facts: object) -> None:
        """Note an error of an entry."""
        self.errors.append(CaseError(path, message, *facts))

    def number(self, path: str, name: str, value: object, bounds: Bounds) -> float:
        """Read a number within its bounds; NaN, and an error noted, where it is none that can be."""
        where = f"{path}.{name}" if name else path
        if not is_number(value):
            self.errors.append(NoNumber(where, value, allowed(bounds)))
            return math.nan
        if not bounds.admits(float(value)):  # type: ignore[arg-type]
            self.errors.append(OutOfRange(where, bounds.low, bounds.high, bounds.unit, value))
            return math.nan
        return float(value)  # type: ignore[arg-type]

    def numbers(self, path: str, table: Mapping[str, Any], declared: Mapping[str, Bounds]) -> dict[str, float]:
        """Read every number of a table that is declared."""
        return {
            name: self.number(path, name, table[name], bounds) for name, bounds in declared.items() if name in table
        }

    def choice(self, path: str, value: object, choices: Collection[str]) -> str:
        """Read one of a few words; the first of them, and an error noted, where it is none."""
        if not isinstance(value, str) or value not in choices:
            self.refuse(path, "must be one of {known}, got {got!r}", "; ".join(choices), value)
            return next(iter(choices), "")
        return value

    def flag(self, path: str, table: Mapping[str, Any], name: str) -> bool:
        """Read `true` or `false`; what is not there is false."""
        value = table.get(name, False)
        if not isinstance(value, bool):
            self.refuse(f"{path}.{name}", "must be true or false, got {got!r}", value)
        return value is True

    def default(self, path: str, name: str, quantity: str, kind: str = ANY) -> float:
        """Take a figure of the tables for an input, and note that it was."""
        figure = self.reference.figure(quantity, kind, self.region)
        if figure is None:
            self.refuse(f"{path}.{name}", "is needed: the tables hold none for {kind} in {region}", kind, self.region)
            return math.nan
        return self.note(path, name, figure.value, figure)

    def note(
        self, path: str, name: str, value: float, figure: Estimate, rule: str = "", unit: str = "", **of_energy: str
    ) -> float:
        """Note a value that comes from a figure of the tables."""
        self.defaults.append(DefaultUsed(f"{path}.{name}", value, unit or figure.unit, figure, rule, **of_energy))
        return value

    def table(self, entries: Mapping[str, Any], path: str, name: str) -> Mapping[str, Any]:
        """Read a table inside a table; none where it is something else, and an error noted."""
        found = entries.get(name, {})
        if isinstance(found, dict):
            return found
        self.refuse(f"{path}.{name}".lstrip("."), "must be a table, got {got!r}", found)
        return {}

    def refuse_unknown(self, path: str, table: Mapping[str, Any], known: Collection[str]) -> None:
        """Note an error for each name that means nothing here; of very many, that there are so many."""
        unknown = [name for name in table if name not in known]
        for name in unknown[:MOST_NAMED]:
            hint = meant(name, known) or Message("known here: {known}", ", ".join(known))
            if RENAMED.get(name) in known:
                hint = Message("it is called {name} now", RENAMED[name])
            self.refuse(f"{path}.{name}".lstrip("."), "is not known; {hint}", hint)
        if len(unknown) > MOST_NAMED:
            self.refuse(path or "case", "has {n:,} names that are not known here", len(unknown))

    def file(self, path: str, value: object) -> Path | None:
        """Find a file named beside the case file; None, and an error noted, for anything that leads elsewhere."""
        message = self._astray(value)
        if message:
            self.refuse(path, "{message}, got {got!r}", message, value)
            return None
        return self.folder / str(value)  # type: ignore[operator]

    def _astray(self, value: object) -> str:
        """What is wrong with the name of a file, if anything is."""
        if not isinstance(value, str) or not value.strip() or "\0" in value:
            return Message("must be the name of a file")
        if self.folder is None:
            return Message("names a file beside the case file, and this case was not read from a folder")
        written = PureWindowsPath(value)  # knows drives, and either stroke
        inside = not (written.drive or written.root or PurePosixPath(value).is_absolute() or ".." in written.parts)
        if not inside or not (self.folder / value).resolve().is_relative_to(self.folder.resolve()):
            return Message("must stand in the folder of the case file or below it")
        try:
            for part in written.parts:
                plain_name("", part)
        except CaseError as error:
            return error.message
        if (self.folder / value).exists() and not (self.folder / value).is_file():
            return Message("must be a plain file")  # a pipe would block; who reads it looks again
        return ""


def is_number(value: object) -> bool:
    """Whether an entry is a number; true and false are none."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def meant(name: str, known: Iterable[str]) -> Message | None:
    """Ask whether the nearest of the known names was meant; None where none is near."""
    close = difflib.get_close_matches(name, known, n=1)
    return Message("did you mean {meant}?", close[0]) if close else None


def allowed(bounds: Bounds) -> Message:
    """Say what an entry may be."""
    return bounds_in_words(bounds.low, bounds.high, bounds.unit)
