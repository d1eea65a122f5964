"""The words of the screens: those of the answer, and what only the screens and their charts say."""

import functools
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from ..words import Words


def spoken(place: str, language: str = "en") -> Words:
    """Words of a language for a place, with the texts of the screens among them.

    >>> spoken("US").say("door.page")
    'At the door'
    """
    words = Words.for_place(place, language)
    return replace(words, text={**words.text, **_read(language)})


@functools.cache
def _read(language: str) -> Mapping[str, Any]:
    return tomllib.loads((Path(__file__).resolve().parent / f"{language}.toml").read_text("utf-8"))
