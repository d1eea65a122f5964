"""The page in the shop in a real browser, on a phone and on a desk: from a book to its results and what is taken away.

Every test of the session shares one store, so a book given here is made its own by a job of its own.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from conftest import ROOT, at_rest, unfold
from playwright.sync_api import Page, expect
from test_door_browser import MEASURE, THUMB, TOUCHED

from decide.answers.book import BookResult, weigh_book
from decide.load.jobs.book import open_book
from decide.load.jobs.columns import parse_mapping
from decide.load.tables.tables import tables
from decide.shop.job_totals import part
from decide.show.text.jobs import job_sentences
from decide.show.text.words import Words

pytestmark = pytest.mark.browser

DEMO = ROOT / "data" / "demo"

# Invented. The last column tells the books of the tests apart; most rows can be read, so the book concludes something.
READ, OPEN = "Washing machine,4,180.50,{job}\n", "Spin {job},12,401.00,{job}\n"
ASKED = f"Appliance,Age,Quote,Job\n{9 * READ}{OPEN}"


def invented() -> BookResult:
    mapping = parse_mapping((DEMO / "jobs.toml").read_bytes())
    return weigh_book(open_book(DEMO / "jobs.csv", "jobs.csv"), mapping, tables())


def try_it(page: Page) -> Page:
    at_rest(page).get_by_role("button", name="Try it with an invented book").click()
    expect(page.locator(".st-key-answer")).to_be_visible()
    return at_rest(page)


def give(page: Page, path: Path) -> None:
    at_rest(page).locator("input[type=file]").set_input_files(path)


def in_sight(page: Page) -> list[str]:
    """What lies beyond the right edge, or makes the page scroll sideways."""
    width = page.evaluate("innerWidth")
    scrolled = "Math.max(...['html', '[data-testid=stMain]'].map(s => document.querySelector(s).scrollWidth))"
    beyond = """() => [...document.querySelectorAll(
        '[data-testid=stText], [data-testid=stHtml] > *, [data-testid=stMarkdown], [data-testid=stDataFrame], '
        + '.main-svg, button')]
        .filter(e => e.checkVisibility() && e.getBoundingClientRect().right > innerWidth + 0.5).map(e => e.outerHTML)"""
    return [*(["the page scrolls"] if page.evaluate(scrolled) > width else []), *page.evaluate(beyond)]


def test_the_invented_book_goes_from_a_tap_to_its_results_and_what_is_taken_away(
    site: str, opened: Callable[[str], Any], tmp_path: Path
) -> None:
    page = try_it(opened(f"{site}/shop"))
    words, found = Words.for_place("US"), invented()
    for sentence in job_sentences(words, found, tables()):
        expect(page.locator(".st-key-answer")).to_contain_text(sentence)
    expect(page.locator(".st-key-shop_chart_spread .main-svg").first).to_be_visible()
    assert in_sight(page) == []
    with page.expect_download() as download:
        at_rest(page).get_by_role("button", name="All rows, weighed").click()
    download.value.save_as(tmp_path / "rows.csv")
    rows = pd.read_csv(tmp_path / "rows.csv")
    # what lines of one job were put together stands in one row
    assert len(rows) == found.rows - found.skipped_rows - found.coverage.folded.total()
    assert int((rows["Limit less quote"] < 0).sum()) == part(found.tally).above > 20  # as the page says
    at_rest(page).get_by_role("radio", name="Excel").click()
    with page.expect_download() as download:
        at_rest(page).get_by_role("button", name="Skipped rows").click()
    download.value.save_as(tmp_path / "apart.xlsx")
    assert len(pd.read_excel(tmp_path / "apart.xlsx")) == found.skipped_rows
    with page.expect_download() as download:
        at_rest(page).get_by_role("button", name="All rows, weighed").click()
    download.value.save_as(tmp_path / "rows.xlsx")
    sheets = pd.read_excel(tmp_path / "rows.xlsx", sheet_name=None, header=None)
    assert [(name, len(sheets[name]) > 30) for name in sheets] == [("Summary", True), ("jobs", True)]
    assert sheets["Summary"].iloc[1].tolist() == ["Read", found.rows]


def test_a_table_cannot_be_saved_past_what_makes_it_harmless(site: str, opened: Callable[[str], Any]) -> None:
    page = try_it(opened(f"{site}/shop"))
    table = page.locator("[data-testid=stDataFrame]").first
    expect(table).to_be_visible()
    table.hover()
    offered = "[data-testid=stElementToolbar] button"
    saving = page.locator(offered).filter(visible=True).evaluate_all("all => all.map(e => e.ariaLabel || e.title)")
    assert [name for name in saving if "download" in str(name).lower()] == []


def test_all_that_is_touched_has_room_for_a_thumb_and_nothing_scrolls_sideways(
    site: str, opened: Callable[[str], Any], tmp_path: Path, screen: dict[str, Any]
) -> None:
    page = opened(f"{site}/shop")
    book = tmp_path / "thumb.csv"
    book.write_text(ASKED.format(job=f"thumb {screen['viewport']['width']}"), "utf-8")
    at_rest(page).get_by_role("button", name="Try it").wait_for()
    measured = page.evaluate(MEASURE, TOUCHED)
    give(page, book)
    expect(page.locator(".st-key-shop_asked")).to_be_visible()
    unfold(page, "How the book is read")
    expect(page.get_by_label("Hours of labour")).to_be_visible()
    assert in_sight(at_rest(page)) == []
    measured += page.evaluate(MEASURE, TOUCHED)
    at_rest(page).get_by_role("radio", name="Own records").click()
    unfold(page, "Washing machine: ")
    expect(page.get_by_text("Median quote").first).to_be_visible()
    assert in_sight(at_rest(page)) == []
    measured += page.evaluate(MEASURE, TOUCHED)
    assert len(measured) > 60
    assert [entry for entry in measured if entry[1] < THUMB] == []


def test_what_the_owner_says_of_a_word_outlives_a_reload(
    site: str, opened: Callable[[str], Any], tmp_path: Path, screen: dict[str, Any]
) -> None:
    page = opened(f"{site}/shop")
    book = tmp_path / "words.csv"
    slip = "Washing machne" if screen["viewport"]["width"] < 500 else "Washing mashine"  # what one says, the next knows
    book.write_text(f"Appliance,Age,Quote,Note\nWashing machine,4,180.50,a\n{slip},12,401.00,b\n", "utf-8")
    give(page, book)
    expect(page.locator(".st-key-answer")).to_contain_text("1 of 2 rows could be read: 50%.")
    at_rest(page).get_by_role("button", name="Take these meanings").click()  # as suggested
    expect(page.locator(".st-key-answer")).to_contain_text("2 of 2 rows could be read: 100%.")
    page.wait_for_url("**book=**")
    at_rest(page).get_by_role("radio", name="Own records").click()
    page.wait_for_url("**part=records**")
    page.reload()
    expect(page.get_by_role("radio", name="Own records")).to_be_checked()
    at_rest(page).get_by_role("radio", name="Job book").click()
    expect(page.locator(".st-key-answer")).to_contain_text("2 of 2 rows could be read: 100%.")


def test_a_large_book_shows_how_far_it_is(site: str, opened: Callable[[str], Any], tmp_path: Path) -> None:
    page = opened(f"{site}/shop")
    book, rows = tmp_path / "large.csv", 80_000
    kinds = ("Washing machine", "Fridge", "Dishwasher", "Electric range")
    jobs = "\n".join(f"{kinds[row % 4]},{row % 19},{90 + row % 400}.50,{'x' * 60}" for row in range(rows))
    book.write_text(f"Appliance,Age,Quote,Note\n{jobs}\n", "utf-8")
    page.evaluate("""() => {
        window.shares = new Set();
        const bars = () => document.querySelectorAll('[role=progressbar]').forEach(e => shares.add(e.ariaValueNow));
        new MutationObserver(bars).observe(document.body, {subtree: true, childList: true, attributes: true});
    }""")
    give(page, book)
    at_rest(page).get_by_role("button", name="Weigh the book").click()
    expect(page.locator(".st-key-answer")).to_contain_text("80,000 of 80,000 rows could be read")
    shares = sorted(float(share) for share in page.evaluate("[...shares]") if share is not None)
    assert len(shares) > 2
    assert any(0 < share < 100 for share in shares)
    expect(page.get_by_role("progressbar")).to_have_count(0)
