"""Every sentence of the language files is plain: no more than nine years of school in English, fluent in Spanish."""

import re
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from conftest import ROOT
from reading_ease import LEFT_OUT, fluency, grade, syllables
from test_report import HARDEST, LEAST_FLUENT

STANDS = ("cautions.gas_leak",)
"""Orders whose wording is held to the word elsewhere, for they save lives: who is called, and in which order."""

LEAST_SENTENCES = 2_100
"""Of the English file: so that a change of how sentences are found cannot leave most of them out."""


def texts(language: str) -> Iterator[tuple[str, str]]:
    """Every text of a language file by its key, with a short word for each gap."""
    path = ROOT / "decide" / "show" / "text" / "language" / f"{language}.toml"

    def within(table: dict[str, Any], head: str) -> Iterator[tuple[str, str]]:
        for key, value in table.items():
            if isinstance(value, dict):
                yield from within(value, f"{head}{key}.")
            elif isinstance(value, str):
                yield f"{head}{key}", re.sub(r"\{[^}]*\}", "it", value)

    return within(tomllib.loads(path.read_text("utf-8")), "")


def sentences(text: str) -> list[str]:
    """Sentences of three words or more that end as one."""
    parts = (part.strip() for part in re.split(r"(?<=[.!?])\s+", text))
    return [part for part in parts if part.endswith((".", "!", "?")) and len(re.findall(r"[^\W\d]+", part)) >= 3]


def test_no_sentence_of_the_whole_file_asks_for_more_than_nine_years_of_school() -> None:
    """Names of parts, trades and substances do not count: there is no shorter word for them."""
    found = [(key, each) for key, text in texts("en") for each in sentences(LEFT_OUT.sub("it", text))]
    hard = {f"{key}: {each}" for key, each in found if grade(each) > HARDEST and key not in STANDS}
    assert hard == set()
    assert len(found) >= LEAST_SENTENCES


@pytest.mark.parametrize("key", STANDS)
def test_what_stands_is_hard_and_there(key: str) -> None:
    text = dict(texts("en"))[key]
    assert any(grade(each) > HARDEST for each in sentences(LEFT_OUT.sub("it", text)))


def test_the_whole_file_is_easy_in_spanish() -> None:
    found = [each for _, text in texts("es") for each in sentences(text)]
    assert fluency(" ".join(found)) >= LEAST_FLUENT
    assert sum(map(len, map(str.split, found))) / len(found) <= 15  # words of a sentence


def test_sentences_are_fifteen_words_on_average() -> None:
    found = [each for _, text in texts("en") for each in sentences(text)]
    assert sum(map(len, map(str.split, found))) / len(found) <= 15
    assert grade(" ".join(found)) <= 6


@pytest.mark.published("Kincaid et al. 1975, Fernandez-Huerta 1959: their formulas", "the grade of a text")
def test_the_grade_of_a_text_is_counted_as_by_hand() -> None:
    """'The cat sat on the mat.': 6 words, 6 syllables, 1 sentence."""
    assert grade("The cat sat on the mat.") == pytest.approx(0.39 * 6 + 11.8 - 15.59)
    words = {"the": 1, "table": 2, "stopped": 1, "leaves": 1, "electric": 3, "before": 2}
    assert {word: syllables(word, "en") for word in words} == words
    assert fluency("El gato come.") == pytest.approx(206.84 - 60 * 5 / 3 - 1.02 * 3)
