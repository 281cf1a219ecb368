"""A plan's folder: plan.html and plan.csv, and nothing of anybody else's."""

from __future__ import annotations

from pathlib import Path

from vaporqa.errors import OutputError, Problem
from vaporqa.planning import Plan
from vaporqa.report.plan_page import plan_page
from vaporqa.report.plan_rows import plan_csv
from vaporqa.report.writing import write_file

PAGE_FILE, CSV_FILE = "plan.html", "plan.csv"


def write_plan(plan: Plan, out: Path) -> Path:
    """Write both files into `out`.

    Raises
    ------
    OutputError
        The folder is the project's own, holds something else, or cannot be written.
    """
    check_place(out, plan.review.project.folder)
    write_file(out / CSV_FILE, plan_csv(plan))
    write_file(out / PAGE_FILE, plan_page(plan))
    return out


def check_place(out: Path, folder: Path | None) -> None:
    """Refuse a folder that is neither new, empty nor an earlier plan's, or that holds the project's own files."""

    def refuse(message: str, mend: str) -> OutputError:
        return OutputError(Problem(str(out), 0, 0, message, mend))

    if folder is not None and out.resolve() == folder.resolve():
        raise refuse("the plan would be written among the tables", "name another folder with --out")
    if not out.exists():
        return
    if not out.is_dir():
        raise refuse("this is a file, not a folder", "name a new folder with --out")
    names = sorted(entry.name for entry in out.iterdir())
    if names and not (out / PAGE_FILE).is_file():
        raise refuse(f"the folder is not empty and holds no earlier plan (it has {names[0]})",
                     "name a new or empty folder with --out")  # fmt: skip
