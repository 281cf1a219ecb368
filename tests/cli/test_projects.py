"""Project folders below a path, at any depth."""

from __future__ import annotations

from pathlib import Path

import pytest

import vaporqa.cli as cli
from vaporqa.cli.projects import projects_below


def _project(folder: Path) -> Path:
    folder.mkdir(parents=True)
    (folder / "project.yaml").write_text("project: Yard\ntime_zone: UTC\n")
    return folder


def _names(folder: Path) -> list[str]:
    return [path.relative_to(folder).as_posix() for path in projects_below(folder)]


def test_any_depth_in_order(tmp_path: Path) -> None:
    for name in ("south", "north/first/deep", "north/first", "west/2026/yard"):
        _project(tmp_path / name) if name != "north/first" else (tmp_path / name / "project.yaml").write_text("x")
    assert _names(tmp_path) == ["north/first", "north/first/deep", "south", "west/2026/yard"]


def test_a_project_folder_itself_is_one(tmp_path: Path) -> None:
    _project(tmp_path / "yard")
    _project(tmp_path / "yard" / "old")
    assert projects_below(tmp_path / "yard") == []


def test_hidden_folders_and_earlier_runs_are_left_out(tmp_path: Path) -> None:
    _project(tmp_path / "yard")
    _project(tmp_path / ".venv" / "lib" / "yard")
    _project(tmp_path / "out" / "copy")
    (tmp_path / "out" / "review.json").write_text("{}")
    assert _names(tmp_path) == ["yard"]


def test_links_lead_in_no_circle_and_to_each_project_once(tmp_path: Path) -> None:
    _project(tmp_path / "projects" / "yard")
    elsewhere = _project(tmp_path / "elsewhere")
    projects = tmp_path / "projects"
    (projects / "yard" / "up").symlink_to(projects)
    (projects / "self").symlink_to(projects / "self")
    (projects / "again").symlink_to(projects / "yard")
    (projects / "linked").symlink_to(elsewhere)
    (projects / "linked-twice").symlink_to(elsewhere)
    (projects / "wide").symlink_to(tmp_path)
    assert _names(projects) == ["linked", "yard"]


@pytest.mark.parametrize("name", ["empty", "nothing"])
def test_none_below(name: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "empty").mkdir()
    assert projects_below(tmp_path / name) == []
    assert cli.run(["check", str(tmp_path / name)]) == 2
    expected = {"empty": "the folder is empty; it needs project.yaml", "nothing": "there is no such folder"}
    assert expected[name] in capfd.readouterr().err
