"""The policy card on one page. Drawing alone: every word and figure comes from `text.policy_card`."""

from typing import Final

from ...answers.policy_card import Card, CardRow
from ..text.policy_card import cells, heading, notes, prices
from ..text.words import Words
from .paper import PLAIN, SMALL, TITLE, Letters, Paper, Size

LABEL: Final = 38.0
PRICE: Final = 16.0
"""Widths of the first two columns. [mm]"""
TALLEST: Final = 9.0
"""A row is no taller than this. [mm]"""
HEAD: Final = Letters(7.5, bold=True)
NAME: Final = Letters(7.5, bold=True)
AMOUNT: Final = Letters(7.5, bold=True)
SHARE: Final = Letters(6.0, colour=SMALL.colour)
NOTE: Final = Letters(7.0)
SHADE: Final = "#f2f4f3"


def card_page(words: Words, card: Card, size: Size = "A4") -> bytes:
    """Print the card as one page, A4 or Letter."""
    paper = Paper(size, words.language, words.say("card.title"), on=card.day)
    paper.text(words.say("card.title"), TITLE)
    paper.text(heading(words, card), PLAIN, gap=2.0)
    sentences = notes(words, card)
    foot = sum(len(paper.wrapped(note, paper.width, NOTE)) * NOTE.height + 0.6 for note in sentences) + 2.0
    paper.say(words.say("card.class"), (paper.left, paper.y), HEAD)
    paper.say(words.say("card.price"), (paper.left + LABEL + PRICE, paper.y), HEAD, "right")
    for age, end in zip(card.ages, _ends(paper, card), strict=True):
        paper.say(words.quantity(age, "year"), (end, paper.y), HEAD, "right")
    paper.y += HEAD.height + 1.0
    paper.line((paper.left, paper.y), (paper.left + paper.width, paper.y))
    height = min(TALLEST, (paper.room - foot) / len(card.rows))
    for index, row in enumerate(card.rows):
        _row(paper, words, card, row, height, shaded=index % 2 == 1)
    paper.y += 2.0
    for note in sentences:
        paper.text(note, NOTE, gap=0.6)
    return paper.output()


def _ends(paper: Paper, card: Card) -> list[float]:
    """Right edges of the columns of ages. [mm]"""
    wide = (paper.width - LABEL - PRICE) / len(card.ages)
    return [paper.left + LABEL + PRICE + (index + 1) * wide for index in range(len(card.ages))]


def _row(paper: Paper, words: Words, card: Card, row: CardRow, height: float, shaded: bool) -> None:
    if shaded:
        paper.box((paper.left, paper.y), (paper.width, height), SHADE)
    middle = paper.y + (height - NAME.height) / 2
    paper.say(paper.fitted(words.kind(row.kind), LABEL - 1, NAME), (paper.left + 0.5, middle), NAME)
    top = paper.y + (height - AMOUNT.height - SHARE.height) / 2
    new, used = prices(words, row)
    paper.say(new, (paper.left + LABEL + PRICE, top), Letters(7.5), "right")
    paper.say(used, (paper.left + LABEL + PRICE, top + AMOUNT.height), SHARE, "right")
    for (amount, share), end in zip(cells(words, card, row), _ends(paper, card), strict=True):
        paper.say(amount, (end - 0.5, top), AMOUNT, "right")
        paper.say(share, (end - 0.5, top + AMOUNT.height), SHARE, "right")
    paper.y += height
