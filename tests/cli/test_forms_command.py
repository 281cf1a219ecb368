"""`vaporqa forms` on the command line: what is written, and bad input by its exact words."""

from __future__ import annotations

from pathlib import Path

import pytest

from vaporqa.cli import run
from vaporqa.report.form_columns import FORM_TABLES


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "made"
    made.mkdir()
    (made / "project.yaml").write_text("project: Made up\ntime_zone: America/Boise\n")
    (made / "locations.csv").write_text("location_id\n")
    return made


def test_a_folder_of_empty_tables_gets_every_form(folder, capsys):
    out = folder.parent / "out"
    assert run(["forms", str(folder), "--out", str(out)]) == 0
    assert "11 forms in" in capsys.readouterr().out
    names = {"forms-a4.html", "forms-letter.html", *(f"{name}.xlsx" for name in FORM_TABLES)}
    assert {one.name for one in out.iterdir()} == names


def test_a_folder_without_any_table(folder, capsys):
    (folder / "locations.csv").unlink()
    assert run(["forms", str(folder), "--out", str(folder.parent / "out")]) == 2
    assert "the folder holds no table" in capsys.readouterr().err
    assert not (folder.parent / "out").exists()


def test_no_folder(folder, capsys):
    missing = folder.parent / "nowhere"
    assert run(["forms", str(missing), "--out", str(folder.parent / "out")]) == 2
    assert "nowhere" in capsys.readouterr().err
    assert not (folder.parent / "out").exists()


def test_a_folder_that_is_not_empty_is_left_alone(folder, capsys):
    before = {one: one.read_bytes() for one in folder.iterdir()}
    assert run(["forms", str(folder), "--out", str(folder)]) == 2
    assert capsys.readouterr().err == (
        f"{folder}: the folder is not empty (it has locations.csv), and a form in it may be filled in; "
        "name a new or empty folder with --out\n"
    )
    assert {one: one.read_bytes() for one in folder.iterdir()} == before


def test_a_file_in_place_of_a_folder(folder, capsys):
    target = folder.parent / "file"
    target.write_text("mine")
    assert run(["forms", str(folder), "--out", str(target)]) == 2
    assert "this is a file, not a folder" in capsys.readouterr().err
    assert target.read_text() == "mine"


def test_a_profile_that_does_not_exist(folder, capsys):
    assert run(["forms", str(folder), "--out", str(folder.parent / "out"), "--profile", "nowhere-2015"]) == 2
    assert "nowhere-2015" in capsys.readouterr().err


def test_without_out(folder):
    assert run(["forms", str(folder)]) == 2
