"""The screens: which pages there are, and what stands around them."""

import streamlit as st

from ..words import Words
from .door import page
from .look import ICON


def main() -> None:
    """Run the page that is asked for."""
    st.set_page_config(page_title="Mendpoint", page_icon=str(ICON), layout="wide")
    door = st.Page(page, title=Words.of().say("door.page"), url_path="door", default=True)
    st.navigation([door], position="top").run()
