"""The two kinds of number that flow through the house.

A *column* is a one-dimensional array with one entry a case: ten thousand draws, or the rows of a job book.
Every numeric input may be one number or a column, and the same function serves both.
"""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Number: TypeAlias = float | Floats
