"""``vaporqa check`` of several folders: one line or text a folder in the order of the paths, then the roll-up."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from vaporqa import __version__
from vaporqa.cli import own_process
from vaporqa.cli.screen import say
from vaporqa.errors import Problem, UsageError, VaporqaError

_CLEAN, _FLAGGED, _FAULT = 0, 1, 3


@dataclass(frozen=True, slots=True)
class Wanted:
    """What was asked for of every folder; `prints` is `text` or `annotations`, or empty for one line a folder."""

    profiles: tuple[str, ...]
    rules: tuple[str, ...]
    flags_as: tuple[str, ...]
    pdf: bool
    prints: str
    colour: bool
    fail_on: str


def check_programme(
    folders: Sequence[Path], out: Path | None, wanted: Wanted, at_a_time: int, scheduler: str | None
) -> int:
    """Review the folders, print what each comes to and what all do, and return the exit code.

    Raises
    ------
    VaporqaError
        With the problems of every folder that could not be reviewed, once the others are done.
    """
    if scheduler is not None and at_a_time > 1:
        message = "--jobs and --scheduler are given both"
        raise UsageError(Problem("", 0, 0, message, "the cluster has its own workers: leave --jobs out"))
    own_process.leave_pandas_out()
    from vaporqa.folders import (
        Ended,
        check_written,
        orders_of,
        review_folders,
    )  # start-up time: --help needs none of it
    from vaporqa.outcomes import Standing
    from vaporqa.programme import End, Member, pool
    from vaporqa.programme.names import names_of
    from vaporqa.report.programme_files import prepare, write_programme
    from vaporqa.report.programme_text import heading, member_line, programme_text

    if scheduler is None:
        check_written(wanted.flags_as, wanted.pdf)
    places = list(zip(folders, names_of(folders), strict=True))
    if out is not None:
        prepare(out, [name for _, name in places])
    orders = orders_of(
        places, out, profiles=wanted.profiles, rules=wanted.rules, flags_as=wanted.flags_as, pdf=wanted.pdf,
        command=["vaporqa", *sys.argv[1:]], prints=wanted.prints, colour=wanted.colour, elsewhere=scheduler is not None,
    )  # fmt: skip
    prepare_worker = _own_process if own_process.OURS else None
    answers = review_folders(orders, jobs=at_a_time, scheduler=scheduler, prepare_worker=prepare_worker)
    members: list[Member] = []
    failed: list[Ended] = []
    for order, ended in zip(orders, answers, strict=True):
        members.append(ended.member(order))
        if ended.summary is None:
            failed.append(ended)
        if wanted.prints:
            say(ended.printed)
        else:
            say(("" if len(members) > 1 else heading()) + member_line(members[-1], colour=wanted.colour))
    programme = pool(members)
    if out is not None:
        write_programme(programme, out)
    if wanted.prints != "annotations":
        say(programme_text(programme, out=out))
    problems = [problem for ended in failed for problem in ended.problems]
    if any(ended.end in (End.FAULT, End.LOST) for ended in failed):
        for problem in problems:
            print(problem, file=sys.stderr)
        for line in _saved([ended.trace for ended in failed if ended.trace]):
            print(line, file=sys.stderr)
        return _FAULT
    if problems:
        raise VaporqaError(problems)
    if wanted.fail_on == "never":
        return _CLEAN
    level = Standing[wanted.fail_on.upper()]
    worst = max(member.summary.worst for member in members if member.summary is not None)
    return _FLAGGED if worst >= level else _CLEAN


def _own_process() -> None:
    """Do what only a process of our own may do to itself, once it is started as a worker."""
    own_process.OURS.append(True)
    own_process.leave_pandas_out()


def _saved(traces: Sequence[str]) -> Iterator[str]:
    """Save what went wrong inside vaporqa where a person can find it, and say so."""
    if not traces:
        return
    try:
        handle, name = tempfile.mkstemp(prefix="vaporqa-fault-", suffix=".txt", text=True)
        with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace") as file:
            file.write(f"vaporqa {__version__}, Python {sys.version}\narguments: {sys.argv[1:]!r}\n\n")
            file.write("\n".join(traces))
        yield f"vaporqa: the trace was saved in {name}"
    except OSError:
        yield "vaporqa: the trace could not be saved:"
        yield from traces
