"""Which inputs carry a range: from the tables, by rule, together where one figure filled them, and as entered."""

import itertools

import pytest
from entry_errors import errors_of

from decide.economics.decision import decide
from decide.economics.uncertainty import Range, sobol_points
from decide.load.cases.case_file import complete, parse_case, set_entry, write_case
from decide.load.cases.filled import Filled
from decide.load.cases.ranges import ENTERED, ranges_of
from decide.load.tables.draws import sureness
from decide.load.tables.tables import CURRENCIES, tables

LEAST = {"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 190, "remaining_life_factor": 0.9}}


def of(filled: Filled) -> dict[str, Range]:
    """Each range by the paths that it moves."""
    return {path: each for each in ranges_of(filled) for path in each.paths}


def faults_of(table: object) -> dict[str, str]:
    return errors_of({**LEAST, "ranges": table})


def test_a_default_has_the_range_and_the_source_of_its_figure() -> None:
    figure = tables().figure("household_rate", "*", "US")
    found = of(complete(LEAST))["household.rate"]
    assert (found.lows, found.values, found.highs) == ((figure.low,), (figure.value,), (figure.high,))
    assert figure.source.citation in found.source
    assert figure.locator in found.source
    assert figure.status in found.source


def test_what_one_figure_filled_moves_together() -> None:
    two = {**LEAST, "replace": [{"price": 700}, {"price": 300, "appliance": {"age": 5}}]}
    units = ("appliance", "replace.appliance", "replace.2.appliance")
    found = of(complete(two))
    assert found["appliance.mean_life"].paths == tuple(f"{unit}.mean_life" for unit in units)
    assert set(found["appliance.maintenance_and_repair"].paths) == {f"{unit}.maintenance_and_repair" for unit in units}
    # three escalations with like figures are still three figures
    assert found["household.gas_escalation"].paths == ("household.gas_escalation",)


def test_what_is_entered_or_has_no_range_at_its_source_is_fixed() -> None:
    entries = set_entry(set_entry(dict(LEAST), "household.rate", 0.05), "appliance.mean_life", 12)
    found = of(complete(entries))
    assert not {"household.rate", "appliance.mean_life"} & set(found)
    assert found["replace.appliance.mean_life"].paths == ("replace.appliance.mean_life",)
    assert all(each.lows != each.highs for each in found.values())


def test_a_condition_that_is_judged_by_eye_keeps_the_doubt_of_a_good_one() -> None:
    good = tables().figure("condition_good", "*", "US")
    found = of(complete(LEAST))["repair.remaining_life_factor"]
    assert found.values == (0.9,)
    assert found.lows == pytest.approx((0.9 + good.low - good.value,))
    assert found.highs == pytest.approx((0.9 + good.high - good.value,))
    assert good.source.citation in found.source


def test_where_the_value_follows_by_a_rule_the_range_scales_with_it() -> None:
    share = tables().figure("failure_share_3_years", "clothes_washer", "US")
    found = of(complete(LEAST))["appliance.maintenance_and_repair"]
    assert set(found.paths) == {"appliance.maintenance_and_repair", "replace.appliance.maintenance_and_repair"}
    assert found.lows[0] == pytest.approx(found.values[0] * share.low / share.value)
    assert found.highs[0] == pytest.approx(found.values[0] * share.high / share.value)


def test_the_cycles_of_a_default_give_the_electricity_its_range() -> None:
    cycles = tables().figure("cycles", "clothes_washer", "US")
    entries = set_entry(dict(LEAST), "appliance.electricity_per_cycle", 0.8)
    found = of(complete(entries))["appliance.electricity"]
    assert found.paths == ("appliance.electricity", "replace.appliance.electricity")
    assert found.lows[0] == pytest.approx(0.8 * cycles.low)
    assert found.values[0] == pytest.approx(0.8 * cycles.value)
    assert found.highs[0] == pytest.approx(0.8 * cycles.high)
    assert [high / value for high, value in zip(found.highs, found.values, strict=True)] == pytest.approx(
        [cycles.high / cycles.value] * 2
    )


@pytest.mark.parametrize(
    "text",
    [
        '[ranges]\n"repair.remaining_life_factor" = [0.5, 1.2]\n"replace.price" = [700, 900]\n"repair.quote" = [150, '
        "250]",
        "[ranges.repair]\nremaining_life_factor = [0.5, 1.2]\nquote = [150, 250]\n[[ranges.replace]]\nprice = [700, "
        "900]",
        "[ranges]\nrepair.remaining_life_factor = [0.5, 1.2]\nrepair.quote.amount = [150, 250]\nreplace.price = [700, "
        "900]",
    ],
    ids=["paths", "tables", "dotted"],
)
def test_ranges_can_be_entered_by_path_or_as_tables(text: str) -> None:
    entries = {**LEAST, "replace": [{"price": 800}], **parse_case(text.encode())}
    found = of(complete(entries))
    assert found["repair.remaining_life_factor"] == Range(
        paths=("repair.remaining_life_factor",), lows=(0.5,), values=(0.9,), highs=(1.2,), source=ENTERED
    )
    assert (found["replace.price"].lows, found["replace.price"].highs) == ((700.0,), (900.0,))
    assert (found["repair.quote.amount"].lows, found["repair.quote.amount"].highs) == ((150.0,), (250.0,))
    assert parse_case(write_case(entries).encode()) == entries


def test_ranges_can_be_set_one_at_a_time() -> None:
    entries = set_entry(dict(LEAST), "ranges.repair.remaining_life_factor", [0.5, 1.2])
    entries = set_entry(entries, "ranges.replace.price", [500, 2000])
    assert {"repair.remaining_life_factor", "replace.price"} <= set(of(complete(entries)))


def test_an_entered_range_takes_the_place_of_the_default_s_and_the_others_stay_together() -> None:
    found = of(complete({**LEAST, "ranges": {"appliance.mean_life": [8, 16]}}))
    assert found["appliance.mean_life"].source == ENTERED
    assert found["replace.appliance.mean_life"].paths == ("replace.appliance.mean_life",)


def test_faults_come_in_one_go_each_with_its_place_what_is_allowed_and_what_came() -> None:
    found = faults_of(
        {
            "repair.remaining_life_factr": [0.5, 1.2],
            "repair.remaining_life_factor": [0.5, 3],
            "repair": {"quote": "dear"},
            "appliance.age": [9, 12],
            "household": {"study_period": [5, 10], "rate": [0.04]},
            "replace.price": [900, float("nan")],
            "appliance": {"maintenance_and_repair": [True, 100]},
        }
    )
    assert (
        found["ranges.repair.remaining_life_factr"]
        == "is no input of this case; did you mean repair.remaining_life_factor?"
    )
    assert found["ranges.repair.remaining_life_factor"] == "must be from 0.05 to 2 share, got 3.0"
    assert found["ranges.repair.quote"] == "must be two numbers, low and high, from 0 to 100000 money, got 'dear'"
    assert found["ranges.appliance.age"] == "must go from low to high and hold the value 8, got 9 to 12"
    assert "study period is one number" in found["ranges.household.study_period"]
    assert found["ranges.household.rate"].endswith("from 0 to 0.5 1/year, got [0.04]")
    assert found["ranges.replace.price"].endswith("got [900, nan]")
    assert found["ranges.appliance.maintenance_and_repair"].endswith("got [True, 100]")


def test_a_range_given_twice_or_no_table_is_refused() -> None:
    assert faults_of({"repair.remaining_life_factor": [0.5, 1.2], "repair": {"remaining_life_factor": [0.4, 1.1]}}) == {
        "ranges.repair.remaining_life_factor": "is given twice"
    }
    assert faults_of([0.5, 1.2]) == {"ranges": "must be a table, got [0.5, 1.2]"}


CLASSES = [(kind.kind, region) for region in CURRENCIES for kind in tables().classes(region)]


@pytest.mark.parametrize(("kind", "region"), CLASSES, ids=itertools.starmap("{}-{}".format, CLASSES))
def test_the_ranges_of_every_class_can_be_drawn_together(kind: str, region: str) -> None:
    filled = complete(
        {"appliance": {"class": kind, "age": 7}, "household": {"place": region}, "repair": {"quote": 150}}
    )
    ranges = ranges_of(filled)
    assert len(ranges) > 10
    found = decide(filled.case, ranges, sobol_points(16, len(ranges) + 1, 1), sureness(tables(), region))
    assert len(found.limits) == 16
