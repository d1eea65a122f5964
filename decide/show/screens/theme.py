"""How the screens look: type, spacing and the size of what is touched, over what the theme sets."""

import functools
import re
from pathlib import Path
from typing import Final

import streamlit as st

from ..text.phrases import languages

ICON: Final = Path(__file__).resolve().parent / "icon.png"
STYLE: Final = Path(__file__).resolve().parent / "theme.css"
TO_TOP: Final = Path(__file__).resolve().parent / "to_top.html"
DIGITS: Final = Path(__file__).resolve().parent / "numbers.html"
ACCESSIBILITY: Final = Path(__file__).resolve().parent / "accessibility.html"
LIVE: Final = Path(__file__).resolve().parent / "live.html"
SPEAK: Final = "document.documentElement.lang = '{language}'"


def scripts() -> list[str]:
    """Every script that the pages run: fixed texts, and the only ones that the server lets a browser run."""
    fixed = "".join(path.read_text("utf-8") for path in (TO_TOP, DIGITS, ACCESSIBILITY, LIVE))
    return [
        *re.findall("<script>(.*?)</script>", fixed, re.S),
        *(SPEAK.format(language=language) for language in languages()),
    ]


def dress(language: str) -> None:
    """Put the rules on the page, what serves phones, keys and ears, and its language; nothing typed stands in them."""
    for piece in _dressed(language):
        st.html(piece, unsafe_allow_javascript=True)


@functools.cache
def _dressed(language: str) -> tuple[str, str]:
    fixed = "".join(path.read_text("utf-8") for path in (DIGITS, ACCESSIBILITY, LIVE))
    style = f"<style>{STYLE.read_text('utf-8')}</style>"
    return style, f"{fixed}<script>{SPEAK.format(language=language)}</script>"


def to_top(turn: int) -> None:
    """Begin at the top of what is new; a fixed text too, but for the turn beside it, without which it runs once."""
    script = TO_TOP.read_text("utf-8").replace("<script>", f"<script data-turn='{turn}'>", 1)
    st.html(script, unsafe_allow_javascript=True)
