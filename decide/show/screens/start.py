"""What Streamlit runs at each tap when the program is installed; in a checkout, `app.py` is the same."""

from decide.show.screens.main import main

main()
