"""What must hold of any answer, whatever is asked: over every class of the tables, in each region where it is sold."""

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from decide.economics.case import Case, Option, inputs, option_paths, vary, vary_all
from decide.economics.decision import Sureness, decide
from decide.economics.uncertainty import sobol_points
from decide.economics.weigh import Measures, Weighing, measure, weigh
from decide.load.cases.case_file import complete, parse_case, set_entry, write_case
from decide.load.cases.ranges import ranges_of
from decide.load.tables.tables import tables

pytestmark = pytest.mark.slow

Study = tuple[float, list[tuple[str, str]]]
SOLD = [(kind.kind, region) for kind in tables().known_classes.values() for region in kind.regions]
EVERY = [pytest.param(kind, region, id=f"{kind}, {region}") for kind, region in SOLD]

ages = st.floats(0.0, 30.0)
quotes = st.floats(0.0, 1500.0)
# A need that ends is summed year by year, which takes ten times as long: two classes of all, drawn anew each time.
studies = st.tuples(st.sampled_from([3.0, 10.0]), st.lists(st.sampled_from(SOLD), min_size=2, max_size=2))
# An example takes seconds, so what fails is shown as it was drawn.
few = settings(max_examples=3, phases=(Phase.explicit, Phase.reuse, Phase.generate))


def entries_of(kind: str, region: str) -> dict:
    """Repair, buy new, buy used, or live with the fault."""
    return {
        "appliance": {"class": kind, "age": 8},
        "household": {"place": region, "day_cost": 2},
        "repair": {"quote": 200},
        "replace": [{}, {"name": "used", "price": 180, "appliance": {"age": 5}}],
        "leave": {"annual_loss_of_use": 50},
    }


@cache
def completed(kind: str, region: str) -> Case:
    return complete(entries_of(kind, region)).case


def every_case(age: float, quote: float, study: Study) -> Iterator[tuple[str, Case]]:
    """All classes in all their regions with a need without end, and some with one that ends, asked the same."""
    asked = {"appliance.age": age, "repair.quote.amount": quote}
    years, some = study
    for kind, region in SOLD:
        yield f"{kind}, {region}", vary_all(completed(kind, region), asked)
    for kind, region in some:
        ending = {**asked, "household.study_period": years}
        yield f"{kind}, {region}, {years} years", vary_all(completed(kind, region), ending)


def costs(weighed: Weighing) -> list[float]:
    return [float(option.present_cost) for option in weighed.options]


def close(value: float) -> object:
    """To a billionth, or to a hundred-millionth of a coin where large costs nearly cancel."""
    return pytest.approx(value, rel=1e-9, abs=1e-8)


# the quote


@given(ages, quotes, st.floats(0.0, 1500.0), studies)
@few
def test_a_dearer_quote_is_worse_by_just_that_and_never_makes_repair_the_advice(
    age: float, quote: float, more: float, study: Study
) -> None:
    for name, case in every_case(age, quote, study):
        before, after = weigh(case), weigh(vary(case, "repair.quote.amount", quote + more))
        assert float(after.repair_limit) == close(float(before.repair_limit)), name
        assert float(after.advantage) == close(float(before.advantage) - more), name
        assert before.verdict == "repair" or after.verdict != "repair", name


@given(ages, studies)
@few
def test_the_advice_turns_at_the_limit_itself(age: float, study: Study) -> None:
    for name, case in every_case(age, 0.0, study):
        limit = float(weigh(case).repair_limit)
        if limit > 1:
            assert weigh(vary(case, "repair.quote.amount", limit - 0.01)).verdict == "repair", name
        assert weigh(vary(case, "repair.quote.amount", max(limit, 0.0) + 0.01)).verdict != "repair", name


# the unit that is repaired


@given(ages, studies)
@few
def test_a_worse_outlook_never_raises_the_limit_of_a_unit_that_runs_for_less_than_a_new_one_costs(
    age: float, study: Study
) -> None:
    # Not so for one whose running cost alone is more than all a new one costs a year: then less of it is more. The
    # usual units of the tables are none of these.
    remaining_life_factor = np.linspace(0.05, 2.0, 8)
    for name, case in every_case(age, 200.0, study):
        limits = np.asarray(weigh(vary(case, "repair.remaining_life_factor", remaining_life_factor)).repair_limit)
        assert np.all(np.diff(limits) >= -1e-6), name


@given(studies)
@few
def test_an_older_unit_never_has_a_higher_limit_against_buying_where_consumption_stays_as_it_is(study: Study) -> None:
    # With drift it may by a trifle: the consumption entered is today's, and the older unit's may have done its growing.
    # Living with the fault is left out, since it loses by the unit's age just as the repair does.
    years_old = np.linspace(0.0, 60.0, 31)
    for name, case in every_case(8.0, 200.0, study):
        there, offers = case.appliance, case.options[:3]
        use = {
            f"appliance.{flow}": getattr(there, flow)
            for flow in ("electricity", "gas", "water", "maintenance_and_repair")
        }
        aged = {**use, "appliance.efficiency_degradation_rate": 0.0, "appliance.age": years_old}
        limits = np.asarray(weigh(vary_all(replace(case, options=offers), aged)).repair_limit)
        assert there.life_shape >= 1, name
        assert np.all(np.diff(limits) <= 1e-6), name


# the options


@given(ages, quotes, st.floats(0.0, 3000.0), st.floats(0.0, 20.0), studies)
@few
def test_one_more_option_never_raises_the_least_cost_and_none_that_cannot_follow_the_limit(
    age: float, quote: float, price: float, used_for: float, study: Study
) -> None:
    # A new unit may be bought again when the repaired one ends, and so can make the repair better; a used one cannot.
    for name, case in every_case(age, quote, study):
        repair, new, used, leave = case.options
        fewer = replace(case, options=(repair, new))
        assert new.appliance is not None
        more: dict[str, Option] = {
            "another new one": replace(new, name="other", price=price),
            "a used one": replace(
                used, name="other", price=price, appliance=replace(new.appliance, age=used_for + 0.5)
            ),
            "leaving it": replace(leave, name="other", annual_loss_of_use=price / 10),
        }
        before = weigh(fewer)
        for what, option in more.items():
            after = weigh(replace(fewer, options=(*fewer.options, option)))
            assert min(costs(after)) <= min(costs(before)) + 1e-8, (name, what)
            if what != "another new one":
                assert float(after.repair_limit) <= float(before.repair_limit) + 1e-8, (name, what)


# money


def scaled(case: Case, by: float) -> Case:
    """The same case in a coin of which so many make one."""
    money = {entry.path: entry.value * by for entry in inputs(case) if entry.bounds.unit.startswith("money")}
    return vary_all(case, money)


def rates(measures: Measures) -> list[float]:
    """What no coin changes; a rate below 0, which hangs on the last digits of flows forty years on, is left out."""
    internal = float(np.asarray(measures.internal_rate_of_return))
    return [
        float(np.asarray(measures.simple_payback)),
        float(np.asarray(measures.discounted_payback)),
        float(np.asarray(measures.savings_to_investment_ratio)),
        float(np.asarray(measures.adjusted_internal_rate_of_return)),
        internal if internal > 0 else np.nan,
    ]


@given(ages, quotes, st.floats(0.05, 2.0), studies)
@few
def test_all_money_in_another_coin_gives_all_answers_in_that_coin_and_the_same_advice(
    age: float, quote: float, by: float, study: Study
) -> None:
    for name, case in every_case(age, quote, study):
        once, again = weigh(case), weigh(scaled(case, by))
        assert costs(again) == pytest.approx([by * cost for cost in costs(once)], rel=1e-9, abs=1e-8), name
        assert float(again.repair_limit) == close(by * float(once.repair_limit)), name
        assert float(again.advantage) == close(by * float(once.advantage)), name
        if abs(float(once.advantage)) > 1e-6:
            assert again.verdict == once.verdict, name
            assert rates(measure(scaled(case, by), again)) == pytest.approx(
                rates(measure(case, once)), rel=1e-6, abs=1e-8, nan_ok=True
            ), name


# one case, a column, draws


@given(
    st.lists(st.tuples(ages, quotes, st.floats(0.05, 2.0), st.floats(0.01, 0.2)), min_size=2, max_size=3),
    studies,
)
@few
def test_a_column_is_its_cases_one_at_a_time(rows: list[tuple[float, ...]], study: Study) -> None:
    paths = ("appliance.age", "repair.quote.amount", "repair.remaining_life_factor", "household.rate")
    for name, case in every_case(8.0, 200.0, study):
        together = weigh(vary_all(case, dict(zip(paths, np.array(rows).T, strict=True))))
        for row, values in enumerate(rows):
            alone = weigh(vary_all(case, dict(zip(paths, values, strict=True))))
            found = [float(np.broadcast_to(option.present_cost, len(rows))[row]) for option in together.options]
            assert found == pytest.approx(costs(alone), rel=1e-9, abs=1e-8), name
            assert float(np.asarray(together.repair_limit)[row]) == close(float(alone.repair_limit)), name


@pytest.mark.parametrize(("kind", "region"), EVERY)
def test_draws_of_ranges_without_width_are_the_single_case(kind: str, region: str) -> None:
    filled = complete(entries_of(kind, region))
    ranges = ranges_of(filled)
    assert len(ranges) > 5
    pinned = [replace(each, lows=each.values, highs=each.values) for each in ranges]
    points = sobol_points(8, len(pinned) + 1, 1)
    drawn, single = (
        decide(filled.case, pinned, points, Sureness(clear=0.9, leaning=0.65, doubt=0.0)),
        weigh(filled.case),
    )
    assert drawn.limits == pytest.approx(np.full(8, single.repair_limit), rel=1e-9)
    assert drawn.weighing.advantage == pytest.approx(float(single.advantage), rel=1e-9)


# entries to a case and back


@pytest.mark.parametrize(("kind", "region"), EVERY)
def test_a_case_written_out_in_full_is_the_same_case_without_a_default(kind: str, region: str) -> None:
    filled = complete(entries_of(kind, region))
    written = entries_of(kind, region)
    for default in filled.defaults:
        written = set_entry(written, default.field, default.value)
    again = complete(parse_case(write_case(written).encode()))
    assert again.defaults == ()
    assert [(each.path, each.value) for each in inputs(again.case)] == [
        (each.path, each.value) for each in inputs(filled.case)
    ]
    assert option_paths(again.case) == option_paths(filled.case)
    # the hazard ratio that is written out says how often it fails, to four digits of the figures behind it
    assert costs(weigh(again.case)) == pytest.approx(costs(weigh(filled.case)), rel=1e-5)
