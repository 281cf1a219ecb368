"""plan.html: the plan as one page to print, without network or script."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from vaporqa import __version__
from vaporqa.planning import Plan
from vaporqa.report.digest import SAFETY, cautions
from vaporqa.report.plan_parts import (
    AT_EVERY_PROBE,
    CLEARANCE,
    ON_THE_DAY,
    WARNINGS,
    already_against,
    heading,
    limits_used,
    order_words,
    standing_limits,
    stops,
    without_clearance,
)
from vaporqa.report.plan_wording import WHOLE_DAY, Line, PlanWords, basis_text, limit_text
from vaporqa.report.sentences import Sentences
from vaporqa.report.templating import rendered
from vaporqa.report.wording import BACKING_MEANINGS


@dataclass(frozen=True, slots=True)
class Card:
    """One probe on the page."""

    probe: str
    about: str
    lines: tuple[Line, ...]


def plan_page(plan: Plan) -> bytes:
    """Return the page."""
    words, sentences = PlanWords(plan), Sentences(plan.review)
    cards = [
        Card(state.probe, heading(state), tuple(words.lines(items)))
        for state in plan.probes if words.lines(items := plan.of(state.probe))
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
        stops=stops(plan),
        cards=cards,
        day=words.lines(plan.of("")),
        deadlines=words.deadlines(),
        whole_day=WHOLE_DAY,
        everywhere=_standing(plan, AT_EVERY_PROBE),
        against=already_against(plan, sentences),
        limits=limits,
        backings=[(word, meaning) for word, meaning in BACKING_MEANINGS if word in used],
        limit_text=limit_text,
        version=__version__,
    )


def _standing(plan: Plan, ids: Sequence[str]) -> list[tuple[str, str]]:
    return [(title, "; ".join(map(basis_text, bases))) for title, bases in standing_limits(plan, ids)]
