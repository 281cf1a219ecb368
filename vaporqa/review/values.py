"""Everything one run found, as one value: what the library returns and every report is written from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from vaporqa.criteria import Rule, Rulebook
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Judged, Links
from vaporqa.outcomes import Effect, Letter, Outcome, Pair
from vaporqa.rulebook.judgement_file import Judgement
from vaporqa.settling import Settlement
from vaporqa.tables.project import Project
from vaporqa.tables.values import Bool, Float, Int8, Int16, Int32, Int64, Tables, Texts, UInt8


@dataclass(frozen=True, slots=True)
class Findings:
    """Every finding, columnar, (m,): in rulebook order, then by table and row.

    Attributes
    ----------
    rule : int32
        Index into `Review.rules`.
    table : int16
        Index into `tables`.
    tables : tuple of str
    row : int64
        Row of the table; -1 for a finding on a whole table (its rows are in `own`).
    key, id : object
        Key of the row (`*`, `*:subject`), and ``rule/table/key`` with ``~2`` for a second one there.
    outcome : uint8
        `Outcome.BROKEN` or `Outcome.UNPROVEN`.
    effect : uint8
        `Effect` on its own row (on a result by the row's own status; elsewhere the graver of the pair).
    detect, nondetect : int16
        Letters of the pair.
    limit : int16
        Index into the rule's limits, -1 for none.
    measured : float64
        In the limit's unit (else in the measure's canonical unit); nan where there is no number.
    judged, entry : int32, int64
        Which `Review.judged` and which of its entries holds the facts for the sentence; for a finding on a whole
        table the first of the entries it stands for.
    want : object
        What is missing, as a phrase; empty for broken findings.
    own : Links
        Finding to own rows (several for a finding on a whole table).
    samples, results : Links
        Finding to sample numbers and result rows that it reaches.
    pair_letters : mapping
        Finding to (detect, nondetect) letters by pair of `results`, where they differ from pair to pair: int16 arrays
        parallel to `results`; empty where they do not.
    reached : int64
        How many result rows each finding reaches.
    column : object
        Contract column that an intake finding is about; empty elsewhere.
    """

    rule: Int32
    table: Int16
    tables: tuple[str, ...]
    row: Int64
    key: Texts
    id: Texts
    outcome: UInt8
    effect: UInt8
    detect: Int16
    nondetect: Int16
    limit: Int16
    measured: Float
    judged: Int32
    entry: Int64
    want: Texts
    own: Links
    samples: Links
    results: Links
    results_detect: Int16
    results_nondetect: Int16
    reached: Int64
    column: Texts

    def __len__(self) -> int:
        return len(self.rule)

    def outcome_word(self, index: int) -> str:
        """`broken` or `unproven`."""
        return Outcome(int(self.outcome[index])).words

    def effect_word(self, index: int) -> str:
        """`reject`, `unproven`, `estimate`, `note` or `caution`."""
        return Effect(int(self.effect[index])).word

    def letters(self, index: int) -> tuple[str, str]:
        """Qualifier for a detect and for a nondetect, as outputs write them (empty for none)."""
        pair = (Letter(int(self.detect[index])), Letter(int(self.nondetect[index])))
        first, second = ("" if letter is Letter.NONE else letter.word for letter in pair)
        return first, second


@dataclass(frozen=True, slots=True)
class Final:
    """What becomes of each result row, (n,).

    Attributes
    ----------
    detected : int8
        Status after blanks: 1, 0, or -1 where nothing states it.
    value : float64
        The number as it stands in the file, for a detect; nan otherwise.
    limit : float64
        Where a nondetect stands, in the row's unit; nan otherwise.
    unit : object
        The row's unit as written in the file.
    in_use : int8
        1, 0, or -1 where undecided.
    counts_for : int64
        Row that counts for a copy or a run set aside; -1 elsewhere.
    """

    detected: Int8
    value: Float
    limit: Float
    unit: Texts
    in_use: Int8
    counts_for: Int64


@dataclass(frozen=True, slots=True)
class RuleCount:
    """How many rows one rule concerned, and what it said of them."""

    rule: str
    concerned: int
    holds: int
    broken: int
    unproven: int
    silent: int  # unproven without a finding: counted in coverage only


@dataclass(frozen=True, slots=True)
class Missing:
    """A piece of evidence that was missing, how often, and which rules wanted it.

    `rows` counts the judgements that earned a finding for want of it, `silent` those whose rule says nothing then.
    """

    phrase: str
    places: tuple[tuple[str, str], ...]
    rules: tuple[str, ...]
    rows: int
    silent: int = 0


@dataclass(frozen=True, slots=True)
class Coverage:
    """What could be judged and what could not."""

    rules: tuple[RuleCount, ...]
    missing: tuple[Missing, ...]
    #: Rules that concerned no row.
    idle: tuple[str, ...]
    #: Table to number of rows that no rule concerned.
    unconcerned: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class NotReviewed:
    """A topic or rule left out on purpose, and why."""

    name: str
    reason: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A condition that can hurt someone, met in the data."""

    rule: str
    table: str
    row: int
    index: int  # finding-like entry: index into Review.cautions' judged entries
    judged: int
    entry: int


@dataclass(frozen=True, slots=True)
class Applied:
    """A judgement in force on a finding, and what the rule itself had said of its own row."""

    judgement: Judgement
    effect_before: Effect
    before: Pair


@dataclass(frozen=True, slots=True)
class NotApplied:
    """A judgement that meets no finding, or one whose values changed; `change` says which, `table` where it is said."""

    judgement: Judgement
    table: str
    change: str


@dataclass(frozen=True, slots=True)
class Judging:
    """The professional judgements of one review.

    Attributes
    ----------
    applied : mapping
        Finding (its number) to the judgement that replaced its letters.
    not_applied : tuple of NotApplied
    superseded : tuple of Judgement
        History: later ones took their place.
    before : mapping
        Table to what its rows settle to without any judgement; empty where none is applied.
    """

    applied: Mapping[int, Applied] = field(default_factory=dict)
    not_applied: tuple[NotApplied, ...] = ()
    superseded: tuple[Judgement, ...] = ()
    before: Mapping[str, Settlement] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Review:
    """Everything one run found.

    Attributes
    ----------
    project, rulebook, tables, evidence
        What was read and by what it was judged. `evidence` sees the status after blanks.
    rules : tuple of Rule
        Rules in force, in rulebook order; `Findings.rule` points here.
    judged : tuple of (rule index, Judged)
        What every rule said, one a rule and table.
    findings : Findings
    settled : mapping
        Table to standing, qualifier and bias of its rows.
    final : Final or None
        For results.
    links : mapping
        Table to (starts, findings): the findings of row i, own and reaching, in rulebook order, are
        ``findings[starts[i]:starts[i + 1]]``. For results see `own_of_results` and `of_samples`.
    coverage, not_reviewed, cautions
    unjudged : bool (n results,)
        Target results in use for which no rule outside intake and reporting holds.
    """

    project: Project
    rulebook: Rulebook
    tables: Tables
    evidence: Evidence
    rules: tuple[Rule, ...]
    judged: tuple[tuple[int, Judged], ...]
    findings: Findings
    settled: Mapping[str, Settlement]
    final: Final | None
    coverage: Coverage
    not_reviewed: tuple[NotReviewed, ...]
    cautions: tuple[Caution, ...]
    #: Table to CSR of findings by row (own rows; for results also what reaches a row directly).
    rows_findings: Mapping[str, tuple[Int64, Int64]]
    #: CSR of findings by sample number: what reaches every target and tentative result of the sample.
    sample_findings: tuple[Int64, Int64]
    #: Result rows that sample-level findings reach, (n,).
    takes_sample_findings: Bool
    #: Result rows that are the tracer of their own sample's leak test: findings that spare them do not count.
    own_tracer: Bool = field(default_factory=lambda: np.zeros(0, bool))
    #: Professional judgements, applied and not.
    judging: Judging = field(default_factory=Judging)

    def findings_of(self, table: str, row: int) -> list[int]:
        """Findings that stand on a row or reach it, in rulebook order."""
        starts, found = self.rows_findings[table]
        out = found[starts[row] : starts[row + 1]].tolist()
        if table == "results" and len(self.takes_sample_findings) and self.takes_sample_findings[row]:
            results = self.evidence.results
            assert results is not None
            number = int(results.sample[row])
            s, f = self.sample_findings
            reaching = f[s[number] : s[number + 1]].tolist()
            if self.own_tracer[row]:
                reaching = [i for i in reaching if not self.rules[self.findings.rule[i]].spares_tracer]
            out = sorted({*out, *reaching})
        return [int(i) for i in out]
