"""Which inputs carry a range, and who says so: the source of a default, or the one who entered the case.

A default's range is the one its figure has in the tables. Where the value follows from the figure by a rule, the range
follows in proportion. Inputs that the same figure filled move together, as one range: whoever errs about the life of a
class errs about the unit there and the one to be bought alike.

Entries add their own in a `[ranges]` table, by the path of the input; they take the place of the default's.

    [ranges]
    "repair.remaining_life_factor" = [0.5, 1.2]

A value that was entered without a range, and a figure whose source gives none, are fixed.
"""

import difflib
import math
from collections.abc import Iterator, Mapping

from ...economics.breakeven import STUDY_PERIOD
from ...economics.case import Case, Input, inputs
from ...economics.uncertainty import Range
from ...errors import CaseError, DataError, EntryErrors, Message, OutOfRange, bounds_in_words
from ..tables.tables import Estimate
from .filled import Filled
from .reading import DefaultUsed

ENTERED = "entered"
"""Source of a range that came with the case."""


def ranges_of(filled: Filled) -> tuple[Range, ...]:
    """Every range of a case: first those entered, then those of its defaults, one for each figure.

    Examples
    --------
    >>> from decide.load.cases.case_file import complete
    >>> entries = {"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 190}}
    >>> together = {r.paths[0]: r.paths for r in ranges_of(complete(entries))}
    >>> together["appliance.mean_life"]
    ('appliance.mean_life', 'replace.appliance.mean_life')
    """
    named = {path for entered in filled.entered_ranges for path in entered.paths}
    values = {entry.path: float(entry.value) for entry in inputs(filled.case)}
    filled_by: dict[int, list[DefaultUsed]] = {}
    for default in filled.defaults:
        if _has_range(default.estimate) and _filled_input(default) not in named:
            filled_by.setdefault(id(default.estimate), []).append(default)
    return (*filled.entered_ranges, *(_of_one_figure(defaults, values) for defaults in filled_by.values()))


def entered_ranges(table: object, case: Case) -> tuple[Range, ...]:
    """Read the `[ranges]` of a case's entries.

    Raises
    ------
    EntryErrors
        One or more cannot be used; each names its place, what is allowed, and what came.
    """
    if not isinstance(table, dict):
        raise EntryErrors([CaseError("ranges", "must be a table, got {got!r}", table)])
    known = {entry.path: entry for entry in inputs(case)}
    errors: list[CaseError] = []
    found: dict[str, Range] = {}
    entered = list(_flat(table))
    if len(entered) > len(known):
        raise EntryErrors(
            [CaseError("ranges", "has {n:,} entries, and the case {known} inputs", len(entered), len(known))]
        )
    for path, ends in entered:
        try:
            entry = _input(path, known)
            if entry.path in found:
                raise CaseError(f"ranges.{path}", "is given twice")
            found[entry.path] = _entered(path, entry, ends)
        except CaseError as error:
            errors.append(error)
    if errors:
        raise EntryErrors(errors)
    return tuple(found.values())


def _has_range(estimate: Estimate) -> bool:
    return estimate.low is not None and estimate.high is not None and estimate.low < estimate.high


def _filled_input(default: DefaultUsed) -> str:
    """The input of the case that a default went into: cycles a year are entered, electricity is weighed."""
    holder, _, name = default.field.rpartition(".")
    return f"{holder}.electricity" if name == "cycles" else default.field


def _of_one_figure(defaults: list[DefaultUsed], values: Mapping[str, float]) -> Range:
    """The one range of all inputs that a figure filled."""
    estimate = defaults[0].estimate
    paths = tuple(_filled_input(default) for default in defaults)
    ends = []
    for default, path in zip(defaults, paths, strict=True):
        follows = default.rule or path != default.field
        if follows and estimate.value == 0:
            raise DataError("{where}: a rule cannot stretch a figure of 0 to its range", default.field)
        times = values[path] / estimate.value if follows else 1.0
        ends.append((float(estimate.low or 0.0) * times, values[path], float(estimate.high or 0.0) * times))
    lows, middle, highs = zip(*ends, strict=True)
    source = f"{estimate.source.citation}, {estimate.locator} ({estimate.year}; {estimate.status})"
    return Range(paths=paths, lows=lows, values=middle, highs=highs, source=source)


def _flat(table: Mapping[str, object], path: str = "") -> Iterator[tuple[str, object]]:
    """Ranges by their path, however deep they were written: quoted paths, tables, or `[[ranges.replace]]`."""
    for name, inner in table.items():
        where = f"{path}.{name}" if path else name
        if isinstance(inner, dict):
            yield from _flat(inner, where)
        elif isinstance(inner, list) and inner and all(isinstance(each, dict) for each in inner):
            for i, each in enumerate(inner):
                yield from _flat(each, where if i == 0 else f"{where}.{i + 1}")
        else:
            yield where, inner


def _input(path: str, known: Mapping[str, Input]) -> Input:
    """The input at a path; a quote may be named as it is entered, by itself."""
    for candidate in (path, f"{path}.amount"):
        if candidate in known:
            return known[candidate]
    close = difflib.get_close_matches(path, known, n=1)
    if close:
        raise CaseError(
            f"ranges.{path}", "is no input of this case; {hint}", Message("did you mean {meant}?", close[0])
        )
    raise CaseError(f"ranges.{path}", "is no input of this case")


def _entered(path: str, entry: Input, ends: object) -> Range:
    """One range as it was entered, held to the bounds of its input."""
    where, bounds, value = f"ranges.{path}", entry.bounds, float(entry.value)
    if entry.path == STUDY_PERIOD:
        raise CaseError(where, "cannot be: a study period is one number; ask where the verdict flips instead")
    if not (isinstance(ends, list) and len(ends) == 2 and all(_is_number(end) for end in ends)):
        allowed = bounds_in_words(bounds.low, bounds.high, bounds.unit)
        raise CaseError(where, "must be two numbers, low and high, {allowed}, got {got!r}", allowed, ends)
    low, high = float(ends[0]), float(ends[1])
    for end in (low, high):
        if not bounds.admits(end):
            raise OutOfRange(where, bounds.low, bounds.high, bounds.unit, end)
    if not low <= value <= high:
        raise CaseError(
            where, "must go from low to high and hold the value {value:g}, got {low:g} to {high:g}", value, low, high
        )
    return Range(paths=(entry.path,), lows=(low,), values=(value,), highs=(high,), source=ENTERED)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
