"""At the door."""
