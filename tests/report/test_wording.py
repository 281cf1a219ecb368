"""Numbers, limits, times and foreign texts as a person or a file gets them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporqa.criteria import Backing, Limit, Sense, Source
from vaporqa.report.wording import (
    Clock,
    defused,
    ends_of,
    figure,
    measured_text,
    nearest_end,
    plain_number,
    visible,
)


def limit(sense: Sense, number: float, unit: str, written: str) -> Limit:
    return Limit("one", sense, number, unit, written, Source(reasoning="a test"), Backing.PRACTICE, number=number)


FIVE_PER_CENT = limit(Sense.AT_MOST, 5.0, "%", "at most 5 %")


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.05049, "0.0505"), (12345.6, "12,346"), (30.0, "30"), (0.0, "0"), (-0.0004, "-0.0004"), (99.96, "100"),
     (1e20, "1.00e+20"), (math.nan, "not recorded")],
)  # fmt: skip
def test_a_number_has_three_digits_and_no_exponent_where_it_can_be_helped(value: float, text: str) -> None:
    assert figure(value) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [(5.05, "5.05 %"), (5.0001, "5.0001 %"), (5.00000001, "5.00000001 %"), (5.0, "5 %"), (22.5, "22.5 %")],
)
def test_a_measured_number_visibly_differs_from_its_limit(value: float, text: str) -> None:
    assert measured_text(value, FIVE_PER_CENT) == text


@given(st.floats(1e-3, 1e6), st.floats(1e-8, 10.0))
def test_a_number_over_its_limit_never_reads_as_the_limit(number: float, share: float) -> None:
    value = number * (1 + share)
    text = measured_text(value, limit(Sense.AT_MOST, number, "", f"at most {number}"))
    assert float(text.replace(",", "")) != number


def test_the_end_of_a_range_that_was_passed_is_named() -> None:
    between = limit(Sense.BETWEEN, 70.0, "%", "between 70 % and 130 %")
    assert ends_of(between) == (70.0, 130.0)
    assert nearest_end(140.0, between) == 130.0
    assert nearest_end(60.0, between) == 70.0
    assert nearest_end(-35.0, limit(Sense.WITHIN, 30.0, "%", "within 30 %")) == 30.0


@pytest.mark.parametrize(
    ("text", "safe"),
    [("=cmd()", "'=cmd()"), ("+1+1", "'+1+1"), ("@SUM(A1)", "'@SUM(A1)"), ("-2+3", "'-2+3"), ("\t=1", "'\t=1"),
     ("\r=1", "'\r=1"), ("-0.5", "-0.5"), ("+3", "+3"), ("-1e-3", "-1e-3"), ("- ", "'- "), ("a=b", "a=b"), ("", "")],
)  # fmt: skip
def test_a_formula_is_defused_and_a_number_stays_a_number(text: str, safe: str) -> None:
    assert defused(text) == safe


def test_foreign_text_cannot_steer_a_screen_nor_turn_its_direction() -> None:
    assert visible("a\x1b[31mred\x07") == "a\\x1b[31mred\\x07"
    assert visible("two\nlines\r") == "two\\nlines\\r"
    assert visible("abc" + chr(0x202E) + "fed") == "abc\\u202efed"
    assert visible("µg/m³ in ü") == "µg/m³ in ü"
    assert len(visible("x" * 1000)) == 120


def test_times_are_written_in_the_zone_of_the_reader() -> None:
    # 2025-05-06 15:30:00 UTC; Boise keeps UTC-6 in May, Chicago UTC-5 (IANA time-zone database).
    moment = 1_746_545_400_000_000
    assert Clock("America/Boise").written(moment, False) == "2025-05-06 09:30"
    assert Clock("America/Chicago").written(moment, False) == "2025-05-06 10:30"
    assert Clock("").written(moment, False) == "2025-05-06 15:30 UTC"
    assert Clock("America/Boise").written(moment, True) == "2025-05-06"


@given(st.floats(allow_nan=False, allow_infinity=False, width=32))
def test_plain_numbers_read_back(value: float) -> None:
    assert float(plain_number(value)) == pytest.approx(value, rel=1e-11)
