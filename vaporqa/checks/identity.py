"""`identity`: the CAS number of a result is one, and the name beside it belongs to it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.identity import (
    ANOTHER,
    CHECK_DIGIT,
    FORMAT,
    NAME_UNKNOWN,
    NO_NUMBER,
    NOTHING_TO_COMPARE,
    SPREADSHEET_DATE,
    Identities,
    identities,
)
from vaporqa.evidence.judged import Judged, Labels, Want, judged_from
from vaporqa.evidence.once import said_once
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Int16, Texts

OPTIONS = {"look_at": "`number`: format and check digit; `name`: it belongs to the number"}

_NUMBER_LIMITS = ((FORMAT, "format"), (CHECK_DIGIT, "check_digit"), (SPREADSHEET_DATE, "spreadsheet_date"))


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every result; a number or name that is missing or unknown is said once a name."""
    table, found = evidence.tables.get("results"), identities(evidence)
    if table is None or found is None:
        return ()
    if rule.options.get("look_at") == "name":
        limit = np.where(found.name == ANOTHER, 0, -1).astype(np.int16)
        concerned = found.name != NOTHING_TO_COMPARE
        lacks = found.name == NAME_UNKNOWN
        judged = _judged(table.rows, found, limit, concerned & ~lacks, found.named_meant)
        want = Want("a name that the lists know", (("analyte_names", "name"),))
        return (said_once(judged, found.row[lacks], found.named[lacks], want, "name"),)
    names = [limit.name for limit in rule.limits]
    limit = np.full(len(found.row), -1, np.int16)
    for word, name in _NUMBER_LIMITS:
        limit[found.number == word] = names.index(name)
    lacks = found.number == NO_NUMBER
    judged = _judged(table.rows, found, limit, ~lacks, found.meant)
    want = Want("the CAS number", (("results", "cas"),))
    subject = found.named[lacks] if "cas" in table else np.full(int(lacks.sum()), "", object)
    return (said_once(judged, found.row[lacks], subject, want, "name"),)


def _judged(rows: int, found: Identities, limit: Int16, concerned: Bool, meant: Texts) -> Judged:
    outcome = np.where(limit >= 0, Outcome.BROKEN, Outcome.HOLDS)
    outcome = np.where(concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    speaks = outcome == Outcome.BROKEN
    state = np.zeros(rows, np.uint8)
    state[found.row] = outcome
    kept = found.row[speaks]
    measured = Asked(kept, np.ones(len(kept), bool)).measured(
        np.full(len(kept), np.nan),
        facts={
            "cas": Labels(found.written[speaks]), "name": Labels(found.named[speaks]), "meant": Labels(meant[speaks]),
        },
    )  # fmt: skip
    return replace(judged_from(measured, rows, outcome[speaks], limit[speaks], alone=True), state=state)
