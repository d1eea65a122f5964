"""The shipped draws against Sobol points made again, and the counts that make them fair."""

import numpy as np
import pytest

from decide.economics.uncertainty import DRAWS, SEED, Range, columns_of, sobol_points
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


def test_one_range_more_moves_no_other() -> None:
    """Each input has a column of its own, whatever else is not known."""
    life, rate, age = (
        Range(paths=(path,), lows=(1.0,), values=(2.0,), highs=(3.0,), source="an example")
        for path in ("appliance.mean_life", "household.rate", "appliance.age")
    )
    few, more = columns_of((life, age), COLUMNS), columns_of((rate, age, life), COLUMNS)
    assert (few[0], few[1]) == (more[2], more[1])
    assert len(set(more)) == 3
    assert 0 not in more
    # two ranges of one input, and more ranges than inputs, have a column each
    twice = columns_of((life, life, rate), COLUMNS)
    assert len(set(twice)) == 3
    assert sorted(columns_of((life,) * (COLUMNS - 1), COLUMNS)) == list(range(1, COLUMNS))


def test_other_draws_are_made_when_asked_for_and_more_ranges_than_shipped_too() -> None:
    assert np.array_equal(points(2, 128), sobol_points(128, COLUMNS, SEED))
    assert np.array_equal(points(2, DRAWS, 9), sobol_points(DRAWS, COLUMNS, 9))
    assert points(COLUMNS).shape == (DRAWS, COLUMNS + 1)
    with pytest.raises(CaseError, match="must be a power of two"):
        points(2, 500)
