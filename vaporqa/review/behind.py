"""The rows behind a result, by link of its chain: where it was drawn, with what, what was tested, who controlled it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from vaporqa.evidence import Evidence
from vaporqa.evidence.attached import Attached
from vaporqa.evidence.cells import moments
from vaporqa.evidence.uses import Move, Use, samples_of_use
from vaporqa.tables.values import MICROSECONDS_PER_DAY, Int64, Table

Place = tuple[str, int]

#: Column of samples that ties a blank among the samples to those that it stands beside, by the blank's kind.
_TIES = {"trip_blank": "shipment_id", "field_blank": "shipment_id", "material_blank": "tubing_lot"}


@dataclass(slots=True)
class Behind:
    """Rows behind one row, as (table, row).

    Attributes
    ----------
    whole : list
        Rows of which every rule bears on the result: itself, its sample, probe, location and container.
    by_link : mapping
        Link of the chain to the rows of which the rules of that link alone bear on it.
    """

    whole: list[Place] = field(default_factory=list)
    by_link: dict[str, list[Place]] = field(default_factory=dict)

    def add(self, link: str, table: str, rows: Iterable[int]) -> None:
        """Put rows behind a link, each once, in the order of the file."""
        here = self.by_link.setdefault(link, [])
        here += [(table, row) for row in sorted(set(rows)) if (table, row) not in here]


class RowsBehind:
    """Finds the rows behind results, all from the associations that the rules were judged by.

    Parameters
    ----------
    evidence : Evidence
    results : sequence of int
        Rows of results that will be asked for: what costs time is done once for all of them.
    """

    def __init__(self, evidence: Evidence, results: Sequence[int] = ()) -> None:
        self._evidence = evidence
        self._uses: dict[tuple[str, int], list[Use]] | None = None
        self._moves: dict[Place, Move] | None = None
        self._samples = self._samples_of(results)
        self._mates = self._rows_of_samples()
        self._blanks = self._rows_of_blanks()

    # -- the result itself ---------------------------------------------------------------------------------------

    def of_result(self, row: int) -> Behind:
        """Return what stands behind a row of results."""
        evidence, results = self._evidence, self._evidence.results
        assert results is not None
        out = Behind(whole=[("results", row)])
        number = int(results.sample[row])
        if number >= 0:
            self._of_sample(out, number)
        self._of_batch(out, row, number)
        self._of_pairs(out, row, number)
        qc = evidence.qc_ids.of("results", "tune_id", len(results.sample))[row : row + 1]
        out.add("batch", "lab_qc", _real(evidence.qc_ids.rows_of(qc)))
        return out

    def of_sample(self, row: int) -> Behind:
        """Return what stands behind a row of samples."""
        table = self._evidence.tables.tables["samples"]
        number = int(self._evidence.sample_ids.of("samples", "sample_id", table.rows)[row])
        out = Behind(whole=[("samples", row)])
        if number >= 0:
            self._of_sample(out, number)
        return out

    # -- field ---------------------------------------------------------------------------------------------------

    def _of_sample(self, out: Behind, number: int) -> None:
        evidence = self._evidence
        samples = evidence.samples
        probe, location = int(samples.probe[number]), int(samples.location[number])
        probe_row = int(evidence.probe_ids.row[probe]) if probe >= 0 else -1
        location_row = int(evidence.location_ids.row[location]) if location >= 0 else -1
        sample_row = int(samples.row[number])
        container = evidence.container_ids.of("samples", "container_id", self._rows("samples"))
        box = int(container[sample_row]) if sample_row >= 0 else -1
        box_row = int(evidence.container_ids.row[box]) if box >= 0 else -1
        for name, row in (
            ("samples", sample_row), ("probes", probe_row), ("locations", location_row), ("containers", box_row),
        ):  # fmt: skip
            if row >= 0 and (name, row) not in out.whole:
                out.whole.append((name, row))
        for link, name, found in (
            ("shut_in", "shut_in_tests", evidence.shut_in_tests),
            ("tracer", "tracer_tests", evidence.tracer_tests),
            ("purge", "purges", evidence.purges),
        ):
            tests = _tests_of(found, number)
            tests += self._naming(name, number)
            out.add(link, name, tests)
            if link == "tracer":
                out.add("meters", name, tests)
        self._of_equipment(out, number, probe, location)
        self._of_meters(out, number, probe)
        handed = self._naming("custody", number)
        out.add("custody", "custody", handed)
        out.add("receipt", "custody", handed)

    def _naming(self, table: str, number: int) -> list[int]:
        """Rows of a table that name the sample, copies too."""
        named = self._evidence.sample_ids.of(table, "sample_id", self._rows(table))
        return [int(row) for row in np.flatnonzero(named == number)]

    def _rows(self, name: str) -> int:
        table = self._evidence.tables.get(name)
        return table.rows if table is not None else 0

    def _of_equipment(self, out: Behind, number: int, probe: int, location: int) -> None:
        """Uses with which the sample was drawn, what came before each, cleanings between, and the blanks around it."""
        evidence = self._evidence
        if self._uses is None:
            self._uses = {}
            for use in evidence.uses:
                place = ("probe", use.probe) if use.probe >= 0 else ("location", use.location)
                self._uses.setdefault(place, []).append(use)
            self._moves = {(move.use.table, move.use.row): move for move in evidence.moves}
        at_probe = self._uses.get(("probe", probe), []) if probe >= 0 else []
        at_location = self._uses.get(("location", location), []) if location >= 0 else []
        log = self._evidence.tables.get("equipment_log")
        for use in (*at_probe, *at_location):
            piece = evidence.uses_of_equipment[use.equipment]
            if number not in samples_of_use(evidence, use, piece).tolist():
                continue
            out.add("equipment", use.table, [use.row])
            assert self._moves is not None
            move = self._moves.get((use.table, use.row))
            if log is not None:
                out.add("equipment", "equipment_log", self._cleanings(log, use, move))
            out.add("equipment", "equipment_log", self._equipment_blanks(use))
        if log is not None:
            out.add("equipment", "equipment_log", self._tubing(log, probe))

    def _cleanings(self, log: Table, use: Use, move: Move | None) -> list[int]:
        """Cleanings of a piece since its use elsewhere."""
        since = move.before.begin[0] if move is not None else np.iinfo(np.int64).min
        number = self._evidence.equipment_ids.of("equipment_log", "equipment_id", log.rows)
        word, at = log.word("event"), moments(log, "at")
        if word is None:
            return []
        rows = np.flatnonzero((number == use.equipment) & word.is_in("cleaned") & log.counts)
        when = at.low[rows]
        inside = at.known[rows] & (when >= since) & (when <= use.begin[1])
        if move is None:
            rows = rows[inside][-1:]
        else:
            rows = rows[inside | ~at.known[rows]]
        return [int(row) for row in rows]

    def _equipment_blanks(self, use: Use) -> list[int]:
        """The blank of a piece before its use and the one after it; those without a time too."""
        mine = [one for one in self._evidence.equipment_blanks if one.equipment == use.equipment]
        before = [one for one in mine if one.timed and one.at[0] <= use.begin[0]][-1:]
        after = [one for one in mine if one.timed and one.at[0] > use.begin[0]][:1]
        return [one.row for one in (*before, *after, *(one for one in mine if not one.timed))]

    def _tubing(self, log: Table, probe: int) -> list[int]:
        """Rows of the log that put tubing to the probe."""
        kind = log.word("equipment_kind")
        if kind is None or probe < 0:
            return []
        at = self._evidence.probe_ids.of("equipment_log", "probe_id", log.rows)
        return [int(row) for row in np.flatnonzero((at == probe) & kind.is_in("tubing") & log.counts)]

    def _of_meters(self, out: Behind, number: int, probe: int) -> None:
        """Readings of field meters at the probe on the day of the sample."""
        table = self._evidence.tables.get("field_readings")
        if table is None or probe < 0:
            return
        when = self._evidence.drawn_when
        at = moments(table, "at")
        here = self._evidence.probe_ids.of("field_readings", "probe_id", table.rows) == probe
        if when.known[number]:
            apart = (at.low > when.high[number] + MICROSECONDS_PER_DAY // 2) | (
                at.high < when.low[number] - MICROSECONDS_PER_DAY // 2
            )
            here = here & ~(at.known & apart)
        out.add("meters", "field_readings", [int(row) for row in np.flatnonzero(here & table.counts)])

    # -- laboratory ----------------------------------------------------------------------------------------------

    def _of_batch(self, out: Behind, row: int, number: int) -> None:
        """Control samples of the batch and calibration with the analyte, blanks of lot and shipment, surrogates."""
        evidence, results, qc = self._evidence, self._evidence.results, self._evidence.lab_qc
        assert results is not None
        analyte = int(results.analyte[row])
        table, control = evidence.tables.tables["results"], evidence.tables.get("lab_qc")
        if control is not None and qc is not None:
            nothing, none = np.full(table.rows, -1, np.int64), np.full(control.rows, -1, np.int64)
            here = evidence.batches.get(("results", "laboratory"), nothing)[row]
            there = evidence.batches.get(("lab_qc", "laboratory"), none)
            same = (qc.analyte == analyte) & ((there == here) | (there < 0) | (here < 0)) & control.counts
            tied = np.zeros(control.rows, bool)
            for column in ("batch_id", "calibration_id"):
                own = evidence.batches.get(("results", column), nothing)[row]
                if own >= 0:
                    tied |= evidence.batches.get(("lab_qc", column), none) == own
            lot = self._lot(number)
            if lot:
                tied |= _equals(control, "cleaning_lot", lot)
            out.add("batch", "lab_qc", np.flatnonzero(same & tied).tolist())
        mates = self._mates.get(number, np.empty(0, np.int64))
        batch = table.text("run_id") or table.text("batch_id")
        surrogate = mates[results.kind[mates].astype(str) == "surrogate"] if len(mates) else mates
        internal = mates[results.kind[mates].astype(str) == "internal_standard"] if len(mates) else mates
        for rows in (surrogate, internal):
            mine = rows[batch.codes[rows] == batch.codes[row]] if batch is not None else rows
            out.add("batch", "results", mine.tolist())
        out.add("batch", "results", self._blanks_among_samples(number, analyte))

    def _lot(self, number: int) -> str:
        box = self._evidence.tables.get("containers")
        row = int(self._evidence.samples.row[number]) if number >= 0 else -1
        if box is None or row < 0:
            return ""
        container = int(self._evidence.container_ids.of("samples", "container_id", self._rows("samples"))[row])
        home = int(self._evidence.container_ids.row[container]) if container >= 0 else -1
        text = box.text("cleaning_lot")
        return text.at(home) if text is not None and home >= 0 else ""

    def _blanks_among_samples(self, number: int, analyte: int) -> list[int]:
        """Results with the analyte of trip and field blanks of the shipment, and of blanks of the lot of tubing."""
        home, results, samples = self._evidence.tables.get("samples"), self._evidence.results, self._evidence.samples
        if home is None or results is None or number < 0 or not len(self._blanks):
            return []
        out = []
        for row in self._blanks[results.analyte[self._blanks] == analyte].tolist():
            blank = int(results.sample[row])
            column = _TIES[str(samples.kind[blank])]
            tie = self._tie(blank, column)
            if tie and tie == self._tie(number, column):
                out.append(int(row))
        return out

    def _tie(self, number: int, column: str) -> str:
        """Shipment or lot of tubing of a sample; of the lot what the sample does not say its probe does."""
        evidence = self._evidence
        probe = int(evidence.samples.probe[number])
        places = [("samples", int(evidence.samples.row[number]))]
        places += [("probes", int(evidence.probe_ids.row[probe]))] if probe >= 0 else []
        for name, row in places:
            table = evidence.tables.get(name)
            text = table.text(column) if table is not None else None
            if text is not None and row >= 0 and text.at(row):
                return text.at(row)
        return ""

    # -- duplicates ----------------------------------------------------------------------------------------------

    def _of_pairs(self, out: Behind, row: int, number: int) -> None:
        evidence, results = self._evidence, self._evidence.results
        assert results is not None
        pairs = evidence.pairs
        partners = [*pairs.second[pairs.first == row].tolist(), *pairs.first[pairs.second == row].tolist()]
        out.add("duplicates", "results", partners)
        samples = {int(results.sample[one]) for one in partners}
        if number >= 0:
            samples |= {int(evidence.parents[number])}
            samples |= set(np.flatnonzero(evidence.parents == number).tolist())
        numbers = [one for one in samples if one >= 0 and one != number]
        out.add("duplicates", "samples", [int(evidence.samples.row[one]) for one in numbers
                                          if evidence.samples.row[one] >= 0])  # fmt: skip
        control, qc = evidence.tables.get("lab_qc"), evidence.lab_qc
        word = control.word("kind") if control is not None else None
        if control is not None and qc is not None and word is not None:
            mine = [place for name, place in out.by_link.get("batch", []) if name == "lab_qc"]
            doubles = word.is_in("laboratory_duplicate")
            of_sample = doubles & (qc.sample == number) & (qc.analyte == results.analyte[row]) & (number >= 0)
            found = [one for one in mine if doubles[one]] + np.flatnonzero(of_sample).tolist()
            out.add("duplicates", "lab_qc", found)

    # -- once for all --------------------------------------------------------------------------------------------

    def _samples_of(self, rows: Sequence[int]) -> Int64:
        results = self._evidence.results
        if results is None or not len(rows):
            return np.empty(0, np.int64)
        found = np.unique(results.sample[np.asarray(rows, np.int64)])
        return found[found >= 0]

    def _rows_of_samples(self) -> dict[int, Int64]:
        """Rows of the wanted samples that are no target: surrogates and internal standards."""
        results = self._evidence.results
        if results is None or not len(self._samples):
            return {}
        wanted = np.zeros(self._evidence.sample_count + 1, bool)
        wanted[self._samples] = True
        rows = np.flatnonzero(wanted[results.sample] & ~results.target)
        return {int(one): rows[results.sample[rows] == one] for one in self._samples}

    def _rows_of_blanks(self) -> Int64:
        results = self._evidence.results
        if results is None or not len(self._samples):
            return np.empty(0, np.int64)
        kind = np.append(np.isin(self._evidence.samples.kind.astype(str), tuple(_TIES)), False)
        if not kind.any():
            return np.empty(0, np.int64)
        return np.flatnonzero(kind[results.sample] & results.target).astype(np.int64)


def _tests_of(found: Attached, number: int) -> list[int]:
    return [int(row) for row in found.row[found.sample == number]]


def _real(rows: Int64) -> list[int]:
    return [int(row) for row in rows if row >= 0]


def _equals(table: Table, column: str, word: str) -> np.ndarray:
    text = table.text(column)
    if text is None:
        return np.zeros(table.rows, bool)
    codes = np.flatnonzero(np.asarray(text.words == word, dtype=bool))
    return np.isin(text.codes, codes)


__all__ = ["Behind", "Place", "RowsBehind"]
