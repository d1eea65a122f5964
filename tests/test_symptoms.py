"""Symptoms and what can be behind them: the shipped lists, the words of each, and what of a shop's own is refused."""

import json
import math
import re

import numpy as np
import pytest
from spoilt_tables import copied, spoil

from decide.answers.diagnosis import diagnose
from decide.diagnosis.check_order import MOST_CAUSES
from decide.errors import CaseError, DataError, ReadError
from decide.load.tables.evidence import evidence, read_folder
from decide.load.tables.symptoms import (
    COLUMNS,
    FACT_UNITS,
    HAZARDS,
    OWNER,
    TROUBLE,
    read_counts,
    read_symptoms,
    symptoms,
)
from decide.load.tables.tables import CURRENCIES, tables
from decide.show.text.checks import cause_name, check_rows, fact_text, standing, symptom_name
from decide.show.text.words import Words

ENGLISH, EURO = Words.of(region="US"), Words.of(region="EU")
LISTED = {(region, name): symptom for region in CURRENCIES for name, symptom in symptoms(region).known.items()}
ALL = [(kind, symptom) for (_, _), symptom in LISTED.items() for kind in symptom.classes]
IDS = [f"{region}-{kind}-{name}" for (region, name), symptom in LISTED.items() for kind in symptom.classes]
CAUSES = {link.cause.cause: link.cause for symptom in LISTED.values() for link in symptom.links}

# What a list of symptoms of a household refrigerator has to hold; common practice, no source.
REFRIGERATOR = {
    "warm_throughout", "warm_above", "door_water_frozen", "no_ice", "not_dispensed", "not_defrosting", "fan_noise",
    "drain_blocked", "fridge_floor_water",
}  # fmt: skip
# the shipped lists


def test_a_refrigerator_has_all_its_symptoms():
    assert {each.symptom for each in symptoms().of_class("refrigerator")} >= REFRIGERATOR


@pytest.mark.parametrize("region", CURRENCIES)
@pytest.mark.parametrize("kind", sorted(tables().known_classes))
def test_each_class_has_the_complaints_that_people_phone_with(kind, region):
    assert len(symptoms(region).of_class(kind)) >= 6


def test_every_fault_is_reached_from_a_complaint_and_nearly_every_one_of_each_class():
    assert {cause.fault for cause in CAUSES.values()} == set(tables().known_faults)
    pairs = [
        (kind.kind, fault.fault, region)
        for region in CURRENCIES for kind in tables().classes(region) for fault in tables().faults(kind.kind)
    ]  # fmt: skip
    reached = {
        (kind, link.cause.fault, region)
        for (region, _), symptom in LISTED.items() for kind in symptom.classes for link in symptom.links
    }  # fmt: skip
    assert len(reached & set(pairs)) / len(pairs) > 0.94


@pytest.mark.parametrize(("kind", "symptom"), ALL, ids=IDS)
def test_each_symptom_has_a_few_causes_that_explain_all_of_it(kind, symptom):
    assert 2 <= len(symptom.links) <= min(14, MOST_CAUSES)
    assert math.fsum(symptom.shares) == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize(("region", "name"), LISTED)
def test_a_finding_is_a_fault_that_the_class_can_have(region, name):
    for kind in LISTED[region, name].classes:
        if region in tables().kind(kind).regions:
            possible = {fault.fault for fault in tables().faults(kind)}
            assert {link.cause.fault for link in LISTED[region, name].links} <= possible


@pytest.mark.parametrize(("kind", "symptom"), ALL, ids=IDS)
def test_a_control_board_is_blamed_only_once_what_it_commands_is_sound(kind, symptom):
    for link in symptom.links:
        if link.cause.fault == "control_board":
            assert link.after, link.cause.cause


@pytest.mark.parametrize(("kind", "symptom"), ALL, ids=IDS)
def test_nothing_sealed_is_condemned_before_coils_and_fans_or_the_start_of_its_compressor(kind, symptom):
    by_id, held = {link.cause.cause: link.cause.fault for link in symptom.links}, tables().faults(kind)
    for link in symptom.links:
        before = {by_id[cause] for cause in link.after}
        if link.cause.fault == "refrigerant_leak":
            assert before & {"dirty_coil", "evaporator_fan", "condenser_fan", "blower"}, link.cause.cause
        if link.cause.fault == "compressor":
            easier = {"compressor_start", "condenser_fan"} & {fault.fault for fault in held}
            assert before & (easier or {"dirty_coil", "control_board", "thermostat"}), link.cause.cause


def test_the_defrost_board_waits_for_heater_and_sensor():
    for name in ("not_defrosting", "warm_above"):
        links = {link.cause.cause: link for link in symptoms().known[name].links}
        assert {"defrost_heater", "defrost_sensor"} <= set(links["defrost_control"].after)


@pytest.mark.parametrize("fault", ["refrigerant_leak", "compressor", "flue", "unsafe_flame", "wiring_burnt"])
def test_what_takes_a_licence_is_mended_by_who_holds_one(fault):
    found = [cause for cause in CAUSES.values() if cause.fault == fault]
    assert found
    assert {cause.mend for cause in found} == {"licensed"}


def test_an_owner_never_opens_gas_or_mends_what_gives_a_shock():
    shocking = ("compressor_start", "contactor", "motor", "drying_heat", "element_oven", "heating_element")
    for cause in CAUSES.values():
        if cause.who == OWNER:
            assert cause.fault not in shocking, cause.cause
    assert {cause.cause for cause in CAUSES.values() if cause.fault == "gas_burner" and cause.mend == OWNER} == {
        "heater_pilot"
    }


def test_an_owner_is_never_at_what_is_live_charged_or_sharp_at_gas_or_up_a_ladder():
    assert {hazard for cause in CAUSES.values() for hazard in cause.hazard} == set(HAZARDS)
    for cause in CAUSES.values():
        if cause.who == OWNER or cause.meter:
            assert not cause.hazard, cause.cause
        text = ENGLISH.in_place(f"check.{cause.cause}.look")
        if cause.who == OWNER:
            assert not re.search(r"\b([Mm]easure|ladder|roof|attic)\b", text) or "thermometer" in text, cause.cause


def test_what_an_owner_may_measure_is_dead_first_and_needs_no_licence():
    asked = [cause for cause in CAUSES.values() if cause.meter]
    assert len(asked) > 20
    for cause in asked:
        assert re.search("plug pulled|breaker off|power off", ENGLISH.in_place(f"check.{cause.cause}.look"), re.I), (
            cause
        )
        assert cause.mend != "licensed", cause.cause


@pytest.mark.parametrize(("region", "name"), LISTED)
def test_an_owner_looks_before_switching_cleaning_waiting_or_emptying(region, name):
    symptom = LISTED[region, name]
    diagnosis = diagnose(symptom.classes[0], name, place=region)
    own = [symptom.links[step] for step in diagnosis.steps if symptom.links[step].cause.who == OWNER]
    free = [link for link in own if not link.after and link.share > 0.02]
    ranks = [TROUBLE.index(link.cause.trouble) for link in free]
    shares = [link.share for link in free]
    for at in range(1, len(ranks)):  # ten times the chance is worth one step of trouble
        assert ranks[at] >= ranks[at - 1] or shares[at - 1] >= 10 * shares[at], (
            free[at - 1].cause.cause,
            free[at].cause.cause,
        )


def test_an_owner_is_told_to_pull_the_plug_before_hands_go_near_a_fan_or_coil():
    for cause in CAUSES.values():
        if cause.who == OWNER and cause.fault in ("condenser_fan",):
            assert "Pull the plug" in ENGLISH.say(f"check.{cause.cause}.look")


def test_every_figure_says_that_it_has_no_source():
    bases = [cause.basis for cause in CAUSES.values()]
    bases += [link.basis for symptom in LISTED.values() for link in symptom.links]
    bases += [symptom.basis for symptom in LISTED.values()]
    assert {(basis.source.key, basis.status, basis.note) for basis in bases} == {
        ("own", "judgement", "common practice, no source")
    }
    assert {fact.basis.note.partition(":")[0] for fact in symptoms().facts} == {"common practice, no source"}


# Facts of the trade, common practice, no source: ice is made with the freezer at -18 to -15 C, and none above -12 C;
# in the units of the US 0 to 5 F, and 10 F. A capacitor is sound within some 6 %.
ICE = [
    (EURO, "ice_made", "For making ice, the freezer stands at -18 to -15 °C."),
    (ENGLISH, "ice_made", "For making ice, the freezer stands at 0 to 5 °F."),
    (EURO, "no_ice_above", "Above -12 °C no ice is made, whatever the icemaker does."),
    (ENGLISH, "no_ice_above", "Above 10 °F no ice is made, whatever the icemaker does."),
    (
        ENGLISH,
        "coil_split",
        "Air comes out 14 to 22 degrees (°F) cooler than it went in, once all is clean.",
    ),
    (ENGLISH, "line_pressure", "Valves open properly with 20 to 120 psi of water pressure."),
    (ENGLISH, "drain_height", "The end of the drain hose hangs 30 to 96 inches above the floor."),
    (EURO, "filter_months", "A filter lasts 1 to 3 months in the season."),
    (ENGLISH, "capacitor_off", "A capacitor more than 6 % off its print is changed."),
]


@pytest.mark.parametrize(("words", "name", "found"), ICE)
def test_a_number_that_decides_is_said_in_the_units_of_the_place(words, name, found):
    fact = next(fact for fact in symptoms().facts if fact.fact == name)
    assert fact_text(words, fact) == found


def test_the_icemaker_is_decided_by_how_cold_the_freezer_is():
    assert {"ice_made", "no_ice_above"} <= {fact.fact for fact in symptoms().facts_of("freezer_too_warm", "US")}


# what is asked about them


@pytest.mark.parametrize(("region", "name"), LISTED)
def test_the_questions_about_a_complaint_tell_its_causes_apart(region, name):
    symptom = LISTED[region, name]
    for kind in symptom.classes:
        if region not in tables().kind(kind).regions:
            continue
        asked = evidence().questions_of(symptom, kind, region)
        assert len(asked) >= 2, kind
        told = []
        for question in asked:
            joint = question.under(symptom) * symptom.shares  # mutual information of answer and cause
            apart = np.outer(joint.sum(axis=1), joint.sum(axis=0))
            told.append(float(np.sum(joint * np.log(joint / apart))))
        assert max(told) > 0.04, (kind, told)


# their words


def test_every_symptom_cause_and_number_has_its_words():
    for symptom in symptoms().known.values():
        assert symptom_name(ENGLISH, symptom)
    for cause in CAUSES.values():
        assert cause_name(ENGLISH, cause)
        assert ENGLISH.in_place(f"check.{cause.cause}.look").endswith((".", "?"))
    for fact in symptoms().facts:
        assert fact_text(ENGLISH, fact).endswith(".")
        assert fact_text(EURO, fact).endswith(".")
    assert {fact.unit for fact in symptoms().facts} <= set(FACT_UNITS)


def test_a_valve_that_does_not_close_is_under_no_fault_that_will_not_fill():
    """The fault of both is one, so its name may not deny either."""
    for language, wont in (("en", "Won't fill"), ("es", "No se llena")):
        for cause in ("dish_valve", "dish_valve_weeps", "valve_drips"):
            assert CAUSES[cause].fault == "water_inlet"
            assert wont not in Words.of(language).fault(CAUSES[cause].fault)


def test_no_words_are_left_without_their_row():
    assert set(ENGLISH.text["symptom"]) == {name for _, name in LISTED}
    assert set(ENGLISH.text["check"]) == set(CAUSES)
    assert set(ENGLISH.text["check_fact"]) == {fact.fact for fact in symptoms().facts}


@pytest.mark.parametrize(("region", "name"), LISTED)
def test_each_symptom_gives_a_whole_order(region, name):
    symptom = LISTED[region, name]
    kind = symptom.classes[0]
    diagnosis = diagnose(kind, symptom.symptom, place=region)
    assert sorted(diagnosis.steps) == list(range(len(symptom.links)))
    place = {step: at for at, step in enumerate(diagnosis.steps)}
    for i, j in zip(*np.nonzero(symptom.after), strict=True):
        assert place[int(j)] < place[int(i)]
    assert 0 <= float(diagnosis.bill.quantile(0.1)) <= float(diagnosis.bill.quantile(0.9))


# a shop's own files


@pytest.fixture
def folder(tmp_path):
    return copied(tmp_path, COLUMNS)


BROKEN = [
    ("symptoms.csv", "warm_above", {"classes": "fridge"}, "classes must list only"),
    ("symptoms.csv", "warm_above", {"classes": ""}, "classes is empty"),
    ("symptoms.csv", "warm_above", {"often": "0"}, "often must lie above 0"),
    ("symptoms.csv", "warm_above", {"note": ""}, "a judgement must give its reason"),
    ("causes.csv", "defrost_heater", {"fault": "magic"}, "fault must be one of"),
    ("causes.csv", "defrost_heater", {"who": "neighbour"}, "who must be one of owner, technician, licensed"),
    ("causes.csv", "defrost_heater", {"mend": "owner"}, "what an owner can mend asks for no paid hours"),
    ("causes.csv", "defrost_heater", {"minutes": "0"}, "minutes must lie above 0"),
    ("causes.csv", "stands_uneven", {"trouble": "dance"}, "trouble must be one of look, switch, clean, wait, empty"),
    ("causes.csv", "stands_uneven", {"hazard": "gas"}, "no owner checks what is near gas"),
    ("causes.csv", "defrost_heater", {"hazard": "live"}, "no owner checks what is near live"),
    ("causes.csv", "defrost_heater", {"hazard": "dogs"}, "hazard must list only"),
    ("causes.csv", "defrost_heater", {"meter": "maybe"}, "meter must be one of yes, no"),
    (
        "causes.csv",
        "fridge_sealed_leak",
        {"meter": "yes", "trouble": "measure", "hazard": ""},
        "meter is open only where",
    ),
    ("causes.csv", "defrost_heater", {"minutes": "soon"}, "minutes must be a number"),
    ("causes.csv", "defrost_heater", {"parts_low": "900"}, "0 <= parts_low <= parts_high does not hold"),
    ("causes.csv", "defrost_heater", {"hours_low": "0"}, "what an owner cannot mend asks for paid hours"),
    ("causes.csv", "filter_seat", {"parts_low": "0"}, "parts must not begin at 0"),
    ("causes.csv", "fridge_sealed_leak", {"mend": "technician"}, "mend cannot be open to technician"),
    ("causes.csv", "defrost_heater", {"source": "nobody"}, "source 'nobody' is not listed in sources.csv"),
    ("causes.csv", "defrost_heater", {"note": ""}, "a judgement must give its reason"),
    ("causes.csv", "defrost_heater", {"status": "confidence"}, "status must be one of"),
    ("symptom_causes.csv", "no_ice,icemaker_worn", {"cause": "elf"}, "cause must be one of"),
    ("symptom_causes.csv", "no_ice,icemaker_worn", {"symptom": "no_outcome_distribution"}, "symptom must be one of"),
    ("symptom_causes.csv", "no_ice,icemaker_worn", {"share": "0"}, "share must lie above 0"),
    ("symptom_causes.csv", "no_ice,icemaker_worn", {"share": "nan"}, "share must be a number"),
    ("symptom_causes.csv", "no_ice,icemaker_worn", {"share": "0.3"}, "the shares of no_ice must add up to 1, got 1.1"),
    ("symptom_causes.csv", "no_ice,icemaker_worn", {"after": "washer_belt"}, "no cause of the same symptom"),
    ("symptom_causes.csv", "no_ice,icemaker_off", {"regions": "Mars"}, "regions must list only"),
    ("symptom_causes.csv", "no_ice,icemaker_off", {"regions": "US"}, "the shares of no_ice must add up to 1, got 0.86"),
    ("symptom_causes.csv", "no_ice,icemaker_off", {"after": "fridge_valve"}, "an owner's check cannot wait for"),
    ("symptom_causes.csv", "no_ice,fridge_valve", {"after": "icemaker_worn"}, "after goes in a circle in no_ice"),
    ("symptom_causes.csv", "no_ice,icemaker_off", {"cause": "washer_belt"}, "which refrigerator cannot have"),
    ("symptom_causes.csv", "no_ice,icemaker_off", {"cause": "icemaker_worn"}, "no_ice icemaker_worn is listed twice"),
    ("check_facts.csv", "ice_made", {"unit": "stone"}, "unit must be one of"),
    ("check_facts.csv", "ice_made", {"low": "", "high": ""}, "needs low, high, or both"),
    ("check_facts.csv", "ice_made", {"low": "0"}, "needs low, high, or both"),
    ("check_facts.csv", "ice_made", {"causes": "elf"}, "causes must list only"),
]


@pytest.mark.parametrize(("name", "starts", "changes", "error_text"), BROKEN)
def test_a_broken_row_is_refused_with_its_file_and_line(folder, name, starts, changes, error_text):
    line = spoil(folder / name, starts, changes)
    with pytest.raises(ReadError) as caught:
        read_folder(folder)[0]
    assert error_text in str(caught.value)
    whole = ("add up", "circle", "listed twice")  # told at the last row that it takes to see it
    assert f"{name} line {line}" in str(caught.value) or any(each in error_text for each in whole)
    assert f"{name} line" in str(caught.value)


def test_a_broken_shipped_row_is_the_fault_of_the_tables(folder):
    spoil(folder / "causes.csv", "defrost_heater", {"name": "Heater"})
    with pytest.raises(DataError, match="the words of a shipped row stand in the language file"):
        read_symptoms(folder)


def test_other_columns_are_refused(folder):
    path = folder / "symptoms.csv"
    path.write_text(path.read_text("utf-8").replace("symptom,classes,name", "symptom,classes"), "utf-8")
    with pytest.raises(ReadError, match=r"symptoms\.csv line 2: the columns must be"):
        read_folder(folder)[0]


def test_a_folder_without_any_of_the_files_is_refused(tmp_path):
    with pytest.raises(ReadError, match=r"holds none of symptoms\.csv"):
        read_folder(tmp_path)


def test_a_copy_of_the_shipped_files_says_the_same(folder):
    own, shipped = read_folder(folder)[0], symptoms()
    assert own.known.keys() == shipped.known.keys()
    assert own.known["no_ice"] == shipped.known["no_ice"]


OWN_CAUSE = (
    "soup_spilt,other,10,technician,technician,5,20,0.5,1,no,,,Soup in the hinge,Look for noodles.,"
    "own,our books,2026,judgement,counted in our own jobs"
)


def test_a_shop_puts_its_own_cause_in_with_its_own_words(folder):
    for name in ("symptoms.csv", "check_facts.csv"):
        (folder / name).unlink()
    path = folder / "causes.csv"
    path.write_text(path.read_text("utf-8") + OWN_CAUSE + "\n", "utf-8")
    spoil(folder / "symptom_causes.csv", "fan_noise,stands_uneven", {"cause": "soup_spilt"})
    listed = read_folder(folder)[0]
    diagnosis = diagnose("refrigerator", "fan_noise", listed=listed)
    link = next(link for link in diagnosis.symptom.links if link.cause.cause == "soup_spilt")
    assert cause_name(ENGLISH, link.cause) == "Soup in the hinge"


def test_a_cause_of_a_shops_own_without_words_is_refused(folder):
    path = folder / "causes.csv"
    path.write_text(path.read_text("utf-8") + OWN_CAUSE.replace("Look for noodles.", "") + "\n", "utf-8")
    with pytest.raises(ReadError, match="soup_spilt is not among the shipped ones and needs words of its own"):
        read_folder(folder)[0]


# a shop's own counts


def counts(tmp_path, text):
    path = tmp_path / "counts.json"
    path.write_text(text if isinstance(text, str) else json.dumps(text), "utf-8")
    return read_counts(path, symptoms())


def test_who_has_a_meter_may_ask_for_checks_of_a_dead_circuit_but_not_where_gas_burns():
    def own(kind, name, meter):
        return {each.cause.cause for each in diagnose(kind, name, meter=meter).symptom.links if each.cause.who == OWNER}

    asked = own("clothes_dryer_electric", "dryer_cold", True) - own("clothes_dryer_electric", "dryer_cold", False)
    assert asked == {"dryer_fuse", "dryer_element", "dryer_thermostat"}
    assert own("clothes_dryer_gas", "dryer_slow", True) == own("clothes_dryer_gas", "dryer_slow", False)
    diagnosis = diagnose("clothes_dryer_electric", "dryer_cold", meter=True)
    assert ENGLISH.in_place("checks.by_meter") in list(standing(ENGLISH, diagnosis))
    assert {row.who for row in check_rows(ENGLISH, diagnosis)} >= {"you, with a meter", "you", "technician"}


def test_own_counts_move_the_order(tmp_path):
    found = counts(tmp_path, {"fan_noise": {"compressor_mounts": 2000}})
    diagnosis = diagnose("refrigerator", "fan_noise", counts=found)
    assert diagnosis.own_jobs == 2000
    assert float(diagnosis.chance[diagnosis.symptom.ids.index("compressor_mounts")]) > 0.98
    paid = [step for step in diagnosis.steps if diagnosis.looking.check_cost[step] > 0]
    assert diagnosis.symptom.ids[paid[0]] == "compressor_mounts"


@pytest.mark.parametrize(
    ("text", "error_text"),
    [
        ("{", "is no JSON file"),
        ("[]", "must map symptoms to causes"),
        ({"fan_noise": 3}, "must map symptoms to causes"),
        ({"bad_luck": {}}, "'bad_luck' is no symptom"),
        ({"fan_noise": {"elf": 1}}, "'elf' is no cause of fan_noise"),
        ({"fan_noise": {"fan_worn": -1}}, "must be 0 or more, got -1"),
        ({"fan_noise": {"fan_worn": True}}, "must be 0 or more, got True"),
        ({"fan_noise": {"fan_worn": "many"}}, "must be 0 or more, got 'many'"),
        ('{"fan_noise": {"fan_worn": NaN}}', "must be 0 or more, got nan"),
        ('{"fan_noise": {"fan_worn": 1e400}}', "must be 0 or more, got inf"),
        (f'{{"fan_noise": {{"fan_worn": {"9" * 400}}}}}', "a number of 400 digits is too long"),
        (f'{{"fan_noise": {{"fan_worn": {"9" * 5000}}}}}', "a number of 5,000 digits is too long"),
    ],
)
def test_counts_that_are_none_are_refused(tmp_path, text, error_text):
    with pytest.raises(ReadError) as caught:
        counts(tmp_path, text)
    assert error_text in str(caught.value)


def test_a_file_of_counts_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(ReadError):
        read_counts(tmp_path / "none.json", symptoms())


def test_a_symptom_of_another_class_is_refused_with_those_of_this_one():
    with pytest.raises(CaseError, match=r"known for this class: .*dish_dead"):
        symptoms().symptom("dishwasher", "no_ice")
    with pytest.raises(CaseError, match=r"known for this class: .*fan_dead"):
        symptoms().symptom("ceiling_fan", "no_ice")


@pytest.mark.parametrize(
    ("symptom", "in_us_alone", "in_eu_first"),
    [("washer_cold", {"washer_hot_tap", "washer_valve"}, "washer_heater"), ("dryer_cold", {"dryer_half_power"}, None)],
)
def test_what_is_behind_a_symptom_goes_by_how_a_region_builds_and_wires(
    symptom: str, in_us_alone: set[str], in_eu_first: str | None
) -> None:
    us, eu = ({link.cause.cause: link.share for link in symptoms(each).known[symptom].links} for each in ("US", "EU"))
    assert us.keys() - eu.keys() == in_us_alone
    assert in_eu_first is None or max(eu, key=eu.__getitem__) == in_eu_first != max(us, key=us.__getitem__)
