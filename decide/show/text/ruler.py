"""The quote ruler: on one scale from nothing to the price of a new one, which quotes say repair or replace.

It is the sign of the program on every surface: drawn by `charts.first` and `pdf.paper_charts`, and told here.
"""

import math
from dataclasses import dataclass
from typing import Final

from ...answers.answer import Answer
from ...economics.case import REPAIR, REPLACE
from ...economics.weigh import OptionCost
from .phrases import Phrases

BEYOND: Final = 1.08
"""Room left at the right of the last mark. [-]"""
FARTHEST: Final = 2.5
"""A quote is shown at its place up to so many times the price of a new one, and at the end above that. [-]"""
CERTAIN: Final = 0.01
"""Zones narrower than this share of the scale are no doubt that could be seen. [-]"""


@dataclass(frozen=True, kw_only=True)
class Ruler:
    """Where each zone of quotes ends, from the left. [money]"""

    last: float
    """End of the scale."""
    clear_repair: float
    """Up to it repairing is clear; from there to `clear_other` it is your call."""
    leaning_repair: float
    """From it to `leaning_other` the call is close."""
    limit: float
    leaning_other: float
    clear_other: float
    """From it on the other act is clear; the end of the scale where it never is."""
    other: str = REPLACE
    """What that is."""
    quote: float = math.nan
    usual: tuple[float, float] | None = None
    """Between what such a bill usually lies, where nobody has quoted yet."""

    def at(self, amount: float) -> float:
        """Place of an amount on the scale, from 0 to 1."""
        return min(max(amount / self.last, 0.0), 1.0)

    @property
    def zones(self) -> tuple[tuple[str, float, float], ...]:
        """The zones that can be seen, each with its begin and end from 0 to 1."""
        ends = (0.0, *map(self.at, (self.clear_repair, self.leaning_repair, self.leaning_other, self.clear_other)), 1.0)
        names = (REPAIR, "call", "close", "call", self.other)
        zones = zip(names, ends[:-1], ends[1:], strict=True)
        return tuple((name, start, end) for name, start, end in zones if end - start > 1e-9)

    @property
    def named(self) -> list[tuple[str, float, float]]:
        """The zones as they are named: your call is one, with the close call in it."""
        calls = [zone for zone in self.zones if zone[0] in ("call", "close")]
        others = [zone for zone in self.zones if zone not in calls]
        return [*others, ("call", calls[0][1], calls[-1][2])] if calls else others

    @property
    def certain(self) -> bool:
        """Whether there is no doubt to be seen."""
        return self.at(self.clear_other) - self.at(self.clear_repair) < CERTAIN


def rival_of(answer: Answer) -> OptionCost[float]:
    """What a repair is up against: the cheapest other way that no caution refuses."""
    others = (cost for cost in answer.weighing.options if cost.action != REPAIR and not cost.blocked_by)
    return min(others, key=lambda cost: (cost.left_out, cost.present_cost))


def ruler_of(answer: Answer) -> Ruler | None:
    """The ruler of an answer; none where a repair is refused, or is all that can be paid."""
    limit, quote = answer.weighing.repair_limit, answer.weighing.quoted
    if math.isnan(limit) or answer.all_that_can_be_paid:
        return None
    zones, options = answer.decision.zones, answer.case.options
    new = max(min(answer.bill(option) for option in options if option.action == REPLACE), limit, 1.0)
    end = max(new, BEYOND * zones.clear_other if zones.clear_other <= FARTHEST * new else 0.0)
    last = max(end, BEYOND * min(quote, FARTHEST * end)) if quote > end / BEYOND else end
    usual = answer.remarks.usual if answer.remarks and answer.undecided else None
    return Ruler(
        last=last,
        clear_repair=zones.clear_repair,
        leaning_repair=zones.leaning_repair,
        limit=limit,
        leaning_other=min(zones.leaning_other, last),
        clear_other=min(zones.clear_other, last),
        other=rival_of(answer).action,
        quote=quote,
        usual=(usual.low, usual.high) if usual else None,
    )


def about(amount: float, fine: bool = False) -> float:
    """An amount no finer than it is known: in fives below 100, in tens below 1,000, in fifties above. [money]"""
    step = 5.0 if abs(amount) < 100 else 10.0 if abs(amount) < 1_000 else 50.0
    return amount if fine else step * round(amount / step)


def ruler_text(words: Phrases, ruler: Ruler) -> str:
    """Say in a sentence a zone what the ruler shows."""

    def money(amount: float) -> str:
        return words.money(about(amount, ruler.certain))

    other = words.say(f"ruler.{ruler.other}")
    low, high, ends = money(ruler.clear_repair), money(ruler.clear_other), ruler.at(ruler.clear_other) < 1
    sentences = []
    if ruler.certain and ruler.limit > 0:
        sentences = [words.say("ruler.repair_to", low=money(ruler.limit)), words.say("ruler.above", act=other)]
    elif ruler.clear_other <= 0:
        sentences = [words.say("ruler.never", act=other)]
    else:
        if ruler.clear_repair > 0:
            sentences.append(words.say("ruler.repair_to", low=low))
            sentences.append(words.say("ruler.between", low=low, high=high) if ends else words.say("ruler.call_above"))
        else:
            sentences.append(words.say("ruler.call_to", high=high) if ends else words.say("ruler.any"))
        if ends:
            sentences.append(words.say("ruler.above", act=other))
    if math.isfinite(ruler.quote):
        sentences.append(words.say("ruler.quoted", quote=words.price(ruler.quote)))
    return " ".join(sentences)


SIGNS: Final = {REPAIR: "=", "call": ".", "close": ":"}
OTHER_SIGN: Final = "/"


def ruler_lines(ruler: Ruler, width: int = 60) -> list[str]:
    """The ruler in characters that every terminal has: `=` repair, `.` your call, `:` close, `/` the other act."""
    bar = [
        next(SIGNS.get(name, OTHER_SIGN) for name, _, end in ruler.zones if (cell + 0.5) / width <= end + 1e-9)
        for cell in range(width)
    ]
    if 0 <= ruler.limit <= ruler.last:
        bar[min(int(ruler.at(ruler.limit) * width), width - 1)] = "|"
    marker = [" " * min(int(ruler.at(ruler.quote) * width), width - 1) + "v"] if math.isfinite(ruler.quote) else []
    return [*marker, "".join(bar)]
