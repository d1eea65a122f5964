"""The page at the door against the model: it can be wrong only if the model is; and nothing that is typed gets lost."""

import datetime
import re
import tomllib
import types
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, free_port, texts
from streamlit.testing.v1 import AppTest

from decide.answers.answer import answer
from decide.errors import CaseError
from decide.load.cases.case_file import Entries, complete, parse_case, read_case, write_case
from decide.load.tables.tables import CURRENCIES, GROUPS, tables
from decide.show.screens import ask_more
from decide.show.screens.ask import NAMED_BY_LABEL, labelled, remaining_life_factors
from decide.show.screens.safety import stop_of
from decide.show.screens.state.entry import entry_at, fields_of, question_of
from decide.show.screens.state.fields import CHOSEN, OFFERS, TYPED, WAYS, local_bounds, unit_of
from decide.show.screens.state.session import FIRST_CASE
from decide.show.serve import SETTINGS, serve
from decide.show.text.report import SECTIONS, first_layer, paid_text
from decide.show.text.ruler import ruler_text
from decide.show.text.words import Words

DEMO = ROOT / "data" / "demo" / "refrigerator.toml"

# Invented.
WASHER: Entries = {
    "appliance": {"class": "clothes_washer", "age": 7.0, "fault": "drain_pump", "electricity": 190.0},
    "household": {"place": "FR", "study_period": 6.0, "rate": 0.025},
    "repair": {"quote": 160.0, "remaining_life_factor": 0.7, "repair_success_probability": 0.9},
    "replace": [
        {"name": "New", "price": 520.5, "delivery": 35.0, "appliance": {"electricity": 150.0}},
        {"name": "Used", "price": 180.0, "warranty": 0.5, "appliance": {"age": 4.0}},
        {"name": "Third", "price": 800.0},
    ],
    "leave": {"annual_loss_of_use": 90.0, "energy_change": 0.1},
    "title": "Invented washer",
}
GAS_SMELL: Entries = {
    "appliance": {"class": "water_heater_gas", "age": 9.0, "fault": "gas_leak"},
    "household": {"place": "US-CA"},
    "repair": {"quote": 250.0, "remaining_life_factor": 1.0},
}
TANK_LEAK: Entries = {
    "appliance": {"class": "water_heater_electric", "age": 11.0, "fault": "tank_leak"},
    "household": {"place": "DE"},
    "repair": {"quote": 250.0, "remaining_life_factor": 1.0},
}
WORTHLESS: Entries = {
    "appliance": {"class": "refrigerator", "age": 25.0, "fault": "compressor", "electricity": 2200.0},
    "household": {"place": "US"},
    "repair": {"quote": 300.0, "remaining_life_factor": 0.4},
}
CASES = {"washer": WASHER, "gas_smell": GAS_SMELL, "tank_leak": TANK_LEAK, "worthless": WORTHLESS}
CASES["demo"] = tomllib.loads(DEMO.read_text("utf-8"))


def empty_page() -> AppTest:
    page = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30)
    page.session_state["more"] = True  # the folded part, opened
    page.run()
    assert not page.exception
    return page


@pytest.fixture
def page(monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    return empty_page()


def page_with(entries: Entries, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    case = tmp_path / "case.toml"
    case.write_text(write_case(entries), "utf-8")
    monkeypatch.setenv(FIRST_CASE, str(case))
    return empty_page()


def enter(page: AppTest, place: str = "US", quote: str = "401") -> AppTest:
    page.selectbox(key="place").set_value(place).run()
    page.pills(key="group").set_value("cooling").run()
    page.pills(key="kind").set_value("refrigerator").run()
    page.selectbox(key="fault").set_value("compressor").run()
    page.text_input(key="age").set_value("12").run()
    page.text_input(key="quote").set_value(quote).run()
    assert not page.exception
    return page


def entered(place: str = "US", quote: float = 401.0) -> Entries:
    return {
        "appliance": {"class": "refrigerator", "age": 12.0, "fault": "compressor"},
        "household": {"place": place},
        "repair": {"quote": quote, "remaining_life_factor": 1.0},
    }


def test_how_long_such_units_last_can_be_said_at_the_door_and_counts(page: AppTest) -> None:
    enter(page)
    words, usual = Words.of(), answer(entered())
    assert page.text_input(key="mean_life").placeholder == "17 years"
    page.text_input(key="mean_life").set_value("12").run()
    shorter = answer({**entered(), "appliance": {**entered()["appliance"], "mean_life": 12.0}})
    assert shorter.weighing.repair_limit < 0.9 * usual.weighing.repair_limit
    for found, said in ((shorter, True), (usual, False)):
        layer = first_layer(words, found)
        assert layer.ruler is not None
        assert (ruler_text(words, layer.ruler) in " ".join(texts(page))) is said
    page.text_input(key="mean_life").set_value("120").run()
    assert any("Years such units last on average" in text and "80" in text for text in texts(page))


# what a new one costs


def test_a_grade_that_is_chosen_counts_until_a_price_is_typed(page: AppTest) -> None:
    enter(page, "DE", quote="150")
    words = Words.for_place("DE")
    page.pills(key="grade").set_value("premium").run()
    graded = answer({**entered("DE", 150.0), "replace": [{"grade": "premium"}]})
    assert words.headline(graded) in texts(page)
    page.text_input(key="price").set_value("650").run()
    assert not page.exception
    assert "grade" not in [pills.key for pills in page.pills]
    assert words.headline(answer({**entered("DE", 150.0), "replace": [{"price": 650.0}]})) in texts(page)


@pytest.mark.parametrize("place", ["US", "DE"])
def test_a_boiler_is_asked_for_its_price_installed_and_the_usual_one_is_the_whole(page: AppTest, place: str) -> None:
    enter(page, place)
    page.pills(key="group").set_value("heating").run()
    page.pills(key="kind").set_value("boiler_gas").run()
    words = Words.for_place(place)
    field = page.text_input(key="price")
    assert "installed, all included" in field.label
    whole = tables().installed_price("boiler_gas", words.region)
    assert whole is not None
    assert field.placeholder == words.money(whole.value)


def test_an_old_price_is_asked_for_beside_its_field_and_so_is_a_price_of_energy(page: AppTest) -> None:
    shown = "\n".join(texts(enter(page, "US-OH")))
    assert "take the one in the shop window" in shown
    assert "take the one on your bill" not in shown
    page.pills(key="section").set_value("numbers").run()
    assert "Amounts are in money of May 2026." in texts(page)
    page.pills(key="section").set_value(None).run()
    assert "shop window" not in "\n".join(texts(enter(page, "DE")))


def test_a_price_of_energy_three_years_on_is_asked_for_from_the_bill(
    page: AppTest, monkeypatch: pytest.MonkeyPatch
) -> None:
    year = tables().energy_price("US-OH", "electricity").year
    later = types.SimpleNamespace(date=types.SimpleNamespace(today=lambda: datetime.date(year + 3, 11, 30)))
    monkeypatch.setattr(ask_more, "datetime", later)
    assert f"This price is of {year}, 3 years ago: take the one on your bill" in "\n".join(texts(enter(page, "US-OH")))


def test_a_place_without_a_price_of_gas_says_whose_is_taken(page: AppTest) -> None:
    enter(page, "PL")
    page.pills(key="group").set_value("kitchen").run()
    page.pills(key="kind").set_value("range_gas").run()
    assert "EU average; none published for Poland" in "\n".join(texts(page))


# the page says what the model says


@pytest.mark.parametrize("place", ["US", "US-CA", "DE", "EU"])
def test_what_is_entered_by_hand_gets_the_answer_of_the_model(page: AppTest, place: str) -> None:
    enter(page, place)
    expected = answer(entered(place))
    words = Words.for_place(place)
    assert words.headline(expected) in texts(page)
    assert words.verdict(expected) in texts(page)


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_a_case_file_gets_the_answer_of_the_model_whole(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = page_with(CASES[name], tmp_path, monkeypatch)
    for part in ("money", "notes"):
        page.session_state[part] = True
    sentences, expected = texts(page.run().run()), answer(CASES[name])
    for section in SECTIONS:
        sentences += texts(page.pills(key="section").set_value(section).run())
        assert not page.exception
    words = Words.for_entries(CASES[name])
    layer = first_layer(words, expected)
    assert {words.headline(expected), words.verdict(expected), *words.because(expected)} <= set(sentences)
    assert {value for card in layer.cards for value in card.values} <= set(sentences)
    if layer.ruler and not layer.stopped:
        assert ruler_text(words, layer.ruler) in sentences
    sentence = "\n".join(sentences)
    for index, row in enumerate(words.options(expected)):
        if row.hidden:
            assert row.name not in sentences
            continue
        assert {row.name, row.today, row.yearly, row.years, row.present, row.note} <= {"", *sentences}
        parts = words.today_parts(expected, index) if row.today else []
        assert len(parts) < 2 or all(amount in sentences for _, amount in parts)
    assert {text for _, text in words.measures(expected)} <= set(sentences)
    assert all(line.text in sentence for line in words.cautions(expected))
    assert words.once_safe(expected) in ["", *sentences]
    for line in words.assumptions(expected):
        assert line.value in sentence
        assert " ".join(line.source.split()) in " ".join(sentence.split())
        assert line.status in sentence or line.origin != "figure"


def test_without_a_quote_the_page_says_up_to_what_a_repair_is_worth(page: AppTest) -> None:
    enter(page, quote="")
    without = entered()
    del without["repair"]["quote"]
    expected = answer(without)
    assert Words.of().verdict(expected) in texts(page)
    assert Words.of().headline(expected) in texts(page)
    assert "not known yet" in texts(page)


# safety first

USE_STOPS = [
    (kind, fault, place)
    for place in CURRENCIES
    for kind in tables().classes(place)
    for fault in tables().faults(kind.kind)
    if any("use" in caution.prohibits for caution in tables().cautions(kind.kind, fault.fault, place))
]


def folded(page: AppTest) -> list[str]:
    return [text for expander in page.expander for text in texts(expander)]


def test_there_are_dangers_to_test() -> None:
    assert {fault.fault for _, fault, _ in USE_STOPS} >= {"gas_leak", "carbon_monoxide", "wiring_burnt", "flooded"}


@pytest.mark.parametrize("name", ["gas_smell", "tank_leak"])
def test_what_must_stop_is_said_without_a_tap(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page = page_with(CASES[name], tmp_path, monkeypatch)
    lines = Words.for_entries(CASES[name]).cautions(answer(CASES[name]))
    stops = [line.text for line in lines if line.weight == "stop"]
    assert stops
    shown = "\n".join(set(texts(page)) - set(folded(page)))
    assert all(stop in shown for stop in stops)


def test_a_danger_is_told_before_age_and_quote_are_known(page: AppTest) -> None:
    page.pills(key="group").set_value("heating").run()
    page.pills(key="kind").set_value("furnace_gas").run()
    assert not any(text.startswith("Stop") for text in texts(page))
    page.selectbox(key="fault").set_value("gas_leak").run()
    entries = {"appliance": {"class": "furnace_gas", "age": 9.0, "fault": "gas_leak"}, "household": {"place": "US"}}
    expected, words = answer(entries), Words.of()
    for sentences in (texts(page), texts(page.text_input(key="age").set_value("9").run())):
        assert sentences.count(words.headline(expected)) == 1
        assert sentences.count(words.verdict(expected)) == 2  # in the box, and in the bar
    assert words.headline(expected) not in folded(page)


@pytest.mark.parametrize(("kind", "fault", "place"), USE_STOPS[:: max(1, len(USE_STOPS) // 12)])
def test_the_stop_before_an_answer_is_that_of_the_answer(kind: Any, fault: Any, place: str) -> None:
    entries = {
        "appliance": {"class": kind.kind, "age": 5.0, "fault": fault.fault},
        "household": {"place": place},
    }
    expected, words = answer(entries), Words.for_place(place)
    assert stop_of(words, tables(), kind.kind, fault.fault) == (words.verdict(expected), words.headline(expected))


def test_the_money_of_a_danger_waits_behind_a_tap(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page = page_with(GAS_SMELL, tmp_path, monkeypatch)
    words, expected = Words.of(), answer(GAS_SMELL)
    assert not any("$" in text for text in texts(page, with_small=False))
    page.session_state["money"] = True
    page.run().run()
    assert words.once_safe(expected) in folded(page)
    assert first_layer(words, expected).cards[0].values[0] in folded(page)


def test_an_option_that_is_ruled_out_has_no_figures_anywhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page = page_with(TANK_LEAK, tmp_path, monkeypatch)
    expected, words = answer(TANK_LEAK), Words.for_entries(TANK_LEAK)
    refused = [cost for cost in expected.weighing.options if cost.blocked_by]
    assert refused
    page.pills(key="section").set_value("costs").run()
    assert "Cannot be repaired" in texts(page)
    for cost in refused:
        for amount in (cost.present_cost, cost.equivalent_annual_cost):
            shown = words.money(float(amount))
            assert shown not in texts(page)
            assert all(shown not in chart.proto.alt for chart in page.get("plotly_chart"))


def test_cautions_stand_under_now_while_working_and_afterwards_and_few_in_the_open(page: AppTest) -> None:
    enter(page)
    page.session_state["notes"] = False
    lines = Words.of().cautions(answer(entered()))
    sentences = [text for text in texts(page.run()) if text in {line.text for line in lines}]
    assert sentences == [line.text for line in lines if line.is_open]  # fewer are heeded more
    assert len(sentences) == 5
    page.session_state["notes"] = True
    sentences_of_it = texts(page.run().run())
    heads = [text for text in sentences_of_it if text in ("Now", "While working", "Afterwards")]
    assert list(dict.fromkeys(heads)) == ["Now", "While working", "Afterwards"]
    assert {line.text for line in lines} <= set(sentences_of_it)
    whos = {line.who for line in lines}
    assert {"owner", "anyone", "everyone"} <= whos
    assert "technician trained for flammable refrigerant" in whos


def test_a_chart_carries_in_words_what_it_shows(page: AppTest) -> None:
    enter(page)
    found = answer(entered())
    layer = first_layer(Words.of(), found)
    assert layer.ruler
    assert layer.paid
    assert {ruler_text(Words.of(), layer.ruler), paid_text(Words.of(), layer.paid)} <= set(texts(page))
    assert not page.get("plotly_chart")
    page.pills(key="section").set_value("why").run()
    alts = [chart.proto.alt for chart in page.get("plotly_chart")]
    assert len(alts) == 1
    assert any(Words.of().money(float(found.weighing.repair_limit)) in alt for alt in alts)


# every way through it


@pytest.mark.slow
@pytest.mark.parametrize("place", CURRENCIES)
def test_every_class_and_each_of_its_faults_can_be_chosen(page: AppTest, place: str) -> None:
    page.selectbox(key="place").set_value(place).run()
    reached, words = {}, Words.for_place(place)
    called = {words.kind(known.kind): known.kind for known in tables().classes(place)}
    for group in page.pills(key="group").options:
        page.pills(key="group").set_value(
            next(g for g in GROUPS if Words.for_place("US").say(f"group.{g}") == group)
        ).run()
        for label in page.pills(key="kind").options:
            page.pills(key="kind").set_value(called[label]).run()
            reached[called[label]] = sorted(page.selectbox(key="fault").options)
    faults = {kind: [words.fault(each.fault) for each in tables().faults(kind)] for kind in called.values()}
    assert reached == {kind: sorted(names) for kind, names in faults.items()}


@pytest.mark.parametrize("remaining_life_factor", remaining_life_factors(tables(), "US").values())
def test_the_shape_it_is_in_counts_as_the_page_says(page: AppTest, remaining_life_factor: float) -> None:
    enter(page)
    page.pills(key="remaining_life_factor").set_value(remaining_life_factor).run()
    entries = entered()
    entries["repair"]["remaining_life_factor"] = remaining_life_factor
    assert Words.of().headline(answer(entries)) in texts(page)
    text = " ".join(texts(page))
    assert (Words.of().percent(remaining_life_factor) in text) == (remaining_life_factor != 1)


def test_more_options_come_in_when_they_are_typed(page: AppTest) -> None:
    enter(page)
    for key, text in {"used_price": "250", "used_age": "5", "annual_loss_of_use": "60", "study_period": "8"}.items():
        page.text_input(key=key).set_value(text).run()
    entries = entered()
    entries["replace"] = [{}, {"name": "Used, 5 years old", "price": 250.0, "appliance": {"age": 5.0}}]
    entries["leave"] = {"annual_loss_of_use": 60.0}
    entries["household"]["study_period"] = 8.0
    assert Words.of().headline(answer(entries)) in texts(page)
    assert "Used, 5 years old" in texts(page)


@pytest.mark.parametrize(
    ("typed", "other", "lacking"), [("used_price", "used_age", "its age"), ("used_age", "used_price", "its price")]
)
def test_a_used_unit_counts_only_once_its_price_and_its_age_are_there(
    page: AppTest, typed: str, other: str, lacking: str
) -> None:
    enter(page)
    before = texts(page, with_small=False)
    page.text_input(key=typed).set_value("5").run()
    assert texts(page, with_small=False) == before
    assert f"Still needed: {lacking}." in texts(page)
    page.text_input(key=other).set_value("5").run()
    assert "Used, 5 years old" in texts(page)
    assert not any("Still needed" in caption for caption in texts(page))


def test_an_empty_field_says_what_is_used_and_the_rest_says_who_says_so(page: AppTest) -> None:
    enter(page)
    figure = tables().figure("price", "refrigerator", "US")
    assert figure is not None
    shown = Words.of().money(figure.value)
    assert page.text_input(key="price").placeholder == shown
    assert f"Blank = about {shown}." in texts(page)
    assert not any(figure.source.citation in caption for caption in texts(page))
    page.pills(key="section").set_value("numbers").run()
    assert any(figure.source.citation in text for text in texts(page))


@pytest.mark.slow
@pytest.mark.parametrize(("price", "asked"), [("946", False), ("300", False), ("60", True), ("12000", True)])
def test_a_price_far_from_the_usual_one_is_asked_about_and_used(page: AppTest, price: str, asked: bool) -> None:
    enter(page)
    page.text_input(key="price").set_value(price).run()
    assert any("far from the usual" in text for text in texts(page)) is asked
    entries = entered()
    entries["replace"] = [{"price": float(price)}]
    assert Words.of().headline(answer(entries)) in texts(page)


@pytest.mark.parametrize("key", ["group", "kind", "remaining_life_factor", "use_way", "electricity_priced"])
def test_a_choice_can_be_changed_but_not_undone_by_a_second_tap(page: AppTest, key: str) -> None:
    enter(page)
    assert page.pills(key=key).proto.required


# what cannot be used


def fill(page: AppTest, key: str, text: str) -> AppTest:
    if key == "electricity":
        page.pills(key="use_way").set_value("year").run()
    if key == "used_age":
        page.text_input(key="used_price").set_value("150").run()
    return page.text_input(key=key).set_value(text).run()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("key", "text", "named"),
    [
        ("quote", "abc", "abc"),
        ("quote", "-5", "Quote for the repair"),
        ("age", "99", "Age"),
        ("price", "1.234", "Price"),
        ("electricity", "5 kWh", "Electricity used"),
        ("used_age", "old", "old"),
    ],
)
def test_what_cannot_be_used_is_named_and_all_else_is_kept(page: AppTest, key: str, text: str, named: str) -> None:
    enter(page, place="DE")
    fill(page, key, "")
    kept = (*TYPED, *CHOSEN, *WAYS)
    before = {name: page.session_state[name] for name in kept}
    page.text_input(key=key).set_value(text).run()
    assert not page.exception
    sentences = texts(page)
    assert any(named in line for line in sentences)
    assert "One entry cannot be used" in sentences
    assert {name: page.session_state[name] for name in kept} == {**before, key: text}
    page.text_input(key=key).set_value("401" if key == "quote" else "12" if key == "age" else "").run()
    assert Words.for_place("DE").headline(answer(entered("DE"))) in texts(page)


def test_all_that_cannot_be_used_is_told_at_once(page: AppTest) -> None:
    """What people did: a word for the age, a minus before the quote, cents for the price of energy."""
    enter(page)
    page.pills(key="electricity_priced").set_value("own").run()
    for key, text in {"age": "twelve", "quote": "-50", "electricity_price": "16.48"}.items():
        page.text_input(key=key).set_value(text).run()
    sentences = texts(page)
    assert any("twelve" in line for line in sentences)
    assert any("-50" in line for line in sentences)
    assert any("16.48" in line for line in sentences)
    assert sentences.count("3 entries cannot be used") == 2  # in place of the answer, and at the thumb
    assert page.session_state["more"]  # the folded part opens where something in it cannot be used
    link = next(text.value for text in page.markdown if "Show it" in text.value)
    assert link == "[Show it](#at-age)"


def test_faults_of_the_model_are_told_at_their_field(page: AppTest) -> None:
    enter(page)
    page.pills(key="use_way").set_value("meter").run()
    for key, text in {"meter_first": "20", "meter_second": "12", "meter_hours": "48"}.items():
        page.text_input(key=key).set_value(text).run()
    assert "One entry cannot be used" in texts(page)
    assert "[Show it](#at-meter_second)" in [text.value for text in page.markdown]


def test_a_lone_mark_is_thousands_in_the_us_and_asked_about_in_the_eu(page: AppTest) -> None:
    enter(page, "US", "1,234")
    assert Words.of().headline(answer(entered("US", 1234.0))) in texts(page)
    page.selectbox(key="place").set_value("DE").run()
    assert any("1,234" in line and "1234" in line for line in texts(page))
    assert "One entry cannot be used" in texts(page)


def test_a_class_that_is_not_sold_there_is_asked_for_again(page: AppTest) -> None:
    page.pills(key="group").set_value("heating").run()
    page.pills(key="kind").set_value("furnace_gas").run()
    page.selectbox(key="place").set_value("DE").run()
    assert not page.exception
    assert page.session_state["kind"] is None
    assert page.session_state["group"] == "heating"


def test_nothing_of_a_customer_is_read_as_marks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    evil = "<img src=x> [tap](http://example.org) $a$ **b**"
    entries = entered()
    entries |= {"title": evil, "replace": [{"name": evil, "price": 500.0}]}
    page = page_with(entries, tmp_path, monkeypatch)
    page.pills(key="section").set_value("costs").run()
    assert any(evil in text for text in texts(page))
    read = [*page.markdown, *page.title, *page.header, *page.subheader, *page.error, *page.warning]
    assert [element.value for element in read if "example.org" in element.value] == []
    assert [piece.value for piece in page.get("html") if "<img" in piece.value or 'href="http' in piece.value] == []
    page.pills(key="section").set_value("why").run()
    figures = [chart.proto.spec for chart in page.get("plotly_chart")]
    assert figures
    assert not any("<img" in figure for figure in figures)


def test_the_commonest_faults_stand_first_and_dangers_last(page: AppTest) -> None:
    page.pills(key="group").set_value("cooling").run()
    page.pills(key="kind").set_value("refrigerator").run()
    listed = page.selectbox(key="fault").options
    words = Words.of()
    dangers = [
        words.fault(f.fault)
        for f in tables().faults("refrigerator")
        if stop_of(words, tables(), "refrigerator", f.fault)
    ]
    assert dangers
    assert set(listed[-len(dangers) :]) == set(dangers)
    assert listed.index(words.fault("icemaker")) < 12


def test_the_empty_page_shows_an_example_at_a_tap(page: AppTest) -> None:
    page.button(key="example").click().run()
    assert not page.exception
    entries = entered("US", 400.0)
    assert Words.of().headline(answer(entries)) in texts(page)


# what a technician knows besides


def test_the_year_on_the_plate_counts_as_the_age(page: AppTest) -> None:
    enter(page)
    page.text_input(key="age").set_value(str(datetime.date.today().year - 12)).run()
    assert Words.of().headline(answer(entered())) in texts(page)
    assert "= 12 years" in texts(page)


def test_offers_fees_and_ways_to_pay_count_as_in_a_case_file(page: AppTest) -> None:
    enter(page, quote="300")
    typed = {
        "better_price": "1100",
        "better_warranty": "5",
        "fee_credit": "95",
        "most_today": "1200",
        "study_period": "6",
    }
    for key, text in typed.items():
        page.text_input(key=key).set_value(text).run()
    page.text_input(key="better_electricity").set_value("350").run()
    page.pills(key="pays").set_value("card").run()
    page.pills(key="at_end").set_value("sell").run()
    assert not page.exception
    better = {
        "name": "A better one",
        "price": 1100.0,
        "appliance": {"electricity": 350.0},
        "warranty": 5.0,
        "pays": "card",
    }
    entries = {
        "appliance": {"class": "refrigerator", "age": 12.0, "fault": "compressor"},
        "household": {"place": "US", "most_today": 1200.0, "study_period": 6.0, "at_end": "sell"},
        "repair": {"quote": {"amount": 300.0, "fee_credit": 95.0}, "pays": "card"},
        "replace": [{"pays": "card"}, better],
    }
    assert Words.of().headline(answer(entries)) in texts(page)
    assert "A better one" in texts(page) or "A used one" in texts(page)
    assert "$205" in texts(page)  # the bill less what comes off it


def test_a_warranty_that_still_holds_is_claimed_first(page: AppTest) -> None:
    enter(page)
    page.text_input(key="warranty_left").set_value("2").run()
    assert "Claim it first" in texts(page)


@pytest.mark.parametrize(("quote", "asked"), [("4.50", True), ("12000", True), ("400", False)])
def test_a_quote_far_from_the_usual_one_asks_whether_it_is_meant(page: AppTest, quote: str, asked: bool) -> None:
    enter(page, quote=quote)
    assert any("is that right?" in text for text in texts(page)) is asked


def test_a_what_if_is_named_weighed_and_kept_with_the_visit(page: AppTest) -> None:
    enter(page)
    page.pills(key="section").set_value("scenarios").run()

    def shown() -> set[str]:
        """Texts without the number of their row in the picture."""
        return {re.sub(r"^\d · ", "", each) for each in texts(page)}

    assert {"As it is", "You move out in 3 years", "A basic new one"} <= shown()
    page.text_input(key="scenario_name").set_value("dear")
    page.selectbox(key="scenario_field").set_value("price")
    page.text_input(key="scenario_value").set_value("2000")
    page.button(key="scenario_add").click().run()
    assert not page.exception
    assert "dear" in shown()
    assert page.session_state["kept"]["scenario"] == [{"name": "dear", "set": {"replace.price": 2000.0}}]
    dear = answer({**entered(), "replace": [{"price": 2000.0}]})
    assert Words.of().measure(dear, "net_saving") in shown()
    page.button(key="scenario_forget").click().run()
    assert "dear" not in shown()


def test_a_what_if_that_cannot_be_read_says_why_and_stays_typed(page: AppTest) -> None:
    enter(page)
    page.pills(key="section").set_value("scenarios").run()
    page.text_input(key="scenario_name").set_value("old")
    page.selectbox(key="scenario_field").set_value("age")
    page.text_input(key="scenario_value").set_value("200")
    page.button(key="scenario_add").click().run()
    assert any("200" in text and "60" in text for text in texts(page))
    assert page.text_input(key="scenario_value").value == "200"
    assert "scenario" not in page.session_state["kept"]


# keeping, saving, opening


def test_running_again_changes_nothing(page: AppTest) -> None:
    enter(page)
    before, fields = texts(page), {name: page.session_state[name] for name in (*TYPED, *CHOSEN)}
    page.run()
    assert texts(page) == before
    assert {name: page.session_state[name] for name in (*TYPED, *CHOSEN)} == fields


def test_the_next_customer_starts_empty_in_the_same_place_and_the_last_can_come_back(page: AppTest) -> None:
    enter(page, "DE")
    sentences = texts(page)
    next(button for button in page.button if button.label == "Next").click().run()
    assert all(page.session_state[key] == "" for key in TYPED)
    assert page.session_state["kind"] is None
    assert page.session_state["place"] == "DE"
    assert [button.label for button in page.button] == ["See an example", "Undo"]
    enter(page, "US", "250")
    second = texts(page)
    undo(page)
    assert texts(page) == sentences
    undo(page)
    assert texts(page) == second


def undo(page: AppTest) -> None:
    next(button for button in page.button if button.label == "Undo").click().run()
    assert not page.exception


@pytest.mark.parametrize("name", CASES)
def test_a_case_that_is_opened_and_saved_is_the_same_case(name: str) -> None:
    """Fields and back: the entries may say more in words (a place, a usual outlook), the case may not change."""
    entries = CASES[name]
    words = Words.for_place(entries.get("household", {}).get("place", "US"))
    fields = fields_of(entries)
    fields["place"] = fields["place"] or words.region
    fields["remaining_life_factor"] = fields["remaining_life_factor"] or 1.0
    again = question_of(fields, entries, words)
    assert again.errors == ()
    assert complete(again.entries) == complete(entries)
    assert complete(parse_case(write_case(again.entries).encode())) == complete(entries)


@pytest.mark.parametrize(
    "key", [key for key in TYPED if entry_at(WASHER, TYPED[key]) is not None and not key.startswith(OFFERS)]
)
def test_a_field_that_is_cleared_takes_its_entry_with_it(key: str) -> None:
    fields = {**fields_of(WASHER), key: ""}
    left = question_of(fields, WASHER, Words.for_place("EU")).entries
    assert entry_at(left, TYPED[key]) != entry_at(WASHER, TYPED[key])
    others = {path for name, path in TYPED.items() if name != key and path.split(".")[0] != "replace"}
    assert {path: entry_at(left, path) for path in others} == {path: entry_at(WASHER, path) for path in others}


def test_a_used_unit_is_put_beside_other_replacements() -> None:
    entries = {**WASHER, "replace": [WASHER["replace"][0], WASHER["replace"][2]]}
    fields = fields_of(entries)
    assert fields["used_price"] == ""
    added = question_of({**fields, "used_price": "200", "used_age": "3"}, entries, Words.for_place("EU")).entries
    assert [entry["name"] for entry in added["replace"]] == ["New", "Used, 3 years old", "Third"]


def test_a_used_unit_of_which_the_year_is_known_is_named_by_its_age() -> None:
    made = str(datetime.date.today().year - 5)
    fields = {**fields_of(CASES["demo"]), "used_price": "200", "used_age": made, "place": "US"}
    bought = question_of(fields, {}, Words.for_place("US")).entries["replace"][1]
    assert (bought["name"], bought["appliance"]["age"]) == ("Used, 5 years old", 5.0)


def test_clearing_the_used_unit_leaves_the_other_replacements() -> None:
    fields = {**fields_of(WASHER), "used_price": "", "used_age": ""}
    left = question_of(fields, WASHER, Words.for_place("EU")).entries
    assert [entry["name"] for entry in left["replace"]] == ["New", "Third"]


def test_living_with_it_goes_when_its_worth_is_cleared_and_nothing_else_is_known_of_it() -> None:
    entries = {**WASHER, "leave": {"annual_loss_of_use": 90.0}}
    left = question_of({**fields_of(entries), "annual_loss_of_use": ""}, entries, Words.for_place("EU")).entries
    assert "leave" not in left


def test_a_quote_in_parts_is_kept_until_an_amount_is_typed() -> None:
    demo = CASES["demo"]
    fields = {**fields_of(demo), "place": "US-OH"}
    assert question_of(fields, demo, Words.for_place("US")).entries["repair"]["quote"] == demo["repair"]["quote"]
    assert question_of({**fields, "quote": "300"}, demo, Words.for_place("US")).entries["repair"]["quote"] == 300.0


@pytest.mark.parametrize(
    ("content", "text"),
    [
        (b"[appliance\n", "is no TOML file"),
        (b"\xff\xfe\x00", "is not UTF-8"),
        (b'[appliance]\nclass = "refrigerator"\nage = 99\n', "Age"),
        (b'[appliance]\nclass = "toaster"\nage = 3\n', "Kind of appliance"),
    ],
)
def test_a_file_that_cannot_be_used_says_why_and_changes_nothing(page: AppTest, content: bytes, text: str) -> None:
    enter(page)
    before = texts(page)
    page.session_state["opening"] = True
    page.run().file_uploader(key="upload_0").set_value(("case.toml", content, "application/toml")).run()
    assert not page.exception
    assert any(text in line for line in texts(page))
    assert set(before) <= set(texts(page))


def test_a_file_that_is_opened_fills_the_page(page: AppTest) -> None:
    page.session_state["opening"] = True
    page.run().file_uploader(key="upload_0").set_value(("demo.toml", DEMO.read_bytes(), "application/toml")).run()
    assert not page.exception
    assert Words.of().headline(answer(read_case(DEMO))) in texts(page)
    assert page.text_input(key="age").value == "12"


# starting


def test_the_settings_are_the_same_in_a_checkout_and_installed() -> None:
    def flat(entries: dict[str, Any], before: str = "") -> dict[str, Any]:
        inner = [flat(value, f"{before}{name}.") for name, value in entries.items() if isinstance(value, dict)]
        found = {f"{before}{name}": value for name, value in entries.items() if not isinstance(value, dict)}
        return {name: value for part in (found, *inner) for name, value in part.items()}

    assert flat(tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text("utf-8"))) == SETTINGS
    assert SETTINGS["server.disconnectedSessionTTL"] <= 600  # [s]; else what a closed page uploaded is held for long


def test_a_port_in_use_is_refused_before_anything_starts() -> None:
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", free_port()))
        taken.listen()
        with pytest.raises(CaseError, match=f"port: {taken.getsockname()[1]} cannot be used here"):
            serve(taken.getsockname()[1])


@pytest.mark.parametrize("key", TYPED)
def test_every_field_has_a_label_of_its_input(key: str) -> None:
    words = Words.for_place("US")
    text = labelled(words, key)
    assert TYPED[key] not in text
    assert words.unit(local_bounds(words, TYPED[key]).unit) in text or unit_of(TYPED[key]) in NAMED_BY_LABEL


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("key", TYPED)
def test_no_label_says_its_unit_twice(key: str, language: str) -> None:
    joining = {"a", "al", "and", "de", "per", "por", "y"}
    words = re.findall(r"[^\W\d]+", labelled(Words.for_place("US", language), key).casefold())
    found = [word for word in words if word not in joining]
    american = Words.for_place("US", language)
    unit = re.findall(r"[^\W\d]+", american.unit(local_bounds(american, TYPED[key]).unit).casefold())
    assert all(found.count(word) <= 1 for word in unit)
