"""``vaporqa forms``: blank field forms with the columns that the rules in force judge by."""

from __future__ import annotations

from pathlib import Path

import click

from vaporqa.cli.own_process import leave_pandas_out
from vaporqa.cli.screen import say

_PATH = click.Path(path_type=Path)
_EXAMPLES = """\b
Examples:
  vaporqa forms my_project --out my_forms
  vaporqa forms my_project --out my_forms --profile california-2015 --pdf

\b
Exit codes: 0 the forms were written, 2 they could not be.
"""


@click.command("forms", epilog=_EXAMPLES)
@click.argument("folder", metavar="FOLDER", type=_PATH)
@click.option("--out", "out", metavar="DIR", type=_PATH, required=True,
              help="Write the forms here: a new or empty folder.")  # fmt: skip
@click.option("--profile", "profiles", metavar="NAME", multiple=True,
              help="Profile on top of the folder's own; repeatable, later over earlier.")  # fmt: skip
@click.option("--rules", "rules", metavar="PATH", multiple=True, type=_PATH,
              help="Further rule or profile files, or folders of them; repeatable.")  # fmt: skip
@click.option("--pdf", "pdf", is_flag=True, help="The pages as PDF as well; needs `vaporqa[pdf]`.")
@click.option("--no-workbooks", "no_workbooks", is_flag=True, help="Pages alone; workbooks need `vaporqa[xlsx]`.")
def command(
    folder: Path, out: Path, profiles: tuple[str, ...], rules: tuple[Path, ...], pdf: bool, no_workbooks: bool
) -> int:
    """Write blank field forms for FOLDER: pages for A4 and Letter, and a workbook a table.

    They hold the columns that the rules in force judge by, with what every table needs and what safety asks for.
    Locations and probes that FOLDER has stand on them. A workbook that is filled in goes into the project folder under
    its own name, in place of an older file of that table, and is read without a mapping.
    """
    leave_pandas_out()
    from vaporqa.library import forms  # start-up time: --help needs none of it
    from vaporqa.report.form_writing import check_out, write_forms

    check_out(out)
    made = forms(folder, profile=profiles, rules=rules)
    files = write_forms(made, out, pdf=pdf, workbooks=not no_workbooks)
    books = "" if no_workbooks else ", and a workbook a table to fill in on a screen"
    say(f"{len(made.forms)} forms in {out}: pages to print for A4 and Letter{books} ({len(files)} files).\n")
    return 0
