"""programme.html: many folders on one page, in the order of their paths, with a link to the report of each."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass
from urllib.parse import quote

import numpy as np

from vaporqa import __version__
from vaporqa.outcomes import Standing
from vaporqa.programme import FEW, Member, PooledDuplicates, PooledGroup, Programme
from vaporqa.report.bars import Segment, bar
from vaporqa.report.digest import SAFETY, counted
from vaporqa.report.page import SIZE_LIMIT, share
from vaporqa.report.wording import STANDING_MARKS, STANDING_MEANINGS, figure
from vaporqa.review.indicators import FORMULAS

#: Entries of each list at first; halved until the page is small enough. The tables beside it hold all.
_ROOM = 3000


@dataclass(frozen=True, slots=True)
class FolderLine:
    """One reviewed folder: its names, the address of its report, its field results, a bar of them, its worst row."""

    name: str
    project: str
    link: str
    counts: tuple[int, int, int, int]
    total: int
    segments: tuple[Segment, ...]
    worst: str


@dataclass(frozen=True, slots=True)
class GroupLine:
    """A laboratory or crew: name, folders, results, how many failed and the share, each standing with its share."""

    name: str
    folders: int
    results: int
    failed: str
    parts: tuple[str, ...]
    few: bool


def opening(programme: Programme) -> str:
    """Return the first sentence: how many folders were reviewed, how many of their results are usable as reported."""
    total, members = sum(programme.results), len(programme.members)
    were = "was" if programme.reviewed == 1 else "were"
    said = f"{programme.reviewed:,} of {counted(members, 'folder')} {were} reviewed"
    if not total:
        return f"{said}; they hold no result of a field sample."
    usable = programme.results[Standing.USABLE]
    return (
        f"{said}; {usable:,} of {counted(total, 'result')} of field samples "
        f"({share(usable, total)}) {'is' if usable == 1 else 'are'} usable as reported."
    )


def percent(value: float) -> str:
    """Return per cent with as many digits as tell something; a dash for nan."""
    return "-" if math.isnan(value) else f"{figure(value)} %"


def programme_page(programme: Programme) -> bytes:
    """Return programme.html: the same for the same folders, whoever reviewed them."""
    room = _ROOM
    while True:
        made = _render(programme, room)
        if len(made) <= SIZE_LIMIT or room == 1:
            return made
        room = max(1, room // 2)


def _render(programme: Programme, room: int) -> bytes:
    from vaporqa.report.templating import rendered, script_sum  # start-up time: a run without --out makes no page

    counts, total = programme.results, sum(programme.results)
    return rendered(
        "programme.html.j2",
        version=__version__,
        script_sum=script_sum(),
        room=room,
        few=FEW,
        counted=counted,
        opening=opening(programme),
        members=len(programme.members),
        reviewed=programme.reviewed,
        bar=bar(np.array(counts, np.int64)),
        standings=[
            (one.word, STANDING_MARKS[one], counts[one], share(counts[one], total), STANDING_MEANINGS[one])
            for one in Standing
        ],
        marks={one.word: STANDING_MARKS[one] for one in Standing},
        missing=[member for member in programme.members if member.summary is None],
        folders=[_folder_line(member) for member in programme.members if member.summary is not None],
        broken=[one for one in programme.rules if one.folders_broken],
        unproven=[one for one in programme.rules if not one.folders_broken],
        laboratories=[_group_line(one) for one in programme.laboratories],
        crews=[_group_line(one) for one in programme.crews],
        duplicates=[_pair_line(one) for one in (programme.duplicates, *programme.duplicates_by_analyte)],
        formulas=(FORMULAS["rpd"], FORMULAS["pooled_rsd"]),
        safety=SAFETY,
    )


def _folder_line(member: Member) -> FolderLine:
    found = member.summary
    assert found is not None
    return FolderLine(
        member.name, found.project, report_link(member.name), found.results, sum(found.results),
        bar(np.array(found.results, np.int64)), Standing(found.worst).word,
    )  # fmt: skip


def report_link(name: str) -> str:
    """Return the address of a folder's report, relative to the page; no name can make it lead elsewhere.

    Examples
    --------
    >>> report_link("javascript:alert(1)"), report_link("a/b #2")
    ('./javascript%3Aalert%281%29/report.html', './a/b%20%232/report.html')
    """
    return f"./{quote(os.fsencode(name))}/report.html"


def _group_line(one: PooledGroup) -> GroupLine:
    return GroupLine(
        one.name, one.folders, one.results, _of(one.failed, one.results),
        tuple(_of(one.counts[standing], one.results) for standing in (3, 2, 1)), one.few,
    )  # fmt: skip


def _of(part: int, whole: int) -> str:
    return f"{part:,} ({share(part, whole)})" if part else "0"


def _pair_line(one: PooledDuplicates) -> tuple[str, ...]:
    return (
        one.analyte or one.cas, f"{one.folders:,}", f"{one.pairs:,}", f"{one.both_detected:,}",
        f"{one.neither_detected:,}", f"{one.rejected:,}", percent(one.largest_rpd), percent(one.pooled_rsd),
    )  # fmt: skip
