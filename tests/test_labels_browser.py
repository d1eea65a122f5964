"""Words of a book stand as labels on the page, and none of them leads away from it."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect
from test_shop_browser import give

pytestmark = pytest.mark.browser

ADDRESSES = ("https://evil.example/login", "HTTP://evil.example", "www.evil.example", "mail@evil.example")


def test_an_address_in_a_cell_is_no_link(site: str, opened: Callable[[str], Any], tmp_path: Path) -> None:
    rows = "".join(f"{address},4,180.50\n" for address in ADDRESSES)
    (tmp_path / "jobs.csv").write_text(f"Appliance,Age,Quote\nWashing machine,4,180.50\n{rows}")
    page = opened(f"{site}/shop")
    give(page, tmp_path / "jobs.csv")
    for address in ADDRESSES:
        shown = page.locator("[data-testid=stWidgetLabel]").filter(has_text="evil.example")
        expect(shown).to_have_count(len(ADDRESSES))
        assert any(address in told.replace("\u2060", "") for told in shown.all_inner_texts())
    assert page.locator("a[href*=evil]").count() == 0
