"""No sentence of an answer argues with another: verdict, state, shares, signs and notes, over a grid of cases."""

import math
import re
from collections.abc import Iterator

import numpy as np
import pytest

from decide.answers.answer import Answer, answer
from decide.answers.confidence import has_verdict
from decide.economics.case import REPAIR, REPLACE
from decide.economics.decision import CLEAR, CLOSE, LEANING
from decide.economics.flows import paid_today
from decide.load.tables.tables import tables
from decide.show.terminal.as_json import as_data
from decide.show.text.certainty import confidence_text, limit_text
from decide.show.text.report import first_layer, paid_of, paid_text
from decide.show.text.ruler import rival_of
from decide.show.text.words import Words

PLACES = ("US", "DE")
CLASSES = [(kind.kind, place) for place in PLACES for kind in tables().classes("US" if place == "US" else "EU")]
AGES = (3, 9, 16)
SHARES_OF_LIMIT = (0.2, 0.7, 1.05, 1.5)
ACTS = {"repair": ("repair",), "replace": ("replace",), "leave": ("live with", "living with")}


EVERY_CLASS = [pytest.param(each, marks=[pytest.mark.slow] * (each[1] != "US"), id="-".join(each)) for each in CLASSES]


@pytest.fixture(scope="module", params=EVERY_CLASS)
def answers(request: pytest.FixtureRequest) -> list[Answer]:
    return list(grid(*request.param))


def grid(kind: str, place: str) -> Iterator[Answer]:
    """Invented cases of a class: three ages, without a quote and at four, from far below the limit to far above."""
    for age in AGES:
        unit = {"class": kind, "age": age, "warranty_left": 0}  # nobody is asked first
        entries = {"appliance": unit, "household": {"place": place}}
        found = answer(entries)
        yield found
        scale = max(found.weighing.repair_limit, 0.1 * found.decision.cost_of_new)
        yield from (answer({**entries, "repair": {"quote": round(share * scale, 2)}}) for share in SHARES_OF_LIMIT)


def words_of(found: Answer) -> Words:
    return Words.for_place(found.case.household.place, "en")


def amount(printed: str) -> float:
    """What a printed amount of the US or of Germany is."""
    bare = re.sub(r"[^\d.,]", "", printed)
    return float(bare.replace(".", "").replace(",", ".") if printed.endswith("€") else bare.replace(",", ""))


def decided(answers: list[Answer]) -> list[Answer]:
    return [found for found in answers if not found.undecided]


def test_the_sign_of_the_advantage_is_that_of_the_verdict(answers: list[Answer]) -> None:
    for found in decided(answers):
        weighing, verdict = found.weighing, found.verdict
        repairs = verdict.act == REPAIR
        if math.isnan(weighing.quoted):
            assert weighing.repair_limit < 0
            assert not repairs
        else:
            assert repairs == (weighing.advantage >= 0)
            assert weighing.advantage == pytest.approx(weighing.repair_limit - weighing.quoted)
        best = weighing.options[int(weighing.best)]
        assert best.action == verdict.act
        assert weighing.verdict == verdict.act
        if not repairs:
            assert best.name == verdict.option


def test_the_state_is_the_share_of_draws_that_begin_with_the_same_act(answers: list[Answer]) -> None:
    for found in decided(answers):
        verdict = found.verdict
        share = verdict.share_by_act[verdict.act]
        assert verdict.state == (CLEAR if share >= 0.9 else LEANING if share >= 0.65 else CLOSE)
        assert found.close == (verdict.state == CLOSE)
        assert sum(verdict.share_by_act.values()) == pytest.approx(1)
        for act in verdict.share_by_act:
            of_act = [name for name, its in zip(found.decision.names, found.decision.acts, strict=True) if its == act]
            shares = [verdict.cheapest_share[name] for name in of_act if name in verdict.cheapest_share]
            assert verdict.share_by_act[act] == pytest.approx(sum(shares))


def test_a_clear_or_leaning_act_is_the_one_that_most_draws_begin_with(answers: list[Answer]) -> None:
    for found in decided(answers):
        verdict = found.verdict
        if verdict.state != CLOSE:
            assert verdict.share_by_act[verdict.act] == max(verdict.share_by_act.values())


def test_the_verdict_says_state_and_act(answers: list[Answer]) -> None:
    for found in decided(answers):
        text, verdict = words_of(found).verdict(found), found.verdict
        assert (text == "Close call") == (verdict.state == CLOSE), text
        assert text.startswith("Leaning ") == (verdict.state == LEANING), text
        if verdict.state != CLOSE:
            first = min(ACTS, key=lambda act: min(text.lower().find(word) % 1000 for word in ACTS[act]))
            assert first == verdict.act, text


def test_the_headline_tells_the_same_share_act_and_sign(answers: list[Answer]) -> None:
    for found in decided(answers):
        words, verdict, weighing = words_of(found), found.verdict, found.weighing
        text = words.headline(found)
        share = words.share(verdict.share_by_act[verdict.act])
        assert f" came out cheaper in {share} tests." in text
        assert ("Repair came out cheaper" in text) == (verdict.act == REPAIR)
        if weighing.repair_limit < 0:
            assert text.startswith("Even for free, this repair would cost you ")
            assert verdict.act != REPAIR
        else:
            assert text.startswith("This repair is worth ")
        told = re.search(
            r"worth about (\S+) \(could be (\S+) to (\S+)\)\. You were quoted (\S+)\.", text.replace("\xa0", "")
        )
        assert told or "could be" not in text
        sent = re.search(r"\(could be (\S+) to (\S+)\)", words.message(found).replace("\xa0", ""))
        assert not (told and sent) or sent.groups() == told.groups()[1:3]
        if told and verdict.state == CLEAR:
            _, low, high, quoted = (0.0 if each == "nothing" else amount(each) for each in told.groups())
            slack = 0.03 * found.decision.cost_of_new  # of rounding
            least, most = found.decision.limit_range
            assert (low, high) == pytest.approx((max(least, 0.0), most), abs=slack)
            zones = found.decision.zones
            assert quoted <= zones.clear_repair if verdict.act == REPAIR else quoted >= zones.clear_other
        assert ("Either is fine" in text) == found.close
        risk = re.search(r"The risk of being wrong costs you about (\S+)\.", text.replace("\xa0", ""))
        assert (risk is not None) == (verdict.state == LEANING)  # the expected loss beside the state
        if risk:
            assert amount(risk[1]) == pytest.approx(verdict.expected_loss, abs=5)
        assert ("settles it" in text or "Money does not decide" in text) == found.close


def test_one_option_is_marked_cheapest_unless_it_is_a_close_call(answers: list[Answer]) -> None:
    for found in answers:
        rows = words_of(found).options(found)
        marked = [index for index, row in enumerate(rows) if "cheapest" in row.note]
        settled = not (found.undecided or found.close)
        assert marked == ([int(found.weighing.best)] if settled else [])
        if settled and not math.isnan(found.weighing.quoted):
            cost = [each.present_cost for each in found.weighing.options if not each.blocked_by]
            assert found.weighing.options[marked[0]].present_cost == min(cost)


def test_how_sure_is_told_of_the_same_act_with_the_same_share(answers: list[Answer]) -> None:
    for found in decided(answers):
        words, verdict = words_of(found), found.verdict
        if not has_verdict(found):
            continue
        told = found.confidence
        assert (told.names[told.verdict], told.state) == (verdict.option, verdict.state)
        first = confidence_text(words, found, told)[0]
        share = words.share(verdict.share_by_act[verdict.act])
        assert f" came out cheaper in {share} tests of the numbers;" in first
        assert first.startswith("Repairing ") == (verdict.act == REPAIR)
        assert told.expected_regret == pytest.approx(verdict.expected_loss)
        wins = told.share_cheapest[0] if verdict.act == REPAIR else 1 - told.share_cheapest[0]
        if set(verdict.share_by_act) == {REPAIR, REPLACE}:
            assert verdict.share_by_act[verdict.act] == pytest.approx(wins)


def test_the_second_best_begins_with_another_act_and_loses_no_less(answers: list[Answer]) -> None:
    for found in decided(answers):
        verdict, decision = found.verdict, found.decision
        if verdict.second is not None:
            assert dict(zip(decision.names, decision.acts, strict=True))[verdict.second] != verdict.act
            assert verdict.second_loss >= verdict.expected_loss - 0.01 * decision.cost_of_new
            assert verdict.expected_loss >= 0


def test_without_a_quote_the_limit_is_told_within_its_range_and_no_verdict(answers: list[Answer]) -> None:
    for found in answers:
        low, high = found.decision.limit_range
        assert low < found.weighing.repair_limit < high
        if not math.isnan(found.weighing.quoted):
            continue
        words = words_of(found)
        assert limit_text(words, low, high)
        if found.undecided:
            assert words.verdict(found).startswith("Worth about ")
            assert " tests" not in words.headline(found)
            assert as_data(found)["state"] is None
            assert as_data(found)["verdict"] not in (REPAIR, REPLACE)


def test_the_json_tells_the_same(answers: list[Answer]) -> None:
    for found in decided(answers):
        data, verdict = as_data(found), found.verdict
        assert (data["verdict"], data["state"]) == (verdict.act, verdict.state)
        assert data["share_by_act"] == verdict.share_by_act
        if not math.isnan(found.weighing.quoted):
            assert data["advantage"] == pytest.approx(data["repair_limit"] - data["quoted"])


def test_what_replacing_is_worth_is_the_advantage_turned_round(answers: list[Answer]) -> None:
    for found in decided(answers):
        others = [each for each in found.weighing.options if each.action != REPAIR]
        rival = min(others, key=lambda each: each.present_cost)
        if rival.action == REPLACE and not math.isnan(found.weighing.quoted):
            assert found.measures.net_saving == pytest.approx(-found.weighing.advantage, abs=1e-6)


def test_a_dearer_quote_never_leans_back_to_repairing(answers: list[Answer]) -> None:
    order = {CLEAR: 0, LEANING: 1, CLOSE: 2}
    for at in range(0, len(answers), len(SHARES_OF_LIMIT) + 1):
        quoted = answers[at + 1 : at + 1 + len(SHARES_OF_LIMIT)]
        ranks = [
            order[each.verdict.state] if each.verdict.act == REPAIR else 5 - order[each.verdict.state]
            for each in quoted
        ]  # fmt: skip
        assert ranks == sorted(ranks)
        limits = [each.weighing.repair_limit for each in quoted]
        assert np.ptp(limits) < 1e-6 * quoted[0].decision.cost_of_new


@pytest.mark.parametrize("times", [1.2, 2.0, 4.0])
def test_a_close_call_between_two_other_acts_does_not_say_that_repairing_costs_the_same(times: float) -> None:
    """Living with the fault, or another: at a quote far above the limit repairing is no part of the close call."""
    entries = {
        "appliance": {"class": "dishwasher", "age": 5},
        "household": {"place": "DE"},
        "leave": {"annual_loss_of_use": 90},
    }
    limit = answer(entries).weighing.repair_limit
    found = answer({**entries, "repair": {"quote": round(times * limit)}})
    assert found.close
    assert found.verdict.share_by_act[REPAIR] < 0.1
    acts = dict(zip(found.decision.names, found.decision.acts, strict=True))
    assert {found.verdict.act, acts[found.verdict.second or ""]} == {"replace", "leave"}
    text = words_of(found).headline(found)
    assert "to repair, or" not in text
    assert "living with it" in text.lower()


def test_saying_what_is_taken_anyway_moves_no_number() -> None:
    """The page at the door says a condition that is usual; a file leaves it out. Both are one case."""
    entries = {"appliance": {"class": "furnace_gas", "age": 14}, "household": {"place": "US"}}
    plain = answer({**entries, "repair": {"quote": 900}})
    said = answer({**entries, "repair": {"quote": 900, "remaining_life_factor": 1.0}})
    assert said.weighing.repair_limit == pytest.approx(plain.weighing.repair_limit)
    assert said.verdict.share_by_act == pytest.approx(plain.verdict.share_by_act)


@pytest.mark.parametrize("rate", [0.005, 0.01, 0.02])
def test_a_low_rate_is_answered_though_growth_may_come_out_above_it(rate: float) -> None:
    """Ranges that nobody entered must never refuse a case that can be weighed as it stands."""
    household = {"place": "US", "rate": rate}
    found = answer(
        {"appliance": {"class": "clothes_washer", "age": 8}, "household": household, "repair": {"quote": 150}}
    )
    assert math.isfinite(found.weighing.repair_limit)


CASH = [
    ("water_heater_gas", "US-TX", 10, 1500, 1600),
    ("refrigerator", "DE", 14, 600, 650),
    ("furnace_gas", "US", 20, 3900, 4000),
]


def of_cash(kind: str, place: str, age: int, quote: float | None, most: float) -> Answer:
    unit = {"class": kind, "age": age, "warranty_left": 0}  # nobody is asked first
    entries = {"appliance": unit, "household": {"place": place, "most_today": most}}
    return answer(entries if quote is None else {**entries, "repair": {"quote": quote}})


@pytest.mark.parametrize("case", CASH)
@pytest.mark.parametrize("language", ["en", "es"])
def test_a_repair_that_is_all_that_can_be_paid_for_is_not_compared_with_what_cannot(
    case: tuple[str, str, int, float, float], language: str
) -> None:
    kind, place, age, quote, most = case
    found, free = of_cash(*case), of_cash(kind, place, age, quote, 1e6)
    assert free.verdict.act == REPLACE, "the case shows nothing"
    verdict, decision = found.verdict, found.decision
    assert (verdict.act, verdict.state, verdict.second) == (REPAIR, CLEAR, None)
    assert verdict.share_by_act == {REPAIR: 1.0}
    assert verdict.expected_loss == 0
    assert found.weighing.repair_limit == pytest.approx(most)
    assert decision.limit_range == pytest.approx((most, most))
    assert decision.zones.beyond == pytest.approx((0, 0, 0, 0))
    words, first = Words.for_place(place, language), {"en": "Only a repair", "es": "solo alcanza"}[language]
    assert words.verdict(found) == words.say("verdict.repair")
    text = words.headline(found)
    assert first in text
    printed = [words.money(each) for each in (most, found.weighing.cost_of_cash)]
    assert all(each in text for each in printed), text
    assert not re.search(r"worth about|tests|vale unos|pruebas", text)
    assert not re.search(r"cheaper in|tests", " ".join(confidence_text(words, found, found.confidence)))
    assert [row.note for row in words.options(found) if row.note.startswith("left out")] or language == "es"
    data = as_data(found)
    assert (data["verdict"], data["state"], data["second"]) == (REPAIR, CLEAR, None)


@pytest.mark.parametrize("case", CASH)
def test_where_nothing_can_be_paid_the_headline_is_no_verdict(case: tuple[str, str, int, float, float]) -> None:
    kind, place, age, quote, _ = case
    found = of_cash(kind, place, age, quote, 60)
    for language, lead in (("en", "More than "), ("es", "Más de lo que se puede pagar hoy con ")):
        assert Words.for_place(place, language).verdict(found).startswith(lead)
    assert not any(card.best for card in first_layer(words_of(found), found).cards)


@pytest.mark.parametrize("case", CASH)
def test_without_a_quote_the_limit_is_no_higher_than_what_can_be_paid(
    case: tuple[str, str, int, float, float],
) -> None:
    kind, place, age, _, most = case
    for cash in (most, 100):
        found = of_cash(kind, place, age, None, cash)
        words, limit = words_of(found), found.weighing.repair_limit
        assert limit <= cash + 0.01
        shown = words.money(limit)
        assert words.verdict(found) == words.say("verdict.up_to", limit=shown)
        assert words.headline(found).startswith("Only a repair can be paid for with ")
        assert found.decision.limit_range[1] <= cash + 0.01
        assert as_data(found)["state"] is None


PAID = [
    {"household": {"place": "US"}},
    {"household": {"place": "DE", "study_period": 6}},
    {"household": {"place": "US", "study_period": 2.5, "at_end": "sell"}},
    {"household": {"place": "US"}, "replace": [{"pays": "instalments"}]},
    {"household": {"place": "US"}, "repair": {"quote": 401, "pays": "card"}, "replace": [{"pays": "card"}]},
]


@pytest.mark.parametrize("more", PAID)
@pytest.mark.parametrize("kind", ["refrigerator", "clothes_washer"])
def test_what_will_have_been_paid_is_one_line_on_every_surface_and_starts_with_the_bill(
    kind: str, more: dict[str, dict[str, object]]
) -> None:
    there = {"class": kind, "age": 9, **({"fault": "compressor_start"} if kind == "refrigerator" else {})}
    found = answer({"appliance": there, "repair": {"quote": 401}, **more})
    paid, told = paid_of(words_of(found), found), as_data(found)["paid_by_year"]
    assert paid is not None
    costs = found.weighing.options
    for line, name in zip(paid.lines, (found.case.repair.name, rival_of(found).name), strict=True):
        shared = min(len(line), len(told[name]))
        assert shared > 2
        assert told[name][:shared] == pytest.approx(line[:shared])
    for cost in costs:
        lent = -float(paid_today(found.case, cost.option)["financed"])
        assert told[cost.name][0] == pytest.approx(found.bill(cost.option) - lent)
    # who pays later pays interest, which inflation may eat up in part
    assert all(np.all(np.diff(line) >= 0) for line in paid.lines)
    before = answer({"appliance": there, "repair": {"quote": 401}, "household": more["household"]})
    if more.get("replace"):
        at_once, later = (each.paid(each.weighing.options[1]) for each in (before, found))
        assert later[0] < 1
        assert later[1] < at_once[1]
        assert later[3] == pytest.approx(at_once[3], rel=0.2)
        assert "pay it back" in paid_text(words_of(found), paid)
    if kind == "refrigerator":
        assert "Lost food counts in year 1." in paid_text(words_of(found), paid)


@pytest.mark.parametrize("more", PAID)
def test_why_names_the_bill_of_today_as_the_cards_do(more: dict[str, dict[str, object]]) -> None:
    there = {"class": "refrigerator", "age": 9, "fault": "compressor_start"}
    found = answer({"appliance": there, "repair": {"quote": 401}, **more})
    words, rival = words_of(found), rival_of(found)
    shown = words.money(found.bill(rival.option))
    assert any(f"{shown} today" in sentence for sentence in words.because(found))
    assert any(shown in card.values for card in first_layer(words, found).cards)
