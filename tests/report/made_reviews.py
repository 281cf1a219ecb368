"""Small reviews made by hand, so that every expectation of the report stands in the test and not in the rules."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from vaporqa.criteria import Backing, Change, Limit, Rule, Rulebook, Sense, Source
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Fact, Judged, Links, Want
from vaporqa.intake import load_project, read_folder
from vaporqa.outcomes import NOTHING, Effect, Letter, Outcome, Pair
from vaporqa.review.values import (
    Caution,
    Coverage,
    Final,
    Findings,
    Missing,
    NotReviewed,
    Review,
    RuleCount,
)
from vaporqa.settling import QUALIFIERS, Settlement

PROJECT = """\
project: Larkspur Yard
purpose: property transaction
time_zone: America/Boise
lab_time_zone: America/Chicago
leave_out: {custody: "no chain of custody was supplied"}
"""
SAMPLES = """\
sample_id,kind,matrix,container
S1,primary,soil_gas,canister
S2,primary,soil_gas,bag
B1,trip_blank,unknown,canister
"""
RESULTS = """\
sample_id,cas,analyte,method,result,unit,reporting_limit,reasons,note
S1,71-43-2,Benzene,TO-15,12.5,ug/m3,1.0,lab said so,"=HYPERLINK(""x"")"
S1,108-88-3,Toluene,TO-15,<2,ug/m3,2,,-0.5
S2,71-43-2,Benzene,TO-15,3.1,ug/m3,1.0,,<script>alert(1)</script>
S2,108-88-3,Toluene,TO-15,1O.5,ug/m3,1.0,,"two
lines"
B1,71-43-2,Benzene,TO-15,<1,ug/m3,1.0,,::error::x
S2,71-43-2,Benzene,TO-15,3.1,ug/m3,1.0,,<script>alert(1)</script>
"""
TRACER_TESTS = """\
test_id,sample_id,at,shroud_low [%v],train_reading [%v]
T1,S1,2025-05-06 09:30,20,1.01
T2,S2,2025-05-06 10:30,20,4.5
"""

LEAK = Limit(
    "leak", Sense.AT_MOST, 0.05, "%", "at most 5 %",
    Source("Advisory - Active Soil Gas Investigations", "California EPA (DTSC)", 2015, "4.2.2.2"), Backing.VERIFIED,
    number=5.0,
)  # fmt: skip
GROSS = Limit(
    "gross_leak", Sense.AT_MOST, 0.2, "%", "at most 20 %", Source(reasoning="a fifth is outside air"), Backing.MEMORY,
    number=20.0,
)  # fmt: skip
RULES = (
    Rule("readable-number", "A number that can be read", "A cell that cannot be read proves nothing.", "intake",
         "results", "reading", 0, no_evidence=Pair(Letter.UNPROVEN, Letter.UNPROVEN),
         say={"no_evidence": "The cell '{cell}' is no number"}),
    Rule("leak-tracer-recovery", "Tracer recovered in the sampling train", "Outside air dilutes the soil gas.",
         "leak_tracer", "tracer_tests", "bound", 1, measure="leak_fraction", limits=(LEAK, GROSS),
         consequence={"leak": Pair(Letter.J_MINUS, Letter.UJ), "gross_leak": Pair(Letter.R, Letter.R)},
         no_evidence=Pair(Letter.UNPROVEN, Letter.UNPROVEN), reaches="sample", air_let_in=True, spares_tracer=True,
         say={"broken": "{tracer} in the train was {measured} of the lowest shroud reading (limit {limit}): "
                        "{train} of {shroud}, read {when}",
              "no_evidence": "The leak test of {key} cannot be judged: {missing} is not recorded."}),
    Rule("purge-done", "A purge for each sample", "Stale air is not soil gas.", "purge", "samples", "present", 2,
         no_evidence=Pair(Letter.UNPROVEN, Letter.UNPROVEN), reaches="sample",
         say={"no_evidence": "No purge is recorded for any sample: {missing} is not recorded."}),
    Rule("lab-flag-kept", "The laboratory's remark", "", "reporting", "results", "stated", 3,
         consequence={"broken": Pair(Letter.J_PLUS, Letter.NONE)},
         say={"broken": "{analyte} stands above its calibration."}),
)  # fmt: skip


@dataclass(frozen=True)
class Said:
    """One finding by hand: its rule, row, letters, and the facts of its sentence."""

    rule: int
    table: str
    row: int
    outcome: Outcome
    pair: Pair
    limit: int = -1
    measured: float = float("nan")
    want: str = ""
    facts: dict[str, Fact] = field(default_factory=dict)
    samples: tuple[str, ...] = ()
    results: tuple[int, ...] = ()
    own: tuple[int, ...] = ()
    reached: int = 0
    column: str = ""
    key: str = ""


def write_folder(folder: Path, **tables: str) -> Path:
    """Write a project folder of the tables given, those above for the rest."""
    folder.mkdir(parents=True, exist_ok=True)
    texts = {"samples": SAMPLES, "results": RESULTS, "tracer_tests": TRACER_TESTS, **tables}
    (folder / "project.yaml").write_text(tables.pop("project", PROJECT), encoding="utf-8")
    for name, text in texts.items():
        if name != "project" and text:
            (folder / f"{name}.csv").write_text(text, encoding="utf-8", newline="")
    return folder


def made_review(
    folder: Path, said: Sequence[Said] = (), *, standing: dict[str, Sequence[int]] | None = None,
    qualifier: Sequence[str] = (), aside: dict[int, int] | None = None, own_tracer: Sequence[int] = (),
    rules: tuple[Rule, ...] = RULES, caution: bool = False,
) -> Review:  # fmt: skip
    """Read `folder` and put the findings on it."""
    project = load_project(folder)
    tables = read_folder(folder, project)
    change = Change("illinois", "leak-tracer-recovery.leak", "at most 10 %", "at most 5 %", "a plan", "verified")
    rulebook = Rulebook(
        rules, ("illinois",), (change,), {"compare": "exact"}, {"rules/leak_tracer.yaml": "ab" * 32}, {}
    )
    evidence = Evidence(tables, project, rulebook)
    judged = tuple((one.rule, _judged(one)) for one in said)
    size = len(said)
    names = tuple(tables.tables)
    numbers = {str(name): at for at, name in enumerate(evidence.sample_ids.names)}
    results = tables.get("results")
    rows = results.rows if results is not None else 0
    sample_pairs = [(at, numbers[name]) for at, one in enumerate(said) for name in one.samples]
    result_pairs = [(at, row) for at, one in enumerate(said) for row in one.results]
    own_pairs = [(at, row) for at, one in enumerate(said) for row in (one.own or ((one.row,) if one.row >= 0 else ()))]
    keys = [one.key or (str(tables.tables[one.table].keys[one.row]) if one.row >= 0 else "*") for one in said]
    findings = Findings(
        rule=np.array([one.rule for one in said], np.int32),
        table=np.array([names.index(one.table) for one in said], np.int16),
        tables=names,
        row=np.array([one.row for one in said], np.int64),
        key=_objects(keys),
        id=_objects([f"{rules[one.rule].id}/{one.table}/{key}" for one, key in zip(said, keys, strict=True)]),
        outcome=np.array([one.outcome for one in said], np.uint8),
        effect=np.array([max(one.pair.effect, Effect.NOTE) for one in said], np.uint8),
        detect=np.array([one.pair.detect for one in said], np.int16),
        nondetect=np.array([one.pair.nondetect for one in said], np.int16),
        limit=np.array([one.limit for one in said], np.int16),
        measured=np.array([one.measured for one in said], np.float64),
        judged=np.arange(size, dtype=np.int32),
        entry=np.zeros(size, np.int64),
        want=_objects([one.want for one in said]),
        own=_links(own_pairs),
        samples=_links(sample_pairs),
        results=_links(result_pairs),
        results_detect=np.empty(0, np.int16),
        results_nondetect=np.empty(0, np.int16),
        reached=np.array([one.reached for one in said], np.int64),
        column=_objects([one.column for one in said]),
    )
    by_row = {
        name: _csr(
            table.rows,
            [(row, at) for at, row in own_pairs if said[at].table == name]
            + ([(row, at) for at, row in result_pairs] if name == "results" else []),
        )
        for name, table in tables.tables.items()
    }
    instead = np.full(rows, -1, np.int64)
    for row, other in (aside or {}).items():
        instead[row] = other
    return Review(
        project, rulebook, tables, evidence, rules, judged, findings,
        settled={
            name: Settlement(
                np.array((standing or {}).get(name, [0] * table.rows), np.uint8),
                np.array([QUALIFIERS.index(word) for word in qualifier] or [0] * table.rows, np.int8)
                if name == "results" else np.zeros(table.rows, np.int8),
                np.zeros(table.rows, np.int8),
            )
            for name, table in tables.tables.items()
        },
        final=_final(evidence, instead, results.copy_of if results is not None else None),
        coverage=Coverage(
            tuple(RuleCount(rule.id, 2, 1, 1, 0, 0) for rule in rules),
            (Missing("the purge volume", (("purges", "volume"),), ("purge-done",), 2),), ("probe-depth",),
            {"samples": 1},
        ),
        not_reviewed=(NotReviewed("custody", "no chain of custody was supplied"),),
        cautions=(Caution(rules[said[0].rule].id, said[0].table, 0, 0, 0, 0),) if caution else (),
        rows_findings=by_row,
        sample_findings=_csr(evidence.sample_count, [(number, at) for at, number in sample_pairs]),
        takes_sample_findings=evidence.results.target.copy() if evidence.results is not None else np.zeros(0, bool),
        own_tracer=np.isin(np.arange(rows), list(own_tracer)),
    )  # fmt: skip


def _judged(one: Said) -> Judged:
    return Judged(
        state=np.zeros(0, np.uint8), row=np.array([one.row], np.int64), outcome=np.array([one.outcome], np.uint8),
        limit=np.array([one.limit], np.int16), measured=np.array([one.measured]),
        want=np.array([0 if one.want else -1], np.int16), wants=(Want(one.want),) if one.want else (),
        hard=np.zeros(1, bool), facts=one.facts,
    )  # fmt: skip


def _final(evidence: Evidence, instead: np.ndarray, copy_of: np.ndarray | None) -> Final | None:
    results = evidence.results
    table = evidence.tables.get("results")
    if results is None or table is None or copy_of is None:
        return None
    amount = table.amount("result")
    limit = table.amount("reporting_limit")
    assert amount is not None
    written = limit.written if limit is not None else np.full(table.rows, np.nan)
    detected = results.detected.astype(np.int8)
    instead = np.where(copy_of >= 0, copy_of, instead)
    return Final(
        detected=detected,
        value=np.where(detected == 1, amount.written, np.nan),
        limit=np.where(detected == 0, written, np.nan),
        unit=_objects([amount.unit_at(row) for row in range(table.rows)]),
        in_use=np.where(instead >= 0, 0, 1).astype(np.int8),
        counts_for=instead,
    )


def _objects(values: Sequence[str]) -> np.ndarray:
    out = np.empty(len(values), dtype=object)
    out[:] = list(values)
    return out


def _links(pairs: Sequence[tuple[int, int]]) -> Links:
    both = np.array(pairs, np.int64).reshape(-1, 2)
    return Links(both[:, 0].copy(), both[:, 1].copy())


def _csr(rows: int, pairs: Sequence[tuple[int, int]]) -> tuple[np.ndarray, np.ndarray]:
    ordered = sorted(set(pairs))
    counts = np.bincount([row for row, _ in ordered], minlength=rows) if ordered else np.zeros(rows, np.int64)
    starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    return starts, np.array([at for _, at in ordered], np.int64)


UNPROVEN = Pair(Letter.UNPROVEN, Letter.UNPROVEN)
__all__ = ["NOTHING", "RULES", "UNPROVEN", "Said", "made_review", "write_folder"]
