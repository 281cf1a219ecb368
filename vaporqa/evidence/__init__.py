"""Every association once, as integers: which test, purge, pair, blank, run and use belongs to which sample."""

from __future__ import annotations

from collections.abc import Mapping, Set
from functools import cached_property

import numpy as np

from vaporqa.criteria import Rulebook
from vaporqa.evidence import (
    attached,
    blanks,
    clocks,
    collected,
    decontamination,
    named,
    pairs,
    pressures,
    purging,
    reported,
    runs,
    tracers,
    uses,
)
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.beside import Beside
from vaporqa.evidence.cells import Moment, missing_moments, moments
from vaporqa.evidence.joins import Ids, ids_of
from vaporqa.evidence.judged import Amounts, Links, Measured, MeasureSpec
from vaporqa.evidence.time_order import InTimeOrder
from vaporqa.evidence.uses import Move, Use
from vaporqa.quantities.gas import molar_volume
from vaporqa.tables.project import Project
from vaporqa.tables.values import FAMILY_UNITS, Bool, Float, Int8, Int64, Table, Tables, Text, Texts


class Evidence:
    """All associations of one project folder, each computed once, when first asked for.

    Parameters
    ----------
    tables : Tables
    project : Project
        Reference conditions, altitudes, zones and stage.
    rulebook : Rulebook
        Read where one rule refers to another (multiples of a holding time) and for the blank scheme.
    """

    def __init__(self, tables: Tables, project: Project, rulebook: Rulebook) -> None:
        self.tables = tables
        self.project = project
        self.rulebook = rulebook
        self._measured: dict[str, tuple[Measured, ...]] = {}
        #: Samples drawn with each use of equipment, by table and row: filled by `uses.samples_of_use`.
        self.drawn_by_use: dict[tuple[str, int], Int64] = {}
        self._drawn_with: dict[int, Int64] = {}

    def measure(self, spec: MeasureSpec) -> tuple[Measured, ...]:
        """Compute a quantity once; one `Measured` a table on whose rows it sits."""
        if spec.name not in self._measured:
            found = spec.compute(self)
            self._measured[spec.name] = found if isinstance(found, tuple) else (found,)
        return self._measured[spec.name]

    def forget(self, *, but: Set[str]) -> None:
        """Let go of every quantity but those named: a large folder holds hundreds of megabytes of them."""
        self._measured = {name: found for name, found in self._measured.items() if name in but}

    def after_blanks(self, nondetect: Bool, at: Float) -> Evidence:
        """The same evidence once blanks have turned some detects into nondetects: all other rules see this status.

        Parameters
        ----------
        nondetect : bool (n results,)
        at : float64 (n results,)
            The limit at which each stands, in the result's canonical unit.
        """
        later = Evidence(self.tables, self.project, self.rulebook)
        kept = ("sample_ids", "probe_ids", "location_ids", "container_ids", "equipment_ids", "samples", "analytes",
                "tracer_tests", "purges", "uses", "moves", "uses_of_equipment", "runs", "names", "_by_sample",
                "equipment_blanks", "sample_row_of_results", "batches")  # fmt: skip
        for name in kept:
            if name in self.__dict__:
                later.__dict__[name] = self.__dict__[name]
        if self.results is not None:
            later.__dict__["results"] = self.results.after_blanks(
                nondetect, at, self.molar_mass(self.results.analyte), self.molar_volume
            )
        return later

    # Ids

    @cached_property
    def sample_ids(self) -> Ids:
        """Numbers of sample ids."""
        return ids_of(self.tables, "samples")

    @cached_property
    def probe_ids(self) -> Ids:
        """Numbers of probe ids."""
        return ids_of(self.tables, "probes")

    @cached_property
    def location_ids(self) -> Ids:
        """Numbers of location ids."""
        return ids_of(self.tables, "locations")

    @cached_property
    def container_ids(self) -> Ids:
        """Numbers of container ids."""
        return ids_of(self.tables, "containers")

    @cached_property
    def equipment_ids(self) -> Ids:
        """Numbers of equipment ids, tips of the probes table included."""
        return ids_of(self.tables, "equipment")

    @cached_property
    def qc_ids(self) -> Ids:
        """Numbers of laboratory control samples, the tunes that results name included."""
        return ids_of(self.tables, "lab_qc")

    @property
    def sample_count(self) -> int:
        """How many different sample ids stand anywhere in the folder."""
        return len(self.sample_ids.names)

    # Analytes

    @cached_property
    def names(self) -> Mapping[str, str]:
        """Spellings of this project: name to CAS number."""
        return named.project_names(self.tables)

    @cached_property
    def analytes(self) -> named.Analytes:
        """Every analyte of the folder, numbered once."""
        return named.analytes_of(self.tables, self.names)

    def molar_mass(self, analyte: Int64) -> Float:
        """g/mol by analyte number; nan where unknown."""
        return np.append(self.analytes.molar_mass, np.nan)[analyte]

    def analyte_names(self, rows: Int64) -> Texts:
        """Names of the analytes of result rows."""
        assert self.results is not None or not len(rows)
        if self.results is None:
            return np.empty(0, object)
        return np.array([*self.analytes.name, ""], dtype=object)[self.results.analyte[rows]]

    @cached_property
    def molar_volume(self) -> float:
        """L/mol at the declared reference temperature and pressure."""
        return float(molar_volume(self.project.reference_temperature, self.project.reference_pressure))

    def shown(self, values: Float, family: Int8) -> Amounts:
        """Canonical amounts with their units, for a sentence."""
        return Amounts(values, np.array(FAMILY_UNITS, dtype=object)[family])

    # Samples and results

    @cached_property
    def samples(self) -> collected.Samples:
        """What is known of each sample number."""
        return collected.samples_of(self.tables, self.sample_ids, self.probe_ids, self.location_ids, self.container_ids)

    @cached_property
    def batches(self) -> Mapping[tuple[str, str], Int64]:
        """Laboratory and batch numbers, alike in results and lab_qc."""
        texts: dict[tuple[str, str], Text] = {}
        for name in ("results", "lab_qc"):
            table = self.tables.get(name)
            for column in ("laboratory", "batch_id", "calibration_id"):
                text = table.text(column) if table is not None else None
                if text is not None:
                    texts[(name, column)] = text
        out: dict[tuple[str, str], Int64] = {}
        for column in ("laboratory", "batch_id", "calibration_id"):
            out.update(reported.joint_numbers({k: v for k, v in texts.items() if k[1] == column}))
        return out

    def _batch(self, table: Table) -> Int64:
        nothing = np.full(table.rows, -1, np.int64)
        return self.batches.get((table.name, "batch_id"), nothing)

    @cached_property
    def results(self) -> reported.Results | None:
        """The results table in the terms of the rules; None where the folder has none."""
        table = self.tables.get("results")
        if table is None:
            return None
        sample = self.sample_ids.of("results", "sample_id", table.rows)
        return reported.results_of(table, sample, self.analytes.of["results"], self._batch(table))

    @cached_property
    def lab_qc(self) -> reported.Results | None:
        """The laboratory's control samples in the same terms; None where the folder has none."""
        table = self.tables.get("lab_qc")
        if table is None:
            return None
        sample = self.sample_ids.of("lab_qc", "sample_id", table.rows)
        return reported.results_of(table, sample, self.analytes.of["lab_qc"], self._batch(table))

    @cached_property
    def runs(self) -> runs.Runs:
        """Which run of each result is in use."""
        return runs.runs_of(self)

    @property
    def in_use(self) -> Int8:
        """1 in use, 0 set aside (or a copy), -1 undecided; by row of results."""
        return self.runs.in_use

    @cached_property
    def sample_row_of_results(self) -> Int64:
        """Row of the samples table by row of results."""
        return clocks.sample_rows(self)

    @cached_property
    def result_cases(self) -> clocks.ResultCases:
        """What tells which holding time is meant, for each result that rules judge."""
        return clocks.result_cases(self)

    @cached_property
    def result_times(self) -> clocks.ResultTimes:
        """Times that bear on each result."""
        return clocks.result_times(self)

    @cached_property
    def _by_sample(self) -> tuple[Int64, Int64]:
        results = self.results
        if results is None:
            return np.empty(0, np.int64), np.zeros(self.sample_count + 1, np.int64)
        rows = np.flatnonzero(results.target & (results.sample >= 0))
        order = rows[np.argsort(results.sample[rows], kind="stable")]
        sizes = np.bincount(results.sample[rows], minlength=self.sample_count)
        return order, np.concatenate([[0], np.cumsum(sizes)])

    def results_of_samples(self, numbers: Int64) -> Int64:
        """Rows of target and tentative results of the given sample numbers, in use or not."""
        order, starts = self._by_sample
        parts = [order[starts[number] : starts[number + 1]] for number in numbers.tolist()]
        return np.concatenate(parts).astype(np.int64) if parts else np.empty(0, np.int64)

    # Field tests

    def _attach(self, name: str, began: str, ended: str, *, window: bool) -> attached.Attached:
        table = self.tables.get(name)
        if table is None:
            none, no = np.empty(0, np.int64), np.zeros(0, bool)
            return attached.Attached(none, none, no, no, no)
        start = moments(table, began)
        return attached.attach(
            self.samples,
            self.parents,
            self.sample_ids.of(name, "sample_id", table.rows),
            self.probe_ids.of(name, "probe_id", table.rows),
            table.counts,
            start.or_else(moments(table, ended)),
            moments(table, ended).or_else(start),
            window=window,
        )

    @cached_property
    def tracer_tests(self) -> attached.Attached:
        """Which tracer test counts for which sample."""
        return self._attach("tracer_tests", "at", "at", window=True)

    @cached_property
    def shut_in_tests(self) -> attached.Attached:
        """Which shut-in test counts for which sample."""
        return self._attach("shut_in_tests", "started_at", "ended_at", window=True)

    @cached_property
    def purges(self) -> attached.Attached:
        """Which purge belongs to which sample."""
        return self._attach("purges", "started_at", "ended_at", window=False)

    @cached_property
    def trains(self) -> tracers.Train:
        """What each tracer test found."""
        return tracers.trains(self)

    @cached_property
    def purging(self) -> purging.Purging | None:
        """Purges with their volumes; None where the folder has no such table."""
        return purging.purgings(self)

    @cached_property
    def canisters(self) -> pressures.CanisterPressures:
        """Gauge readings and absolute pressures of the canisters, by row of samples."""
        return pressures.canister_pressures(self)

    def of_soil_gas_samples(self, count: Float, table: str, phrase: str) -> Measured:
        """One entry a soil-gas sample row (no passive sampler): a count by sample number of the rows of `table`.

        Without that table nothing was counted: `phrase` is then missing for every sample.
        """
        samples, home = self.samples, self.tables.get("samples")
        if home is None:
            return Asked(np.empty(0, np.int64), np.zeros(0, bool)).measured(np.empty(0))
        number = self.sample_ids.of("samples", "sample_id", home.rows)
        rows = np.flatnonzero(home.counts & (number >= 0))
        of = number[rows]
        concerned = (samples.soil_gas[of] == collected.YES) & ~samples.passive[of]
        asked = Asked(rows.astype(np.int64), concerned)
        asked.need(np.full(len(rows), table in self.tables), phrase, (table, "*"))
        entry = np.flatnonzero(concerned).astype(np.int64)
        return asked.measured(count[of], samples=Links(entry, of[entry]))

    # Duplicates

    @cached_property
    def pairs(self) -> pairs.Pairs:
        """Duplicate pairs of result rows."""
        return pairs.result_pairs(self)

    @cached_property
    def parents(self) -> Int64:
        """Parent sample number of each sample, by the parent it names or its pair id; -1 none."""
        return pairs.parents_by_pair(self)

    # Equipment

    @cached_property
    def probe_removed(self) -> Moment:
        """`removed_at` of each probe row."""
        table = self.tables.get("probes")
        return moments(table, "removed_at") if table is not None else missing_moments(0)

    @cached_property
    def last_sample_of_probe(self) -> Mapping[int, tuple[int, int]]:
        """(earliest, latest) end of the last sample of each probe number."""
        return uses.last_samples(self)

    @cached_property
    def uses(self) -> list[Use]:
        """Every use of reusable equipment, in time order within each piece."""
        return uses.uses_of(self)

    @cached_property
    def uses_of_equipment(self) -> Mapping[int, InTimeOrder]:
        """Uses by equipment number, in time order."""
        return uses.by_equipment(self.uses)

    @cached_property
    def _every_use_of_equipment(self) -> Mapping[int, InTimeOrder]:
        """Tubing and dedicated tips too."""
        return uses.by_equipment(uses.uses_of(self, every=True))

    def samples_drawn_with(self, equipment: int) -> Int64:
        """Sample numbers drawn with a piece of equipment, tubing and dedicated tips too, at any of its uses."""
        if equipment not in self._drawn_with:
            every = self._every_use_of_equipment.get(equipment, InTimeOrder(()))
            piece = self.uses_of_equipment.get(equipment, every)
            known = len(piece) == len(every) and piece is not every
            drawn = uses.samples_of_use if known else uses.drawn_with
            found = [drawn(self, use, every) for use in every]
            self._drawn_with[equipment] = np.unique(np.concatenate([np.empty(0, np.int64), *found]))
        return self._drawn_with[equipment]

    @cached_property
    def moves(self) -> list[Move]:
        """Each use but the first of each piece, judged against the use before it."""
        return uses.moves_of(self.uses_of_equipment.values(), uses.cleanings_of(self))

    @cached_property
    def _drawn(self) -> tuple[Mapping[int, Int64], Mapping[int, Int64], Moment]:
        return uses.drawn_samples(self)

    @property
    def drawn_at_probe(self) -> Mapping[int, Int64]:
        """Sample numbers drawn from each probe number."""
        return self._drawn[0]

    @property
    def drawn_at_location(self) -> Mapping[int, Int64]:
        """Sample numbers drawn at each location number."""
        return self._drawn[1]

    @property
    def drawn_when(self) -> Moment:
        """When each sample number was begun (else ended)."""
        return self._drawn[2]

    @cached_property
    def equipment_blanks(self) -> list[decontamination.EquipmentBlank]:
        """Blanks of equipment, in time order."""
        return decontamination.equipment_blanks(self)

    # Blanks of the laboratory and of the road

    @cached_property
    def method_blanks(self) -> Beside:
        """Method blanks beside each result."""
        return blanks.method_blanks(self)

    @cached_property
    def container_blanks(self) -> Beside:
        """Container blanks beside each result."""
        return blanks.container_blanks(self)

    @cached_property
    def trip_blanks(self) -> Beside:
        """Trip and field blanks beside each result."""
        return blanks.trip_blanks(self)

    @cached_property
    def material_blanks(self) -> Beside:
        """Blanks of tubing beside each result."""
        return blanks.material_blanks(self)


__all__ = ["Evidence"]
