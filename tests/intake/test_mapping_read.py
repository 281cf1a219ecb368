"""A stranger's table read through `tables:` of project.yaml: each key of a mapping, and what is said of it."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from vaporqa.errors import FolderError
from vaporqa.tables.dictionary import FLAG_MEANINGS
from vaporqa.tables.values import EMPTY, READ, UNREADABLE, Tables

HEAD = "project: Larkspur Yard\ntime_zone: America/Boise\nlab_time_zone: America/Chicago\n"


def mapped(mapping: str) -> str:
    return f"{HEAD}tables:\n{mapping}"


def remarks(tables: Tables) -> str:
    return "\n".join(f"{remark.file}: {remark.text}" for remark in tables.remarks)


def found(tables: Tables, rule: str) -> list[tuple[str, str, list[int], list[str]]]:
    return [
        (reading.table, reading.column, reading.rows.tolist(), [str(text) for text in reading.detail])
        for reading in tables.readings
        if reading.rule == rule
    ]


def utc(*parts: int) -> int:
    return (dt.datetime(*parts) - dt.datetime(1970, 1, 1)) // dt.timedelta(microseconds=1)


def meanings(tables: Tables) -> list[set[str]]:
    bits = tables.tables["results"].columns["flag_meanings"].values
    return [{word for at, word in enumerate(FLAG_MEANINGS) if (int(row) >> at) & 1} for row in bits]


def test_preamble_units_row_and_physical_lines(read):
    text = (
        'Laboratory A\n"a preamble, with ""one open mark\n\nIssued 2025\n\nSample,Analyte,Result\n,,ug/m3\n'
        'S1,Benzene,5\n\nS2,"Ben\nzene",6\n'
    )
    mapping = """\
  results:
    - {file: lab.csv, header_row: 6, skip_rows: [7], columns: {sample_id: Sample, analyte: Analyte, result: Result},
       units: {result: ug/m3}}
"""
    tables = read({"lab.csv": text.replace("\n", "\r\n").encode("cp1252")}, mapped(mapping))
    results = tables.tables["results"]
    assert results.line_of.tolist() == [8, 10]
    assert results.amount("result").written.tolist() == [5, 6]
    said = remarks(tables)
    assert "the header stands in row 6, as declared; the rows above it are not read" in said
    assert "rows skipped, as declared: 7" in said


def test_skipped_rows_above_the_header_need_no_header_row(read):
    mapping = "  probes: {file: p.csv, skip_rows: [1, 4]}\n"
    tables = read({"p.csv": "a title\nprobe_id,location_id\nP1,L1\nx,y,z,too long\nP2,L1\n"}, mapped(mapping))
    assert tables.tables["probes"].keys.tolist() == ["P1", "P2"]
    assert tables.tables["probes"].line_of.tolist() == [3, 5]


FORMATS = """\
  results:
    - file: lab.csv
      columns: {sample_id: S, analyte: A, analyzed_at: [Date, Time, Zone]}
      formats: {analyzed_at: ["%m/%d/%Y %H:%M", "%m/%d/%y %H:%M", "%m/%d/%Y %I:%M %p"]}
      zones: {EDT: "-04:00", EST: "-05:00"}
"""


def test_formats_are_tried_in_order_and_the_last_part_is_the_zone(read):
    rows = [
        ("6/3/2025", "14:05", "", READ, utc(2025, 6, 3, 19, 5)),  # Chicago in summer: UTC - 5 h
        ("06/03/25", "14:05", "EDT", READ, utc(2025, 6, 3, 18, 5)),
        ("6/3/2025", "2:05 PM", "EST", READ, utc(2025, 6, 3, 19, 5)),
        ("6/3/2025", "12:05 AM", "", READ, utc(2025, 6, 3, 5, 5)),
        ("2025-06-03", "14:05", "EDT", READ, utc(2025, 6, 3, 18, 5)),  # ISO needs no format
        ("6/3/2025", "14:05", "PDT", UNREADABLE, 0),
        ("13/3/2025", "14:05", "", UNREADABLE, 0),
        ("2/29/2025", "14:05", "", UNREADABLE, 0),
        ("6/3/25 ", "24:05", "", UNREADABLE, 0),
        ("", "", "", EMPTY, 0),
    ]
    text = "S,A,Date,Time,Zone\n" + "".join(f"S{at},x,{a},{b},{c}\n" for at, (a, b, c, *_) in enumerate(rows))
    tables = read({"lab.csv": text}, mapped(FORMATS))
    time = tables.tables["results"].time("analyzed_at")
    assert time.state.tolist() == [row[3] for row in rows]
    assert time.low.tolist() == [row[4] for row in rows]
    assert tables.tables["results"].headers["analyzed_at"] == "Date/Time/Zone"
    assert "the format '%m/%d/%Y %H:%M' reads 1 cells" in remarks(tables)
    assert "2 cells end in a declared zone" not in remarks(tables)
    assert "3 cells end in a declared zone" in remarks(tables)


def test_a_cell_that_two_formats_read_differently_is_a_finding_with_both_readings(read):
    mapping = '  weather: {file: w.csv, columns: {at: When}, formats: {at: ["%m/%d/%Y", "%d/%m/%Y"]}}\n'
    tables = read({"w.csv": "When\n6/3/2025\n6/13/2025\n6/6/2025\n"}, mapped(mapping))
    assert tables.tables["weather"].time("at").state.tolist() == [UNREADABLE, READ, READ]
    assert found(tables, "readable-time") == [("weather", "at", [0], ["2025-06-03 or 2025-03-06?"])]


def test_an_unused_format_of_several_is_said_and_does_not_stop(read):
    mapping = '  weather: {file: w.csv, columns: {at: When}, formats: {at: ["%m/%d/%Y", "%Y%m%d %H%M"]}}\n'
    tables = read({"w.csv": "When\n6/3/2025\n"}, mapped(mapping))
    assert "the format '%Y%m%d %H%M' reads no cell" in remarks(tables)


def test_digits_that_run_into_each_other_are_two_each(read):
    mapping = '  weather: {file: w.csv, columns: {at: When}, formats: {at: "%m%d%Y"}}\n'
    tables = read({"w.csv": "When\n01112025\n1112025\n"}, mapped(mapping))
    assert tables.tables["weather"].time("at").state.tolist() == [READ, UNREADABLE]


def test_date_only_takes_the_local_day(read):
    mapping = (
        "  results: {file: lab.csv, columns: {sample_id: S, analyte: A, analyzed_at: At}, date_only: [analyzed_at]}\n"
    )
    tables = read({"lab.csv": "S,A,At\nS1,x,2025-06-03T05:00Z\nS2,x,2025-06-03T04:59Z\n"}, mapped(mapping))
    time = tables.tables["results"].time("analyzed_at")
    assert time.date_only.all()
    # Chicago in June is UTC - 5 h: its day begins at 05:00 UTC.
    assert time.low.tolist() == [utc(2025, 6, 3, 5), utc(2025, 6, 2, 5)]
    assert "column 'At': read as dates, as declared" in remarks(tables)


def test_a_decimal_comma_is_read_only_where_it_is_declared(read):
    mapping = (
        '  probes: {file: p.csv, decimal: ",", columns: {probe_id: P, location_id: L, depth_top: D}, '
        "units: {depth_top: m}}\n"
    )
    tables = read({"p.csv": 'P,L,D\nP1,L1,"1,5"\nP2,L1,1.5\nP3,L1,"1.234,5"\nP4,L1,2\n'}, mapped(mapping))
    depth = tables.tables["probes"].number("depth_top")
    assert depth.state.tolist() == [READ, UNREADABLE, UNREADABLE, READ]
    assert depth.values[[0, 3]].tolist() == [1.5, 2]
    assert found(tables, "readable-number") == [("probes", "depth_top", [1, 2], ["1.5?", "1234.5?"])]


def test_missing_values_and_every_other_value(read):
    mapping = """\
  samples:
    file: s.csv
    missing: {matrix: ["-"], container: [none]}
    columns: {sample_id: [Site, Point], matrix: Matrix, container: Held, kind: Type, crew: Crew}
    values:
      matrix: {Soil vapor: soil_gas, Outdoor: ambient_air, Water: water, "*": unknown}
      kind: {"": primary, Dup: field_duplicate, bad: ""}
      sample_id: {A/1: Alpha}
"""
    text = (
        "Site,Point,Matrix,Held,Type,Crew\nA,1,Soil vapor,bag,,NA\nA,2, Outdoor ,none,Dup,-\nB,1,Attic,bag,bad,\n"
        "B,2,-,,,x\nC,,,bag,,\n"
    )
    tables = read({"s.csv": text}, mapped(mapping))
    samples = tables.tables["samples"]
    assert samples.keys.tolist() == ["Alpha", "A/2", "B/1", "B/2", "C/"]
    assert [samples.word("matrix").at(row) for row in range(5)] == ["soil_gas", "ambient_air", "unknown", "", ""]
    assert samples.word("container").state.tolist() == [READ, EMPTY, READ, EMPTY, READ]
    assert [samples.word("kind").at(row) for row in range(5)] == [
        "primary", "field_duplicate", "unknown", "primary", "primary",
    ]  # fmt: skip
    assert [samples.text("crew").at(row) for row in range(5)] == ["NA", "-", "", "x", ""]
    assert found(tables, "required-filled") == [("samples", "sample_id", [4], [""])]
    said = remarks(tables)
    assert "column 'Matrix' for matrix: read 'Soil vapor' as 'soil_gas' (1 rows)" in said
    assert "'Water' declared and met in no cell" in said
    assert "feeds samples: sample_id from 'Site/Point'" in said


def test_a_mangled_unit_and_two_cas_numbers_in_one_cell(read):
    mapping = """\
  results:
    file: lab.csv
    columns: {sample_id: S, analyte: A, cas: CAS, result: R, unit: U}
    values: {unit: {"ug/rn3": ug/m3}, cas: {"108-38-3 & 106-42-3": 179601-23-1}}
"""
    tables = read(
        {"lab.csv": "S,A,CAS,R,U\nS1,m+p,108-38-3 & 106-42-3,5,ug/rn3\nS1,o,95-47-6,6,ug/m3\n"}, mapped(mapping)
    )
    results = tables.tables["results"]
    assert results.amount("result").values.tolist() == [5, 6]
    assert results.text("cas").at(0) == "179601-23-1"
    # A made key holds the cells as written.
    assert results.keys.tolist() == ["S1/108-38-3 & 106-42-3", "S1/95-47-6"]


FLAGGED = """\
  results:
    file: lab.csv
    columns: {sample_id: S, analyte: A, result: R, reporting_limit: RL, lab_flag: Q}
    units: {result: ug/m3, reporting_limit: ug/m3}
    lab_flags: {B: in_blank, E: over_range, J: below_reporting_limit, U: nondetect, "J+": estimated, "Q 1": other}
"""


@pytest.mark.parametrize(
    ("flag", "text", "meant", "unknown"),
    [
        ("J", "J", {"below_reporting_limit"}, []),
        ("J+", "J+", {"estimated"}, []),
        ("Q 1", "Q 1", {"other"}, []),
        ("JB", "J B", {"below_reporting_limit", "in_blank"}, []),
        ("J; B,E", "J B E", {"below_reporting_limit", "in_blank", "over_range"}, []),
        ("JX", "JX", set(), ["JX"]),
        ("J X", "J X", {"below_reporting_limit"}, ["X"]),
        ("j", "j", set(), ["j"]),
        ("late", "late", {"late"}, []),
        ("", "", set(), []),
    ],
)
def test_flags_whole_then_split_then_by_letter(read, flag, text, meant, unknown):
    tables = read({"lab.csv": f'S,A,R,RL,Q\nS1,x,5,1,"{flag}"\n'}, mapped(FLAGGED))
    assert meanings(tables) == [meant]
    assert tables.tables["results"].text("lab_flag").at(0) == text
    assert [reading.whole for reading in tables.readings if reading.rule == "known-flag"] == unknown


@pytest.mark.parametrize(
    ("cell", "number", "nondetect", "meant", "unknown"),
    [
        ("1.2 J", 1.2, False, {"below_reporting_limit"}, []),
        ("1.2J", 1.2, False, {"below_reporting_limit"}, []),
        ("J 1.2", 1.2, False, {"below_reporting_limit"}, []),
        ("1.2 J,B", 1.2, False, {"below_reporting_limit", "in_blank"}, []),
        ("5 UJ", 5, True, {"below_reporting_limit"}, []),
        ("<5 J", 5, True, {"below_reporting_limit"}, []),
        ("ND J", np.nan, True, {"below_reporting_limit"}, []),
        ("1.2E", 1.2, False, {"over_range"}, []),
        ("1.2 X", 1.2, False, set(), ["X"]),
        ("5 UX", 5, True, set(), ["X"]),
        ("1.2E2", 120, False, None, []),
        ("I5", None, False, None, []),
        ("5X", None, False, None, []),
        ("5 ft", None, False, None, []),
        ("3 or 4", None, False, None, []),
        ("1,200", None, False, None, []),
    ],
)
def test_flags_beside_a_number_are_taken_off(read, cell, number, nondetect, meant, unknown):
    mapping = FLAGGED.replace(", lab_flag: Q", "")
    tables = read({"lab.csv": f'S,A,R,RL\nS1,x,"{cell}",1\n'}, mapped(mapping))
    result = tables.tables["results"].amount("result")
    if number is None:
        assert result.state.tolist() == [UNREADABLE]
        assert [column for _, column, _, _ in found(tables, "readable-number")] == ["result"]
    else:
        assert result.written == pytest.approx([number], nan_ok=True)
        assert result.nondetect.tolist() == [nondetect]
    if meant is None:
        assert "flag_meanings" not in tables.tables["results"]
    else:
        assert meanings(tables) == [meant]
    assert [reading.whole for reading in tables.readings if reading.rule == "known-flag"] == unknown


def test_flags_in_limit_cells_and_one_finding_a_letter(read):
    text = "S,A,R,RL,Q\nS1,x,5 X,1 B,X\nS2,x,5,1,X\nS3,x,ND,2 U,U\n"
    tables = read({"lab.csv": text}, mapped(FLAGGED))
    assert meanings(tables) == [{"in_blank"}, set(), {"nondetect"}]
    assert tables.tables["results"].amount("reporting_limit").values.tolist() == [1, 1, 2]
    [unknown] = [reading for reading in tables.readings if reading.rule == "known-flag"]
    assert (unknown.whole, unknown.column, unknown.rows.tolist()) == ("X", "lab_flag", [0, 1])
    assert "laboratory flags: 'B' means in_blank (1 cells), 'U' means nondetect (1 cells)" in remarks(tables)


def test_one_letter_of_two_laboratories(read):
    mapping = """\
  results:
    file: lab.csv
    columns: {sample_id: S, analyte: A, result: R, lab_flag: Q}
    units: {result: ug/m3}
    lab_flags: {by: Lab, Laboratory A: {S: surrogate_outside}, Laboratory B: {S: laboratory_solvent}}
"""
    text = "S,A,R,Q,Lab\nS1,x,5,S,Laboratory A\nS2,x,5,S,Laboratory B\nS3,x,5,S,Laboratory C\nS4,x,5 S,,Laboratory B\n"
    tables = read({"lab.csv": text}, mapped(mapping))
    assert meanings(tables) == [{"surrogate_outside"}, {"laboratory_solvent"}, set(), {"laboratory_solvent"}]
    assert [(r.whole, r.rows.tolist()) for r in tables.readings if r.rule == "known-flag"] == [("S", [2])]


def test_surrogates_by_exact_name_have_their_recovery_in_result(read):
    mapping = """\
  results:
    file: lab.csv
    columns: {sample_id: S, analyte: A, result: R, unit: U, reporting_limit: RL}
    kinds: {surrogate: ["% Bromofluorobenzene", Toluene-d8], internal_standard: [Absent]}
"""
    text = (
        "S,A,R,U,RL\nS1,% Bromofluorobenzene,98,%,70-130\nS1,% bromofluorobenzene,98,ug/m3,1\n"
        "S1,Toluene-d8,101,,70 - 130\nS1,Benzene,5,ug/m3,1\nS2,Toluene-d8,50,ug/m3,\n"
    )
    tables = read({"lab.csv": text}, mapped(mapping))
    results = tables.tables["results"]
    assert [results.word("kind").at(row) for row in range(5)] == [
        "surrogate", "target", "surrogate", "target", "surrogate",
    ]  # fmt: skip
    # A concentration is no recovery, whatever the kind of its row.
    assert results.number("recovery").values == pytest.approx([98, np.nan, 101, np.nan, np.nan], nan_ok=True)
    assert results.amount("result").written == pytest.approx([np.nan, 98, np.nan, 5, 50], nan_ok=True)
    assert results.span("recovery_range").low == pytest.approx([70, np.nan, 70, np.nan, np.nan], nan_ok=True)
    assert tables.readings == ()
    said = remarks(tables)
    assert "1 rows of '% Bromofluorobenzene' are of kind surrogate, as declared" in said
    assert "the analyte 'Absent', declared as internal_standard, stands in no row" in said


def test_rerun_suffixes_give_a_run_back_to_its_sample(read):
    mapping = """\
  results:
    file: lab.csv
    columns: {sample_id: S, analyte: A, result: R}
    units: {result: ug/m3}
    rerun_suffixes: [DL, DL2, RE, -R]
  samples: {from: results, columns: {sample_id: S}, fixed: {kind: primary}}
"""
    names = ["SV-01", "SV-01DL", "SV-01DL2", "SV-01RE", "SV-02-DL", "SV-02", "DL", "SV-03RE", "SV-01-R"]
    tables = read({"lab.csv": "S,A,R\n" + "".join(f"{name},Benzene,5\n" for name in names)}, mapped(mapping))
    results = tables.tables["results"]
    samples = [results.text("sample_id").at(row) for row in range(9)]
    assert samples == ["SV-01", "SV-01", "SV-01", "SV-01", "SV-02", "SV-02", "DL", "SV-03", "SV-01"]
    kinds = [results.word("run_kind").at(row) for row in range(9)]
    assert kinds == ["", "dilution", "dilution", "reanalysis", "dilution", "", "", "reanalysis", "reanalysis"]
    assert [results.text("run_of").at(row) for row in range(9)] == [
        "", "SV-01", "SV-01", "SV-01", "SV-02", "", "", "SV-03", "SV-01",
    ]  # fmt: skip
    assert results.keys.tolist() == [f"{name}/Benzene" for name in names]
    assert tables.tables["samples"].keys.tolist() == ["SV-01", "SV-02", "DL", "SV-03"]
    assert "'SV-01DL' of 'SV-01'" in remarks(tables)


def test_a_linked_rerun_is_settled_by_evidence(read):
    from vaporqa.evidence import Evidence, runs
    from vaporqa.rulebook.loading import load_rulebook
    from vaporqa.tables.project import Project

    mapping = """\
  results:
    file: lab.csv
    columns: {sample_id: S, analyte: A, result: R, dilution: D}
    units: {result: ug/m3}
    lab_flags: {E: over_range}
    rerun_suffixes: [DL]
"""
    tables = read({"lab.csv": "S,A,R,D\nS1,Benzene,900 E,1\nS1DL,Benzene,850,10\n"}, mapped(mapping))
    evidence = Evidence(tables, Project(time_zone="America/Boise"), load_rulebook())
    assert runs.linked(evidence, np.array([0, 1]))
    # The first run is over range, so the dilution is the one in use.
    assert evidence.runs.in_use.tolist() == [runs.SET_ASIDE, runs.IN_USE]


DERIVED = """\
  results:
    - {file: a.csv, missing: ["--"], columns: {sample_id: [Site, Id], analyte: A, collected_at: Taken}}
    - {file: b.csv, missing: ["--"], columns: {sample_id: [Site, Id], analyte: A, collected_at: Taken}}
  samples:
    - from: results
      columns: {sample_id: [Site, Id], ended_at: Taken, matrix: M, volume: V, container_id: Can, laboratory: Lab}
      values: {matrix: {Vapor: soil_gas, Air: ambient_air}}
      units: {volume: L}
      fixed: {kind: primary}
"""


def test_a_derived_table_has_one_row_a_key_and_an_ambiguous_value_is_not_the_first_one(read):
    a = (
        "Site,Id,A,Taken,M,V,Can\nX,1,Benzene,2025-06-03 10:00,Vapor,1.0,C1\nX,1,Toluene,2025-06-03T10:00,Vapor,1,C1\n"
        "X,2,Benzene,2025-06-03 11:00,Vapor,6,C2\n--,,Benzene,2025-06-04,Vapor,6,C2\n"
        "X,2,Toluene,2025-06-03 11:05,Air,6,C3\n"
        "X,3,Benzene,2025-06-05 10:00,,6,\nX,3,Toluene,2025-06-05 10:00,Vapor,6,C4\n"
    )
    b = "Site,Id,A,Taken,M,V,Lab\nX,4,Benzene,2025-06-03 12:00,Vapor,1,Laboratory A\n"
    tables = read({"a.csv": a, "b.csv": b}, mapped(DERIVED))
    samples = tables.tables["samples"]
    assert samples.keys.tolist() == ["X/1", "X/2", "X/3", "X/4"]
    assert samples.line_of.tolist() == [2, 4, 7, 2]
    assert samples.files == ("a.csv", "b.csv")
    assert samples.file_of.tolist() == [0, 0, 0, 1]
    assert samples.time("ended_at").state.tolist() == [READ, UNREADABLE, READ, READ]
    assert samples.time("ended_at").low[1] == 0
    assert samples.word("matrix").codes.tolist()[1:3] == [-2, -2]  # empty beside filled differs
    assert samples.word("matrix").at(0) == "soil_gas"
    assert samples.number("volume").values.tolist() == [1000, 6000, 6000, 1000]
    can = samples.text("container_id")
    assert can.state.tolist() == [READ, UNREADABLE, UNREADABLE, EMPTY]
    assert can.at(1) == "C2 | C3"
    assert samples.text("laboratory").at(3) == "Laboratory A"
    assert samples.word("kind").at(2) == "primary"
    assert samples.cells.headers(0) == ["Site", "Id", "Taken", "M", "V", "Can"]
    assert samples.cells.cell(1, "Can") == "C2 | C3"
    one = {(table, column): (rows, detail) for table, column, rows, detail in found(tables, "one-value-a-key")}
    assert one["samples", "ended_at"] == ([1], ["2025-06-03 11:00 | 2025-06-03 11:05"])
    assert one["results", "collected_at"] == ([2, 4], ["2025-06-03 11:00 | 2025-06-03 11:05"] * 2)
    assert one["samples", "matrix"][0] == [1, 2]
    assert one["results", "M"] == ([2, 4, 5, 6], ["Vapor | Air"] * 2 + ["(empty) | Vapor"] * 2)
    assert one["results", "Can"][0] == [2, 4, 5, 6]
    assert ("samples", "volume") not in one
    said = remarks(tables)
    assert "a.csv: has no 'Lab': samples.laboratory is empty for its rows" in said
    assert "1 rows without a key make no row of samples" in said


def test_a_derived_table_does_not_depend_on_the_order_of_rows(read):
    rows = [f"X,{at % 3},A{at},2025-06-03 1{at % 2}:00,Vapor,1,C{at % 5}\n" for at in range(12)]
    header = "Site,Id,A,Taken,M,V,Can\n"
    mapping = mapped(DERIVED.replace("    - {file: b.csv", "#").replace(", laboratory: Lab", ""))
    forward = read({"a.csv": header + "".join(rows)}, mapping)
    back = read({"a.csv": header + "".join(reversed(rows))}, mapping)
    one, two = forward.tables["samples"], back.tables["samples"]
    assert sorted(one.keys) == sorted(two.keys)
    order = [two.keys.tolist().index(key) for key in one.keys]
    for name, column in one.columns.items():
        assert column.state.tolist() == two.columns[name].state[order].tolist()
    assert [one.text("container_id").at(row) for row in range(3)] == [two.text("container_id").at(row) for row in order]


def test_an_empty_joined_cell_is_called_empty(read):
    mapping = "  results: {file: r.csv}\n  samples: {from: results, columns: {sample_id: S, ended_at: [D, T]}}\n"
    mapping = mapping.replace("r.csv", "r.csv, columns: {sample_id: S, analyte: A}")
    text = "S,A,D,T\nS1,x,2025-06-03,10:00\nS1,y,,\n"
    one = found(read({"r.csv": text}, mapped(mapping)), "one-value-a-key")
    assert {detail for *_, details in one for detail in details} == {"2025-06-03/10:00 | (empty)"}


def test_a_derived_table_names_its_columns_and_takes_no_others(read):
    mapping = "  results: {file: r.csv}\n  samples: {from: results, columns: {ended_at: collected_at}}\n"
    text = "sample_id,analyte,kind,laboratory,collected_at\nS1,x,target,A,2025-06-03 10:00\n"
    text += "S1,y,tentative,B,2025-06-03 10:00\n"
    samples = read({"r.csv": text}, mapped(mapping)).tables["samples"]
    assert list(samples.columns) == ["sample_id", "ended_at"]


def test_a_table_may_be_derived_from_a_derived_one(read):
    mapping = (
        "  results: {file: r.csv}\n  samples: {from: results, columns: {sample_id: sample_id}}\n"
        "  locations: {from: samples, columns: {location_id: Site}}\n"
    )
    tables = read({"r.csv": "sample_id,analyte,Site\nS1,x,A\nS2,x,A\n"}, mapped(mapping))
    assert tables.tables["locations"].keys.tolist() == ["A"]


def test_what_a_derived_cell_cannot_be_read_as_is_said_once_a_key(read):
    mapping = "  results: {file: r.csv}\n  samples: {from: results, columns: {sample_id: sample_id, ended_at: T}}\n"
    tables = read({"r.csv": "sample_id,analyte,T\nS0,x,2025-06-03\nS1,x,soon\nS1,y,soon\n"}, mapped(mapping))
    assert found(tables, "readable-time") == [("samples", "ended_at", [1], [""])]


def test_wide_columns_become_rows(read):
    mapping = """\
  results:
    file: wide.csv
    missing: [NA]
    columns: {sample_id: Sample}
    units: {result: ppbv}
    wide: {from: [Benzene, Toluene], to: analyte, value: result}
"""
    tables = read({"wide.csv": "Sample,Benzene,Note,Toluene\nS1,5,a,<1\nS2,,b,7\nS3,NA,c,ND\n"}, mapped(mapping))
    results = tables.tables["results"]
    assert results.keys.tolist() == ["S1/Benzene", "S1/Toluene", "S2/Toluene", "S3/Toluene"]
    assert results.line_of.tolist() == [2, 2, 3, 4]
    assert results.amount("result").written == pytest.approx([5, 1, 7, np.nan], nan_ok=True)
    assert results.amount("result").nondetect.tolist() == [False, True, False, True]
    assert [results.amount("result").unit_at(row) for row in range(4)] == ["ppbv"] * 4
    assert [results.cells.header(row, "result") for row in range(4)] == ["Benzene", "Toluene", "Toluene", "Toluene"]
    assert [results.cells.column_number(row, "result") for row in range(2)] == [2, 4]
    assert results.cells.column("Note").to_pylist() == ["a", "a", "b", "c"]
    assert "3 rows became 4; 2 empty cells make none" in remarks(tables)


def test_the_unit_of_wide_columns_may_stand_in_their_headers(read):
    mapping = """\
  field_readings:
    file: meter.csv
    columns: {reading_id: Id, at: At}
    wide: {from: [CO2, O2], to: gas, value: reading}
"""
    text = "Id,At,CO2 [%v],O2 [%v]\nR1,2025-06-03 10:00,5,20.9\n"
    readings = read({"meter.csv": text}, mapped(mapping)).tables["field_readings"]
    assert readings.keys.tolist() == ["R1/CO2", "R1/O2"]
    assert not readings.conflicted.any()
    assert [readings.text("gas").at(row) for row in range(2)] == ["CO2", "O2"]
    assert readings.amount("reading").written.tolist() == [5, 20.9]


def test_two_forms_of_one_result_are_no_conflict(read):
    mapping = "  results: {file: r.csv, two_forms: true}\n"
    text = (
        "result_id,sample_id,analyte,result,unit,reporting_limit\nA,S1,Benzene,5,ppbv,1\nA,S1,Benzene,16,ug/m3,3\n"
        "B,S1,Toluene,ND,ug/m3,3\nB,S1,Toluene,ND,ppbv,1\nC,S1,Xylene,5,ug/m3,3\nC,S1,Xylene,6,ug/m3,3\n"
        "D,S1,Acetone,5,ppbv,1\n"
    )
    results = read({"r.csv": text}, mapped(mapping)).tables["results"]
    assert results.form_of.tolist() == [1, -1, -1, 2, -1, -1, -1]
    assert results.conflicted.tolist() == [False, False, False, False, True, True, False]
    made = read({"r.csv": "\n".join(line.split(",", 1)[1] for line in text.splitlines())}, mapped(mapping)).tables[
        "results"
    ]
    assert made.form_of.tolist() == [1, -1, -1, 2, -1, -1, -1]
    plain = read({"results.csv": text}, HEAD).tables["results"]
    assert plain.form_of is None
    assert plain.conflicted.tolist()[:4] == [True] * 4


def test_units_point_to_a_column_or_are_units(read):
    mapping = """\
  results:
    file: r.csv
    columns: {sample_id: S, analyte: A, result: R, unit: U, reporting_limit: RL, detection_limit: DL}
    units: {reporting_limit: unit, detection_limit: ppbv}
"""
    results = read({"r.csv": "S,A,R,U,RL,DL\nS1,x,5,ug/m3,1,2\n"}, mapped(mapping)).tables["results"]
    assert results.amount("reporting_limit").unit_at(0) == "ug/m3"
    assert results.amount("detection_limit").unit_at(0) == "ppbv"


def test_the_unit_in_a_mapped_header_is_read(read):
    mapping = (
        "  probes: {file: p.csv, columns: {probe_id: P, location_id: L, depth_top: Top, depth_bottom: 'End [in]'}}"
    )
    text = "P,L,Top [in],End [in]\nP1,L1,78,81\n"
    probes = read({"p.csv": text}, mapped(mapping)).tables["probes"]
    # 78 in are 6.5 ft; lengths are kept in metres.
    assert probes.number("depth_top").values.tolist() == pytest.approx([6.5 * 0.3048])
    assert probes.number("depth_bottom").values.tolist() == pytest.approx([6.75 * 0.3048])


def test_brackets_in_a_mapped_header_that_hold_no_unit(read):
    mapping = "  probes: {file: p.csv, columns: {probe_id: P, location_id: 'L [new]', depth_top: Top}UNITS}\n"
    files = {"p.csv": "P,L [new],Top [log]\nP1,L1,2\n"}
    declared = read(files, mapped(mapping.replace("UNITS", ", units: {depth_top: m}"))).tables["probes"]
    assert declared.number("depth_top").values.tolist() == [2]
    with pytest.raises(FolderError, match=r"p\.csv:1:3: column 'depth_top': the unit 'log' is not known"):
        read(files, mapped(mapping.replace("UNITS", "")))
    with pytest.raises(FolderError, match=r"two units are declared for it: in and ft"):
        read({"p.csv": "P,L [new],Top [in]\nP1,L1,2\n"}, mapped(mapping.replace("UNITS", ", units: {depth_top: ft}")))


def test_one_source_column_may_feed_two_contract_columns(read):
    mapping = "  samples: {file: s.csv, columns: {sample_id: S, started_at: T, ended_at: T}}\n"
    samples = read({"s.csv": "S,T\nS1,2025-06-03 10:00\n"}, mapped(mapping)).tables["samples"]
    assert samples.time("started_at").low.tolist() == samples.time("ended_at").low.tolist() != [0]


def test_two_mappings_that_give_one_key_different_rows_are_a_conflict(read):
    mapping = "  probes: [{file: a.csv}, {file: b.csv, columns: {location_id: Loc}}]\n"
    tables = read({"a.csv": "probe_id,location_id\nP1,L1\n", "b.csv": "probe_id,Loc\nP1,L2\nP2,L1\n"}, mapped(mapping))
    assert tables.tables["probes"].conflicted.tolist() == [True, True, False]
