"""Callbacks by renewal."""

import numpy as np

from decide.arrays import Floats, Number, unwrap
from decide.errors import OutOfRange, require
from decide.shop.warranty import LONGEST, Law


def callbacks_renewing(law: Law, length: float) -> Number:
    """Expected callbacks when every redone fix gets the full warranty anew, F / (1 - F). [-]

    Parameters
    ----------
    law : chance that a fix has come back by a time [-]
    length : of the warranty [day]

    Raises
    ------
    OutOfRange
        A length out of bounds, or every fix comes back within the length, so that there is no end to it.

    Examples
    --------
    >>> from decide.shop.warranty import EarlyFailure
    >>> round(float(callbacks_renewing(EarlyFailure(0.9, 30.0), 15.0)), 4)
    0.0526
    """
    require("warranty", length, 0, LONGEST, "day")
    back = law(np.array([length]))[..., 0]
    if not np.all(back < 1):
        raise OutOfRange("callback law", 0, 1 - 1e-12, "at the end of a renewing warranty", float(np.max(back)))
    return unwrap(np.asarray(back / (1 - back)))


def never(days: Floats) -> Floats:
    """Law of fixes that all hold."""
    return np.zeros(np.shape(days))
