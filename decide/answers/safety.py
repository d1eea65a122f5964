"""Which cautions a reader sees of a case, in which order, and which of them without a tap."""

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from ..load.tables.tables import DANGERS, Caution, danger_rank

IN_THE_OPEN: Final = 4
"""Cautions that stand in the open, stops among them; more are heeded less (Chen, Gilson, Mouloua 1997). [-]"""

ROOM: Final = 48  # Words in the open together before a cause is found; the closing line makes it 60. [word]


@dataclass(frozen=True, slots=True)
class Safety:
    """What to mind: now, while working, afterwards (`when`); in each the stops first, then the most dangerous."""

    listed: tuple[Caution, ...]
    in_the_open: tuple[Caution, ...]
    """Those that stand there without a tap, in the same order: all stops, and of the rest the most dangerous."""


def safety(
    cautions: Iterable[Caution],
    faults: Collection[str],
    reader: str | None = None,
    doing: str | None = None,
    sure: Sequence[str] | None = None,
    length: Callable[[Caution], int] = lambda _: 0,
) -> Safety:
    """Choose what a reader sees of the cautions of a case.

    In the open stand all stops and, as long as there are four at most, the first of each danger, gas before shock
    before fire, that of the fault before what holds for every unit; then the next of each. What is only good to know
    comes last, and one line belongs to the fault if any does. Beside a stop one line more stands, beside one of gas
    none. Before a cause is found only the first of `sure` has its stops there for certain; then come those of the
    others, then the rest, four lines and `ROOM` words in all.

    `cautions` are as `Tables.cautions` lists them, `faults` what is or may be wrong; `reader` is one of READERS or None
    for both, `doing` one of DOING or None where that is not decided. `sure` are faults whose stops count before anyone
    has found them, likeliest first; None where `faults` are found. `length` counts words.

    >>> from decide.load.tables.tables import tables
    >>> mind = safety(tables().cautions("refrigerator", "compressor", "US"), ["compressor"])
    >>> [caution.id for caution in mind.in_the_open]
    ['food_fridge', 'electric_disconnect', 'flammable_refrigerant', 'refrigerant_certified']
    """

    def is_own(caution: Caution) -> bool:
        return not set(faults).isdisjoint(caution.faults)

    def urgency(caution: Caution) -> tuple[bool, bool, int]:
        return caution.weight == "note", caution.danger == "money", DANGERS.index(caution.danger)

    mine = (c for c in cautions if c.reader in ("", reader or c.reader) and (doing is None or doing in c.doing))
    listed = tuple(sorted(mine, key=danger_rank))

    def stops_of(faults: Iterable[str]) -> list[Caution]:
        return [c for c in listed if c.weight == "stop" and not set(faults).isdisjoint(c.faults)]

    certain = stops_of(faults if sure is None else sure[:1])
    before = [c for c in listed if c.weight == "first" or c in certain]
    stops = [c for c in stops_of(sure or ()) if c not in before]
    urgent = sorted((c for c in listed if c.weight in ("act", "note")), key=lambda c: (*urgency(c), not is_own(c)))
    heads = {urgency(c): c for c in reversed(urgent) if is_own(c) or c.danger not in {b.danger for b in before}}
    urgent.sort(key=lambda c: any(urgency(c)[:2]) or heads.get(urgency(c)) is not c)
    most = IN_THE_OPEN if sure is not None or not certain else 2 - (certain[0].danger == "gas")
    lines = max(most - len(before), 0)
    if lines and not any(map(is_own, (*before, *stops, *urgent[:lines]))):
        urgent[lines - 1 : lines - 1] = [c for c in urgent if is_own(c)][:1]
    chosen, words = list(before), sum(map(length, before))
    for each in (*stops, *urgent):
        if len(chosen) < most and words + length(each) <= ROOM:
            chosen.append(each)
            words += length(each)
    return Safety(listed, tuple(c for c in listed if c in chosen))
