"""Laws of life, by the path that `decide.life.Weibull` has always had; they stand in `decide.finance.life`."""

from .finance.life import *  # noqa: F403
