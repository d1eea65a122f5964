"""From entries to the whole answer, in one call; the terminal, the screens and the hand-out all start here."""

import functools
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from ..arrays import Floats
from ..economics.case import LEAVE, REPAIR, REPLACE, Option
from ..economics.cash_flow import Cash, Study
from ..economics.decision import CLOSE, Decision, DecisionConfidence, Verdict, confidence, decide
from ..economics.flows import as_paid, life_of, paid_today
from ..economics.uncertainty import Range
from ..economics.weigh import Measures, OptionCost, Weighing, limit_under_claim, measure, single, study_of, weigh
from ..errors import EntryErrors
from ..load.cases.case_file import complete
from ..load.cases.filled import ClaimTerms, Filled
from ..load.cases.ranges import ranges_of
from ..load.cases.scenarios import SECOND, with_second_repair
from ..load.tables.draws import points, sureness
from ..load.tables.tables import Tables, tables

HALF: Final = 0.5  # Amounts closer than this are the same amount once rounded. [money]
NOT_ON_A_BILL: Final = ("waiting", "food_loss", "again", "financed")
"""Parts of today's cost that nobody writes a bill for."""
MIDDLE_HALF: Final = (0.75, 0.25)  # Chances to outlive both ends of what half of all units fall between. [-]


@dataclass(frozen=True)
class Answer(Filled):
    """A complete case with what was taken for granted in it, and what comes of it."""

    decision: Decision = field(kw_only=True)  # Under everything that is not known.
    second: "Answer | None" = field(default=None, kw_only=True)  # The same case with the second repair, if any.

    @property
    def weighing(self) -> Weighing[float]:
        """The options at what they can be expected to cost, and the highest quote worth paying."""
        return self.decision.weighing

    @property
    def ranges(self) -> tuple[Range, ...]:
        """What the figures may be instead."""
        return self.decision.ranges

    @functools.cached_property
    def measures(self) -> Measures:
        """The cheapest replacement as an investment, compared with the repair."""
        return measure(self.case, self.weighing, self._study)

    @functools.cached_property
    def confidence(self) -> DecisionConfidence:
        """How sure the verdict is and what moves it; raises `CaseError` where there is none (`has_verdict`)."""
        return confidence(self.case, self.decision)

    @functools.cached_property
    def verdict(self) -> Verdict:
        """What to do at the quote, and how sure that is; without one, the best of what is no repair."""
        quote = self.decision.quote
        even_free = math.isnan(quote) and self.weighing.repair_limit < 0  # then no quote can change it
        return self.decision.at(0.0 if even_free else quote)

    @property
    def undecided(self) -> bool:
        """Whether the repair is worth something and nobody has said what it costs."""
        return math.isnan(self.weighing.quoted) and self.weighing.repair_limit >= 0

    @property
    def unpayable(self) -> bool:
        """Whether none of the options can be paid today."""
        return math.isnan(self.weighing.cost_of_cash)

    @property
    def all_that_can_be_paid(self) -> bool:
        """Whether the repair can be paid today, and nothing else: then nothing is left to compare it with."""
        return not len(self.decision.others)

    @property
    def close(self) -> bool:
        """Whether the quote lies so near the highest one worth paying that cost does not decide."""
        return not self.undecided and self.verdict.state == CLOSE

    @property
    def guaranteed(self) -> bool:
        """Whether the unit is still within the legal guarantee, so that whoever sold it is to be asked first."""
        return self.remarks is not None and float(self.case.appliance.age) < self.remarks.guarantee

    @property
    def claim(self) -> ClaimTerms | None:
        """Who owes the repair and is asked first; None where nobody does, or paying at once is cheaper."""
        terms, quoted = self.remarks.claim if self.remarks else None, float(self.weighing.quoted)
        if terms is None or quoted < limit_under_claim(math.inf, terms.waiting, terms.refused):
            return None
        return terms

    @property
    def claim_limit(self) -> float:
        """Highest quote worth paying before whoever owes the repair is asked; the repair limit where nobody does."""
        terms, limit = self.remarks.claim if self.remarks else None, self.weighing.repair_limit
        return limit if terms is None else float(limit_under_claim(limit, terms.waiting, terms.refused))

    @property
    def second_saves(self) -> float:
        """What the second repair is expected to cost less than the first; NaN where one has no quote. [money]"""
        if self.second is None or math.isnan(self.second.weighing.quoted + self.weighing.quoted):
            return math.nan
        both = ([cost for cost in each.weighing.options if cost.action == REPAIR] for each in (self, self.second))
        first, second = (min(cost.present_cost for cost in repairs) for repairs in both)
        return first - second

    @property
    def unusual(self) -> bool:
        """Whether the quote lies so far outside the usual one of its fault that it is asked about."""
        quoted, remarks = float(self.weighing.quoted), self.remarks
        return bool(remarks and remarks.usual and quoted > 0 and remarks.usual.far(quoted, remarks.far))

    @property
    def look_first(self) -> bool:
        """Whether so large a bill for so old a unit is advised, or close, that its condition is looked at first."""
        new = (self.bill(each) for each in self.case.options if each.appliance and each.appliance.age == 0)
        least = (self.remarks.look_from if self.remarks else math.inf) * min(new, default=math.inf)
        return float(self.weighing.quoted) >= least and (self.verdict.act == REPAIR or self.close)

    def bill(self, option: Option) -> float:
        """What the bills of an option come to today, however they are paid; no waiting, no food, no second visit."""
        parts = paid_today(self.case, option)
        return sum(float(amount) for part, amount in parts.items() if part not in NOT_ON_A_BILL)

    def paid_later(self, options: Iterable[Option]) -> list[str]:
        """Parts of today's cost that are no bill of today with some options, and count later: waiting, food, loans."""
        parts = [paid_today(self.case, option) for option in options]
        return [name for name in NOT_ON_A_BILL if any(abs(float(each[name])) >= HALF for each in parts)]

    def years_left(self, option: Option) -> tuple[float, float]:
        """Years between which the middle half of units like that of an option run. [year]"""
        unit = self.case.appliance_of(option)
        left = life_of(unit, option.remaining_life_factor).remaining(unit.age, np.array(MIDDLE_HALF))
        low, high = np.minimum(left, option.planned_replacement_years)
        return float(low), float(high)

    def chance_it_ends(self, option: Option, years: float) -> float:
        """Chance that the unit of an option ends within some years, for whatever reason. [-]"""
        unit = self.case.appliance_of(option)
        return 1 - float(life_of(unit, option.remaining_life_factor).survival_given(unit.age, years))

    @functools.cached_property
    def wait_a_year(self) -> dict[str, float]:
        """What buying in a year costs beyond buying now, by what serves until then; below 0 it pays. [money]"""
        found = self._instead(planned_replacement_years=1.0).options
        now = min(cost.present_cost for cost in found if cost.action == REPLACE)
        until = (cost for cost in found if cost.action in (REPAIR, LEAVE) and not cost.blocked_by)
        waiting = {cost.name: cost.present_cost - now for cost in until}
        return waiting if self.case.household.study_period > 1 and math.isfinite(self.weighing.quoted) else {}

    @functools.cached_property
    def worth_more_a_year(self) -> float:
        """How much more a year the new one must be worth to be the better way; below 0, the mended one. [money]"""
        worse = weigh(self.case).repair_limit - self._instead(annual_loss_of_use=1.0).repair_limit
        return self.weighing.advantage / float(worse) if worse else math.nan

    def _instead(self, **changes: Any) -> Weighing[float]:
        """The case as it stands with the unit there run on otherwise, whether it is mended or not."""
        options = (
            replace(option, **changes) if option.action in (REPAIR, LEAVE) else option for option in self.case.options
        )
        return single(weigh(replace(self.case, options=tuple(options))))

    @functools.cached_property
    def cash_by_year(self) -> tuple[Cash, ...]:
        """Expected cash of each option as the case stands, undiscounted: today, then each year that the measures see.

        Over a need without end what is left at the last year counts nothing; over a study period it is credited, as in
        the present costs.
        """
        ends = math.isfinite(self.case.household.study_period)
        return tuple(self._cash(cost, ends) for cost in self.weighing.options)

    def paid(self, cost: OptionCost[float]) -> Floats:
        """What will have been paid with an option by the end of each year, 0 being today; as `as_paid`. [money]

        What a unit is still worth at the end of a stay is no money paid, and is left out.
        """
        return np.cumsum(as_paid(self.case, cost.option, self._cash(cost, False).total_by_year))

    def _cash(self, cost: OptionCost[float], with_what_is_left: bool) -> Cash:
        after = self.weighing.options[int(cost.successor)].option
        return self._study.cash(cost.option, after, with_what_is_left)

    @functools.cached_property
    def _study(self) -> Study:
        return study_of(self.case)


def decided(filled: Filled, reference: Tables | None = None) -> Decision:
    """The decision on a complete case under everything that is not known.

    Raises `CaseError`: some ranges together make no case.
    """
    ranges, known = ranges_of(filled), reference or tables()
    return decide(filled.case, ranges, points(len(ranges)), sureness(known, filled.case.household.region))


def answer(entries: Mapping[str, Any], reference: Tables | None = None, folder: Path | None = None) -> Answer:
    """Complete a case from its entries, decide it, and measure replacing as an investment: the whole answer.

    What was not entered is taken from the tables (`complete`), the options are weighed under everything that is not
    known (`decide`), and the cheapest replacement is measured against the repair (`measure`).

    Parameters
    ----------
    entries : mapping
        What is known, as the nested tables of a case file; amounts in the household's money, units as `case` declares.
    reference : Tables, optional
        Figures for all else; the shipped ones unless given.
    folder : Path, optional
        Where files that the entries name are looked up: that of the case file.

    Returns
    -------
    Answer
        The case, its defaults and cautions, its decision and measures. [money, year, share]

    Raises
    ------
    EntryErrors
        One or more entries cannot be used; each error names its field, what is allowed with unit, and what came.
    CaseError
        Ranges that were entered make no case together.

    References
    ----------
    Formulas and sources stand at `decide`, `weigh`, `measure` and `flows`; figures carry their sources in `defaults`.

    Examples
    --------
    >>> found = answer({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 150}})
    >>> found.verdict.act, found.verdict.state, [caution.weight for caution in found.cautions][:1] != []
    ('repair', 'clear', True)
    """
    filled, other = complete(entries, reference, folder), with_second_repair(entries)
    return Answer(
        **vars(filled),
        decision=decided(filled, reference),
        second=None if other is None else _of_second(other, reference, folder),
    )


def _of_second(entries: Mapping[str, Any], reference: Tables | None, folder: Path | None) -> Answer:
    """The answer with the second repair; an error of it is told at its own entry."""
    try:
        return answer(entries, reference, folder)
    except EntryErrors as error:
        raise EntryErrors([each.at(re.sub(f"^{REPAIR}", SECOND, each.field)) for each in error.errors]) from error
