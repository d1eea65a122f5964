"""Results laid out for a terminal and as JSON."""
