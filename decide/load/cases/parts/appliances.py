"""The unit there and those to be bought: their class, their use, their lives and their later bills."""

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from ....economics.case import CENT, Appliance
from ....errors import CaseError, Message
from ...tables.tables import ApplianceClass
from ...tables.usual_bills import LaterBills, later_bills
from ..consumption import FLOWS, MEASURED, OTHER_ENERGY, CarriedUse, UsualUse, entered_use
from ..reading import CYCLES, Needed, is_number, numbers_of
from ..upkeep import hazard_ratio
from .draft import Draft, built
from .entries import CLAIM_ENTRIES, OF_THE_UNIT_THERE
from .new_price import worth_of_new


def kind_of(draft: Draft, table: Mapping[str, Any], path: str = "appliance") -> ApplianceClass | None:
    """The class that is named; None, and an error noted, where it is none that the place has."""
    try:
        if "class" not in table:
            raise CaseError(f"{path}.class", "is needed; `mendpoint classes` lists all of them")
        kind = draft.reference.kind(str(table["class"]))
        if draft.region not in kind.regions:
            sold = ", ".join(k.kind for k in draft.reference.classes(draft.region))
            lacks = "{kind} has no figures for {region}; known there: {sold}"
            raise CaseError(f"{path}.class", lacks, kind.kind, draft.region, sold)
        return kind
    except CaseError as error:
        draft.refuse(f"{path}.class", error.message)
        return None


def appliance_of(draft: Draft, path: str, table: Mapping[str, Any], kind: ApplianceClass) -> Appliance:
    """The unit there, or one to be bought, from what is entered of it; the rest by its class."""
    numbers = numbers_of(Appliance)
    extra = ("class", "label", "meter", *OTHER_ENERGY, *(OF_THE_UNIT_THERE if path == "appliance" else ()))
    draft.refuse_unknown(path, table, (*numbers, *extra))
    if path == "appliance":
        draft.claim |= draft.numbers(path, table, CLAIM_ENTRIES)
        table = _with_runs_of_people(draft, table, kind)
    flows, findings = entered_use(draft, path, table, kind)
    draft.findings += findings
    given = {**draft.numbers(path, table, numbers), **flows}
    drift = ("efficiency_degradation_rate", "efficiency_degradation_cap")
    for name in ("mean_life", *drift, "life_shape", "failure_free_years"):
        if name not in given:
            given[name] = draft.default(path, name, name, kind.kind)
    usual_runs, runs = draft.reference.figure("cycles", kind.kind, draft.region), table.get("cycles")
    if path == "appliance" and usual_runs is not None and is_number(runs) and CYCLES.admits(runs):  # type: ignore[arg-type]
        draft.cycles = float(runs)  # type: ignore[arg-type]
        draft.runs = draft.cycles / usual_runs.value  # they are the household's, whatever it runs
    _fill_flows(draft, path, table, kind, given)
    later = later_bills(kind.kind, draft.region, draft.reference)
    if path == "appliance" and "hazard_ratio" not in given:
        given["hazard_ratio"], by_age = hazard_ratio(draft, table, kind, given, draft.failures)
        draft.by_age |= {} if by_age is None else {"appliance.hazard_ratio": by_age}
    if "later_repair_median" not in given:
        given["later_repair_median"] = _quote_median(draft, path, kind, later)
    if "later_repair_log_sd" not in given:
        own = draft.reference.figure("later_repair_log_sd", kind.kind, draft.region) or later.spread
        given["later_repair_log_sd"] = draft.note(path, "later_repair_log_sd", own.value, own)
    if "age" not in given:
        draft.errors.append(Needed(f"{path}.age", numbers["age"]))
    return built(Appliance, given, kind=kind.kind)


def _fill_flows(
    draft: Draft, path: str, table: Mapping[str, Any], kind: ApplianceClass, given: dict[str, float]
) -> None:
    """What it uses a year, where nobody entered it; and what the unit there was said to use, for those to be bought."""
    made = label_year(table) if given.get("age") else None
    # entered or measured, and not taken from a label, which tells nothing of the household
    labelled = {each.field for each in draft.derived if each.way not in MEASURED}
    for name in FLOWS:
        if name not in kind.fuels:
            given.setdefault(name, 0.0)
            continue
        usual = _usual_use(draft, name, kind, given, made)
        if name not in given:
            given[name] = _consumption(draft, path, name, kind, given, usual)
        elif path == "appliance" and f"{path}.{name}" not in labelled and min(given[name], usual.new) > 0:
            draft.used_there[name] = given[name], usual, given.get("age", 0.0)


def same_runs(draft: Draft, bought: Mapping[str, Any]) -> dict[str, float]:
    """The runs of the unit there, for what counts by the run of one to be bought; a yearly print counts its own."""
    label = bought.get("label")
    by_the_run = isinstance(label, Mapping) and "kwh_per_year" not in label
    by_the_run = by_the_run or bool({"electricity_per_cycle", "electricity_per_100_cycles"} & set(bought))
    return {"cycles": draft.cycles} if by_the_run and draft.cycles is not None else {}


def _with_runs_of_people(draft: Draft, table: Mapping[str, Any], kind: ApplianceClass) -> Mapping[str, Any]:
    """The entries with the runs that so many people make; what runs by itself goes by them at once.

    Part of a household's use goes with its people, the rest does not. Runs that were entered tell more, and a
    label counts its own.
    """
    share = draft.reference.figure("people_share", kind.kind, draft.region)
    if share is None or draft.people is None or not math.isfinite(draft.people) or {"cycles", "label"} & set(table):
        return table
    part = replace(share, low=None, high=None)  # that of the use itself is how homes differ
    usual = draft.reference.needed("people", kind.kind, draft.region).value
    draft.runs = 1.0 + draft.note("household", "people_share", part.value, part) * (draft.people / usual - 1.0)
    runs = draft.reference.figure("cycles", kind.kind, draft.region)
    return table if runs is None else {**table, "cycles": runs.value * draft.runs}


def _usual_use(
    draft: Draft, name: str, kind: ApplianceClass, given: Mapping[str, float], made: float | None
) -> UsualUse:
    """What units of the class use by age, for the household's own runs."""
    new, homes = (draft.reference.needed(f"{name}_{state}", kind.kind, draft.region) for state in ("new", "installed"))
    return UsualUse(
        new=new.value * draft.runs,
        most=max(1.0, (homes.value if homes.high is None else homes.high) / new.value),
        vintage=draft.reference.vintages.get((kind.kind, draft.region, name)),
        drift=(given["efficiency_degradation_rate"], given["efficiency_degradation_cap"]),
        now=float(draft.today.year),
        made=made,
    )


def _consumption(
    draft: Draft, path: str, name: str, kind: ApplianceClass, given: Mapping[str, float], usual: UsualUse
) -> float:
    """The class's use by year of manufacture and age; of a unit to be bought, as that of the one there says."""
    figure = draft.reference.needed(f"{name}_new", kind.kind, draft.region)
    age, where = given.get("age", 0.0), f"{path}.{name}"
    value, ratio, risen = float(usual(age)), float(usual.ratio(age)), float(usual.risen(age))
    if path != "appliance" and name in draft.used_there:
        entered, there, old = draft.used_there[name]
        carried = "{usual:g} as usual, times {entered:g} over {there:g}: what the one there uses over what is usual"
        rule = Message(carried, value, entered, float(there(old)))
        draft.by_age[where] = CarriedUse(value, entered, there)
        draft.carried.append(where)
        value *= entered / float(there(old))
        _doubt(draft, name, where, value, there, old, against=True)
        return draft.note(path, name, value, replace(figure, low=None, high=None), rule)
    if path == "appliance":
        draft.by_age[where] = usual
    _doubt(draft, name, where, value, usual, age)
    if ratio * risen == 1:
        runs = Message("times {runs:.3g}, as much as this home uses it", draft.runs) if draft.runs != 1 else ""
        return draft.note(path, name, value, figure, runs)
    by_year = "{new:g} if made now, times {ratio:.3g} as made in {made:.0f} and {risen:.3g} for its age"
    rule = Message(by_year, usual.new, ratio, float(usual.year(age)), risen)
    if usual.new * ratio * risen > value + CENT:
        in_homes = (
            "at most {most:g}, as in homes: {new:g} if made now, times {ratio:.3g} by year and {risen:.3g} by age"
        )
        rule = Message(in_homes, value, usual.new, ratio, risen)
    return draft.note(path, name, value, figure, rule)


def _doubt(
    draft: Draft, name: str, where: str, value: float, usual: UsualUse, age: float, against: bool = False
) -> None:
    """Note how far a flow may be off by what units of the year used as new; `against`: it was divided by that."""
    ratio = float(usual.ratio(age))
    if usual.vintage is None or not (ratio > 1 and value > 0):
        return
    wide = usual.vintage.doubt(float(usual.year(age)))
    low, high = (value / (1 + wide), value / (1 - wide)) if against else (value * (1 - wide), value * (1 + wide))
    draft.doubts.setdefault(name, []).append((where, low, value, high, usual.vintage.basis(float(usual.year(age)))))


def _quote_median(draft: Draft, path: str, kind: ApplianceClass, later: LaterBills) -> float:
    """Median of later bills; by a shop's own records it is a share of the price of a new unit."""
    share = draft.reference.figure("quote_share", kind.kind, draft.region)
    if share is None:
        return draft.note(path, "later_repair_median", later.median.value, later.median)
    price, of = worth_of_new(draft, kind)
    rule = Message("{share:g} x {of} ({price:g})", share.value, of, price)
    return draft.note(path, "later_repair_median", share.value * price, share, rule, "money")


def label_year(there: Mapping[str, Any]) -> float | None:
    """Year of manufacture on a label; None where none was entered or it cannot be used. [year]"""
    label = there.get("label")
    year = label.get("year") if isinstance(label, Mapping) else None
    return float(year) if year is not None and is_number(year) else None
