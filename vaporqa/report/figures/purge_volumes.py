"""Purged volumes against dead volumes."""

from __future__ import annotations

import numpy as np

from vaporqa.evidence.judged import Amounts
from vaporqa.report.digest import counted
from vaporqa.report.figures.drawing import WIDTH, Free, cut, line, measured, picture
from vaporqa.report.figures.marks import WORDS, Mark, mark
from vaporqa.report.figures.picture import LISTED, MARKS, Picture, legend, plotted
from vaporqa.report.figures.plane import frame
from vaporqa.report.figures.scales import Scale, logarithmic
from vaporqa.report.figures.verdicts import drawn_limits, known, measure_of, rules_by, verdict, worst_first
from vaporqa.report.wording import figure, visible, with_unit
from vaporqa.review.values import Review

_TABLE = "purges"
_TITLE = "Purged volumes against dead volumes"
_LEFT, _RIGHT, _TOP, _BOTTOM = 62.0, 462.0, 14.0, 334.0


def purge_volumes(review: Review) -> Picture | None:
    """Draw each purge; None where no purge has both volumes."""
    rules = rules_by(review, measure="purge_volumes")
    found, table = verdict(review, rules, _TABLE), review.tables.get(_TABLE)
    if found is None or table is None:
        return None
    volumes = measure_of(review, "purge_volumes")
    purged, dead = volumes.facts["purged"], volumes.facts["dead"]
    assert isinstance(purged, Amounts)
    assert isinstance(dead, Amounts)
    use = known(volumes) & found.concerned[volumes.row] & (purged.values > 0) & (dead.values > 0)
    # A purge that serves several samples stands once: by the fewest dead volumes, as its finding does.
    entries = np.flatnonzero(use)
    entries = entries[np.lexsort((volumes.value[entries], volumes.row[entries]))]
    entries = entries[np.concatenate([[True], np.diff(volumes.row[entries]) > 0])] if len(entries) else entries
    if not len(entries):
        return None
    names = _names(review)
    row = volumes.row[entries]
    order = worst_first(found.mark[row], -volumes.value[entries], [f"{names[i]} {table.keys[i]}" for i in row.tolist()])
    shown = order[:MARKS]
    x, y = dead.values[entries], purged.values[entries]
    across = logarithmic(float(x.min()), float(x.max()), _LEFT, _RIGHT)
    limits = drawn_limits(review, rules)
    ends = [float(y.min()), float(y.max()), *(float(v) * one.value for v in (x.min(), x.max()) for _, one in limits)]
    up = logarithmic(min(one for one in ends if one > 0), max(ends), _BOTTOM, _TOP)
    free = Free(_LEFT, _TOP, _RIGHT, _BOTTOM)
    parts = frame(across, up, "dead volume, mL", "purged, mL")
    drawn, labels = [], []
    for i in shown:
        at = across.at(float(x[i])), up.at(float(y[i]))
        free.keep(at[0] - 5, at[1] - 5, at[0] + 5, at[1] + 5)
        drawn.append(mark(Mark(int(found.mark[row[i]])), *at))
    slopes = [_slope(across, up, limit.value, limit.written, free) for _, limit in limits if limit.value > 0]
    unnamed = 0
    for i in shown:
        if found.mark[row[i]] != Mark.HOLDS:
            text = free.label(across.at(float(x[i])), up.at(float(y[i])), cut(names[row[i]], 110))
            labels.append(text)
            unnamed += not text
    concerned = int(found.concerned.sum())
    leaves_out = [f"{counted(len(order) - len(shown), 'milder purge')} not drawn."] if len(order) > len(shown) else []
    if concerned > len(entries):
        leaves_out.append(
            f"{counted(concerned - len(entries), 'purge')} not drawn, for want of the purged or the dead volume."
        )
    if unnamed:
        leaves_out.append(f"{counted(unnamed, 'mark')} without a name beside it for want of room: see the table.")
    return Picture(
        "picture-purge", _TITLE,
        picture(
            "picture-purge", _TITLE,
            f"{len(shown)} purges by dead volume (to the right) and purged volume (upward), both logarithmic, with a "
            "slanting line for each limit.",
            _BOTTOM + 42, [*parts, *slopes, *reversed(drawn), *labels], WIDTH,
        ),
        (
            (f"{counted(len(shown), 'purge')}: the higher above a dashed line, the more dead volumes were drawn than "
            "that limit asks for. Both scales are logarithmic."),
            ("A purge that serves several samples stands once, by the worst of them. Purges outside a limit bear the "
            "name of their sample."),
        ),
        tuple(leaves_out),
        legend([Mark(int(found.mark[row[i]])) for i in shown]),
        plotted(
            ("Sample", "Purge", "Dead volume", "Purged", "Dead volumes", "Made of it"),
            [
                (
                    names[row[i]], visible(str(table.keys[row[i]]), 60), with_unit(figure(float(x[i])), "mL"),
                    with_unit(figure(float(y[i])), "mL"), figure(float(volumes.value[entries[i]])),
                    WORDS[Mark(int(found.mark[row[i]]))],
                )
                for i in order[:LISTED]
            ],
            len(order), "flags/purges.csv",
        ),
    )  # fmt: skip


def _slope(across: Scale, up: Scale, times: float, written: str, free: Free) -> str:
    """A line of so many dead volumes, between the edges of the plane, with its limit written along its end."""
    left, right = max(across.low, up.low / times), min(across.high, up.high / times)
    if not right > left:
        return ""
    x1, y1, x2, y2 = across.at(left), up.at(left * times), across.at(right), up.at(right * times)
    text = f"{written} dead volumes"
    width = measured(text)
    for share in (0.98, 0.8, 0.6, 0.4):
        # Under the line, clear of it where the text begins: the line rises to the right.
        x = x1 + share * (x2 - x1) - width
        label = free.label(x, y1 + (x - x1) / (x2 - x1) * (y2 - y1) + 12, text, "t-limit", gap=0)
        if label:
            break
    return line(x1, y1, x2, y2, "l-limit") + label


def _names(review: Review) -> list[str]:
    purging = review.evidence.purging
    table = review.tables.tables[_TABLE]
    of: dict[int, list[str]] = {}
    if purging is not None:
        ids = review.evidence.sample_ids.names
        for row, sample in zip(purging.row.tolist(), purging.sample.tolist(), strict=True):
            if sample >= 0:
                of.setdefault(row, []).append(str(ids[sample]))
    return [visible(min(of[row]) if row in of else str(table.keys[row]), 60) for row in range(table.rows)]
