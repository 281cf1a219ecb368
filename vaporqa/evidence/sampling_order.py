"""Shared equipment from clean ground to dirty: the highest detect at each place that a piece of it came to."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.drawing import is_soil_gas, nothing
from vaporqa.evidence.judged import Amounts, Facts, Labels, Links, Measured
from vaporqa.evidence.reported import DETECTED, in_family
from vaporqa.evidence.uses import samples_of_use
from vaporqa.quantities.units import BY_MASS
from vaporqa.tables.values import Float

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: What every soil holds, or what the crew itself brought: neither makes a place dirty.
_NO_CONTAMINANTS = ("fixed_gas", "tracer")


def highest_detects(ev: Evidence) -> tuple[Float, Float]:
    """Highest detect of each sample number, ug/m3 (0 without any), and how many results it has that can be compared."""
    top, judged = np.zeros(ev.sample_count), np.zeros(ev.sample_count)
    results = ev.results
    if results is None:
        return top, judged
    passed_over = np.zeros(len(ev.analytes.cas) + 1, bool)
    for name in _NO_CONTAMINANTS:
        passed_over[:-1] |= ev.analytes.in_class(name)
    rows = np.flatnonzero(results.target & (results.sample >= 0) & (ev.in_use != 0) & ~passed_over[results.analyte])
    by_mass = np.full(len(rows), BY_MASS, np.int8)
    value = in_family(results.result.take(rows), by_mass, ev.molar_mass(results.analyte[rows]), ev.molar_volume)
    found = (results.detected[rows] == DETECTED) & value.known
    np.maximum.at(top, results.sample[rows[found]], value.value[found])
    told = found | (results.detected[rows] == 0)
    np.add.at(judged, results.sample[rows[told]], 1)
    return top, judged


def over_last_place(ev: Evidence) -> Measured:
    """Highest detect of a sample over the highest at the last place of its equipment; one entry a sample and move."""
    home = ev.tables.get("samples")
    if home is None:
        return nothing()
    top, judged = highest_detects(ev)
    of_sample, here, before, piece, same = [], [], [], [], []
    for move in ev.moves:
        uses = ev.uses_of_equipment[move.use.equipment]
        earlier = samples_of_use(ev, move.before, uses)
        if move.same_location or not len(earlier):
            continue
        for sample in samples_of_use(ev, move.use, uses).tolist():
            of_sample.append(sample)
            here.append(top[sample] if judged[sample] else np.nan)
            before.append(float(top[earlier].max()) if judged[earlier].any() else np.nan)
            piece.append(ev.equipment_ids.names[move.use.equipment])
            same.append(bool(move.untimed))
    number = np.array(of_sample, dtype=np.int64)
    keep = is_soil_gas(ev)[number] & (ev.samples.row[number] >= 0)
    number, now, then = number[keep], np.array(here)[keep], np.array(before)[keep]
    asked = Asked(ev.samples.row[number], ~(then == 0))
    asked.need(~np.isnan(now) & ~np.isnan(then), "a result of both samples", ("results", "*"))
    asked.need(~np.array(same, dtype=bool)[keep], "when the equipment was used", ("equipment_log", "at"))
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = now / then
    facts: Facts = {
        "equipment": Labels(np.array(piece, dtype=object)[keep]), "here": Amounts(now, "ug/m3"),
        "before": Amounts(then, "ug/m3"),
    }  # fmt: skip
    return asked.measured(ratio, facts=facts, samples=Links.none())
