"""What the tables of a diagnosis hold in all: faults behind complaints, readings, codes, and what a tank's rust tells.

All that stands here is common practice of the trade, without a source.
"""

import math
from collections.abc import Iterator

import numpy as np
import pytest

from decide.answers.diagnosis import Diagnosis, condition_of, diagnose
from decide.load.tables.evidence import evidence
from decide.load.tables.symptoms import OWNER, Symptom, symptoms
from decide.load.tables.tables import tables
from decide.load.tables.usual_bills import usual_quote
from decide.show.text.evidence import bill_text, verdict_text
from decide.show.text.words import Words

EN, ES = Words.of("en"), Words.of("es")
PLACES = {"US": "US", "EU": "DE"}


def complaints() -> Iterator[tuple[str, str, Symptom]]:
    for kind in tables().known_classes.values():
        for region in kind.regions:
            for symptom in symptoms(region).of_class(kind.kind):
                yield kind.kind, region, symptom


# every fault is behind some complaint

NOT_SOLD_THERE = {("clothes_washer", "EU", "drive"), ("heat_pump_air", "US", "pump_heating")}
"""Top loaders with a clutch are hardly sold in Europe, nor heat pumps that heat water in the US."""


def test_every_fault_that_a_class_can_have_is_behind_a_complaint_of_it() -> None:
    """Twenty-four were not: 'does not cool at all' in eight classes, and a gas water heater's thermostat among them."""
    reached = {(kind, region, fault) for kind, region, each in complaints() for fault in faults_of(each)}
    possible = {
        (kind.kind, region, fault.fault)
        for kind in tables().known_classes.values()
        for region in kind.regions
        for fault in tables().faults(kind.kind)
    }
    assert possible - reached == NOT_SOLD_THERE


def faults_of(symptom: Symptom) -> set[str]:
    return {link.cause.fault for link in symptom.links}


# every paid cause has a reading

SEEN_OR_FELT = {
    "ac_tray", "cold_flap", "compressor_mounts", "dish_door_spring", "dish_stones", "dryer_blower_rubs",
    "fan_back_worn", "glass_crack", "heater_vapor", "ind_fan_noise", "mw_cover", "mw_fan_noise", "oven_fan_rubs",
    "oven_glass", "oven_hinge", "roomac_outer_fan", "tl_fan_noise", "washer_drawer", "washer_drum",
    "washer_inner_hose", "washer_scaled", "wd_lint",
}  # fmt: skip
"""Cracks, wear, dirt, leaks and play that a technician sees, hears or feels: no instrument has a number for them."""

WITHOUT_HERE = {
    "burnt_board": {"cooktop_induction", "microwave"},  # nobody measures there with the power on
    "oven_igniter": {"range_gas"},  # in Europe, where it lights by a spark
}
"""Causes with a reading elsewhere, that have none in some class."""


def test_every_paid_cause_has_a_reading_but_for_what_is_only_seen_or_felt() -> None:
    """Seventy-one of 230 had none."""
    told: dict[str, set[str]] = {}
    bare: dict[str, set[str]] = {}
    for kind, region, symptom in complaints():
        tests = evidence().readings_of(symptom, kind, region)
        for link in symptom.links:
            if link.cause.who != OWNER:
                known = any(link.cause.cause in test.likelihoods for test in tests)
                (told if known else bare).setdefault(link.cause.cause, set()).add(kind)
    assert bare.keys() - told.keys() == SEEN_OR_FELT
    assert {cause: kinds for cause, kinds in bare.items() if cause in told} == WITHOUT_HERE


@pytest.mark.parametrize("reading", evidence().readings.values(), ids=lambda each: each.key)
def test_a_reading_says_how_it_stands_and_where_it_is_taken(reading: object) -> None:
    key = reading.key  # type: ignore[attr-defined]
    assert evidence().readings[key].basis.note, key
    for words in (EN, ES):
        assert words.text["reading"][key]["point"], key


# codes

NO_DISPLAY = {"water_heater_electric", "ceiling_fan", "refrigerator_compact", "freezer_chest"}
"""Classes that mostly have no display and no blinking light."""

NO_CODE = {
    # what is broken, smells, leaks, sounds, trips or burns is not told by a code
    "door_water_frozen", "drain_blocked", "fridge_floor_water", "fridge_dead", "cold_door", "cold_iced", "cold_noisy",
    "cold_dead", "cold_wrong", "washer_smell", "washer_tears", "washer_soap_left", "dish_smell",
    "dish_soap_left", "dish_door", "dryer_noisy", "dryer_tears", "dryer_door", "glass_cracked", "oven_door",
    "plate_cold", "plate_high", "oven_noisy", "gas_plate_out", "gas_burner_weak", "spark_endless", "range_dead",
    "gas_range_noisy", "induction_noisy", "microwave_plate", "microwave_sparks", "microwave_door_bad",
    "microwave_runs_open", "microwave_noisy", "roomac_noisy", "roomac_smell", "dehum_noisy", "ac_noisy", "ac_smell",
    "furnace_noisy", "furnace_water", "furnace_pilot", "boiler_noisy", "tank_rumbles", "tank_too_hot",
    "valve_discharges", "heater_leaking", "hot_water_brown", "tankless_leaks", "smell_burnt", "gives_shock",
    "stood_in_water", "gas_smell", "flame_unsafe",
}  # fmt: skip


def asks_for_a_code(kind: str, region: str, symptom: Symptom) -> bool:
    asked = evidence().questions_of(symptom, kind, region)
    return any("code" in each.key or any(code.startswith("code_") for code in each.outcomes) for each in asked)


def test_wherever_a_class_has_a_display_its_code_is_asked_for() -> None:
    """Ten complaints of 168 asked for it, the first thing that a technician reads."""
    without = {
        symptom.symptom
        for kind, region, symptom in complaints()
        if kind not in NO_DISPLAY and not asks_for_a_code(kind, region, symptom)
    }
    assert {each for each in without if not each.startswith(("trips", "co_alarm", "roomac_trips", "ac_trips"))} == (
        NO_CODE
    )
    assert len({each.symptom for kind, region, each in complaints() if asks_for_a_code(kind, region, each)}) > 75


def test_a_code_is_of_a_kind_and_of_no_maker() -> None:
    for language in (EN, ES):
        for code, said in language.text["evidence_answer"].items():
            if code.startswith("code_"):
                assert not any(sign.isdigit() for sign in said), code


@pytest.mark.parametrize(
    ("kind", "symptom", "answer", "cause"),
    [
        ("clothes_washer", "washer_not_draining", {"washer_shows": "code_drain"}, "washer_filter"),
        ("dishwasher", "dish_cold", {"dish_shows": "code_heat"}, "dish_heater"),
        ("clothes_dryer_electric", "dryer_slow", {"dryer_shows": "code_filter"}, "dryer_lint"),
        ("clothes_dryer_heat_pump", "hpdryer_water", {"hpd_shows": "code_full"}, "hpd_tank"),
        ("refrigerator", "warm_above", {"fridge_shows": "code_fan"}, "evaporator_fan_still"),
        ("oven_electric", "oven_uneven", {"oven_shows": "code_sensor"}, "oven_sensor"),
        ("central_ac", "ac_not_cooling", {"ac_shows": "code_refrigerant"}, "ac_leak"),
        ("furnace_gas", "furnace_short", {"blink_code": "code_limit"}, "furnace_filter"),
        ("boiler_gas", "boiler_pressure_lost", {"boiler_code_kind": "code_pressure_water"}, "boiler_vessel"),
    ],
)
def test_a_kind_of_code_points_at_what_it_is_for(kind: str, symptom: str, answer: dict[str, str], cause: str) -> None:
    place = tables().kind(kind).regions[0]
    before, after = (diagnose(kind, symptom, place=place, answers=each) for each in ({}, answer))
    at = before.symptom.ids.index(cause)
    assert after.chance[at] > before.chance[at]
    assert int(np.argmax(after.chance)) == at


# fuses and boards that change the speed


@pytest.mark.parametrize(
    ("kind", "symptom", "cause", "fault", "reading"),
    [
        ("furnace_gas", "furnace_cold", "control_fuse", "power_supply", {"control_fuse_ohm": 1e6}),
        ("central_ac", "ac_dead", "control_fuse", "power_supply", {"control_fuse_ohm": 1e6, "control_volt": 0.0}),
        ("heat_pump_air", "ac_outdoor_off", "control_fuse", "power_supply", {"control_fuse_ohm": 1e6}),
        ("furnace_gas", "furnace_no_air", "blower_module", "blower", {"inverter_out_volt": 0.0}),
        ("refrigerator", "warm_throughout", "fridge_inverter", "control_board", {"inverter_out_volt": 0.0}),
        ("central_ac", "ac_not_cooling", "ac_inverter", "control_board", {"inverter_out_volt": 0.0}),
        ("heat_pump_air", "hp_no_heat", "ac_inverter", "control_board", {"inverter_out_volt": 0.0}),
        ("clothes_washer", "washer_not_spinning", "washer_inverter", "motor", {"inverter_out_volt": 0.0}),
        ("clothes_dryer_heat_pump", "hpdryer_cold", "hpd_inverter", "control_board", {"inverter_out_volt": 0.0}),
        ("room_ac", "roomac_weak", "roomac_inverter", "control_board", {"inverter_out_volt": 0.0}),
        ("microwave", "microwave_no_heat", "mw_inverter", "magnetron", {"mw_power_share": 0.0}),
    ],
)
def test_a_fuse_or_a_board_that_changes_the_speed_is_checked_measured_and_priced(
    kind: str, symptom: str, cause: str, fault: str, reading: dict[str, float]
) -> None:
    found = diagnose(kind, symptom, age=6)
    at = found.symptom.ids.index(cause)
    assert found.symptom.links[at].cause.fault == fault
    assert not found.symptom.links[at].cause.of_the_house
    assert 0 < found.bill.low[at] < found.bill.high[at]
    assert usual_quote(kind, fault, "US", tables()) is not None
    assert diagnose(kind, symptom, readings=reading).chance[at] > found.chance[at]


# rust and anode of a tank


@pytest.mark.parametrize("kind", ["water_heater_electric", "water_heater_gas", "water_heater_heat_pump"])
def test_rust_low_down_is_the_tank_and_rust_at_a_fitting_is_the_fitting(kind: str) -> None:
    def likely(**answers: str) -> str:
        found = diagnose(kind, "heater_leaking", age=8, answers=answers)
        return found.symptom.ids[int(np.argmax(found.chance))]

    assert likely(heater_rust="rust_bottom") == "heater_tank"
    assert likely(heater_rust="rust_fitting") == "heater_joint"
    assert likely(heater_rust="no_rust", anode_seen="anode_thick") in ("heater_relief", "heater_joint")


def test_what_is_answered_of_the_whole_tank_moves_its_condition_and_so_the_limit() -> None:
    def of(**answers: str) -> Diagnosis:
        return diagnose("water_heater_gas", "no_hot_water_gas", age=10, answers=answers)

    plain, none, worn, poor = of(), of(heater_rust="no_rust"), of(heater_rust="rust_fitting"), of(
        heater_rust="rust_bottom"
    )  # fmt: skip
    assert (plain.condition, none.condition, worn.condition, poor.condition) == (1.0, 1.0, 0.7, 0.4)
    assert plain.limit == pytest.approx(none.limit)
    assert plain.limit > worn.limit > poor.limit
    assert "40%" in " ".join(verdict_text(EN, poor))
    assert any("40" in each for each in verdict_text(ES, poor))
    assert not any("usual years" in each for each in verdict_text(EN, plain))
    assert condition_of({"heater_rust": "rust_fitting", "anode_seen": "anode_gone"}, tables(), "US") == 0.7


def test_one_range_stands_for_the_element_of_a_european_tank() -> None:
    """Two did: 17 to 45 beside the check and 16 to 60 beside the meter."""
    facts = {fact.fact: fact for fact in symptoms("EU").facts}
    for fact, reading in (("heater_ohm_eu", "heater_element_ohm_eu"), ("heater_ohm", "heater_element_ohm_us")):
        measured = evidence().readings[reading]
        assert (facts[fact].low, facts[fact].high) == (measured.low, measured.high)


# the maker's warranty on the sealed system


@pytest.mark.parametrize("kind", ["refrigerator", "central_ac", "water_heater_heat_pump"])
def test_the_sealed_system_under_warranty_is_one_word_that_names_all_its_parts(kind: str) -> None:
    symptom = {"refrigerator": "warm_throughout", "central_ac": "ac_not_cooling"}.get(kind, "whp_no_hot")
    bare, covered = (diagnose(kind, symptom, age=9, covered=each) for each in ((), ("sealed",)))
    for at, link in enumerate(bare.symptom.links):
        sealed = tables().opens_the_circuit(link.cause.fault)
        assert (link.cause.cause in covered.covered) == sealed
        assert (float(covered.bill.by_cause[at]) < float(bare.bill.by_cause[at])) == sealed


# the usual quote


def test_what_the_likeliest_fault_is_quoted_at_is_said_beside_the_bill() -> None:
    found = diagnose("refrigerator", "warm_throughout", answers={"compressor_sound": "clicks"})
    usual = usual_quote("refrigerator", "compressor_start", "US", tables())
    assert usual is not None
    said = " ".join(bill_text(EN, found))
    ends = (EN.money(each) for each in (usual.low, usual.high))
    assert f"Quotes usually run {' to '.join(ends)}, if it is: {EN.fault('compressor_start')}." in said
    own = diagnose("refrigerator", "drain_blocked", out=("drain_heat",))
    assert not any("Quotes usually" in each for each in bill_text(EN, own))


@pytest.mark.slow
def test_no_complaint_is_without_words_for_its_quote() -> None:
    for kind, region, symptom in complaints():
        found = diagnose(kind, symptom.symptom, place=PLACES[region])
        for words in (EN, ES):
            assert all(each and "{" not in each for each in bill_text(words, found)), (kind, symptom.symptom)
        assert not math.isnan(float(found.bill.mean))


# what the nine families of a refrigerator lacked

FAMILIES = {
    "warm_throughout": (
        {"lamp_inside", "compressor_sound", "frost_where", "fridge_shows"},
        {"compressor_winding_sum", "condenser_rise"},
    ),
    "warm_above": ({"coat_on_wall", "air_in_freezer"}, {"flap_motor_ohm", "evaporator_fan_volt"}),
    "door_water_frozen": ({"blow_line", "freezer_too_cold"}, {"freezer_temperature", "line_heater_ohm"}),
    "no_ice": ({"dispenser_runs", "plug_in_tube"}, {"fill_volume", "valve_coil_ohm_us", "harvest_temperature"}),
    "not_dispensed": ({"what_fails", "heard_when_asked"}, {"dispenser_switch_ohm", "ice_motor_volt_us"}),
    "not_defrosting": (
        {"defrost_by_hand"},
        {"defrost_heater_ohm_us", "defrost_thermostat_closes", "defrost_output_us"},
    ),
    "fan_noise": ({"stops_with_door", "noise_with_compressor"}, {"evaporator_fan_volt"}),
    "drain_blocked": ({"drain_strap", "cleared_lately"}, {"drain_heater_ohm_us"}),
    "fridge_floor_water": ({"floor_when", "first_wet"}, {"valve_weep_ml"}),
}
"""What a master technician asks and measures first in each: common practice, no source."""


@pytest.mark.parametrize("family", FAMILIES)
def test_each_family_of_a_refrigerator_asks_and_measures_what_a_technician_would_miss(family: str) -> None:
    found = diagnose("refrigerator", family)
    asked, measured = FAMILIES[family]
    assert asked <= found.questions.keys()
    assert measured <= found.tests.keys()


@pytest.mark.parametrize(
    ("symptom", "answers", "readings", "cause"),
    [
        ("warm_above", {}, {"flap_motor_ohm": 9e6}, "air_flap"),
        ("door_water_frozen", {"blow_line": "yes"}, {}, "flap_open"),
        ("no_ice", {"dispenser_runs": "full_stream"}, {"harvest_temperature": -25.0}, "icemaker_worn"),
        ("drain_blocked", {"drain_strap": "no", "cleared_lately": "yes"}, {}, "drain_heat"),
        ("fridge_floor_water", {"floor_when": "when_drawn"}, {"valve_weep_ml": 60.0}, "fridge_valve"),
    ],
)
def test_what_was_missing_now_tells_the_cause(
    symptom: str, answers: dict[str, str], readings: dict[str, float], cause: str
) -> None:
    found = diagnose("refrigerator", symptom, answers=answers, readings=readings)
    assert found.symptom.ids[int(np.argmax(found.chance))] == cause


# hot fat, backflow, high pressure, recalls


def test_the_cautions_that_were_missing_go_with_their_class_fault_place_year_and_reader() -> None:
    def ids(kind: str, fault: str, place: str = "US", made: float | None = None) -> dict[str, str]:
        return {each.id: each.reader for each in tables().cautions(kind, fault, place, made)}

    for kind, fault in (
        ("range_electric", "element_surface"),
        ("range_gas", "gas_burner"),
        ("oven_electric", "thermostat"),
    ):
        assert "fat_fire" in ids(kind, fault)
        assert "fat_fire" not in ids(kind, "door_hinge")
    assert "backflow_boiler" in ids("boiler_gas", "expansion_vessel", "DE")
    assert "backflow_dish" in ids("dishwasher", "drain_pump")
    assert "backflow_dish_eu" in ids("dishwasher", "drain_pump", "DE")
    assert "backflow_dish" not in ids("dishwasher", "drain_pump", "DE")
    assert ids("central_ac", "compressor", made=2015)["high_pressure"] == "technician"
    assert "high_pressure" not in ids("central_ac", "compressor", made=1990)
    assert "high_pressure" not in ids("central_ac", "contactor")


@pytest.mark.parametrize(("place", "listed"), [("US", "CPSC"), ("DE", "Safety Gate")])
def test_the_official_recall_list_of_the_place_is_named(place: str, listed: str) -> None:
    for words in (Words.for_place(place), Words.of("es", tables().region_of(place), place)):
        for each in tables().cautions("dehumidifier", "control_board", place):
            if each.id.startswith("recall_"):
                assert listed in words.caution_text(each)
        assert listed in words.in_place("outcome.recalled")
    assert {"recall_check", "recall_fire"} <= {
        each.id for each in tables().cautions("dehumidifier", "control_board", place)
    }
    assert "recall_fire" not in {each.id for each in tables().cautions("dehumidifier", "dirty_coil", place)}


@pytest.mark.parametrize("kind", ["water_heater_electric", "water_heater_gas", "furnace_gas"])
def test_ruling_causes_out_beside_one_that_cannot_be_repaired_never_ends_in_an_error(kind: str) -> None:
    """A share of 1 and a rounding was refused as beyond 1: two causes of a leaking heater ruled out ended the page."""
    symptom = "co_alarm_furnace" if kind == "furnace_gas" else "heater_leaking"
    ids = diagnose(kind, symptom).symptom.ids
    for last in ids:
        for beside in ids:
            found = diagnose(kind, symptom, out=tuple(each for each in ids if each not in (last, beside)))
            assert found.chance.sum() == pytest.approx(1)
            assert found.bill.chance.max() <= 1.0
