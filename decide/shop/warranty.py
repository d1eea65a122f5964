r"""What a free-repair warranty on a repair costs the shop, and what it is worth to the customer.

**Law of callbacks.** A fix that does not hold comes back after a time with the distribution F; F may stay below 1, for
most fixes hold. The redone fix is like the first, so it can come back too. Over a warranty of length w the expected
number of callbacks M solves the renewal equation

.. math:: M(w) = F(w) + \int_0^w M(w - t)\, dF(t)

It is solved, not cut off after some redoing: each step of time is taken at its middle (Riemann-Stieltjes sums), which
is of second order. Time here is in days, as warranties on repairs are. Interest over so short a time is left out.

Sources: Blischke & Murthy, Warranty Cost Analysis (1994), free replacement warranty (from memory). The scheme is that
of Xie, On the solution of renewal-type integral equations, Communications in Statistics - Simulation and Computation
18 (1989) 281-293 (from memory).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from ..arrays import Floats, Number, unwrap, with_time_axis
from ..errors import require

Law: TypeAlias = Callable[[Floats], Floats]
"""Chance that a fix has come back by a time, F: from days, shape (K,), to shape (..., K)."""

STEPS: int = 400
"""Steps over the length of a warranty."""

LONGEST: float = 3_650.0
"""[day]"""


@dataclass(frozen=True)
class EarlyFailure:
    """Fixes that do not hold show within a window, at any time of it alike; all others hold for good.

    That is what a case takes too (`flows.callback_probability`). `repair_success_probability` is the share that holds
    [-], `window` in days.
    """

    repair_success_probability: Number
    window: Number

    def __post_init__(self) -> None:
        require("repair_success_probability", self.repair_success_probability, 0.05, 1, "")
        require("callback_window", self.window, 1, 365, "day")

    def __call__(self, days: Floats) -> Floats:
        """Chance that the fix has come back by then. [-]"""
        return (1 - with_time_axis(self.repair_success_probability)) * np.clip(
            days / with_time_axis(self.window), 0.0, 1.0
        )


def callbacks_by(law: Law, length: float, steps: int = STEPS) -> Floats:
    """Expected callbacks by the end of each of so many equal steps of a warranty, redone fixes counted.

    `law` is the chance that a fix has come back by a time, `length` that of the warranty from the first repair [day].
    Gives 0 and then one entry a step, shape (..., steps + 1) [-]. A length outside 0 to 3,650 days, or a law that
    leaves the interval from 0 to 1, raises `OutOfRange`.
    """
    require("warranty", length, 0, LONGEST, "day")
    step = length / steps
    times = np.linspace(0.0, length, steps + 1)
    ends, middles = law(times[1:]), law(times[1:] - step / 2)
    require("callback law", ends, 0, 1, "")
    found = np.zeros((*ends.shape[:-1], steps + 1))
    gained = np.zeros_like(ends)
    first = middles[..., 0]
    for i in range(steps):
        redone = np.sum(gained[..., :i] * middles[..., i:0:-1], axis=-1)
        found[..., i + 1] = (ends[..., i] + redone - first * found[..., i]) / (1 - first)
        gained[..., i] = found[..., i + 1] - found[..., i]
    return found


def callbacks(law: Law, length: float) -> Number:
    """Expected callbacks over a warranty from the first repair on, M; else as `callbacks_by`. [-]"""
    return unwrap(callbacks_by(law, length)[..., -1])


@dataclass(frozen=True, kw_only=True)
class WarrantyWorth:
    """What a warranty does to both sides. Shape (...)."""

    repairs: Number
    """Free repairs to expect. [-]"""
    cost: Number
    """What they cost the shop, and so the addition to the lines of the quote that leaves it as well off. [money]"""
    addition: Number
    """The same on the quote as the customer sees it, tax included. [money]"""
    gain: Number
    """What the customer is spared. [money]"""


def worth_of(
    repairs: Number, redo_cost: Number, quote: Number, limit: Number = math.inf, tax_rate: Number = 0.0
) -> WarrantyWorth:
    """Price a free-repair warranty by the repairs to expect under it. Amounts of shape (...). [money]

    `redo_cost` is what a repair costs the shop, `quote` what the customer would pay for it, `tax_rate` [-] that on what
    is added to the quote. A customer without a warranty pays for the repair anew, if it is worth it: what is spared
    each time is the lesser of quote and repair limit. An amount or number below 0, or a rate outside 0 to 0.5, raises
    `OutOfRange`.
    """
    require("repairs", repairs, 0, math.inf, "")
    require("redo_cost", redo_cost, 0, math.inf, "money")
    require("quote", quote, 0, math.inf, "money")
    require("tax_rate", tax_rate, 0, 0.5, "")
    spared = np.clip(limit, 0.0, quote)
    cost = repairs * redo_cost
    return WarrantyWorth(
        repairs=repairs, cost=cost, addition=cost * (1 + tax_rate), gain=unwrap(np.asarray(repairs * spared))
    )
