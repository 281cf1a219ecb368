"""The pressure chain of each canister: as sent, before the draw, after it, and at the laboratory again."""

from __future__ import annotations

import itertools

import numpy as np

from vaporqa.evidence.drawing import in_inhg
from vaporqa.report.digest import counted
from vaporqa.report.figures.drawing import cut, line, picture, words
from vaporqa.report.figures.marks import WORDS, Mark, mark, shape
from vaporqa.report.figures.picture import LISTED, Picture, legend, plotted, swatch
from vaporqa.report.figures.rows import LEFT, axis
from vaporqa.report.figures.scales import straight
from vaporqa.report.figures.verdicts import drawn_limits, known, measure_of, rules_by, verdict
from vaporqa.report.wording import figure, visible
from vaporqa.review.values import Review
from vaporqa.tables.values import Float

_TITLE = "Vacuum of each canister from dispatch to receipt"
_TABLE, _ROWS, _STEP = "samples", 40, 19.0
_RIGHT = 448.0
_STAGES = (
    ("dispatch", "bar", "upright bar: as the laboratory sent it"),
    ("start", "open_square", "open square: before the draw"),
    ("end", "square", "full square: after the draw"),
    ("receipt", "wedge", "wedge: at the laboratory again"),
)
_MEASURES = ("canister_start", "canister_end", "canister_change")


def canister_pressures(review: Review) -> Picture | None:
    """Draw the vacua of each canister; None where no canister has a reading to draw."""
    table = review.tables.get(_TABLE)
    if table is None:
        return None
    rules = [index for name in _MEASURES for index in rules_by(review, measure=name)]
    rules += rules_by(review, check="canister_held")
    found = verdict(review, rules, _TABLE)
    if found is None:
        return None
    reading = _readings(review, table.rows)
    stated = np.any(np.isfinite(np.stack(list(reading.values()))), axis=0)
    canister = _is_canister(review, table.rows)
    drawn = np.flatnonzero(found.concerned & canister & stated)
    if not len(drawn):
        return None
    names = [visible(str(key), 60) for key in table.keys]
    order = sorted(drawn.tolist(), key=lambda i: (-int(found.mark[i]), names[i]))
    shown = order[:_ROWS]
    limits = [
        (float(in_inhg(np.array(limit.value))), f"{stage}: {limit.written}")
        for stage, name in (("start", "canister_start"), ("end", "canister_end"))
        for _, limit in drawn_limits(review, rules_by(review, measure=name))
    ]
    limits = sorted(dict.fromkeys(limits))
    every = np.concatenate([one[shown] for one in reading.values()])
    every = every[np.isfinite(every)]
    low, high = min(0.0, float(every.min())), max(float(every.max()), *(at for at, _ in limits), 1.0)
    # Vacuum runs out to the left as the canister fills to the right.
    scale = straight(low - 0.03 * (high - low), high + 0.03 * (high - low), _RIGHT, LEFT + 18)
    top = 17.0 * len(limits) + 6
    bottom = top + _STEP * len(shown) + 4
    parts = [line(scale.at(tick), top, scale.at(tick), bottom, "l-grid") for tick in scale.ticks()]
    for number, (at, text) in enumerate(limits):
        x = scale.at(at)
        parts.append(line(x, 17.0 * number + 15, x, bottom, "l-limit"))
        anchor = "end" if x > 330 else "start"
        parts.append(words(x + (-4 if anchor == "end" else 4), 17.0 * number + 12, text, anchor=anchor, kind="t-limit"))
    for index, row in enumerate(shown):
        y = top + _STEP * index + 12
        places = [(scale.at(float(reading[stage][row])), kind) for stage, kind, _ in _STAGES
                  if np.isfinite(reading[stage][row])]  # fmt: skip
        parts += [line(a[0], y, b[0], y, "l-chain") for a, b in itertools.pairwise(places)]
        parts += [shape(kind, x, y) for x, kind in places]
        parts.append(words(LEFT - 14, y + 4.5, cut(names[row], LEFT - 16), anchor="end"))
        parts.append(mark(Mark(int(found.mark[row])), LEFT, y))
    parts += axis(scale, bottom, "vacuum, inHg (less to the right)")
    leaves_out = []
    if len(order) > len(shown):
        leaves_out.append(f"{counted(len(order) - len(shown), 'milder canister')} not drawn.")
    without = int((found.concerned & canister & ~stated).sum())
    if without:
        leaves_out.append(f"{counted(without, 'canister')} not drawn, for want of any reading that can be brought in.")
    lost = sum(int((~np.isfinite(reading[stage][drawn])).sum()) for stage, _, _ in _STAGES)
    if lost:
        leaves_out.append(f"{counted(lost, 'reading')} of the canisters drawn missing (or without a barometer).")
    return Picture(
        "picture-canisters", _TITLE,
        picture(
            "picture-canisters", _TITLE,
            f"{len(shown)} canisters as rows with up to four readings each, joined by a line.", bottom + 40, parts,
        ),
        (
            (f"{counted(len(shown), 'canister')}, the gravest at the top; the mark beside each name says what the "
            "rules on start, end and receipt made of it."),
            ("The start stands as a gauge at sea level would show it and the receipt as the gauge of the field would, "
            "so that distances are what the rules judged; dispatch and end stand as read."),
        ),
        tuple(leaves_out),
        legend(
            [Mark(int(found.mark[i])) for i in shown],
            more=tuple((swatch(shape(kind, 10, 10)), text) for _, kind, text in _STAGES),
        ),
        plotted(
            ("Sample", "Dispatch", "Start", "End", "Receipt", "Made of it"),
            [
                (names[i], *(_told(reading[stage][i]) for stage, _, _ in _STAGES), WORDS[Mark(int(found.mark[i]))])
                for i in order[:LISTED]
            ],
            len(order), "flags/samples.csv",
        ),
    )  # fmt: skip


def _readings(review: Review, rows: int) -> dict[str, Float]:
    """Vacua by row of samples in inHg; nan where unknown."""
    at = review.evidence.canisters
    out = {"dispatch": np.where(at.dispatch.known, at.dispatch.value, np.nan)}
    for stage, name in (("start", "canister_start"), ("end", "canister_end"), ("change", "canister_change")):
        measured = measure_of(review, name)
        use = known(measured) & measured.concerned
        out[stage] = np.full(rows, np.nan)
        out[stage][measured.row[use]] = measured.value[use]
    out["receipt"] = out["end"] - out.pop("change")
    return {stage: in_inhg(out[stage]) for stage, _, _ in _STAGES}


def _is_canister(review: Review, rows: int) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    evidence = review.evidence
    number = evidence.sample_ids.of("samples", "sample_id", rows)
    return np.asarray(np.append(evidence.samples.container == "canister", False)[number], dtype=bool)


def _told(value: float) -> str:
    return f"{figure(float(value))} inHg" if np.isfinite(value) else "-"
