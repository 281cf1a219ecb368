"""Intake: the files of a project folder become typed tables.

::

    load_project(folder)              project.yaml as a strict value
    read_folder(folder, project)      every table of the folder
    tables_from_text(rows, project)   tables made in memory, for rule examples and tests
    inspect_file(path)                a stranger's file, and a mapping drafted from it
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from vaporqa.intake.folder import read_folder
    from vaporqa.intake.given import tables_from_text
    from vaporqa.intake.inspection import inspect_file
    from vaporqa.intake.project import load_project

__all__ = ["inspect_file", "load_project", "read_folder", "tables_from_text"]

_HOMES = {
    "inspect_file": "inspection",
    "load_project": "project",
    "read_folder": "folder",
    "tables_from_text": "given",
}


def __getattr__(name: str) -> Any:
    # Start-up time: `--help` imports this package and needs neither numpy nor pyarrow.
    if name in _HOMES:
        from importlib import import_module

        return getattr(import_module(f"vaporqa.intake.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
