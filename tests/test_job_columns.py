"""Which column is which, in the habits of several countries; what has two meanings is asked, and never guessed."""

import dataclasses
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from whole_books import read_jobs

from decide.errors import ReadError
from decide.load.jobs.book import JobBook, open_book
from decide.load.jobs.columns import ColumnMapping, guess_mapping, parse_mapping, read_mapping, write_mapping
from decide.load.jobs.open_words import ranked
from decide.load.jobs.rows import read_book
from decide.load.jobs.words import suggestion
from decide.load.tables.tables import tables
from decide.load.tables.vocabulary import ROLES, likely, plain, vocabulary

DEMO = Path(__file__).resolve().parents[1] / "data" / "demo"

# How shops head their columns: common practice, no source.
HEADINGS = {
    "US": (
        "Date,Serial no,Appliance,Age,Year made,Problem,Parts,Labor,Hours,Trip charge,Diagnostic fee,Fee credited,"
        "Estimate,Customer did,Later,Later date,Customer since",
        ("date", "unit", "class", "age", "year", "fault", "parts", "labour", "labour_hours", "trip", "fee",
         "fee_credited", "quote", "decision", "outcome", "outcome_date", "known_since"),
    ),
    "DE": (
        "Datum;Seriennummer;Gerät;Alter;Baujahr;Fehler;Ersatzteile;Arbeitslohn;Stunden;Anfahrt;Diagnosegebühr;"
        "Angerechnet;Kostenvoranschlag;Entscheidung;Verlauf;Ergebnisdatum;Kunde seit",
        ("date", "unit", "class", "age", "year", "fault", "parts", "labour", "labour_hours", "trip", "fee",
         "fee_credited", "quote", "decision", "outcome", "outcome_date", "known_since"),
    ),
    "FR": (
        "Date;Numéro de série;Appareil;Âge (ans);Année de fabrication;Panne;Pièces détachées (€);Main-d'œuvre;Heures;"
        "Déplacement;Forfait diagnostic;Devis;Décision du client;Suite;Date suivi;Client depuis",
        ("date", "unit", "class", "age", "year", "fault", "parts", "labour", "labour_hours", "trip", "fee", "quote",
         "decision", "outcome", "outcome_date", "known_since"),
    ),
    "ES": (
        "Fecha;Número de serie;Electrodoméstico;Antigüedad;Año de fabricación;Avería;Piezas;Mano de obra;Horas;"
        "Desplazamiento;Presupuesto;Decisión;Después;Cliente desde",
        ("date", "unit", "class", "age", "year", "fault", "parts", "labour", "labour_hours", "trip", "quote",
         "decision", "outcome", "known_since"),
    ),
}  # fmt: skip

# What shops call appliances, with the one class meant: common practice, no source.
CALLED = {
    "US": {"FRIDGE": "refrigerator", "Washing  Machine": "clothes_washer", "Dish-washer": "dishwasher",
           "Gas dryer": "clothes_dryer_gas", "chest freezer 200 l": "freezer_chest", "Refrigeratr": "refrigerator"},
    "DE": {"Kühlschrank": "refrigerator", "WASCHMASCHINE": "clothes_washer", "Geschirrspüler weiß": "dishwasher",
           "Wärmepumpentrockner": "clothes_dryer_heat_pump", "Backofen": "oven_electric"},
    "FR": {"Réfrigérateur": "refrigerator", "Lave-linge": "clothes_washer", "lave vaisselle": "dishwasher",
           "Congélateur coffre": "freezer_chest", "Four à micro-ondes": "microwave"},
    "ES": {"Frigorífico": "refrigerator", "Nevera": "refrigerator", "LAVADORA": "clothes_washer",
           "lavavajillas": "dishwasher", "Horno": "oven_electric"},
}  # fmt: skip

TWO_CLASSES = {"US": "Tumble dryer", "DE": "Wäschetrockner", "FR": "Sèche-linge", "ES": "Secadora"}


def book_of(text: str) -> JobBook:
    return open_book(text.encode(), "jobs.csv")


def a_book(head: str, *rows: str) -> ColumnMapping:
    return guess_mapping(book_of("\n".join([head, *rows, ""])))


@pytest.mark.parametrize("place", HEADINGS)
def test_the_headings_of_a_country_are_known(place: str) -> None:
    head, roles = HEADINGS[place]
    separator = "," if place == "US" else ";"
    mapping = guess_mapping(book_of(f"{head}\n{separator * head.count(separator)}\n"), place)
    assert mapping.columns == dict(zip(roles, head.split(separator), strict=True))
    assert mapping.undecided == ()


@pytest.mark.parametrize(("place", "word"), [(place, word) for place, words in CALLED.items() for word in words])
def test_what_shops_call_an_appliance_is_one_class(place: str, word: str) -> None:
    within = [known.kind for known in tables().classes(tables().region_of(place))]
    assert suggestion("class", word, within) == CALLED[place][word]


@pytest.mark.parametrize("place", TWO_CLASSES)
def test_a_word_for_two_classes_is_asked_about(place: str) -> None:
    text = f"Appliance;Age;Quote\n{TWO_CLASSES[place]};5;100\nWall oven;5;100\n"
    mapping = guess_mapping(book_of(text), place)
    assert mapping.classes == {"Wall oven": "oven_electric"}
    assert mapping.unknown_words == {"class": (TWO_CLASSES[place],)}
    jobs, skipped = read_jobs(book_of(text), mapping)
    assert (len(jobs), skipped[0].reason) == (1, "two_meanings")


def test_a_word_that_only_resembles_two_classes_is_not_guessed() -> None:
    assert likely("freezr", vocabulary()["class"], tables().known_classes) is None
    assert likely("xyzzy", vocabulary()["class"], tables().known_classes) is None


def test_a_word_that_is_only_spelt_like_another_is_suggested_and_not_taken() -> None:
    mapping = a_book("Appliance,Age,Quote", "Dishwaser,5,100", "Dishwasher,6,110")
    assert mapping.unknown_words == {"class": ("Dishwaser",)}
    assert mapping.suggested == {("class", "Dishwaser"): "dishwasher"}
    assert len(read_jobs(book_of("Appliance,Age,Quote\nDishwaser,5,100\n"), mapping)[0]) == 0


@pytest.mark.parametrize("word", ["Oven", "cooktop", "Hob", "Gas oven / hob"])
def test_what_several_appliances_are_called_is_asked(word: str) -> None:
    mapping = a_book("Appliance,Age,Quote", f"{word},5,100")
    assert mapping.unknown_words == {"class": (word,)}


def test_a_word_in_capitals_is_asked_about_once_and_answered_with_the_other() -> None:
    text = "Appliance,Age,Quote\ncooktop,5,100\nCOOKTOP,6,100\nCOOKTOP,7,100\n"
    book = book_of(text)
    mapping = guess_mapping(book)
    assert mapping.unknown_words == {"class": ("COOKTOP",)}  # as most rows write it
    assert [(each.word, each.rows) for each in ranked(mapping, read_book(book, mapping).coverage)] == [("COOKTOP", 3)]
    answered = dataclasses.replace(mapping, classes={"COOKTOP": "cooktop_induction"})
    assert read_book(book, answered).coverage.read == 3


def test_a_column_of_results_that_holds_decisions_is_taken_for_them() -> None:
    mapping = a_book("Appliance,Age,Quote,Result", "Fridge,5,100,repaired", "Fridge,6,100,declined", "Fridge,6,90,open")
    assert mapping.columns["decision"] == "Result"
    assert "outcome" not in mapping.columns


def test_the_amounts_of_lines_are_not_taken_for_the_quote_beside_a_quoted_total() -> None:
    mapping = a_book("Appliance,Age,Amount,Quoted total,What happened", "Fridge,5,40,100,declined")
    assert [(each.headers, each.roles) for each in mapping.undecided] == [(("Amount", "Quoted total"), ("quote",))]
    assert mapping.columns["decision"] == "What happened"


def test_two_columns_for_one_role_are_told_and_neither_is_taken() -> None:
    mapping = a_book("Appliance,Age,Estimate,Total", "Wall oven,5,100,110")
    assert "quote" not in mapping.columns
    assert [(each.headers, each.roles) for each in mapping.undecided] == [(("Estimate", "Total"), ("quote",))]
    assert "quote" in mapping.missing()


def test_a_column_for_two_roles_is_told_and_plays_neither() -> None:
    mapping = a_book("Appliance,Age,Quote,Date of quote or fault", "Wall oven,5,100,x")
    assert mapping.columns == {"class": "Appliance", "age": "Age", "quote": "Quote"}
    assert [each.headers for each in mapping.undecided] == [("Date of quote or fault",)]


def test_what_is_missing_is_said() -> None:
    assert a_book("Name,Town", "a,b").missing() == ("class", "quote", "age")
    assert ColumnMapping(columns={"class": "a", "quote": "b", "year": "c"}).missing() == ("date",)


@pytest.mark.parametrize(
    ("days", "order"),
    [
        (["03.04.2026", "13.04.2026"], "day first"),
        (["03/04/2026", "04/13/2026"], "month first"),
        (["03/04/2026", "05/06/2026"], None),
        (["13/04/2026", "04/13/2026", "03/04/2026"], None),
        (["03/04/2026", "13/13/2026", "30/02/2026"], None),
    ],
)
def test_the_order_of_days_is_what_the_whole_column_tells(days: list[str], order: str | None) -> None:
    mapping = a_book("Date;Appliance;Age;Quote", *(f"{day};Wall oven;5;100" for day in days))
    assert mapping.date_order == order
    assert ("date_order" in mapping.missing()) == (order is None)


@pytest.mark.parametrize("after", ["", " 10:30", ", 10:30", ",  10:30:15", "T10:30", "  9:05 PM"])
def test_the_order_of_days_is_asked_whatever_the_time_beside_them(after: str) -> None:
    book = a_book("Date;Appliance;Age;Quote", f"03/04/2025{after};Wall oven;5;100")
    assert book.missing() == ("date_order",)
    mapping = a_book("Date;Appliance;Age;Quote", *(f"{day}/04/2025{after};Wall oven;5;100" for day in ("03", "13")))
    assert (mapping.date_order, mapping.missing()) == ("day first", ())


def test_days_that_can_be_read_in_one_order_only_are_not_asked_about() -> None:
    days = ["2026-04-03", "05.05.2026", "3 avril 2026"]
    mapping = a_book("Date;Appliance;Age;Quote", *(f"{day};Wall oven;5;100" for day in days))
    assert mapping.missing() == ()


def test_a_day_beyond_twelve_far_down_the_book_still_settles_the_order() -> None:
    rows = ["03/04/2026;Wall oven;5;100"] * 60_000 + ["04/13/2026;Wall oven;5;100"]
    assert a_book("Date;Appliance;Age;Quote", *rows).date_order == "month first"


@pytest.mark.parametrize(
    ("quotes", "mark"),
    [
        (["1.234", "185,50"], ","),
        (["1,234", "185.50"], "."),
        (["1.234,5", "1.234"], ","),
        (["1.234", "2.345"], None),
        (["1.234", "185,50", "185.50"], None),
    ],
)
def test_the_decimal_mark_is_what_the_whole_book_tells(quotes: list[str], mark: str | None) -> None:
    mapping = a_book("Appliance;Age;Quote", *(f"Wall oven;5;{quote}" for quote in quotes))
    assert mapping.decimal_mark == mark
    assert ("decimal_mark" in mapping.missing()) == (mark is None)


def test_a_book_of_whole_amounts_asks_for_no_decimal_mark() -> None:
    assert a_book("Appliance;Age;Quote", "Wall oven;5;100", "Wall oven;6;185,-").missing() == ()


def test_the_demo_book_leaves_open_what_its_owner_then_told() -> None:
    book = open_book(DEMO / "jobs.csv", "jobs.csv")
    guess, mapping = guess_mapping(book), read_mapping(DEMO / "jobs.toml")
    assert guess.columns == mapping.columns
    assert guess.unknown_words == {"class": ("Tumble dryer", "Toaster"), "decision": ("thinking about it",)}
    assert guess.missing() == ("decimal_mark",)
    before, after = read_jobs(book, guess)[0], read_jobs(book, mapping)[0]
    assert len(after) - len(before) == 14 + 1 + 1  # dryers, a thoughtful customer, and 1,234


# The mapping's file

WORDS = st.text(st.characters(codec="utf-8", exclude_characters="\0"), min_size=1, max_size=20)


@given(
    columns=st.dictionaries(st.sampled_from(ROLES), WORDS),
    classes=st.dictionaries(WORDS, st.sampled_from(["", *tables().known_classes])),
    outcomes=st.dictionaries(WORDS, st.sampled_from(["held", "retired"])),
    order=st.sampled_from([None, "day first", "month first"]),
    mark=st.sampled_from([None, ".", ","]),
)
def test_a_saved_mapping_is_the_one_that_was_saved(
    columns: dict[str, str], classes: dict[str, str], outcomes: dict[str, str], order: str | None, mark: str | None
) -> None:
    mapping = ColumnMapping(
        place="DE", columns=columns, classes=classes, outcomes=outcomes, date_order=order, decimal_mark=mark
    )
    assert parse_mapping(write_mapping(mapping)) == mapping


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ('place = "Atlantis"', "place"),
        ("place = 3", "place must be text"),
        ('date_order = "year first"', "date_order must be"),
        ('decimal_mark = ";"', "decimal_mark must be"),
        ('[columns]\nprice = "Preis"', "price is no role"),
        ("[columns]\nquote = 3", "cannot mean"),
        ('[classes]\nToaster = "toaster"', "'Toaster' cannot mean"),
        ('[decisions]\nja = "vielleicht"', "cannot mean"),
        ("classes = 3", "must be a table"),
        ("[kinds]", "kinds is not known"),
        ("a = ", "is no TOML file"),
    ],
)
def test_a_mapping_with_something_unknown_is_refused_by_name(text: str, why: str) -> None:
    with pytest.raises(ReadError, match=why):
        parse_mapping(text)


def test_a_mapping_that_does_not_fit_the_book_is_refused() -> None:
    book = book_of("Appliance,Age,Quote\nWall oven,5,100\n")
    with pytest.raises(ReadError, match="'Preis', which the book has not"):
        read_jobs(book, ColumnMapping(columns={"class": "Appliance", "age": "Age", "quote": "Preis"}))
    with pytest.raises(ReadError, match="must say which column is quote"):
        read_jobs(book, ColumnMapping(columns={"class": "Appliance", "age": "Age"}))


def test_the_owner_changes_a_mapping_in_place_of_the_guess() -> None:
    book = book_of("Kind,Age,Sum\nTumble dryer,5,100\nMy toaster,2,30\n")
    guess = guess_mapping(book)
    fixed = dataclasses.replace(
        guess,
        columns={**guess.columns, "class": "Kind", "quote": "Sum"},
        classes={"tumble DRYER": "clothes_dryer_electric", "My toaster": ""},
    )
    jobs, skipped = read_jobs(book, fixed)
    assert [jobs.kinds[code] for code in jobs.kind] == ["clothes_dryer_electric"]
    assert [each.reason for each in skipped] == ["unknown_word"]


def test_every_word_of_the_tables_is_found_again_however_it_is_written() -> None:
    for words in vocabulary().values():
        assert all(plain(word.upper()) == word for word in words)
