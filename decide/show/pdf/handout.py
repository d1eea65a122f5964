"""Draws the sheet on its one page, from the top down; the chart takes what room is left.

An order to stop the use makes it a notice of danger, which is never cut.
"""

import io
from dataclasses import replace
from typing import Final

import segno
from PIL import Image

from ...answers.answer import Answer
from ..charts.palette import INK, MUTED, OTHERWISE, REPAIRING, STOP
from ..text.words import Words
from .logo import logo_of
from .paper import Letters, Paper, Size
from .paper_charts import draw_paid, draw_ruler
from .sheet import Sheet

SAY: Final = Letters(10)
QUIET: Final = replace(SAY, colour=MUTED)
BOLD: Final = Letters(10, bold=True)
HEAD: Final = Letters(11, bold=True, lead=1.4)
NAME: Final = Letters(13, bold=True, lead=1.25)
VERDICT: Final = Letters(20, bold=True, lead=1.2)
ORDER: Final = Letters(13, bold=True, lead=1.3)
APART: Final = 3.6
"""Between two parts. [mm]"""
CHART: Final = (26.0, 52.0)
"""Least and greatest height of the chart; with less room there is none. [mm]"""
CODE: Final = 36.0
"""Side of the code, with the white edge that a camera needs. [mm]"""
TO_WRITE: Final = 9.0
"""Height of a line to write on. [mm]"""


def handout(words: Words, answer: Answer, sheet: Sheet, size: Size = "A4") -> bytes:
    """Print the sheet on one page: a PDF, the same bytes for the same answer and sheet.

    Raises
    ------
    ReadError
        The logo cannot be used.
    """
    paper = Paper(size, words.language, sheet.question, on=sheet.on)
    page = _Page(paper, words, answer, sheet)
    with paper.measuring():
        room = paper.bottom - page.draw()
    head = HEAD.height + BOLD.height + APART / 2
    chart = min(room - head, CHART[1]) if room >= CHART[0] + head and sheet.layer.paid and not sheet.notice else 0.0
    page.draw(chart, room - chart - head * (chart > 0))
    return paper.output()


class _Page:
    """The parts of the page, each drawn from the top down; each says where it ends."""

    def __init__(self, paper: Paper, words: Words, answer: Answer, sheet: Sheet) -> None:
        self.paper, self.words, self.answer, self.sheet = paper, words, answer, sheet
        self.logo = logo_of(sheet.shop.logo) if sheet.shop.logo else None
        held = io.BytesIO()
        segno.make_qr(sheet.message, error="l", encoding="utf-8").save(held, kind="png", scale=6, border=4)
        self.code = Image.open(held)

    def draw(self, chart: float = 0.0, spare: float = 0.0) -> float:
        """Draw the page with a chart of that height, and that much room above what is signed."""
        paper, sheet, layer = self.paper, self.sheet, self.sheet.layer
        x, width = paper.left, paper.width
        y = self._head(x, paper.top, width)
        if sheet.notice:
            y = self._notice(x, y, width)
        else:
            y = self._answer(x, y, width) + APART
            if layer.ruler is not None:
                y = draw_ruler(paper, self.words, layer.ruler, (x, y), width) + APART
            y = paper.block(layer.both, (x, self._cards(x, y, width) + APART / 2), width, SAY) + APART / 2
            if chart and layer.paid is not None:
                y = self._title(self.words.say("first.paid"), x, y)
                looks = zip(layer.paid.names, (REPAIRING, OTHERWISE), strict=True)
                for at, (name, colour) in zip((x, x + width / 2), looks, strict=True):
                    paper.line((at, y + 2), (at + 8, y + 2), colour, 0.8, 1.8 * (at > x))
                    paper.say(paper.fitted(name, width / 2 - 12, BOLD), (at + 10, y), replace(BOLD, colour=colour))
                draw_paid(paper, self.words, layer.paid, (x, y + BOLD.height), (width, chart))
                y += BOLD.height + chart + APART / 2
        y = self._title(self.words.say("first.safety"), x, y)
        for line in sheet.cautions:
            paper.box((x, y + 0.9), (1.2, 2.4), MUTED)
            y = paper.block(line, (x + 3, y), width - 3, SAY) + 0.6
        return self._close(x, y + APART + spare, width)

    def _title(self, text: str, x: float, y: float) -> float:
        self.paper.say(text, (x, y), HEAD)
        return y + HEAD.height

    def _text(self, text: str, x: float, y: float, width: float, letters: Letters) -> float:
        """Write a text on two lines at most; the last is cut where there are more."""
        first, *rest = self.paper.wrapped(text, width, letters) or [""]
        for line in (first, self.paper.fitted(" ".join(rest), width, letters))[: 1 + bool(rest)]:
            self.paper.say(line, (x, y), letters)
            y += letters.height
        return y

    def _head(self, x: float, y: float, width: float) -> float:
        paper, sheet, start, top = self.paper, self.sheet, x, y
        if self.logo is not None:
            wide = min(42.0, 14.0 * self.logo.width / self.logo.height)
            paper.picture(self.logo, (x, y), (wide, 14.0), self.words.say("paper.logo", name=sheet.shop.name))
            start = x + wide + 3
        dates = [paper.fitted(line, 0.4 * width, SAY) for line in sheet.dates]
        room = width - (start - x) - max(paper.breadth(line, SAY) for line in dates) - 6
        y = self._text(sheet.shop.name or self.words.say("paper.title"), start, y, room, NAME)
        for line in sheet.sender:
            y = self._text(line, start, y, room, SAY)
        for index, line in enumerate(dates):
            paper.say(line, (x + width, top + index * SAY.height), SAY, "right")
        deep = max(14.0 * (self.logo is not None), len(sheet.dates) * SAY.height)
        y = max(y, top + deep) + 1.6
        paper.line((x, y), (x + width, y), INK, 0.4)
        return y + 2.4

    def _answer(self, x: float, y: float, width: float) -> float:
        """What is asked and was found, and the verdict and why it is so, beside a bar of its colour."""
        paper, layer, inset = self.paper, self.sheet.layer, 4.0
        y = self._text(self.sheet.question, x, y, width, NAME)
        top = y = self._text(" ".join(self.sheet.found), x, y, width, SAY) + 2.0 if self.sheet.found else y + 2.0
        best = self.answer.weighing.options[int(self.answer.weighing.best)]
        settled = not (self.answer.close or self.answer.undecided or self.answer.unpayable)
        colour = INK if not settled else REPAIRING if best.action == "repair" else OTHERWISE
        y = paper.block(layer.verdict, (x + inset, y), width - inset, replace(VERDICT, colour=colour)) + 0.6
        for sentence in layer.sentences:
            y = paper.block(sentence, (x + inset, y), width - inset, SAY) + 0.5
        paper.box((x, top + 0.4), (1.4, y - top), colour)
        return y

    def _notice(self, x: float, y: float, width: float) -> float:
        """The danger in a frame: what is wrong, what to do, what not to do, and who to call."""
        paper, top, inside, held = self.paper, y, x + 5.0, width - 10.0
        title, letters = self.words.say("sheet.danger"), replace(ORDER, bold=False)
        y = paper.block(title, (inside, y + 3), held, replace(VERDICT, colour=STOP)) + 1
        for head, text in self.sheet.notice:
            y = self._title(head, inside, y + 1.5)
            y, letters = paper.block(text, (inside, y), held, letters), ORDER
        paper.box((x, top), (width, y + 3 - top), edge=STOP, thick=1.2)
        return y + 3 + APART

    def _cards(self, x: float, y: float, width: float) -> float:
        """A column for each way, the one to choose in a frame."""
        paper, layer = self.paper, self.sheet.layer
        first = 0.34 * width
        wide = (width - first) / len(layer.cards)
        top, cards = y, [(x + first + index * wide, card) for index, card in enumerate(layer.cards)]
        y = max(self._text(card.name, left + 2, y + 1, wide - 4, BOLD) for left, card in cards)
        for row, label in enumerate(layer.labels):
            paper.line((x, y), (x + width, y))
            for left, card in cards:
                paper.say(paper.fitted(card.values[row], wide - 4, BOLD), (left + 2, y + 0.6), BOLD)
            y = self._text(label, x, y + 0.6, first - 2, QUIET) + 0.6
        for left, _ in (each for each in cards if each[1].best):
            paper.box((left, top), (wide, y - top), edge=INK, thick=0.5)
        return y

    def _close(self, x: float, y: float, width: float) -> float:
        """What is ticked and signed, the code beside it, and what becomes of the visit."""
        paper, sheet, room = self.paper, self.sheet, width - CODE - 6
        paper.line((x, y), (x + width, y), INK, 0.4)
        top = y = y + 2.4
        paper.picture(self.code, (x + width - CODE, y), (CODE, CODE), sheet.message)
        paper.say(self.words.say("sheet.scan"), (x + width - CODE / 2, y + CODE - 1), SAY, "centre")
        head, *boxes = sheet.boxes
        y, at = self._title(head, x, y), x
        for text in boxes:
            shown = paper.fitted(text, room - 6, SAY)
            if at > x and at + 6 + paper.breadth(shown, SAY) > x + room:
                y, at = y + SAY.height + 1.4, x
            paper.box((at, y + 0.4), (3.6, 3.6), "#ffffff", edge=INK)
            paper.say(shown, (at + 5.4, y), SAY)
            at += 12 + paper.breadth(shown, SAY)
        y += SAY.height + 1.4
        y = paper.block(self.words.say("sheet.told") if sheet.notice else "", (x, y), room, BOLD) + TO_WRITE
        paper.say(paper.fitted(sheet.customer, 0.36 * room, SAY), (x, y - SAY.height), SAY)
        for label, begin, end in (("name", 0.0, 0.36), ("signature", 0.4, 0.76), ("date", 0.8, 1.0)):
            paper.line((x + begin * room, y), (x + end * room, y), INK, 0.3)
            paper.say(self.words.say(f"sheet.{label}"), (x + begin * room, y + 0.4), QUIET)
        y = max(y + SAY.height + 1.5, top + CODE + SAY.height)
        for line in sheet.closing:
            y = paper.block(line, (x, y), width, QUIET)
        return y
