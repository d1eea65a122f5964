"""The shipped draws against Sobol points made again, and the counts that make them fair."""

import numpy as np
import pytest

from decide.economics.uncertainty import DRAWS, SEED, sobol_points
from decide.errors import CaseError
from decide.load.tables.draws import COLUMNS, LEVELS, points
from decide.load.tables.tables import data_dir


def test_the_shipped_draws_are_the_sobol_points_made_again() -> None:
    shipped = np.load(data_dir() / "draws.npy")
    made = (sobol_points(512, 64, 1) * 65536).astype(np.uint16)
    assert (DRAWS, COLUMNS, SEED, LEVELS) == (512, 64, 1, 65_536)
    assert shipped.dtype == made.dtype
    assert np.array_equal(shipped, made)


def test_each_coordinate_has_one_draw_in_each_of_as_many_equal_parts() -> None:
    """What makes Sobol points even: 2^m of them lie one in each interval of length 2^-m, in every coordinate."""
    drawn = points(COLUMNS - 1)
    assert drawn.shape == (DRAWS, COLUMNS)
    assert np.array_equal(np.sort(np.floor(drawn * DRAWS), axis=0), np.tile(np.arange(DRAWS), (COLUMNS, 1)).T)
    assert drawn.min() > 0
    assert drawn.max() < 1


def test_fewer_ranges_have_the_first_of_the_same_points() -> None:
    """So one range more or less does not move what the others are drawn at."""
    assert np.array_equal(points(3), points(20)[:, :4])


def test_other_draws_are_made_when_asked_for_and_more_ranges_than_shipped_too() -> None:
    assert np.array_equal(points(2, 128), sobol_points(128, 3, SEED))
    assert np.array_equal(points(2, DRAWS, 9), sobol_points(DRAWS, 3, 9))
    assert points(COLUMNS).shape == (DRAWS, COLUMNS + 1)
    with pytest.raises(CaseError, match="must be a power of two"):
        points(2, 500)
