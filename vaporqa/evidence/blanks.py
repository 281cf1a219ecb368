"""Which blank stands beside which result: by batch, cleaning lot, shipment or day, and tubing lot, each once.

A blank may stand among the laboratory's own control samples or among the samples. Blanks do not qualify blanks, and an
ambient-air sample is no blank.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.beside import Beside, Blanks, beside_of, blanks_of, pairs_of
from vaporqa.evidence.cells import NO_ROW, TWO_ROWS, Known, pick, words
from vaporqa.evidence.clocks import judged_results
from vaporqa.evidence.collected import NO, UNKNOWN
from vaporqa.evidence.decontamination import is_water
from vaporqa.evidence.joins import number_texts
from vaporqa.evidence.judged import Labels, Measured
from vaporqa.tables.values import UNREADABLE, Bool, Int64, Text, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: Kinds of sample that are blanks: no blank qualifies them.
BLANK_KINDS = (
    "equipment_blank", "trip_blank", "field_blank", "container_blank", "material_blank", "laboratory_blank",
)  # fmt: skip


def method_blanks(ev: Evidence) -> Beside:
    """Method blanks of the batch of each result, and samples of kind laboratory_blank that share it."""
    rows = _rows(ev)
    batch, laboratory = _column_of_results(ev, "batch_id"), _column_of_results(ev, "laboratory")
    own = _rows_of_kind(ev, "laboratory_blank")
    blanks = _of_lab_qc(ev, "method_blank", ev.batches.get(("lab_qc", "batch_id")), by_laboratory=True)
    blanks = blanks + _of_results(ev, own, batch[own], laboratory[own])
    asked = Asked(rows, np.ones(len(rows), bool))
    asked.need(_any(ev, rows, blanks), "a method blank", ("lab_qc", "*"))
    asked.need(batch[rows] >= 0, "the batch", ("results", "batch_id"))
    pairs = pairs_of(ev, rows, batch[rows], blanks, laboratory[rows])
    return beside_of(ev, asked, blanks, [pairs], "a method blank of its batch with this analyte")


def container_blanks(ev: Evidence) -> Beside:
    """Blanks of the cleaning lot of the container of each result's sample."""
    rows, sample = _rows(ev), _sample_of_results(ev)
    lots = _joint(ev, ("containers", "cleaning_lot"), ("lab_qc", "cleaning_lot"))
    number, hard = _of_samples(ev, "container_id", ev.container_ids.columns.get(("samples", "container_id")))
    home = ev.container_ids.rows_of(number)
    lot = pick(lots.get(("containers", "cleaning_lot"), _NOTHING), home, -1)
    hard = hard | (home == TWO_ROWS)
    own = _rows_of_kind(ev, "container_blank")
    blanks = _of_lab_qc(ev, "container_blank", lots.get(("lab_qc", "cleaning_lot")))
    blanks = blanks + _of_results(ev, own, pick(lot, sample[own], -1))
    tie = pick(lot, sample[rows], -1)
    pairs = pairs_of(ev, rows, tie, blanks)
    matrix = pick(ev.samples.matrix, sample[rows], "")
    concerned = ~np.isin(matrix.astype(str), ("soil", "water"))
    concerned[pairs[0]] = True
    asked = Asked(rows, concerned)
    asked.need(_any(ev, rows, blanks), "a container blank", ("lab_qc", "*"))
    asked.need(tie >= 0, "the cleaning lot of the container", ("containers", "cleaning_lot"))
    asked.hard_where((tie < 0) & pick(hard, sample[rows], False))
    return beside_of(ev, asked, blanks, [pairs], "a container blank of its cleaning lot with this analyte")


def material_blanks(ev: Evidence) -> Beside:
    """Blanks of the lot of tubing that each soil-gas sample was drawn through; no passive samplers."""
    rows, sample = _rows(ev), _sample_of_results(ev)
    lots = _joint(ev, ("samples", "tubing_lot"), ("probes", "tubing_lot"))
    lot, hard = _of_samples(ev, "tubing_lot", lots.get(("samples", "tubing_lot")))
    probe = np.where(ev.samples.probe >= 0, ev.probe_ids.rows_of(ev.samples.probe), NO_ROW)
    at_probe = pick(lots.get(("probes", "tubing_lot"), _NOTHING), probe, -1)
    lot = np.where((lot < 0) & ~hard, at_probe, lot)
    own = _rows_of_kind(ev, "material_blank")
    blanks = _of_results(ev, own, pick(lot, sample[own], -1))
    tie = pick(lot, sample[rows], -1)
    gas, passive = pick(ev.samples.soil_gas, sample[rows], UNKNOWN) != NO, pick(ev.samples.passive, sample[rows], False)
    asked = Asked(rows, gas & ~passive)
    asked.need(tie >= 0, "the lot of the tubing", ("samples", "tubing_lot"), ("probes", "tubing_lot"))
    asked.hard_where((tie < 0) & pick(hard, sample[rows], False))
    pairs = pairs_of(ev, rows, tie, blanks)
    return beside_of(ev, asked, blanks, [pairs], "a blank of its lot of tubing with this analyte")


def trip_blanks(ev: Evidence) -> Beside:
    """Trip blanks of the shipment; field blanks of the shipment, else of the day."""
    rows, sample = _rows(ev), _sample_of_results(ev)
    lots = _joint(ev, ("samples", "shipment_id"))
    shipment, hard = _of_samples(ev, "shipment_id", lots.get(("samples", "shipment_id")))
    when = ev.samples.start.or_else(ev.samples.end)
    day = np.where(when.known, np.maximum(when.day, 0), -1)
    trip, field = _rows_of_kind(ev, "trip_blank"), _rows_of_kind(ev, "field_blank")
    both = np.concatenate([field, trip])
    of_shipment = _of_results(ev, both, pick(shipment, sample[both], -1))
    of_day = _of_results(ev, field, pick(day, sample[field], -1))
    tie, date = pick(shipment, sample[rows], -1), pick(day, sample[rows], -1)
    asked = Asked(rows, np.ones(len(rows), bool))
    entry, blank = pairs_of(ev, rows, tie, of_shipment)
    served = np.zeros(len(rows), bool)
    served[entry[blank < len(field)]] = True
    late_entry, late_blank = pairs_of(ev, rows, np.where(served, -1, date), of_day)
    told = (tie >= 0) | (date >= 0)
    asked.need(told, "the shipment", ("samples", "shipment_id"))
    asked.hard_where(~told & pick(hard, sample[rows], False))
    pairs = [(entry, blank), (late_entry, late_blank + len(of_shipment.analyte))]
    return beside_of(ev, asked, of_shipment + of_day, pairs, "a trip or field blank of its shipment with this analyte")


def certification(ev: Evidence) -> Measured:
    """How each container was certified clean, as a word."""
    table = ev.tables.get("containers")
    if table is None:
        return Asked(_NOTHING, np.zeros(0, bool)).measured(np.empty(0))
    word, hard = words(table, "certified")
    asked = Asked(np.arange(table.rows, dtype=np.int64), table.counts)
    stated = Known(np.zeros(table.rows), (word != "") & ~hard, hard)
    asked.need(stated, "whether the container was certified clean", ("containers", "certified"))
    return asked.measured(stated.value, cases={"certification": word}, facts={"certified": Labels(word)})


# -- rows and ties ---------------------------------------------------------------------------------------------------

_NOTHING = np.empty(0, np.int64)


def _rows(ev: Evidence) -> Int64:
    """Results that blanks may qualify: targets of samples that are no blanks, runs set aside left out."""
    if ev.results is None:
        return _NOTHING
    is_blank = np.isin(ev.samples.kind.astype(str), BLANK_KINDS)
    return np.flatnonzero(judged_results(ev) & ~pick(is_blank, ev.results.sample, False)).astype(np.int64)


def _rows_of_kind(ev: Evidence, kind: str) -> Int64:
    """Results in use of samples of a kind."""
    if ev.results is None:
        return _NOTHING
    is_kind = pick(ev.samples.kind == kind, ev.results.sample, False)
    return np.flatnonzero(ev.results.target & is_kind & (ev.in_use != 0)).astype(np.int64)


def _sample_of_results(ev: Evidence) -> Int64:
    return ev.results.sample if ev.results is not None else _NOTHING


def _column_of_results(ev: Evidence, column: str) -> Int64:
    table = ev.tables.get("results")
    found = ev.batches.get(("results", column))
    return found if found is not None else np.full(table.rows if table is not None else 0, -1, np.int64)


def _joint(ev: Evidence, *places: tuple[str, str]) -> dict[tuple[str, str], Int64]:
    """Numbers of texts that mean the same in several tables; an ambiguous cell has none."""
    texts: dict[tuple[str, str], Text] = {}
    for name, column in places:
        table = ev.tables.get(name)
        text = table.text(column) if table is not None else None
        if text is not None:
            texts[(name, column)] = text
    numbers = number_texts(texts)[1]
    return {place: np.where(texts[place].state == UNREADABLE, -1, number) for place, number in numbers.items()}


def _of_samples(ev: Evidence, column: str, numbers: Int64 | None) -> tuple[Int64, Bool]:
    """Number of a cell of the samples table by sample number, and where two things stand in its place."""
    row, table = ev.samples.row, ev.tables.get("samples")
    text = table.text(column) if table is not None else None
    doubtful = text.state == UNREADABLE if text is not None else np.zeros(0, bool)
    hard = (row == TWO_ROWS) | pick(doubtful, row, False)
    return np.where(hard, -1, pick(numbers if numbers is not None else _NOTHING, row, -1)), hard


# -- blanks ----------------------------------------------------------------------------------------------------------


def _of_lab_qc(ev: Evidence, kind: str, tie: Int64 | None, *, by_laboratory: bool = False) -> Blanks:
    """Control samples of a kind, by the number of their batch or lot."""
    table, qc = ev.tables.get("lab_qc"), ev.lab_qc
    if table is None or qc is None:
        return blanks_of(None, None, _NOTHING, np.empty(0, object), _NOTHING, _NOTHING, np.zeros(0, bool))
    of_kind, _ = words(table, "kind")
    rows = np.flatnonzero(table.counts & (of_kind == kind)).astype(np.int64)
    laboratory = ev.batches.get(("lab_qc", "laboratory")) if by_laboratory else None
    nothing = np.full(table.rows, -1, np.int64)
    return blanks_of(
        table, qc, rows, table.keys[rows], (tie if tie is not None else nothing)[rows],
        (laboratory if laboratory is not None else nothing)[rows], np.zeros(len(rows), bool),
    )  # fmt: skip


def _of_results(ev: Evidence, rows: Int64, tie: Int64, laboratory: Int64 | None = None) -> Blanks:
    """Results of samples that are blanks."""
    sample = _sample_of_results(ev)[rows]
    names: Texts = np.array([*ev.sample_ids.names, ""], dtype=object)
    water = np.zeros(len(rows), bool)
    for number in np.unique(sample).tolist():
        water[sample == number] = is_water(ev, number, rows[sample == number])
    where = laboratory if laboratory is not None else np.full(len(rows), -1, np.int64)
    return blanks_of(ev.tables.get("results"), ev.results, rows, names[sample], tie, where, water)


def _any(ev: Evidence, rows: Int64, blanks: Blanks) -> Bool:
    return np.full(len(rows), "lab_qc" in ev.tables or bool(len(blanks.analyte)), bool)
