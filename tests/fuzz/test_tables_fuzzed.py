"""Tables of any bytes: read, or refused with a place; never a fault, never long."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import xlsxwriter
from hostile import anything, many, mutated, survives
from hypothesis import given
from hypothesis import strategies as st

from vaporqa.intake import load_project, read_folder

SAMPLES = Path(__file__).parents[2] / "sample_inputs"
PROJECT = "project: Larkspur Yard\ntime_zone: America/Boise\nlab_time_zone: America/Chicago\n"
_LARKSPUR = SAMPLES / "larkspur-yard"
TEXTS = {
    name: b"".join((_LARKSPUR / f"{name}.csv").read_bytes().splitlines(keepends=True)[:6])
    for name in ("results", "samples", "purges", "tracer_tests", "instrument_checks")
}


def rows(name: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(TEXTS[name].decode())))


def workbook(name: str = "results") -> bytes:
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True}) as book:
        sheet = book.add_worksheet(name)
        for place, row in enumerate(rows(name)):
            sheet.write_row(place, 0, row)
        sheet.write_formula(3, 3, "=1/0")
        sheet.write_datetime(4, 4, dt.datetime(2024, 5, 1), book.add_format({"num_format": "hh:mm"}))
    return stream.getvalue()


def unpacked_workbook() -> bytes:
    """The same with its parts stored as they are, so that an edit lands in XML and not in packed bytes."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook())) as old, zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as new:
        for info in old.infolist():
            new.writestr(info.filename, old.read(info))
    return stream.getvalue()


def repacked(data: bytes, part: str, content: bytes) -> bytes:
    """A workbook with another content of one part, its sums right."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new:
        for info in old.infolist():
            new.writestr(info.filename, content if info.filename == part else old.read(info))
    return stream.getvalue()


def parquet() -> bytes:
    stream = io.BytesIO()
    head, *body = rows("results")
    columns = {name: pa.array(list(cells)) for name, cells in zip(head, zip(*body, strict=True), strict=True)}
    pq.write_table(pa.table(columns), stream, compression="none")
    return stream.getvalue()


BOOK, PLAIN_BOOK, PARQUET = workbook(), unpacked_workbook(), parquet()
PARTS = (
    "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml",
    "xl/styles.xml",
)  # fmt: skip


def reads(folder: Path, name: str, data: bytes, project: str = PROJECT) -> None:
    folder.mkdir(exist_ok=True)
    for old in folder.iterdir():
        old.unlink()
    (folder / "project.yaml").write_text(project, encoding="utf-8")
    (folder / name).write_bytes(data)
    tables = survives(lambda: read_folder(folder, load_project(folder)))
    if tables is not None:
        for table in tables.tables.values():
            assert len(table.keys) == table.rows


@many(120)
@given(
    name=st.sampled_from([*TEXTS, "analyte_names", "probes"]), data=anything(), ending=st.sampled_from(["csv", "tsv"])
)
def test_any_bytes_as_text(tmp_path, name, data, ending):
    reads(tmp_path / "f", f"{name}.{ending}", data)


@many(120)
@given(pick=st.sampled_from(list(TEXTS)).flatmap(lambda name: st.tuples(st.just(name), mutated([TEXTS[name]], True))))
def test_text_that_was_mangled(tmp_path, pick):
    reads(tmp_path / "f", f"{pick[0]}.csv", pick[1])


@many(40)
@given(data=st.one_of(mutated([BOOK, PLAIN_BOOK]), anything().map(lambda more: b"PK\x03\x04" + more)))
def test_workbooks_of_other_bytes(tmp_path, data):
    reads(tmp_path / "f", "results.xlsx", data)


@many(60)
@given(part=st.sampled_from(PARTS), data=st.data())
def test_workbooks_whose_parts_were_mangled(tmp_path, part, data):
    with zipfile.ZipFile(io.BytesIO(BOOK)) as package:
        content = package.read(part)
    reads(tmp_path / "f", "results.xlsx", repacked(BOOK, part, data.draw(mutated([content]))))


@many(60)
@given(data=st.one_of(mutated([PARQUET]), anything().map(lambda more: b"PAR1" + more + b"PAR1")))
def test_parquet_of_other_bytes(tmp_path, data):
    reads(tmp_path / "f", "results.parquet", data)
