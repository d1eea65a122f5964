"""What it is paid from, and how much can be paid today: loans on either side, and the rate that goes with them."""

import json
import math
from typing import Any

import numpy as np
import pytest
from entry_errors import errors_of
from households import case_of

from decide.answers.answer import Answer, answer
from decide.economics.case import Case, vary, vary_all
from decide.economics.weigh import weigh
from decide.load.cases.case_file import complete
from decide.load.cases.ranges import ranges_of
from decide.load.tables.tables import tables
from decide.show.terminal.as_json import as_json
from decide.show.text.words import Words


def entries(repair: dict[str, Any] | None = None, new: dict[str, Any] | None = None, **home: Any) -> dict[str, Any]:
    return {
        "appliance": {"class": "clothes_washer", "age": 8},
        "household": {"place": "US", **home},
        "repair": {"quote": 300, **(repair or {})},
        "replace": [new or {}],
    }


# what it is paid from


def test_savings_are_discounted_at_three_percent_and_a_card_at_its_own_real_rate() -> None:
    """By hand for the US: 22.25 % a year, month by month, is 1.018542^12 - 1 = 24.67 %; less 2 % inflation 22.22 %."""
    said = {"pays": "savings"}
    assert complete(entries(said, said)).case.household.rate == 0.03
    assert complete(entries()).case.household.rate == tables().usual("household_rate", "US").value == 0.11
    card = {"pays": "card"}
    assert tables().usual("card_rate", "US").value == 0.2225
    assert complete(entries(card, card)).case.household.rate == pytest.approx(0.2222, abs=5e-5)
    own = {"pays": "instalments", "loan_rate": 0.12, "loan_years": 3}
    case = complete(entries(own)).case
    assert case.household.rate == pytest.approx(1.01**12 / 1.02 - 1)
    assert case.repair.loan_years == 3


@pytest.mark.parametrize("pays", ["card", "instalments"])
@pytest.mark.parametrize("place", ["US", "DE"])
def test_a_loan_at_the_households_own_rate_takes_nothing_today_and_costs_what_is_lent(pays: str, place: str) -> None:
    """ASTM E917: a payment stream discounted at its own rate is worth its principal."""
    lent = complete(entries({"pays": pays}, {"pays": pays}, place=place)).case
    cash = complete(entries(place=place, rate=float(lent.household.rate))).case
    for one, other in zip(weigh(lent).options, weigh(cash).options, strict=True):
        assert one.present_cost == pytest.approx(other.present_cost, rel=1e-9)
        assert one.today == pytest.approx(0.0, abs=1e-6)
        assert other.today > 0
    assert weigh(lent).repair_limit == pytest.approx(weigh(cash).repair_limit)


def test_on_a_card_the_dearer_purchase_weighs_more_and_the_repair_is_worth_more() -> None:
    savings, card = (complete(entries({"pays": how}, {"pays": how})).case for how in ("savings", "card"))
    assert weigh(card).repair_limit > 1.3 * weigh(savings).repair_limit


def test_a_new_one_in_instalments_beside_a_repair_from_savings_costs_its_interest() -> None:
    # by hand: a loan of P at 12 % over two years, paid monthly: P x 0.0470735 a month, 24 times, discounted at 5.06 %
    # a year in money of the day (3 % and 2 %), 0.41217 % a month: 22.806 payments, 1.07356 P
    new = {"pays": "instalments", "loan_rate": 0.12, "loan_years": 2}
    bought = weigh(complete(entries({"pays": "savings"}, new)).case).options[1]
    plain = weigh(complete(entries({"pays": "savings"})).case).options[1]
    due = plain.today - bought.today
    assert bought.today == pytest.approx(0.0, abs=1e-6)
    payments = (1 - (1.03 * 1.02) ** -2) / ((1.03 * 1.02) ** (1 / 12) - 1)
    assert bought.present_cost - plain.present_cost == pytest.approx(due * (0.0470735 * payments - 1), rel=1e-4)
    quotes = np.array([0.0, 300.0, 5000.0])
    case = vary(complete(entries({"pays": "savings"}, new)).case, "repair.quote.amount", quotes)
    assert np.ptp(weigh(case).repair_limit) < 1e-9


def test_a_repair_is_lent_in_part_like_a_purchase() -> None:
    part = complete(entries({"financed": 200, "loan_rate": 0.2, "loan_years": 2}, rate=0.03)).case
    plain = complete(entries(rate=0.03)).case
    mended, paid = weigh(part).repair, weigh(plain).repair
    assert paid.today - mended.today == pytest.approx(200)
    assert mended.present_cost > paid.present_cost + 20
    costs = weigh(vary(part, "repair.quote.amount", np.array([300.0, 900.0]))).repair.present_cost
    assert np.diff(np.asarray(costs)) == pytest.approx(600)
    for quote in ({"quote": 150, "financed": 200}, {"quote": {"amount": 210, "fee_credit": 60}, "financed": 200}):
        assert "not be more than" in errors_of(entries(quote))["repair.financed"]
    no_quote = {"appliance": {"class": "clothes_washer", "age": 8}, "repair": {"financed": 10}}
    assert "repair.financed" in errors_of(no_quote)


def test_what_is_said_twice_or_of_a_landlord_is_refused_by_its_name() -> None:
    assert "twice" in errors_of(entries({"pays": "card"}, rate=0.1))["household.rate"]
    assert "twice" in errors_of(entries(new={"pays": "card", "financed": 100}))["replace.pays"]
    assert "must be one of savings; card; instalments" in errors_of(entries({"pays": "gold"}))["repair.pays"]
    rented = {"tax_rate": 0.2, "pays_energy": 0, "depreciation_years": 5}
    assert "landlord" in errors_of(entries({"pays": "card"}, landlord=rented))["repair.pays"]


def test_the_doubt_about_a_card_moves_the_rate_and_the_loan_together() -> None:
    ranges = ranges_of(complete(entries({"pays": "card"}, {"pays": "card"})))
    together = next(each.paths for each in ranges if "household.rate" in each.paths)
    assert set(together) == {"household.rate", "repair.loan_rate", "replace.loan_rate"}


# how much can be paid today


def limited(most: float, quote: float = 260.0) -> Case:
    return vary_all(case_of(), {"household.most_today": most, "repair.quote.amount": quote})


def test_what_takes_more_than_can_be_paid_is_left_out_and_its_price_is_said() -> None:
    # 620 + 40 + 20 less the rebate, which comes later, so 680; a used one 260; the repair 260; living with it nothing
    free = weigh(limited(math.inf))
    costs = {cost.name: float(cost.present_cost) for cost in free.options}
    assert not any(cost.left_out for cost in free.options)
    assert free.cost_of_cash == 0
    for most, out in ((680, set()), (679, {"new"}), (259, {"new", "used", "repair", "repair, then replace"})):
        weighed = weigh(limited(most))
        assert {cost.name for cost in weighed.options if cost.left_out} == out
        payable = {name: cost for name, cost in costs.items() if name not in out}
        assert weighed.options[int(weighed.best)].name == min(payable, key=payable.__getitem__)
        assert weighed.cost_of_cash == pytest.approx(min(payable.values()) - min(costs.values()))


@pytest.mark.parametrize("most", [0.0, 100.0, 259.0, 300.0, 679.0, 5000.0])
@pytest.mark.parametrize("quote", [0.0, 150.0, 299.0, 301.0, 2000.0])
def test_the_verdict_is_to_repair_just_where_the_quote_is_within_the_limit(most: float, quote: float) -> None:
    weighed = weigh(limited(most, quote))
    assert weighed.repair_limit == pytest.approx(float(weigh(limited(most, 0.0)).repair_limit))
    assert weighed.repair_limit <= most + 1e-9
    assert (weighed.verdict == "repair") == (quote <= weighed.repair_limit)


def test_in_columns_each_row_has_its_own_purse() -> None:
    most = np.array([0.0, 259.0, 400.0, math.inf])
    together = weigh(limited(most))  # type: ignore[arg-type]
    for row, each in enumerate(most):
        alone = weigh(limited(float(each)))
        assert np.broadcast_to(together.repair_limit, 4)[row] == pytest.approx(float(alone.repair_limit))
        assert np.broadcast_to(together.best, 4)[row] == alone.best


def found(most: float) -> Answer:
    return answer(entries({"quote": 700}, most_today=most))


def test_the_answer_says_what_is_left_out_and_what_that_costs() -> None:
    free = found(5000)
    assert free.weighing.verdict == "replace"
    tight = found(800)
    assert tight.weighing.verdict == "repair"
    data = json.loads(as_json(tight))
    assert [option["left_out"] for option in data["options"]][:2] == [False, True]
    assert data["cost_of_cash"] == pytest.approx(tight.weighing.cost_of_cash)
    assert data["cost_of_cash"] > 0
    for language, left_out, why in (("en", "left out", "better way"), ("es", "queda fuera", "opción mejor")):
        words = Words.of(language, "US")
        assert left_out in words.options(tight)[1].note
        assert any(why in sentence for sentence in words.because(tight))
        assert not any(why in sentence for sentence in words.because(free))


def test_where_nothing_can_be_paid_that_is_said() -> None:
    nothing = found(20)
    assert math.isnan(nothing.weighing.cost_of_cash)
    assert json.loads(as_json(nothing))["cost_of_cash"] is None
    assert any("None of this" in sentence for sentence in Words.of("en").because(nothing))


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("quote", [300, 900, None])
def test_a_repair_on_a_card_is_not_compared_with_a_new_one_that_cannot_be_paid(
    quote: float | None, language: str
) -> None:
    """At 900 it said "Repair it", and that a new one, left out for its price, came out cheaper in nearly all tests."""
    given = entries({"pays": "card"}, most_today=400)
    given["repair"] = {"pays": "card"} if quote is None else {"pays": "card", "quote": quote}
    tight = answer(given)
    free = answer({**given, "household": {"place": "US"}})
    words = Words.of(language, "US")
    assert tight.all_that_can_be_paid
    assert tight.weighing.repair_limit == pytest.approx(free.weighing.repair_limit, rel=0.01)  # nothing else was asked
    assert tight.decision.limit_range == (tight.weighing.repair_limit,) * 2
    assert not any(found in words.headline(tight) for found in ("cheaper", "barat"))
    if quote is None:
        assert words.verdict(tight) == words.say("verdict.up_to", limit=words.money(tight.weighing.repair_limit))
        return
    assert (tight.verdict.act, tight.verdict.state, tight.verdict.second) == ("repair", "clear", None)
    assert tight.weighing.verdict == "repair"
    assert free.weighing.verdict == ("repair" if quote == 300 else "replace")
    assert (tight.weighing.cost_of_cash > 1) == (quote == 900)
    assert tight.measures.net_saving == pytest.approx(quote - tight.weighing.repair_limit)


def test_where_only_a_card_pays_the_limit_is_held_to_the_cheaper_of_two_new_ones() -> None:
    two = {"replace": [{"price": 700}, {"name": "dear", "price": 2_000}]}
    tight, free = (answer(entries({"quote": 300, "pays": "card"}, most_today=most) | two) for most in (250, 5000))
    assert tight.all_that_can_be_paid
    assert not free.all_that_can_be_paid
    assert tight.weighing.repair_limit == pytest.approx(free.weighing.repair_limit, rel=0.01)


def test_what_replacing_gains_is_told_of_what_can_be_paid() -> None:
    """It was the cheapest replacement, though there was no cash for it."""
    new = [{"price": 700}, {"name": "plain", "price": 380, "delivery": 0, "installation": 0, "haul_away": 0}]
    given = entries() | {"replace": [new[0], {**new[1], "appliance": {"mean_life": 2}}]}
    tight, free = (answer({**given, "household": {"place": "US", "most_today": most}}) for most in (450, 5000))
    names = [str(each.weighing.options[each.measures.replacement].name) for each in (tight, free)]
    assert names == ["plain", "New washing machine"]
    plain = next(cost for cost in tight.weighing.options if cost.name == "plain")
    repair = min(cost.present_cost for cost in tight.weighing.options if cost.action == "repair")
    assert tight.measures.net_saving == pytest.approx(repair - plain.present_cost)
