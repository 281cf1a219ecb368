"""`flagged`: results of a kind, or with a flag of the laboratory that means something."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.clocks import judged_results
from vaporqa.evidence.joins import group_numbers
from vaporqa.evidence.judged import Judged, Labels, judged_from
from vaporqa.outcomes import Outcome
from vaporqa.tables.dictionary import FLAG_MEANINGS
from vaporqa.tables.values import Bool, Texts

OPTIONS = {
    "kind": "kind of result that breaks the rule",
    "meanings": "meanings of flags (separated by blanks) that break it",
    "without_evidence": "yes: a flag counts only where the tables do not hold what it speaks of",
}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every result; where several flags count the first of the rule's list is named."""
    table, results = evidence.tables.get("results"), evidence.results
    if table is None or results is None:
        return ()
    judged = judged_results(evidence)
    meanings = str(rule.options.get("meanings", "")).split()
    which = np.full(table.rows, -1, np.int8)
    kind = table.word("kind")
    if "kind" in rule.options and kind is not None:
        which[judged & kind.is_in(str(rule.options["kind"]))] = len(meanings)
    for place, meaning in enumerate(meanings):
        if meaning not in FLAG_MEANINGS:
            raise ValueError(f"{rule.file}:{rule.line}: {rule.id}: no flag means '{meaning}'")
        mine = judged & results.flagged(meaning) & (which < 0)
        if rule.options.get("without_evidence") is True and mine.any():
            mine &= ~_shown_by_tables(evidence, meaning)
        which[mine] = place
    broken = which >= 0
    state = np.where(broken, Outcome.BROKEN, np.where(judged, Outcome.HOLDS, Outcome.NOT_CONCERNED)).astype(np.uint8)
    row = np.flatnonzero(broken).astype(np.int64)
    named = [*meanings, str(rule.options.get("kind", ""))]
    said: Texts = np.array([one.replace("_", " ") for one in named], dtype=object)[which[row]]
    flag: Texts = np.full(len(row), "", object)
    text = table.text("lab_flag")
    if text is not None:
        flag = np.append(text.words, "")[text.codes[row]]
    measured = Asked(row, np.ones(len(row), bool)).measured(
        np.full(len(row), np.nan),
        facts={"analyte": Labels(evidence.analyte_names(row)), "meaning": Labels(said), "flag": Labels(flag)},
    )
    found = judged_from(measured, table.rows, np.full(len(row), Outcome.BROKEN, np.uint8), np.zeros(len(row), np.int16))
    return (replace(found, state=state),)


def _shown_by_tables(evidence: Evidence, meaning: str) -> Bool:
    """Results of which the tables hold what a flag speaks of, so that a rule of its own judges it."""
    table, results = evidence.tables.get("results"), evidence.results
    assert table is not None
    assert results is not None
    if meaning == "late":
        times = evidence.result_times
        return np.asarray(times.collected.known & times.analysed.known)
    none = np.zeros(table.rows, bool)
    qc, qc_table = evidence.lab_qc, evidence.tables.get("lab_qc")
    if meaning != "control_outside" or qc is None or qc_table is None:
        return none
    kinds = np.isin(qc.kind.astype(str), ("control_sample", "control_sample_duplicate"))
    control = np.flatnonzero(qc_table.counts & kinds)
    laboratory = evidence.batches.get(("results", "laboratory"), np.full(table.rows, -1, np.int64))
    qc_laboratory = evidence.batches.get(("lab_qc", "laboratory"), np.full(qc_table.rows, -1, np.int64))[control]
    both, count = group_numbers(
        np.concatenate([results.batch, qc.batch[control]]), np.concatenate([results.analyte, qc.analyte[control]]),
        np.concatenate([laboratory, qc_laboratory]),
    )  # fmt: skip
    held = np.zeros(count, bool)
    held[both[table.rows :]] = True
    return np.asarray(held[both[: table.rows]] & (results.batch >= 0))
