"""Quotes in the shop, on the page: what the pure functions say, nothing forgotten, and a warning before it is given."""

import datetime
import json
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from conftest import texts
from streamlit.testing.v1 import AppTest
from test_shop_page import run, shop_page
from whole_books import read_jobs

from decide.answers.policy_card import card_of
from decide.answers.shop_bands import shop_bands
from decide.answers.shop_policy import usual_practice
from decide.answers.shop_quote import ShopQuote, quote_for
from decide.load.cases.case_file import complete
from decide.load.jobs.book import open_book
from decide.load.jobs.columns import parse_mapping
from decide.load.store.store import Store
from decide.load.tables.tables import data_dir, tables
from decide.load.tables.typed import typed_number
from decide.shop.quoting import Charges, SalesTax, Work
from decide.show.pdf.policy_card import card_page
from decide.show.screens.shop.card import as_csv, card_table
from decide.show.screens.shop.rates import CHOSEN, NUMBERS, checked_rates, key_of, label_of
from decide.show.text.policy_card import cells
from decide.show.text.ruler import about
from decide.show.text.shop import (
    acceptance_text,
    bands_text,
    fee_rows,
    past_text,
    rule_rows,
    shop_text,
    verdict_text,
    what_if_rows,
)
from decide.show.text.words import Words

pytestmark = pytest.mark.slow

WORDS = Words.for_place("US")

# Invented.
RATES = {"rate": "95", "markup": "40", "trip": "45", "overhead": "10 %", "tax": "7", "tax_labour": "0", "fee": "89"}


def type_in(page: AppTest, **fields: str) -> AppTest:
    for name, text in fields.items():
        run(page.text_input(key=key_of(name)).set_value(text))
    return page


def at_case(page: AppTest, kind: str = "refrigerator", fault: str = "compressor", age: str = "9") -> AppTest:
    run(page.selectbox(key="kind").set_value(kind))
    run(page.selectbox(key="fault").set_value(fault))
    return run(page.text_input(key="age").set_value(age))


@pytest.fixture
def page() -> AppTest:
    return shop_page(part="quotes")


def expected(
    way: str = "charged",
    margin: float | None = None,
    flat: bool = False,
    parts: float = 120,
    days: float | None = None,
) -> ShopQuote:
    case = complete({"appliance": {"class": "refrigerator", "fault": "compressor", "age": 9.0}})
    work = Work(parts=parts, hours=1.5, hour_cost=95, way_cost=45, overhead=0.1)
    by_time, by_price = Charges(markup=0.4, rate=95, trip=45), Charges(markup=0.4, flat=150, trip=45)
    return quote_for(case, work, by_price if flat else by_time, SalesTax(parts=0.07), 89.0, way, margin, days)


# the builder


@pytest.mark.parametrize("way", CHOSEN["way"])
def test_the_page_says_the_quote_of_the_pure_functions(page: AppTest, way: str) -> None:
    type_in(at_case(page), parts="120", hours="1,5", **RATES)
    run(page.pills(key=key_of("way")).set_value(way))
    found = expected(way)
    assert {
        verdict_text(WORDS, found),
        *shop_text(WORDS, replace(found, margin=math.nan, margin_at_limit=math.nan)),
    } <= set(texts(page))
    assert WORDS.percent(found.margin, 1) not in " ".join(texts(page))
    type_in(page, hour_cost="95")
    assert {verdict_text(WORDS, found), *shop_text(WORDS, found)} <= set(texts(page))
    [table] = [each.value for each in page.table]
    shown = [tuple(cell.replace("\\", "") for cell in row) for row in table.itertuples(index=False)]
    assert shown == fee_rows(WORDS, found)


def test_a_flat_price_and_a_margin_to_reach_are_taken(page: AppTest) -> None:
    type_in(at_case(page), parts="120", hours="1.5", margin="30", **RATES)
    assert verdict_text(WORDS, expected(margin=0.3)) in texts(page)
    run(page.pills(key=key_of("pricing")).set_value("flat"))
    type_in(page, flat="150", margin="")
    assert verdict_text(WORDS, expected(flat=True)) in texts(page)


def test_a_quote_above_the_limit_is_flagged_before_it_is_given_and_the_one_at_the_limit_goes_to_the_door(
    page: AppTest,
) -> None:
    type_in(at_case(page), parts="420", hours="1.5", **RATES)
    found = expected(parts=420)
    assert found.held.flagged
    assert "Do not give this quote" in texts(page)
    assert verdict_text(WORDS, found) in texts(page)
    assert page.session_state["quote"] == ""
    run(page.button(key="build_use_limit").click())
    taken = typed_number(page.session_state["quote"], "repair.quote")
    assert float(found.held.limit) - 0.01 < taken <= float(found.held.limit)
    assert f"At the door the quote is now {WORDS.money(taken, cents=True)}." in texts(page)


def test_one_tap_takes_the_quote_to_the_door_and_the_door_answers_with_the_same_limit(page: AppTest) -> None:
    type_in(at_case(page), parts="120", hours="1.5", **RATES)
    run(page.button(key="build_use").click())
    found = expected()
    assert not found.held.flagged
    page.session_state["page_of_test"] = "door"
    run(page)
    assert page.text_input(key="quote").value == f"{found.held.quote:.2f}"
    assert page.session_state["kind"] == "refrigerator"
    text = " ".join(texts(page))
    assert f"about {WORDS.money(about(float(found.held.limit)))}" in text
    assert WORDS.money(float(found.held.quote), cents=True) in text


def test_a_credited_fee_goes_to_the_door_with_the_quote_so_that_both_pages_name_one_limit(page: AppTest) -> None:
    type_in(at_case(page), parts="120", hours="1.5", days="365", **RATES)
    run(page.pills(key=key_of("way")).set_value("credited"))
    run(page.button(key="build_use").click())
    found, kept = expected("credited", days=365.0), page.session_state["kept"]["repair"]
    quote = round(float(found.held.quote), 2)
    assert kept == {"quote": {"amount": quote, "fee_credit": 89.0, "fee_if_declined": 0.0}}
    assert page.session_state["repair_warranty"] == "365"
    page.session_state["page_of_test"] = "door"
    run(page)
    answered = page.session_state["answered"][1]
    with_fee = float(found.held.limit) + 89.0  # the door counts what accepting saves; the shop what the repair is worth
    assert float(answered.weighing.repair_limit) == pytest.approx(with_fee, abs=1e-6)


def test_what_cannot_be_read_is_told_at_its_field_and_everything_else_stays(page: AppTest) -> None:
    type_in(at_case(page), parts="120", hours="1.5", **RATES)
    type_in(page, trip="abc", margin="99")
    sentences = texts(page)
    assert f"{label_of(WORDS, 'trip')}: type it as a number; 'abc' cannot be read." in sentences
    assert any(text.startswith(label_of(WORDS, "margin")) and "95%" in text for text in sentences)
    assert not any(text.startswith("The quote of") for text in sentences)
    assert page.text_input(key=key_of("markup")).value == "40"
    assert page.text_input(key=key_of("trip")).value == "abc"
    assert any("2 entries cannot be used" in text for text in texts(page))
    type_in(page, trip="45", margin="")
    assert verdict_text(WORDS, expected()) in texts(page)


@pytest.mark.parametrize("name", NUMBERS)
def test_every_field_refuses_what_lies_beyond_its_bounds(page: AppTest, name: str) -> None:
    from decide.errors import OutOfRange
    from decide.show.screens.shop.rates import number_typed

    top = NUMBERS[name].high * (100 if NUMBERS[name].unit == "share" else 1)
    assert number_typed(WORDS, name, f"{top:.0f}") == pytest.approx(NUMBERS[name].high)
    with pytest.raises(OutOfRange) as refused:
        number_typed(WORDS, name, f"{top * 1.01 + 1:.0f}")
    assert label_of(WORDS, name) in WORDS.explain(refused.value)[0]


# nothing typed is lost


def test_rates_are_typed_once_and_stand_there_the_next_day(page: AppTest) -> None:
    type_in(page, **RATES)
    run(page.pills(key=key_of("way")).set_value("credited"))
    with Store.open() as store:
        assert json.loads(str(store.settings()["rates"])) == {**RATES, "way": "credited"}
    again = shop_page(part="quotes")
    assert {name: again.session_state[key_of(name)] for name in RATES} == RATES
    assert again.session_state[key_of("way")] == "credited"
    assert again.text_input(key=key_of("parts")).value == ""


def test_what_is_half_typed_survives_the_other_parts_and_the_door(page: AppTest) -> None:
    type_in(at_case(page), parts="12x", hours="2", markup="33")
    for part in ("card", "settings", "book"):
        run(page.pills(key="shop_part").set_value(part))
    page.session_state["page_of_test"] = "door"
    run(page)
    page.session_state["page_of_test"] = "shop"
    run(page)
    run(page.pills(key="shop_part").set_value("quotes"))
    typed = {"parts": "12x", "hours": "2", "markup": "33"}
    assert {name: page.text_input(key=key_of(name)).value for name in typed} == typed
    assert page.text_input(key="age").value == "9"


def test_the_next_customer_starts_without_the_last_ones_parts_and_undo_brings_them_back(page: AppTest) -> None:
    type_in(at_case(page), parts="120", hours="2", markup="33")

    def at_the_door(label: str) -> None:
        page.session_state["page_of_test"] = "door"
        run(page)
        run(next(button for button in page.button if button.label == label).click())
        page.session_state["page_of_test"] = "shop"
        run(page)

    at_the_door("Next")
    assert page.text_input(key=key_of("parts")).value == ""
    assert page.text_input(key=key_of("markup")).value == "33"
    at_the_door("Undo")
    assert page.text_input(key=key_of("parts")).value == "120"


@pytest.mark.parametrize("kept", ["no json", "[1]", '{"markup": 40}', '{"way": "stolen"}', '{"unknown": "1"}', b"\xff"])
def test_rates_that_are_none_are_refused_and_said(kept: Any) -> None:
    from decide.errors import CaseError

    with pytest.raises(CaseError):
        checked_rates(kept)
    with Store.open() as store:
        store.save_settings({"rates": kept})
    page = shop_page(part="quotes")
    assert any("rates" in text for text in texts(page))
    assert page.text_input(key=key_of("markup")).value == ""


# what a book says


@pytest.mark.slow
def test_the_invented_book_gets_the_bands_of_the_pure_function(page: AppTest) -> None:
    run(page.button(key="shop_try").click())
    folder = data_dir() / "demo"
    mapping = parse_mapping((folder / "jobs.toml").read_bytes())
    jobs, _ = read_jobs(open_book(folder / "jobs.csv", "jobs.csv"), mapping)
    found = shop_bands(jobs, mapping.place, usual_practice(mapping.place, tables()), tables())
    sentences = {*bands_text(WORDS, found), *past_text(WORDS, found), acceptance_text(WORDS, found)}
    assert sentences <= set(texts(page))
    changes = {cell for row in what_if_rows(WORDS, found) for cell in row}
    assert changes <= set(texts(page))
    rules = next(each.value for each in page.table if len(each.value) == len(found.rules))
    shown = [tuple(cell.replace("\\", "") for cell in row) for row in rules.itertuples(index=False)]
    assert shown == rule_rows(WORDS, found)
    # and what is tried changes them
    type_in(page, dearer="50", longer="1000", attention="40", cost="60")
    tried = usual_practice("US", tables(), dearer=0.5, warranty=1000.0, attention=40.0, cost=0.6)
    other = shop_bands(jobs, mapping.place, tried, tables())
    assert bands_text(WORDS, other)[1] in texts(page)
    assert {cell for row in what_if_rows(WORDS, other) for cell in row} <= set(texts(page))


def test_bad_numbers_to_try_are_told_and_nothing_is_worked_out_by_them(page: AppTest) -> None:
    run(page.button(key="shop_try").click())
    type_in(page, dearer="-95")
    assert any(text.startswith(label_of(WORDS, "dearer")) for text in texts(page))
    assert not any("Say repair" in text for text in texts(page))


# the policy card


def test_the_card_on_the_page_is_that_of_the_pure_function_in_every_cell() -> None:
    page = shop_page(part="card")
    run(page.multiselect(key="policy_kinds").set_value(["dishwasher", "refrigerator"]))
    run(page.selectbox(key="place").set_value("DE"))
    words, card = Words.for_place("DE", "en"), page.session_state["policy_made"][1]
    pure = card_of("DE", card.day, ["dishwasher", "refrigerator"])
    assert [row.kind for row in card.rows] == ["dishwasher", "refrigerator"]
    for mine, theirs in zip(card.rows, pure.rows, strict=True):
        np.testing.assert_array_equal(mine.limits, theirs.limits)
    [shown] = [each.value for each in page.dataframe]
    assert shown.equals(card_table(words, pure))
    flat = " ".join(shown.iloc[0])
    assert all(limit in flat and share in flat for limit, share in cells(words, pure, pure.rows[0]))


def test_the_card_can_be_taken_as_one_page_and_as_rows() -> None:
    page = shop_page(part="card")
    card = page.session_state["policy_made"][1]
    assert card_page(WORDS, card, "A4").startswith(b"%PDF")
    rows = as_csv(WORDS, card).decode().splitlines()
    assert len(rows) == 1 + len(card.rows) * len(card.ages)
    assert {each.label for each in page.get("download_button")} == {"Card (PDF)", "Table (CSV)"}


def test_classes_that_are_not_sold_in_a_new_place_leave_the_card() -> None:
    page = shop_page(part="card")
    here, there = ({kind.kind for kind in tables().classes(region)} for region in ("US", "EU"))
    only = sorted(here - there)
    assert only
    run(page.multiselect(key="policy_kinds").set_value([only[0], "dishwasher"]))
    run(page.selectbox(key="place").set_value("DE"))
    assert page.multiselect(key="policy_kinds").value == ["dishwasher"]


def test_what_is_tried_and_who_differs_stands_below_the_bands(page: AppTest) -> None:
    run(page.button(key="shop_try").click())
    type_in(page, new_fee="129", new_markup="70", new_rate="130", unit_margin="120")
    run(page.pills(key=key_of("new_way")).set_value("credited"))
    shown = " ".join(texts(page))
    for said in ("Mark-up on parts of 70%", "credited on a repair", "This stands apart"):
        assert said in shown
    assert WORDS.say("compare.none", trait=WORDS.say("compare.by.class")) in shown
    page.date_input(key="shop_since").set_value(datetime.date(2024, 6, 1))
    assert any("Since Jun 1, 2024 stands out" in text for text in texts(run(page)))
