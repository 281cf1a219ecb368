"""A project folder written for one test."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from vaporqa.intake import load_project, read_folder
from vaporqa.tables.values import Tables

PROJECT = "project: Larkspur Yard\ntime_zone: America/Boise\nlab_time_zone: America/Chicago\n"

Read = Callable[..., Tables]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    """Write files (str as UTF-8, bytes as they are) and read the folder."""

    def reading(files: dict[str, str | bytes], project: str = PROJECT) -> Tables:
        folder = tmp_path / "folder"
        folder.mkdir(exist_ok=True)
        for old in folder.iterdir():
            old.unlink()
        (folder / "project.yaml").write_text(project, encoding="utf-8")
        for name, content in files.items():
            (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_folder(folder, load_project(folder))

    return reading
