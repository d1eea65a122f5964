"""The policy card in words, and as a table; `answers.policy_card` works it out."""

from typing import Any

from ...answers.policy_card import Card, CardRow
from .words import Words


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
        words.say("card.answer"),
        words.say("card.standing", counted=counted),
        words.say("caution.last"),
    ]


def cells(words: Words, card: Card, row: CardRow) -> list[tuple[str, str]]:
    """Amount and share of the price of new at each age; a dash where even a free repair is not worth it."""
    none = (words.say("card.none"), "")
    return [
        (words.money(limit, card.currency), words.percent(limit / row.price, 0)) if limit > 0 else none
        for limit in (float(each) for each in row.limits)
    ]


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
            "limit": float(limit),
            "share_of_price": round(float(limit) / row.price, 4),
            "worked_out": card.day.isoformat(),
            "shop": card.shop,
        }
        for row in card.rows
        for age, limit in zip(card.ages, row.limits, strict=True)
    ]
