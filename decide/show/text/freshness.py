"""How old the prices of energy are, said: over the tables, and of each one that an answer takes."""

from typing import Final

from ...load.tables.tables import ENERGY, Tables, tables
from .phrases import Phrases

OLD: Final = 2
"""A price older than this is told to be old: they can move by a tenth and more a year. A judgement. [year]"""

FUELS: Final = {f"household.{fuel}_price": fuel for fuel in ENERGY}


def prices_text(phrases: Phrases, reference: Tables, this_year: int) -> str:
    """Say of which years the prices of energy in the tables are, and how old the oldest is."""
    years = sorted({price.year for price in reference.energy_prices.values()})
    facts = {"oldest": str(years[0]), "newest": str(years[-1]), "age": str(this_year - years[0])}
    return phrases.say("freshness.years", **facts)


def old_price(phrases: Phrases, path: str, place: str, this_year: int) -> str:
    """Warn of an average price of the tables that is old; nothing of any other figure, or of a newer one."""
    if path not in FUELS:
        return ""
    year = tables().energy_price(place, FUELS[path]).year
    return phrases.say("freshness.old", year=str(year), age=str(this_year - year)) if this_year - year > OLD else ""
