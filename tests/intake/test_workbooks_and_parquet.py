"""Workbooks and Parquet files: row numbers, typed cells, and what is not opened."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from decimal import Decimal

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import xlsxwriter

from vaporqa.errors import FolderError
from vaporqa.intake import workbook_guard
from vaporqa.tables.values import EMPTY, READ, UNREADABLE, Tables

HEAD = "time_zone: UTC\n"


def remarks(tables: Tables) -> str:
    return "\n".join(f"{remark.file}: {remark.text}" for remark in tables.remarks)


def workbook(sheets: dict[str, list[list[object]]], **options: object) -> bytes:
    """Write rows of sheets; a date is formatted as one, None is no cell."""
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream, {"in_memory": True, "strings_to_formulas": False, **options})
    stamp = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    clock = book.add_format({"num_format": "hh:mm"})
    for name, rows in sheets.items():
        sheet = book.add_worksheet(name)
        for at, row in enumerate(rows):
            for column, cell in enumerate(row):
                if isinstance(cell, dt.datetime | dt.date):
                    sheet.write_datetime(at, column, cell, stamp)
                elif isinstance(cell, dt.time):
                    sheet.write_datetime(at, column, cell, clock)
                elif isinstance(cell, tuple):
                    sheet.write_formula(at, column, cell[0], None, cell[1])
                elif cell is not None:
                    sheet.write(at, column, cell)
    book.close()
    return stream.getvalue()


def test_row_numbers_are_true_where_rows_and_columns_are_empty(read):
    rows = [[], [], [None, None, "probe_id", "location_id", None, "note"], [], [None, None, "P1", "L1", None, "a"], [],
            [None, None, "P2", "L1"]]  # fmt: skip
    tables = read({"probes.xlsx": workbook({"Data": rows})}, HEAD)
    probes = tables.tables["probes"]
    assert probes.line_of.tolist() == [5, 7]
    assert probes.sheets == ("Data",)
    assert probes.cells.column_number(0, "location_id") == 4
    assert probes.cells.cell(1, "note") == ""


def test_numbers_dates_yes_and_no_as_text(read):
    rows = [
        ["sample_id", "started_at", "ended_at", "volume [L]", "kind", "crew"],
        [7, dt.datetime(2025, 6, 3, 10, 20), dt.datetime(2025, 6, 3), 0.1, "primary", True],
        ["007", "2025-06-03 10:21", "2025-06-03", "0.2", "", 1.5],
        [8.5, dt.datetime(2025, 6, 3, 11, 59, 59), dt.datetime(2025, 6, 4, 1), 1e3, None, "x"],
    ]
    tables = read({"samples.xlsx": workbook({"samples": rows})}, HEAD)
    samples = tables.tables["samples"]
    assert samples.keys.tolist() == ["7", "007", "8.5"]
    assert samples.number("volume").values == pytest.approx([100, 200, 1e6])
    stamps = samples.frame()["started_at"].dt.strftime("%Y-%m-%d %H:%M:%S").tolist()
    assert stamps == ["2025-06-03 10:20:00", "2025-06-03 10:21:00", "2025-06-03 11:59:59"]
    assert samples.time("ended_at").date_only.tolist() == [True, True, False]
    assert [samples.text("crew").at(row) for row in range(3)] == ["true", "1.5", "x"]
    assert "column 'sample_id': 2 ids are stored as numbers; leading zeros may be lost" in remarks(tables)


def test_serial_days_are_read_and_noted(read):
    # 2025-06-03 is day 45811 of a workbook's calendar, counted from 1899-12-30.
    assert dt.date(1899, 12, 30) + dt.timedelta(days=45811) == dt.date(2025, 6, 3)
    rows = [["sample_id", "started_at", "ended_at"], ["S1", 45811, 45811.4375], ["S2", 2025, 12]]
    tables = read({"samples.xlsx": workbook({"s": rows})}, HEAD)
    samples = tables.tables["samples"]
    assert samples.time("started_at").state.tolist() == [READ, UNREADABLE]
    assert samples.time("started_at").date_only.tolist() == [True, False]
    assert samples.frame()["ended_at"][0].isoformat() == "2025-06-03T10:30:00+00:00"
    assert "1 numbers are read as the workbook's serial days, 45811 as 2025-06-03" in remarks(tables)
    from_1904 = read({"samples.xlsx": workbook({"s": [rows[0], ["S1", 45811 - 1462, None]]}, date_1904=True)}, HEAD)
    assert from_1904.tables["samples"].frame()["started_at"][0].isoformat() == "2025-06-03T00:00:00+00:00"


def test_a_date_and_a_time_of_day_are_joined(read):
    mapping = "tables:\n  samples: {file: s.xlsx, columns: {sample_id: S, ended_at: [Day, Clock]}}\n"
    rows = [["S", "Day", "Clock"], ["S1", dt.date(2025, 6, 3), dt.time(10, 20)], ["S2", 45811, 0.4375],
            ["S3", dt.date(2025, 6, 3), None], ["S4", "2025-06-03", "10:20"]]  # fmt: skip
    samples = read({"s.xlsx": workbook({"s": rows})}, HEAD + mapping).tables["samples"]
    assert samples.frame()["ended_at"].dt.strftime("%H:%M").tolist() == ["10:20", "10:30", "00:00", "10:20"]
    assert samples.time("ended_at").date_only.tolist() == [False, False, True, False]


def test_errors_and_formulas_without_a_value_are_no_empty_cells(read):
    rows = [["sample_id", "volume [L]", "flow [mL/min]"], ["S1", ("=1/0", "#DIV/0!"), ("=1+1", 2)], ["S2", None, None],
            ["S3", ("=NA()", "#N/A"), 5]]  # fmt: skip
    tables = read({"samples.xlsx": workbook({"s": rows})}, HEAD)
    samples = tables.tables["samples"]
    assert samples.number("volume").state.tolist() == [UNREADABLE, EMPTY, UNREADABLE]
    assert samples.number("flow").values[0] == 2  # the value that the workbook last computed
    assert samples.cells.cell(0, "volume [L]") == "#DIV/0!"
    assert "samples.xlsx (s): 2 cells hold an error or a formula without a computed value: rows 2, 4" in remarks(tables)
    # A program that writes formulas computes none of them.
    book = workbook({"s": [["sample_id", "volume [L]"], ["S1", ("=2*3", 6)]]})
    never = replaced(book, "xl/worksheets/sheet1.xml", b"<v>6</v>", b"<v></v>")
    samples = read({"samples.xlsx": never}, HEAD).tables["samples"]
    assert samples.number("volume").state.tolist() == [UNREADABLE]
    assert samples.cells.cell(0, "volume [L]") == "=2*3"


def replaced(book: bytes, part: str, old: bytes, new: bytes) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as before, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as after:
        for info in before.infolist():
            data = before.read(info)
            if info.filename == part:
                assert old in data
                data = data.replace(old, new)
            after.writestr(info.filename, data)
    return stream.getvalue()


def test_the_sheet_named_after_the_table_else_the_first(read):
    probes = [["probe_id", "location_id"], ["P1", "L1"]]
    tables = read({"probes.xlsx": workbook({"Notes": [["x"]], "probes": probes})}, HEAD)
    assert tables.tables["probes"].sheets == ("probes",)
    assert "the sheet 'probes' is read; the workbook also holds 'Notes'" in remarks(tables)


def test_one_workbook_with_a_sheet_a_table(read):
    sheets = {
        "probes": [["probe_id", "location_id"], ["P1", "L1"]],
        "Read me": [["nothing"]],
        "sample": [["sample_id"]],
        "locations": [["location_id"], ["L1"]],
    }
    tables = read({"tables.xlsx": workbook(sheets)}, HEAD)
    assert set(tables.tables) == {"probes", "locations"}
    assert tables.tables["locations"].sheets == ("locations",)
    [_, file] = tables.files
    assert (file.name, file.feeds) == ("tables.xlsx", ("locations", "probes"))
    assert "tables.xlsx: the sheet 'sample' feeds no table; did you mean 'samples'?" in remarks(tables)
    assert "the sheet 'Read me' feeds no table" in remarks(tables)
    with pytest.raises(FolderError, match=r"the table probes stands in 2 files: probes\.csv, tables\.xlsx"):
        read({"tables.xlsx": workbook(sheets), "probes.csv": "probe_id,location_id\n"}, HEAD)


MAPPED = """\
tables:
  results:
    - {file: lab.xlsx, sheet: Data, header_row: 3, skip_rows: [4], columns: {sample_id: S, analyte: A, result: R},
       units: {result: ug/m3}}
    - {file: lab.xlsx, sheet: More, columns: {sample_id: S, analyte: A, result: R}, units: {result: ppbv}}
"""


def test_two_sheets_of_one_workbook_feed_one_table(read):
    sheets = {"Data": [["Laboratory A"], [], ["S", "A", "R"], ["", "", "ug/m3"], ["S1", "Benzene", 5], ["S", "A", "R"],
                       ["S2", "Benzene", "ND"]], "More": [["S", "A", "R"], ["S1", "Toluene", 7]]}  # fmt: skip
    tables = read({"lab.xlsx": workbook(sheets)}, HEAD + MAPPED)
    results = tables.tables["results"]
    assert results.line_of.tolist() == [5, 7, 2]
    assert results.sheets == ("Data", "More")
    assert results.file_of.tolist() == [0, 0, 1]
    assert "the header stands again in line 6; set aside" in remarks(tables)
    with pytest.raises(FolderError) as raised:
        read({"lab.xlsx": workbook({"Date": sheets["Data"], "More": sheets["More"]})}, HEAD + MAPPED)
    assert "project.yaml:4:31: lab.xlsx has no sheet 'Data'; did you mean 'Date'?" in str(raised.value)


def bomb() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as package:
        package.writestr("xl/workbook.xml", "<workbook/>")
        package.writestr("xl/worksheets/sheet1.xml", b"0" * (64 << 20))
    return stream.getvalue()


def far_cell() -> bytes:
    book = workbook({"probes": [["probe_id", "location_id"], ["P1", "L1"]]})
    return replaced(book, "xl/worksheets/sheet1.xml", b"</sheetData>",
                    b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>')  # fmt: skip


def lying_size() -> bytes:
    """A workbook one of whose parts goes on after the size that it declares."""
    book = bytearray(workbook({"probes": [["probe_id", "location_id"], *[["P1", "L1"]] * 500]}))
    with zipfile.ZipFile(io.BytesIO(bytes(book))) as package:
        info = package.getinfo("xl/worksheets/sheet1.xml")
    for at in range(len(book) - 46):
        if book[at : at + 4] == b"PK\x01\x02" and book[at + 46 : at + 46 + 24] == b"xl/worksheets/sheet1.xml":
            book[at + 24 : at + 28] = (info.file_size - 1000).to_bytes(4, "little")
    return bytes(book)


def encrypted() -> bytes:
    return b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le")


def with_macros() -> bytes:
    stream = io.BytesIO(workbook({"probes": [["probe_id"]]}))
    with zipfile.ZipFile(stream, "a") as package:
        package.writestr("xl/vbaProject.bin", b"x")
    return stream.getvalue()


def no_workbook() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as package:
        package.writestr("word/document.xml", "x")
    return stream.getvalue()


REFUSED = {
    "bomb": (bomb, "the workbook unpacks to 1,"),
    "a cell in the last row and column": (
        far_cell,
        "probes.xlsx: a sheet reaches to row 1,048,576 and column 16,384; at most 20,000,000 cells are opened; delete",
    ),
    "a part larger than it says": (lying_size, "probes.xlsx: the workbook is damaged"),
    "password": (encrypted, "probes.xlsx: the workbook is protected by a password; save it without a password"),
    "old workbook": (lambda: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "this is an old workbook (.xls)"),
    "macros": (with_macros, "probes.xlsx: the workbook holds macros, and none is opened; save it as .xlsx without"),
    "another package": (no_workbook, "this package is no .xlsx workbook: it has no xl/workbook.xml"),
    "pointer": (
        lambda: b"version https://git-lfs.github.com/spec/v1\noid sha256:0\nsize 9\n",
        "probes.xlsx: this is a large-file pointer that stands in for the table; the table itself is not here; fetch",
    ),
    "empty": (lambda: b"", "probes.xlsx: the file is empty"),
    "no cells": (lambda: workbook({"probes": []}), "probes.xlsx (probes): the file has no header line"),
    "two headers the same": (
        lambda: workbook({"probes": [["probe_id", "location_id", "probe_id"]]}),
        "two headers are the same: 'probe_id' in fields 1 and 3",
    ),
    "cells without a header": (
        lambda: workbook({"probes": [["probe_id", "location_id"], ["P1", "L1", "x"]]}),
        "probes.xlsx:1:3: field 3 holds cells but has no header",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_workbook_that_is_not_opened_says_why(read, name):
    make, message = REFUSED[name]
    with pytest.raises(FolderError) as raised:
        read({"probes.xlsx": make()}, HEAD)
    assert message in str(raised.value)


def test_a_long_text_shared_by_many_cells_is_refused(read, monkeypatch):
    book = workbook({"probes": [["probe_id", "location_id"], *[["P1", "x" * 30_000]] * 100]})
    assert read({"probes.xlsx": book}, HEAD).tables["probes"].rows == 100
    monkeypatch.setattr(workbook_guard, "TEXT_AT_MOST", 1 << 20)
    with pytest.raises(
        FolderError, match=r"the texts of a sheet's cells come to 3,0\d\d,\d\d\d bytes; at most 1,048,576"
    ):
        read({"probes.xlsx": book}, HEAD)


def test_macro_endings_are_refused_by_name(read):
    with pytest.raises(FolderError, match=r"lab\.xlsm: a workbook that may hold macros \('\.xlsm'\) is not opened"):
        read({"lab.xlsm": b"PK"}, HEAD + "tables: {probes: {file: lab.xlsm}}\n")


def test_a_text_file_over_the_limit_is_refused_before_it_is_read(read, monkeypatch):
    from vaporqa.intake import files

    monkeypatch.setattr(files, "TEXT_LIMIT", 40)
    with pytest.raises(FolderError) as raised:
        read({"probes.csv": "probe_id,location_id\n" + "P1,L1\n" * 10}, HEAD)
    assert "probes.csv: the file has 81 bytes; at most 40 are read; split it" in str(raised.value)


def parquet(columns: dict[str, pa.Array]) -> bytes:
    stream = io.BytesIO()
    pq.write_table(pa.table(columns), stream)
    return stream.getvalue()


def test_typed_columns_become_the_text_that_they_mean(read):
    utc = dt.datetime(2025, 6, 3, 10, 20, tzinfo=dt.UTC)
    columns = {
        "sample_id": pa.array([7, 8], pa.int64()),
        "started_at": pa.array([utc, None], pa.timestamp("ms", "America/Boise")),
        "ended_at": pa.array([dt.datetime(2025, 6, 3, 4, 20, 0, 500), dt.datetime(2025, 6, 3)], pa.timestamp("ns")),
        "received_at": pa.array([dt.date(2025, 6, 3), None]),
        "flow [mL/min]": pa.array([200.0, float("nan")]),
        "volume [L]": pa.array([Decimal("1.50"), Decimal("6.00")], pa.decimal128(10, 2)),
        "barometer [kPa]": pa.array([98.7, None], pa.float32()),
        "kind": pa.array(["primary", None]).dictionary_encode(),
        "crew": pa.array([True, False]),
        "container_id": pa.array([5.0, 5.5]),
        "laboratory": pa.nulls(2),
    }
    samples = read({"samples.parquet": parquet(columns)}, "time_zone: America/Boise\n").tables["samples"]
    cells = {header: samples.cells.column(header).to_pylist() for header in samples.cells.headers(0)}
    assert cells == {
        "sample_id": ["7", "8"],
        "started_at": ["2025-06-03 10:20:00Z", ""],
        "ended_at": ["2025-06-03 04:20:00.000500", "2025-06-03 00:00:00"],
        "received_at": ["2025-06-03", ""],
        "flow [mL/min]": ["200", ""],
        "volume [L]": ["1.5", "6"],
        "barometer [kPa]": ["98.7", ""],
        "kind": ["primary", ""],
        "crew": ["true", "false"],
        "container_id": ["5", "5.5"],
        "laboratory": ["", ""],
    }
    assert samples.line_of.tolist() == [2, 3]
    assert samples.frame()["started_at"][0].isoformat() == "2025-06-03T10:20:00+00:00"
    assert samples.frame()["ended_at"][0].isoformat() == "2025-06-03T10:20:00.000500+00:00"


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (
            parquet({"probe_id": pa.array(["P1"]), "location_id": pa.array([["a", "b"]])}),
            "probes.parquet:1:2: column 'location_id' is of type list<element: string>, which is no text, number",
        ),
        (b"PAR1 and no more", "probes.parquet: this is no Parquet file that can be read"),
        (b"version https://git-lfs.github.com/spec/v1\n", "probes.parquet: this is a large-file pointer"),
    ],
)
def test_a_parquet_file_that_is_not_read_says_why(read, content, message):
    with pytest.raises(FolderError) as raised:
        read({"probes.parquet": content}, HEAD)
    assert message in str(raised.value)


def test_a_parquet_file_that_unpacks_to_too_much_is_refused(read, monkeypatch):
    from vaporqa.intake import parquet_files

    packed = parquet({"probe_id": pa.array(["P1"] * 1000), "location_id": pa.array(["L1"] * 1000)})
    monkeypatch.setattr(parquet_files, "CELLS_AT_MOST", 1999)
    with pytest.raises(FolderError, match=r"and 2,000 cells; at most .* bytes and 1,999 cells are read; split it"):
        read({"probes.parquet": packed}, HEAD)
