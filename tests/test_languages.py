"""Every language beside English: whole, with the same gaps, in its own words, and heard wherever people meet it."""

import ast
import datetime
import os
import re
import string
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest
from babel import Locale
from conftest import ROOT, texts
from streamlit.testing.v1 import AppTest
from test_handout import LONG, POINTS, SIZES, base_lines, printed, worst
from test_words import everything_text, leaves, many_answers, refrigerator

from decide.answers.answer import Answer, answer
from decide.answers.carbon import carbon_answer
from decide.errors import CaseError, Message, ReadError
from decide.load.cases.case_file import Entries, complete
from decide.load.tables.tables import CURRENCIES, tables
from decide.show.pdf.logo import Shop
from decide.show.pdf.paper import MARGIN
from decide.show.pdf.sheet import sheet_of, sheet_text
from decide.show.screens.state.session import FIRST_CASE
from decide.show.text.carbon_words import carbon_headline, carbon_rows, carbon_text
from decide.show.text.phrases import DEFAULT_LANGUAGE, LANGUAGE_ENV, languages
from decide.show.text.words import Words

DEMO = ROOT / "data" / "demo" / "refrigerator.toml"
OTHERS = [code for code in languages() if code != DEFAULT_LANGUAGE]
PLURALS = {"zero", "one", "two", "few", "many", "other"}

ALIKE = {
    "es": (
        r"unit\..*|check_unit\..*|reading_unit\..*|evidence_answer\.(no|code_sensor)",  # signs of units, and no
        r"label\.label\.(eer|ceer|seer2?|hspf2?|afue)",  # names of ratings
        r"pocket\.kwh",
        r".*[._]gas|check\.(washer|dryer)_motor\.name|carbon\.kg|chart_carbon\.axis|meter\.watts|checks\.minutes_of",
        r"shop\.(mark|format)\..*|shop_settings\.paper\.a4|trade\.(US|EU)\.recall_list",
    ),
}
"""Keys whose text may be the same as in English, by language; so may what is all gaps and signs."""

NO_WORDS_OF = {
    "es": r"\b(the|and|of|with|for|is|are|it|this|that|repair(ed|s)?|replace[ds]?|quote[ds]?|years?|months?|worth|new"
    r"|cheapest|from|or|than|about|today|price|appliance|household|leave|given|must|needed|known)\b",
}
"""English words that the language does not have: any of them is a text that was left behind."""


@cache
def text_of(language: str) -> dict[str, Any]:
    return dict(Words.of(language).text)


def named(language: str) -> dict[str, set[str]]:
    """The names that stand in the tables, by the section in which a translation gives its own."""
    reference = tables()
    cautions = reference.all_cautions
    kinds = set(reference.known_classes)
    return {
        "kind": kinds,
        "a_new": kinds,
        "trouble": set(reference.known_faults),
        "cautions": {caution.words for caution in cautions},
        "who": {caution.who for caution in cautions},
    }


def keyed(language: str) -> dict[str, str]:
    """Texts by key, without the sections that English has no need of."""
    own = {*named(language), "kind_US", "a_new_US", "where", "message"}
    text = {section: found for section, found in text_of(language).items() if section not in own}
    return dict(leaves(text))


def gaps(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


def forms(text: dict[str, Any], path: str = "") -> Iterator[tuple[str, set[str]]]:
    """The plural forms of each text that has any, with its key."""
    for name, value in text.items():
        if isinstance(value, dict):
            key = f"{path}.{name}".lstrip(".")
            if "other" in value and set(value) <= PLURALS:
                yield key, set(value)
            else:
                yield from forms(value, key)


# the file


def test_a_second_language_is_spoken() -> None:
    assert "es" in OTHERS
    assert languages()["es"] == "Español"


@pytest.mark.parametrize("language", OTHERS)
def test_a_language_has_every_text_that_english_has_and_no_other(language: str) -> None:
    ours, english = set(keyed(language)), set(keyed(DEFAULT_LANGUAGE))
    assert sorted(english - ours) == []
    assert sorted(ours - english) == []


@pytest.mark.parametrize("language", OTHERS)
def test_each_text_has_the_gaps_of_the_english_one(language: str) -> None:
    english = keyed(DEFAULT_LANGUAGE)
    assert [key for key, text in keyed(language).items() if gaps(text) != gaps(english[key])] == []


@pytest.mark.parametrize("language", OTHERS)
def test_no_text_was_left_in_english(language: str) -> None:
    english = keyed(DEFAULT_LANGUAGE)
    for key, text in keyed(language).items():
        wordless = not re.search(r"[^\W\d_]", re.sub(r"\{\w+\}", "", text))
        if text == english[key] and not wordless:
            assert any(re.fullmatch(alike, key) for alike in ALIKE[language]), key


@pytest.mark.parametrize("language", OTHERS)
def test_plural_forms_are_those_that_the_language_has(language: str) -> None:
    # CLDR, as Babel carries it; a form that is not given falls back on the last one
    known = {*Locale.parse(language).plural_form.rules, "other"}
    found = dict(forms(text_of(language)))
    assert set(found) == set(dict(forms(text_of(DEFAULT_LANGUAGE))))
    for key, given in found.items():
        assert given <= known, key
        assert "one" in given or "one" not in known, key


@pytest.mark.parametrize("language", OTHERS)
def test_every_name_of_the_tables_has_its_own(language: str) -> None:
    for section, names in named(language).items():
        assert set(text_of(language)[section]) == names, section
        assert all(text_of(language)[section].values())


@pytest.mark.parametrize("language", [DEFAULT_LANGUAGE, *OTHERS])
def test_a_region_has_its_own_names_of_the_trade(language: str) -> None:
    there, elsewhere = Words.of(language, "US"), Words.of(language, "EU")
    own = text_of(language)["kind_US"]
    assert set(own) <= set(tables().known_classes)
    assert language == DEFAULT_LANGUAGE or set(text_of(language)["a_new_US"]) == set(own)
    for kind, name in own.items():
        assert there.kind(kind) == name != elsewhere.kind(kind)
        assert name.split()[0].lower() in there.a_new(kind)


@pytest.mark.parametrize("language", OTHERS)
def test_places_are_named_as_the_language_names_them(language: str) -> None:
    words, own, reference = Words.of(language), text_of(language)["where"], tables()
    assert set(own) <= set(reference.known_places)
    assert [place for place, name in own.items() if name == reference.known_places[place].label] == []
    territories = Locale.parse(language).territories
    for place in reference.known_places:
        assert words.place(place) == own.get(place, territories.get(place, reference.known_places[place].label))
    assert {words.place(place) for place in ("EU", "DE", "US", "US-NY")} <= {
        "Unión Europea", "Alemania", "Estados Unidos", "Nueva York",
    }  # fmt: skip


@pytest.mark.parametrize("language", OTHERS)
def test_each_region_is_written_to_in_the_habit_of_that_language_there(language: str) -> None:
    assert set(text_of(language)["locale"]) == set(CURRENCIES)
    for locale in text_of(language)["locale"].values():
        assert Locale.parse(locale).language == language


# From memory: Spain writes a decimal comma, the United States a point.
def test_spanish_writes_numbers_as_its_place_does() -> None:
    spain, ohio = Words.for_place("ES", "es"), Words.for_place("US-OH", "es")
    assert spain.number(7.5) == "7,5"
    assert spain.money(185.5, cents=True) == "185,50\xa0€"
    assert spain.percent(0.035) == "3,5\xa0%"
    assert spain.years(7.72) == "7,7 años"
    assert ohio.money(1234.5, cents=True) == "$1,234.50"
    assert ohio.years(1 / 12) == "1 mes"
    assert Words.for_place("DE", "es").quantity(1.0, "year") == "1 año"


MONTH = {
    ("en", "US"): "November 30, 2026",
    ("en", "EU"): "30 November 2026",
    ("es", "US"): "30 de noviembre de 2026",
    ("es", "EU"): "30 de noviembre de 2026",
}


def other_habits(language: str, region: str) -> str:
    """What no page of a language shows in a region: numbers, money, percent and months as another one writes them."""
    months = {"en": "noviembre|März|ноември", "es": "November|März|ноември"}[language]
    spaces = r"\d[\u202f\xa0]\d"
    if (language, region) == ("es", "EU"):
        return rf"\d\.\d(?!\d\d(?!\d))|\d,\d{{3}}[.]\d|€\s?\d|\d%|[$]|{spaces}|{months}"
    return rf"\d,\d(?!\d\d(?!\d))|\d\.\d{{3}},|\d\s?€|\d\s%|\bEUR\b|{spaces}|{months}"


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("place", ["US", "US-CA", "DE", "ES", "AT", "SE", "BG", "IE", "FR", "GR"])
def test_a_page_is_of_one_habit_wherever_it_is_read(language: str, place: str) -> None:
    region = tables().region_of(place)
    for kind, age, quote in (
        ("refrigerator", 12.5, 1234.5),
        ("clothes_washer", 7.25, 180.0),
        ("boiler_gas", 12.3, 1500.0),
    ):
        appliance = {"class": kind, "age": age, "fault": "control_board"}
        found = answer({"appliance": appliance, "household": {"place": place}, "repair": {"quote": quote}})
        words = Words.for_place(place, language)
        sheet = sheet_of(words, found, on=datetime.date(2026, 11, 30), shop=Shop(valid_days=30))
        assert sheet.dates[0] == MONTH[language, region]
        shown = [*everything_shown(words, found), *sheet_text(words, sheet).splitlines()]
        assert any(re.search(r"\d[.,]\d{3}", text) for text in shown)
        assert any(re.search(r"\d[.,]\d(?!\d)", text) for text in shown)
        for text in shown:
            assert not re.search(other_habits(language, region), text), text


def test_numbers_in_a_message_are_of_the_habit_of_its_language() -> None:
    share, large = Message("{share:g} x {life:g} years", 0.25, 14.5), Message("is larger than {most:,} MB", 1200)
    told = [
        Words.of(*of).translated(each) for of in (("es", "EU"), ("es", "US"), ("en", "EU")) for each in (share, large)
    ]
    assert [re.findall(r"[\d.,]*\d", text) for text in told] == [
        ["0,25", "14,5"], ["1.200"], ["0.25", "14.5"], ["1,200"], ["0.25", "14.5"], ["1,200"],
    ]  # fmt: skip


# what is said


def everything_shown(words: Words, found: Answer) -> Iterator[str]:
    """All that an answer says, but for citations and notes of figures, which stay in the language of their source."""
    kept = {text for line in words.assumptions(found) for text in (line.source, line.note)}
    yield from (text for text in everything_text(words, found) if text not in kept)


@pytest.mark.slow
@pytest.mark.parametrize("language", OTHERS)
def test_every_answer_is_said_in_the_language_alone(language: str) -> None:
    sentences: set[str] = set()
    for found in many_answers():
        sentences.update(everything_shown(Words.of(language, found.case.household.region), found))
    assert len(sentences) > 1000
    for text in sentences:
        assert not re.search(NO_WORDS_OF[language], text, re.IGNORECASE), text
        assert not re.search(r"\b(nan|none)\b|\{|\}", text, re.IGNORECASE), text


@pytest.mark.slow
def test_the_list_of_english_words_catches_english() -> None:
    caught = [
        any(re.search(NO_WORDS_OF["es"], text, re.IGNORECASE) for text in everything_shown(words, found))
        for found in many_answers()
        for words in [Words.of(region=found.case.household.region)]
    ]
    assert all(caught)


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("kind", tables().known_classes)
def test_a_new_unit_is_named_alike_in_a_sentence_and_among_the_options(language: str, kind: str) -> None:
    region = tables().kind(kind).regions[0]
    words = Words.of(language, region)
    found = answer({"appliance": {"class": kind, "age": 9}, "household": {"place": region}})
    anew = words.a_new(kind)
    assert words.options(found)[1].name == anew[:1].upper() + anew[1:]
    assert anew in words.headline(found) or anew in " ".join(words.because(found)).lower()


def test_a_gas_leak_is_answered_in_spanish_by_an_order_and_no_word_of_money() -> None:
    words = Words.of("es", "US")
    there: Entries = {"class": "water_heater_gas", "age": 9, "fault": "gas_leak"}
    found = answer({"appliance": there, "household": {"place": "US"}, "repair": {"quote": 250}})
    assert words.verdict(found) == "Alto: olor a gas, o una fuga de gas"
    assert words.headline(found) == (
        "No toque ningún interruptor ni encienda ninguna llama. Salgan todos ahora. Desde afuera, llame al 911 o a la "
        "compañía de gas. Nadie vuelve a entrar hasta que ellos lo digan. Ellos cierran el gas y ponen una etiqueta en "
        "el aparato. Después llame a un instalador de gas con licencia."
    )
    assert words.cautions(found)[0].who == "todos los de la casa"


@pytest.mark.parametrize("language", OTHERS)
def test_numbers_of_a_caution_are_the_same_in_every_language(language: str) -> None:
    words = Words.of(language)
    for caution in tables().all_cautions:
        english, ours = (
            sorted(re.findall(r"\d+(?:[.,]\d+)?", each.caution_text(caution)))
            for each in (Words.of(DEFAULT_LANGUAGE), words)
        )
        bare = [[figure.replace(",", "").replace(".", "") for figure in figures] for figures in (english, ours)]
        # numbers of refrigerants and of amounts alike; a number in words may be one in figures
        assert bare[0] == bare[1], caution.id


@pytest.mark.parametrize("language", OTHERS)
def test_carbon_is_told_in_the_language(language: str) -> None:
    words = Words.of(language)
    found = answer(refrigerator(quote=300))
    emitted = carbon_answer(found, this_year=2026)
    sentences = [carbon_headline(words, emitted), *carbon_text(words, emitted)]
    sentences += [text for row in carbon_rows(words, emitted) for text in row]
    assert not any(re.search(NO_WORDS_OF[language], text, re.IGNORECASE) for text in sentences), sentences


# what cannot be used, said by the readers of files


TEMPLATE_AT = {
    "CaseError": 1, "ReadError": 1, "DataError": 0, "NoSolution": 0, "MendpointError": 0, "Message": 0,
    "_refuse": 3, "_refused": 2, "_look_up": 3,
}  # fmt: skip
"""Which argument of a call is the template of a message."""


def texts_of(node: ast.expr | None, named: dict[str, list[str]]) -> list[str]:
    """The texts that an expression can be."""
    match node:
        case ast.Constant(value=str(text)):
            return [text]
        case ast.IfExp(body=one, orelse=other):
            return [*texts_of(one, named), *texts_of(other, named)]
        case ast.BoolOp(values=several):
            return [text for each in several for text in texts_of(each, named)]
        case ast.Name(id=name):
            return named.get(name, [])
    return []


def templates_of(module: ast.Module) -> Iterator[str]:
    """The templates of the messages that a module makes, in its calls or by the names that it gives them."""
    named: dict[str, list[str]] = {}
    for node in ast.walk(module):
        if isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            for target in targets:
                if isinstance(target, ast.Name):
                    named.setdefault(target.id, []).extend(texts_of(node.value, {}))
    for node in ast.walk(module):
        if isinstance(node, ast.Call):
            name = getattr(node.func, "id", getattr(node.func, "attr", ""))
            owner = getattr(node.func, "value", None)
            place = TEMPLATE_AT.get(name)
            if name in ("broken", "refuse"):  # some have a path or a key before it
                yield from (text for each in node.args for text in texts_of(each, named) if " " in text)
            if name == "__init__":
                place = 1 if isinstance(owner, ast.Call) else 2 if getattr(owner, "id", "") == "CaseError" else None
            if place is not None and len(node.args) > place:
                yield from texts_of(node.args[place], named)


@cache
def templates() -> list[str]:
    modules = (ast.parse(path.read_text("utf-8")) for path in sorted((ROOT / "decide").rglob("*.py")))
    return sorted({text for module in modules for text in templates_of(module) if re.search(r"[a-z]{3}", text)})


@pytest.mark.parametrize("language", OTHERS)
def test_every_message_of_the_code_has_its_own_words(language: str) -> None:
    # an error of the store is said by what stands in the way, not by its message
    known = {*text_of(language)["message"], "damaged"}
    assert len(templates()) > 450
    assert [text for text in templates() if text not in known] == []


@pytest.mark.parametrize("language", OTHERS)
def test_a_message_keeps_what_fills_its_gaps(language: str) -> None:
    for template, found in text_of(language)["message"].items():
        assert gaps(template) == gaps(found), template


def test_what_was_typed_is_never_taken_for_a_message_of_the_program() -> None:
    spanish = Words.of("es")
    refused = CaseError("title", "must be one of {known}, got {got}", "is empty", "is not a number")
    assert spanish.translated(refused.message) == "tiene que ser uno de estos: is empty; se indicó is not a number"
    assert spanish.translated("is larger than 9 MB") == "is larger than 9 MB"
    assert spanish.translated(Message("is larger than {most} MB", 9)) == "pasa de 9 MB"
    there: Entries = {"appliance": {"class": "refrigerator", "age": 9}, "repair": {"quote": 90}}
    own, usual = complete({**there, "repair": {"quote": 90, "name": "Leave it as it is"}}), complete(there)
    assert spanish.option(own.case.options[0].name) == "Leave it as it is"
    assert spanish.option(usual.case.options[0].name) == "Reparar"


def test_a_code_is_the_same_whatever_the_facts() -> None:
    codes = {CaseError("rate", "must be {bounds}, got {got}", bound, got).code for bound, got in (("a", 1), ("b", "c"))}
    assert codes == {"must_be_bounds_got_got"}
    assert ReadError("x.csv", "is empty").code == "is_empty"


@pytest.mark.parametrize(
    ("entries", "text"),
    [
        ({"appliance": {"class": "refrigerator"}}, "Antigüedad (el aparato actual): hace falta. Puede ser de 0 a "
         "60 años, por ejemplo 12."),
        ({"appliance": {"class": "refrigerator", "age": 99}}, "Antigüedad (el aparato actual): tiene que ser de 0 a 60 "
         "años; se indicó 99."),
        ({"appliance": {"class": "refrigeratr", "age": 9}}, "Tipo de aparato (el aparato actual): 'refrigeratr' no se "
         "conoce; ¿quiso decir refrigerator o refrigerator_compact? `mendpoint classes` los lista todos."),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_said_in_spanish(entries: Entries, text: str) -> None:
    with pytest.raises(CaseError) as raised:
        complete(entries)
    assert Words.of("es").explain(raised.value) == [text]


def test_a_file_that_cannot_be_read_is_said_in_spanish() -> None:
    sentences = Words.of("es").explain(ReadError("case.toml", "No such file or directory"))
    assert sentences == ["case.toml: no existe ese archivo o carpeta."]


# where people meet it


def run(*words: str, language: str) -> subprocess.CompletedProcess[str]:
    """The command, in the language that its environment names."""
    there = {**os.environ, LANGUAGE_ENV: language, "PYTHONIOENCODING": "utf-8"}
    return subprocess.run(
        [sys.executable, "-m", "decide", *words], env=there, cwd=ROOT, capture_output=True, text=True, check=False
    )


def test_the_command_speaks_the_language_of_its_environment() -> None:
    done = run("weigh", str(DEMO), language="es")
    assert done.returncode == 0
    assert "Lo que habrá pagado" in done.stdout
    assert "Side by side" not in done.stdout
    named_by_hand = "New, like for like|Used, 6 years old|Refrigerator, 12 years, compressor will not start"
    text = re.sub(named_by_hand, "", re.sub(r"\s+", " ", done.stdout))
    assert not re.search(NO_WORDS_OF["es"], text, re.IGNORECASE), text


@pytest.mark.slow
def test_an_unknown_language_is_refused_with_those_that_are_known() -> None:
    done = run("places", language="xx")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == f"{LANGUAGE_ENV} must be one of {', '.join(languages())}, or not be set; xx was given.\n"
    assert run("places", language="").returncode == 0


@pytest.mark.parametrize("language", OTHERS)
def test_the_hand_out_speaks_the_language_of_the_customer(language: str) -> None:
    there: Entries = {"class": "clothes_washer", "age": 8, "fault": "drain_pump"}
    found = answer({"appliance": there, "household": {"place": "ES"}, "repair": {"quote": 160}})
    words = Words.for_place("ES", language)
    page = sheet_text(words, sheet_of(words, found, on=datetime.date(2026, 11, 25)))
    assert words.headline(found) in page
    assert not re.search(NO_WORDS_OF[language], page, re.IGNORECASE), page


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize(("kind", "region"), [("range_gas", "US"), ("water_heater_gas", "EU")])
def test_the_longest_texts_fit_on_one_page_above_its_foot(language: str, kind: str, region: str) -> None:
    # gas has the most to mind; names as long as anyone types them
    found = answer(
        {
            "appliance": {"class": kind, "age": 9, "fault": worst(kind, region)},
            "household": {"place": region},
            "repair": {"quote": 98_765.43},
            "replace": [{"name": f"{n}. {LONG}", "price": 900 + 100 * n} for n in range(3)],
            "leave": {"annual_loss_of_use": 60},
            "title": LONG * 3,
        }
    )
    for size in SIZES:
        assert min(base_lines(printed(Words.of(language, region), found, size, found=(LONG, LONG)))) > MARGIN * POINTS


@pytest.fixture
def page(monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    monkeypatch.delenv(LANGUAGE_ENV, raising=False)
    return AppTest.from_file(str(ROOT / "app.py"), default_timeout=30)


def written_on(page: AppTest) -> str:
    """All that a page says, in its texts, captions and the names of its fields."""
    assert not page.exception
    found = page.markdown
    fields = [*page.text_input, *page.selectbox, *page.button, *page.radio, *page.pills]
    return "\n".join([*texts(page), *(each.value or "" for each in found), *(each.label or "" for each in fields)])


@pytest.mark.slow
def test_the_language_is_chosen_on_the_page_and_stays_in_its_address(page: AppTest) -> None:
    page.run()
    assert "Which appliance?" in written_on(page)
    page.radio(key="language").set_value("es").run()
    assert "¿Qué aparato es?" in written_on(page)
    assert "Which appliance?" not in written_on(page)
    assert page.query_params["language"] == "es"
    page.radio(key="language").set_value("en").run()
    assert "Which appliance?" in written_on(page)


def test_an_address_names_the_language(page: AppTest) -> None:
    page.query_params["language"] = "es"
    page.run()
    assert page.session_state["language"] == "es"
    assert "¿Qué aparato es?" in written_on(page)


def test_an_address_with_a_language_that_is_not_spoken_is_read_in_english(page: AppTest) -> None:
    page.query_params["language"] = "xx"
    page.run()
    assert page.session_state["language"] == DEFAULT_LANGUAGE


def test_the_answer_of_the_page_is_in_the_language_that_was_chosen(page: AppTest) -> None:
    page.query_params["language"] = "es"
    page.session_state["more"] = True
    page.run()
    page.selectbox(key="place").set_value("ES").run()
    page.pills(key="group").set_value("laundry").run()
    page.pills(key="kind").set_value("clothes_washer").run()
    page.selectbox(key="fault").set_value("drain_pump").run()
    page.text_input(key="age").set_value("8").run()
    page.text_input(key="quote").set_value("160,50").run()
    there: Entries = {"class": "clothes_washer", "age": 8, "fault": "drain_pump"}
    found = answer(
        {"appliance": there, "household": {"place": "ES"}, "repair": {"quote": 160.5, "remaining_life_factor": 1.0}}
    )
    words = Words.for_place("ES", "es")
    assert words.headline(found) in written_on(page)
    text = re.sub(r"<style>.*?</style>", "", written_on(page), flags=re.DOTALL)
    assert not re.search(NO_WORDS_OF["es"], text, re.IGNORECASE), text


OTHER_PAGES = """
import streamlit as st
from decide.load.tables.tables import tables
from decide.show.screens.home import page as home
from decide.show.screens.shop import page as shop
from decide.show.screens.state.session import begin

begin(tables())
{"home": home.page, "shop": shop.page}[st.session_state["page_of_test"]]()
"""


AN_OWNER = {"kind": "refrigerator", "group": "cooling", "symptom": "no_ice", "age": "9"}
SHOWN = [
    *(("home", {**AN_OWNER, "step": step}) for step in range(1, 7)),
    *(("shop", {"shop_part": part}) for part in ("book", "records", "quotes", "card", "settings")),
]


@pytest.mark.slow
@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize(("name", "shown"), SHOWN)
def test_every_page_is_in_the_language_alone(
    language: str, name: str, shown: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(FIRST_CASE, raising=False)
    page = AppTest.from_string(OTHER_PAGES, default_timeout=60)
    page.session_state["page_of_test"] = name
    page.query_params["language"] = language
    page.run()
    for key, value in shown.items():
        page.session_state[key] = value
    text = re.sub(r"<style>.*?</style>|/\S+", "", written_on(page.run()), flags=re.DOTALL)
    assert text
    assert not re.search(NO_WORDS_OF[language], text, re.IGNORECASE), text
