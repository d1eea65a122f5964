"""How old prices are, said: over the tables, of each one that an answer takes, and of whose money amounts are."""

import datetime
from collections.abc import Container, Iterable, Iterator
from typing import Final

from babel.dates import format_skeleton
from babel.numbers import get_currency_name, get_territory_currencies

from ...load.cases.reading import DefaultUsed
from ...load.tables.price_level import UNKNOWN
from ...load.tables.tables import CURRENCIES, ENERGY, Tables, tables
from .phrases import Phrases

OLD: Final = 2
"""A price older than this is told to be old: they can move by a tenth and more a year. A judgement. [year]"""

RATES: Final = ("household_rate", "card_rate", "loan_rate_usual", "inflation", "discount_rate")

FUELS: Final = {f"household.{fuel}_price": fuel for fuel in (*ENERGY, "water")}


def prices_text(phrases: Phrases, reference: Tables, this_year: int) -> str:
    """Say of which years the prices of energy in the tables are, and how old the oldest is."""
    years = sorted({price.year for price in reference.energy_prices.values()})
    facts = {"oldest": str(years[0]), "newest": str(years[-1]), "age": str(this_year - years[0])}
    return phrases.say("freshness.years", **facts)


def money_of(phrases: Phrases) -> str:
    """Say whose money all amounts are in."""
    year, month = map(int, tables().level.month.split("-"))
    found = format_skeleton("yMMMM", datetime.date(year, month, 1), locale=phrases.language)
    return " ".join(filter(None, [phrases.say("freshness.money_of", month=str(found)), other_money(phrases)]))


def other_money(phrases: Phrases) -> str:
    """Say whose money amounts are in where people of the place pay in another; nothing elsewhere."""
    money = CURRENCIES[phrases.region]
    own = get_territory_currencies(phrases.country) if phrases.region != "US" and phrases.country else []
    if not own or money in own:
        return ""
    named = {"money": money, "own": own[0]}
    names = {key: get_currency_name(each, count=2, locale=phrases.language) for key, each in named.items()}
    rate = tables().exchange[phrases.country]
    year, _, half = rate.price_year.partition("-S")
    names["when"] = phrases.say(f"freshness.in_half.{half}", period=year)
    return phrases.say("freshness.other_money", code=own[0], rate=phrases.number(rate.value, 2), **names)


def stands_for(phrases: Phrases, place: str) -> str:
    """Say that the price of a region stands for that of a place that has none."""
    facts = {"region": phrases.say(f"freshness.of_region.{tables().region_of(place)}"), "place": phrases.place(place)}
    return phrases.say("freshness.stands_for", **facts)


def dated(phrases: Phrases, default: DefaultUsed, this_year: int) -> Iterator[str]:
    """Say of a price that is old where a newer one is to be had, and how an amount came to today's money."""
    figure = default.estimate
    period = default.period or figure.price_year
    if default.stands_for:
        yield stands_for(phrases, default.stands_for)
    yield asked_anew(phrases, default, this_year)
    if period == UNKNOWN:
        yield phrases.say("freshness.unknown")
    if figure.published is not None:
        amount = phrases.quantity(figure.published, figure.unit)
        index = phrases.say(f"freshness.index.{figure.index.replace(' ', '_')}")
        yield phrases.say("freshness.brought", amount=amount, year=period, index=index)
    elif period and default.field in FUELS and period != UNKNOWN:
        year, _, half = period.partition("-S")
        yield phrases.say(f"freshness.half.{half}" if half else "freshness.period", period=year)


def asked_anew(phrases: Phrases, default: DefaultUsed, this_year: int) -> str:
    """Ask for the price on the bill or in the shop window in place of an old one."""
    key = "old" if default.field in FUELS else "old_in_shop" if default.field.endswith(".price") else ""
    return old_price(phrases, key, default.period or default.estimate.price_year, this_year) if key else ""


def newer_asked(phrases: Phrases, defaults: Iterable[DefaultUsed], shown: Container[str]) -> Iterator[str]:
    """Ask so of each that is shown, by its name."""
    for default in defaults:
        text = asked_anew(phrases, default, datetime.date.today().year) if default.field in shown else ""
        if text:
            yield phrases.say("freshness.named", label=phrases.label(default.field), text=text)


def due(reference: Tables, this_year: int) -> Iterator[tuple[str, int, str, str]]:
    """What is to be looked up anew: a table, how many of its rows, their periods, and a key of what to do about them.

    Energy of a past year; amounts, rates and editions older than `OLD`; indices that end before this year.
    """
    rows = [("energy_prices.csv", "energy", price.price_year) for price in reference.energy_prices.values()]
    rows += [("exchange.csv", "energy", rate.price_year) for rate in reference.exchange.values()]
    for (_, _, what), figure in reference.figures.items():
        if figure.price_year not in ("", UNKNOWN):
            rows.append(("figures.csv", "amounts", figure.price_year))
        elif figure.status != "judgement":
            rows.append(("figures.csv", "rates" if what in RATES else "editions", str(figure.year)))
    for promise in reference.promises.values():
        rows.append(("guarantees.csv", "editions", str(promise.year)))
    for times, _ in reference.level.series.values():
        rows.append(("price_index.csv", "index", str(int(times[-1]))))
    for file, what in dict.fromkeys(row[:2] for row in rows):
        fresh = this_year - (0 if what in ("energy", "index") else OLD)
        old = sorted(period for *head, period in rows if head == [file, what] and int(period[:4]) < fresh)
        if old:
            yield file, len(old), " - ".join(dict.fromkeys((old[0], old[-1]))), what


def old_price(phrases: Phrases, key: str, period: str, this_year: int) -> str:
    """Ask for a newer price than one of a period that is old; nothing of a newer one."""
    year = int(period[:4]) if period[:4].isdecimal() else this_year
    return phrases.say(f"freshness.{key}", year=str(year), age=str(this_year - year)) if this_year - year > OLD else ""
