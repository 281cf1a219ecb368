"""``vaporqa start``: a new project folder."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from vaporqa.errors import OutputError, Problem, UsageError, did_you_mean
from vaporqa.report.starting import PROJECT_FILE, UNITS, new_folder
from vaporqa.tables.dictionary import TABLES

_EXAMPLES = """\b
Examples:
  vaporqa start my_project
  vaporqa start my_project --units metric
  vaporqa start my_project --tables probes,samples,results

\b
Exit codes: 0 the folder was made, 2 it could not be.
"""


@click.command("start", epilog=_EXAMPLES)
@click.argument("folder", metavar="FOLDER", type=click.Path(path_type=Path))
@click.option("--units", type=click.Choice(UNITS), default="us", show_default=True,
              help="Units in the headers: us has ft, in, inHg, degF; metric has m, mm, kPa, degC.")  # fmt: skip
@click.option("--tables", metavar="NAMES", help="Only these tables, by commas. Default: all of them.")
def command(folder: Path, units: str, tables: str | None) -> None:
    """Make FOLDER with project.yaml and an empty CSV for each table.

    FOLDER is new or empty. What only you can know, such as the time zone,
    waits in project.yaml for an answer, and no run starts before.
    """
    wanted = [name.strip() for name in tables.split(",") if name.strip()] if tables is not None else []
    unknown = [name for name in wanted if name not in TABLES]
    if unknown or (tables is not None and not wanted):
        raise UsageError(
            Problem("", 0, 0, f"there is no table '{name}'", did_you_mean(name, list(TABLES))
                    or "run `vaporqa tables` for all names")
            for name in unknown or [str(tables)]
        )  # fmt: skip
    if folder.is_dir():
        if there := sorted(item.name for item in folder.iterdir()):
            message = f"the folder is not empty; it holds {there[0]}" + (
                f" and {len(there) - 1:,} more" if there[1:] else "")  # fmt: skip
            raise OutputError(Problem(str(folder), 0, 0, message, "name a new folder"))
    elif folder.exists() or folder.is_symlink():
        raise OutputError(Problem(str(folder), 0, 0, "a file of this name is there already", "name a new folder"))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in new_folder(folder.resolve().name, units, wanted).items():
            with (folder / name).open("x", encoding="utf-8", newline="\n") as stream:
                stream.write(text)
    except OSError as error:
        message = f"the folder cannot be written ({error.strerror})"
        raise OutputError(Problem(str(folder), 0, 0, message, "name another place")) from error
    print(f"vaporqa: {folder} is ready: answer what waits in {folder / PROJECT_FILE}, then fill the tables",
          file=sys.stderr)  # fmt: skip
