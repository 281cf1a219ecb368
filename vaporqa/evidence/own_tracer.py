"""The leak tracer among the results of the sample that it tested."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.joins import pairs_by_group
from vaporqa.tables.values import Bool

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence


def own_tracer(ev: Evidence) -> Bool:
    """Result rows whose analyte is the tracer of a leak test that counts for their sample."""
    results = ev.results
    assert results is not None
    out = np.zeros(len(results.sample), bool)
    train = ev.trains
    use = (train.sample >= 0) & (train.analyte >= 0)
    if not use.any():
        return out
    rows = np.flatnonzero(np.isin(results.analyte, np.unique(train.analyte[use])) & (results.sample >= 0))
    sample, analyte = train.sample[use], train.analyte[use]
    entry, pair = pairs_by_group(sample, results.sample[rows], ev.sample_count)
    found = rows[pair]
    out[found[results.analyte[found] == analyte[entry]]] = True
    return out
