"""A plan of the site: the worst standing of each location, and the highest result against its screening level."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from vaporqa.evidence.cells import numbers
from vaporqa.evidence.reported import DETECTED
from vaporqa.evidence.screening import against_levels
from vaporqa.outcomes import Standing
from vaporqa.report.digest import counted
from vaporqa.report.figures.drawing import WIDTH, Free, cut, line, picture, tag, words
from vaporqa.report.figures.marks import OF_STANDING, Mark, mark
from vaporqa.report.figures.picture import LISTED, MARKS, Picture, legend, plotted, swatch
from vaporqa.report.wording import STANDING_MEANINGS, figure, visible, with_unit
from vaporqa.review.indicators import results_that_count
from vaporqa.review.values import Review
from vaporqa.tables.values import FAMILY_UNITS, Float, Int64, Table

_TITLE = "Plan of the site"
_MARGIN, _TALLEST = 34.0, 560.0
#: A site of more locations than this is drawn twice as wide.
_CROWD = 24
_MEANINGS = {
    OF_STANDING[standing]: f"{shape}: a result there {STANDING_MEANINGS[standing]}"
    for standing, shape in (
        (Standing.ESTIMATED, "half disc"), (Standing.UNPROVEN, "ring with a question mark"),
        (Standing.REJECTED, "cross"),
    )
} | {
    Mark.HOLDS: "full disc: every result there can be used as reported", Mark.NOTE: "open diamond: no result",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Place:
    name: str
    x: float
    y: float
    kind: Mark
    results: int
    top: str
    ratio: float


def site_plan(review: Review) -> Picture | None:
    """Draw every location with coordinates; None where fewer than two have them."""
    table = review.tables.get("locations")
    if table is None:
        return None
    x, y = numbers(table, "x"), numbers(table, "y")
    known = table.counts & x.known & y.known & np.isfinite(x.value) & np.isfinite(y.value)
    if int(known.sum()) < 2:
        return None
    places = _places(review, table, x.value, y.value, np.flatnonzero(known))
    order = sorted(places, key=lambda one: (-one.kind if one.results else 1, -one.ratio, one.name))
    shown = order[:MARKS]
    width = 2 * WIDTH if len(shown) > _CROWD else WIDTH
    across, up, height, unit = _fitted(table, shown, width)
    free = Free(2, 2, width - 2, height - 2)
    bar, bar_name = _bar(across, unit)
    parts = [
        line(12, height - 16, 12 + bar, height - 16), line(12, height - 20, 12, height - 12),
        line(12 + bar, height - 20, 12 + bar, height - 12), words(12 + bar + 8, height - 11.5, bar_name, kind="t-soft"),
    ]  # fmt: skip
    free.keep(0, height - 30, 12 + bar + 130, height)
    drawn, labels, unnamed = [], [], 0
    for place in shown:
        at = across[0] + across[1] * place.x, up[0] + up[1] * place.y
        size = 10 if place.ratio > 1 else 6
        free.keep(at[0] - size, at[1] - size, at[0] + size, at[1] + size)
        drawn.append(mark(place.kind, *at))
        if place.ratio > 1:
            drawn.append(_ring(*at))
    for place in shown:
        at = across[0] + across[1] * place.x, up[0] + up[1] * place.y
        name = cut(place.name, 90)
        label = free.label(*at, f"{name} {figure(place.ratio)}×", gap=12) if place.ratio > 1 else ""
        label = label or free.label(*at, name, gap=12 if place.ratio > 1 else 8)
        unnamed += not label
        labels.append(label)
    leaves_out = []
    absent = int(table.counts.sum()) - int(known.sum())
    if absent:
        leaves_out.append(f"{counted(absent, 'location')} not drawn, for want of readable coordinates.")
    if len(order) > len(shown):
        leaves_out.append(f"{counted(len(order) - len(shown), 'milder location')} not drawn.")
    if unnamed:
        leaves_out.append(f"{counted(unnamed, 'mark')} without a name beside it for want of room: see the table.")
    leaves_out.append(
        "Rejected results and nondetects are left out of the highest result. Results of samples without a location, "
        "blanks and outside air are not shown."
    )
    over = any(place.ratio > 1 for place in shown)
    return Picture(
        "picture-site", _TITLE,
        picture(
            "picture-site", _TITLE,
            f"{len(shown)} locations by their coordinates, x to the right and y upward, each with the worst standing "
            "of its results.", height, [*parts, *reversed(drawn), *labels], width,
        ),
        (
            (f"{counted(len(shown), 'location')} by x (to the right) and y (upward) as the table has them, each with "
            "the worst standing of any result there."),
            "A number with × is the highest detect there over its screening level; the table names the compound."
            if over else "No detect stands over a screening level, or none is stated.",
        ),
        tuple(leaves_out),
        legend(
            [place.kind for place in shown], meanings=_MEANINGS,
            more=((swatch(_ring(10, 10, 8)), "outer ring: a detect over its screening level"),) if over else (),
        ),
        plotted(
            ("Location", "Worst standing", "Results", "Highest detect", "Over its level"),
            [
                (
                    one.name, _word(one), f"{one.results:,}", one.top or "none",
                    f"{figure(one.ratio)} times" if one.ratio >= 0 else "no level to compare",
                )
                for one in order[:LISTED]
            ],
            len(order), "flags/locations.csv",
        ),
        width > WIDTH,
    )  # fmt: skip


def _word(place: _Place) -> str:
    if not place.results:
        return "no result"
    return next(standing.word for standing, kind in OF_STANDING.items() if kind is place.kind)


def _ring(x: float, y: float, radius: float = 9) -> str:
    return tag("circle", class_="l-ring", fill="none", stroke="#20292b", cx=x, cy=y, r=radius)


def _places(review: Review, table: Table, x: Float, y: Float, rows: Int64) -> list[_Place]:
    evidence, settled = review.evidence, review.settled.get("results")
    number = evidence.location_ids.of("locations", "location_id", table.rows)
    names = [*evidence.location_ids.names, ""]
    count = len(names)
    total, worst = np.zeros(count, np.int64), np.zeros(count, np.int64)
    top: dict[int, tuple[float, str]] = {}
    if evidence.results is not None and settled is not None:
        of_sample = np.append(np.where(evidence.samples.location >= 0, evidence.samples.location, -1), -1)
        place = of_sample[evidence.results.sample]
        mine: Int64 = np.flatnonzero(results_that_count(review) & (place >= 0)).astype(np.int64)
        standing = settled.standing[mine].astype(np.int64)
        np.add.at(total, place[mine], 1)
        np.maximum.at(worst, place[mine], standing)
        used = mine[(standing != Standing.REJECTED) & (evidence.results.detected[mine] == DETECTED)]
        top = _highest(review, used, place[used])
    return [
        _Place(
            visible(str(names[number[row]]) or str(table.keys[row]), 60), float(x[row]), float(y[row]),
            OF_STANDING[Standing(int(worst[number[row]]))] if total[number[row]] else Mark.NOTE,
            int(total[number[row]]), top.get(int(number[row]), (-1.0, ""))[1], top.get(int(number[row]), (-1.0, ""))[0],
        )
        for row in rows.tolist()
    ]  # fmt: skip


def _highest(review: Review, rows: Int64, place: Int64) -> dict[int, tuple[float, str]]:
    """Highest detect of each location over its level, else (ratio -1) the highest in number, as text."""
    evidence = review.evidence
    results = evidence.results
    assert results is not None
    held = against_levels(evidence, rows)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(held.comparable, held.number / held.level, -1.0)
    value = np.where(np.isfinite(results.result.value[rows]), results.result.value[rows], -1.0)
    analyte = np.array([*evidence.analytes.name, ""], dtype=object)[results.analyte[rows]]
    out: dict[int, tuple[float, str]] = {}
    order = np.lexsort((value, ratio, place))
    lead = np.ones(len(order), bool)
    lead[:-1] = place[order][1:] != place[order][:-1]
    for end in np.flatnonzero(lead).tolist():
        last, at = end, order[end]
        told = set()
        # Of equally high ones the first by name, whatever the order of the file.
        while last >= 0 and all(one[order[last]] == one[at] for one in (place, ratio, value)):
            i = int(order[last])
            amount = with_unit(figure(float(value[i])), FAMILY_UNITS[int(results.result.family[rows[i]])])
            told.add(f"{visible(str(analyte[i]), 60)}, {amount}")
            last -= 1
        out[int(place[at])] = (float(ratio[at]), min(told))
    return out


def _fitted(
    table: Table, shown: list[_Place], width: float
) -> tuple[tuple[float, float], tuple[float, float], float, str]:
    """Offsets and steps of x and y, one length for both, the height of the picture, and the unit of the table."""
    header = table.headers.get("x", "")
    unit = header.partition("[")[2].partition("]")[0] or str(table.fixed.get("x_unit", ""))
    xs, ys = [one.x for one in shown], [one.y for one in shown]
    left, low = min(xs), min(ys)
    wide, tall = max(xs) - left, max(ys) - low
    flat = 1.0
    degrees = "deg" in unit.casefold() or unit == "°"
    if degrees and all(-90 <= one <= 90 for one in ys):
        flat = max(math.cos(math.radians((max(ys) + low) / 2)), 0.05)
    step = min((width - 2 * _MARGIN) / (wide * flat or 1e-9), _TALLEST / (tall or 1e-9))
    step = step if wide or tall else 1.0
    # Names stand beside their marks: leave the picture centred when the site is narrow.
    start = (width - step * flat * wide) / 2
    height = step * tall + 2 * _MARGIN + 30
    return (start - step * flat * left, step * flat), (_MARGIN + step * tall + step * low, -step), height, unit


def _bar(across: tuple[float, float], unit: str) -> tuple[float, str]:
    """Length of a bar of a round number, and what it stands for."""
    rough = 110.0 / across[1]
    power = 10.0 ** math.floor(math.log10(rough))
    size = max(step * power for step in (1.0, 2.0, 5.0) if step * power <= rough * (1 + 1e-9))
    return size * across[1], with_unit(figure(size), unit) if unit else f"{figure(size)} (unit of the table)"
