"""Entries to a case and back: defaults with their sources, faults in one go, a round trip that changes nothing."""

from dataclasses import replace
from pathlib import Path

import pytest
from entry_errors import errors_of
from hypothesis import given
from hypothesis import strategies as st

from decide.economics.case import inputs, vary
from decide.economics.weigh import weigh
from decide.errors import CaseError, ReadError
from decide.load.cases.case_file import complete, parse_case, read_case, save_case, set_entry, write_case
from decide.load.tables.tables import tables

DEMO = Path(__file__).resolve().parents[1] / "data" / "demo" / "refrigerator.toml"
LEAST = {"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 190}}


def test_class_age_and_quote_are_enough_and_every_other_figure_says_where_it_is_from() -> None:
    filled = complete(LEAST)
    assert filled.case.options[0].quote.total == 190
    named = {default.field: default for default in filled.defaults}
    life = named["appliance.mean_life"]
    assert life.value == tables().figure("mean_life", "clothes_washer", "US").value
    assert life.estimate.source.citation
    assert life.estimate.locator
    # each input is entered, taken from the tables and said so, or stands at its plain default in `case.py`
    plain = {
        "hazard_ratio",
        "remaining_life_factor",
        "energy_change",
        "annual_loss_of_use",
        "planned_replacement_years",
        "rebate",
        "trade_in",
        "financed",
        "loan_rate",
    }
    plain |= {
        "loan_years",
        "study_period",
        "residual_share",
        "resale_share",
        "financed_share",
        "most_today",
        "day_cost",
        "repair_success_probability",
        "repair_warranty",
        "gas",
    }
    plain |= {"callback_window", "price", "tax_rate", "delivery", "installation", "haul_away", "warranty"}
    plain |= {"days_without", "food_loss", "food_loss_at_later_failures", "age"}
    for entry in inputs(filled.case):
        if not entry.path.startswith("repair.quote"):
            assert entry.path in named or entry.path.split(".")[-1] in plain, entry.path


@pytest.mark.parametrize(("fault", "lost"), [("compressor", True), ("icemaker", False), ("other", False)])
def test_food_counts_only_for_a_fault_that_stops_the_cooling(fault: str, lost: bool) -> None:
    fridge = {"class": "refrigerator", "age": 5, "fault": fault}
    filled = complete({"appliance": fridge})
    usual = tables().figure("food_loss", "refrigerator", "US").value
    assert [option.food_loss for option in filled.case.options] == [usual if lost else 0.0] * 2
    named = {default.field for default in filled.defaults}
    assert ("repair.food_loss" in named) == lost
    assert (
        filled.case.options[1].food_loss_at_later_failures == usual
    )  # whatever fails today, what fails later may stop the cooling
    own = complete({"appliance": fridge, "repair": {"food_loss": 30}, "replace": [{"food_loss": 40}]})
    assert own.case.options[0].food_loss == 30
    assert own.case.options[1].food_loss_at_later_failures == 40


def test_a_place_given_by_name_has_the_prices_of_that_place() -> None:
    named = complete({**LEAST, "household": {"place": "Hawaii"}})
    assert named.case == complete({**LEAST, "household": {"place": "US-HI"}}).case


def test_what_is_entered_is_never_called_a_default() -> None:
    entries = set_entry(set_entry(dict(LEAST), "household.rate", 0.05), "replace.price", 700)
    filled = complete(entries)
    assert filled.case.household.rate == 0.05
    assert filled.case.options[1].price == 700
    assert not {"household.rate", "replace.price"} & {default.field for default in filled.defaults}


def test_no_later_repair_costs_more_than_a_new_one() -> None:
    """Bills above it end the unit; so upkeep falls with the price of new, and the usual bill does not."""
    filled = {price: complete(set_entry(dict(LEAST), "replace.price", price)) for price in (60, 300, 900)}
    maintenance_and_repair = {
        price: float(each.case.appliance.maintenance_and_repair) for price, each in filled.items()
    }
    assert (
        0
        < maintenance_and_repair[60]
        < 0.8 * maintenance_and_repair[300]
        < maintenance_and_repair[300]
        < maintenance_and_repair[900]
        < 60
    )
    assert len({float(each.case.appliance.later_repair_median) for each in filled.values()}) == 1
    (noted,) = (default for default in filled[900].defaults if default.field == "appliance.maintenance_and_repair")
    assert noted.estimate.value == 0.22  # a US reader survey of 2006: washers with a repair within three years
    assert "too dear ones not paid; it fails 1.4 times as often, as it has failed" in noted.rule


@pytest.mark.parametrize(
    ("energy", "yearly"),
    [
        ({"electricity": 300}, 300.0),
        ({"electricity_per_cycle": 0.9, "cycles": 200}, 180.0),
        ({"electricity_per_100_cycles": 62, "cycles": 220}, 136.4),
        ({"power": 150, "hours_per_day": 8}, 438.0),
    ],
)
def test_electricity_can_be_given_by_the_year_the_cycle_or_the_power(energy: dict, yearly: float) -> None:
    filled = complete({**LEAST, "appliance": {**LEAST["appliance"], **energy}})
    assert filled.case.appliance.electricity == pytest.approx(yearly)


def test_cycles_not_entered_are_a_default_that_says_so() -> None:
    filled = complete({**LEAST, "appliance": {**LEAST["appliance"], "electricity_per_cycle": 0.8}})
    cycles = tables().figure("cycles", "clothes_washer", "US").value
    assert filled.case.appliance.electricity == pytest.approx(0.8 * cycles)
    assert "appliance.cycles" in {default.field for default in filled.defaults}


def test_electricity_given_twice_is_refused() -> None:
    found = errors_of({**LEAST, "appliance": {**LEAST["appliance"], "electricity": 300, "power": 100}})
    assert "twice" in found["appliance.power"]


def test_all_faults_of_a_file_come_in_one_go_each_with_field_bounds_unit_and_what_came() -> None:
    found = errors_of(
        {
            "appliance": {"class": "refrigeratr", "age": 99, "colour": "white"},
            "household": {"place": "US-ZZ", "rate": "three"},
            "repair": {"quote": -5, "remaining_life_factr": 1},
            "replace": [{"price": True}],
            "colour": 3,
        }
    )
    assert "did you mean refrigerator" in found["appliance.class"]
    assert found["appliance.age"] == "must be from 0 to 60 year, got 99"
    assert "is not known" in found["appliance.colour"]
    assert "is not known" in found["household.place"]
    assert found["household.rate"] == "must be a number, from 0 to 0.5 1/year, got 'three'"
    assert found["repair.quote"] == "must be from 0 to 100000 money, got -5"
    assert found["repair.remaining_life_factr"] == "is not known; did you mean remaining_life_factor?"
    assert "must be a number" in found["replace.price"]
    assert "is not known" in found["colour"]


@pytest.mark.parametrize(
    ("entries", "field"),
    [
        ({}, "appliance.class"),
        ({"appliance": {"class": "dishwasher"}}, "appliance.age"),
        ({"appliance": 3}, "appliance"),
        ({**LEAST, "replace": {"price": 3}}, "replace"),
        ({**LEAST, "replace": []}, "replace"),
        ({**LEAST, "repair": {"quote": {"amount": 100, "parts": 50}}}, "repair.quote.amount"),
        ({**LEAST, "repair": {"quote": {}}}, "repair.quote"),
        ({**LEAST, "repair": {"quote": {"labour_rate": 90, "tax_rate": 0.1}}}, "repair.quote"),
        ({**LEAST, "repair": {"quote": {"fee_if_declined": 60}}}, "repair.quote"),
        ({**LEAST, "appliance": {**LEAST["appliance"], "fault": "gremlins"}}, "appliance.fault"),
        ({**LEAST, "household": {"place": "DE", "region": "US"}}, "household.region"),
        ({**LEAST, "appliance": {"class": "washer_dryer", "age": 3}}, "appliance.class"),
        ({**LEAST, "appliance": {**LEAST["appliance"], "age": float("nan")}}, "appliance.age"),
        ({**LEAST, "appliance": {**LEAST["appliance"], "power": 100}}, "appliance.hours_per_day"),
    ],
)
def test_what_cannot_be_used_is_refused_by_name(entries: dict, field: str) -> None:
    assert field in errors_of(entries)


@pytest.mark.parametrize("part", ["amount", "parts", "labour_hours", "trip"])
def test_a_repair_for_nothing_is_a_quote_where_it_is_said(part: str) -> None:
    assert complete({**LEAST, "repair": {"quote": {part: 0}}}).case.options[0].quote.total == 0


def test_a_quote_in_parts_is_added_up_and_takes_the_usual_labour_rate() -> None:
    filled = complete({**LEAST, "repair": {"quote": {"parts": 80, "labour_hours": 1.5}}})
    rate = tables().figure("labour_rate", "clothes_washer", "US").value
    assert filled.case.options[0].quote.total == pytest.approx(80 + 1.5 * rate)
    assert "repair.quote.labour_rate" in {default.field for default in filled.defaults}


def test_another_class_may_be_bought_in_its_place() -> None:
    entries = {
        "appliance": {"class": "clothes_dryer_electric", "age": 9},
        "household": {"place": "DE"},
        "repair": {"quote": 200},
        "replace": [{"name": "heat pump", "appliance": {"class": "clothes_dryer_heat_pump"}}],
    }
    case = complete(entries).case
    assert case.options[1].appliance.kind == "clothes_dryer_heat_pump"
    assert case.household.currency == "EUR"


def test_the_hard_stops_of_cautions_reach_the_case() -> None:
    leaking = {"appliance": {"class": "water_heater_gas", "age": 9, "fault": "tank_leak"}, "repair": {"quote": 200}}
    filled = complete(leaking)
    assert ("repair", "water_heater_tank_leak") in {(stop.action, stop.caution) for stop in filled.case.prohibitions}
    assert [caution.weight for caution in filled.cautions][:2] == ["first", "stop"]


def test_the_demo_says_that_it_is_invented_and_can_be_weighed() -> None:
    assert "invented" in DEMO.read_text("utf-8")
    assert complete(read_case(DEMO)).case.title


def test_every_class_can_be_weighed_with_class_age_and_quote_alone() -> None:
    for region in ("US", "EU"):
        for kind in tables().classes(region):
            entries = {"appliance": {"class": kind.kind, "age": 6}, "household": {"place": region}, "repair": {}}
            assert complete(entries).case.household.region == region


numbers = st.floats(0.1, 50, allow_nan=False) | st.integers(1, 50)
words = st.text(st.characters(blacklist_categories=("Cs", "Cc")), max_size=30)


@given(
    title=words,
    age=numbers,
    quote=numbers | st.fixed_dictionaries({"parts": numbers}, optional={"trip": numbers}),
    offers=st.lists(st.fixed_dictionaries({"name": words}, optional={"price": numbers}), min_size=1, max_size=3),
)
def test_a_round_trip_changes_nothing(title: str, age: float, quote: object, offers: list) -> None:
    entries = {
        "title": title,
        "appliance": {"class": "dishwasher", "age": age},
        "household": {"place": "FR"},
        "repair": {"quote": quote},
        "replace": offers,
    }
    assert parse_case(write_case(entries).encode()) == entries


def test_a_case_saved_and_opened_is_the_same_case(tmp_path: Path) -> None:
    entries = read_case(DEMO)
    save_case(tmp_path / "kept.toml", entries)
    assert read_case(tmp_path / "kept.toml") == entries
    assert complete(read_case(tmp_path / "kept.toml")) == complete(entries)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"appliance = ", "is no TOML file"),
        (b"\xff\xfe\x00", "is not UTF-8 text"),
        (b"a = " + b"[" * 5000, "is no TOML file"),
    ],
    ids=["cut short", "another encoding", "too deep"],
)
def test_a_file_that_is_no_case_is_refused_with_the_reason(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "case.toml"
    path.write_bytes(content)
    with pytest.raises(ReadError, match=says):
        read_case(path)


def test_a_missing_a_large_and_an_unwritable_file_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="No such file"):
        read_case(tmp_path / "none.toml")
    (tmp_path / "large.toml").write_bytes(b"#" * 1_000_001)
    with pytest.raises(ReadError, match="larger than"):
        read_case(tmp_path / "large.toml")
    with pytest.raises(ReadError, match="No such file"):
        save_case(tmp_path / "no" / "folder.toml", {})


def test_one_entry_is_set_by_its_path() -> None:
    entries = read_case(DEMO)
    assert set_entry(entries, "replace.2.price", 1)["replace"][1]["price"] == 1
    assert set_entry(entries, "replace.price", 2)["replace"][0]["price"] == 2
    assert set_entry(entries, "repair.quote", 300)["repair"]["quote"] == 300
    assert set_entry(dict(LEAST), "repair.quote.trip", 20)["repair"]["quote"] == {"amount": 190, "trip": 20}
    assert set_entry(dict(LEAST), "repair.quote.amount", 20)["repair"]["quote"] == {"amount": 20}
    assert set_entry({}, "replace.appliance.age", 3)["replace"] == [{"appliance": {"age": 3}}]
    assert entries == read_case(DEMO)
    with pytest.raises(CaseError, match="names no replacement"):
        set_entry(entries, "replace.5.price", 1)


def test_what_was_taken_by_age_follows_the_age_when_it_is_varied() -> None:
    young = complete({"appliance": {"class": "refrigerator", "age": 2}, "repair": {"quote": 300}}).case
    old = complete({"appliance": {"class": "refrigerator", "age": 15}, "repair": {"quote": 300}}).case
    for varied, asked in ((vary(young, "appliance.age", 15.0), old), (vary(old, "appliance.age", 2.0), young)):
        # upkeep is kept as a level and what moves with age over it: their product is the same
        assert replace(varied, appliance=asked.appliance) == asked
        assert varied.appliance.electricity == asked.appliance.electricity
        near = 0.002 * float(asked.options[1].asked_price)
        assert weigh(varied).repair_limit == pytest.approx(weigh(asked).repair_limit, abs=near)
    entered = complete({"appliance": {"class": "refrigerator", "age": 2, "electricity": 500}}).case
    assert vary(entered, "appliance.age", 15.0).appliance.electricity == 500


def test_a_used_unit_uses_what_its_age_does_and_its_price_has_to_be_given() -> None:
    used = {"name": "used", "price": 200, "appliance": {"age": 8}}
    case = complete({**LEAST, "replace": [{}, used]}).case
    assert case.options[2].appliance.electricity == case.appliance.electricity
    assert case.options[2].appliance.water == case.appliance.water
    assert case.options[2].warranty == 0
    assert (
        "is needed"
        in errors_of({**LEAST, "replace": [{}, {"name": "used", "appliance": {"age": 8}}]})["replace.2.price"]
    )


def test_a_twin_of_the_appliance_offered_used_is_worth_its_price() -> None:
    twin = {
        "name": "twin", "price": 300, "tax_rate": 0, "delivery": 0, "installation": 0, "haul_away": 0,
        "days_without": 0, "appliance": {"age": 8, "maintenance_and_repair": 0},
    }  # fmt: skip
    for kind, place in (("clothes_washer", "US"), ("clothes_washer", "DE"), ("refrigerator", "DE")):
        entries = {
            "appliance": {"class": kind, "age": 8, "hazard_ratio": 1, "maintenance_and_repair": 0},
            "household": {"place": place},
            "repair": {"quote": 100, "repair_success_probability": 1, "days_without": 0, "food_loss": 0},
            "replace": [{"price": 5000}, {**twin, "food_loss": 0}],
        }
        assert weigh(complete(entries).case).repair_limit == pytest.approx(300.0, abs=1e-6)


def test_living_with_the_fault_has_to_say_what_that_costs() -> None:
    assert "is needed" in errors_of({**LEAST, "leave": {}})["leave.annual_loss_of_use"]


def test_the_order_of_the_offers_changes_nothing() -> None:
    offers = [{"name": "plain", "price": 800}, {"name": "fancy", "price": 2500}]
    one, other = (weigh(complete({**LEAST, "replace": listed}).case) for listed in (offers, offers[::-1]))
    assert one.repair_limit == pytest.approx(other.repair_limit)


@pytest.mark.published("LBNL, marginal energy prices (RECS 1997 bills), second-hand", "marg-lbnl-factors")
def test_the_usual_price_of_energy_leaves_out_what_does_not_move_with_use() -> None:
    # LBNL, marginal energy prices report (RECS 1997 bills, second-hand): electricity 2.5 to 10 % below the average
    case = complete(LEAST).case
    average = tables().energy_price("US", "electricity").value
    assert 0.90 * average <= case.household.electricity_price <= 0.975 * average


def test_a_case_file_may_say_by_which_names_it_was_written() -> None:
    entries = parse_case(b"schema = 2\n[appliance]\nclass = 'clothes_washer'\nage = 8\n[repair]\nquote = 190\n")
    assert entries == {"schema": 2, **LEAST}
    assert parse_case(write_case(entries).encode()) == entries
    assert complete(entries).case == complete(LEAST).case == complete({"schema": 1, **LEAST}).case


@pytest.mark.parametrize("schema", [3, 0, -1, 2.5, "2", True, [2], float("nan"), 10**30])
def test_a_schema_that_is_not_known_is_all_that_is_told(schema: object) -> None:
    found = errors_of({**LEAST, "schema": schema, "of_a_later_day": {}})
    assert list(found) == ["schema"]
    assert found["schema"].startswith("must be 1 to 2; a newer Mendpoint reads newer case files, got ")
