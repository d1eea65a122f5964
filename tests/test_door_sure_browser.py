"""How sure the answer is, on the page in a real browser: said in full, charts drawn, nothing cut off."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import at_rest, served
from playwright.sync_api import expect

from decide.answers.answer import answer
from decide.load.cases.case_file import Entries, write_case
from decide.show.text.certainty import confidence_text
from decide.show.text.words import Words

pytestmark = pytest.mark.browser

# Common practice, no source: 44 CSS pixels is the size that a thumb hits.
THUMB = 44

# Invented.
FURNACE: Entries = {
    "appliance": {"class": "furnace_gas", "age": 14.0, "fault": "blower"},
    "household": {"place": "US"},
    "repair": {"quote": 2_500.0},
}


def test_how_sure_can_be_read_and_opened_on_any_screen(opened: Callable[[str], Any], tmp_path: Path) -> None:
    case = tmp_path / "case.toml"
    case.write_text(write_case(FURNACE), "utf-8")
    found, words = answer(FURNACE), Words.of()
    with served(tmp_path, case) as url:
        page = opened(url)
        first = confidence_text(words, found, found.confidence)[0]
        for button in at_rest(page).locator(".st-key-section button").all():
            assert button.bounding_box()["height"] >= THUMB
        page.locator(".st-key-section").get_by_role("radio", name="Why", exact=True).click()
        expect(page.get_by_text(first, exact=True)).to_be_visible()
        expect(page.locator(".st-key-breakeven .main-svg").first).to_be_visible()
        expect(page.get_by_text("What moves it most", exact=True)).to_be_visible()
        scrolled = "Math.max(...['html', '[data-testid=stMain]'].map(s => document.querySelector(s).scrollWidth))"
        assert page.evaluate(scrolled) <= page.evaluate("innerWidth")
        # no label of a chart reaches beyond the chart
        cut = """() => [...document.querySelectorAll('.st-key-breakeven .annotation-text')]
            .filter(e => e.getBoundingClientRect().right > e.closest('.js-plotly-plot').getBoundingClientRect().right)
            .map(e => e.textContent)"""
        assert page.evaluate(cut) == []
        page.close()
