"""Break-even of one input at a time, by name."""

from decide.arrays import Number
from decide.economics.breakeven import STUDY_PERIOD, BreakevenValues, breakeven_values
from decide.economics.case import REPLACE, Case
from decide.economics.weigh import weigh


def highest_quote(case: Case) -> Number:
    """The highest quote worth paying: the repair limit. Columns give columns. [money]"""
    return weigh(case).repair_limit


def age_limit(case: Case) -> BreakevenValues:
    """The age at which this quote stops being worth it. [year]"""
    return breakeven_values(case, "appliance.age")


def electricity_price_to_replace(case: Case) -> BreakevenValues:
    """The electricity price at which replacing wins. [money/kWh]"""
    return breakeven_values(case, "household.electricity_price")


def new_price_to_replace(case: Case, replacement: str = REPLACE) -> BreakevenValues:
    """The price of the new unit at which buying it wins; `replace.2` asks it of the second one. [money]"""
    return breakeven_values(case, f"{replacement}.price")


def years_to_stay(case: Case) -> BreakevenValues:
    """How many years one must stay for the other choice to win, as a study period. [year]"""
    return breakeven_values(case, STUDY_PERIOD)
