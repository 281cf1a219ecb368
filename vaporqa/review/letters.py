"""Which letters a result was settled from: each finding that stands on it or reaches it, with what it gives there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vaporqa.outcomes import Effect, Letter
from vaporqa.review.gathering import flip_for_air
from vaporqa.review.standings import AIR_GASES
from vaporqa.review.values import Review
from vaporqa.tables.values import Bool, Int64


@dataclass(frozen=True, slots=True)
class Given:
    """What one finding gives one result: its letters for a detect and for a nondetect, air let in allowed for.

    `counts` are the letters for the row's own status: both where nothing says whether it was detected.
    """

    finding: int
    detect: Letter
    nondetect: Letter
    counts: Letter

    @property
    def effect(self) -> Effect:
        """What the letters that count do to the row."""
        return self.counts.effect


class Letters:
    """Letters of some rows of results.

    Parameters
    ----------
    review : Review
    rows : sequence of int
        Rows of results that will be asked for: the pairs of findings and rows are sifted once for all of them.
    """

    def __init__(self, review: Review, rows: Sequence[int]) -> None:
        self._review = review
        table = review.tables.get("results")
        wanted = np.zeros(table.rows if table is not None else 0, bool)
        wanted[np.asarray(rows, np.int64)] = True
        findings = review.findings
        here = np.array([name == "results" for name in findings.tables], bool)[findings.table]
        self._pairs: dict[int, list[tuple[int, int, int]]] = {}
        own = findings.own
        self._keep(
            wanted, own.entry, own.target, findings.detect.astype(np.int64)[own.entry],
            findings.nondetect.astype(np.int64)[own.entry], here[own.entry],
        )  # fmt: skip
        links = findings.results
        self._keep(
            wanted, links.entry, links.target, findings.results_detect.astype(np.int64),
            findings.results_nondetect.astype(np.int64), np.ones(len(links.entry), bool),
        )  # fmt: skip

    def _keep(self, wanted: Bool, entry: Int64, row: Int64, detect: Int64, nondetect: Int64, use: Bool) -> None:
        at = np.flatnonzero(use)
        at = at[wanted[row[at]]]
        for one in at.tolist():
            self._pairs.setdefault(int(row[one]), []).append((int(entry[one]), int(detect[one]), int(nondetect[one])))

    def of(self, row: int) -> tuple[Given, ...]:
        """Return what each finding gives a row of results, in rulebook order; those that give nothing too.

        A finding may meet a row on several ways (its own row, a link to the result, a link to its sample); their
        letters are joined, as in settling.
        """
        review = self._review
        results, findings = review.evidence.results, review.findings
        if results is None:
            return ()
        pairs = list(self._pairs.get(row, []))
        if len(review.takes_sample_findings) and review.takes_sample_findings[row]:
            starts, found = review.sample_findings
            sample = int(results.sample[row])
            tracer = bool(review.own_tracer[row])
            for finding in found[starts[sample] : starts[sample + 1]].tolist():
                if not (tracer and review.rules[int(findings.rule[finding])].spares_tracer):
                    pairs.append((finding, int(findings.detect[finding]), int(findings.nondetect[finding])))
        joined: dict[int, tuple[int, int]] = {}
        for finding, detect, nondetect in pairs:
            before = joined.get(finding, (0, 0))
            joined[finding] = before[0] | detect, before[1] | nondetect
        return tuple(self._given(row, finding, *joined[finding]) for finding in sorted(joined))

    def _given(self, row: int, finding: int, detect: int, nondetect: int) -> Given:
        review, results = self._review, self._review.evidence.results
        assert results is not None
        number, status = int(results.analyte[row]), int(results.detected[row])
        air = number >= 0 and review.evidence.analytes.cas[number] in AIR_GASES
        if air and review.rules[int(review.findings.rule[finding])].air_let_in:
            pair = flip_for_air(np.array([detect], np.int16), np.array([nondetect], np.int16))
            detect, nondetect = (int(one[0]) for one in pair)
        counts = detect if status == 1 else nondetect if status == 0 else detect | nondetect
        return Given(finding, Letter(detect), Letter(nondetect), Letter(counts))


__all__ = ["Given", "Letters"]
