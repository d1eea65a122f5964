"""A job book weighed in columns, against single cases row by row."""

import dataclasses
from typing import Any

import numpy as np
import pytest
from invented_jobs import invented_jobs
from shop_books import jobs_of_columns

from decide.arrays import Floats
from decide.economics.case import REPAIR, Case, Prohibition, vary, vary_all
from decide.economics.decision import CLEAR, CLOSE, LEANING
from decide.economics.weigh import Weighing, weigh
from decide.errors import CaseError
from decide.load.cases.case_file import complete
from decide.load.jobs.cases import JobCases, entries_of
from decide.load.tables.tables import Tables, tables
from decide.shop.job_totals import AGE_EDGES, BANDS, Tally, band_of, part, quantile_share, summary, tally_of
from decide.shop.jobs import DECISIONS, DECLINED, LEFT, REPAIRED, REPLACED, Jobs
from decide.shop.weigh_jobs import (
    AGE_RANGE,
    CREDIT_ABOVE,
    CREDIT_RANGE,
    MOST_REMEMBERED,
    NO_AGE,
    NO_CASE,
    QUOTE_RANGE,
    REASONS,
    REFUSED,
    SURE,
    VERDICTS,
    WEIGHED,
    LimitsByAge,
    Remembered,
    WeighedJobs,
    by_age,
    credit_of,
    reason_of,
    weigh_jobs,
)

PLACES = ("US", "DE")
SEVERAL_PLACES = {"US": 5_000, "DE": 5_000}
"""Random rows that are weighed one by one too: 10,000 in all."""


def entries_of_job(jobs: Jobs, at: int, place: str, fee: bool = False) -> dict[str, Any]:
    """A job as a visitor would enter it; with what comes off for the fee, if asked."""
    entries: dict[str, Any] = entries_of(
        place, jobs.kinds[jobs.kind[at]], jobs.faults[jobs.fault[at]], float(jobs.age[at])
    )
    if not np.isnan(jobs.quote[at]):
        entries["repair"] = {"quote": float(jobs.quote[at])}
    if fee and not np.isnan(credit := float(jobs.fee[at] * jobs.fee_credited[at])):
        entries["repair"] = {"quote": {"amount": float(jobs.quote[at]), "fee_credit": credit}}
    return entries


def verdict_of(weighing: Weighing) -> str:
    """A single case's verdict; a repair that a caution refuses is told as such."""
    refused = any(cost.blocked_by for cost in weighing.options if cost.action == REPAIR)
    return REFUSED if refused else weighing.verdict


def assert_same(weighed: WeighedJobs, at: int, single: Weighing) -> None:
    # a limit of thousands carries its rounding into the advantage, so both are held to 1e-9 of the money at stake
    within = 1e-9 * max(1.0, abs(float(weighed.new_price[at])))
    assert weighed.repair_limit[at] == pytest.approx(float(single.repair_limit), abs=within, nan_ok=True)
    assert weighed.advantage[at] == pytest.approx(float(single.advantage), abs=within, nan_ok=True)
    assert VERDICTS[weighed.verdict[at]] == verdict_of(single)
    assert weighed.stopped[at] == bool(single.stopped_by)
    assert weighed.new_price[at] == single.options[int(single.successor)].option.asked_price


@pytest.fixture(scope="module")
def cases() -> JobCases:
    return JobCases("US", tables())


@pytest.mark.slow
@pytest.mark.parametrize("place", SEVERAL_PLACES)
def test_each_of_ten_thousand_random_rows_has_the_answer_of_its_single_case(place: str) -> None:
    jobs = invented_jobs(SEVERAL_PLACES[place], place, seed=len(place))
    weighed = weigh_jobs(jobs, JobCases(place, tables()).template)
    assert weighed.weighed.all()
    for at in range(len(jobs)):
        assert_same(weighed, at, weigh(complete(entries_of_job(jobs, at, place)).case))
    # none of what may come of a job went untried
    assert {VERDICTS[code] for code in weighed.verdict} >= {"repair", "replace", "no quote", REFUSED}
    assert weighed.stopped.any()
    assert len({(kind, fault) for kind, fault in zip(jobs.kind, jobs.fault, strict=True)}) > 200


@pytest.mark.slow
@pytest.mark.parametrize("place", PLACES)
def test_a_row_is_its_single_case_as_it_stands(place: str) -> None:
    jobs = invented_jobs(300, place, seed=7)
    weighed = weigh_jobs(jobs, JobCases(place, tables()).template)
    for at in range(len(jobs)):
        assert_same(weighed, at, weigh(complete(entries_of_job(jobs, at, place)).case))


@pytest.mark.slow
def test_a_row_does_not_hang_on_the_rows_beside_it(cases: JobCases) -> None:
    jobs = invented_jobs(3_000, seed=3)
    whole = weigh_jobs(jobs, cases.template)
    parts = [weigh_jobs(jobs.take(slice(at, at + 700)), cases.template) for at in range(0, 3_000, 700)]
    for item in dataclasses.fields(WeighedJobs):
        together = np.concatenate([getattr(each, item.name) for each in parts])
        assert np.allclose(together, getattr(whole, item.name), rtol=1e-12, atol=1e-9, equal_nan=True)


@pytest.mark.slow
def test_a_fee_that_comes_off_turns_no_verdict_and_is_told_beside_it(cases: JobCases) -> None:
    """It raised the limit, so that a book had 28 quotes above it where `bands` said 48."""
    jobs = invented_jobs(3_000, seed=11)
    found = weigh_jobs(jobs, cases.template)
    without = weigh_jobs(dataclasses.replace(jobs, fee=np.full(len(jobs), np.nan)), cases.template)
    for name in ("repair_limit", "advantage", "verdict"):
        assert np.array_equal(getattr(found, name), getattr(without, name), equal_nan=True)
    assert not without.turned_by_fee.any()
    assert 10 < found.turned_by_fee.sum() < (found.advantage < 0).sum()
    for at in np.flatnonzero(found.turned_by_fee)[:20]:
        assert weigh(complete(entries_of_job(jobs, int(at), "US", fee=True)).case).advantage >= 0 > found.advantage[at]


def test_no_jobs_have_no_answers(cases: JobCases) -> None:
    nothing = weigh_jobs(invented_jobs(5).take(slice(0, 0)), cases.template)
    assert len(nothing) == 0
    assert tally_of(invented_jobs(5).take(slice(0, 0)), nothing).sums["jobs"].sum() == 0


@pytest.mark.slow
def test_a_shops_own_figures_move_the_limits_of_its_class_alone() -> None:
    reference = tables()
    key = ("clothes_washer", "US", "mean_life")
    longer = dataclasses.replace(reference.figures[key], value=reference.figures[key].value + 4)
    own: Tables = dataclasses.replace(reference, figures={**reference.figures, key: longer})
    jobs = invented_jobs(2_000, seed=5)
    shipped, local = (weigh_jobs(jobs, JobCases("US", each).template) for each in (reference, own))
    washers = jobs.kind == jobs.kinds.index("clothes_washer")
    limited = ~np.isnan(shipped.repair_limit)
    assert not np.any(np.isclose(shipped.repair_limit, local.repair_limit)[washers & limited])
    assert np.array_equal(shipped.repair_limit[~washers], local.repair_limit[~washers], equal_nan=True)
    at = int(np.flatnonzero(washers & limited)[0])
    assert_same(local, at, weigh(complete(entries_of_job(jobs, at, "US"), own).case))


# Bounds of a single case: age 0 to 60 years, a quote 0 to 100,000, a credit 0 to 5,000 and no more than the quote.
BROKEN = [
    ({"age": np.nan}, NO_AGE),
    ({"age": -0.5}, AGE_RANGE),
    ({"age": 60.5}, AGE_RANGE),
    ({"age": np.inf}, AGE_RANGE),
    ({"quote": -1.0}, QUOTE_RANGE),
    ({"quote": 100_001.0}, QUOTE_RANGE),
    ({"quote": 50_000.0, "fee": 5_001.0, "fee_credited": 1.0}, CREDIT_RANGE),
    ({"quote": 50.0, "fee": 80.0, "fee_credited": 1.0}, CREDIT_ABOVE),
]


def test_every_bound_is_the_last_value_that_is_weighed() -> None:
    rows = [  # age, quote, fee, share of it that comes off
        (0.0, 0.0, np.nan, np.nan, WEIGHED), (60.0, 100_000.0, 5_000.0, 1.0, WEIGHED),
        (8.0, np.nan, 80.0, 1.0, WEIGHED), (8.0, 80.0, 80.0, 1.0, WEIGHED), (8.0, 79.98, 80.0, 1.0, CREDIT_ABOVE),
        (8.0, 40.0, 80.0, 0.5, WEIGHED), (8.0, 39.0, 80.0, 0.5, CREDIT_ABOVE), (8.0, 9e3, 5_001.0, 1.0, CREDIT_RANGE),
        (np.nan, -1.0, np.nan, np.nan, NO_AGE), (60.01, -1.0, np.nan, np.nan, AGE_RANGE),
        (-0.01, 50.0, np.nan, np.nan, AGE_RANGE), (8.0, -0.01, 80.0, 1.0, QUOTE_RANGE),
        (8.0, 100_000.01, np.nan, np.nan, QUOTE_RANGE),
    ]  # fmt: skip
    age, quote, fee, credited, reasons = zip(*rows, strict=True)
    columns = {"age": age, "quote": quote, "fee": fee, "fee_credited": credited}
    jobs = jobs_of_columns(**{name: np.array(column) for name, column in columns.items()})
    assert [REASONS[code] for code in reason_of(jobs)] == list(reasons)
    assert credit_of(jobs)[[0, 2, 3, 5]].tolist() == [0.0, 0.0, 80.0, 40.0]


@pytest.mark.slow
@pytest.mark.parametrize(("entries", "reason"), BROKEN)
def test_what_a_single_case_refuses_is_not_weighed_and_says_why(
    cases: JobCases, entries: dict[str, float], reason: str
) -> None:
    jobs = invented_jobs(50, seed=2)
    columns = {name: getattr(jobs, name).copy() for name in entries}
    for name, value in entries.items():
        columns[name][17] = value
    broken = dataclasses.replace(jobs, **columns)
    weighed = weigh_jobs(broken, cases.template)
    assert REASONS[weighed.reason[17]] == reason
    assert np.isnan(weighed.repair_limit[17])
    assert VERDICTS[weighed.verdict[17]] == "not weighed"
    others = np.arange(50) != 17
    assert weighed.weighed[others].all()
    assert np.array_equal(
        weighed.repair_limit[others], weigh_jobs(jobs, cases.template).repair_limit[others], equal_nan=True
    )
    with pytest.raises(CaseError):
        complete(entries_of_job(broken, 17, "US", fee=True))


@pytest.mark.slow
def test_a_fault_that_a_class_cannot_have_and_a_class_without_figures_are_no_cases(cases: JobCases) -> None:
    jobs = invented_jobs(50, seed=2)
    fault, kind = jobs.fault.copy(), jobs.kind.copy()
    kind[3], fault[3] = jobs.kinds.index("microwave"), jobs.faults.index("tank_leak")
    weighed = weigh_jobs(dataclasses.replace(jobs, fault=fault, kind=kind), cases.template)
    assert REASONS[weighed.reason[3]] == NO_CASE
    assert np.count_nonzero(~weighed.weighed) == 1
    only_us = [each.kind for each in tables().classes("US") if "EU" not in each.regions]
    in_europe = weigh_jobs(jobs, JobCases("FR", tables()).template)
    sold = np.array([jobs.kinds[code] not in only_us for code in jobs.kind])
    assert np.array_equal(in_europe.weighed, sold)


def test_living_with_the_fault_can_be_the_verdict_where_the_template_offers_it() -> None:
    case = complete({
        "appliance": {"class": "dishwasher", "age": 12},
        "leave": {"annual_loss_of_use": 0.0},
    }).case  # fmt: skip
    jobs = dataclasses.replace(invented_jobs(200, seed=9), kinds=("dishwasher",), kind=np.zeros(200, np.int16))
    weighed = weigh_jobs(jobs, lambda kind, fault, own: case)
    assert {VERDICTS[code] for code in weighed.verdict} == {"leave", "no quote"}


def test_few_rows_are_their_cases_and_one_that_makes_no_case_says_so() -> None:
    case = complete({"appliance": {"class": "dishwasher", "age": 8}}).case

    def template(kind: str, fault: str, own: object) -> Case:
        if kind == "oven":
            raise CaseError("appliance.class", "has no figures here")
        return case

    jobs = jobs_of_columns(
        kinds=("dishwasher", "oven"), kind=np.array([0, 1, 0, 0, 0], np.int16), age=np.array([3.0, 3.0, 8.0, 3.0, 8.0]),
        quote=np.array([100.0, 100.0, np.nan, 900.0, 900.0]), fee=np.array([np.nan, np.nan, np.nan, 60.0, 60.0]),
        fee_credited=np.array([np.nan, np.nan, np.nan, 1.0, 0.0]),
    )  # fmt: skip
    alone = {age: weigh(vary(case, "appliance.age", age)) for age in (3.0, 8.0)}
    three, eight = (float(alone[age].repair_limit) for age in (3.0, 8.0))
    weighed = weigh_jobs(jobs, template, owed_until=lambda kind: 5.0 if kind == "dishwasher" else 2.0)
    assert weighed.repair_limit == pytest.approx([three, np.nan, eight, three, eight], nan_ok=True)
    assert weighed.advantage == pytest.approx([three - 100, np.nan, np.nan, three - 900, eight - 900], nan_ok=True)
    assert [VERDICTS[code] for code in weighed.verdict] == ["repair", "not weighed", "no quote", "replace", "replace"]
    assert [REASONS[code] for code in weighed.reason] == [WEIGHED, NO_CASE, WEIGHED, WEIGHED, WEIGHED]
    assert weighed.claimable.tolist() == [True, False, False, True, False]
    assert weighed.credit.tolist() == [0.0, 0.0, 0.0, 60.0, 0.0]
    assert weighed.state.tolist() == [0] * 5

    def edges(usual: Case, ages: Floats) -> Floats:
        """The limit under all that is not known is 10 higher; states change 100 and 40 below it, 20 and 60 above."""
        return np.tile([10.0, -100.0, -40.0, 20.0, 60.0], (len(ages), 1))

    quotes = three + 10 + np.array([-101.0, -99.0, -39.0, 19.0, 59.0, 61.0])
    sure = weigh_jobs(
        jobs_of_columns(kinds=("dishwasher",), age=np.full(6, 3.0), quote=quotes), template, by_age, edges
    )
    assert sure.repair_limit == pytest.approx(np.full(6, three + 10))
    assert [SURE[code] for code in sure.state] == [CLEAR, LEANING, CLOSE, CLOSE, LEANING, CLEAR]
    assert not sure.claimable.any()  # nobody was asked who owes what

    fees = jobs_of_columns(
        kinds=("dishwasher",), age=np.full(5, 3.0), quote=three + np.array([-0.5, 30.0, 30.0, 59.5, 60.5]),
        fee=np.full(5, 60.0), fee_credited=np.array([1.0, 1.0, 0.0, 1.0, 1.0]),
    )  # fmt: skip
    assert weigh_jobs(fees, template).turned_by_fee.tolist() == [False, True, False, True, False]


def test_each_class_and_fault_has_its_own_case_and_what_a_caution_stops() -> None:
    plain = complete({"appliance": {"class": "dishwasher", "age": 8}}).case
    unsafe, lost = (
        dataclasses.replace(plain, prohibitions=(Prohibition(action=stop, caution="invented"),))
        for stop in ("use", REPAIR)
    )
    cases_of = {("dishwasher", "burnt"): unsafe, ("microwave", "other"): lost}
    kinds, faults = ("dishwasher", "oven", "microwave"), ("other", "burnt")
    jobs = jobs_of_columns(
        kinds=kinds, kind=np.repeat(np.arange(3), 2).astype(np.int16), faults=faults,
        fault=np.tile(np.arange(2), 3).astype(np.int16), age=np.full(6, 8.0), quote=np.full(6, 50.0),
    )  # fmt: skip
    weighed = weigh_jobs(jobs, lambda kind, fault, own: cases_of.get((kind, fault), plain))
    assert weighed.stopped.tolist() == [False, True, False, False, False, False]
    assert [VERDICTS[code] for code in weighed.verdict] == ["repair"] * 4 + [REFUSED, "repair"]
    assert np.isnan(weighed.repair_limit).tolist() == [False] * 4 + [True, False]


def test_what_cannot_be_weighed_has_no_limit() -> None:
    case = complete({"appliance": {"class": "dishwasher", "age": 8}}).case
    jobs = jobs_of_columns(
        kinds=("dishwasher",), age=np.array([8.0, np.nan, 61.0, 8.0]), quote=np.array([100.0, 100.0, 100.0, -1.0])
    )
    weighed = weigh_jobs(jobs, lambda kind, fault, own: case)
    assert [REASONS[code] for code in weighed.reason] == [WEIGHED, NO_AGE, AGE_RANGE, QUOTE_RANGE]
    for figures in (weighed.repair_limit, weighed.advantage, weighed.new_price):
        assert np.isfinite(figures).tolist() == [True, False, False, False]


def test_a_row_with_a_price_and_a_rate_of_its_own_is_weighed_with_them_and_asks_for_a_case_near_by() -> None:
    case = complete({"appliance": {"class": "dishwasher", "age": 8}}).case
    asked = []

    def template(kind: str, fault: str, own: tuple[tuple[str, float], ...]) -> Case:
        asked.append(dict(own))
        return dataclasses.replace(case) if own else case

    own = {"new_price": np.array([700.0, np.nan, np.nan]), "rate": np.array([0.05, np.nan, 0.0])}
    weighed = weigh_jobs(jobs_of_columns(kinds=("dishwasher",), age=np.full(3, 8.0), own=own), template)
    each = ({"replace.price": 700.0, "household.rate": 0.05}, {}, {"household.rate": 0.0})
    for given in each:
        near = next(found for found in asked if found.keys() == given.keys())
        assert near.get("replace.price", 1.0) == pytest.approx(given.get("replace.price", 1.0), rel=2 ** (1 / 16) - 1)
        assert near.get("household.rate", 0.0) == pytest.approx(given.get("household.rate", 0.0), abs=0.0101)
    for at, given in enumerate(each[:2]):
        assert weighed.repair_limit[at] == pytest.approx(float(weigh(vary_all(case, given)).repair_limit))


# The sums.


@pytest.fixture(scope="module")
def weighed_book(cases: JobCases) -> tuple[Jobs, WeighedJobs, Tally]:
    jobs = invented_jobs(20_000, seed=11)
    weighed = weigh_jobs(jobs, cases.template)
    return jobs, weighed, tally_of(jobs, weighed)


@pytest.mark.slow
def test_a_summary_counts_what_a_loop_counts(weighed_book: tuple[Jobs, WeighedJobs, Tally]) -> None:
    jobs, weighed, tally = weighed_book
    kind, band = jobs.kinds.index("clothes_dryer_electric"), 3
    rows = [at for at in range(len(jobs)) if jobs.kind[at] == kind and 9 <= jobs.age[at] < 12]
    line = part(tally, "clothes_dryer_electric", band)
    above = [at for at in rows if weighed.quote[at] > weighed.repair_limit[at]]
    paid = [at for at in above if DECISIONS[jobs.decision[at]] == REPAIRED]
    passed = [
        at
        for at in rows
        if weighed.quote[at] <= weighed.repair_limit[at] and DECISIONS[jobs.decision[at]] in (REPLACED, LEFT, DECLINED)
    ]
    assert line.jobs == len(rows) > 50
    assert (line.above, line.paid_above, line.passed_up) == (len(above), len(paid), len(passed))
    assert line.paid_above_cost == pytest.approx(sum(weighed.quote[at] - weighed.repair_limit[at] for at in paid))
    assert line.value_lost_by_declining == pytest.approx(sum(weighed.advantage[at] for at in passed))
    limits = [weighed.repair_limit[at] for at in rows if not np.isnan(weighed.repair_limit[at])]
    assert line.mean_limit == pytest.approx(float(np.mean(limits)))
    # a cell is half a percent of the price of a new unit
    assert line.median_limit == pytest.approx(float(np.median(limits)), abs=0.005 * weighed.new_price[rows[0]])
    assert line.above_share == pytest.approx(len(above) / line.quoted)
    assert line.paid_above_each == pytest.approx(line.paid_above_cost / len(paid))


@pytest.mark.slow
def test_a_summary_adds_up(weighed_book: tuple[Jobs, WeighedJobs, Tally]) -> None:
    jobs, _, tally = weighed_book
    lines = summary(tally)
    whole, classes = lines[-1], [line for line in lines[:-1] if line.band is None]
    bands = [line for line in lines if line.band is not None]
    for name in ("jobs", "repair", "replace", "no_quote", "refused", "above", "paid_above", "passed_up", "quoted"):
        assert sum(getattr(line, name) for line in classes) == getattr(whole, name)
        assert sum(getattr(line, name) for line in bands) == getattr(whole, name)
        by_decision = [getattr(part(tally, None, None, decision), name) for decision in DECISIONS]
        assert sum(by_decision) == getattr(whole, name)
    assert whole.jobs == len(jobs)
    assert whole.repair + whole.replace + whole.leave + whole.no_quote + whole.refused == len(jobs)


@pytest.mark.slow
@pytest.mark.parametrize("size", [1, 333, 5_000])
def test_tallies_of_parts_add_up_to_that_of_the_whole(weighed_book: tuple[Jobs, WeighedJobs, Tally], size: int) -> None:
    jobs, weighed, _ = weighed_book
    jobs, weighed = jobs.take(slice(0, 2_000)), weighed.take(slice(0, 2_000))
    total = tally_of(jobs.take(slice(0, 0)), weighed.take(slice(0, 0)))
    for at in range(0, len(jobs), size):
        total = total + tally_of(jobs.take(slice(at, at + size)), weighed.take(slice(at, at + size)))
    whole = tally_of(jobs, weighed)
    assert total.kinds == whole.kinds
    for name, sums in whole.sums.items():
        assert np.allclose(total.sums[name], sums, rtol=1e-12)
    assert np.array_equal(total.limits, whole.limits)
    assert np.array_equal(total.advantages, whole.advantages)


@pytest.mark.slow
def test_parts_of_other_classes_are_not_added_up(cases: JobCases) -> None:
    jobs = invented_jobs(1_000, seed=4)
    turned = dataclasses.replace(jobs, kinds=jobs.kinds[::-1], kind=(len(jobs.kinds) - 1 - jobs.kind).astype(np.int16))
    one, two = (tally_of(each, weigh_jobs(each, cases.template)) for each in (jobs, turned))
    with pytest.raises(ValueError, match="same list"):
        one + two


@pytest.mark.slow
def test_a_tally_is_no_larger_for_more_rows(cases: JobCases) -> None:
    small, large = (
        tally_of(jobs, weigh_jobs(jobs, cases.template)) for jobs in (invented_jobs(100), invented_jobs(10_000))
    )
    assert small.limits.nbytes == large.limits.nbytes


def test_bands_begin_where_they_say() -> None:
    ages = np.array([0.0, 2.999, 3.0, 5.9, 6.0, 8.9, 9.0, 11.9, 12.0, 14.9, 15.0, 19.9, 20.0, 60.0])
    assert band_of(ages).tolist() == [0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6]
    assert len(AGE_EDGES) == BANDS + 1


def test_a_median_of_nothing_is_no_number() -> None:
    assert np.isnan(quantile_share(np.zeros(800), 0.5))


def test_ages_that_were_weighed_before_are_remembered_as_they_were(monkeypatch: pytest.MonkeyPatch) -> None:
    case, other = (complete(entries_of("US", kind, "other", 8.0)).case for kind in ("dishwasher", "clothes_washer"))
    in_turn = ([1.0, 4.0], [2.0, 4.0], [1.0, 2.0, 4.0], [3.0])
    asked = [(template, ages) for ages in in_turn for template in (case, other)]
    remembered = Remembered()
    for most in (MOST_REMEMBERED, 3):  # and when more than a few are too many
        monkeypatch.setattr("decide.shop.weigh_jobs.MOST_REMEMBERED", most)
        for template, ages in asked:
            found, fresh = remembered(template, np.array(ages)), by_age(template, np.array(ages))
            for item in dataclasses.fields(fresh):
                np.testing.assert_allclose(getattr(found, item.name), getattr(fresh, item.name), rtol=1e-12)


def test_what_was_weighed_before_is_not_weighed_again_until_more_is_kept_than_may_be(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    case, asked = complete(entries_of("US", "dishwasher", "other", 8.0)).case, []

    def noted(template: Case, ages: Floats) -> LimitsByAge:
        asked.append(ages.tolist())
        return by_age(template, ages)

    monkeypatch.setattr("decide.shop.weigh_jobs.by_age", noted)
    remembered = Remembered()
    for ages in ([1.0, 4.0], [2.0, 4.0], [1.0, 2.0]):
        remembered(case, np.array(ages))
    assert asked == [[1.0, 4.0], [2.0]]
    monkeypatch.setattr("decide.shop.weigh_jobs.MOST_REMEMBERED", 2)
    for ages in ([1.0, 2.0], [1.0, 2.0]):
        remembered(case, np.array(ages))
    assert asked == [[1.0, 4.0], [2.0], [1.0, 2.0]]


@pytest.mark.slow
def test_shares_of_weighed_jobs_are_of_the_price_of_a_new_unit(cases: JobCases) -> None:
    weighed = weigh_jobs(invented_jobs(200, seed=3), cases.template)
    known = weighed.weighed & np.isfinite(weighed.quote)
    assert known.any()
    assert (weighed.quote_share * weighed.new_price)[known] == pytest.approx(weighed.quote[known])
    assert np.isnan(weighed.repair_limit[~weighed.weighed]).all()
