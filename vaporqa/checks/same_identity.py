"""`same_identity`: the ids on a sample's form and on its custody records are the same."""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Known, take_words, words
from vaporqa.evidence.judged import Judged, Labels, judged_from
from vaporqa.evidence.reach import samples_of_rows
from vaporqa.outcomes import Outcome
from vaporqa.tables.dictionary import TABLES
from vaporqa.tables.values import Texts

OPTIONS = {"columns": "columns of ids (separated by blanks) that samples and custody both have"}


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every custody record against the sample that it names; texts must agree to the letter.

    Of a column whose emptiness says no, two empty cells agree.
    """
    table, home = evidence.tables.get("custody"), evidence.tables.get("samples")
    if table is None:
        return ()
    n = table.rows
    row = evidence.sample_ids.rows_of(evidence.sample_ids.of("custody", "sample_id", n))
    asked = Asked(np.arange(n, dtype=np.int64), table.counts)
    asked.need(Known(np.zeros(n), row >= 0, row < -1), "the sample that it names", ("samples", "sample_id"))
    broken = np.zeros(n, bool)
    what, ours, theirs = (np.full(n, "", object) for _ in range(3))
    for column in str(rule.options["columns"]).split():
        here, here_hard = words(table, column)
        there, there_hard = take_words(*words(home, column), row)
        both = (here != "") & (there != "") & ~here_hard & ~there_hard
        differs = both & (here != there)
        spec = TABLES["custody"].column(column)
        says_no = spec is not None and spec.empty_is_no
        known = both | ((here == "") & (there == "") & says_no)
        new = differs & ~broken
        what[new], ours[new], theirs[new] = column.replace("_id", "").replace("_", " "), here[new], there[new]
        broken |= differs
        phrase, hard = f"the {column.replace('_', ' ')}", here_hard | there_hard
        # Only one form that lacks it is named; where both do, both are.
        for rows, form in (
            (there != "", "the custody record"),
            (here != "", "the sample's form"),
            (True, "both forms"),
        ):
            there_is = Known(np.zeros(n), known | ~np.full(n, rows), hard)
            asked.need(there_is, f"{phrase} on {form}", *_places(here, there, column))
    outcome = np.where(broken, Outcome.BROKEN, np.where(asked.known, Outcome.HOLDS, Outcome.UNPROVEN))
    outcome = np.where(table.counts, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    facts = {"what": Labels(what), "on_custody": Labels(ours), "on_sample": Labels(theirs)}
    measured = asked.measured(np.full(n, np.nan), facts=facts, samples=samples_of_rows(evidence, table))
    return (judged_from(measured, n, outcome, np.where(broken, 0, -1).astype(np.int16)),)


def _places(here: Texts, there: Texts, column: str) -> tuple[tuple[str, str], ...]:
    """The column that nobody filled; an absent one makes the finding one on the whole table."""
    if not np.any(here != ""):
        return (("custody", column),)
    return (("samples", column),) if not np.any(there != "") else (("custody", column), ("samples", column))
