"""The plan for a terminal of 80 columns: safety first, then the order of the day and every probe."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from vaporqa.planning import Item, Plan
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
from vaporqa.report.plan_wording import WHOLE_DAY, PlanWords, basis_text, limit_text
from vaporqa.report.sentences import Sentences
from vaporqa.report.terminal import no_command, styled, wrapped
from vaporqa.report.wording import visible

_COLUMN = 23
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
        if words.lines(items):
            lines += ["", f"{visible(state.probe, 60)}  ({heading(state)})"]
            lines += _lines(items, words, colour=colour)
    day = plan.of("")
    if words.lines(day):
        lines += ["", "The whole day", *_lines(day, words, colour=colour)]
    lines += _deadlines(words)
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
        said = f"{basis.rule}.{limit.name}: {limit_text(limit)} ({limit.backing.value}{by}). {limit.source}"
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
    for number, stop in enumerate(stops(plan), start=1):
        told = f"{number}. {visible(stop.step.probe, 60)} ({stop.known})"
        yield from wrapped(f"{told}: first {'; '.join(stop.first)}" if stop.first else told, "  ", "     ")


def _lines(items: tuple[Item, ...], words: PlanWords, *, colour: bool) -> Iterator[str]:
    for line in words.lines(items):
        mark = f"{_AGAINST} " if line.against else ""
        of = f"{line.of}: " if line.of else ""
        made_of = f" ({line.made_of})" if line.made_of else ""
        note = f" ({line.note})" if line.note else ""
        basis = f" [{line.basis}]" if line.basis else ""
        told = f"{mark}{of}{line.text}{made_of}{note}{basis}"
        for part in wrapped(told, f"  {line.title:<{_COLUMN - 3}} ", " " * _COLUMN):
            yield styled(part, "caution", colour=colour) if line.against else part


def _deadlines(words: PlanWords) -> Iterator[str]:
    found = words.deadlines()
    if not found:
        return
    yield from ("", "To the laboratory")
    yield from wrapped(WHOLE_DAY, "  ")
    for one in found:
        about = "; ".join(part for part in (one.container, one.analytes) if part)
        told = f"{', '.join(one.samples)}{f' ({about})' if about else ''}: {one.text}"
        yield from wrapped(f"{told} [{one.basis}]" if one.basis else told, "  ", "    ")
