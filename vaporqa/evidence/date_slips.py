"""Slips of the pen in dates: which single edit of one date would put a batch right.

Offered as candidates, never as the fact: whoever wrote the date must put it right.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.cells import Moment
from vaporqa.evidence.joins import group_numbers
from vaporqa.tables.values import Bool, Int64, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: The dates of a result in the order in which they must follow each other.
STAMPS = ("collected", "received", "prepared", "analysed")
COLLECTED, ANALYSED = 0, 3
#: Slips, the likeliest first.
_SLIPS = (
    "day and month swapped", "month off by one", "year off by one", "two digits transposed", "one digit off",
)  # fmt: skip
_EPOCH = date(1970, 1, 1)

Days = tuple[int | None, ...]
#: ``fits(row, stamp, shift)``: whether a row is right once `stamp` has moved by `shift` days.
Fits = Callable[[int, int, int], bool]


def chain_of(ev: Evidence, rows: Int64) -> list[Moment]:
    """Return the four stamps of result rows, in the order of `STAMPS`."""
    times = ev.result_times
    return [moment.take(rows) for moment in (times.collected, times.received, times.prepared, times.analysed)]


def batches_of(ev: Evidence, rows: Int64) -> Int64:
    """Return a number for the laboratory batch of each result row; rows without one go by their sample."""
    results = ev.results
    assert results is not None
    laboratory = ev.batches.get(("results", "laboratory"), np.full(len(results.batch), -1, np.int64))[rows]
    batch = results.batch[rows]
    sample = np.where(batch >= 0, -1, results.sample[rows])
    return group_numbers(np.where(batch >= 0, laboratory, -1), batch, sample)[0]


def written(day: int) -> str:
    """Return a local date, given in days since 1970-01-01, as people write it."""
    return str(_EPOCH + timedelta(days=day))


def candidates(chain: Sequence[Moment], batch: Int64, wanted: Bool, fits: Fits | None = None) -> Texts:
    """Say, for each wanted row, every single edit of one date after which all dates of its batch follow each other.

    Where no edit does so much, because two dates of the batch are wrong, every one that puts right the rows with that
    date is named.

    Parameters
    ----------
    chain : sequence of Moment
        Stamps of the rows, (n,) each, in the order of `STAMPS`.
    batch : int64 (n,)
        Rows of one number stand or fall together: an edited date is edited wherever the batch has it.
    wanted : bool (n,)
        Rows that need an explanation; all others get an empty text.
    fits : callable, optional
        What the edit must do for the row itself besides.
    """
    out: Texts = np.full(len(batch), "", object)
    inside = np.isin(batch, batch[wanted])
    together: dict[int, set[Days]] = {}
    days: dict[int, Days] = {}
    for row in np.flatnonzero(inside).tolist():
        days[row] = tuple(int(stamp.day[row]) if stamp.known[row] else None for stamp in chain)
        together.setdefault(int(batch[row]), set()).add(days[row])
    frozen = {number: frozenset(found) for number, found in together.items()}
    for row in np.flatnonzero(wanted).tolist():
        edits = _edits(days[row], frozen[int(batch[row])])
        out[row] = _listed([text for text, stamp, shift in edits if fits is None or fits(row, stamp, shift)])
    return out


@lru_cache(maxsize=100_000)
def _edits(days: Days, batch: frozenset[Days]) -> tuple[tuple[str, int, int], ...]:
    """Edits of one date of `days` that put the whole batch in order: text, stamp, shift in days; likeliest first.

    Where none does (two dates of a batch are wrong), those that put right whatever carries the edited date.
    """
    found: list[tuple[bool, int, int, str, int, int]] = []
    for stamp, day in enumerate(days):
        if day is None:
            continue
        for other, slip in slips(_EPOCH + timedelta(days=day)):
            edit = (other - _EPOCH).days
            if all(_in_order(one, stamp, day, edit) for one in batch if one[stamp] == day):
                others = all(_in_order(one, stamp, day, edit) for one in batch)
                text = f"{STAMPS[stamp]} {other} ({slip})"
                found.append((not others, _SLIPS.index(slip), abs(edit - day), text, stamp, edit - day))
    best = min((edit[0] for edit in found), default=False)
    return tuple(edit[3:] for edit in sorted(found) if edit[0] == best)


def _in_order(days: Days, stamp: int, day: int, edit: int) -> bool:
    changed = [*days[:stamp], edit if days[stamp] == day else days[stamp], *days[stamp + 1 :]]
    present = [one for one in changed if one is not None]
    return present == sorted(present)


def _listed(found: Sequence[str]) -> str:
    if not found:
        return "no single slip of one date explains it"
    return "candidates: " + ", ".join(found)


@lru_cache(maxsize=100_000)
def slips(day: date) -> tuple[tuple[date, str], ...]:
    """Return the dates that one slip of the pen turns into `day`, with the slip, likeliest first; each date once.

    Examples
    --------
    >>> slips(date(2024, 4, 3))[0]
    (datetime.date(2024, 3, 4), 'day and month swapped')
    """
    found: dict[date, str] = {}

    def offer(year: int, month: int, number: int, what: str) -> None:
        try:
            other = date(year, month, number)
        except ValueError:
            return
        if other != day:
            found.setdefault(other, what)

    swapped_parts, month_off, year_off, transposed, digit_off = _SLIPS
    offer(day.year, day.day, day.month, swapped_parts)
    for months in (-1, 1):
        offer(day.year + (day.month + months - 1) // 12, (day.month + months - 1) % 12 + 1, day.day, month_off)
    for years in (-1, 1):
        offer(day.year + years, day.month, day.day, year_off)
    text = day.strftime("%Y%m%d")
    for at in range(2, 7):
        swapped = text[:at] + text[at + 1] + text[at] + text[at + 2 :]
        offer(int(swapped[:4]), int(swapped[4:6]), int(swapped[6:]), transposed)
    for at in range(2, 8):
        for digit in "0123456789":
            edited = text[:at] + digit + text[at + 1 :]
            offer(int(edited[:4]), int(edited[4:6]), int(edited[6:]), digit_off)
    return tuple(found.items())
