"""One table as CSV, TSV, workbook and Parquet: whatever the file, the same typed table.

The excerpt is of the volatile organic compounds in groundwater of the Idaho National Laboratory, US Geological Survey,
as published in the R data package inldata 1.2.5 (tables `samples` and `parameters`; licence CC0).
"""

from __future__ import annotations

import csv
import io

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from vaporqa.intake import load_project, read_folder
from vaporqa.tables.values import EMPTY, READ, Table, Tables

Rows = list[list[str]]
FORMATS = ("csv", "tsv", "xlsx", "parquet")
HEADER = ["sample_id", "analyte", "result", "unit", "reporting_limit", "lab_flag", "analyzed_at", "detected"]


def written(rows: Rows, ending: str) -> bytes:
    """Return rows, the first of them the header, as text cells of a file format."""
    if ending in ("csv", "tsv"):
        text = io.StringIO(newline="")
        csv.writer(text, delimiter="," if ending == "csv" else "\t").writerows(rows)
        return text.getvalue().encode()
    stream = io.BytesIO()
    if ending == "parquet":
        columns = list(zip(*rows[1:], strict=True)) or [()] * len(rows[0])
        pq.write_table(
            pa.table({name: pa.array(cells, pa.string()) for name, cells in zip(rows[0], columns, strict=True)}), stream
        )
        return stream.getvalue()
    book = xlsxwriter.Workbook(stream, {"in_memory": True})
    sheet = book.add_worksheet("results")
    for at, row in enumerate(rows):
        for column, cell in enumerate(row):
            sheet.write_string(at, column, cell)
    book.close()
    return stream.getvalue()


def same(one: Table, other: Table) -> None:
    assert other.keys.tolist() == one.keys.tolist()
    assert other.line_of.tolist() == one.line_of.tolist()
    assert other.copy_of.tolist() == one.copy_of.tolist()
    assert list(other.columns) == list(one.columns)
    assert other.frame().equals(one.frame())
    for name, column in one.columns.items():
        assert column.state.tolist() == other.columns[name].state.tolist()


def readings(tables: Tables) -> list[tuple[object, ...]]:
    return [(r.rule, r.table, r.column, r.rows.tolist(), [str(text) for text in r.detail], r.whole)
            for r in tables.readings]  # fmt: skip


CELLS = st.tuples(
    st.sampled_from(["S1", "007", "S 2", "7", "µ"]),
    st.sampled_from(["Benzene", "1,1-Dichloroethene", "Toluene"]),
    st.sampled_from(["5", "<1.0", "ND", "1.2 J", "5 U", "0.1", "1e3", "I5", "", "-1", "5 X"]),
    st.sampled_from(["ug/m3", "ppbv", "", "ug/rn3"]),
    st.sampled_from(["1", "2 J", "", "x"]),
    st.sampled_from(["", "J", "JB", "Q", "U; J"]),
    st.sampled_from(["2025-06-03 10:20", "2025-06-03", "6/3/2025", "", "2025-11-02 01:30", "2025-06-03T10:20Z"]),
    st.sampled_from(["", "yes", "N", "maybe"]),
).map(list)
PROJECT = """\
time_zone: America/Boise
tables:
  results: {file: results.ENDING, lab_flags: {J: estimated, B: in_blank, U: nondetect}}
"""


@settings(max_examples=25, deadline=None)
@given(st.lists(CELLS, min_size=1, max_size=8))
def test_the_same_rows_give_the_same_table_whatever_the_file(tmp_path_factory, rows):
    found = {}
    for ending in FORMATS:
        folder = tmp_path_factory.mktemp(ending)
        (folder / "project.yaml").write_text(PROJECT.replace("ENDING", ending))
        (folder / f"results.{ending}").write_bytes(written([HEADER, *rows], ending))
        found[ending] = read_folder(folder, load_project(folder))
    one = found["csv"]
    for ending in FORMATS[1:]:
        same(one.tables["results"], found[ending].tables["results"])
        assert readings(found[ending]) == readings(one)


EXCERPT = [
    line.split("|")
    for line in """\
site_nm|sample_dt|parm_short_nm|unit_cd|remark_cd|result_va|rpt_lev_va|medium_cd|sample_type_cd|sample_id|casrn
USGS 119|1995-10-25 18:28:00|Ethylbenzene, wu|ug/L|<|0.2||WG|9|432945113023401WG199510251828|100-41-4
USGS 120|2001-07-12 19:00:00|THMs, wu, max sum|ug/L|<|1.09||WGQ|7|432919113031501WGQ200107121900|
USGS 77|2000-10-06 15:18:00|Chlorobenzene, wu|ug/L|<|0.2||WGQ|7|433315112560301WGQ200010061518|108-90-7
USGS 97|2021-05-12 14:58:00|1,1-Dichloroethene, wu|ug/L|<|0.188|0.188|WG|9|433807112551501WG202105121458|75-35-4
""".splitlines()
]
STRANGER = """\
project: A stranger's table
purpose: groundwater
time_zone: UTC
tables:
  results:
    - file: "*.ENDING"
      columns: {sample_id: sample_id, analyte: parm_short_nm, cas: casrn, result: result_va, unit: unit_cd,
                reporting_limit: rpt_lev_va, lab_flag: remark_cd, collected_at: sample_dt}
      lab_flags: {"<": nondetect, E: estimated}
  samples:
    - from: results
      columns: {sample_id: sample_id, ended_at: sample_dt, kind: sample_type_cd, matrix: medium_cd,
                location_id: site_nm}
      values: {kind: {"9": primary, "7": field_replicate, "2": field_blank}, matrix: {"*": water}}
"""


@pytest.mark.parametrize("ending", FORMATS)
def test_an_excerpt_of_a_published_table_is_read_by_its_mapping(read, ending):
    tables = read({f"voc.{ending}": written(EXCERPT, ending)}, STRANGER.replace("ENDING", ending))
    results, samples = tables.tables["results"], tables.tables["samples"]
    assert results.amount("result").nondetect.all()
    assert results.amount("result").written.tolist() == [0.2, 1.09, 0.2, 0.188]
    assert results.amount("reporting_limit").state.tolist() == [EMPTY, EMPTY, EMPTY, READ]
    assert results.keys.tolist()[1] == "432919113031501WGQ200107121900/THMs, wu, max sum"
    assert [samples.word("kind").at(row) for row in range(4)] == [
        "primary", "field_replicate", "field_replicate", "primary",
    ]  # fmt: skip
    assert {samples.word("matrix").at(row) for row in range(4)} == {"water"}
    assert samples.frame()["ended_at"][0].isoformat() == "1995-10-25T18:28:00+00:00"
    assert tables.readings == ()
