"""Discounting, investment measures and lives: numbers in, numbers out; no appliance is known here.

All of `finance.finance` can be had from the package, as in `decide.finance.present_value`.
"""

from ..arrays import Floats as Floats
from ..arrays import Number as Number
from ..errors import CaseError as CaseError
from .discount import ROUNDING as ROUNDING
from .discount import checked as checked
from .finance import *  # noqa: F403
from .finance import FOR_GOOD as FOR_GOOD
from .finance import LEAST_LOAN_RATE as LEAST_LOAN_RATE
from .finance import LEAST_RATE as LEAST_RATE
from .finance import Truths as Truths
