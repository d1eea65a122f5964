"""Ways to say what a unit uses and what energy costs, and the fields that each takes. No screen here."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from ....load.cases.household_tariff import OWN
from ....load.cases.label_entry import LABELLED_AS
from ....load.cases.measured import OF_A_LOG, OF_READINGS, WITH_THE_WEATHER
from ....load.cases.rating import IN_CYCLES, RATINGS
from ....load.tables.labels import LabelScale, scales_for
from ....load.tables.tables import ENERGY, ApplianceClass, tables

USUAL: Final = "usual"
YEAR: Final = "year"
LABEL: Final = "label"
METER: Final = "meter"
READINGS: Final = "readings"
LOG: Final = "log"
PLACE: Final = "place"
OWN_PRICE: Final = "own"
TARIFF: Final = "tariff"
STEPS: Final = "steps"
DAY_NIGHT: Final = "day_night"

EUROPEAN: Final = ("kwh_per_year", "kwh_per_100_cycles", "net_efficiency")
"""What labels and plates of the European Union print, besides the class letter."""
OTHER_WAYS: Final = ("electricity_per_cycle", "electricity_per_100_cycles", "power", "hours_per_day")
"""Ways of an opened case that have no field here; any way chosen here takes their place."""
LITRES: Final = {
    **dict.fromkeys(("refrigerator", "refrigerator_compact"), ("fresh_food", "four_star")),
    **dict.fromkeys(("freezer_upright", "freezer_chest"), ("four_star",)),
    "wine_cooler": ("wine_storage",),
}
"""Compartments that a class is asked for, the first of them for sure."""
INTERVALS: Final = "electricity_intervals"
FILED: Final = {
    "log": "appliance.meter.file",
    INTERVALS: "household.electricity_tariff.interval_data",
    **{f"{fuel}_tariff": f"household.{fuel}_tariff.file" for fuel in ENERGY},
}
"""Fields that take a file, each with the entry that names it."""
OTHER_REPAIR: Final = ("other_quote", "other_warranty", "other_holds")  # of a second repair; its quote makes it one


@dataclass(frozen=True)
class FieldGroup:
    """Fields that count only together: all that are needed, with those that may stand beside them."""

    table: str
    """Table of the entries that they fill."""
    needed: tuple[str, ...]
    may: tuple[str, ...] = ()
    drops: tuple[str, ...] = ()
    """Names in the table that belong to another way of filling it."""

    @property
    def fields(self) -> tuple[str, ...]:
        """All of its fields."""
        return self.needed + self.may


def ways_of(kind: ApplianceClass, region: str) -> tuple[str, ...]:
    """Ways to say what a unit of a class uses."""
    electric = "electricity" in kind.fuels
    metered = electric and kind.group not in WITH_THE_WEATHER
    labelled = bool(sayings_of(kind, region))
    return (USUAL, *[YEAR] * electric, *[LABEL] * labelled, *[METER] * metered)


def sayings_of(kind: ApplianceClass, region: str) -> tuple[str, ...]:
    """What the label of a class can say in a region: a rating by its name, or `class`."""
    borne = [name for name, rating in RATINGS.items() if rating.borne_by(kind)]
    if "electricity" not in kind.fuels and "kwh_per_year" in borne:
        borne.remove("kwh_per_year")
    if region == "US":
        return tuple(name for name in borne if name not in ("kwh_per_100_cycles", "net_efficiency"))
    lettered = kind.kind in LABELLED_AS
    return (*(name for name in borne if name in EUROPEAN), *["class"] * lettered)


def parts_of(fields: Mapping[str, Any], region: str) -> tuple[FieldGroup, ...]:
    """The parts that are chosen on a page."""
    kind = tables().kind(fields["kind"]) if fields.get("kind") else None
    found = []
    if fields.get("used_price") or fields.get("used_age"):
        found.append(FieldGroup("replace.2", ("used_price", "used_age")))
    if any(fields.get(key) for key in OTHER_REPAIR):
        found.append(FieldGroup("second_repair", OTHER_REPAIR[:1], OTHER_REPAIR[1:]))
    if kind and fields.get("use_way") == USUAL and tables().figure("cycles", kind.kind, region):
        found.append(FieldGroup("appliance.runs", (), ("cycles",)))
    if kind and fields.get("use_way") == USUAL and tables().figure("people_share", kind.kind, region):
        found.append(FieldGroup("household", (), ("people",)))
    if kind and fields.get("use_way") == LABEL:
        found.append(_label_part(fields, kind, region))
    if kind and fields.get("use_way") == METER:
        found.append(_meter_part(fields, kind))
    for fuel in ENERGY:
        if fields.get(f"{fuel}_priced") in (TARIFF, STEPS, DAY_NIGHT):
            found.append(_tariff_part(fields, fuel))
    return tuple(found)


def _label_part(fields: Mapping[str, Any], kind: ApplianceClass, region: str) -> FieldGroup:
    says, table = str(fields.get("label_says") or ""), "appliance.label"
    water = [f"label_{'gallons' if region == 'US' else 'litres'}_per_cycle"] if "water" in kind.fuels else []
    runs = ["cycles"] if kind.kind in IN_CYCLES else []
    if says in RATINGS:
        rating = RATINGS[says]
        may = [f"label_{name}" for name in rating.may if name != "label_cycles"]
        needed = tuple(f"label_{name}" for name in (says, *rating.needs))
        return FieldGroup(table, needed, (*may, *water, *runs))
    if says == "class":
        sized, beside = _of_its_size(fields, kind)
        return FieldGroup(table, ("label_year", "label_class", *sized), (*beside, *water, *runs))
    return FieldGroup(table, ())  # a legal limit, which only an opened case has


def _of_its_size(fields: Mapping[str, Any], kind: ApplianceClass) -> tuple[list[str], list[str]]:
    """What a class letter needs beside it, since it goes by the size of the unit, and what may stand there."""
    scales = scales_borne(fields, kind)
    which = ["label_scale"] if len(scales) > 1 else []
    if kind.kind in LITRES:
        first, *more = LITRES[kind.kind]
        category = ["label_category"] if any(scale.name != "fridge-2021" for scale in scales) else []
        return [*which, *category, f"litres_{first}"], [*(f"litres_{name}" for name in more), "label_doors"]
    if kind.kind == "dishwasher":
        return [*which, "label_place_settings", "label_width"], []
    return [*which, "label_load"], []


def scales_borne(fields: Mapping[str, Any], kind: ApplianceClass) -> tuple[LabelScale, ...]:
    """Labels that a unit put on sale in the year that was typed can bear, by its letter where one is chosen."""
    year, letter = str(fields.get("label_year") or ""), fields.get("label_class")
    if not (year.isdecimal() and len(year) == 4) or kind.kind not in LABELLED_AS:
        return ()
    borne = scales_for(LABELLED_AS[kind.kind], int(year))
    return tuple(scale for scale in borne if not letter or letter in scale.scale.letters)


def _meter_part(fields: Mapping[str, Any], kind: ApplianceClass) -> FieldGroup:
    by_the_run = kind.group != "cooling"
    may = ("cycles", "meter_rated") if by_the_run else ("meter_room", "meter_year_rooms", "meter_rated")
    if fields.get("meter_way") == LOG:
        return FieldGroup("appliance.meter", ("log",), (*may, "meter_column", "meter_unit"), OF_READINGS)
    passed = "meter_runs" if by_the_run else "meter_hours"
    return FieldGroup("appliance.meter", ("meter_first", "meter_second", passed), may, OF_A_LOG)


def _tariff_part(fields: Mapping[str, Any], fuel: str) -> FieldGroup:
    table, way, files = f"household.{fuel}_tariff", fields.get(f"{fuel}_priced"), fields.get("files", {})
    held = fields.get("kept", {}).get("household", {}).get(f"{fuel}_tariff", {})
    lines = tuple(set(held) - set(OWN))
    if way == DAY_NIGHT:  # no step is reached, so nothing hangs on what else the home uses
        return FieldGroup(table, ("day_price", "night_price", "night_from", "night_to"), drops=lines)
    needed = [f"{fuel}_base_use"]
    may = [INTERVALS, "interval_column", "interval_unit"] if fuel == "electricity" else []
    if may and INTERVALS in files:
        needed, may = [], [*needed, *may]
    if way == STEPS:
        third = ("step2_upto", "step3_price")
        steps = ("step1_upto", "step1_price", "step2_price", *(third if any(map(fields.get, third)) else ()))
        return FieldGroup(table, (*steps, *needed), (*third, *may), lines)
    if f"{fuel}_tariff" not in files and lines:
        return FieldGroup(table, (), (*needed, *may))  # a tariff that stands in the opened case itself
    return FieldGroup(table, (f"{fuel}_tariff", *needed), tuple(may), lines)


def typed_bill(tariff: object) -> dict[str, float]:
    """The fields from which a tariff in a case was made; none where it was not typed on a page."""
    match tariff:
        case {"line": [{"name": "energy", "blocks": blocks, **more}], **others} if not more and set(others) <= set(OWN):
            ends = len(blocks) - 1
            if ends in (1, 2) and list(map(sorted, blocks)) == [["price", "upto"]] * ends + [["price"]]:
                return {f"step{n}_{name}": block[name] for n, block in enumerate(blocks, 1) for name in block}
        case {
            "line": [{"name": "energy", "band": [{"price": night, "hours": hours}, {"price": day}], **more}],
            **others,
        }:
            own = {"base_use": 0.0, "includes_appliance": False}
            if not more and others == own and (found := re.fullmatch(r"(\d+)-(\d+)", hours)):
                from_hour, to_hour = map(float, found.groups())
                return {"night_price": night, "day_price": day, "night_from": from_hour, "night_to": to_hour}
    return {}
