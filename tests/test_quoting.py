"""The quote builder: against sums done by hand, the way back, and the case's own weighing of the fee and the limit."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from decide.economics.case import REPAIR, Case
from decide.economics.weigh import weigh
from decide.errors import CaseError, OutOfRange
from decide.load.cases.case_file import complete
from decide.shop.quoting import (
    TERMS,
    Charges,
    FeeTerms,
    Lines,
    SalesTax,
    Work,
    against_limit,
    at_gross,
    at_margin,
    gross,
    margin_of,
    quote_of,
)

charged, waived, credited, due_if_declined = TERMS.values()

# Own rows, added up by hand: parts 80 at 50 % on top, 2 h at 90, trip 30; parts alone taxed at 6 %.
WORK = Work(parts=80.0, hours=2.0, hour_cost=45.0, way_cost=10.0, overhead=0.25)
LINES = Charges(markup=0.5, rate=90.0, trip=30.0).lines(WORK)
ON_PARTS = SalesTax(parts=0.06)


def test_a_quote_adds_up_as_on_paper() -> None:
    assert (LINES.parts, LINES.labour, LINES.trip, LINES.net) == (120.0, 180.0, 30.0, 330.0)
    assert gross(LINES, ON_PARTS) == pytest.approx(337.20)
    assert WORK.cost == pytest.approx(225.0)  # (80 + 90 + 10) x 1.25
    assert margin_of(LINES, WORK) == pytest.approx(105 / 330)


def test_markup_and_margin_are_told_apart() -> None:
    # Found in any text on retail arithmetic: 50 % on cost is a third of the price, 100 % on cost a half of it.
    for markup, margin in ((0.5, 1 / 3), (1.0, 0.5), (0.25, 0.2)):
        work = Work(parts=60.0)
        assert margin_of(Charges(markup=markup, rate=0.0).lines(work), work) == pytest.approx(margin)


def test_what_is_not_stated_is_not_charged() -> None:
    assert Charges(markup=0.5).lines(WORK) == Lines(parts=120.0, labour=0.0, trip=0.0)
    assert Charges(markup=0.0, flat=150.0).lines(Work()) == Lines(parts=0.0, labour=150.0, trip=0.0)
    assert (Work().cost, SalesTax().due(LINES), FeeTerms().steers, FeeTerms().at_visit) == (0, 0, 0, 0)


def test_a_flat_rate_asks_the_same_however_long_it_takes() -> None:
    flat = Charges(markup=0.5, flat=150.0)
    assert flat.lines(replace(WORK, hours=1.0)) == flat.lines(replace(WORK, hours=5.0))
    assert margin_of(flat.lines(replace(WORK, hours=5.0)), replace(WORK, hours=5.0)) < margin_of(flat.lines(WORK), WORK)


@given(st.floats(0, 0.95), st.floats(1, 5_000), st.floats(0, 20), st.floats(0, 1))
def test_the_quote_that_reaches_a_margin_has_that_margin(
    margin: float, parts: float, hours: float, over: float
) -> None:
    work = Work(parts=parts, hours=hours, hour_cost=60.0, overhead=over)
    asked = at_margin(Charges(markup=0.3, rate=90.0).lines(work), work, margin)
    assert margin_of(asked, work) == pytest.approx(margin, abs=1e-9)


def test_a_quote_scaled_to_an_amount_asks_it_and_keeps_its_shape() -> None:
    scaled = at_gross(LINES, ON_PARTS, 200.0)
    assert gross(scaled, ON_PARTS) == pytest.approx(200.0)
    assert scaled.parts / scaled.labour == pytest.approx(LINES.parts / LINES.labour)
    little = at_gross(Lines(parts=0.2, labour=0.3, trip=0.0), SalesTax(), 50.0)
    assert (little.parts, little.labour) == (pytest.approx(20.0), pytest.approx(30.0))
    assert at_margin(Lines(parts=0.5, labour=0.0, trip=0.0), WORK, 0.2).net == pytest.approx(225 / 0.8)


def test_columns_are_the_single_cases_one_by_one() -> None:
    parts, margin = np.array([20.0, 80.0, 300.0]), np.array([0.0, 0.2, 0.5])
    work = replace(WORK, parts=parts)
    together = at_margin(Charges(markup=0.5, rate=90.0, trip=30.0).lines(work), work, margin)
    for i in range(3):
        alone = replace(WORK, parts=float(parts[i]))
        asked = at_margin(Charges(markup=0.5, rate=90.0, trip=30.0).lines(alone), alone, float(margin[i]))
        assert np.asarray(together.net)[i] == pytest.approx(asked.net)


# the fee


def on_all(rate: float) -> SalesTax:
    """One rate on every line."""
    return SalesTax(parts=rate, labour=rate, trip=rate)


@pytest.fixture(scope="module")
def washer() -> Case:
    return complete({"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"quote": 250}}).case


@pytest.mark.parametrize("terms", [charged(90.0), waived(90.0), credited(90.0), due_if_declined(90.0)])
def test_the_fee_moves_the_decision_as_the_weighing_of_the_case_has_it(washer: Case, terms: FeeTerms) -> None:
    plain = weigh(washer)
    quote = quote_of(Lines(parts=150.0, labour=100.0, trip=0.0), SalesTax(), terms)
    options = tuple(replace(o, quote=quote) if o.action == REPAIR else o for o in washer.options)
    found = weigh(replace(washer, options=options))
    assert found.repair_limit == pytest.approx(plain.repair_limit + terms.steers)
    assert found.advantage == pytest.approx(plain.repair_limit - terms.price(250.0))


def test_a_fee_that_is_due_either_way_changes_nothing_for_the_customer() -> None:
    assert charged(90.0).price(250.0) == waived(90.0).price(250.0) == 250.0


def test_income_is_what_a_long_row_of_visits_brings() -> None:
    rng = np.random.default_rng(5)
    accepted = rng.random(400_000) < 0.35
    for terms in (charged(90.0), waived(90.0), credited(90.0), due_if_declined(90.0), FeeTerms(at_visit=50, credit=20)):
        purse = terms.at_visit + np.where(accepted, 70.0 - terms.credit, terms.if_declined)
        error = np.std(purse) / np.sqrt(purse.size)
        assert terms.income(70.0, 0.35) == pytest.approx(np.mean(purse), abs=4 * error + 1e-9)


def test_no_fee_is_no_fee_whatever_becomes_of_it() -> None:
    assert all(terms(0.0) == FeeTerms() for terms in TERMS.values())
    assert (waived(80.0), charged(80.0)) == (FeeTerms(), FeeTerms(at_visit=80.0))


# the honest cap


def test_a_quote_is_flagged_just_where_the_weighing_turns_against_the_repair(washer: Case) -> None:
    limit = float(weigh(washer).repair_limit)
    for quote in (limit - 1, limit + 1):
        options = tuple(
            replace(o, quote=replace(o.quote, amount=quote)) if o.quote is not None else o for o in washer.options
        )
        verdict = weigh(replace(washer, options=options)).verdict
        held = against_limit(quote, limit)
        assert bool(held.flagged) == (verdict != REPAIR)
        assert held.above == pytest.approx(max(quote - limit, 0))
        assert held.at_limit == limit


def test_what_is_worth_it_just_for_free_may_be_quoted_at_nothing() -> None:
    held = against_limit(np.array([0.0, 5.0]), 0.0)
    assert (held.at_limit, held.flagged.tolist()) == (0.0, [0.0, 1.0])


def test_what_is_not_worth_it_for_free_or_ruled_out_is_flagged_without_a_quote_to_name() -> None:
    for limit in (-5.0, float("nan")):
        held = against_limit(100.0, limit)
        assert bool(held.flagged)
        assert np.isnan(held.at_limit)


@pytest.mark.parametrize(
    ("field", "make"),
    [
        ("parts", lambda: Work(parts=-1.0)),
        ("overhead", lambda: Work(overhead=float("nan"))),
        ("markup", lambda: Charges(markup=-0.1, rate=90.0)),
        ("rate", lambda: Charges(markup=0.1, rate=-1.0)),
        ("labour", lambda: Charges(markup=0.1, flat=-1.0)),
        ("trip", lambda: Charges(markup=0.1, rate=90.0, trip=-1.0)),
        ("tax on parts", lambda: SalesTax(parts=0.6)),
        ("fee credit", lambda: FeeTerms(credit=-1.0)),
        ("margin", lambda: at_margin(LINES, WORK, 0.96)),
        ("quote", lambda: against_limit(float("nan"), 100.0)),
        ("chance", lambda: charged(90.0).income(1.0, 1.1)),
    ],
)
def test_what_cannot_be_is_refused_by_its_name(field: str, make: object) -> None:
    with pytest.raises(OutOfRange) as refused:
        make()  # type: ignore[operator]
    assert refused.value.field == field


def test_a_quote_of_nothing_cannot_be_raised_to_a_margin() -> None:
    with pytest.raises(CaseError):
        at_margin(Lines(parts=0.0, labour=0.0, trip=0.0), WORK, 0.2)
    assert np.isnan(margin_of(Lines(parts=0.0, labour=0.0, trip=0.0), WORK))


def test_a_quote_of_nothing_cannot_be_raised_to_an_amount() -> None:
    with pytest.raises(CaseError, match="must charge something"):
        at_gross(Lines(parts=0.0, labour=0.0, trip=0.0), on_all(0.1), 100.0)


def test_one_tax_on_every_line_is_a_tax_on_the_whole() -> None:
    lines = Lines(parts=80.0, labour=120.0, trip=30.0)
    assert float(gross(lines, on_all(0.07))) == pytest.approx(230 * 1.07)
