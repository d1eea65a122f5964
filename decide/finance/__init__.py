"""Discounting, investment measures and lives: numbers in, numbers out; no appliance is known here.

All of `finance.discount` and `finance.finance` can be had from the package, as in `decide.finance.present_value`.
"""

from .discount import *  # noqa: F403
from .finance import *  # noqa: F403
