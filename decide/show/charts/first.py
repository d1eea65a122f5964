"""Drawings of our own as SVG: the quote ruler, what will have been paid by year, and the same of what-ifs.

Colours come from the style of the page, so that they follow its dark side; zones and lines differ by pattern, dash and
label too. Places along are shares of the width, so that letters keep their size on a phone and on a desk.
"""

import html
import math
from collections.abc import Iterator, Sequence
from typing import Final

from ...economics.case import REPAIR
from ..text.phrases import Phrases
from ..text.report import Gap, Paid
from ..text.ruler import Ruler, about, ruler_text

LETTER: Final = 0.023
"""Width of a letter as a share of the ruler on a phone. [-]"""
HATCH: Final = {
    "repair": "M-1,1 l2,-2 M0,6 l6,-6 M5,7 l2,-2",
    "call": "",
    "close": "M0,3 h6",
    "other": "M-1,5 l2,2 M0,0 l6,6 M5,-1 l2,2",
}
"""Pattern of each zone, drawn in a square of six pixels."""
SVG: Final = "http://www.w3.org/2000/svg"
PLOT: Final = 150
"""Height of the plot of what is paid. [pixel]"""


def ruler_svg(words: Phrases, ruler: Ruler) -> str:
    """Draw the ruler: a bar of zones, the limit as a tick, and the quote as a marker that a script moves."""
    alt = ruler_text(words, ruler)
    parts = [_patterns(), *_zones(words, ruler), *_amounts(words, ruler)]
    if ruler.usual:
        low, high = map(ruler.at, ruler.usual)
        parts.append(f'<rect class="usual" x="{_share(low)}" y="84" width="{_share(high - low)}" height="4"/>')
        parts.append(_text(words.say("ruler.usual"), (low + high) / 2, 103, "small"))
    if ruler.limit > 0:
        limit = _share(ruler.at(ruler.limit))
        parts.append(f'<svg x="{limit}" y="0" overflow="visible"><path class="limit" d="M-5,67 h10 l-5,-7 z"/></svg>')
    hidden = "" if math.isfinite(ruler.quote) else ' visibility="hidden"'
    quote = 0.0 if hidden else ruler.quote
    at, shown = ruler.at(quote), words.price(quote)
    parts.append(
        f'<svg class="marker" x="{_share(at)}" y="0" overflow="visible"{hidden}>'
        f'<path d="M-8,16 h16 l-8,14 z"/>'
        f'<text x="0" y="12" text-anchor="{_anchor(at)}">{html.escape(shown)}</text></svg>'
    )
    look = f'class="ruler" data-last="{ruler.last:g}"'
    return _drawing(look, alt, 108 if ruler.usual else 84, parts)


def _drawing(look: str, alt: str, height: int, parts: list[str]) -> str:
    role = f'role="img" aria-label="{html.escape(alt)}"'
    return f'<svg xmlns="{SVG}" {look} {role} width="100%" height="{height}">{"".join(parts)}</svg>'


def _patterns() -> str:
    made = (
        f'<pattern id="zone-{name}" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" '
        f'class="zone-{name}"/><path d="{path}" class="hatch-{name}"/></pattern>'
        for name, path in HATCH.items()
    )
    return f"<defs>{''.join(made)}</defs>"


def _zones(words: Phrases, ruler: Ruler) -> Iterator[str]:
    for name, start, end in ruler.zones:
        look = name if name in HATCH else "other"
        yield f'<rect x="{_share(start)}" y="30" width="{_share(end - start)}" height="30" fill="url(#zone-{look})"/>'
    for name, start, end in ruler.named:
        shown = words.say(f"ruler.{name}")
        if end - start > LETTER * (len(shown) + 1):
            yield _text(shown, (start + end) / 2, 50, f"name {name if name in HATCH else 'other'}")


def _amounts(words: Phrases, ruler: Ruler) -> Iterator[str]:
    """Amounts below the bar: the ends of your call first, then both ends of the scale where there is room."""
    wanted = [ruler.clear_repair, ruler.clear_other] if not ruler.certain else [ruler.limit]
    taken: list[tuple[float, float]] = []
    for amount in (*wanted, ruler.last, 0.0):
        at, shown = ruler.at(amount), words.money(about(amount, ruler.certain))
        wide = LETTER * (len(shown) + 1)
        place = min(at + wide / 2, 1.0) if _anchor(at) == "end" else at  # as near above its middle as there is room
        left = place - {"start": 0.0, "middle": wide / 2, "end": wide}[_anchor(place)]
        inside = 0 <= amount <= ruler.last and (amount not in wanted or 0 < at < 1)
        if inside and all(left >= end or left + wide <= start for start, end in taken):
            taken.append((left, left + wide))
            yield _text(shown, place, 78, "")


def _share(at: float) -> str:
    return f"{100 * at:.2f}%"


def _anchor(at: float) -> str:
    return "start" if at < 0.08 else "end" if at > 0.92 else "middle"


def _text(text: str, at: float, y: float, kind: str) -> str:
    return f'<text class="{kind}" x="{_share(at)}" y="{y:g}" text-anchor="{_anchor(at)}">{html.escape(text)}</text>'


def paid_svg(words: Phrases, paid: Paid, alt: str) -> str:
    """Draw what will have been paid by year: a whole line for repair, a dashed one for the other way."""
    last, most = len(paid.lines[0]) - 1, max(float(line.max()) for line in paid.lines)

    def x(year: float) -> float:
        return 0.03 + 0.94 * year / last

    def y(amount: float) -> float:
        return 22 + PLOT * (1 - amount / (1.12 * max(most, 1.0)))

    parts = [f'<rect class="axis" width="100%" height="1" y="{22 + PLOT}"/>']
    if not math.isnan(paid.crossing):
        upright = f'<path class="crossing" d="M0,18 v{PLOT + 4}"/>'
        parts.append(f'<svg x="{_share(x(paid.crossing))}" y="0" overflow="visible">{upright}</svg>')
        parts.append(_text(words.say("paid.same", years=words.years(paid.crossing)), x(paid.crossing), 12, "small"))
    for kind, line in zip((REPAIR, "other"), paid.lines, strict=True):
        points = " ".join(f"{100 * x(year):.2f},{y(float(amount)):.1f}" for year, amount in enumerate(line))
        parts.append(
            f'<svg width="100%" height="{PLOT + 22}" viewBox="0 0 100 {PLOT + 22}" preserveAspectRatio="none">'
            f'<polyline class="line {kind}" points="{points}"/></svg>'
        )
    for year in paid.marked:
        amounts = [float(line[year]) for line in paid.lines]
        parts.append(_text(words.say("paid.year", n=str(year)), x(year), PLOT + 38, "small"))
        for kind, amount, rival in zip((REPAIR, "other"), amounts, reversed(amounts), strict=True):
            above = amount > rival or (amount == rival and kind == REPAIR)
            at, height = f'x="{_share(x(year))}" y="{y(amount):.1f}"', y(amount) + (-9 if above else 18)
            shape = '<circle r="4.5"/>' if kind == REPAIR else '<rect x="-4" y="-4" width="8" height="8"/>'
            parts.append(f'<svg class="dot {kind}" {at} overflow="visible">{shape}</svg>')
            parts.append(_text(words.money(amount), x(year), height, f"amount {kind}"))
    return _drawing('class="paid"', alt, PLOT + 44, parts)


DASHES: Final = ("", "8 5", "2 4", "10 4 2 4", "4 2", "14 5")
"""Of the lines of what-ifs, in their order."""


def gaps_svg(words: Phrases, gaps: Sequence[Gap], alt: str) -> str:
    """Draw what repairing has cost more by year, a numbered line for each what-if, over a line where it is nothing."""
    last = max(len(gap.line) for gap in gaps) - 1
    low, high = (end(float(end(gap.line)) for gap in gaps) for end in (min, max))
    low, span = min(low, 0.0), max(high, 0.0) - min(low, 0.0) or 1.0

    def y(amount: float) -> float:
        return 16 + PLOT * (1 - (amount - low) / span)

    parts = [f'<rect class="axis" width="100%" height="1" y="{y(0.0):.1f}"/>']
    for at, gap in enumerate(gaps):
        points = " ".join(f"{94 * year / last:.2f},{y(float(each)):.1f}" for year, each in enumerate(gap.line))
        dash = DASHES[at % len(DASHES)]
        parts.append(
            f'<svg width="100%" height="{PLOT + 20}" viewBox="0 0 100 {PLOT + 20}" preserveAspectRatio="none">'
            f'<polyline class="line gap" stroke-dasharray="{dash}" points="{points}"/></svg>'
        )
    below = 0.0
    for at in sorted(range(len(gaps)), key=lambda each: -float(gaps[each].line[-1])):
        line = gaps[at].line
        below = max(below + 14, y(float(line[-1])) + 4)
        parts.append(_text(str(at + 1), 0.94 * (len(line) - 1) / last + 0.02, below, "amount"))
    for amount in (max(high, 0.0), low):
        parts.append(_text(words.money(amount), 0.0, y(amount) + (-4 if amount > 0 else 14), "small"))
    parts += [_text(words.say("paid.year", n=str(year)), 0.94 * year / last, PLOT + 38, "small") for year in (5, last)]
    return _drawing('class="paid"', alt, PLOT + 44, parts)
