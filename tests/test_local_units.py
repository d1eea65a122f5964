"""Gas, water and temperatures in the units that people of a place read and type; files keep theirs."""

import datetime
import itertools
import re
from pathlib import Path

import pytest
from commands import run
from conftest import ROOT
from streamlit.testing.v1 import AppTest

from decide.answers.answer import answer
from decide.errors import EntryErrors
from decide.load.cases.case_file import complete
from decide.load.tables.tables import tables
from decide.load.tables.typed import typed_number
from decide.show.pdf.sheet import sheet_of
from decide.show.screens.ask import usual_of
from decide.show.screens.state.entry import fields_of, question_of
from decide.show.screens.state.fields import TYPED, bounds_of
from decide.show.screens.state.visits import EMPTY
from decide.show.text.words import Words

OHIO = {
    "appliance": {"class": "furnace_gas", "age": 12},
    "household": {"place": "US-OH", "today": "2026-11-30"},
    "repair": {"quote": 400},
}
GERMANY = {**OHIO, "appliance": {"class": "boiler_gas", "age": 12}, "household": {"place": "DE", "today": "2026-11-30"}}
WASHER = {**OHIO, "appliance": {"class": "clothes_washer", "age": 6}}
FOREIGN = re.compile(r"m³|°C|kWh of gas|gas[^.\n]*kWh")

# ASHRAE and EIA: 1 therm is 100,000 Btu, 29.3 kWh; NIST Handbook 44, appendix C: a cubic metre is 264.172 US gallons.
THERM, GALLONS = 29.3071, 264.172


def on_page(entries: dict, **typed: object) -> tuple[dict, Words]:
    words = Words.for_entries(entries)
    fields = {**EMPTY, **fields_of(entries), "files": {}, **typed}
    return question_of(fields, entries, words), words


def test_no_report_row_in_the_us_is_in_a_unit_that_nobody_there_has() -> None:
    for entries, unit in ((OHIO, "therm"), (WASHER, "gallons")):
        words, found = Words.for_entries(entries), answer(entries)
        rows = [row for row in words.assumptions(found) if "gas" in row.path or "water" in row.path]
        text = "\n".join(f"{row.label}: {row.value} {row.range} {row.note}" for row in rows)
        text += "\n".join(words.because(found))
        assert unit in text
        assert not FOREIGN.search(text), FOREIGN.search(text)


def test_in_europe_nothing_changed() -> None:
    words, found = Words.for_entries(GERMANY), answer(GERMANY)
    rows = {row.path: row.value for row in words.assumptions(found)}
    assert rows["appliance.gas"].endswith("kWh a year")
    assert rows["household.gas_price"].endswith("per kWh")
    assert rows["household.water_price"].endswith("per m³")


def test_a_row_is_the_files_value_converted() -> None:
    words, found = Words.for_entries(OHIO), answer(OHIO)
    rows = {row.path: row.value for row in words.assumptions(found)}
    price, used = found.case.household.gas_price, float(found.case.appliance.gas)
    assert float(rows["household.gas_price"].split()[0].strip("$")) == pytest.approx(price * THERM, abs=0.005)
    assert float(rows["appliance.gas"].split()[0].replace(",", "")) == pytest.approx(used / THERM, abs=0.5)
    water = float(answer(WASHER).case.household.water_price)
    row = next(row for row in words.assumptions(answer(WASHER)) if row.path == "household.water_price")
    assert row.value.endswith("per 1,000 gal")
    assert float(row.value.split()[0].strip("$")) == pytest.approx(water * 1000 / GALLONS, abs=0.005)


def test_how_a_use_follows_is_told_in_the_unit_of_the_use() -> None:
    words, found = Words.for_entries(OHIO), answer(OHIO)
    row = next(row for row in words.assumptions(found) if row.path == "appliance.gas")
    taken = next(each for each in found.defaults if each.field == "appliance.gas")
    new = tables().figure("gas_new", "furnace_gas", "US")
    assert new is not None
    assert f"{new.value:g} if made now" in taken.rule
    assert f"{new.value / THERM:g} if made now"[:3] in row.note
    assert f"{new.value:g}" not in row.note


@pytest.mark.parametrize(("key", "typed", "filed"), [("gas", "600", 600 * THERM), ("gas_price", "1.50", 1.50 / THERM)])
def test_what_is_typed_is_filed_in_the_units_of_files(key: str, typed: str, filed: float) -> None:
    asked, _ = on_page(OHIO, gas_priced="own", **{key: typed})
    assert not asked.errors
    *heads, name = TYPED[key].split(".")
    assert asked.entries[heads[0]][name] == pytest.approx(filed, rel=1e-6)
    german, _ = on_page(GERMANY, gas_priced="own", **{key: typed})
    assert german.entries[heads[0]][name] == float(typed)


def test_what_is_out_of_bounds_is_told_in_the_unit_that_was_typed() -> None:
    asked, words = on_page(OHIO, gas="100000")
    (text,) = [line for error in asked.errors for line in words.explain(error)]
    assert "6,824 therms a year" in text
    assert "100,000" in text


def test_a_case_that_is_opened_and_saved_again_keeps_its_numbers_to_the_last_digit() -> None:
    entries = {**OHIO, "appliance": {**OHIO["appliance"], "gas": 12345.678}}
    entries["household"] = {**entries["household"], "gas_price": 0.0437}
    asked, _ = on_page(entries)
    assert asked.entries["appliance"]["gas"] == 12345.678
    assert asked.entries["household"]["gas_price"] == 0.0437


def test_every_field_that_counts_heat_or_water_has_a_unit_of_the_place() -> None:
    words = Words.for_place("US-OH")
    left = {
        path: words.local(bounds_of(path).unit, path).name
        for path in TYPED.values()
        if path.rpartition(".")[2] in ("gas", "gas_price", "water", "room", "year_rooms") or "gas_tariff" in path
    }
    assert len(left) >= 8
    assert set(left.values()) == {"therm/year", "money/therm", "gal/year", "degF"}
    for name in left.values():
        assert words.unit(name), name


def test_terminal_handout_and_errors_of_files_agree(tmp_path: Path) -> None:
    case = tmp_path / "c.toml"
    case.write_text(
        '[appliance]\nclass = "furnace_gas"\nage = 12\n[household]\nplace = "US-OH"\n[repair]\nquote = 400\n'
    )
    shown = run("weigh", str(case), "--all").output
    assert "per therm" in shown
    assert not re.search(r"[Gg]as[^\n]*kWh", shown)
    words, found = Words.for_household(answer(OHIO).case.household), answer(OHIO)
    assert not FOREIGN.search(str(sheet_of(words, found, on=datetime.date(2026, 11, 30))))
    with pytest.raises(EntryErrors) as raised:
        complete({**OHIO, "household": {**OHIO["household"], "gas_price": 9}})
    assert words.explain(raised.value)[0].count("per kWh") == 1  # a file is told in the unit that it keeps


# propane. EPA GHG Emission Factors Hub 2025, Table 1: 5.68 kg CO2, 0.28 g CH4 and 0.06 g N2O a gallon; AR5: 28 and 265.
PER_GALLON = 5.68 + 0.28e-3 * 28 + 0.06e-3 * 265


@pytest.mark.published("EIA Heating Oil and Propane Update, 17 November 2025", "residential, US 2.459, Ohio 2.430")
def test_propane_costs_what_the_eia_prints() -> None:
    heat = tables().usual("propane_heat", "US").value
    for place, price in (("US", 2.459), ("US-OH", 2.430), ("US-FL", 4.649), ("US-CA", 2.459)):
        entries = {**OHIO, "household": {"place": place, "gas_kind": "propane"}}
        found, words = answer(entries), Words.for_entries(entries)
        assert found.case.household.gas_price * heat == pytest.approx(price, rel=2e-4)
        row = next(row for row in words.assumptions(found) if row.path == "household.gas_price")
        assert row.value == f"${price:.2f} per gallon"
        assert ("US average" in row.note or "none published" in row.note) == (place == "US-CA")


@pytest.mark.parametrize(("language", "name"), [("en", "propane"), ("es", "propano")])
def test_gallons_of_propane_are_not_said_to_be_of_gas(language: str, name: str) -> None:
    """'449 gallons of gas' is read as petrol."""
    burnt = {**OHIO, "household": {**OHIO["household"], "gas_kind": "propane"}}
    words, found = Words.for_entries(burnt, language), answer(burnt)
    said = [*words.because(found), *(f"{row.label}: {row.value}" for row in words.assumptions(found))]
    counts, of_water = re.compile(r"gallons|galones|gal\b"), re.compile("[Ww]ater|[Aa]gua")
    counted = [line for line in said if counts.search(line) and not of_water.search(line)]
    assert len(counted) >= 3
    assert all(name in line.lower() for line in counted), counted


def test_propane_is_dearer_so_an_old_furnace_is_worth_less() -> None:
    burnt = {**OHIO, "household": {**OHIO["household"], "gas_kind": "propane"}}
    assert answer(burnt).weighing.repair_limit != answer(OHIO).weighing.repair_limit
    assert answer(burnt).case.household.gas_price > 1.5 * answer(OHIO).case.household.gas_price


def test_propane_emits_by_the_published_table() -> None:
    from decide.answers.carbon import carbon_answer

    burnt = {**OHIO, "household": {**OHIO["household"], "gas_kind": "propane"}}
    figures = carbon_answer(answer(burnt)).filled.figures
    assert figures.gas * tables().usual("propane_heat", "US").value == pytest.approx(PER_GALLON, rel=1e-4)


def test_where_no_price_of_propane_is_published_it_is_asked_for() -> None:
    entries = {**GERMANY, "household": {**GERMANY["household"], "gas_kind": "propane"}}
    with pytest.raises(EntryErrors) as raised:
        complete(entries)
    assert [error.field for error in raised.value.errors] == ["household.gas_price"]
    asked, words = on_page(entries, gas_priced="own")
    (error,) = asked.with_errors(raised.value, words).errors
    assert "per litre" in words.explain(error)[0]
    paid, _ = on_page(entries, gas_priced="own", gas_price="0.90")  # a litre has 7.08 kWh, 25.5 MJ
    assert paid.entries["household"]["gas_price"] == pytest.approx(0.90 / 7.08, rel=2e-3)
    fridge = {**entries, "appliance": {"class": "refrigerator", "age": 5}}
    assert (
        complete(fridge).case.household.gas_price
        == complete({**fridge, "household": {"place": "DE"}}).case.household.gas_price
    )


def test_only_known_gases() -> None:
    with pytest.raises(EntryErrors, match="natural gas; propane"):
        complete({**OHIO, "household": {"place": "US-OH", "gas_kind": "butane"}})


@pytest.mark.slow
def test_the_page_asks_for_gas_in_the_unit_of_the_place_and_for_the_price_of_propane() -> None:
    page = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
    page.session_state["more"] = True  # the folded part, opened
    page.run()
    page.selectbox(key="place").set_value("US-OH").run()
    page.pills(key="group").set_value("heating").run()
    page.pills(key="kind").set_value("furnace_gas").run()
    assert "therms a year" in page.text_input(key="gas").label
    page.pills(key="gas_kind").set_value("propane").run()
    assert "gallons a year" in page.text_input(key="gas").label
    page.selectbox(key="place").set_value("DE").run()
    page.pills(key="group").set_value("heating").run()
    page.pills(key="kind").set_value("boiler_gas").run()
    page.pills(key="gas_kind").set_value("propane").run()
    assert "litre" in page.text_input(key="gas_price").label
    assert not page.exception


@pytest.mark.parametrize("place", ["US", "DE"])
def test_a_usual_value_is_said_in_two_digits_and_lies_near_the_one_that_counts(place: str) -> None:
    words, reference = Words.for_place(place), tables()
    fields = {"people": "people", "cycles": "cycles", "electricity": "electricity_installed", "gas": "gas_installed"}
    seen = 0
    for kind, (key, name) in itertools.product(reference.classes(words.region), fields.items()):
        if figure := reference.figure(name, kind.kind, words.region):
            said = usual_of(words, figure.value, figure.unit, TYPED[key]).split()[0]
            value = words.local(figure.unit, TYPED[key]).shown(figure.value)
            assert len(re.sub(r"\D", "", said).strip("0")) <= 2, said
            assert float(typed_number(said, TYPED[key], str(words.locale))) == pytest.approx(value, rel=0.05)
            seen += 1
    assert seen > 40
