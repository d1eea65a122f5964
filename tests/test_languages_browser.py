"""The page at the door in Spanish, in a real browser: from its address to the answer, and back to English."""

from collections.abc import Callable
from typing import Any

import pytest
from conftest import at_rest
from playwright.sync_api import Page, expect

from decide.answers.answer import answer
from decide.load.cases.case_file import Entries
from decide.show.text.words import Words

pytestmark = pytest.mark.browser

# Invented.
WASHER: Entries = {
    "appliance": {"class": "clothes_washer", "age": 8.0, "fault": "drain_pump"},
    "household": {"place": "ES"},
    "repair": {"quote": 160.5, "remaining_life_factor": 1.0},
}


def enter_a_washer(page: Page) -> None:
    """The invented washer, entered as someone does who reads Spanish."""
    at_rest(page).get_by_role("radio", name="Lavado y secado").click()
    at_rest(page).get_by_role("radio", name="Lavadora", exact=True).click()
    at_rest(page).get_by_role("combobox", name="¿Qué le pasa?").click()
    page.get_by_role("option", name="No desagua: bomba de desagüe").click()
    at_rest(page).get_by_label("Edad, o año en que se hizo", exact=True).fill("8")
    at_rest(page).get_by_label("Presupuesto en €, con impuestos").fill("160,50")


def test_the_page_is_spanish_from_its_address_to_the_answer(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(f"{site}/?language=es&place=ES")
    expect(page.get_by_text("Ver un ejemplo")).to_be_visible()
    enter_a_washer(page)
    expect(page.get_by_text("= 160,50")).to_be_visible()
    words, expected = Words.for_place("ES", "es"), answer(WASHER)
    expect(page.locator(".headline")).to_have_text(words.headline(expected))
    expect(page.locator(".verdict")).to_have_text(words.verdict(expected))
    for named in ("reparar", "reemplazar"):  # a zone that is too narrow for its name has none
        expect(page.locator("svg.ruler").get_by_text(named, exact=True)).to_be_visible()
    expect(page.get_by_role("img", name="usted decide")).to_be_visible()
    # what reads a page aloud goes by this: WCAG 2.1, 3.1.1 (from memory)
    assert page.evaluate("document.documentElement.lang") == "es"


def test_what_is_typed_stays_when_the_language_is_changed(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(f"{site}/?language=es&place=ES")
    enter_a_washer(page)
    at_rest(page).get_by_role("button", name="Español").click()
    page.get_by_text("English", exact=True).click()
    words, expected = Words.for_place("ES", "en"), answer(WASHER)
    expect(page.locator(".headline")).to_have_text(words.headline(expected))
    expect(page.get_by_label("Quote in €, with tax")).to_have_value("160,50")
    expect(page.locator("html")).to_have_attribute("lang", "en")
    at_rest(page).reload()
    expect(page.locator(".headline")).to_have_text(words.headline(expected))
