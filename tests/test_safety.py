"""What stands in the open: for every class, fault, region and reader it is walked, counted and read.

Danger goes life first; that, and what belongs to which fault, is common practice, no source. Few lines are heeded more:
Chen, Gilson and Mouloua 1997, as told in a review of warnings.
"""

import re
from collections.abc import Iterator
from itertools import pairwise

import pytest
from reading_ease import LEFT_OUT, fluency, grade

from decide.answers.answer import answer
from decide.answers.diagnosis import diagnose
from decide.answers.safety import IN_THE_OPEN, Safety, safety
from decide.load.tables.symptoms import symptoms
from decide.load.tables.tables import DANGERS, DOING, READERS, WHEN, Caution, tables
from decide.show.text.checks import caution_list
from decide.show.text.phrases import languages
from decide.show.text.words import CautionLine, Words

PLACES = {"US": "US", "EU": "DE"}
WORDS = 60
"""Words that stand in the open together, stops aside. [word]"""
EN = Words.of("en")

PAIRS = [
    (kind.kind, fault.fault, region)
    for kind in tables().known_classes.values()
    for region in kind.regions
    for fault in tables().faults(kind.kind)
]


def mind(kind: str, fault: str, region: str, made: float | None = None, **seen: str) -> Safety:
    return safety(tables().cautions(kind, fault, PLACES[region], made), [fault], **seen)


def in_the_open(lines: list[CautionLine]) -> list[CautionLine]:
    return [line for line in lines if line.is_open and line.when]


def all_lines(language: str, reader: str | None) -> Iterator[tuple[tuple[str, str, str], list[CautionLine]]]:
    for kind, fault, region in PAIRS:
        words = Words.of(language, region, PLACES[region])
        yield (
            (kind, fault, region),
            words.safety_lines(safety(tables().cautions(kind, fault, PLACES[region]), [fault], reader)),
        )


# four lines, sixty words


@pytest.mark.parametrize("reader", [None, *READERS])
@pytest.mark.parametrize("language", languages())
def test_four_lines_and_sixty_words_stand_in_the_open_and_stops_are_whole(language: str, reader: str | None) -> None:
    for pair, lines in all_lines(language, reader):
        shown = in_the_open(lines)
        stops = [line for line in lines if line.weight == "stop"]
        assert len(shown) <= max(IN_THE_OPEN, len(stops)), pair
        assert all(stop in shown for stop in stops), pair
        others = [line for line in shown if line.weight != "stop"]
        closing = [lines[-1]] if language == "en" else []
        assert sum(len(line.text.split()) for line in (*others, *closing)) <= WORDS, (pair, others)
        assert lines[-1].is_open, pair


def test_stops_are_not_shorter_than_the_danger_asks() -> None:
    """Each says what to do now, and whoever smells gas or may be poisoned is sent out, told whom to call, and by whom
    the gas is shut and the unit tagged."""
    gas = {"gas_leak", "carbon_monoxide", "cracked_heat_exchanger", "flue_gas_leak", "flue", "unsafe_flame"}
    stops = [each for each in tables().all_cautions if each.prohibits]
    assert gas == {fault for each in stops if each.danger == "gas" for fault in each.faults}
    for region, number in (("US", "911"), ("EU", "112")):
        words = Words.of("en", region, PLACES[region])
        for each in stops:
            text = words.caution_text(each)
            if each.danger == "gas":
                assert re.search(r"[Ee]verybody out", text), each.id
                assert f"call {number}" in text, each.id
                assert "outside" in text, each.id
                assert re.search(r"gas off|its gas|gas stays off", text), each.id
                assert re.search(r"\btag", text), each.id
                assert "licensed gas fitter" in text, each.id
            assert len(text.split()) >= 15, each.id


def test_a_tank_that_leaks_cannot_be_repaired_and_is_not_called_unsafe() -> None:
    for kind in tables().known_faults["tank_leak"].classes:
        found = answer({"appliance": {"class": kind, "age": 11, "fault": "tank_leak"}, "repair": {"quote": 900}})
        words = Words.of("en")
        assert words.options(found)[0].note == "Cannot be repaired"
        assert "safe" not in words.verdict(found) + words.headline(found)
        new = {words.caution_text(each) for each in tables().all_cautions if "replace" in each.doing}
        assert {line.text for line in words.cautions(found)[:-1]} <= new  # only a new one is left


# the most dangerous first, and what belongs to the fault


def test_dangers_go_life_first_and_paper_last() -> None:
    assert DANGERS == ("gas", "shock", "fire", "burn", "crush", "illness", "money")
    for id_ in ("recall_check", "warranty_first", "tenant", "permit", "take_back", "no_resale_of_recalled"):
        (caution,) = (each for each in tables().all_cautions if each.id == id_)
        assert caution.danger == "money"


@pytest.mark.parametrize("reader", [None, *READERS])
def test_in_each_list_stops_come_first_and_then_what_is_most_dangerous(reader: str | None) -> None:
    for kind, fault, region in PAIRS:
        found = safety(tables().cautions(kind, fault, PLACES[region]), [fault], reader)
        assert [WHEN.index(each.when) for each in found.listed] == sorted(WHEN.index(e.when) for e in found.listed)
        for before, after in pairwise(found.listed):
            if before.when == after.when and {before.weight, after.weight} <= {"act", "note"}:
                assert DANGERS.index(before.danger) <= DANGERS.index(after.danger), (kind, fault, before.id, after.id)
            assert not (before.weight in ("act", "note") and after.weight in ("first", "stop") and after.when == "now")
        assert [each for each in found.listed if each in found.in_the_open] == list(found.in_the_open)


@pytest.mark.parametrize("reader", [None, *READERS])
@pytest.mark.parametrize("age", [None, 2, 60])
def test_every_class_and_fault_is_told_something_of_that_fault_in_the_open(
    reader: str | None, age: float | None
) -> None:
    made = None if age is None else 2026 - age
    generic = [
        (kind, fault, region)
        for kind, fault, region in PAIRS
        if not any(
            fault in each.faults
            for each in safety(tables().cautions(kind, fault, PLACES[region], made), [fault], reader).in_the_open
        )
    ]
    assert generic == []


def test_the_gravest_danger_of_a_case_is_never_behind_a_tap() -> None:
    """Of what is to be done, the first of the gravest danger stands in the open, unless stops take the room."""
    for kind, fault, region in PAIRS:
        found = mind(kind, fault, region)
        acts = [each for each in found.listed if each.weight == "act" and each.danger != "money"]
        stopped = {each.danger for each in found.in_the_open if each.weight in ("first", "stop")}
        gravest = min((DANGERS.index(each.danger) for each in acts), default=None)
        if gravest is not None and DANGERS[gravest] not in stopped:
            assert DANGERS[gravest] in {each.danger for each in found.in_the_open}, (kind, fault)
        assert not any(each.weight == "note" or each.danger == "money" for each in found.in_the_open), (kind, fault)


@pytest.mark.parametrize(
    ("kind", "fault", "ids"),
    [
        ("refrigerator", "compressor", {"food_fridge", "electric_disconnect", "flammable_refrigerant"}),
        ("freezer_chest", "compressor", {"food_freezer", "flammable_refrigerant", "refrigerant_certified"}),
        ("range_gas", "door_hinge", {"gas_or_alarm", "electric_disconnect", "never_bridge", "door_springs"}),
        ("dishwasher", "drain_pump", {"wet_floor", "hot_water_inside", "drain_glass", "never_bridge"}),
        ("clothes_dryer_gas", "airflow", {"gas_or_alarm", "electric_disconnect", "turn_by_hand", "dryer_lint_first"}),
        ("refrigerator", "blocked_drain", {"wet_floor", "ice_left_to_melt"}),
        ("cooktop_induction", "induction_power", {"charged_parts", "electric_live"}),
        ("clothes_dryer_electric", "power_supply", {"breaker_once", "electric_live"}),
        ("oven_electric", "door_lock", {"door_force"}),
        ("ceiling_fan", "motor", {"fan_falls"}),
    ],
)  # fmt: skip
def test_what_a_master_would_say_first_stands_in_the_open(kind: str, fault: str, ids: set[str]) -> None:
    assert ids <= {each.id for each in mind(kind, fault, tables().kind(kind).regions[0]).in_the_open}


# which place, which year, which reader, what is done


@pytest.mark.parametrize(
    ("kind", "id_", "last"),
    [
        ("refrigerator", "old_capacitor", 1979),
        ("furnace_gas", "asbestos", 1990),
        ("furnace_gas", "mercury", 2005),
        ("central_ac", "r22", 2010),
    ],
)
def test_what_only_old_units_hold_is_said_of_old_units(kind: str, id_: str, last: int) -> None:
    def ids(made: float | None) -> set[str]:
        return {each.id for each in tables().cautions(kind, "not_cooling" if id_ == "r22" else "other", "US", made)}

    assert id_ in ids(last)
    assert id_ in ids(None)
    assert id_ not in ids(last + 2)
    assert not {"old_capacitor", "asbestos", "mercury", "r22"} & ids(2015)


def test_no_unit_of_2015_is_warned_of_pcb_asbestos_or_mercury_anywhere() -> None:
    for kind, fault, region in PAIRS:
        words = Words.of("en", region, PLACES[region])
        texts = " ".join(words.caution_text(each) for each in tables().cautions(kind, fault, PLACES[region], 2015))
        assert not re.search("PCB|asbestos|mercury|R-22", texts), (kind, fault)


@pytest.mark.published("California Health and Safety Code 19211(a)", "water heaters braced against earthquakes")
def test_a_rule_of_one_state_is_told_in_that_state() -> None:
    def ids(place: str) -> set[str]:
        return {each.id for each in tables().cautions("water_heater_gas", "other", place)}

    assert "seismic_straps" in ids("US-CA")
    assert ids("US-CA") - ids("US") == {"seismic_straps"}
    assert ids("US-NY") == ids("US")
    here = {"household": {"place": "US-CA"}, "appliance": {"class": "water_heater_gas", "age": 9}}
    assert "seismic_straps" in {each.id for each in answer(here).cautions}


@pytest.mark.parametrize("language", languages())
def test_no_caution_of_a_technician_alone_reaches_a_customer(language: str) -> None:
    for kind, fault, region in PAIRS:
        found = mind(kind, fault, region, reader="owner")
        assert not any(each.reader == "technician" for each in found.listed), (kind, fault)
        words = Words.of(language, region, PLACES[region])
        texts = {line.text for line in words.safety_lines(found)}
        foreign = {words.caution_text(each) for each in tables().all_cautions if each.reader == "technician"}
        assert not texts & foreign, (kind, fault)


def test_what_goes_with_a_new_one_is_not_told_while_somebody_looks() -> None:
    def ids(doing: str) -> set[str]:
        found = tables().cautions("water_heater_gas", "gas_burner", "US")
        return {each.id for each in safety(found, ["gas_burner"], doing=doing).listed}

    assert {"permit", "carry", "expansion_tank"} <= ids("replace") - ids("repair") - ids("look")
    assert "test_gas" in ids("repair") & ids("replace") - ids("look")
    for doing in DOING:
        assert {"gas_or_alarm", "gas_fitter", "never_bridge"} <= ids(doing)


# before the cause is known


COMPLAINTS = [
    (kind.kind, symptom.symptom, region)
    for kind in tables().known_classes.values()
    for region in kind.regions
    for symptom in symptoms(region).of_class(kind.kind)
]


@pytest.mark.slow
@pytest.mark.parametrize("reader", [None, *READERS])
@pytest.mark.parametrize("language", languages())
def test_before_the_cause_is_known_four_lines_and_sixty_words_stand_in_the_open(
    language: str, reader: str | None
) -> None:
    """The closing line is counted; the stop of the likeliest fault stands whole, and then nothing but what makes it
    safe to stand there may stand beside it beyond sixty words."""
    beyond = 0
    for kind, symptom, region in COMPLAINTS:
        lines = caution_list(
            Words.of(language, region, PLACES[region]), diagnose(kind, symptom, place=PLACES[region]), reader=reader
        )
        shown = in_the_open(lines)
        assert 1 <= len(shown) <= IN_THE_OPEN, (kind, symptom)
        if sum(len(line.text.split()) for line in lines if line.is_open) > WORDS:
            beyond += 1
            assert [line.weight for line in shown].count("stop") == 1, (kind, symptom)
            assert {line.weight for line in shown} <= {"first", "stop"}, (kind, symptom)
    assert beyond < 0.16 * len(COMPLAINTS)


def test_of_a_cause_that_evidence_has_ruled_out_nobody_is_warned() -> None:
    seen = {"compressor_sound": "clicks"}
    found = diagnose("refrigerator", "warm_throughout", answers=seen, readings={"start_device_ohm": 900.0})
    leak = EN.caution_text(next(c for c in tables().all_cautions if c.id == "refrigerant_leak"))
    assert 0 < found.chance[found.symptom.ids.index("fridge_sealed_leak")] < 0.005
    assert not any(leak in line.text for line in caution_list(EN, found))


@pytest.mark.parametrize("reader", [None, *READERS])
def test_a_rare_cause_does_not_lead_and_its_stop_is_a_tap_away(reader: str | None) -> None:
    leak = EN.caution_text(next(c for c in tables().all_cautions if c.id == "refrigerant_leak"))
    lines = caution_list(EN, diagnose("refrigerator", "warm_throughout"), reader=reader)
    assert not any(leak in line.text for line in in_the_open(lines))
    assert any(leak in line.text for line in lines)


@pytest.mark.parametrize(
    ("kind", "symptom", "said"),
    [
        ("range_gas", "gas_smell", "Touch no switch and light no flame"),
        ("furnace_gas", "co_alarm_furnace", "Everybody out into fresh air now"),
        ("refrigerator", "smell_burnt", "Switch it off at the breaker"),
        ("clothes_washer", "stood_in_water", "Do not switch it on"),
        ("water_heater_gas", "heater_leaking", "Turn its gas control to off"),
        ("furnace_gas", "furnace_noisy", "Get out. Call 911"),
    ],
)
def test_what_is_to_be_obeyed_at_once_leads_before_anyone_has_looked(kind: str, symptom: str, said: str) -> None:
    lines = caution_list(EN, diagnose(kind, symptom), reader="owner")
    assert any(said in line.text for line in in_the_open(lines) if line.weight in ("first", "stop"))


def test_what_is_found_is_one_fault_whose_stop_takes_its_place() -> None:
    lines = caution_list(Words.of("en"), diagnose("refrigerator", "warm_throughout"), "fridge_sealed_leak")
    assert [line.weight for line in in_the_open(lines)] == ["stop", "act"]
    assert lines[0].text.startswith("Do not just top it up")


@pytest.mark.parametrize("symptom", ["warm_throughout", "warm_above"])
def test_of_a_warm_refrigerator_its_food_is_spoken_of_in_the_open(symptom: str) -> None:
    lines = caution_list(Words.of("en"), diagnose("refrigerator", symptom), reader="owner")
    assert any("Throw out food" in line.text for line in in_the_open(lines))


# words


@pytest.mark.parametrize("reader", [None, *READERS])
def test_what_stands_in_the_open_reads_at_grade_six_and_in_spanish_with_ease(reader: str | None) -> None:
    def texts(language: str) -> Iterator[tuple[tuple[str, str, str], str]]:
        for pair, lines in all_lines(language, reader):
            yield pair, " ".join(line.text for line in in_the_open(lines))

    assert [pair for pair, text in texts("en") if grade(LEFT_OUT.sub("it", text)) > 6] == []
    assert [pair for pair, text in texts("es") if fluency(text) < 70] == []


@pytest.mark.parametrize("region", PLACES)
def test_no_sentence_of_a_caution_is_above_grade_nine(region: str) -> None:
    words = Words.of("en", region, PLACES[region])

    def sentences(caution: Caution) -> Iterator[str]:
        for part in re.split(r"(?<=[.!?:;])\s", words.caution_text(caution)):
            if len(re.findall(r"\w+", LEFT_OUT.sub("", part))) >= 4:
                yield part

    listed = [each for each in tables().all_cautions if "*" in each.places or region in each.places]
    assert [(each.id, part) for each in listed for part in sentences(each) if grade(LEFT_OUT.sub("it", part)) > 9] == []
