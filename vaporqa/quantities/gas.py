"""Gas concentrations: molar volume, and the step between parts by volume and mass by volume of gas.

Always at the declared reference temperature and pressure, never at those of the site.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from vaporqa.quantities.constants import GAS_CONSTANT, ICE_POINT


def molar_volume(temperature_degc: npt.ArrayLike, pressure_kpa: npt.ArrayLike) -> Any:
    """Return the volume of one mole of an ideal gas.

    Parameters
    ----------
    temperature_degc, pressure_kpa : array_like
        Reference conditions in degC and absolute kPa, broadcast against each other.

    Returns
    -------
    float or float64 array
        L/mol; 24.465404 at 25 degC and 101.325 kPa. nan at or below absolute zero or without pressure.

    Notes
    -----
    V = R T / P with the molar gas constant of CODATA 2018; J/(mol kPa) is L/mol.
    """
    kelvin = np.asarray(temperature_degc, dtype=np.float64) + ICE_POINT.value
    pressure = np.asarray(pressure_kpa, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        volume = GAS_CONSTANT.value * kelvin / pressure
    return np.where((kelvin > 0) & (pressure > 0), volume, np.nan)[()]


def ppbv_to_ug_m3(ppbv: npt.ArrayLike, molar_mass: npt.ArrayLike, molar_volume: npt.ArrayLike) -> Any:
    """Return a concentration by volume as one by mass.

    Parameters
    ----------
    ppbv : array_like
        Parts per 1e9 by volume.
    molar_mass : array_like
        g/mol; nan where the substance is not known, and the answer is then nan.
    molar_volume : array_like
        L/mol at the reference conditions.

    Returns
    -------
    float or float64 array
        ug/m3.
    """
    mass, volume = np.asarray(molar_mass, dtype=np.float64), np.asarray(molar_volume, dtype=np.float64)
    return (np.asarray(ppbv, dtype=np.float64) * mass / volume)[()]


def ug_m3_to_ppbv(ug_m3: npt.ArrayLike, molar_mass: npt.ArrayLike, molar_volume: npt.ArrayLike) -> Any:
    """Return a concentration by mass as one by volume: the inverse of `ppbv_to_ug_m3`, same shapes and units."""
    mass, volume = np.asarray(molar_mass, dtype=np.float64), np.asarray(molar_volume, dtype=np.float64)
    return (np.asarray(ug_m3, dtype=np.float64) * volume / mass)[()]
