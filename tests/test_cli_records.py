"""The command that tells what a job book says, and own figures in `weigh`."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from shop_books import shop_book
from typer.testing import CliRunner, Result

from decide.jobs import DECISIONS, OUTCOMES, Jobs
from decide.load.own_figures import read_figures
from decide.load.tables import data_dir
from decide.show.cli import app

DEMO = data_dir() / "demo"


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The book of an invented shop whose refrigerators live 13 years on average."""
    path = tmp_path_factory.mktemp("shop") / "book.csv"
    write_book(path, shop_book(np.random.default_rng(6), 300, 2.4, 13.0))
    return path


def write_book(path: Path, jobs: Jobs) -> None:
    said = {"repaired": "repaired", "replaced": "bought new"}
    later = {"held": "still running", "unknown": ""}
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["Date", "Unit no", "Appliance", "Age", "Quote", "Customer did", "Later", "Later date"])
        for at in range(len(jobs)):
            heard = jobs.outcome_date[at]
            writer.writerow([
                jobs.date[at],
                jobs.unit[at],
                "Refrigerator",
                f"{jobs.age[at]:.2f}",
                f"{150 + 10 * (at % 23)}.00",
                said[DECISIONS[jobs.decision[at]]],
                later[OUTCOMES[jobs.outcome[at]]],
                "" if np.isnat(heard) else heard,
            ])  # fmt: skip


def test_the_demo_book_is_told_by_class_beside_the_shipped_figures_and_plainly_where_there_is_too_little() -> None:
    told = run("records", DEMO / "jobs.csv")
    assert told.exit_code == 0, told.output
    assert "Refrigerator-freezer: 88 jobs" in told.stdout
    assert "too few to tell a life, which needs 20" in " ".join(told.stdout.split())
    row = next(line for line in told.stdout.splitlines() if line.startswith("Median quote, of the price of new"))
    assert row.split()[-1] == "50%"  # as shipped
    assert "rows could not be read and were left out" in told.stderr


def test_a_book_with_enough_ends_tells_a_life(book: Path) -> None:
    told = run("records", book)
    assert told.exit_code == 0, told.output
    assert "of which left service" in " ".join(told.stdout.split())
    row = next(line for line in told.stdout.splitlines() if line.startswith("Mean life"))
    own, low, high = (float(row.split()[at]) for at in (4, 5, 7))
    assert low < 13.0 < high
    assert low < own < high


def test_the_same_comes_as_data_with_null_for_what_is_too_few() -> None:
    found = json.loads(run("records", DEMO / "jobs.csv", "--json").stdout)
    fridge = next(each for each in found if each["class"] == "refrigerator")
    assert fridge["life"]["told"] is False
    assert fridge["life"]["mean"]["value"] is None
    assert 0 < fridge["fix_holds"]["low"] < fridge["fix_holds"]["value"] < fridge["fix_holds"]["high"] < 1
    assert fridge["shipped"]["mean_life"]["value"] == 19.77


def test_saved_figures_reach_a_verdict_and_are_named_in_it(book: Path, tmp_path: Path) -> None:
    saved = tmp_path / "figures.csv"
    told = run("records", book, "--shop", "An invented shop", "--save", saved)
    assert told.exit_code == 0, told.output
    assert "figures written to" in told.stderr
    figures = {figure.quantity: figure for figure in read_figures(saved)}
    assert set(figures) == {"mean_life", "life_shape", "life_delay", "quote_share", "quote_spread", "fix_holds"}
    case = DEMO / "refrigerator.toml"
    shipped, own = (json.loads(run("weigh", case, "--json", *more).stdout) for more in ((), ("--figures", saved)))
    assert shipped != own
    assert "Own records of An invented shop" in run("weigh", case, "--all", "--figures", saved).stdout


def test_a_book_of_another_money_and_place_is_told_in_its_own(book: Path) -> None:
    told = run("records", book, "--place", "DE")
    assert told.exit_code == 0, told.output
    assert "€" in told.stdout


def test_what_cannot_be_used_is_refused_with_status_2(tmp_path: Path) -> None:
    empty = tmp_path / "empty.csv"
    empty.write_text("")
    assert run("records", empty).exit_code == 2
    assert run("records", DEMO / "jobs.csv", "--place", "Atlantis").exit_code == 2
    refused = run("records", DEMO / "jobs.csv", "--shop", "=1+1", "--save", tmp_path / "figures.csv")
    assert refused.exit_code == 2
    assert "shop" in refused.stderr
    spoiled = tmp_path / "figures.csv"
    spoiled.write_text("class\nrefrigerator\n")
    assert run("weigh", DEMO / "refrigerator.toml", "--figures", spoiled).exit_code == 2
