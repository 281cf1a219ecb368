"""Professional judgements: each meets its finding, replaces its letters before settling, or is said to be stale.

What a judgement can do: give a finding other letters, on its own row and on what it reaches. What it cannot do: hide
the finding, count for values that have changed since, or make a number out of a cell that cannot be read.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Judged, Labels
from vaporqa.outcomes import NOTE, Effect, Letter, Outcome, Standing
from vaporqa.review.coverage import REVIEW_TOPIC
from vaporqa.review.fingerprints import Fingerprints
from vaporqa.review.unjudged import valueless
from vaporqa.review.values import Applied, Findings, NotApplied
from vaporqa.rulebook.judgement_file import Judgement
from vaporqa.rulebook.judgement_letters import STALE_RULE
from vaporqa.settling import Settlement
from vaporqa.tables.values import Bool, Tables, Texts

JUDGEMENT_STALE = Rule(
    id=STALE_RULE,
    title="Every judgement fits the finding that it was written for",
    why="A judgement weighs certain values; of other values it says nothing, and somebody has to look again.",
    topic=REVIEW_TOPIC,
    row="results",
    check="reading",
    order=10_001,
    consequence=MappingProxyType({"broken": NOTE}),
    say=MappingProxyType(
        {"broken": "The judgement of {finding} by {by} on {date} is not applied: {change}; the finding is open again."}
    ),
)
_SHOWN = 8


@dataclass(frozen=True, slots=True)
class Met:
    """Judgements that fit a finding, by its number, and those that do not."""

    applied: Mapping[int, Applied]
    not_applied: tuple[NotApplied, ...]


def meet(judgements: Sequence[Judgement], findings: Findings, prints: Fingerprints, tables: Tables) -> Met:
    """Hold each judgement against the finding that it names; the order of the judgements does not matter."""
    wanted = {one.finding for one in judgements}
    number = {str(found): index for index, found in enumerate(findings.id.tolist()) if found in wanted}
    applied: dict[int, Applied] = {}
    not_applied: list[NotApplied] = []
    for one in sorted(judgements, key=lambda each: each.finding):
        index = number.get(one.finding, -1)
        if index >= 0 and prints.of(index) == one.fingerprint:
            applied[index] = Applied(one, Effect(int(findings.effect[index])), prints.pair(index))
        else:
            not_applied.append(NotApplied(one, _table_of(one.finding, tables), _change(one, index, prints)))
    return Met(applied, tuple(not_applied))


def _table_of(finding: str, tables: Tables) -> str:
    name = finding.split("/", 2)[1] if "/" in finding else ""
    if name in tables:
        return name
    return "results" if "results" in tables else next(iter(tables.tables), "results")


def _change(one: Judgement, index: int, prints: Fingerprints) -> str:
    if index < 0:
        return "no finding has that id now"
    then, now = (one.measured, one.limit), (prints.measured(index), prints.limit(index))
    if then != now:
        return f"it judged {_values(*then)}, and there is {_values(*now)} now"
    return (
        f"the values behind it have changed (fingerprint {one.fingerprint[:_SHOWN]} then, "
        f"{prints.of(index)[:_SHOWN]} now)"
    )


def _values(measured: str, limit: str) -> str:
    return f"{measured or 'no number'} against {limit or 'no limit'}"


def with_judgements(findings: Findings, applied: Mapping[int, Applied]) -> Findings:
    """Replace the letters of judged findings, on their own rows and on what they reach.

    A judgement that gives a finding the letters that it has confirms it and changes nothing, even where a blank scheme
    gives the results that the finding reaches letters of their own. A result that a scheme leaves alone stays so.
    """
    detect, nondetect = findings.detect.copy(), findings.nondetect.copy()
    of_result, not_of_result = findings.results_detect.copy(), findings.results_nondetect.copy()
    for index, one in applied.items():
        pair = one.judgement.pair
        if pair == one.before:
            continue
        detect[index], nondetect[index] = int(pair.detect), int(pair.nondetect)
        mine = (findings.results.entry == index) & ((of_result | not_of_result) != 0)
        of_result[mine], not_of_result[mine] = int(pair.detect), int(pair.nondetect)
    return replace(
        findings, detect=detect, nondetect=nondetect, results_detect=of_result, results_nondetect=not_of_result
    )


def without_judged_blanks(
    judged: list[tuple[int, Judged]], findings: Findings, applied: Mapping[int, Applied]
) -> tuple[list[tuple[int, Judged]], bool]:
    """Take the U of judged blank findings back, so that what they turned into nondetects are detects again.

    Returns
    -------
    judged : list
        What the blank rules said, less those U.
    lifted : bool
        Whether there was one.
    """
    out, lifted = list(judged), False
    for index, one in applied.items():
        if one.judgement.pair == one.before:
            continue
        number, entry = int(findings.judged[index]), int(findings.entry[index])
        rule, said = out[number]
        if said.letters is not None:
            mine = (said.results.entry == entry) & ((said.letters[0] & int(Letter.U)) != 0)
            if mine.any():
                kept = said.letters[0].copy()
                kept[mine] = (kept[mine] & ~int(Letter.U)) | int(Letter.NOTE)
                said, lifted = replace(said, letters=(kept, said.letters[1])), True
        if said.own_at is not None and np.isfinite(said.own_at[entry]):
            own_at = said.own_at.copy()
            own_at[entry] = np.nan
            said, lifted = replace(said, own_at=own_at), True
        out[number] = (rule, said)
    return out, lifted


def passed_unread(evidence: Evidence, before: Mapping[str, Settlement], after: Mapping[str, Settlement]) -> Bool:
    """Result rows that judgements alone would let pass though their number or limit cannot be read, (n,)."""
    table = evidence.tables.get("results")
    if table is None or "results" not in before or evidence.results is None:
        return np.zeros(table.rows if table is not None else 0, bool)
    was, now = before["results"].standing, after["results"].standing
    counts = table.counts & (evidence.runs.counts_for < 0)
    return np.asarray(counts & valueless(evidence) & (was >= Standing.UNPROVEN) & (now < Standing.UNPROVEN))


def said_of(not_applied: Sequence[NotApplied], tables: Tables) -> list[Judged]:
    """Return what `judgement-stale` says, one a table: an entry on the whole table for each judgement that is stale."""
    out = []
    for name in dict.fromkeys(one.table for one in not_applied):
        mine = [one for one in not_applied if one.table == name]
        size, table = len(mine), tables.get(name)
        out.append(
            Judged(
                state=np.zeros(table.rows if table is not None else 0, np.uint8),
                row=np.full(size, -1, np.int64),
                outcome=np.full(size, Outcome.BROKEN, np.uint8),
                limit=np.full(size, -1, np.int16),
                measured=np.full(size, np.nan),
                want=np.full(size, -1, np.int16),
                wants=(),
                hard=np.zeros(size, bool),
                facts={
                    "finding": Labels(_texts([one.judgement.finding for one in mine])),
                    "by": Labels(_texts([one.judgement.by for one in mine])),
                    "date": Labels(_texts([one.judgement.date.isoformat() for one in mine])),
                    "change": Labels(_texts([one.change for one in mine])),
                },
                subject=_texts([one.judgement.finding for one in mine]),
                alone=True,
                table=name,
            )
        )
    return out


def _texts(values: Sequence[str]) -> Texts:
    out: Texts = np.empty(len(values), dtype=object)
    out[:] = values
    return out
