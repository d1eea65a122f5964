"""Lives fitted to own records, against published fits, another library, a plain likelihood and simulated shops."""

import dataclasses
import datetime
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import gamma
from shop_books import jobs_of_columns, shop_book
from whole_books import read_jobs

from decide.answers.diagnosis import diagnose
from decide.errors import CaseError
from decide.load.jobs.book import open_book
from decide.load.jobs.columns import guess_mapping
from decide.load.jobs.own_records import (
    book_of,
    class_records,
    fitted_life,
    local_figures,
    maximum_likelihood,
    records_of,
    symptom_counts,
    usual_shares,
)
from decide.load.tables.symptoms import symptoms
from decide.load.tables.tables import data_dir, tables
from decide.shop.jobs import Jobs
from decide.shop.lifetimes import Spells, spells

DATA = Path(__file__).parent / "data"


def _repeated(counts: list[int], values: list[float]) -> np.ndarray:
    return np.repeat(np.array(values, dtype=float), counts)


_CAGES = [288, 148, 1, 124, 1, 111, 1, 106, 99, 110, 114, 119, 127, 1, 1, 123, 93, 47, 41, 27, 1, 11, 6, 1, 2]
_FAILED = [0, 0, 1, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0]
_HOURS = [
    50, 150, 230, 250, 334, 350, 423, 450, 550, 650, 750, 850, 950, 990, 1009, 1050, 1150, 1250, 1350, 1450, 1510, 1550,
    1650, 1850, 2050,
]  # fmt: skip
CAGE = Spells(entry=np.zeros(1703), exit=_repeated(_CAGES, _HOURS), ended=_repeated(_CAGES, _FAILED) > 0)
"""Bearing cages in the field: Meeker & Escobar (1998), table C.5, p. 633; 1703 units, 6 failures."""


def channing_men() -> Spells:
    """Men of Channing House, without the one who left in the month of his entry. [month]"""
    rows = np.genfromtxt(DATA / "channing_house_men.csv", delimiter=",", skip_header=3)
    entry, leave, died = rows[rows[:, 1] > rows[:, 0]].T
    return Spells(entry=entry, exit=leave, ended=died > 0)


def watched_shop(rng: np.random.Generator, units: int, shape: float = 2.2, mean: float = 14.6) -> Spells:
    """Units that entered at any age to 15 years and were watched for up to eight."""
    entry = rng.uniform(0, 15, 6 * units)
    life = mean / gamma(1 + 1 / shape) * rng.weibull(shape, 6 * units)
    entry, life = entry[life > entry][:units], life[life > entry][:units]
    leave = entry + rng.uniform(0, 8, len(entry))
    return Spells(entry=entry, exit=np.minimum(life, leave), ended=life <= leave)


# against what was published, and what others compute


@pytest.mark.published("Meeker & Escobar (1998), example 8.16; R survival, second-hand")
def test_the_bearing_cages_have_the_published_life() -> None:
    """Meeker & Escobar, example 8.16: shape 2.035; another package's printed fit of the same table: shape 2.035319,
    scale 11792.178 (read second-hand in the tests of a public package, R survival)."""
    life = maximum_likelihood(CAGE)
    assert life.shape.value == pytest.approx(2.035319, rel=2e-5)  # where the library stops climbing
    assert life.scale == pytest.approx(11792.178, rel=3e-5)


@pytest.mark.published("lifelines 0.30.3, WeibullFitter with entry")
def test_truncated_men_of_channing_house_have_the_life_that_another_library_finds() -> None:
    """lifelines 0.30.3, WeibullFitter().fit(exit, died, entry=entry): shape 6.280105, scale 968.83970."""
    life = maximum_likelihood(channing_men())
    assert life.shape.value == pytest.approx(6.280105, rel=2e-5)
    assert life.scale == pytest.approx(968.83970, rel=2e-5)


@pytest.mark.parametrize("seed", range(6))
def test_the_fit_is_that_of_the_plain_likelihood(seed: int) -> None:
    watched = watched_shop(np.random.default_rng(seed), 200, shape=[0.8, 1.3, 2.2, 3.5, 5.0, 2.6][seed])

    def against(logs: np.ndarray) -> float:
        scale, shape = np.exp(logs)
        died = watched.exit[watched.ended]
        seen = np.log(shape) - shape * np.log(scale) + (shape - 1) * np.log(died)
        return float(np.sum((watched.exit / scale) ** shape - (watched.entry / scale) ** shape) - seen.sum())

    plain = minimize(against, [np.log(12.0), 0.5], method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-12})
    life = maximum_likelihood(watched)
    assert [life.scale, life.shape.value] == pytest.approx(np.exp(plain.x), rel=1e-5)


# the truth inside the interval


BOOKS = 200
NOISE = 3 * (0.9 * 0.1 / BOOKS) ** 0.5
"""Three standard errors of a share of 0.9 in so many books: 0.064."""


@pytest.mark.slow
@pytest.mark.parametrize(("shape", "mean"), [(2.2, 14.6), (1.3, 12.0)])
def test_nine_of_ten_intervals_of_simulated_shops_hold_the_true_mean_and_shape(shape: float, mean: float) -> None:
    rng = np.random.default_rng(11)
    lives = [maximum_likelihood(watched_shop(rng, 150, shape, mean)) for _ in range(BOOKS)]
    assert all(life.identified for life in lives)
    inside = np.mean([life.mean.low <= mean <= life.mean.high for life in lives])
    assert inside == pytest.approx(0.9, abs=NOISE)
    assert np.mean([life.shape.low <= shape <= life.shape.high for life in lives]) == pytest.approx(0.9, abs=NOISE)


@pytest.mark.slow
@pytest.mark.parametrize("contract", [False, True], ids=["asked again", "put in by the shop"])
def test_of_fifty_shops_of_five_years_that_record_what_is_needed_at_least_42_hold_the_class_life(
    contract: bool,
) -> None:
    """Repeat visits by serial number, disposal on replacement, and a question at the end or the day it was put in."""
    inside = 0
    for seed in range(50):
        book = shop_book(np.random.default_rng(seed), 300, 2.2, 13.0, contract=contract, years=5.0)
        life = fitted_life(spells(book))
        inside += life.identified and life.mean.low <= 13.0 <= life.mean.high
    assert inside >= 42


@pytest.mark.slow
def test_from_twenty_ends_on_the_interval_of_the_mean_is_worth_telling_and_with_ten_it_is_not() -> None:
    rng, books = np.random.default_rng(5), 100
    ratios: dict[int, list[float]] = {10: [], 20: []}
    inside = []
    for _ in range(books):
        for ends, found in ratios.items():
            watched = watched_shop(rng, 400)
            chosen = np.arange(len(watched)) < 1 + np.flatnonzero(np.cumsum(watched.ended) == ends)[0]
            life = maximum_likelihood(
                Spells(entry=watched.entry[chosen], exit=watched.exit[chosen], ended=watched.ended[chosen])
            )
            found.append(life.mean.high / life.mean.value if life.identified else np.inf)
            if ends == 20:
                inside.append(life.identified and life.mean.low <= 14.6 <= life.mean.high)
    assert np.mean(inside) == pytest.approx(0.9, abs=3 * (0.09 / books) ** 0.5)
    assert np.median(ratios[20]) < 1.3
    assert np.quantile(ratios[20], 0.9) < 1.6
    assert np.quantile(ratios[10], 0.9) > 1.6


@pytest.mark.slow
def test_a_book_of_repairs_gives_the_true_life_back_and_counting_ends_at_first_jobs_would_not() -> None:
    rng, books = np.random.default_rng(7), 60
    found, naive, inside = [], [], 0
    for _ in range(books):
        book = shop_book(rng, 150, 2.2, 14.6)
        life = fitted_life(spells(book))
        found.append(life.mean.value)
        inside += life.mean.low <= 14.6 <= life.mean.high
        naive.append(_counting_all_ends(book))
    assert inside / books == pytest.approx(0.9, abs=3 * (0.09 / books) ** 0.5)
    assert np.mean(found) == pytest.approx(14.6, abs=0.6)  # the skew of few ends, and 3 s.e. of 0.13
    assert np.mean(naive) < 13.0


def _counting_all_ends(book: Jobs) -> float:
    """What a naive reader would take: ages at replacement of all units, as if complete from new."""
    return float(np.mean(book.age[book.decided("replaced")]))


@pytest.mark.slow
def test_a_contract_that_hears_of_every_end_gives_the_true_life_back() -> None:
    rng, books = np.random.default_rng(8), 60
    lives = [fitted_life(spells(shop_book(rng, 150, 2.2, 14.6, contract=True))) for _ in range(books)]
    inside = np.mean([life.mean.low <= 14.6 <= life.mean.high for life in lives])
    assert inside == pytest.approx(0.9, abs=3 * (0.09 / books) ** 0.5)


@pytest.mark.slow
def test_silent_units_make_lives_short_so_that_many_of_them_tell_none() -> None:
    rng = np.random.default_rng(9)
    half_asked = [spells(shop_book(rng, 150, 2.2, 14.6, asked=0.5)) for _ in range(30)]
    assert np.mean([watched.silence for watched in half_asked]) > 0.2
    assert np.mean([maximum_likelihood(watched).mean.value for watched in half_asked]) < 14.0
    assert not any(fitted_life(watched).identified for watched in half_asked if watched.silence > 0.15)


def test_too_few_ends_tell_no_life() -> None:
    watched = watched_shop(np.random.default_rng(1), 300)
    nineteen = np.arange(len(watched)) < 1 + np.flatnonzero(np.cumsum(watched.ended) == 19)[0]
    few = Spells(entry=watched.entry[nineteen], exit=watched.exit[nineteen], ended=watched.ended[nineteen])
    assert not fitted_life(few).identified
    assert fitted_life(few).mean.too_few
    assert fitted_life(watched).identified


def test_units_that_all_end_at_one_age_bound_no_life() -> None:
    """The likelihood has no maximum: the shape runs off."""
    watched = Spells(entry=np.zeros(30), exit=np.full(30, 9.0), ended=np.ones(30, dtype=bool))
    assert not fitted_life(watched).identified


# a whole book


def demo() -> Jobs:
    opened = open_book(data_dir() / "demo" / "jobs.csv", "jobs.csv")
    return read_jobs(opened, guess_mapping(opened))[0]


def test_the_demo_book_tells_quotes_and_callbacks_of_each_class_and_too_few_of_lives() -> None:
    found = records_of(demo(), "US", tables())
    assert {each.kind for each in found} >= {"refrigerator", "dishwasher", "clothes_washer"}
    for each in found:
        assert each.jobs >= each.costs.median.n >= 8
        assert each.costs.median.low < each.costs.median.value < each.costs.median.high
        assert each.share.value == pytest.approx(each.costs.median.value / each.shipped["price"].value)
        assert sum(share.n for share in each.faults.values()) <= each.jobs
        assert not each.life.identified


def test_shares_of_faults_are_drawn_to_the_shipped_ones_where_there_are_any() -> None:
    shares = usual_shares("dishwasher")
    assert sum(shares.values()) == pytest.approx(1.0)
    found = class_records(demo(), "dishwasher", "US", tables())
    counted = sum(each.n for each in found.faults.values())
    for fault, each in found.faults.items():
        plain, usual = each.n / counted, shares.get(fault, 0.0)
        assert min(plain, usual) - 1e-9 <= each.value <= max(plain, usual) + 1e-9
        assert each.value == pytest.approx((each.n + 20 * usual) / (counted + 20))
    flat = class_records(demo(), "microwave", "US", tables())
    assert flat.usual == {} or sum(flat.usual.values()) == pytest.approx(1.0)


def test_figures_of_a_book_are_dated_by_its_jobs_and_hold_only_what_it_tells() -> None:
    jobs = demo()
    found = records_of(jobs, "US", tables())
    book = book_of(jobs, "An invented shop", datetime.date(2026, 11, 25))
    assert np.datetime64(book.since) == jobs.date.min()
    assert np.datetime64(book.until) == jobs.date.max()
    figures = local_figures(found, book)
    assert {figure.quantity for figure in figures} == {
        "quote_share",
        "later_repair_log_sd",
        "repair_success_probability",
    }


def test_a_told_life_comes_with_its_three_figures() -> None:
    jobs = shop_book(np.random.default_rng(2), 300, 2.2, 14.6)
    each = class_records(jobs, "refrigerator", "US", tables())
    figures = local_figures((each,), book_of(jobs, "An invented shop", datetime.date(2026, 1, 1)))
    life = {
        figure.quantity: figure for figure in figures if figure.quantity.startswith(("mean", "life", "failure_free"))
    }
    assert list(life) == ["mean_life", "life_shape", "failure_free_years"]
    assert life["mean_life"].low < 14.6 < life["mean_life"].high
    assert life["failure_free_years"].value == 0
    assert life["mean_life"].n == each.life.watched.jobs <= len(jobs)


def test_a_class_that_is_not_sold_in_a_region_and_a_book_without_days_are_refused() -> None:
    jobs = jobs_of_columns(age=np.array([3.0]))
    with pytest.raises(CaseError, match="not known"):
        class_records(jobs, "toaster", "US", tables())
    with pytest.raises(CaseError, match="date"):
        book_of(jobs, "An invented shop", datetime.date(2026, 1, 1))


def refrigerators_with(faults: tuple[str, ...], jobs: tuple[int, ...]) -> Jobs:
    """Refrigerators with so many jobs of each fault."""
    of_all = jobs_of_columns(kind=np.zeros(sum(jobs), dtype=np.int16), age=np.full(sum(jobs), 5.0))
    return dataclasses.replace(
        of_all, kinds=("refrigerator",), faults=faults, fault=np.repeat(np.arange(len(jobs), dtype=np.int16), jobs)
    )


def test_counts_by_symptom_add_up_to_the_jobs_of_each_fault_that_a_symptom_can_have() -> None:
    jobs = refrigerators_with(("compressor", "evaporator_fan", "other"), (12, 5, 3))
    counts = symptom_counts(jobs)
    causes = {link.cause.cause: link.cause.fault for each in symptoms().of_class("refrigerator") for link in each.links}
    counted = {"compressor": 0.0, "evaporator_fan": 0.0}
    for of_symptom in counts.values():
        for cause, count in of_symptom.items():
            if causes.get(cause) in counted:
                counted[causes[cause]] += count
    assert counted == {"compressor": pytest.approx(12), "evaporator_fan": pytest.approx(5)}


def test_own_counts_move_what_is_looked_at_first() -> None:
    """A book full of dead compressors makes that cause likelier than shipped, by the rule of `checks_first.counted`."""
    counts = symptom_counts(refrigerators_with(("compressor",), (200,)))
    before = diagnose("refrigerator", "warm_throughout", place="US", age=5.0)
    after = diagnose("refrigerator", "warm_throughout", place="US", age=5.0, counts=counts)
    at = [each.cause.fault for each in before.symptom.links].index("compressor")
    assert after.chance[at] > 2 * before.chance[at]
