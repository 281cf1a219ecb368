"""The two forms of one result: a row by mass and a row by volume under one key."""

from __future__ import annotations

import numpy as np

from vaporqa.tables.values import BY_MASS, BY_VOLUME, Amount, Bool, Int32, Int64


def paired_forms(groups: Int64, counts: Bool, result: Amount, declared: Bool) -> Int32:
    """Return, of each row by volume, the row by mass that is the other form of the same result; -1 elsewhere.

    A key with anything but one row by mass and one by volume is left alone: which of them belong together is not known.

    Parameters
    ----------
    groups : int64 (n,)
        Number of each row's key.
    counts : bool (n,)
        No exact copy of another row.
    result : Amount
    declared : bool (n,)
        Rows of files whose mapping declares two forms.
    """
    other = np.full(len(groups), -1, np.int32)
    rows = np.flatnonzero(declared & counts)
    if not len(rows):
        return other
    size = int(groups.max()) + 1
    family = result.family[rows]
    mass, volume = rows[family == BY_MASS], rows[family == BY_VOLUME]
    alone = np.bincount(groups[counts], minlength=size) == 2
    both = alone & (np.bincount(groups[mass], minlength=size) == 1) & (np.bincount(groups[volume], minlength=size) == 1)
    of_group = np.full(size, -1, np.int32)
    of_group[groups[mass]] = mass
    paired = volume[both[groups[volume]]]
    other[paired] = of_group[groups[paired]]
    return other
