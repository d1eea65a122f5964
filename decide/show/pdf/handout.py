"""Lays the hand-out on its one page: what is said first stands on top, and what can be spared gives way until it fits.

Cautions are never cut. The lines of its chart are those of the screens.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import Any, Final

from PIL.Image import Image

from ...answers.answer import Answer
from ...answers.confidence import has_limit
from ..charts.drawn import shown_options
from ..charts.palette import INK, MUTED, OTHERWISE, REPAIRING, STOP
from ..text.words import OptionRow, Words
from .logo import logo_of
from .paper import HEADING, SMALL, STRONG, Letters, Paper, Size
from .paper_charts import FINE, FINE_BOLD, LABEL, draw_breakeven, draw_categories
from .sheet import HEADS, Sheet

SAY: Final = Letters(8.2)
QUESTION: Final = Letters(13, bold=True, lead=1.25)
VERDICT: Final = Letters(17, bold=True, lead=1.2)
ANSWER: Final = Letters(10.2, lead=1.32)
FLIP: Final = Letters(7.6, bold=True)

BETWEEN: Final = 7.0
"""Between the two columns. [mm]"""
APART: Final = 2.2
"""Between two parts. [mm]"""
LONGEST_LINES: Final = 2
"""Lines that a title or the name of an option may take."""
COLUMNS: Final = (3.6, 1.25, 1.25, 1.55, 1.25, 2.1)
"""Proportions of the columns of the options."""
SOURCES: Final = (3.0, 1.5, 2.3, 2.0, 2.6)
"""Proportions of the columns of what it rests on."""
ALONE: Final = ("appliance", "household")
CHART: Final = 46.0
"""Height of the chart. [mm]"""


@dataclass(frozen=True)
class PagePlan:
    """How much of what can be spared is shown."""

    options: int = 8
    why: int = 4
    confidence: int = 4
    breakeven_values: int = 4
    questions: int = 5
    assumptions: int = 9
    categories: bool = True
    """Whether it is told where the money goes; else the questions stand in its place."""
    chart: float = CHART


STEPS: Final[tuple[Mapping[str, Any], ...]] = (
    {},
    {"chart": 40.0, "assumptions": 8},
    {"why": 2},
    {"assumptions": 6},
    {"questions": 4},
    {"why": 0},
    {"assumptions": 5, "confidence": 2},
    {"chart": 36.0, "breakeven_values": 3},
    {"options": 6},
    {"assumptions": 4, "confidence": 1},
    {"categories": False, "chart": 42.0, "questions": 5, "breakeven_values": 4, "confidence": 2, "assumptions": 5},
    {"questions": 4, "assumptions": 4},
    {"chart": 36.0, "breakeven_values": 3},
    {"assumptions": 3, "confidence": 1, "options": 5},
    {"questions": 3, "breakeven_values": 2, "chart": 30.0},
    {"questions": 2, "options": 4},
    {"questions": 1, "breakeven_values": 1, "options": 3, "assumptions": 2},
    {"options": 2, "assumptions": 1},
)
"""From all to the least, one step after the other, each sparing what counts less than what it keeps."""

PLANS: Final = tuple(accumulate(STEPS, lambda plan, step: replace(plan, **step), initial=PagePlan()))

Part = Callable[[PagePlan, float, float, float], float]
"""Draws from a left edge and an upper edge, over a width; where it ends. [mm]"""


def handout(words: Words, answer: Answer, sheet: Sheet, size: Size = "A4") -> bytes:
    """Print the answer on one page: a PDF, the same bytes for the same answer and sheet.

    Raises
    ------
    ReadError
        The logo cannot be used.
    """
    paper = Paper(size, words.language, sheet.question, on=sheet.on)
    paper.foot = (words.say("paper.foot"), sheet.date)
    page = _Page(paper, words, answer, sheet, logo_of(sheet.shop))
    plan = next((plan for plan in PLANS if page.fits(plan)), PLANS[-1])
    page.draw(plan)
    return paper.output()


class _Page:
    """The parts of the page, each drawn from the top down."""

    def __init__(self, paper: Paper, words: Words, answer: Answer, sheet: Sheet, logo: Image | None) -> None:
        self.paper, self.words, self.answer, self.sheet, self.logo = paper, words, answer, sheet, logo

    def fits(self, plan: PagePlan) -> bool:
        """Whether all of a plan stands on the page."""
        with self.paper.measuring():
            return self.draw(plan) <= self.paper.bottom

    def draw(self, plan: PagePlan) -> float:
        """Draw the page; where it ends."""
        paper, sheet = self.paper, self.sheet
        x, width = paper.left, paper.width
        y = self._head(x, paper.top, width)
        y = self._answer(x, y, width)
        if sheet.stopped:
            y = self._cautions(x, y + APART, width)
            y = self.paper.block(self.sheet.once_safe, (x, y + APART), width, SAY)
        y = self._options(x, y + APART, width, plan)
        half = (width - BETWEEN) / 2
        below = self._categories if plan.categories else self._questions
        beside = (
            self._confidence,
            self._breakeven_values,
            *((self._questions,) if plan.categories else ()),
            self._why,
        )
        left = self._stack((self._chart, below), plan, x, y + APART, half)
        right = self._stack(beside, plan, x + half + BETWEEN, y + APART, half)
        y = max(left, right)
        if not sheet.stopped:
            y = self._cautions(x, y + APART, width)
        return self._assumptions(x, y + APART, width, plan)

    def _stack(self, parts: Sequence[Part], plan: PagePlan, x: float, y: float, width: float) -> float:
        for part in parts:
            y = part(plan, x, y, width) + APART
        return y - APART

    def _title(self, key: str, x: float, y: float) -> float:
        self.paper.say(self.words.say(f"paper.{key}"), (x, y), HEADING)
        return y + HEADING.height + 0.4

    def _capped(self, text: str, width: float, letters: Letters, most: int = LONGEST_LINES) -> list[str]:
        """The lines of a text, at most so many; the last is cut where there are more."""
        lines = self.paper.wrapped(text, width, letters)
        if len(lines) <= most:
            return lines
        return [*lines[: most - 1], self.paper.fitted(f"{lines[most - 1]} {lines[most]}", width, letters)]

    # who asks what, and the answer

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
        paper, sheet, top, inset = self.paper, self.sheet, y, 4.0
        best = self.answer.weighing.options[int(self.answer.weighing.best)]
        colour = STOP if sheet.stopped else REPAIRING if best.action == "repair" else OTHERWISE
        y = paper.block(sheet.verdict, (x + inset, y), width - inset, replace(VERDICT, colour=colour))
        y = paper.block(sheet.headline, (x + inset, y + 0.5), width - inset, replace(ANSWER, bold=sheet.stopped))
        if not sheet.stopped:
            y = paper.block(sheet.once_safe, (x + inset, y), width - inset, ANSWER)
        for line in sheet.extra:
            y = self._paragraphs(self._capped(line, width - inset, SAY), x + inset, y, width - inset, SAY)
        paper.box((x, top + 0.4), (1.4, y - top), colour)
        return y

    def _paragraphs(self, sentences: Sequence[str], x: float, y: float, width: float, letters: Letters) -> float:
        for text in sentences:
            y = self.paper.block(text, (x, y), width, letters) + 0.5
        return y

    def _options(self, x: float, y: float, width: float, plan: PagePlan) -> float:
        paper, words = self.paper, self.words
        unit = width / sum(COLUMNS)
        columns = [unit * each for each in COLUMNS]
        starts = [x + sum(columns[:index]) for index in range(len(columns))]
        y = self._title("options", x, y)
        for index, (key, start, wide) in enumerate(zip(HEADS, starts, columns, strict=True)):
            right = 1 <= index <= 4
            at = (start + wide - 4 if right else start, y)
            paper.say(paper.fitted(words.say(f"paper.{key}"), wide - 3, LABEL), at, LABEL, "right" if right else "left")
        y += LABEL.height + 0.6
        paper.line((x, y), (x + width, y), MUTED, 0.25)
        best_name = words.option_name(self.answer, int(self.answer.weighing.best))
        for row in self._chosen(plan, best_name):
            best = row.name == best_name and not math.isnan(self.answer.weighing.quoted)
            letters = replace(SAY, bold=best)
            names = self._capped(row.name, columns[0] - 3, letters)
            notes = self._capped(row.note, columns[5], replace(FINE, bold=best))
            for fold, line in enumerate(names):
                paper.say(line, (x, y + 0.7 + fold * SAY.height), letters)
            for text, start, wide in zip(
                (row.today, row.yearly, row.present, row.years), starts[1:5], columns[1:5], strict=True
            ):
                paper.say(text, (start + wide - 4, y + 0.7), letters, "right")
            for fold, line in enumerate(notes):
                paper.say(line, (starts[5], y + 0.9 + fold * FINE.height), replace(FINE, bold=best))
            y += max(len(names) * SAY.height, len(notes) * FINE.height) + 1.5
            paper.line((x, y), (x + width, y))
        heading, left = words.say("terminal.over_the_years"), len(self.sheet.options) - plan.options
        if left > 0:
            heading = f"{heading} {words.say('paper.more_options', n=str(left))}"
        return paper.block(heading, (x, y + 0.5), width, LABEL)

    def _chosen(self, plan: PagePlan, best: str) -> list[OptionRow]:
        """The options that there is room for, in their order: the cheapest and the first ones."""
        rows = self.sheet.options
        kept = sorted(range(len(rows)), key=lambda at: (rows[at].name != best, at))[: plan.options]
        return [rows[at] for at in sorted(kept)]

    # the charts

    def _chart(self, plan: PagePlan, x: float, y: float, width: float) -> float:
        """Where repairing stops paying; nothing where a repair is ruled out."""
        if not has_limit(self.answer):
            return y - APART
        top = self._title("breakeven", x, y)
        draw_breakeven(self.paper, self.words, self.answer, (x, top), (width, plan.chart))
        return top + plan.chart

    def _categories(self, plan: PagePlan, x: float, y: float, width: float) -> float:
        """What each option costs over the years, piece by piece."""
        shown = shown_options(self.answer, self.words)[: plan.options]
        if not shown:
            return y - APART
        return draw_categories(self.paper, self.words, self.answer, shown, (x, self._title("categories", x, y)), width)

    # what else is said

    def _confidence(self, plan: PagePlan, x: float, y: float, width: float) -> float:
        if not self.sheet.confidence:
            return y - APART
        y = self._title("confidence", x, y)
        y = self._paragraphs(self.sheet.confidence[: plan.confidence], x, y, width, SAY)
        for share, text in sorted(self.sheet.shares, key=lambda each: -each[0])[:3]:
            y = self._dots(share, text, x, y, width)
        return y

    def _why(self, plan: PagePlan, x: float, y: float, width: float) -> float:
        sentences = self.sheet.because[: plan.why]
        return self._paragraphs(sentences, x, self._title("why", x, y), width, SAY) if sentences else y - APART

    def _dots(self, share: float, text: str, x: float, y: float, width: float) -> float:
        """Ten dots, full ones for tenths of the samples, and what they say."""
        for dot in range(10):
            self.paper.dot((x + 1 + 2.6 * dot, y + FINE.height / 2), 0.85, dot < round(share * 10))
        for line in self._capped(text, width - 29, FINE):
            self.paper.say(line, (x + 29, y), FINE)
            y += FINE.height
        return y + 0.6

    def _breakeven_values(self, plan: PagePlan, x: float, y: float, width: float) -> float:
        rows = self.sheet.breakeven_values[: plan.breakeven_values]
        if not rows:
            return y - APART
        y = self._title("breakeven_values", x, y)
        for label, text in rows:
            shown = self.paper.fitted(self.words.say("paper.section", head=label), 0.62 * width, FLIP)
            self.paper.say(shown, (x, y), FLIP)
            inset = self.paper.breadth(shown, FLIP) + 1.5
            y = self.paper.block(text, (x + inset, y), width - inset, replace(FLIP, bold=False)) + 0.6
        return y

    def _questions(self, plan: PagePlan, x: float, y: float, width: float) -> float:
        y = self._title("questions", x, y)
        for text in self.sheet.questions[: plan.questions]:
            self.paper.box((x, y + 0.75), (1.9, 1.9), "#ffffff", edge=INK)
            y = self.paper.block(text, (x + 4, y), width - 4, SAY) + 0.6
        return y

    def _cautions(self, x: float, y: float, width: float) -> float:
        """What the people of the home mind now, while working and afterwards; orders in bold."""
        y = self._title("cautions", x, y)
        lines = [line for line in self.sheet.cautions if line.text not in self.sheet.headline]
        for head, members in self.words.caution_lists(lines):
            for text, weight in ((head, "stop"), *((line.text, line.weight) for line in members)):
                y = self.paper.block(text, (x, y), width, FINE_BOLD if weight == "stop" else FINE) + 0.8 if text else y
        return y

    def _assumptions(self, x: float, y: float, width: float, plan: PagePlan) -> float:
        paper, words, lines = self.paper, self.words, self.sheet.assumptions[: plan.assumptions]
        unit = width / sum(SOURCES)
        columns = [unit * each for each in SOURCES]
        starts = [x + sum(columns[:index]) for index in range(len(columns))]
        y = self._title("assumptions", x, y)
        heads = ["", *(words.say(f"paper.{key}") for key in ("taken", "range", "status", "source"))]
        # of the appliance and the household a label says enough, a price or a tax needs its owner
        names = [line.label if line.path.startswith(ALONE) else words.full_label(line.path) for line in lines]
        rows = [
            (name, line.value, line.range, line.status, line.source or line.note)
            for name, line in zip(names, lines, strict=True)
        ]
        for number, row in enumerate((heads, *rows)):
            letters = FINE if number else LABEL
            for cell, start, wide in zip(row, starts, columns, strict=True):
                paper.say(paper.fitted(cell, wide - 2, letters), (start, y), letters)
            y += FINE.height + 0.3
            paper.line((x, y), (x + width, y))
        more = len(self.sheet.assumptions) - len(lines)
        if more > 0:
            paper.say(words.say("paper.more", n=str(more)), (x, y + 0.3), LABEL)
            y += LABEL.height + 0.3
        return y
