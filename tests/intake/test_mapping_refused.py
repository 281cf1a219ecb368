"""Mappings that are not understood: each stops with its message, its place in project.yaml, and all of them at once."""

from __future__ import annotations

import pytest

from vaporqa.errors import FolderError

LAB = "Point,Loc,Depth\nP1,L1,5\n"
HEAD = "time_zone: UTC\ntables:\n"

REFUSED = {
    "unknown key": (
        "  probes: {file: lab.csv, colums: {}}",
        "project.yaml:3:27: unknown key 'colums' in tables.probes; did you mean 'columns'?",
    ),
    "unknown column": (
        "  probes: {file: lab.csv, columns: {probe: Point}}",
        "project.yaml:3:37: the table probes has no column 'probe'; did you mean 'probe_id'?",
    ),
    "header that is not there": (
        "  probes: {file: lab.csv, columns: {probe_id: Pint, location_id: Loc}}",
        (
            "project.yaml:3:37: in lab.csv there is no header 'Pint', which feeds probes.probe_id; "
            "the nearest header is 'Point'"
        ),
    ),
    "column mapped twice": (
        "  probes: {file: lab.csv, columns: {probe_id: Point, location_id: Loc}, fixed: {probe_id: P}}",
        "project.yaml:3:81: 'probe_id' of probes stands under both `columns` and `fixed`; keep one of them",
    ),
    "key written twice": (
        "  probes: {file: lab.csv, columns: {probe_id: Point, probe_id: Loc}}",
        "project.yaml:3:54: the key 'probe_id' stands here a second time (first in line 3)",
    ),
    "header joined to itself": (
        "  probes: {file: lab.csv, columns: {probe_id: [Point, Point], location_id: Loc}}",
        "project.yaml:3:37: 'Point' is joined to itself in probes.probe_id",
    ),
    "table from itself": (
        "  probes: {from: probes, columns: {probe_id: Point}}",
        "project.yaml:3:18: the table probes is derived from itself; name the table whose files feed it",
    ),
    "tables in a circle": (
        "  probes: {from: samples, columns: {probe_id: Point}}\n  samples: {from: probes, columns: {sample_id: Loc}}",
        "is derived from itself (by probes from samples); name a table that has a file of its own",
    ),
    "table from no table": ("  probes: {from: result}", "there is no table 'result'; did you mean 'results'?"),
    "table from a table without files": (
        "  probes: {from: results, columns: {probe_id: Point}}",
        "no file feeds the table results, from which probes is derived",
    ),
    "layout of a derived table": (
        "  results: {file: lab.csv}\n  probes: {from: results, header_row: 2}",
        "project.yaml:4:27: `header_row` of a derived table is that of its source results",
    ),
    "glob that meets nothing": (
        "  probes: {file: 'labs/*.csv'}",
        "project.yaml:3:18: no file 'labs/*.csv' in the project folder, which feeds probes",
    ),
    "no file": ("  probes: {columns: {}}", "a mapping for probes names no file; write `file: name.csv` or `from:`"),
    "header row that is empty": (
        "  probes: {file: lab.csv, header_row: 9}",
        "project.yaml:3:39: row 9 of lab.csv, the declared header row, is empty",
    ),
    "header row that is no row": (
        "  probes: {file: lab.csv, header_row: one}",
        "`header_row` is a physical row, from 1, and not 'one'",
    ),
    "header row skipped": ("  probes: {file: lab.csv, header_row: 1, skip_rows: [1]}", "row 1 is the header row"),
    "format that reads nothing": (
        "  weather: {file: lab.csv, columns: {at: Depth}, formats: {at: '%d.%m.%Y'}}",
        (
            "project.yaml:3:60: '%d.%m.%Y' reads no cell of the column 'Depth' in lab.csv, which feeds weather.at; "
            "its cells are such as '5'"
        ),
    ),
    "two formats that read nothing": (
        "  weather: {file: lab.csv, columns: {at: Depth}, formats: {at: ['%d.%m.%Y', '%m/%d/%Y']}}",
        "neither '%d.%m.%Y' nor '%m/%d/%Y' reads any cell of the column 'Depth' in lab.csv",
    ),
    "unknown directive": (
        "  weather: {file: lab.csv, columns: {at: Depth}, formats: {at: '%Q'}}",
        "the format '%Q' holds %Q, which is not known; known are %Y %y %m %b %d %H %I %M %S %f %p %z %a",
    ),
    "hour of twelve without its half": (
        "  weather: {file: lab.csv, columns: {at: Depth}, formats: {at: '%Y-%m-%d %I:%M'}}",
        "the format '%Y-%m-%d %I:%M' has an hour of twelve (%I) without %p; write %H, or add %p",
    ),
    "format without a year": (
        "  weather: {file: lab.csv, columns: {at: Depth}, formats: {at: '%m/%d'}}",
        "the format '%m/%d' names no year; write %Y or %y",
    ),
    "format of no time": (
        "  probes: {file: lab.csv, formats: {depth_top: '%Y'}}",
        "`formats`: 'depth_top' of probes is no column of times; times of this table: installed_at, removed_at",
    ),
    "date_only of no time": (
        "  samples: {file: lab.csv, date_only: [ended]}",
        "`date_only`: 'ended' of samples is no column of times; did you mean 'ended_at'?",
    ),
    "zone without an offset": (
        "  samples: {file: lab.csv, zones: {EDT: America/New_York}}",
        "'America/New_York' is no offset from UTC; write it as `zones: {EDT: \"-04:00\"}`",
    ),
    "decimal mark": ("  probes: {file: lab.csv, decimal: ';'}", "`decimal` is '.' or ',', and not ';'"),
    "value that is no word": (
        "  samples: {file: lab.csv, values: {matrix: {Soil: soilgas}}}",
        "project.yaml:3:52: 'soilgas' is no word of samples.matrix; did you mean 'soil_gas'?",
    ),
    "fixed text that is no word": (
        "  samples: {file: lab.csv, fixed: {kind: primry}}",
        "'primry' is no word of samples.kind; did you mean 'primary'?",
    ),
    "values of a column that nothing feeds": (
        "  probes: {file: lab.csv, columns: {probe_id: Point, location_id: Loc}, values: {kind: {a: driven}}}",
        (
            "project.yaml:3:82: `values` speaks of probes.kind, which no header of lab.csv feeds; "
            "name its header under `columns.kind`"
        ),
    ),
    "meaning of a flag": (
        "  results: {file: lab.csv, lab_flags: {J: estimate}}",
        "project.yaml:3:43: 'estimate' is no meaning of a flag; did you mean 'estimated'?",
    ),
    "laboratory column that is not there": (
        "  results: {file: lab.csv, columns: {sample_id: Point, analyte: Loc}, lab_flags: {by: Labs, A: {J: late}}}",
        "in lab.csv there is no header 'Labs', which feeds lab_flags.by",
    ),
    "flags of a field table": (
        "  probes: {file: lab.csv, lab_flags: {J: estimated}}",
        "project.yaml:3:27: `lab_flags` has no meaning for the table probes; leave it out",
    ),
    "kind of a result": (
        "  results: {file: lab.csv, kinds: {surogate: [x]}}",
        "'surogate' is no kind of a result; did you mean 'surrogate'?",
    ),
    "name of two kinds": (
        "  results: {file: lab.csv, kinds: {surrogate: [x], tentative: [x]}}",
        "'x' has two kinds; keep one of them",
    ),
    "wide header that is not there": (
        (
            "  results: {file: lab.csv, columns: {sample_id: Point}, units: {result: ppbv}, "
            "wide: {from: [Deepth], to: analyte, value: result}}"
        ),
        "in lab.csv there is no header 'Deepth', which feeds results.result; the nearest header is 'Depth'",
    ),
    "wide half said": ("  results: {file: lab.csv, wide: {from: [Depth]}}", "`wide` needs `from`, `to` and `value`"),
    "wide fed twice": (
        "  results: {file: lab.csv, columns: {result: Loc}, wide: {from: [Depth], to: analyte, value: result}}",
        "'result' of results is fed by `wide` and by another key; keep one",
    ),
    "sheet of a text file": (
        "  probes: {file: lab.csv, sheet: Data}",
        "project.yaml:3:34: 'lab.csv' is no workbook and has no sheet 'Data'; leave `sheet` out",
    ),
    "two_forms": ("  results: {file: lab.csv, two_forms: maybe}", "`two_forms` is true or false, and not 'maybe'"),
    "file and from": (
        "  results: {file: lab.csv}\n  samples: {from: results, file: lab.csv}",
        "`file` of a derived table is that of its source results",
    ),
    "a file of its own and another's": (
        (
            "  results: {file: lab.csv, columns: {sample_id: Point, analyte: Loc}}\n"
            "  samples: [{file: lab.csv, columns: {sample_id: Point}}, {from: results, columns: {sample_id: Point}}]"
        ),
        "the table samples has a file of its own and is derived from results too; keep one of the two",
    ),
    "required column of a derived table": (
        (
            "  results: {file: lab.csv, columns: {sample_id: Point, analyte: Loc}}\n"
            "  samples: {from: results, columns: {crew: Depth}}"
        ),
        "project.yaml:4:12: the table samples needs a column 'sample_id'; name its header under `columns`",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_mapping_that_is_not_understood_stops_with_its_place(read, name):
    mapping, message = REFUSED[name]
    with pytest.raises(FolderError) as raised:
        read({"lab.csv": LAB}, HEAD + mapping + "\n")
    assert message in str(raised.value)


def test_everything_that_is_wrong_is_said_at_once(read):
    mapping = """\
  probes: {file: lab.csv, columns: {probe_id: Pt, location_id: Lc}, values: {kind: {a: driven}}}
  samples: {file: lab.csv, columns: {sample_id: Point}, formats: {ended_at: "%H"}, lab_flags: {}}
  results: {file: lub.csv}
"""
    with pytest.raises(FolderError) as raised:
        read({"lab.csv": LAB}, HEAD + mapping)
    said = str(raised.value)
    for message in ("'Pt'", "'Lc'", "probes.kind", "'%H' names no year", "`lab_flags` has no meaning", "'lub.csv'"):
        assert message in said
    assert all(problem.file == "project.yaml" and problem.line for problem in raised.value.problems)
