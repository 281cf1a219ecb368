"""``vaporqa judge``: a professional judgement of one finding, written into the project folder."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import click

from vaporqa.cli.own_process import leave_pandas_out
from vaporqa.cli.screen import say

_PATH = click.Path(path_type=Path)
_EXAMPLES = """\b
Examples:
  vaporqa judge my_project 'purge-flow/purges/PU-A04' --effect note \\
    --by "reviewer A" --why "The pump log shows 190 mL/min; 240 is a slip."
  vaporqa judge my_project 'known-flag/results/*:S' --effect estimate \\
    --detect J --nondetect UJ --by "reviewer A" --why "S means ..." --dry-run

\b
The ids of findings stand in findings.csv, which `vaporqa check --out` writes.
"""
_TEXT = {
    "effect": "What the finding does from now on: note, estimate, unproven or reject.",
    "detect": "Letter for a detect: -, note, J, J+, J-, NJ, unproven or R. Default: by effect and direction.",
    "nondetect": "Letter for a nondetect: -, note, UJ, unproven or R. Default: by effect and direction.",
    "by": "Who decides.",
    "why": "The reason, in a sentence that a third person can follow.",
    "replace": "Take the place of an earlier judgement, which stays in the file as superseded.",
    "dry": "Show what would move and write nothing.",
    "profile": "Profile on top of the folder's own; repeatable, later over earlier.",
    "rules": "Further rule or profile files, or folders of them; repeatable.",
}


@click.command("judge", epilog=_EXAMPLES)
@click.argument("folder", metavar="FOLDER", type=_PATH)
@click.argument("finding", metavar="FINDING")
@click.option("--effect", "effect", metavar="EFFECT", required=True, help=_TEXT["effect"])
@click.option("--detect", "detect", metavar="LETTER", default="", help=_TEXT["detect"])
@click.option("--nondetect", "nondetect", metavar="LETTER", default="", help=_TEXT["nondetect"])
@click.option("--by", "by", metavar="NAME", default="", help=_TEXT["by"])
@click.option("--why", "why", metavar="TEXT", default="", help=_TEXT["why"])
@click.option("--replace", "replaces", is_flag=True, help=_TEXT["replace"])
@click.option("--dry-run", "dry", is_flag=True, help=_TEXT["dry"])
@click.option("--profile", "profiles", metavar="NAME", multiple=True, help=_TEXT["profile"])
@click.option("--rules", "rules", metavar="PATH", multiple=True, type=_PATH, help=_TEXT["rules"])
def command(
    folder: Path, finding: str, effect: str, detect: str, nondetect: str, by: str, why: str, replaces: bool, dry: bool,
    profiles: tuple[str, ...], rules: tuple[Path, ...],
) -> int:  # fmt: skip
    """Judge FINDING of FOLDER: give it another effect, and say who decided so and why.

    The judgement goes into FOLDER/judgements.yaml, which every later check reads. The finding stays in every report,
    with its own letters beside the judged ones. When a value behind it changes, the judgement no longer counts.
    """
    from vaporqa.judging import Decision  # start-up time: --help needs none of it

    leave_pandas_out()
    from vaporqa.library import judge

    decision = Decision(finding, effect, by, why, today(), detect, nondetect, replaces)
    say(judge(folder, decision, profile=profiles, rules=rules, write=not dry).text())
    return 0


def today() -> dt.date:
    """Return the date of the machine's clock."""
    return dt.date.today()
