"""``vaporqa compare``: the folder under another profile."""

from __future__ import annotations

from pathlib import Path

import click

from vaporqa.cli.screen import say

_PATH = click.Path(path_type=Path)
_EXAMPLES = """\b
Examples:
  vaporqa compare my_project --against illinois
  vaporqa compare my_project --against baseline --csv moved.csv
"""


@click.command("compare", epilog=_EXAMPLES)
@click.argument("folder", metavar="FOLDER", type=_PATH)
@click.option(
    "--against", "against", metavar="PROFILE", multiple=True, required=True,
    help="Profile in place of those that the folder declares; repeatable, later over earlier.",
)  # fmt: skip
@click.option(
    "--rules", "rules", metavar="PATH", multiple=True, type=_PATH,
    help="Further rule or profile files, or folders of them, for that other side; repeatable.",
)  # fmt: skip
@click.option("--csv", "into", metavar="FILE", type=_PATH, help="Write every moved row into this file.")
def command(folder: Path, against: tuple[str, ...], rules: tuple[Path, ...], into: Path | None) -> int:
    """Show which rows of FOLDER end otherwise under another profile.

    For each row whose standing or qualifier moves: from what to what, and which limit moved it. The folder's own rule
    and profile files count on both sides.
    """
    from vaporqa.library import compare  # start-up time: --help needs none of it
    from vaporqa.report.compared import comparison_csv, comparison_text
    from vaporqa.report.writing import write_file

    compared = compare(folder, against=against, rules=rules)
    if into is not None:
        write_file(into, comparison_csv(compared.comparison, compared.tables))
    say(comparison_text(compared.comparison, csv_name=str(into) if into is not None else ""))
    return 0
