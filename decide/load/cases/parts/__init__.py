"""The parts of a case, each read from its entries and filled from the tables."""
