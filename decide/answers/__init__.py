"""Use cases: entries in, frozen results of numbers and codes out."""
