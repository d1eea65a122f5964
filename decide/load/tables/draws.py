"""The points at which what is not known is drawn: shipped, since making them takes longer than an answer."""

import functools
from typing import Final

import numpy as np

from ...arrays import Floats
from ...economics.decision import Sureness
from ...economics.uncertainty import DRAWS, SEED, sobol_points
from .tables import Tables, data_dir

COLUMNS: Final = 64
LEVELS: Final = 65_536  # Values that a shipped coordinate may have.


def points(ranges: int, draws: int = DRAWS, seed: int = SEED) -> Floats:
    """Points in the unit cube for so many ranges and the doubt about the model, shape (draws, more columns). [-]

    The usual ones come from draws.npy, sixteen bits a coordinate; any others are made.

    Raises `CaseError`: the number of draws is no power of two.
    """
    if draws == DRAWS and seed == SEED and ranges < COLUMNS:
        return _shipped()
    return sobol_points(draws, max(COLUMNS, ranges + 1), seed)


@functools.cache
def _shipped() -> Floats:
    return (np.load(data_dir() / "draws.npy") + 0.5) / LEVELS


def sureness(reference: Tables, place: str) -> Sureness:
    """When a verdict is clear or leaning, and how far the model is doubted."""
    names = {"clear": "clear_share", "leaning": "leaning_share", "doubt": "model_doubt"}
    return Sureness(**{name: reference.usual(figure, place).value for name, figure in names.items()})
