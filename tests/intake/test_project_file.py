"""project.yaml: what it may say, and what it says when it is wrong."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
import yaml

from vaporqa.errors import FolderError
from vaporqa.intake import load_project
from vaporqa.tables.project import project_schema

FULL = """\
project: Larkspur Yard
purpose: property transaction
time_zone: America/Boise
lab_time_zone: America/Chicago
altitude: 4100 ft
lab_altitude: 600 ft
reference: {temperature: 20 degC, pressure: 1013.25 hPa}
profile: [california-2015, ours]
stage: 2A
leave_out: {leak_tracer: no}
missing: ["", "--", n/a, 010]
units: {probes.depth_top: ft}
"""


def write(folder: Path, text: str) -> Path:
    (folder / "project.yaml").write_text(text, encoding="utf-8")
    return folder


def test_a_full_file_is_read_as_a_person_reads_it(tmp_path):
    project = load_project(write(tmp_path, FULL))
    assert project.name == "Larkspur Yard"
    assert project.altitude_m == pytest.approx(1249.68)  # 4100 ft of 0.3048 m exactly
    assert project.lab_altitude_m == pytest.approx(182.88)
    assert project.reference_temperature == pytest.approx(20)
    assert project.reference_pressure == pytest.approx(101.325)
    assert project.profiles == ("california-2015", "ours")
    assert project.leave_out == {"leak_tracer": "no"}  # not False
    assert project.missing == ("", "--", "n/a", "010")  # not 8
    assert project.units == {"probes.depth_top": "ft"}
    assert len(project.sha256) == 64


def test_what_is_not_said_has_its_declared_default(tmp_path):
    project = load_project(write(tmp_path, "project: x\n"))
    assert (project.stage, project.reference_temperature, project.reference_pressure) == ("2A", 25.0, 101.325)
    assert project.altitude_m is None


WRONG = {
    "profil: a\n": "project.yaml:1:1: unknown key 'profil'; did you mean 'profile'?",
    "time_zone: America/Boisse\n": "1:12: there is no time zone 'America/Boisse'; did you mean America/Boise",
    "purpose: landfil\n": "project.yaml:1:10: `purpose` cannot be 'landfil'; did you mean 'landfill'?",
    "stage: 3\n": "project.yaml:1:8: `stage` cannot be '3'; write one of: 1, 2A, 2B",
    "altitude: 4100\n": "project.yaml:1:11: `altitude`: '4100' has no unit; write one after the number, as in '4100 m'",
    "altitude: 12:30\n": "project.yaml:1:11: `altitude`: '12:30': ':30' is no unit that is known here",
    "reference: {temperature: -300 degC}\n": "1:26: the reference temperature lies at or under absolute zero",
    "leave_out: {blanks: }\n": "project.yaml:1:13: 'blanks' is left out without a reason",
    "units: {probes.depth_to: ft}\n": "1:9: the table probes has no column 'depth_to'; did you mean 'depth_top'?",
    "units: {probes.depth_top: kPa}\n": "1:27: 'probes.depth_top': 'kPa' is a unit of pressure, and length",
    "units: {probes.kind: ft}\n": "project.yaml:1:9: 'probes.kind' takes no unit (word)",
    "rules: [../elsewhere]\n": "project.yaml:1:9: '../elsewhere' lies outside the project folder",
    "rules: [our_rules]\n": "project.yaml:1:9: there is no 'our_rules' in the project folder",
    "tables: {result: {file: a.csv}}\n": "project.yaml:1:10: unknown key 'result' in tables; did you mean 'results'?",
    "project: a\nproject: b\n": "project.yaml:2:1: the key 'project' stands here a second time (first in line 1)",
    "project: &name a\n": "project.yaml:1:10: an anchor (&name) is not understood; write the value out",
    "project: !!python/object:os.system a\n": "project.yaml:1:10: a tag",
    "project: [a\n": "project.yaml:2:1: not valid YAML",
    "project: a\n---\nproject: b\n": "project.yaml:2:1: a second document starts here",
    "- a\n": "project.yaml:1:1: keys and values are expected here; write one with at least",
    "": "project.yaml: the file says nothing; write one with at least",
    "project: " + "[" * 50 + "]" * 50 + "\n": "nested deeper than 40 levels",
}


@pytest.mark.parametrize("text", WRONG)
def test_what_is_wrong_is_named_with_its_place(tmp_path, text):
    with pytest.raises(FolderError) as raised:
        load_project(write(tmp_path, text))
    assert "project.yaml:" in str(raised.value)
    assert WRONG[text] in str(raised.value)


def test_every_problem_is_said_at_once(tmp_path):
    with pytest.raises(FolderError) as raised:
        load_project(write(tmp_path, "profil: a\ntime_zone: Boise\nstage: 9\naltitude: 3\n"))
    assert [problem.line for problem in raised.value.problems] == [1, 2, 3, 4]


def test_the_excerpt_and_the_caret_point_at_the_word(tmp_path):
    with pytest.raises(FolderError) as raised:
        load_project(write(tmp_path, "project: x\nstage: 9\n"))
    assert str(raised.value).endswith("\n    stage: 9\n           ^")


def test_no_folder_empty_folder_no_project_file(tmp_path):
    with pytest.raises(FolderError, match="there is no such folder"):
        load_project(tmp_path / "nowhere")
    with pytest.raises(FolderError, match=r"the folder is empty; it needs project\.yaml and tables; write one with"):
        load_project(tmp_path)
    (tmp_path / "projekt.yaml").write_text("project: x\n")
    with pytest.raises(FolderError, match=r"the folder has no project\.yaml; rename projekt\.yaml"):
        load_project(tmp_path)
    with pytest.raises(FolderError, match="this is not a folder"):
        load_project(tmp_path / "projekt.yaml")


def test_the_schema_is_draft_7_and_agrees_with_the_reader():
    schema = project_schema()
    jsonschema.Draft7Validator.check_schema(schema)
    json.dumps(schema)
    validator = jsonschema.Draft7Validator(schema)
    # BaseLoader keeps every scalar a text, as the reader does.
    assert list(validator.iter_errors(yaml.load(FULL, Loader=yaml.BaseLoader))) == []
    for text in (
        "profil: a\n",
        "purpose: landfil\n",
        "stage: 3\n",
        "tables: {result: {file: a}}\n",
        "altitude: 4100 \n",
    ):
        assert list(validator.iter_errors(yaml.load(text, Loader=yaml.BaseLoader))), text
