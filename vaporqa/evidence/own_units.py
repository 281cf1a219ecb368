"""Numbers of one row that share a unit nobody knows: they can still be held against each other."""

from __future__ import annotations

import numpy as np

from vaporqa.evidence.reported import Values
from vaporqa.tables.values import NO_FAMILY, READ, Amount, Bool, Int64


def in_own_unit(values: Values, amount: Amount | None, base: Amount | None, rows: Int64) -> Values:
    """Take numbers as written where their unit is unknown, and to the letter that of the row's result.

    Parameters
    ----------
    values : Values
        Of `rows`, (m,).
    amount, base : Amount or None
        The column they come from, and that of the result.
    rows : int64 (m,)

    Returns
    -------
    Values
        Family NO_FAMILY and known where the number could be taken as written; elsewhere as given.
    """
    if amount is None or base is None:
        return values
    numbers: dict[str, int] = {}
    same = _unit(amount, rows, numbers) == _unit(base, rows, numbers)
    taken: Bool = (base.family[rows] == NO_FAMILY) & (amount.state[rows] == READ) & same & ~values.known
    taken &= (amount.family[rows] == NO_FAMILY) & np.isfinite(amount.written[rows])
    if not taken.any():
        return values
    return Values(
        np.where(taken, amount.written[rows], values.value),
        values.family,
        values.known | taken,
        values.hard & ~taken,
    )


def _unit(amount: Amount, rows: Int64, numbers: dict[str, int]) -> Int64:
    """Number of the unit's spelling of each row, alike for the same text; 0 for none."""
    spelled = [numbers.setdefault(text, len(numbers) + 1) if text else 0 for text in amount.units]
    return np.array([*spelled, 0], dtype=np.int64)[amount.unit_codes[rows]]
