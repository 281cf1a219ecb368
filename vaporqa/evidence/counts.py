"""Quantities that are counts: how many tests, purges or listings a sample or test has."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Known, words
from vaporqa.evidence.collected import YES
from vaporqa.evidence.joins import pairs_by_group
from vaporqa.evidence.judged import Labels, Links, Measured
from vaporqa.evidence.tracers import tests_counting, tracer_rows

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence


def tracer_tests_of_samples(ev: Evidence) -> Measured:
    """How many tracer tests count for each soil-gas sample."""
    return ev.of_soil_gas_samples(tests_counting(ev).astype(np.float64), "tracer_tests", "a leak test")


def shut_in_tests_of_samples(ev: Evidence) -> Measured:
    """How many shut-in tests count for each soil-gas sample."""
    count = np.zeros(ev.sample_count, np.int64)
    np.add.at(count, ev.shut_in_tests.sample, 1)
    return ev.of_soil_gas_samples(count.astype(np.float64), "shut_in_tests", "a shut-in test")


def purges_of_samples(ev: Evidence) -> Measured:
    """How many purges belong to each soil-gas sample."""
    count = np.zeros(ev.sample_count, np.int64)
    np.add.at(count, ev.purges.sample, 1)
    return ev.of_soil_gas_samples(count.astype(np.float64), "purges", "a purge")


def cloth_tracer_listings(ev: Evidence) -> Measured:
    """How many results of the sample are for the tracer of its cloth test; samples with a cloth test only."""
    home, table = ev.tables.get("samples"), ev.tables.get("tracer_tests")
    if home is None or table is None:
        return Asked(np.empty(0, np.int64), np.zeros(0, bool)).measured(np.empty(0))
    attached = ev.tracer_tests
    approach, unreadable = words(table, "approach")
    cloth = (approach[attached.row] != "shroud") & (ev.samples.soil_gas[attached.sample] == YES)
    test, sample = attached.row[cloth], attached.sample[cloth]
    tracer = ev.analytes.of["tracer_tests"][test]
    number = ev.sample_ids.of("samples", "sample_id", home.rows)
    entry_row, entry = pairs_by_group(np.where(home.counts, number, -1), sample, ev.sample_count)
    found = np.zeros(len(sample))
    pair, _ = tracer_rows(ev, sample, tracer)
    np.add.at(found, pair, 1)
    names = np.array([*ev.analytes.name, "the tracer"], dtype=object)
    asked = Asked(entry_row, np.ones(len(entry_row), bool))
    told = Known(np.zeros(len(test)), approach[test] == "cloth", unreadable[test])
    asked.need(told.take(entry), "the approach of the leak test", ("tracer_tests", "approach"))
    asked.need(tracer[entry] >= 0, "the tracer of the cloth test", ("tracer_tests", "tracer"))
    links = Links(np.arange(len(entry), dtype=np.int64), sample[entry])
    return asked.measured(found[entry], facts={"tracer": Labels(names[tracer[entry]])}, samples=links)
