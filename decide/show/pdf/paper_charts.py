"""The charts of the hand-out on paper: the lines and bars of the screens' charts, drawn from the same numbers."""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from ...answers.answer import Answer
from ..charts.drawn import breakeven_drawn, cheapest_other, shown_categories
from ..charts.palette import CATEGORY_LOOK, INK, LIGHT_FILLS, MUTED, OTHERWISE, REPAIRING
from ..text.words import Words
from .paper import Letters, Paper

FINE: Final = Letters(7.0, lead=1.27)
FINE_BOLD: Final = replace(FINE, bold=True)
LABEL: Final = Letters(7.0, colour=MUTED)

PALE_REPAIRING: Final = "#e7f0ee"
PALE_OTHERWISE: Final = "#f6ece6"


def draw_breakeven(
    paper: Paper, words: Words, answer: Answer, at: tuple[float, float], size: tuple[float, float]
) -> None:
    """Draw the cost of repairing against the quote, and the cheapest other way, into a rectangle."""
    limit, quoted = answer.weighing.repair_limit, answer.weighing.quoted
    drawn, currency = breakeven_drawn(answer, words), answer.case.household.currency
    (x, y), (width, height) = at, size
    left, right, top, foot = x, x + width, y + LABEL.height + 0.6, y + height - 2 * LABEL.height - 0.8
    low, high = min(drawn.cost[0], drawn.level), max(drawn.cost[1], drawn.level)
    bottom, peak = low - 0.42 * (high - low), high + 0.16 * (high - low)

    def across(quote: float) -> float:
        return left + (right - left) * quote / drawn.last

    def along(cost: float) -> float:
        return foot - (foot - top) * (cost - bottom) / (peak - bottom)

    turn = min(max(limit, 0.0), drawn.last)
    for start, end, fill, key in (
        (0.0, turn, PALE_REPAIRING, "repair_side"),
        (turn, drawn.last, PALE_OTHERWISE, "other_side"),
    ):
        paper.box((across(start), top), (across(end) - across(start), foot - top), fill)
        side = words.say(f"chart.{key}")
        if across(end) - across(start) > paper.breadth(side, LABEL):
            paper.say(side, (across((start + end) / 2), y), LABEL, "centre")
    paper.line((left, foot), (right, foot), MUTED, 0.25)
    paper.line((left, along(drawn.level)), (right, along(drawn.level)), OTHERWISE, 0.7, 2.0)
    paper.line((left, along(drawn.cost[0])), (right, along(drawn.cost[1])), REPAIRING, 0.9)
    marks = [(limit, 0, words.say("chart.limit", limit=words.money(limit, currency)))] if limit > 0 else []
    if math.isfinite(quoted):
        marks.append((quoted, 4, words.say("chart.quoted", quote=words.money(quoted, currency))))
    for row, (value, corners, text) in enumerate(marks):
        point = (across(value), along(drawn.level + value - limit))
        paper.line(point, (point[0], foot), INK, 0.25, 0.7)
        paper.mark(point, corners)
        wide = paper.breadth(text, FINE_BOLD) + 1.5
        outmost = value == max(each for each, _, _ in marks)
        rightwards = point[0] + wide <= right if outmost else point[0] - wide < left
        edge = point[0] + 1.2 if rightwards else point[0] - 1.2
        paper.say(text, (edge, foot - (row + 1) * FINE.height - 0.3), FINE_BOLD, "left" if rightwards else "right")
    heights = (along(drawn.level), along(drawn.cost[1]))
    _name_lines(paper, words, answer, (left, right), heights, limit > 0.5 * drawn.last)
    for tick in ticks(drawn.last):
        paper.say(words.money(tick, currency), (across(tick), foot + 0.3), LABEL, "centre" if tick else "left")
    paper.say(words.say("chart.quote_axis"), ((left + right) / 2, foot + 0.3 + LABEL.height), LABEL, "centre")


def _name_lines(
    paper: Paper, words: Words, answer: Answer, ends: tuple[float, float], heights: tuple[float, float], far: bool
) -> None:
    """Name both lines where they are apart: the level one at the left of its crossing where that lies far right."""
    other = cheapest_other(answer, words)[1]
    level, rising = heights
    text = paper.fitted(other, 0.5 * (ends[1] - ends[0]), replace(FINE_BOLD, colour=OTHERWISE))
    if far:
        paper.say(text, (ends[0] + 1, level - FINE.height - 0.5), replace(FINE_BOLD, colour=OTHERWISE))
    else:
        wide = paper.breadth(text, FINE_BOLD) + 1
        paper.box((ends[1] - 0.5 - wide, level + 0.7), (wide, FINE.height - 0.3), PALE_OTHERWISE)
        paper.say(text, (ends[1] - 1, level + 0.6), replace(FINE_BOLD, colour=OTHERWISE), "right")
    name = words.say("chart.repairing")
    paper.say(name, (ends[1] - 1, rising - FINE.height - 0.3), replace(FINE_BOLD, colour=REPAIRING), "right")


def ticks(last: float, most: int = 5) -> list[float]:
    """Round numbers from 0 on, of which the last is not above a limit.

    >>> ticks(520.0), ticks(88.0)
    ([0.0, 200.0, 400.0], [0.0, 20.0, 40.0, 60.0, 80.0])
    """
    scale = 10.0 ** math.floor(math.log10(last / most))
    step = next(scale * unit for unit in (1, 2, 5, 10) if last / (scale * unit) < most)
    return [step * n for n in range(int(last / step) + 1)]


def draw_categories(
    paper: Paper, words: Words, answer: Answer, shown: Sequence[int], at: tuple[float, float], width: float
) -> float:
    """Draw a stacked bar for each option with what it costs by category, and a key; where it ends."""
    (x, y), currency = at, answer.case.household.currency
    costs = [answer.weighing.options[index] for index in shown]
    categories = shown_categories(answer, words)
    below = max(sum(max(-float(cost.by_category[category]), 0.0) for category in categories) for cost in costs)
    above = max(sum(max(float(cost.by_category[category]), 0.0) for category in categories) for cost in costs)
    unit = width / max(above + below, 1.0)
    for index, cost in zip(shown, costs, strict=True):
        total = words.money(float(cost.present_cost), currency)
        name = paper.fitted(words.option_name(answer, index), width - paper.breadth(total, FINE_BOLD) - 3, FINE_BOLD)
        paper.say(name, (x, y), FINE_BOLD)
        paper.say(total, (x + width, y), FINE_BOLD, "right")
        y += FINE.height + 0.2
        forth = back = x + unit * below
        for category in categories:
            amount = float(cost.by_category[category])
            long, (fill, pattern) = unit * abs(amount), CATEGORY_LOOK[category]
            start = forth if amount >= 0 else back - long
            forth, back = (forth + long, back) if amount >= 0 else (forth, back - long)
            paper.box((start, y), (long, 4.0), fill, pattern, edge="#ffffff")
            text, letters = (
                words.money(amount, currency),
                Letters(6.6, True, INK if category in LIGHT_FILLS else "#ffffff"),
            )
            if paper.breadth(text, letters) + 2 < long:
                middle, wide = start + long / 2, paper.breadth(text, letters) + 1
                paper.box((middle - wide / 2, y + 0.7), (wide, 2.6), fill)
                paper.say(text, (middle, y + 0.5), letters, "centre")
        y += 5.2
    return _key(paper, words, categories, (x, y), width)


def _key(paper: Paper, words: Words, categories: Sequence[str], at: tuple[float, float], width: float) -> float:
    """What each pattern stands for, as many beside each other as there is room for."""
    x, y = at
    for category in categories:
        wide = 5.5 + paper.breadth(words.category(category), FINE) + 3
        if x > at[0] and x + wide > at[0] + width:
            x, y = at[0], y + FINE.height + 0.4
        fill, pattern = CATEGORY_LOOK[category]
        paper.box((x, y + 0.3), (4.2, 2.5), fill, pattern)
        paper.say(words.category(category), (x + 5.5, y), FINE)
        x += wide
    return y + FINE.height
