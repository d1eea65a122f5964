"""The page at home in a real browser, on a phone and on a desk: from an empty page to the hand-out, step by step."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import PHONE, at_rest
from playwright.sync_api import Page, expect
from test_door_browser import MEASURE, THUMB, TOUCHED

from decide.answers.answer import answer
from decide.show.text.words import Words

pytestmark = pytest.mark.browser

ENTRIES = {
    "appliance": {"class": "refrigerator", "age": 12.0},
    "household": {"place": "US", "study_period": 6.0},
    "repair": {"quote": 185.0, "remaining_life_factor": 1.0},
}

HIT = TOUCHED.replace("input:not([type=file])", "input:not([type=file], [role=switch]), label:has([role=switch])")
"""A switch is hit on its label."""

SIDEWAYS = """() => [
    ...['html', '[data-testid=stMain]'].map(s => document.querySelector(s)).filter(e => e.scrollWidth > innerWidth),
    ...[...document.querySelectorAll(
        '[data-testid=stText], [data-testid=stHtml] > *, [data-testid=stMarkdown], .main-svg, img')]
        .filter(e => e.getBoundingClientRect().right > innerWidth + 0.5),
].map(e => e.outerHTML.slice(0, 160))"""


TWICE = {"viewport": {"width": 195, "height": 422}, "device_scale_factor": 4, "is_mobile": True, "has_touch": True}
"""A phone of 390 by 844 whose owner has made all of it twice as large."""

BEYOND = """() => [...document.querySelectorAll('input, button, a, p, label, h1, h2, h3, [role=radio], [role=group]')]
    .filter(e => e.offsetParent && !e.closest('.skip, .heard') && e.getBoundingClientRect().right > innerWidth + 0.5)
    .map(e => e.outerHTML.slice(0, 160))"""
"""What reaches beyond the right edge."""


def at_step(page: Page, step: int, heading: str) -> None:
    """The step is drawn, stands at its top, fits, and all of it that is touched has room for a thumb."""
    expect(page.locator(".st-key-thumb_says, .st-key-thumb_stop")).to_contain_text(f"Step {step} of 6")
    expect(page.get_by_role("heading", name=heading)).to_be_in_viewport()
    at_rest(page)
    assert page.evaluate(SIDEWAYS) == []
    assert [entry for entry in page.evaluate(MEASURE, HIT) if entry[1] < THUMB] == []


@pytest.mark.parametrize("screen", [TWICE], indirect=True, ids=["twice"])
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("place", ["door?", "home?step=3&", "home?step=6&", "shop?"])
def test_twice_as_large_nothing_lies_beyond_the_edge(
    site: str, opened: Callable[[str], Any], place: str, language: str
) -> None:
    filled = "kind=refrigerator&age=12&fault=compressor&quote=401&place=US"
    page = opened(f"{site}/{place}{filled}&language={language}")
    expect(page.locator(".st-key-language_choice button")).to_be_visible()
    expect(page.locator("h1")).to_be_visible()
    at_rest(page)
    assert page.evaluate(SIDEWAYS) == []
    assert page.evaluate(BEYOND) == []
    bar = page.locator("[data-testid=stBottomBlockContainer]")
    if bar.count():
        assert bar.bounding_box()["height"] <= 422 / 2


@pytest.mark.parametrize("screen", [PHONE], indirect=True, ids=["phone"])
@pytest.mark.parametrize("language", ["en", "es"])
def test_the_bar_at_the_thumb_has_room_for_its_words(site: str, opened: Callable[[str], Any], language: str) -> None:
    filled = "kind=refrigerator&age=12&fault=compressor&quote=401&place=US"
    page = opened(f"{site}/home?step=6&{filled}&language={language}")
    bar = page.locator(".st-key-thumb")
    expect(bar.locator(".st-key-give button")).to_be_visible()
    at_rest(page)
    assert all(
        bar.locator("button, p").evaluate_all("all => all.map(e => e.getBoundingClientRect().right < innerWidth)")
    )
    assert bar.bounding_box()["height"] < 80


def go_on(page: Page) -> None:
    button = at_rest(page).get_by_role("button", name="Next")
    expect(button).to_be_in_viewport()
    button.click()


def test_from_an_empty_page_to_the_hand_out_with_a_reload_on_the_way(
    site: str, opened: Callable[[str], Any], tmp_path: Path
) -> None:
    page = opened(f"{site}/home")
    expect(page.get_by_role("button", name="Next")).to_be_disabled()
    at_rest(page).get_by_role("radio", name="Cooling").click()
    at_rest(page).get_by_role("radio", name="Refrigerator-freezer").click()
    at_rest(page).get_by_role("radio", name="Fridge and freezer are warm").click()
    at_step(page, 1, "What is wrong?")

    go_on(page)
    at_step(page, 2, "What you can check yourself")
    at_rest(page).get_by_role("button", name="Not it").first.click()
    expect(page.get_by_text("Ruled out:")).to_be_visible()
    page.wait_for_url("**out=**")

    page.reload()
    expect(page.get_by_text("Ruled out:")).to_be_visible()
    go_on(page)
    page.get_by_label("Age, or year made", exact=True).fill("12")
    at_rest(page)
    at_rest(page).get_by_role("radio", name="Its label").click()
    expect(page.locator(".st-key-label_picture img")).to_be_visible()
    at_step(page, 3, "How old is it")
    at_rest(page).get_by_role("radio", name="I don't know", exact=True).click()
    expect(page.get_by_text("usual is")).to_be_visible()

    go_on(page)
    page.get_by_label("How many years will you stay?").fill("6")
    at_rest(page)
    at_step(page, 4, "Where, and for how long?")

    go_on(page)
    page.get_by_label("What were you asked to pay").fill("185")
    at_rest(page)
    at_step(page, 5, "Do you have a quote?")

    go_on(page)
    words, expected = Words.of(region="US"), answer(ENTRIES)
    expect(page.locator(".headline")).to_have_text(words.headline(expected))
    expect(page.locator("svg.ruler")).to_be_visible()
    at_step(page, 6, "The answer")
    with page.expect_download() as download:
        at_rest(page).get_by_role("button", name="One page (PDF)").click()
    paper = tmp_path / "paper.pdf"
    download.value.save_as(paper)
    assert paper.read_bytes().startswith(b"%PDF")

    back = page.locator(".st-key-to_4 button")
    back.click()
    expect(page.get_by_label("How many years will you stay?")).to_have_value("6")


def test_a_danger_fills_the_screen_and_the_way_to_the_door_keeps_all(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(f"{site}/home")
    at_rest(page).get_by_role("radio", name="Heating").click()
    at_rest(page).get_by_role("radio", name="Gas furnace").click()
    at_rest(page).get_by_role("radio", name="Smell of gas, or a gas leak").click()
    expect(page.locator(".order")).to_contain_text("Everybody out now")
    expect(page.locator(".order")).to_be_in_viewport(ratio=1)
    assert "rgb(163, 35, 27)" in page.locator(".st-key-stop").evaluate("e => getComputedStyle(e).borderTopColor")
    at_rest(page).get_by_role("link", name="At the door").click()
    expect(page.locator("summary", has_text="Gas furnace")).to_be_visible()
    expect(page.locator(".order")).to_contain_text("Everybody out now")
    at_rest(page).get_by_role("link", name="At home").click()
    expect(page.get_by_role("radio", name="Smell of gas, or a gas leak")).to_be_checked()
