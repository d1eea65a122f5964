"""Cash of one option by itself, each unit put on a grid of its own."""

from decide.economics.case import Case, Option
from decide.economics.cash_flow import MONTHS, Cash, Study
from decide.economics.flows import PriceList


def cash(
    case: Case,
    option: Option,
    successor: Option,
    prices: PriceList,
    years: float,
    with_what_is_left: bool,
    cells_a_year: float = MONTHS,
) -> Cash:
    """Expected cash of an option over so many years."""
    return Study(case, prices, years, cells_a_year).cash(option, successor, with_what_is_left)
