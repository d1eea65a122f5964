"""What nobody entered, filled from the tables, with every error and every default noted on the way.

A default follows the entries where it has to: consumption goes by the year of manufacture, the age, and what was said
of the unit there, upkeep by the failures and bills of the class up to what a new unit costs, a delay by the mean life,
the price of energy by the part that moves with use.
"""

import datetime
import functools
import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any, Final

from ...economics.case import REPAIR, REPLACE, Case, Option, Prohibition
from ...economics.uncertainty import Range
from ...errors import CaseError, EntryErrors
from ..tables.tables import ApplianceClass
from ..tables.usual_bills import sum_of, usual_quote
from .filled import GUARANTEE, REPAIR_WARRANTY, USUAL_WARRANTY, WARRANTY, ClaimTerms, Filled, Remarks, outcome_of
from .parts.appliances import appliance_of, cost_of_new, is_used, kind_of, label_year, same_runs
from .parts.entries import HEADS, LEAVE_BEHIND, OF_THE_HOME, SCHEMA, SELL, Draft
from .parts.households import at_end_of, household_of, place_of
from .parts.options import left_or_done_without, option_of, replacements_of, used_option, with_warranty_left
from .ranges import cited, entered_ranges
from .reading import Derived, is_number, numbers_of
from .scenarios import scenarios_of
from .upkeep import Upkeep, failures_of, second_fault_of

CONDITION: Final = f"{REPAIR}.remaining_life_factor"


class Completing(Draft):
    """Completes a case from its entries."""

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
        place, self.region = place_of(self, home)
        kind, fault = kind_of(self, there), str(there.get("fault", "other"))
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
        self.failures, self.replacements = failures_of(self, there), replacements_of(self, kind)
        at_end = at_end_of(self, home, kind)
        appliance = appliance_of(self, "appliance", there, kind)
        options = [option_of(self, REPAIR, REPAIR, self.table(self.entries, "", REPAIR), kind)]
        for path, entry in self.replacements.items():
            bought = self.table(entry, path, "appliance")
            sold_as = kind_of(self, bought, f"{path}.appliance") if "class" in bought else kind
            bought = {"age": 0, **same_runs(self, bought), **bought}
            made = appliance_of(self, f"{path}.appliance", bought, sold_as or kind)
            options.append(option_of(self, path, REPLACE, entry, sold_as or kind, made))
        for_a_stay, used = at_end in (LEAVE_BEHIND, SELL), -1
        if for_a_stay and kind.sold_used(self.region) and not any(map(is_used, self.replacements.values())):
            used = len(options)
            options.append(used_option(self, kind))
        stops = any(each.stops(kind.kind) for each in known)
        options += left_or_done_without(self, kind, stops, for_a_stay, "landlord" in home)
        options = with_warranty_left(self, appliance, options, kind)
        household = household_of(self, home, place, appliance, options, at_end)
        carbon = self._carbon()
        if self.errors:
            raise EntryErrors(self.errors)
        food = max(float(option.food_loss_at_later_failures) for option in options)
        upkeep = Upkeep(self, household, options[0], food, functools.partial(cost_of_new, self))
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
        year, age = label_year(there), there.get("age")
        if year is None and age is not None and is_number(age):
            return self.today.year - float(age)
        return year

    def _remarks(self, case: Case, kind: ApplianceClass, place: str) -> Remarks:
        """What is to be said of the entries: an age beyond the data or within a guarantee, and what the fault costs."""
        names = ("life_beyond_data", "quote_unusual", "late_age", "large_bill")
        reach, times, late, large = (self.reference.needed(name, kind.kind, self.region).value for name in names)
        lives = float(case.appliance.age) / float(case.appliance.mean_life)
        promised = self.reference.promised("guarantee", kind.kind, place)
        guarantee = 0.0 if promised is None else promised.value
        usual = [usual_quote(kind.kind, each, self.region, self.reference) for each in case.faults]
        return Remarks(
            beyond_data=lives > reach,
            guarantee=guarantee,
            usual=None if None in usual else sum_of(filter(None, usual)),
            far=times,
            look_from=large if lives >= late and self._condition_is_open() else math.inf,
            claim=self._claim(case, kind, guarantee),
        )

    def _condition_is_open(self) -> bool:
        return any(default.field == CONDITION for default in self.defaults)

    def _range_of_condition(self, case: Case, named: Collection[str]) -> Iterator[Range]:
        """A condition that was entered is judged by eye: it has the doubt of one that is called good."""
        if CONDITION in named or self._condition_is_open():
            return
        value = float(case.repair.remaining_life_factor)
        good, bounds = self.reference.usual("condition_good", self.region), numbers_of(Option)["remaining_life_factor"]
        less, more = (float(end or good.value) - good.value for end in (good.low, good.high))
        low, high = max(bounds.low, value + less), min(bounds.high, value + more)
        yield Range(paths=(CONDITION,), lows=(low,), values=(value,), highs=(high,), source=cited(good))

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

    def _carbon(self) -> Mapping[str, float]:
        """What was entered about carbon; the rest is filled when it is asked for."""
        table = self.table(self.entries, "", "carbon")
        if not table:
            return {}
        from ...economics.carbon import CARBON_ENTRIES  # here, since it is slow to load and seldom entered

        self.refuse_unknown("carbon", table, tuple(CARBON_ENTRIES))
        return self.numbers("carbon", table, CARBON_ENTRIES)


def _of_what_was_derived(derived: Sequence[Derived], named: Collection[str]) -> Iterator[Range]:
    """What labels and meters say that inputs may be instead, but for those named."""
    for each in derived:
        if each.low is not None and each.high is not None and each.low < each.high and each.field not in named:
            source = "; ".join((each.way, *(f"{basis.source}, {basis.locator}" for basis in each.bases)))
            ends = (float(each.low),), (each.value,), (float(each.high),)
            yield Range(paths=(each.field,), lows=ends[0], values=ends[1], highs=ends[2], source=source)
