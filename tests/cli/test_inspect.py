"""``vaporqa inspect``: what it refuses, what its draft asks, and a draft answered by a person that then reads right."""

from __future__ import annotations

import datetime as dt
import io
import subprocess
import sys
import zipfile
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import xlsxwriter
import yaml

import vaporqa.cli as cli
from vaporqa.errors import FolderError
from vaporqa.intake import inspect_files, load_project, read_folder
from vaporqa.intake.inspection import inspect_file
from vaporqa.tables.values import EMPTY, READ, Table

PROJECT = "project: Larkspur Yard\ntime_zone: America/Boise\nlab_time_zone: America/Chicago\n"

#: A laboratory's table as a spreadsheet left it: preamble, units row, repeated header, decimal commas, flags stuck to
#: numbers, a CAS number turned into a date (vinyl chloride is 75-01-4), a surrogate among the targets, a footer.
UGLY = """\
Laboratory A,,,,,,,,,,
Report 2291,,,,,,,,,,
,,,,,,,,,,
Client ID,Compound,CAS No.,Result (ug/m3),Qual,PQL,Date Sampled,Date Analyzed,Time Analyzed,Matrix,Dilution Factor
,,,,,ug/m3,,,,,
SV-1,Vinyl chloride,2075-01-04,"1,5",,"0,5",03/06/2025 10:20,13/06/2025,14:20,Soil vapor,1
SV-1,Benzene,71-43-2,"2,5 J",,"0,5",03/06/2025 10:20,13/06/2025,14:20,Soil vapor,1
Client ID,Compound,CAS No.,Result (ug/m3),Qual,PQL,Date Sampled,Date Analyzed,Time Analyzed,Matrix,Dilution Factor
SV-2,Vinyl chloride,2075-01-04,"<0,5",U,"0,5",04/06/2025 10:20,13/06/2025,15:20,Soil vapor,1
SV-2,Benzene,71-43-2,ND,U,"0,5",04/06/2025 10:20,13/06/2025,15:20,Soil vapor,1
SV-2,4-Bromofluorobenzene,460-00-4,98,,,04/06/2025 10:20,13/06/2025,15:20,Soil vapor,1
* ND not detected,,,,,,,,,,
"""


def drafted(tmp_path: Path, name: str, *options: str) -> str:
    """Run inspect on a file of the folder and return the draft that it wrote."""
    draft = tmp_path / "draft.yaml"
    draft.unlink(missing_ok=True)
    assert cli.run(["inspect", str(tmp_path / name), "--out", str(draft), *options]) == 0
    return draft.read_text(encoding="utf-8")


def answered(draft: str, answers: Mapping[str, str]) -> str:
    """Put a person's answers into a draft; each question must be there."""
    for question, answer in answers.items():
        assert question in draft, question
        draft = draft.replace(question, answer)
    return draft


def read(tmp_path: Path, draft: str) -> Mapping[str, Table]:
    (tmp_path / "project.yaml").write_text(PROJECT + draft, encoding="utf-8")
    return read_folder(tmp_path, load_project(tmp_path)).tables


def utc(table: Table, column: str, row: int) -> dt.datetime:
    time = table.time(column)
    assert time is not None
    return dt.datetime(1970, 1, 1) + dt.timedelta(microseconds=int(time.low[row]))


def test_a_draft_does_not_run_unread(tmp_path: Path) -> None:
    (tmp_path / "lab.csv").write_text(UGLY, encoding="utf-8")
    draft = drafted(tmp_path, "lab.csv")
    with pytest.raises(FolderError) as stopped:
        read(tmp_path, draft)
    lines = (PROJECT + draft).splitlines()
    assert len(stopped.value.problems) == 7
    for problem in stopped.value.problems:
        assert problem.message.startswith("not answered yet: '? ")
        assert lines[problem.line - 1][problem.column - 1 :].startswith('"? ')


def test_an_answered_draft_reads_what_the_laboratory_wrote(tmp_path: Path) -> None:
    (tmp_path / "lab.csv").write_text(UGLY, encoding="utf-8")
    draft = answered(
        drafted(tmp_path, "lab.csv"),
        {
            '"? 12"': "12",
            '"? %m/%d/%Y %H:%M or %d/%m/%Y %H:%M"': '"%d/%m/%Y %H:%M"',
            '"? below_reporting_limit"': "estimated",
            '"? nondetect"': "nondetect",
            '"? 4-Bromofluorobenzene"': "4-Bromofluorobenzene",
            '"? the kind of every sample"': "primary",
        },
    )
    assert "? " not in "\n".join(line.partition("  # ")[0] for line in draft.splitlines() if line[:1] != "#")
    results = read(tmp_path, draft)["results"]
    assert results.line_of.tolist() == [6, 7, 9, 10, 11]
    cas, amount, limit = results.text("cas"), results.amount("result"), results.amount("reporting_limit")
    assert cas is not None and amount is not None and limit is not None
    assert [cas.at(row) for row in range(5)] == ["75-01-4", "71-43-2", "75-01-4", "71-43-2", "460-00-4"]
    assert amount.values[:2].tolist() == [1.5, 2.5]
    assert amount.nondetect[:4].tolist() == [False, False, True, True]
    assert amount.values[2] == 0.5
    assert amount.unit_at(0) == "ug/m3"
    assert limit.values[:4].tolist() == [0.5] * 4
    assert limit.state.tolist() == [READ] * 4 + [EMPTY]
    # Boise is 6 h behind UTC in June, Chicago 5 h: 10:20 and 14:20 there.
    assert utc(results, "collected_at", 0) == dt.datetime(2025, 6, 3, 16, 20)
    assert utc(results, "analyzed_at", 0) == dt.datetime(2025, 6, 13, 19, 20)
    kind = results.word("kind")
    assert kind is not None
    assert [kind.at(row) for row in range(5)][-1] == "surrogate"
    samples = read(tmp_path, draft)["samples"]
    matrix = samples.word("matrix")
    assert matrix is not None
    assert samples.keys.tolist() == ["SV-1", "SV-2"]
    assert [matrix.at(row) for row in range(2)] == ["soil_gas", "soil_gas"]
    assert utc(samples, "ended_at", 1) == dt.datetime(2025, 6, 4, 16, 20)
    assert cli.run(["check", str(tmp_path), "--fail-on", "never"]) == 0


def test_order_of_day_and_month_is_asked_only_where_both_read_every_cell(tmp_path: Path) -> None:
    (tmp_path / "lab.csv").write_text(UGLY, encoding="utf-8")
    draft = yaml.safe_load(drafted(tmp_path, "lab.csv"))["tables"]["results"][0]
    assert draft["formats"]["collected_at"] == "? %m/%d/%Y %H:%M or %d/%m/%Y %H:%M"
    assert draft["formats"]["analyzed_at"] == "%d/%m/%Y %H:%M"
    assert draft["columns"]["analyzed_at"] == ["Date Analyzed", "Time Analyzed"]
    assert draft["units"] == {"result": "ug/m3", "reporting_limit": "ug/m3"}
    assert (draft["header_row"], draft["skip_rows"], draft["decimal"]) == (4, [5, "? 12"], ",")


#: Volatile organic compounds in groundwater, Idaho National Laboratory: U.S. Geological Survey, as published in the R
#: data package inldata 1.2.5 (CC0). Four of 5,958 rows, and of 20 columns those that name no place and no laboratory.
GROUNDWATER = """\
sample_dt,parm_short_nm,unit_cd,remark_cd,result_va,rpt_lev_va,rpt_lev_cd,medium_cd,meth_cd,\
sample_type_cd,sample_id,anl_dt,casrn
1995-10-25 18:28:00,"Ethylbenzene, wu",ug/L,<,0.2,,,WG,GCM68,9,432945113023401WG199510251828,,100-41-4
2021-05-12 14:58:00,"1,1-Dichloroethene, wu",ug/L,<,0.188,0.188,MRL,WG,GCM20,9,433807112551501WG202105121458,,75-35-4
2010-04-20 19:49:00,"4-Chlorotoluene, wu",ug/L,<,0.2,0.2,MRL,WGQ,GCM68,7,\
433322112564301WGQ201004201949,2010-04-29 06:00:00,106-43-4
2013-04-17 17:28:00,"Toluene, wu",ug/L,,0.3344,0.1,MRL,WG,GCM67,9,433013113024201WG201304171728,\
2013-04-24 06:00:00,108-88-3
"""


def test_a_published_table_of_groundwater(tmp_path: Path) -> None:
    (tmp_path / "voc.csv").write_text(GROUNDWATER, encoding="utf-8")
    draft = answered(
        drafted(tmp_path, "voc.csv", "--table", "results"),
        {
            '"? meth_cd"': "meth_cd",
            '"? parm_short_nm"': "parm_short_nm",
            '"? result_va"': "result_va",
            '"? rpt_lev_va"': "rpt_lev_va",
            '"? nondetect"': "nondetect",
            '"9": "? its meaning"': '"9": primary',
            '"7": "? its meaning"': '"7": field_replicate',
            'WG: "? water"': "WG: water",
            'WGQ: "? its meaning"': "WGQ: water",
        },
    )
    results = read(tmp_path, draft)["results"]
    amount = results.amount("result")
    assert amount is not None
    # README of the source: "<" in remark_cd says below the value shown; no remark, as measured.
    assert amount.nondetect.tolist() == [True, True, True, False]
    assert amount.written.tolist() == [0.2, 0.188, 0.2, 0.3344]
    assert amount.unit_at(3) == "ug/L"
    limit = results.amount("reporting_limit")
    assert limit is not None
    assert limit.state.tolist() == [EMPTY, READ, READ, READ]


def test_units_are_never_assumed(tmp_path: Path) -> None:
    (tmp_path / "form.csv").write_text("Sample ID,Purge Volume,Flow Rate,Start\nS1,300,200,2025-06-03 10:00\n")
    entry = yaml.safe_load(drafted(tmp_path, "form.csv", "--table", "purges"))["tables"]["purges"][0]
    assert entry["units"] == {"flow": "? unit of 'Flow Rate'", "volume": "? unit of 'Purge Volume'"}


@pytest.mark.parametrize(
    ("header", "unit"),
    [
        ("Result (ug/m3)", "ug/m3"), ("Result [ug/m3]", "ug/m3"), ("ug_m3_result", "ug/m3"), ("Result ppbv", "ppbv"),
        ("Result (ppb)", "? ppbv or ug/kg or ug/L"), ("Result (in)", "? a unit of amount"),
    ],
)  # fmt: skip
def test_units_in_headers(tmp_path: Path, header: str, unit: str) -> None:
    (tmp_path / "lab.csv").write_text(f"Client ID,Compound,{header}\nS1,Benzene,1.5\nS2,Toluene,2\n")
    entry = yaml.safe_load(drafted(tmp_path, "lab.csv"))["tables"]["results"][0]
    assert entry["columns"]["result"] == header
    assert entry["units"]["result"] == unit


def test_results_by_mass_and_by_volume(tmp_path: Path) -> None:
    (tmp_path / "lab.csv").write_text(
        "sample_id,parameter,ppbv_result,ppbv_rl,ug_m3_result,ug_m3_rl\nS1,Benzene,ND,0.2,ND,0.64\n"
        "S1,Toluene,1,0.2,3.77,0.75\n"
    )
    draft = drafted(tmp_path, "lab.csv")
    entry = yaml.safe_load(draft)["tables"]["results"][0]
    assert entry["columns"]["result_mass"] == "ug_m3_result"
    assert entry["units"]["reporting_limit_volume"] == "ppbv"
    kinds = {'"? the kind of every sample"': "primary", '"? the matrix of every sample"': "soil_gas"}
    amount = read(tmp_path, answered(draft, kinds))["results"].amount("result_mass")
    assert amount is not None
    assert amount.nondetect.tolist() == [True, False]


def test_one_date_serves_two_times_of_day(tmp_path: Path) -> None:
    (tmp_path / "form.csv").write_text(
        "Sample ID,Probe ID,Date,Start Time,End Time\nS1,P1,6/13/2025,0930,0940\nS2,P2,6/14/2025,1030,1045\n"
    )
    draft = drafted(tmp_path, "form.csv")
    entry = yaml.safe_load(draft)["tables"]["samples"][0]
    assert entry["columns"]["started_at"] == ["? Date", "? Start Time"]
    assert entry["formats"] == {"started_at": "%m/%d/%Y %H%M", "ended_at": "%m/%d/%Y %H%M"}
    answers = {'"? Date"': "Date", '"? Start Time"': "Start Time", '"? End Time"': "End Time"}
    samples = read(tmp_path, answered(draft, answers))["samples"]
    # Boise is 6 h behind UTC in June.
    assert utc(samples, "started_at", 0) == dt.datetime(2025, 6, 13, 15, 30)
    assert utc(samples, "ended_at", 1) == dt.datetime(2025, 6, 14, 16, 45)


def test_analytes_as_headings_become_rows(tmp_path: Path) -> None:
    (tmp_path / "lab.csv").write_text(
        "Client ID,Date Sampled,Benzene (ug/m3),Toluene (ug/m3),Vinyl chloride (ug/m3)\n"
        "S1,2025-06-03,1.5,ND,<0.5\nS2,2025-06-03,2.5,3 J,\n"
    )
    answers = {
        '"? the kind of every sample"': "primary",
        '"? the matrix of every sample"': "soil_gas",
        '"? below_reporting_limit"': "estimated",
    }
    results = read(tmp_path, answered(drafted(tmp_path, "lab.csv"), answers))["results"]
    analyte, amount = results.text("analyte"), results.amount("result")
    assert analyte is not None and amount is not None
    found = [
        (analyte.at(row), amount.unit_at(row), bool(amount.nondetect[row]), float(amount.values[row]))
        for row in range(results.rows)
    ]
    assert [(name, unit, nondetect) for name, unit, nondetect, _ in found] == [
        ("Benzene", "ug/m3", False), ("Toluene", "ug/m3", True), ("Vinyl chloride", "ug/m3", True),
        ("Benzene", "ug/m3", False), ("Toluene", "ug/m3", False),
    ]  # fmt: skip
    assert [found[row][3] for row in (0, 2, 3, 4)] == [1.5, 0.5, 2.5, 3.0]


def test_a_sample_name_that_needs_another_part(tmp_path: Path) -> None:
    rows = [f"{site},SV-{number},Benzene,{number}.5,ug/m3" for site in ("Yard A", "Yard B") for number in (1, 2, 3)]
    (tmp_path / "lab.csv").write_text("Site,Sample ID,Compound,Result,Units\n" + "\n".join(rows) + "\n")
    entry = yaml.safe_load(drafted(tmp_path, "lab.csv"))["tables"]["results"][0]
    assert entry["columns"]["sample_id"] == ["? Site", "Sample ID"]


def workbook(sheets: Mapping[str, list[list[object]]]) -> bytes:
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream, {"in_memory": True})
    stamp = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    for name, rows in sheets.items():
        sheet = book.add_worksheet(name)
        for at, row in enumerate(rows):
            for column, cell in enumerate(row):
                if isinstance(cell, dt.datetime):
                    sheet.write_datetime(at, column, cell, stamp)
                else:
                    sheet.write(at, column, cell)
    book.close()
    return stream.getvalue()


def test_a_workbook_with_a_cover_sheet(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    head = ["Sample ID", "Probe", "Start Time", "Depth", "Initial Vacuum (inHg)"]
    rows: list[list[object]] = [["Form 7"], [], head, ["S1", "P1", dt.datetime(2025, 6, 3, 10, 20), 5, 29.5],
                                ["S2", "P2", 45811.5, 6, 29]]  # fmt: skip
    (tmp_path / "form.xlsx").write_bytes(workbook({"Cover": [["Hello"]], "Data": rows}))
    draft = drafted(tmp_path, "form.xlsx", "--table", "samples")
    said = capfd.readouterr().out
    assert "sheet 'Cover': 1 rows, 1 columns" in said
    assert "sheet 'Data': 5 rows, 5 columns  <- looked at" in said
    assert "other sheets were not looked at: 'Cover'; run again with --sheet" in said
    assert yaml.safe_load(draft)["tables"]["samples"][0]["sheet"] == "Data"
    samples = read(tmp_path, draft)["samples"]
    vacuum = samples.number("vacuum_start")
    assert vacuum is not None
    # One inch of conventional mercury is 3.386389 kPa (NIST SP 811).
    assert vacuum.values == pytest.approx([29.5 * 3.386389, 29 * 3.386389])
    # Day 45811 of a workbook's calendar is 2025-06-03; noon is half a day.
    assert utc(samples, "started_at", 1) == dt.datetime(2025, 6, 3, 18, 0)


def test_parquet(tmp_path: Path) -> None:
    table = pa.table({"Client ID": ["S1", "S2"], "Compound": ["Benzene", "Toluene"], "Result": [1.5, 2.0],
                      "Units": ["ug/m3", "ug/m3"]})  # fmt: skip
    pq.write_table(table, tmp_path / "lab.parquet")
    entry = yaml.safe_load(drafted(tmp_path, "lab.parquet"))["tables"]["results"][0]
    assert "header_row" not in entry
    assert entry["columns"]["result"] == "Result"


def test_a_table_of_limits_is_asked_about_and_is_no_table_of_levels(tmp_path: Path) -> None:
    """Blanks with a number, a name, a limit and a unit look like levels: such a draft may not run unread."""
    (tmp_path / "qc.csv").write_text(
        "Blank,Batch,CAS,Compound,Limit,Units\nMB-1,V1,71-43-2,Benzene,0.5,ug/m3\n", encoding="utf-8"
    )
    draft = drafted(tmp_path, "qc.csv")
    assert 'limit: "? Limit"' in draft or 'level: "? Limit"' in draft
    with pytest.raises(FolderError, match=r"Limit"):
        read(tmp_path, draft)


def test_the_comma_that_is_asked_about_is_shown(tmp_path: Path) -> None:
    cells = ["ND", "0.021", "0.088", "0.5", "0.7", "1,034"]
    rows = "".join(f'S{at},Benzene,"{cell}",ug/L\n' for at, cell in enumerate(cells))
    (tmp_path / "lab.csv").write_text("Sample,Compound,Result,Unit\n" + rows, encoding="utf-8")
    [line] = [one for one in drafted(tmp_path, "lab.csv").splitlines() if "decimal:" in one]
    assert "such as 'ND'" not in line
    assert "1 cells have a comma and 4 a point" in line


def test_the_screen_is_yaml_whose_facts_are_comments(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "lab.csv").write_text(UGLY, encoding="utf-8")
    assert cli.run(["inspect", str(tmp_path / "lab.csv")]) == 0
    said = capfd.readouterr().out
    assert yaml.safe_load(said)["tables"]["results"][0]["file"] == "lab.csv"
    for words in (
        "# Header: row 4",
        "row 4: 11 of 11 cells filled, 10 are headings that the trade uses, 7 stand over numbers or dates",
        "above it, row 1: Laboratory A",
        "row 5 under it names units",
        "the header stands again in line 8; set aside",
        "at the end, hardly a cell filled: row 12",
        "day and month cannot be told apart: '03/06/2025 10:20' is 2025-03-06 10:20:00 or 2025-06-03 10:20:00",
        "CAS numbers that a spreadsheet turned into dates: '2075-01-04' was 75-01-4",
        "flags stuck to numbers: 'J' 1",
        "decimal commas: 3 cells",
        "What still needs you:",
    ):
        assert words in said, words


def test_hostile_cells_steer_no_screen_and_break_no_draft(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    bad = "\x1b[31m\u202eevil: [x] # \u2028"
    text = f'"Client ID","{bad}",Compound,Result,Units,Qual\nS1,{bad},Benzene,1,ug/m3,"J""\n  x: 1"\n'
    (tmp_path / "lab.csv").write_text(text, encoding="utf-8")
    assert cli.run(["inspect", str(tmp_path / "lab.csv")]) == 0
    said = capfd.readouterr().out
    assert not set(said) & {"\x1b", "\u202e", "\u2028"}
    flags = yaml.safe_load(said)["tables"]["results"][0]["lab_flags"]
    assert all(meaning.startswith("? ") for meaning in flags.values())


def refused(tmp_path: Path, capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert cli.run(["inspect", *arguments]) == 2
    out = capsys.readouterr()
    assert not out.out
    return out.err.replace(str(tmp_path) + "/", "")


def packed(parts: Mapping[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as package:
        for name, data in parts.items():
            package.writestr(name, data)
    return stream.getvalue()


def random_bytes() -> bytes:
    return np.random.default_rng(1).integers(1, 256, 5_000, dtype=np.uint8).tobytes()


BAD: dict[str, tuple[str, bytes, str]] = {
    "empty": ("lab.csv", b"", "lab.csv: the file is empty; write a header line, or remove the file\n"),
    "blank": ("lab.csv", b"\n \n\n", "lab.csv: the file is empty; write a header line, or remove the file\n"),
    "commas only": ("lab.csv", b",,\n,,\n", "lab.csv: the file holds no cell with content; write a header line\n"),
    "binary": ("lab.csv", b"\x81" + random_bytes(), ("lab.csv:1:1: the file is neither UTF-8 nor Windows-1252 text "
               "(byte 0x81); save it as UTF-8\n")),
    "NUL bytes": ("lab.csv", b"a,b\n1,\0\n", "lab.csv: the file is no text: a NUL byte stands at byte 7; "),
    "a workbook called csv": ("lab.csv", packed({"a": b""}), "lab.csv: this is a workbook or archive, not the text"),
    "semicolons": (
        "lab.csv",
        b"Client ID;Result\nS1;1,5\n",
        ("lab.csv:1:1: the cells are separated by semicolons, and a .csv file is read with commas; save it with commas "
        "(a number with a decimal comma in quotation marks), or with tabs as .tsv\n"),
    ),
    "tabs": ("lab.csv", b"a\tb\n1\t2\n", ("lab.csv:1:1: the cells are separated by tabs, and a .csv file is read with "
             "commas; rename it to .tsv\n")),
    "ragged": ("lab.csv", b"a,b\n1,2,3\n", "lab.csv:2:3: the row has 3 cells and the header 2; quote a cell"),
    "open quote": ("lab.csv", b'a,b\n1,"2\n', "lab.csv:2:1: a quotation mark that opens in this record"),
    "open quote in the header": ("lab.csv", b'a,"b\n' + b"1,2\n" * 40_000, ("lab.csv: a cell has more than 131,072 "
                                 "characters; close the quotation mark that opens in it\n")),
    "text file": ("lab.txt", b"a", ("lab.txt: a file with the ending '.txt' is not read; save the table as one of "
                  ".csv, .tsv, .xlsx, .parquet\n")),
    "no ending": ("lab", b"a", "lab: a file without an ending is not read; save the table as one of .csv, .tsv"),
    "macros by name": ("lab.xlsm", b"PK", "lab.xlsm: a workbook with macros is not opened; save it as .xlsx without"),
    "macros inside": ("lab.xlsx", packed({"xl/workbook.xml": b"<x/>", "xl/vbaProject.bin": b"x"}),
                      "lab.xlsx: the workbook holds macros, and none is opened; save it as .xlsx without macros"),
    "password": ("lab.xlsx", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "EncryptedPackage".encode("utf-16-le"),
                 "lab.xlsx: the workbook is protected by a password; save it without a password\n"),
    "bomb": ("lab.xlsx", packed({"xl/workbook.xml": b"<x/>", "xl/worksheets/sheet1.xml": b"0" * (100 << 20)}),
             "lab.xlsx: the workbook unpacks to 1,0"),
    "no workbook": ("lab.xlsx", b"hello", "lab.xlsx: this is no workbook: it cannot be opened as a package of sheets"),
    "empty workbook": ("lab.xlsx", b"", "lab.xlsx: the file is empty; save the workbook again, or remove it\n"),
    "no parquet": ("lab.parquet", b"hello", "lab.parquet: this is no Parquet file that can be read ("),
    "pointer": ("lab.csv", b"version https://git-lfs.github.com/spec/v1\noid sha256:0\n",
                "lab.csv: this is a large-file pointer that stands in for the table"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_files_that_are_no_tables(case: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    name, data, message = BAD[case]
    (tmp_path / name).write_bytes(data)
    told = refused(tmp_path, capsys, str(tmp_path / name))
    assert told.startswith(message), told


def test_calls_that_name_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "lab.csv").write_text(UGLY, encoding="utf-8")
    (tmp_path / "lab.xlsx").write_bytes(workbook({"Cover": [["Hello"]], "Data": [["a", "b"]]}))
    lab = str(tmp_path / "lab.csv")
    assert refused(tmp_path, capsys, str(tmp_path / "lap.csv")) == (
        "lap.csv: there is no such file; did you mean 'lab.csv'?\n"
    )
    assert refused(tmp_path, capsys, str(tmp_path)).endswith(
        "this is a folder; name one file in it: lab.csv, lab.xlsx\n"
    )
    assert refused(tmp_path, capsys, lab, "--table", "result") == (
        "vaporqa: there is no table 'result'; did you mean 'results'?\n"
    )
    assert refused(tmp_path, capsys, lab, "--sheet", "Data") == (
        "lab.csv: this is no workbook and has no sheet 'Data'; leave it out\n"
    )
    assert refused(tmp_path, capsys, str(tmp_path / "lab.xlsx"), "--sheet", "Dat") == (
        "lab.xlsx: the workbook has no sheet 'Dat'; did you mean 'Data'?\n"
    )
    assert refused(tmp_path, capsys, lab, "--header-row", "3") == (
        "lab.csv: row 3 is empty, or it is not among the first 12 rows of the file; name the physical row of the "
        "column names\n"
    )
    assert refused(tmp_path, capsys, lab, "--out", lab) == "lab.csv: the file is there already; name a new one\n"
    assert (tmp_path / "lab.csv").read_text(encoding="utf-8") == UGLY
    assert refused(tmp_path, capsys, lab, "--out", str(tmp_path / "no" / "draft.yaml")).startswith(
        "no/draft.yaml: the draft cannot be written ("
    )


def test_two_headers_that_are_the_same_are_named(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "lab.csv").write_text("Client ID,Result,Result\nS1,1,2\n")
    assert cli.run(["inspect", str(tmp_path / "lab.csv"), "--table", "results"]) == 0
    said = capfd.readouterr().out
    assert "row 1, field 3: two headers are the same: 'Result' in fields 2 and 3; rename one of them" in said


def test_two_thousand_columns(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    lines = [",".join(f"c{at}" for at in range(2_000)), *[",".join(["1.5"] * 2_000)] * 20]
    (tmp_path / "wide.csv").write_text("\n".join(lines) + "\n")
    assert cli.run(["inspect", str(tmp_path / "wide.csv")]) == 0
    said = capfd.readouterr().out
    assert "20 records of 2,000 columns under the header" in said
    assert "and 1,700 more columns that were not looked at" in said
    assert "hardly a heading is known, and the table is a guess: name it with --table" in said
    assert len(said.splitlines()) < 1_200


def test_only_the_first_rows_of_a_large_file(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(inspect_files, "ROWS_AT_MOST", 50)
    monkeypatch.setattr(inspect_files, "_CHUNK", 700)
    # The fiftieth line lies inside a quoted cell: the record that it cuts is left aside.
    rows = [f'S{at},Benzene,1.5,ug/m3,"a\nb"' for at in range(200)]
    (tmp_path / "lab.csv").write_text("Client ID,Compound,Result,Units,Note\n" + "\n".join(rows) + "\n")
    found = inspect_file(tmp_path / "lab.csv")
    assert found.opened.sampled
    assert len(found.file.lines) == 24
    assert not found.problems
    assert cli.run(["inspect", str(tmp_path / "lab.csv")]) == 0
    assert "footers and rare texts there are not seen" in capfd.readouterr().out


def test_a_large_file_in_utf_16(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(inspect_files, "ROWS_AT_MOST", 50)
    monkeypatch.setattr(inspect_files, "_CHUNK", 700)
    text = "Client ID,Compound,Result (ug/m3)\r\n" + "S1,Benzène,1.5\r\n" * 200
    (tmp_path / "lab.csv").write_bytes(text.encode("utf-16"))
    found = inspect_file(tmp_path / "lab.csv")
    assert found.opened.sampled
    assert "UTF-16" in found.opened.facts
    assert found.facts[0].header.text == "Client ID"
    assert 20 < len(found.file.lines) < 50


def test_codes_are_asked_and_phrases_are_not(tmp_path: Path) -> None:
    (tmp_path / "lab.csv").write_text("Sample,Matrix\nS1,Soil vapor\nS2,SV\nS3,Vapor\nS4,soil_gas\nS5,Smoke\n")
    entry = yaml.safe_load(drafted(tmp_path, "lab.csv", "--table", "samples"))["tables"]["samples"][0]
    assert entry["values"]["matrix"] == {
        "Soil vapor": "soil_gas", "SV": "? soil_gas", "Vapor": "? soil_gas", "Smoke": "? its meaning",
    }  # fmt: skip


def test_a_file_inside_a_project_is_named_from_there(tmp_path: Path) -> None:
    (tmp_path / "project.yaml").write_text(PROJECT)
    (tmp_path / "deliverables").mkdir()
    (tmp_path / "deliverables" / "lab.csv").write_text("Client ID,Compound,Result (ug/m3)\nS1,Benzene,1.5\n")
    draft = drafted(tmp_path, "deliverables/lab.csv")
    assert yaml.safe_load(draft)["tables"]["results"][0]["file"] == "deliverables/lab.csv"


@pytest.mark.parametrize("command", ["inspect", "start"])
def test_help_fits_eighty_columns(command: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "vaporqa", command, "--help"], capture_output=True, text=True, check=True
    )
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert "Examples:" in done.stdout and "Exit codes:" in done.stdout
