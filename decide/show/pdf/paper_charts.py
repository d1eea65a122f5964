"""The ruler and the chart of the first layer on paper: from the numbers of the screens, readable in grey too."""

import math
from dataclasses import replace
from typing import Final

from ...economics.case import REPAIR
from ..charts.palette import INK, MUTED, OTHERWISE, REPAIRING
from ..text.phrases import Phrases
from ..text.report import Paid
from ..text.ruler import Ruler, about
from .paper import Letters, Pair, Paper

LABEL: Final = Letters(10, colour=MUTED)
AMOUNT: Final = Letters(10, bold=True)
BAR: Final = 7.0
"""Height of the ruler's bar. [mm]"""
LOOKS: Final = {REPAIR: ("#9cc7bf", "/"), "call": ("#eef1ef", ""), "close": ("#cdd5d2", "-")}
OTHER_LOOK: Final = ("#e2bda6", "\\")


def draw_ruler(paper: Paper, words: Phrases, ruler: Ruler, at: Pair, width: float) -> float:
    """Draw the ruler over a width; where it ends."""
    x, y = at
    if math.isfinite(ruler.quote):
        place, shown = x + width * ruler.at(ruler.quote), words.price(ruler.quote)
        half = paper.breadth(shown, AMOUNT) / 2
        paper.say(shown, (min(max(place, x + half), x + width - half), y), AMOUNT, "centre")
    y += AMOUNT.height + 2.4
    for name, start, end in ruler.zones:
        fill, pattern = LOOKS.get(name, OTHER_LOOK)
        paper.box((x + width * start, y), (width * (end - start), BAR), fill, pattern, edge=MUTED)
    if math.isfinite(ruler.quote):
        paper.mark((x + width * ruler.at(ruler.quote), y - 1.4), 4, INK, 1.3)
    if ruler.limit > 0:
        place = x + width * ruler.at(ruler.limit)
        paper.line((place, y - 0.8), (place, y + BAR + 0.8), INK, 0.5)
    for name, start, end in ruler.named:
        shown = words.say(f"ruler.{name}")
        wide = paper.breadth(shown, AMOUNT) + 2
        if wide < width * (end - start):
            middle = x + width * (start + end) / 2
            paper.box((middle - wide / 2, y + 1.2), (wide, BAR - 2.4), "#ffffff")
            paper.say(shown, (middle, y + 1.5), AMOUNT, "centre")
    y += BAR + 0.6
    ends = [ruler.clear_repair, ruler.clear_other] if not ruler.certain else [ruler.limit]
    taken: list[tuple[float, float]] = []
    for amount in (*ends, ruler.last, 0.0):
        shown, place = words.money(about(amount, ruler.certain)), x + width * ruler.at(amount)
        half = paper.breadth(shown, LABEL) / 2
        place = min(max(place, x + half), x + width - half)
        if 0 <= amount <= ruler.last and all(place - half > b or place + half < a for a, b in taken):
            taken.append((place - half - 1, place + half + 1))
            paper.say(shown, (place, y), LABEL, "centre")
    return y + LABEL.height


def draw_paid(paper: Paper, words: Phrases, paid: Paid, at: Pair, size: Pair) -> None:
    """Draw what will have been paid by year into a rectangle: repair whole, the other way dashed."""
    (x, y), (width, height) = at, size
    last, most = len(paid.lines[0]) - 1, max(float(line.max()) for line in paid.lines)
    top, foot = y + LABEL.height, y + height - LABEL.height - 0.6

    def across(year: float) -> float:
        return x + 3 + (width - 9) * year / last

    def along(amount: float) -> float:
        return foot - (foot - top) * amount / (1.12 * max(most, 1.0))

    paper.line((x, foot), (x + width, foot), MUTED, 0.25)
    if not math.isnan(paid.crossing):
        place, shown = across(paid.crossing), words.say("paid.same", years=words.years(paid.crossing))
        half = paper.breadth(shown, LABEL) / 2
        paper.line((place, y + LABEL.height), (place, foot), INK, 0.25, 0.7)
        paper.say(shown, (min(max(place, x + half), x + width - half), y), LABEL, "centre")
    looks = ((REPAIRING, 0.0), (OTHERWISE, 1.8))
    for line, (colour, dash) in zip(paid.lines, looks, strict=True):
        for year in range(last):
            start, end = ((across(at), along(float(line[at]))) for at in (year, year + 1))
            paper.line(start, end, colour, 0.7, dash)
    for year in paid.marked:
        amounts = [float(line[year]) for line in paid.lines]
        paper.say(words.say("paid.year", n=str(year)), (across(year), foot + 0.4), LABEL, "centre")
        for side, (amount, (colour, _)) in enumerate(zip(amounts, looks, strict=True)):
            above = amount > amounts[1 - side] or (amounts[0] == amounts[1] and side == 0)
            paper.mark((across(year), along(amount)), 4 * side, colour, 1.0)
            letters, shown = replace(AMOUNT, colour=colour), words.money(amount)
            half = paper.breadth(shown, letters) / 2
            lift = -letters.height - 0.9 if above else 0.9
            middle = min(max(across(year), x + half), x + width - half)
            paper.say(shown, (middle, along(amount) + lift), letters, "centre")
