"""How sure an answer is, and where its verdict flips: facts, kept for the next time the same is asked."""

import math
from functools import lru_cache
from typing import Final

from ..economics.breakeven import STUDY_PERIOD, BreakevenValues, breakeven_values
from ..economics.case import Case, option_paths
from ..economics.decision import ENDS, DecisionConfidence, confidence, decide
from ..economics.outcomes import OutcomeDistribution, outcome_distribution
from ..economics.uncertainty import SEED, Range
from ..economics.weigh import weigh
from ..load.tables.draws import points, sureness
from ..load.tables.tables import tables
from .answer import Answer

OUTCOME_DISTRIBUTION_YEARS: Final = 20.0  # Over how long luck is told where the need has no end. [year]


def decision_confidence(
    case: Case, ranges: tuple[Range, ...], draws: int | None = None, seed: int = SEED
) -> DecisionConfidence:
    """Tell how sure the verdict of a case is, given what its inputs may be instead.

    Parameters
    ----------
    case : Case
        A single case with a quote.
    ranges : sequence of Range
        What its inputs may be instead; `answer(...).ranges` has those of the defaults. [units of the inputs]
    draws, seed : int, optional
        A power of two, and what the draws begin from; those of every answer unless given.

    Returns
    -------
    DecisionConfidence
        Share of draws in which each choice is the cheapest, expected regret, value of information. [share, money]

    Raises
    ------
    CaseError
        The case has columns, no quote, or a repair that a caution refuses; or some ranges together make no case.

    Examples
    --------
    >>> from decide.load.cases.case_file import complete
    >>> washer = complete({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 150}}).case
    >>> life = Range(paths=("appliance.mean_life",), lows=(10,), values=(14.6,), highs=(18,), source="an example")
    >>> found = decision_confidence(washer, (life,))
    >>> found.names[found.verdict], found.share_cheapest[found.verdict] > 0.5
    ('Repair it', True)
    """
    drawn = points(len(ranges), seed=seed) if draws is None else points(len(ranges), draws, seed)
    return confidence(case, decide(case, ranges, drawn, sureness(tables(), case.household.region)))


@lru_cache(maxsize=256)
def breakeven_of(case: Case, path: str, high: float | None = None) -> BreakevenValues:
    """Where the verdict of a case flips on one input; remembered."""
    return breakeven_values(case, path, high=high)


def outcome_distribution_of(answer: Answer, households: int = 20_000, seed: int = SEED) -> OutcomeDistribution:
    """What the advice really costs in many households, over the study period or `OUTCOME_DISTRIBUTION_YEARS`."""
    return _outcome_distribution(answer.case, int(answer.weighing.best), households, seed)


@lru_cache(maxsize=64)
def _outcome_distribution(case: Case, best: int, households: int, seed: int) -> OutcomeDistribution:
    years = case.household.study_period
    option = weigh(case).options[best].option
    return outcome_distribution(
        case, option, years if math.isfinite(years) else OUTCOME_DISTRIBUTION_YEARS, households, seed
    )


def has_verdict(answer: Answer) -> bool:
    """Whether there is a verdict that could flip: a quote, and a repair that no caution refuses."""
    return not math.isnan(answer.weighing.advantage)


def has_limit(answer: Answer) -> bool:
    """Whether a highest quote worth paying exists: a repair that no caution refuses."""
    return not math.isnan(answer.weighing.repair_limit)


def ends_of_nine(confidence: DecisionConfidence) -> tuple[float, float]:
    """Advantage of repairing between which nine of ten samples lie. [money]"""
    found = dict(zip(confidence.advantage.levels, confidence.advantage.quantiles, strict=True))
    return found[ENDS[0]], found[ENDS[1]]


def ready_paths(answer: Answer) -> tuple[str, ...]:
    """Inputs on which a flip is told without being asked for; the study period takes longer and comes last."""
    case, index = answer.case, answer.measures.replacement
    fuels = ("electricity", "gas")
    burnt = [fuel for fuel in fuels if any(float(getattr(case.appliance_of(o), fuel)) for o in case.options)]
    prices = (f"household.{fuel}_price" for fuel in burnt)
    return ("appliance.age", *prices, f"{option_paths(case)[index]}.price", STUDY_PERIOD)
