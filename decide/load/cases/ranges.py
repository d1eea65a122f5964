"""Which inputs carry a range, and who says so: the source of a default, or the one who entered the case.

A default's range is the one its figure has in the tables. Where the value follows from the figure by a rule, the range
follows in proportion. Inputs that the same figure filled move together, as one range: whoever errs about the life of a
class errs about the unit there and the one to be bought alike. So does each flow of all units, whatever figure gave it:
one household uses them, as much or as little. What a label says of a unit moves with it, besides the label's own range.

Entries add their own in a `[ranges]` table, by the path of the input; they take the place of the default's:
"repair.remaining_life_factor" = [0.5, 1.2]. A value that was entered without a range, and a figure whose source gives
none, are fixed.
"""

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from typing import Final

from ...economics.breakeven import STUDY_PERIOD
from ...economics.case import Case, Input, inputs
from ...economics.household import Household
from ...economics.uncertainty import Range
from ...errors import CaseError, DataError, EntryErrors, OutOfRange
from ..tables.tables import Estimate
from .consumption import FLOWS, MEASURED
from .filled import Filled
from .reading import DefaultUsed, allowed, is_number, meant

ESCALATIONS: Final = ("electricity_escalation", "gas_escalation", "water_escalation", "price_escalation")

ENTERED = "entered"  # source of a range that came with the case


def ranges_of(filled: Filled) -> tuple[Range, ...]:
    """Every range of a case: first those entered, then those of its defaults, one for each figure."""
    labelled = {each.field for each in filled.derived if each.way not in MEASURED}
    named = {path for entered in filled.entered_ranges for path in entered.paths if entered.source == ENTERED}
    named |= {path for entered in filled.entered_ranges for path in entered.paths if path not in labelled}
    values = {entry.path: float(entry.value) for entry in inputs(filled.case)}
    together: dict[str | int, dict[str, DefaultUsed]] = {}
    for default in filled.defaults:
        holder, _, name = default.field.rpartition(".")
        path = f"{holder}.electricity" if name == "cycles" else default.field  # what is weighed
        flow, figure = path.rpartition(".")[2], default.estimate
        ranged = figure.low is not None and figure.high is not None and figure.low < figure.high
        if ranged and path not in named:
            together.setdefault(flow if flow in FLOWS else id(default.estimate), {})[path] = default
    moved = [_moved_together(defaults, labelled - named, values) for defaults in together.values()]
    follow = [path for path in filled.carried if path not in named]
    moving = (_with_what_follows(each, follow, values) for each in (*filled.entered_ranges, *moved))
    return _of_finite_sums((*moving, *filled.of_the_year), filled.case.household)


def _of_finite_sums(ranges: tuple[Range, ...], home: Household) -> tuple[Range, ...]:
    """The ranges; where those of defaults would let a price outrun the discount rate for ever, they give way.

    A low rate that somebody entered is answered, with the escalations and the chance of moving out as they stand.
    """
    ends = {
        path: (low, high) for each in ranges for path, low, high in zip(each.paths, each.lows, each.highs, strict=True)
    }
    rate, leaving = (
        ends.get(f"household.{name}", (float(getattr(home, name)),))[0] for name in ("rate", "leaving_rate")
    )
    highest = max(ends.get(f"household.{name}", (0.0, float(getattr(home, name))))[1] for name in ESCALATIONS)
    if math.isfinite(home.study_period) or math.expm1(math.log1p(rate) + leaving) > max(highest, 0.0):
        return ranges
    giving_way = {f"household.{name}" for name in ("leaving_rate", *ESCALATIONS)}
    return tuple(each for each in ranges if each.source == ENTERED or not giving_way & set(each.paths))


def entered_ranges(table: object, case: Case) -> tuple[Range, ...]:
    """Read the `[ranges]` of a case's entries.

    Raises `EntryErrors`: one or more cannot be used; each names its place, what is allowed, and what came.
    """
    if not isinstance(table, dict):
        raise EntryErrors([CaseError("ranges", "must be a table, got {got!r}", table)])
    known = {entry.path: entry for entry in inputs(case)}
    errors: list[CaseError] = []
    found: dict[str, Range] = {}
    entered = list(_flat(table))
    if len(entered) > len(known):
        template = "has {n:,} entries, and the case {known} inputs"
        raise EntryErrors([CaseError("ranges", template, len(entered), len(known))])
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


def _moved_together(
    defaults: Mapping[str, DefaultUsed], labelled: Collection[str], values: Mapping[str, float]
) -> Range:
    """The one range of all inputs that a figure filled, or of one flow of all units; with it goes what a label says."""
    path, first = next(iter(defaults.items()))
    flow = path.rpartition(".")[2]
    ends = {path: _ends_of(default, path, values) for path, default in defaults.items()}
    for path in labelled if flow in FLOWS else ():
        if path.endswith(f".{flow}") and path not in ends and values[path] > 0:
            ends[path] = _ends_of(replace(first, rule=first.rule or flow), path, values)
    lows, highs = zip(*ends.values(), strict=True)
    middle = tuple(values[path] for path in ends)
    return Range(paths=tuple(ends), lows=lows, values=middle, highs=highs, source=cited(first.estimate))


def _with_what_follows(each: Range, follow: Collection[str], values: Mapping[str, float]) -> Range:
    """A range of a flow of the unit there, which moves what follows from it by the same factor."""
    _, _, flow = each.paths[0].rpartition(".")
    more = [path for path in follow if path.endswith(f".{flow}") and path not in each.paths]
    if each.paths[0] != f"appliance.{flow}" or not more:
        return each
    times = [values[path] / each.values[0] for path in more]
    lows, highs = ((*ends, *(ends[0] * by for by in times)) for ends in (each.lows, each.highs))
    kept = (*each.values, *(values[path] for path in more))
    return replace(each, paths=(*each.paths, *more), lows=lows, values=kept, highs=highs)


def _ends_of(default: DefaultUsed, path: str, values: Mapping[str, float]) -> tuple[float, float]:
    """Both ends of what an input may be; by a rule it follows its figure in proportion."""
    estimate, times = default.estimate, 1.0
    if default.rule or path != default.field:
        if estimate.value == 0:
            raise DataError("{where}: a rule cannot stretch a figure of 0 to its range", default.field)
        times = values[path] / estimate.value
    return float(estimate.low or 0.0) * times, float(estimate.high or 0.0) * times


def cited(estimate: Estimate) -> str:
    """Who says so: the citation, where in it, its year, and how far it can be trusted."""
    return f"{estimate.source.citation}, {estimate.locator} ({estimate.year}; {estimate.status})"


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
    if (hint := meant(path, known)) is None:
        raise CaseError(f"ranges.{path}", "is no input of this case")
    raise CaseError(f"ranges.{path}", "is no input of this case; {hint}", hint)


def _entered(path: str, entry: Input, ends: object) -> Range:
    """One range as it was entered, held to the bounds of its input."""
    where, bounds, value = f"ranges.{path}", entry.bounds, float(entry.value)
    if entry.path == STUDY_PERIOD:
        raise CaseError(where, "cannot be: a study period is one number; ask where the verdict flips instead")
    if not (isinstance(ends, list) and len(ends) == 2 and all(is_number(end) and math.isfinite(end) for end in ends)):
        raise CaseError(where, "must be two numbers, low and high, {allowed}, got {got!r}", allowed(bounds), ends)
    low, high = float(ends[0]), float(ends[1])
    for end in (low, high):
        if not bounds.admits(end):
            raise OutOfRange(where, bounds.low, bounds.high, bounds.unit, end)
    if not low <= value <= high:
        template = "must go from low to high and hold the value {value:g}, got {low:g} to {high:g}"
        raise CaseError(where, template, value, low, high)
    return Range(paths=(entry.path,), lows=(low,), values=(value,), highs=(high,), source=ENTERED)
