"""The comparison of two trees says what a changed verdict comes from."""

import os
import re
import subprocess
import sys

import pytest
from bench.compare import compared, figures, grid, moved, reason, said, with_figures
from conftest import ROOT

CASE = {
    "appliance": {"class": "dishwasher", "age": 9, "fault": "other"},
    "household": {"place": "DE"},
    "repair": {"quote": 250.0},
}


def test_the_grid_is_every_class_of_four_places_at_four_ages_and_three_quotes() -> None:
    cases = grid()
    assert len(cases) == 12 * (26 + 3 * 24)
    assert {case["household"]["place"] for case in cases} == {"US", "DE", "RO", "NO"}
    assert len({case["appliance"]["class"] for case in cases}) == 27


@pytest.mark.parametrize(
    ("path", "value", "group"),
    [
        ("household.rate", 0.0, "rate"),
        ("replace.price", 90.0, "price"),
        ("replace.appliance.electricity", 20.0, "use"),
        ("household.colour", 1.0, "the model"),
    ],
)
def test_a_verdict_is_put_down_to_the_figures_that_bring_it_back(path: str, value: float, group: str) -> None:
    mine = said(CASE)
    other = said(with_figures(CASE, {path: value}, (path.rpartition(".")[2],))) if group != "the model" else mine
    flipped = {**other, "taken": {**mine["taken"], path: value}}
    if group == "the model":
        flipped["verdict"] = "replace" if mine["verdict"] == "repair" else "repair"
    else:
        assert other["verdict"] != mine["verdict"]
        assert path in moved(flipped["taken"], mine["taken"], group)
    assert reason(CASE, mine, flipped) == group


def test_the_table_has_value_range_year_and_standing_of_every_class() -> None:
    told = subprocess.run(
        [sys.executable, ROOT / "tests" / "bench" / "compare.py"],
        capture_output=True, text=True, check=True, cwd=ROOT, env={"PYTHONPATH": str(ROOT), "PATH": ""},
    ).stdout.splitlines()  # fmt: skip
    assert len(told) == 1 + len(figures())
    life = next(line for line in told if line.startswith("dishwasher,EU,mean_life"))
    assert re.search(r"[\d.]+ \([\d.]+ to [\d.]+\) year, \d{4}, (found|second-hand|judgement)", life)


@pytest.mark.slow
def test_a_tree_beside_itself_has_nothing_changed(capsys: pytest.CaptureFixture[str]) -> None:
    some = grid() if "SOAK" in os.environ else grid()[::12]
    counts = compared(ROOT, counts_only=False, cases=some)
    assert {why for why, *_ in counts} == {"unchanged"}
    assert sum(counts.values()) == len(some)
    assert "unchanged" in capsys.readouterr().out
