"""What waiting a year does, and how much more a year a new one must be worth, against cases that say so themselves."""

import dataclasses
import json
import re
from pathlib import Path

import pytest
from commands import run

from decide.answers.answer import answer
from decide.economics.weigh import weigh
from decide.show.text.report import SECTIONS, first_layer
from decide.show.text.ruler import about
from decide.show.text.words import Words


def asked(kind: str, age: float, quote: float | None, place: str = "US", **home: object) -> dict:
    entries = {"appliance": {"class": kind, "age": age}, "household": {"place": place, "today": "2026-11-30", **home}}
    return entries if quote is None else {**entries, "repair": {"quote": quote}}


CASES = [
    ("refrigerator", 4, 200, "US"), ("refrigerator", 16, 300, "US"), ("clothes_washer", 9, 250, "DE"),
    ("boiler_gas", 14, 900, "RO"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "age", "quote", "place"), CASES)
def test_at_that_worth_a_year_the_two_ways_cost_the_same(kind: str, age: float, quote: float, place: str) -> None:
    found = answer(asked(kind, age, quote, place))
    worth = found.worth_more_a_year
    assert (worth > 0) == (found.weighing.advantage > 0)
    # the same case as it stands, whose owner says that the mended one is worth so much less a year; a negative worth is
    # one of the mended unit, so its limit rises
    plain = weigh(found.case)
    options = (
        dataclasses.replace(each, annual_loss_of_use=abs(worth)) if each.action == "repair" else each
        for each in found.case.options
    )
    moved = weigh(dataclasses.replace(found.case, options=tuple(options)))
    change = plain.repair_limit - moved.repair_limit
    assert change == pytest.approx(abs(found.weighing.advantage), rel=1e-6)


def test_it_falls_with_the_quote_and_years_left_make_it_dear() -> None:
    cheap, dear = (answer(asked("refrigerator", 4, quote)).worth_more_a_year for quote in (100, 400))
    old = answer(asked("refrigerator", 16, 100)).worth_more_a_year
    assert cheap > dear
    assert cheap < answer(asked("refrigerator", 4, 100)).weighing.advantage  # a year is less than all years
    young = answer(asked("refrigerator", 4, 100))
    assert young.weighing.advantage / cheap > answer(asked("refrigerator", 16, 100)).weighing.advantage / old


def test_waiting_is_a_plan_of_one_year() -> None:
    entries = asked("clothes_dryer_electric", 12, 260, "DE")
    found = answer(entries)
    planned = weigh(answer({**entries, "repair": {"quote": 260, "planned_replacement_years": 1}}).case)
    new = min(cost.present_cost for cost in planned.options if cost.action == "replace")
    ((name, waiting),) = found.wait_a_year.items()
    assert name == "Repair it"
    assert waiting == pytest.approx(planned.repair.present_cost - new, abs=1e-9)


def test_an_old_unit_that_still_works_is_cheap_to_wait_with() -> None:
    entries, name = asked("dishwasher", 8, 150), "Leave it as it is"
    little, much = (answer({**entries, "leave": {"annual_loss_of_use": loss}}).wait_a_year[name] for loss in (10, 900))
    assert little < 0 < much


def test_no_quote_and_a_short_stay_have_none() -> None:
    assert answer(asked("dishwasher", 8, None)).wait_a_year == {}
    assert answer(asked("dishwasher", 8, 150, study_period=0.5)).wait_a_year == {}


def test_json_has_both(tmp_path: Path) -> None:
    case = tmp_path / "c.toml"
    case.write_text('[appliance]\nclass = "dishwasher"\nage = 6\n[repair]\nquote = 150\n')
    data = json.loads(run("weigh", str(case), "--json").output)
    assert set(data["wait_a_year"]) == {"Repair it"}
    assert data["worth_more_a_year"] > 0
    bare = tmp_path / "b.toml"
    bare.write_text('[appliance]\nclass = "dishwasher"\nage = 6\n')
    data = json.loads(run("weigh", str(bare), "--json").output)
    assert data["wait_a_year"] == {}
    assert data["worth_more_a_year"] is None


@pytest.mark.parametrize(("language", "wait", "worth"), [
    ("en", "Repair it and buy in a year: about", "more a year to you than"),
    ("es", "Reparar y comprar dentro de un año: unos", "más al año que"),
])  # fmt: skip
def test_every_surface_says_both(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, language: str, wait: str, worth: str
) -> None:
    case = tmp_path / "c.toml"
    case.write_text('[appliance]\nclass = "dishwasher"\nage = 6\n[repair]\nquote = 150\n')
    monkeypatch.setenv("MENDPOINT_LANGUAGE", language)
    found, words = (
        answer({"appliance": {"class": "dishwasher", "age": 6}, "repair": {"quote": 150}}),
        Words.of(language),
    )
    page = " ".join(sentence for piece in SECTIONS["more"](words, found) for sentence in piece.sentences)
    terminal = " ".join(run("weigh", str(case), "--all").output.split())
    for text in (page, terminal):
        assert wait in text
        assert worth in text
        (amount,) = re.findall(re.escape(wait) + r" \$([\d,]+)", text)
        assert int(amount.replace(",", "")) == about(abs(found.wait_a_year["Repair it"]))


def test_an_old_unit_has_fewer_bills_because_it_ends_and_that_is_said() -> None:
    """A refrigerator of one and a half lives seemed to be better off than one of half a life."""
    shares = []
    for age in (9, 26):
        found = answer(asked("refrigerator", age, 300))
        words = Words.of("en")
        (bills,) = (piece for piece in SECTIONS["more"](words, found) if piece.head == "Repair bills to come")
        assert "it ends the unit" in bills.small[0]
        assert [row[0] for row in bills.table[1:3]] == ["Repair: another repair bill", "Repair: or it ends"]
        shares.append((found.another_bill[0].within_5, found.chance_it_ends(found.case.repair, 5)))
        assert words.odds(shares[-1][1]) == bills.table[2][3]
        assert "Another repair bill in 2 years" in first_layer(words, found).labels
    (young_bill, young_end), (old_bill, old_end) = shares
    assert old_bill < young_bill
    assert old_end > young_end
    assert old_bill + old_end > young_bill + young_end
