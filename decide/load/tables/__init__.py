"""Reference tables in `data/`, and the readers of text they share."""
