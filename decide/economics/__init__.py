"""The decision: a case, its flows, the weighing, and what is not known."""
