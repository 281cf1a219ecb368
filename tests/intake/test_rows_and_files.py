"""Rows, lines, keys, copies, passing cells through, and the files of a folder."""

from __future__ import annotations

import hashlib

import pytest

from vaporqa.errors import FolderError
from vaporqa.tables.values import READ


def remarks(tables) -> str:
    return "\n".join(f"{remark.file}: {remark.text}" for remark in tables.remarks)


def test_physical_lines_survive_blank_lines_quoted_breaks_and_line_ends(read):
    text = (
        '\r\nprobe_id,"location\r\n_id"\r\n'.replace("location\r\n_id", "location_id")
        + '\r\nP1,"L\r\n1"\r\n\r\n\r\nP2,L1\r\n"P\n3",L1'
    )
    probes = read({"probes.csv": text}).tables["probes"]
    assert probes.keys.tolist() == ["P1", "P2", "P\n3"]
    assert probes.line_of.tolist() == [4, 8, 9]


def test_a_header_over_two_lines_is_folded(read):
    probes = read({"probes.csv": 'probe_id,location_id,"depth_top\n[ft]"\nP1,L1,5\n'}).tables["probes"]
    assert probes.headers["depth_top"] == "depth_top [ft]"
    assert probes.line_of.tolist() == [3]


@pytest.mark.parametrize(
    ("encoded", "said"),
    [
        ("probe_id,location_id,note\nP1,L1,5 µg\n".encode("utf-8-sig"), ""),
        (
            "probe_id,location_id,note\nP1,L1,5 µg\n".encode("cp1252"),
            "read as Windows-1252 (cp1252): the bytes of line 2",
        ),
        ("probe_id,location_id,note\nP1,L1,5 µg\n".encode("utf-16"), "read as UTF-16"),
        ("probe_id,location_id,note\nP1,L1,5 µg\n".encode(), ""),
    ],
)
def test_encodings(read, encoded, said):
    tables = read({"probes.csv": encoded})
    probes = tables.tables["probes"]
    assert probes.keys.tolist() == ["P1"]
    assert probes.cells.cell(0, "note") == "5 µg"
    assert said in remarks(tables)


def test_tab_separated(read):
    assert read({"probes.tsv": "probe_id\tlocation_id\nP1\tL,1\n"}).tables["probes"].text("location_id").at(0) == "L,1"


def test_ragged_rows(read):
    tables = read({"probes.csv": "probe_id,location_id,kind\nP1,L1\nP2,L1,driven,,\nP3\n"})
    assert tables.tables["probes"].rows == 3
    assert "2 rows with fewer cells than the header, filled with empty cells: lines 2, 4" in remarks(tables)
    assert "1 row with more cells than the header, all of them empty: line 3" in remarks(tables)


def test_a_repeated_header_and_empty_rows_are_set_aside(read):
    text = "probe_id,location_id\nP1,L1\nprobe_id,location_id\n,\nP2,L1\n , \n"
    tables = read({"probes.csv": text})
    assert tables.tables["probes"].keys.tolist() == ["P1", "P2"]
    assert tables.tables["probes"].line_of.tolist() == [2, 5]
    assert "the header stands again in line 3; set aside" in remarks(tables)
    assert "2 rows without any content, ignored: lines 4, 6" in remarks(tables)
    assert [str(word) for word in tables.tables["probes"].text("probe_id").words] == ["P1", "P2"]


def test_cells_pass_through_as_written_with_their_places(read):
    tables = read({"probes.csv": 'probe_id,colour,location_id,depth_top [ft]\n 007 ,"red, dark",L1, 5 \n'})
    cells = tables.tables["probes"].cells
    assert cells.headers(0) == ["probe_id", "colour", "location_id", "depth_top [ft]"]
    assert [cells.cell(0, header) for header in cells.headers(0)] == [" 007 ", "red, dark", "L1", " 5 "]
    assert cells.column("colour").to_pylist() == ["red, dark"]
    assert cells.column_number(0, "depth_top") == 4
    assert cells.column_number(0, "stick_up") == 0


RESULTS = "sample_id,cas,analyte,method,run_id,fraction,result [ug/m3]\n"


def test_keys_of_results_are_made_from_the_row(read):
    rows = (
        "S1,71-43-2,Benzene,TO-15,R1,,5\n"
        "S1,,Toluene,TO-15,,,5\n"
        "S1,,Toluene,,,total,5\n"
        "S1,71-43-2,Benzene,TO-15,R1,,40\n"
        "S1,71-43-2,Benzene,TO-15,R1,,3\n"
    )
    results = read({"results.csv": RESULTS + rows}).tables["results"]
    assert not results.key_stated
    # Repeats in the order of their full cell text by code point: "3" < "40" < "5".
    assert results.keys.tolist() == [
        "S1/71-43-2/TO-15/R1#3",
        "S1/Toluene/TO-15",
        "S1/Toluene///total",
        "S1/71-43-2/TO-15/R1#2",
        "S1/71-43-2/TO-15/R1",
    ]
    assert not results.conflicted.any()
    assert (results.copy_of == -1).all()


def test_a_slash_in_a_cell_still_counts_as_a_repeat(read):
    rows = "S1,a/b,,m,,,5\nS1/a,b,,m,,,6\n"
    results = read({"results.csv": RESULTS + rows}).tables["results"]
    assert results.keys.tolist() == ["S1/a/b/m", "S1/a/b/m#2"]


def test_keys_do_not_depend_on_the_order_of_rows(read):
    rows = [f"S1,71-43-2,Benzene,TO-15,R1,,{number}\n" for number in (5, 40, 3, 11)]
    forward = read({"results.csv": RESULTS + "".join(rows)}).tables["results"]
    back = read({"results.csv": RESULTS + "".join(reversed(rows))}).tables["results"]
    assert dict(zip(forward.keys, forward.amount("result").values, strict=True)) == dict(
        zip(back.keys, back.amount("result").values, strict=True)
    )


def test_exact_copies_and_different_rows_under_one_stated_key(read):
    text = "probe_id,location_id,note\nP1,L1,a\nP2,L1,b\nP1,L1,a\nP2,L1,c\nP2,L1,b\nP3,L1,d\n"
    probes = read({"probes.csv": text}).tables["probes"]
    assert probes.keys.tolist() == ["P1", "P2", "P1", "P2", "P2", "P3"]
    assert probes.copy_of.tolist() == [-1, -1, 0, -1, 1, -1]
    assert probes.conflicted.tolist() == [False, True, False, True, True, False]


def test_exact_copies_of_results_are_copies_under_made_keys_too(read):
    row = "S1,71-43-2,Benzene,TO-15,R1,,5\n"
    results = read({"results.csv": RESULTS + row + row}).tables["results"]
    assert results.copy_of.tolist() == [-1, 0]
    assert results.keys.tolist() == ["S1/71-43-2/TO-15/R1", "S1/71-43-2/TO-15/R1#2"]


def test_a_stated_result_id_that_is_empty_is_made(read):
    text = "result_id,sample_id,analyte\nA,S1,Benzene\n,S1,Toluene\n,S1,Toluene\n"
    results = read({"results.csv": text}).tables["results"]
    assert results.key_stated
    assert results.keys.tolist() == ["A", "S1/Toluene", "S1/Toluene#2"]


def test_rows_without_a_key_are_in_no_conflict(read):
    probes = read({"probes.csv": "probe_id,location_id\n,L1\n,L2\nP1,L3\n"}).tables["probes"]
    assert not probes.conflicted.any()
    assert len(set(probes.keys)) == 3


def test_a_composite_key_is_joined(read):
    text = "cas,matrix,level,unit\n71-43-2,soil_gas,5,ug/m3\n71-43-2,,6,ug/m3\n"
    assert read({"screening_levels.csv": text}).tables["screening_levels"].keys.tolist() == [
        "71-43-2/soil_gas",
        "71-43-2",
    ]


def test_files_are_listed_with_their_hashes_and_near_misses_are_named(read):
    text = "probe_id,location_id\nP1,L1\n"
    tables = read(
        {"probes.csv": text, "result.csv": "a\n1\n", "Samples.CSV": "a\n1\n", "photo.jpg": b"x", "notes.txt": "x"}
    )
    [project, probes] = tables.files
    assert (probes.name, probes.sha256, probes.size, probes.feeds) == (
        "probes.csv",
        hashlib.sha256(text.encode()).hexdigest(),
        len(text),
        ("probes",),
    )
    assert project.name == "project.yaml"
    said = remarks(tables)
    assert "result.csv: feeds no table; did you mean 'results.csv'?" in said
    assert "Samples.CSV: feeds no table; did you mean 'samples.csv'?" in said
    assert "photo.jpg: feeds no table\n" in said + "\n"


def test_a_header_that_nearly_meets_a_column_is_named(read):
    tables = read({"probes.csv": "probe_id,location_id,Depth Top (ft)\nP1,L1,5\n"})
    assert "column 'Depth Top (ft)' is passed through and not read; did you mean 'depth_top'?" in remarks(tables)


MAPPED = """\
time_zone: America/Boise
missing: ["--"]
tables:
  results:
    - file: lab_a.csv
      columns: {sample_id: [Site, "Client ID"], analyte: Parameter, result: Result, unit: Units}
      fixed: {method: TO-15, laboratory: Laboratory A}
      missing: {result: [NA]}
    - file: more/*.csv
      columns: {analyte: Parameter}
      units: {result: ppbv}
"""


def test_several_files_feed_one_table_by_mapping(read, tmp_path):
    from vaporqa.intake import load_project, read_folder

    read({"probes.csv": "probe_id,location_id\nP1,L1\n"})
    folder = tmp_path / "folder"
    (folder / "project.yaml").write_text(MAPPED)
    (folder / "more").mkdir()
    (folder / "lab_a.csv").write_text(
        "Site,Client  ID,Parameter,Result,Units,Own\n"
        "SV,1,Benzene,5,ug/m3,x\nSV,2,Benzene,NA,--,y\nSV,,Benzene,1,ug/m3,z\n"
    )
    (folder / "more" / "b.csv").write_text("Parameter,result,sample_id\nToluene,7,SV/1\n")
    tables = read_folder(folder, load_project(folder))
    results = tables.tables["results"]
    assert results.files == ("lab_a.csv", "more/b.csv")
    assert results.file_of.tolist() == [0, 0, 0, 1]
    assert results.line_of.tolist() == [2, 3, 4, 2]
    assert [results.text("sample_id").at(row) for row in range(4)] == ["SV/1", "SV/2", "SV/", "SV/1"]
    assert results.headers["sample_id"] == "Site/Client ID"
    assert [results.text("method").at(row) for row in range(4)] == ["TO-15", "TO-15", "TO-15", ""]
    assert results.amount("result").written.tolist()[0] == 5
    assert results.amount("result").state.tolist() == [READ, 0, READ, READ]
    assert [results.amount("result").unit_at(row) for row in range(4)] == ["ug/m3", "", "ug/m3", "ppbv"]
    assert results.cells.column("Own").to_pylist() == ["x", "y", "z", None]
    assert results.cells.column_number(3, "analyte") == 1
    incomplete = [reading for reading in tables.readings if reading.rule == "required-filled"]
    assert [(reading.column, reading.rows.tolist()) for reading in incomplete] == [("sample_id", [2])]


@pytest.mark.parametrize(
    ("mapping", "message"),
    [
        (
            "{file: lab.csv, sheet: Data}",
            "project.yaml:2:41: 'lab.csv' is no workbook and has no sheet 'Data'; leave `sheet` out",
        ),
        ("{file: lab.csv, colums: {}}", "unknown key 'colums' in tables.probes; did you mean 'columns'?"),
        ("{columns: {}}", "a mapping for probes names no file"),
        ("{file: labb.csv}", "no file 'labb.csv' in the project folder, which feeds probes; did you mean 'lab.csv'?"),
        ("{file: ../lab.csv}", "'../lab.csv' leaves the project folder"),
        ("{file: lab.csv, columns: {probe: Point}}", "the table probes has no column 'probe'"),
        (
            "{file: lab.csv, columns: {probe_id: Pint}}",
            "there is no header 'Pint', which feeds probes.probe_id; the nearest header is 'Point'",
        ),
        ("[{file: lab.csv}, {file: '*.csv'}]", "'lab.csv' feeds probes twice"),
    ],
)
def test_a_mapping_that_is_not_understood_stops_with_its_place(read, mapping, message):
    with pytest.raises(FolderError) as raised:
        read({"lab.csv": "Point,location_id\nP1,L1\n"}, f"time_zone: UTC\ntables: {{probes: {mapping}}}\n")
    assert message in str(raised.value)


def test_one_file_or_two_give_the_same_table(read):
    header = "sample_id,analyte,result,unit,reporting_limit\n"
    rows = [f"S{number % 3},Benzene,{'<' if number % 2 else ''}{number},ug/m3,1\n" for number in range(9)]
    one = read({"results.csv": header + "".join(rows)}).tables["results"]
    project = "time_zone: UTC\ntables: {results: [{file: a.csv}, {file: b.csv}]}\n"
    two = read({"a.csv": header + "".join(rows[:4]), "b.csv": header + "".join(rows[4:])}, project).tables["results"]
    assert two.keys.tolist() == one.keys.tolist()
    assert two.frame().equals(one.frame())
    assert two.line_of.tolist() == [2, 3, 4, 5, 2, 3, 4, 5, 6]


@pytest.mark.parametrize("text", ['probe_id,location_id\nP1,"L1\n', 'probe_id,location_id\nP0,L0\nP1,"L1\n'])
def test_a_quotation_mark_open_at_the_last_line_is_told(read, text):
    with pytest.raises(FolderError) as stopped:
        read({"probes.csv": text})
    line = text.count("\n")
    assert f"probes.csv:{line}:1: a quotation mark that opens in this record is never closed" in str(stopped.value)


def test_a_quotation_mark_open_in_the_header_is_told(read):
    with pytest.raises(FolderError) as stopped:
        read({"probes.csv": 'probe_id,"location_id\n' + "P1,L1\n" * 30_000})
    assert str(stopped.value) == (
        "probes.csv: a cell of the header has more than 131,072 characters; close the quotation mark that opens in it"
    )
