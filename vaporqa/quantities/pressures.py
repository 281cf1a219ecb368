"""Pressures: gauge to absolute, the standard atmosphere, and the dilution that topping up a canister makes."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from vaporqa.quantities.constants import (
    ATMOSPHERE,
    ATMOSPHERE_GAS_CONSTANT,
    ATMOSPHERE_LAPSE,
    ATMOSPHERE_MOLAR_MASS,
    ATMOSPHERE_RADIUS,
    ATMOSPHERE_TEMPERATURE,
    GRAVITY,
)

Floats = npt.NDArray[np.float64]

#: The formula of the troposphere is good between these geopotential altitudes, in m.
LOWEST, HIGHEST = -5_000.0, 11_000.0
_EXPONENT = (
    GRAVITY.value * ATMOSPHERE_MOLAR_MASS.value / (ATMOSPHERE_GAS_CONSTANT.value * ATMOSPHERE_LAPSE.value)
)  # about 5.25588


def standard_atmosphere(altitude_m: npt.ArrayLike) -> Any:
    """Return the pressure of the standard atmosphere at an altitude.

    Parameters
    ----------
    altitude_m : array_like
        Geometric altitude above sea level in m, any shape.

    Returns
    -------
    float or float64 array of the same shape
        Pressure in kPa; nan outside the troposphere (-5 to 11 km geopotential).

    Notes
    -----
    U.S. Standard Atmosphere, 1976, equations 18 (geopotential altitude) and 33a (pressure with a lapse rate).
    The tables are entered with geometric altitude: 20.581 inHg at 10,000 ft; without equation 18 it is 20.577.
    """
    altitude = np.asarray(altitude_m, dtype=np.float64)
    radius = ATMOSPHERE_RADIUS.value
    with np.errstate(divide="ignore", invalid="ignore"):
        geopotential = radius * altitude / (radius + altitude)
        ratio = 1.0 - ATMOSPHERE_LAPSE.value * geopotential / ATMOSPHERE_TEMPERATURE.value
        pressure = ATMOSPHERE.value * ratio**_EXPONENT
    inside = (geopotential >= LOWEST) & (geopotential <= HIGHEST)
    return np.where(inside, pressure, np.nan)[()]


def absolute_pressure(barometer_kpa: npt.ArrayLike, gauge_vacuum_kpa: npt.ArrayLike) -> Any:
    """Return barometer less gauge vacuum, in kPa.

    Parameters
    ----------
    barometer_kpa : array_like
        Absolute pressure round the gauge, in kPa.
    gauge_vacuum_kpa : array_like
        Gauge vacuum, positive below the barometer, in kPa; broadcast against `barometer_kpa`.

    Returns
    -------
    float or float64 array
        A slightly negative value (a nominal 30 inHg on a low barometer) is returned as it is.
    """
    return (np.asarray(barometer_kpa, dtype=np.float64) - np.asarray(gauge_vacuum_kpa, dtype=np.float64))[()]


def volume_drawn(
    volume: npt.ArrayLike, before_kpa: npt.ArrayLike, after_kpa: npt.ArrayLike, barometer_kpa: npt.ArrayLike
) -> Any:
    """Return the gas that a container took in between two pressures, as it fills at the barometer round it.

    Parameters
    ----------
    volume : array_like
        Of the container, in any unit of volume.
    before_kpa, after_kpa : array_like
        Absolute pressures. A negative one (a nominal 30 inHg on a low barometer) means an empty container, no more.
    barometer_kpa : array_like

    Returns
    -------
    float or float64 array
        In the unit of `volume`; nan where the barometer is nought.

    Notes
    -----
    Boyle's law at one temperature: V (P after - P before) / P barometer.
    """
    before = np.maximum(np.asarray(before_kpa, dtype=np.float64), 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        drawn = np.asarray(volume, dtype=np.float64) * (np.asarray(after_kpa, dtype=np.float64) - before)
        return (drawn / np.asarray(barometer_kpa, dtype=np.float64))[()]


def sea_level_vacuum(pressure_kpa: npt.ArrayLike) -> Any:
    """Return the vacuum that a gauge at sea level would show for an absolute pressure, both in kPa.

    The inverse is the same: the absolute pressure that a vacuum leaves at sea level.
    """
    return (ATMOSPHERE.value - np.asarray(pressure_kpa, dtype=np.float64))[()]


def dilution_factor(p_after: npt.ArrayLike, p_before: npt.ArrayLike) -> Any:
    """Return the factor by which topping up a container diluted its sample: absolute pressure after over before.

    Parameters
    ----------
    p_after, p_before : array_like
        Absolute pressures in one unit, broadcast against each other.

    Returns
    -------
    float or float64 array
        nan where `p_before` is not above zero or `p_after` is negative.

    Notes
    -----
    EPA Compendium Method TO-15 (1999), pressurisation of canisters (from memory, as criteria/field.md O1 says).
    """
    after, before = np.asarray(p_after, dtype=np.float64), np.asarray(p_before, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where((before > 0) & (after >= 0), after / before, np.nan)[()]
