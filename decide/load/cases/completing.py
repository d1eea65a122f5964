"""What nobody entered, filled from the tables, with every error and every default noted on the way.

A default follows the entries where it has to: consumption goes by the unit's age, upkeep by the failures and bills of
the class up to what a new unit costs, a delay by the mean life, the price of energy by the part that moves with use.
"""

import datetime
import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import MISSING, Field, dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from ...arrays import Number
from ...economics.case import (
    CENT,
    LEAVE,
    REPAIR,
    REPLACE,
    Appliance,
    Bounds,
    Case,
    Household,
    Option,
    Prohibition,
    Quote,
)
from ...economics.failures import Frailty
from ...economics.flows import LARGEST_HAZARD_RATIO, life_of, money
from ...economics.later_repairs import AnotherBill, LaterRepairs, another_bill, later_repairs
from ...economics.repair_costs import LognormalQuotes
from ...economics.uncertainty import Range
from ...errors import CaseError, DataError, EntryErrors, Message, NoSolution
from ...finance.life import Life, Weibull
from ..files.rows import ANY
from ..tables.tables import CURRENCIES, ENERGY, GRADES, TO_INSTALL, ApplianceClass, Caution, Estimate
from ..tables.usual_bills import LaterBills, later_bills, usual_quote
from .consumption import OTHER_ENERGY, entered_use
from .filled import Filled, Remarks
from .landlord_entry import landlord_of, tax_caution
from .ranges import entered_ranges
from .reading import CaseReader, Derived, Needed, is_number, numbers_of
from .scenarios import SCENARIO, scenarios_of

if TYPE_CHECKING:
    from .measured import AgainstRated

# Which figure of the tables fills which input. An input that is not named here has its plain default in `case.py`.
FLOWS: Final = ("electricity", "gas", "water")
OF_THE_DRIFT: Final = ("efficiency_degradation_rate", "efficiency_degradation_cap")
OF_THE_HOUSEHOLD: Final = {
    "rate": "household_rate",
    "leaving_rate": "leaving_rate",
    "water_price": "water_price",
    "electricity_escalation": "electricity_escalation",
    "gas_escalation": "gas_escalation",
    "water_escalation": "water_escalation",
    "price_escalation": "price_escalation",
    "inflation": "inflation",
}
ENERGY_AND_WATER: Final = (*ENERGY, "water")
OF_AN_OPTION: Final = {
    REPAIR: {
        "remaining_life_factor": "condition_good",
        "repair_success_probability": "repair_success_probability",
        "repair_warranty": "repair_warranty",
        "callback_window": "callback_window",
        "days_without": "days_repair",
        "food_loss": "food_loss",
    },
    REPLACE: {
        "price": "price",
        "tax_rate": "sales_tax",
        "delivery": "delivery",
        "installation": "installation",
        "haul_away": "haul_away",
        "warranty": "warranty_new",
        "days_without": "days_replace",
        "food_loss": "food_loss",
        "food_loss_at_later_failures": "food_loss",
    },
    LEAVE: {},
}


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
OF_THE_UNIT_THERE: Final = ("fault", "earlier_repairs", "second_fault")
"""What is entered of the unit there alone."""

NO_BILL: Final = AnotherBill(math.nan, math.nan, math.nan, math.nan)
LEAST_FORCE: Final = 0.001
"""Spending on later repairs is reckoned at no lower discount: an endless need has no cost at 0. [1/year]"""

INCLUDED: Final = ("tax_rate", *TO_INSTALL)
"""What a price with its installation has in it already."""

HEADS: Final = ("title", "appliance", "household", REPAIR, REPLACE, LEAVE, "carbon", "ranges", SCENARIO)
"""What a case file holds at its top."""

SCHEMA: Final = 2
"""Number of the names that case files and JSON use now; 1 is that of the names before, which are still read."""

MOST_REPLACEMENTS: Final = 50
"""More than anyone compares, and few enough to be weighed while one waits."""

USUAL_NAMES: Final = {REPAIR: Message("Repair it"), LEAVE: Message("Leave it as it is")}
"""Names of options that nobody named; a new unit goes by its class, any further one by its number."""


def named_new(kind: ApplianceClass) -> Message:
    """Name of a typical new unit of a class that nobody named."""
    return Message("New {label}", f"{kind.label[0].lower()}{kind.label[1:]}", kind=kind.kind)


ENTERED_WITH: Final = {
    REPAIR: (
        "remaining_life_factor", "energy_change", "planned_replacement_years", "repair_success_probability",
        "repair_warranty", "callback_window", "days_without", "food_loss",
    ),
    REPLACE: (
        "remaining_life_factor", "price", "tax_rate", "delivery", "installation", "haul_away", "rebate", "trade_in",
        "financed", "loan_rate", "loan_years", "warranty", "days_without", "food_loss", "food_loss_at_later_failures",
    ),
    LEAVE: ("remaining_life_factor", "energy_change", "annual_loss_of_use", "planned_replacement_years"),
}  # fmt: skip
"""Which numbers of an option can be entered with each action."""


@dataclass(frozen=True)
class ConsumptionByAge:
    """Consumption of the usual unit of an age: from that of a new one to that of the usual one in homes, then level."""

    new: float
    usual: float
    usual_age: float

    def __call__(self, age: Number) -> Number:
        """Consumption at an age. [that of `new`]"""
        return self.new + (self.usual - self.new) * np.minimum(1.0, np.asarray(age) / self.usual_age)


@dataclass
class Completing(CaseReader):
    """Reads entries once, noting each error and each default on the way."""

    entries: Mapping[str, Any] = field(default_factory=dict)
    findings: "list[AgainstRated]" = field(default_factory=list)
    by_age: dict[str, Callable[[Number], Number]] = field(default_factory=dict)
    region: str = ""
    failures: float | None = None
    """How often the unit there has failed, today included; None: not known."""
    another_bill: tuple[AnotherBill, ...] = ()
    food_spoils: bool = True
    """Whether the fault stops the cooling; a fault that is not known counts as one that does not."""

    def filled(self) -> Filled:
        """The complete case; `EntryErrors` lists all that cannot be used."""
        self._refuse_a_newer_schema()
        self.refuse_unknown("", self.entries, ("schema", *HEADS))
        scenarios_of(self.entries, self.errors)
        there, home = self.table(self.entries, "", "appliance"), self.table(self.entries, "", "household")
        place, region = self._place(home)
        kind, fault = self._kind(there, region), str(there.get("fault", "other"))
        applicable_cautions = self._cautions(kind, fault, region, _made(there))
        self.food_spoils = fault in self.reference.known_faults and self.reference.known_faults[fault].spoils_food
        # an unknown class is an error already; the rest is still read, against any class, so that all errors show
        kind = kind or self.reference.classes(region)[0]
        replacements = self._replacements(kind)
        self.region, self.failures = region, self._failures(there)
        appliance = self._appliance("appliance", there, kind, region, replacements)
        options = [self._option(REPAIR, REPAIR, self.table(self.entries, "", REPAIR), kind, region)]
        for path, entry in replacements.items():
            bought = self.table(entry, path, "appliance")
            sold_as = self._kind(bought, region, f"{path}.appliance") if "class" in bought else kind
            made = self._appliance(f"{path}.appliance", {"age": 0, **bought}, sold_as or kind, region, replacements)
            options.append(self._option(path, REPLACE, entry, sold_as or kind, region, made))
        if LEAVE in self.entries:
            options.append(self._option(LEAVE, LEAVE, self.table(self.entries, "", LEAVE), kind, region))
        household = self._household(home, place, region, appliance, options)
        carbon = self._carbon()
        if self.errors:
            raise EntryErrors(self.errors)
        appliance, kept = self._maintained(appliance, options, household, replacements)
        if household.landlord is not None:
            applicable_cautions = (*applicable_cautions, tax_caution())
        case = Case(
            appliance=appliance,
            household=household,
            options=kept,
            prohibitions=tuple(
                Prohibition(action=stop, caution=caution.id)
                for caution in applicable_cautions
                for stop in caution.prohibits
            ),
            title=str(self.entries.get("title", "")),
            fault=fault,
            by_age=self.by_age,
        )
        ranges = entered_ranges(self.entries.get("ranges", {}), case)
        named = {path for entered in ranges for path in entered.paths}
        ranges = (*ranges, *(_range_of(each) for each in self.derived if _has_range(each) and each.field not in named))
        ranges = (*ranges, *self._range_of_condition(case, named))
        told = tuple(self.derived), tuple(self.findings), carbon, self._remarks(case, kind, fault, place)
        return Filled(case, tuple(self.defaults), applicable_cautions, ranges, *told, self.another_bill)

    def _remarks(self, case: Case, kind: ApplianceClass, fault: str, place: str) -> Remarks:
        """What is to be said of the entries: an age beyond the data or within a guarantee, and what the fault costs."""
        appliance, region = case.appliance, case.household.region
        reach, times = (self._figure(name, kind, region).value for name in ("life_beyond_data", "quote_unusual"))
        promised = self.reference.promised("guarantee", kind.kind, place)
        return Remarks(
            beyond_data=float(appliance.age) > reach * float(appliance.mean_life),
            guarantee=0.0 if promised is None else promised.value,
            usual=usual_quote(kind.kind, fault, region, self.reference),
            far=times,
        )

    def _range_of_condition(self, case: Case, named: Collection[str]) -> Iterator[Range]:
        """A condition that was entered is judged by eye: it has the doubt of one that is called good."""
        path, value = f"{REPAIR}.remaining_life_factor", float(case.repair.remaining_life_factor)
        if path in named or any(default.field == path for default in self.defaults):
            return
        good, bounds = self.reference.usual("condition_good", self.region), numbers_of(Option)["remaining_life_factor"]
        less, more = (float(end or good.value) - good.value for end in (good.low, good.high))
        low, high = max(bounds.low, value + less), min(bounds.high, value + more)
        source = f"{good.source.citation}, {good.locator} ({good.year}; {good.status})"
        yield Range(paths=(path,), lows=(low,), values=(value,), highs=(high,), source=source)

    def _figure(self, quantity: str, kind: ApplianceClass, region: str) -> Estimate:
        """A figure that every class has."""
        found = self.reference.figure(quantity, kind.kind, region)
        if found is None:
            raise DataError("figures.csv: no {quantity} for {kind} in {region}", quantity, kind.kind, region)
        return found

    def _refuse_a_newer_schema(self) -> None:
        """Raise for a case file of names that this version cannot know; its other errors would only mislead."""
        schema = self.entries.get("schema", SCHEMA)
        if not is_number(schema) or schema not in range(1, SCHEMA + 1):
            wanted = "must be 1 to {most}; a newer Mendpoint reads newer case files, got {got!r}"
            raise EntryErrors([CaseError("schema", wanted, SCHEMA, schema)])

    def _carbon(self) -> Mapping[str, float]:
        """What was entered about carbon; the rest is filled when it is asked for."""
        table = self.table(self.entries, "", "carbon")
        if not table:
            return {}
        from ...economics.carbon import CARBON_ENTRIES  # here, since it is slow to load and seldom entered

        self.refuse_unknown("carbon", table, tuple(CARBON_ENTRIES))
        return self.numbers("carbon", table, CARBON_ENTRIES)

    # where, and what

    def _place(self, home: Mapping[str, Any]) -> tuple[str, str]:
        place = home.get("place", home.get("region", "US"))
        try:
            known = self.reference.place(str(place))
            if home.get("region", known.region) != known.region:
                self.refuse(
                    "household.region", "{place} lies in {region}, got {got}", place, known.region, home["region"]
                )
            return known.place, known.region
        except CaseError as error:
            self.errors.append(error)
            return "US", "US"

    def _kind(self, table: Mapping[str, Any], region: str, path: str = "appliance") -> ApplianceClass | None:
        try:
            if "class" not in table:
                raise CaseError(f"{path}.class", "is needed; `mendpoint classes` lists all of them")
            kind = self.reference.kind(str(table["class"]))
            if region not in kind.regions:
                sold = ", ".join(k.kind for k in self.reference.classes(region))
                raise CaseError(
                    f"{path}.class", "{kind} has no figures for {region}; known there: {sold}", kind.kind, region, sold
                )
            return kind
        except CaseError as error:
            self.refuse(f"{path}.class", error.message)
            return None

    def _cautions(
        self, kind: ApplianceClass | None, fault: str, region: str, made: float | None
    ) -> tuple[Caution, ...]:
        if kind is None:
            return ()
        try:
            return self.reference.cautions(kind.kind, fault, region, made)
        except CaseError as unknown:
            self.errors.append(unknown)
            return ()

    def _replacements(self, kind: ApplianceClass) -> dict[str, Mapping[str, Any]]:
        listed = self.entries.get(REPLACE, [{}])
        if not isinstance(listed, list) or not listed or not all(isinstance(entry, dict) for entry in listed):
            self.refuse(REPLACE, "must be one or more tables, written [[replace]]")
            listed = [{}]
        if len(listed) > MOST_REPLACEMENTS:
            self.refuse(REPLACE, "must be {most} at most, got {got:,}", MOST_REPLACEMENTS, len(listed))
            listed = listed[:1]
        paths = [REPLACE if i == 0 else f"{REPLACE}.{i + 1}" for i in range(len(listed))]
        return {
            path: {
                "name": named_new(kind) if i == 0 else Message("Replacement {n}", i + 1),
                **entry,
            }
            for i, (path, entry) in enumerate(zip(paths, listed, strict=True))
        }

    def _worth_of_new(
        self, kind: ApplianceClass, region: str, replacements: Mapping[str, Mapping[str, Any]]
    ) -> tuple[float, str]:
        """Price of a new unit: the least that is given for one, or the class's.

        Of a price with its installation it is the part that the unit is in the class's.
        """
        figure, whole = self.reference.figure("price", kind.kind, region), self.reference.installed_price
        given: dict[str, float] = {}
        for path, entry in replacements.items():
            if is_number(entry.get("price")) and not self.is_used(entry):
                installed = whole(kind.kind, region) if self._is_installed_price(entry, kind, region) else None
                part = figure.value / installed.value if figure and installed else 1.0
                given[path] = part * float(entry["price"])
        if given:
            path = min(given, key=given.__getitem__)
            price, whole_price = f"{path}.price", self._is_installed_price(replacements[path], kind, region)
            return given[path], Message("the unit's part of {price}", price) if whole_price else price
        return (figure.value if figure else math.nan), Message("the class's price")

    def _is_installed_price(self, entry: Mapping[str, Any], kind: ApplianceClass, region: str) -> bool:
        """Whether a price that was entered has its installation in it: as entered, or as the class is sold."""
        if "price" not in entry:
            return False
        usual = region in kind.sold_installed and "installation" not in entry and not self.is_used(entry)
        return entry.get("price_includes_installation", usual) is True

    def _grade(self, path: str, table: Mapping[str, Any]) -> str:
        """The figure that a price left out is taken from, by the grade of the new unit."""
        if "price" in table and "grade" in table:
            self.errors.append(CaseError(f"{path}.grade", "gives the same twice, with {other}", "price"))
        return GRADES[self.choice(f"{path}.grade", table.get("grade", "usual"), GRADES)]

    def _refuse_no_installed_price(self, path: str, table: Mapping[str, Any]) -> None:
        name = "price_includes_installation"
        if self.flag(path, table, name) and "price" not in table:
            self.errors.append(CaseError(f"{path}.{name}", "is said of a price, and none is given"))
        elif table.get(name) is True and "installation" in table:
            self.errors.append(CaseError(f"{path}.installation", "gives the same twice, with {other}", name))

    @staticmethod
    def is_used(entry: Mapping[str, Any]) -> bool:
        """Whether a replacement is a used unit: one with an age."""
        appliance = entry.get("appliance", {})
        return isinstance(appliance, dict) and bool(appliance.get("age"))

    # the nouns of a case

    def _appliance(
        self,
        path: str,
        table: Mapping[str, Any],
        kind: ApplianceClass,
        region: str,
        replacements: Mapping[str, Mapping[str, Any]],
    ) -> Appliance:
        numbers = numbers_of(Appliance)
        extra = ("class", "label", "meter", *OTHER_ENERGY, *(OF_THE_UNIT_THERE if path == "appliance" else ()))
        self.refuse_unknown(path, table, (*numbers, *extra))
        used = entered_use(self, path, table, kind, region)
        self.findings += used.findings
        given = {**self.numbers(path, table, numbers), **used.flows}
        for name in ("mean_life", *OF_THE_DRIFT, "life_shape", "failure_free_years"):
            if name not in given:
                given[name] = self.default(path, name, name, kind.kind, region)
        for name in FLOWS:
            if name not in given:
                given[name] = self._consumption(path, name, kind, region, given) if name in kind.fuels else 0.0
        later = later_bills(kind.kind, region, self.reference)
        if path == "appliance" and "hazard_ratio" not in given:
            given["hazard_ratio"] = self._hazard_ratio(table, kind, region, given)
        if "later_repair_median" not in given:
            given["later_repair_median"] = self._quote_median(path, kind, region, later, replacements)
        if "later_repair_log_sd" not in given:
            own = self.reference.figure("later_repair_log_sd", kind.kind, region) or later.spread
            given["later_repair_log_sd"] = self.note(path, "later_repair_log_sd", own.value, own)
        if "age" not in given:
            self.errors.append(Needed(f"{path}.age", numbers["age"]))
        return _built(Appliance, given, kind=kind.kind)

    def _consumption(
        self, path: str, name: str, kind: ApplianceClass, region: str, given: Mapping[str, float]
    ) -> float:
        """The class's consumption by age: that of a new unit, that of the usual unit in homes, or between the two.

        Units in homes are on average about half as old as the class lives (a judgement); older ones count as they do.
        """
        new, usual = (self.reference.figure(f"{name}_{state}", kind.kind, region) for state in ("new", "installed"))
        if new is None or usual is None:
            return self.default(path, name, f"{name}_installed", kind.kind, region)
        usual_age = given["mean_life"] / 2
        passed = min(1.0, given.get("age", usual_age) / usual_age)
        by_age = ConsumptionByAge(new.value, usual.value, usual_age)
        if path == "appliance":
            self.by_age[f"{path}.{name}"] = by_age
        value = float(by_age(given.get("age", usual_age)))
        if passed in (0.0, 1.0):
            return self.note(path, name, value, new if passed == 0.0 else usual)
        between = "by age, between {new:g} for a new unit and {usual:g} for the usual unit in homes"
        rule = Message(between, new.value, usual.value)
        return self.note(path, name, value, usual, rule)

    def _hazard_ratio(
        self, table: Mapping[str, Any], kind: ApplianceClass, region: str, given: Mapping[str, float]
    ) -> float:
        """What today's fault, and what is known of earlier ones, tell of the unit: its hazard over that of its like."""
        fault = self.reference.known_faults.get(str(table.get("fault", "other")))
        figure = self._figure(HAZARDS[fault.kind if fault else "ordinary"], kind, region)
        failures, rule = self.failures, ""
        frailty = self._frailty(kind, region)
        if failures is not None and not math.isnan(failures + given.get("age", math.nan)):
            usual = 1 + frailty.variance * frailty.defect_share
            life = Weibull.with_mean(given["mean_life"], given["life_shape"], given["failure_free_years"])

            def ratio(age: Number) -> Number:
                found = frailty.failed(life, age, failures).hazard_ratio
                return np.clip(figure.value * found / usual, LEAST_RATIO, LARGEST_HAZARD_RATIO)

            self.by_age["appliance.hazard_ratio"] = ratio
            value = float(ratio(given["age"]))
            known = "{kind:g} for this kind of fault, {value:.2g} with {n:g} failures in {age:g} years"
            rule = Message(known, figure.value, value, failures, given["age"])
            return self.note("appliance", "hazard_ratio", value, figure, rule)
        return self.note("appliance", "hazard_ratio", figure.value, figure)

    def _failures(self, table: Mapping[str, Any]) -> float | None:
        """How often the unit has failed, today's failure and a second one found with it included; None: not known."""
        second = self.flag("appliance", table, "second_fault")
        if "earlier_repairs" not in table:
            return 2.0 if second else None
        return self.number("appliance", "earlier_repairs", table["earlier_repairs"], EARLIER_REPAIRS) + 1 + second

    def _frailty(self, kind: ApplianceClass, region: str) -> Frailty:
        return Frailty(**{name: self._figure(figure, kind, region).value for name, figure in FRAILTY.items()})

    def _maintained(
        self,
        there: Appliance,
        options: Sequence[Option],
        household: Household,
        replacements: Mapping[str, Mapping[str, Any]],
    ) -> tuple[Appliance, tuple[Option, ...]]:
        """The units with what later repairs of them cost, where nobody entered that, and how it rises with age."""
        laws: dict[str, LaterRepairs] = {}
        found, bills = list(options), [NO_BILL] * len(options)
        for index, path in enumerate(replacements, start=1):
            bought = options[index].appliance
            assert bought is not None  # the replacements follow the repair
            if bought.kind not in laws:
                laws[bought.kind] = self._later_repairs(bought, household, options[0], replacements)
            found[index] = replace(options[index], appliance=self._kept(f"{path}.appliance", bought, laws[bought.kind]))
            serving = self._frailty(self.reference.kind(bought.kind), self.region)
            known = serving.serving(_life_of_its_like(bought), bought.age)
            bills[index] = another_bill(laws[bought.kind], _bills(bought), known, float(options[index].warranty))
        next_one = laws.get(there.kind) or self._later_repairs(there, household, options[0], replacements)
        frailty = self._frailty(self.reference.kind(there.kind), self.region)
        quality = frailty.failed(_life_of_its_like(there), there.age, self.failures)
        times = float(quality.failure_ratio)
        law = self._later_repairs(there, household, options[0], replacements, times, next_one.cost_of_new)
        for index, option in enumerate(options):
            if option.appliance is None:
                bills[index] = another_bill(law, _bills(there), quality, float(option.warranty))
        self.another_bill = tuple(bills)
        return self._kept("appliance", there, law, times), tuple(found)

    def _later_repairs(
        self,
        appliance: Appliance,
        household: Household,
        repair: Option,
        replacements: Mapping[str, Mapping[str, Any]],
        times: float = 1.0,
        next_one: float | None = None,
    ) -> LaterRepairs:
        """Spending on later repairs by age, as this household pays and buys: of the class, or of the unit there.

        The unit there fails so many times as often as the class, has the hazard that is known of it, and is followed by
        a new one.
        """
        kind = self.reference.kind(appliance.kind)
        frailty, prices, like = self._frailty(kind, self.region), money(household), _life_of_its_like(appliance)
        return later_repairs(
            like if next_one is None else life_of(appliance, repair.remaining_life_factor),
            _bills(appliance),
            lambda age: times * frailty.usual_failure_rate(like, age),
            discount_force=max(float(household.discount_force), LEAST_FORCE),
            price=max(self._cost_of_new(kind, self.region, replacements), CENT),
            running=sum(float(prices.cost(flow, getattr(appliance, flow))) for flow in FLOWS),
            unmendable=later_bills(kind.kind, self.region, self.reference).bills.unmendable,
            waiting=float(repair.days_without * household.day_cost),
            next_one=next_one,
        )

    def _kept(self, path: str, appliance: Appliance, law: LaterRepairs, times: float = 1.0) -> Appliance:
        """A unit with its upkeep, what accepted repairs cost, and how that moves with age."""
        by_age = law.over_level(appliance.age)
        if not math.isnan(float(appliance.maintenance_and_repair)):
            return replace(appliance, maintenance_and_repair_by_age=by_age)
        share = self._figure("failure_share_3_years", self.reference.kind(appliance.kind), self.region)
        text = "{share:.0%} of units fail in three years, half of bills below {median:.0f}, too dear ones not paid"
        rule = Message(text, share.value, float(appliance.later_repair_median))
        if times != 1:
            rule = Message("{rule}; it fails {times:.2g} times as often, as it has failed", rule, times)
        value = self.note(path, "maintenance_and_repair", law.level(appliance.age), share, rule, "money/year")
        return replace(appliance, maintenance_and_repair=value, maintenance_and_repair_by_age=by_age)

    def _cost_of_new(self, kind: ApplianceClass, region: str, replacements: Mapping[str, Mapping[str, Any]]) -> float:
        """What a new unit costs in its place: the least price given or the class's, with tax, delivery and the rest."""
        price, _ = self._worth_of_new(kind, region, replacements)
        found = (self.reference.figure(name, kind.kind, region) for name in TO_INSTALL)
        tax = self.reference.figure("sales_tax", kind.kind, region)
        return price * (1 + (tax.value if tax else 0.0)) + sum(figure.value for figure in found if figure)

    def _quote_median(
        self,
        path: str,
        kind: ApplianceClass,
        region: str,
        later: LaterBills,
        replacements: Mapping[str, Mapping[str, Any]],
    ) -> float:
        """Median of later bills; by a shop's own records it is a share of the price of a new unit."""
        share = self.reference.figure("quote_share", kind.kind, region)
        if share is None:
            return self.note(path, "later_repair_median", later.median.value, later.median)
        price, of = self._worth_of_new(kind, region, replacements)
        rule = Message("{share:g} x {of} ({price:g})", share.value, of, price)
        return self.note(path, "later_repair_median", share.value * price, share, rule, "money")

    def _option(
        self,
        path: str,
        action: str,
        table: Mapping[str, Any],
        kind: ApplianceClass,
        region: str,
        appliance: Appliance | None = None,
    ) -> Option:
        numbers = {name: bounds for name, bounds in numbers_of(Option).items() if name in ENTERED_WITH[action]}
        bought = ("name", "appliance", "grade", "price_includes_installation")
        extra = {REPAIR: ("name", "quote"), REPLACE: bought, LEAVE: ("name",)}[action]
        self.refuse_unknown(path, table, (*numbers, *extra))
        given = self.numbers(path, table, numbers)
        used = action == REPLACE and self.is_used(table)
        installed = action == REPLACE and self._is_installed_price(table, kind, region)
        figures = dict(OF_AN_OPTION[action])
        if action == REPLACE:
            self._refuse_no_installed_price(path, table)
            figures["price"] = self._grade(path, table)
        if action == REPLACE and "food_loss" in given:
            given.setdefault("food_loss_at_later_failures", given["food_loss"])
        for name, quantity in figures.items():
            if installed and name in INCLUDED:
                continue
            if used and name in ("price", "warranty"):
                continue  # no table knows what a used unit costs, and it comes without a maker's warranty
            if name == "food_loss" and not self.food_spoils:
                continue  # it goes on cooling; what fails later may not
            if name not in given and self.reference.figure(quantity, kind.kind, region) is not None:
                given[name] = self.default(path, name, quantity, kind.kind, region)
        for name in ("price",) if used else ("annual_loss_of_use",) if action == LEAVE else ():
            if name not in given:
                self.errors.append(Needed(f"{path}.{name}", numbers[name]))
        name = table.get("name", USUAL_NAMES.get(action, ""))
        return _built(
            Option,
            given,
            name=name if isinstance(name, Message) else str(name),
            action=action,
            appliance=appliance,
            price_includes_installation=installed,
            sold_installed=action == REPLACE and not used and region in kind.sold_installed,
            quote=self._quote(f"{path}.quote", table["quote"], kind, region) if "quote" in table else None,
        )

    def _quote(self, path: str, quote: object, kind: ApplianceClass, region: str) -> Quote:
        numbers = numbers_of(Quote)
        if not isinstance(quote, dict):
            return Quote(amount=self.number(path, "", quote, numbers["amount"]))
        self.refuse_unknown(path, quote, tuple(numbers))
        given = self.numbers(path, quote, numbers)
        if not quote.keys() & {"amount", "parts", "labour_hours", "trip"}:
            self.refuse(path, "needs an amount, or its parts, labour_hours or trip")
        if "amount" in given and {"parts", "labour_hours", "labour_rate", "trip", "tax_rate"} & set(given):
            self.refuse(f"{path}.amount", "is the whole quote; give it or its parts, not both")
        if "labour_hours" in given and "labour_rate" not in given:
            given["labour_rate"] = self.default(path, "labour_rate", "labour_rate", kind.kind, region)
        return _built(Quote, given)

    def _household(
        self, home: Mapping[str, Any], place: str, region: str, there: Appliance, options: Sequence[Option]
    ) -> Household:
        numbers = numbers_of(Household)
        ways = [*(f"{fuel}_tariff" for fuel in ENERGY_AND_WATER), *(f"{fuel}_index" for fuel in ENERGY)]
        self.refuse_unknown("household", home, (*numbers, "place", "region", "landlord", *ways))
        given: dict[str, Any] = self.numbers("household", home, numbers)
        for fuel in ENERGY_AND_WATER:
            if self._given_once(home, f"{fuel}_tariff", f"{fuel}_price"):
                given |= self._tariff(home, fuel, CURRENCIES[region], there, options)
        figures = dict(OF_THE_HOUSEHOLD)
        if "landlord" in home:
            figures["rate"] = "discount_rate"  # rented out, it is an investment
        if "study_period" in home or "landlord" in home:
            del figures["leaving_rate"]
        for name, quantity in figures.items():
            if name not in given and f"{name.removesuffix('_escalation')}_index" not in home:
                given[name] = self.default("household", name, quantity, ANY, region)
        for fuel in ENERGY:
            if f"{fuel}_price" not in given:
                given[f"{fuel}_price"] = self._usual_price(fuel, place, region)
            if self._given_once(home, f"{fuel}_index", f"{fuel}_escalation"):
                given |= self._escalation(home, fuel, region, given)
        given["landlord"] = landlord_of(self, home)
        return _built(Household, given, region=region, place=place, currency=CURRENCIES[region])

    def _usual_price(self, fuel: str, place: str, region: str) -> float:
        """The average price less the part of it that does not move with use, such as standing charges."""
        average = self.reference.energy_price(place, fuel)
        moving = self.reference.figure(f"{fuel}_marginal", ANY, region)
        own = (place, fuel) in self.reference.energy_prices
        values = {"stands_for": "" if own else place, "period": average.price_year}
        if moving is None:
            return self.note("household", f"{fuel}_price", average.value, average, **values)
        source = f"{average.source.citation}, {average.price_year}"
        rule = Message("{share:g} x the average price {price:g} ({source})", moving.value, average.value, source)
        return self.note(
            "household", f"{fuel}_price", moving.value * average.value, moving, rule, average.unit, **values
        )

    def _given_once(self, home: Mapping[str, Any], name: str, other: str) -> bool:
        """Whether an entry is there; an error where its simple form is there too."""
        if name in home and other in home:
            self.refuse(f"household.{name}", "gives the same twice, with {other}", other)
        return name in home

    def _tariff(
        self, home: Mapping[str, Any], fuel: str, currency: str, there: Appliance, options: Sequence[Option]
    ) -> dict[str, Any]:
        """Price of a fuel and its steps from a tariff, for the unit there and for what each option draws."""
        from .household_tariff import tariff_price  # here, as of paths below: tariffs are slow to load and seldom given

        appliances = [there, *(option.appliance or there for option in options)]
        changes = [0.0, *(option.energy_change if fuel in ENERGY else 0.0 for option in options)]
        flows = [
            float(getattr(appliance, fuel)) * (1 + float(by)) for appliance, by in zip(appliances, changes, strict=True)
        ]
        before, table = len(self.errors), self.table(home, "household", f"{fuel}_tariff")
        found = tariff_price(self, fuel, table, flows, currency) if len(self.errors) == before else None
        return {} if found is None else {f"{fuel}_price": found.price, f"{fuel}_steps": found.steps}

    def _escalation(
        self, home: Mapping[str, Any], fuel: str, region: str, given: Mapping[str, float]
    ) -> dict[str, float]:
        """Steady rise of a price that is worth the same as a published path of it."""
        from ..tables.price_paths import price_path

        name, rate, ahead = f"{fuel}_escalation", given["rate"], given.get("study_period", math.inf)
        if math.isnan(rate + ahead):
            return {}  # an error already
        try:
            path = price_path(str(home[f"{fuel}_index"]), fuel, region)
            rise, years = path.escalation(rate, ahead)
        except (CaseError, NoSolution) as error:
            self.refuse(f"household.{fuel}_index", error.message)
            return {}
        self.derived.append(
            Derived(
                field=f"household.{name}",
                value=rise,
                unit="1/year",
                way="index",
                bases=(path.basis,),
                source=path.name,
                facts={"years": float(years)},
            )
        )
        return {name: rise}


def _bills(appliance: Appliance) -> LognormalQuotes:
    """The law of its later bills."""
    return LognormalQuotes(max(float(appliance.later_repair_median), CENT), float(appliance.later_repair_log_sd))


def _life_of_its_like(appliance: Appliance) -> Life:
    """The published life of the class, whatever is known of the unit itself."""
    return life_of(replace(appliance, hazard_ratio=1.0))


def _made(there: Mapping[str, Any]) -> float | None:
    """Year of manufacture: that of the label, else by the age; None where neither can be used. [year]"""
    label, age = there.get("label"), there.get("age")
    year = label.get("year") if isinstance(label, Mapping) else None
    if year is not None and is_number(year):
        return float(year)
    return None if age is None or not is_number(age) else datetime.date.today().year - float(age)


def _has_range(derived: Derived) -> bool:
    return derived.low is not None and derived.high is not None and derived.low < derived.high


def _range_of(derived: Derived) -> Range:
    """What a label or a meter says that an input may be instead."""
    low, high = float(derived.low or 0.0), float(derived.high or 0.0)
    source = "; ".join((derived.way, *(f"{basis.source}, {basis.locator}" for basis in derived.bases)))
    return Range(paths=(derived.field,), lows=(low,), values=(derived.value,), highs=(high,), source=source)


def _built(noun: type, given: Mapping[str, float], **words: Any) -> Any:
    """Build a noun from what is given; an input that is missing was reported, and stands as NaN until then."""
    needed = {item.name: math.nan for item in fields(noun) if "bounds" in item.metadata and _has_no_default(item)}
    return noun(**{**needed, **given, **words})


def _has_no_default(item: Field[Any]) -> bool:
    return item.default is MISSING
