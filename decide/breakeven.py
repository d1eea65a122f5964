"""Where the verdict flips, on any input of a case.

The advantage of repairing is A = repair limit - quote. Asked of one input with all others as they stand, A(value) is
what `weigh` says of the varied case, and the verdict flips where A changes sign.

- In the quote and its parts A is a straight line whose zero is known without a search: the repair limit is the answer.
- In prices, consumption, rebate and the like A is piecewise linear: between two neighbours on a grid the straight line
  is tried, and taken if A is zero there to rounding.
- Anywhere else the zero is closed in on between the two neighbours.

The grid is one column call. It finds every flip but a pair that lies between two neighbouring grid points.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from .arrays import Floats, Number
from .case import REPAIR, REPLACE, Case, Input, inputs, vary_all
from .errors import CaseError, NoSolution, OutOfRange
from .weigh import weigh

STUDY_PERIOD: Final = "household.study_period"
"""The one input that is no column: rows with different study periods are weighed one period at a time."""

FAR: Final = 30.0
"""Where the search ends for an input without an upper bound. [year]"""

GRID: Final = 65
"""Points on each of the three grids that make up the search."""

ROUNDING: Final = 1e-9
"""An advantage this small a share of those on either side of it is zero to rounding."""

SETTLED: Final = 1e-9
"""An advantage this near zero ends a search. [money]"""

IN_THE_QUOTE: Final = tuple(
    f"repair.quote.{part}" for part in ("amount", "parts", "labour_hours", "labour_rate", "trip", "tax_rate")
)
"""What the repair limit does not depend on, and the quote is a straight line in."""


@dataclass(frozen=True, kw_only=True)
class Flips:
    """Where the verdict between repairing and not repairing flips as one input goes from `low` to `high`."""

    path: str
    unit: str
    low: float
    high: float
    values: tuple[float, ...]
    """Every value at which it flips, in rising order; none: one side wins throughout."""
    repair_wins_at_low: bool

    @property
    def repair_wins_at_high(self) -> bool:
        """Whether repairing wins at the upper end."""
        return self.repair_wins_at_low == (len(self.values) % 2 == 0)

    @property
    def none(self) -> bool:
        """Whether one side wins throughout; `repair_wins_at_low` says which."""
        return not self.values


def flips(case: Case, path: str, low: float | None = None, high: float | None = None) -> Flips:
    """Every value of one input at which the verdict flips, all else as it stands.

    Parameters
    ----------
    case : Case
        A single case with a quote.
    path : str
        One of `inputs(case)`, such as `household.electricity_price`.
    low, high : float, optional
        Where to look; as far as the input's bounds and the case allow (`interval`), unless given. [unit of the input]

    Raises
    ------
    OutOfRange
        `low` or `high` is not within the input's bounds.
    CaseError
        The path is no input; the case has columns, no quote or a refused repair; or the case cannot be at a limit.

    Examples
    --------
    >>> from decide.load.case_file import complete
    >>> washer = complete({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}}).case
    >>> found = flips(washer, "repair.quote.amount")
    >>> found.repair_wins_at_low, round(found.values[0] - highest_quote(washer), 6)
    (True, 0.0)
    """
    entry = _single(case, path)
    ends = interval(case, path)
    low, high = (end if given is None else float(given) for end, given in zip(ends, (low, high), strict=True))
    for end in (low, high):
        if not entry.bounds.admits(end):
            raise OutOfRange(path, entry.bounds.low, entry.bounds.high, entry.bounds.unit, end)
    if not low <= high:
        raise CaseError(path, f"the search must not end below its start, got {low:g} to {high:g}")
    if path in IN_THE_QUOTE:
        values, wins = _in_the_quote(case, path, low, high)
    else:
        values, wins = _on_a_grid(case, path, _grid(entry, low, high))
    return Flips(path=path, unit=entry.bounds.unit, low=low, high=high, values=values, repair_wins_at_low=wins)


def interval(case: Case, path: str) -> tuple[float, float]:
    """How far an input can go: to its bounds, or a little short of where the case as a whole would be refused.

    >>> from decide.load.case_file import complete
    >>> washer = complete({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}}).case
    >>> interval(washer, "appliance.age"), interval(washer, "household.study_period")
    ((0.0, 60.0), (0.5, 30.0))
    """
    entry = _entry(case, path)
    top = entry.bounds.high if math.isfinite(entry.bounds.high) else FAR
    return _reach(case, entry, float(entry.bounds.low)), _reach(case, entry, float(top))


def highest_quote(case: Case) -> Number:
    """The highest quote worth paying: the repair limit. Columns give columns. [money]"""
    return weigh(case).repair_limit


def age_limit(case: Case) -> Flips:
    """The age at which this quote stops being worth it. [year]"""
    return flips(case, "appliance.age")


def electricity_price_to_replace(case: Case) -> Flips:
    """The electricity price at which replacing wins. [money/kWh]"""
    return flips(case, "household.electricity_price")


def new_price_to_replace(case: Case, replacement: str = REPLACE) -> Flips:
    """The price of the new unit at which buying it wins; `replace.2` asks it of the second one. [money]"""
    return flips(case, f"{replacement}.price")


def years_to_stay(case: Case) -> Flips:
    """How many years one must stay for the other choice to win, as a study period. [year]"""
    return flips(case, STUDY_PERIOD)


@dataclass(frozen=True, kw_only=True)
class TwoWay:
    """The advantage of repairing over two inputs at once, and the line on which the verdict flips."""

    across: str
    down: str
    x: Floats
    """Values of `across`, shape (nx)."""
    y: Floats
    """Values of `down`, shape (ny)."""
    advantage: Floats
    """Shape (ny, nx). [money]"""
    line: Floats
    """Points (x, y) where it flips, on every line of the grid that it crosses; shape (points, 2)."""


def two_way(case: Case, across: str, down: str, x: Floats, y: Floats) -> TwoWay:
    """Map the advantage of repairing over two inputs, in one column call, and find the line where the verdict flips.

    Parameters
    ----------
    across, down : str
        Two different inputs of the case.
    x, y : ndarray, shape (nx), (ny)
        Their values in rising order; `around` gives a fair choice. [unit of the input]

    Raises
    ------
    CaseError
        As for `flips`; or some pair of values makes no case.
    """
    if across == down:
        raise CaseError(down, "must be another input than the one across")
    _single(case, across), _single(case, down)
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    grid = np.meshgrid(x, y)
    flat = advantages(case, {across: grid[0].ravel(), down: grid[1].ravel()})
    advantage = flat.reshape(y.size, x.size)
    row, left = np.nonzero(_changes(advantage))
    above, column = np.nonzero(_changes(advantage.T).T)
    along_x = np.stack([_closed_in(case, across, x[left], x[left + 1], {down: y[row]}), y[row]], axis=-1)
    along_y = np.stack([x[column], _closed_in(case, down, y[above], y[above + 1], {across: x[column]})], axis=-1)
    return TwoWay(across=across, down=down, x=x, y=y, advantage=advantage, line=np.concatenate([along_x, along_y]))


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
    for entry in inputs(case):
        if entry.path == path:
            return entry
    raise CaseError(path, "is no input of this case")


def _single(case: Case, path: str) -> Input:
    """The same, of a case whose verdict can flip."""
    entry = _entry(case, path)
    require_verdict(case)
    return entry


def require_single(case: Case) -> None:
    """Raise `CaseError` where the case has columns."""
    for entry in inputs(case):
        if np.ndim(entry.value):
            raise CaseError(entry.path, "must be one number: this is asked of a single case")


def require_verdict(case: Case) -> None:
    """Raise `CaseError` where there is no one advantage to speak of: columns, no quote, or a repair that is refused."""
    require_single(case)
    refused = [stop.caution for stop in case.stops if stop.action == REPAIR]
    if refused:
        raise CaseError(REPAIR, f"is refused by a caution, whatever it costs: {', '.join(refused)}")
    if all(option.quote is None for option in case.options):
        raise CaseError("repair.quote", "is needed: without one there is no verdict that could flip")


def _reach(case: Case, entry: Input, bound: float) -> float:
    """The bound; or, where the case stops making sense on the way, a hundredth of the way back from there."""
    if _stands(case, entry.path, bound):
        return bound
    start = float(entry.value) if np.isfinite(entry.value) else FAR
    good, bad = start, bound
    for _ in range(30):  # halvings: to a billionth of the way
        middle = (good + bad) / 2
        good, bad = (middle, bad) if _stands(case, entry.path, middle) else (good, middle)
    return good + (start - good) / 100


def _stands(case: Case, path: str, value: float) -> bool:
    """Whether the case is still one with this value, and its costs are numbers."""
    try:
        with np.errstate(all="ignore"):
            weighed = weigh(vary_all(case, {path: value}))
    except CaseError:
        return False
    return all(np.isfinite(cost.present_cost) for cost in weighed.options)


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


def _on_a_grid(case: Case, path: str, grid: Floats) -> tuple[tuple[float, ...], bool]:
    """Every change of sign on the grid, each made exact; and whether repairing wins at the start."""
    advantage = advantages(case, {path: grid})
    left = np.flatnonzero(_changes(advantage))
    exact = _closed_in(case, path, grid[left], grid[left + 1], {})
    return tuple(float(value) for value in exact), bool(advantage[0] >= 0)


def _changes(advantage: Floats) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Whether the verdict differs between neighbours on the last axis."""
    wins = advantage >= 0
    return wins[..., 1:] != wins[..., :-1]


def _closed_in(case: Case, path: str, left: Floats, right: Floats, others: Mapping[str, Floats]) -> Floats:
    """The flip between each left and right, one a row: on the straight line if it lies there, else by a search."""
    if not left.size:
        return left
    at_left, at_right = (advantages(case, {**others, path: end}) for end in (left, right))
    value = left - at_left * (right - left) / (at_right - at_left)
    missed = np.abs(advantages(case, {**others, path: value})) > ROUNDING * (np.abs(at_left) + np.abs(at_right))
    if np.any(missed):
        rest = {other: column[missed] for other, column in others.items()}
        value[missed] = _searched(case, path, left[missed], right[missed], rest)
    return value


def _searched(case: Case, path: str, left: Floats, right: Floats, others: Mapping[str, Floats]) -> Floats:
    """The flip between each left and right, by Chandrupatla's method; where the advantage jumps, the place of it."""
    from scipy.optimize.elementwise import find_root

    def advantage(value: Floats, /, *rest: Floats) -> Floats:
        return advantages(case, {**dict(zip(others, rest, strict=True)), path: value})

    found = find_root(
        advantage, (left, right), args=tuple(others.values()), tolerances={"xrtol": 1e-13, "fatol": SETTLED}
    )
    if not np.all(found.success):
        raise NoSolution(f"{path}: the search for the value at which the verdict flips did not settle")
    return found.x
