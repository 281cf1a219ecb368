"""Tables that stop the run, each with its message: where, what, and how to mend it."""

from __future__ import annotations

import pytest

from vaporqa.errors import FolderError

PROBES = "probe_id,location_id,depth_top [ft]\nP1,L1,5\n"

STOPS = {
    "no unit": (
        {"probes.csv": "probe_id,location_id,depth_top\nP1,L1,5\n"},
        (
            "probes.csv:1:3: column 'depth_top': it has no unit; write it in the header, `depth_top [ft]`, "
            "or in project.yaml, `units: {probes.depth_top: ft}`, or add a column `depth_top_unit`"
        ),
    ),
    "unknown unit": (
        {"probes.csv": "probe_id,location_id,depth_top [feeet]\nP1,L1,5\n"},
        "probes.csv:1:3: column 'depth_top': the unit 'feeet' is not known; did you mean ft?",
    ),
    "unit of another dimension": (
        {"probes.csv": "probe_id,location_id,depth_top [kPa]\nP1,L1,5\n"},
        "probes.csv:1:3: column 'depth_top': 'kPa' is a unit of pressure, and length is wanted; write a unit of length",
    ),
    "unit of a concentration that can be read in two ways": (
        {"tracer_tests.csv": "test_id,shroud_low [ppb]\nT1,5\n"},
        "tracer_tests.csv:1:2: column 'shroud_low': the unit 'ppb' is not known; did you mean ppbv or ug/kg or ug/L?",
    ),
    "empty unit": (
        {"probes.csv": "probe_id,location_id,depth_top []\nP1,L1,5\n"},
        "probes.csv:1:3: column 'depth_top': it has no unit",
    ),
    "unit on a column of words": (
        {"probes.csv": "probe_id,location_id,kind [ft]\nP1,L1,driven\n"},
        "probes.csv:1:3: column 'kind': a column of kind word takes no unit, and its header gives 'ft'; write kind",
    ),
    "unit declared twice": (
        {"probes.csv": "probe_id,location_id,depth_top [ft],depth_top_unit\nP1,L1,5,ft\n"},
        "probes.csv:1:3: column 'depth_top': its unit is declared (ft) and stands in a column 'depth_top_unit' too",
    ),
    "result without a unit": (
        {"results.csv": "sample_id,analyte,result\nS1,Benzene,5\n"},
        (
            "results.csv:1:3: column 'result': it has no unit; write it in the header, `result [ug/m3]`, or in "
            "project.yaml, `units: {results.result: ug/m3}`, or add a column `unit` or `result_unit`"
        ),
    ),
    "required column absent": (
        {"probes.csv": "probe id,location_id\nP1,L1\n"},
        "probes.csv:1:1: the table probes needs a column 'probe_id'; the nearest header is 'probe id'",
    ),
    "another separator": (
        {"probes.csv": "probe_id;location_id\nP1;L1\n"},
        "probes.csv:1:1: the table probes needs a column 'probe_id'; the header line seems to use another separator",
    ),
    "two headers the same": (
        {"probes.csv": 'probe_id,location_id,"probe_id\n"\nP1,L1,P2\n'},
        "probes.csv:1:3: two headers are the same: 'probe_id' in fields 1 and 3; rename one of them",
    ),
    "cells without a header": (
        {"probes.csv": "probe_id,location_id,\nP1,L1,5\n"},
        "probes.csv:1:3: field 3 holds cells but has no header",
    ),
    "row too long": (
        {"probes.csv": PROBES + "P2,L1,5,6\nP3,L1,5,,x\n"},
        (
            "probes.csv:3:4: the row has 4 cells and the header 3; quote a cell that holds the separator, or name the "
            "column\nprobes.csv:4:4: the row has 5 cells and the header 3"
        ),
    ),
    "quotation mark left open": (
        {"probes.csv": PROBES + 'P2,"L1,5\nP3,L1,5\n'},
        "probes.csv:3:1: a quotation mark that opens in this record is never closed",
    ),
    "empty file": ({"probes.csv": "\n \n"}, "probes.csv: the file is empty; write a header line, or remove the file"),
    "NUL bytes": (
        {"probes.csv": b"probe_id,location_id\nP1\0,L1\n"},
        "probes.csv: the file is no text: a NUL byte stands at byte 24",
    ),
    "a workbook by another name": (
        {"probes.csv": b"PK\x03\x04abc"},
        "probes.csv: this is a workbook or archive, not the text",
    ),
    "large-file pointer": (
        {"probes.csv": "version https://git-lfs.github.com/spec/v1\noid sha256:0\nsize 9\n"},
        "probes.csv: this is a large-file pointer that stands in for the table; the table itself is not here; fetch",
    ),
    "no encoding fits": (
        {"probes.csv": b"probe_id,location_id\nP1,\x81\xff\n"},
        "probes.csv:2:1: the file is neither UTF-8 nor Windows-1252 text (byte 0x81); save it as UTF-8",
    ),
    "UTF-16 cut in half": (
        {"probes.csv": "probe_id,location_id\nP1,L1\n".encode("utf-16") + b"x"},
        "probes.csv: the file starts as UTF-16 and does not go on so",
    ),
    "damaged workbook": (
        {"probes.xlsx": b"PK\x03\x04"},
        "probes.xlsx: this is no workbook: it cannot be opened as a package of sheets; save the sheet as CSV in UTF-8",
    ),
    "damaged Parquet file": (
        {"results.parquet": b"PAR1"},
        "results.parquet: this is no Parquet file that can be read",
    ),
    "damaged workbook of all tables": (
        {"tables.xlsx": b"PK\x03\x04"},
        "tables.xlsx: this is no workbook: it cannot be opened",
    ),
    "one table in two files": (
        {"probes.csv": PROBES, "probes.tsv": PROBES},
        "probes.csv: the table probes stands in 2 files: probes.csv, probes.tsv; keep one",
    ),
    "no table at all": (
        {"result.csv": "a\n1\n"},
        "the folder holds no table; result.csv feeds no table; did you mean 'results.csv'?",
    ),
}


@pytest.mark.parametrize("name", STOPS)
def test_a_table_that_cannot_be_read_stops_the_run_and_says_where(read, name):
    files, message = STOPS[name]
    with pytest.raises(FolderError) as raised:
        read(files)
    assert message in str(raised.value)


def test_local_time_without_a_zone_names_the_cell_and_the_key(read):
    table = "sample_id,started_at\nS1,2025-06-03T10:00-06:00\nS2,2025-06-03 10:00\n"
    with pytest.raises(FolderError) as raised:
        read({"samples.csv": table}, project="project: x\n")
    assert (
        "project.yaml: no `time_zone` is declared, and samples.csv:3:2 holds a local time ('2025-06-03 10:00')"
        in str(raised.value)
    )
    assert "America/Boise" in str(raised.value)


def test_two_units_for_one_column_stop_the_run(read):
    project = "time_zone: UTC\nunits: {probes.depth_top: m}\n"
    with pytest.raises(FolderError, match="two units are declared for it: ft and m"):
        read({"probes.csv": PROBES}, project=project)
    same = "time_zone: UTC\nunits: {probes.depth_top: feet}\n"
    assert read({"probes.csv": PROBES}, project=same).tables["probes"].rows == 1


def test_all_problems_of_all_files_are_said_at_once(read):
    with pytest.raises(FolderError) as raised:
        read(
            {
                "probes.csv": "probe_id,depth_top,stick_up\nP1,5,6\n",
                "samples.csv": "sample,flow\nS1,200\n",
                "weather.csv": b"\0",
            }
        )
    places = [(problem.file, problem.line, problem.column) for problem in raised.value.problems]
    assert ("probes.csv", 1, 2) in places
    assert ("probes.csv", 1, 3) in places
    assert ("samples.csv", 1, 2) in places
    assert ("weather.csv", 0, 0) in places
    assert len([place for place in places if place[0] == "probes.csv"]) == 3  # location_id too


def test_twenty_long_rows_are_named_and_all_are_counted(read):
    rows = "".join(f"P{number},L1,5,surplus\n" for number in range(30))
    with pytest.raises(FolderError) as raised:
        read({"probes.csv": PROBES + rows})
    assert len(raised.value.problems) == 21
    assert "30 rows in all have more cells than the header; the first 20 are named" in str(raised.value)


def test_a_link_out_of_the_folder_is_not_followed(read, tmp_path):
    outside = tmp_path / "outside.csv"
    outside.write_text(PROBES)
    read({"probes.csv": PROBES})
    (tmp_path / "folder" / "samples.csv").symlink_to(outside)
    from vaporqa.intake import load_project, read_folder

    with pytest.raises(FolderError, match=r"samples\.csv: the link leaves the project folder"):
        read_folder(tmp_path / "folder", load_project(tmp_path / "folder"))


@pytest.mark.parametrize("make", ["mkdir", "fifo", "dangling"])
def test_what_is_no_regular_file_is_not_read(read, tmp_path, make):
    import os

    from vaporqa.intake import load_project, read_folder

    read({"probes.csv": PROBES})
    path = tmp_path / "folder" / "samples.csv"
    if make == "mkdir":
        path.mkdir()
    elif make == "fifo":
        os.mkfifo(path)
    else:
        path.symlink_to(tmp_path / "nowhere.csv")
    with pytest.raises(FolderError, match=r"samples\.csv: (this is not a regular file|the link leads nowhere)"):
        read_folder(tmp_path / "folder", load_project(tmp_path / "folder"))


def test_a_table_with_a_header_only_has_no_rows_and_a_whole_shape(read):
    probes = read({"probes.csv": "probe_id,location_id,depth_top [ft],installed_at,kind\n"}).tables["probes"]
    assert (probes.rows, len(probes.keys), probes.frame().shape) == (0, 0, (0, 6))
