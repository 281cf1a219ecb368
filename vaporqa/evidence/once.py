"""Evidence that is missing for a whole subject (an analyte, a name) is said once, not row by row."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vaporqa.evidence.judged import Amounts, Fact, Judged, Labels, Links, Stamps, Want
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Int64, Texts


def said_once(judged: Judged, rows: Int64, subject: Texts, want: Want, fact: str = "") -> Judged:
    """Add one unproven finding a subject, key `*:SUBJECT` (`*` for an empty one), on the rows that it is about.

    Parameters
    ----------
    judged : Judged
        What is said row by row; its entries stay as they are.
    rows : int64 (k,)
        Rows that lack the evidence.
    subject : object (k,)
        What each is about.
    want : Want
        What is missing.
    fact : str
        Name of a label that takes the subject in the sentence.
    """
    if not len(rows):
        return judged
    names, of = np.unique(subject.astype(str), return_inverse=True)
    of = of.reshape(-1).astype(np.int64)
    size, old = len(names), len(judged.row)
    shown = np.where(names == "", "every result", names).astype(object)
    state = judged.state.copy()
    quiet = rows[state[rows] != Outcome.BROKEN]
    state[quiet] = Outcome.UNPROVEN
    before = judged.own if judged.own is not None else Links.none()
    subjects = judged.subject if judged.subject is not None else np.full(old, "", object)
    return replace(
        judged,
        state=state,
        row=np.concatenate([judged.row, np.full(size, -1, np.int64)]),
        outcome=np.concatenate([judged.outcome, np.full(size, Outcome.UNPROVEN, np.uint8)]),
        limit=np.concatenate([judged.limit, np.full(size, -1, np.int16)]),
        measured=np.concatenate([judged.measured, np.full(size, np.nan)]),
        want=np.concatenate([judged.want, np.full(size, len(judged.wants), np.int16)]),
        wants=(*judged.wants, want),
        hard=np.concatenate([judged.hard, np.zeros(size, bool)]),
        facts={
            name: _longer(one, shown if name == fact else np.full(size, "", object), size)
            for name, one in judged.facts.items()
        },
        subject=np.concatenate([subjects, names.astype(object)]),
        own=Links(np.concatenate([before.entry, old + of]), np.concatenate([before.target, rows])),
        noted=None if judged.noted is None else np.concatenate([judged.noted, np.zeros(size, bool)]),
        alone=True,
    )


def _longer(fact: Fact, labels: Texts, size: int) -> Fact:
    if isinstance(fact, Labels):
        return Labels(np.concatenate([fact.values, labels]))
    if isinstance(fact, Stamps):
        zero = np.zeros(size, np.int64)
        return Stamps(np.concatenate([fact.low, zero]), np.concatenate([fact.date_only, zero == 1]), fact.zone)
    values = np.concatenate([fact.values, np.full(size, np.nan)])
    if isinstance(fact.unit, str):
        return Amounts(values, fact.unit, fact.digits)
    return Amounts(values, np.concatenate([fact.unit, np.full(size, "", object)]), fact.digits)
