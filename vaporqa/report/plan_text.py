"""The plan for a terminal of 80 columns: safety first, then the order of the day and every probe."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from vaporqa.planning import Item, Plan
from vaporqa.report.digest import SAFETY, cautions
from vaporqa.report.plan_wording import (
    AT_EVERY_PROBE,
    CLEARANCE,
    ON_THE_DAY,
    PARTS,
    TITLES,
    WARNINGS,
    PlanWords,
    already_against,
    basis_text,
    heading,
    limits_used,
    order_words,
    standing_limits,
    without_clearance,
)
from vaporqa.report.sentences import Sentences
from vaporqa.report.terminal import no_command, styled, wrapped
from vaporqa.report.wording import figure, visible

_COLUMN = 27
_AGAINST = "✕"


def plan_text(plan: Plan, *, colour: bool = False, out: Path | None = None) -> str:
    """Return the plan as text.

    Parameters
    ----------
    plan : Plan
    colour : bool
        Whether to use terminal colours; marks and words say the same without.
    out : Path, optional
        Where the plan was written.
    """
    words, sentences = PlanWords(plan), Sentences(plan.review)
    lines = [*_head(plan, words), "", *_safety(plan, sentences, colour=colour), ""]
    lines += _order(plan)
    for state in plan.probes:
        items = plan.of(state.probe)
        if items:
            lines += ["", f"{visible(state.probe, 60)}  ({heading(state)})"]
            lines += _items(items, words, colour=colour)
    day = plan.of("")
    if day:
        lines += ["", "The whole day", *_items(day, words, colour=colour)]
    lines += ["", "At every probe", *_standing(plan, AT_EVERY_PROBE)]
    against = already_against(plan, sentences)
    if against:
        lines += ["", "What is recorded already goes against a rule"]
        for sentence in against:
            lines += wrapped(f"{_AGAINST} {visible(sentence, 600)}", "  ", "    ")
    lines += ["", "Limits and where they come from"]
    for basis in limits_used(plan.items):
        limit = basis.limit
        by = "" if limit.profile == "baseline" else f", set by {limit.profile}"
        said = f"{basis.rule}.{limit.name}: {limit.written} ({limit.backing.value}{by}). {limit.source}"
        lines += wrapped(visible(said, 600), "  ", "      ")
    lines += [""]
    if out is not None:
        lines += wrapped(f"Plan: {visible(str(out / 'plan.html'), 400)} (one page to print) and plan.csv beside it.")
    else:
        lines += ["Nothing was written; name a folder with --out for plan.html and plan.csv."]
    return "".join(f"{no_command(line)}\n" for line in lines)


def _head(plan: Plan, words: PlanWords) -> Iterator[str]:
    review = plan.review
    yield from wrapped(f"{visible(review.project.name or 'Unnamed project', 200)}: plan of the field work")
    profiles = ", then ".join(review.rulebook.profiles) or "baseline"
    todo = sum(state.state == "to sample" for state in plan.probes)
    facts = [f"rules in force: {profiles}", f"{todo} of {len(plan.probes)} probes to sample"]
    if plan.wishes.start is not None:
        facts.append(f"from {words.when(plan.wishes.start)} where no start is written down")
    yield from wrapped("; ".join(facts))


def _safety(plan: Plan, sentences: Sentences, *, colour: bool) -> Iterator[str]:
    yield styled("Before anything is driven", "caution", colour=colour)
    for line in without_clearance(plan):
        for part in wrapped(f"{_AGAINST} {line}", "  ", "    "):
            yield styled(part, "caution", colour=colour)
    for sentence, place in cautions(plan.review, sentences):
        yield from wrapped(f"{_AGAINST} {sentence} ({visible(place, 120)})", "  ", "    ")
    for line in (SAFETY[0], CLEARANCE, SAFETY[1], *ON_THE_DAY):
        yield from wrapped(f"- {line}", "  ", "    ")
    yield from _standing(plan, WARNINGS)


def _standing(plan: Plan, ids: tuple[str, ...]) -> Iterator[str]:
    for title, bases in standing_limits(plan, ids):
        yield from wrapped(f"- {title}. {'; '.join(map(basis_text, bases))}", "  ", "    ")


def _order(plan: Plan) -> Iterator[str]:
    if not plan.steps:
        yield "Nothing is left to be sampled."
        return
    yield "Order of the stops"
    for line in order_words(plan):
        yield from wrapped(line, "  ")
    for number, step in enumerate(plan.steps, start=1):
        known = "nothing known" if step.highest != step.highest else (
            f"highest so far {figure(step.highest)} ug/m3" if step.highest else "nothing found so far")  # fmt: skip
        first = [f"clean {visible(piece, 40)} (from {visible(place, 40)})" for piece, place in step.clean]
        first += [
            f"clean {visible(piece, 40)} (from {visible(place, 40)}; no record shows whether it was)"
            for piece, place in step.unsure
        ]
        if step.after:
            first.append(f"its tip still stands at {visible(step.after, 40)}")
        told = f"{number}. {visible(step.probe, 60)} ({known})" + (f": first {'; '.join(first)}" if first else "")
        yield from wrapped(told, "  ", "     ")


def _items(items: tuple[Item, ...], words: PlanWords, *, colour: bool) -> Iterator[str]:
    parts = [item for item in items if item.name in PARTS]
    for item in items:
        if item.name in PARTS or item.name in ("stop", "clean_before"):
            continue
        said = words.said(item)
        text = said.text
        mine = [part for part in parts if part.of in ("", item.of)] if item.name == "dead_volume" else []
        if mine:
            shares = " + ".join(f"{TITLES[part.name]} {words.text(part)}" for part in mine)
            text += f" ({'known of it: ' if item.missing else ''}{shares})"
        of = f"{visible(item.of, 40)}: " if item.of else ""
        tail = " ".join(
            part for part in (f"({said.note})" if said.note else "", f"[{said.basis}]" if said.basis else "")
        )
        mark = f"{_AGAINST} " if item.against else ""
        title = f"  {said.title:<{_COLUMN - 3}} "
        lines = wrapped(f"{mark}{of}{text} {tail}".rstrip(), title, " " * _COLUMN)
        yield from (styled(line, "caution", colour=colour) if item.against else line for line in lines)
