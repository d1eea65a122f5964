"""Texts that can hurt: every class, fault, region, reader and language is walked, and each hazard has its words.

What is held here is common practice of the trade without a source, unless a source stands beside the check.
"""

import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from decide.answers.answer import answer
from decide.answers.diagnosis import diagnose
from decide.economics.case import REPAIR
from decide.economics.weigh import weigh
from decide.errors import ReadError
from decide.load.cases.case_file import complete
from decide.load.files.rows import rows
from decide.load.tables.evidence import read_folder
from decide.load.tables.symptoms import NOBODY, OWNER, symptoms
from decide.load.tables.tables import CURRENCIES, READERS, WHEN, Caution, data_dir, tables
from decide.show.text.checks import caution_list, check_rows, fact_text, found_text, money_text
from decide.show.text.phrases import languages
from decide.show.text.words import Words

EN, DE, FR = Words.of("en"), Words.of("en", "EU", "DE"), Words.of("en", "EU", "FR")
GAS = {kind.kind for kind in tables().known_classes.values() if "gas" in kind.fuels}
ELECTRIC_TANKS = {"water_heater_electric", "water_heater_heat_pump"}
PLACES = {"US": "US", "EU": "DE"}

PAIRS = [
    (kind.kind, fault.fault, region)
    for kind in tables().known_classes.values()
    for region in kind.regions
    for fault in tables().faults(kind.kind)
]

BLOCKED = [
    (kind, fault, region)
    for kind, fault, region in PAIRS
    if any("repair" in caution.prohibits for caution in tables().cautions(kind, fault, region))
]


def cautions(kind: str, fault: str, region: str, reader: str | None = None) -> list[Caution]:
    found = tables().cautions(kind, fault, region)
    return [each for each in found if reader is None or each.reader in ("", reader)]


def said(kind: str, fault: str, region: str, language: str = "en", reader: str | None = None) -> list[str]:
    words = Words.of(language, region, PLACES[region])
    return [words.caution_text(each) for each in cautions(kind, fault, region, reader)]


def regions_of(caution: Caution) -> set[str]:
    return set(CURRENCIES) if "*" in caution.places else {tables().region_of(place) for place in caution.places}


def every_text(language: str, region: str) -> Iterator[tuple[str, str]]:
    """Every caution, check and number that a region can be shown, with its key."""
    words = Words.of(language, region, PLACES[region])
    for each in tables().all_cautions:
        if region in regions_of(each):
            yield each.id, words.caution_text(each)
    for cause in words.text["check"]:
        yield cause, words.in_place(f"check.{cause}.look")
    for fact in symptoms().facts:
        if "*" in fact.regions or region in fact.regions:
            yield fact.fact, fact_text(words, fact)


# all pairs


@pytest.mark.parametrize("reader", [None, *READERS])
@pytest.mark.parametrize("language", languages())
def test_every_pair_of_class_and_fault_is_told_now_then_while_working_then_afterwards(
    language: str, reader: str | None
) -> None:
    for kind, fault, region in PAIRS:
        found = cautions(kind, fault, region, reader)
        times = [WHEN.index(each.when) for each in found]
        assert times == sorted(times), (kind, fault, region)
        assert all(each.when == "now" for each in found if each.prohibits)
        assert [each for each in tables().cautions(kind, fault, region) if each.prohibits] == [
            c for c in found if c.prohibits
        ]
        texts = said(kind, fault, region, language, reader)
        assert len(set(texts)) == len(texts), (kind, fault, region)
        assert not any("{" in text or "nan" in text for text in texts)


def test_every_caution_has_its_source_and_its_standing() -> None:
    for each in tables().all_cautions:
        assert each.source.citation, each.id
        assert each.locator, each.id
        if each.source.key == "practice":
            assert each.status == "judgement", each.id
            assert each.locator.startswith("common practice"), each.id


@pytest.mark.parametrize("region", CURRENCIES)
def test_a_danger_of_gas_lets_nobody_touch_a_switch(region: str) -> None:
    for kind in GAS & {known.kind for known in tables().classes(region)}:
        for fault in ("gas_leak", "carbon_monoxide"):
            for text in said(kind, fault, region):
                assert not re.search("[Uu]nplug|[Ss]witch its|[Dd]o not pull|discharges", text), (kind, fault)


@pytest.mark.published("47 U.S.C. 251(e)(3): 911. Directive (EU) 2018/1972, Art. 109: 112", "the emergency number")
@pytest.mark.parametrize(("region", "number"), [("US", "911"), ("EU", "112")])
@pytest.mark.parametrize("language", languages())
def test_whoever_smells_gas_or_hears_the_alarm_goes_out_and_calls_from_outside(
    language: str, region: str, number: str
) -> None:
    other = {"911": "112", "112": "911"}[number]
    outside = {"en": "outside", "es": "afuera"}[language]
    for kind in GAS & {known.kind for known in tables().classes(region)}:
        for fault in tables().faults(kind):
            texts = said(kind, fault.fault, region, language, "owner")
            assert any(number in text and outside in text for text in texts), (kind, fault.fault)
            assert not any(re.search(rf"\b{other}\b", text) for text in texts)
        for fault_id in (
            "gas_leak",
            "carbon_monoxide",
            "unsafe_flame",
            "flue",
            "cracked_heat_exchanger",
            "overheating",
        ):
            stops = (
                [each for each in cautions(kind, fault_id, region) if "use" in each.prohibits]
                if any(fault_id == known.fault for known in tables().faults(kind))
                else []
            )
            texts = [Words.of(language, region).caution_text(each) for each in stops]
            assert all(number in text and outside in text for text in texts), (kind, fault_id)
            assert stops or fault_id in ("cracked_heat_exchanger", "overheating", "flue")


def test_delayed_ignition_rollout_and_a_yellow_flame_stop_the_use_of_whatever_burns_gas() -> None:
    assert set(tables().known_faults["unsafe_flame"].classes) == GAS
    by_cause = {link.cause.cause: link.cause for each in symptoms().known.values() for link in each.links}
    assert {by_cause[cause].fault for cause in ("heater_air", "furnace_ignition_bang")} == {"unsafe_flame"}
    found = answer({"appliance": {"class": "furnace_gas", "fault": "unsafe_flame", "age": 9}})
    assert EN.verdict(found).startswith("Stop: ")
    assert "do not light it again" in EN.headline(found)


def test_a_tank_that_overheats_is_switched_off_and_no_tap_is_opened() -> None:
    for kind in tables().known_faults["overheating"].classes:
        (order,) = (each for each in tables().cautions(kind, "overheating", "US") if each.prohibits)
        assert set(order.prohibits) == {"leave", "use"}
        assert re.search("breaker off now|gas control to off now", EN.caution_text(order))
        assert "Open no hot faucet" in EN.caution_text(order)


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("region", CURRENCIES)
def test_of_an_electric_tank_the_breaker_goes_off_first_and_nobody_stands_in_water(language: str, region: str) -> None:
    first_words = {"en": "Switch its", "es": "Primero corte su|Corte ahora su"}[language]
    water = {"en": "stand in|Floor wet|Keep clear", "es": "pise|Piso mojado|Aléjese"}[language]
    for kind in ELECTRIC_TANKS:
        for fault in tables().faults(kind):
            for reader in (None, *READERS):
                first = said(kind, fault.fault, region, language, reader)[0]
                assert re.match(first_words, first), (kind, fault.fault)
                assert re.search(water, first), (kind, fault.fault)


def test_before_anyone_looks_for_a_leak_the_power_is_off() -> None:
    diagnosis = diagnose("water_heater_electric", "heater_leaking", age=8)
    assert caution_list(EN, diagnosis)[0].text.startswith("Switch its breaker off first.")
    for row in check_rows(EN, diagnosis):
        assert "breaker off first" in row.look, row.cause
        assert not re.search(r"(?<!do not )\bfeel\b", row.look), row.cause


@pytest.mark.parametrize(
    ("words", "scald", "store"), [(EN, "120 °F", "140 °F"), (DE, "45 °C", "60 °C"), (FR, "50 °C", "55 °C")]
)
@pytest.mark.published(
    "CPSC: 120 F; European Guidelines for travel associated Legionnaires' disease: 60 C; arrêté of 30 Nov 2005",
    "hot-water temperatures",
)
def test_hot_water_neither_scalds_nor_breeds_germs(words: Words, scald: str, store: str) -> None:
    heaters = [known.kind for known in tables().known_classes.values() if known.group == "hot_water"]
    assert len(heaters) >= 4
    for kind in (*heaters, "boiler_gas"):
        for fault in tables().faults(kind):
            about = [
                words.caution_text(each)
                for each in tables().cautions(kind, fault.fault, words.region)
                if re.search("Legionella|scald_limit", words.text["cautions"][each.words])
            ]
            assert len(about) == 1, (kind, fault.fault)
            assert all(each in about[0] for each in (scald, store, "scald", "Legionella")), about
    for name in ("scald_limit", "legionella_store"):
        assert tables().safety_figure(name, words.region, words.country).source.citation


def test_no_text_names_a_hot_water_temperature_of_one_kind_alone() -> None:
    for language in languages():
        for key, text in Words.of(language).text["cautions"].items():
            assert ("{scald_limit}" in text) == ("{legionella_store}" in text), key


# nobody drags, bridges, feels or reaches


def test_nobody_pulls_a_gas_appliance_off_its_flexible_connector() -> None:
    for kind in ("clothes_dryer_gas", "range_gas"):
        for fault in tables().faults(kind):
            if fault.fault not in ("gas_leak", "carbon_monoxide"):
                assert any("Do not pull it out" in text for text in said(kind, fault.fault, "US", reader="owner"))
    for symptom in symptoms().of_class("clothes_dryer_gas"):
        for link in symptom.links:
            diagnosis = EN.in_place(f"check.{link.cause.cause}.look")
            assert not re.search(r"(Pull|pull) (the duct|it out|the dryer)", diagnosis), link.cause.cause
    assert "without moving the dryer" in EN.in_place("check.dryer_lint.look")


def test_a_safety_device_is_never_bridged() -> None:
    for kind, fault, region in PAIRS:
        if fault not in ("gas_leak", "carbon_monoxide"):
            assert any(text.startswith("Never bridge a safety device") for text in said(kind, fault, region))
    for region in CURRENCIES:
        for key, text in every_text("en", region):
            for found in re.finditer(r"\b(bridge|bypass|jumper|defeat)\w*", text):
                before = text[: found.start()].rstrip().split()[-1:]
                assert before == ["Never"] or "bypass plug" in text, (key, text)
        for key, text in every_text("es", region):
            for found in re.finditer(r"\bpuente[ae]\b", text):
                assert re.search(r"[Nn]o (lo )?$", text[: found.start()]), (key, text)


@pytest.mark.parametrize("region", CURRENCIES)
def test_a_blade_belt_or_drum_is_turned_only_with_the_plug_pulled(region: str) -> None:
    for language, turned, dead in (
        ("en", r"by hand\b|turn a fan", "plug|[Cc]ut the power|breaker off|or breaker off|arms"),
        ("es", r"\ba mano\b", "[Dd]esench|[Cc]orte la corriente|cortado|brazos"),
    ):
        for key, text in every_text(language, region):
            about = re.search(r"drum|blade|wheel|fan|belt|tambor|aspa|rueda|ventilador|correa", text)
            if re.search(turned, text) and about:
                assert re.search(dead, text) or re.search("Never push|No empuje", text), (key, text)


@pytest.mark.parametrize("region", CURRENCIES)
def test_no_text_sends_a_hand_into_water_ice_glass_or_heat(region: str) -> None:
    for key, text in every_text("en", region):
        assert not re.search(r"\b(feel for|reach in|stick your|break up|with your fingers)\b", text), (key, text)
        assert not re.search(r"(?<!do not )(?<!not )\b[Ff]eel (which|through|hot|the outlet pipe)", text), (key, text)
    owned = {link.cause.cause for each in symptoms().known.values() for link in each.links if link.cause.who == OWNER}
    for cause in owned:
        diagnosis = EN.in_place(f"check.{cause}.look")
        assert not re.search(r"(?<!do not )(?<!Do not )\b[Ff]eel\b", diagnosis), (cause, diagnosis)


def test_a_pilot_is_lit_by_the_plate_only_and_a_bang_is_not_tried_again() -> None:
    pilot = EN.in_place("check.heater_pilot.look")
    assert pilot.index("gas") < pilot.index("Light it only as the plate")
    assert "If it goes out again, leave it off" in pilot
    assert "do not start it again" in EN.in_place("check.furnace_ignition_bang.look")


# what stays charged, and what burns

CHARGED = {
    "central_ac", "heat_pump_air", "room_ac", "dehumidifier", "furnace_gas", "ceiling_fan", "refrigerator",
    "freezer_upright", "freezer_chest", "clothes_washer", "washer_dryer", "dishwasher", "clothes_dryer_electric",
    "clothes_dryer_gas", "clothes_dryer_heat_pump", "cooktop_induction", "microwave", "water_heater_heat_pump",
}  # fmt: skip
"""Classes with a capacitor or a direct-current link: common practice, no source."""

INVERTERS = {
    "cooktop_induction", "room_ac", "heat_pump_air", "central_ac", "refrigerator", "clothes_washer", "washer_dryer",
    "clothes_dryer_heat_pump", "microwave", "water_heater_heat_pump", "furnace_gas",
}  # fmt: skip
"""Classes of which many have an inverter or a power stage: common practice, no source."""


def test_every_class_with_a_capacitor_or_inverter_says_so_whatever_is_wrong() -> None:
    for kind, fault, region in PAIRS:
        if fault in ("gas_leak", "carbon_monoxide"):
            continue
        texts = said(kind, fault, region, reader="technician")
        if kind in CHARGED:
            assert any(re.search("stay charged|holds about 2,000 volts", text) for text in texts), (kind, fault)
        if kind in INVERTERS:
            assert any("holds a high voltage for minutes" in text for text in texts), (kind, fault)


def test_who_is_told_what_to_do_before_opening_it_is_not_told_never_to_open_it() -> None:
    told = 0
    for kind, fault, region in PAIRS:
        texts = said(kind, fault, region, reader="technician")
        opens = any("before opening it" in text for text in texts)
        assert not (opens and [text for text in texts if text.startswith("Do not open it")]), (kind, fault)
        told += opens
    assert told


def test_every_class_that_can_hold_what_burns_is_told_by_region_and_year() -> None:
    """The refrigerants are those of data/carbon_refrigerants.csv; which of them burn: ISO 817, classes 3 and 2L."""
    head = "class,region,since,refrigerant,charge,low,high,warming,source,locator,year,status,note"
    burning = [
        row
        for row in rows(data_dir() / "carbon_refrigerants.csv", head)
        if row.cells["refrigerant"] in ("R-600a", "R-290", "R-32", "R-454B")
    ]
    assert len(burning) > 10
    for row in burning:
        kind, region, since = row.cells["class"], row.cells["region"], float(row.cells["since"])
        for made in (None, since, since + 5):
            found = tables().cautions(kind, "compressor", region, made)
            assert any(each.words in ("flammable_refrigerant", "mildly_flammable") for each in found), (kind, made)
    old = {each.words for each in tables().cautions("refrigerator", "compressor", "US", 1985)}
    assert "flammable_refrigerant" not in old


def test_ice_is_left_to_melt() -> None:
    for kind in ("refrigerator", "freezer_upright"):
        assert any("Never chip" in text for text in said(kind, "defrost", "EU", reader="owner"))


def test_a_sound_young_unit_is_not_warned_of_what_only_old_ones_hold() -> None:
    for caution, year in (("old_capacitor", 1970), ("asbestos", 1970), ("mercury", 1990)):
        kind = "furnace_gas"
        assert caution in {each.id for each in tables().cautions(kind, "blower", "US", year)}
        assert caution in {each.id for each in tables().cautions(kind, "blower", "US", None)}
        assert caution not in {each.id for each in tables().cautions(kind, "blower", "US", 2020)}
    young = answer({"appliance": {"class": "furnace_gas", "age": 6, "fault": "blower"}})
    assert not {"old_capacitor", "asbestos", "mercury"} & {each.id for each in young.cautions}
    old = complete({"appliance": {"class": "refrigerator", "age": 55}})
    assert "old_capacitor" in {each.id for each in old.cautions}


# after the repair


def test_after_a_repair_it_is_tested_as_fits_the_class() -> None:
    for kind, fault, region in PAIRS:
        words = Words.of("en", region)
        after = " ".join(
            words.caution_text(c) for c in tables().cautions(kind, fault, region) if c.when == "afterwards"
        )
        assert ("ground connection" if region == "US" else "earth connection") in after, (kind, fault)
        if kind in GAS:
            assert all(each in after for each in ("joints for leaks", "carbon monoxide", "licensed")), (kind, fault)
        if tables().opens_the_circuit(fault):
            assert "tests it for leaks" in after, (kind, fault)


# each region its own words

OF_THE_US = {
    "cfr82", "fr79_29682", "snap2011", "usfa", "irc", "nfpa54", "cpsc", "nec", "cfr1030", "waste", "rsa", "usc2068",
    "usda", "ul60335", "relief",
}  # fmt: skip


@pytest.mark.parametrize("language", languages())
def test_no_rule_or_word_of_the_us_is_printed_in_europe(language: str) -> None:
    for each in tables().all_cautions:
        if "EU" in regions_of(each):
            assert each.source.key not in OF_THE_US, each.id
    for key, text in every_text(language, "EU"):
        assert not re.search(r"°F|\bpsi\b|\binch|pulgadas|\b911\b|\bthe US\b|Estados Unidos|NFPA|\bNEC\b", text), key
        if language == "en":
            assert not re.search(r"\b(outlet|faucet|draft)\b", text) or "outlets" in text, (key, text)
            assert "breaker" not in text.replace("fuse or breaker", "").replace("breakers", ""), (key, text)
    for key, text in every_text("en", "US"):
        assert not re.search(r"\b(RCD|socket|earth connection|°C\b|112)", text.replace("Plate socket", "")), (key, text)


# what cannot be repaired has no repair price


def test_tanks_and_exchangers_are_what_cannot_be_repaired() -> None:
    assert {(kind, fault) for kind, fault, _ in BLOCKED} == {
        ("water_heater_electric", "tank_leak"),
        ("water_heater_gas", "tank_leak"),
        ("water_heater_heat_pump", "tank_leak"),
        ("furnace_gas", "cracked_heat_exchanger"),
    }


@pytest.mark.parametrize(("kind", "fault", "region"), BLOCKED)
def test_what_cannot_be_repaired_is_refused_by_limit_verdict_and_shop(kind: str, fault: str, region: str) -> None:
    entries = {
        "appliance": {"class": kind, "age": 6, "fault": fault},
        "household": {"place": region},
        "repair": {"quote": 1},
    }
    found = answer(entries)
    assert math.isnan(float(np.asarray(weigh(found.case).repair_limit)))
    assert found.weighing.options[int(found.weighing.best)].action != REPAIR
    words = Words.for_entries(entries, "en")
    assert words.options(found)[0].note == "Cannot be repaired"
    assert "cannot be repaired" in words.headline(found).lower()


def test_exactly_the_causes_of_such_faults_are_mended_by_nobody() -> None:
    causes = {link.cause.cause: link.cause for each in symptoms().known.values() for link in each.links}
    ends = {cause for cause, each in causes.items() if each.mend == NOBODY}
    assert ends == {"heater_tank", "furnace_exchanger"}
    assert all(causes[cause].parts + causes[cause].hours == (0, 0, 0, 0) for cause in ends)


@pytest.mark.parametrize(
    ("kind", "symptom", "cause"),
    [
        ("water_heater_gas", "heater_leaking", "heater_tank"),
        ("water_heater_electric", "heater_leaking", "heater_tank"),
        ("furnace_gas", "furnace_short", "furnace_exchanger"),
    ],
)
def test_what_cannot_be_repaired_is_in_no_bill_before_the_visit(kind: str, symptom: str, cause: str) -> None:
    diagnosis = diagnose(kind, symptom, age=6)
    (at,) = np.flatnonzero(diagnosis.symptom.which((cause,), "found"))
    assert diagnosis.no_repair == pytest.approx(float(diagnosis.chance[at]))
    assert diagnosis.bill.chance[at] == 0.0
    others = [link.cause.cause for link in diagnosis.symptom.links if link.cause.cause != cause]
    alone = diagnose(kind, symptom, age=6, out=(cause,))
    assert float(diagnosis.bill.mean) == pytest.approx(float(alone.bill.mean))
    assert diagnosis.visit is not None
    assert alone.visit is not None
    assert float(diagnosis.visit.gain) == pytest.approx(float(alone.visit.gain) * (1 - diagnosis.no_repair))
    assert "cannot be repaired" in found_text(EN, diagnosis, cause)
    assert "$" not in found_text(EN, diagnosis, cause)
    assert EN.caution_text(
        next(c for c in tables().cautions(kind, diagnosis.symptom.links[at].cause.fault, "US") if c.prohibits)
    ) in {line.text for line in caution_list(EN, diagnosis, cause)}
    left = diagnose(kind, symptom, age=6, out=tuple(others))
    assert left.no_repair == 1.0
    assert left.visit is None
    assert list(money_text(EN, left)) == [EN.say("checks.cannot_all")]


def test_a_shop_s_own_list_cannot_price_it_either(tmp_path: Path) -> None:
    text = (data_dir() / "causes.csv").read_text("utf-8")
    priced = text.replace(
        "heater_tank,tank_leak,10,owner,nobody,0,0,0,0", "heater_tank,tank_leak,10,owner,licensed,350,1100,2,4"
    )
    assert priced != text
    (tmp_path / "causes.csv").write_text(priced, "utf-8")
    with pytest.raises(ReadError, match="mend must be nobody where a caution rules the repair out"):
        read_folder(tmp_path)
    (tmp_path / "causes.csv").write_text(text.replace("owner,nobody,0,0,0,0", "owner,nobody,350,1100,2,4"), "utf-8")
    with pytest.raises(ReadError, match="what cannot be repaired has no price"):
        read_folder(tmp_path)


# facts that were wrong

FACTS = {fact.fact: fact for fact in symptoms().facts}


def test_the_flame_switch_of_a_gas_dryer_has_no_microamperes() -> None:
    assert FACTS["flame_current"].causes == ("furnace_sensor",)
    diagnosis = EN.in_place("check.dryer_flame_sensor.look")
    assert "closed when cold" in diagnosis
    assert "open when the igniter glows" in diagnosis


def test_a_relief_valve_in_europe_opens_by_pressure_and_may_drip() -> None:
    here, there = ({fact.fact for fact in symptoms().facts_of("heater_relief", region)} for region in ("US", "EU"))
    assert here == {"relief_opens"}
    assert there == {"relief_opens_eu"}
    assert FACTS["relief_opens_eu"].unit == "bar"
    for text in (fact_text(DE, FACTS["relief_opens_eu"]), said("water_heater_electric", "relief_valve", "EU")[1]):
        assert "normal" in text
        assert "°" not in text
    assert "normal" not in said("water_heater_electric", "relief_valve", "US")[1]


def test_the_drain_hose_of_an_american_washer_hangs_30_to_96_inches_high() -> None:
    (fact,) = symptoms().facts_of("washer_hose_kinked", "US")
    assert (round(fact.low / 2.54), round(fact.high / 2.54)) == (30, 96)
    assert "30 to 96 inches" in fact_text(EN, fact)
    assert "60 to 100 cm" in fact_text(DE, symptoms().facts_of("washer_hose_kinked", "EU")[0])


@pytest.mark.parametrize(
    ("region", "volts", "watts"),
    [("US", 240, 4500), ("US", 240, 5500), ("EU", 230, 1500), ("EU", 230, 1200), ("EU", 230, 3000)],
)
def test_a_sound_element_of_any_usual_rating_passes(region: str, volts: float, watts: float) -> None:
    """Ohm's law: R = U^2 / P."""
    (fact,) = (each for each in symptoms().facts_of("heater_element", region) if each.unit == "ohm")
    assert fact.low <= volts**2 / watts <= fact.high
    assert "volts times volts, divided by watts" in fact_text(EN, fact)


@pytest.mark.published("US Department of Agriculture and FDA: food in a power cut", "2, 4, 48 and 24 hours, 40 F")
def test_food_keeps_two_hours_warm_four_in_a_shut_fridge_and_a_freezer_has_its_own_time() -> None:
    fridge, freezer = (" ".join(said(kind, "compressor", "US")) for kind in ("refrigerator_compact", "freezer_chest"))
    assert "above 40 °F for 2 hours or more" in fridge
    assert "cold for about 4 hours" in fridge
    assert "about 48 hours, half full for 24" in freezer
    assert "fridge" not in freezer


def test_a_tank_is_set_hotter_in_europe() -> None:
    assert "60 to 65 °C" in fact_text(DE, FACTS["tank_set_eu"])
    assert [fact.fact for fact in symptoms().facts_of("heater_demand", "EU")] == ["tank_set_eu"]


@pytest.mark.parametrize("kind", tables().classes("EU"), ids=lambda kind: kind.kind)
def test_who_takes_the_old_one_back_goes_by_whether_it_is_installed(kind: Any) -> None:
    told = {each.id for each in tables().cautions(kind.kind, "other", "EU")}
    assert told & {"take_back", "take_back_installed"} == {
        "take_back_installed" if kind.group in ("heating", "hot_water") or kind.kind == "central_ac" else "take_back"
    }
    assert not any(each.id.startswith("take_back") for each in tables().cautions(kind.kind, "other", "US"))
