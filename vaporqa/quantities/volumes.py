"""Plain geometry of lines and holes, from metres to millilitres."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

_ML_PER_M3 = 1e6


def cylinder_volume(diameter: npt.ArrayLike, length: npt.ArrayLike) -> Any:
    """Return the volume of a cylinder: a tubing bore, or the void that a drawn-back rod leaves.

    Parameters
    ----------
    diameter, length : array_like
        In m, broadcast against each other.

    Returns
    -------
    float or float64 array
        mL; nan where a size is negative or nan.
    """
    across, along = np.asarray(diameter, dtype=np.float64), np.asarray(length, dtype=np.float64)
    volume = np.pi / 4 * across**2 * along * _ML_PER_M3
    return np.where((across >= 0) & (along >= 0), volume, np.nan)[()]


def annulus_volume(outer_diameter: npt.ArrayLike, inner_diameter: npt.ArrayLike, length: npt.ArrayLike) -> Any:
    """Return the volume between two cylinders of one axis: a hole less the tubing in it.

    Parameters
    ----------
    outer_diameter, inner_diameter, length : array_like
        In m, broadcast against each other.

    Returns
    -------
    float or float64 array
        mL; nan where a size is negative or nan, or the inner diameter exceeds the outer.
    """
    outer, inner = np.asarray(outer_diameter, dtype=np.float64), np.asarray(inner_diameter, dtype=np.float64)
    along = np.asarray(length, dtype=np.float64)
    volume = np.pi / 4 * (outer**2 - inner**2) * along * _ML_PER_M3
    return np.where((inner >= 0) & (outer >= inner) & (along >= 0), volume, np.nan)[()]


def pore_volume(bulk_volume: npt.ArrayLike, porosity: npt.ArrayLike) -> Any:
    """Return the gas-filled part of a packed volume.

    Parameters
    ----------
    bulk_volume : array_like
        mL.
    porosity : array_like
        A fraction from 0 to 1, broadcast against `bulk_volume`.

    Returns
    -------
    float or float64 array
        mL; nan where the volume is negative or the porosity is no fraction from 0 to 1.
    """
    bulk, share = np.asarray(bulk_volume, dtype=np.float64), np.asarray(porosity, dtype=np.float64)
    return np.where((bulk >= 0) & (share >= 0) & (share <= 1), bulk * share, np.nan)[()]
