"""Discounting, investment measures and lives: numbers in, numbers out; no appliance is known here."""
