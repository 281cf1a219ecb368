"""Reading unit spellings: what is folded, what is refused, what is offered instead."""

import math
import re
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporqa.quantities import units
from vaporqa.quantities.units import (
    BY_MASS,
    BY_VOLUME,
    CANONICAL,
    DIMENSIONS,
    FAMILY_UNITS,
    IN_SOLID,
    MASS_ONLY,
    nearest_units,
    parse_limit,
    parse_number_with_unit,
    parse_unit,
    spellings,
    symbols,
)

#: The list of tables.md, Conventions, as it stands there.
CONTRACT = """
    ft m in cm mm mL cc L mL/min L/min inHg inH2O kPa mbar hPa psi mmHg torr atm ppbv ppmv pptv %v % %LEL
    ug/m3 µg/m³ mg/m3 ng/m3 ug/L mg/L ug/kg mg/kg ug ng degC degF K s min h d
"""
ALL_UNITS = [parse_unit(symbol) for dimension in DIMENSIONS if dimension != "percent" for symbol in symbols(dimension)]


@pytest.mark.parametrize("spelling", CONTRACT.split())
def test_every_spelling_of_the_contract_is_known(spelling):
    assert parse_unit(spelling) is not None


@pytest.mark.parametrize(
    ("spelling", "symbol"),
    [
        ("FT", "ft"), ("Feet", "ft"), ("in.", "in"), ("INCHES", "in"), ("metres", "m"),
        ("ml/min", "mL/min"), ("ML/MIN", "mL/min"), ("cc/min", "mL/min"), ("ccm", "mL/min"), ("mL / min", "mL/min"),
        ("lpm", "L/min"), ("LPM", "L/min"), ("l/min", "L/min"), ("cfm", "ft3/min"),
        ("in Hg", "inHg"), ("in. Hg", "inHg"), ('"Hg', "inHg"), ("”Hg", "inHg"), ("''Hg", "inHg"), ("INHG", "inHg"),
        ("in H2O", "inH2O"), ("in H₂O", "inH2O"), ("inwc", "inH2O"), ("in. w.c.", None), ("IN WC", "inH2O"),
        ("mm Hg", "mmHg"), ("Torr", "torr"), ("KPA", "kPa"), ("PSI", "psi"), ("Atm", "atm"), ("MBAR", "mbar"),
        ("PPBV", "ppbv"), ("ppb(v)", "ppbv"), ("ppb v/v", "ppbv"), ("ppbV", "ppbv"), ("ppm-v", "ppmv"),
        ("% v/v", "%v"), ("%V", "%v"), ("vol%", "%v"), ("Vol %", "%v"), ("%", "%v"),
        ("% LEL", "%LEL"), ("%lel", "%LEL"), ("% of LEL", "%LEL"),
        ("µg/m3", "ug/m3"), ("μg/m³", "ug/m3"), ("UG/M3", "ug/m3"), ("ug / m^3", "ug/m3"), ("mcg/m3", "ug/m3"),
        ("MG/M3", "mg/m3"), ("MG/L", "mg/L"), ("Ug/L", "ug/L"), ("ng/g", "ug/kg"), ("ug/g", "mg/kg"), ("ng/L", "ug/m3"),
        ("°C", "degC"), ("℃", "degC"), ("deg. F", "degF"), ("º F", "degF"), ("C", "degC"), ("K", "K"), ("°", "deg"),
        ("hr", "h"), ("HRS", "h"), ("Days", "d"), ("MIN", "min"), ("sec", "s"),
    ],
)  # fmt: skip
def test_usual_variants(spelling, symbol):
    found = parse_unit(spelling)
    assert (found.symbol if found else None) == symbol


@pytest.mark.parametrize(
    "spelling",
    [
        "", " ", "ppb", "ppm", "ppt",  # of gas or of water: two meanings
        "M", "MM", "ML", "MG", "Mg", "Mg/m3", "Mg/L", "Ml/min", "Mbar", "mM", "MPa",  # capital M is mega, or molar
        "S", "H", "D", "k", "c", "f", "M3",
        "m in", "k Pa", "u g/m3", "in Hg / m",  # blanks are not glue
        "psig", "psia", "ug/rn3", "ft-lb", "1 ft", '"', "'", "gal", "ug m3",
    ],
)  # fmt: skip
def test_what_could_be_misread_is_unknown(spelling):
    assert parse_unit(spelling) is None


@pytest.mark.parametrize(
    ("written", "dimension", "first"),
    [
        ("ppb", None, "ppbv"),
        ("ppm", "amount", "ppmv"),
        ("ug/rn3", "amount", "ug/m3"),
        ("Mg/m3", None, "mg/m3"),
        ("ML", "volume", "mL"),
        ("inhgg", "pressure", "inHg"),
        ("psig", "pressure", "psi"),
        ("M", "length", "m"),
    ],
)
def test_nearest_units_lead_to_what_was_meant(written, dimension, first):
    found = nearest_units(written, dimension)
    assert found[0] == first
    assert len(found) <= 3
    assert all(parse_unit(symbol, dimension) is not None for symbol in found)


def test_nearest_units_stay_inside_the_dimension_and_may_be_none():
    assert nearest_units("ppb", "length") == []
    assert nearest_units("zzzz") == []


def test_dimension_filters_and_percent_is_only_read_on_request():
    assert parse_unit("ft", "pressure") is None
    assert parse_unit("%", "amount").family == BY_VOLUME
    ratio = parse_unit("%", "percent")
    assert (ratio.dimension, ratio.family, ratio.factor) == ("percent", 0, 1.0)
    assert parse_unit("%v", "percent") is None


def test_every_listed_spelling_reads_as_a_unit_of_its_dimension():
    for dimension in DIMENSIONS:
        listed = spellings(dimension)
        assert listed, dimension
        for spelling in listed:
            found = parse_unit(spelling, dimension)
            assert found is not None, spelling
            assert found.dimension == dimension


def test_canonical_units_have_factor_one():
    for dimension, symbol in CANONICAL.items():
        found = parse_unit(symbol, dimension)
        assert (found.factor, found.offset) == (1.0, 0.0)
    for family, symbol in enumerate(FAMILY_UNITS):
        if symbol:
            found = parse_unit(symbol)
            assert (found.factor, found.family) == (1.0, family)
    assert (BY_VOLUME, BY_MASS, IN_SOLID, MASS_ONLY) == (1, 2, 3, 4)


def test_only_amounts_have_a_family_and_only_temperatures_an_offset():
    for unit in ALL_UNITS:
        assert (unit.family != units.NO_FAMILY) == (unit.dimension == "amount")
        assert unit.offset == 0 or unit.dimension == "temperature"
        assert unit.factor > 0


@given(unit=st.sampled_from(ALL_UNITS), number=st.floats(-1e9, 1e9))
def test_to_canonical_and_back(unit, number):
    back = unit.from_canonical(unit.to_canonical(number))
    assert math.isclose(back, number, rel_tol=1e-9, abs_tol=1e-9 * max(1.0, abs(unit.offset / unit.factor)))


@given(unit=st.sampled_from(ALL_UNITS), numbers=st.lists(st.floats(-1e9, 1e9), max_size=5))
def test_arrays_convert_as_their_members_do(unit, numbers):
    array = np.array(numbers, dtype=np.float64)
    assert unit.to_canonical(array).tolist() == [unit.to_canonical(number) for number in numbers]


@given(unit=st.sampled_from(ALL_UNITS), low=st.floats(-1e6, 1e6), rise=st.floats(1e-3, 1e6))
def test_conversion_keeps_the_order(unit, low, rise):
    assert unit.to_canonical(low) < unit.to_canonical(low + rise)


@given(st.text(max_size=12))
def test_any_text_is_a_unit_or_none_and_never_raises(text):
    found = parse_unit(text)
    assert found is None or parse_unit(found.symbol) == found
    assert all(parse_unit(symbol) is not None for symbol in nearest_units(text))


@given(unit=st.sampled_from(ALL_UNITS), number=st.floats(allow_nan=False, allow_infinity=False), blank=st.booleans())
def test_a_printed_number_with_its_unit_reads_back(unit, number, blank):
    text = f"{number!r}{' ' if blank else ''}{unit}"
    assert parse_number_with_unit(text) == (number, unit)


@pytest.mark.parametrize(
    ("text", "number", "symbol"),
    [("20 %v", 20, "%v"), ("4100 ft", 4100, "ft"), ("30min", 30, "min"), ("-2.5 inH2O", -2.5, "inH2O"),
    ("1e-3 m", 1e-3, "m"),
     ("48 h", 48, "h"), ("25 degC", 25, "degC"), ("1 atm", 1, "atm"), (" 5 % ", 5, "%v")],
)  # fmt: skip
def test_numbers_with_units(text, number, symbol):
    found, unit = parse_number_with_unit(text)
    assert (found, unit.symbol) == (number, symbol)


@pytest.mark.parametrize(
    ("text", "dimension", "said"),
    [
        ("30", "duration", "no unit"),
        ("ft 30", None, "does not start with a number"),
        ("1,000 ft", None, "without thousands marks"),
        ("1/2 in", "length", "'/2 in' is no unit"),
        ("5-7 ft", None, "ranges"),
        ("nan ft", None, "does not start with a number"),
        ("inf ft", None, "does not start with a number"),
        ("1e999 ft", None, "not a finite number"),
        ("1_000 ft", None, "not one number"),
        ("٣ ft", None, "does not start with a number"),
        ("5 ppb", "amount", "did you mean 'ppbv'"),
        ("5 ft", "pressure", "unit of length, and pressure is wanted"),
        ("5 zzzz", "duration", "write one of: s, min, h, d"),
        ("", None, "does not start with a number"),
    ],
)
def test_a_bad_number_says_what_is_wrong(text, dimension, said):
    with pytest.raises(ValueError, match=re.escape(said)):
        parse_number_with_unit(text, dimension)


def test_limits_are_split_and_not_interpreted():
    assert parse_limit("5 %") == (5.0, "%")
    assert parse_limit("1e-3") == (0.001, "")
    assert parse_limit("010 spoons") == (10.0, "spoons")
    assert parse_limit("-1 in H2O") == (-1.0, "in H2O")
    with pytest.raises(ValueError, match="does not start with a number"):
        parse_limit(":30")
    with pytest.raises(ValueError, match="not one number"):
        parse_limit("5 .5 ft")


def test_per_cent_of_a_ratio_on_request():
    assert parse_number_with_unit("5 %", "percent")[1].dimension == "percent"


def test_units_are_read_without_numpy():
    code = "import sys, vaporqa.quantities.units; print('numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
