"""The unit there and those to be bought: their class, their use, their lives, their later bills, what new ones cost."""

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from ....economics.case import CENT, Appliance
from ....errors import CaseError, Message
from ...tables.tables import GRADES, TO_INSTALL, ApplianceClass
from ...tables.usual_bills import LaterBills, later_bills
from ..consumption import FLOWS, MEASURED, OTHER_ENERGY, CarriedUse, UsualUse, entered_use
from ..reading import CYCLES, Needed, is_number, numbers_of
from ..upkeep import hazard_ratio
from .entries import CLAIM_ENTRIES, OF_THE_UNIT_THERE, Draft, built


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


def is_used(entry: Mapping[str, Any]) -> bool:
    """Whether a replacement is a used unit: one with an age."""
    appliance = entry.get("appliance", {})
    return isinstance(appliance, dict) and bool(appliance.get("age"))


def worth_of_new(draft: Draft, kind: ApplianceClass) -> tuple[float, str]:
    """Price of a new unit: the least that is given for one, or the class's.

    Of a price with its installation it is the part that the unit is in the class's.
    """
    figure, whole = draft.reference.figure("price", kind.kind, draft.region), draft.reference.installed_price
    given: dict[str, float] = {}
    for path, entry in draft.replacements.items():
        if is_number(entry.get("price")) and not is_used(entry):
            installed = whole(kind.kind, draft.region) if is_installed_price(draft, entry, kind) else None
            part = figure.value / installed.value if figure and installed else 1.0
            given[path] = part * float(entry["price"])
    if given:
        path = min(given, key=given.__getitem__)
        price, whole_price = f"{path}.price", is_installed_price(draft, draft.replacements[path], kind)
        return given[path], Message("the unit's part of {price}", price) if whole_price else price
    return (figure.value if figure else math.nan), Message("the class's price")


def cost_of_new(draft: Draft, kind: ApplianceClass) -> float:
    """What a new unit costs in its place: the least price given or the class's, with tax, delivery and the rest."""
    price, _ = worth_of_new(draft, kind)
    found = (draft.reference.figure(name, kind.kind, draft.region) for name in TO_INSTALL)
    tax = draft.reference.figure("sales_tax", kind.kind, draft.region)
    return price * (1 + (tax.value if tax else 0.0)) + sum(figure.value for figure in found if figure)


def is_installed_price(draft: Draft, entry: Mapping[str, Any], kind: ApplianceClass) -> bool:
    """Whether a price that was entered has its installation in it: as entered, or as the class is sold."""
    if "price" not in entry:
        return False
    usual = draft.region in kind.sold_installed and "installation" not in entry and not is_used(entry)
    return entry.get("price_includes_installation", usual) is True


def price_figure(draft: Draft, path: str, table: Mapping[str, Any]) -> str:
    """The figure that a price left out is taken from, by the grade of the new unit."""
    name = "price_includes_installation"
    if draft.flag(path, table, name) and "price" not in table:
        draft.refuse(f"{path}.{name}", "is said of a price, and none is given")
    elif table.get(name) is True and "installation" in table:
        draft.refuse(f"{path}.installation", "gives the same twice, with {other}", name)
    if "price" in table and "grade" in table:
        draft.refuse(f"{path}.grade", "gives the same twice, with {other}", "price")
    return GRADES[draft.choice(f"{path}.grade", table.get("grade", "usual"), GRADES)]
