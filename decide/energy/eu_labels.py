"""The European energy label: class letters, energy efficiency indices and yearly use, both ways.

A class is a range of an index; the index compares the unit's use with a standard use of its size:
EEI = 100 use/standard. So the class and the size give a range of uses, and the use and the size give the class. The
delegated regulations round the index to one decimal before they compare, and do not agree on who owns a bound: an
index of 32 is class B on a dishwasher and would be A by the others' rule. Both are kept in `ClassScale`.

Formulas read in the regulations are here; coefficients known less surely come from the label tables. Every number may
be a column with one entry a case on its leading axis. An input out of its bounds, NaN among them, raises `OutOfRange`.

References
----------
Delegated Regulations (EU) 2019/2014 (washing machines, washer-dryers), 2019/2016 (refrigerating appliances),
2019/2017 (dishwashers), 2023/2534 (tumble dryers); (EU) No 1059/2010, 1060/2010, 1061/2010, 392/2012 before them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from ..arrays import Floats, Number
from ..errors import CaseError
from .consumption import require_amount, require_positive, require_within, round_half_up

PERCENT: Final = 100.0
INDEX_DECIMALS: Final = 1
"""Every delegated regulation since 2010 rounds the index to one decimal."""

FRIDGE_COMBI: Final = 1.15
"""C of 2019/2016 Annex IV Table 4: a combi without three- or four-star compartment."""


@dataclass(frozen=True, kw_only=True)
class ClassScale:
    """Letters, best first, and the index where one class meets the next.

    `bound_in` says which of the two owns the bound itself. `full` is the index at which the use equals the standard:
    100 for a percentage, 1 for kWh per kilogram. `decimals` is how far the index is rounded (None: not at all).
    """

    letters: tuple[str, ...]
    bounds: tuple[float, ...]
    bound_in: Literal["better", "worse"]
    full: float = PERCENT
    decimals: int | None = INDEX_DECIMALS


@dataclass(frozen=True)
class Compartment:
    """One compartment of a refrigerating appliance: litres, and what 2019/2016 Annex IV Tables 4 and 5 say of it."""

    litres: Number
    temperature_factor: float
    base: float
    growth: float
    defrost_factor: float = 1.0
    built_in_factor: float = 1.0


def per_hundred_cycles_energy(kwh_per_hundred: Number, cycles: Number) -> Floats:
    """Yearly energy of what labels since 2021 print [kWh/100 cycle] at the cycles of a year, shape (...). [kWh/year]"""
    printed = require_amount("kwh_per_hundred", kwh_per_hundred, "kWh/100 cycle")
    return printed * require_amount("cycles", cycles, "cycle/year") / 100


def class_range(letter: str, scale: ClassScale) -> tuple[float, float]:
    """Indices, before rounding, that bear this letter: from the first, up to but without the second. [-]

    A rounded index reaches class C of a scale bounded by 51 only from 51.05 on, so the range is moved by half of the
    last decimal. The best class starts at 0, the worst ends at infinity. `CaseError`: no such letter on this scale.
    """
    if letter not in scale.letters:
        raise CaseError("class", "must be one of {known}, got {got}", ", ".join(scale.letters), letter)
    half = 0.0 if scale.decimals is None else 0.5 * 10.0**-scale.decimals
    edges = [0.0, *(b + half if scale.bound_in == "better" else b - half for b in scale.bounds), np.inf]
    at = scale.letters.index(letter)
    return edges[at], edges[at + 1]


def consumption_range(letter: str, scale: ClassScale, standard: Number) -> tuple[Floats, Floats]:
    """Least and most that a unit of this class can use, in the time that the standard use of its size covers. [kWh]

    The standard use is in kWh/year or kWh/cycle; for a scale in kWh/kg it is the rated load in kg; shape (...).
    """
    size = require_positive("standard", standard, "")
    low, high = class_range(letter, scale)
    return low / scale.full * size, high / scale.full * size


def fridge_combi_factor(frozen_share: Number) -> Floats:
    """Allowance C of a combi by the share of three- and four-star compartments in its volume, shape (...). [-]

    (EU) 2019/2016 Annex IV Table 4, note 2.
    """
    share = require_within("frozen_share", frozen_share, 0.0, 1.0, "")
    middle = 1.87 - 1.0275 * share
    return np.where(share <= 0.3, 1.3 + 0.87 * share, np.where(share < 0.7, middle, FRIDGE_COMBI))


def fridge_standard_energy(compartments: Sequence[Compartment], combi_factor: Number, door_factor: Number) -> Floats:
    """Standard yearly use of a refrigerating appliance of these compartments. [kWh/year]

    SAE = C D sum(A B V_c/V (N + V r M)), two decimals; volumes V_c to 0.1 litre, their sum V to the litre; C is the
    combi factor, D the door factor, shape (...). (EU) 2019/2016 Annex IV point 4(a).
    """
    litres = [round_half_up(require_amount("litres", part.litres, "litre"), 1) for part in compartments]
    total = require_positive("litres in all", round_half_up(sum(litres, np.zeros(())), 0), "litre")
    summed = np.zeros(())
    for part, volume in zip(compartments, litres, strict=True):
        whole = part.base + total * part.temperature_factor * part.growth
        summed = summed + part.defrost_factor * part.built_in_factor * volume / total * whole
    doors = require_within("door_factor", door_factor, 1.0, 2.0, "")
    return round_half_up(require_within("combi_factor", combi_factor, 1.0, 2.0, "") * doors * summed, 2)


def washer_standard_energy(capacity: Number) -> Floats:
    """Standard energy of a washing cycle: SCE = -0.0025 c^2 + 0.0846 c + 0.3920, three decimals. [kWh/cycle]

    c is the rated washing capacity [kg], shape (...). (EU) 2019/2014 Annex IV point 2.1(b).
    """
    load = require_within("capacity", capacity, 2.0, 16.0, "kg")
    return round_half_up(-0.0025 * load**2 + 0.0846 * load + 0.3920, 3)


def washer_dryer_standard_energy(capacity: Number) -> Floats:
    """Standard energy of a wash-and-dry cycle: SCE = -0.0502 d^2 + 1.1742 d - 0.644, three decimals. [kWh/cycle]

    d is the rated capacity of the wash-and-dry cycle [kg], shape (...). (EU) 2019/2014 Annex IV point 2.2(b).
    """
    load = require_within("capacity", capacity, 1.0, 11.0, "kg")
    return round_half_up(-0.0502 * load**2 + 1.1742 * load - 0.644, 3)


def dishwasher_standard_energy(place_settings: Number, width: Number) -> Floats:
    """Standard energy of an eco cycle, three decimals: 0.025 ps + 1.350, or 0.090 ps + 0.450 if small. [kWh/cycle]

    ps is the rated capacity [setting], the width in cm; small is under 10 settings or up to 50 cm; shape (...). (EU)
    2019/2017 Annex IV point 1(b).
    """
    settings = require_within("place_settings", place_settings, 1.0, 30.0, "setting")
    wide = (settings >= 10) & (require_within("width", width, 20.0, 100.0, "cm") > 50)
    return round_half_up(np.where(wide, 0.025 * settings + 1.350, 0.090 * settings + 0.450), 3)


def power_law_standard(capacity: Number, slope: Number, exponent: Number) -> Floats:
    """Standard yearly use that grows with a power of the load: SAE = a c^k, of the dryer label of 2013. [kWh/year]

    c is the rated capacity [kg], a in kWh/year; shape (...). (EU) No 392/2012 Annex VII point 1, dryers that are not
    air-vented.
    """
    load = require_positive("capacity", capacity, "kg")
    power = load ** require_within("exponent", exponent, 0.0, 1.0, "")
    return require_amount("slope", slope, "kWh/year") * power


def equivalent_volume(litres: Sequence[Number], thermodynamic: Sequence[Number]) -> Floats:
    """Volume of a refrigerating appliance on the labels of 2011 to 2021: each litre by how cold it is kept. [litre]

    V_eq = sum(V_c (25 - T_c)/20), to the litre, `thermodynamic` being (25 - T_c)/20; multiply a frozen compartment that
    is free of frost by 1.2 first. (EC) No 643/2009 Annex IV point 2; (EU) No 1060/2010 Annex VIII.
    """
    summed = np.zeros(())
    for volume, factor in zip(litres, thermodynamic, strict=True):
        summed = summed + require_amount("litres", volume, "litre") * require_amount("thermodynamic", factor, "")
    return round_half_up(summed, 0)
