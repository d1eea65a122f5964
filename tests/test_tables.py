"""The shipped tables: complete, each figure with its source, and as printed there; a broken row is refused."""

import csv
import dataclasses
import math
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from households import places_of
from scipy.special import gamma
from spoilt_tables import copied, spoil

from decide.economics.case import Appliance, Option
from decide.economics.household import Household
from decide.errors import CaseError, DataError
from decide.load.tables.tables import (
    COLUMNS,
    CURRENCIES,
    ENERGY,
    PROHIBITABLE,
    STATUSES,
    UNITS,
    WHEN,
    data_dir,
    read_tables,
    tables,
)

# Lutz, Hopkins, Letschert, Franco, Sturges, LBNL-5093E (2011): delayed Weibull fits of lifetimes in US homes.
# Read second-hand in a public note that transcribes the tables. class: table, shape, scale, delay, median, mean.
LUTZ_2011 = {
    "central_ac": (2, 2.094, 21.49, 0, 18.04, 19.03),
    "room_ac": (8, 1.442, 14.29, 0, 11.08, 12.96),
    "refrigerator": (11, 1.272, 11.75, 8.874, 17.68, 19.77),
    "freezer_upright": (12, 1.885, 17.92, 6.459, 21.21, 22.36),
    "freezer_chest": (12, 1.885, 17.92, 6.459, 21.21, 22.36),
}

# EIA, technology menu of the residential demand module, AEO 2025 (RSMESS.xlsx, sheet RSCLASS), after DOE's technical
# support documents; second-hand. class: equipment class, K, lambda, and its delay ("Alpha") of a Weibull.
EIA_2024 = {
    "clothes_washer": ("CL_WASH", 2.69, 13.91, 1),
    "clothes_dryer_electric": ("ELEC_DRY", 2.76, 15.03, 1),
    "clothes_dryer_heat_pump": ("ELEC_DRY", 2.76, 15.03, 1),
    "clothes_dryer_gas": ("NG_DRY", 2.76, 15.03, 1),
    "dishwasher": ("DS_WASH", 1.8, 15.9, 1),
    "heat_pump_air": ("ELEC_HP", 2, 15.88, 1),
    "furnace_gas": ("NG_FA", 3.7, 22.6, 1),
    "boiler_gas": ("NG_RAD", 2.39, 28.87, 1),
    "water_heater_gas": ("NG_WH", 1.76, 15.1, 1),
    "water_heater_electric": ("ELEC_WH", 1.57, 15.7, 1),
}

# Wang et al. 2013 for the Netherlands, cohort of 2005, second-hand in the workbook of Krych & Pettersen
# (J. Industrial Ecology, doi 10.1111/jiec.13608), sheet LT_data. class: shape, scale, mean.
WANG_2013 = {
    "refrigerator": (2.2, 16.5, 14.61),
    "freezer_upright": (2.6, 23.2, 20.61),
    "clothes_washer": (2.2, 13.9, 12.31),
    "dishwasher": (1.6, 13.1, 11.75),
    "oven_electric": (2.5, 18.0, 15.97),
}

# Single printed figures: class, region, quantity, value as printed, and where.
PRINTED = [
    ("boiler_gas", "US", "price_premium", 3670, "EIA, RSMEQP, NG_RAD4, AFUE 96 %, new construction, 2022 USD"),
    ("clothes_dryer_gas", "US", "price", 660, "EIA, RSMEQP, NG_DRY1, new construction, 2022 USD"),
    ("clothes_dryer_gas", "US", "installation", 870 - 660, "EIA, RSMEQP, NG_DRY1, replacement less new construction"),
    ("freezer_chest", "US", "price", 680, "EIA, RSMEQP, FREZ_C1, 2022 USD"),
    ("freezer_chest", "US", "electricity_new", 297, "EIA, RSMEQP, FREZ_C1, kWh a year"),
    ("freezer_upright", "US", "price", 830, "EIA, RSMEQP, FREZ_U2, 2022 USD"),
    ("range_gas", "US", "installation", 460 - 310, "EIA, RSMEQP, NG_STV2, replacement less new construction"),
    ("room_ac", "US", "price", 530, "EIA, RSMEQP, ROOM_AIR1 from 2027, new construction, 529.94"),
    ("microwave", "US", "mean_life", 10, "Scout miscellaneous loads, Zenodo 3458594"),
    ("clothes_dryer_electric", "EU", "mean_life", 12, "Delegated Regulation (EU) 2023/2534, recital 11"),
    ("clothes_washer", "US", "price", 785, "EIA Appendix A 2023, pp. 101-102, 2022 USD, second-hand"),
    ("dishwasher", "US", "price", 430, "EIA Appendix A 2023, p. 106, 2022 USD, second-hand"),
    ("central_ac", "US", "price", 2700, "EIA Appendix A 2023, p. 27, 3 ton, typical, retail, 2022 USD"),
    ("furnace_gas", "US", "price", 1200, "EIA Appendix A 2023, gas furnace, North, typical, retail, 2022 USD"),
    ("water_heater_gas", "US", "price", (420 + 990) / 2, "EIA Appendix A 2023, p. 56, typical, middle, 2022 USD"),
    ("water_heater_electric", "US", "price", (330 + 760) / 2, "EIA Appendix A 2023, p. 62, typical, middle, 2022 USD"),
    ("microwave", "US", "price", 230, "Scout miscellaneous loads, entry of 2026, 2011 USD"),
    ("dehumidifier", "US", "price", 225, "Scout miscellaneous loads, entry of 2026, 2014 USD"),
    ("wine_cooler", "US", "price", 548, "Scout miscellaneous loads, entry of 2026, 2015 USD"),
    ("ceiling_fan", "US", "price", 123.6, "Scout miscellaneous loads, entry of 2026, 2015 USD"),
    ("refrigerator", "US", "electricity_new", 491, "EIA Appendix A 2023, pp. 77-79, second-hand"),
    ("dishwasher", "US", "electricity_installed", 355, "42 U.S.C. 6295(g)(10)(A)"),
    ("freezer_chest", "US", "electricity_installed", 319.8, "OpenStudio-HPXML documentation, Freezers"),
    ("range_electric", "US", "electricity_installed", 331 + 39 * 3, "ANSI/RESNET/ICC 301 Eq 4.2-5a, second-hand"),
    ("clothes_washer", "US", "cycles", 210, "RECS 2020 as quoted in a comment of 10 Apr 2024"),
    ("clothes_washer", "EU", "electricity_installed", 191, "IDEAS library, record WashingMachine: 191.04"),
    ("dishwasher", "EU", "electricity_installed", 273, "IDEAS library, record DishWasher: 273.02"),
    ("*", "US", "discount_rate", 0.03, "FEMP memorandum 2024, real rate"),
    ("*", "EU", "warranty_new", 2, "Directive (EU) 2019/771 Art. 10(1), second-hand"),
]

# EIA Electric Power Annual, 2023 (USD/kWh); Eurostat nrg_pc_204 and nrg_pc_202, second half of 2025 (EUR/kWh).
PRINTED_PRICES = [
    ("US", "electricity", 0.1819),
    ("US-ND", "electricity", 0.1236),
    ("US-HI", "electricity", 0.4628),
    ("US-CA", "electricity", 0.3325),
    ("US-NY", "electricity", 0.2938),
    ("DE", "electricity", 0.3869),
    ("HU", "electricity", 0.1082),
    ("IE", "electricity", 0.4042),
    ("EU", "electricity", 0.2896),
    ("EU", "gas", 34.1114 * 0.0036),
    ("SE", "gas", 58.1049 * 0.0036),
    ("HU", "gas", 9.2950 * 0.0036),
    ("RO", "gas", 15.7322 * 0.0036),
]

# EIA residential gas prices of 2023 in USD/therm, turned from USD/Mcf with 10.37 therm per Mcf (from memory).
PRINTED_USD_A_THERM = [
    ("US", 1.479),
    ("US-CA", 2.122),
    ("US-NY", 1.695),
    ("US-ID", 0.742),
    ("US-FL", 2.457),
    ("US-MD", 1.556),
]

EVERY_CLASS = [
    "mean_life", "life_shape", "failure_free_years", "price", "delivery", "installation", "haul_away", "warranty_new",
    "days_repair", "days_replace", "efficiency_degradation_rate", "efficiency_degradation_cap", "failure_share_3_years",
    "repair_success_probability", "repair_warranty", "callback_window", "life_beyond_data", "failure_growth",
    "frailty_variance", "defect_share", "hazard_consumable", "hazard_ordinary", "hazard_core", "condition_good",
    "condition_worn", "condition_poor", "quote_unusual", "large_bill", "late_age",
]  # fmt: skip
EVERY_REGION = [
    "sales_tax", "discount_rate", "inflation", "electricity_escalation", "gas_escalation", "water_escalation",
    "price_escalation", "water_price", "service_fee", "labour_rate", "household_rate", "loan_rate_usual",
    "leaving_rate",
]  # fmt: skip


PRINTED_ROWS = {
    (row["class"], row["region"], row["quantity"]): row
    for row in csv.DictReader(
        line for line in (data_dir() / "figures.csv").read_text("utf-8").splitlines() if not line.startswith("#")
    )
}
"""The rows of figures.csv as they stand, before the rule of lives."""


def full_set(kind, region):
    appliance = tables().kind(kind)
    fuels = [f"{fuel}_{when}" for fuel in appliance.fuels for when in ("installed", "new")]
    food = ["food_loss"] if appliance.group == "cooling" else []
    return [*EVERY_CLASS, *fuels, *food]


def test_at_least_24_classes_are_known_and_20_of_them_in_both_regions():
    both = {kind.kind for kind in tables().classes("US")} & {kind.kind for kind in tables().classes("EU")}
    assert len(tables().known_classes) >= 24
    assert len(both) >= 20


@pytest.mark.parametrize(
    ("kind", "region"), [(kind.kind, region) for kind in tables().known_classes.values() for region in kind.regions]
)
def test_a_class_has_its_full_set_wherever_it_is_sold(kind, region):
    assert [name for name in full_set(kind, region) if tables().figure(name, kind, region) is None] == []


@pytest.mark.parametrize("region", CURRENCIES)
def test_a_region_has_its_full_set(region):
    assert [name for name in EVERY_REGION if tables().figure(name, "*", region) is None] == []


def test_what_depends_on_the_class_is_never_a_figure_for_all_classes():
    own = {"mean_life", "life_shape", "failure_free_years", "price", "delivery", "installation"}
    own |= {name for name in UNITS if name.startswith(("electricity_", "gas_", "water_"))}
    own -= {f"{fuel}_escalation" for fuel in ("electricity", "gas", "water")} | {"water_price"}
    own -= {"electricity_marginal", "gas_marginal"}
    assert [key for key in tables().figures if key[0] == "*" and key[2] in own] == []


@pytest.mark.parametrize("kind", LUTZ_2011)
@pytest.mark.published("Lutz et al., LBNL-5093E (2011), tables 2-8, 11 and 12, second-hand")
def test_the_delayed_weibull_rows_give_the_printed_mean_and_median(kind):
    table, shape, scale, delay, median, mean = LUTZ_2011[kind]
    fit = [PRINTED_ROWS[kind, "US", name] for name in ("life_shape", "failure_free_years")]
    assert {row["locator"] for row in fit} == {f"Table {table}"}
    assert {row["status"] for row in fit} == {"second-hand"}
    assert [float(row["value"]) for row in fit] == pytest.approx([shape, delay], rel=1e-12)
    if delay:
        assert float(PRINTED_ROWS[kind, "US", "life_scale"]["value"]) == scale
    assert delay + scale * gamma(1 + 1 / shape) == pytest.approx(mean, abs=0.011)
    assert delay + scale * math.log(2) ** (1 / shape) == pytest.approx(median, abs=0.011)
    life = tables().figure("mean_life", kind, "US")  # two sources that differ: their middle, with both as its ends
    assert mean in (life.low, life.value, life.high)


@pytest.mark.parametrize("kind", EIA_2024)
@pytest.mark.published("EIA, RSMESS.xlsx of AEO 2025, sheet RSCLASS, second-hand")
def test_the_rows_of_the_menu_of_equipment_keep_its_fit_and_a_mean_that_goes_with_it(kind):
    name, shape, scale, delay = EIA_2024[kind]
    rows = [PRINTED_ROWS[kind, "US", part] for part in ("life_shape", "life_scale", "failure_free_years")]
    assert [float(row["value"]) for row in rows] == [shape, scale, delay]
    assert {row["locator"] for row in rows} == {f"sheet RSCLASS, {name}"}
    mean, life = delay + scale * gamma(1 + 1 / shape), tables().figure("mean_life", kind, "US")
    assert life.low <= round(mean, 1) <= life.high
    assert (life.locator == f"sheet RSCLASS, {name}") == (life.value == pytest.approx(mean, abs=0.006))


# Of a new unit: use in homes (EIA, RSUEC, mean of nine divisions), mean rating of the stock (RSCLASS) and of one sold
# (RSMEQP): kWh a year.
@pytest.mark.parametrize(
    ("kind", "flow", "used"),
    [
        ("central_ac", "electricity", 2780 * 3.66354 / 4.13247),
        ("heat_pump_air", "electricity", 4817 * 2.31536 / 2.69637 + 2572 * 3.83939 / 4.68933),
        ("room_ac", "electricity", 822 * 3.19461 / 4.68933),
        ("water_heater_electric", "electricity", 2795 * 0.881489 / 0.92),
        ("water_heater_heat_pump", "electricity", 2795 * 0.881489 / 3.33),
        ("water_heater_gas", "gas", 5311 * 0.576369 / 0.61),
        ("furnace_gas", "gas", 14487 * 0.8 / 0.9),
        ("boiler_gas", "gas", 18292 * 0.82 / 0.84),
        ("dishwasher", "electricity", 215 / 0.895833),
    ],
)
@pytest.mark.published("EIA, RSMESS.xlsx of AEO 2025, sheets RSCLASS and RSMEQP, and RSUEC, second-hand")
def test_a_new_unit_uses_what_homes_do_by_the_ratings_of_stock_and_sales(kind, flow, used):
    assert tables().figure(f"{flow}_new", kind, "US").value == pytest.approx(used, abs=1)


@pytest.mark.parametrize("kind", WANG_2013)
@pytest.mark.published("Wang et al. 2013, cohort of 2005, workbook of Krych & Pettersen, second-hand")
def test_the_dutch_rows_keep_shape_and_mean_of_one_fit(kind):
    shape, scale, mean = WANG_2013[kind]
    fit = [float(PRINTED_ROWS[kind, "EU", name]["value"]) for name in ("life_shape", "failure_free_years")]
    assert fit == pytest.approx([shape, 0], rel=1e-12)
    life = tables().figure("mean_life", kind, "EU")
    assert mean in (life.low, life.value)
    assert mean / gamma(1 + 1 / shape) == pytest.approx(scale, abs=0.02)


@pytest.mark.parametrize(
    ("kind", "region", "quantity", "value", "where"),
    [pytest.param(*row, marks=pytest.mark.published(row[-1])) for row in PRINTED],
)
def test_a_figure_is_as_printed(kind, region, quantity, value, where):
    figure = tables().figure(quantity, kind, region)
    printed = figure.value if figure.published is None else figure.published
    assert printed == pytest.approx(value, rel=1e-12), where


@pytest.mark.parametrize(("place", "fuel", "value"), PRINTED_PRICES)
@pytest.mark.published(
    "EIA Electric Power Monthly, table 5.6.B, January to July 2026, second-hand; "
    "Eurostat nrg_pc_204 and nrg_pc_202, 2025-S2"
)
def test_an_energy_price_is_as_printed(place, fuel, value):
    assert tables().energy_price(place, fuel).value == pytest.approx(value, abs=5e-5)


@pytest.mark.parametrize(("place", "usd_a_therm"), PRINTED_USD_A_THERM)
@pytest.mark.published(
    "EIA residential gas prices of 2025 (Maryland 2024) as an open text has them a therm, at 10.37 therms per Mcf"
)
def test_gas_is_priced_by_the_kilowatt_hour(place, usd_a_therm):
    assert tables().energy_price(place, "gas").value * 29.3071 == pytest.approx(usd_a_therm, abs=6e-4)


def test_every_state_has_its_own_prices():
    states = [place for place in places_of("US") if place != "US"]
    assert len(states) == 51
    assert [state for state in states if (state, "electricity") not in tables().energy_prices] == []


def test_all_27_members_of_the_union_and_norway_are_places():
    members = [place for place in places_of("EU") if place != "EU"]
    assert len(members) == 28
    assert "NO" in members
    assert {tables().region_of(member) for member in members} == {"EU"}


@pytest.mark.parametrize(("place", "fuel", "region"), [("PL", "gas", "EU"), ("US-HI", "propane", "US")])
def test_a_place_without_a_price_of_its_own_has_that_of_its_region(place, fuel, region):
    assert (place, fuel) not in tables().energy_prices
    assert tables().energy_price(place, fuel) is tables().energy_price(region, fuel)


def test_a_figure_falls_back_from_class_to_region_to_everywhere():
    shipped = tables()
    assert shipped.figure("days_repair", "refrigerator", "US") is shipped.figures["refrigerator", "*", "days_repair"]
    assert shipped.figure("warranty_new", "dishwasher", "EU") is shipped.figures["*", "EU", "warranty_new"]
    assert shipped.figure("discount_rate", "dishwasher", "EU") is shipped.figures["*", "*", "discount_rate"]
    assert shipped.figure("gas_new", "dishwasher", "EU") is None


def test_every_row_of_every_file_is_loaded():
    shipped = tables()
    loaded = {
        "sources.csv": shipped.sources,
        "classes.csv": shipped.known_classes,
        "places.csv": shipped.known_places,
        "figures.csv": shipped.figures,
        "energy_prices.csv": shipped.energy_prices,
        "price_index.csv": [time for times, _ in shipped.level.series.values() for time in times],
        "faults.csv": shipped.known_faults,
        "fault_costs.csv": {(id(cost), fault) for (fault, _), cost in shipped.fault_costs.items()},
        "guarantees.csv": {id(promise) for promise in shipped.promises.values()},
        "cautions.csv": shipped.all_cautions,
        "safety_figures.csv": shipped.safety_figures,
        "exchange.csv": shipped.exchange,
        "vintage_ratio.csv": [point for each in shipped.vintages.values() for point in each.points],
    }
    assert loaded.keys() == COLUMNS.keys()
    for name, things in loaded.items():
        lines = (data_dir() / name).read_text("utf-8").splitlines()
        assert len(things) == sum(not line.startswith("#") for line in lines) - 1, name


def test_each_status_is_one_of_four_and_a_judgement_gives_its_reason():
    estimates = [*tables().figures.values(), *tables().energy_prices.values()]
    assert {estimate.status for estimate in estimates} == set(STATUSES) - {"from memory"}
    assert all(estimate.note for estimate in estimates if estimate.status == "judgement")


def test_only_this_project_judges_and_a_judgement_is_never_lent_to_a_publication():
    estimates = [*tables().figures.values(), *tables().energy_prices.values()]
    assert {estimate.source.key for estimate in estimates if estimate.status == "judgement"} == {"own"}
    assert {estimate.status for estimate in estimates if estimate.source.key == "own"} == {"judgement"}


def test_no_escalation_can_outrun_the_lowest_discount_rate():
    """A need without end has a finite present cost only so; see the bounds of a case."""
    for region in CURRENCIES:
        lowest = tables().figure("discount_rate", "*", region).low
        for name in ("electricity", "gas", "water", "price"):
            assert tables().figure(f"{name}_escalation", "*", region).high < lowest


def test_every_figure_lies_within_the_bounds_of_the_input_that_it_fills():
    under_another_name = {
        f"{fuel}_{when}": fuel for fuel in ("electricity", "gas", "water") for when in ("installed", "new")
    }
    under_another_name |= {"discount_rate": "rate", "sales_tax": "tax_rate", "warranty_new": "warranty"}
    bounds = {
        item.name: item.metadata["bounds"]
        for noun in (Appliance, Option, Household)
        for item in dataclasses.fields(noun)
        if "bounds" in item.metadata
    }
    filled = set()
    for key, estimate in tables().figures.items():
        name = under_another_name.get(key[2], key[2])
        if name in bounds:
            filled.add(key[2])
            for number in (estimate.value, estimate.low, estimate.high):
                assert number is None or bounds[name].admits(number), (key, number)
    assert filled >= {"mean_life", "price", "gas_new", "discount_rate", "repair_success_probability", "water_price"}


def test_every_class_has_faults_and_something_else_last():
    for kind in tables().known_classes:
        faults = [fault.fault for fault in tables().faults(kind)]
        assert faults[-1] == "other"
        assert len(faults) >= 6, kind


def test_faults_that_stop_the_use_come_first_in_every_list():
    for kind in tables().known_classes.values():
        for region in kind.regions:
            faults = tables().faults(kind.kind)
            cautions = [tables().cautions(kind.kind, fault.fault, region) for fault in faults]
            dangerous = [
                any("use" in c.prohibits or "repair" in c.prohibits for c in applicable_cautions)
                for applicable_cautions in cautions
            ]
            assert dangerous == sorted(dangerous, reverse=True), kind.kind


def test_food_is_lost_by_whatever_stops_the_cooling():
    """Whoever is told to throw food away has a fault that counts food as lost, and the reverse for a refrigerator."""
    told_of = next(caution for caution in tables().all_cautions if caution.id == "food_fridge")
    assert all(tables().known_faults[fault].spoils_food for fault in told_of.faults)
    spoils = {fault.fault for fault in tables().faults("refrigerator") if fault.spoils_food}
    assert spoils == {*told_of.faults, "wiring_burnt", "flooded"}
    assert not tables().known_faults["other"].spoils_food


def test_only_what_holds_refrigerant_has_faults_of_the_sealed_circuit():
    """Common practice, no source: these are mended with the circuit open."""
    sealed = {fault.fault: fault for fault in tables().known_faults.values() if fault.sealed}
    assert set(sealed) == {"compressor", "refrigerant_leak", "reversing_valve"}
    cooled = set(tables().known_faults["refrigerant_leak"].classes)
    assert all(set(fault.classes) <= cooled for fault in sealed.values())
    assert not tables().opens_the_circuit("of another shop")


def test_no_class_is_called_what_another_is_named():
    names = {known.label.casefold() for known in tables().known_classes.values()}
    for kind in tables().known_classes.values():
        assert len(set(kind.also)) == len(kind.also)
        assert not names & {name.casefold() for name in kind.also}


@pytest.mark.parametrize(("called", "place"), [("Ohio", "US-OH"), ("us-oh", "US-OH"), ("germany", "DE"), ("DE", "DE")])
def test_a_place_is_known_by_its_code_and_by_its_name(called, place):
    assert tables().place(called).place == place


def test_a_hard_stop_fires_for_its_fault_alone():
    def stops(kind, fault):
        return {stop for caution in tables().cautions(kind, fault, "US") for stop in caution.prohibits}

    assert stops("water_heater_gas", "tank_leak") == {"repair", "leave"}
    assert stops("range_gas", "carbon_monoxide") == {"leave", "use"}
    assert stops("boiler_gas", "flue_gas_leak") == {"leave", "use"}
    assert stops("boiler_gas", "heat_exchanger_leak") == set()
    assert stops("furnace_gas", "cracked_heat_exchanger") == set(PROHIBITABLE)
    assert stops("range_gas", "gas_leak") == {"leave", "use"}
    assert stops("microwave", "microwave_door") == {"leave", "use"}
    assert stops("boiler_gas", "relief_valve") == {"leave"}
    for kind in tables().known_classes:
        assert stops(kind, None) == set(), kind
        assert stops(kind, "other") == set(), kind


def test_cautions_come_by_time_and_keep_to_their_region():
    for region, here, there in (("EU", "take_back", "four_wire"), ("US", "four_wire", "take_back")):
        applicable_cautions = tables().cautions("range_electric", "wiring_burnt", region)
        ids = [caution.id for caution in applicable_cautions]
        assert here in ids
        assert there not in ids
        assert [WHEN.index(caution.when) for caution in applicable_cautions] == sorted(
            WHEN.index(caution.when) for caution in applicable_cautions
        )
        assert ids[0] == "burn_marks"


def test_every_class_is_told_of_recalls_warranty_and_the_plug():
    for kind in tables().known_classes:
        ids = {caution.id for caution in tables().cautions(kind, None, "US")}
        assert {"recall_check", "warranty_first", "electric_disconnect", "never_bridge"} <= ids


def test_an_unknown_class_is_named_with_those_that_come_close():
    with pytest.raises(CaseError, match="'fridge_compact' is not known; did you mean refrigerator_compact") as caught:
        tables().kind("fridge_compact")
    assert caught.value.field == "appliance.class"
    with pytest.raises(CaseError, match=r"appliance\.class"):
        tables().figure("price", "dishwash", "US")
    with pytest.raises(CaseError, match="did you mean range_electric or range_gas"):
        tables().kind("Stove")


def test_an_unknown_place_region_fault_or_fuel_is_named_with_the_known_ones():
    with pytest.raises(CaseError, match=r"household\.place: 'US-XX' is not known; did you mean US-") as caught:
        tables().energy_price("US-XX", "electricity")
    assert caught.value.field == "household.place"
    with pytest.raises(CaseError, match=r"household\.region: 'UK' is not known; known: US, EU"):
        tables().figure("price", "dishwasher", "UK")
    with pytest.raises(CaseError, match=r"household\.region"):
        tables().classes("UK")
    with pytest.raises(CaseError, match=r"household\.place: 'UK' is not known"):
        tables().cautions("dishwasher", None, "UK")
    with pytest.raises(CaseError, match=r"appliance\.fault: 'magnetron' is not known.*circulation_pump"):
        tables().cautions("dishwasher", "magnetron", "US")
    with pytest.raises(CaseError, match="fuel: must be one of electricity, gas, propane, got oil"):
        tables().energy_price("US", "oil")


def test_an_unknown_quantity_is_an_error_and_not_an_absent_figure():
    with pytest.raises(DataError, match="'lifetime'"):
        tables().figure("lifetime", "dishwasher", "US")


# --- broken tables ---------------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path):
    return copied(tmp_path, COLUMNS)


def lines_of(path):
    return path.read_text("utf-8").splitlines()


LIFE = "refrigerator,US,mean_life"
BROKEN = [
    ("figures.csv", LIFE, "source", "nobody", "source 'nobody' is not listed in sources.csv"),
    ("figures.csv", LIFE, "source", "", "source is empty"),
    ("figures.csv", LIFE, "locator", "", "locator is empty"),
    ("figures.csv", LIFE, "unit", "month", "unit must be year, got 'month'"),
    ("figures.csv", "refrigerator,US,price,", "unit", "EUR", "unit must be USD, got 'EUR'"),
    ("figures.csv", "refrigerator,US,price,", "region", "*", "price is an amount of money and needs a region"),
    ("figures.csv", LIFE, "status", "sure", "status must be one of found, second-hand, from memory, judgement"),
    ("figures.csv", LIFE, "class", "fridge", "class must be one of refrigerator, "),
    ("figures.csv", LIFE, "region", "UK", "region must be one of US, EU"),
    ("figures.csv", LIFE, "quantity", "lifetime", "quantity must be one of mean_life"),
    ("figures.csv", LIFE, "value", "25", "low <= value <= high does not hold for 15, 25, 19.77"),
    ("figures.csv", LIFE, "value", "nan", "value must be a number, got 'nan'"),
    ("figures.csv", LIFE, "value", "", "value must be a number, got ''"),
    ("figures.csv", LIFE, "high", "", "high must be a number, got ''"),
    ("figures.csv", LIFE, "year", "11", "year must be a whole year from 1950 to 2100, got 11"),
    ("figures.csv", LIFE, "quantity", "life_shape", "unit must be -, got 'year'"),
    ("figures.csv", "*,*,days_repair", "note", "", "a judgement must give its reason in note"),
    ("figures.csv", "refrigerator,EU,mean_life", "region", "US", "refrigerator US mean_life is listed twice"),
    ("figures.csv", LIFE, "price_year", "2022", "mean_life is no money and has no price_year"),
    ("figures.csv", "refrigerator,US,price,", "price_year", "", "price_year is empty"),
    ("figures.csv", "refrigerator,US,price,", "price_year", "last year", "price_year must be a year, a month such as"),
    ("energy_prices.csv", "DE,EU,EUR,gas", "basis", "net", "basis must be one of gross, got 'net'"),
    ("energy_prices.csv", "DE", "period", "", "period is empty"),
    ("classes.csv", "boiler_gas", "sold_installed", "UK", "sold_installed must list only US, EU, got 'UK'"),
    ("price_index.csv", "US,appliances,2022", "value", "0", "needs a period, and a level above 0"),
    ("price_index.csv", "US,appliances,2022", "unit", "1998=1", "unit must be 1998=100"),
    ("classes.csv", "dishwasher", "group", "wet", "group must be one of cooling"),
    ("classes.csv", "dishwasher", "fuels", "oil", "fuels must list only electricity, gas, water, got 'oil'"),
    ("classes.csv", "dishwasher", "class", "cellar", "figures.csv holds no price of cellar in any region"),
    ("places.csv", "DE", "region", "UK", "region must be one of US, EU"),
    ("energy_prices.csv", "DE", "place", "XX", "place must be one of US"),
    ("energy_prices.csv", "DE", "region", "US", "DE lies in EU, not in US"),
    ("energy_prices.csv", "DE", "currency", "USD", "currency must be one of EUR, got 'USD'"),
    ("energy_prices.csv", "DE", "fuel", "wood", "fuel must be one of electricity, gas"),
    ("energy_prices.csv", "DE", "unit", "USD/Mcf", "unit must be EUR/kWh"),
    ("faults.csv", "icemaker", "classes", "freezer", "classes must list only refrigerator"),
    ("faults.csv", "icemaker", "classes", "", "classes is empty; write * for all"),
    ("faults.csv", "icemaker", "spoils_food", "maybe", "spoils_food must be one of yes, no, got 'maybe'"),
    ("faults.csv", "icemaker", "sealed", "", "sealed must be one of yes, no, got ''"),
    (
        "faults.csv",
        "icemaker",
        "kind",
        "wear",
        "kind must be one of consumable, ordinary, core, unmendable, got 'wear'",
    ),
    ("fault_costs.csv", "drying_heat", "classes", "dishwasher", "dishwasher cannot have drying_heat"),
    ("fault_costs.csv", "drying_heat", "hours_low", "0", "needs 0 <= parts_low <= parts_high and 0 < hours_low"),
    ("fault_costs.csv", "drying_heat", "parts_low", "900", "needs 0 <= parts_low <= parts_high and 0 < hours_low"),
    ("fault_costs.csv", "drying_heat", "note", "", "note is empty"),
    ("exchange.csv", "NO", "unit", "EUR/NOK", "unit must be NOK/EUR, got 'EUR/NOK'"),
    ("exchange.csv", "NO", "value", "0", "value must lie above 0"),
    ("exchange.csv", "NO", "place", "UK", "place must be one of US"),
    ("guarantees.csv", "guarantee,ES", "unit", "month", "unit must be one of year, got 'month'"),
    ("guarantees.csv", "guarantee,ES", "place", "UK", "place must be one of US"),
    ("guarantees.csv", "guarantee,ES", "value", "-1", "value must be 0 or more, got -1"),
    ("guarantees.csv", "extension,EU", "since", "31.7.2026", "since must be a day such as 2026-07-31"),
    ("guarantees.csv", "guarantee,US", "note", "", "a judgement must give its reason in note"),
    ("faults.csv", "icemaker", "classes", "*;freezer_chest", "classes lists something twice"),
    ("cautions.csv", "gas_leak", "faults", "smell", "faults must list only gas_leak"),
    ("cautions.csv", "gas_leak", "prohibits", "all", "prohibits must list only repair, leave, use, got 'all'"),
    ("cautions.csv", "gas_leak", "weight", "act", "weight must be `stop` when the caution stops something"),
    ("cautions.csv", "gas_leak", "prohibits", "", "weight must be `stop` when the caution stops something"),
    ("cautions.csv", "gas_leak", "when", "later", "when must be one of now, working, afterwards, got 'later'"),
    ("cautions.csv", "gas_leak", "when", "working", "what stops something names its faults and holds now"),
    ("cautions.csv", "gas_leak", "reader", "owner", "what stops something names its faults and holds now"),
    ("cautions.csv", "gas_leak", "made_until", "1990", "what stops something names its faults and holds now"),
    ("cautions.csv", "gas_leak", "doing", "repair", "what stops something names its faults and holds now"),
    ("cautions.csv", "gas_leak", "faults", "*", "what stops something names its faults and holds now"),
    ("cautions.csv", "gas_leak", "danger", "death", "danger must be one of gas, shock, fire, burn, crush"),
    ("cautions.csv", "tenant", "doing", "sell", "doing must list only look, repair, replace"),
    ("cautions.csv", "tenant", "places", "UK", "places must list only US, US-AL"),
    ("cautions.csv", "gas_leak", "not_faults", "smell", "not_faults must list only gas_leak"),
    ("cautions.csv", "tenant", "reader", "landlord", "reader must be one of , owner, technician, got 'landlord'"),
    ("safety_figures.csv", "emergency_number", "value", "911?", "value must be a number"),
    ("safety_figures.csv", "emergency_number", "figure", "phone", "figure must be one of emergency_number"),
]


@pytest.mark.parametrize(("name", "row", "column", "value", "error_text"), BROKEN)
def test_a_broken_row_is_refused_with_its_file_and_line(folder, name, row, column, value, error_text):
    line = spoil(folder / name, row, {column: value})
    with pytest.raises(DataError) as caught:
        read_tables(folder)
    assert str(caught.value).startswith(f"{name} line {line}: {error_text}")


@pytest.mark.parametrize("name", COLUMNS)
def test_a_row_given_twice_is_refused(folder, name):
    lines = lines_of(folder / name)
    (folder / name).write_text("\n".join([*lines, lines[-1]]) + "\n", "utf-8")
    with pytest.raises(DataError, match=f"{name} line {len(lines) + 1}: .* is listed twice"):
        read_tables(folder)


@pytest.mark.parametrize("name", COLUMNS)
def test_a_row_with_a_cell_too_many_is_refused(folder, name):
    lines = lines_of(folder / name)
    (folder / name).write_text("\n".join([*lines, lines[-1] + ",more"]) + "\n", "utf-8")
    with pytest.raises(DataError, match=f"{name} line {len(lines) + 1}: needs"):
        read_tables(folder)


@pytest.mark.parametrize("name", COLUMNS)
def test_other_columns_than_the_known_ones_are_refused(folder, name):
    text = (folder / name).read_text("utf-8").replace(COLUMNS[name], COLUMNS[name] + ",extra", 1)
    (folder / name).write_text(text, "utf-8")
    with pytest.raises(DataError, match=f"{name} line 2: the columns must be"):
        read_tables(folder)


def test_a_published_delay_needs_the_scale_of_its_fit(folder):
    path = folder / "figures.csv"
    kept = [line for line in lines_of(path) if not line.startswith("refrigerator,US,life_scale")]
    path.write_text("\n".join(kept) + "\n", "utf-8")
    with pytest.raises(DataError, match="refrigerator US: life_scale of the fit is needed"):
        read_tables(folder)


def test_a_source_that_nobody_uses_is_refused(folder):
    with (folder / "sources.csv").open("a", encoding="utf-8") as file:
        file.write("idle,An idle source,,own figures,\n")
    with pytest.raises(DataError, match=r"sources\.csv: no row uses idle"):
        read_tables(folder)


@pytest.mark.parametrize("region", CURRENCIES)
@pytest.mark.parametrize("fuel", ENERGY)
def test_a_region_without_an_energy_price_is_refused(folder, region, fuel):
    path = folder / "energy_prices.csv"
    kept = [line for line in lines_of(path) if not line.startswith(f"{region},{region},{CURRENCIES[region]},{fuel}")]
    path.write_text("\n".join(kept) + "\n", "utf-8")
    with pytest.raises(DataError, match=f"no {fuel} price for the whole of {region}"):
        read_tables(folder)


def test_the_tables_travel_inside_an_installed_package(tmp_path):
    """The wheel puts data/ into the package; nothing else of the checkout is there."""
    package = Path(sys.modules["decide"].__file__).parent
    shutil.copytree(package, tmp_path / "decide", ignore=shutil.ignore_patterns("__pycache__", "data"))
    shutil.copytree(data_dir(), tmp_path / "decide" / "data")
    script = "from decide.load.tables.tables import data_dir, tables; tables(); print(data_dir())"
    run = subprocess.run(
        [sys.executable, "-c", script],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(tmp_path), "PYTHONSAFEPATH": ""},
        capture_output=True,
        text=True,
        check=True,
    )
    assert Path(run.stdout.strip()) == (tmp_path / "decide" / "data").resolve()
