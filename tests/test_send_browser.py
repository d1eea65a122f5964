"""Giving an answer away in a real browser: sent from the phone, printed, and a sheet named for its visit."""

import io
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest
from conftest import at_rest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from decide.answers.answer import answer
from decide.show.pdf.logo import Shop
from decide.show.pdf.sheet import message_of
from decide.show.text.words import Words

pytestmark = pytest.mark.browser

ENTRIES = {
    "appliance": {"class": "refrigerator", "age": 12.0, "fault": "compressor"},
    "household": {"place": "US"},
    "repair": {"quote": 400.0},
}
AT = (
    "?kind=refrigerator&fault=compressor&age=12&quote=400&place=US"
    "&symptom=warm_throughout&answers=compressor_sound%3Dclicks"
)
STUB = "navigator.share = (given) => { window.shared = given; return Promise.resolve(); };"
"""What a browser with a share sheet of its own has; none of those that test has one."""


def expected() -> str:
    return message_of(Words.of(region="US"), answer(ENTRIES), Shop())


def refrigerator(opened: Callable[[str], Any], site: str) -> Page:
    page: Page = opened(f"{site}/{AT}")
    expect(page.locator(".verdict")).to_be_visible()
    return at_rest(page)


def saved(page: Page, click: Callable[[], None], folder: Path) -> tuple[str, str]:
    """The name of a file that a button gives, and its text."""
    with page.expect_download() as waiting:
        click()
    path = folder / "given.pdf"
    waiting.value.save_as(path)
    return waiting.value.suggested_filename, PdfReader(io.BytesIO(path.read_bytes())).pages[0].extract_text()


def test_the_answer_is_sent_by_message_by_mail_or_by_hand(site: str, opened: Callable[[str], Any]) -> None:
    page = refrigerator(opened, site)
    expect(page.locator("p.message")).to_have_text(expected())
    sms, mail = (str(page.locator(f'.send a[href^="{start}"]').get_attribute("href")) for start in ("sms:", "mailto:"))
    assert unquote(sms.partition("?body=")[2]) == expected()
    assert unquote(mail.partition("&body=")[2]) == expected()
    assert not re.search("localhost|127|8501|http", sms + mail)
    assert page.locator("p.message").evaluate("e => getComputedStyle(e).userSelect") == "all"
    expect(page.locator("[data-share]")).to_be_hidden()  # a browser without a sheet of its own


def test_the_phone_s_own_share_sheet_opens_at_a_tap_and_not_before(site: str, opened: Callable[[str], Any]) -> None:
    page = opened("about:blank")
    page.add_init_script(STUB)
    page.goto(f"{site}/{AT}")
    expect(page.locator(".verdict")).to_be_visible()
    button = at_rest(page).locator("[data-share]")
    expect(button).to_be_visible()
    assert page.evaluate("window.shared") is None
    button.click()
    assert page.evaluate("window.shared") == {"text": expected()}


def test_the_page_prints_the_answer_and_not_what_was_asked(site: str, opened: Callable[[str], Any]) -> None:
    page = refrigerator(opened, site)
    page.evaluate("window.print = () => { window.printed = true; }")
    page.locator("[data-print]").click()
    assert page.evaluate("window.printed")
    printed = PdfReader(io.BytesIO(page.pdf(format="Letter")))
    text = " ".join(each.extract_text() for each in printed.pages)
    assert len(printed.pages) == 1
    for said in ("You were quoted $400.", "What you will have paid", "Local codes", expected()[:30]):
        assert said in " ".join(text.split()), said
    assert not re.search("Give it to the customer|At home|Which appliance|Save this|How did it end|Whose is it", text)


def test_each_visit_s_sheet_has_a_name_of_its_own_and_what_was_measured(
    site: str, opened: Callable[[str], Any], tmp_path: Path
) -> None:
    page = refrigerator(opened, site)
    given, text = saved(page, page.get_by_role("button", name="Give it to the customer").click, tmp_path)
    assert re.fullmatch(r"\d{4}-\d\d-\d\d-refrigerator-freezer-12-years-at-400-[0-9a-f]{6}\.pdf", given)
    assert "What does the compressor do? It clicks every few minutes." in " ".join(text.split())
    link = page.get_by_role("link", name="Text or e-mail it")
    expect(link).to_be_in_viewport()
    link.click()
    expect(page.locator("p.message")).to_be_in_viewport()
    at_rest(page).get_by_role("button", name="Next", exact=True).click()
    expect(page.locator(".st-key-waiting")).to_be_visible()
    page = refrigerator(lambda url: page.goto(url) and page, site)
    again, _ = saved(page, page.get_by_role("button", name="Give it to the customer").click, tmp_path)
    assert again[:-10] == given[:-10]
    assert again != given


def test_the_next_customer_s_page_stands_at_its_top(site: str, opened: Callable[[str], Any]) -> None:
    page = refrigerator(opened, site)
    page.locator("[data-testid=stMain]").evaluate("e => e.scrollTo(0, e.scrollHeight)")
    at_rest(page).get_by_role("button", name="Next", exact=True).click()
    expect(page.locator(".st-key-waiting")).to_be_visible()
    at_rest(page)
    page.wait_for_function("document.querySelector('[data-testid=stMain]').scrollTop === 0")
    expect(page.get_by_role("radio", name="Cooling")).to_be_in_viewport()
