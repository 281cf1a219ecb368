"""How far two numbers for the same thing lie apart."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Float = npt.NDArray[np.float64]


def relative_percent_difference(first: Float, second: Float) -> Float:
    """Return 100 |a - b| / ((a + b) / 2), per cent; nan where the mean is not above nought.

    Notes
    -----
    The usual definition of the laboratories and of the published guidance (criteria: EPA 540-R-20-005 and others).
    Zero is never a result, so a pair of noughts has no RPD.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = (first + second) / 2.0
        return np.asarray(np.where(mean > 0, 100.0 * np.abs(first - second) / mean, np.nan))
