"""A household's tariff: options cost exactly what they add to the bills, whatever the tariff does with size or time."""

import math
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import ROOT
from entry_errors import errors_of
from hypothesis import given, settings
from hypothesis import strategies as st
from referees_tariff import flat

from decide.answers.answer import answer
from decide.economics.flows import flows_of, money
from decide.economics.household import FLAT
from decide.energy.load_profile import CALENDAR_MONTHS, Schedule, Totals, Use, evenly
from decide.energy.tariff import Block, Fixed, FractionLine, Minimum, Tariff, Usage, in_order_of_time, total
from decide.errors import EntryErrors
from decide.load.cases.case_file import complete
from decide.load.cases.household_tariff import metered_base, priced
from decide.load.meters.tariff_file import parse_tariff
from decide.show.terminal.layout import show_answer
from decide.show.text.phrases import languages
from decide.show.text.words import Words

BLOCKS = (Block(0.10, 300), Block(0.20))
INLINE = {
    "source": "an invented supplier",
    "line": [
        {"name": "energy", "blocks": [{"price": 0.10, "upto": 300}, {"price": 0.20}]},
        {"name": "standing", "amount": 9.5},
        {"name": "tax", "share": 0.1},
    ],
}
EVENING = Schedule(*[tuple(tuple(1 if 16 <= hour < 21 else 0 for hour in range(24)) for _ in range(12))] * 2)

TARIFFS = {
    "flat": flat(0.3, "kWh"),
    "blocks": Tariff(unit="kWh", lines=(Usage(name="energy", bands=(BLOCKS,)), Fixed(name="fee", amount=12))),
    "declining": Tariff(unit="kWh", lines=(Usage(name="energy", bands=((Block(0.3, 250), Block(0.2)),)),)),
    "bands with blocks": Tariff(
        unit="kWh",
        lines=(Usage(name="energy", bands=(BLOCKS, (Block(0.25, 300), Block(0.4))), schedule=EVENING),),
    ),
    "blocks by the hour": Tariff(
        unit="kWh",
        lines=(
            Usage(
                name="energy",
                bands=(BLOCKS, (Block(0.25, 300), Block(0.4))),
                schedule=EVENING,
                allocation=in_order_of_time,
            ),
        ),
    ),
    "minimum": Tariff(
        unit="kWh",
        lines=(
            Usage(name="energy", bands=(BLOCKS,)),
            Minimum(name="least", amount=32.0),
            FractionLine(name="tax", share=0.2),
        ),
    ),
}


def entries(tariff: dict[str, Any], appliance: float = 610, bought: float = 400, **more: Any) -> dict[str, Any]:
    return {
        "appliance": {"class": "refrigerator", "age": 8, "electricity": appliance},
        "household": {"electricity_tariff": tariff, **more},
        "repair": {"quote": 200, "energy_change": -0.1},
        "replace": [
            {"price": 900, "appliance": {"electricity": bought}},
            {"price": 500, "appliance": {"electricity": 800}},
        ],
        "leave": {"energy_change": 0.4, "annual_loss_of_use": 0},
    }


def year(tariff: Tariff, use: Use) -> float:
    return float(total(tariff, use).sum())


@pytest.mark.slow
@pytest.mark.parametrize("name", TARIFFS)
@given(
    base=st.lists(st.floats(0, 600), min_size=12, max_size=12),
    flows=st.lists(st.floats(0, 3000), min_size=1, max_size=4),
)
@settings(max_examples=40)
def test_every_flow_costs_what_it_adds_to_the_bills(name: str, base: list[float], flows: list[float]) -> None:
    tariff, rest = TARIFFS[name], Totals(np.array(base))
    price, steps = priced(tariff, rest, flows)
    for flow in flows:
        added = year(tariff, rest + evenly(flow)) - year(tariff, rest)
        assert price * float(steps.priced(flow)) == pytest.approx(added, abs=1e-6)


def test_options_of_a_case_differ_by_exactly_what_their_bills_do() -> None:
    case = complete(entries({**INLINE, "base_use": 3300})).case
    tariff = parse_tariff(
        b'commodity="electricity"\nsource="x"\n[[line]]\nname="energy"\nblocks=[{price=0.1,upto=300},{price=0.2}]\n'
        b'[[line]]\nname="standing"\namount=9.5\n[[line]]\nname="tax"\nshare=0.1\n'
    )
    prices = money(case.household)
    drawn = [float(flows_of(case, option).yearly["electricity"]) for option in case.options]
    costs = [float(prices.cost("electricity", flow)) for flow in drawn]
    bills = [year(tariff, evenly(3300.0) + evenly(flow)) for flow in drawn]
    assert drawn == pytest.approx([549, 400, 800, 854])
    for i, j in ((0, 1), (0, 2), (1, 3)):
        assert costs[i] - costs[j] == pytest.approx(bills[i] - bills[j], abs=1e-9)
    # a mean price would miss that: what the dearest block takes is more than the mean
    assert len(case.household.electricity_steps.level) > 1


@pytest.mark.published("by hand: a saving across two blocks", "marg-crossing-tier")
def test_a_saving_that_crosses_a_block_is_worth_the_worked_seven() -> None:
    # Worked example: blocks of 300 at 0.10 and then 0.20; of 320 kWh in a month, 50 are saved: 20 x 0.20 + 30 x 0.10
    # = 7.00, 0.14 each. Here in each of twelve months of 30.42 days, block and use counted by the day.
    daily = Tariff(
        unit="kWh",
        lines=(Usage(name="energy", bands=((Block(0.10, 300 * 12 / 365), Block(0.20)),), per=lambda days: days),),
    )
    price, _ = priced(daily, evenly(270.0 * 12), [50.0 * 12])
    assert price == pytest.approx(0.14)


def test_a_flat_price_has_no_steps_and_fixed_charges_never_enter() -> None:
    assert priced(TARIFFS["flat"], evenly(2000.0), [500.0, 900.0]) == (pytest.approx(0.3), FLAT)
    with_fee = Tariff(unit="kWh", lines=(*TARIFFS["flat"].lines, Fixed(name="fee", amount=99)))
    assert priced(with_fee, evenly(2000.0), [500.0])[0] == pytest.approx(0.3)


@pytest.mark.parametrize("more", [{}, {"includes_appliance": True}, {"base_use": 3300}])
def test_one_price_asks_nothing_of_what_else_is_drawn(more: dict) -> None:
    house = complete(entries({"price": 0.2, **more})).case.household
    assert (house.electricity_price, house.electricity_steps) == (pytest.approx(0.2), FLAT)
    found = errors_of(entries(INLINE))  # blocks do ask
    assert "is needed, or interval_data" in found["household.electricity_tariff.base_use"]


def test_a_minimum_bill_can_swallow_a_small_appliance() -> None:
    least = Tariff(unit="kWh", lines=(*TARIFFS["flat"].lines, Minimum(name="least", amount=60.0)))
    price, steps = priced(least, evenly(600.0), [12.0, 3600.0])
    assert price * float(steps.priced(12.0)) == pytest.approx(0.0, abs=1e-9)
    assert price * float(steps.priced(3600.0)) == pytest.approx(0.3 * 4200 - 12 * 60)
    assert priced(least, evenly(600.0), [12.0])[0] == 0


def test_an_appliance_counted_in_is_taken_off_first() -> None:
    without = complete(entries({**INLINE, "base_use": 3300})).case.household
    counted = complete(entries({**INLINE, "base_use": 3910, "includes_appliance": True})).case.household
    assert counted.electricity_price == pytest.approx(without.electricity_price, rel=1e-9)
    assert counted.electricity_steps.level == pytest.approx(without.electricity_steps.level, rel=1e-6)
    found = errors_of(entries({**INLINE, "base_use": 300, "includes_appliance": True}))
    assert "must hold the appliance's own use in every month" in found["household.electricity_tariff.base_use"]


def test_twelve_months_may_be_given_and_make_a_difference() -> None:
    months = [120, 120, 150, 250, 300, 400, 500, 500, 400, 250, 160, 150]
    level = complete(entries({**INLINE, "base_use": sum(months)})).case.household.electricity_price
    uneven = complete(entries({**INLINE, "base_use": months})).case.household.electricity_price
    assert abs(uneven - level) > 0.005


def test_the_price_says_where_it_comes_from_and_is_no_default() -> None:
    filled = complete(entries({**INLINE, "base_use": 3300}))
    (derived,) = filled.derived
    assert (derived.field, derived.way, derived.unit) == ("household.electricity_price", "tariff", "USD/kWh")
    assert derived.source == "an invented supplier"
    assert derived.value == filled.case.household.electricity_price
    assert "household.electricity_price" not in {default.field for default in filled.defaults}


def test_gas_and_water_have_tariffs_of_their_own() -> None:
    heater = {
        "appliance": {"class": "water_heater_gas", "age": 5, "gas": 6000},
        "household": {"gas_tariff": {"source": "a bill", "price": 0.05, "base_use": 9000}},
        "repair": {"quote": 100},
    }
    assert complete(heater).case.household.gas_price == pytest.approx(0.05)
    washer = {
        "appliance": {"class": "clothes_washer", "age": 5},
        "household": {
            "place": "DE",
            "water_tariff": {"source": "a bill", "currency": "EUR", "unit": "litre", "price": 0.004, "base_use": 90},
        },
        "repair": {"quote": 100},
    }
    assert complete(washer).case.household.water_price == pytest.approx(4.0)
    # a class that draws nothing of it leaves the price at what a first unit costs
    dry = {"appliance": {"class": "refrigerator", "age": 5}, **{key: heater[key] for key in ("household", "repair")}}
    assert complete(dry).case.household.gas_price == pytest.approx(0.05)


def test_a_tariff_file_stands_beside_the_case(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('commodity = "electricity"\nsource = "my bill"\nprice = 0.22\n', "utf-8")
    filled = complete(entries({"file": "mine.toml", "base_use": 3000}), folder=tmp_path)
    assert filled.case.household.electricity_price == pytest.approx(0.22)
    found = errors_of(entries({"file": "../mine.toml", "base_use": 3000}), tmp_path)
    assert "must stand in the folder" in found["household.electricity_tariff.file"]
    found = errors_of(entries({"file": "none.toml", "base_use": 3000}), tmp_path)
    assert "No such file" in found["household.electricity_tariff"]


@pytest.mark.parametrize(
    ("tariff", "field", "says"),
    [
        ({**INLINE}, "base_use", "is needed"),
        ({**INLINE, "base_use": [1, 2, 3]}, "base_use", "one number or twelve, got 3"),
        ({**INLINE, "base_use": -1}, "base_use", "from 0 to 1e"),
        ({**INLINE, "base_use": 3000, "currency": "EUR"}, "currency", "must be USD here, got EUR"),
        ({**INLINE, "base_use": 3000, "commodity": "gas"}, "commodity", "must be electricity"),
        ({**INLINE, "base_use": 3000, "file": "a.toml"}, "source", "gives the tariff twice, with file"),
        ({"price": 0.2, "base_use": 3000, "source": 7}, "", "source must be given"),
        ({**INLINE, "base_use": 3000, "colour": 1}, "", "colour is not known"),
        ({**INLINE, "base_use": 3000, "includes_appliance": "yes"}, "includes_appliance", "true or false"),
    ],
)
def test_what_cannot_be_used_is_refused_by_name(tariff: dict[str, Any], field: str, says: str) -> None:
    found = errors_of(entries(tariff))
    assert says in found[f"household.electricity_tariff.{field}".rstrip(".")]


ANYTHING = st.sampled_from(
    [None, True, "x", "", -1, 0, 0.2, 3000, 1e308, math.nan, math.inf, [], [250] * 12, {}, [{}], "electricity", "USD",
     [{"name": "a", "price": 0.2}], [{"name": "a", "amount": math.nan}], "month", "no.toml"]
)  # fmt: skip
KEYS = ("file", "base_use", "interval_data", "includes_appliance", "source", "currency", "price", "line", "rounding")


@given(
    tariff=st.dictionaries(st.sampled_from([*KEYS, "unit", "commodity", "colour"]), ANYTHING) | ANYTHING,
    sound=st.booleans(),
    rate=ANYTHING,
)
@settings(max_examples=3 * settings.default.max_examples)
def test_whatever_is_entered_is_used_or_refused_and_never_falls_over(tariff: object, sound: bool, rate: object) -> None:
    if sound and isinstance(tariff, dict):
        tariff = {**INLINE, "base_use": 3000, **tariff}
    home = {"electricity_tariff": tariff, "rate": rate, "study_period": rate}
    found = None
    with suppress(EntryErrors):  # and nothing else
        found = complete({**entries({}), "household": home}, folder=Path(__file__).parent)
    assert found is None or math.isfinite(float(found.case.household.electricity_price))


def test_a_price_and_a_tariff_are_two_answers_to_one_question() -> None:
    found = errors_of(entries({**INLINE, "base_use": 3000}, electricity_price=0.2))
    assert found["household.electricity_tariff"] == "gives the same twice, with electricity_price"
    found = errors_of({**entries({}), "household": {"electricity_tariff": 3}})
    assert found == {"household.electricity_tariff": "must be a table, got 3"}


# What the supplier's meter read


def feed(hours: int, used: list[int], commodity: int = 1, unit: int = 72, begin: int = 1_672_531_200) -> bytes:
    """A Green Button file of our own: hourly use from the beginning of 2023, UTC, in watt-hours if not said."""
    readings = "".join(
        f"<espi:IntervalReading><espi:timePeriod><espi:duration>3600</espi:duration>"
        f"<espi:start>{begin + 3600 * n}</espi:start></espi:timePeriod>"
        f"<espi:value>{used[n % len(used)]}</espi:value></espi:IntervalReading>"
        for n in range(hours)
    )
    entry = '<entry><link rel="self" href="{0}"/><link rel="up" href="{1}"/><content>{2}</content></entry>'
    parts = [
        entry.format("u/1", "u", "<espi:UsagePoint><espi:ServiceCategory><espi:kind>0</espi:kind>"
                     "</espi:ServiceCategory></espi:UsagePoint>").replace(
            "</link>", "").replace('href="u"/>', 'href="u"/><link rel="related" href="u/1/m"/>'),
        entry.format("u/1/m/1", "u/1/m", "<espi:MeterReading/>").replace(
            "<content>", '<link rel="related" href="u/1/m/1/b"/><link rel="related" href="t/1"/><content>'),
        entry.format("t/1", "t", "<espi:ReadingType><espi:accumulationBehaviour>4</espi:accumulationBehaviour>"
                     f"<espi:commodity>{commodity}</espi:commodity><espi:flowDirection>1</espi:flowDirection>"
                     f"<espi:powerOfTenMultiplier>0</espi:powerOfTenMultiplier><espi:uom>{unit}</espi:uom>"
                     "</espi:ReadingType>"),
        entry.format("u/1/m/1/b/1", "u/1/m/1/b", f"<espi:IntervalBlock>{readings}</espi:IntervalBlock>"),
    ]  # fmt: skip
    head = '<feed xmlns="http://www.w3.org/2005/Atom" xmlns:espi="http://naesb.org/espi">'
    return f"{head}{''.join(parts)}</feed>".encode()


@pytest.mark.slow
def test_base_use_comes_from_interval_data_with_the_shape_of_its_days(tmp_path: Path) -> None:
    day = [200] * 16 + [900] * 5 + [200] * 3
    (tmp_path / "usage.xml").write_bytes(feed(8760, day))
    base = metered_base(tmp_path / "usage.xml", "electricity")[0]
    assert isinstance(base, Totals)
    assert base.values.sum() == pytest.approx(365 * sum(day) / 1000)
    assert base.shape is not None
    filled = complete(entries({**INLINE, "interval_data": "usage.xml"}), folder=tmp_path)
    level = complete(entries({**INLINE, "base_use": base.values.tolist()})).case.household
    assert filled.case.household.electricity_price == pytest.approx(level.electricity_price, rel=1e-9)


def test_half_a_year_of_interval_data_is_no_year(tmp_path: Path) -> None:
    (tmp_path / "half.xml").write_bytes(feed(24 * 200, [300]))
    found = errors_of(entries({**INLINE, "interval_data": "half.xml"}), tmp_path)
    assert "nothing was metered in month 8, 9" in found["household.electricity_tariff.base_use"]


def test_what_interval_data_leave_open_can_be_answered(tmp_path: Path) -> None:
    """A file of 200 days, and one of gas that does not say its unit, were refused; both can be answered now."""
    (tmp_path / "half.xml").write_bytes(feed(24 * 200, [300, 100]))
    metered, _ = metered_base(tmp_path / "half.xml", "electricity", year=2_000.0)
    assert metered.values.sum() == pytest.approx(2_000.0)
    assert metered.values[0] == pytest.approx(31 * 24 * 0.2, rel=0.01)  # as it was metered
    assert metered.values[10] / metered.values[11] == pytest.approx(30 / 31, rel=1e-6)  # by days
    assert metered.shape is not None
    filled = complete(entries({**INLINE, "interval_data": "half.xml", "base_use": 2_000}), folder=tmp_path)
    assert filled.case.household.electricity_price > 0
    found = errors_of(entries({**INLINE, "interval_data": "half.xml", "base_use": 500}), tmp_path)
    assert "which was metered already" in found["household.electricity_tariff.base_use"]

    (tmp_path / "gas.xml").write_bytes((ROOT / "tests" / "data" / "gas_with_defects.xml").read_bytes())
    gas = {"appliance": {"class": "furnace_gas", "age": 12}, "household": {"place": "US-OH"}}
    tariff = {"price": 0.05, "commodity": "gas", "interval_data": "gas.xml", "base_use": 20_000}
    asked = {**gas, "household": {**gas["household"], "gas_tariff": tariff}}
    assert "one of Wh, therm" in errors_of(asked, tmp_path)["household.gas_tariff.interval_unit"]
    answered = {**gas, "household": {**gas["household"], "gas_tariff": {**tariff, "interval_unit": "therm"}}}
    assert "interval_unit" not in " ".join(
        errors_of(answered, tmp_path)
    )  # the readings of this file lie over one another


def test_interval_data_of_another_fuel_is_refused(tmp_path: Path) -> None:
    (tmp_path / "usage.xml").write_bytes(feed(8760, [300]))
    heater = {
        "appliance": {"class": "water_heater_gas", "age": 5},
        "household": {"gas_tariff": {"source": "a bill", "price": 0.05, "interval_data": "usage.xml"}},
        "repair": {},
    }
    assert "one meter of gas, and holds 0" in errors_of(heater, tmp_path)["household.gas_tariff.interval_data"]


def gas_tariff(folder: Path, **entered: Any) -> dict[str, Any]:
    """A gas heater on a tariff in a file, in a home whose meter counts a tenth of a cubic metre an hour."""
    (folder / "gas.toml").write_text(
        'commodity = "gas"\nsource = "an invented supplier"\n[[line]]\nname = "gas"\n'
        "blocks = [{ price = 0.10, upto = 900 }, { price = 0.05 }]\n"
    )
    (folder / "usage.xml").write_bytes(feed(8760, [1, 0, 0, 0, 0, 0, 0, 0, 0, 0], commodity=7, unit=42))
    return {
        "appliance": {"class": "water_heater_gas", "age": 5, "gas": 3000},
        "household": {"gas_tariff": {"file": "gas.toml", **entered}},
        "repair": {"quote": 100},
    }


def test_a_gas_meter_in_cubic_metres_serves_a_tariff_from_a_file(tmp_path: Path) -> None:
    metered = {"interval_data": "usage.xml", "calorific_value": 38.0}
    found = complete(gas_tariff(tmp_path, **metered), folder=tmp_path).case.household
    year = float(metered_base(tmp_path / "usage.xml", "gas", 38.0)[0].drawn(CALENDAR_MONTHS))
    assert year == pytest.approx(876 * 38.0 * 1.02264 / 3.6, rel=1e-9)  # of 8760 hours, one in ten counts 1 m3
    level = complete(gas_tariff(tmp_path, base_use=year), folder=tmp_path).case.household
    assert found.gas_price == pytest.approx(level.gas_price, rel=1e-9)
    assert 0.05 < found.gas_price < 0.10  # so the heat of a cubic metre counts


@pytest.mark.parametrize(
    ("entered", "field", "says"),
    [
        ({"interval_data": "usage.xml"}, ".calorific_value", "is needed, in MJ/m3"),
        ({"interval_data": "usage.xml", "calorific_value": 0}, ".calorific_value", "from 1 to 200 MJ/m3, got 0"),
        ({"interval_data": "usage.xml", "calorific_value": math.nan}, ".calorific_value", "from 1 to 200 MJ/m3"),
        ({"base_use": 9000, "calorific_value": 38.0}, ".calorific_value", "gives the tariff twice, with file"),
    ],
)
def test_the_heat_of_gas_is_asked_where_a_meter_counts_cubic_metres(
    tmp_path: Path, entered: dict[str, Any], field: str, says: str
) -> None:
    assert says in errors_of(gas_tariff(tmp_path, **entered), tmp_path)[f"household.gas_tariff{field}"]


@pytest.mark.parametrize("language", languages())
def test_what_was_mended_in_interval_data_is_said_with_the_price(
    tmp_path: Path, language: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "usage.xml").write_bytes(feed(8760, [300]))
    found = answer(entries({**INLINE, "interval_data": "usage.xml"}), folder=tmp_path)
    (remark,) = found.derived[0].remarks
    assert remark == "The file does not say what the local time is; hours and months are those of UTC."
    words = Words.of(language)
    (line,) = (line for line in words.assumptions(found) if line.path == "household.electricity_price")
    assert line.source.endswith(words.translated(remark))
    show_answer(words, found, everything=True)
    assert words.translated(remark) in " ".join(capsys.readouterr().out.split())
