"""Quotes, the policy card and the settings of the shop in a real browser: used, taken away, and nothing cut off."""

import io
import re
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from conftest import DESK, PHONE, at_rest, served, unfold
from PIL import Image
from playwright.sync_api import Page, expect
from test_shop_browser import in_sight

from decide.load.tables.tables import tables

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A shop of its own: its name stands on what other tests print otherwise."""
    with served(tmp_path_factory.mktemp("shop")) as url:
        yield f"{url}/shop?part="


def choose(page: Page, label: str, wanted: str) -> None:
    at_rest(page).get_by_label(label, exact=True).click()
    page.get_by_role("option", name=wanted, exact=True).click()
    at_rest(page)


def fill(page: Page, label: str, text: str) -> None:
    at_rest(page).get_by_label(label, exact=True).fill(text)
    page.keyboard.press("Tab")
    at_rest(page)


@pytest.mark.parametrize("screen", [PHONE], indirect=True)
def test_a_quote_is_built_flagged_in_red_and_taken_to_the_door_by_one_tap(
    shop: str, opened: Callable[[str], Any]
) -> None:
    page = opened(f"{shop}quotes")
    choose(page, "Which appliance?", "Refrigerator-freezer")
    choose(page, "What is wrong?", "Compressor does not run or is worn out")
    fill(page, "Age, or year made", "9")
    fill(page, "Parts, what you pay, $", "600")
    fill(page, "Hours of labour", "3")
    verdict = page.locator(".st-key-stop .verdict")
    expect(verdict).to_have_text("Do not give this quote")
    red = verdict.evaluate("e => getComputedStyle(e).color")
    assert red == "rgb(163, 35, 27)"
    assert in_sight(page) == []
    instead = at_rest(page).get_by_role("button", name=re.compile(r"^Use \$[\d,.]+ at the door instead$"))
    amount = instead.inner_text().split()[1].strip("$").replace(",", "")
    instead.click()
    expect(page.get_by_text("At the door the quote is now")).to_be_visible()
    at_rest(page).get_by_role("link", name="At the door").click()
    typed = at_rest(page).get_by_label("Quote in $, with tax", exact=True)
    expect(typed).to_have_value(re.compile(r"^\d"))
    assert float(typed.input_value()) == float(amount)
    expect(page.get_by_label("Age, or year made", exact=True)).to_have_value("9")
    # and back again nothing is lost
    at_rest(page).get_by_role("link", name="In the shop").click()
    expect(at_rest(page).get_by_label("Hours of labour", exact=True)).to_have_value("3")
    page.close()


@pytest.mark.parametrize("screen", [PHONE], indirect=True)
def test_a_book_fills_the_part_with_charts_and_tables_that_fit(shop: str, opened: Callable[[str], Any]) -> None:
    page = opened(f"{shop}quotes")
    at_rest(page).get_by_role("button", name="Try it with an invented book").click()
    expect(page.locator(".card .facts").first.locator("dt")).to_have_count(3)
    assert in_sight(at_rest(page)) == []
    page.close()


@pytest.mark.parametrize("screen", [DESK], indirect=True)
def test_the_card_is_taken_away_as_a_page_and_as_rows(shop: str, opened: Callable[[str], Any]) -> None:
    page = opened(f"{shop}card")
    expect(page.get_by_role("button", name="Card (PDF)")).to_be_visible()
    assert in_sight(at_rest(page)) == []
    with page.expect_download() as given:
        at_rest(page).get_by_role("button", name="Card (PDF)").click()
    assert Path(given.value.path()).read_bytes().startswith(b"%PDF")
    with page.expect_download() as given:
        at_rest(page).get_by_role("button", name="Table (CSV)").click()
    rows = Path(given.value.path()).read_text("utf-8").splitlines()
    assert {row.split(",")[0] for row in rows[1:]} == {kind.kind for kind in tables().classes("US")}
    page.close()


@pytest.mark.parametrize("screen", [PHONE], indirect=True)
def test_the_settings_take_a_name_and_a_logo_and_give_everything_away(
    shop: str, opened: Callable[[str], Any], tmp_path: Path
) -> None:
    logo = tmp_path / "logo.png"
    Image.new("RGB", (300, 150), "#0f6b62").save(logo)
    page = opened(f"{shop}settings")
    fill(page, "Name of the shop", "Repairs")
    # a name is typed in letters: a phone that showed digits could not write it
    assert page.get_by_label("Name of the shop", exact=True).evaluate("e => e.inputMode") == ""
    page.locator("input[type=file]").first.set_input_files(logo)
    shown = page.locator("[data-testid=stImage] img")
    expect(shown).to_be_visible()
    expect(shown).to_have_attribute("alt", "Logo of Repairs")
    unfold(page, "Earlier visits")
    expect(page.get_by_label("Find by name, job, model or serial", exact=True)).to_be_visible()
    assert in_sight(at_rest(page)) == []
    with page.expect_download() as given:
        at_rest(page).get_by_role("button", name="Everything as one file").click()
    names = zipfile.ZipFile(io.BytesIO(Path(given.value.path()).read_bytes())).namelist()
    assert "manifest.json" in names
    page.close()
