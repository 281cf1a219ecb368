"""What a finding on a row of some table reaches: the samples that hang on that row."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.joins import pairs_by_group
from vaporqa.evidence.judged import Links
from vaporqa.evidence.uses import is_drawn
from vaporqa.tables.values import Table

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence


def samples_of_rows(ev: Evidence, table: Table) -> Links:
    """Pairs (row, sample number): by the sample a row names, else by the probe it names or is."""
    number = ev.sample_ids.of(table.name, "sample_id", table.rows)
    by_name = np.flatnonzero(number >= 0)
    if table.name in ("tracer_tests", "shut_in_tests", "purges"):
        attached = {"tracer_tests": ev.tracer_tests, "shut_in_tests": ev.shut_in_tests, "purges": ev.purges}[table.name]
        return Links(attached.row, attached.sample)
    if table.name != "probes":
        return Links(by_name.astype(np.int64), number[by_name])
    probe = ev.probe_ids.of("probes", "probe_id", table.rows)
    row, sample = pairs_by_group(probe, np.where(is_drawn(ev), ev.samples.probe, -1), len(ev.probe_ids.names))
    return Links(row, sample)
