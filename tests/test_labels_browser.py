"""Words of a book stand on the page as its cells have them, and none of them leads away from it."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import at_rest
from playwright.sync_api import expect
from test_shop_browser import give

pytestmark = pytest.mark.browser

ADDRESSES = ("https://evil.example/login", "HTTP://evil.example", "www.evil.example", "mail@evil.example")


def test_an_address_in_a_cell_is_no_link(site: str, opened: Callable[[str], Any], tmp_path: Path) -> None:
    rows = "".join(f"{address},4,180.50\n" for address in ADDRESSES)
    (tmp_path / "jobs.csv").write_text(f"Appliance,Age,Quote\nWashing machine,4,180.50\n{rows}")
    page = opened(f"{site}/shop")
    give(page, tmp_path / "jobs.csv")
    asked = page.locator("[class*=st-key-shop_words_asked]")
    for address in ADDRESSES:
        expect(asked.get_by_text(address, exact=True)).to_have_count(1)
    at_rest(page).locator(".st-key-shop_reading summary").click()
    expect(page.locator(".st-key-shop_one_class")).to_contain_text("https://evil")
    assert at_rest(page).locator("a[href*=evil]").count() == 0
