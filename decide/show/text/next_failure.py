"""Says both answers to what the next failure does, side by side, why they differ, and how believable the second is."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from ...answers.answer import Answer
from ...answers.limits import Limits, RuleCost
from ...load.cases.filled import DECIDED_AGAIN, ENDS_IT
from .words import Words

REPORTED: Final = 0.5
"""More failures a year than this are more than owners report. Our judgement: six times what a US reader survey of 2006
tells of washing machines (22 % in three years, second-hand). [1/year]"""


@dataclass(frozen=True)
class TwoLimits:
    """Both limits side by side, as texts."""

    rows: tuple[tuple[str, str], ...]
    """What the next failure does, and the highest quote worth paying then."""
    why: str
    believable: tuple[str, ...]


def two_limits(words: Words, answer: Answer) -> TwoLimits:
    """Say both limits; raises as `Answer.deciding_again` does."""
    again, currency = answer.deciding_again, answer.entered.household.currency
    limits = {ENDS_IT: answer.ends_it.repair_limit, DECIDED_AGAIN: answer.again.repair_limit}
    rows = tuple(
        (_label(words, answer, which), _limit(words, float(limit), currency)) for which, limit in limits.items()
    )
    a_year = {
        name: words.money(float(appliance.maintenance_and_repair), currency)
        for which, case in (("even", answer.entered), ("spent", again.case))
        for name, appliance in (
            (which, case.appliance),
            (f"{which}_new", case.appliance_of(case.options[again.youngest])),
        )
    }
    believable = tuple(failures_text(words, again.failures_a_year, float(again.calibration.misfit)))
    return TwoLimits(rows, words.say("next_failure.why", **a_year), believable)


def _label(words: Words, answer: Answer, which: str) -> str:
    label = words.say(f"next_failure.{which.replace(' ', '_')}")
    return words.say("next_failure.counts", label=label) if which == answer.next_failure else label


def _limit(words: Words, limit: float, currency: str) -> str:
    return words.money(limit, currency) if limit >= 0 else words.say("next_failure.never")


def failures_text(words: Words, a_year: float, misfit: float) -> Iterator[str]:
    """Say how many failures explain the published life, whether that is believable, and how well they explain it."""
    often = words.say("next_failure.times", n=words.number(a_year, 1))
    if a_year < 1:
        often = words.say("next_failure.once_in", years=words.years(1 / a_year))
    yield words.say("next_failure.failures", often=often)
    if a_year > REPORTED:
        yield words.say("next_failure.doubt")
    yield words.say("next_failure.misfit", n=words.number(100 * misfit, 1))


def rule_text(words: Words, found: Limits, rule: RuleCost) -> str:
    """Say a rule of thumb; a ceiling is told to two digits."""
    if math.isnan(rule.figure):
        return words.say("rule.half")
    if rule.rule == "half_until":
        return words.say("rule.half_until", years=words.years(rule.figure))
    return words.say("rule.age_times_quote", ceiling=words.money(float(f"{rule.figure:.2g}"), found.currency))
