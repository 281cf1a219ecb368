"""A programme for a terminal of 80 columns: one line a folder, then what they come to together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from vaporqa.outcomes import Standing
from vaporqa.programme import Member, PooledGroup, Programme
from vaporqa.report.digest import counted
from vaporqa.report.page import share
from vaporqa.report.programme_page import opening, percent
from vaporqa.report.terminal import no_command, styled, wrapped
from vaporqa.report.wording import STANDING_MARKS, visible

_SHOWN = 5


def heading() -> str:
    """Return the line above the lines of the folders."""
    return f"  {'worst row':<12} {'usable':>9} {'estimated':>9} {'unproven':>9} {'rejected':>9}  folder\n"


def member_line(member: Member, *, colour: bool = False) -> str:
    """Return one line: the worst row of any table, field results by standing, and the folder."""
    name = visible(member.name, 200)
    if member.summary is None:
        word = styled(f"! {member.end.value:<50}", "rejected", colour=colour)
        return no_command(f"  {word}  {name}") + "\n"
    worst = Standing(member.summary.worst)
    word = styled(f"{STANDING_MARKS[worst]} {worst.word:<10}", worst.word, colour=colour)
    numbers = " ".join(f"{number:>9,}" for number in member.summary.results)
    return f"  {word} {numbers}  {name}\n"


def programme_text(programme: Programme, *, out: Path | None = None) -> str:
    """Return what all folders come to."""
    lines = ["", *wrapped(opening(programme))]
    missing = [member for member in programme.members if member.summary is None]
    if missing:
        names = ", ".join(visible(one.name, 60) for one in missing[:_SHOWN])
        more = f" and {len(missing) - _SHOWN:,} more" if len(missing) > _SHOWN else ""
        lines += wrapped(f"Not reviewed, and counted nowhere: {names}{more}.")
    lines += _rules(programme)
    lines += _groups("Laboratories", programme.laboratories)
    lines += _groups("Crews", programme.crews)
    pairs = programme.duplicates
    if pairs.pairs:
        lines += [
            "",
            *wrapped(
                f"Duplicates: {counted(pairs.pairs, 'pair')}, {pairs.both_detected:,} of them both detected; pooled "
                f"relative standard deviation {percent(pairs.pooled_rsd)}."
            ),
        ]
    if out is not None:
        lines += ["", *wrapped(f"Programme: {visible(str(out / 'programme.html'), 400)}")]
    else:
        lines += ["", *wrapped("Nothing was written; name a folder with --out for the reports and the roll-up.")]
    return "".join(f"{no_command(line)}\n" for line in lines)


def _rules(programme: Programme) -> Iterator[str]:
    broken = [one for one in programme.rules if one.folders_broken]
    if broken:
        yield ""
        yield "Rules broken in the most folders"
        for one in broken[:_SHOWN]:
            text = f"{one.rule}: {counted(one.folders_broken, 'folder')}, {counted(one.results, 'result')} under it"
            yield from wrapped(text, "  ", "      ")


def _groups(title: str, groups: Sequence[PooledGroup]) -> Iterator[str]:
    if not any(one.name for one in groups):
        return
    yield ""
    yield f"{title}: results not usable as reported"
    for one in groups[:_SHOWN]:
        few = ", few" if one.few else ""
        said = f"{one.failed:,} of {one.results:,} ({share(one.failed, one.results)}{few})"
        yield from wrapped(f"{visible(one.name, 80) or 'not stated'}: {said}", "  ", "      ")
    if len(groups) > _SHOWN:
        yield f"  and {len(groups) - _SHOWN:,} more"
