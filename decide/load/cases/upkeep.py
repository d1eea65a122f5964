"""What a failure tells of the unit, and what later repairs cost: filled from the class, its failures and its bills."""

import functools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from ...arrays import Number
from ...economics.bounds import Bounds
from ...economics.case import CENT, LEAVE, REPAIR, REPLACE, Appliance, Case, Option
from ...economics.cash_flow import Study
from ...economics.failures import Frailty
from ...economics.flows import LARGEST_HAZARD_RATIO, life_of, money
from ...economics.household import Household
from ...economics.later_repairs import AnotherBill, LaterRepairs, LognormalQuotes, another_bill, later_repairs
from ...errors import Message
from ...finance.life import Life, Weibull
from ..tables.tables import ApplianceClass, Tables
from ..tables.usual_bills import OTHER, later_bills
from .reading import CaseReader

HAZARDS: Final = {
    "consumable": "hazard_consumable",
    "ordinary": "hazard_ordinary",
    "core": "hazard_core",
    "unmendable": "hazard_core",
}
"""By the kind of fault, the figure that says what it tells of a unit."""

FRAILTY: Final = {
    "variance": "frailty_variance",
    "defect_share": "defect_share",
    "failure_share": "failure_share_3_years",
    "growth": "failure_growth",
}
LEAST_RATIO: Final = 0.1
EARLIER_REPAIRS: Final = Bounds("", 0, 50)

NO_BILL: Final = AnotherBill(math.nan, math.nan, math.nan, math.nan)
LEAST_FORCE: Final = 0.001
"""Spending on later repairs is reckoned at no lower discount: an endless need has no cost at 0. [1/year]"""


def frailty_of(reference: Tables, kind: ApplianceClass, region: str) -> Frailty:
    """How much units of a class differ, and how often they fail."""
    return Frailty(**{name: reference.needed(figure, kind.kind, region).value for name, figure in FRAILTY.items()})


def second_fault_of(table: Mapping[str, Any]) -> str:
    """Another fault found today, where it is said which; '' where none is, or only that there is one."""
    second = table.get("second_fault")
    return second if isinstance(second, str) and second != table.get("fault", OTHER) else ""


def failures_of(reader: CaseReader, table: Mapping[str, Any]) -> tuple[float | None, int]:
    """How often the unit has failed, today's faults included, None where that is not known; and how many those are."""
    second = isinstance(table.get("second_fault"), str) or reader.flag("appliance", table, "second_fault")
    second = second or table.get("outcome") == "several_faults"
    if "earlier_repairs" not in table:
        return None, 1 + second
    earlier = reader.number("appliance", "earlier_repairs", table["earlier_repairs"], EARLIER_REPAIRS)
    return earlier + 1 + second, 1 + second


def hazard_ratio(
    reader: CaseReader,
    table: Mapping[str, Any],
    kind: ApplianceClass,
    given: Mapping[str, float],
    failures: tuple[float | None, int],
) -> tuple[float, Callable[[Number], Number] | None]:
    """What today's fault, and what is known of earlier ones, tell of the unit: its hazard over that of its like.

    And how that goes with its age, where earlier ones are known.
    """
    fault, second = table.get("fault", OTHER), second_fault_of(table)
    named = (str(fault), second) if second not in ("", OTHER) else (str(fault),)
    kinds = [reader.reference.known_faults[each].kind for each in named if each in reader.reference.known_faults]
    figures = (reader.reference.needed(HAZARDS[each], kind.kind, reader.region) for each in kinds or ("ordinary",))
    figure = max(figures, key=lambda each: each.value)
    count, today = failures
    if (count is None and today == 1) or math.isnan((count or 0.0) + given.get("age", math.nan)):
        return reader.note("appliance", "hazard_ratio", figure.value, figure), None
    frailty = frailty_of(reader.reference, kind, reader.region)
    usual = 1 + frailty.variance * frailty.defect_share
    life = Weibull.with_mean(given["mean_life"], given["life_shape"], given["failure_free_years"])

    def ratio(age: Number) -> Number:
        found = frailty.failed(life, age, count, today).hazard_ratio
        return np.clip(figure.value * found / usual, LEAST_RATIO, LARGEST_HAZARD_RATIO)

    value = float(ratio(given["age"]))
    rule = Message("{kind:g} for this kind of fault, {value:.2g} with two faults at once", figure.value, value)
    if count is not None:
        known = "{kind:g} for this kind of fault, {value:.2g} with {n:g} failures in {age:g} years"
        rule = Message(known, figure.value, value, count, given["age"])
    return reader.note("appliance", "hazard_ratio", value, figure, rule), ratio


@dataclass(frozen=True)
class Upkeep:
    """What later repairs of the units of a case cost, as its household pays and buys."""

    reader: CaseReader
    household: Household
    repair: Option
    food_loss: float
    """What is lost when one that cools fails. [money]"""
    cost_of_new: Callable[[ApplianceClass], float]
    """What a new unit of a class costs in its place. [money]"""

    def of(
        self, there: Appliance, options: Sequence[Option], failures: tuple[float | None, int]
    ) -> tuple[Appliance, tuple[Option, ...], tuple[AnotherBill, ...]]:
        """The units with their upkeep, where nobody entered it, and how it goes with age; and another bill of each."""
        laws: dict[str, LaterRepairs] = {}
        found, bills = list(options), [NO_BILL] * len(options)
        bought = [index for index, option in enumerate(options) if option.appliance is not None]
        for count, index in enumerate(bought, start=1):
            path, unit = REPLACE if count == 1 else f"{REPLACE}.{count}", options[index].appliance
            assert unit is not None
            if unit.kind not in laws:
                laws[unit.kind] = self._law(unit)
            found[index] = replace(options[index], appliance=self._kept(f"{path}.appliance", unit, laws[unit.kind]))
            frailty, like = self._frailty(unit), _life_of_its_like(unit)
            known = (frailty.failed if float(unit.hazard_ratio) > 1 else frailty.serving)(like, unit.age)
            bills[index] = another_bill(laws[unit.kind], _bills(unit), known, float(options[index].warranty))
        next_one, frailty = laws.get(there.kind) or self._law(there), self._frailty(there)
        quality = frailty.failed(_life_of_its_like(there), there.age, *failures)
        times = round(float(quality.failure_ratio), 9)
        if not any(default.field == "appliance.hazard_ratio" for default in self.reader.defaults):
            share = float(frailty.defect_share)  # the ratio that was entered says what is known
            times = max(LEAST_RATIO, (float(there.hazard_ratio) - 1 + share) / share)
        law = self._law(there, times, next_one.cost_of_new)
        for index, option in enumerate(options):
            if option.action in (REPAIR, LEAVE):
                bills[index] = another_bill(law, _bills(there), quality, float(option.warranty))
        return self._kept("appliance", there, law, times), tuple(found), tuple(bills)

    def with_what_is_hidden(self, there: Appliance, options: Sequence[Option], index: int) -> tuple[Option, ...]:
        """The options; in the upkeep of the used one also what its price says of faults that nobody sees.

        Most people who need one for long buy a new one, though a used one costs less by all that can be seen. So what
        cannot be seen costs the difference, each year after the seller's guarantee: at the usual rate, a used one comes
        to the least that a new one does over the years that people stay in one home.
        """
        reference, region, used = self.reader.reference, self.household.region, options[index]
        share, rate = reference.usual("used_hidden", region), reference.usual("household_rate", region).value
        years = reference.usual("years_in_home", region).value
        household = replace(self.household, study_period=years, rate=rate)
        case = Case(appliance=there, household=household, options=tuple(options))
        study = Study(case, money(household), years)
        *others, of_used = (study.cost(each, each, math.inf) for each in options[1 : index + 1])
        new, unit = min(sum(cost.values()) for cost in others), used.appliance
        assert unit is not None
        seen, kept = float(unit.maintenance_and_repair), of_used["maintenance_and_repair"]
        more = max(0.0, float(share.value * (new - sum(of_used.values())) * seen / kept))
        path, name = f"{REPLACE}.{index}.appliance", "maintenance_and_repair"
        self.reader.defaults[:] = (each for each in self.reader.defaults if each.field != f"{path}.{name}")
        rule = Message("{seen:.0f} for later repairs, {more:.0f} for faults that nobody sees", seen, more)
        value = self.reader.note(path, name, seen + more, share, rule, "money/year")
        changed = replace(used, appliance=replace(unit, maintenance_and_repair=value))
        return (*options[:index], changed, *options[index + 1 :])

    def _frailty(self, unit: Appliance) -> Frailty:
        return frailty_of(self.reader.reference, self.reader.reference.kind(unit.kind), self.household.region)

    def _law(self, unit: Appliance, times: float = 1.0, next_one: float | None = None) -> LaterRepairs:
        """Spending on later repairs by age: of the class, or of the unit there.

        The unit there fails so many times as often as the class, has the hazard that is known of it, and is followed by
        a new one. Up to what bill a repair is worth it goes by what a usual new one takes to run, at every age alike.
        """
        reference, region = self.reader.reference, self.household.region
        kind, prices = reference.kind(unit.kind), money(self.household)
        frailty, like = self._frailty(unit), _life_of_its_like(unit)
        used = {flow: reference.needed(f"{flow}_new", kind.kind, region).value for flow in kind.fuels}
        later = later_bills(kind.kind, region, reference)
        return _solved(
            like if next_one is None else life_of(unit, self.repair.remaining_life_factor),
            like,
            _bills(unit),
            frailty,
            times,
            discount_force=max(float(self.household.discount_force), LEAST_FORCE),
            price=max(self.cost_of_new(kind), CENT),
            running=sum(float(prices.cost(flow, amount)) for flow, amount in used.items()),
            unmendable=later.unmendable,
            waiting=float(self.repair.days_without * self.household.day_cost + later.spoiling * self.food_loss),
            next_one=next_one,
        )

    def _kept(self, path: str, unit: Appliance, law: LaterRepairs, times: float = 1.0) -> Appliance:
        """A unit with its upkeep, what accepted repairs cost, and how that moves with age."""
        if not math.isnan(float(unit.maintenance_and_repair)):
            return replace(unit, maintenance_and_repair_by_age=law.over_level)
        share = self.reader.reference.needed("failure_share_3_years", unit.kind, self.household.region)
        text = "{share:.0%} of units fail in three years, half of bills below {median:.0f}, too dear ones not paid"
        rule = Message(text, share.value, float(unit.later_repair_median))
        if times != 1:
            rule = Message("{rule}; it fails {times:.2g} times as often, as it has failed", rule, times)
        value = self.reader.note(path, "maintenance_and_repair", law.level, share, rule, "money/year")
        return replace(unit, maintenance_and_repair=value, maintenance_and_repair_by_age=law.over_level)


@functools.lru_cache(maxsize=32)
def _solved(
    life: Life, like: Life, bills: LognormalQuotes, frailty: Frailty, times: float, **others: float | None
) -> LaterRepairs:
    """`later_repairs` at so many times the usual failures; kept a while, since a what-if mostly asks the same."""
    rate = frailty.usual_failure_rate
    return later_repairs(life, bills, lambda age: times * rate(like, age), **others)  # type: ignore[arg-type]


def _bills(appliance: Appliance) -> LognormalQuotes:
    """The law of its later bills."""
    return LognormalQuotes(max(float(appliance.later_repair_median), CENT), float(appliance.later_repair_log_sd))


def _life_of_its_like(appliance: Appliance) -> Life:
    """The published life of the class, whatever is known of the unit itself."""
    return life_of(replace(appliance, hazard_ratio=1.0))
