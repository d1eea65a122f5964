"""What nobody entered, filled from the tables, with every error and every default noted on the way.

A default follows the entries where it has to: consumption goes by the year of manufacture, the age, and what was said
of the unit there, upkeep by the failures and bills of the class up to what a new unit costs, a delay by the mean life,
the price of energy by the part that moves with use.
"""

import datetime
import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import MISSING, dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from ...arrays import Number
from ...economics.case import CENT, LEAVE, REPAIR, REPLACE, WITHOUT, Appliance, Case, Option, Prohibition, Quote
from ...economics.flows import life_of
from ...economics.household import GASES, NATURAL_GAS, PROPANE, Household
from ...economics.uncertainty import Range
from ...errors import CaseError, EntryErrors, Message
from ..files.rows import ANY, rows
from ..tables.tables import CURRENCIES, ENERGY, GRADES, TO_INSTALL, ApplianceClass, Estimate, data_dir
from ..tables.usual_bills import LaterBills, later_bills, sum_of, usual_quote
from .consumption import FLOWS, MEASURED, OTHER_ENERGY, CarriedUse, UsualUse, entered_use
from .filled import GUARANTEE, REPAIR_WARRANTY, USUAL_WARRANTY, WARRANTY, ClaimTerms, Filled, Remarks, outcome_of
from .landlord_entry import landlord_of
from .ranges import cited, entered_ranges
from .reading import CYCLES, CaseReader, Derived, Needed, declared, is_number, numbers_of
from .scenarios import SCENARIO, SECOND, scenarios_of
from .upkeep import Upkeep, failures_of, hazard_ratio, second_fault_of

if TYPE_CHECKING:
    from .measured import AgainstRated

ENERGY_AND_WATER: Final = (*ENERGY, "water")
ENERGY_WAYS: Final = tuple(f"{fuel}_tariff" for fuel in ENERGY_AND_WATER)
OF_THE_HOUSEHOLD: Final = ("place", "region", "at_end", "today", "gas_kind", "people")
"""Entries of the household that are no numbers, and those that stand for a price or its rise."""


FILLED: Final = tuple(rows(data_dir() / "filled_entries.csv", "part,entry,number,figure"))
FIGURES: Final = {
    part: {row.text("entry"): row.text("figure") for row in FILLED if row.text("part") == part and row.cells["figure"]}
    for part in ("household", REPAIR, REPLACE, LEAVE, WITHOUT)
}
"""By part of a case, the figure of the tables that fills an input; any other has its plain default in `case.py`."""
ENTERED_WITH, ENTERED_BESIDE = (
    {
        part: tuple(row.text("entry") for row in FILLED if (row.text("part"), row.text("number")) == (part, number))
        for part in (REPAIR, REPLACE, LEAVE, WITHOUT)
    }
    for number in ("1", "0")
)
"""Which numbers of an option can be entered with each action, and what else can be."""

TAKE_ALONG: Final = "take along"
LEAVE_BEHIND: Final = "leave"
SELL: Final = "sell"
AT_END: Final = (TAKE_ALONG, LEAVE_BEHIND, SELL)
"""What becomes of the unit when the household moves out at the end of its study period."""

SAVINGS: Final = "savings"
PAYS: Final = {SAVINGS: "discount_rate", "card": "card_rate", "instalments": "loan_rate_usual"}
"""What a repair or a new unit is paid from, the first unless said, each with the figure of its rate."""

CLAIM_ENTRIES: Final = declared("claim")
"""What of a claim can be entered with the appliance there: the maker's warranty, how long a claim takes, and the chance
that it is refused."""

OF_THE_HOME: Final = declared("household")
"""Numbers of the people of a home, which tell how much it uses what is used in runs, or hot water."""

OF_THE_UNIT_THERE: Final = ("fault", "earlier_repairs", "second_fault", "outcome", "outcome_reason", *CLAIM_ENTRIES)
"""What is entered of the unit there alone."""

HEADS: Final = (
    "title",
    "appliance",
    "household",
    REPAIR,
    REPLACE,
    LEAVE,
    WITHOUT,
    "carbon",
    "ranges",
    SCENARIO,
    SECOND,
)
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
    today: datetime.date = field(default_factory=datetime.date.today)
    replacements: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    """What is entered of each thing to buy, by its path."""
    failures: tuple[float | None, int] = (None, 1)
    """How often the unit there has failed, today included, None where not known; and how many faults it has today."""
    cycles: float | None = None
    """Runs a year, where they were entered for the unit there."""
    runs: float = 1.0
    """The household's use over the usual, where its runs or its people were entered."""
    people: float | None = None
    used_there: dict[str, tuple[float, UsualUse, float]] = field(default_factory=dict)
    """Flows that the unit there was said or measured to have, each with what would be usual, and its age."""
    carried: list[str] = field(default_factory=list)
    """Inputs of units to be bought that follow from these."""
    doubts: dict[str, list[tuple[str, float, float, float, Estimate]]] = field(default_factory=dict)
    """By flow: inputs that hang on what older units used as new, each with low, value, high and the row behind."""
    claim: dict[str, float] = field(default_factory=dict)
    paid_from: dict[str, tuple[str, float]] = field(default_factory=dict)
    """By the path of an option, what it is paid from and the yearly rate of that as lenders state it."""
    food_spoils: bool = True
    """Whether the fault stops the cooling; a fault that is not known counts as one that does not."""

    def filled(self) -> Filled:
        """The complete case; `EntryErrors` lists all that cannot be used."""
        schema = self.entries.get("schema", SCHEMA)
        if not is_number(schema) or schema not in range(1, SCHEMA + 1):  # its other errors would only mislead
            wanted = "must be 1 to {most}; a newer Mendpoint reads newer case files, got {got!r}"
            raise EntryErrors([CaseError("schema", wanted, SCHEMA, schema)])
        self.refuse_unknown("", self.entries, ("schema", *HEADS))
        scenarios_of(self.entries, self.errors)
        there, home = self.table(self.entries, "", "appliance"), self.table(self.entries, "", "household")
        self.today, self.people = self._today(home), self.numbers("household", home, OF_THE_HOME).get("people")
        place, self.region = self._place(home)
        kind, fault = self._kind(there), str(there.get("fault", "other"))
        cautions = outcome_of(self, there, self.table(self.entries, "", REPAIR))
        second = second_fault_of(there)
        for each in (fault, second):
            try:
                found = self.reference.cautions(kind.kind, each, place, self._made(there)) if kind and each else ()
                cautions += tuple(caution for caution in found if caution not in cautions)
            except CaseError as unknown:
                as_second = CaseError("appliance.second_fault", unknown.message)
                self.errors.append(unknown if each == fault else as_second)
        known = [self.reference.known_faults[each] for each in (fault, second) if each in self.reference.known_faults]
        self.food_spoils = any(each.spoils_food for each in known)
        # an unknown class is an error already; the rest is still read, against any class, so that all errors show
        kind = kind or self.reference.classes(self.region)[0]
        self.failures, self.replacements = failures_of(self, there), self._replacements(kind)
        at_end = self._at_end(home, kind)
        appliance = self._appliance("appliance", there, kind)
        options = [self._option(REPAIR, REPAIR, self.table(self.entries, "", REPAIR), kind)]
        for path, entry in self.replacements.items():
            bought = self.table(entry, path, "appliance")
            sold_as = self._kind(bought, f"{path}.appliance") if "class" in bought else kind
            bought = {"age": 0, **self._same_runs(bought), **bought}
            made = self._appliance(f"{path}.appliance", bought, sold_as or kind)
            options.append(self._option(path, REPLACE, entry, sold_as or kind, made))
        for_a_stay, used = at_end in (LEAVE_BEHIND, SELL), -1
        if for_a_stay and kind.sold_used(self.region) and not any(map(self.is_used, self.replacements.values())):
            used = len(options)
            options.append(self._used(kind))
        stops = any(each.stops(kind.kind) for each in known)
        options += self._left_or_done_without(kind, stops, for_a_stay, "landlord" in home)
        options = self._with_warranty_left(appliance, options, kind)
        household = self._household(home, place, appliance, options, at_end)
        carbon = self._carbon()
        if self.errors:
            raise EntryErrors(self.errors)
        food = max(float(option.food_loss_at_later_failures) for option in options)
        upkeep = Upkeep(self, household, options[0], food, self._cost_of_new)
        appliance, kept, bills = upkeep.of(appliance, options, self.failures)
        if used > 0:
            kept = upkeep.with_what_is_hidden(appliance, kept, used)
        case = Case(
            appliance=appliance,
            household=household,
            options=kept,
            prohibitions=tuple(Prohibition(action=stop, caution=c.id) for c in cautions for stop in c.prohibits),
            title=str(self.entries.get("title", "")),
            fault=fault,
            second_fault=second,
            by_age=self.by_age,
        )
        ranges = entered_ranges(self.entries.get("ranges", {}), case)
        named = {path for entered in ranges for path in entered.paths}
        ranges = (*ranges, *_of_what_was_derived(self.derived, named), *self._range_of_condition(case, named))
        return Filled(
            case=case,
            defaults=tuple(self.defaults),
            cautions=cautions,
            entered_ranges=ranges,
            carried=tuple(self.carried),
            of_the_year=tuple(self._doubts_of_the_year(named)),
            derived=tuple(self.derived),
            findings=tuple(self.findings),
            carbon=carbon,
            remarks=self._remarks(case, kind, place),
            another_bill=bills,
            today=self.today,
        )

    def _doubts_of_the_year(self, named: Collection[str]) -> Iterator[Range]:
        """One range for each flow that hangs on the year of manufacture."""
        for moved in self.doubts.values():
            kept = [each for each in moved if each[0] not in named]
            if kept:
                paths, lows, values, highs, bases = zip(*kept, strict=True)
                yield Range(paths=paths, lows=lows, values=values, highs=highs, source=cited(bases[0]))

    def _today(self, home: Mapping[str, Any]) -> datetime.date:
        """The day on which it is asked: as entered, or by this computer's clock."""
        day = home.get("today", self.today)
        try:
            return day if isinstance(day, datetime.date) else datetime.date.fromisoformat(day)
        except (TypeError, ValueError):
            self.refuse("household.today", "must be a day, such as 2026-11-30, got {got!r}", day)
            return self.today

    def _made(self, there: Mapping[str, Any]) -> float | None:
        """Year of manufacture: that of the label, else by the age; None where neither can be used. [year]"""
        year, age = _label_year(there), there.get("age")
        if year is None and age is not None and is_number(age):
            return self.today.year - float(age)
        return year

    def _remarks(self, case: Case, kind: ApplianceClass, place: str) -> Remarks:
        """What is to be said of the entries: an age beyond the data or within a guarantee, and what the fault costs."""
        reach, times = (
            self.reference.needed(name, kind.kind, self.region).value for name in ("life_beyond_data", "quote_unusual")
        )
        promised = self.reference.promised("guarantee", kind.kind, place)
        guarantee = 0.0 if promised is None else promised.value
        usual = [usual_quote(kind.kind, each, self.region, self.reference) for each in case.faults]
        return Remarks(
            beyond_data=float(case.appliance.age) > reach * float(case.appliance.mean_life),
            guarantee=guarantee,
            usual=None if None in usual else sum_of(filter(None, usual)),
            far=times,
            claim=self._claim(case, kind, guarantee),
        )

    def _range_of_condition(self, case: Case, named: Collection[str]) -> Iterator[Range]:
        """A condition that was entered is judged by eye: it has the doubt of one that is called good."""
        path, value = f"{REPAIR}.remaining_life_factor", float(case.repair.remaining_life_factor)
        if path in named or any(default.field == path for default in self.defaults):
            return
        good, bounds = self.reference.usual("condition_good", self.region), numbers_of(Option)["remaining_life_factor"]
        less, more = (float(end or good.value) - good.value for end in (good.low, good.high))
        low, high = max(bounds.low, value + less), min(bounds.high, value + more)
        yield Range(paths=(path,), lows=(low,), values=(value,), highs=(high,), source=cited(good))

    def _claim(self, case: Case, kind: ApplianceClass, guarantee: float) -> ClaimTerms | None:
        """Who may owe the repair: the shop of the last one, the seller by law, the maker as entered or as is usual."""
        usual = None if "warranty_left" in self.claim else self.reference.figure("warranty_new", kind.kind, self.region)
        left = {
            REPAIR_WARRANTY: math.nan if self.entries.get(REPAIR, {}).get("under_warranty") else 0.0,
            GUARANTEE: guarantee - float(case.appliance.age),
            WARRANTY: self.claim.get("warranty_left", 0.0),
            USUAL_WARRANTY: usual.value - float(case.appliance.age) if usual else 0.0,
        }
        by = next((by for by, years in left.items() if not years <= 0), None)
        if by is None:
            return None
        days = self.claim.get("claim_days", self.reference.needed("days_claim", kind.kind, case.household.region).value)
        longer = max(0.0, days - float(case.repair.days_without))
        waiting = longer * float(case.household.day_cost)
        return ClaimTerms(by, left[by], waiting, self.claim.get("claim_refused", 0.0))

    def _with_warranty_left(self, there: Appliance, options: Sequence[Option], kind: ApplianceClass) -> list[Option]:
        """The options, with what is left of the warranty of the unit there: until then later repairs cost nothing."""
        usual = self.reference.figure("warranty_new", kind.kind, self.region)
        entered = self.claim.get("warranty_left")
        if (usual is None and entered is None) or not is_number(there.age) or math.isnan(float(there.age)):
            return list(options)
        ends = WarrantyLeft(float(there.age) + entered if entered is not None else usual.value if usual else 0.0)
        left = float(ends(there.age))
        running = [option.action for option in options if option.action in (REPAIR, LEAVE)]
        for action in running:
            self.by_age[f"{action}.warranty"] = ends
            if left and entered is None and usual is not None:
                self.note(action, "warranty", left, usual, Message("{years:g} years, less its age", usual.value))
        return [replace(option, warranty=left) if option.action in running else option for option in options]

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
                template = "{place} lies in {region}, got {got}"
                self.refuse("household.region", template, place, known.region, home["region"])
            return known.place, known.region
        except CaseError as error:
            self.errors.append(error)
            return "US", "US"

    def _kind(self, table: Mapping[str, Any], path: str = "appliance") -> ApplianceClass | None:
        try:
            if "class" not in table:
                raise CaseError(f"{path}.class", "is needed; `mendpoint classes` lists all of them")
            kind = self.reference.kind(str(table["class"]))
            if self.region not in kind.regions:
                sold = ", ".join(k.kind for k in self.reference.classes(self.region))
                lacks = "{kind} has no figures for {region}; known there: {sold}"
                raise CaseError(f"{path}.class", lacks, kind.kind, self.region, sold)
            return kind
        except CaseError as error:
            self.refuse(f"{path}.class", error.message)
            return None

    def _replacements(self, kind: ApplianceClass) -> dict[str, Mapping[str, Any]]:
        listed = self.entries.get(REPLACE, [{}])
        if not isinstance(listed, list) or not listed or not all(isinstance(entry, dict) for entry in listed):
            self.refuse(REPLACE, "must be one or more tables, written [[replace]]")
            listed = [{}]
        if len(listed) > MOST_REPLACEMENTS:
            self.refuse(REPLACE, "must be {most} at most, got {got:,}", MOST_REPLACEMENTS, len(listed))
            listed = listed[:1]
        paths = [REPLACE if i == 0 else f"{REPLACE}.{i + 1}" for i in range(len(listed))]
        new = Message("New {label}", f"{kind.label[0].lower()}{kind.label[1:]}", kind=kind.kind)
        names = [new, *(Message("Replacement {n}", i + 1) for i in range(1, len(listed)))]
        return {path: {"name": name, **entry} for path, name, entry in zip(paths, names, listed, strict=True)}

    def _at_end(self, home: Mapping[str, Any], kind: ApplianceClass) -> str:
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
        behind = kind.stays_behind(self.region) or "landlord" in home
        return LEAVE_BEHIND if behind and not own else SELL

    def _used(self, kind: ApplianceClass) -> Option:
        """A used unit of the class as one more thing to buy: its price goes by the years that its age-mates have left.

        Those on sale failed and were mended, or were given up for what their buyer cannot see.
        """
        path = f"{REPLACE}.{len(self.replacements) + 1}"
        share, asked = (
            self.reference.needed(name, kind.kind, self.region) for name in ("used_age_share", "used_price_share")
        )
        life = self.reference.needed("mean_life", kind.kind, self.region).value
        of_life = Message("{share:g} x {life:g} years", share.value, life)
        age = self.note(f"{path}.appliance", "age", share.value * life, share, of_life)
        made = self._appliance(f"{path}.appliance", {"age": age}, kind)
        new, of = self._worth_of_new(kind)
        left = float(life_of(made).mean_residual_life(age) / life_of(made).mean_residual_life(0.0))
        # as of any that failed and was mended
        usual = self.reference.needed("hazard_ordinary", kind.kind, self.region)
        made = replace(made, hazard_ratio=self.note(f"{path}.appliance", "hazard_ratio", usual.value, usual))
        years = self.reference.needed("used_guarantee", kind.kind, self.region)
        rule = Message("{share:g} x {of} ({price:g}) x {left:.2f} of its years left", asked.value, of, new, left)
        price = self.note(path, "price", asked.value * left * new, asked, rule, "money")
        entry = {"name": Message("A used one"), "price": price, "appliance": {"age": age}}
        option = self._option(path, REPLACE, entry, kind, made)
        return replace(option, warranty=self.note(path, "warranty", years.value, years))

    def _left_or_done_without(
        self, kind: ApplianceClass, stops: bool, for_a_stay: bool, rented: bool
    ) -> Iterator[Option]:
        """Living with the fault while the unit does some of its work; a dead one is done without, at its loss of use.

        Whoever says how it runs says that it does, whatever such a fault usually means.
        For a stay, doing without is an option of its own in the classes that people can do without.
        """
        usual = self.reference.figure("doing_without", kind.kind, self.region)
        entered = self.table(self.entries, "", WITHOUT) if WITHOUT in self.entries else None
        if LEAVE in self.entries:
            left = self.table(self.entries, "", LEAVE)
            runs = bool({"energy_change", "remaining_life_factor", "planned_replacement_years"} & left.keys())
            if runs or not stops:
                yield self._option(LEAVE, LEAVE, left, kind)
            elif entered is not None:
                self.refuse(LEAVE, "cannot be: with this fault it does no work; [without] is doing without it")
            else:
                yield self._option(LEAVE, WITHOUT, left, kind)
                return
        if entered is not None or (for_a_stay and usual is not None and not rented):
            yield self._option(WITHOUT, WITHOUT, entered or {}, kind)

    def _worth_of_new(self, kind: ApplianceClass) -> tuple[float, str]:
        """Price of a new unit: the least that is given for one, or the class's.

        Of a price with its installation it is the part that the unit is in the class's.
        """
        figure, whole = self.reference.figure("price", kind.kind, self.region), self.reference.installed_price
        given: dict[str, float] = {}
        for path, entry in self.replacements.items():
            if is_number(entry.get("price")) and not self.is_used(entry):
                installed = whole(kind.kind, self.region) if self._is_installed_price(entry, kind) else None
                part = figure.value / installed.value if figure and installed else 1.0
                given[path] = part * float(entry["price"])
        if given:
            path = min(given, key=given.__getitem__)
            price, whole_price = f"{path}.price", self._is_installed_price(self.replacements[path], kind)
            return given[path], Message("the unit's part of {price}", price) if whole_price else price
        return (figure.value if figure else math.nan), Message("the class's price")

    def _is_installed_price(self, entry: Mapping[str, Any], kind: ApplianceClass) -> bool:
        """Whether a price that was entered has its installation in it: as entered, or as the class is sold."""
        if "price" not in entry:
            return False
        usual = self.region in kind.sold_installed and "installation" not in entry and not self.is_used(entry)
        return entry.get("price_includes_installation", usual) is True

    def _price_figure(self, path: str, table: Mapping[str, Any]) -> str:
        """The figure that a price left out is taken from, by the grade of the new unit."""
        name = "price_includes_installation"
        if self.flag(path, table, name) and "price" not in table:
            self.refuse(f"{path}.{name}", "is said of a price, and none is given")
        elif table.get(name) is True and "installation" in table:
            self.refuse(f"{path}.installation", "gives the same twice, with {other}", name)
        if "price" in table and "grade" in table:
            self.refuse(f"{path}.grade", "gives the same twice, with {other}", "price")
        return GRADES[self.choice(f"{path}.grade", table.get("grade", "usual"), GRADES)]

    @staticmethod
    def is_used(entry: Mapping[str, Any]) -> bool:
        """Whether a replacement is a used unit: one with an age."""
        appliance = entry.get("appliance", {})
        return isinstance(appliance, dict) and bool(appliance.get("age"))

    # the nouns of a case

    def _appliance(self, path: str, table: Mapping[str, Any], kind: ApplianceClass) -> Appliance:
        numbers = numbers_of(Appliance)
        extra = ("class", "label", "meter", *OTHER_ENERGY, *(OF_THE_UNIT_THERE if path == "appliance" else ()))
        self.refuse_unknown(path, table, (*numbers, *extra))
        if path == "appliance":
            self.claim |= self.numbers(path, table, CLAIM_ENTRIES)
            table = self._with_runs_of_people(table, kind)
        flows, findings = entered_use(self, path, table, kind)
        self.findings += findings
        given = {**self.numbers(path, table, numbers), **flows}
        drift = ("efficiency_degradation_rate", "efficiency_degradation_cap")
        for name in ("mean_life", *drift, "life_shape", "failure_free_years"):
            if name not in given:
                given[name] = self.default(path, name, name, kind.kind)
        usual_runs, runs = self.reference.figure("cycles", kind.kind, self.region), table.get("cycles")
        if path == "appliance" and usual_runs is not None and is_number(runs) and CYCLES.admits(runs):  # type: ignore[arg-type]
            self.cycles = float(runs)  # type: ignore[arg-type]
            self.runs = self.cycles / usual_runs.value  # they are the household's, whatever it runs
        made = _label_year(table) if given.get("age") else None
        # entered or measured, and not taken from a label, which tells nothing of the household
        labelled = {each.field for each in self.derived if each.way not in MEASURED}
        for name in FLOWS:
            if name not in kind.fuels:
                given.setdefault(name, 0.0)
                continue
            usual = self._usual_use(name, kind, given, made)
            if name not in given:
                given[name] = self._consumption(path, name, kind, given, usual)
            elif path == "appliance" and f"{path}.{name}" not in labelled and min(given[name], usual.new) > 0:
                self.used_there[name] = given[name], usual, given.get("age", 0.0)
        later = later_bills(kind.kind, self.region, self.reference)
        if path == "appliance" and "hazard_ratio" not in given:
            given["hazard_ratio"], by_age = hazard_ratio(self, table, kind, given, self.failures)
            self.by_age |= {} if by_age is None else {"appliance.hazard_ratio": by_age}
        if "later_repair_median" not in given:
            given["later_repair_median"] = self._quote_median(path, kind, later)
        if "later_repair_log_sd" not in given:
            own = self.reference.figure("later_repair_log_sd", kind.kind, self.region) or later.spread
            given["later_repair_log_sd"] = self.note(path, "later_repair_log_sd", own.value, own)
        if "age" not in given:
            self.errors.append(Needed(f"{path}.age", numbers["age"]))
        return _built(Appliance, given, kind=kind.kind)

    def _with_runs_of_people(self, table: Mapping[str, Any], kind: ApplianceClass) -> Mapping[str, Any]:
        """The entries with the runs that so many people make; what runs by itself goes by them at once.

        Part of a household's use goes with its people, the rest does not. Runs that were entered tell more, and a
        label counts its own.
        """
        share = self.reference.figure("people_share", kind.kind, self.region)
        if share is None or self.people is None or not math.isfinite(self.people) or {"cycles", "label"} & set(table):
            return table
        part = replace(share, low=None, high=None)  # that of the use itself is how homes differ
        usual = self.reference.needed("people", kind.kind, self.region).value
        self.runs = 1.0 + self.note("household", "people_share", part.value, part) * (self.people / usual - 1.0)
        runs = self.reference.figure("cycles", kind.kind, self.region)
        return table if runs is None else {**table, "cycles": runs.value * self.runs}

    def _same_runs(self, bought: Mapping[str, Any]) -> dict[str, float]:
        """The runs of the unit there, for what counts by the run of one to be bought; a yearly print counts its own."""
        label = bought.get("label")
        by_the_run = isinstance(label, Mapping) and "kwh_per_year" not in label
        by_the_run = by_the_run or bool({"electricity_per_cycle", "electricity_per_100_cycles"} & set(bought))
        return {"cycles": self.cycles} if by_the_run and self.cycles is not None else {}

    def _usual_use(self, name: str, kind: ApplianceClass, given: Mapping[str, float], made: float | None) -> UsualUse:
        """What units of the class use by age, for the household's own runs."""
        new, homes = (
            self.reference.needed(f"{name}_{state}", kind.kind, self.region) for state in ("new", "installed")
        )
        return UsualUse(
            new=new.value * self.runs,
            most=max(1.0, (homes.value if homes.high is None else homes.high) / new.value),
            vintage=self.reference.vintages.get((kind.kind, self.region, name)),
            drift=(given["efficiency_degradation_rate"], given["efficiency_degradation_cap"]),
            now=float(self.today.year),
            made=made,
        )

    def _consumption(
        self, path: str, name: str, kind: ApplianceClass, given: Mapping[str, float], usual: UsualUse
    ) -> float:
        """The class's use by year of manufacture and age; of a unit to be bought, as that of the one there says."""
        figure = self.reference.needed(f"{name}_new", kind.kind, self.region)
        age, where = given.get("age", 0.0), f"{path}.{name}"
        value, ratio, risen = float(usual(age)), float(usual.ratio(age)), float(usual.risen(age))
        if path != "appliance" and name in self.used_there:
            entered, there, old = self.used_there[name]
            carried = "{usual:g} as usual, times {entered:g} over {there:g}: what the one there uses over what is usual"
            rule = Message(carried, value, entered, float(there(old)))
            self.by_age[where] = CarriedUse(value, entered, there)
            self.carried.append(where)
            value *= entered / float(there(old))
            self._doubt(name, where, value, there, old, against=True)
            return self.note(path, name, value, replace(figure, low=None, high=None), rule)
        if path == "appliance":
            self.by_age[where] = usual
        self._doubt(name, where, value, usual, age)
        if ratio * risen == 1:
            runs = Message("times {runs:.3g}, as much as this home uses it", self.runs) if self.runs != 1 else ""
            return self.note(path, name, value, figure, runs)
        by_year = "{new:g} if made now, times {ratio:.3g} as made in {made:.0f} and {risen:.3g} for its age"
        rule = Message(by_year, usual.new, ratio, float(usual.year(age)), risen)
        if usual.new * ratio * risen > value + CENT:
            in_homes = (
                "at most {most:g}, as in homes: {new:g} if made now, times {ratio:.3g} by year and {risen:.3g} by age"
            )
            rule = Message(in_homes, value, usual.new, ratio, risen)
        return self.note(path, name, value, figure, rule)

    def _doubt(self, name: str, where: str, value: float, usual: UsualUse, age: float, against: bool = False) -> None:
        """Note how far a flow may be off by what units of the year used as new; `against`: it was divided by that."""
        ratio = float(usual.ratio(age))
        if usual.vintage is None or not (ratio > 1 and value > 0):
            return
        wide = usual.vintage.doubt(float(usual.year(age)))
        low, high = (value / (1 + wide), value / (1 - wide)) if against else (value * (1 - wide), value * (1 + wide))
        self.doubts.setdefault(name, []).append((where, low, value, high, usual.vintage.basis(float(usual.year(age)))))

    def _cost_of_new(self, kind: ApplianceClass) -> float:
        """What a new unit costs in its place: the least price given or the class's, with tax, delivery and the rest."""
        price, _ = self._worth_of_new(kind)
        found = (self.reference.figure(name, kind.kind, self.region) for name in TO_INSTALL)
        tax = self.reference.figure("sales_tax", kind.kind, self.region)
        return price * (1 + (tax.value if tax else 0.0)) + sum(figure.value for figure in found if figure)

    def _quote_median(self, path: str, kind: ApplianceClass, later: LaterBills) -> float:
        """Median of later bills; by a shop's own records it is a share of the price of a new unit."""
        share = self.reference.figure("quote_share", kind.kind, self.region)
        if share is None:
            return self.note(path, "later_repair_median", later.median.value, later.median)
        price, of = self._worth_of_new(kind)
        rule = Message("{share:g} x {of} ({price:g})", share.value, of, price)
        return self.note(path, "later_repair_median", share.value * price, share, rule, "money")

    def _option(
        self, path: str, action: str, table: Mapping[str, Any], kind: ApplianceClass, appliance: Appliance | None = None
    ) -> Option:
        numbers = {name: bounds for name, bounds in numbers_of(Option).items() if name in ENTERED_WITH[action]}
        self.refuse_unknown(path, table, (*numbers, "name", *ENTERED_BESIDE[action]))
        given = self.numbers(path, table, numbers)
        self.flag(path, table, "under_warranty")
        given |= self._financed(path, table, given)
        used = action == REPLACE and self.is_used(table)
        installed = action == REPLACE and self._is_installed_price(table, kind)
        figures = dict(FIGURES[action])
        if action == REPLACE:
            figures["price"] = self._price_figure(path, table)
            if "food_loss" in given:
                given.setdefault("food_loss_at_later_failures", given["food_loss"])
        # no table knows what a used unit costs, and it comes without a maker's warranty; whoever lives with a dead one
        # says what that costs; where it goes on cooling, what fails later may not
        unknown = (*(("tax_rate", *TO_INSTALL) if installed else ()), *(("price", "warranty") if used else ()))
        unknown += (() if self.food_spoils else ("food_loss",)) + (tuple(figures) if path == LEAVE else ())
        for name, quantity in figures.items():
            if name in unknown:
                continue
            if name not in given and self.reference.figure(quantity, kind.kind, self.region) is not None:
                given[name] = self.default(path, name, quantity, kind.kind)
        for name in ("price",) if used else ("annual_loss_of_use",) if action in (LEAVE, WITHOUT) else ():
            if name not in given:
                self.errors.append(Needed(f"{path}.{name}", numbers[name]))
        name = table.get("name", USUAL_NAMES.get(action, ""))
        quote = self._quote(f"{path}.quote", table["quote"], kind) if "quote" in table else None
        if action == REPAIR and given.get("financed", 0.0) > (quote.total - quote.fee_credit if quote else 0.0):
            self.refuse(f"{path}.financed", "must not be more than what is left to pay")
        return _built(
            Option,
            given,
            name=name if isinstance(name, Message) else str(name),
            action=action,
            appliance=appliance,
            price_includes_installation=installed,
            sold_installed=action == REPLACE and not used and self.region in kind.sold_installed,
            quote=quote,
        )

    def _financed(self, path: str, table: Mapping[str, Any], given: Mapping[str, float]) -> dict[str, float]:
        """What comes of saying what an option is paid from: all of it is lent, unless from savings."""
        if "pays" not in table:
            return {}
        pays = self.choice(f"{path}.pays", table["pays"], PAYS)
        if "financed" in table:
            self.refuse(f"{path}.pays", "gives the same twice, with {other}", "financed")
        found = {} if pays == SAVINGS else {"financed_share": 1.0}
        for name, quantity in (("loan_rate", PAYS[pays]), ("loan_years", "loan_years_usual")) if found else ():
            found[name] = given[name] if name in given else self.default(path, name, quantity)
        self.paid_from[path] = pays, found.get("loan_rate", 0.0)
        return found

    def _rate(self, unsaid: str, inflation: float) -> float:
        """Real discount rate: that of what the repair is paid from; unsaid, of what the new one is."""
        if not self.paid_from:
            return self.default("household", "rate", unsaid)
        pays, nominal = self.paid_from[REPAIR if REPAIR in self.paid_from else next(iter(self.paid_from))]
        if pays == SAVINGS:
            return self.default("household", "rate", "discount_rate")
        real = (1 + nominal / 12) ** 12 / (1 + inflation) - 1
        figure = self.reference.usual(PAYS[pays], self.region)
        if figure.value != nominal:  # entered with it
            return real
        rule = Message("{rate:.4g} a year, month by month, less inflation", nominal)
        return self.note("household", "rate", real, figure, rule)

    def _quote(self, path: str, quote: object, kind: ApplianceClass) -> Quote:
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
            given["labour_rate"] = self.default(path, "labour_rate", "labour_rate", kind.kind)
        return _built(Quote, given)

    def _household(
        self, home: Mapping[str, Any], place: str, there: Appliance, options: Sequence[Option], at_end: str
    ) -> Household:
        numbers = numbers_of(Household)
        self.refuse_unknown("household", home, (*numbers, *OF_THE_HOUSEHOLD, "landlord", *ENERGY_WAYS))
        given: dict[str, Any] = self.numbers("household", home, numbers)
        if at_end == TAKE_ALONG:
            given.pop("study_period", None)  # it goes on serving elsewhere: a need without end
        if at_end == SELL and "resale_share" not in given:
            given["resale_share"] = self.default("household", "resale_share", "resale_share")
        for fuel in ENERGY_AND_WATER:
            if self._given_once(home, f"{fuel}_tariff", f"{fuel}_price"):
                given |= self._tariff(home, fuel, CURRENCIES[self.region], there, options)
        figures = dict(FIGURES["household"])
        if "landlord" in home:
            figures["rate"] = "discount_rate"  # rented out, it is an investment
        if at_end == TAKE_ALONG or "study_period" in home or "landlord" in home:
            del figures["leaving_rate"]  # when it ends is known, or it goes along
        for name, quantity in figures.items():
            if name not in given and name != "rate":
                given[name] = self.default("household", name, quantity)
        if "rate" not in given:
            given["rate"] = self._rate(figures["rate"], given["inflation"])
        elif REPAIR in self.paid_from:
            self.refuse("household.rate", "gives the same twice, with {other}", f"{REPAIR}.pays")
        burnt = self.choice("household.gas_kind", home.get("gas_kind", NATURAL_GAS), GASES)
        burn_gas = any(float(unit.gas) for unit in (there, *(option.appliance or there for option in options)))
        for fuel in ENERGY:
            if f"{fuel}_price" not in given:
                sold = PROPANE if fuel == "gas" and burnt == PROPANE and burn_gas else fuel
                given[f"{fuel}_price"] = self._usual_price(fuel, sold, place)
        given["landlord"] = landlord_of(self, home)
        return _built(
            Household, given, region=self.region, place=place, currency=CURRENCIES[self.region], gas_kind=burnt
        )

    def _usual_price(self, fuel: str, sold: str, place: str) -> float:
        """The average price less the part of it that does not move with use, such as standing charges."""
        if (self.region, sold) not in self.reference.energy_prices:
            self.errors.append(Needed(f"household.{fuel}_price", numbers_of(Household)[f"{fuel}_price"]))
            return math.nan
        average = self.reference.energy_price(place, sold)
        moving = self.reference.figure(f"{sold}_marginal", ANY, self.region) if sold == fuel else None
        own = (place, sold) in self.reference.energy_prices
        values = {"stands_for": "" if own else place, "period": average.price_year}
        if moving is None:
            return self.note("household", f"{fuel}_price", average.value, average, **values)
        source, value = f"{average.source.citation}, {average.price_year}", moving.value * average.value
        rule = Message("{share:g} x the average price ({source})", moving.value, source)
        return self.note("household", f"{fuel}_price", value, moving, rule, average.unit, **values)

    def _given_once(self, home: Mapping[str, Any], name: str, other: str) -> bool:
        """Whether an entry is there; an error where its simple form is there too."""
        if name in home and other in home:
            self.refuse(f"household.{name}", "gives the same twice, with {other}", other)
        return name in home

    def _tariff(
        self, home: Mapping[str, Any], fuel: str, currency: str, there: Appliance, options: Sequence[Option]
    ) -> dict[str, Any]:
        """Price of a fuel and its steps from a tariff, for the unit there and for what each option draws."""
        from .household_tariff import tariff_price  # here: slow to load, and seldom given

        appliances = [there, *(option.appliance or there for option in options)]
        changes = [0.0, *(option.energy_change if fuel in ENERGY else 0.0 for option in options)]
        flows = [
            float(getattr(appliance, fuel)) * (1 + float(by)) for appliance, by in zip(appliances, changes, strict=True)
        ]
        before, table = len(self.errors), self.table(home, "household", f"{fuel}_tariff")
        found = tariff_price(self, fuel, table, flows, currency) if len(self.errors) == before else None
        return {} if found is None else dict(zip((f"{fuel}_price", f"{fuel}_steps"), found, strict=True))


def _label_year(there: Mapping[str, Any]) -> float | None:
    """Year of manufacture on a label; None where none was entered or it cannot be used. [year]"""
    label = there.get("label")
    year = label.get("year") if isinstance(label, Mapping) else None
    return float(year) if year is not None and is_number(year) else None


def _of_what_was_derived(derived: Sequence[Derived], named: Collection[str]) -> Iterator[Range]:
    """What labels and meters say that inputs may be instead, but for those named."""
    for each in derived:
        if each.low is not None and each.high is not None and each.low < each.high and each.field not in named:
            source = "; ".join((each.way, *(f"{basis.source}, {basis.locator}" for basis in each.bases)))
            ends = (float(each.low),), (each.value,), (float(each.high),)
            yield Range(paths=(each.field,), lows=ends[0], values=ends[1], highs=ends[2], source=source)


def _built(noun: type, given: Mapping[str, float], **words: Any) -> Any:
    """Build a noun from what is given; an input that is missing was reported, and stands as NaN until then."""
    needed = {item.name: math.nan for item in fields(noun) if "bounds" in item.metadata and item.default is MISSING}
    return noun(**{**needed, **given, **words})
