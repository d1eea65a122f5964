"""What a label, a meter, a tariff and an address say on the page at the door, against the model."""

from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, texts
from streamlit.testing.v1 import AppTest

from decide.answers.answer import answer
from decide.answers.diagnosis import diagnose
from decide.load.cases.case_file import Entries, complete, write_case
from decide.load.cases.measured import meter_use
from decide.load.tables.labels import scales_for
from decide.load.tables.tables import CURRENCIES, tables
from decide.show.screens.ask import labelled
from decide.show.screens.state import session as kept
from decide.show.screens.state.address import address_of, fields_at
from decide.show.screens.state.entry import entry_at, fields_of, question_of
from decide.show.screens.state.fields import CHOSEN, TYPED, WAYS
from decide.show.screens.state.input_methods import parts_of, sayings_of, ways_of
from decide.show.screens.state.session import EMPTY, FIRST_CASE, folder_of
from decide.show.text.checks import check_rows
from decide.show.text.words import Words

pytestmark = pytest.mark.slow

LOG = ROOT / "tests" / "data" / "ukdale_fridge_3_days.csv"

# Invented.
TARIFF = b"""
commodity = "electricity"
source = "an invented bill"
currency = "USD"

[[line]]
name = "energy"
blocks = [{ price = 0.10, upto = 300 }, { price = 0.30 }]
per = "month"
"""
FRIDGE: Entries = {
    "appliance": {"class": "refrigerator", "age": 12.0, "fault": "compressor"},
    "household": {"place": "US"},
    "repair": {"quote": 401.0, "remaining_life_factor": 1.0},
}
# Invented: every part that the page knows, and what no field shows.
BY_LABEL: Entries = {
    **FRIDGE,
    "appliance": {
        **FRIDGE["appliance"],
        "label": {"class": "D", "year": 2022.0, "litres": {"fresh_food": 200.0, "four_star": 100.0}},
    },
    "household": {"place": "DE"},
}
BY_LIMIT: Entries = {
    **FRIDGE,
    "appliance": {
        **FRIDGE["appliance"],
        "label": {"limit": "3", "year": 2008.0, "fresh_volume": 14.0, "freezer_volume": 4.0},
    },
}
BY_METER: Entries = {
    **FRIDGE,
    "appliance": {
        **FRIDGE["appliance"],
        "meter": {
            "first": 12.4,
            "second": 14.83,
            "hours": 48.0,
            "room": 23.0,
            "year_rooms": [19.0, 19.0, 20.0, 21.0, 22.0, 24.0, 25.0, 25.0, 23.0, 21.0, 20.0, 19.0],
            "rated": 350.0,
        },
    },
}
BY_THE_RUN: Entries = {
    "appliance": {
        "class": "dishwasher",
        "age": 6.0,
        "fault": "other",
        "electricity_per_100_cycles": 95.0,
        "cycles": 240.0,
    },
    "household": {"place": "FR", "electricity_price": 0.21},
    "repair": {"quote": 180.0},
}
BY_TARIFF: Entries = {
    **FRIDGE,
    "household": {
        "place": "US",
        "electricity_tariff": {"price": 0.30, "source": "an invented bill", "base_use": 4000.0},
    },
}
CASES = {
    "label": BY_LABEL,
    "limit": BY_LIMIT,
    "meter": BY_METER,
    "run": BY_THE_RUN,
    "tariff": BY_TARIFF,
}


@pytest.fixture
def page(monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    return fridge_page()


def fridge_page(**address: str) -> AppTest:
    page = unfolded()
    for name, value in {"kind": "refrigerator", "fault": "compressor", "age": "12", "quote": "401"}.items():
        page.query_params[name] = value
    for name, value in {"place": "US", **address}.items():
        page.query_params[name] = value
    page.run()
    assert not page.exception
    return page


def unfolded() -> AppTest:
    page = AppTest.from_file(str(ROOT / "app.py"), default_timeout=30)
    page.session_state["more"] = True
    return page


def typed(page: AppTest, **fields: str) -> AppTest:
    for key, text in fields.items():
        page.text_input(key=key).set_value(text).run()
        assert not page.exception
    return page


# what it uses


def test_two_readings_of_a_meter_count_as_in_a_case_file_and_say_how_sure_they_are(page: AppTest) -> None:
    page.pills(key="use_way").set_value("meter").run()
    typed(page, meter_first="12,40", meter_second="20.83", meter_hours="72", meter_rated="350")
    entries = {
        **FRIDGE,
        "appliance": {
            **FRIDGE["appliance"],
            "meter": {"first": 12.4, "second": 20.83, "hours": 72.0, "rated": 350.0},
        },
    }
    expected, words = answer(entries), Words.of()
    sentences = texts(page)
    assert words.headline(expected) in sentences
    line = next(line for line in words.assumptions(expected) if line.path == "appliance.electricity")
    assert f"That makes {line.value}, {line.range}." in sentences
    assert words.findings(expected)
    assert set(words.findings(expected)) <= set(sentences)


def test_a_half_entered_meter_does_not_count_and_says_what_is_missing(page: AppTest) -> None:
    before = Words.of().headline(answer(FRIDGE))
    page.pills(key="use_way").set_value("meter").run()
    typed(page, meter_first="12.4")
    assert before in texts(page)
    assert "Still needed: second reading, hours between the readings." in texts(page)


def test_a_log_is_read_from_memory_and_left_nowhere(page: AppTest, tmp_path: Path, monkeypatch: Any) -> None:
    made: list[str] = []

    class Watched(kept.TemporaryDirectory[str]):
        def __enter__(self) -> str:
            made.append(super().__enter__())
            return made[-1]

    monkeypatch.setattr(kept, "TemporaryDirectory", Watched)
    page.pills(key="use_way").set_value("meter").run()
    page.pills(key="meter_way").set_value("log").run()
    assert "Still needed: the log of the meter." in texts(page)
    page.file_uploader(key="log_0").set_value(("../my fridge.csv", LOG.read_bytes(), "text/csv")).run()
    assert not page.exception
    meter = {"file": LOG.name}
    expected = answer({**FRIDGE, "appliance": {**FRIDGE["appliance"], "meter": meter}}, folder=LOG.parent)
    assert Words.of().headline(expected) in texts(page)
    assert made
    assert not any(Path(folder).exists() for folder in made)
    page.run()
    assert len(made) == 1  # what is read stays read while nothing changes


def test_a_log_that_cannot_be_read_says_so_at_its_field(page: AppTest) -> None:
    page.pills(key="use_way").set_value("meter").run()
    page.pills(key="meter_way").set_value("log").run()
    page.file_uploader(key="log_0").set_value(("log.csv", b"no,log\nat,all\n", "text/csv")).run()
    assert not page.exception
    assert "[Show it](#at-log)" in [text.value for text in page.markdown]
    assert any("log.csv" in text for text in texts(page))


def test_a_label_of_each_region_counts_as_in_a_case_file(page: AppTest) -> None:
    page.pills(key="use_way").set_value("label").run()
    typed(page, label_kwh_per_year="467")
    printed = {**FRIDGE, "appliance": {**FRIDGE["appliance"], "label": {"kwh_per_year": 467.0}}}
    assert Words.of().headline(answer(printed)) in texts(page)
    page.selectbox(key="place").set_value("DE").run()
    page.pills(key="label_says").set_value("class").run()
    typed(page, label_year="2022")
    page.selectbox(key="label_class").set_value("D").run()
    assert "Still needed: litres for fresh food." in texts(page)
    typed(page, litres_fresh_food="200", litres_four_star="100")
    expected, words = answer(BY_LABEL), Words.for_place("DE")
    assert words.headline(expected) in texts(page)
    line = next(line for line in words.assumptions(expected) if line.path == "appliance.electricity")
    assert f"That makes {line.value}, {line.range}." in texts(page)


@pytest.mark.parametrize("year", [2019, 2023])
@pytest.mark.parametrize("region", CURRENCIES)
def test_whatever_a_label_can_say_makes_a_year_once_its_fields_are_filled(region: str, year: int) -> None:
    """Every rating that a class can bear: with a usual number in each field it needs, the model takes it."""
    tried = 0
    for kind in tables().classes(region):
        for says in sayings_of(kind, region):
            fields = {**EMPTY, "kind": kind.kind, "fault": "other", "age": "5", "place": region}
            fields |= {"use_way": "label", "label_says": says, "label_year": str(year), "label_class": "B"}
            if (kind.kind, says, year) == ("wine_cooler", "class", 2019):
                continue  # its label then went by other litres: the model says so at the field
            for _ in range(2):  # a letter's size is asked for once its year is known
                part = next(each for each in parts_of(fields, region) if each.table == "appliance.label")
                fields |= {key: fields.get(key) or USUAL_NUMBERS.get(key, "1") for key in part.needed}
            question = question_of(fields, {}, Words.for_place(region))
            assert question.errors == ()
            assert question.missing == {}
            derived = {each.field for each in complete(question.entries).derived}
            assert derived & {"appliance.electricity", "appliance.gas"}, (kind.kind, says)
            tried += 1
    assert tried > 10


# Invented, of a usual size each.
USUAL_NUMBERS = {
    "label_kwh_per_year": "300",
    "label_energy_factor": "0.7",
    "label_drum_volume": "4",
    "label_capacity": "10000",
    "label_full_load_hours": "800",
    "label_heating_capacity": "30000",
    "label_heating_hours": "2000",
    "label_heat_load": "12000",
    "label_hot_water": "55",
    "label_afue": "80%",
    "label_net_efficiency": "105%",
    "label_eer": "10",
    "label_ceer": "10",
    "label_seer": "14",
    "label_seer2": "14",
    "label_hspf": "9",
    "label_hspf2": "8",
    "label_place_settings": "13",
    "label_width": "60",
    "label_load": "8",
    "litres_fresh_food": "200",
    "litres_four_star": "100",
    "litres_wine_storage": "80",
    "label_category": "refrigerator-freezer",
}


def test_a_year_in_which_two_labels_were_borne_asks_which_one() -> None:
    assert len(scales_for("washing_machine", 2021)) == 2
    fields = {**EMPTY, "kind": "clothes_washer", "use_way": "label", "label_says": "class", "label_year": "2021"}
    (part,) = parts_of({**fields, "label_class": "B"}, "EU")
    assert "label_scale" in part.needed


@pytest.mark.parametrize("region", CURRENCIES)
def test_a_meter_is_offered_only_where_the_model_takes_one(region: str) -> None:
    from decide.load.cases.reading import CaseReader

    for kind in tables().classes(region):
        offered = "meter" in ways_of(kind, region)
        if "electricity" not in kind.fuels:
            assert not offered
            continue
        passed = {"hours": 48.0} if kind.group == "cooling" else {"runs": 3.0}
        reader = CaseReader(tables(), region=region)
        found = meter_use(reader, "appliance", {"first": 1.0, "second": 4.0, **passed}, kind, 100.0)
        assert offered == (found is not None), kind.kind


def test_another_way_chosen_leaves_the_fields_of_the_first_typed_but_uncounted(page: AppTest) -> None:
    page.pills(key="use_way").set_value("year").run()
    typed(page, electricity="900")
    measured = {**FRIDGE, "appliance": {**FRIDGE["appliance"], "electricity": 900.0}}
    assert Words.of().headline(answer(measured)) in texts(page)
    page.pills(key="use_way").set_value("usual").run()
    assert Words.of().headline(answer(FRIDGE)) in texts(page)
    page.pills(key="use_way").set_value("year").run()
    assert page.text_input(key="electricity").value == "900"
    assert Words.of().headline(answer(measured)) in texts(page)


# what energy costs


def test_a_tariff_counts_once_its_file_and_the_use_of_the_home_are_there(page: AppTest, tmp_path: Path) -> None:
    page.pills(key="electricity_priced").set_value("tariff").run()
    typed(page, electricity_base_use="4800")
    assert Words.of().headline(answer(FRIDGE)) in texts(page)
    assert "Still needed: the file of the tariff." in texts(page)
    page.file_uploader(key="electricity_tariff_0").set_value(("bill.toml", TARIFF, "application/toml")).run()
    assert not page.exception
    (tmp_path / "bill.toml").write_bytes(TARIFF)
    tariff = {"file": "bill.toml", "base_use": 4800.0, "includes_appliance": True}
    entries = {**FRIDGE, "household": {"place": "US", "electricity_tariff": tariff}}
    expected, words = answer(entries, folder=tmp_path), Words.of()
    assert words.headline(expected) in texts(page)
    line = next(line for line in words.assumptions(expected) if line.path == "household.electricity_price")
    assert f"That makes {line.value}." in texts(page)


def test_files_of_one_name_do_not_take_each_others_place() -> None:
    files = {"log": ("a.csv", b"1"), "electricity_tariff": ("b.toml", b"2")}
    with folder_of(files) as folder:
        assert folder is not None
        assert {path.name: path.read_bytes() for path in folder.iterdir()} == {"a.csv": b"1", "b.toml": b"2"}
    assert not folder.exists()


# cases that hold more than the fields


@pytest.mark.parametrize("name", CASES)
def test_a_case_that_is_opened_and_saved_is_the_same_case(name: str) -> None:
    entries = CASES[name]
    fields = {**EMPTY, **fields_of(entries), "files": {}}
    fields["remaining_life_factor"] = fields["remaining_life_factor"] or 1.0
    question = question_of(fields, entries, Words.for_place(entries["household"]["place"]))
    assert question.errors == ()
    assert question.missing == {}
    assert complete(question.entries) == complete(entries)


@pytest.mark.parametrize("name", CASES)
def test_another_way_takes_the_place_of_that_of_an_opened_case(name: str) -> None:
    entries = CASES[name]
    fields = {**EMPTY, **fields_of(entries), "files": {}, "use_way": "year", "electricity": "444"}
    question = question_of(fields, entries, Words.for_place(entries["household"]["place"]))
    assert complete(question.entries).case.appliance.electricity == 444.0


def test_a_case_that_names_a_log_asks_for_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    entries = {**FRIDGE, "appliance": {**FRIDGE["appliance"], "meter": {"file": LOG.name}}}
    monkeypatch.delenv(FIRST_CASE, raising=False)
    page = unfolded()
    page.session_state["opening"] = True
    page.run().file_uploader(key="upload_0").set_value(
        ("c.toml", write_case(entries).encode(), "application/toml")
    ).run()
    assert not page.exception
    assert "Still needed: the log of the meter." in texts(page)
    page.file_uploader(key="log_1").set_value((LOG.name, LOG.read_bytes(), "text/csv")).run()
    assert Words.of().headline(answer(entries, folder=LOG.parent)) in texts(page)


def test_a_case_started_with_brings_its_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    entries = {**FRIDGE, "appliance": {**FRIDGE["appliance"], "meter": {"file": LOG.name}}}
    (tmp_path / "case.toml").write_text(write_case(entries), "utf-8")
    (tmp_path / LOG.name).write_bytes(LOG.read_bytes())
    monkeypatch.setenv(FIRST_CASE, str(tmp_path / "case.toml"))
    page = unfolded().run()
    assert not page.exception
    assert Words.of().headline(answer(entries, folder=LOG.parent)) in texts(page)


# the address


def test_an_address_opens_the_page_as_it_was(page: AppTest) -> None:
    page.pills(key="use_way").set_value("meter").run()
    typed(page, meter_first="12,40", meter_second="20.83", meter_hours="72", used_price="250", used_age="5")
    page.pills(key="remaining_life_factor").set_value(0.7).run()
    again = fridge_page(**{key: str(value) for key, value in page.query_params.items()})
    assert texts(again) == texts(page)
    assert again.query_params == page.query_params


def test_a_choice_half_made_stands_in_the_address(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    page = unfolded().run()
    page.pills(key="group").set_value("kitchen").run()
    again = unfolded()
    for key, value in page.query_params.items():
        again.query_params[key] = value
    assert again.run().pills(key="group").value == "kitchen"


def test_no_name_stands_in_an_address(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    entries = {**FRIDGE, "title": "Somebody", "replace": [{"name": "From a neighbour", "price": 500.0}]}
    (tmp_path / "case.toml").write_text(write_case(entries), "utf-8")
    monkeypatch.setenv(FIRST_CASE, str(tmp_path / "case.toml"))
    page = unfolded().run()
    assert page.text_input(key="title").value == "Somebody"
    assert page.query_params["price"] == "500"
    assert not any("Somebody" in value or "neighbour" in value for value in map(str, page.query_params.values()))


def test_a_page_with_nothing_entered_has_a_bare_address(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    page = unfolded().run()
    assert page.query_params == {}


@pytest.mark.parametrize(
    "address",
    [
        {"kind": "toaster", "fault": "no such fault"},
        {"place": "Atlantis"},
        {"kind": "", "group": "toasters"},
        {"remaining_life_factor": "900"},
        {"remaining_life_factor": "poor", "use_way": "magic", "label_says": "nothing"},
        {"age": "<b>" + "9" * 500},
        {"nonsense": "1", "kept": "x", "files": "y", "last": "z", "title": "<script>"},
        {"label_class": "Q", "label_scale": "none", "use_way": "label", "label_says": "class", "place": "DE"},
        {"grade": "golden", "kind": "dishwasher", "place": "DE"},
    ],
    ids=lambda address: ",".join(address),
)
def test_an_address_made_up_by_anybody_breaks_nothing(monkeypatch: pytest.MonkeyPatch, address: dict[str, str]) -> None:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    page = fridge_page(**address)
    assert not page.exception
    assert page.session_state["place"] in tables().known_places
    assert page.session_state["title"] == ""
    typed(page, age="12")
    assert not page.exception


def test_after_a_reload_the_page_says_that_a_file_was_open(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    assert any("has to be given again" in caption for caption in texts(fridge_page(opened="1")))
    assert not any("has to be given again" in caption for caption in texts(fridge_page()))


def test_what_stands_in_an_address_is_read_back_whole() -> None:
    usual = {**EMPTY, "place": "US"}
    fields = {
        **usual,
        "kind": "dishwasher",
        "fault": "other",
        "age": "7,5",
        "remaining_life_factor": 0.4,
        "place": "FR",
    }
    fields |= {"use_way": "label", "label_says": "class", "label_class": "D", "quote": "1 234,50"}
    written = (*TYPED, *CHOSEN, *WAYS)
    read = fields_at(address_of(fields, usual), usual)
    assert {key: read.get(key) or fields[key] for key in written} == {key: fields[key] for key in written}
    assert {key for key in written if read.get(key)} == {key for key in written if fields[key]} - {"title"}


def test_litres_are_asked_for_by_name() -> None:
    assert labelled(Words.for_place("DE"), "litres_fresh_food") == "Litres for fresh food"
    assert entry_at(BY_LABEL, TYPED["litres_fresh_food"]) == 200.0


def complained(**address: str) -> AppTest:
    page = fridge_page(symptom="warm_throughout", answers="compressor_sound=clicks", **address)
    page.session_state["seen"] = True
    page.run()
    assert not page.exception
    return page


def test_a_danger_is_no_complaint_beside_it_and_leads_to_its_readings(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    page, words = complained(fault="power_supply"), Words.of()
    name = words.fault("flooded")
    assert name not in page.selectbox(key="symptom").options
    assert name in page.selectbox(key="fault").options
    page = fridge_page(fault="flooded")
    page.session_state["seen"] = True
    page.run()
    assert page.session_state["symptom"] == "stood_in_water"
    assert any(words.in_place("check.flood_deep.name") in text for text in texts(page))


def test_once_the_cause_is_found_the_panel_asks_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    page = complained(fault="power_supply")
    assert any(each.key.startswith(("seen_", "read_")) for each in (*page.pills, *page.text_input) if each.key)
    page.selectbox(key="found_here").set_value("no_current").run()
    assert not page.exception
    words = Words.of()
    assert words.say("home.found", name=words.in_place("check.no_current.name")) in texts(page)
    assert not any(each.key.startswith(("seen_", "read_")) for each in (*page.pills, *page.text_input) if each.key)
    page.button(key="look_again").click().run()
    assert not page.exception
    assert any(each.key.startswith(("seen_", "read_")) for each in (*page.pills, *page.text_input) if each.key)


def test_a_reading_out_of_this_world_is_refused_beside_its_field_and_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    page = complained(fault="power_supply", measured="start_device_ohm=900")
    page.session_state["evidence_all"] = True
    page.run()
    shares = texts(page)
    typed(page, read_start_device_ohm="-5")
    assert page.text_input(key="read_start_device_ohm").value == "-5"
    assert any("Start device of the compressor must lie between 0 Ω" in text for text in texts(page)), texts(page)
    assert texts(page) != shares  # what was measured before no longer counts


def test_the_order_of_checks_stands_at_the_door_with_the_lines_that_home_has(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    page = complained(fault="power_supply", out="demo_mode")
    page.session_state["order"] = True
    page.run()
    assert not page.exception
    words = Words.of()
    shown = {button.key for button in page.button}
    found = diagnose(
        "refrigerator", "warm_throughout", age=12.0, answers={"compressor_sound": "clicks"}, out=("demo_mode",)
    )
    rows = check_rows(words, found)
    assert {f"found_{row.cause}" for row in rows} <= shown
    assert "found_demo_mode" not in shown
    assert any(row.who == words.say("checks.technician") for row in rows)
    assert all(row.look in texts(page) for row in rows)
    page.button(key=f"out_{rows[0].cause}").click().run()
    assert f"found_{rows[0].cause}" not in {button.key for button in page.button}
    page.button(key="put_back").click().run()
    assert f"found_{rows[0].cause}" in {button.key for button in page.button}
