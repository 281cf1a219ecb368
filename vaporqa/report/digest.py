"""The first page in sentences: what is usable, what stands in the way, what nobody looked at, and what can hurt."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vaporqa.outcomes import Effect, Standing
from vaporqa.report.places import row_place, shown_place
from vaporqa.report.sentences import Sentences
from vaporqa.report.tally import UNKNOWN_KIND, Tally
from vaporqa.report.wording import visible
from vaporqa.review.values import NotReviewed, Review

#: Said in every report, whatever the data.
SAFETY = (
    "Buried services must be located and cleared before anything is driven, drilled or cored.",
    "Explosive or toxic gas needs trained people and rated instruments; no reading in a table makes a place safe.",
    "Local codes, the approved project plan and licensed professionals outrank this report and the tool that made it.",
)


@dataclass(frozen=True, slots=True)
class Chief:
    """A finding that matters most: the gravest and farthest reaching of its rule."""

    effect: str
    title: str
    reason: str
    place: str
    further: int
    reached: int


@dataclass(frozen=True, slots=True)
class Unproven:
    """A piece of evidence that was missing, the rules that wanted it, and how many rows it left open."""

    phrase: str
    rules: str
    rows: int


def counted(number: int, word: str) -> str:
    """Return a number with its noun: ``1 file``, ``2,000 files``.

    Examples
    --------
    >>> counted(1, "file"), counted(2000, "analysis")
    ('1 file', '2,000 analyses')
    """
    if number == 1:
        return f"1 {word}"
    many = f"{word[:-2]}es" if word.endswith("is") else f"{word[:-1]}ies" if word.endswith("ry") else f"{word}s"
    return f"{number:,} {many}"


def facts(review: Review, tally: Tally) -> list[str]:
    """Return what was reviewed and by what, in a few words each."""
    project, tables = review.project, review.tables.tables
    out = [project.purpose] if project.purpose else []
    out += [counted(sum(tally.samples.values()), "sample")]
    out += [counted(tables["results"].rows, "result row") if "results" in tables else "no table of results"]
    out += [counted(len(review.tables.files), "input file"), counted(len(review.rules), "rule")]
    profiles = review.rulebook.profiles
    out += [f"profile {', then '.join(profiles)}" if profiles else "baseline profile", f"stage {project.stage}"]
    return out


def opening(review: Review, tally: Tally) -> str:
    """Return the first sentence: how many results can be used for what."""
    counts = tally.of_field
    total = int(counts.sum())
    if not total:
        unknown = int(tally.results.get(UNKNOWN_KIND, np.zeros(4)).sum())
        if unknown:
            return (
                f"No result can be counted as a field sample's: the kind of the sample is not known for "
                f"{counted(unknown, 'result')}."
            )
        return "The folder holds no results of field samples; what follows judges the field forms alone."
    said = {
        Standing.USABLE: "can be used as reported",
        Standing.ESTIMATED: "only as {an estimate}",
        Standing.UNPROVEN: "cannot be relied on until missing evidence is supplied",
        Standing.REJECTED: "{is} rejected",
    }
    parts = []
    for standing, words in said.items():
        number = int(counts[standing])
        if number or standing is Standing.USABLE:
            an_estimate, is_are = ("an estimate", "is") if number == 1 else ("estimates", "are")
            filled = words.replace("{an estimate}", an_estimate).replace("{is}", is_are)
            parts.append(f"{f'{number:,}' if number else 'none'} {filled}")
    start = "Of the one result of field samples" if total == 1 else f"Of {total:,} results of field samples"
    last = f", and {parts[-1]}" if len(parts) > 2 else f" and {parts[-1]}" if len(parts) == 2 else ""
    return f"{start}, {', '.join(parts[:-1] if last else parts)}{last}."


def chief_findings(review: Review, sentences: Sentences, at_most: int = 5) -> list[Chief]:
    """Return the findings that matter most, one a rule: by effect, then by how many results they reach."""
    found = review.findings
    counts = {
        effect: np.flatnonzero(found.effect == effect) for effect in (Effect.REJECT, Effect.UNPROVEN, Effect.ESTIMATE)
    }
    out: list[Chief] = []
    seen: set[int] = set()
    for effect, members in counts.items():
        order = members[np.lexsort((members, -found.reached[members]))]
        _, first = np.unique(found.rule[order], return_index=True)
        for index in order[np.sort(first)].tolist():
            number = int(found.rule[index])
            if number in seen or len(out) >= at_most:
                continue
            seen.add(number)
            same = members[found.rule[members] == number]
            out.append(
                Chief(
                    effect.word,
                    review.rules[number].title,
                    visible(sentences.one(index), 600),
                    shown_place(review, index),
                    len(same) - 1,
                    int(found.reached[index]),
                )
            )
    return out


def unproven_by_name(review: Review, at_most: int | None = None) -> list[Unproven]:
    """Return what was missing and earned a finding, most rows first."""
    wanted = [one for one in review.coverage.missing if one.rows]
    return [Unproven(one.phrase, ", ".join(one.rules), one.rows) for one in wanted[:at_most]]


def not_reviewed(review: Review) -> list[NotReviewed]:
    """Return what was left out on purpose, and why."""
    return list(review.not_reviewed)


def cautions(review: Review, sentences: Sentences) -> list[tuple[str, str]]:
    """Return the conditions in the data that can hurt someone: (sentence, place), each once."""
    out = []
    for number, caution in enumerate(review.cautions):
        table = review.tables.get(caution.table)
        place = row_place(table, caution.row) if table is not None and caution.row >= 0 else caution.table
        out.append((visible(sentences.caution(number), 600), place))
    return list(dict.fromkeys(out))
