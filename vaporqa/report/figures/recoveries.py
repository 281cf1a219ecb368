"""Recoveries of surrogates and control samples against the limits that judged them."""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence.judged import Weighed
from vaporqa.evidence.recoveries import names_of_qc
from vaporqa.outcomes import Outcome
from vaporqa.report.digest import counted
from vaporqa.report.figures.drawing import picture
from vaporqa.report.figures.marks import WORDS, Mark
from vaporqa.report.figures.picture import LISTED, MARKS, Picture, legend, plotted
from vaporqa.report.figures.rows import Dot, Row, chart
from vaporqa.report.figures.scales import straight
from vaporqa.report.figures.verdicts import rules_by, verdict, weighed_of
from vaporqa.report.wording import figure, visible, with_unit
from vaporqa.review.values import Review

_ROWS = 24
_OF = {"surrogates": "surrogates", "control_samples": "laboratory control samples"}


def recoveries(review: Review) -> list[Picture]:
    """Draw one picture for surrogates and one for control samples, where there are any."""
    found = [_picture(review, rule) for rule in rules_by(review, check="recovery")]
    return [one for one in found if one is not None]


def _picture(review: Review, index: int) -> Picture | None:
    weighed, rule = weighed_of(review, index), review.rules[index]
    found, table = verdict(review, [index], rule.row), review.tables.get(rule.row)
    if weighed is None or found is None or table is None:
        return None
    concerned = weighed.outcome != Outcome.NOT_CONCERNED
    use = np.flatnonzero(concerned & np.isfinite(weighed.value))
    if not len(use):
        return None
    row, value = weighed.row[use], weighed.value[use]
    kind = found.mark[row]
    analyte = [visible(str(name), 60) for name in _analytes(review, rule.row, row)]
    key = [visible(str(name), 60) for name in table.keys[row]]
    low, high = weighed.numbers["low"][use], weighed.numbers["high"][use]
    middle = np.abs(value - 100.0)
    by_name: dict[str, list[int]] = {}
    for at in np.lexsort((-middle, -kind)).tolist():
        by_name.setdefault(analyte[at], []).append(at)
    groups = sorted(
        by_name.items(), key=lambda one: (-max(int(kind[i]) for i in one[1]), -max(middle[i] for i in one[1]), one[0])
    )
    shown = groups[:_ROWS]
    room = max(1, MARKS // len(shown))
    limits = _limits(rule, weighed, use)
    lowest = min(0.0, float(value.min()))
    highest = max(float(value.max()), *(at for at, _ in limits), 130.0)
    scale = straight(lowest, 1.04 * min(highest, 260.0), 12.0, 462.0)
    rows = []
    for name, members in shown:
        printed_low, printed_high = low[members], high[members]
        band = None
        if np.isfinite(printed_low).all() and np.isfinite(printed_high).all():
            # Where the laboratory printed several limits, what all of them allow.
            band = (float(printed_low.max()), float(printed_high.min()))
            band = band if band[1] >= band[0] else None
        outside = sum(int(kind[i]) != Mark.HOLDS for i in members)
        said = f"{len(members):,}, {outside:,} outside" if outside else f"{len(members):,}, none outside"
        dots = tuple(Dot(float(value[i]), Mark(int(kind[i]))) for i in members[:room])
        span = (float(value[members].min()), float(value[members].max()))
        rows.append(Row(name or "no name", dots, said, band, span))
    parts, height = chart(rows, limits, scale, "% recovered", above=True)
    leaves_out = []
    undrawn = sum(max(len(members) - room, 0) for _, members in shown)
    if undrawn:
        leaves_out.append(f"{counted(undrawn, 'milder mark')} not drawn singly; the grey bars span all of them.")
    if len(groups) > len(shown):
        rest = sum(len(members) for _, members in groups[_ROWS:])
        leaves_out.append(f"{counted(len(groups) - len(shown), 'milder compound')} with {rest:,} recoveries not drawn.")
    if int(concerned.sum()) > len(use):
        leaves_out.append(f"{counted(int(concerned.sum()) - len(use), 'row')} not drawn, for want of a recovery.")
    diluted = int((~concerned).sum())
    if diluted:
        leaves_out.append(f"{counted(diluted, 'row')} not drawn, which another rule judges (diluted out).")
    order = sorted(range(len(use)), key=lambda i: (-int(kind[i]), -float(middle[i]), analyte[i], key[i]))
    what = _OF.get(str(rule.options.get("of")), "recoveries")
    title, name = f"Recoveries of {what}", f"picture-{rule.id}"
    return Picture(
        name, title,
        picture(name, title, f"{len(shown)} compounds as rows with a mark for each recovery.", height, parts),
        (
            f"{counted(len(use), 'recovery')} of {what}, by compound, the gravest at the top.",
            ("The grey field is what the laboratory's printed limits allow (all of them, where several were printed); "
            "dashed lines are the limits of the rules."),
        ),
        tuple(leaves_out),
        legend([Mark(int(kind[i])) for _, members in shown for i in members[:room]], heads=highest > scale.high),
        plotted(
            ("Row", "Compound", "Recovered", "Printed limits", "Made of it"),
            [
                (
                    key[i], analyte[i], with_unit(figure(float(value[i])), "%"),
                    f"{_end(low[i])} to {_end(high[i])}" if np.isfinite(low[i]) or np.isfinite(high[i]) else "none",
                    WORDS[Mark(int(kind[i]))],
                )
                for i in order[:LISTED]
            ],
            len(order), f"flags/{rule.row}.csv",
        ),
    )  # fmt: skip


def _end(value: float) -> str:
    return f"{figure(float(value))} %" if np.isfinite(value) else "open"


def _analytes(review: Review, table: str, row: np.ndarray[tuple[int], np.dtype[np.int64]]) -> list[str]:
    evidence = review.evidence
    found = evidence.analyte_names(row) if table == "results" else names_of_qc(evidence, row)
    return [str(name) for name in found.tolist()]


def _limits(rule: Rule, weighed: Weighed, use: np.ndarray[tuple[int], np.dtype[np.int64]]) -> list[tuple[float, str]]:
    """The default limits where a recovery lacks a printed one, and the gross one, which always counts."""
    bare = {"low": ~np.isfinite(weighed.numbers["low"][use]), "high": ~np.isfinite(weighed.numbers["high"][use])}
    return [
        (limit.value, limit.written)
        for limit in rule.limits
        if np.isfinite(limit.value)
        and not limit.words
        and (limit.name == "gross" or (limit.name in bare and bare[limit.name].any()))
    ]
