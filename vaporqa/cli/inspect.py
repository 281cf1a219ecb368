"""``vaporqa inspect``: a stranger's file, and a draft mapping for a person to complete."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from vaporqa.cli.own_process import leave_pandas_out
from vaporqa.cli.screen import say
from vaporqa.errors import OutputError, Problem

_EXAMPLES = """\b
Examples:
  vaporqa inspect deliverables/lab_2291.xlsx
  vaporqa inspect lab_2291.xlsx --sheet Data --out draft.yaml
  vaporqa inspect field_form.csv --table purges

\b
Exit codes: 0 the file was read, 2 it could not be, or the draft could not be
written.
"""
_PATH = click.Path(path_type=Path)


@click.command("inspect", epilog=_EXAMPLES)
@click.argument("file", metavar="FILE", type=_PATH)
@click.option("--table", metavar="NAME", default="", help="The table that the file feeds. Default: the best fit.")
@click.option("--sheet", metavar="NAME", default="", help="Of a workbook. Default: the largest.")
@click.option("--header-row", metavar="ROW", type=click.IntRange(1), help="Row of the column names, if you know it.")
@click.option("--out", metavar="FILE", type=_PATH, help="Write the draft here, into a new file, not to the screen.")
def command(file: Path, table: str, sheet: str, header_row: int | None, out: Path | None) -> None:
    """Look at a CSV, TSV, XLSX or Parquet FILE that somebody else made.

    Shows how it is built and what its columns hold, and drafts a mapping for
    project.yaml, the reason beside each entry. What is not sure starts with a
    question mark, and no run starts until you have answered it. The screen
    output is YAML as it stands: all but the draft is comments.
    """
    # Start-up time: `--help` needs none of this.
    leave_pandas_out()
    from vaporqa.intake.inspection import inspect_file
    from vaporqa.report.inspected import draft_text, facts_lines, inspection_text, needs_lines
    from vaporqa.report.terminal import no_command

    found = inspect_file(file, table=table, sheet=sheet, header_row=header_row or 0)
    name = _inside_project(file)
    if out is None:
        say(inspection_text(found, name))
        return
    try:
        with out.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write("\n".join(draft_text(found, name)) + "\n")
    except FileExistsError as error:
        raise OutputError(Problem(str(out), 0, 0, "the file is there already", "name a new one")) from error
    except OSError as error:
        message = f"the draft cannot be written ({error.strerror})"
        raise OutputError(Problem(str(out), 0, 0, message, "name another place")) from error
    say("\n".join(map(no_command, [*facts_lines(found), "", *needs_lines(found)])) + "\n")
    print(f"vaporqa: the draft was written to {out}", file=sys.stderr)


def _inside_project(file: Path) -> str:
    """Return the path as the project.yaml above the file would write it; the bare name where there is none."""
    whole = file.resolve()
    for folder in whole.parents:
        if (folder / "project.yaml").is_file():
            return whole.relative_to(folder).as_posix()
    return whole.name
