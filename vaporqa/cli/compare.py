"""``vaporqa compare``: two runs, or one folder under another profile."""

from __future__ import annotations

from pathlib import Path

import click

from vaporqa.cli.own_process import leave_pandas_out
from vaporqa.cli.screen import say
from vaporqa.errors import Problem, UsageError

_PATH = click.Path(path_type=Path)
_EXAMPLES = """\b
Examples:
  vaporqa compare old_report new_report
  vaporqa compare old_report new_report --csv moved.csv --html moved.html
  vaporqa compare my_project --against illinois
"""


@click.command("compare", epilog=_EXAMPLES)
@click.argument("folders", metavar="OLD NEW | FOLDER", nargs=-1, required=True, type=_PATH)
@click.option(
    "--against", "against", metavar="PROFILE", multiple=True,
    help="Profile in place of those that FOLDER declares; repeatable, later over earlier.",
)  # fmt: skip
@click.option(
    "--rules", "rules", metavar="PATH", multiple=True, type=_PATH,
    help="Further rule or profile files, or folders of them, for that other side; repeatable.",
)  # fmt: skip
@click.option("--csv", "into", metavar="FILE", type=_PATH, help="Write every row that ends otherwise into this file.")
@click.option("--html", "page", metavar="FILE", type=_PATH, help="Write the comparison of two runs as a page.")
def command(
    folders: tuple[Path, ...], against: tuple[str, ...], rules: tuple[Path, ...], into: Path | None, page: Path | None
) -> int:
    """Show which rows end otherwise: in another run, or under another profile.

    OLD and NEW are folders that `vaporqa check --out` wrote: a delivery and its resubmission, a form and its
    correction. With --against, one project FOLDER is compared with itself under other profiles; its own rule and
    profile files count on both sides. For each row: from what to what, and what is behind it.
    """
    if against and len(folders) == 1:
        if page is not None:
            raise UsageError(Problem("", 0, 0, "--html is for two runs", "leave it out, or compare two runs"))
        return _profiles(folders[0], against, rules, into)
    if against or rules or len(folders) != 2:
        message = "a comparison is of two runs, or of one project folder --against a profile"
        mend = "write `vaporqa compare OLD NEW`, or `vaporqa compare FOLDER --against PROFILE`"
        raise UsageError(Problem("", 0, 0, message, mend))
    return _runs(*folders, into, page)


def _profiles(folder: Path, against: tuple[str, ...], rules: tuple[Path, ...], into: Path | None) -> int:
    leave_pandas_out()
    from vaporqa.library import compare  # start-up time: --help needs none of it
    from vaporqa.report.compared import comparison_csv, comparison_text
    from vaporqa.report.writing import write_file

    compared = compare(folder, against=against, rules=rules)
    if into is not None:
        write_file(into, comparison_csv(compared.comparison, compared.tables))
    say(comparison_text(compared.comparison, csv_name=str(into) if into is not None else ""))
    return 0


def _runs(old: Path, new: Path, into: Path | None, page: Path | None) -> int:
    leave_pandas_out()
    from vaporqa.library import compare_written  # start-up time: --help needs none of it
    from vaporqa.report.compared_runs import runs_csv, runs_page, runs_text
    from vaporqa.report.writing import write_file

    found = compare_written(old, new)
    if into is not None:
        write_file(into, runs_csv(found))
    if page is not None:
        write_file(page, runs_page(found))
    say(runs_text(found, csv_name=str(into) if into is not None else ""))
    return 0
