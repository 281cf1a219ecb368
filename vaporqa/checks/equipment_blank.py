"""`equipment_blank`: a blank of reusable equipment with a detect taints what was drawn with it, analyte by analyte.

From its last clean blank (else the start of the log) to its next clean one, by the blank scheme in force. A water blank
tells presence or absence only: what it taints becomes the letter of the rule.
"""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.decontamination import EquipmentBlank, Taint, hanging_on, samples_with_blank_unknown, taints
from vaporqa.evidence.judged import Facts, Judged, Labels, Links, Stamps, Want, state_of_rows
from vaporqa.evidence.reported import DETECTED, NONDETECT
from vaporqa.evidence.schemes import apply_scheme
from vaporqa.outcomes import Letter, Outcome
from vaporqa.tables.values import Float, Int16, Int64

OPTIONS: dict[str, str] = {}

_WANTS = (
    Want("a laboratory result for the blank", (("results", "sample_id"), ("equipment_log", "sample_id"))),
    Want("a readable result of every analyte of the blank", (("results", "result"),)),
    Want("a limit of detection or reporting limit (and one unit) to apply the blank scheme by", ()),
)


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every blank event of the equipment log."""
    table = evidence.tables.get("equipment_log")
    if table is None:
        return ()
    blanks, tainted = evidence.equipment_blanks, {t.blank.row: t for t in taints(evidence)}
    speaker = _Speaker(rule, evidence)
    for blank in blanks:
        speaker.judge(blank, tainted.get(blank.row))
    return (speaker.judged(table.rows),)


class _Speaker:
    """Collects entries, one a blank and outcome."""

    def __init__(self, rule: Rule, evidence: Evidence) -> None:
        self.rule, self.evidence = rule, evidence
        self.scheme = evidence.rulebook.schemes[evidence.rulebook.choose["blanks.scheme"]]
        self.row: list[int] = []
        self.outcome: list[int] = []
        self.want: list[int] = []
        self.blank: list[EquipmentBlank] = []
        self.said: list[str] = []
        self.entry: list[Int64] = []
        self.target: list[Int64] = []
        self.letters: list[Int16] = []
        self.at: list[Float] = []

    def judge(self, blank: EquipmentBlank, taint: Taint | None) -> None:
        results = self.evidence.results
        if results is None or not blank.results.size:
            drawn = samples_with_blank_unknown(self.evidence, blank)
            rows = self.evidence.results_of_samples(drawn)
            self._add(blank, Outcome.UNPROVEN, 0, "", rows, _unproven(rows))
            return
        status = results.detected[blank.results]
        unread = blank.results[(status != DETECTED) & (status != NONDETECT)]
        if unread.size:
            rows, _ = hanging_on(self.evidence, blank, unread)
            rows = rows[results.detected[rows] != NONDETECT]  # no scheme does anything to a nondetect
            self._add(blank, Outcome.UNPROVEN, 1, self._names(unread), rows, _unproven(rows))
        if taint is not None:
            self._tainted(blank, taint)
        elif not unread.size:
            self._add(blank, Outcome.HOLDS, -1, "")

    def _tainted(self, blank: EquipmentBlank, taint: Taint) -> None:
        results = self.evidence.results
        assert results is not None
        dirty = self._names(blank.results[results.detected[blank.results] == DETECTED])
        if blank.water:
            detected = results.detected[taint.rows] == DETECTED
            pair = self.rule.pair(self.rule.limits[0].name if self.rule.limits else "broken")
            letters = np.where(detected, int(pair.detect), int(pair.nondetect)).astype(np.int16)
            keep = letters != 0
            self._add(blank, Outcome.BROKEN, -1, dirty, taint.rows[keep], letters[keep])
            return
        applied = apply_scheme(self.evidence, self.scheme, taint.rows, taint.level)
        keep = ~applied.open & (applied.detect != 0)
        self._add(blank, Outcome.BROKEN, -1, dirty, taint.rows[keep], applied.detect[keep], applied.at[keep])
        if applied.open.any():
            rows = taint.rows[applied.open]
            self._add(blank, Outcome.UNPROVEN, 2, dirty, rows, _unproven(rows))

    def _names(self, rows: Int64) -> str:
        names = sorted({str(name) for name in self.evidence.analyte_names(rows)})
        return ", ".join(names[:5]) + (f" and {len(names) - 5} more" if len(names) > 5 else "")

    def _add(
        self, blank: EquipmentBlank, outcome: Outcome, want: int, said: str, rows: Int64 | None = None,
        letters: Int16 | None = None, at: Float | None = None,
    ) -> None:  # fmt: skip
        number = len(self.row)
        self.row.append(blank.row)
        self.outcome.append(int(outcome))
        self.want.append(want)
        self.blank.append(blank)
        self.said.append(said)
        if rows is not None and letters is not None:
            self.entry.append(np.full(len(rows), number, np.int64))
            self.target.append(rows)
            self.letters.append(letters)
            self.at.append(at if at is not None else np.full(len(rows), np.nan))

    def judged(self, rows: int) -> Judged:
        outcome = np.array(self.outcome, dtype=np.uint8)
        row = np.array(self.row, dtype=np.int64)
        speaks = outcome != Outcome.HOLDS
        entry = np.concatenate(self.entry) if self.entry else np.empty(0, np.int64)
        target = np.concatenate(self.target) if self.target else np.empty(0, np.int64)
        letters = np.concatenate(self.letters) if self.letters else np.empty(0, np.int16)
        at = np.concatenate(self.at) if self.at else np.empty(0)
        renumber = np.cumsum(speaks) - 1
        names = self.evidence.equipment_ids.names
        kept = [blank for blank, speaking in zip(self.blank, speaks.tolist(), strict=True) if speaking]
        facts: Facts = {
            "equipment": Labels(np.array([names[blank.equipment] for blank in kept], dtype=object)),
            "found": Labels(np.array([s for s, k in zip(self.said, speaks.tolist(), strict=True) if k], dtype=object)),
            "medium": Labels(np.array(["water" if blank.water else "gas" for blank in kept], dtype=object)),
            "at": Stamps(
                np.array([blank.at[0] for blank in kept], dtype=np.int64),
                np.array([blank.at[0] != blank.at[1] for blank in kept], dtype=bool),
            ),
        }
        broken = outcome[speaks] == Outcome.BROKEN
        return Judged(
            state=state_of_rows(rows, row, outcome),
            row=row[speaks],
            outcome=outcome[speaks],
            limit=np.where(broken, 0 if self.rule.limits else -1, -1).astype(np.int16),
            measured=np.full(int(speaks.sum()), np.nan),
            want=np.where(broken, -1, np.array(self.want, dtype=np.int64)[speaks]).astype(np.int16),
            wants=_WANTS,
            # A blank that was never analysed is silent; one that cannot be read or applied is not.
            hard=~broken & (np.array(self.want, dtype=np.int64)[speaks] > 0),
            facts=facts,
            results=Links(renumber[entry].astype(np.int64), target.astype(np.int64)),
            letters=(letters, _of_nondetects(letters)),
            at=at,
        )


def _of_nondetects(letters: Int16) -> Int16:
    """What a letter is once the result is a nondetect: one that a U made so still names the blank, as a note."""
    open_still = np.where(letters == int(Letter.UNPROVEN), letters, 0)
    return np.where(letters == int(Letter.U), int(Letter.NOTE), open_still).astype(np.int16)


def _unproven(rows: Int64) -> Int16:
    return np.full(len(rows), int(Letter.UNPROVEN), np.int16)
