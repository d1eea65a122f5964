"""How the screens look: type, spacing and the size of what is touched, over what the theme sets."""

from pathlib import Path
from typing import Final

import streamlit as st

ICON: Final = Path(__file__).resolve().parent / "icon.png"
STYLE: Final = Path(__file__).resolve().parent / "look.css"
DIGITS: Final = Path(__file__).resolve().parent / "numbers.html"


def dress() -> None:
    """Put the rules on the page, and what makes phones show digits; a fixed text, in which nothing typed stands."""
    st.html(STYLE)
    st.html(DIGITS, unsafe_allow_javascript=True)
