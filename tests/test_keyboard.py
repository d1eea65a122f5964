"""The screens by keys alone and as they are heard, in a real browser on a desk: each user's way to what is handed over.

What is asked of a page here is asked by WCAG 2.2 (from memory), each by its number beside it.
"""

import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from conftest import DESK, at_rest
from playwright.sync_api import Page, expect

from decide.answers.answer import answer
from decide.load.cases.case_file import Entries
from decide.show.text.words import Words

pytestmark = pytest.mark.browser

ANSWERED = "?group=cooling&kind=refrigerator&fault=compressor&age=12&quote=401&place=US"

ENTRIES: Entries = {
    "appliance": {"class": "refrigerator", "age": 12.0, "fault": "compressor"},
    "household": {"place": "US"},
    "repair": {"quote": 401.0, "remaining_life_factor": 1.0},
}

BOOK = "Appliance,Age,Quote,Job\nWashing machine,4,180.50,by keys\nWashing machine,12,401.00,by keys\n"
"""Invented."""

MOST_STOPS = 90

A_LINE = 12
"""So much higher may stand what stands beside it. [pixel]"""

STOP = """() => {
    const here = document.activeElement;
    const around = '[data-testid=stTextInputRootElement], [role=group], label';
    const drawn = here.matches('input') ? here.closest(around) : here;
    const box = here.getBoundingClientRect(), bar = document.querySelector('[data-testid=stBottom]');
    const under = bar && !bar.contains(here) ? bar.getBoundingClientRect().top : innerHeight;
    const column = here.closest('[data-testid=stColumn]');
    return {
        what: here.outerHTML.slice(0, 120),
        ring: parseFloat(getComputedStyle(drawn).outlineWidth) * (getComputedStyle(drawn).outlineStyle === 'solid'),
        seen: box.top > -1 && (box.bottom < under + 1 || box.height > under),
        column: column ? [...document.querySelectorAll('[data-testid=stColumn]')].indexOf(column) : -1,
        top: box.top + document.querySelector('[data-testid=stMain]').scrollTop,
    };
}"""
"""Where the keys stand: whether it is ringed, and lies in view, clear of the bar below."""


@pytest.fixture
def screen() -> dict[str, Any]:
    """A screen on a desk, where there are keys."""
    return dict(DESK)


def stands_in(page: Page, part: str) -> bool:
    return bool(page.evaluate("part => !!document.activeElement.closest(part)", part))


def go_to(page: Page, part: str) -> Page:
    """Press Tab until the keys stand in a part of the page."""
    at_rest(page)
    for _ in range(MOST_STOPS):
        page.keyboard.press("Tab")
        if stands_in(page, part):
            return page
    raise AssertionError(f"no key leads to {part}")


def press(page: Page, *keys: str) -> None:
    for key in keys:
        page.keyboard.press(key)
    at_rest(page)


def heard(page: Page) -> Any:
    return page.locator("[role=status].heard")


def taken(page: Page, part: str, path: Path) -> bytes:
    """What is handed over by the button of a part; the keys stay on it."""
    go_to(page, part)
    with page.expect_download() as download:
        page.keyboard.press("Enter")
    download.value.save_as(path)
    expect(page.locator(f"{part} button")).to_be_focused()
    return path.read_bytes()


def choose(page: Page, part: str, name: str) -> None:
    """Walk to one of several by the arrows: what was used lately stands first."""
    go_to(page, part)
    for _ in range(MOST_STOPS):
        if page.evaluate("document.activeElement.textContent.trim()") == name:
            break
        press(page, "ArrowRight")
    press(page, "Space")


def choose_a_refrigerator(page: Page) -> None:
    choose(page, ".st-key-group", "Cooling")
    choose(page, ".st-key-kind", "Refrigerator-freezer")
    expect(page.get_by_role("radio", name="Refrigerator-freezer")).to_be_checked()
    expect(page.get_by_role("radio", name="Refrigerator-freezer")).to_be_focused()


def test_at_the_door_from_an_empty_page_to_the_next_customer(
    site: str, opened: Callable[[str], Any], tmp_path: Path
) -> None:
    page, words, expected = opened(site), Words.of(region="US"), answer(ENTRIES)
    choose_a_refrigerator(page)
    go_to(page, ".st-key-fault")
    page.keyboard.type("does not run")
    expect(page.get_by_role("option")).to_have_count(1)
    press(page, "ArrowDown", "Enter")
    expect(page.get_by_label("Age, or year made")).to_be_focused()  # what was chosen folds into a line
    page.keyboard.type("12")
    go_to(page, ".st-key-quote")
    page.keyboard.type("401")
    expect(page.locator(".verdict")).to_have_text(words.verdict(expected))
    expect(page.get_by_label("Quote in $, with tax")).to_be_focused()  # 3.2.2: an answer that comes takes no key away
    press(go_to(page, ".st-key-section"), "ArrowRight", "Space")
    expect(page.locator(".st-key-breakeven .main-svg").first).to_be_visible()
    assert stands_in(page, ".st-key-section")
    assert taken(page, ".st-key-take_paper", tmp_path / "paper.pdf").startswith(b"%PDF")
    go_to(page, ".st-key-give")
    with page.expect_download() as given:
        page.keyboard.press("Enter")
    assert given.value.suggested_filename.endswith(".pdf")
    expect(page.get_by_role("link", name="Text or e-mail it")).to_be_visible()  # it stands where the button was
    go_to(page, ".st-key-lead")
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Next", exact=True)).to_be_focused()
    press(page, "Enter")
    expect(page.locator(".st-key-waiting")).to_be_visible()
    expect(page.get_by_role("heading", level=1)).to_be_focused()  # 2.4.3: what had the keys is gone
    page.keyboard.press("Tab")
    assert stands_in(page, ".st-key-group")


def test_at_home_from_an_empty_page_past_the_checks_to_the_answer(
    site: str, opened: Callable[[str], Any], tmp_path: Path
) -> None:
    page = opened(f"{site}/home")
    choose_a_refrigerator(page)
    press(go_to(page, ".st-key-symptom"), "Space")
    press(go_to(page, ".st-key-next"), "Enter")
    expect(page.get_by_role("heading", name="What you can check yourself")).to_be_focused()
    card = page.get_by_role("group", name="Door kept ajar")
    expect(card.get_by_role("button", name="Not it")).to_be_visible()
    press(go_to(page, "[class*=st-key-out_]"), "Enter")
    expect(card).to_have_count(0)
    expect(heard(page)).to_contain_text("Ruled out: Door kept ajar")
    expect(page.get_by_role("button", name="Not it").first).to_be_focused()
    press(go_to(page, ".st-key-next"), "Enter")
    go_to(page, ".st-key-age")
    page.keyboard.type("12")
    for heading in ("Where, and for how long?", "Do you have a quote?"):  # one after the other, with nothing in between
        press(go_to(page, ".st-key-next"), "Enter")
        expect(page.get_by_role("heading", name=heading)).to_be_focused()
        expect(page.get_by_role("heading", name=heading)).to_be_in_viewport()
    go_to(page, ".st-key-quote")
    page.keyboard.type("185")
    press(go_to(page, ".st-key-next"), "Enter")
    expect(page.get_by_role("heading", name="The answer")).to_be_focused()
    expect(page.locator(".headline")).to_contain_text("You were quoted $185")
    assert taken(page, ".st-key-take_paper", tmp_path / "paper.pdf").startswith(b"%PDF")
    go_to(page, ".st-key-back")
    press(page, "Enter")
    expect(page.get_by_label("What were you asked to pay")).to_have_value("185")


def test_in_the_shop_from_a_book_to_the_policy_card(site: str, opened: Callable[[str], Any], tmp_path: Path) -> None:
    page, book = opened(f"{site}/shop"), tmp_path / "keys.csv"
    book.write_text(BOOK, "utf-8")
    with page.expect_file_chooser() as chooser:
        go_to(page, ".st-key-shop_give").keyboard.press("Enter")
    chooser.value.set_files(book)
    expect(page.locator(".st-key-answer")).to_contain_text("2 of 2 rows could be read")
    expect(page.get_by_role("heading", level=1)).to_be_focused()
    expect(heard(page)).to_contain_text(page.locator(".st-key-answer .headline").inner_text())
    go_to(page, ".st-key-shop_part")
    press(page, "ArrowRight", "ArrowRight", "ArrowRight", "Space")
    expect(page.get_by_role("radio", name="Policy card")).to_be_focused()
    expect(page.locator("[data-testid=stDataFrame] [role=grid]")).to_be_attached()  # what a picture of it shows
    assert taken(page, ".st-key-take_card_pdf", tmp_path / "card.pdf").startswith(b"%PDF")


@pytest.mark.parametrize("path", [ANSWERED, f"home{ANSWERED}&step=3", "shop?part=card"])
def test_the_keys_go_by_the_order_of_sight_and_are_seen_wherever_they_stand(
    site: str, opened: Callable[[str], Any], path: str
) -> None:
    page = opened(f"{site}/{path}")
    expect(page.get_by_role("heading", level=2).first).to_be_visible()
    at_rest(page)
    stops = []
    for _ in range(MOST_STOPS):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement === document.body"):  # 2.1.2: there is a way out at the end
            break
        if not stands_in(page, "[data-testid=stSkipToContent], [data-testid=stMain]:focus, canvas, .dvn-scroller"):
            stops.append(page.evaluate(STOP))
    else:
        raise AssertionError("the keys are caught in the page")
    assert len(stops) > 8
    assert [stop["what"] for stop in stops if stop["ring"] < 3] == []  # 2.4.7 and 2.4.13
    assert [stop["what"] for stop in stops if not stop["seen"]] == []  # 2.4.11
    for before, after in pairwise(stops):  # 2.4.3
        assert before["column"] != after["column"] or after["top"] > before["top"] - A_LINE, (before, after)


def test_a_changed_answer_is_heard_and_a_field_says_what_was_read(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(f"{site}/{ANSWERED}")
    expect(page.locator(".headline")).to_contain_text("You were quoted $401")
    at_rest(page)
    expect(heard(page)).to_be_empty()  # a page that was just opened is read from its top
    field = page.get_by_label("Quote in $, with tax")
    go_to(page, ".st-key-quote")
    page.keyboard.type("90,00")
    changed = answer({**ENTRIES, "repair": {"quote": 90.0, "remaining_life_factor": 1.0}})
    words = Words.of(region="US")
    expect(heard(page)).to_have_text(words.verdict(changed) + words.headline(changed))  # 4.1.3
    expect(field).to_have_accessible_description("= $90")  # 1.3.1
    page.keyboard.type("x")
    expect(heard(page)).to_contain_text("'90,00x' cannot be read")
    expect(field).to_have_attribute("aria-invalid", "true")  # 3.3.1
    expect(field).to_have_accessible_description(re.compile("'90,00x' cannot be read"))
    press(page, "Backspace")
    expect(field).to_have_accessible_description("= $90")
    expect(field).not_to_have_attribute("aria-invalid", "true")


def test_a_key_leads_over_what_is_asked_to_the_answer(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(f"{site}/{ANSWERED}")
    expect(page.locator(".headline")).to_be_visible()
    go_to(page, ".skip")
    expect(page.get_by_role("link", name="Skip to the answer")).to_be_in_viewport()
    page.keyboard.press("Enter")
    expect(page.locator(".verdict")).to_be_in_viewport()
    page.keyboard.press("Tab")
    assert stands_in(page, ".st-key-notes, .st-key-section")  # 2.4.1


def test_the_language_is_changed_by_keys_and_the_page_says_which_it_is(site: str, opened: Callable[[str], Any]) -> None:
    page = opened(f"{site}/{ANSWERED}")
    expect(page).to_have_title("At the door - Mendpoint")  # 2.4.2
    go_to(page, ".st-key-language_choice")
    page.keyboard.press("Enter")
    expect(page.get_by_role("radio", name="English")).to_be_focused()
    press(page, "ArrowDown")
    expect(page.locator("html")).to_have_attribute("lang", "es")  # 3.1.1
    expect(page).to_have_title("En la puerta - Mendpoint")
    expect(page.get_by_role("radio", name="Español")).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.get_by_role("button", name="Español")).to_be_focused()
    expect(heard(page)).to_contain_text(Words.of("es", "US").verdict(answer(ENTRIES)))


@pytest.mark.parametrize(
    ("path", "here"),
    [
        (ANSWERED, "At the door"),
        (f"home{ANSWERED}&step=6", "At home"),
        ("home?group=cooling&kind=refrigerator&symptom=warm_throughout&step=2", "At home"),
        *((f"shop?part={part}", "In the shop") for part in ("book", "records", "quotes", "card", "settings")),
    ],
)
def test_headings_ways_and_charts_have_their_words(
    site: str, opened: Callable[[str], Any], path: str, here: str
) -> None:
    page = opened(f"{site}/{path}")
    expect(page.get_by_role("heading", level=2).first).to_be_attached()
    at_rest(page)
    expect(page.get_by_role("navigation").locator("[aria-current=page]")).to_have_text(here)
    levels = page.locator("h1, h2, h3, h4").evaluate_all("all => all.map(each => Number(each.tagName[1]))")
    assert levels[0] == 1  # 1.3.1, as all that follows
    assert [after for before, after in pairwise(levels) if after > before + 1] == []
    expect(page.locator("[data-testid=stPlotlyChart]:not([role=img])")).to_have_count(0)  # 1.1.1
    names = page.locator("[data-testid=stPlotlyChart]").evaluate_all("all => all.map(each => each.ariaLabel)")
    assert [name for name in names if len(name) < 40] == []
    nameless = """all => all.filter(field => field.checkVisibility() && !field.ariaLabel && !field.labels?.length)
        .map(field => field.outerHTML.slice(0, 120))"""
    assert page.locator("input:not([type=file])").evaluate_all(nameless) == []


@pytest.mark.parametrize("step", "123456")
def test_no_two_buttons_of_a_step_at_home_have_one_name(site: str, opened: Callable[[str], Any], step: str) -> None:
    seen = "kind=refrigerator&symptom=warm_throughout&age=12&place=US"
    page = at_rest(opened(f"{site}/home?{seen}&step={step}"))
    expect(page.get_by_text(f"Step {step} of 6")).to_be_visible()
    names = re.findall(r"- '?button \"(.+?)\"", at_rest(page).locator("body").aria_snapshot())
    assert len(names) == len(set(names)) >= 3  # 2.4.6: a label tells what it is about
    assert step != "2" or "Not it: Door seal torn or slack" in names
