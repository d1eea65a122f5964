"""The page at home against the model and the lists of symptoms, and against the page at the door beside it."""

import datetime
import xml.etree.ElementTree
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, texts
from streamlit.testing.v1 import AppTest
from streamlit.util import calc_hash

from decide.answers.answer import answer
from decide.answers.diagnosis import diagnose
from decide.load.cases.case_file import write_case
from decide.load.jobs.own_figures import parsed, with_local
from decide.load.store.store import Store
from decide.load.tables.symptoms import OWNER, symptoms
from decide.load.tables.tables import tables
from decide.show.charts.pictures import label_place, picture
from decide.show.pdf.sheet import questions
from decide.show.screens.ask import literal
from decide.show.screens.home.page import step_of
from decide.show.screens.safety import danger_symptoms, stop_of
from decide.show.screens.state.entry import question_of
from decide.show.screens.state.fields import CHOSEN, OFFERED, OFFERS, TYPED, WAYS, age_since
from decide.show.screens.state.session import FIRST_CASE
from decide.show.screens.state.symptom_state import ELSE, STEPS, SYMPTOM_FIELDS, settled_look
from decide.show.screens.state.visits import EMPTY
from decide.show.text.checks import visit_text
from decide.show.text.phrases import Phrases
from decide.show.text.report import first_layer
from decide.show.text.words import Words

pytestmark = pytest.mark.slow

WORDS = Words.of()


def at(page: AppTest, url: str) -> AppTest:
    """The same session on another page, as a tap on its link opens it."""
    page._page_hash = calc_hash(url)  # as a browser names it; `switch_page` knows pages with a file of their own only
    page.run()
    assert not page.exception
    return page


@pytest.fixture
def page(monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    return at(AppTest.from_file(str(ROOT / "app.py"), default_timeout=60), "home")


def tap(page: AppTest, key: str) -> AppTest:
    page.button(key=key).click().run()
    assert not page.exception
    return page


def choose(page: AppTest, group: str, kind: str, symptom: str | None = None, fault: str | None = None) -> AppTest:
    page.pills(key="group").set_value(group).run()
    page.pills(key="kind").set_value(kind).run()
    if symptom:
        page.pills(key="symptom").set_value(symptom).run()
    if fault:
        page.selectbox(key="fault").set_value(fault).run()
    assert not page.exception
    return page


def go_to_answer(page: AppTest, age: str = "12", quote: str = "") -> AppTest:
    tap(tap(page, "next"), "next")
    page.text_input(key="age").set_value(age).run()
    tap(tap(page, "next"), "next")
    page.text_input(key="quote").set_value(quote).run()
    return tap(page, "next")


def entries(age: float = 12.0, **more: Any) -> dict[str, Any]:
    appliance = {"class": "refrigerator", "age": age}
    if "fault" in more:
        appliance["fault"] = more["fault"]
    repair = {"remaining_life_factor": 1.0, **({"quote": more["quote"]} if "quote" in more else {})}
    return {"appliance": appliance, "household": {"place": "US"}, "repair": repair}


# the way to the answer


def test_the_way_has_six_steps_and_says_where_it_stands(page: AppTest) -> None:
    assert len(STEPS) == 6
    assert "Step 1 of 6" in texts(page)
    assert page.button(key="next").disabled
    choose(page, "cooling", "refrigerator", "warm_throughout")
    for step in range(2, 4):
        assert f"Step {step} of 6" in texts(tap(page, "next"))
    assert page.button(key="next").disabled  # the age is needed
    tap(page, "back")
    assert "Step 2 of 6" in texts(page)


@pytest.mark.parametrize("quote", ["", "401"])
def test_a_symptom_leads_to_the_answer_of_the_model_with_and_without_a_quote(page: AppTest, quote: str) -> None:
    go_to_answer(choose(page, "cooling", "refrigerator", "warm_throughout"), quote=quote)
    expected = answer(entries(**({"quote": 401.0} if quote else {})))
    sentences = texts(page)
    assert {WORDS.verdict(expected), WORDS.headline(expected)} <= set(sentences)
    assert set(questions(WORDS, expected)) <= set(sentences)
    for card in first_layer(WORDS, expected).cards:
        assert set(card.values) <= set(sentences)
    page.pills(key="section").set_value("why").run()
    assert set(WORDS.because(expected)) <= set(texts(page))
    assert {"take_paper", "take_text", "take_case"} <= {button.key for button in page.get("download_button")}


def test_a_finished_step_says_by_a_meter_only_once_one_was_read(page: AppTest) -> None:
    tap(tap(choose(page, "cooling", "refrigerator", "warm_throughout"), "next"), "next")
    page.text_input(key="age").set_value("12").run()

    def found(way: str) -> bool:
        assert WORDS.say("home.done.unit", age=WORDS.say("home.about.unknown"), way="").startswith("Age: I don't know.")
        text = WORDS.say("home.done.unit", age="12 years", way=WORDS.say(f"home.way.{way}"))
        return page.button(key="to_3").label.endswith(literal(text))

    for way in ("meter", "label", "year"):
        page.pills(key="use_way").set_value(way).run()
        tap(page, "next")
        assert found("usual")
        tap(page, "to_3")
    page.text_input(key="electricity").set_value("610").run()
    tap(page, "next")
    assert found("year")


def test_without_a_symptom_it_goes_by_its_fault(page: AppTest) -> None:
    choose(page, "kitchen", "microwave", ELSE, "other")
    assert WORDS.say("home.no_checks") in texts(tap(page, "next"))
    tap(page, "next").text_input(key="age").set_value("4").run()
    tap(page, "to_answer")
    asked = {"appliance": {"class": "microwave", "age": 4.0, "fault": "other"}, "household": {"place": "US"}}
    assert WORDS.headline(answer(asked)) in texts(page)


def test_a_known_cause_may_be_told_instead_of_a_symptom(page: AppTest) -> None:
    choose(page, "cooling", "refrigerator", ELSE, "compressor")
    go_to_answer(page, quote="401")
    assert WORDS.headline(answer(entries(fault="compressor", quote=401.0))) in texts(page)


# what an owner can look at


def test_only_checks_of_an_owner_are_offered(page: AppTest) -> None:
    tap(choose(page, "cooling", "refrigerator", "warm_throughout"), "next")
    links = symptoms().symptom("refrigerator", "warm_throughout").links
    own = {link.cause.cause for link in links if link.cause.who == OWNER}
    offered = {button.key.removeprefix("found_") for button in page.button if button.key.startswith("found_")}
    assert offered == own
    assert 0 < len(own) < len(links)
    for link in links:
        if link.cause.who == OWNER:
            assert WORDS.in_place(f"check.{link.cause.cause}.look") in texts(page)


def test_what_is_ruled_out_changes_the_picture_as_the_model_says(page: AppTest) -> None:
    tap(choose(page, "cooling", "refrigerator", "warm_throughout"), "next")
    tap(page, "out_shut_and_set")
    page.text_input(key="age").set_value("12").run()
    diagnosis = diagnose("refrigerator", "warm_throughout", age=12.0, out=("shut_and_set",))
    assert set(visit_text(WORDS, diagnosis)) <= set(texts(page))
    assert page.session_state["out"] == "shut_and_set"
    assert "found_shut_and_set" not in {button.key for button in page.button}
    tap(page, "put_back")
    assert "found_shut_and_set" in {button.key for button in page.button}


# Invented: refrigerators that a shop sees live four years.
SHORT_LIVES = """class,region,quantity,value,low,high,unit,n,from,to,shop,made
refrigerator,US,mean_life,4,3.5,4.5,year,99,2020-01-01,2026-01-01,An invented shop,2026-02-01
refrigerator,US,life_shape,2,1.8,2.2,-,99,2020-01-01,2026-01-01,An invented shop,2026-02-01
refrigerator,US,failure_free_years,0,0,0,year,99,2020-01-01,2026-01-01,An invented shop,2026-02-01
"""


def test_figures_of_the_shop_that_are_in_use_decide_on_a_visit(page: AppTest) -> None:
    with Store.open() as store:
        store.keep_figures("own", SHORT_LIVES, datetime.date(2026, 2, 1), used=True)
    tap(choose(page, "cooling", "refrigerator", "warm_throughout"), "next")
    page.session_state["price"] = "dear"  # so that the case itself tells no limit yet
    page.text_input(key="age").set_value("8").run()
    own = with_local(tables(), parsed(SHORT_LIVES, "own"))
    shipped, local = (diagnose("refrigerator", "warm_throughout", age=8.0, reference=each) for each in (None, own))
    assert visit_text(WORDS, local) != visit_text(WORDS, shipped)
    assert set(visit_text(WORDS, local)) <= set(texts(page))


def test_a_finding_fills_the_fault_and_can_be_taken_back(page: AppTest) -> None:
    tap(choose(page, "cooling", "refrigerator", "warm_throughout"), "next")
    tap(page, "found_fridge_coil_dirty")
    assert page.session_state["fault"] == "dirty_coil"
    name = WORDS.say("check.fridge_coil_dirty.name")
    assert WORDS.say("home.found", name=name) in texts(page)
    assert WORDS.say("home.found_yours") in texts(page)
    tap(page, "look_again")
    assert page.session_state["fault"] is None
    assert "found_fridge_coil_dirty" in {button.key for button in page.button}


def test_an_owner_with_a_meter_asks_for_what_takes_one(page: AppTest) -> None:
    tap(choose(page, "laundry", "clothes_dryer_electric", "dryer_cold"), "next")
    heater = WORDS.in_place("check.dryer_element.name")
    assert not any(button.key == "found_dryer_element" for button in page.button)
    page.toggle(key="by_meter").set_value(True).run()
    assert page.button(key="found_dryer_element")
    assert heater in texts(page)
    assert WORDS.in_place("checks.by_meter") in texts(page)
    tap(page, "to_1")
    tap(choose(page, "laundry", "clothes_dryer_gas", "dryer_slow"), "next")
    assert not any(toggle.key == "by_meter" for toggle in page.toggle)


def test_another_symptom_starts_to_look_anew(page: AppTest) -> None:
    tap(choose(page, "cooling", "refrigerator", "warm_throughout"), "next")
    tap(tap(page, "out_shut_and_set"), "found_fridge_coil_dirty")
    tap(page, "to_1").pills(key="symptom").set_value("no_ice").run()
    assert {key: page.session_state[key] for key in ("out", "finding", "fault")} == {
        "out": "", "finding": "", "fault": None,
    }  # fmt: skip


def test_with_every_cause_ruled_out_the_way_still_goes_on(page: AppTest) -> None:
    choose(page, "cooling", "refrigerator", "warm_throughout")
    page.session_state["out"] = ",".join(symptoms().symptom("refrigerator", "warm_throughout").ids)
    tap(page, "next")
    assert WORDS.say("home.none_left") in texts(page)
    assert not page.button(key="next").disabled


EVERY = [(kind.kind, each.symptom) for kind in tables().classes("US") for each in symptoms().of_class(kind.kind)]


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "symptom"), EVERY[::9])
def test_every_class_with_symptoms_is_looked_at(page: AppTest, kind: str, symptom: str) -> None:
    alike = danger_symptoms(WORDS, tables(), kind, symptoms().of_class(kind))
    for fault in (each for each, complaint in alike.items() if complaint == symptom):
        choose(page, tables().kind(kind).group, kind).pills(key="danger").set_value(fault).run()
        tap(tap(page, "next"), "look_again")
    if symptom not in alike.values():
        tap(choose(page, tables().kind(kind).group, kind, symptom), "next")
    first = diagnose(kind, symptom)
    assert WORDS.say("checks.visit") in [head.value for head in page.subheader]
    fee = WORDS.money(first.fee)
    assert WORDS.say("home.visit_by_age", fee=fee) in texts(page)


# safety first


def test_a_danger_is_told_in_red_before_anything_else_is_asked(page: AppTest) -> None:
    choose(page, "heating", "furnace_gas")
    page.pills(key="danger").set_value("gas_leak").run()
    asked = {"appliance": {"class": "furnace_gas", "age": 9.0, "fault": "gas_leak"}, "household": {"place": "US"}}
    expected = answer(asked)
    for _ in range(2):
        assert texts(page).count(WORDS.headline(expected)) == 1
        assert WORDS.verdict(expected) in texts(page)
        tap(page, "next")
    page.text_input(key="age").set_value("9").run()
    tap(page, "to_answer")
    assert WORDS.headline(expected) in texts(page)
    assert not any("$" in text for text in texts(page))


@pytest.mark.parametrize("symptom", ["gas_smell", "flame_unsafe", "co_alarm_furnace"])
def test_a_symptom_behind_which_there_are_dangers_alone_is_told_in_red_at_once(page: AppTest, symptom: str) -> None:
    choose(page, "heating", "furnace_gas", symptom)
    assert page.session_state["fault"] is None
    assert any(text.startswith("Stop") for text in texts(page))


def offered(page: AppTest, name: str) -> int:
    """How often something is offered on the page."""
    return sum(list(each.options).count(name) for each in (*page.pills, *page.selectbox))


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize(
    ("kind", "fault", "complaint"),
    [("clothes_washer", "flooded", "stood_in_water"), ("furnace_gas", "flooded", "stood_in_water")],
)
def test_a_danger_is_offered_once_and_what_an_owner_can_look_at_is_not_lost(
    page: AppTest, language: str, kind: str, fault: str, complaint: str
) -> None:
    page.session_state["language"] = language
    choose(page, tables().kind(kind).group, kind)
    words = Words.for_place("US", language)
    name, order = words.fault(fault), stop_of(words, tables(), kind, fault)
    assert order is not None
    assert offered(page, name) == 1
    page.pills(key="danger").set_value(fault).run()
    assert offered(page, name) == 1
    assert {*order} <= {*texts(page)}
    tap(tap(page, "next"), "look_again")
    assert page.session_state["symptom"] == complaint
    assert any(words.in_place("check.flood_feet.look") in text for text in texts(page))
    tap(page, "back")
    assert offered(page, name) == 1
    page.pills(key="symptom").set_value("else").run()
    assert offered(page, name) == 2, "the danger, and the list of all faults for who was told one"
    page.pills(key="danger").set_value(fault).run()
    page.pills(key="danger").set_value(None).run()
    assert offered(page, name) == 1
    assert not any(text.startswith(order[0]) for text in texts(page))


def test_a_danger_can_be_taken_back(page: AppTest) -> None:
    choose(page, "heating", "furnace_gas")
    page.pills(key="danger").set_value("gas_leak").run()
    page.pills(key="danger").set_value(None).run()
    assert page.session_state["fault"] is None
    assert not any(text.startswith("Stop") for text in texts(page))


# nothing is lost


def test_nothing_is_lost_between_home_and_door(page: AppTest) -> None:
    tap(choose(page, "cooling", "refrigerator", "warm_throughout"), "next")
    tap(page, "found_fridge_coil_dirty")
    go_to_answer(tap(page, "back"), quote="185")
    here = {key: page.session_state[key] for key in (*TYPED, *CHOSEN, *WAYS, *SYMPTOM_FIELDS)}
    expected = answer(entries(fault="dirty_coil", quote=185.0))
    at(page, "")  # at the door
    assert WORDS.headline(expected) in texts(page)
    assert page.text_input(key="age").value == "12"
    page.text_input(key="quote").set_value("222").run()
    assert WORDS.headline(answer(entries(fault="dirty_coil", quote=222.0))) in texts(page)
    at(page, "home")
    assert {key: page.session_state[key] for key in here} == {**here, "quote": "222"}
    assert "Nothing to pay" in texts(page)  # a coil is cleaned by who lives there


def test_a_reload_finds_step_symptom_and_findings_in_the_address(page: AppTest) -> None:
    tap(choose(page, "cooling", "refrigerator", "warm_throughout"), "next")
    tap(tap(page, "out_shut_and_set"), "next")
    page.text_input(key="age").set_value(str(datetime.date.today().year - 12)).run()
    again = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
    for key, values in page.query_params.items():
        if key != "visit":
            again.query_params[key] = values
    at(again, "home")
    for key in (*TYPED, *CHOSEN, *WAYS, *SYMPTOM_FIELDS):
        assert again.session_state[key] == page.session_state[key], key
    assert "Step 3 of 6" in texts(again)
    assert again.text_input(key="age").value == str(datetime.date.today().year - 12)


def test_the_store_keeps_the_step_and_the_findings_of_a_visit(page: AppTest) -> None:
    tap(choose(page, "cooling", "refrigerator", "warm_throughout"), "next")
    tap(page, "out_shut_and_set")
    again = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
    again.query_params["visit"] = page.session_state["visit"]
    at(again, "home")
    assert {key: again.session_state[key] for key in SYMPTOM_FIELDS} == {
        key: page.session_state[key] for key in SYMPTOM_FIELDS
    }
    assert "Step 2 of 6" in texts(again)


def test_start_again_is_one_tap_and_undo_brings_all_back(page: AppTest) -> None:
    tap(choose(page, "cooling", "refrigerator", "warm_throughout"), "next")
    tap(page, "out_shut_and_set")
    tap(page, "again")
    assert "Step 1 of 6" in texts(page)
    assert page.session_state["symptom"] is None
    tap(page, "undo")
    assert "Step 2 of 6" in texts(page)
    assert page.session_state["out"] == "shut_and_set"


# what an owner may not know, and what costs nothing


def test_what_ifs_without_a_quote_show_no_columns_that_need_one(page: AppTest) -> None:
    choose(page, "cooling", "refrigerator", "warm_throughout")
    page.session_state["step"] = "6"
    page.session_state["age"] = "9"
    page.run()
    page.pills(key="section").set_value("scenarios").run()
    said = "\n".join(texts(page))
    assert WORDS.say("scenario.limit") in said
    assert WORDS.say("no_measure.quote") not in said
    assert WORDS.say("scenario.payback") not in said


@pytest.mark.parametrize(("about", "middle", "ends"), [("5_10", 7.0, [5.0, 10.0]), ("unknown", 9.0, [2.0, 20.0])])
def test_an_age_that_is_known_only_about_is_taken_with_its_doubt(
    page: AppTest, about: str, middle: float, ends: list[float]
) -> None:
    tap(tap(choose(page, "cooling", "refrigerator", "warm_throughout"), "next"), "next")
    page.pills(key="age_about").set_value(about).run()
    assert not page.button(key="next").disabled
    for _ in range(3):
        tap(page, "next")
    there = {"class": "refrigerator", "age": middle}
    expected = answer({"appliance": there, "household": {"place": "US"}, "ranges": {"appliance.age": ends}})
    assert WORDS.headline(expected) in texts(page)
    tap(page, "to_3")
    page.text_input(key="age").set_value("12").run()
    assert "age_about" not in [pills.key for pills in page.pills]  # what is known takes the place of a guess


def test_who_rents_is_sent_to_the_landlord_first(page: AppTest) -> None:
    go_to_answer(choose(page, "cooling", "refrigerator", "warm_throughout"))
    assert WORDS.say("home.landlord") not in texts(page)
    tap(page, "to_4")
    page.pills(key="rents").set_value("yes").run()
    assert WORDS.say("home.landlord") in texts(page)
    tap(tap(page, "next"), "next")
    assert WORDS.say("home.landlord") in texts(page)


def test_the_price_on_the_bill_is_typed_at_home(page: AppTest) -> None:
    go_to_answer(choose(page, "cooling", "refrigerator", "warm_throughout"))
    usual = texts(page)
    tap(page, "to_4")
    page.pills(key="electricity_priced").set_value("own").run()
    page.text_input(key="electricity_price").set_value("0.65").run()
    tap(tap(page, "next"), "next")
    typed = {**entries(), "household": {"place": "US", "electricity_price": 0.65}}
    assert WORDS.headline(answer(typed)) in texts(page)
    assert WORDS.headline(answer(typed)) not in usual
    tap(page, "to_4")
    page.pills(key="electricity_priced").set_value("tariff").run()
    assert page.text_input(key="electricity_base_use")  # with the file of the tariff, for steps and times of day
    assert page.get("file_uploader")


def test_a_saved_bill_in_steps_stands_in_its_fields_at_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    blocks = [{"price": 0.1, "upto": 300.0}, {"price": 0.3}]
    bill = {"line": [{"name": "energy", "blocks": blocks}], "base_use": 6000.0, "includes_appliance": True}
    case = {**entries(quote=401.0, fault="compressor"), "household": {"place": "US", "electricity_tariff": bill}}
    (tmp_path / "case.toml").write_text(write_case(case), "utf-8")
    monkeypatch.setenv(FIRST_CASE, str(tmp_path / "case.toml"))
    page = at(AppTest.from_file(str(ROOT / "app.py"), default_timeout=60), "home")
    page.session_state["step"] = "4"
    page.run()
    assert page.pills(key="electricity_priced").value == "steps"
    shown = ("step1_upto", "step1_price", "step2_price", "electricity_base_use")
    assert [page.text_input(key=key).value for key in shown] == ["300", "0.1", "0.3", "6000"]
    page.session_state["step"] = "6"
    assert WORDS.headline(answer(case)) in texts(page.run())


def test_runs_a_week_are_asked_for_instead_of_kilowatt_hours(page: AppTest) -> None:
    go_to_answer(choose(page, "laundry", "clothes_washer", "washer_not_draining"), age="8", quote="300")
    tap(page, "to_3")
    page.text_input(key="cycles").set_value("14").run()
    tap(tap(tap(page, "next"), "next"), "next")
    washer = {"class": "clothes_washer", "age": 8.0, "cycles": 14 * 365 / 7}
    found = answer({**entries(quote=300.0), "appliance": washer})
    assert WORDS.headline(found) in texts(page)
    usual = answer({**entries(quote=300.0), "appliance": {"class": "clothes_washer", "age": 8.0}})
    more = [one.case.appliance.electricity for one in (found, usual)]
    bought = [one.case.options[1].appliance.electricity for one in (found, usual)]
    assert more[0] / more[1] == pytest.approx(bought[0] / bought[1])
    assert more[0] / more[1] > 1.5


def test_what_a_log_leaves_open_is_asked_by_buttons(page: AppTest) -> None:
    """A log with the mains and two appliances was a dead end: it asked which column, and there was no way to say."""
    rows = "".join(f"2024-05-{1 + n // 24:02} {n % 24:02}:00,{400 + n % 3},{40 + n % 5}\n" for n in range(24 * 14))
    choose(page, "cooling", "refrigerator", "warm_throughout")
    tap(tap(page, "next"), "next")
    page.text_input(key="age").set_value("12").run()
    page.pills(key="use_way").set_value("meter").run()
    page.pills(key="meter_way").set_value("log").run()
    page.session_state["files"] = {"log": ("log.csv", f"time,mains_w,fridge_w\n{rows}".encode())}
    page.run()
    assert list(page.pills(key="meter_column").options) == ["mains_w", "fridge_w"]
    page.pills(key="meter_column").set_value("fridge_w").run()
    assert not page.exception
    assert any("kWh a year" in text for text in texts(page))
    page.pills(key="meter_column").set_value(None).run()
    page.session_state["files"] = {"log": ("log.csv", f"time,figure\n{rows.replace('400,', '')}".encode())}
    assert not page.run().exception


def test_the_end_of_a_stay_the_purse_and_the_new_one_s_use_are_asked_at_home_too(page: AppTest) -> None:
    go_to_answer(choose(page, "cooling", "refrigerator", ELSE, "defrost"), quote="300")
    tap(page, "to_4")
    assert "at_end" not in [pills.key for pills in page.pills]
    page.text_input(key="study_period").set_value("3").run()
    page.pills(key="at_end").set_value("take along").run()
    tap(page, "next")
    page.session_state["means"] = True
    page.run()
    page.text_input(key="new_electricity").set_value("350").run()
    page.text_input(key="most_today").set_value("900").run()
    page.pills(key="pays").set_value("card").run()
    case = entries(quote=300.0, fault="defrost")
    case["household"] |= {"study_period": 3.0, "at_end": "take along", "most_today": 900.0}
    case["repair"]["pays"] = "card"
    case["replace"] = [{"pays": "card", "appliance": {"electricity": 350.0}}]
    assert WORDS.headline(answer(case)) in texts(tap(page, "next"))


def test_who_fits_the_part_pays_for_the_part(page: AppTest) -> None:
    go_to_answer(choose(page, "cooling", "refrigerator", ELSE, "defrost"), quote="60")
    tap(page, "to_5")
    page.pills(key="who_mends").set_value(OWNER).run()
    assert WORDS.say("home.part_why") in texts(page)
    tap(page, "next")
    alone = entries(quote=60.0, fault="defrost")
    alone["repair"]["repair_warranty"] = 0.0
    assert WORDS.headline(answer(alone)) in texts(page)


@pytest.mark.parametrize(
    ("group", "kind", "fault"),
    [
        ("cooling", "refrigerator", "compressor"),
        ("kitchen", "range_gas", "gas_burner"),
        ("kitchen", "microwave", "magnetron"),
    ],
)
def test_nobody_is_invited_to_what_can_hurt_them(page: AppTest, group: str, kind: str, fault: str) -> None:
    choose(page, group, kind, ELSE, fault)
    tap(tap(page, "next"), "next")
    page.text_input(key="age").set_value("8").run()
    tap(tap(page, "next"), "next")
    assert not [each for each in page.pills if each.key == "who_mends"]
    typed = {
        **EMPTY,
        "kind": kind,
        "fault": fault,
        "quote": "90",
        "who_mends": OWNER,
    }  # chosen for another fault before
    assert "repair_warranty" not in question_of({**typed, "files": {}}, {}, WORDS).entries["repair"]


def test_an_own_fix_costs_nothing_and_asks_for_no_repair(page: AppTest) -> None:
    tap(choose(page, "cooling", "refrigerator", "warm_throughout"), "next")
    tap(page, "found_shut_and_set")
    tap(page, "next")
    page.text_input(key="age").set_value("12").run()
    for _ in range(3):
        tap(page, "next")
    assert "Nothing to pay" in texts(page)
    assert not any("Worth about" in text or "You were quoted" in text for text in texts(page))
    assert not page.get("download_button")


# bad input


def test_bad_input_is_kept_named_and_leads_to_where_it_stands(page: AppTest) -> None:
    go_to_answer(choose(page, "cooling", "refrigerator", "warm_throughout"), quote="-5")
    assert page.session_state["quote"] == "-5"
    text = "\n".join(texts(page))
    assert "-5" in text
    tap(page, "mend_0")
    assert "Step 5 of 6" in texts(page)
    assert page.text_input(key="quote").value == "-5"


def test_a_year_that_cannot_be_is_named_and_kept(page: AppTest) -> None:
    tap(tap(choose(page, "cooling", "refrigerator", "warm_throughout"), "next"), "next")
    page.text_input(key="age").set_value("20l4").run()
    assert any("20l4" in text for text in texts(page))
    assert page.session_state["age"] == "20l4"


@pytest.mark.parametrize("made", ["", "14", "2027", "0001", "20x4", "٢٠١٤"])
def test_only_a_year_that_a_unit_can_be_of_makes_an_age(made: str) -> None:
    assert age_since(made, 2026) is None
    assert age_since("2026", 2026) == 0


def test_an_address_that_asks_for_nonsense_is_put_right() -> None:
    asked = {
        "kind": "refrigerator", "symptom": "warm_throughout", "out": "nothing,shut_and_set,shut_and_set",
        "finding": "no_such", "step": "77", "fault": None, "age": "", "place": "US",
    }  # fmt: skip
    assert settled_look(asked, symptoms()) == {
        "symptom": "warm_throughout", "out": "shut_and_set", "finding": "", "step": "1",
        "answers": "", "measured": "",
    }  # fmt: skip
    assert settled_look({**asked, "step": "6"}, symptoms())["step"] == "3"  # the age is needed before
    assert settled_look({**asked, "step": "6", "age": "12"}, symptoms())["step"] == "6"


def test_every_field_of_the_page_has_a_step() -> None:
    of_the_door_alone = {key for key in (*TYPED, *CHOSEN) if step_of(key) is None}
    assert of_the_door_alone == {
        "used_price", "used_age", "annual_loss_of_use", "fee_credit", "fee_if_declined", "warranty_left",
        "other_quote", "other_warranty", "other_holds", "repair_warranty",
        "grade", "parts", "labour_hours", "labour_rate", "second_fault", "outcome", "outcome_reason",
        *(f"{offer}_{name}" for offer in OFFERS for name in OFFERED), "title",
    }  # fmt: skip


# the picture of where the label is


@pytest.mark.parametrize("kind", tables().known_classes.values(), ids=lambda kind: kind.kind)
def test_each_kind_has_a_drawing_with_its_spot_inside(kind: Any) -> None:
    drawn = xml.etree.ElementTree.fromstring(picture(kind))
    width, height = (float(drawn.get(side) or 0) for side in ("width", "height"))
    spot = next(each for each in drawn if each.get("r") == "21")
    x, y = float(spot.get("cx") or 0), float(spot.get("cy") or 0)
    assert 21 < x < width - 21
    assert 21 < y < height - 20
    assert label_place(Phrases.of(), kind)


def test_the_drawing_stands_where_the_label_is_asked_for(page: AppTest) -> None:
    tap(tap(choose(page, "cooling", "refrigerator", "warm_throughout"), "next"), "next")
    page.pills(key="use_way").set_value("label").run()
    assert label_place(WORDS, tables().kind("refrigerator")) in "\n".join(texts(page))
    shown = [image.proto for image in page.get("image")]
    assert [each.imgs[0].alt for each in shown] == [WORDS.say("picture.alt")]
    assert shown[0].imgs[0].url.startswith("data:image/svg+xml")


def test_a_tank_found_to_leak_is_answered_by_the_order_and_no_price(page: AppTest) -> None:
    tap(choose(page, "hot_water", "water_heater_electric", "heater_leaking"), "next")
    assert "breaker off first" in " ".join(texts(page)[:12])
    sentences = texts(tap(page, "found_heater_tank"))
    order = next(at for at, text in enumerate(sentences) if text.startswith("Switch its breaker off first."))
    assert order < sentences.index("Found: Tank rusted through")
    assert WORDS.say("checks.cannot_all") in sentences
    assert not any("eight times in ten" in text for text in sentences)
