"""The page at the door in a real browser, on a phone and on a desk: the way to the answer, and room for a thumb."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, at_rest, served, unfold
from playwright.sync_api import Page, expect

from decide.answers.answer import answer
from decide.load.cases.case_file import parse_case
from decide.show.text.report import first_layer
from decide.show.text.words import Words

pytestmark = pytest.mark.browser

# Common practice, no source: 44 CSS pixels is the size that a thumb hits; WCAG 2.1, 2.5.5 (from memory) asks the same.
THUMB = 44

TOUCHED = "button, input:not([type=file]), summary, [role=radio], [role=combobox], a:not([data-testid=stSkipToContent])"
"""The link that skips to the content is for keyboards, and shows only when it has the focus."""

MEASURE = """selector => [...document.querySelectorAll(selector)]
    .filter(e => e.checkVisibility() && e.getBoundingClientRect().width > 0)
    .map(e => {
        const field = e.matches('input') ? e.parentElement : e.matches('[aria-haspopup=listbox]') ? e.parentElement : e;
        return [e.outerHTML.slice(0, 160), field.getBoundingClientRect().height];
    })"""

ENTRIES = {
    "appliance": {"class": "refrigerator", "age": 12.0, "fault": "compressor"},
    "household": {"place": "US"},
    "repair": {"quote": 401.5},
}


def enter_a_refrigerator(page: Page, quote: str = "401,50") -> None:
    at_rest(page).get_by_role("radio", name="Cooling").click()
    at_rest(page).get_by_role("radio", name="Refrigerator-freezer").click()
    at_rest(page).get_by_role("combobox", name="What is wrong?").click()
    page.get_by_role("option", name="Compressor does not run").click()
    at_rest(page).get_by_label("Age, or year made", exact=True).fill("12")
    at_rest(page).get_by_label("Quote in $, with tax").fill(quote)


def test_from_an_empty_page_to_the_answer_of_the_model(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(site)
    expect(page.locator(".st-key-waiting")).to_be_visible()
    enter_a_refrigerator(page)
    expect(page.get_by_text("= $401.50")).to_be_visible()
    words, expected = Words.of(region="US"), answer(ENTRIES)
    expect(page.locator(".headline")).to_have_text(words.headline(expected))
    expect(page.locator(".verdict")).to_have_text(words.verdict(expected))
    for card in first_layer(words, expected).cards:
        for value in card.values:
            expect(page.locator(".cards")).to_contain_text(value)
    for drawn in ("ruler", "paid"):
        expect(page.locator(f"svg.{drawn}")).to_be_visible()
    section(page, "Why")
    expect(page.locator(".st-key-breakeven .main-svg").first).to_be_visible()


def section(page: Page, name: str) -> None:
    """Open one of the sections behind the first layer."""
    at_rest(page).locator(".st-key-section").get_by_role("radio", name=name, exact=True).click()
    at_rest(page)


def test_a_comma_is_a_decimal_and_never_multiplies_the_price(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(site)
    enter_a_refrigerator(page, "7,5")
    expect(page.get_by_text("= $7.50")).to_be_visible()
    expect(page.locator(".headline")).to_contain_text("You were quoted $7.50.")


def test_all_that_is_touched_has_room_for_a_thumb(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(site)
    enter_a_refrigerator(page)
    expect(page.locator(".st-key-answer")).to_be_visible()
    for part in ("More about it", "Open a saved case"):
        unfold(page, part)
    expect(page.get_by_label("A name for this case")).to_be_visible()
    expect(page.get_by_test_id("stFileUploaderDropzone")).to_be_visible()
    measured = page.evaluate(MEASURE, TOUCHED)
    assert len(measured) > 25
    assert [entry for entry in measured if entry[1] < THUMB] == []


def test_nothing_scrolls_sideways_and_no_text_is_cut(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(site)
    enter_a_refrigerator(page)
    expect(page.locator("svg.paid")).to_be_visible()
    for part in ("More about it", "More to mind"):
        unfold(page, part)
    width = page.evaluate("innerWidth")
    scrolled = "Math.max(...['html', '[data-testid=stMain]'].map(s => document.querySelector(s).scrollWidth))"
    wide = """() => [...document.querySelectorAll(
        '[data-testid=stText], [data-testid=stHtml] > *, [data-testid=stMarkdown], .main-svg, svg text')]
        .filter(e => e.getBoundingClientRect().right > innerWidth + 0.5).map(e => e.textContent)"""
    for name in ("Scenarios", "Why", "All costs", "Numbers we used", "More"):
        section(page, name)
        assert page.evaluate(scrolled) <= width, name
        assert page.evaluate(wide) == [], name


def test_the_verdict_stays_in_view_and_leads_to_the_reasons(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(site)
    enter_a_refrigerator(page)
    expect(page.locator(".st-key-thumb_says")).to_be_in_viewport()
    expect(page.get_by_role("button", name="Next", exact=True)).to_be_in_viewport()
    expect(page.get_by_role("button", name="Give it to the customer")).to_be_in_viewport()
    expect(page.locator(".verdict")).to_be_in_viewport()
    expect(page.locator(".st-key-thumb_says")).to_have_text(page.locator(".verdict").inner_text())


def test_what_is_given_to_the_customer_makes_next_the_next_thing(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(site)
    enter_a_refrigerator(page)
    with page.expect_download() as download:
        at_rest(page).get_by_role("button", name="Give it to the customer").click()
    assert download.value.suggested_filename.endswith(".pdf")
    expect(page.get_by_role("button", name="Give it to the customer")).to_have_count(0)
    expect(page.locator(".st-key-thumb [data-testid=stBaseButton-primary]")).to_have_text("Next")


def test_the_next_customer_is_one_tap_away_and_the_last_comes_back(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(site)
    enter_a_refrigerator(page)
    expect(page.locator(".headline")).to_contain_text("You were quoted")
    found = page.locator(".headline").inner_text()
    at_rest(page).get_by_role("button", name="Next", exact=True).click()
    expect(page.locator(".st-key-waiting")).to_be_visible()
    expect(page.get_by_label("Quote in $, with tax")).to_have_value("")
    undo = page.get_by_role("button", name="Undo")
    expect(undo).to_be_in_viewport()
    at_rest(page)
    undo.click()
    expect(page.locator(".headline")).to_have_text(found)
    expect(page.get_by_label("Quote in $, with tax")).to_have_value("401,50")


def test_undo_changes_places_and_loses_neither_customer(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(site)
    enter_a_refrigerator(page)
    expect(page.locator(".headline")).to_contain_text("$401.50")
    at_rest(page).get_by_role("button", name="Next", exact=True).click()
    expect(page.locator(".st-key-waiting")).to_be_visible()
    enter_a_refrigerator(page, "222")
    expect(page.locator(".headline")).to_contain_text("$222")
    for quoted in ("$401.50", "$222"):
        for name in ("Undo", "Next"):
            expect(page.get_by_role("button", name=name, exact=True)).to_be_in_viewport()
        at_rest(page).get_by_role("button", name="Undo").click()
        expect(page.locator(".headline")).to_contain_text(quoted)


def test_a_reload_in_the_middle_loses_nothing_that_was_typed(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(site)
    at_rest(page).get_by_role("radio", name="Cooling").click()
    at_rest(page).get_by_role("radio", name="Refrigerator-freezer").click()
    page.get_by_label("Age, or year made", exact=True).fill("12")
    at_rest(page)
    page.wait_for_url("**age=12**")
    page.reload()
    expect(page.get_by_label("Age, or year made", exact=True)).to_have_value("12")
    expect(page.get_by_role("radio", name="Refrigerator-freezer")).to_be_checked()
    at_rest(page).get_by_role("combobox", name="What is wrong?").click()
    page.get_by_role("option", name="Compressor does not run").click()
    page.get_by_label("Quote in $, with tax").fill("401,50")
    expect(page.locator(".headline")).to_have_text(Words.of().headline(answer(ENTRIES)))


def test_a_link_opens_the_same_answer_in_another_browser(
    site: str, opened: Callable[[str], Any], chromium: Any
) -> None:
    page = opened(site)
    enter_a_refrigerator(page)
    expect(page.locator(".headline")).to_contain_text("$401.50")
    page.wait_for_url("**quote=401*50**")
    found = page.locator(".headline").inner_text()
    elsewhere = chromium.new_context(locale="de-DE")
    try:
        other = elsewhere.new_page()
        other.goto(page.url)
        expect(other.locator(".headline")).to_have_text(found)
    finally:
        elsewhere.close()


def test_the_way_back_of_the_browser_takes_back_what_was_typed_last(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(site)
    enter_a_refrigerator(page)
    page.wait_for_url("**quote=401*50**")
    field = page.get_by_label("Quote in $, with tax")
    field.fill("222")
    page.wait_for_url("**quote=222**")
    page.go_back()
    expect(field).to_have_value("401,50")
    expect(page.locator(".headline")).to_contain_text("$401.50")


def test_a_second_tap_takes_no_choice_away(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(site)
    enter_a_refrigerator(page)
    expect(page.locator(".headline")).to_be_visible()
    unfold(page, "Refrigerator-freezer · Compressor")
    for name in ("Refrigerator-freezer", "Cooling"):
        at_rest(page).get_by_role("radio", name=name).click()
        expect(page.get_by_role("radio", name=name)).to_be_checked()
    expect(page.locator(".headline")).to_be_visible()


def test_a_phone_shows_digits_where_a_number_is_typed_and_letters_where_a_name_is(
    site: str, opened: Callable[[str], Any]
) -> None:
    page = opened(site)
    enter_a_refrigerator(page)
    unfold(page, "More about it")
    expect(page.get_by_label("A name for this case")).to_be_visible()
    at_rest(page).get_by_role("radio", name="kWh a year").click()
    expect(page.locator(".st-key-electricity input")).to_have_attribute("inputmode", "decimal")
    modes = page.evaluate("""() => [...document.querySelectorAll('[data-testid=stTextInput]')]
        .map(e => [!!e.closest('.st-key-title'), e.querySelector('input').inputMode])""")
    assert len(modes) > 6
    assert all(mode == ("" if title else "decimal") for title, mode in modes)


def test_a_danger_fills_the_screen_of_a_phone_before_anything_else_is_asked(
    site: str, opened: Callable[[str], Any]
) -> None:
    page = opened(site)
    at_rest(page).get_by_role("radio", name="Heating").click()
    at_rest(page).get_by_role("radio", name="Gas furnace").click()
    at_rest(page).get_by_role("combobox", name="What is wrong?").click()
    page.get_by_role("option", name="Smell of gas").click()
    expect(page.locator(".order")).to_be_in_viewport(ratio=1)
    expect(page.locator(".order")).to_contain_text("Everybody out now")
    found = page.locator(".st-key-thumb_stop p.sentence")
    expect(found).to_have_text("Stop: smell of gas, or a gas leak")
    assert found.evaluate("e => getComputedStyle(e).color") == "rgb(163, 35, 27)"
    expect(page.get_by_label("Age, or year made", exact=True)).not_to_be_focused()  # its keyboard would hide the order
    expect(page.locator(".st-key-waiting")).to_have_text("Still needed: its age.")
    page.get_by_label("Age, or year made", exact=True).fill("9")
    expect(page.locator("summary", has_text="Once it is safe")).to_be_visible()
    expect(page.locator("table.cards")).to_have_count(0)


def test_the_bar_leads_to_what_cannot_be_used(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(site)
    enter_a_refrigerator(page)
    unfold(page, "More about it")
    at_rest(page).get_by_role("radio", name="My own price").click()
    page.get_by_label("Price of electricity, $ per kWh").fill("16.48")
    expect(page.locator(".st-key-thumb_says")).to_contain_text("One entry cannot be used")
    page.evaluate("document.querySelector('[data-testid=stMain]').scrollTo(0, 0)")
    link = page.get_by_role("link", name="Show it")
    expect(link).to_be_visible()
    link.click()
    wrong = page.locator("#at-electricity_price")
    expect(wrong).to_be_in_viewport()
    assert "rgb(163, 35, 27)" in wrong.evaluate("e => getComputedStyle(e).borderLeftColor")
    age, entry = (page.locator(f".st-key-{key}").bounding_box() for key in ("age", "electricity_price"))
    assert age["y"] < entry["y"] < wrong.bounding_box()["y"]


def test_a_log_is_taken_from_the_phone_and_says_what_it_comes_to(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(site)
    enter_a_refrigerator(page)
    unfold(page, "More about it")
    at_rest(page).get_by_role("radio", name="A plug-in meter").click()
    at_rest(page).get_by_role("radio", name="A log").click()
    page.locator(".st-key-log_0 input[type=file]").set_input_files(ROOT / "tests/data/ukdale_fridge_3_days.csv")
    expect(page.locator(".worked_out")).to_contain_text("kWh a year")
    expect(page.locator(".headline")).to_be_visible()


def test_a_saved_case_is_what_was_entered_and_opens_again(
    site: str, opened: Callable[[str], Any], tmp_path: Path
) -> None:
    page = opened(site)
    enter_a_refrigerator(page)
    expect(page.locator(".headline")).to_contain_text("You were quoted")
    found = page.locator(".headline").inner_text()
    with page.expect_download() as download:
        at_rest(page).get_by_role("button", name="Save this case").click()
    saved = tmp_path / "saved.toml"
    download.value.save_as(saved)
    assert parse_case(saved.read_bytes()) == ENTRIES
    at_rest(page).get_by_role("button", name="Next", exact=True).click()
    expect(page.locator(".headline")).to_have_count(0)
    unfold(page, "Open a saved case")
    expect(page.locator("[data-testid=stFileUploader]").last).to_be_visible()
    page.locator("input[type=file]").set_input_files(saved)
    expect(page.locator(".headline")).to_have_text(found)


def test_a_case_given_at_the_start_fills_the_page(opened: Callable[[str], Any], tmp_path: Path) -> None:
    case = ROOT / "data" / "demo" / "refrigerator.toml"
    expected = answer(parse_case(case.read_bytes()))
    with served(tmp_path, case) as url:
        page = opened(url)
        expect(page.locator(".headline")).to_have_text(Words.of(region="US").headline(expected))
        page.close()


def test_a_port_in_use_is_refused_by_its_number(site: str, tmp_path: Path) -> None:
    port = site.rpartition(":")[2]
    start = f"from decide.show.serve import serve; serve({port})"
    ended = subprocess.run(
        [sys.executable, "-c", start], cwd=tmp_path, env={"PYTHONPATH": str(ROOT)}, capture_output=True, timeout=30
    )
    assert ended.returncode != 0
    assert f"port: {port} cannot be used here" in ended.stderr.decode()


def test_on_a_desk_what_was_asked_stays_beside_a_long_answer(
    site: str, opened: Callable[[str], Any], screen: dict[str, Any]
) -> None:
    page = opened(f"{site}/?kind=refrigerator&fault=compressor&age=12&quote=401&place=US")
    expect(page.locator(".verdict")).to_be_visible()
    at_rest(page).locator("#take").scroll_into_view_if_needed()
    page.evaluate("document.querySelector('[data-testid=stMain]').scrollTop = 900")
    age = at_rest(page).get_by_label("Age, or year made", exact=True)
    assert page.evaluate("document.querySelector('[data-testid=stMain]').scrollTop") > 300
    above = age.bounding_box()["y"] < 0
    assert above if screen["viewport"]["width"] < 641 else not above
