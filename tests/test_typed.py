"""Numbers as people type them: the marks of each country read right, or refused."""

import math
import re

import pytest
from babel.numbers import format_decimal
from hypothesis import given
from hypothesis import strategies as st

from decide.errors import CaseError
from decide.load.tables.typed import ForeignMoney, NoNumber, TooFine, TwoReadings, typed_number

# From memory: 22nd General Conference on Weights and Measures (2003), resolution 10: the decimal marker is the point or
# the comma on the line, and groups of three digits are set apart by a space. How shops write money: common practice, no
# source.
WRITTEN = [
    ("7,5", 7.5),
    ("7.5", 7.5),
    ("1.234,50", 1234.5),
    ("1,234.50", 1234.5),
    ("1'234.50", 1234.5),
    ("1\u2019234.50", 1234.5),
    ("1 234,50", 1234.5),
    ("1\u00a0234,50", 1234.5),
    ("1\u202f234,50", 1234.5),
    ("1.234.567", 1234567.0),
    ("1,234,567.8", 1234567.8),
    ("12 345", 12345.0),
    ("185", 185.0),
    ("185,-", 185.0),
    ("185.\u2013", 185.0),
    (" 185 ", 185.0),
    ("\uff11\uff18\uff15", 185.0),
]

# Marks before three digits that still have one meaning: no group of thousands starts with 0, or has four digits.
ONE_MEANING = [("0,154", 0.154), ("0.154", 0.154), (".154", 0.154), ("1234,567", 1234.567), ("1 234.567", 1234.567)]

WITH_SIGNS = [
    ("$ 120.00", 120.0), ("\u20ac120", 120.0), ("120 \u20ac", 120.0), ("EUR 7,5", 7.5), ("120 usd", 120.0),
    ("\u00a31,234.50", 1234.5), ("-$5", -5.0), ("$-5", -5.0), ("\u221210 %", -0.1), ("3%", 0.03), ("3,5 %", 0.035),
    ("%3", 0.03), ("+20%", 0.2),
]  # fmt: skip

NO_NUMBER = [
    "", " ", "abc", "$", "-", ",", "..", "1e3", "nan", "inf", "--5", "5-", "1 2", "1 23", "12 34", "1 2345", "1,23,456",
    "1.2.3", "1.234,567.8", "1.2345.678", "1.234 567", "0.1.2", "5%%", "5 kWh", "0x10", "1_000", "9" * 41,
]  # fmt: skip


@pytest.mark.parametrize(("text", "meant"), [*WRITTEN, *ONE_MEANING, *WITH_SIGNS])
def test_every_habit_of_writing_is_read_as_it_is_meant(text: str, meant: float) -> None:
    assert typed_number(text, "repair.quote") == meant


@pytest.mark.parametrize("text", NO_NUMBER)
def test_what_is_no_number_is_refused_by_the_name_of_its_field(text: str) -> None:
    with pytest.raises(CaseError, match=f"got {re.escape(repr(text))}") as error:
        typed_number(text, "repair.quote")
    assert error.value.field == "repair.quote"


@pytest.mark.parametrize("text", ["1.234", "1,234", "12,345", "123.456", "$1,234", "-1.234"])
def test_a_lone_mark_before_three_digits_is_refused_and_both_readings_are_offered(text: str) -> None:
    with pytest.raises(CaseError, match="can be read as") as error:
        typed_number(text, "replace.price")
    offered = re.search(r"write (\S+) or (\S+),", error.value.message)
    assert offered is not None
    large, small = (typed_number(way, "replace.price") for way in offered.groups())
    assert large == pytest.approx(1000 * small)


@pytest.mark.parametrize(
    ("text", "locale", "meant"),
    [
        ("1,234", "en_US", 1234.0),
        ("1.234", "en_US", 1.234),
        ("1.234", "de_DE", 1234.0),
        ("1,234", "de_DE", 1.234),
        ("1,234", "fr_FR", 1.234),
    ],
)
def test_a_locale_settles_what_would_be_ambiguous(text: str, locale: str, meant: float) -> None:
    assert typed_number(text, "replace.price", locale) == meant


# Money has two decimals, so a lone mark before three digits can only be thousands, or a slip.
@pytest.mark.parametrize(
    ("text", "locale"), [("1.234", "en_US"), ("1,234", "de_DE"), ("1.234", None), ("1,234", None), ("$1.234", "en_US")]
)
def test_money_with_three_decimals_is_asked_about_in_any_habit(text: str, locale: str | None) -> None:
    with pytest.raises(TwoReadings, match=r"can be read as 1234 or as 1\.234; write 1234 or 1\.23,"):
        typed_number(text, "repair.quote", locale, "money")


def test_the_small_reading_of_money_is_offered_to_the_cent_a_half_going_up() -> None:
    with pytest.raises(TwoReadings) as error:
        typed_number("2.345", "repair.quote", None, "money")
    assert error.value.typed_small == "2.35"


@pytest.mark.parametrize(("text", "locale"), [("1,234", "en_US"), ("1.234", "de_DE")])
def test_money_is_thousands_where_the_habit_says_so(text: str, locale: str) -> None:
    assert typed_number(text, "repair.quote", locale, "money") == 1234.0


@pytest.mark.parametrize("text", ["0.154", "12.3456", "1234,567", "1.234,567"])
def test_money_is_never_finer_than_a_cent(text: str) -> None:
    with pytest.raises((TooFine, NoNumber)):
        typed_number(text, "repair.quote", None, "money")


def test_a_price_of_a_kilowatt_hour_is_no_amount_of_money() -> None:
    assert typed_number("0.1538", "household.electricity_price", "en_US", "money/kWh") == 0.1538


@pytest.mark.parametrize("locale", ["en_US", "de_DE", "fr_FR", "de_CH"])
@pytest.mark.parametrize(("text", "meant"), [*WRITTEN, *ONE_MEANING])
def test_a_locale_never_changes_what_has_one_meaning(text: str, meant: float, locale: str) -> None:
    assert typed_number(text, "repair.quote", locale) == meant


# What people write beside a number: common practice, no source.
@pytest.mark.parametrize(
    ("text", "unit", "meant"),
    [
        ("12 years", "year", 12), ("12 yrs.", "year", 12), ("12y", "year", 12), ("12 years old", "year", 12),
        ("18 months", "year", 1.5), ("18 meses", "year", 1.5), ("12 a\u00f1os", "year", 12), ("1 a\u00f1o", "year", 1),
        ("400 dollars", "money", 400), ("1,234.50 euros", "money", 1234.5), ("400 d\u00f3lares", "money", 400),
    ],
)  # fmt: skip
def test_a_number_may_say_its_own_unit(text: str, unit: str, meant: float) -> None:
    assert typed_number(text, "appliance.age", unit=unit) == meant


@pytest.mark.parametrize(
    ("text", "unit"),
    [("12 years", "money"), ("12 days", "year"), ("12 y 6", "year"), ("1 year 234", "year"), ("12\u20ac50", "money")],
)
def test_words_that_are_not_the_units_own_are_refused(text: str, unit: str) -> None:
    with pytest.raises(NoNumber):
        typed_number(text, "appliance.age", unit=unit)


@pytest.mark.parametrize("currency", ["USD", "EUR"])
@pytest.mark.parametrize(
    ("text", "money"),
    [("$350", "USD"), ("350 USD", "USD"), ("350 dollars", "USD"), ("350 d\u00f3lares", "USD"), ("US$ 350", "USD"),
     ("\u20ac 350", "EUR"), ("350 eur", "EUR"), ("350 euros", "EUR"), ("\u00a3350", "GBP"), ("$350 EUR", "both")],
)  # fmt: skip
def test_an_amount_in_another_money_than_that_of_the_place_is_refused(text: str, money: str, currency: str) -> None:
    if money == currency:
        assert typed_number(text, "repair.quote", unit="money", currency=currency) == 350
        return
    with pytest.raises(ForeignMoney, match=f"must be in {currency}"):
        typed_number(text, "repair.quote", unit="money", currency=currency)


@given(
    st.decimals(0, 999_999, places=2), st.sampled_from(["en_US", "en_IE", "de_DE", "fr_FR", "de_CH", "it_IT", "sv_SE"])
)
def test_an_amount_that_a_locale_library_writes_is_read_back(amount: object, locale: str) -> None:
    """Babel writes the amount in the habit of the country; two decimals, so nothing is ambiguous."""
    assert typed_number(format_decimal(amount, format="#,##0.00", locale=locale), "f") == float(str(amount))


@given(st.text(max_size=60) | st.text("0123456789.,' -%$", max_size=12))
def test_any_text_is_a_finite_number_or_a_named_fault(text: str) -> None:
    try:
        value = typed_number(text, "repair.quote")
    except CaseError as refused:
        value, field = 0.0, refused.field
    else:
        field = "repair.quote"
    assert math.isfinite(value)
    assert field == "repair.quote"
