"""A bill typed on the page, a meter's own table beside it, and the people of a home, each against the model."""

import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from decide.answers.answer import answer
from decide.errors import CaseError, EntryErrors, OneOf
from decide.load.cases.case_file import Entries, complete, parse_case, write_case
from decide.load.meters.interval_data import monthly_use, read_intervals
from decide.load.tables.tables import tables
from decide.show.screens.state.entry import fields_of, question_of
from decide.show.screens.state.fields import TYPED, field_at
from decide.show.text.words import Words

US = Words.for_place("US")
FRIDGE: Entries = {
    "appliance": {"class": "refrigerator", "age": 12.0, "fault": "compressor"},
    "household": {"place": "US"},
    "repair": {"quote": 401.0},
}
STEPS = {
    "electricity_priced": "steps",
    "step1_upto": "300",
    "step1_price": "0.10",
    "step2_price": "0.30",
    "electricity_base_use": "6000",
}
NIGHT = {
    "electricity_priced": "day_night",
    "day_price": "0.40",
    "night_price": "0.10",
    "night_from": "22",
    "night_to": "6",
}


def typed(**fields: Any) -> Any:
    return question_of({**fields_of(FRIDGE), "files": {}, **fields}, {}, US)


def price_of(entries: Entries, folder: Path | None = None) -> float:
    return float(complete(entries, folder=folder).case.household.electricity_price)


def test_steps_that_are_typed_are_the_tariff_that_a_file_would_hold() -> None:
    question = typed(**STEPS)
    assert not question.errors
    assert not question.missing
    blocks = [{"price": 0.10, "upto": 300.0}, {"price": 0.30}]
    line = {"name": "energy", "blocks": blocks, "per": "month"}
    held = {"line": [line], "base_use": 6000.0, "includes_appliance": True}
    by_file = {**FRIDGE, "household": {"place": "US", "electricity_tariff": held}}
    assert answer(question.entries).weighing.repair_limit == answer(by_file).weighing.repair_limit
    assert price_of(question.entries) == pytest.approx(0.30)  # 500 kWh a month without it: all of it is in step 2


def test_three_steps_need_their_ends_and_rising_ones() -> None:
    question = typed(**STEPS, step3_price="0.5")
    assert question.missing["household.electricity_tariff"] == ("step2_upto",)
    whole = typed(**STEPS, step2_upto="400", step3_price="0.5")
    assert price_of(whole.entries) == pytest.approx(0.5)
    (error,) = typed(**STEPS, step2_upto="200", step3_price="0.5").errors
    assert field_at(error) == "step2_upto"
    assert "300" in str(error)


def test_day_and_night_cost_their_share_of_the_hours() -> None:
    question = typed(**NIGHT)
    assert not question.errors
    assert not question.missing
    assert price_of(question.entries) == pytest.approx((16 * 0.40 + 8 * 0.10) / 24)
    by_day = typed(**{**NIGHT, "night_from": "1", "night_to": "3"})
    assert price_of(by_day.entries) == pytest.approx((22 * 0.40 + 2 * 0.10) / 24)


@pytest.mark.parametrize(
    ("fields", "key"),
    [
        ({**NIGHT, "night_to": "22"}, "night_to"),
        ({**NIGHT, "night_from": "25"}, "night_from"),
        ({**NIGHT, "day_price": "four"}, "day_price"),
        ({**STEPS, "step1_upto": "-5"}, "step1_upto"),
        ({**STEPS, "electricity_base_use": "all"}, "electricity_base_use"),
    ],
)
def test_what_cannot_be_used_names_its_field_and_stays(fields: dict[str, str], key: str) -> None:
    question = typed(**fields)
    assert [field_at(error) for error in question.errors] == [key]
    assert TYPED[key] in str(question.errors[0])


def test_a_half_typed_bill_counts_for_nothing_and_says_what_it_needs() -> None:
    question = typed(**{**NIGHT, "night_price": ""})
    assert question.missing["household.electricity_tariff"] == ("night_price",)
    assert "line" not in question.entries["household"].get("electricity_tariff", {})
    assert price_of(question.entries) == price_of(FRIDGE)


def test_a_bill_typed_for_another_way_is_kept_and_does_not_count() -> None:
    question = typed(**STEPS | {"electricity_priced": "place"})
    assert "electricity_tariff" not in question.entries["household"]


THREE_STEPS = STEPS | {"step2_upto": "700.5", "step3_price": "0.355"}


@pytest.mark.parametrize("bill", [STEPS, THREE_STEPS, NIGHT])
def test_a_bill_of_a_saved_case_comes_back_as_it_was_typed_and_answers_the_same(bill: dict[str, str]) -> None:
    saved = typed(**bill).entries
    opened = parse_case(write_case(saved).encode())
    found = fields_of(opened)
    assert found["electricity_priced"] == bill["electricity_priced"]
    assert [float(found[key]) for key in bill if key in TYPED] == [float(bill[key]) for key in bill if key in TYPED]
    again = question_of({**found, "files": {}, "kept": opened}, opened, US)
    assert not again.errors
    assert not again.missing
    assert again.entries["household"] == saved["household"]
    assert answer(again.entries).weighing.repair_limit == answer(saved).weighing.repair_limit
    other = {key: "0.9" for key in bill if key.endswith("_price")}
    dearer = question_of({**found, "files": {}, "kept": opened, **other}, opened, US)
    assert price_of(dearer.entries) > price_of(saved)


@pytest.mark.parametrize(
    "change",
    [{"supplier": "ours"}, {"line": [{"name": "energy", "price": 0.2}]}, {"line": [{"name": "energy", "blocks": []}]}],
)
def test_a_tariff_that_no_field_could_make_stays_the_one_of_the_case(change: dict[str, Any]) -> None:
    tariff = {**typed(**STEPS).entries["household"]["electricity_tariff"], **change}
    entries = {**FRIDGE, "household": {"place": "US", "electricity_tariff": tariff}}
    assert fields_of(entries)["electricity_priced"] == "tariff"


def half_hours(path: Path, days: int, heads: str = "Start,Import kWh,Export kWh") -> np.ndarray[Any, Any]:
    """Write a table as a supplier lets it be downloaded; gives what it holds by half-hour."""
    used = np.random.default_rng(3).gamma(2.0, 0.1, 48 * days).round(3)
    begin = datetime.datetime(2025, 1, 1)
    rows = (f"{begin + n * datetime.timedelta(minutes=30):%Y-%m-%d %H:%M},{kwh},0" for n, kwh in enumerate(used))
    path.write_text("\n".join([heads, *rows]))
    return used


def test_a_table_of_half_hours_gives_the_use_of_its_months(tmp_path: Path) -> None:
    used = half_hours(tmp_path / "meter.csv", 365)
    (meter,) = read_intervals(tmp_path / "meter.csv", column="Import kWh").meters
    assert (meter.commodity, meter.unit) == ("electricity", "kWh")
    assert monthly_use(meter).use[0] == pytest.approx(used[: 48 * 31].sum())
    assert monthly_use(meter).use.sum() == pytest.approx(used.sum())


def test_what_a_table_leaves_open_is_asked_by_what_may_be_answered(tmp_path: Path) -> None:
    half_hours(tmp_path / "meter.csv", 200)
    files = {"electricity_intervals": ("meter.csv", (tmp_path / "meter.csv").read_bytes())}
    fields = {**STEPS, "electricity_base_use": "", "files": files}
    question = typed(**fields)
    assert not question.missing  # a file stands for the use of a year
    with pytest.raises(EntryErrors) as raised:
        complete(question.entries, folder=tmp_path)
    (asked,) = raised.value.errors
    assert isinstance(asked, OneOf)
    assert asked.choices == ("Import kWh", "Export kWh")
    assert field_at(asked) == "interval_column"
    question = typed(**fields, interval_column="Import kWh")
    with pytest.raises(CaseError, match="nothing was metered in month 8") as short:
        complete(question.entries, folder=tmp_path)
    assert field_at(short.value.errors[0]) == "electricity_base_use"  # type: ignore[attr-defined]
    whole = typed(**{**fields, "interval_column": "Import kWh", "electricity_base_use": "4000"})
    assert 0.10 <= price_of(whole.entries, tmp_path) <= 0.30


def test_a_table_without_a_unit_asks_for_it(tmp_path: Path) -> None:
    half_hours(tmp_path / "meter.csv", 365, "Start,Used")
    (tmp_path / "meter.csv").write_text((tmp_path / "meter.csv").read_text().replace(",0\n", "\n").removesuffix(",0"))
    with pytest.raises(OneOf) as raised:
        read_intervals(tmp_path / "meter.csv")
    assert (raised.value.field, raised.value.choices) == ("interval_unit", ("W", "kW", "Wh", "kWh"))
    assert read_intervals(tmp_path / "meter.csv", "kWh").meters


def test_a_file_that_is_no_meter_is_told_at_its_field(tmp_path: Path) -> None:
    (tmp_path / "meter.csv").write_text("nothing\nof the kind\n")
    files = {"electricity_intervals": ("meter.csv", b"")}
    with pytest.raises(EntryErrors) as raised:
        complete(typed(**{**STEPS, "files": files}).entries, folder=tmp_path)
    assert [field_at(error) for error in raised.value.errors] == ["electricity_intervals"]


# the people of a home


def use(**household: float) -> tuple[float, float]:
    washer = {"appliance": {"class": "clothes_washer", "age": 0.0}, "household": {"place": "US", **household}}
    case = complete(washer).case
    return float(case.appliance.electricity), float(case.options[1].appliance.electricity)  # type: ignore[union-attr]


@pytest.mark.published("Parker, Fairey, Lutz 2015, FSEC-PF-464-15, Eq. 1 as coded in an open model", "123 + 61 N")
@pytest.mark.parametrize("people", [1.0, 2.0, 4.0, 6.0])
def test_runs_go_with_people_as_published(people: float) -> None:
    usual, _ = use()
    here, bought = use(people=people)
    assert here == bought  # one household on both sides
    assert here / usual == pytest.approx((123 + 61 * people) / (123 + 61 * 2.51), rel=0.02)


@pytest.mark.published("Parker, Fairey, Lutz 2015, FSEC-PF-464-15, Eq. 3 as coded in an open model", "91 + 30 N")
def test_dishes_go_with_people_as_published() -> None:
    share = tables().needed("people_share", "dishwasher", "US").value
    for people in (1.0, 5.0):
        assert 1 + share * (people / 2.51 - 1) == pytest.approx((91 + 30 * people) / (91 + 30 * 2.51), rel=0.02)


def test_runs_that_are_typed_tell_more_than_people_and_a_refrigerator_asks_for_none() -> None:
    washer = {"appliance": {"class": "clothes_washer", "age": 4.0, "cycles": 100.0}, "household": {"place": "US"}}
    crowd = {**washer, "household": {"place": "US", "people": 6.0}}
    assert complete(crowd).case == complete(washer).case
    cold = {**FRIDGE, "household": {"place": "US", "people": 6.0}}
    assert complete(cold).case.appliance == complete(FRIDGE).case.appliance


def test_a_tank_goes_with_people_and_people_are_held_to_their_bounds() -> None:
    tank: Entries = {"appliance": {"class": "water_heater_electric", "age": 5.0}, "household": {"place": "DE"}}
    two, five = ({**tank, "household": {"place": "DE", "people": n}} for n in (2.0, 5.0))
    assert complete(five).case.appliance.electricity > 1.4 * float(complete(two).case.appliance.electricity)
    with pytest.raises(EntryErrors, match=r"household\.people: must be from 1 to 20"):
        complete({**tank, "household": {"place": "DE", "people": 0.0}})


def test_people_are_typed_on_the_page_where_the_class_depends_on_them() -> None:
    washer = fields_of({**FRIDGE, "appliance": {"class": "clothes_washer", "age": 6.0, "fault": "drain_pump"}})
    asked = question_of({**washer, "people": "4"}, {}, US)
    assert asked.entries["household"]["people"] == 4.0
    assert "people" in asked.drawn
    assert "people" not in question_of({**fields_of(FRIDGE), "people": "4"}, {}, US).entries["household"]
    (error,) = question_of({**washer, "people": "0"}, {}, US).errors
    assert field_at(error) == "people"
