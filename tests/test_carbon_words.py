"""What is said of carbon, beside the money: sentences, rows, grounds, the figure and the command."""

import json
import math
from pathlib import Path

import pytest
from commands import run

from decide.answers.answer import answer
from decide.answers.carbon import CarbonAnswer, carbon_answer
from decide.economics.carbon import CARBON_ENTRIES
from decide.errors import EntryErrors
from decide.load.cases.case_file import complete, write_case
from decide.load.cases.entry_paths import entry_paths, refuse_a_stray_path
from decide.show.cli.confidence import carbon_data
from decide.show.text.carbon_words import (
    carbon_grounds,
    carbon_headline,
    carbon_rows,
    carbon_text,
    kilograms,
)
from decide.show.text.words import Words

ENGLISH = Words.of("en")
YEAR = 2026


def entries(**parts: object) -> dict[str, object]:
    """A refrigerator of twelve years; invented."""
    return {
        "appliance": {"class": "refrigerator", "age": 12, "fault": "evaporator_fan"},
        "household": {"place": "US-OH"},
        "repair": {"quote": 220},
        **parts,
    }


def asked(**parts: object) -> CarbonAnswer:
    return carbon_answer(answer(entries(**parts)), YEAR)


OF_USUAL_SIZE = {"appliance": {"electricity": 491}}
"""A new one whose use does not follow that of the one there."""


def test_a_thirsty_unit_is_told_to_go_and_a_frugal_one_to_stay() -> None:
    there = {"class": "refrigerator", "age": 12, "fault": "evaporator_fan"}
    thirsty = asked(appliance={**there, "electricity": 1400}, replace=[OF_USUAL_SIZE])
    frugal = asked(appliance={**there, "electricity": 420}, replace=[OF_USUAL_SIZE])
    assert thirsty.advantage < 0 < frugal.advantage
    assert carbon_headline(ENGLISH, thirsty).startswith("New refrigerator-freezer emits less: ")
    assert carbon_headline(ENGLISH, frugal).startswith("Repairing emits less: ")
    assert kilograms(ENGLISH, abs(frugal.advantage)) in carbon_headline(ENGLISH, frugal)


def test_what_nobody_can_tell_apart_is_told_to_be_alike() -> None:
    there = {"class": "refrigerator", "age": 12, "fault": "evaporator_fan", "electricity": 629}
    near = asked(appliance=there, replace=[OF_USUAL_SIZE])
    assert near.close
    assert "hardly a difference" in carbon_headline(ENGLISH, near)


def test_rows_add_up_and_show_what_each_way_emits() -> None:
    found = asked()
    heads, *rows = carbon_rows(ENGLISH, found)
    assert heads[1:] == ("Repair it", "New refrigerator-freezer")
    told = {label: amounts for label, *amounts in rows}
    for at, option in enumerate(found.weighing.options[:2]):
        assert told["In all"][at] == kilograms(ENGLISH, float(option.present_cost))
        assert told["Electricity"][at] == kilograms(ENGLISH, float(option.by_category["electricity"]))


def test_the_headline_s_amount_is_the_difference_of_the_rows() -> None:
    found = asked()
    repair, new = (float(option.present_cost) for option in found.weighing.options[:2])
    assert found.advantage == pytest.approx(new - repair)
    assert found.limit == pytest.approx(new - repair + 20)


def test_carbon_changes_no_amount_of_money() -> None:
    plain, with_figures = answer(entries()), answer(entries(carbon={"electricity": 1.5, "price": 500}))
    assert with_figures.weighing.repair_limit == plain.weighing.repair_limit
    assert any("changes no amount above" in text for text in carbon_text(ENGLISH, carbon_answer(plain, YEAR)))


def test_a_price_of_carbon_is_told_with_both_limits() -> None:
    found = answer(entries(carbon={"price": 190}))
    emitted = carbon_answer(found, YEAR)
    assert emitted.priced is not None
    (text,) = (line for line in carbon_text(ENGLISH, emitted) if "for carbon" in line)
    assert "$190 a tonne" in text
    for weighed in (emitted.priced, found.weighing):
        assert ENGLISH.money(float(weighed.repair_limit)) in text


def test_the_payback_and_the_limit_are_said_in_words_where_there_is_none() -> None:
    found = answer(entries(appliance={"class": "refrigerator", "age": 12, "electricity": 420}))
    sentences = carbon_text(ENGLISH, carbon_answer(found, YEAR))
    assert any(line.startswith("Lower use alone does not make up") for line in sentences)
    thirsty = answer(entries(appliance={"class": "refrigerator", "age": 12, "electricity": 2000}))
    sentences = carbon_text(ENGLISH, carbon_answer(thirsty, YEAR))
    assert "Repair is not the greener way, however little it emits." in sentences
    assert any(line.startswith("A new one makes up for its making") for line in sentences)


def test_how_sure_is_said_with_both_ends() -> None:
    found = answer(entries())
    emitted = carbon_answer(found, YEAR)
    assert emitted.confidence is not None
    (text,) = (line for line in carbon_text(ENGLISH, emitted) if "nine of ten" in line)
    assert emitted.confidence.low < emitted.advantage < emitted.confidence.high
    assert kilograms(ENGLISH, abs(emitted.confidence.low)) in text
    assert kilograms(ENGLISH, abs(emitted.confidence.high)) in text


def test_a_repair_that_a_caution_refuses_is_not_compared() -> None:
    leaking = {"class": "water_heater_gas", "age": 9, "fault": "tank_leak"}
    found = answer(entries(appliance=leaking))
    emitted = carbon_answer(found, YEAR)
    assert math.isnan(emitted.limit)
    assert emitted.confidence is None
    assert "rules the repair out" in carbon_headline(ENGLISH, emitted)
    assert "Repair it" not in carbon_rows(ENGLISH, emitted)[0]


def test_without_a_quote_in_money_carbon_still_answers() -> None:
    found = asked(repair={})
    assert not math.isnan(found.advantage)


def test_every_figure_is_told_with_who_says_so() -> None:
    found = answer(entries(carbon={"made": 250, "price": 100}))
    grounds = carbon_grounds(ENGLISH, found, carbon_answer(found, YEAR))
    by_label = {ground.label: ground for ground in grounds}
    assert by_label["Making a new unit"].status == ENGLISH.say("assumption.entered")
    assert by_label["Making a new unit"].value == "250 kg"
    grid = by_label["Electricity, at the plug"]
    assert "EIA" in grid.source
    assert grid.value == "0.517 kg CO2e per kWh"
    assert all(ground.source for ground in grounds if ground.status != ENGLISH.say("assumption.entered"))
    assert all(ground.range for ground in grounds if ground.source)


def test_every_entry_of_carbon_has_a_name_and_a_unit_that_can_be_said() -> None:
    for name, bounds in CARBON_ENTRIES.items():
        assert ENGLISH.label(f"carbon.{name}") != f"carbon.{name}"
        assert "2" in ENGLISH.quantity(2.0, bounds.unit)
    assert set(ENGLISH.text["label"]["carbon"]) == set(CARBON_ENTRIES)
    assert {f"carbon.{name}" for name in CARBON_ENTRIES} <= set(entry_paths())
    refuse_a_stray_path("carbon.price")


@pytest.mark.parametrize(
    ("carbon", "error_text"),
    [
        ({"made": "much"}, "carbon.made: must be a number"),
        ({"electricity": 5}, "carbon.electricity: must be from 0 to 2 kg/kWh"),
        ({"price": math.nan}, "carbon.price"),
        ({"mde": 3}, "carbon.mde: is not known; did you mean made?"),
        (3, "carbon: must be a table"),
    ],
)
def test_what_cannot_be_used_is_said(carbon: object, error_text: str) -> None:
    with pytest.raises(EntryErrors) as error:
        complete(entries(carbon=carbon))
    assert error_text in str(error.value)


def test_the_data_are_numbers_and_agree_with_the_sentences() -> None:
    found = answer(entries())
    emitted = carbon_answer(found, YEAR)
    data = carbon_data(found, emitted)
    assert data["advantage"] == emitted.advantage
    assert data["options"][0]["total"] == pytest.approx(sum(data["options"][0]["by_category"].values()))


def test_the_command_prints_it_and_its_data(tmp_path: Path) -> None:
    case = tmp_path / "case.toml"
    case.write_text(write_case(entries(carbon={"price": 190})), "utf-8")
    shown = run("carbon", str(case))
    assert shown.exit_code == 0
    assert "kg CO2e" in shown.stdout
    assert "$190 a tonne" in shown.stdout
    data = json.loads(run("carbon", str(case), "--json").stdout)
    assert data["unit"] == "kg CO2e"
    assert set(data["confidence"]["share_least"]) == {"Repair it", "New refrigerator-freezer"}


def test_the_command_refuses_what_it_cannot_use(tmp_path: Path) -> None:
    case = tmp_path / "case.toml"
    case.write_text("[carbon]\nmade = -1\n[appliance]\nclass = 'refrigerator'\nage = 3\n", "utf-8")
    refused = run("carbon", str(case))
    assert refused.exit_code == 2
    assert refused.stderr
