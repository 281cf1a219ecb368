"""``vaporqa trace``: one row with everything that stands behind it."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

import click

from vaporqa.cli.own_process import leave_pandas_out
from vaporqa.cli.screen import say

_PATH = click.Path(path_type=Path)
FORMATS = ("text", "json")
_EXAMPLES = """\b
Examples:
  vaporqa trace my_project results R-00123
  vaporqa trace my_project probes SG-07
  vaporqa trace my_project results SG-07-1/71-43-2 --format json | jq .rows[0].links
"""


@click.command("trace", epilog=_EXAMPLES)
@click.argument("folder", metavar="FOLDER", type=_PATH)
@click.argument("table", metavar="TABLE")
@click.argument("key", metavar="KEY")
@click.option("--profile", "profiles", metavar="NAME", multiple=True,
              help="Profile on top of the folder's own; repeatable, later over earlier.")  # fmt: skip
@click.option("--rules", "rules", metavar="PATH", multiple=True, type=_PATH,
              help="Further rule or profile files, or folders of them; repeatable.")  # fmt: skip
@click.option("--format", "form", type=click.Choice(FORMATS), default="text", show_default=True, help="What to print.")
def command(folder: Path, table: str, key: str, profiles: tuple[str, ...], rules: tuple[Path, ...], form: str) -> int:
    """Trace the row of TABLE under KEY: its chain from location to result.

    For each link the rows behind it with file and line, every rule that concerned them, holding or not, with the number
    that was measured and the limit; and how the row's standing was settled. KEY is what stands in the column `key` of
    the flag files; parts of a made key are joined by `/`.
    """
    leave_pandas_out()
    from vaporqa.library import check  # start-up time: --help needs none of it
    from vaporqa.report.trace_text import trace_text

    found = check(folder, profile=profiles, rules=rules).trace(table, key)
    if form == "json":
        say(json.dumps(found.as_json(), ensure_ascii=False, indent=1) + "\n")
    else:
        colour = sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
        say(trace_text(found, colour=colour))
    return 0
