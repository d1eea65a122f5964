"""The commands `breakeven`, `confidence` and `limits`: what they print, their JSON, and what they refuse."""

import json
import re
from pathlib import Path

import pytest
from commands import json_of, run
from referees_breakeven import age_limit

from decide.answers.answer import answer
from decide.answers.confidence import decision_confidence
from decide.load.cases.case_file import read_case
from decide.show.text.words import Words

THERE = '[appliance]\nclass = "clothes_washer"\nage = 8\n'
TANK = '[appliance]\nclass = "water_heater_gas"\nage = 9\nfault = "tank_leak"\n[repair]\nquote = 90\n'


def without_quote(tmp_path: Path) -> Path:
    path = tmp_path / "open.toml"
    path.write_text(THERE, "utf-8")
    return path


@pytest.fixture
def washer(tmp_path: Path) -> Path:
    """Quoted a little below its limit, so that the verdict is in doubt, whatever the figures of the tables."""
    limit = float(answer(read_case(without_quote(tmp_path))).weighing.repair_limit)
    path = tmp_path / "washer.toml"
    path.write_text(f"{THERE}[repair]\nquote = {round(0.95 * limit)}\n", "utf-8")
    return path


# where it flips


def test_flips_tells_the_limit_and_the_age_of_the_model(washer: Path) -> None:
    found = answer(read_case(washer))
    data = json_of("breakeven", washer)
    assert data["repair_limit"] == pytest.approx(float(found.weighing.repair_limit))
    ages = next(each for each in data["breakeven"] if each["path"] == "appliance.age")
    assert ages["values"] == pytest.approx(age_limit(found.case).values)
    page = run("breakeven", washer).stdout
    assert Words.of().money(float(found.weighing.repair_limit)) in page
    assert f"Repairing is cheaper up to {Words.of().years(ages['values'][0])}. Now: 8 years." in page


def test_flips_asks_any_input_and_nothing_else_then(washer: Path) -> None:
    data = json_of("breakeven", washer, "--input", "household.rate", "--input", "repair.remaining_life_factor")
    assert [each["path"] for each in data["breakeven"]] == ["household.rate", "repair.remaining_life_factor"]
    assert all(each["low"] <= value <= each["high"] for each in data["breakeven"] for value in each["values"])


def test_a_map_tells_where_it_flips_on_both(washer: Path) -> None:
    arguments = (
        "breakeven",
        washer,
        "--input",
        "appliance.age",
        "--map",
        "replace.price",
        "appliance.age",
    )
    both = json_of(*arguments)["map"]
    assert (both["across"], both["down"]) == ("replace.price", "appliance.age")
    assert len(both["advantage"]) == len(both["y"])
    assert len(both["advantage"][0]) == len(both["x"])
    assert len(both["line"]) > 5
    page = run(*arguments).stdout
    at_eight = next(line for line in page.splitlines() if line.startswith("8 years"))
    crossed = next(x for x, y in both["line"] if y == 8.0)
    assert Words.of().money(crossed) in at_eight


def test_without_a_quote_flips_tells_the_limit_and_asks_for_the_quote(tmp_path: Path) -> None:
    path = without_quote(tmp_path)
    assert json_of("breakeven", path)["breakeven"] == []
    assert "The rest needs the quote" in run("breakeven", path).stdout
    asked = run("breakeven", path, "--input", "appliance.age")
    assert asked.exit_code == 2
    assert "Quote for the repair" in asked.stderr


# how sure


def test_sure_tells_what_the_model_finds(washer: Path) -> None:
    found = answer(read_case(washer))
    expected = decision_confidence(found.case, found.ranges, 256, 3)
    data = json_of("confidence", washer, "--draws", "256", "--seed", "3")
    assert (data["draws"], data["seed"], data["verdict"]) == (256, 3, "Repair it")
    assert list(data["share_cheapest"].values()) == pytest.approx(expected.share_cheapest)
    assert data["expected_regret"] == pytest.approx(expected.expected_regret)
    assert [each["evppi"] for each in data["ranges"]] == pytest.approx(expected.evppi)
    assert {each["source"] for each in data["ranges"]} == {each.source for each in found.ranges}
    assert data["outcome_distribution"]["years"] == 20


def test_the_page_of_sure_tells_not_knowing_first_and_luck_last(washer: Path) -> None:
    page = run("confidence", washer).stdout
    assert page.index("tests of the numbers") < page.index("Worth finding out") < page.index("Luck counts too")
    assert " tests" not in page[page.index("And luck") :]
    assert run("confidence", washer).stdout == page


def test_a_range_of_ones_own_counts(washer: Path, tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(washer.read_text("utf-8") + '[ranges]\n"repair.remaining_life_factor" = [0.3, 1.0]\n', "utf-8")
    own = next(
        each for each in json_of("confidence", path)["ranges"] if each["paths"] == ["repair.remaining_life_factor"]
    )
    assert (own["low"], own["high"], own["source"]) == ([0.3], [1.0], "entered")


# the limits


def test_limits_lists_every_age() -> None:
    data = json_of("limits", "clothes_washer", "--place", "US", "--price", "800")
    rows = data["by_age"]
    assert [row["age"] for row in rows] == list(range(31))
    assert all(row["share_of_new"] * 800 == pytest.approx(row["limit"]) for row in rows)
    for row in rows:
        assert row["low"] < row["limit"] < row["high"]
        assert row["clear_repair_up_to"] < row["limit"] < row["clear_replace_from"]
    assert rows[0]["still_in_use"] == 1
    assert all(rule["costs_at_a_failure"] >= 0 for rule in data["rules"])
    page = run("limits", "clothes_washer", "--price", "800")
    assert page.exit_code == 0
    shares = [int(share) for share in re.findall(r"^ +\d+ +-?\$[\d,]+ +(-?\d+)%", page.stdout, re.MULTILINE)]
    assert len(shares) == 31
    assert max(shares) <= 100  # no repair is worth more than a new one: it said 126 % of the bare price
    for row in rows:
        for name in ("limit", "low", "clear_repair_up_to", "clear_replace_from"):
            assert f"{Words.of().money(row[name])} " in page.stdout


# what is refused


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("--input", "household.foo"), "household.foo"),
        (("--map", "appliance.age", "appliance.age"), "must be another input"),
        (("--map", "appliance.age", "appliance.foo"), "appliance.foo"),
    ],
)
def test_flips_refuses_what_is_no_input(washer: Path, arguments: tuple[str, ...], named: str) -> None:
    result = run("breakeven", washer, *arguments)
    assert result.exit_code == 2
    assert named in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize("draws", ["0", "-4", "100"])
def test_draws_that_are_no_power_of_two_are_refused(washer: Path, draws: str) -> None:
    result = run("confidence", washer, "--draws", draws)
    assert result.exit_code == 2
    assert "must be a power of two" in result.stderr


def test_without_a_quote_sure_asks_for_it(tmp_path: Path) -> None:
    result = run("confidence", without_quote(tmp_path))
    assert result.exit_code == 2
    assert "Quote for the repair" in result.stderr


@pytest.mark.parametrize("command", ["breakeven", "confidence"])
def test_a_repair_that_is_ruled_out_and_a_missing_file_are_refused(command: str, tmp_path: Path) -> None:
    path = tmp_path / "tank.toml"
    path.write_text(TANK, "utf-8")
    assert run(command, path).exit_code == 2
    assert "caution" in run(command, path).stderr
    assert run(command, tmp_path / "none.toml").exit_code == 2


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("toaster",), "'toaster' is not known"),
        (("dishwasher", "--place", "Atlantis"), "'Atlantis' is not known"),
        (("dishwasher", "--price", "-4"), "-4 was given"),
        (("furnace_gas", "--place", "DE"), "no figures for EU"),
    ],
)
def test_limits_refuses_what_the_tables_do_not_know(arguments: tuple[str, ...], named: str) -> None:
    result = run("limits", *arguments)
    assert result.exit_code == 2
    assert named in result.stderr


def test_what_was_said_of_later_failures_is_told_to_be_gone(washer: Path, tmp_path: Path) -> None:
    old = tmp_path / "old.toml"
    old.write_text(washer.read_text("utf-8") + '[household]\nnext_failure = "decided again"\n', "utf-8")
    result = run("weigh", old, "--json")
    assert result.exit_code == 0
    assert json.loads(result.stdout) == json_of("weigh", washer)
    assert "household.next_failure is no entry any more: it was left out." in result.stderr


def test_it_cannot_be_set_any_more(washer: Path) -> None:
    result = run("weigh", washer, "--set", "household.next_failure=decided again")
    assert result.exit_code == 2
    assert "next_failure" in result.stderr
