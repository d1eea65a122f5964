"""Laws of life, by the path that `decide.life.Weibull` has always had; they stand in `decide.finance.life`."""

from .finance.life import (
    AT_ONCE,
    BRIEFEST,
    FOR_EVER,
    REACH,
    SHAPES,
    TRICOMI,
    Exposure,
    FromHazard,
    Life,
    Weibull,
)

__all__ = [
    "AT_ONCE", "BRIEFEST", "FOR_EVER", "REACH", "SHAPES", "TRICOMI", "Exposure", "FromHazard", "Life", "Weibull",
]  # fmt: skip
