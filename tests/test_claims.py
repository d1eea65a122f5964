"""Guarantee and warranty: who owes the repair is asked first, and what is left of a warranty belongs to the unit."""

import json
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from decide.answers.answer import Answer, answer
from decide.economics.case import vary_all
from decide.economics.weigh import limit_under_claim, weigh
from decide.errors import EntryErrors
from decide.load.cases.case_file import complete
from decide.load.tables.tables import tables
from decide.show.terminal.as_json import as_json
from decide.show.text.words import Words


def washer(age: float = 1.0, place: str = "DE", quote: float | None = 150, **entries: Any) -> Answer:
    there = {"class": "clothes_washer", "age": age, **entries.pop("appliance", {})}
    repair = {**({} if quote is None else {"quote": quote}), **entries.pop("repair", {})}
    return answer({"appliance": there, "household": {"place": place, **entries.pop("household", {})}, "repair": repair})


@given(
    quote=st.floats(0, 900), rest=st.floats(0, 900), other=st.floats(0, 900), waiting=st.floats(0, 300),
    refused=st.floats(0, 0.95),
)  # fmt: skip
def test_paying_is_cheapest_up_to_the_limit_under_a_claim(
    quote: float, rest: float, other: float, waiting: float, refused: float
) -> None:
    """By the three courses themselves: pay, do the other thing, or claim and choose among the two if it is refused."""
    pay, normal = quote + rest, other - rest
    claim = waiting + (1 - refused) * rest + refused * min(pay, other)
    limit = limit_under_claim(normal, waiting, refused)
    if abs(quote - limit) > 1e-6:
        assert (pay < min(other, claim)) == (quote < limit) or math.isclose(pay, min(other, claim), abs_tol=1e-6)


@pytest.mark.parametrize("kind", [(k.kind, r) for r in ("US", "EU") for k in tables().classes(r)], ids="-".join)
def test_a_unit_as_good_as_new_is_worth_what_a_new_one_costs(kind: tuple[str, str]) -> None:
    """R(0) = K: a sure repair at once of what tells nothing, nothing spoiled, and the whole warranty still to run."""
    alike = {"class": kind[0], "age": 0, "hazard_ratio": 1}
    case = complete({"appliance": alike, "household": {"place": kind[1]}}).case
    sure = {"repair.repair_success_probability": 1.0, "repair.days_without": 0.0, "repair.food_loss": 0.0}
    weighed = weigh(vary_all(case, sure))
    new = next(cost for cost in weighed.options if cost.action == "replace")
    assert weighed.repair_limit == pytest.approx(new.today, rel=1e-4)


def test_what_is_left_of_the_warranty_goes_with_the_age() -> None:
    case = complete({"appliance": {"class": "clothes_washer", "age": 8}, "household": {"place": "DE"}}).case
    ages = np.array([0.0, 0.5, 2.0, 8.0])
    assert np.asarray(vary_all(case, {"appliance.age": ages}).repair.warranty).tolist() == [2.0, 1.5, 0.0, 0.0]
    for age in ages:
        alone = complete({"appliance": {"class": "clothes_washer", "age": age}, "household": {"place": "DE"}}).case
        together = weigh(vary_all(case, {"appliance.age": ages})).repair_limit
        assert np.asarray(together)[list(ages).index(age)] == pytest.approx(float(weigh(alone).repair_limit), abs=1e-6)


def test_a_washer_of_a_year_costs_its_owner_nothing_and_that_is_said_first() -> None:
    """It was to be repaired for up to 424, with the guarantee in a line further down."""
    found = washer()
    assert found.claim is not None
    assert (found.claim.by, found.claim_limit) == ("guarantee", 0.0)
    assert found.weighing.repair_limit > 150
    for language, first in (("en", "This should cost you nothing:"), ("es", "Esto no debería costarle nada:")):
        assert Words.of(language, "EU", "DE").headline(found).startswith(first)
    assert "Show the seller" in Words.of("en", "EU", "DE").headline(found)
    claim = json.loads(as_json(found))["claim"]
    assert claim == {
        "by": "guarantee", "years_left": 1.0, "waiting": 0.0, "refused": 0.0, "limit": 0.0, "first": True,
    }  # fmt: skip


def test_past_the_guarantee_nobody_is_asked_unless_a_warranty_was_entered() -> None:
    assert washer(age=2.0).claim is None
    assert json.loads(as_json(washer(age=2.0)))["claim"] is None
    assert washer(age=2.0).claim_limit == washer(age=2.0).weighing.repair_limit
    found = washer(age=4.0, place="US", appliance={"warranty_left": 1.5})
    assert found.claim is not None
    assert (found.claim.by, found.claim.years_left) == ("warranty", 1.5)
    assert "maker's warranty" in Words.of("en").headline(found)
    assert found.weighing.repair_limit > washer(age=4.0, place="US").weighing.repair_limit  # no bills until it ends


@pytest.mark.parametrize(("kind", "age", "beyond"), [("clothes_washer", 0.5, 1.5), ("water_heater_gas", 3.0, 6.5)])
def test_where_nobody_read_the_papers_the_makers_usual_warranty_leads(kind: str, age: float, beyond: float) -> None:
    """A washer of half a year in the US was to be repaired, worth $890, and the maker stood further down."""
    young, old = (
        answer({"appliance": {"class": kind, "age": years}, "household": {"place": "US"}, "repair": {"quote": 150}})
        for years in (age, beyond)
    )
    assert old.claim is None
    claim = json.loads(as_json(young))["claim"]
    assert (claim["by"], claim["first"], claim["limit"]) == ("usual_warranty", True, 0.0)
    for language, verdict, first in (
        ("en", "Ask the maker first", "Usually still under the maker's warranty"),
        ("es", "Pregunte primero al fabricante", "Suele seguir en la garantía del fabricante"),
    ):
        words = Words.of(language)
        assert words.verdict(young) == verdict
        assert words.headline(young).startswith(first)
    none = {"class": kind, "age": age, "warranty_left": 0}
    assert answer({"appliance": none, "household": {"place": "US"}, "repair": {"quote": 150}}).claim is None


def test_a_repair_under_the_shops_own_warranty_is_claimed_there() -> None:
    found = washer(age=9.0, repair={"under_warranty": True})
    assert found.claim is not None
    assert (found.claim.by, found.claim_limit) == ("repair_warranty", 0.0)
    assert "the shop that did it" in Words.of("en").headline(found)
    assert json.loads(as_json(found))["claim"]["years_left"] is None
    with pytest.raises(EntryErrors, match="under_warranty: must be true or false"):
        washer(repair={"under_warranty": "yes"})


def test_safety_goes_before_a_claim() -> None:
    """A furnace of a year with a cracked heat exchanger is turned off first; the claim comes once it is safe."""
    there = {"class": "furnace_gas", "age": 1, "fault": "cracked_heat_exchanger", "warranty_left": 9}
    found = answer({"appliance": there, "household": {"place": "US"}, "repair": {"quote": 900}})
    words = Words.of("en")
    assert words.headline(found).startswith("Turn the furnace off now")
    assert "cost you nothing" not in words.headline(found)
    assert "cost you nothing" in words.once_safe(found)


def test_waiting_and_a_refusal_have_their_price() -> None:
    # by hand: 20 days for the claim against 7 for a repair, 13 x 10 = 130; 130 / (1 - 0.35) = 200
    terms = {"claim_days": 20, "claim_refused": 0.35}
    given = {"appliance": terms, "household": {"day_cost": 10}, "repair": {"days_without": 7}}
    found = washer(quote=300, **given)
    assert found.claim_limit == pytest.approx(200.0)
    assert found.claim is not None
    cheap = washer(quote=150, **given)
    assert cheap.claim is None  # paying it is cheaper than the wait
    assert cheap.claim_limit == pytest.approx(200.0)
    assert Words.of("en").verdict(found) == "Claim it first"
    assert Words.of("en").verdict(cheap) == "Repair it"
    with pytest.raises(EntryErrors, match=r"appliance\.claim_refused: must be from 0 to 0\.95"):
        washer(appliance={"claim_refused": 1})
