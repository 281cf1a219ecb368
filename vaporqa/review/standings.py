"""Following the reach of findings to rows, and settling every table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Links, distinct_links
from vaporqa.evidence.own_tracer import own_tracer as rows_of_own_tracer
from vaporqa.outcomes import Effect, Letter
from vaporqa.review.gathering import flip_for_air
from vaporqa.review.values import Findings
from vaporqa.settling import Masks, Settlement, masks_of, settle, standing_of
from vaporqa.tables.values import Bool, Int16, Int64, Tables, UInt8

#: Oxygen and nitrogen: outside air let in raises them where it dilutes everything else.
AIR_GASES = ("7782-44-7", "7727-37-9")


def csr(rows: int, links: Links) -> tuple[Int64, Int64]:
    """Findings by row: ``found[starts[i]:starts[i + 1]]``, each once, in rulebook order."""
    turned = distinct_links(links.target, links.entry)
    starts = np.concatenate([[0], np.cumsum(np.bincount(turned.entry, minlength=rows))]).astype(np.int64)
    return starts, turned.target


@dataclass(frozen=True, slots=True)
class Reach:
    """Letters by result row, (n,), and which rows take what reaches their sample.

    `air` rows are oxygen and nitrogen; `own_tracer` rows are the tracer of their own sample's leak test.
    """

    masks: Masks
    takes: Bool
    own_tracer: Bool

    @staticmethod
    def of(evidence: Evidence, rules: tuple[Rule, ...], findings: Findings) -> Reach:
        """OR the letters of all findings into the rows that they stand on or reach."""
        results, table = evidence.results, evidence.tables.get("results")
        if results is None or table is None:
            no = np.zeros(0, bool)
            return Reach(Masks.none(0), no, no)
        n = table.rows
        takes = results.reachable & (results.sample >= 0)
        air = np.append(np.isin(np.array(evidence.analytes.cas, dtype=str), AIR_GASES), False)[results.analyte]
        own_tracer = rows_of_own_tracer(evidence)
        lets_air_in = np.array([rule.air_let_in for rule in rules], bool)[findings.rule]
        spares = np.array([rule.spares_tracer for rule in rules], bool)[findings.rule]
        masks = _direct(evidence, findings, n, air, lets_air_in)
        samples = findings.samples
        for flipped, wanted in ((False, ~air), (True, air)):
            for skip, tracer in ((False, ~own_tracer), (True, own_tracer)):
                rows = np.flatnonzero(takes & wanted & tracer)
                if not rows.size:
                    continue
                keep = ~spares[samples.entry] if skip else np.ones(len(samples.entry), bool)
                entry, target = samples.entry[keep], samples.target[keep]
                detect, nondetect = findings.detect[entry], findings.nondetect[entry]
                if flipped:
                    f_detect, f_nondetect = flip_for_air(detect, nondetect)
                    detect = np.where(lets_air_in[entry], f_detect, detect).astype(np.int16)
                    nondetect = np.where(lets_air_in[entry], f_nondetect, nondetect).astype(np.int16)
                by_sample = _ored(evidence.sample_count, target, masks_of(detect, nondetect))
                number = results.sample[rows]
                masks.detect[rows] |= by_sample.detect[number]
                masks.nondetect[rows] |= by_sample.nondetect[number]
                masks.leaning[rows] |= by_sample.leaning[number]
        return Reach(masks, takes, own_tracer)


def _ored(size: int, target: Int64, letters: Masks) -> Masks:
    out = Masks.none(size)
    np.bitwise_or.at(out.detect, target, letters.detect)
    np.bitwise_or.at(out.nondetect, target, letters.nondetect)
    np.bitwise_or.at(out.leaning, target, letters.leaning)
    return out


def _direct(evidence: Evidence, findings: Findings, n: int, air: Bool, lets_air_in: Bool) -> Masks:
    """Letters of findings on result rows and of those that reach single result rows."""
    here = np.array([name == "results" for name in findings.tables], bool)[findings.table]
    own = here[findings.own.entry]
    entry = np.concatenate([findings.own.entry[own], findings.results.entry])
    row = np.concatenate([findings.own.target[own], findings.results.target])
    detect = np.concatenate([findings.detect[findings.own.entry[own]], findings.results_detect])
    nondetect = np.concatenate([findings.nondetect[findings.own.entry[own]], findings.results_nondetect])
    f_detect, f_nondetect = flip_for_air(detect, nondetect)
    turn = air[row] & lets_air_in[entry]
    detect = np.where(turn, f_detect, detect).astype(np.int16)
    nondetect = np.where(turn, f_nondetect, nondetect).astype(np.int16)
    return _ored(n, row, masks_of(detect, nondetect))


def settle_tables(evidence: Evidence, tables: Tables, findings: Findings, reach: Reach) -> Mapping[str, Settlement]:
    """Settle every table: results by letters and status, other tables by the graver letter of each own finding."""
    out: dict[str, Settlement] = {}
    for name, table in tables.tables.items():
        if name == "results" and evidence.results is not None:
            settlement = settle(reach.masks, evidence.results.detected)
            out[name] = _as_what_counts(settlement, evidence.runs.counts_for, table.copy_of.astype(np.int64))
            continue
        here = np.array([t == name for t in findings.tables], bool)[findings.table]
        keep = here[findings.own.entry]
        mask = np.zeros(table.rows, np.int16)
        both: Int16 = (findings.detect | findings.nondetect)[findings.own.entry[keep]]
        np.bitwise_or.at(mask, findings.own.target[keep], both)
        standing = standing_of(mask)
        copies = table.copy_of >= 0
        standing[copies] = standing[table.copy_of[copies]]
        blank = np.zeros(table.rows, np.int8)
        out[name] = Settlement(standing, blank, blank.copy())
    return out


def _as_what_counts(settlement: Settlement, counts_for: Int64, copy_of: Int64) -> Settlement:
    """A copy or a run set aside takes the standing of the row that counts for it; a copy its qualifier too."""
    standing, qualifier, bias = settlement.standing.copy(), settlement.qualifier.copy(), settlement.bias.copy()
    aside = counts_for >= 0
    final = counts_for.copy()
    # A copy of a run that is set aside itself follows on to the run in use.
    for _ in range(2):
        more = aside & (counts_for[np.maximum(final, 0)] >= 0)
        final[more] = counts_for[final[more]]
    standing[aside] = settlement.standing[final[aside]]
    copies = copy_of >= 0
    qualifier[copies] = settlement.qualifier[copy_of[copies]]
    bias[copies] = settlement.bias[copy_of[copies]]
    return Settlement(standing, qualifier, bias)


def effects_on_results(evidence: Evidence, findings: Findings) -> None:
    """Effect of a finding on a result row: that of the letter for the row's own status, a note where it has none."""
    results = evidence.results
    if results is None or not len(findings):
        return
    here = np.array([name == "results" for name in findings.tables], bool)[findings.table]
    index = np.flatnonzero(here & (findings.row >= 0))
    status = results.detected[findings.row[index]]
    letter = np.where(
        status == 1,
        findings.detect[index],
        np.where(status == 0, findings.nondetect[index], findings.detect[index] | findings.nondetect[index]),
    )
    findings.effect[index] = _effects(letter.astype(np.int16))


def _effects(letter: Int16) -> UInt8:
    out = np.full(len(letter), int(Effect.NOTE), np.uint8)
    out[(letter & int(Letter.J | Letter.J_PLUS | Letter.J_MINUS | Letter.UJ | Letter.NJ)) != 0] = int(Effect.ESTIMATE)
    out[(letter & int(Letter.UNPROVEN)) != 0] = int(Effect.UNPROVEN)
    out[(letter & int(Letter.R)) != 0] = int(Effect.REJECT)
    return out
