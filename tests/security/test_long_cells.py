"""Cells, headers and parts of workbooks that patterns might chew on for hours."""

from __future__ import annotations

import contextlib
import csv
import io
import time
import zipfile
from pathlib import Path

import pytest
import xlsxwriter

from vaporqa.analytes import cas_from_spreadsheet
from vaporqa.errors import VaporqaError
from vaporqa.intake import load_project, read_folder
from vaporqa.intake.headers import read_header
from vaporqa.quantities.units import parse_limit

SAMPLE = Path(__file__).parents[2] / "sample_inputs" / "larkspur-yard"
LONG = 60_000
FILLERS = (" ", ";", "1", "J ", "1,", " .", "< ", "1-", "2024-01-01 or ", "[", "U", "\u00a0")


def seconds(work) -> float:
    began = time.monotonic()
    with contextlib.suppress(VaporqaError, ValueError):
        work()
    return time.monotonic() - began


@pytest.mark.parametrize("filler", FILLERS)
def test_cells_of_any_column(tmp_path, filler):
    (tmp_path / "project.yaml").write_text((SAMPLE / "project.yaml").read_text())
    for table in ("results", "lab_qc", "purges", "samples"):
        head, *rows = list(csv.reader(io.StringIO((SAMPLE / f"{table}.csv").read_text())))[:3]
        for place, ends in enumerate((("1", "x"), ("", "!"))):
            rows[place] = [ends[0] + filler * (LONG // len(filler)) + ends[1]] * len(head)
        with (tmp_path / f"{table}.csv").open("w", newline="") as stream:
            csv.writer(stream).writerows([head, *rows])
    assert seconds(lambda: read_folder(tmp_path, load_project(tmp_path))) < 10


@pytest.mark.parametrize("filler", FILLERS)
def test_headers_numbers_and_dates(filler):
    for first, last in (("1", "x"), ("a", "]"), ("2024-01-01", "!"), ("", "\n!")):
        text = first + filler * (LONG // len(filler)) + last
        assert seconds(lambda text=text: read_header(text, 1)) < 2
        assert seconds(lambda text=text: parse_limit(text)) < 2
        assert seconds(lambda text=text: cas_from_spreadsheet(text)) < 2


@pytest.mark.parametrize(
    ("part", "old", "new"),
    [
        ("xl/workbook.xml", b"<sheets>", b"<sheet " * 120_000 + b"<sheets>"),
        ("xl/workbook.xml", b"<sheets>", b"<sheet " + b"a" * 900_000 + b"><sheets>"),
        ("xl/_rels/workbook.xml.rels", b"<Relationship ", b"<Relationship " * 60_000),
        ("xl/worksheets/sheet1.xml", b"<sheetData>", b"<sheetData><f/>" + b"<c >" * 250_000),
        ("xl/worksheets/sheet1.xml", b"<sheetData>", b"<sheetData><f/>" + b"<c " * 300_000),
        ("xl/worksheets/sheet1.xml", b"<sheetData>", b'<sheetData><c r="A9">' + b"<f " * 300_000 + b"</c>"),
    ],
)
def test_parts_of_a_workbook_with_tags_that_never_close(tmp_path, part, old, new):
    first, last = io.BytesIO(), tmp_path / "locations.xlsx"
    with xlsxwriter.Workbook(first, {"in_memory": True}) as book:
        book.add_worksheet("locations").write_row(0, 0, ["location_id", "note"])
    with zipfile.ZipFile(first) as before, zipfile.ZipFile(last, "w", zipfile.ZIP_DEFLATED) as after:
        for name in before.namelist():
            content = before.read(name)
            assert name != part or old in content
            after.writestr(name, content.replace(old, new, 1) if name == part else content)
    (tmp_path / "project.yaml").write_text((SAMPLE / "project.yaml").read_text())
    assert seconds(lambda: read_folder(tmp_path, load_project(tmp_path))) < 10
