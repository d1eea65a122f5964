"""A bill, a meter's table, the people of a home and a second repair, typed on a phone in a real browser."""

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import at_rest, unfold
from playwright.sync_api import expect
from test_home_browser import HIT, MEASURE, SIDEWAYS, THUMB

pytestmark = pytest.mark.browser

FRIDGE = "kind=refrigerator&age=9&fault=compressor&quote=180&place=US&language=en"
WASHER = "kind=clothes_washer&age=6&fault=bearings&quote=180&place=US&language=en"


def fill(page: Any, label: str, text: str) -> None:
    at_rest(page).get_by_label(label, exact=True).fill(text)
    at_rest(page)


def fits(page: Any) -> None:
    """Nothing lies beyond the edge, and all that is touched has room for a thumb."""
    assert page.evaluate(SIDEWAYS) == []
    assert [entry for entry in page.evaluate(MEASURE, HIT) if entry[1] < THUMB] == []


def test_a_bill_in_steps_with_a_meters_table_is_asked_about_until_it_counts(
    site: str, opened: Callable[[str], Any], tmp_path: Path
) -> None:
    begin, table = datetime.datetime(2025, 1, 1), tmp_path / "meter.csv"
    times = (begin + n * datetime.timedelta(minutes=30) for n in range(9600))
    rows = (f"{time:%Y-%m-%d %H:%M},0.{n * 37 % 89 + 10},0.{n * 17 % 7}" for n, time in enumerate(times))
    table.write_text("\n".join(["Start,Import kWh,Export kWh", *rows]))
    page = opened(f"{site}/home?{FRIDGE}&step=4")
    at_rest(page).get_by_role("radio", name="In steps").click()
    expect(at_rest(page).get_by_text("Still needed: where step 1 ends")).to_be_visible()
    fill(page, "Step 1: up to kWh a month", "300")
    fill(page, "Step 1: $ per kWh", "0.10")
    fill(page, "Step 2: $ per kWh", "0.30")
    page.locator("input[type=file]").set_input_files(table)
    expect(page.get_by_role("radio", name="Import kWh")).to_be_visible(timeout=60_000)
    at_rest(page).get_by_role("radio", name="Import kWh").click()
    expect(page.get_by_text("nothing was metered in month 8")).to_be_visible()
    fill(page, "Electricity the whole home uses a year, in kWh", "9000")
    expect(page.get_by_text("nothing was metered")).to_have_count(0)
    expect(page.get_by_text("That makes $0.")).to_be_visible()
    fits(page)
    fill(page, "Step 2: up to kWh a month", "200")
    expect(page.get_by_text("Still needed: the price of step 3")).to_be_visible()
    expect(page.get_by_label("Step 1: up to kWh a month")).to_have_value("300")


def test_day_and_night_are_typed_and_a_night_without_end_is_told_at_its_field(
    site: str, opened: Callable[[str], Any]
) -> None:
    page = opened(f"{site}/home?{FRIDGE}&step=4")
    at_rest(page).get_by_role("radio", name="Day and night").click()
    for label, text in (("By day, $ per kWh", "0.40"), ("By night, $ per kWh", "0.10")):
        fill(page, label, text)
    fill(page, "Night begins, hour 0 to 24", "22")
    fill(page, "Night ends, hour 0 to 24", "22")
    expect(page.locator("#at-night_to")).to_be_visible()
    fill(page, "Night ends, hour 0 to 24", "6")
    expect(page.locator("#at-night_to")).to_have_count(0)
    expect(page.get_by_text("That makes $0.30 per kWh")).to_be_visible()
    fits(page)
    at_rest(page).get_by_role("radio", name="Usual for the place").click()
    at_rest(page).get_by_role("radio", name="Day and night").click()
    expect(at_rest(page).get_by_label("By day, $ per kWh")).to_have_value("0.40")


def test_people_are_asked_in_place_of_kilowatt_hours(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(f"{site}/home?{WASHER}&step=3")
    used = at_rest(page).locator(".st-key-use p.small").last.inner_text()
    fill(page, "People in the home", "6")
    expect(page.locator(".st-key-use p.small").last).not_to_have_text(used)
    fits(page)


def test_two_repairs_stand_in_one_row_at_the_door(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(f"{site}/?{WASHER}")
    expect(page.locator(".verdict")).to_be_visible()
    unfold(page, "More about it")
    fill(page, "Chance that it holds, in %", "98")
    expect(page.get_by_text("Still needed: the second quote")).to_be_visible()
    fill(page, "Second quote in $, with tax", "320")
    row = page.get_by_text("First repair, $180: repair it, worth about").first
    expect(row).to_contain_text("Second repair, $320: repair it, worth about")
    expect(row).to_contain_text("Of the two, “First repair” costs about $140 less in the long run.")
    fits(page)
    page.reload()
    expect(page.get_by_text("First repair, $180: repair it, worth about").first).to_be_visible()


def test_the_heading_of_an_answer_keeps_clear_of_the_field_below_it(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(f"{site}/?{WASHER}")
    expect(page.locator(".verdict")).to_be_visible()
    at_rest(page)
    gap = """() => { const text = document.createRange(); text.selectNodeContents(document.querySelector('h1'));
        return document.querySelector('.st-key-asked details').getBoundingClientRect().top
            - text.getBoundingClientRect().bottom; }"""
    assert page.evaluate(gap) >= 8
