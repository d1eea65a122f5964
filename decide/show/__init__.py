"""Speaks to people: sentences, figures, screens, the terminal."""
