"""The command that tells what a job book says, and own figures in `weigh`."""

import csv
import json
import re
from pathlib import Path

import numpy as np
import pytest
from commands import run
from shop_books import shop_book

from decide.load.jobs.own_figures import read_figures
from decide.load.tables.tables import data_dir
from decide.shop.jobs import DECISIONS, OUTCOMES, Jobs

pytestmark = pytest.mark.slow

DEMO = data_dir() / "demo"


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The book of an invented shop whose refrigerators live 13 years on average."""
    path = tmp_path_factory.mktemp("shop") / "book.csv"
    write_book(path, shop_book(np.random.default_rng(6), 300, 2.4, 13.0))
    return path


def write_book(path: Path, jobs: Jobs) -> None:
    values = {"repaired": "repaired", "replaced": "bought new"}
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
                values[DECISIONS[jobs.decision[at]]],
                later[OUTCOMES[jobs.outcome[at]]],
                "" if np.isnat(heard) else heard,
            ])  # fmt: skip


def test_the_demo_book_is_told_by_class_beside_the_shipped_figures_and_plainly_where_there_is_too_little() -> None:
    found = run("records", DEMO / "jobs.csv")
    assert found.exit_code == 0, found.output
    assert "Refrigerator-freezer: 89 jobs" in found.stdout
    assert "too few to tell a life, which needs 20" in " ".join(found.stdout.split())
    row = next(line for line in found.stdout.splitlines() if line.startswith("Median quote, of the price of new"))
    assert row.split()[-1] == "34%"  # as shipped: 304 from its causes, of 895
    assert " ".join(found.stdout.split()).count("To learn lives, record three things.") == 1
    assert "368 of 392 rows could be read: 94%" in found.stdout  # one more is a further line of a job


def test_a_book_with_enough_ends_tells_a_life(book: Path) -> None:
    found = run("records", book)
    assert found.exit_code == 0, found.output
    assert "of these left service" in " ".join(found.stdout.split())
    row = next(line for line in found.stdout.splitlines() if line.startswith("Mean life"))
    own, low, high = (float(row.split()[at]) for at in (4, 5, 7))
    assert low < 13.0 < high
    assert low < own < high


def test_the_same_comes_as_data_with_null_for_what_is_too_few() -> None:
    found = json.loads(run("records", DEMO / "jobs.csv", "--json").stdout)
    fridge = found["classes"]["refrigerator"]
    assert fridge["life"]["identified"] is False
    assert fridge["life"]["mean"]["value"] is None
    assert (
        0
        < fridge["repair_success_probability"]["low"]
        < fridge["repair_success_probability"]["value"]
        < fridge["repair_success_probability"]["high"]
        < 1
    )
    assert fridge["shipped"]["mean_life"]["value"] == 17.4


def test_saved_figures_reach_a_verdict_and_are_named_in_it(book: Path, tmp_path: Path) -> None:
    saved = tmp_path / "figures.csv"
    found = run("records", book, "--shop", "An invented shop", "--save", saved)
    assert found.exit_code == 0, found.output
    assert "figures written to" in found.stderr
    figures = {figure.quantity: figure for figure in read_figures(saved)}
    assert set(figures) == {
        "mean_life",
        "life_shape",
        "failure_free_years",
        "quote_share",
        "later_repair_log_sd",
        "repair_success_probability",
    }
    case = DEMO / "refrigerator.toml"
    shipped, own = (json.loads(run("weigh", case, "--json", *more).stdout) for more in ((), ("--figures", saved)))
    assert shipped != own
    assert "Own records of An invented shop" in run("weigh", case, "--all", "--figures", saved).stdout


def test_a_book_of_another_money_and_place_is_told_in_its_own(book: Path) -> None:
    found = run("records", book, "--place", "DE")
    assert found.exit_code == 0, found.output
    assert "€" in found.stdout


@pytest.mark.slow
@pytest.mark.parametrize("command", ["records", "bands", "jobs"])
def test_a_book_is_told_in_the_money_of_its_mapping_unless_another_place_is_asked_for(
    command: str, tmp_path: Path
) -> None:
    mapping = tmp_path / "german.toml"
    told = run("jobs", DEMO / "jobs.csv", "--place", "DE", "--save-mapping", mapping)
    assert told.exit_code == 0
    assert re.search(r"Note +not used", told.stdout)  # a column that counts for nothing is named
    for more, sign, other in (((), "€", "$"), (("--place", "US"), "$", "€")):
        found = run(command, DEMO / "jobs.csv", "--mapping", mapping, *more)
        assert found.exit_code == 0, found.output
        assert sign in found.stdout
        assert other not in found.stdout


# Invented: refrigerators that a shop sees live four years.
SHORT_LIVES = """class,region,quantity,value,low,high,unit,n,from,to,shop,made
refrigerator,US,mean_life,4,3.5,4.5,year,99,2020-01-01,2026-01-01,An invented shop,2026-02-01
refrigerator,US,life_shape,2,1.8,2.2,-,99,2020-01-01,2026-01-01,An invented shop,2026-02-01
refrigerator,US,failure_free_years,0,0,0,year,99,2020-01-01,2026-01-01,An invented shop,2026-02-01
"""

CASE = DEMO / "refrigerator.toml"


@pytest.mark.parametrize(
    "words",
    [
        ("weigh", CASE), ("handout", CASE, "--text"), ("carbon", CASE), ("confidence", CASE), ("breakeven", CASE),
        ("limits", "refrigerator"), ("jobs", DEMO / "jobs.csv"), ("bands", DEMO / "jobs.csv"),
        ("quote", CASE, "--hours", 1), ("checks", "refrigerator", "warm_throughout", "--age", 3),
    ],
    ids=lambda words: words[0],
)  # fmt: skip
def test_own_figures_reach_every_command_whose_answer_rests_on_the_tables(
    words: tuple[object, ...], tmp_path: Path
) -> None:
    own = tmp_path / "own.csv"
    own.write_text(SHORT_LIVES, "utf-8")
    shipped, local = run(*words), run(*words, "--figures", own)
    assert (shipped.exit_code, local.exit_code) == (0, 0), local.output
    assert local.stdout != shipped.stdout


def test_own_figures_reach_the_policy_card(tmp_path: Path) -> None:
    own = tmp_path / "own.csv"
    own.write_text(SHORT_LIVES, "utf-8")
    cards = [tmp_path / name for name in ("shipped.csv", "local.csv")]
    for card, more in zip(cards, ((), ("--figures", own)), strict=True):
        assert run("card", "--classes", "refrigerator", "--out", card, *more).exit_code == 0
    assert cards[0].read_text("utf-8") != cards[1].read_text("utf-8")


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
