"""Each page read by axe-core, which judges as WCAG does: nothing serious that is ours."""

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from conftest import at_rest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

CASE = "group=cooling&kind=refrigerator&fault=compressor&age=12&quote=401&place=US"
PAGES = {
    "the door, empty": ("", "See an example"),
    "the door, answered": (f"?{CASE}", "You were quoted"),
    "the door, a danger": ("?group=heating&kind=furnace_gas&fault=gas_leak&age=9&place=US", "Everybody out now"),
    "home, the checks": ("home?group=cooling&kind=refrigerator&symptom=warm_throughout&age=12&step=2", "Step 2 of 6"),
    "home, the answer": (f"home?{CASE}&step=6", "You were quoted"),
    "the door, no quote": (f"?{CASE.replace('&quote=401', '')}", "not known yet"),
    "the door, two repairs": (f"?{CASE}&other_quote=300", "First repair, $401"),
    "home, a bill in steps": (f"home?{CASE}&step=4&electricity_priced=steps", "Step 1: up to kWh a month"),
    "home, day and night": (f"home?{CASE}&step=4&electricity_priced=day_night", "Night begins, hour 0 to 24"),
    "the shop, the book": ("shop?part=book", "Try it with an invented book"),
    "the shop, quotes": ("shop?part=quotes", "The quote comes here."),
    "the shop, the card": ("shop?part=card", "Card (PDF)"),
    "the shop, settings": ("shop?part=settings", "Name of the shop"),
    "the door in Spanish": (f"?{CASE}&language=es", "Le piden"),
}
NOT_OURS = {"presentation-role-conflict"}
"""What Streamlit's own upload field has."""


def serious(page: Any) -> list[Any]:
    output = Axe().run(page).response
    assert len(output["passes"]) > 10
    return [
        (each["id"], each["help"], [node["html"][:160] for node in each["nodes"][:3]])
        for each in output["violations"]
        if each["impact"] in ("serious", "critical") and each["id"] not in NOT_OURS
    ]


@pytest.mark.parametrize("section", ["Scenarios", "Why", "All costs", "Numbers we used", "More"])
def test_axe_finds_nothing_serious_in_a_section_in_the_dark(
    site: str, opened: Callable[[str], Any], section: str
) -> None:
    page = opened(f"{site}/?{CASE}")
    page.emulate_media(color_scheme="dark")
    page.reload()
    expect(page.get_by_text("You were quoted").first).to_be_visible()
    at_rest(page).locator(".st-key-section").get_by_role("radio", name=section, exact=True).click()
    at_rest(page)
    assert serious(page) == []


@pytest.mark.parametrize("name", PAGES)
def test_axe_finds_nothing_serious(site: str, opened: Callable[[str], Any], name: str) -> None:
    address, shown = PAGES[name]
    page = opened(f"{site}/{address}")
    expect(page.get_by_text(shown).first).to_be_visible()
    at_rest(page)
    assert serious(page) == []
