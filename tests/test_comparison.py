"""Groups of jobs beside all others: planted differences are found, and none is named where there is none."""

import datetime
import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from commands import run
from scipy.stats import hypergeom, norm, pearson3
from untidy_books import untidy_book
from whole_books import read_jobs

from decide.answers.shop_bands import shop_bands
from decide.answers.shop_groups import Comparison, compared
from decide.answers.shop_policy import brought, own_costs, usual_practice
from decide.load.jobs.book import open_book
from decide.load.jobs.columns import guess_mapping, parse_mapping
from decide.load.jobs.rows import read_book
from decide.load.tables.tables import data_dir, tables
from decide.shop.comparison import difference, differences, holm
from decide.shop.jobs import Jobs
from decide.show.text.phrases import languages
from decide.show.text.shop import compare_notes, group_table, named_text
from decide.show.text.words import Words


def untidy_jobs(seed: int, tech: float, jobs: int = 1200) -> Jobs:
    book = untidy_book(seed, jobs, tech=tech)
    return read_book(open_book(book.text.encode(), "book.csv"), parse_mapping(book.mapping)).jobs


def comparison(jobs: Jobs, since: datetime.date | None = None) -> Comparison:
    return compared(jobs, "US", usual_practice("US", tables()), tables(), since)


# the core


def test_the_moments_are_those_of_every_way_to_deal_the_jobs_out() -> None:
    y = np.array([0.0, 0.0, 1.0, 0.3, 5.0, 2.0, -1.0])
    cell = np.array([0, 0, 0, 0, 1, 1, 1])
    of_group = {0: 1, 1: 2}
    centred = y - np.array([y[cell == each].mean() for each in cell])
    ways = [itertools.combinations(np.flatnonzero(cell == each), size) for each, size in of_group.items()]
    sums = np.array([centred[[*one, *two]].sum() for one, two in itertools.product(*map(list, ways))])
    n, g = np.array([4, 3]), np.array([1, 2])
    squares, cubes = (np.bincount(cell, centred**power) for power in (2, 3))
    assert sums.mean() == pytest.approx(0, abs=1e-12)
    assert np.sum(g * (n - g) / (n * (n - 1)) * squares) == pytest.approx((sums**2).mean())
    third = np.sum(g * (n - g) * (n - 2 * g) / (n * (n - 1) * (n - 2)) * cubes)
    assert third == pytest.approx((sums**3).mean())


def test_the_chance_of_a_rare_answer_is_that_of_dealing_it_out_again_and_again() -> None:
    rng = np.random.default_rng(3)
    inside, cell = np.arange(400) < 60, np.zeros(400, np.int64)
    values = np.zeros(400)
    values[[*range(8), *range(100, 116)]] = 1.0  # 8 of 60 against 16 of 340
    found = difference(values, inside, cell)
    assert found is not None
    dealt = rng.hypergeometric(24, 376, 60, 400_000)
    exact = 2 * (np.mean(dealt >= 9) + np.mean(dealt >= 8)) / 2  # half of the step at it, as a law without steps has
    assert found.chance == pytest.approx(exact, rel=0.25)
    assert found.value == pytest.approx(8 / 60 - 16 / 340)


def test_where_as_many_are_within_as_without_the_chance_is_the_normal_law_s() -> None:
    # Dealing out is hypergeometric, which then is even; mean and spread are scipy's.
    inside, cell = np.arange(40) < 20, np.zeros(40, np.int64)
    values = np.zeros(40)
    values[[*range(14), *range(20, 26)]] = 1.0  # 14 of 20 against 6 of 20
    found = difference(values, inside, cell)
    assert found is not None
    law = hypergeom(40, 20, 20)
    assert found.chance == pytest.approx(2 * norm.sf((14 - law.mean()) / law.std()), rel=1e-9)


def test_of_pairs_of_like_jobs_the_chance_is_the_sign_test_s() -> None:
    # 25 pairs, in 18 of which the group's is dearer by 1: (18 - 7) / sqrt(25) = 2.2 spreads
    inside, cell = np.arange(50) % 2 == 0, np.arange(50) // 2
    found = difference(np.where(inside == (cell < 18), 1.0, 0.0), inside, cell)
    assert found is not None
    assert (found.jobs, found.value) == (25, pytest.approx(11 / 25))
    assert found.chance == pytest.approx(2 * norm.sf(2.2), rel=1e-9)
    assert found.high - found.value == pytest.approx(1.6448536 * 5 / 25, rel=1e-6)
    assert difference(np.ones(50), inside, cell) is None  # where all are alike there is nothing to tell


def test_the_chance_of_a_skew_sum_is_that_of_a_gamma_law_with_its_moments() -> None:
    inside, cell = np.arange(200) < 30, np.zeros(200, np.int64)
    values = np.zeros(200)
    values[[*range(4), *range(100, 112)]] = 1.0  # 4 of 30 against 12 of 170
    found = difference(values, inside, cell)
    assert found is not None
    law = hypergeom(200, 16, 30)
    skew = pearson3(float(law.stats("s")), law.mean(), law.std())
    assert found.chance == pytest.approx(2 * min(skew.sf(4), skew.cdf(4)), rel=1e-6)
    assert abs(found.chance - 2 * norm.sf((4 - law.mean()) / law.std())) > 0.005


def test_the_range_of_a_group_that_varies_more_than_the_others_is_as_wide_as_its_own_spread_asks() -> None:
    # Of 20 that vary ten times as much as the 100 others: by the spread of all, sqrt((20 x 9 + 100 x .09) / 120) = 1.25
    # in place of 3, the range would hold the truth in little more than half of the books.
    rng, inside, cell = np.random.default_rng(4), np.arange(120) < 20, np.zeros(120, np.int64)
    held = 0
    for _ in range(300):
        found = difference(rng.normal(0, np.where(inside, 3.0, 0.3)) + 0.5 * inside, inside, cell)
        assert found is not None
        held += found.low <= 0.5 <= found.high
    assert 0.82 < held / 300 < 0.95


def test_what_a_group_works_on_is_no_difference() -> None:
    rng = np.random.default_rng(5)
    cell = rng.integers(0, 8, 900)
    inside = rng.random(900) < 0.1 + 0.1 * cell  # it gets the dear work
    values = cell + rng.normal(0, 0.3, 900)
    found = difference(values, inside, cell.astype(np.int64))
    assert found is not None
    assert found.low < 0 < found.high
    assert values[inside].mean() - values[~inside].mean() > 1


@pytest.mark.slow
def test_the_range_holds_a_difference_nine_times_in_ten_and_chance_is_even() -> None:
    inside_range, small = 0, 0
    for seed in range(400):
        rng = np.random.default_rng([7, seed])
        cell, inside = rng.integers(0, 30, 500), rng.random(500) < 0.2
        base = 0.2 * cell + rng.gumbel(0, 0.5, 500)
        found, none = (difference(base + add * inside, inside, cell) for add in (0.1, 0.0))
        assert found is not None
        assert none is not None
        inside_range += found.low <= 0.1 <= found.high
        small += none.chance < 0.05
    assert 342 <= inside_range <= 378  # two standard errors and a half about 360
    assert 9 <= small <= 31  # about 20


def test_chances_of_several_comparisons_are_told_for_all_at_once() -> None:
    assert holm([]) == []
    assert holm([0.5, 0.6]) == [1.0, 1.0]
    rng = np.random.default_rng(2)
    found = differences({"a": rng.normal(size=300)}, np.array(["x", "y", ""])[np.arange(300) % 3], np.zeros(300, int))
    assert [each.group for each in found] == ["x", "y"]  # an empty name is nobody's
    assert found[0].value == pytest.approx(-found[1].value)
    group = np.array(["x", "y", "z"])[np.arange(300) % 3]
    dearer = differences({"a": 1.0 * (group == "x")}, group, np.zeros(300, int), only=["x"])
    assert [(each.group, each.value) for each in dearer] == [("x", pytest.approx(1.0))]


# books


@pytest.mark.slow
def test_a_technician_12_percent_dearer_is_found_and_of_20_books_without_one_at_most_one_names_one() -> None:
    found = named = 0
    for seed in range(20):
        planted, none = comparison(untidy_jobs(300 + seed, 1.12)), comparison(untidy_jobs(300 + seed, 1.0))
        dearer = {each.group for each in planted.named("technician")}
        assert dearer <= {"T5"}
        found += dearer == {"T5"}
        named += any(none.named(trait) for trait in none.by)
    assert found >= 17
    assert named <= 1


@pytest.mark.slow
def test_one_technician_is_named_with_a_range_that_holds_the_truth() -> None:
    planted = comparison(untidy_jobs(301, 1.12))
    [dear] = [each for each in planted.named("technician") if each.measure == "price"]
    assert dear.group == "T5"
    assert dear.low < 0.12 < dear.high
    assert set(planted.by) == {"technician", "postcode", "month", "class"}


@pytest.mark.slow
def test_a_rise_of_prices_since_a_day_is_found() -> None:
    jobs = untidy_jobs(5, 1.0)
    day = datetime.date(2021, 1, 1)
    dearer = np.where(jobs.date >= np.datetime64(day), 1.1, 1.0)
    columns = {name: getattr(jobs, name) for name in jobs.__dataclass_fields__} | {"quote": jobs.quote * dearer}
    found = comparison(Jobs(**columns), day)
    assert {each.measure for each in found.named("since")} >= {"price"}
    [price] = [each for each in found.by["since"] if each.measure == "price"]
    assert price.low < 0.1 < price.high
    assert not comparison(jobs, day).named("since")


@pytest.mark.slow
@pytest.mark.parametrize("language", languages())
def test_a_comparison_is_said_in_words(language: str) -> None:
    words, found = Words.for_place("US", language), comparison(untidy_jobs(301, 1.12), datetime.date(2021, 1, 1))
    for trait in found.by:
        heads, rows = group_table(words, found, trait)
        assert all(len(row) == len(heads) for row in rows)
        assert named_text(words, found, trait)
    assert "T5" in named_text(words, found, "technician")[0]
    assert group_table(words, found, "technician")[1][0][0] == "T5"
    assert compare_notes(words, found)


@pytest.mark.slow
def test_the_command_compares_and_gives_the_same_as_data(tmp_path: Path) -> None:
    book = untidy_book(301, 1200, tech=1.12)
    (tmp_path / "book.csv").write_text(book.text)
    (tmp_path / "map.toml").write_text(book.mapping)
    given = ["compare", str(tmp_path / "book.csv"), "--mapping", str(tmp_path / "map.toml"), "--since", "2021-01-01"]
    told, data = run(*given), run(*given, "--json")
    assert (told.exit_code, data.exit_code) == (0, 0), told.output
    assert "T5 stands out. Quote: +" in told.stdout
    found = json.loads(data.stdout)
    assert found["named"]["technician"] == ["T5"]
    assert {each["measure"] for each in found["by"]["technician"]} == {"price", "accepted", "held", "brings"}
    assert found["since"] == "2021-01-01"
    assert found["coverage"]["held_back"] is None
    (tmp_path / "map.toml").write_text(book.mapping.replace('"Done/paid" = "repaired"', ""))
    held = json.loads(run(*given, "--json").stdout)
    assert held["coverage"]["held_back"]
    assert "by" not in held


# costs, and what is tried


@pytest.fixture(scope="module")
def demo() -> Jobs:
    book = open_book(data_dir() / "demo" / "jobs.csv", "jobs.csv")
    return read_jobs(book, guess_mapping(book, "US"))[0]


def test_costs_are_the_parts_hours_wage_and_van_of_the_book() -> None:
    text = "Appliance,Age,Our cost,Parts,Labor,Hours,Trip,Total,Status,Fee\nFridge,5,100,150,200,2,50,428,repaired,0\n"
    text += "Fridge,5,40,60,100,,50,224.70,declined,90\nFridge,5,,90,100,1,,203.30,repaired,0\n"
    text += "Fridge,5,,,,,,214,repaired,0\n"
    book = open_book(text.encode(), "x.csv")
    jobs = read_jobs(book, guess_mapping(book))[0]
    practice = usual_practice("US", tables(), hour_cost=40.0, way_cost=20.0, overhead=0.1)
    costs = own_costs(jobs, practice, "US", tables())
    assert (costs.known_share, costs.rate, costs.markup) == (0.75, 100.0, 0.5)
    assert costs.visit == pytest.approx(22)
    told = [(100 + 2 * 40) * 1.1, (40 + 1 * 40) * 1.1, (90 / 1.5 + 40) * 1.1]
    middle = np.median([told[0] / 400, told[1] / 210, told[2] / 190])
    assert costs.job.tolist() == pytest.approx([*told, middle * 200])
    kept = brought(jobs, costs, "US", tables())
    assert kept[0] == pytest.approx(400 - told[0] - 22)
    assert kept[1] == pytest.approx(90 - 22)  # declined: the fee, less the visit
    stated = own_costs(jobs, usual_practice("US", tables(), cost=0.7), "US", tables())
    assert (stated.known_share, stated.visit) == (0, 0)
    assert stated.job[0] == pytest.approx(0.7 * 400)


@pytest.mark.slow
def test_fee_rate_markup_and_warranty_are_tried_alone_and_together(demo: Jobs) -> None:
    stated = {"fee": 149.0, "rate": 120.0, "markup": 0.8, "warranty": 365.0, "calls_lost": 0.03}
    found = shop_bands(demo, "US", usual_practice("US", tables(), spread=0.15, **stated), tables())
    assert list(found.what_ifs) == ["labour", "markup", "credited", "waived", "fee", "warranty", "together"]
    assert found.what_ifs["markup"].change("margin")[0] > 0 > found.what_ifs["markup"].change("gain")[1]
    assert found.what_ifs["waived"].change("margin")[1] < 0
    same = usual_practice("US", tables(), spread=0.15, rate=found.costs.rate, markup=found.costs.markup, warranty=90.0)
    nothing = shop_bands(demo, "US", same, tables()).what_ifs["together"]
    assert [nothing.change(each)[0] for each in ("jobs_won", "margin", "gain")] == pytest.approx([0, 0, 0], abs=1e-6)


@pytest.mark.slow
def test_a_dearer_fee_keeps_as_many_callers_away_as_is_stated(demo: Jobs) -> None:
    def fee_row(lost: float) -> float:
        practice = usual_practice("US", tables(), spread=0.15, fee=150.0, calls_lost=lost)
        return shop_bands(demo, "US", practice, tables()).what_ifs["fee"].then[0].jobs_won

    fees = np.where(np.isfinite(demo.fee), demo.fee, np.nanmedian(demo.fee))
    known = np.isfinite(demo.quote) & np.isfinite(demo.age)
    more = (150 - fees[known].mean()) / 10
    assert fee_row(0.04) / fee_row(0.0) == pytest.approx(1 - 0.04 * more, rel=0.01)
    assert fee_row(0.0) > fee_row(0.02) > fee_row(0.05)


@pytest.mark.slow
def test_the_margin_on_new_units_moves_no_limit_no_advice_and_no_change(demo: Jobs) -> None:
    without, rich = (
        shop_bands(demo, "US", usual_practice("US", tables(), spread=0.15, unit_margin=each), tables())
        for each in (None, 5_000.0)
    )
    assert without.new_units is None
    assert rich.new_units is not None
    assert rich.new_units.replaced > 0
    assert rich.bands == without.bands
    assert rich.score.tolist() == without.score.tolist()
    assert [each.regret for each in rich.rules] == [each.regret for each in without.rules]
    assert rich.what_ifs == without.what_ifs
    told = run("bands", str(data_dir() / "demo" / "jobs.csv"), "--unit-margin", "120").stdout
    assert "stands apart" in " ".join(told.split())


def test_no_word_of_a_margin_stands_where_a_verdict_is_made() -> None:
    for module in ("economics", "answers/answer.py", "shop/weigh_jobs.py", "shop/losses.py"):
        place = Path(__file__).parents[1] / "decide" / module
        for path in place.rglob("*.py") if place.is_dir() else [place]:
            assert "margin" not in path.read_text("utf-8").lower(), path


@pytest.mark.slow
def test_a_stated_figure_out_of_bounds_is_refused_by_its_name(demo: Jobs) -> None:
    for name in ("fee", "rate", "markup", "calls_lost", "unit_margin", "overhead"):
        refused = run("bands", str(data_dir() / "demo" / "jobs.csv"), f"--{name.replace('_', '-')}", "-1")
        assert refused.exit_code == 2
        assert name.replace("_", " ") in refused.stderr
