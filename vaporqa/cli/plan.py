"""``vaporqa plan``: what the rules ask of each probe before it is sampled."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click

from vaporqa.cli.own_process import leave_pandas_out
from vaporqa.cli.screen import say

_PATH = click.Path(path_type=Path)
_EXAMPLES = """\b
Examples:
  vaporqa plan my_project
  vaporqa plan my_project --day 2026-12-01T08:00 --flow "150 mL/min"
  vaporqa plan my_project --stroke "100 mL" --out my_plan

\b
Exit codes: 0 the plan was made, 2 it could not be.
"""


@click.command("plan", epilog=_EXAMPLES)
@click.argument("folder", metavar="FOLDER", type=_PATH)
@click.option("--out", "out", metavar="DIR", type=_PATH,
              help="Write plan.html and plan.csv here: a new or empty folder, or an earlier plan's.")  # fmt: skip
@click.option("--profile", "profiles", metavar="NAME", multiple=True,
              help="Profile on top of the folder's own; repeatable, later over earlier.")  # fmt: skip
@click.option("--rules", "rules", metavar="PATH", multiple=True, type=_PATH,
              help="Further rule or profile files, or folders of them; repeatable.")  # fmt: skip
@click.option("--flow", "flow", metavar="FLOW",
              help='Planned flow, such as "150 mL/min". Default: the highest that the rules allow.')  # fmt: skip
@click.option("--stroke", "stroke", metavar="VOLUME",
              help='One stroke of a hand pump, such as "100 mL": the purge is counted in strokes as well.')  # fmt: skip
@click.option("--day", "day", metavar="TIME",
              help="When sampling begins where the samples table does not say, such as 2026-12-01T08:00.")  # fmt: skip
def command(
    folder: Path, out: Path | None, profiles: tuple[str, ...], rules: tuple[Path, ...], flow: str | None,
    stroke: str | None, day: str | None,
) -> int:  # fmt: skip
    """Plan what is left to be sampled in FOLDER, by the rules in force.

    FOLDER has locations and probes; the other tables may be empty or half filled. For each probe: dead volume with its
    parts, purge, tubing to cut, waiting times, what the gauge of its canister must show, fill time and deadlines; for
    the day: the order from clean to dirty, cleanings, duplicates and blanks. Every number names its rule and limit.
    """
    leave_pandas_out()
    from vaporqa.library import plan  # start-up time: --help needs none of it

    made = plan(folder, profile=profiles, rules=rules, flow=flow, stroke=stroke, day=day)
    if out is not None:
        made.write(out)
    colour = sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    say(made.text(colour=colour, out=out))
    return 0
