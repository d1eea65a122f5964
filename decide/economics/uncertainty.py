"""What is not known: ranges of inputs, their joint draws, and what it is worth to find something out before deciding.

A value is the **mean** of its range (`mean_law`): what is expected is then nearly what the case says as it stands.
Ranges are independent of one another. With c_ij the present cost of option i in draw j,

- the expected regret of a choice is E[c_choice - min_i c_i];
- the value of knowing everything, min_i E[c_i] - E[min_i c_i]: no inquiry whatever is worth more;
- the value of knowing one range exactly, min_i E[c_i] - E[min_i E[c_i | x]]: what its inquiry may cost at most.

The decision itself is in `decision`; chance, which nobody can find out, in `outcomes`.
"""

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..arrays import Floats, Number
from ..errors import CaseError
from .bounds import numbers_of
from .breakeven import STUDY_PERIOD
from .case import Appliance, Case, Option, Quote, vary_all
from .household import Household, Landlord

DRAWS: Final = 512
"""A power of two, as Sobol points want; other points move the limit by less than 1 % of what a new one costs."""

SEED: Final = 1  # The same question gets the same answer.
GROUPS: Final = 16  # Groups of like draws in which the value of knowing one range is judged.

LEVELS: Final = (0.05, 0.25, 0.5, 0.75, 0.95)


@dataclass(frozen=True, kw_only=True)
class Range:
    """What a value may be instead, for one input or for several that one figure fills and that move together.

    Several ranges may name the same input; each then moves it by its own factor, what it draws over its value.
    """

    paths: tuple[str, ...]
    lows: tuple[float, ...]
    values: tuple[float, ...]
    highs: tuple[float, ...]
    source: str  # Who says so.

    def __post_init__(self) -> None:
        for path, low, value, high in zip(self.paths, self.lows, self.values, self.highs, strict=True):
            if path == STUDY_PERIOD:
                raise CaseError(path, "is one number for all draws; ask for where the verdict flips instead")
            if not (math.isfinite(low) and math.isfinite(high) and low <= value <= high):
                template = "must have a range that holds its value {value:g}, got {low:g} to {high:g}"
                raise CaseError(path, template, value, low, high)

    def at(self, share: Number) -> dict[str, Number]:
        """Value of each input that the given share of draws stays below: the quantile of `mean_law`."""
        ends = zip(self.paths, self.lows, self.values, self.highs, strict=True)
        return {path: mean_law(share, low, value, high) for path, low, value, high in ends}


def values_at(ranges: Sequence[Range], shares: Floats, standing: int = 0) -> list[dict[str, Number]]:
    """Value of each input of each range, as `Range.at`, at shares of draws of shape (draws, ranges); all at once.

    So many rows of the values as they stand come before those drawn.
    """
    ends = (np.array([end for each in ranges for end in getattr(each, name)]) for name in ("lows", "values", "highs"))
    of_path = np.repeat(shares.T, [len(each.paths) for each in ranges], axis=0)
    lows, values, highs = (each[:, np.newaxis] for each in ends)
    drawn = mean_law(of_path, lows, values, highs)
    rows = iter(np.hstack([np.repeat(values, standing, axis=1), drawn]) if standing else drawn)
    return [{path: next(rows) for path in each.paths} for each in ranges]


def mean_law(share: Number, low: Number, value: Number, high: Number) -> Floats:
    r"""Quantile of the law between low and high whose mean is the value: two triangles that meet there.

    .. math:: p = \frac{h - v}{h - l}, \qquad Q(y) = l + (v - l)\sqrt{y / p} \; (y < p), \qquad
        h - (h - v)\sqrt{(1 - y)/(1 - p)} \; (y \ge p)

    A value at one end of its range is what one side alone leaves open: it is drawn evenly there.
    """
    share, low, value, high = (np.asarray(each, dtype=float) for each in (share, low, value, high))
    width = np.where(high > low, high - low, 1.0)
    below = (high - value) / width
    with np.errstate(divide="ignore", invalid="ignore"):
        left = low + (value - low) * np.sqrt(share / below)
        right = high - (high - value) * np.sqrt((1 - share) / (1 - below))
    proper = np.where(share < below, left, right)
    return np.where((value > low) & (value < high), proper, low + (high - low) * share)


NAMES: Final = tuple(name for noun in (Appliance, Option, Quote, Household, Landlord) for name in numbers_of(noun))
"""Inputs, each with a column of draws of its own, so that one more range moves no other."""


def columns_of(ranges: Sequence[Range], available: int) -> list[int]:
    """Column of the points that each range is drawn by: that of its input, or the last free one; 0 is no range's."""
    free, found = list(range(1, available)), []
    for each in ranges:
        name = each.paths[0].rpartition(".")[2]
        own = NAMES.index(name) + 1 if name in NAMES else 0
        found.append(own if own in free else free[-1])
        free.remove(found[-1])
    return found


def sobol_points(draws: int, columns: int, seed: int) -> Floats:
    """Scrambled Sobol points in the unit cube, shape (draws, columns). [-]

    Raises `CaseError`: the number of draws is no power of two.
    """
    from scipy.stats import qmc  # here, since it is slow to load

    if draws < 2 or draws & (draws - 1):
        raise CaseError("draws", "must be a power of two, got {got}", draws)
    points = qmc.Sobol(columns, scramble=True, rng=np.random.default_rng(seed))
    drawn: Floats = points.random_base2(draws.bit_length() - 1)
    return drawn


def varied(case: Case, ranges: Sequence[Range], drawn: Sequence[Mapping[str, Number]]) -> Case:
    """The case with all ranges drawn; where they make no case, as few as clash are named.

    Several ranges may name the same input: each then moves it by its own factor.

    Raises `CaseError`: some ranges together make no case; or two move an input that is 0.
    """
    columns: dict[str, Number] = {}
    for each, moved in zip(ranges, drawn, strict=True):
        for path, value in zip(each.paths, each.values, strict=True):
            if path in columns and value == 0:
                raise CaseError(path, "is 0, so that no two ranges can move it by their factors")
            columns[path] = columns[path] * (moved[path] / value) if path in columns else moved[path]
    try:
        return vary_all(case, columns)
    except CaseError as error:
        for fewer in range(1, min(3, len(ranges))):
            for some in itertools.combinations(zip(ranges, drawn, strict=True), fewer):
                varied(case, *zip(*some, strict=True))
        named = " and ".join(f"{r.paths[0]} ({r.lows[0]:g} to {r.highs[0]:g})" for r in ranges)
        clash = "ranges clash, {named}: {error}" if len(ranges) > 1 else "range cannot be drawn, {named}: {error}"
        raise CaseError(ranges[0].paths[0], clash, named, error) from error


@dataclass(frozen=True)
class Distribution:
    """How values are spread: their mean and some quantiles."""

    mean: float
    levels: tuple[float, ...]
    quantiles: tuple[float, ...]  # The value that each level's share of draws stays below.

    @staticmethod
    def of(values: Floats) -> "Distribution":
        """Sum up the values of all draws, shape (draws)."""
        return Distribution(float(np.mean(values)), LEVELS, tuple(map(float, np.quantile(values, LEVELS))))


def evpi(costs: Floats) -> float:
    """Expected value of perfect information: what it is worth to know the draw before choosing. [money]

    ``min_i E[c_i] - E[min_i c_i]``, of the cost of each option in each equally likely draw, shape (options, draws).
    Howard, Information value theory, IEEE Transactions on Systems Science and Cybernetics 2, 22-26, 1966.
    """
    return float(np.min(np.mean(costs, axis=1)) - np.mean(np.min(costs, axis=0)))


def evppi(costs: Floats, known: Floats, groups: int = GROUPS) -> float:
    """Expected value of partial perfect information: what it is worth to know one quantity before choosing. [money]

    ``min_i E[c_i] - E[min_i E[c_i | x]]``; `costs` as of `evpi`, `known` is x in each draw, shape (draws).

    A single loop over one set of draws: sort by x into groups (by value where there are no more values than groups),
    and choose in each what is cheapest there on average. Judged by the same draws a choice looks too good, and what
    tells nothing would seem worth something; so each half of the draws chooses for the other. What bias is left is
    downward, and small: a choice is only as fine as the groups, and now and then the halves disagree where it hardly
    matters. Never below 0. Strong & Oakley, An efficient method for computing single-parameter partial expected value
    of perfect information, Medical Decision Making 33, 755-766, 2013.
    """
    half = costs.shape[1] // 2
    labels = _grouped(known, half, groups)
    count = int(np.max(labels)) + 1
    place = labels + count * (np.arange(labels.size) >= half)  # the groups of the second half behind those of the first
    sums = np.stack([np.bincount(place, cost, 2 * count) for cost in costs]).reshape(-1, 2, count)
    seen = np.bincount(place, minlength=2 * count).reshape(2, count) > 0
    blind = int(np.argmin(np.sum(costs, axis=1)))
    total = 0.0
    for chooser, judge in ((0, 1), (1, 0)):
        chosen = np.where(seen[chooser], np.argmin(sums[:, chooser], axis=0), blind)
        total += float(np.sum(sums[chosen, judge, np.arange(count)]))
    return max(0.0, (float(np.sum(costs[blind])) - total) / costs.shape[1])


def _grouped(known: Floats, half: int, groups: int) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Group of each draw: by value where there are few; else each half by rank, into groups of like size."""
    label = np.empty(known.size, dtype=np.intp)
    order = np.argsort(known)
    rises = np.diff(known[order]) > 0
    if np.count_nonzero(rises) < groups:
        label[order] = np.append(0, np.cumsum(rises))
        return label
    if not np.all(rises):
        order = np.argsort(known, kind="stable")  # equal ones keep the order of the draws; slower
    for part in (order[order < half], order[order >= half]):
        label[part] = np.arange(part.size) * groups // part.size
    return label
