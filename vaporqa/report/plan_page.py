"""plan.html: the plan as one page to print, without network or script."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from vaporqa import __version__
from vaporqa.planning import Item, Plan, Step
from vaporqa.report.digest import SAFETY, cautions
from vaporqa.report.plan_wording import (
    AT_EVERY_PROBE,
    CLEARANCE,
    ON_THE_DAY,
    PARTS,
    TITLES,
    WARNINGS,
    PlanWords,
    Said,
    already_against,
    basis_text,
    heading,
    limits_used,
    order_words,
    standing_limits,
    without_clearance,
)
from vaporqa.report.sentences import Sentences
from vaporqa.report.templating import rendered
from vaporqa.report.wording import BACKING_MEANINGS, figure

#: How the items of a probe are gathered on the page.
GROUPS = (
    ("The line", ("tubing_to_cut", "dead_volume", "height_above_water", "water_seen")),
    ("Purge", ("purge_least", "purge_most", "purge_flow", "purge_time_least", "purge_time_most", "strokes_least",
               "strokes_most", "stroke_interval")),
    ("When", ("services_cleared", "wait", "earliest_purge", "earliest_sample", "rain_hold")),
    ("The draw", ("sampling_flow", "vacuum_expected", "vacuum_start_least", "close_from", "close_at", "fill_time_from",
                  "fill_time_to")),
    ("To the laboratory", ("preserve_by", "latest_receipt", "latest_analysis")),
    ("Duplicates and blanks", ("duplicates_due", "equipment_blanks_due", "trip_blanks_due")),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Group:
    """Lines of one subject."""

    title: str
    lines: tuple[Said, ...]


@dataclass(frozen=True, slots=True)
class Card:
    """One probe on the page, with what its dead volume is made of."""

    probe: str
    about: str
    groups: tuple[Group, ...]
    parts: tuple[Said, ...]


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop of the day in words."""

    step: Step
    known: str
    first: tuple[str, ...]


def plan_page(plan: Plan) -> bytes:
    """Return the page."""
    words, sentences = PlanWords(plan), Sentences(plan.review)
    cards = [
        Card(
            state.probe, heading(state), _groups(plan.of(state.probe), words),
            tuple(words.said(item) for item in plan.of(state.probe) if item.name in PARTS),
        )
        for state in plan.probes if plan.of(state.probe)
    ]  # fmt: skip
    limits = limits_used(plan.items)
    used = {basis.limit.backing.value for basis in limits}
    return rendered(
        "plan.html.j2",
        plan=plan,
        name=plan.review.project.name,
        profiles=", then ".join(plan.review.rulebook.profiles) or "baseline",
        start=words.when(plan.wishes.start) if plan.wishes.start is not None else "",
        todo=sum(state.state == "to sample" for state in plan.probes),
        uncleared=without_clearance(plan),
        cautions=cautions(plan.review, sentences),
        safety=(SAFETY[0], CLEARANCE, SAFETY[1], *ON_THE_DAY),
        warnings=_standing(plan, WARNINGS),
        order=order_words(plan),
        stops=[_stop(step) for step in plan.steps],
        cards=cards,
        day=_groups(plan.of(""), words),
        everywhere=_standing(plan, AT_EVERY_PROBE),
        against=already_against(plan, sentences),
        limits=limits,
        backings=[(word, meaning) for word, meaning in BACKING_MEANINGS if word in used],
        titles=TITLES,
        version=__version__,
    )


def _groups(items: Sequence[Item], words: PlanWords) -> tuple[Group, ...]:
    found = []
    for title, names in GROUPS:
        lines = tuple(words.said(item) for item in items if item.name in names)
        if lines:
            found.append(Group(title, lines))
    return tuple(found)


def _standing(plan: Plan, ids: Sequence[str]) -> list[tuple[str, str]]:
    return [(title, "; ".join(map(basis_text, bases))) for title, bases in standing_limits(plan, ids)]


def _stop(step: Step) -> Stop:
    known = "nothing known" if math.isnan(step.highest) else (
        f"highest so far {figure(step.highest)} ug/m3" if step.highest else "nothing found so far")  # fmt: skip
    first = [f"clean {piece} (from {place})" for piece, place in step.clean]
    first += [f"clean {piece} (from {place}; no record shows whether it was)" for piece, place in step.unsure]
    if step.after:
        first.append(f"its tip still stands at {step.after}")
    return Stop(step, known, tuple(first))
