"""The screens, for `streamlit run app.py`: it serves `app`, which runs this same file at each tap."""

import streamlit as st

from decide.show.screens.guard import GUARDED
from decide.show.screens.main import main

if __name__ == "__main__":
    main()
else:
    app = st.App(__file__, middleware=GUARDED)
