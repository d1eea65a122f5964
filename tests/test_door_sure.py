"""What the page at the door says of how sure the answer is, against the model."""

from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, texts
from streamlit.testing.v1 import AppTest

from decide.answers.answer import answer
from decide.answers.confidence import breakeven_of, outcome_distribution_of, ready_paths
from decide.load.cases.case_file import Entries, write_case
from decide.show.screens.state.session import FIRST_CASE
from decide.show.text.certainty import (
    breakeven_row,
    confidence_text,
    limit_text,
    outcome_distribution_text,
    worth_finding,
)
from decide.show.text.report import HOUSEHOLDS, LONGEST_STAY
from decide.show.text.words import Words

# Invented.
FURNACE: Entries = {
    "appliance": {"class": "furnace_gas", "age": 14.0, "fault": "blower"},
    "household": {"place": "US"},
    "repair": {"quote": 2_500.0, "remaining_life_factor": 1.0},  # as the page enters it
}
DISHWASHER: Entries = {
    "appliance": {"class": "dishwasher", "age": 6.0, "fault": "other"},
    "household": {"place": "DE", "study_period": 4.0},
    "repair": {"quote": 180.0, "remaining_life_factor": 1.0},
}
TANK: Entries = {
    "appliance": {"class": "water_heater_gas", "age": 9.0, "fault": "tank_leak"},
    "household": {"place": "US"},
    "repair": {"quote": 90.0},
}


def page_with(entries: Entries, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, **state: Any) -> AppTest:
    case = tmp_path / "case.toml"
    case.write_text(write_case(entries), "utf-8")
    monkeypatch.setenv(FIRST_CASE, str(case))
    page = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60).run()
    for name, value in state.items():
        page.session_state[name] = value
    if state:
        page.run()
    assert not page.exception
    return page


def test_the_page_says_what_the_model_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sentences = texts(page_with(FURNACE, tmp_path, monkeypatch, section="why"))
    found, words = answer(FURNACE), Words.of()
    assert set(confidence_text(words, found, found.confidence)) <= set(sentences)
    named = worth_finding(words, found.confidence)
    assert named
    assert {text for each in named for text in (each.label, each.text)} <= set(sentences)
    for path in ready_paths(found)[:-1]:
        row = breakeven_row(words, found, breakeven_of(found.case, path))
        assert {row.label, row.text} <= set(sentences)


def test_what_takes_long_waits_for_a_tap(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    found, words = answer(FURNACE), Words.of()
    later = [outcome_distribution_text(words, found, outcome_distribution_of(found, HOUSEHOLDS))]
    later.append(breakeven_row(words, found, breakeven_of(found.case, "household.study_period", LONGEST_STAY)).text)
    before = texts(page_with(FURNACE, tmp_path, monkeypatch))
    opened = texts(page_with(FURNACE, tmp_path, monkeypatch, section="more"))
    assert not set(later) & set(before)
    assert set(later) <= set(opened)


def test_over_a_study_period_it_is_told_at_once_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    found, words = answer(DISHWASHER), Words.for_entries(DISHWASHER)
    assert set(confidence_text(words, found, found.confidence)) <= set(
        texts(page_with(DISHWASHER, tmp_path, monkeypatch, section="why"))
    )


def test_without_a_quote_the_page_tells_the_spread_of_the_limit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    entries = {**FURNACE, "repair": {"remaining_life_factor": 1.0}}
    found = answer(entries)
    expected = limit_text(Words.of(), *found.decision.limit_range)
    sentences = texts(page_with(entries, tmp_path, monkeypatch, section="why"))
    assert set(expected) <= set(sentences)


def test_a_repair_that_is_ruled_out_has_no_such_section(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page = page_with(TANK, tmp_path, monkeypatch, section="why")
    assert "How sure is this?" not in texts(page)


def test_what_an_old_case_said_of_later_failures_is_left_out_and_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = {**FURNACE, "household": {"place": "US", "next_failure": "decided again"}}
    sentences = texts(page_with(old, tmp_path, monkeypatch))
    assert Words.of().headline(answer(FURNACE)) in sentences
    assert "household.next_failure is no entry any more: it was left out." in sentences
