"""Two repairs of one fault: each is weighed as a case of its own, and what one saves is what independent draws say."""

import json
import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from decide.answers.answer import Answer, answer
from decide.economics.case import REPAIR
from decide.economics.uncertainty import varied
from decide.economics.weigh import weigh
from decide.errors import CaseError, EntryErrors
from decide.load.cases.case_file import Entries, parse_case, write_case
from decide.load.cases.filled import Filled
from decide.load.cases.ranges import ranges_of
from decide.load.cases.scenarios import with_second_repair
from decide.show.pdf.logo import Shop
from decide.show.pdf.sheet import sheet_of, sheet_text
from decide.show.screens.state.entry import fields_of, question_of
from decide.show.terminal.as_json import as_json
from decide.show.text.report import first_layer
from decide.show.text.words import Words

REBUILT: Entries = {"quote": 180.0, "repair_warranty": 30.0, "repair_success_probability": 0.8}
NEW_PART: Entries = {
    "name": "New board",
    "quote": 260.0,
    "repair_warranty": 365.0,
    "repair_success_probability": 0.97,
    "remaining_life_factor": 1.0,
}
WASHER: Entries = {
    "appliance": {"class": "clothes_washer", "age": 6.0, "fault": "control_board"},
    "household": {"place": "US"},
    "repair": REBUILT,
    "second_repair": NEW_PART,
}
"""Invented."""


def mean_costs(found: Answer, seed: int, draws: int) -> tuple[float, float]:
    """Mean cost of repairing and of the best other way, and nothing of our own points: plain independent draws."""
    rng, ranges = np.random.default_rng(seed), ranges_of(Filled(**{k: getattr(found, k) for k in vars_of(found)}))
    drawn = [each.at(rng.random(draws)) for each in ranges]
    weighed = weigh(varied(found.case, ranges, drawn))
    costs = {cost.name: float(np.mean(cost.present_cost)) for cost in weighed.options}
    repair = costs.pop(found.case.repair.name)
    named = {option.name for option in found.case.options}
    return repair, min(cost for name, cost in costs.items() if name in named)


def vars_of(found: Answer) -> list[str]:
    return [name for name in vars(found) if name in Filled.__dataclass_fields__]


@pytest.mark.slow
@pytest.mark.parametrize("fault", ["control_board", "drain_pump"])
def test_what_the_second_saves_is_the_difference_of_mean_costs_over_independent_draws(fault: str) -> None:
    found = answer({**WASHER, "appliance": {**WASHER["appliance"], "fault": fault}})
    assert found.second is not None
    first, other = mean_costs(found, 7, 20_000)
    second, same = mean_costs(found.second, 7, 20_000)
    assert found.second_saves == pytest.approx(first - second, abs=6)
    assert found.weighing.repair_limit == pytest.approx(other - first + 180, abs=25)
    assert found.second.weighing.repair_limit == pytest.approx(same - second + 260, abs=25)


def test_the_first_answer_is_that_of_the_case_without_the_second() -> None:
    found, alone = answer(WASHER), answer({k: v for k, v in WASHER.items() if k != "second_repair"})
    assert (found.weighing, found.verdict) == (alone.weighing, alone.verdict)
    assert alone.second is None
    assert math.isnan(alone.second_saves)


def test_the_second_is_the_same_case_with_its_own_entries() -> None:
    by_hand = answer({**{k: v for k, v in WASHER.items() if k != "second_repair"}, "repair": NEW_PART})
    second = answer(WASHER).second
    assert second is not None
    assert second.weighing == by_hand.weighing
    assert second.second is None


def test_twice_the_same_repair_saves_nothing_and_fees_stand_beside_either_quote() -> None:
    fees = {"amount": 180.0, "fee_credit": 60.0, "fee_if_declined": 60.0}
    merged = with_second_repair({**WASHER, "repair": {**REBUILT, "quote": fees}, "second_repair": {"quote": 180.0}})
    assert merged is not None
    assert merged["repair"]["quote"] == fees
    found = answer({**WASHER, "second_repair": {"quote": 180.0}})
    assert found.second_saves == pytest.approx(0, abs=1e-9)
    both = first_layer(Words.of(), found).both
    assert "less in the long run" not in both
    assert "Both cost about the same in the long run." in both


def test_the_row_names_the_cheaper_one_with_both_limits_on_every_surface() -> None:
    found, words = answer(WASHER), Words.of()
    row = first_layer(words, found).both
    assert row.startswith("First repair, $180: repair it, worth about $")
    assert "New board, $260: repair it, worth about $" in row
    cheaper = "New board" if found.second_saves > 0 else "First repair"
    assert f"“{cheaper}” costs about $" in row
    told = json.loads(as_json(found))["second_repair"]
    assert (told["name"], told["quoted"]) == ("New board", 260.0)
    assert told["saves"] == pytest.approx(found.second_saves)
    assert found.second is not None
    assert told["repair_limit"] == found.second.weighing.repair_limit
    sheet = sheet_of(words, found, on=found.today, shop=Shop())
    assert row in sheet_text(words, sheet)
    assert "New board" in sheet.boxes
    assert json.loads(as_json(answer({**WASHER, "second_repair": {"quote": 900.0}})))["second_repair"]["saves"] < -500


GRID = [
    (language, place, kind, age, first, second, more)
    for language, place in (("en", "US"), ("es", "DE"))
    for kind, age in (("clothes_washer", 9.0), ("refrigerator", 12.0), ("dishwasher", 0.5))
    for first, second in ((90.0, 700.0), (700.0, 90.0), (280.0, 300.0), (300.0, 280.0), (None, 350.0), (40.0, 400.0))
    for more in ({}, {"most_today": 295.0}, {"study_period": 2.0})
][::2]


@pytest.mark.parametrize(
    ("language", "place", "kind", "age", "first", "second", "more"),
    [pytest.param(*each, marks=[pytest.mark.slow] * (index % 4 > 0)) for index, each in enumerate(GRID)],
)
def test_no_two_sentences_about_two_repairs_argue(
    language: str, place: str, kind: str, age: float, first: float | None, second: float, more: dict[str, float]
) -> None:
    """Verdict, state, worth and which costs less are each repair's own, under its name, on every surface."""
    entries: Entries = {
        "appliance": {"class": kind, "age": age, "fault": "control_board"},
        "household": {"place": place, **more},
        "repair": {"repair_success_probability": 0.8, **({} if first is None else {"quote": first})},
        "second_repair": {"name": "New board", "quote": second, "repair_success_probability": 0.97},
    }
    found, words = answer(entries), Words.for_place(place, language)
    alike = {key: value for key, value in entries.items() if key != "second_repair"}
    by_hand = [answer(alike), answer({**alike, "repair": entries["second_repair"]})]
    named, layer = (words.say("second.first"), "New board"), first_layer(words, found)
    rows = re.split(r"(?<=\.) ", layer.both.replace("\xa0", " "))
    acts = [words.verdict(alone) for alone in by_hand]
    small = [act[:1].lower() + act[1:] for act in acts]
    assert layer.verdict == f"{named[0]}: {small[0]}"
    for name, alone, act, row in zip(named, by_hand, small, rows, strict=False):
        assert row.startswith(f"{name}, ")
        assert f": {act}".replace("\xa0", " ") in row
        states = {state: words.say(f"verdict.{state}").lower() for state in ("close", "leaning_repair", "repair")}
        if alone.close and not (alone.unpayable or alone.claim):
            assert f": {states['close']}" in row
        worth = re.search(r"(?:about|unos) (\S+(?: €)?)\.$", row)
        said = " ".join(words.sentences(alone)).replace("\xa0", " ")
        if worth is not None and not alone.undecided:
            assert worth.group(1) in said, (row, said)
        if not alone.undecided:
            assert bool(worth) == bool(re.search(r"is worth|reparación vale", said)), (row, said)
    gains = [words.say("second.less", name=name, amount="@").partition("@")[0] for name in named]
    less = [any(gain.replace("\xa0", " ") in row for row in rows) for gain in gains]
    if math.isnan(found.second_saves) or found.claim:
        assert less == [False, False]
    elif max(*less):
        costs = [min(cost.present_cost for cost in each.weighing.options if cost.action == REPAIR) for each in by_hand]
        assert less == [costs[0] < costs[1], costs[1] < costs[0]]
    else:
        assert rows[2] == words.say("second.same")
        assert abs(found.second_saves) < 60
    # of the whole page: the answer of the first without its name is nowhere, nor a word that both repairs could be
    for text in (layer.verdict, *layer.sentences, *rows, words.message(found)):
        assert not any(text.startswith(act) for act in acts), text
        assert "Either is fine" not in text
        assert words.say("sure.cheaper", name=words.say("card.repair"), share="@").partition("@")[0] not in text
        assert ".." not in text
    assert {*rows[:2]} <= {*re.split(r"(?<=\.) ", words.message(found).replace("\xa0", " "))}
    assert layer.cards[0].name == named[0]
    sheet = sheet_of(words, found, on=found.today, shop=Shop())
    assert {*named} <= {*sheet.boxes}


def test_the_grid_of_two_repairs_has_every_state() -> None:
    states = set()
    for _, place, kind, age, first, second, more in GRID[: len(GRID) // 2]:
        unit = {"class": kind, "age": age, "fault": "control_board"}
        for quote in (first, second):
            repair = {} if quote is None else {"repair": {"quote": quote}}
            alone = answer({"appliance": unit, "household": {"place": place, **more}, **repair})
            states |= {name for name in ("undecided", "unpayable", "claim") if getattr(alone, name)}
            states |= set() if alone.undecided else {alone.verdict.state}
    assert states == {"claim", "undecided", "unpayable", "clear", "leaning", "close"}


def test_a_second_repair_far_too_dear_says_what_to_do_with_it() -> None:
    row = first_layer(Words.of(), answer({**WASHER, "second_repair": {"quote": 2_000.0}})).both
    assert "Second repair, $2,000: replace it, worth about $" in row


@pytest.mark.parametrize(
    ("second", "field"),
    [
        ({"quote": -1.0}, "second_repair.quote"),
        ({"quote": 200.0, "repair_warranty": 9_999.0}, "second_repair.repair_warranty"),
        ({"quote": 200.0, "warranti": 1.0}, "second_repair.warranti"),
        ({"repair_warranty": 90.0}, "second_repair.quote"),
        ("250", "second_repair"),
    ],
)
def test_what_cannot_be_used_of_it_is_told_at_its_own_entry(second: Any, field: str) -> None:
    with pytest.raises(CaseError) as raised:
        answer({**WASHER, "second_repair": second})
    errors = raised.value.errors if isinstance(raised.value, EntryErrors) else (raised.value,)
    assert [error.field for error in errors] == [field]
    assert field in str(raised.value)


def test_no_second_repair_is_weighed_in_a_what_if() -> None:
    entries = {**WASHER, "scenario": [{"name": "dear", "times": {"replace.price": 1.2}}]}
    assert with_second_repair(entries).keys().isdisjoint({"scenario", "second_repair"})  # type: ignore[union-attr]


def test_it_is_typed_at_the_door_kept_in_the_case_and_opened_again() -> None:
    words = Words.for_place("US")
    fields = {**fields_of({k: v for k, v in WASHER.items() if k != "second_repair"}), "other_warranty": "365"}
    half = question_of(fields, {}, words)
    assert "second_repair" not in half.entries
    assert half.missing["second_repair"] == ("other_quote",)
    typed = question_of({**fields, "other_quote": "260", "other_holds": "97"}, {}, words)
    assert not typed.errors
    held = {"quote": 260.0, "repair_warranty": 365.0, "repair_success_probability": 0.97}
    assert typed.entries["second_repair"] == held
    opened = parse_case(write_case(typed.entries).encode(), "case.toml")
    assert question_of(fields_of(opened), opened, words).entries["second_repair"] == held
    cleared = question_of(
        {**fields_of(opened), "other_quote": "", "other_warranty": "", "other_holds": ""}, opened, words
    )
    assert "second_repair" not in cleared.entries
    built = {**opened, "second_repair": {"quote": {"parts": 90.0, "trip": 60.0}}}
    assert question_of(fields_of(built), built, words).entries["second_repair"] == built["second_repair"]
    (error,) = question_of({**fields, "other_quote": "-3"}, {}, words).errors
    assert error.field == "second_repair.quote"


def test_nothing_is_said_of_two_repairs_where_the_use_must_stop(tmp_path: Path) -> None:
    leak = {"class": "water_heater_gas", "age": 9.0, "fault": "gas_leak"}
    assert first_layer(Words.of(), answer({**WASHER, "appliance": leak})).both == ""
