"""``vaporqa verify``: whether a run can be had again."""

from __future__ import annotations

from pathlib import Path

import click

from vaporqa.cli.own_process import leave_pandas_out
from vaporqa.cli.screen import say

_PATH = click.Path(path_type=Path)
_EXAMPLES = """\b
Examples:
  vaporqa verify my_report
  vaporqa verify received_report --folder received_data
"""


@click.command("verify", epilog=_EXAMPLES)
@click.argument("out", metavar="DIR", type=_PATH)
@click.option(
    "--folder", "folder", metavar="FOLDER", type=_PATH,
    help="Project folder, where it is no longer where run.json says.",
)  # fmt: skip
def command(out: Path, folder: Path | None) -> int:
    """Run again what DIR/run.json states, and compare every file of DIR with what comes out.

    The files of the run, the inputs and the rule files must still be those that were recorded; then the review is
    made again, and every byte of every file but run.json must be the same. Exit code 0: the same; 1: the first
    difference is named; 2: could not start. Nothing is written.
    """
    leave_pandas_out()
    from vaporqa.library import verify  # start-up time: --help needs none of it
    from vaporqa.report.terminal import no_command
    from vaporqa.report.wording import visible

    found = verify(out, folder=folder)
    if found.difference is None:
        say(f"The same: {found.files:,} files of {visible(str(out), 400)} came out again, byte for byte.\n")
        return 0
    note = f" ({found.note})" if found.note else ""
    say(f"Not the same{note}.\n{no_command(visible(str(found.difference), 900))}\n")
    return 1
