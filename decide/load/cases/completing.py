"""What nobody entered, filled from the tables, with every error and every default noted on the way.

A default follows the entries where it has to: consumption goes by the unit's age, upkeep by the failures and bills of
the class up to what a new unit costs, a delay by the mean life, the price of energy by the part that moves with use.
"""

import datetime
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import MISSING, Field, dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from ...arrays import Number
from ...diagnosis.bills import Rising, failures_by
from ...economics.case import (
    LEAVE,
    REPAIR,
    REPLACE,
    WITHOUT,
    Appliance,
    Bounds,
    Case,
    Household,
    Option,
    Prohibition,
    Quote,
)
from ...economics.flows import life_of
from ...economics.uncertainty import Range
from ...errors import CaseError, DataError, EntryErrors, Message, NoSolution
from ..files.rows import ANY
from ..tables.tables import CURRENCIES, ENERGY, GRADES, TO_INSTALL, ApplianceClass, Caution, Estimate
from ..tables.usual_bills import LaterBills, later_bills, usual_quote
from .consumption import OTHER_ENERGY, entered_use
from .filled import (
    ENDS_IT,
    GUARANTEE,
    NEXT_FAILURES,
    REPAIR_WARRANTY,
    WARRANTY,
    ClaimTerms,
    Filled,
    Remarks,
)
from .landlord_entry import landlord_of, tax_caution
from .ranges import entered_ranges
from .reading import CaseReader, Derived, Needed, is_number, numbers_of

if TYPE_CHECKING:
    from .measured import AgainstRated

# Which figure of the tables fills which input. An input that is not named here has its plain default in `case.py`.
FLOWS: Final = ("electricity", "gas", "water")
OF_THE_DRIFT: Final = ("efficiency_degradation_rate", "efficiency_degradation_cap")
OF_THE_HOUSEHOLD: Final = {
    "rate": "discount_rate",
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
    WITHOUT: {"annual_loss_of_use": "doing_without"},
}

TAKE_ALONG: Final = "take along"
LEAVE_BEHIND: Final = "leave"
SELL: Final = "sell"
AT_END: Final = (TAKE_ALONG, LEAVE_BEHIND, SELL)
"""What becomes of the unit when the household moves out at the end of its study period."""

SAVINGS: Final = "savings"
PAYS: Final = {SAVINGS: "discount_rate", "card": "card_rate", "instalments": "loan_rate_usual"}
"""What a repair or a new unit is paid from, the first unless said, each with the figure of its rate."""

CLAIM_ENTRIES: Final = {
    "warranty_left": Bounds("year", 0, 30),
    "claim_days": Bounds("day", 0, 365),
    "claim_refused": Bounds("share", 0, 0.95),
}
"""What of a claim can be entered with the appliance there: the maker's warranty, how long a claim takes, and the chance
that it is refused."""

INCLUDED: Final = ("tax_rate", *TO_INSTALL)
"""What a price with its installation has in it already."""

HEADS: Final = ("title", "appliance", "household", REPAIR, REPLACE, LEAVE, WITHOUT, "carbon", "ranges")
"""What a case file holds at its top."""

SCHEMA: Final = 2
"""Number of the names that case files and JSON use now; 1 is that of the names before, which are still read."""

MOST_REPLACEMENTS: Final = 50
"""More than anyone compares, and few enough to be weighed while one waits."""

USUAL_NAMES: Final = {
    REPAIR: Message("Repair it"),
    LEAVE: Message("Leave it as it is"),
    WITHOUT: Message("Do without it"),
}
"""Names of options that nobody named; a new unit goes by its class, any further one by its number."""


def named_new(kind: ApplianceClass) -> Message:
    """Name of a typical new unit of a class that nobody named."""
    return Message("New {label}", f"{kind.label[0].lower()}{kind.label[1:]}", kind=kind.kind)


ENTERED_WITH: Final = {
    REPAIR: (
        "remaining_life_factor", "energy_change", "planned_replacement_years", "repair_success_probability",
        "repair_warranty", "callback_window", "financed", "loan_rate", "loan_years", "days_without", "food_loss",
    ),
    REPLACE: (
        "remaining_life_factor", "price", "tax_rate", "delivery", "installation", "haul_away", "rebate", "trade_in",
        "financed", "loan_rate", "loan_years", "warranty", "days_without", "food_loss", "food_loss_at_later_failures",
    ),
    LEAVE: ("remaining_life_factor", "energy_change", "annual_loss_of_use", "planned_replacement_years"),
    WITHOUT: ("annual_loss_of_use",),
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


@dataclass(frozen=True)
class WarrantyLeft:
    """What is left, at an age, of a warranty that ends at another."""

    ends: float

    def __call__(self, age: Number) -> Number:
        """Years left. [year]"""
        return np.maximum(0.0, self.ends - np.asarray(age, dtype=float))


@dataclass
class Completing(CaseReader):
    """Reads entries once, noting each error and each default on the way."""

    entries: Mapping[str, Any] = field(default_factory=dict)
    findings: "list[AgainstRated]" = field(default_factory=list)
    by_age: dict[str, Callable[[Number], Number]] = field(default_factory=dict)
    claim: dict[str, float] = field(default_factory=dict)
    paid_from: dict[str, tuple[str, float]] = field(default_factory=dict)
    """By the path of an option, what it is paid from and the yearly rate of that as lenders state it."""
    food_spoils: bool = True
    """Whether the fault stops the cooling; a fault that is not known counts as one that does not."""

    def filled(self) -> Filled:
        """The complete case; `EntryErrors` lists all that cannot be used."""
        self._refuse_a_newer_schema()
        self.refuse_unknown("", self.entries, ("schema", *HEADS))
        there, home = self.table(self.entries, "", "appliance"), self.table(self.entries, "", "household")
        place, region = self._place(home)
        kind, fault = self._kind(there, region), str(there.get("fault", "other"))
        applicable_cautions = self._cautions(kind, fault, region, _made(there))
        self.food_spoils = fault in self.reference.known_faults and self.reference.known_faults[fault].spoils_food
        # an unknown class is an error already; the rest is still read, against any class, so that all errors show
        kind = kind or self.reference.classes(region)[0]
        replacements, at_end = self._replacements(kind), self._at_end(home, kind, region)
        appliance = self._appliance("appliance", there, kind, region, replacements)
        options = [self._option(REPAIR, REPAIR, self.table(self.entries, "", REPAIR), kind, region)]
        for path, entry in replacements.items():
            bought = self.table(entry, path, "appliance")
            sold_as = self._kind(bought, region, f"{path}.appliance") if "class" in bought else kind
            made = self._appliance(f"{path}.appliance", {"age": 0, **bought}, sold_as or kind, region, replacements)
            options.append(self._option(path, REPLACE, entry, sold_as or kind, region, made))
        if (
            at_end in (LEAVE_BEHIND, SELL)
            and kind.sold_used(region)
            and not any(map(self.is_used, replacements.values()))
        ):
            options.append(self._used(kind, region, replacements))
        options += self._left_or_done_without(kind, region, fault, at_end in (LEAVE_BEHIND, SELL), "landlord" in home)
        options = self._with_warranty_left(appliance, options, kind, region)
        household = self._household(home, place, region, appliance, options, at_end)
        carbon = self._carbon()
        next_failure = self.choice("household.next_failure", home.get("next_failure", ENDS_IT), NEXT_FAILURES)
        if self.errors:
            raise EntryErrors(self.errors)
        if household.landlord is not None:
            applicable_cautions = (*applicable_cautions, tax_caution())
        case = Case(
            appliance=appliance,
            household=household,
            options=tuple(options),
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
        noted = tuple(self.derived), tuple(self.findings)
        remarks = self._remarks(case, kind, fault, place)
        return Filled(case, tuple(self.defaults), applicable_cautions, ranges, *noted, next_failure, carbon, remarks)

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
            claim=self._claim(case, kind, 0.0 if promised is None else promised.value),
        )

    def _claim(self, case: Case, kind: ApplianceClass, guarantee: float) -> ClaimTerms | None:
        """Who may owe the repair: the shop that mended it last, the seller by law, or the maker as was entered."""
        left = {
            REPAIR_WARRANTY: math.nan if self.entries.get(REPAIR, {}).get("under_warranty") else 0.0,
            GUARANTEE: guarantee - float(case.appliance.age),
            WARRANTY: self.claim.get("warranty_left", 0.0),
        }
        by = next((by for by, years in left.items() if not years <= 0), None)
        if by is None:
            return None
        days = self.claim.get("claim_days", self._figure("days_claim", kind, case.household.region).value)
        longer = max(0.0, days - float(case.repair.days_without))
        waiting = longer * float(case.household.day_cost)
        return ClaimTerms(by, left[by], waiting, self.claim.get("claim_refused", 0.0))

    def _with_warranty_left(
        self, there: Appliance, options: Sequence[Option], kind: ApplianceClass, region: str
    ) -> list[Option]:
        """The options, with what is left of the warranty of the unit there: until then later repairs cost nothing."""
        usual = self.reference.figure("warranty_new", kind.kind, region)
        entered = self.claim.get("warranty_left")
        if (usual is None and entered is None) or not is_number(there.age) or math.isnan(float(there.age)):
            return list(options)
        ends = WarrantyLeft(float(there.age) + entered if entered is not None else usual.value if usual else 0.0)
        left, kept = float(ends(there.age)), []
        for option in options:
            runs = option.action in (REPAIR, LEAVE)
            kept.append(replace(option, warranty=left) if runs else option)
            if runs:
                self.by_age[f"{option.action}.warranty"] = ends
            if runs and left and entered is None and usual is not None:
                rule = Message("{years:g} years, less its age", usual.value)
                self.note(option.action, "warranty", left, usual, rule)
        return kept

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

    def _at_end(self, home: Mapping[str, Any], kind: ApplianceClass, region: str) -> str:
        """What becomes of the unit at the end of a study period, one of `AT_END`; '' where none of them is asked.

        Unsaid, what is built in stays behind, and so does whatever stands in a home that is rented out; the rest is
        sold. A study that states its own `residual_share` counts what is left pro rata.
        """
        path, own = "household.at_end", [name for name in ("residual_share", "resale_share") if name in home]
        if "at_end" in home:
            entered = self.choice(path, home["at_end"], AT_END)
            if entered != TAKE_ALONG and "study_period" not in home:
                self.refuse(path, "is said of a stay, and household.study_period is not given")
            if own and (entered, own) != (SELL, ["resale_share"]):
                self.refuse(path, "gives the same twice, with {other}", own[0])
            return entered
        if "study_period" not in home or "residual_share" in own:
            return ""
        behind = kind.stays_behind(region) or "landlord" in home
        return LEAVE_BEHIND if behind and not own else SELL

    def _used(self, kind: ApplianceClass, region: str, replacements: Mapping[str, Mapping[str, Any]]) -> Option:
        """A used unit of the class as one more thing to buy: its price goes by the years that it has left."""
        path = f"{REPLACE}.{len(replacements) + 1}"
        share, asked = (self._figure(name, kind, region) for name in ("used_age_share", "used_price_share"))
        life = self._figure("mean_life", kind, region).value
        age = self.note(
            f"{path}.appliance",
            "age",
            share.value * life,
            share,
            Message("{share:g} x {life:g} years", share.value, life),
        )
        made = self._appliance(f"{path}.appliance", {"age": age}, kind, region, replacements)
        new, of = self._worth_of_new(kind, region, replacements)
        left = float(life_of(made).mean_residual_life(age) / life_of(made).mean_residual_life(0.0))
        rule = Message("{share:g} x {of} ({price:g}) x {left:.2f} of its years left", asked.value, of, new, left)
        price = self.note(path, "price", asked.value * left * new, asked, rule, "money")
        entry = {"name": Message("A used one"), "price": price, "appliance": {"age": age}}
        return self._option(path, REPLACE, entry, kind, region, made)

    def _left_or_done_without(
        self, kind: ApplianceClass, region: str, fault: str, for_a_stay: bool, rented: bool
    ) -> Iterator[Option]:
        """Living with the fault while the unit does some of its work; a dead one is done without, at its loss of use.

        Whoever says how it runs says that it does, whatever such a fault usually means.
        For a stay, doing without is an option of its own in the classes that people can do without.
        """
        usual = self.reference.figure("doing_without", kind.kind, region)
        entered = self.table(self.entries, "", WITHOUT) if WITHOUT in self.entries else None
        if LEAVE in self.entries:
            left, known = self.table(self.entries, "", LEAVE), self.reference.known_faults.get(fault)
            runs = bool({"energy_change", "remaining_life_factor", "planned_replacement_years"} & left.keys())
            if runs or known is None or not known.stops(kind.kind):
                yield self._option(LEAVE, LEAVE, left, kind, region)
            elif entered is not None:
                self.refuse(LEAVE, "cannot be: with this fault it does no work; [without] is doing without it")
            else:
                yield self._option(LEAVE, WITHOUT, left, kind, region)
                return
        if entered is not None or (for_a_stay and usual is not None and not rented):
            yield self._option(WITHOUT, WITHOUT, entered or {}, kind, region)

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
        there = path == "appliance"
        extra = ("class", "label", "meter", *OTHER_ENERGY, *(("fault", *CLAIM_ENTRIES) if there else ()))
        self.refuse_unknown(path, table, (*numbers, *extra))
        self.claim |= self.numbers(path, table, CLAIM_ENTRIES) if there else {}
        used = entered_use(self, path, table, kind, region)
        self.findings += used.findings
        given = {**self.numbers(path, table, numbers), **used.flows}
        for name in ("mean_life", *OF_THE_DRIFT, "life_shape", "failure_free_years"):
            if name not in given:
                given[name] = self.default(path, name, name, kind.kind, region)
        for name in FLOWS:
            if name not in given:
                given[name] = self._consumption(path, name, kind, region, given) if name in kind.fuels else 0.0
        later, rising = later_bills(kind.kind, region, self.reference), None
        if "maintenance_and_repair" not in given:
            given["maintenance_and_repair"], rising = self._maintenance_and_repair(
                path, kind, region, given["mean_life"], later, replacements
            )
        if "later_repair_median" not in given:
            given["later_repair_median"] = self._quote_median(path, kind, region, later, replacements)
        if "later_repair_log_sd" not in given:
            own = self.reference.figure("later_repair_log_sd", kind.kind, region) or later.spread
            given["later_repair_log_sd"] = self.note(path, "later_repair_log_sd", own.value, own)
        if "age" not in given:
            self.errors.append(Needed(f"{path}.age", numbers["age"]))
        return _built(Appliance, given, kind=kind.kind, maintenance_and_repair_by_age=rising)

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

    def _maintenance_and_repair(
        self,
        path: str,
        kind: ApplianceClass,
        region: str,
        mean_life: float,
        later: LaterBills,
        replacements: Mapping[str, Mapping[str, Any]],
    ) -> tuple[float, Rising | None]:
        """Failures of the class times the bill that is expected of one, as a mean over the life, and how it rises.

        A bill above what a new unit costs is none: it ends the unit, as one that cannot be mended does. It should be
        held to the repair limit at its age, which is less; so the upkeep of old units is a little too high.
        """
        if not mean_life > 0:
            return math.nan, None  # an error already
        share, growth = (self._figure(name, kind, region) for name in ("failure_share_3_years", "failure_growth"))
        most = self._cost_of_new(kind, region, replacements)
        a_bill = float(later.bills.accepted(most))
        failures = float(failures_by(mean_life, share.value, growth.value))
        mean = "mean over {life:g} years: {failures:.2g} failures, {bill:.0f} each in repairs of at most {most:.0f}"
        rule = Message(mean, mean_life, failures, a_bill, most)
        value = self.note(path, "maintenance_and_repair", failures * a_bill / mean_life, share, rule, "money/year")
        return value, Rising(growth.value, mean_life)

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
        bought = ("name", "appliance", "grade", "price_includes_installation", "pays")
        extra = {
            REPAIR: ("name", "quote", "under_warranty", "pays"),
            REPLACE: bought,
            LEAVE: ("name",),
            WITHOUT: ("name",),
        }[action]
        self.refuse_unknown(path, table, (*numbers, *extra))
        given = self.numbers(path, table, numbers)
        self.flag(path, table, "under_warranty")
        given |= self._financed(path, table, given, region)
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
            if path == LEAVE and action == WITHOUT:
                continue  # whoever lives with a dead one says what that costs
            if name == "food_loss" and not self.food_spoils:
                continue  # it goes on cooling; what fails later may not
            if name not in given and self.reference.figure(quantity, kind.kind, region) is not None:
                given[name] = self.default(path, name, quantity, kind.kind, region)
        for name in ("price",) if used else ("annual_loss_of_use",) if action in (LEAVE, WITHOUT) else ():
            if name not in given:
                self.errors.append(Needed(f"{path}.{name}", numbers[name]))
        name = table.get("name", USUAL_NAMES.get(action, ""))
        quote = self._quote(f"{path}.quote", table["quote"], kind, region) if "quote" in table else None
        if action == REPAIR and given.get("financed", 0.0) > (quote.total - quote.fee_credit if quote else 0.0):
            self.refuse(f"{path}.financed", "must not be more than what is left to pay")
        return _built(
            Option,
            given,
            name=name if isinstance(name, Message) else str(name),
            action=action,
            appliance=appliance,
            price_includes_installation=installed,
            sold_installed=action == REPLACE and not used and region in kind.sold_installed,
            quote=quote,
        )

    def _financed(
        self, path: str, table: Mapping[str, Any], given: Mapping[str, float], region: str
    ) -> dict[str, float]:
        """What comes of saying what an option is paid from: all of it is lent, unless from savings."""
        if "pays" not in table:
            return {}
        pays = self.choice(f"{path}.pays", table["pays"], PAYS)
        if "financed" in table:
            self.refuse(f"{path}.pays", "gives the same twice, with {other}", "financed")
        found: dict[str, float] = {}
        if pays != SAVINGS:
            found = {
                "financed_share": 1.0,
                **{name: given[name] for name in ("loan_rate", "loan_years") if name in given},
            }
            for name, quantity in (("loan_rate", PAYS[pays]), ("loan_years", "loan_years_usual")):
                if name not in found:
                    found[name] = self.default(path, name, quantity, ANY, region)
        self.paid_from[path] = pays, found.get("loan_rate", 0.0)
        return found

    def _rate(self, region: str, inflation: float) -> float:
        """Real discount rate: that of what the repair is paid from; unsaid, of what the new one is."""
        path = REPAIR if REPAIR in self.paid_from else next(iter(self.paid_from), "")
        pays, nominal = self.paid_from.get(path, (SAVINGS, 0.0))
        if pays == SAVINGS:
            return self.default("household", "rate", "discount_rate", ANY, region)
        real = (1 + nominal / 12) ** 12 / (1 + inflation) - 1
        figure = self.reference.usual(PAYS[pays], region)
        if figure.value != nominal:  # entered with it
            return real
        return self.note(
            "household", "rate", real, figure, Message("{rate:.4g} a year, month by month, less inflation", nominal)
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
        self,
        home: Mapping[str, Any],
        place: str,
        region: str,
        there: Appliance,
        options: Sequence[Option],
        at_end: str,
    ) -> Household:
        numbers = numbers_of(Household)
        ways = [*(f"{fuel}_tariff" for fuel in ENERGY_AND_WATER), *(f"{fuel}_index" for fuel in ENERGY)]
        self.refuse_unknown(
            "household", home, (*numbers, "place", "region", "next_failure", "landlord", "at_end", *ways)
        )
        given: dict[str, Any] = self.numbers("household", home, numbers)
        if at_end == TAKE_ALONG:
            given.pop("study_period", None)  # it goes on serving elsewhere: a need without end
        if at_end == SELL and "resale_share" not in given:
            given["resale_share"] = self.default("household", "resale_share", "resale_share", ANY, region)
        for fuel in ENERGY_AND_WATER:
            if self._given_once(home, f"{fuel}_tariff", f"{fuel}_price"):
                given |= self._tariff(home, fuel, CURRENCIES[region], there, options)
        for name, quantity in OF_THE_HOUSEHOLD.items():
            if name not in given and name != "rate" and f"{name.removesuffix('_escalation')}_index" not in home:
                given[name] = self.default("household", name, quantity, ANY, region)
        if "rate" not in given:
            given["rate"] = self._rate(region, given["inflation"])
        elif REPAIR in self.paid_from:
            self.refuse("household.rate", "gives the same twice, with {other}", f"{REPAIR}.pays")
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
