r"""How much of a book could be read, and whether the unread part is like the rest.

The read rows differ from the whole book by

.. math:: shift = \tfrac12 \sum_c \left|\frac{read_c}{read} - \frac{rows_c}{rows}\right|

over the categories of a class, a month, a decision, an outcome, a size of quote, a technician or a postcode: no share
of jobs with such a trait can be wrong by more. It counts where chi-squared says that it is no chance.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, fields
from typing import Final, Self

import numpy as np
from scipy.special import chdtrc

from ...shop.jobs import OPEN
from ..tables.tables import Tables

TRAITS: Final = ("class", "month", "decision", "outcome", "size", "technician", "postcode")

CHANCE: Final = 0.01
"""Chance of so large a difference below which it is none. [-]"""

FEW: Final = 5
"""A category of fewer rows is left out."""

HOLDING: Final = ("decision", "outcome")
"""Traits on which policies and figures rest, so that reading must not depend on them."""

SHARE: Final = "share"


@dataclass(frozen=True, kw_only=True)
class OpenCell:
    """What stands in cells that keep rows unread, or a fault untold."""

    role: str
    reason: str
    text: str


@dataclass(frozen=True, kw_only=True)
class Coverage:
    """Counts of rows; those of parts of a book add up."""

    rows: int = 0
    read: int = 0
    """Rows that were understood: jobs, and rows that belong to a job."""
    folded: Counter[str] = field(default_factory=Counter)
    """Rows that are no jobs of their own: `line`, `duplicate`, `refund`."""
    open: Counter[OpenCell] = field(default_factory=Counter)
    """Rows that could be read if only this were told."""
    mix: Counter[tuple[str, str, bool]] = field(default_factory=Counter)
    """Rows by trait, category and whether they were read."""

    def __add__(self, other: "Coverage") -> Self:
        return type(self)(**{each.name: getattr(self, each.name) + getattr(other, each.name) for each in fields(self)})

    @property
    def share(self) -> float:
        """Share of the jobs that was read, without their further lines; 1 of an empty book. [-]"""
        further = self.folded.total()
        return (self.read - further) / (self.rows - further) if self.rows > further else 1.0

    def without(self, traits: Iterable[tuple[str, str]]) -> Self:
        """The same where some rows turned out to be no case after all, each by its class."""
        mix, lost = Counter(self.mix), Counter(traits)
        for (trait, category), n in lost.items():
            mix[trait, category, True] -= n
            mix[trait, category, False] += n
        return type(self)(rows=self.rows, read=self.read - lost.total(), folded=self.folded, open=self.open, mix=mix)

    def by(self, trait: str) -> dict[str, tuple[int, int]]:
        """Rows and read rows of each category of a trait."""
        found: dict[str, tuple[int, int]] = {}
        for (of, category, read), n in self.mix.items():
            if of == trait:
                rows, those_read = found.get(category, (0, 0))
                found[category] = rows + n, those_read + n * read
        return found

    def shift(self, trait: str) -> float:
        """By how much the mix of the read rows differs from that of all; 0 where that may be chance. [-]"""
        skipped = (OPEN,) if trait == "decision" else ()  # an open quote has no answer yet
        counts = [pair for name, pair in self.by(trait).items() if pair[0] >= FEW and name not in skipped]
        rows, read = np.array(counts, dtype=float).reshape(-1, 2).T
        if len(rows) < 2 or not 0 < read.sum() < rows.sum():
            return 0.0
        expected = rows * read.sum() / rows.sum()
        squares = (read - expected) ** 2 / expected + (read - expected) ** 2 / (rows - expected)
        likely = float(chdtrc(len(rows) - 1, squares.sum()))
        return 0.0 if likely > CHANCE else float(np.abs(read / read.sum() - rows / rows.sum()).sum() / 2)

    def differs(self, most: float) -> dict[str, float]:
        """Traits in which the read rows differ from all by more than a share, the most first."""
        found = {trait: self.shift(trait) for trait in TRAITS}
        return {trait: found[trait] for trait in sorted(found, key=lambda each: -found[each]) if found[trait] > most}

    def held_back(self, reference: Tables, place: str) -> str:
        """Why nothing is to be concluded from the book: `share`, or the trait that reading depends on; '' else."""
        if self.share < reference.usual("least_read_share", place).value:
            return SHARE
        most = reference.usual("most_mix_shift", place).value
        return next((trait for trait in self.differs(most) if trait in HOLDING), "")

    def helps(self) -> tuple[OpenCell, int] | None:
        """What would win most rows: one word where a word does, else all cells of one column for one reason."""
        by_reason: Counter[OpenCell] = Counter()
        for cell, n in self.open.items():
            if cell.role != "fault":
                by_reason[OpenCell(role=cell.role, reason=cell.reason, text="")] += n
        if not by_reason:
            return None
        most, rows = by_reason.most_common(1)[0]
        word = next(
            ((cell, n) for cell, n in self.open.most_common() if (cell.role, cell.reason) == (most.role, most.reason)),
            (most, 0),
        )
        return word if 2 * word[1] >= rows else (most, rows)
