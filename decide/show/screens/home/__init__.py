"""At home."""
