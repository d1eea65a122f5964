"""Reference tables in `data/`."""
