"""What the first page counts: results by standing, apart by what kind of row they are, and what made them so."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vaporqa.criteria import Backing, Limit, Rule
from vaporqa.outcomes import Effect, Letter, Outcome, Standing
from vaporqa.report.row_lists import RowLists
from vaporqa.review.evidence_matrix import EvidenceMatrix, evidence_matrix_of
from vaporqa.review.usability import Usability, usability_of
from vaporqa.review.values import Review
from vaporqa.tables.values import Bool, Int64, UInt8

#: Kinds of samples whose results the first page counts.
FIELD_KINDS = ("primary", "field_duplicate", "field_replicate")
#: Groups of result rows, each row in one, the first that fits.
COPIES, OTHER_ROWS, OTHER_FORMS, SET_ASIDE, FIELD, UNKNOWN_KIND, BLANKS, OTHER_SAMPLES = range(8)
GROUP_NAMES = {
    FIELD: "results of field samples",
    UNKNOWN_KIND: "results of samples whose kind is not known",
    BLANKS: "results of blanks",
    OTHER_SAMPLES: "results of ambient air and reference samples",
    SET_ASIDE: "runs set aside",
    COPIES: "exact copies of other rows",
    OTHER_ROWS: "rows of surrogates, internal standards and observations",
    OTHER_FORMS: "rows by volume of results that stand by mass as well",
}
_ONE_OF_GROUP = {
    FIELD: "result of a field sample",
    UNKNOWN_KIND: "result of a sample whose kind is not known",
    BLANKS: "result of a blank",
    OTHER_SAMPLES: "result of ambient air or a reference sample",
    SET_ASIDE: "run set aside",
    COPIES: "exact copy of another row",
    OTHER_ROWS: "row of a surrogate, internal standard or observation",
    OTHER_FORMS: "row by volume of a result that stands by mass as well",
}


def group_count(group: int, number: int) -> str:
    """Return how many rows a group has, in words."""
    return f"1 {_ONE_OF_GROUP[group]}" if number == 1 else f"{number:,} {GROUP_NAMES[group]}"


@dataclass(frozen=True, slots=True)
class Cause:
    """A rule and how many first-page results it brought to the standing they have."""

    rule: Rule
    standing: Standing
    rows: int


@dataclass(frozen=True, slots=True)
class LimitUse:
    """A limit in force and how many findings it broke."""

    rule: Rule
    limit: Limit
    findings: int
    used: bool


@dataclass(frozen=True, slots=True)
class Tally:
    """Counts of one review.

    Attributes
    ----------
    results : mapping
        Group to counts by standing (4,).
    field : bool (n results,)
        Rows that the first page counts.
    undecided : int
        First-page results of which it is undecided which run counts.
    tables : mapping
        Table to counts by standing (4,).
    qualifiers, biases : mapping
        Of first-page results, by code.
    effects, outcomes : mapping
        Findings by effect and by outcome.
    rules : mapping
        Rule id to number of findings.
    causes : tuple of Cause
        By standing from the gravest, then by rows.
    limits : tuple of LimitUse
    samples : mapping
        Kind to number of samples (rows of the samples table that count).
    usability : Usability
        Indicators, decisions at screening levels and the validation stage.
    evidence : EvidenceMatrix
        Rules against the evidence that they wanted.
    """

    results: Mapping[int, Int64]
    field: Bool
    undecided: int
    tables: Mapping[str, Int64]
    qualifiers: Mapping[int, int]
    effects: Mapping[Effect, int]
    outcomes: Mapping[Outcome, int]
    rules: Mapping[str, int]
    causes: tuple[Cause, ...]
    limits: tuple[LimitUse, ...]
    samples: Mapping[str, int]
    usability: Usability
    evidence: EvidenceMatrix

    @property
    def of_field(self) -> Int64:
        """First-page results by standing, (4,)."""
        return self.results.get(FIELD, np.zeros(4, np.int64))

    @property
    def from_memory(self) -> tuple[LimitUse, ...]:
        """Limits from memory that were used."""
        return tuple(use for use in self.limits if use.used and use.limit.backing is Backing.MEMORY)


def tally_of(review: Review, lists: RowLists) -> Tally:
    """Count one review; `lists` are the row lists of results."""
    groups = result_groups(review)
    settled = review.settled.get("results")
    standing = settled.standing if settled is not None else np.zeros(len(groups), np.uint8)
    results = {
        group: np.bincount(standing[groups == group], minlength=4).astype(np.int64)
        for group in GROUP_NAMES
        if (groups == group).any()
    }
    field = groups == FIELD
    found = review.findings
    in_use = review.final.in_use if review.final is not None else np.ones(len(groups), np.int8)
    qualifier = settled.qualifier[field] if settled is not None else np.zeros(0, np.int8)
    codes, counts = np.unique(qualifier, return_counts=True)
    by_rule = Counter(found.rule.tolist())
    return Tally(
        results=results,
        field=field,
        undecided=int(np.count_nonzero(field & (in_use < 0))),
        tables={
            name: np.bincount(review.settled[name].standing, minlength=4).astype(np.int64)
            if name in review.settled
            else np.array([table.rows, 0, 0, 0], np.int64)
            for name, table in review.tables.tables.items()
        },
        qualifiers=dict(zip(codes.tolist(), counts.tolist(), strict=True)),
        effects={effect: int(np.count_nonzero(found.effect == effect)) for effect in Effect if effect},
        outcomes={one: int(np.count_nonzero(found.outcome == one)) for one in (Outcome.BROKEN, Outcome.UNPROVEN)},
        rules={review.rules[number].id: count for number, count in sorted(by_rule.items())},
        causes=_causes(review, lists, field, standing),
        limits=_limits(review),
        samples=_samples(review),
        usability=usability_of(review),
        evidence=evidence_matrix_of(review),
    )


def result_groups(review: Review) -> Int64:
    """Return the group of each row of results, (n,)."""
    table, results = review.tables.get("results"), review.evidence.results
    if table is None or results is None or review.final is None:
        return np.zeros(0, np.int64)
    kinds = np.append(review.evidence.samples.kind.astype(str), "")
    kind = np.searchsorted(names := np.unique(kinds), kinds)[results.sample]
    by_name = {name: _group_of(str(name)) for name in names.tolist()}
    group = np.array([by_name[name] for name in names.tolist()], np.int64)[kind]
    group[review.final.in_use == 0] = SET_ASIDE
    group[~results.target] = OTHER_ROWS
    group[results.form_of >= 0] = OTHER_FORMS
    group[~table.counts] = COPIES
    return group


def _group_of(kind: str) -> int:
    if kind in FIELD_KINDS:
        return FIELD
    if kind.endswith("_blank"):
        return BLANKS
    return UNKNOWN_KIND if kind in ("", "unknown") else OTHER_SAMPLES


def _causes(review: Review, lists: RowLists, field: Bool, standing: UInt8) -> tuple[Cause, ...]:
    """Rules whose findings have the effect that made the standing; a result counts once for each such rule."""
    found = review.findings
    worst = _worst_effect(review).tolist()
    rule_of = found.rule.tolist()
    counts: Counter[tuple[int, int]] = Counter()
    effect_of = {
        Standing.ESTIMATED: Effect.ESTIMATE,
        Standing.UNPROVEN: Effect.UNPROVEN,
        Standing.REJECTED: Effect.REJECT,
    }
    pairs = lists.of_row * 4 + standing.astype(np.int64)
    seen, rows = np.unique(pairs[field], return_counts=True)
    for pair, count in zip(seen.tolist(), rows.tolist(), strict=True):
        reached = Standing(pair % 4)
        if reached is Standing.USABLE:
            continue
        wanted = int(effect_of[reached])
        for rule in {rule_of[index] for index in lists.sets[pair // 4] if worst[index] >= wanted}:
            counts[(int(reached), rule)] += count
    ordered = sorted(counts.items(), key=lambda item: (-item[0][0], -item[1], item[0][1]))
    return tuple(Cause(review.rules[rule], Standing(number), count) for (number, rule), count in ordered)


def _worst_effect(review: Review) -> Int64:
    """The gravest effect that a finding may have on a result, (m,)."""
    found = review.findings
    letters = (found.detect | found.nondetect).astype(np.int64)
    if len(found.results_detect) == len(found.results.entry):
        both = (found.results_detect | found.results_nondetect).astype(np.int64)
        np.bitwise_or.at(letters, found.results.entry, both)
    distinct, codes = np.unique(letters, return_inverse=True)
    effects = np.array([_effect(Letter(int(mask))) for mask in distinct], np.int64)
    out: Int64 = effects[codes.reshape(-1)] if len(letters) else letters
    return out


def _effect(letters: Letter) -> int:
    return int(max((letter.effect for letter in Letter if letter & letters), default=Effect.NONE))


def _limits(review: Review) -> tuple[LimitUse, ...]:
    found = review.findings
    broken = Counter(zip(found.rule.tolist(), found.limit.tolist(), strict=True))
    concerned = {count.rule for count in review.coverage.rules if count.concerned}
    out = []
    for number, rule in enumerate(review.rules):
        for at, limit in enumerate(rule.limits):
            out.append(LimitUse(rule, limit, broken.get((number, at), 0), rule.id in concerned))
    return tuple(out)


def _samples(review: Review) -> dict[str, int]:
    kinds = Counter(str(kind) or "unknown" for kind in review.evidence.samples.kind.tolist())
    return dict(sorted(kinds.items()))
