"""The normal law and the gamma function are SciPy's to the last digits, wherever an answer may ask for them."""

import subprocess
import sys

import numpy as np
import pytest
import scipy.special
from conftest import ROOT

from decide.finance import special
from decide.finance.life import SHAPES

LEAST_SHARE, NEAR = 1e-12, 4e-15
RANGES = {
    "ndtr": np.linspace(-30, 30, 4_001),
    "ndtri": np.concatenate([np.geomspace(LEAST_SHARE, 0.5, 2_000), 1 - np.geomspace(LEAST_SHARE, 0.5, 2_000)]),
    "gamma": np.concatenate([1 + 1 / np.linspace(*SHAPES, 2_000), 1 / np.linspace(*SHAPES, 2_000)]),
    "exprel": np.concatenate(
        [np.linspace(-700, 700, 4_001), np.geomspace(1e-18, 1, 500), -np.geomspace(1e-18, 1, 500)]
    ),
}


@pytest.mark.parametrize("name", RANGES)
def test_a_function_is_that_of_scipy(name: str) -> None:
    found, expected = getattr(special, name)(RANGES[name]), getattr(scipy.special, name)(RANGES[name])
    # far out in the tail the exponent itself is known to so many digits alone
    within = NEAR * np.maximum(1, RANGES[name] ** 2) if name == "ndtr" else NEAR
    assert np.all(np.abs(found - expected) <= within * np.abs(expected) + NEAR * (name == "ndtri"))


def test_one_number_and_a_table_of_them_keep_their_shape() -> None:
    assert special.ndtr(0.0).shape == ()
    assert special.ndtri(np.full((2, 3), 0.5)).shape == (2, 3)


def test_an_answer_is_given_without_what_is_slow_to_load() -> None:
    script = """if True:
        import atexit, sys
        atexit.register(lambda: print(sorted({"scipy", "pandas"} & set(sys.modules)), file=sys.stderr))
        from decide.show.cli.main import app
        app(["weigh", "data/demo/refrigerator.toml", "--json"])
    """
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
