"""Who owns the appliance: the household, what energy costs there, and how a landlord is taxed."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..arrays import Number
from .bounds import MONEY, number

NATURAL_GAS: Final = "natural gas"
PROPANE: Final = "propane"
GASES: Final = (NATURAL_GAS, PROPANE)  # What gas appliances burn, the first unless said.


@dataclass(frozen=True)
class PriceSteps:
    """How the price of a yearly flow moves with its size: `level` times the price, up to each bound.

    From a tariff with blocks or time bands, as the difference that the flow makes to the bills. Beyond the last bound
    the last level holds. `upto` in the flow's own unit a year.
    """

    upto: tuple[float, ...] = (math.inf,)
    level: tuple[float, ...] = (1.0,)

    def priced(self, flow: Number) -> Number:
        """The flow, each part of it weighed by its level; at the household's price it costs what the bills say.

        >>> float(PriceSteps(upto=(100.0, 200.0), level=(0.5, 2.0)).priced(150.0))
        150.0
        """
        ends = (*self.upto[:-1], math.inf)
        begins = (0.0, *self.upto[:-1])
        parts = (np.clip(flow, a, b) - a for a, b in zip(begins, ends, strict=True))
        return sum(level * part for level, part in zip(self.level, parts, strict=True))


FLAT: Final = PriceSteps()  # One price for all of it.


@dataclass(frozen=True, kw_only=True)
class Landlord:
    """How a rented-out home is taxed: costs are deducted as they are paid, a purchase over the years of a schedule."""

    tax_rate: Number = number(
        "share",
        0,
        0.6,
        doc="On the next unit of income. Repairs are deducted at once, a purchase over the years of a schedule.",
    )
    pays_energy: Number = number("share", 0, 1, doc="0% where tenants pay all; then what a new unit saves is theirs.")
    depreciation: tuple[float, ...]
    """Share of a purchase that is deducted in each tax year, the year of the purchase first."""


@dataclass(frozen=True, kw_only=True)
class Household:
    """Who pays, for how long the appliance is needed, and what energy and waiting cost there.

    Parameters
    ----------
    region, place, currency : str
        `US` or `EU`; the state or country; the code of its money.
    gas_kind : str, optional
        One of `GASES`.
    rate, study_period, ... : float or ndarray, shape (...)
        Each input with its unit, bounds and meaning below; `study_period` is one number for all cases. [as declared]
    electricity_steps, gas_steps, water_steps : PriceSteps, optional
        How a tariff's price moves with use.
    landlord : Landlord, optional
        None for a household that lives there: nothing is deducted, and all bills are its own.

    Examples
    --------
    >>> from decide.load.cases.case_file import complete
    >>> known = {"appliance": {"class": "clothes_washer", "age": 8}, "household": {"place": "DE"}}
    >>> home = complete(known).case.household
    >>> home.region, home.currency, home.study_period
    ('EU', 'EUR', inf)
    """

    region: str
    place: str
    currency: str
    gas_kind: str = NATURAL_GAS
    rate: Number = number(
        "1/year", 0, 0.5, doc="What a safe saving would earn, less inflation; or what your debt costs, less inflation."
    )
    leaving_rate: Number = number(
        "1/year", 0, 0.5, 0, doc="Chance in a year that you move out and leave it behind, where no date is known."
    )
    study_period: float = number(
        "year", 0.5, math.inf, math.inf, doc="Until you move out or no longer need one. Leave empty for no end."
    )
    residual_share: Number = number(
        "share", 0, 1, 0, doc="100% counts what is left of the last unit at your last year pro rata; 0% nothing."
    )
    resale_share: Number = number(
        "share", 0, 1, 0, doc="What a used unit sells for, over the price of a new one times the share of years left."
    )
    electricity_price: Number = number("money/kWh", 0, 5, doc="What one more kWh costs you, without fixed charges.")
    gas_price: Number = number("money/kWh", 0, 5, doc="What one more unit costs without fixed charges. Files keep kWh.")
    water_price: Number = number("money/m3", 0, 100, doc="What more costs, with waste water. Files keep cubic metres.")
    electricity_escalation: Number = number("1/year", -0.1, 0.2, doc="0% means it rises with all other prices.")
    gas_escalation: Number = number("1/year", -0.1, 0.2, doc="0% means it rises with all other prices.")
    water_escalation: Number = number("1/year", -0.1, 0.2, doc="0% means it rises with all other prices.")
    price_escalation: Number = number("1/year", -0.1, 0.2, doc="0% means they rise with all other prices.")
    inflation: Number = number("1/year", -0.05, 0.5, doc="Used for loans, whose payments stay the same.")
    electricity_steps: PriceSteps = FLAT
    gas_steps: PriceSteps = FLAT
    water_steps: PriceSteps = FLAT
    most_today: Number = number(
        MONEY, 0, math.inf, math.inf, doc="The most that you can pay today. Leave empty where that is no matter."
    )
    day_cost: Number = number("money/day", 0, 1_000, 0, doc="Launderette, meals out, ice: what a day without takes.")
    landlord: Landlord | None = None

    @property
    def discount_force(self) -> Number:
        """What a later amount counts less a year, continuously: interest, and a need that may have ended. [1/year]"""
        return np.log1p(self.rate) + self.leaving_rate
