"""Pressures, gas concentrations and geometry: shapes, impossible inputs, inverses."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporqa.quantities.gas import molar_volume, ppbv_to_ug_m3, ug_m3_to_ppbv
from vaporqa.quantities.pressures import absolute_pressure, dilution_factor, standard_atmosphere
from vaporqa.quantities.volumes import annulus_volume, cylinder_volume, pore_volume

sizes = st.floats(1e-4, 10.0)


def test_scalars_in_scalars_out_and_arrays_keep_their_shape():
    assert isinstance(float(standard_atmosphere(0.0)), float)
    assert np.ndim(standard_atmosphere(0.0)) == 0
    grid = np.array([[0.0, 1000.0], [2000.0, 3000.0]])
    assert standard_atmosphere(grid).shape == (2, 2)
    assert absolute_pressure(101.325, np.array([0.0, 1.325])).tolist() == [101.325, 100.0]
    assert ppbv_to_ug_m3(np.array([1.0, 2.0]), np.array([24.0, np.nan]), 24.0)[0] == 1.0
    assert math.isnan(ppbv_to_ug_m3(1.0, math.nan, 24.0))


@given(st.floats(-4000, 10_900), st.floats(1.0, 100.0))
def test_pressure_falls_with_altitude(altitude, climb):
    assert standard_atmosphere(altitude + climb) < standard_atmosphere(altitude)


@pytest.mark.parametrize("altitude", [-6_000.0, 11_100.0, math.nan, math.inf, -6_356_766.0])
def test_no_pressure_outside_the_troposphere(altitude):
    assert math.isnan(standard_atmosphere(altitude))


@pytest.mark.parametrize(("after", "before"), [(100.0, 0.0), (100.0, -1.0), (-1.0, 50.0), (math.nan, 50.0)])
def test_no_dilution_factor_from_impossible_pressures(after, before):
    assert math.isnan(dilution_factor(after, before))


@pytest.mark.parametrize(
    ("temperature", "pressure"), [(-273.15, 101.325), (-300.0, 101.325), (25.0, 0.0), (25.0, -1.0)]
)
def test_no_molar_volume_from_impossible_conditions(temperature, pressure):
    assert math.isnan(molar_volume(temperature, pressure))


@given(st.floats(1e-6, 1e9), st.floats(1.0, 400.0), st.floats(20.0, 30.0))
def test_mass_and_volume_forms_are_inverse(ppbv, mass, volume):
    assert math.isclose(ug_m3_to_ppbv(ppbv_to_ug_m3(ppbv, mass, volume), mass, volume), ppbv, rel_tol=1e-12)


@given(sizes, sizes, st.floats(0, 1), sizes)
def test_an_annulus_and_its_core_make_the_cylinder(outer, length, share, more):
    inner = outer * share
    whole = cylinder_volume(outer, length)
    assert math.isclose(annulus_volume(outer, inner, length) + cylinder_volume(inner, length), whole, rel_tol=1e-9)
    assert math.isclose(cylinder_volume(outer, length + more), whole + cylinder_volume(outer, more), rel_tol=1e-9)


def test_impossible_sizes_have_no_volume():
    assert math.isnan(cylinder_volume(-0.1, 1.0))
    assert math.isnan(cylinder_volume(0.1, -1.0))
    assert math.isnan(annulus_volume(0.01, 0.02, 1.0))
    assert math.isnan(annulus_volume(0.02, 0.01, math.nan))
    assert math.isnan(pore_volume(100.0, 30.0))  # a per cent where a fraction belongs
    assert pore_volume(np.array([100.0, 200.0]), 0.25).tolist() == [25.0, 50.0]
