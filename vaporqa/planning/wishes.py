"""What the caller asks for, from text: a flow, a stroke and a time, each with its unit, none of them guessed."""

from __future__ import annotations

import math

import numpy as np

from vaporqa.errors import Problem, UsageError
from vaporqa.intake.times import DATE, LOCAL, PLACED, read_times
from vaporqa.intake.zones import NEVER, TWICE, Clock
from vaporqa.planning.values import When, Wishes
from vaporqa.quantities.units import parse_number_with_unit
from vaporqa.tables.project import Project

_DAY = "write it as 2026-12-01T08:00, local time of the field"
_US_PER_DAY = 86_400_000_000


def read_wishes(project: Project, *, flow: str | None, stroke: str | None, day: str | None) -> Wishes:
    """Read what was asked for.

    Parameters
    ----------
    project : Project
        Whose zone a local time is in.
    flow, stroke, day : str or None
        Such as ``150 mL/min``, ``100 mL`` and ``2026-12-01T08:00``.

    Raises
    ------
    UsageError
        Something has no unit, is not above nought or is no time; every fault is named.
    """
    problems: list[Problem] = []
    flow_read = _amount("--flow", flow, "flow", problems)
    stroke_read = _amount("--stroke", stroke, "volume", problems)
    start = _start(day, project, problems)
    if problems:
        raise UsageError(problems)
    given = {"flow": flow, "stroke": stroke, "day": day}
    return Wishes(flow_read, stroke_read, start, {name: text for name, text in given.items() if text is not None})


def _amount(option: str, text: str | None, dimension: str, problems: list[Problem]) -> float | None:
    if text is None:
        return None
    try:
        number, unit = parse_number_with_unit(text, dimension)
    except ValueError as fault:
        problems.append(Problem("", 0, 0, f"{option}: {fault}"))
        return None
    value = float(unit.to_canonical(number))
    if not (value > 0 and math.isfinite(value)):
        what = {"flow": "a flow", "volume": "a stroke"}[dimension]
        problems.append(
            Problem("", 0, 0, f"{option}: '{text.strip()}' is not above nought", f"name {what} that moves gas")
        )
        return None
    return value


def _start(text: str | None, project: Project, problems: list[Problem]) -> When | None:
    if text is None:
        return None
    import pyarrow as pa

    read = read_times(pa.array([text], pa.string()))
    kind, wall = int(read.kind[0]), int(read.wall[0])
    bare = text.strip()

    def wrong(message: str, mend: str) -> None:
        problems.append(Problem("", 0, 0, f"--day: {message}", mend))

    if kind == DATE:
        wrong(f"'{bare}' has no time of day, and limits in hours need one", f"add it, as in {bare}T08:00")
        return None
    if kind not in (LOCAL, PLACED):
        wrong(f"'{bare}' is no time that can be read", _DAY)
        return None
    if kind == PLACED:
        utc = int(read.utc[0])
        if project.time_zone:
            wall = int(Clock(project.time_zone).to_local(np.array([utc], np.int64))[0])
        return When(utc, utc, wall // _US_PER_DAY)
    if not project.time_zone:
        wrong(
            f"'{bare}' is local time, and project.yaml names no time_zone", "add `time_zone:` there, or write an offset"
        )
        return None
    placed, fate = Clock(project.time_zone).to_utc(np.array([wall], np.int64))
    if int(fate[0]) in (TWICE, NEVER):
        how = "occurs twice" if int(fate[0]) == TWICE else "never occurs"
        wrong(f"'{bare}' {how} in {project.time_zone}", "write it with an offset, as in 2026-11-01T01:30-06:00")
        return None
    return When(int(placed[0]), int(placed[0]), wall // _US_PER_DAY)
