"""Mendpoint: whether a broken household appliance is worth repairing, with real economics."""
