"""The policy card in words, and as a table; `answers.policy_card` works it out."""

from collections.abc import Callable
from functools import partial
from typing import Any, Final

import numpy as np

from ...answers.policy_card import Card, CardRow
from .shop import bands_sentence
from .words import Words

ENDLESS: Final = 1e8
"""An edge beyond it is none. [money]"""


def heading(words: Words, card: Card) -> str:
    """Whose card it is, where and when."""
    facts = {"place": words.place(card.place), "day": card.day.isoformat()}
    return words.say("card.heading_of", shop=card.shop, **facts) if card.shop else words.say("card.heading", **facts)


def notes(words: Words, card: Card) -> list[str]:
    """How to read the card, what its figures rest on, and what goes before it."""
    counted = ", ".join(
        words.say("card.standing_part", n=words.number(n, 0), status=words.status(status))
        for status, n in card.standing.items()
    )
    return [
        words.say("card.how"),
        words.say("card.ruler"),
        words.say("card.used"),
        *_asked(words, card),
        *([] if card.bands is None else [bands_sentence(words, card.bands)]),
        words.say("card.answer"),
        words.say("card.standing", counted=counted),
        words.say("caution.last"),
    ]


def _asked(words: Words, card: Card) -> list[str]:
    """What the shop asks besides, as far as it has said."""
    days, share = partial(words.quantity, unit="day"), partial(words.percent, digits=0)
    write: dict[str, Callable[[float], str]] = {"fee": words.money, "rate": words.money, "markup": share, "days": days}
    terms = [
        words.say(f"card.term.{name}", value=write[name](card.terms[name])) for name in write if name in card.terms
    ]
    return [words.say("card.terms", terms="; ".join(terms))] if terms else []


def cells(words: Words, card: Card, row: CardRow) -> list[tuple[str, str]]:
    """The limit at each age, marked where somebody else is asked first, and between which quotes it is no clear call.

    A dash where even a free repair is not worth it; a word in place of an amount beyond the ages in the data.
    """
    found = []
    for age, limit, ruler in zip(card.ages, row.limits, row.ruler, strict=True):
        if not limit > 0:
            found.append(("", words.say("card.beyond")) if np.isnan(limit) else (words.say("card.none"), ""))
            continue
        low, high = (words.number(max(0.0, float(each)), 0) for each in (ruler[0], ruler[3]))
        mark = words.say("card.claim") if age <= row.owed_until else ""
        between = "" if ruler[3] > ENDLESS else words.say("card.between", low=low, high=high)
        found.append((words.money(limit) + mark, between))
    return found


def prices(words: Words, row: CardRow) -> tuple[str, str]:
    """What a new one costs in its place; and what a used one does, where one is bought."""
    used = words.money(row.used) if np.isfinite(row.used) else ""
    return words.money(row.new), words.say("card.used_for", amount=used) if used else ""


def _cell(value: float) -> float | str:
    """A number, or an empty cell beyond the data."""
    return float(value) if np.isfinite(value) else ""


def table_rows(words: Words, card: Card) -> list[dict[str, Any]]:
    """One row a class and age, in plain numbers; shares are fractions."""
    return [
        {
            "class": row.kind,
            "label": words.kind(row.kind),
            "place": card.place,
            "currency": card.currency,
            "age": age,
            "price_of_new": row.price,
            "cost_of_new": round(row.new, 2),
            "cost_of_used": _cell(round(row.used, 2)),
            "limit": _cell(limit),
            "share_of_price": _cell(round(float(limit) / row.price, 4)),
            "clear_repair_to": _cell(ruler[0]),
            "clear_other_from": _cell(ruler[3]),
            "claim_first": age <= row.owed_until,
            "worked_out": card.day.isoformat(),
            "shop": card.shop,
        }
        for row in card.rows
        for age, limit, ruler in zip(card.ages, row.limits, row.ruler, strict=True)
    ]
