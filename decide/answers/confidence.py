"""How sure an answer is, and where its verdict flips: facts, kept for the next time the same is asked."""

import math
from functools import lru_cache
from typing import Final

import numpy as np

from ..economics.breakeven import STUDY_PERIOD, BreakevenValues, breakeven_values, quote_asked
from ..economics.case import Case, option_paths
from ..economics.outcomes import OutcomeDistribution, outcome_distribution
from ..economics.uncertainty import (
    DRAWS,
    SEED,
    DecisionConfidence,
    Range,
    Samples,
    confidence_at_quote,
    decision_confidence,
    draw,
    samples,
    unquoted,
)
from ..economics.weigh import weigh
from .answer import Answer

OUTCOME_DISTRIBUTION_YEARS: Final = 20.0
"""Over how long luck is told where the need has no end. [year]"""


NINE_OF_TEN: Final = (0.05, 0.95)


@lru_cache(maxsize=64)
def confidence_of(case: Case, ranges: tuple[Range, ...], draws: int = DRAWS, seed: int = SEED) -> DecisionConfidence:
    """How sure the verdict of a case is; remembered, since a screen asks again at every tap.

    What is typed most often is another quote, and the samples of a case are the same for all of them.
    """
    if any(path.startswith("repair.quote.") for each in ranges for path in each.paths):
        return decision_confidence(case, ranges, draws, seed)
    return confidence_at_quote(_read(unquoted(case), ranges, draws, seed), quote_asked(case))


@lru_cache(maxsize=64)
def _read(case: Case, ranges: tuple[Range, ...], draws: int, seed: int) -> Samples:
    return samples(case, ranges, draws, seed)


@lru_cache(maxsize=64)
def limits_drawn(case: Case, ranges: tuple[Range, ...], draws: int = DRAWS, seed: int = SEED) -> tuple[float, float]:
    """Highest quote worth paying that 5 % and 95 % of samples stay below. [money]"""
    drawn = draw(case, ranges, draws, seed)
    low, high = np.quantile(drawn.repair_limit, NINE_OF_TEN)
    return float(low), float(high)


def confidence_of_answer(answer: Answer, draws: int = DRAWS) -> DecisionConfidence | tuple[float, float] | None:
    """How sure the verdict is; without a quote, between what the highest one lies; nothing where a repair is out."""
    if has_verdict(answer):
        return confidence_of(answer.entered, answer.ranges, draws)
    return limits_drawn(answer.entered, answer.ranges, draws) if has_limit(answer) and answer.ranges else None


@lru_cache(maxsize=256)
def breakeven_of(case: Case, path: str, high: float | None = None) -> BreakevenValues:
    """Where the verdict of a case flips on one input; remembered."""
    return breakeven_values(case, path, high=high)


def outcome_distribution_of(answer: Answer, households: int = 20_000, seed: int = SEED) -> OutcomeDistribution:
    """What the advice really costs in many households, over the study period or `OUTCOME_DISTRIBUTION_YEARS`."""
    return _outcome_distribution(answer.entered, int(answer.ends_it.best), households, seed)


@lru_cache(maxsize=64)
def _outcome_distribution(case: Case, best: int, households: int, seed: int) -> OutcomeDistribution:
    years = case.household.study_period
    option = weigh(case).options[best].option
    return outcome_distribution(
        case, option, years if math.isfinite(years) else OUTCOME_DISTRIBUTION_YEARS, households, seed
    )


def has_verdict(answer: Answer) -> bool:
    """Whether there is a verdict that could flip: a quote, and a repair that no caution refuses."""
    return not math.isnan(answer.ends_it.advantage)


def has_limit(answer: Answer) -> bool:
    """Whether a highest quote worth paying exists: a repair that no caution refuses."""
    return not math.isnan(answer.ends_it.repair_limit)


def ends_of_nine(confidence: DecisionConfidence) -> tuple[float, float]:
    """Advantage of repairing between which nine of ten samples lie. [money]"""
    found = dict(zip(confidence.advantage.levels, confidence.advantage.quantiles, strict=True))
    return found[NINE_OF_TEN[0]], found[NINE_OF_TEN[1]]


def ready_paths(answer: Answer) -> tuple[str, ...]:
    """Inputs on which a flip is told without being asked for; the study period takes longer and comes last."""
    case, index = answer.entered, answer.measures.replacement
    fuels = ("electricity", "gas")
    burnt = [fuel for fuel in fuels if any(float(getattr(case.appliance_of(o), fuel)) for o in case.options)]
    prices = (f"household.{fuel}_price" for fuel in burnt)
    return ("appliance.age", *prices, f"{option_paths(case)[index]}.price", STUDY_PERIOD)
