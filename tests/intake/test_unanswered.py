"""Entries of project.yaml that wait for an answer: all are named, each with its place and how to answer it."""

from __future__ import annotations

from pathlib import Path

import pytest

from vaporqa.errors import FolderError
from vaporqa.intake import load_project

DRAFT = """\
project: Larkspur Yard
time_zone: "? such as America/Boise"
tables:
  results:
    - file: lab.csv
      skip_rows: [7, "? 45"]
      columns:
        sample_id: ["? Site", "Client ID"]
        analyte: "? Parameter"
      formats: {collected_at: "? %m/%d/%Y or %d/%m/%Y"}
      decimal: "? ,"
      values: {matrix: {SV: "? soil_gas"}}
      lab_flags: {J: "? estimated"}
      units: {result: "? unit of 'Result'"}
"""


def messages(tmp_path: Path, text: str) -> list[str]:
    (tmp_path / "project.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(FolderError) as stopped:
        load_project(tmp_path)
    return [str(problem).split("\n", maxsplit=1)[0] for problem in stopped.value.problems]


def test_every_open_entry_is_named_at_once_with_how_to_answer(tmp_path: Path) -> None:
    assert messages(tmp_path, DRAFT) == [
        (
            "project.yaml:2:12: not answered yet: '? such as America/Boise'; write the name of a zone, such as "
            "America/Boise or UTC, without the question mark"
        ),
        (
            "project.yaml:6:22: not answered yet: '? 45'; write the row if it is no record, without the question mark, "
            "or leave the entry out"
        ),
        (
            "project.yaml:8:21: not answered yet: '? Site'; write the header that feeds results.sample_id, without the "
            "question mark, or leave the entry out"
        ),
        (
            "project.yaml:9:18: not answered yet: '? Parameter'; write the header that feeds results.analyte, without "
            "the question mark, or leave the entry out"
        ),
        (
            "project.yaml:10:31: not answered yet: '? %m/%d/%Y or %d/%m/%Y'; write the one format that the cells of "
            "results.collected_at have, without the question mark"
        ),
        "project.yaml:11:16: not answered yet: '? ,'; write '.' or ',', without the question mark",
        (
            "project.yaml:12:29: not answered yet: '? soil_gas'; write what the text means in results.matrix, without "
            "the question mark, or leave the entry out"
        ),
        (
            "project.yaml:13:22: not answered yet: '? estimated'; write what the flag 'J' means in this laboratory, "
            "without the question mark"
        ),
        (
            "project.yaml:14:23: not answered yet: '? unit of 'Result''; write the unit of results.result, without the "
            "question mark"
        ),
    ]


def test_other_mistakes_are_told_beside_and_not_instead(tmp_path: Path) -> None:
    told = messages(tmp_path, 'time_zone: "? the zone"\nstage: 2C\nunits: {probes.depth: "? ft"}\n')
    assert [line.split(": ")[0] for line in told] == [
        "project.yaml:1:12",
        "project.yaml:2:8",
        "project.yaml:3:9",
        "project.yaml:3:23",
    ]
    assert "`stage` cannot be '2C'" in told[1]


def test_a_question_mark_by_itself_is_a_spelling_of_a_missing_value(tmp_path: Path) -> None:
    (tmp_path / "project.yaml").write_text('time_zone: UTC\nmissing: ["?", "n/a", "??"]\n', encoding="utf-8")
    assert load_project(tmp_path).missing == ("?", "n/a", "??")
