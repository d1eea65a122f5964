"""How hard a text is to read, by counts of our own: the grade of an English one, the ease of a Spanish one."""

import re

LEFT_OUT = re.compile(
    r"\b(carbon monoxide|refrigerants?|fluorinated|isobutane|propane|capacitors?|Legionella|technicians?|electrician|"
    r"insulation|polarity|connection|asbestos|mercury|aluminum|combustion|detergent|descaler|R-\w+|RCD|PCB|"
    r"orifices|California|heat exchanger|dishwasher|protection|licensed)\b",
    re.IGNORECASE,
)
"""Names of parts, substances, trades and places: there is no shorter word for them."""


def syllables(word: str, language: str) -> int:
    """Groups of vowels, one at least; in English a silent e, es or ed at the end is none."""
    bare = re.sub(r"[^a-záéíóúüñ]", "", word.lower())
    if language == "en":
        bare = re.sub(r"(?<![aeiouy])(?<!l)e$|(?<![aeiouysxzcgh])es$|(?<![aeiouytd])ed$", "", bare)
    return max(len(re.findall(r"[aeiouyáéíóúü]+", bare)), 1)


def grade(text: str) -> float:
    """Flesch and Kincaid's grade (Kincaid, Fishburne, Rogers, Chissom 1975)."""
    sentences = max(len(re.findall(r"[.!?](?:\s|$)", text)), 1)
    words = re.findall(r"[^\W\d]+(?:'\w+)?|\d[\d.,]*", text)
    spoken = sum(syllables(word, "en") if not word[0].isdigit() else 1 for word in words)
    return 0.39 * len(words) / sentences + 11.8 * spoken / len(words) - 15.59


def fluency(text: str) -> float:
    """Fernandez-Huerta's ease of reading (1959): words by sentence, syllables by word."""
    sentences = max(len(re.findall(r"[.!?](?:\s|$)", text)), 1)
    words = re.findall(r"[^\W\d]+|\d[\d.,]*", text)
    spoken = sum(syllables(word, "es") if not word[0].isdigit() else 1 for word in words)
    return 206.84 - 60 * spoken / len(words) - 1.02 * len(words) / sentences
