"""The review: judge every rule in its phase, gather findings, follow their reach, settle every row."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.criteria import Rule, Rulebook
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Judged, Links
from vaporqa.evidence.made import with_samples
from vaporqa.outcomes import Effect, Letter
from vaporqa.review.coverage import coverage_of
from vaporqa.review.final import final_of
from vaporqa.review.fingerprints import Fingerprints
from vaporqa.review.gathering import Pile, keys_and_ids, pile_of, reached_counts, sort_piles, with_other_forms
from vaporqa.review.judgements import (
    JUDGEMENT_STALE,
    meet,
    passed_unread,
    said_of,
    with_judgements,
    without_judged_blanks,
)
from vaporqa.review.phases import judge, rules_in_force
from vaporqa.review.standings import Reach, csr, effects_on_results, settle_tables
from vaporqa.review.unjudged import RESULT_JUDGED, unjudged
from vaporqa.review.values import Caution, Findings, Judging, Review
from vaporqa.rulebook.judgement_file import NO_JUDGEMENTS, Judgement, Judgements
from vaporqa.tables.project import Project
from vaporqa.tables.values import Int16, Tables

#: Topic whose rules warn people and touch no row.
CAUTIONS = "cautions"


def review_folder(
    project: Project, tables: Tables, rulebook: Rulebook, judgements: Judgements = NO_JUDGEMENTS
) -> Review:
    """Judge the tables of one project folder by a rulebook.

    Parameters
    ----------
    project : Project
    tables : Tables
        As read by intake.
    rulebook : Rulebook
        Shipped rules, the project's own, and the profiles, already stacked.
    judgements : Judgements
        Professional judgements of the folder: they replace the letters of single findings before settling.

    Raises
    ------
    UsageError
        `leave_out` names a topic or rule that does not exist.
    """
    tables = with_samples(tables)
    force = rules_in_force(rulebook, project)
    blanks = _JudgedBlanks(judgements.in_force, force.rules, tables)
    evidence, judged = judge(tables, project, rulebook, force.rules, blanks.lift if judgements.in_force else None)
    rules = (*force.rules, RESULT_JUDGED)
    floor = unjudged(evidence, rules, judged)
    if floor is not None:
        judged.append((len(rules) - 1, floor))
    cautions = _cautions(rules, judged)
    piles, findings = lay(evidence, rules, judged, tables)
    judging = Judging(superseded=tuple(one for one in judgements.entries if one.superseded is not None))
    if judgements.in_force:
        plain = (
            None if blanks.lifted else settle_tables(evidence, tables, findings, Reach.of(evidence, rules, findings))
        )
        before = plain if plain is not None else review_folder(project, tables, rulebook).settled
        met = meet(judgements.in_force, findings, Fingerprints(evidence, rules, judged, findings), tables)
        changed = with_judgements(findings, met.applied)
        after = settle_tables(evidence, tables, changed, Reach.of(evidence, rules, changed))
        unread = passed_unread(evidence, before, after)
        if unread.any():
            floor = unjudged(evidence, rules, judged, unread)
            assert floor is not None
            judged = [*(pair for pair in judged if pair[0] != len(rules) - 1), (len(rules) - 1, floor)]
            piles, findings = lay(evidence, rules, judged, tables)
            met = meet(judgements.in_force, findings, Fingerprints(evidence, rules, judged, findings), tables)
        stale = met.not_applied
        if stale:
            rules = (*rules, JUDGEMENT_STALE)
            judged.extend((len(rules) - 1, one) for one in said_of(stale, tables))
            piles, findings = lay(evidence, rules, judged, tables)
        # What a finding did to its own row before it was judged is said beside what it does now.
        effects_on_results(evidence, findings)
        met = meet(judgements.in_force, findings, Fingerprints(evidence, rules, judged, findings), tables)
        findings = with_judgements(findings, met.applied)
        findings = replace(findings, effect=graver_effects(findings.detect, findings.nondetect))
        judging = replace(judging, applied=met.applied, not_applied=stale, before=before if met.applied else {})
    reach = Reach.of(evidence, rules, findings)
    settled = settle_tables(evidence, tables, findings, reach)
    effects_on_results(evidence, findings)
    starts_of = {name: csr(table.rows, _named(findings, name)) for name, table in tables.tables.items()}
    return Review(
        project=project,
        rulebook=rulebook,
        tables=tables,
        evidence=evidence,
        rules=rules,
        judged=tuple(judged),
        findings=findings,
        settled=settled,
        final=final_of(evidence),
        coverage=coverage_of(rules, judged, piles, tables),
        not_reviewed=force.not_reviewed,
        cautions=cautions,
        rows_findings=starts_of,
        sample_findings=csr(evidence.sample_count, findings.samples),
        takes_sample_findings=reach.takes,
        own_tracer=reach.own_tracer,
        judging=judging,
    )


class _JudgedBlanks:
    """Judgements on findings of blanks, which decide the status that every other rule sees."""

    def __init__(self, judgements: tuple[Judgement, ...], rules: tuple[Rule, ...], tables: Tables) -> None:
        self._judgements, self._rules, self._tables = judgements, rules, tables
        self.lifted = False

    def lift(self, evidence: Evidence, judged: list[tuple[int, Judged]]) -> list[tuple[int, Judged]]:
        """Return what the blank rules said, less what a judgement takes back."""
        _, findings = lay(evidence, self._rules, judged, self._tables)
        prints = Fingerprints(evidence, self._rules, judged, findings)
        met = meet(self._judgements, findings, prints, self._tables)
        judged, self.lifted = without_judged_blanks(judged, findings, met.applied)
        return judged


def lay(
    evidence: Evidence, rules: tuple[Rule, ...], judged: list[tuple[int, Judged]], tables: Tables
) -> tuple[list[Pile], Findings]:
    """Return the findings of what each rule said, by rule and table and end to end; those of cautions apart."""
    piles = sort_piles(
        [
            with_other_forms(pile_of(index, rules[index], number, one, tables), evidence)
            for number, (index, one) in enumerate(judged)
            if rules[index].topic != CAUTIONS
        ],
        tables,
    )
    return piles, _findings(evidence, rules, piles, tables)


def _cautions(rules: tuple[Rule, ...], judged: list[tuple[int, Judged]]) -> tuple[Caution, ...]:
    out: list[Caution] = []
    for number, (index, one) in enumerate(judged):
        rule = rules[index]
        if rule.topic == CAUTIONS:
            broken = np.flatnonzero(one.limit >= 0)
            out.extend(
                Caution(rule.id, one.table or rule.row, int(one.row[entry]), index, number, int(entry))
                for entry in broken.tolist()
            )
    return tuple(out)


def _named(findings: Findings, table: str) -> Links:
    """Pairs (finding, row) of a table: own rows, and for results the rows that findings reach directly."""
    here = np.array([name == table for name in findings.tables], bool)[findings.table]
    keep = here[findings.own.entry]
    entry, row = findings.own.entry[keep], findings.own.target[keep]
    if table == "results":
        entry = np.concatenate([entry, findings.results.entry])
        row = np.concatenate([row, findings.results.target])
    return Links(entry, row)


def _findings(evidence: Evidence, rules: tuple[Rule, ...], piles: list[Pile], tables: Tables) -> Findings:
    """Lay the piles end to end, in rulebook order, then by row."""
    piles = [_by_row(pile) for pile in piles]
    offsets = np.concatenate([[0], np.cumsum([len(pile.row) for pile in piles])]).astype(np.int64)
    size = int(offsets[-1])
    names = tuple(dict.fromkeys(pile.table for pile in piles))

    def joined(parts: list[Links]) -> Links:
        entry = [links.entry + offset for links, offset in zip(parts, offsets, strict=False)]
        target = [links.target for links in parts]
        nothing = np.empty(0, np.int64)
        return Links(
            np.concatenate([nothing, *entry]).astype(np.int64), np.concatenate([nothing, *target]).astype(np.int64)
        )

    def laid(values: list[np.ndarray], dtype: type) -> np.ndarray:
        return np.concatenate([np.empty(0, dtype), *values]).astype(dtype)

    samples, results = joined([p.samples for p in piles]), joined([p.results for p in piles])
    keys, ids = keys_and_ids(rules, piles, tables)
    detect: Int16 = laid([p.detect for p in piles], np.int16)
    nondetect: Int16 = laid([p.nondetect for p in piles], np.int16)
    column = [p.columns if p.columns is not None else np.full(len(p.row), "", object) for p in piles]
    return Findings(
        rule=laid([np.full(len(p.row), p.rule) for p in piles], np.int32),
        table=laid([np.full(len(p.row), names.index(p.table)) for p in piles], np.int16),
        tables=names,
        row=laid([p.row for p in piles], np.int64),
        key=keys,
        id=ids,
        outcome=laid([p.outcome for p in piles], np.uint8),
        effect=graver_effects(detect, nondetect),
        detect=detect,
        nondetect=nondetect,
        limit=laid([p.limit for p in piles], np.int16),
        measured=laid([p.measured for p in piles], np.float64),
        judged=laid([np.full(len(p.row), p.judged) for p in piles], np.int32),
        entry=laid([p.entry for p in piles], np.int64),
        want=laid([p.want for p in piles], object),
        own=joined([p.own for p in piles]),
        samples=samples,
        results=results,
        results_detect=laid([p.pair_detect for p in piles], np.int16),
        results_nondetect=laid([p.pair_nondetect for p in piles], np.int16),
        reached=reached_counts(evidence, size, samples, results),
        column=laid(column, object),
    )


def _by_row(pile: Pile) -> Pile:
    """Order the findings of a pile by row, whole-table ones first."""
    order = np.lexsort((pile.entry, pile.row))
    if np.array_equal(order, np.arange(len(order))):
        return pile
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order))
    for name in ("row", "outcome", "detect", "nondetect", "limit", "measured", "entry", "want", "subject"):
        setattr(pile, name, getattr(pile, name)[order])
    if pile.columns is not None:
        pile.columns = pile.columns[order]
    pile.own = Links(rank[pile.own.entry], pile.own.target)
    pile.samples = Links(rank[pile.samples.entry], pile.samples.target)
    pile.results = Links(rank[pile.results.entry], pile.results.target)
    return pile


def graver_effects(detect: Int16, nondetect: Int16) -> np.ndarray:
    """Effect of each pair on a row that is no result: the graver of the two, a note where both letters are none."""
    out = np.full(len(detect), int(Effect.NOTE), np.uint8)
    both = detect | nondetect
    out[(both & int(Letter.J | Letter.J_PLUS | Letter.J_MINUS | Letter.UJ | Letter.NJ)) != 0] = int(Effect.ESTIMATE)
    out[(both & int(Letter.UNPROVEN)) != 0] = int(Effect.UNPROVEN)
    out[(both & int(Letter.R)) != 0] = int(Effect.REJECT)
    return out


__all__ = ["graver_effects", "lay", "review_folder"]
