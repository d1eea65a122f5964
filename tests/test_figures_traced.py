"""Every shipped figure is traced: none that is only recalled feeds a default; each has its source, range and year."""

import csv
import datetime
import math
from collections.abc import Iterator
from pathlib import Path

import pytest

from decide.answers.answer import answer
from decide.load.cases.case_file import complete
from decide.load.jobs.own_records import usual_shares
from decide.load.tables.symptoms import symptoms
from decide.load.tables.tables import CURRENCIES, STATUSES, data_dir, tables
from decide.show.text.freshness import OLD, prices_text
from decide.show.text.words import Words

RECALLED = "from memory"
ON_A_LABEL = ("label_limits_us.csv", "label_limits_eu.csv")
ENTERED = (*ON_A_LABEL, "readings.csv")
"""Tables that count only where somebody enters a label, or what a meter reads."""
LAST = datetime.date.today().year
LAWS_TO_COME = 2030
"""Limits that a law has set for a year to come are dated by the law or by that year."""


def rows_of(path: Path) -> list[dict[str, str]]:
    lines = path.read_text("utf-8").splitlines(keepends=True)
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def traced() -> Iterator[tuple[str, dict[str, str]]]:
    for path in sorted(data_dir().glob("*.csv")):
        rows = rows_of(path)
        if "status" in rows[0]:
            yield from ((path.name, row) for row in rows)


TRACED = list(traced())
FILES = sorted({name for name, _ in TRACED})


def of_file(name: str) -> list[dict[str, str]]:
    return [row for each, row in TRACED if each == name]


def test_the_tables_with_figures_are_all_looked_at() -> None:
    assert {"figures.csv", "energy_prices.csv", "carbon_grid.csv", "cautions.csv", "depreciation.csv"} <= set(FILES)
    assert len(TRACED) > 1500


@pytest.mark.parametrize("name", FILES)
def test_no_recalled_figure_feeds_a_default(name: str) -> None:
    recalled = [row for row in of_file(name) if row["status"] == RECALLED]
    assert bool(recalled) == (name in ENTERED), recalled[:3]


STILL_RECALLED = (
    "dishwasher-1994-",
    "dishwasher-2027-",
    "clothes-dryer-2028-",
    "water-heater-2015-min-ef-",
    "heat-pump-2006-min-hspf-",
)


def test_limits_of_the_united_states_were_compared_with_the_law_but_for_ten() -> None:
    """What else is recalled turns a limit into a use: hours, loads, draws and volumes of the test."""
    limits = [row for row in of_file("label_limits_us.csv") if row["metric"].startswith(("min_", "max_"))]
    recalled = [row["key"] for row in limits if row["status"] == RECALLED]
    assert len(recalled) == 10
    assert all(key.startswith(STILL_RECALLED) for key in recalled)


@pytest.mark.parametrize("kind", sorted(tables().known_classes))
def test_no_default_of_any_class_in_any_region_is_recalled(kind: str) -> None:
    for region in tables().kind(kind).regions:
        entries = {"appliance": {"class": kind, "age": 5}, "household": {"place": region}, "repair": {"quote": 100}}
        filled = complete(entries)
        assert filled.defaults
        assert {default.estimate.status for default in filled.defaults} <= set(STATUSES) - {RECALLED}


def test_a_recalled_limit_of_a_label_is_told_to_be_recalled() -> None:
    label = {"limit": "3", "year": 2018, "fresh_volume": 14, "freezer_volume": 4}
    entries = {"appliance": {"class": "refrigerator", "age": 8, "label": label}, "repair": {"quote": 100}}
    lines = {line.path: line for line in Words.of().assumptions(answer(entries))}
    assert lines["appliance.electricity"].status == Words.of().say("assumption.from_memory")


@pytest.mark.parametrize("name", FILES)
def test_every_row_says_where_it_stands_and_when(name: str) -> None:
    registered = {source.key for source in tables().sources.values()}
    written_out = name.startswith(("carbon_", "label_limits_", "depreciation"))
    for row in of_file(name):
        assert row["locator"]
        assert row["source"] if written_out else row["source"] in registered, row
        limit = LAWS_TO_COME if name in ON_A_LABEL else LAST
        assert 1980 <= int(row["year"]) <= limit, row
        if row["status"] == "judgement" and "note" in row:
            assert row["note"], row


NO_ADDRESS = {"own", "practice", "housing", "readers2006"}
"""Our own judgement, what the trade and local codes say, and a survey that is open to members only."""


def test_every_source_has_a_citation_a_licence_and_an_address() -> None:
    for source in tables().sources.values():
        assert source.citation
        assert source.licence
        known = source.address.startswith("https://") and "github" not in source.address
        assert known == (source.key not in NO_ADDRESS), source.key


@pytest.mark.parametrize("name", FILES)
def test_a_value_lies_in_its_range(name: str) -> None:
    for row in of_file(name):
        value = row.get("value") or row.get("level") or row.get("charge")
        if name in ON_A_LABEL or not value or not row.get("low") or not row.get("high"):
            continue
        assert float(row["low"]) <= float(value) <= float(row["high"]), row


def test_a_figure_once_recalled_has_a_range_to_be_drawn_from() -> None:
    judged = [
        row for row in of_file("figures.csv") if row["note"].startswith(("recalled, not re-read", "common practice"))
    ]
    assert len(judged) > 15
    assert all(float(row["low"]) < float(row["high"]) for row in judged)


def test_every_price_of_energy_is_dated_and_its_money_named() -> None:
    for row in of_file("energy_prices.csv"):
        assert 2020 <= int(row["year"]) <= LAST
        assert row["unit"] == f"{row['currency']}/kWh"


# how old prices are


def price_note(this_year: int) -> str:
    entries = {
        "appliance": {"class": "refrigerator", "age": 12},
        "household": {"place": "US-OH"},
        "repair": {"quote": 200},
    }
    lines = {line.path: line for line in Words.of().assumptions(answer(entries), this_year)}
    return lines["household.electricity_price"].note


def test_an_answer_that_takes_an_old_price_says_so() -> None:
    year = tables().energy_price("US-OH", "electricity").year
    assert year >= 2026  # EIA Electric Power Monthly of July 2026
    assert f"is of {year}" not in price_note(year + OLD)
    assert f"This price is of {year}, 3 years ago: take the one on your bill" in price_note(year + OLD + 1)


def test_no_price_of_energy_of_the_united_states_is_older_than_2024() -> None:
    assert min(int(row["year"]) for row in of_file("energy_prices.csv") if row["region"] == "US") >= 2024


def test_the_tables_say_of_which_years_their_prices_are() -> None:
    years = sorted({int(row["year"]) for row in of_file("energy_prices.csv")})
    text = prices_text(Words.of(), tables(), 2030)
    assert str(years[0]) in text
    assert str(years[-1]) in text
    assert f"{2030 - years[0]} years old" in text


# how often faults come

# Tecchio et al. 2019, about 11,000 diagnoses at one European repair centre (ordering second-hand, shares from memory):
# washers: electronics 14.0, shock absorbers and bearings 13.8, doors 11.5, brushes 9.7, pumps 7.5 %.
TECCHIO_WASHER = [
    (("control_board",), 0.140),
    (("shock_absorbers", "bearings"), 0.138),
    (("door_lock",), 0.115),
    (("motor",), 0.097),
    (("drain_pump",), 0.075),
]


@pytest.mark.published("Tecchio et al. 2019, failures of washing machines, from memory")
@pytest.mark.parametrize(("faults", "share"), TECCHIO_WASHER)
def test_shipped_faults_of_a_washer_are_near_those_of_a_repair_centre(faults: tuple[str, ...], share: float) -> None:
    shipped = usual_shares("clothes_washer", "EU")
    assert math.fsum(shipped[fault] for fault in faults) == pytest.approx(share, abs=0.045)


@pytest.mark.published("Tecchio et al. 2019, order of failures of dishwashers, second-hand")
def test_shipped_faults_of_a_dishwasher_come_in_the_order_of_a_repair_centre() -> None:
    # pumps, electronics, aquastop and valves, foreign objects, doors; foreign objects are no fault of ours
    shipped = usual_shares("dishwasher", "EU")
    pumps = shipped["drain_pump"] + shipped["circulation_pump"]
    assert pumps > shipped["control_board"] > shipped["water_inlet"] > shipped["door_lock"]


def test_a_sealed_circuit_is_no_rarity_among_refrigerators_that_are_too_warm() -> None:
    # common practice, no source: about one call in ten ends at the compressor or a leak
    shipped = usual_shares("refrigerator")
    assert 0.06 < shipped["compressor"] + shipped["refrigerant_leak"] < 0.2


@pytest.mark.parametrize("region", CURRENCIES)
@pytest.mark.parametrize("kind", sorted({kind for each in symptoms().known.values() for kind in each.classes}))
def test_how_often_symptoms_come_is_shared_out_whole(kind: str, region: str) -> None:
    assert math.fsum(usual_shares(kind, region).values()) == pytest.approx(1.0)
