"""The flags as Parquet and as a workbook say what the text files say, and no cell of theirs is ever run."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from python_calamine import CalamineWorkbook

import vaporqa
from vaporqa.errors import OutputError, UsageError
from vaporqa.report import flags_as
from vaporqa.report.flags_as import check_forms, parquet_file, workbook_file

SAMPLE = Path(__file__).parents[2] / "sample_inputs" / "cutbank-terminal"


@pytest.fixture(scope="module")
def checked() -> vaporqa.library.Checked:
    return vaporqa.check(SAMPLE)


def sheets(content: bytes) -> dict[str, list[list[object]]]:
    book = CalamineWorkbook.from_filelike(io.BytesIO(content))
    return {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}


def test_parquet_holds_what_the_frames_hold(checked):
    found = pq.read_table(pa.BufferReader(parquet_file(checked.review, "results", checked.report.sentences)))
    frame = checked.flags["results"]
    assert found.column_names == list(frame.columns)
    assert found["standing"].to_pylist() == frame["standing"].tolist()
    assert found["reasons"].to_pylist() == frame["reasons"].tolist()
    assert found.schema.field("final_value").type == pa.float64()
    value = np.array([np.nan if one is None else one for one in found["final_value"].to_pylist()])
    np.testing.assert_array_equal(value, frame["final_value"].to_numpy(float))
    assert found["final_detected"].to_pylist() == [
        None if one is pd.NA else bool(one) for one in frame["final_detected"]
    ]


def test_a_workbook_has_a_sheet_a_table_and_a_row_a_row(checked):
    found = sheets(workbook_file(checked.review, checked.report.sentences))
    assert list(found) == list(checked.flags)
    for name, frame in checked.flags.items():
        head, *rows = found[name]
        assert head == list(frame.columns)
        assert [str(row[0]) for row in rows] == frame["key"].tolist()
        assert [row[head.index("standing")] for row in rows] == frame["standing"].tolist()
    head, *rows = found["results"]
    place = head.index("final_value")
    numbers = [row[place] for row in rows]
    expected = ["" if np.isnan(one) else one for one in checked.flags["results"]["final_value"]]
    assert numbers == expected


def test_the_same_review_makes_the_same_bytes(checked):
    first = workbook_file(checked.review, checked.report.sentences)
    assert first == workbook_file(checked.review, checked.report.sentences)


def test_texts_that_look_like_formulas_links_or_numbers_stay_texts(tmp_path):
    notes = ["=1+1", "http://host.invalid/x", "007", "+2", "x" * 40_000, "a\x0bb"]
    (tmp_path / "project.yaml").write_text("project: P\ntime_zone: UTC\nlab_time_zone: UTC\n")
    rows = "".join(f"L{place},{note}\n" for place, note in enumerate(notes))
    (tmp_path / "locations.csv").write_text("location_id,note\n" + rows)
    checked = vaporqa.check(tmp_path)
    content = workbook_file(checked.review, checked.report.sentences)
    head, *cells = sheets(content)["locations"]
    said = [row[head.index("note")] for row in cells]
    assert said[:4] == notes[:4]
    assert said[4].startswith("xxx")
    assert said[4].endswith("(cut here; the text files hold the whole)")
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        sheet = package.read("xl/worksheets/sheet1.xml")
    assert b"<f>" not in sheet
    assert b"hyperlink" not in sheet
    assert b'topLeftCell="B2"' in sheet  # the header and the key stay in sight
    assert b"<autoFilter" in sheet


def test_a_table_longer_than_a_sheet_is_refused_with_the_way_out(checked, monkeypatch):
    monkeypatch.setattr(flags_as, "SHEET_ROWS", 10)
    with pytest.raises(OutputError) as fault:
        workbook_file(checked.review, checked.report.sentences)
    assert "a sheet holds 10 rows" in str(fault.value)
    assert "use --flags-as parquet, or the text files" in str(fault.value)


def test_a_missing_library_is_said_with_how_to_install_it(monkeypatch):
    monkeypatch.setattr(flags_as, "find_spec", lambda name: None)
    check_forms(["parquet"])
    with pytest.raises(UsageError) as fault:
        check_forms(["xlsx"])
    assert "install `vaporqa[xlsx]`" in str(fault.value)


def test_a_run_writes_them_and_the_next_run_without_takes_them_away(checked, tmp_path):
    out = checked.write(tmp_path / "run", flags_as=("parquet", "xlsx"))
    assert (out / "flags.xlsx").is_file()
    assert (out / "flags" / "results.parquet").is_file()
    checked.write(out)
    assert not (out / "flags.xlsx").exists()
    assert not list((out / "flags").glob("*.parquet"))
