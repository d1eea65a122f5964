"""The screens, for `streamlit run app.py`."""

from decide.show.screens.main import main

main()
