"""Where the verdict flips, on any input of a case.

The advantage of repairing is A = repair limit - quote. Asked of one input with all others as they stand, A(value) is
what `weigh` says of the varied case, and the verdict flips where A changes sign.

- In the quote and its parts A is a straight line whose zero is known without a search: the repair limit is the answer.
- In prices, consumption, rebate and the like A is piecewise linear: between two neighbours on a grid the straight line
  is tried, and taken if A is zero there to rounding.
- Anywhere else a search closes in between the two neighbours.

The grid is one column call. It finds every flip but a pair that lies between two neighbouring grid points.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..arrays import Floats, Number, Truths
from ..errors import CaseError, NoSolution, OutOfRange
from .case import REPAIR, Case, Input, inputs, vary_all
from .weigh import Weighing, weigh

STUDY_PERIOD: Final = "household.study_period"
"""The one input that is no column: rows with different study periods are weighed one period at a time."""

FAR: Final = 30.0  # Where the search ends for an input without an upper bound. [year]
GRID: Final = 65  # Points on each of the three grids that make up the search.
ROUNDING: Final = 1e-9  # An advantage this small a share of those on either side of it is zero to rounding.
SETTLED: Final = 1e-9  # An advantage this near zero ends a search. [money]

IN_THE_QUOTE: Final = tuple(
    f"repair.quote.{part}" for part in ("amount", "parts", "labour_hours", "labour_rate", "trip", "tax_rate")
)
"""What the repair limit does not depend on, and the quote is a straight line in."""


@dataclass(frozen=True)
class BreakevenValues:
    """Where the verdict between repairing and not repairing flips as one input goes from `low` to `high`."""

    path: str
    unit: str
    low: float
    high: float
    values: tuple[float, ...]  # Every value at which it flips, in rising order; none: one side wins throughout.
    repair_wins_at_low: bool

    @property
    def none(self) -> bool:
        """Whether one side wins throughout; `repair_wins_at_low` says which."""
        return not self.values


def breakeven_values(case: Case, path: str, low: float | None = None, high: float | None = None) -> BreakevenValues:
    """Every value of one input at which the verdict flips, all else as it stands.

    Parameters
    ----------
    case : Case
        A single case with a quote.
    path : str
        One of `inputs(case)`, such as `household.electricity_price`.
    low, high : float, optional
        Where to look; as far as the input's bounds and the case allow (`interval`), unless given. [unit of the input]

    Returns
    -------
    BreakevenValues
        The values in rising order, where they were sought, and which side wins at the lower end. [unit of the input]

    Raises
    ------
    OutOfRange
        `low` or `high` is not within the input's bounds.
    CaseError
        The path is no input; the case has columns, no quote or a refused repair; or the case cannot be at a limit.

    Examples
    --------
    >>> from decide.load.cases.case_file import complete
    >>> washer = complete({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}}).case
    >>> found = breakeven_values(washer, "repair.quote.amount")
    >>> found.repair_wins_at_low, round(found.values[0] - weigh(washer).repair_limit, 6)
    (True, 0.0)
    """
    entry = _entry(case, path)
    require_verdict(case)
    for end in (low, high):
        if end is not None and not entry.bounds.admits(end):
            raise OutOfRange(path, entry.bounds.low, entry.bounds.high, entry.bounds.unit, end)
    if path in IN_THE_QUOTE:
        low, high = _asked(interval(case, path), low, high, path)
        values, wins = _in_the_quote(case, path, low, high)
    else:
        grid = _grid(entry, *_asked(_bounds(entry), low, high, path))
        weighed = None if path == STUDY_PERIOD else _weighed(case, {path: grid})
        if weighed is None:  # some end lies too far out
            grid = _grid(entry, *_asked(interval(case, path), low, high, path))
        found = advantages(case, {path: grid}) if weighed is None else weighed.advantage
        advantage = np.broadcast_to(found, grid.shape)
        low, high, wins = float(grid[0]), float(grid[-1]), advantage[0] >= 0
        left = np.flatnonzero(_changes(advantage))
        either_side = advantage[left], advantage[left + 1]
        values = tuple(map(float, _closed_in(case, path, (grid[left], grid[left + 1]), either_side, {})))
    return BreakevenValues(path, entry.bounds.unit, low, high, values, bool(wins))


def interval(case: Case, path: str) -> tuple[float, float]:
    """How far an input can go: to its bounds, or a little short of where the case as a whole would be refused.

    >>> from decide.load.cases.case_file import complete
    >>> washer = complete({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}}).case
    >>> interval(washer, "appliance.age"), interval(washer, "household.study_period")
    ((0.0, 60.0), (0.5, 30.0))
    """
    entry = _entry(case, path)
    low, high = _bounds(entry)
    return _reach(case, entry, low), _reach(case, entry, high)


@dataclass(frozen=True)
class TwoWay:
    """The advantage of repairing over two inputs at once, and the line on which the verdict flips."""

    across: str
    down: str
    x: Floats  # Values of `across`, shape (nx).
    y: Floats  # Values of `down`, shape (ny).
    advantage: Floats  # Shape (ny, nx). [money]
    line: Floats  # Points (x, y) where it flips, on every line of the grid that it crosses; shape (points, 2).


def two_way(case: Case, across: str, down: str, x: Floats, y: Floats) -> TwoWay:
    """Map the advantage of repairing over two inputs, in one column call, and find the line where the verdict flips.

    `x` and `y` are values of two different inputs in rising order, shape (nx) and (ny); `around` gives a fair choice.
    Raises `CaseError`: as for `breakeven_values`; or some pair of values makes no case.
    """
    if across == down:
        raise CaseError(down, "must be another input than the one across")
    _entry(case, across), _entry(case, down)
    require_verdict(case)
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    grid = np.meshgrid(x, y)
    flat = advantages(case, {across: grid[0].ravel(), down: grid[1].ravel()})
    advantage = flat.reshape(y.size, x.size)
    row, left = np.nonzero(_changes(advantage))
    above, column = np.nonzero(_changes(advantage.T).T)
    either_side = advantage[row, left], advantage[row, left + 1]
    crossed = _closed_in(case, across, (x[left], x[left + 1]), either_side, {down: y[row]})
    along_x = np.stack([crossed, y[row]], axis=-1)
    either_side = advantage[above, column], advantage[above + 1, column]
    crossed = _closed_in(case, down, (y[above], y[above + 1]), either_side, {across: x[column]})
    along_y = np.stack([x[column], crossed], axis=-1)
    return TwoWay(across, down, x, y, advantage, np.concatenate([along_x, along_y]))


def around(case: Case, path: str, points: int = 31) -> Floats:
    """Values of an input for a map: from nothing to twice what it is, as far as the case allows; or all it can be."""
    low, high = interval(case, path)
    value = float(_entry(case, path).value)
    if math.isfinite(value) and value > 0:
        high = min(high, 2 * value)
    return np.linspace(low, high, points)


def advantages(case: Case, changes: Mapping[str, Floats]) -> Floats:
    """Advantage of repairing for each row of some changed inputs, all of shape (rows). [money]"""
    rows = np.shape(next(iter(changes.values())))
    if STUDY_PERIOD not in changes:
        return np.broadcast_to(weigh(vary_all(case, changes)).advantage, rows)
    answer = np.empty(rows)
    for years in np.unique(changes[STUDY_PERIOD]):
        chosen = changes[STUDY_PERIOD] == years
        some: dict[str, Number] = {path: column[chosen] for path, column in changes.items()}
        answer[chosen] = weigh(vary_all(case, {**some, STUDY_PERIOD: float(years)})).advantage
    return answer


def _entry(case: Case, path: str) -> Input:
    """One input of a case by its path."""
    if found := next((entry for entry in inputs(case) if entry.path == path), None):
        return found
    raise CaseError(path, "is no input of this case")


def require_single(case: Case) -> None:
    """Raise `CaseError` where the case has columns."""
    for entry in inputs(case):
        if np.ndim(entry.value):
            raise CaseError(entry.path, "must be one number: this is asked of a single case")


def require_verdict(case: Case) -> None:
    """Raise `CaseError` where there is no one advantage to speak of: columns, no quote, or a repair that is refused."""
    require_single(case)
    refused = [stop.caution for stop in case.prohibitions if stop.action == REPAIR]
    if refused:
        raise CaseError(REPAIR, "is refused by a caution, whatever it costs: {cautions}", ", ".join(refused))
    if case.repair.quote is None:
        raise CaseError("repair.quote", "is needed: without one there is no verdict that could flip")


def _bounds(entry: Input) -> tuple[float, float]:
    """Between what an input is looked at: its bounds, or `FAR` where it has none above."""
    return float(entry.bounds.low), float(entry.bounds.high if math.isfinite(entry.bounds.high) else FAR)


def _asked(ends: tuple[float, float], low: float | None, high: float | None, path: str) -> tuple[float, float]:
    """The ends that were asked for, and those of the input where none was."""
    first, last = (end if given is None else float(given) for end, given in zip(ends, (low, high), strict=True))
    if not first <= last:
        raise CaseError(path, "the search must not end below its start, got {first:g} to {last:g}", first, last)
    return first, last


def _reach(case: Case, entry: Input, bound: float) -> float:
    """The bound; or, where the case stops making sense on the way, a hundredth of the way back from there."""
    if _weighed(case, {entry.path: bound}) is not None:
        return bound
    start = float(entry.value) if np.isfinite(entry.value) else FAR
    good, bad = start, bound
    for _ in range(30):  # halvings: to a billionth of the way
        middle = (good + bad) / 2
        good, bad = (good, middle) if _weighed(case, {entry.path: middle}) is None else (middle, bad)
    return good + (start - good) / 100


def _weighed(case: Case, changes: Mapping[str, Number]) -> Weighing[Number] | None:
    """The varied case weighed; nothing if it is none, or costs at its first or last row are no numbers."""
    try:
        with np.errstate(all="ignore"):
            weighed = weigh(vary_all(case, changes))
    except CaseError:
        return None
    ends = (np.atleast_1d(cost.present_cost)[[0, -1]] for cost in weighed.options)
    return weighed if all(np.all(np.isfinite(end)) for end in ends) else None


def _grid(entry: Input, low: float, high: float) -> Floats:
    """Where to look: evenly, ever finer towards the start, and finely from nothing to four times what it is now."""
    if entry.path == STUDY_PERIOD:
        return np.append(np.arange(low, high, 1.0), high)
    value = float(entry.value)
    now = np.linspace(0.0, 4 * value, GRID) if math.isfinite(value) else np.empty(0)
    fine = low + (high - low) * np.geomspace(1e-5, 1.0, GRID)
    grid = np.concatenate([np.linspace(low, high, GRID), fine, now])
    return np.unique(grid[(grid >= low) & (grid <= high)])


def _in_the_quote(case: Case, path: str, low: float, high: float) -> tuple[tuple[float, ...], bool]:
    """Where the quote meets the repair limit, in closed form; and whether it is below the limit at the start."""
    weighed = weigh(vary_all(case, {path: np.array([low, high])}))
    limit = float(np.asarray(weighed.repair_limit).flat[0])
    at_low, at_high = (float(total) for total in np.broadcast_to(weighed.quoted, (2,)))
    rise = (at_high - at_low) / (high - low) if high > low else 0.0
    value = low + (limit - at_low) / rise if rise else math.nan
    wins = at_low <= limit
    return ((value,) if wins and low <= value < high else ()), wins


def _changes(advantage: Floats) -> Truths:
    """Whether the verdict differs between neighbours on the last axis."""
    wins = advantage >= 0
    return wins[..., 1:] != wins[..., :-1]


Pair = tuple[Floats, Floats]  # Something of each left neighbour, and of each right one.


def _closed_in(case: Case, path: str, ends: Pair, at_ends: Pair, others: Mapping[str, Floats]) -> Floats:
    """The flip between each left and right, one a row: on the straight line if it lies there, else by a search."""
    (left, right), (at_left, at_right) = ends, at_ends
    if not left.size:
        return left
    value = left - at_left * (right - left) / (at_right - at_left)
    missed = np.abs(advantages(case, {**others, path: value})) > ROUNDING * (np.abs(at_left) + np.abs(at_right))
    if np.any(missed):
        rest = {other: column[missed] for other, column in others.items()}
        value[missed] = _searched(case, path, left[missed], right[missed], rest)
    return value


def _searched(case: Case, path: str, left: Floats, right: Floats, others: Mapping[str, Floats]) -> Floats:
    """The flip between each left and right, by Chandrupatla's method; where the advantage jumps, the place of it."""
    from scipy.optimize.elementwise import find_root  # here, since it is slow to load

    def advantage(value: Floats, /, *rest: Floats) -> Floats:
        return advantages(case, {**dict(zip(others, rest, strict=True)), path: value})

    found = find_root(
        advantage, (left, right), args=tuple(others.values()), tolerances={"xrtol": 1e-13, "fatol": SETTLED}
    )
    if not np.all(found.success):
        raise NoSolution("{where}: the search for the value at which the verdict flips did not settle", path)
    return found.x
