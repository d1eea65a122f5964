"""How sure the verdict is, and what is worth finding out before deciding. Chance itself is in `outcomes`.

**Not knowing.** Some inputs carry a `Range`. Low-discrepancy draws of all of them (scrambled Sobol points, triangular
between low, value and high, independent of one another) go through `weigh` as one column. With c_ij the present cost
of option i in draw j,

- the share of draws in which an option is the cheapest;
- the expected regret of following the verdict, E[c_verdict - min_i c_i];
- the value of knowing everything, min_i E[c_i] - E[min_i c_i]: no inquiry whatever is worth more;
- the value of knowing one range exactly, min_i E[c_i] - E[min_i E[c_i | x]]: what its inquiry may cost at most.

A repair counts at its best plan in each draw: when to replace later is settled later, when more is known.
"""

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..arrays import Floats, Number
from ..errors import CaseError
from .breakeven import STUDY_PERIOD, quote_asked, require_verdict
from .case import REPAIR, Case, Quote, vary_all
from .weigh import Weighing, weigh

DRAWS: Final = 4096
"""A power of two, as Sobol points want; the shares then move by less than 0.01 when it is doubled."""

SEED: Final = 1
"""The same question gets the same answer."""

GROUPS: Final = 16
"""Groups of like draws in which the value of knowing one range is judged."""

LEVELS: Final = (0.05, 0.25, 0.5, 0.75, 0.95)
HISTOGRAM_BARS: Final = 40


@dataclass(frozen=True, kw_only=True)
class Range:
    """What a value may be instead, for one input or for several that one figure fills and that move together.

    Several ranges may name the same input; each then moves it by its own factor, what it draws over its value.
    """

    paths: tuple[str, ...]
    lows: tuple[float, ...]
    values: tuple[float, ...]
    highs: tuple[float, ...]
    source: str
    """Who says so."""

    def __post_init__(self) -> None:
        for path, low, value, high in zip(self.paths, self.lows, self.values, self.highs, strict=True):
            if path == STUDY_PERIOD:
                raise CaseError(path, "is one number for all draws; ask for where the verdict flips instead")
            if not (math.isfinite(low) and math.isfinite(high) and low <= value <= high):
                raise CaseError(
                    path, "must have a range that holds its value {value:g}, got {low:g} to {high:g}", value, low, high
                )

    def at(self, share: Number) -> dict[str, Number]:
        """Value of each input that the given share of draws stays below: the quantile of the triangular law."""
        ends = zip(self.paths, self.lows, self.values, self.highs, strict=True)
        return {path: triangular(share, low, value, high) for path, low, value, high in ends}


def triangular(share: Number, low: float, value: float, high: float) -> Number:
    """Quantile of the triangular law between low and high with its peak at the value; the value if they are one.

    >>> float(triangular(0.5, 0.0, 1.0, 2.0)), float(triangular(0.3, 2.0, 2.0, 2.0))
    (1.0, 2.0)
    """
    width = high - low
    below = low + np.sqrt(share * width * (value - low))
    return np.where(share * width < value - low, below, high - np.sqrt((1.0 - share) * width * (high - value)))


@dataclass(frozen=True)
class Draws:
    """The draws and what `weigh` says of each."""

    ranges: tuple[Range, ...]
    shares: Floats
    """Share of draws below each draw's value of each range; shape (draws, ranges)."""
    names: tuple[str, ...]
    """The options that no caution refuses."""
    costs: Floats
    """Present cost of each of them in each draw; shape (options, draws). [money]"""
    repair_limit: Floats
    """Shape (draws). [money]"""
    advantage: Floats
    """Of repairing, shape (draws); NaN without a quote. [money]"""


def draw(case: Case, ranges: Sequence[Range], draws: int = DRAWS, seed: int = SEED) -> Draws:
    """Draw the ranged inputs together, and weigh the case at every draw.

    Parameters
    ----------
    ranges : sequence of Range
        What is not known for sure; all else stays. None gives the single case, over and over.
    draws : int
        A power of two. [-]

    Raises
    ------
    CaseError
        The number of draws is no power of two; or some ranges together make no case: the message names them.
    """
    shares = _shares(len(ranges), draws, seed)
    weighed = _weighed(case, ranges, shares)
    names, costs = _choices(weighed, draws)
    limit, advantage = (np.broadcast_to(each, draws) for each in (weighed.repair_limit, weighed.advantage))
    return Draws(tuple(ranges), shares, names, costs, limit, advantage)


def _shares(ranges: int, draws: int, seed: int) -> Floats:
    """Scrambled Sobol points, shape (draws, ranges)."""
    from scipy.stats import qmc

    if draws < 2 or draws & (draws - 1):
        raise CaseError("draws", "must be a power of two, got {got}", draws)
    if not ranges:
        return np.empty((draws, 0))
    points = qmc.Sobol(ranges, scramble=True, rng=np.random.default_rng(seed))
    shares: Floats = points.random_base2(draws.bit_length() - 1)
    return shares


def _weighed(case: Case, ranges: Sequence[Range], shares: Floats) -> Weighing[Number]:
    """The case weighed with each range at each share, shape (rows, ranges)."""
    return weigh(_varied(case, ranges, [each.at(share) for each, share in zip(ranges, shares.T, strict=True)]))


def _choices(weighed: Weighing[Number], draws: int) -> tuple[tuple[str, ...], Floats]:
    """Names and costs of what can be chosen today; the repair with a planned replacement is still the repair."""
    costs: dict[str, Floats] = {}
    repair = ""
    for each in weighed.options:
        if not each.blocked_by:
            present = np.broadcast_to(each.present_cost, draws)
            repair = repair or (each.name if each.action == REPAIR else "")
            name = repair if each.action == REPAIR else each.name
            costs[name] = np.minimum(present, costs.get(name, present))
    return tuple(costs), np.stack(list(costs.values()))


def _varied(case: Case, ranges: Sequence[Range], drawn: Sequence[Mapping[str, Number]]) -> Case:
    """The case with all ranges drawn; where they make no case, as few as clash are named."""
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
                _varied(case, *zip(*some, strict=True))
        named = " and ".join(f"{r.paths[0]} ({r.lows[0]:g} to {r.highs[0]:g})" for r in ranges)
        clash = "ranges clash, {named}: {error}" if len(ranges) > 1 else "range cannot be drawn, {named}: {error}"
        raise CaseError(ranges[0].paths[0], clash, named, error) from error


@dataclass(frozen=True)
class Distribution:
    """How values are spread: their mean, some quantiles, and a histogram."""

    mean: float
    levels: tuple[float, ...]
    quantiles: tuple[float, ...]
    """The value that each level's share of draws stays below."""
    edges: Floats
    """Edges of the histogram's bars, shape (bars + 1)."""
    counts: Floats
    """Draws in each bar, shape (bars)."""

    @staticmethod
    def of(values: Floats) -> "Distribution":
        """Sum up the values of all draws, shape (draws)."""
        counts, edges = np.histogram(values, HISTOGRAM_BARS)
        quantiles = tuple(float(each) for each in np.quantile(values, LEVELS))
        return Distribution(float(np.mean(values)), LEVELS, quantiles, edges, counts.astype(float))


@dataclass(frozen=True)
class Bar:
    """The advantage of repairing at both ends of one range, all else as it stands. [money]"""

    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class DecisionConfidence:
    """How sure the verdict is. Amounts are present costs. [money]"""

    draws: int
    ranges: tuple[Range, ...]
    names: tuple[str, ...]
    """What can be chosen today, in the case's order."""
    verdict: int
    """Index of the choice that the case as it stands calls for."""
    advantage: Distribution
    """Of repairing."""
    share_cheapest: tuple[float, ...]
    """Share of draws in which each choice is the cheapest."""
    expected_regret: float
    """Of following the verdict."""
    evpi: float
    evppi: tuple[float, ...]
    """What it is worth to learn each range's true value before deciding."""
    bars: tuple[Bar, ...]
    """One for each range."""


def decision_confidence(
    case: Case, ranges: Sequence[Range], draws: int = DRAWS, seed: int = SEED
) -> DecisionConfidence:
    """Tell how sure the verdict of a case is, given what its inputs may be instead.

    Parameters
    ----------
    case : Case
        A single case with a quote.
    ranges : sequence of Range
        What its inputs may be instead; `answer(...).ranges` has those of the defaults. [units of the inputs]
    draws, seed : int, optional
        A power of two, and what the draws begin from.

    Returns
    -------
    DecisionConfidence
        Share of draws in which each choice is the cheapest, expected regret, value of information. [share, money]

    Raises
    ------
    CaseError
        As `draw`; besides, the case has columns, no quote, or a repair that a caution refuses.

    Examples
    --------
    >>> from decide.load.cases.case_file import complete
    >>> washer = complete({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}}).case
    >>> life = Range(paths=("appliance.mean_life",), lows=(10,), values=(14.6,), highs=(18,), source="an example")
    >>> confidence = decision_confidence(washer, [life])
    >>> confidence.names[confidence.verdict], confidence.share_cheapest[confidence.verdict] > 0.5
    ('Repair it', True)
    """
    return confidence_at_quote(samples(case, ranges, draws, seed), quote_asked(case))


@dataclass(frozen=True, kw_only=True)
class Samples:
    """A case weighed as it stands, at both ends of each range and at every draw, with the quote that it had then.

    Of all that a screen asks again, the quote changes most often, and what is read here does not depend on it: a dearer
    quote makes the repair as much dearer in every draw, and leaves all else as it is.
    """

    ranges: tuple[Range, ...]
    shares: Floats
    """As in `Draws`."""
    names: tuple[str, ...]
    """What can be chosen today, in the case's order."""
    repair: int
    """Which of them is the repair."""
    quote: Quote
    costs: Floats
    """Of each choice: as the case stands, at both ends of each range, in each draw; shape (options, rows). [money]"""
    advantage: Floats
    """Of repairing, shape (rows). [money]"""


def samples(case: Case, ranges: Sequence[Range], draws: int = DRAWS, seed: int = SEED) -> Samples:
    """Weigh a case at all that `decision_confidence` tells of, in one column call; raises as that does."""
    require_verdict(case)
    shares, rows = _shares(len(ranges), draws, seed), 1 + 2 * len(ranges) + draws
    weighed = weigh(_varied(case, ranges, [_ends_and(ranges, i, share) for i, share in enumerate(shares.T)]))
    names, costs = _choices(weighed, rows)
    return Samples(
        ranges=tuple(ranges),
        shares=shares,
        names=names,
        repair=names.index(case.repair.name),
        quote=quote_asked(case),
        costs=costs,
        advantage=np.broadcast_to(weighed.advantage, rows),
    )


def unquoted(case: Case) -> Case:
    """The same case with nothing asked beyond what is credited: one case for all quotes of the same fees.

    `confidence_at_quote(samples(unquoted(case), ranges), quote_asked(case))` is `decision_confidence(case, ranges)`,
    and its samples may be kept.
    """
    quote = quote_asked(case)
    nothing = Quote(amount=quote.fee_credit, fee_credit=quote.fee_credit, fee_if_declined=quote.fee_if_declined)
    options = (o if o.action != REPAIR else replace(o, quote=nothing) for o in case.options)
    return replace(case, options=tuple(options))


def confidence_at_quote(read: Samples, quote: Quote) -> DecisionConfidence:
    """Tell how sure the verdict is at a quote, from samples of the same case at any quote.

    Parameters
    ----------
    read : Samples
        Of the same case, `samples`; they may be kept.
    quote : Quote
        Of the same fees as the one that was read.

    Returns
    -------
    confidence : DecisionConfidence
        What `decision_confidence` says of the case with this quote, to rounding.

    Raises
    ------
    CaseError
        The fees differ; or a range is one of the quote itself, and it is not the quote that was read.

    Examples
    --------
    >>> from decide.load.cases.case_file import complete
    >>> washer = complete({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}}).case
    >>> life = Range(paths=("appliance.mean_life",), lows=(10,), values=(14.6,), highs=(18,), source="an example")
    >>> read = samples(washer, [life])
    >>> [confidence_at_quote(read, Quote(amount=asked)).share_cheapest[0] for asked in (0.0, 5000.0)]
    [1.0, 0.0]
    """
    costs, advantage = read.costs, read.advantage
    if quote != read.quote:
        _require_same_case(read, quote)
        dearer = quote.total - read.quote.total
        costs = costs + dearer * (np.arange(len(costs)) == read.repair)[:, np.newaxis]
        advantage = advantage - dearer
    draws, ends = len(read.shares), 1 + 2 * len(read.ranges)
    verdict, costs = int(np.argmin(costs[:, 0])), costs[:, ends:]
    cheapest = np.bincount(np.argmin(costs, axis=0), minlength=len(read.names)) / draws
    return DecisionConfidence(
        draws=draws,
        ranges=read.ranges,
        names=read.names,
        verdict=verdict,
        advantage=Distribution.of(advantage[ends:]),
        share_cheapest=tuple(float(share) for share in cheapest),
        expected_regret=expected_regret(costs, verdict),
        evpi=evpi(costs),
        evppi=tuple(evppi(costs, known) for known in read.shares.T),
        bars=tuple(Bar(float(low), float(high)) for low, high in advantage[1:ends].reshape(-1, 2)),
    )


def _require_same_case(read: Samples, quote: Quote) -> None:
    """Raise `CaseError` unless the quotes differ in nothing but what is asked."""
    for path in (path for each in read.ranges for path in each.paths if path.startswith("repair.quote.")):
        raise CaseError(path, "has a range, so the samples hold for one quote only")
    for fee in ("fee_credit", "fee_if_declined"):
        if getattr(quote, fee) != getattr(read.quote, fee):
            raise CaseError(f"repair.quote.{fee}", "must be as in the samples: it is part of other costs")


def _ends_and(ranges: Sequence[Range], which: int, share: Floats) -> dict[str, Number]:
    """One range's column: its value, but its ends in the two rows that are its own; then its draws."""
    each = ranges[which]
    drawn = each.at(share)
    columns: dict[str, Number] = {}
    for path, low, value, high in zip(each.paths, each.lows, each.values, each.highs, strict=True):
        standing = np.full(1 + 2 * len(ranges), value)
        standing[1 + 2 * which :][:2] = low, high
        columns[path] = np.concatenate([standing, drawn[path]])
    return columns


def expected_regret(costs: Floats, chosen: int) -> float:
    """What one can expect to pay too much by a choice made without knowing, E[c_chosen - min c]; costs as below."""
    return float(np.mean(costs[chosen] - np.min(costs, axis=0)))


def evpi(costs: Floats) -> float:
    r"""Expected value of perfect information: what it is worth to know the draw before choosing.

    .. math:: \min_i E[c_i] - E[\min_i c_i]

    Parameters
    ----------
    costs : ndarray, shape (options, draws)
        Cost of each option in each equally likely draw. [money]

    References
    ----------
    .. [1] Howard, Information value theory, IEEE Transactions on Systems Science and Cybernetics 2, 22-26, 1966.

    Examples
    --------
    >>> evpi(np.array([[70.0, -50.0], [0.0, 0.0]]))
    25.0
    """
    return float(np.min(np.mean(costs, axis=1)) - np.mean(np.min(costs, axis=0)))


def evppi(costs: Floats, known: Floats, groups: int = GROUPS) -> float:
    r"""Expected value of partial perfect information: what it is worth to know one quantity before choosing.

    .. math:: \min_i E[c_i] - E\left[\min_i E[c_i \mid x]\right]

    Parameters
    ----------
    costs : ndarray, shape (options, draws)
        Cost of each option in each equally likely draw. [money]
    known : ndarray, shape (draws)
        The quantity in each draw.
    groups : int
        Into how many groups of like draws to sort; a quantity of at most so many values is grouped by value. [-]

    Notes
    -----
    A single loop over one set of draws [1]_: sort by x into groups, and choose in each what is cheapest there on
    average. Judged by the same draws a choice looks too good, and what tells nothing would seem worth something; so
    each half of the draws chooses for the other. What bias is left is downward, and small: a choice is only as fine
    as the groups, and now and then the halves disagree where it hardly matters. Never below 0.

    References
    ----------
    .. [1] Strong & Oakley, An efficient method for computing single-parameter partial expected value of perfect
       information, Medical Decision Making 33, 755-766, 2013.

    Examples
    --------
    >>> tells_all = evppi(np.array([[70.0, -50.0] * 2, [0.0] * 4]), np.array([1.0, 2.0] * 2))
    >>> tells_nothing = evppi(np.array([[70.0, -50.0] * 2, [0.0] * 4]), np.array([1.0] * 4))
    >>> tells_all, tells_nothing
    (25.0, 0.0)
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
