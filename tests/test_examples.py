"""Examples of what is said, read and drawn: a line for each habit of a language or a place."""

import datetime
from decimal import Decimal

from decide.errors import Message
from decide.load.tables.evidence import evidence
from decide.load.tables.tables import tables
from decide.show.pdf.paper import LACKING, Paper
from decide.show.screens.html import Line, compared, rows, text
from decide.show.screens.state.fields import age_since
from decide.show.screens.state.symptom_state import joined, pairs
from decide.show.text.carbon_words import kilograms
from decide.show.text.certainty import shown
from decide.show.text.error_texts import ErrorTexts
from decide.show.text.evidence import in_unit, question_text, value_beside, value_of
from decide.show.text.freshness import money_of, other_money, stands_for
from decide.show.text.local_units import local_unit
from decide.show.text.phrases import Phrases, languages, rounded, rounded_parts, unit_of
from decide.show.text.ruler import Ruler, about, ruler_lines
from decide.show.text.words import Words


def test_paper_printable() -> None:
    assert Paper(on=datetime.date(2026, 1, 2)).printable("€ ł → ž \x07" + chr(0x1F600)) == "€ ł → ž  " + LACKING


def test_html_text() -> None:
    assert text("note", "a < b") == '<p class="note">a &lt; b</p>'


def test_html_rows() -> None:
    assert rows("facts", [Line("Today", "$530")]) == '<dl class="facts"><div><dt>Today</dt><dd>$530</dd></div></dl>'


def test_html_compared() -> None:
    assert compared(["Pay today"], [("Repair", ["$95"], True)]).count('class="best"') == 2


def test_entry_age_since() -> None:
    assert (age_since("2013", 2026), age_since("13", 2026), age_since("2031", 2026)) == (13, None, None)


def test_symptom_state_pairs() -> None:
    assert (pairs("a=1;b=two"), joined({"a": "1;2"})) == ({"a": "1", "b": "two"}, "a=1 2")


def test_carbon_words_kilograms() -> None:
    assert kilograms(Words.of(), 1234.4) == "1,234 kg CO2e"


def test_certainty_shown() -> None:
    assert (shown(Words.of(), 9.4321, "year"), shown(Words.of(), 361.27, "money")) == (
        "9.4 years",
        "$361",
    )


def test_error_texts_example() -> None:
    assert (ErrorTexts.of().example("appliance.age"), ErrorTexts.of().example("repair.quote")) == (
        "12",
        "185 or 185.50",
    )


def test_evidence_question_text() -> None:
    assert (
        question_text(Words.for_place("DE"), evidence().questions["freezer_above_12"])
        == "Is the freezer warmer than -12 °C?"
    )


def test_evidence_in_unit() -> None:
    assert (in_unit(Words.for_place("US"), 4.0, "C"), in_unit(Words.for_place("DE"), 4.0, "C")) == ("39 °F", "4 °C")


def test_evidence_value_of() -> None:
    assert value_of(Words.for_place("US"), evidence().readings["freezer_temperature"], "5 F") == -15.0
    assert value_of(Words.for_place("ES"), evidence().readings["fridge_sensor_kohm"], "15,9 kΩ") == 15.9


def test_evidence_value_beside() -> None:
    assert value_beside(Words.for_place("US"), evidence().readings["freezer_temperature"], "5") == -15.0


def test_freshness_money_of() -> None:
    assert (money_of(Phrases.of("en")), money_of(Phrases.of("es", "EU", "ES"))) == (
        "Amounts are in money of May 2026.",
        "Importes en dinero de mayo de 2026.",
    )


def test_where_people_pay_in_other_money_it_is_said_that_amounts_are_in_euro() -> None:
    """A Norwegian who types 3,000 kroner must not have them read as euro without a word."""
    said = (
        "Amounts are in euros. Turn Norwegian kroner into euros first: in the second half of 2025, 1 EUR was 11.77 NOK."
    )
    assert other_money(Phrases.of("en", "EU", "NO")) == said
    assert "coronas noruegas" in money_of(Phrases.of("es", "EU", "NO"))
    paying = [place.place for place in tables().places("EU") if other_money(Phrases.of("en", "EU", place.place))]
    assert paying == ["CZ", "DK", "HU", "NO", "PL", "RO", "SE"] == list(tables().exchange)
    assert not any(other_money(Phrases.of("en", "US", place.place)) for place in tables().places("US"))


def test_freshness_stands_for() -> None:
    assert stands_for(Phrases.of("en"), "PL") == "EU average; none published for Poland"


def test_local_units_local_unit() -> None:
    assert (
        local_unit("US", "money/kWh", "household.gas_price").name,
        local_unit("EU", "kWh/year", "appliance.gas").name,
    ) == ("money/therm", "kWh/year")


def test_phrases_languages() -> None:
    assert languages()["en"] == "English"


def test_phrases_rounded() -> None:
    assert (rounded(2.5), rounded(0.125, 2), rounded(-0.3)) == (Decimal("3"), Decimal("0.13"), Decimal("0"))


def test_phrases_rounded_parts() -> None:
    assert [int(part) for part in rounded_parts([1.4, 1.4, 1.4])] == [2, 1, 1]


def test_phrases_unit_of() -> None:
    assert (unit_of("repair.quote"), unit_of("replace.2.appliance.age"), unit_of("title")) == ("money", "year", "")


def test_phrases_of() -> None:
    assert (Phrases.of("es", "EU", "FR").number(1234.5), Phrases.of(region="EU", place="FR").number(1234.5)) == (
        "1.234,5",
        "1,234.5",
    )


def test_phrases_number_locale() -> None:
    assert (
        Phrases.of("es", "EU", "ES").number_locale("money"),
        Phrases.of("en", "EU", "ES").number_locale("money"),
    ) == ("es_ES", None)


def test_phrases_say() -> None:
    assert (
        Phrases.of().say("sure.cheaper", name="A new one", share="8 of 10")
        == "A new one came out cheaper in 8 of 10 tests."
    )


def test_phrases_kind() -> None:
    assert Phrases.of("en").kind("dishwasher") == "Dishwasher"


def test_phrases_place() -> None:
    assert (Phrases.of("en").place("US-OH"), Phrases.of("en").place("DE")) == ("Ohio", "Germany")


def test_phrases_option() -> None:
    assert (Phrases.of("es").option(Message("Repair it")), Phrases.of("es").option("Repair it")) == (
        "Reparar",
        "Repair it",
    )


def test_phrases_a_new() -> None:
    assert (Phrases.of("en").a_new("clothes_dryer_gas"), Phrases.of("es").a_new("clothes_washer")) == (
        "a new clothes dryer",
        "una lavadora nueva",
    )


def test_phrases_in_place() -> None:
    assert (
        Phrases.of("en", "EU", "DE").in_place("check.roomac_reset.look")
        == "Press the reset on the plug once; try a lamp in the socket."
    )


def test_phrases_measured() -> None:
    assert (Phrases.of("en").measured(60, "C"), Phrases.of("en", "EU").measured(60, "C")) == ("140 °F", "60 °C")


def test_phrases_translated() -> None:
    told = Message("is larger than {most} MB", 9)
    assert (Phrases.of("es").translated(told), Phrases.of("en").translated(told)) == (
        "pasa de 9 MB",
        "is larger than 9 MB",
    )


def test_phrases_number() -> None:
    assert (Phrases.of().number(1234.5), Phrases.of().number(0.8889, 3)) == ("1,234.5", "0.889")


def test_phrases_separators() -> None:
    assert (Phrases.of(region="EU", place="DE").separators, Phrases.of("es", "EU").separators) == (".,", ",.")


def test_phrases_cents() -> None:
    assert (Phrases.of().cents(185.5), Phrases.of("es", "EU", "DE").cents(185.5)) == ("185.50", "185,50")


def test_phrases_share() -> None:
    assert [Phrases.of().share(each) for each in (0.81, 0.967, 0.999)] == ["8 of 10", "97 of 100", "nearly all"]


def test_phrases_odds() -> None:
    assert [Phrases.of("en").odds(chance) for chance in (0.004, 0.06, 0.31)] == ["under 1 in 50", "1 in 20", "3 in 10"]


def test_phrases_percent() -> None:
    assert Phrases.of().percent(0.035) == "3.5%"


def test_phrases_money() -> None:
    assert (Phrases.of().money(1234.5), Phrases.of(region="EU").money(-7.5, cents=True)) == (
        "$1,235",
        "-€7.50",
    )


def test_phrases_years() -> None:
    assert (Phrases.of().years(7.72), Phrases.of().years(0.85)) == ("7.7 years", "10 months")


def test_phrases_counted() -> None:
    assert (Phrases.of("en").counted("jobs.count.row", 1), Phrases.of("en").counted("jobs.count.row", 1200)) == (
        "1 row",
        "1,200 rows",
    )


def test_phrases_quantity() -> None:
    english = Phrases.of()
    assert (english.quantity(0.03, "1/year"), english.quantity(0.1538, "money/kWh")) == (
        "3% a year",
        "$0.1538 per kWh",
    )
    assert (english.quantity(1, "year"), english.quantity(float("inf"), "year")) == (
        "1 year",
        "no end",
    )
    assert english.quantity(0.05, "USD/kWh", "household.gas_price") == "$1.47 per therm"


def test_phrases_unit() -> None:
    assert (Phrases.of().unit("money/kWh"), Phrases.of().unit("1/year")) == ("$ per kWh", "% a year")


def test_phrases_label() -> None:
    assert (Phrases.of().label("replace.2.appliance.age"), Phrases.of().label("repair.quote.parts")) == ("Age", "Parts")


def test_phrases_noun() -> None:
    assert (Phrases.of().noun("replace.2.appliance.age"), Phrases.of().noun("repair.quote.parts")) == (
        "The one you buy, replacement 2",
        "The quote",
    )


def test_phrases_full_label() -> None:
    assert (Phrases.of().full_label("appliance.age"), Phrases.of().full_label("repair.quote")) == (
        "Age (the old one)",
        "Quote for the repair",
    )


def test_ruler_about() -> None:
    assert (about(366.4), about(2296), about(48.2), about(48.2, fine=True)) == (370.0, 2300.0, 50.0, 48.2)


def test_ruler_ruler_lines() -> None:
    at = dict(clear_repair=30, leaning_repair=40, leaning_other=60, clear_other=70)
    assert ruler_lines(Ruler(last=100, limit=50, quote=10, **at), width=20) == ["  v", "======..::|:..//////"]


def test_words_for_place() -> None:
    assert Words.for_place("Germany").money(1234.5, cents=True) == "€1,234.50"
