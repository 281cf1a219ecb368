"""CAS numbers that a spreadsheet took for dates."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporqa.analytes import all_analytes, cas_from_spreadsheet, check_digit_ok


@pytest.mark.parametrize(
    ("text", "cas"),
    [
        # Serial days seen in published tables, by a spreadsheet's calendar from 1899-12-30.
        ("63923", "75-01-4"),
        ("64164", "75-09-2"),
        ("65386", "79-01-6"),
        ("63923.0", "75-01-4"),
        ("2075-01-04", "75-01-4"),
        ("2075-01-04 00:00:00", "75-01-4"),
        ("2075-01-04T00:00", "75-01-4"),
        ("1/4/2075", "75-01-4"),
        ("01/04/75", "75-01-4"),
        ("4/1/2075", "75-01-4"),
        ("1/4/2075 12:00 AM", "75-01-4"),
        ("4-Jan-75", "75-01-4"),
        ("04-Jan-2075", "75-01-4"),
        ("January 4, 2075", "75-01-4"),
        ("1975-01-04", "75-01-4"),
        ("62461", "75-01-4"),  # the calendar from 1904
        ("2079-01-06", "79-01-6"),
        ("1634-04-04", "1634-04-4"),
        ("2025-06-03", None),
        ("2075-01-14", None),
        ("2075-13-04", None),
        ("2075-01-04 10:00", None),
        ("Jan-75", None),
        ("71-43-2x", None),
        ("", None),
        ("12", None),
    ],
)
def test_dates_are_read_back_where_the_check_digit_fits(text, cas):
    assert cas_from_spreadsheet(text) == cas


def test_a_text_with_two_readings_has_none():
    # Sixth of January and first of June 2079: both numbers have a right check digit.
    assert check_digit_ok("79-01-6")
    assert check_digit_ok("79-06-1")
    assert cas_from_spreadsheet("1/6/2079") is None
    assert cas_from_spreadsheet("6-Jan-79") == "79-01-6"


MANGLED = [one.cas for one in all_analytes() if 1 <= int(one.cas.split("-")[1]) <= 12 and len(one.cas) == 7]


@given(st.sampled_from(MANGLED), st.sampled_from([1900, 2000]))
def test_every_listed_number_that_can_be_a_date_comes_back_or_is_open(cas, century):
    first, middle, last = cas.split("-")
    if last == "0":
        return
    date = dt.date(century + int(first), int(middle), int(last))
    serial = str((date - dt.date(1899, 12, 30)).days)
    assert cas_from_spreadsheet(date.isoformat()) == cas
    assert cas_from_spreadsheet(serial) in (cas, None)
