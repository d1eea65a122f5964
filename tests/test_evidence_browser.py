"""Evidence at the door and at home in a real browser: a tap moves the causes, the bill and the verdict, and is kept."""

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import at_rest, unfold
from playwright.sync_api import expect

from decide.answers.diagnosis import diagnose
from decide.show.text.checks import likeliest
from decide.show.text.words import Words

pytestmark = pytest.mark.browser

WORDS = Words.for_place("US")


def pictured(page: Any, name: str) -> None:
    """Keep a picture of the page where somebody asks for pictures."""
    if folder := os.environ.get("MENDPOINT_PICTURES"):
        page.screenshot(path=str(Path(folder) / f"{name}.png"), full_page=True)


def test_a_tap_and_a_reading_move_the_causes_at_the_door_and_stay_with_the_visit(
    site: str, opened: Callable[[str], Any], screen: dict[str, Any]
) -> None:
    page = opened(f"{site}/?kind=refrigerator&age=7&place=US&symptom=warm_throughout")
    unfold(page, "What you see and measure")
    likely = page.locator(".st-key-evidence .sentence").first
    before = diagnose("refrigerator", "warm_throughout", age=7.0)
    name, share = likeliest(WORDS, before)[0]
    expect(likely).to_contain_text(f"{name} {WORDS.percent(share, 0)}")
    at_rest(page).get_by_role("radio", name="It clicks every few minutes").click()
    clicks = diagnose("refrigerator", "warm_throughout", age=7.0, answers={"compressor_sound": "clicks"})
    name, share = likeliest(WORDS, clicks)[0]
    expect(likely).to_contain_text(f"{name} {WORDS.percent(share, 0)}")
    at_rest(page).locator(".st-key-evidence_all summary").click()
    at_rest(page).get_by_label("Start device of the compressor (Ω)").fill("900")
    tested = diagnose(
        "refrigerator", "warm_throughout", age=7.0,
        answers={"compressor_sound": "clicks"}, readings={"start_device_ohm": 900.0},
    )  # fmt: skip
    name, share = likeliest(WORDS, tested)[0]
    expect(likely).to_contain_text(f"{name} {WORDS.percent(share, 0)}")
    expect(page.locator(".st-key-evidence")).to_contain_text("900 Ω: too high")
    at_rest(page).get_by_label("Freezer temperature (°F)").fill("14")
    expect(page.locator(".st-key-evidence")).to_contain_text("14 °F: too high")
    at_rest(page).get_by_label("Freezer temperature (°F)").fill("")
    expect(page.locator(".st-key-evidence")).not_to_contain_text("14 °F: too high")
    pictured(at_rest(page), f"door-{screen['viewport']['width']}")
    page.reload()
    unfold(page, "What you see and measure")
    expect(page.locator(".st-key-evidence .sentence").first).to_contain_text(f"{name} {WORDS.percent(share, 0)}")


def test_an_owner_is_asked_only_what_is_safe(site: str, opened: Callable[[str], Any], screen: dict[str, Any]) -> None:
    page = opened(f"{site}/home?kind=refrigerator&age=7&place=US&symptom=warm_throughout&step=2")
    at_rest(page).get_by_role("radio", name="It hums on and on").click()
    expect(page.locator(".st-key-evidence .sentence").first).to_contain_text("Leak or blockage in the sealed circuit")
    at_rest(page).locator(".st-key-evidence_all summary").click()
    shown = at_rest(page).locator(".st-key-evidence").inner_text()
    assert "Start device of the compressor" not in shown
    assert "Does the fan near the compressor turn" not in shown
    pictured(page, f"home-{screen['viewport']['width']}")


def test_one_tap_says_that_the_maker_still_pays_the_sealed_system(
    site: str, opened: Callable[[str], Any], screen: dict[str, Any]
) -> None:
    page = opened(f"{site}/?kind=refrigerator&age=10&place=US&symptom=warm_throughout")
    unfold(page, "What you see and measure")
    panel = page.locator(".st-key-evidence")
    expect(panel).to_contain_text("if it is: Compressor will not start")
    expect(panel).to_contain_text("Ask whether the maker's warranty still pays")
    at_rest(page).get_by_role("radio", name="Sealed system").click()
    expect(panel).to_contain_text("The maker's warranty pays the part of")
    pictured(at_rest(page), f"warranty-{screen['viewport']['width']}")
    page.reload()
    unfold(page, "What you see and measure")
    expect(page.locator(".st-key-evidence")).to_contain_text("The maker's warranty pays the part of")


def test_rust_low_on_a_tank_sets_its_condition(site: str, opened: Callable[[str], Any], screen: dict[str, Any]) -> None:
    page = opened(f"{site}/?kind=water_heater_gas&age=10&place=US&symptom=heater_leaking&fault=relief_valve&quote=180")
    unfold(page, "What you see and measure")
    panel = page.locator(".st-key-evidence")
    at_rest(page).locator(".st-key-evidence_all summary").click()
    at_rest(page).get_by_role("radio", name="Yes, low down or under its jacket").click()
    expect(panel.locator(".sentence").first).to_contain_text("Tank rusted through")
    expect(panel).to_contain_text("it has 40% of the usual years left")
    assert "remaining_life_factor=0.4" in at_rest(page).url
    pictured(at_rest(page), f"rust-{screen['viewport']['width']}")
