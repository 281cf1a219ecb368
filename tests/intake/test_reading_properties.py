"""Properties of reading: lines, cells, numbers and times come through whatever the file looks like."""

from __future__ import annotations

import csv
import datetime as dt
import io
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
from hypothesis import given, settings
from hypothesis import strategies as st

from vaporqa.intake.files import read_text_file
from vaporqa.intake.notes import Notes
from vaporqa.intake.numbers import offer_number, read_numbers
from vaporqa.intake.records import header_record, read_carefully, read_fast
from vaporqa.intake.times import LOCAL, place, read_times
from vaporqa.intake.zones import NEVER, ONCE, TWICE, Clock

CELL = st.text(st.sampled_from('ab,"\n\r é7-'), max_size=5)
LINE_END = st.sampled_from(["\n", "\r\n"])


def quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"'


def physical_lines(text: str) -> int:
    return len(text.replace("\r\n", "\n").replace("\r", "\n").split("\n")) - 1


@settings(max_examples=60, deadline=None)
@given(
    rows=st.lists(st.tuples(CELL, CELL, st.integers(0, 2)), max_size=8),
    end=LINE_END,
    last_end=st.booleans(),
    always=st.booleans(),
)
def test_lines_and_cells_are_right_for_any_mix_of_breaks(tmp_path_factory, rows, end, last_end, always):
    text = f"{end}id,one,two{end}"
    lines, cells = [], []
    for number, (one, two, blank) in enumerate(rows):
        text += end * blank
        lines.append(physical_lines(text) + 1)
        written = [quoted(cell) if always or set(cell) & set(',"\n\r') else cell for cell in (one, two)]
        text += f"{number}," + ",".join(written) + end
        cells.append([str(number), one, two])
    if not last_end:
        text = text[: -len(end)]
    path = tmp_path_factory.mktemp("lines") / "any.csv"
    path.write_bytes(text.encode())
    notes = Notes()
    file = read_text_file(path, "any.csv", notes)
    assert file is not None
    assert notes.problems == []
    assert file.lines.tolist() == lines
    assert [list(row) for row in zip(*(column.to_pylist() for column in file.columns), strict=True)] == cells


@settings(max_examples=60, deadline=None)
@given(
    rows=st.lists(st.lists(CELL, min_size=2, max_size=2), min_size=1, max_size=8),
    delimiter=st.sampled_from([",", "\t"]),
)
def test_the_two_roads_and_the_standard_reader_agree(rows, delimiter):
    stream = io.StringIO(newline="")
    csv.writer(stream, delimiter=delimiter, lineterminator="\n").writerows([["one", "two"], *rows])
    text = stream.getvalue().encode()
    head = header_record(text, delimiter)
    assert head is not None
    careful = read_carefully(text, head, delimiter)
    records = [row for row in csv.reader(io.StringIO(text.decode(), newline=""), delimiter=delimiter) if row][1:]
    expected = [[*row, "", ""][:2] for row in records]  # a lone carriage return ends a line where it is not quoted
    assert [list(row) for row in zip(*(column.to_pylist() for column in careful.columns), strict=True)] == expected
    fast = read_fast(text, head, delimiter)
    if fast is not None:
        assert fast.lines.tolist() == careful.lines.tolist()
        assert [column.to_pylist() for column in fast.columns] == [column.to_pylist() for column in careful.columns]


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_number_that_python_writes_is_read_back_exactly(number):
    read, _ = read_numbers(pa.array([repr(number), f" {number!r} "]))
    assert read.values.tolist() == [number, number]


@given(st.text(st.sampled_from("0123456789.,-+eEIlOS<%xnaif _'"), max_size=7))
def test_what_is_read_as_a_number_is_what_python_reads(text):
    read, _ = read_numbers(pa.array([text]))
    if not read.wrong[0]:
        assert read.values[0] == float(text)
    else:
        offered = offer_number(text)
        assert offered == "" or not read_numbers(pa.array([offered[:-1]]))[0].wrong[0] or "e" in offered.lower()


LOCAL_TIMES = st.datetimes(dt.datetime(1995, 1, 1), dt.datetime(2037, 12, 31))
#: Weeks around the changes of the clocks of 2025, north and south, whole and half hours, change at midnight.
ZONES = st.sampled_from(
    [
        "America/Boise",
        "Europe/London",
        "Australia/Lord_Howe",
        "America/Santiago",
        "Asia/Kathmandu",
        "America/Phoenix",
        "Asia/Beirut",
    ]
)
NEAR_CHANGE = st.sampled_from(
    [dt.datetime(2025, *day) for day in ((3, 9), (11, 2), (3, 30), (10, 26), (4, 5), (4, 6), (9, 6), (9, 7), (10, 5))]
).flatmap(lambda day: st.integers(-1440, 2880).map(lambda minutes: day + dt.timedelta(minutes=minutes)))


@settings(deadline=None)
@given(st.lists(LOCAL_TIMES | NEAR_CHANGE, min_size=1, max_size=6), ZONES)
def test_local_times_are_placed_as_the_zone_database_places_them(walls, name):
    zone = ZoneInfo(name)
    read = read_times(pa.array([wall.isoformat() for wall in walls]))
    placed = place(read, Clock(name))
    assert (read.kind == LOCAL).all()
    for at, wall in enumerate(walls):
        back = {
            fold: wall.replace(tzinfo=zone, fold=fold).astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None) == wall
            for fold in (0, 1)
        }
        instants = {wall.replace(tzinfo=zone, fold=fold).astimezone(dt.UTC) for fold in (0, 1)}
        fate = ONCE if len(instants) == 1 else TWICE if all(back.values()) else NEVER
        assert placed.fate[at] == fate
        if fate == ONCE:
            microseconds = (instants.pop() - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)) // dt.timedelta(microseconds=1)
            assert placed.low[at] == microseconds


@settings(deadline=None)
@given(st.lists(LOCAL_TIMES | NEAR_CHANGE, min_size=1, max_size=6), ZONES)
def test_instants_and_wall_times_go_round(moments, name):
    utc = np.array([(one - dt.datetime(1970, 1, 1)) // dt.timedelta(microseconds=1) for one in moments], np.int64)
    local = Clock(name).to_local(utc)
    for wall, one in zip(local.tolist(), moments, strict=True):
        expected = one.replace(tzinfo=dt.UTC).astimezone(ZoneInfo(name)).replace(tzinfo=None)
        assert dt.datetime(1970, 1, 1) + dt.timedelta(microseconds=wall) == expected


@settings(deadline=None)
@given(st.dates(dt.date(1995, 1, 1), dt.date(2037, 12, 30)), ZONES)
def test_a_day_ends_where_the_next_begins(day, name):
    read = read_times(pa.array([day.isoformat(), (day + dt.timedelta(days=1)).isoformat()]))
    placed = place(read, Clock(name))
    assert placed.high[0] + 1 == placed.low[1]
    start = dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(microseconds=int(placed.low[0]))
    assert start.astimezone(ZoneInfo(name)).date() == day
    assert (start - dt.timedelta(microseconds=1)).astimezone(ZoneInfo(name)).date() < day
