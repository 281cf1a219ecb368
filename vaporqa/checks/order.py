"""`order`: stamps of one row that must follow each other; a stamp that is missing is left out of the chain.

What cannot be true must be put right by whoever wrote it. Every single slip of one date that would put the batch right
is offered as a candidate (day and month swapped, two digits transposed, one digit, month or year off), never as the
fact.
"""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Moment
from vaporqa.evidence.clocks import judged_results, precedes
from vaporqa.evidence.date_slips import STAMPS, batches_of, candidates, chain_of, written
from vaporqa.evidence.judged import Facts, Judged, Labels, judged_from
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Int64, Texts

OPTIONS: dict[str, str] = {}
_PLACES = {
    "collected": (("samples", "ended_at"), ("results", "collected_at")),
    "received": (("results", "received_at"), ("samples", "received_at")),
    "prepared": (("results", "prepared_at"),),
    "analysed": (("results", "analyzed_at"),),
}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge the dates of every result in use."""
    table = evidence.tables.get("results")
    if table is None or evidence.results is None:
        return ()
    rows = np.flatnonzero(judged_results(evidence)).astype(np.int64)
    chain = chain_of(evidence, rows)
    asked = Asked(rows, np.ones(len(rows), bool))
    for name, moment in zip(STAMPS, chain, strict=True):
        if name in ("collected", "analysed"):
            asked.need(moment, f"the date it was {name}", *_PLACES[name])
        else:
            asked.need(moment.known | ~moment.hard, f"the date it was {name}", *_PLACES[name])
            asked.hard_where(moment.hard)
    broken, first, second = _out_of_order(chain)
    outcome = np.where(broken, Outcome.BROKEN, np.where(asked.known, Outcome.HOLDS, Outcome.UNPROVEN))
    facts: Facts = {
        "earlier": Labels(np.array([*STAMPS, ""], dtype=object)[first]),
        "later": Labels(np.array([*STAMPS, ""], dtype=object)[second]),
        "dates": Labels(_dates(chain, broken)),
        "candidates": Labels(candidates(chain, batches_of(evidence, rows), broken)),
        "analyte": Labels(evidence.analyte_names(rows)),
    }
    measured = asked.measured(np.full(len(rows), np.nan), facts=facts)
    limit = np.where(broken, 0, -1).astype(np.int16)
    return (judged_from(measured, table.rows, outcome.astype(np.uint8), limit),)


def _out_of_order(chain: list[Moment]) -> tuple[Bool, Int64, Int64]:
    """Rows with two present stamps that are certainly the wrong way round, and the first such two."""
    size = len(chain[0].low)
    broken = np.zeros(size, bool)
    first, second = np.full(size, -1, np.int64), np.full(size, -1, np.int64)
    for i in range(len(chain)):
        for j in range(i + 1, len(chain)):
            wrong = precedes(chain[j], chain[i])
            new = wrong & ~broken
            first[new], second[new] = i, j
            broken |= wrong
    return broken, first, second


def _dates(chain: list[Moment], broken: Bool) -> Texts:
    out: Texts = np.full(len(broken), "", object)
    for row in np.flatnonzero(broken).tolist():
        stamps = zip(STAMPS, chain, strict=True)
        out[row] = ", ".join(f"{name} {written(int(m.day[row]))}" for name, m in stamps if m.known[row])
    return out
