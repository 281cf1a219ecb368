"""`order`: stamps of one row that must follow each other; a stamp that is missing is left out of the chain.

What cannot be true must be put right by whoever wrote it. Every single slip of one date that would put the row right is
offered as a candidate (day and month swapped, two digits transposed, one digit, month or year off), never as the fact.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import lru_cache

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Moment
from vaporqa.evidence.clocks import judged_results
from vaporqa.evidence.judged import Judged, Labels, judged_from
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Int64, Texts

OPTIONS = {"needs": "stamps without which the order cannot be judged"}

_EPOCH = date(1970, 1, 1)
_NAMES = ("collected", "received", "prepared", "analysed")
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
    times = evidence.result_times
    chain = [m.take(rows) for m in (times.collected, times.received, times.prepared, times.analysed)]
    asked = Asked(rows, np.ones(len(rows), bool))
    for name, moment in zip(_NAMES, chain, strict=True):
        if name in ("collected", "analysed"):
            asked.need(moment, f"the date it was {name}", *_PLACES[name])
        else:
            asked.need(moment.known | ~moment.hard, f"the date it was {name}", *_PLACES[name])
            asked.hard_where(moment.hard)
    broken, first, second = _out_of_order(chain)
    outcome = np.where(broken, Outcome.BROKEN, np.where(asked.known, Outcome.HOLDS, Outcome.UNPROVEN))
    facts = {
        "earlier": Labels(np.array([*_NAMES, ""], dtype=object)[first]),
        "later": Labels(np.array([*_NAMES, ""], dtype=object)[second]),
        "dates": Labels(_dates(chain, broken)),
        "candidates": Labels(candidates(chain, broken)),
        "analyte": Labels(evidence.analyte_names(rows)),
    }
    measured = asked.measured(np.full(len(rows), np.nan), facts=facts)
    limit = np.where(broken, 0, -1).astype(np.int16)
    return (judged_from(measured, table.rows, outcome.astype(np.uint8), limit),)


def _out_of_order(chain: list[Moment]) -> tuple[np.ndarray, Int64, Int64]:
    """Rows with two present stamps that are certainly the wrong way round, and the first such two."""
    size = len(chain[0].low)
    broken = np.zeros(size, bool)
    first, second = np.full(size, -1, np.int64), np.full(size, -1, np.int64)
    for i in range(len(chain)):
        for j in range(i + 1, len(chain)):
            wrong = chain[i].known & chain[j].known & (chain[j].high < chain[i].low)
            # Two bare dates in different zones are compared as written: the same date is no contradiction.
            wrong &= ~(chain[i].date_only & chain[j].date_only) | (chain[j].day < chain[i].day)
            new = wrong & ~broken
            first[new], second[new] = i, j
            broken |= wrong
    return broken, first, second


def _dates(chain: list[Moment], broken: np.ndarray) -> Texts:
    out = np.full(len(broken), "", object)
    for row in np.flatnonzero(broken).tolist():
        parts = [
            f"{name} {_EPOCH + timedelta(days=int(m.day[row]))}"
            for name, m in zip(_NAMES, chain, strict=True)
            if m.known[row]
        ]
        out[row] = ", ".join(parts)
    return out


def candidates(chain: list[Moment], rows: np.ndarray) -> Texts:
    """For each row out of order: every single edit of one date after which all dates follow each other."""
    out = np.full(len(rows), "", object)
    for row in np.flatnonzero(rows).tolist():
        days = tuple(int(m.day[row]) if m.known[row] else None for m in chain)
        out[row] = _candidates(days)
    return out


@lru_cache(maxsize=100_000)
def _candidates(days: tuple[int | None, ...]) -> str:
    found = []
    for index, day in enumerate(days):
        if day is None:
            continue
        for edit, what in slips(_EPOCH + timedelta(days=day)):
            changed = [*days[:index], (edit - _EPOCH).days, *days[index + 1 :]]
            present = [one for one in changed if one is not None]
            if present == sorted(present):
                found.append(f"{_NAMES[index]} {edit} ({what})")
    if not found:
        return "no single slip of one date explains it"
    return "candidates: " + ", ".join(found[:6]) + (f" and {len(found) - 6} more" if len(found) > 6 else "")


@lru_cache(maxsize=100_000)
def slips(day: date) -> tuple[tuple[date, str], ...]:
    """Dates that one slip of the pen turns into `day`, with the slip, likeliest first; each date once."""
    found: dict[date, str] = {}

    def offer(year: int, month: int, number: int, what: str) -> None:
        try:
            other = date(year, month, number)
        except ValueError:
            return
        if other != day:
            found.setdefault(other, what)

    offer(day.year, day.day, day.month, "day and month swapped")
    for months in (-1, 1):
        offer(day.year + (day.month + months - 1) // 12, (day.month + months - 1) % 12 + 1, day.day, "month off by one")
    for years in (-1, 1):
        offer(day.year + years, day.month, day.day, "year off by one")
    text = day.strftime("%Y%m%d")
    for at in range(2, 7):
        swapped = text[:at] + text[at + 1] + text[at] + text[at + 2 :]
        offer(int(swapped[:4]), int(swapped[4:6]), int(swapped[6:]), "two digits transposed")
    for at in range(2, 8):
        for digit in "0123456789":
            edited = text[:at] + digit + text[at + 1 :]
            offer(int(edited[:4]), int(edited[4:6]), int(edited[6:]), "one digit off")
    return tuple(found.items())
