"""``vaporqa start``: a folder that waits for what only a person knows, and then runs."""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

import vaporqa.cli as cli
from vaporqa.intake import load_project, read_folder
from vaporqa.report.starting import SCHEMA_FILE, UNITS
from vaporqa.tables.dictionary import TABLES
from vaporqa.tables.project import PROJECT_KEYS, project_schema

ANSWERS = {
    '"? one of these"': "remediation",
    '"? such as America/Boise"': "America/Boise",
    '"? of the field, such as 4100 ft"': "4100 ft",
    '"? of the laboratory, such as 600 ft"': "600 ft",
}


def answered(folder: Path) -> None:
    path = folder / "project.yaml"
    text = path.read_text(encoding="utf-8")
    for question, answer in ANSWERS.items():
        assert question in text
        text = text.replace(question, answer)
    path.write_text(text, encoding="utf-8")


def test_a_new_folder_waits_for_answers(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "yard"
    assert cli.run(["start", str(folder)]) == 0
    capsys.readouterr()
    assert cli.run(["check", str(folder)]) == 2
    told = capsys.readouterr().err
    assert told.count("not answered yet") == 5
    assert "project.yaml:15:12: not answered yet: '? such as America/Boise'; write the name of a zone" in told


def test_answered_and_empty_it_runs(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "yard"
    assert cli.run(["start", str(folder)]) == 0
    answered(folder)
    assert cli.run(["check", str(folder), "--fail-on", "estimated"]) == 0
    said = capfd.readouterr().out
    assert "remediation, 0 samples, 0 result rows, 18 input files" in said
    assert "The folder holds no results of field samples" in said
    assert "No findings." in said


@pytest.mark.parametrize("units", UNITS)
def test_every_table_reads_with_the_units_of_its_headers(tmp_path: Path, units: str) -> None:
    folder = tmp_path / "yard"
    assert cli.run(["start", str(folder), "--units", units]) == 0
    answered(folder)
    tables = read_folder(folder, load_project(folder))
    assert set(tables.tables) == set(TABLES)
    header = next(csv.reader([(folder / "probes.csv").read_text(encoding="utf-8")]))
    assert ("depth_top [ft]" if units == "us" else "depth_top [m]") in header
    # A foot is 0.3048 m by definition (1959), an inch 25.4 mm.
    names = [name.partition(" [")[0] for name in header]
    row = {"probe_id": "P1", "location_id": "L1", "depth_top": "5", "bore_diameter": "2"}
    with (folder / "probes.csv").open("a", encoding="utf-8") as stream:
        stream.write(",".join(row.get(name, "") for name in names) + "\n")
    probes = read_folder(folder, load_project(folder)).tables["probes"]
    depth, bore = probes.number("depth_top"), probes.number("bore_diameter")
    assert depth is not None and bore is not None
    assert depth.values[0] == pytest.approx(5 * 0.3048 if units == "us" else 5)
    assert bore.values[0] == pytest.approx(2 * 0.0254 if units == "us" else 0.002)


def test_some_tables_only(tmp_path: Path) -> None:
    folder = tmp_path / "yard"
    assert cli.run(["start", str(folder), "--tables", "probes, weather"]) == 0
    assert sorted(path.name for path in folder.iterdir()) == [
        ".project.schema.json", "probes.csv", "project.yaml", "weather.csv",
    ]  # fmt: skip


def test_the_schema_for_editors_is_beside_it(tmp_path: Path) -> None:
    folder = tmp_path / "yard"
    assert cli.run(["start", str(folder)]) == 0
    first = (folder / "project.yaml").read_text(encoding="utf-8").splitlines()[0]
    assert first == f"# yaml-language-server: $schema={SCHEMA_FILE}"
    assert json.loads((folder / SCHEMA_FILE).read_text(encoding="utf-8")) == project_schema()


def test_every_key_is_explained_and_none_is_invented(tmp_path: Path) -> None:
    folder = tmp_path / "yard"
    assert cli.run(["start", str(folder)]) == 0
    lines = (folder / "project.yaml").read_text(encoding="utf-8").splitlines()
    shown = [line.removeprefix("# ") for line in lines]
    for key in PROJECT_KEYS:
        assert any(line.startswith(f"{key}:") for line in shown), key
    assert set(yaml.safe_load("\n".join(lines))) <= set(PROJECT_KEYS)


@pytest.mark.parametrize(
    ("name", "written"), [("yes", '"yes"'), ("a: b", '"a: b"'), ("Süd 7", '"Süd 7"'), ('q"x', r'"q\"x"')]
)
def test_the_folder_gives_the_project_its_name(tmp_path: Path, name: str, written: str) -> None:
    folder = tmp_path / name
    assert cli.run(["start", str(folder), "--tables", "probes"]) == 0
    assert f"project: {written}\n" in (folder / "project.yaml").read_text(encoding="utf-8")
    answered(folder)
    assert load_project(folder).name == name


def refused(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    assert cli.run(arguments) == 2
    return capsys.readouterr().err


def test_what_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    full = tmp_path / "full"
    full.mkdir()
    (full / "a.txt").write_text("mine")
    (full / "b.txt").write_text("mine")
    assert refused(["start", str(full)], capsys) == (
        f"{full}: the folder is not empty; it holds a.txt and 1 more; name a new folder\n"
    )
    assert sorted(path.name for path in full.iterdir()) == ["a.txt", "b.txt"]
    assert refused(["start", str(full / "a.txt")], capsys) == (
        f"{full / 'a.txt'}: a file of this name is there already; name a new folder\n"
    )
    assert refused(["start", str(tmp_path / "new"), "--tables", "probe,sampels"], capsys) == (
        "vaporqa: there is no table 'probe'; did you mean 'probes'?\n"
        "vaporqa: there is no table 'sampels'; did you mean 'samples'?\n"
        "vaporqa: 2 problems.\n"
    )
    assert "there is no table ','" in refused(["start", str(tmp_path / "new"), "--tables", ","], capsys)
    assert "'imperial' is not one of" in refused(["start", str(tmp_path / "new"), "--units", "imperial"], capsys)
    assert not (tmp_path / "new").exists()
    assert refused(["start", str(full / "a.txt" / "deeper")], capsys).endswith(
        "the folder cannot be written (Not a directory); name another place\n"
    )


def test_start_answers_without_heavy_libraries(tmp_path: Path) -> None:
    program = (
        "import sys\nfrom vaporqa.cli import run\n"
        f"code = run(['start', {str(tmp_path / 'yard')!r}])\n"
        "heavy = [name for name in ('pandas', 'pandera', 'pyarrow', 'jinja2', 'numpy') if name in sys.modules]\n"
        "print(heavy, code)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, env=os.environ)
    assert done.stdout.strip() == "[] 0"
