"""The command line: options in, one call of the library, exit code out.

Commands are imported when they are called, so that ``--help`` and ``--version`` answer at once.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module

import click

from vaporqa import __version__
from vaporqa.cli import own_process
from vaporqa.cli.screen import close_quietly
from vaporqa.errors import VaporqaError

#: Nothing at or above --fail-on; something is; could not start or write; fault in vaporqa; interrupted.
CLEAN, FLAGGED, NOT_DONE, FAULT, INTERRUPTED = 0, 1, 2, 3, 130

_COMMANDS = {
    "check": ("vaporqa.cli.check:command", "Review project folders: a flag with reasons for every row, and a report."),
    "compare": (
        "vaporqa.cli.compare:command",
        "Show which rows end otherwise: in another run, or under another profile.",
    ),
    "forms": ("vaporqa.cli.forms:command", "Write field forms to print and workbooks to fill, by the rules in force."),
    "inspect": ("vaporqa.cli.inspect:command", "Look at a stranger's file and draft a mapping of it."),
    "judge": ("vaporqa.cli.judge:command", "Write a professional judgement of one finding into the folder."),
    "plan": ("vaporqa.cli.plan:command", "Plan a field day by probe: volumes, times, order, deadlines."),
    "rules": ("vaporqa.cli.rules:command", "Show, explain and test the rules."),
    "start": ("vaporqa.cli.start:command", "Make a new project folder: project.yaml and empty tables."),
    "verify": ("vaporqa.cli.verify:command", "Run a written run again: the same, or the first difference."),
    "trace": ("vaporqa.cli.trace:command", "Trace one row: everything behind it, and what every rule said of it."),
    "tables": ("vaporqa.cli.tables:command", "Show the tables and columns that are understood."),
}
_EXAMPLES = """\b
Examples:
  vaporqa check my_project
  vaporqa check my_project --out my_report --profile california-2015
  vaporqa tables results

\b
Exit codes: 0 nothing at or above --fail-on, 1 something is, 2 could not start
or write, 3 fault in vaporqa, 130 interrupted.
"""


class _Group(click.Group):
    """Commands by name, imported when one is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _COMMANDS:
            return None
        home, _, name = _COMMANDS[cmd_name][0].partition(":")
        found = getattr(import_module(home), name)
        assert isinstance(found, click.Command)
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, about) for name, (_, about) in sorted(_COMMANDS.items())])


_CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 80}


@click.group(cls=_Group, epilog=_EXAMPLES, context_settings=_CONTEXT)
@click.version_option(__version__, prog_name="vaporqa", message="%(prog)s %(version)s")
def group() -> None:
    """Check soil-gas field and laboratory tables against written, cited rules."""


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and exit with its code."""
    own_process.OURS.append(True)
    code = run(arguments)
    if code == INTERRUPTED:
        # Python remembers an interruption inside exec() (as dataclasses use it) and would end by the signal instead.
        with suppress(OSError, ValueError):
            sys.stderr.flush()
        os._exit(code)
    sys.exit(code)


def run(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code; every way in which a run may end is decided here."""
    try:
        given = list(arguments) if arguments is not None else None
        code = group.main(args=given, prog_name="vaporqa", standalone_mode=False)
        sys.stdout.flush()
    except VaporqaError as error:
        _tell(error)
        return NOT_DONE
    except click.exceptions.Exit as error:
        return error.exit_code
    except click.ClickException as error:
        error.show(sys.stderr)
        return NOT_DONE
    except (KeyboardInterrupt, click.exceptions.Abort):
        print("vaporqa: interrupted.", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        close_quietly()
        return CLEAN
    except Exception:
        print(_fault(), file=sys.stderr)
        return FAULT
    return code if isinstance(code, int) else CLEAN


def _tell(error: VaporqaError) -> None:
    for problem in error.problems:
        print(f"vaporqa: {problem}" if not problem.file else str(problem), file=sys.stderr)
    count = len(error.problems)
    if count > 1:
        print(f"vaporqa: {count} problems.", file=sys.stderr)


def _fault() -> str:
    """Save the trace where a person can find it, and say so."""
    import tempfile  # start-up time: where nothing is at fault neither is needed
    import traceback

    try:
        handle, name = tempfile.mkstemp(prefix="vaporqa-fault-", suffix=".txt", text=True)
        with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace") as file:
            file.write(f"vaporqa {__version__}, Python {sys.version}\narguments: {sys.argv[1:]!r}\n\n")
            file.write(traceback.format_exc())
        where = f"the trace was saved in {name}"
    except OSError:
        where = "and the trace could not be saved:\n" + traceback.format_exc()
    return f"vaporqa: a fault in vaporqa itself, not in your data; {where}"
