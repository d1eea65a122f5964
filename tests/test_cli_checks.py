"""The command `checks` and its sentences and charts: what they say agrees with the numbers, and what is refused."""

import re
from dataclasses import replace
from typing import Any

import pytest
from commands import json_of, run

from decide.answers.answer import answer
from decide.answers.diagnosis import diagnose
from decide.load.tables.evidence import evidence
from decide.load.tables.symptoms import OWNER, symptoms
from decide.load.tables.tables import WHEN, tables
from decide.show.text.checks import (
    caution_list,
    check_rows,
    ending,
    found_text,
    money_text,
    standing,
    visit_text,
)
from decide.show.text.words import Words

ENGLISH = Words.for_place("US")
WARM = ("checks", "refrigerator", "warm_throughout")


def page_of(*arguments: object) -> str:
    """What a command prints, with its folded lines joined."""
    result = run(*arguments)
    assert result.exit_code == 0, result.output
    return re.sub(r"\s+", " ", result.stdout)


# lists


def test_without_a_class_all_symptoms_are_listed() -> None:
    page = page_of("checks")
    for symptom in symptoms().known:
        assert symptom in page


def test_with_a_class_its_own_symptoms_are_listed() -> None:
    page = page_of("checks", "dishwasher")
    assert "dish_not_clean" in page
    assert "no_ice" not in page
    listed = json_of("checks", "dishwasher")["complaints"]
    assert [each["key"] for each in listed] == [each.symptom for each in symptoms().of_class("dishwasher")]


# the order and the money


def test_the_page_tells_the_order_the_money_and_the_safety_about_them() -> None:
    page, diagnosis = page_of(*WARM), diagnose("refrigerator", "warm_throughout")
    places = [page.index(row.look[:40]) for row in check_rows(ENGLISH, diagnosis)]
    assert places == sorted(places)
    for sentence in (*money_text(ENGLISH, diagnosis), *visit_text(ENGLISH, diagnosis)):
        assert sentence in page
    assert page.index("Safety") < page.index("While working") < page.index("What to check, in this order")
    assert "more to mind: add --all" in page
    whole = page_of(*WARM, "--all")
    assert "more to mind" not in whole
    assert ("tell your landlord" in page, "tell your landlord" in whole) == (False, True)
    assert page.index("licensed practice come first") < page.index("What to check, in this order")


def test_a_look_rests_on_the_tables_that_it_is_given() -> None:
    life = ("refrigerator", "US", "mean_life")
    longer = replace(tables().figures[life], value=40.0, low=40.0, high=40.0)
    own = replace(tables(), figures={**tables().figures, life: longer})
    diagnosis = diagnose("refrigerator", "warm_throughout", age=9, reference=own)
    given = {"appliance": {"class": "refrigerator", "age": 9}, "household": {"place": "US"}}
    assert diagnosis.limit == float(answer(given, own).weighing.repair_limit)
    assert diagnosis.limit > diagnose("refrigerator", "warm_throughout", age=9).limit


def test_the_json_holds_the_numbers_of_the_page() -> None:
    data, diagnosis = json_of(*WARM, "--age", 9), diagnose("refrigerator", "warm_throughout", age=9)
    assert [each["cause"] for each in data["order"]] == [diagnosis.symptom.ids[step] for step in diagnosis.steps]
    assert data["bill"]["median"] == pytest.approx(float(diagnosis.bill.quantile(0.5)))
    assert data["visit"]["worth"] == pytest.approx(float(diagnosis.visit.worth))  # type: ignore[union-attr]
    assert data["expected_checking"] == pytest.approx(float(diagnosis.expected.checking))


def test_without_an_age_there_is_no_limit_and_no_verdict_on_the_visit() -> None:
    data = json_of(*WARM)
    assert data["repair_limit"] is None
    assert data["visit"] is None
    assert "Add --age to learn whether a visit is worth its fee of $95." in page_of(*WARM, "--fee", 95)


def test_the_limit_is_that_of_the_weighing() -> None:
    there = {"appliance": {"class": "refrigerator", "age": 9}, "household": {"place": "US"}}
    limit = float(answer(there).weighing.repair_limit)
    assert json_of(*WARM, "--age", 9)["repair_limit"] == pytest.approx(limit)
    assert f"worth up to {ENGLISH.money(limit)}." in page_of(*WARM, "--age", 9)


@pytest.mark.parametrize("age", [1, 6, 12, 18, 25, 40])
@pytest.mark.parametrize("fee", [0, 95, 400])
def test_a_visit_pays_exactly_where_it_brings_more_than_its_fee(age: int, fee: int) -> None:
    diagnosis = diagnose("refrigerator", "warm_throughout", age=age, fee=fee)
    text = " ".join(visit_text(ENGLISH, diagnosis))
    if diagnosis.visit is None:
        assert diagnosis.limit <= 0
        assert "is not worth a fee" in text
    else:
        for start, worth in (
            ("Called at once", diagnosis.visit.worth),
            ("If they find nothing", diagnosis.visit.worth_after_own),
        ):
            [line] = [line for line in visit_text(ENGLISH, diagnosis) if line.startswith(start)]
            compared = "more" if float(worth) > 0 else "less"
            assert f"{ENGLISH.money(abs(float(worth)))} {compared} than its fee" in line


def test_own_checks_come_before_a_visit_and_what_it_is_worth_after_them_before_one_at_once() -> None:
    text = " ".join(visit_text(ENGLISH, diagnose("refrigerator", "warm_throughout", age=9)))
    places = [text.index(start) for start in ("First make your own checks", "If they find nothing", "Called at once")]
    assert places == sorted(places)


def test_without_checks_of_ones_own_a_visit_is_told_of_alone() -> None:
    links = symptoms().symptom("refrigerator", "warm_throughout").links
    own = tuple(link.cause.cause for link in links if link.cause.who == OWNER)
    diagnosis = diagnose("refrigerator", "warm_throughout", age=9, out=own)
    assert diagnosis.visit is not None
    text = " ".join(visit_text(ENGLISH, diagnosis))
    assert ("A visit pays. " in text) == (float(diagnosis.visit.worth) > 0)
    assert not re.search("at once|own checks", text)


@pytest.mark.parametrize("language", ["en", "es"])
def test_where_half_the_repairs_cost_nothing_it_is_said_how_many_and_why(language: str) -> None:
    diagnosis, words = diagnose("refrigerator", "drain_blocked"), Words.of(language, "US")
    free = [
        chance
        for link, chance in zip(diagnosis.symptom.links, diagnosis.chance, strict=True)
        if link.cause.mend == OWNER
    ]
    share = words.percent(float(sum(free)), 0)
    sentences = list(money_text(words, diagnosis))
    assert sentences[-1] == words.say(
        "checks.median_free", share=share, high=words.money(float(diagnosis.bill.quantile(0.9)))
    )


def test_the_older_the_unit_the_less_a_visit_is_worth() -> None:
    worth = [diagnose("refrigerator", "warm_throughout", age=age).visit for age in (2, 6, 10, 14)]
    found = [float(each.worth) for each in worth if each is not None]
    assert found == sorted(found, reverse=True)


def test_looking_ends_where_replacing_costs_less_and_the_page_says_so() -> None:
    old = diagnose("refrigerator", "warm_throughout", age=14)
    assert old.stops_early
    assert "stop looking" in ending(ENGLISH, old)
    assert "not found" in " ".join(money_text(ENGLISH, old))
    worthless = diagnose("refrigerator", "warm_throughout", limit=-40.0)
    assert worthless.stops_early
    assert all(worthless.looking.check_cost[step] == 0 for step in worthless.steps)
    new = diagnose("refrigerator", "warm_throughout")
    assert not new.stops_early
    assert ending(ENGLISH, new) == ""


def test_checks_that_cost_nothing_come_before_paid_ones() -> None:
    for symptom in symptoms().known.values():
        for kind in symptom.classes:
            costs = [
                diagnose(kind, symptom.symptom).looking.check_cost[s] > 0 for s in diagnose(kind, symptom.symptom).steps
            ]
            assert costs == sorted(costs), (kind, symptom.symptom)


def test_a_dearer_hour_costs_more_to_look_and_to_mend() -> None:
    cheap, dear = json_of(*WARM, "--rate", 60), json_of(*WARM, "--rate", 150)
    assert dear["expected_checking"] == pytest.approx(2.5 * cheap["expected_checking"])
    assert dear["bill_mean"] > cheap["bill_mean"]
    assert "Labour at $60 an hour (entered)." in page_of(*WARM, "--rate", 60)


def test_a_credited_fee_makes_a_visit_worth_more() -> None:
    plain, credited = json_of(*WARM, "--age", 9), json_of(*WARM, "--age", 9, "--credited", 1)
    assert credited["visit"]["worth"] > plain["visit"]["worth"]
    assert "100% of the fee comes off an accepted bill" in page_of(*WARM, "--age", 9, "--credited", 1)


def test_europe_is_told_in_its_own_money_and_degrees() -> None:
    page = page_of("checks", "refrigerator", "no_ice", "--place", "DE")
    assert "-18 to -15 °C" in page
    assert "°F" not in page
    assert "€" in page


# after a finding


def test_what_is_ruled_out_is_shared_anew_and_not_looked_at_again() -> None:
    before, after = json_of(*WARM), json_of(*WARM, "--out", "fridge_start_relay, no_current")
    kept = {each["cause"]: each["chance"] for each in before["order"]}
    now = {each["cause"]: each["chance"] for each in after["order"]}
    assert now.keys() == kept.keys() - {"fridge_start_relay", "no_current"}
    left = sum(kept[cause] for cause in now)
    assert now == {cause: pytest.approx(kept[cause] / left) for cause in now}
    assert "Ruled out: Compressor start: relay or capacitor" in page_of(*WARM, "--out", "fridge_start_relay")


def test_the_last_cause_left_is_named_with_the_fault_to_enter() -> None:
    ids = symptoms().known["not_defrosting"].ids
    diagnosis = diagnose("refrigerator", "not_defrosting", out=tuple(each for each in ids if each != "defrost_heater"))
    assert 'Only one is left: Defrost heater burnt out. Enter it in a case as fault = "defrost".' in " ".join(
        standing(ENGLISH, diagnosis)
    )


def test_a_finding_names_a_fault_that_a_case_takes() -> None:
    data = json_of("checks", "refrigerator", "not_defrosting", "--found", "defrost_sensor")
    assert data["found_fault"] == "defrost"
    there = {"class": "refrigerator", "age": 9, "fault": data["found_fault"]}
    assert answer({"appliance": there, "repair": {"quote": 200}}).case.fault == "defrost"
    page = page_of("checks", "refrigerator", "not_defrosting", "--found", "defrost_sensor")
    assert 'fault = "defrost"' in page
    assert "What to look at" not in page


def test_a_finding_that_costs_nothing_says_so() -> None:
    diagnosis = diagnose("refrigerator", "drain_blocked")
    assert found_text(ENGLISH, diagnosis, "drain_dirty") == (
        "Found: Drain closed by crumbs or slime. You can put it right yourself, and it asks for no part."
    )


def test_an_answer_moves_the_chances_by_how_likely_it_is() -> None:
    before, after = json_of(*WARM), json_of(*WARM, "--answer", "compressor_sound=clicks")
    question, symptom = evidence().questions["compressor_sound"], symptoms().known["warm_throughout"]
    clicks = question.under(symptom)[question.outcomes.index("clicks")]
    odds = dict(zip(symptom.ids, clicks, strict=True))
    kept, now = before["shares"], after["shares"]
    for one, other in (("fridge_start_relay", "fridge_compressor"), ("fridge_board", "fridge_sealed_leak")):
        ratio = kept[one] * odds[one] / (kept[other] * odds[other])
        assert now[one] / now[other] == pytest.approx(ratio)
    assert now["fridge_start_relay"] > kept["fridge_start_relay"]


def test_own_counts_and_own_folder_are_taken(tmp_path: Any) -> None:
    path = tmp_path / "counts.json"
    path.write_text('{"warm_throughout": {"fridge_board": 480}}', "utf-8")
    data = json_of(*WARM, "--counts", path)
    board = next(each for each in data["order"] if each["cause"] == "fridge_board")
    assert board["chance"] == pytest.approx((480 + 20 * 0.05) / 500)
    assert "Your own 480 jobs are blended" in page_of(*WARM, "--counts", path)


# what to mind


def test_what_burns_gas_is_told_of_gas_and_carbon_monoxide_first() -> None:
    diagnosis = diagnose("furnace_gas", "furnace_cold")
    lines = caution_list(ENGLISH, diagnosis)
    assert "carbon monoxide" in " ".join(line.text for line in lines[:4]).lower()
    assert lines[-1].text == ENGLISH.say("caution.last")
    assert [line.when for line in lines[:-1]] == sorted((line.when for line in lines[:-1]), key=WHEN.index)


def test_a_sealed_circuit_is_left_to_who_is_certified() -> None:
    diagnosis = diagnose("refrigerator", "warm_throughout")
    known = {
        ENGLISH.caution_text(caution)
        for caution in tables().cautions("refrigerator", "refrigerant_leak", "US")
        if "refrigerant_leak" in caution.faults and "look" in caution.doing
    }
    sentence = " ".join(line.text for line in caution_list(ENGLISH, diagnosis))
    assert all(text in sentence for text in known)


# what is refused


@pytest.mark.parametrize(
    ("arguments", "error_text"),
    [
        (("checks", "toaster"), "'toaster' is not known"),
        (("checks", "toaster", "cold"), "'toaster' is not known"),
        (("checks", "refrigerator", "cold"), "known for this class: warm_throughout"),
        (("checks", "ceiling_fan", "cold"), "known for this class: fan_dead"),
        ((*WARM, "--place", "Narnia"), "'Narnia' is not known"),
        ((*WARM, "--out", "gremlin"), "'gremlin' is no cause of it"),
        ((*WARM, "--found", "gremlin"), "'gremlin' is no cause of it"),
        ((*WARM, "--answer", "lamp_inside"), "is not of the form KEY=VALUE"),
        ((*WARM, "--answer", "lamp_inside=maybe"), "lamp_inside must be one of yes, no, got 'maybe'"),
        ((*WARM, "--answer", "gremlin=yes"), "'gremlin' is not known here; known: lamp_inside"),
        ((*WARM, "--answer", "lamp_inside=no", "--answer", "lamp_inside=yes"), "lamp_inside is given twice"),
        ((*WARM, "--reading", "start_device_ohm=much"), "start_device_ohm must be a number, got 'much'"),
        ((*WARM, "--reading", "start_device_ohm=inf"), "start_device_ohm must be a number, got 'inf'"),
        ((*WARM, "--reading", "gremlin=1"), "'gremlin' is not known here; known: fresh_food_temperature"),
        ((*WARM, "--covered", "gremlin"), "'gremlin' is no cause of it"),
        ((*WARM, "--out", ",".join(symptoms().known["warm_throughout"].ids)), "leaves none of the listed causes"),
        ((*WARM, "--fee", "-1", "--age", "9"), "must be"),
        ((*WARM, "--rate", "nan"), "must be"),
        ((*WARM, "--age", "-3"), "must be"),
        ((*WARM, "--credited", "2", "--age", "9"), "must be from 0 to 1"),
        ((*WARM, "--folder", "/nowhere"), "holds none of"),
        ((*WARM, "--counts", "/nowhere.json"), "/nowhere.json"),
    ],
)
def test_what_cannot_be_used_is_said_with_status_two(arguments: tuple[str, ...], error_text: str) -> None:
    result = run(*arguments)
    assert result.exit_code == 2, result.output
    assert error_text in re.sub(r"\s+", " ", result.stderr)


# the contract of the data


@pytest.mark.parametrize("kind", list(tables().known_classes))
def test_every_class_lists_complaints_each_with_questions_and_what_can_be_measured(kind: str) -> None:
    place = tables().kind(kind).regions[0]
    complaints = json_of("checks", kind, "--place", place)["complaints"]
    assert complaints
    data = json_of("checks", kind, complaints[0]["key"], "--place", place, "--age", "8")
    assert all(each["key"] and len(each["answers"]) >= 2 for each in data["questions"])
    assert all(each["key"] and each["unit"] for each in data["readings"])
    question = data["questions"][0]
    asked = ("--answer", f"{question['key']}={question['answers'][0]}")
    for reading in data["readings"][:1]:
        asked += ("--reading", f"{reading['key']}={reading['low'] if reading['low'] is not None else reading['high']}")
    told = json_of("checks", kind, complaints[0]["key"], "--place", place, "--age", "8", *asked)
    assert sum(told["shares"].values()) == pytest.approx(1)
    assert told["next"] is None or {"kind", "key", "worth"} <= told["next"].keys()
    assert {"median", "low", "high"} <= told["bill"].keys()
    assert told["verdict_by_cause"].keys() == told["shares"].keys()
    links = (link for symptom in symptoms(place).known.values() for link in symptom.links)
    house = {link.cause.cause for link in links if link.cause.of_the_house}
    weighed = {act for cause, act in told["verdict_by_cause"].items() if cause not in house}
    assert weighed <= {"repair", "replace"}
    assert {told["verdict_by_cause"][cause] for cause in house & told["shares"].keys()} <= {None}


def test_the_page_says_what_was_seen_what_to_do_next_and_what_to_do_by_cause() -> None:
    page = page_of(*WARM, "--age", 7, "--answer", "compressor_sound=clicks", "--reading", "freezer_temperature=14 °F")
    assert "It clicks every few minutes" in page
    assert "Freezer temperature 14 °F: too high (sound: -6 °F to 5 °F)" in page
    assert "Repair, if it is: Compressor start: relay or capacitor" in page
    assert "Find out first: that is worth $" in page
    assert "Ask whether the maker's warranty still pays the part of:" in page
    assert page.index("Seen and measured") < page.index("You can answer") < page.index("What to check, in this order")


def test_once_the_cause_is_found_nothing_is_asked_and_no_rare_cause_is_in_the_order() -> None:
    seen = ("--answer", "compressor_sound=clicks", "--reading", "start_device_ohm=900")
    found = json_of(*WARM, *seen)
    assert found["next"]["key"] == found["order"][0]["cause"] == "fridge_start_relay"
    assert found["next_reason"] is None
    assert all(each["chance"] >= 0.005 for each in found["order"])
    assert sum(found["shares"].values()) == pytest.approx(1)
    known = json_of(*WARM, *seen, "--found", "fridge_start_relay")
    assert (known["next"], known["next_reason"]) == (None, "found")
    assert "Next" not in page_of(*WARM, *seen, "--found", "fridge_start_relay")
