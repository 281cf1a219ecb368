"""Deciding on one finding: is it there, do effect and letters go together, and what would the decision move."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

import numpy as np

from vaporqa.criteria import Rulebook
from vaporqa.errors import Problem, UsageError, did_you_mean
from vaporqa.outcomes import LETTERS, Effect, Pair
from vaporqa.review import review_folder
from vaporqa.review.fingerprints import Fingerprints
from vaporqa.review.values import Review
from vaporqa.rulebook.judgement_file import JUDGEMENT_FILE, Judgement, Judgements
from vaporqa.rulebook.judgement_letters import EFFECTS, decided_pair, floor_fault, letter_fault, pair_fault
from vaporqa.tables.project import Project
from vaporqa.tables.values import Int64, Tables

#: A reason is a sentence or two, not a report.
LONGEST = 2000
_OFFERED, _LOOKED_AT = 5, 2000


@dataclass(frozen=True, slots=True)
class Decision:
    """What somebody decides on a finding, as given: words, not yet held against anything.

    Attributes
    ----------
    finding : str
        Id of the finding.
    effect : str
        `note`, `estimate`, `unproven` or `reject`.
    by, why : str
    date : date
    detect, nondetect : str
        Letters; empty where effect and direction of the finding decide.
    replaces : bool
        Whether it may take the place of an earlier judgement.
    """

    finding: str
    effect: str
    by: str
    why: str
    date: dt.date
    detect: str = ""
    nondetect: str = ""
    replaces: bool = False


@dataclass(frozen=True, slots=True)
class Weighed:
    """A decision held against the folder: the entry to write, and the review before and after it.

    Attributes
    ----------
    judgement : Judgement
    index, index_before : int
        The finding in `after` and in `before`.
    named : bool
        Whether both letters were named; else effect and direction decided.
    earlier : Judgement or None
        The judgement whose place it takes.
    before, after : Review
    """

    judgement: Judgement
    index: int
    index_before: int
    named: bool
    earlier: Judgement | None
    before: Review
    after: Review

    def moved(self) -> Mapping[str, tuple[Int64, Int64, Int64]]:
        """Return the rows of each table that end better, worse, or with another qualifier only."""
        out = {}
        for name, now in self.after.settled.items():
            was = self.before.settled[name]
            better, worse = now.standing < was.standing, now.standing > was.standing
            other = ~better & ~worse & (now.qualifier != was.qualifier)
            rows = tuple(np.flatnonzero(part).astype(np.int64) for part in (better, worse, other))
            if any(len(part) for part in rows):
                out[name] = (rows[0], rows[1], rows[2])
        return out

    def reopened(self) -> list[Judgement]:
        """Return the judgements of other findings that no longer fit because of this one."""
        known = {one.judgement.finding for one in self.before.judging.not_applied}
        return [one.judgement for one in self.after.judging.not_applied if one.judgement.finding not in known]


def decide(decision: Decision, project: Project, tables: Tables, rulebook: Rulebook, standing: Judgements) -> Weighed:
    """Hold a decision against a project folder.

    Parameters
    ----------
    decision : Decision
    project, tables, rulebook
        As for a review.
    standing : Judgements
        Those that the folder has.

    Raises
    ------
    UsageError
        The finding does not exist or is judged already, or the words do not go together; every fault is named.
    """
    problems = list(_faults_of_words(decision))
    earlier = next((one for one in standing.in_force if one.finding == decision.finding), None)
    others = replace(standing, entries=tuple(one for one in standing.entries if one is not earlier))
    without = review_folder(project, tables, rulebook, others)
    index = _index(without, decision.finding)
    if index < 0:
        problems.append(_unknown(decision.finding, without))
    if earlier is not None and not decision.replaces:
        message = (
            f"'{decision.finding}' is judged already, by {earlier.by} on {earlier.date.isoformat()} "
            f"({JUDGEMENT_FILE}:{earlier.line})"
        )
        problems.append(Problem("", 0, 0, message, "add --replace to keep that entry as superseded and judge anew"))
    if problems:
        raise UsageError(problems)
    judgement = _judgement(decision, without, index)
    before = without if earlier is None else review_folder(project, tables, rulebook, standing)
    after = review_folder(project, tables, rulebook, replace(others, entries=(*others.entries, judgement)))
    return Weighed(
        judgement, _index(after, decision.finding), _index(before, decision.finding),
        bool(decision.detect and decision.nondetect), earlier, before, after,
    )  # fmt: skip


def _index(review: Review, finding: str) -> int:
    found = np.flatnonzero(review.findings.id == finding)
    return int(found[0]) if len(found) else -1


def _faults_of_words(decision: Decision) -> Iterator[Problem]:
    for name, text in (("by", decision.by), ("why", decision.why)):
        fault = _text_fault(name, text)
        if fault:
            yield Problem("", 0, 0, *fault)
    if decision.effect not in EFFECTS:
        mend = did_you_mean(decision.effect, EFFECTS) or "write one of: " + ", ".join(EFFECTS)
        yield Problem("", 0, 0, f"there is no effect '{decision.effect}'", mend)
    else:
        fault = floor_fault(decision.finding, Effect[decision.effect.upper()])
        if fault:
            yield Problem("", 0, 0, *fault)
    for name, word in (("detect", decision.detect), ("nondetect", decision.nondetect)):
        fault = letter_fault(word, detect=name == "detect") if word else None
        if fault:
            yield Problem("", 0, 0, f"--{name}: {fault[0]}", fault[1])


def _text_fault(name: str, text: str) -> tuple[str, str] | None:
    folded = " ".join(text.split())
    if not folded:
        wanted = "who decides" if name == "by" else "the reason, in a sentence that a third person can follow"
        return f"a judgement needs --{name}, and nothing stands there", f"write {wanted}"
    if len(folded) > LONGEST:
        return f"--{name} has {len(folded):,} characters", f"write at most {LONGEST:,}"
    odd = next((letter for letter in folded if not letter.isprintable()), "")
    if odd:
        return f"--{name} holds a character that does not print (U+{ord(odd):04X})", "write it without"
    return None


def _judgement(decision: Decision, review: Review, index: int) -> Judgement:
    prints = Fingerprints(review.evidence, review.rules, review.judged, review.findings)
    effect, original = Effect[decision.effect.upper()], prints.pair(index)
    pair = decided_pair(effect, original, review.rules[int(review.findings.rule[index])])
    pair = Pair(
        LETTERS[decision.detect] if decision.detect else pair.detect,
        LETTERS[decision.nondetect] if decision.nondetect else pair.nondetect,
    )
    fault = pair_fault(effect, pair)
    if fault:
        raise UsageError(Problem("", 0, 0, *fault))
    return Judgement(
        finding=decision.finding, date=decision.date, by=" ".join(decision.by.split()),
        why=" ".join(decision.why.split()), effect=effect, pair=pair,
        original_effect=Effect(int(review.findings.effect[index])), original=original,
        measured=prints.measured(index), limit=prints.limit(index), fingerprint=prints.of(index),
    )  # fmt: skip


def _unknown(finding: str, review: Review) -> Problem:
    near = nearest_findings(finding, [str(one) for one in review.findings.id])
    mend = f"did you mean {' or '.join(repr(one) for one in near)}?" if near else "findings.csv lists every id"
    return Problem("", 0, 0, f"there is no finding '{finding}'", mend)


def nearest_findings(finding: str, ids: Sequence[str]) -> list[str]:
    """Return the ids that `finding` was probably meant to be, best first: of its own rule and table where there are."""
    rule, _, rest = finding.partition("/")
    table = rest.partition("/")[0]
    for start in (f"{rule}/{table}/", f"{rule}/", ""):
        pool = [one for one in ids if one.startswith(start)][:_LOOKED_AT]
        found = get_close_matches(finding, pool, n=_OFFERED, cutoff=0.5)
        if found:
            return found
    return []
