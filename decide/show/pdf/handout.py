"""Lays the hand-out on its one page: what is said first stands on top, and what can be spared gives way until it fits.

Orders that stop the use are never cut.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

from PIL.Image import Image

from ...answers.answer import Answer
from ..charts.palette import INK, MUTED, OTHERWISE, REPAIRING, STOP
from ..text.words import Words
from .logo import logo_of
from .paper import HEADING, SMALL, STRONG, Letters, Paper, Size
from .paper_charts import draw_paid, draw_ruler
from .sheet import Sheet

SAY: Final = Letters(10)
BOLD: Final = Letters(10, bold=True)
QUESTION: Final = Letters(13, bold=True, lead=1.25)
VERDICT: Final = Letters(20, bold=True, lead=1.2)
APART: Final = 3.4
"""Between two parts. [mm]"""
ORDER: Final = "stop"
LONGEST_LINES: Final = 2
"""Lines that a title or the name of an option may take."""
PLANS: Final = ((4, 52.0), (3, 44.0), (2, 36.0), (1, 30.0), (0, 0.0))
"""Questions that are asked and the height of the chart, from all to the least. [mm]"""


def handout(words: Words, answer: Answer, sheet: Sheet, size: Size = "A4") -> bytes:
    """Print the answer on one page: a PDF, the same bytes for the same answer and sheet.

    Raises `ReadError`: the logo cannot be used.
    """
    paper = Paper(size, words.language, sheet.question, on=sheet.on)
    paper.foot = (words.say("paper.foot"), sheet.date)
    page = _Page(paper, words, answer, sheet, logo_of(sheet.shop))
    page.draw(*next((plan for plan in PLANS if page.fits(*plan)), PLANS[-1]))
    return paper.output()


class _Page:
    """The parts of the page, each drawn from the top down."""

    def __init__(self, paper: Paper, words: Words, answer: Answer, sheet: Sheet, logo: Image | None) -> None:
        self.paper, self.words, self.answer, self.sheet, self.logo = paper, words, answer, sheet, logo

    def fits(self, asked: int, chart: float) -> bool:
        """Whether the page holds so many questions and a chart of that height."""
        with self.paper.measuring():
            return self.draw(asked, chart) <= self.paper.bottom

    def draw(self, asked: int, chart: float) -> float:
        """Draw the page; where it ends."""
        paper, sheet, layer = self.paper, self.sheet, self.sheet.layer
        x, width, currency = paper.left, paper.width, self.answer.case.household.currency
        y = self._answer(x, self._head(x, paper.top, width), width)
        if layer.stopped:
            y = self._cautions(x, y + APART, width)
            y = paper.block(sheet.once_safe, (x, y + APART), width, SAY)
        elif layer.ruler is not None:
            y = draw_ruler(paper, self.words, layer.ruler, currency, (x, y + APART), width)
        y = self._cards(x, y + APART, width)
        if layer.paid is not None and chart:
            y = self._title(self.words.say("first.paid"), x, y + APART)
            for index, (name, colour) in enumerate(zip(layer.paid.names, (REPAIRING, OTHERWISE), strict=True)):
                shown = paper.fitted(name, width / 2 - 12, BOLD)
                paper.line((x + index * width / 2, y + 2), (x + index * width / 2 + 8, y + 2), colour, 0.8, 1.8 * index)
                paper.say(shown, (x + index * width / 2 + 10, y), replace(BOLD, colour=colour))
            draw_paid(paper, self.words, layer.paid, currency, (x, y + BOLD.height), (width, chart))
            y += BOLD.height + chart
        gains = (self.words.say("paper.fact", label=line.label, value=line.text) for line in layer.gains)
        y = paper.block("   ·   ".join(gains), (x, y + 1), width, BOLD)
        for line in (each for extra in sheet.extra for each in self._capped(extra, width, SAY)):
            paper.say(line, (x, y + 0.6), SAY)
            y += SAY.height
        if not layer.stopped:
            y = self._cautions(x, y + APART, width)
        return self._questions(asked, x, y + APART, width)

    def _title(self, text: str, x: float, y: float) -> float:
        self.paper.say(text, (x, y), HEADING)
        return y + HEADING.height

    def _capped(self, text: str, width: float, letters: Letters) -> list[str]:
        """The lines of a text, at most so many; the last is cut where there are more."""
        lines = self.paper.wrapped(text, width, letters)
        if len(lines) <= LONGEST_LINES:
            return lines
        *kept, last, more = lines[: LONGEST_LINES + 1]
        return [*kept, self.paper.fitted(f"{last} {more}", width, letters)]

    def _head(self, x: float, y: float, width: float) -> float:
        paper, sheet, start = self.paper, self.sheet, x
        if self.logo is not None:
            wide = min(42.0, 11.0 * self.logo.width / self.logo.height)
            paper.picture(self.logo, (x, y), (wide, 11.0), self.words.say("paper.logo", name=sheet.shop.name))
            start = x + wide + 3
        room = width - (start - x) - paper.breadth(sheet.date, SMALL) - 6
        name = sheet.shop.name or self.words.say("paper.title")
        paper.say(paper.fitted(name, room, STRONG), (start, y), STRONG)
        paper.say(paper.fitted(sheet.shop.address, room, SMALL), (start, y + STRONG.height + 0.3), SMALL)
        paper.say(sheet.date, (x + width, y), SMALL, "right")
        deep = 11.0 if self.logo is not None else STRONG.height + (SMALL.height if sheet.shop.address else 0)
        y += deep + 1.6
        paper.line((x, y), (x + width, y), INK, 0.4)
        y += 2.2
        for line in self._capped(sheet.question, width, QUESTION):
            paper.say(line, (x, y), QUESTION)
            y += QUESTION.height
        for line in self._capped("   ·   ".join(sheet.facts), width, replace(SAY, colour=MUTED)):
            paper.say(line, (x, y), replace(SAY, colour=MUTED))
            y += SAY.height
        return y + 2.0

    def _answer(self, x: float, y: float, width: float) -> float:
        """The verdict and why it is so, beside a bar of its colour."""
        paper, layer, top, inset = self.paper, self.sheet.layer, y, 4.0
        best = self.answer.weighing.options[int(self.answer.weighing.best)]
        settled = not (self.answer.close or self.answer.undecided or self.answer.unpayable)
        colour = STOP if layer.stopped else INK if not settled else REPAIRING if best.action == "repair" else OTHERWISE
        y = paper.block(layer.verdict, (x + inset, y), width - inset, replace(VERDICT, colour=colour)) + 0.6
        for sentence in layer.sentences:
            y = paper.block(sentence, (x + inset, y), width - inset, replace(SAY, bold=layer.stopped)) + 0.5
        paper.box((x, top + 0.4), (1.4, y - top), colour)
        return y

    def _cards(self, x: float, y: float, width: float) -> float:
        """A column for each way, the one to choose in a frame."""
        paper, layer = self.paper, self.sheet.layer
        first = 0.34 * width
        wide = (width - first) / max(len(layer.cards), 1)
        top = y
        for index, card in enumerate(layer.cards):
            for fold, line in enumerate(self._capped(card.name, wide - 4, BOLD)):
                paper.say(line, (x + first + index * wide + 2, y + 1 + fold * BOLD.height), BOLD)
        y += 1 + BOLD.height * max(len(self._capped(card.name, wide - 4, BOLD)) for card in layer.cards)
        for row, label in enumerate(layer.labels):
            paper.line((x, y), (x + width, y))
            lines = self._capped(label, first - 2, replace(SAY, colour=MUTED))
            for fold, line in enumerate(lines):
                paper.say(line, (x, y + 0.6 + fold * SAY.height), replace(SAY, colour=MUTED))
            for index, card in enumerate(layer.cards):
                shown = paper.fitted(card.values[row], wide - 4, BOLD)
                paper.say(shown, (x + first + index * wide + 2, y + 0.6), BOLD)
            y += len(lines) * SAY.height + 1.2
        for index, card in enumerate(layer.cards):
            if card.best:
                self._frame((x + first + index * wide, top), (wide, y - top))
        return y

    def _frame(self, at: tuple[float, float], size: tuple[float, float]) -> None:
        (x, y), (w, h) = at, size
        corners = ((x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y))
        for start, end in pairwise(corners):
            self.paper.line(start, end, INK, 0.5)

    def _cautions(self, x: float, y: float, width: float) -> float:
        y = self._title(self.words.say("first.safety"), x, y)
        for line in self.sheet.cautions:
            self.paper.box((x, y + 0.9), (1.2, 2.4), STOP if line.weight == ORDER else MUTED)
            y = self.paper.block(line.text, (x + 3, y), width - 3, replace(SAY, bold=line.weight == ORDER)) + 0.6
        return y

    def _questions(self, asked: int, x: float, y: float, width: float) -> float:
        texts: Sequence[str] = self.sheet.questions[:asked]
        if not texts:
            return y - APART
        y = self._title(self.words.say("paper.questions"), x, y)
        for text in texts:
            self.paper.box((x, y + 1.1), (2.2, 2.2), "#ffffff", edge=INK)
            y = self.paper.block(text, (x + 4, y), width - 4, SAY) + 0.6
        return y
