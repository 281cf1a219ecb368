"""Evidence that is not there at all: samples, and results, that no row of a rule's table speaks for.

A check judges the rows of its table. Where the table is missing, or the key from a sample to it is empty or meets no
row, there is no row to judge, and the rule would pass the sample by. It is asked here instead: once, on the whole
table, where table or column are not there; once a sample, on the whole table, where only that sample's own key is lost.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence.cells import NO_ROW, pick, words
from vaporqa.evidence.clocks import judged_results
from vaporqa.evidence.collected import YES
from vaporqa.evidence.judged import Judged, Labels, Links, Want
from vaporqa.evidence.reach import samples_of_rows
from vaporqa.outcomes import NOTHING, Outcome
from vaporqa.tables.values import Bool, Int64, Table, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: Quantity that counts the rows of a table sample by sample: a rule on it speaks of every sample without one, and the
#: other rules of that table are then silent.
COUNTED_BY = {
    "shut_in_tests": "shut_in_tests_of_samples", "tracer_tests": "tracer_tests_of_samples",
    "purges": "purges_of_samples", "custody": "custody_records_of_samples",
}  # fmt: skip
#: What a person calls each table that a rule may miss altogether. No sample needs a row of the others: a reading that
#: nobody took and a standard that nobody set are no gap.
_NOUNS = {
    "probes": "a list of probes", "equipment_log": "a log of equipment", "shut_in_tests": "a shut-in test",
    "tracer_tests": "a leak test", "purges": "a purge", "custody": "a custody record",
    "containers": "a list of containers", "lab_qc": "a control sample of the laboratory",
}  # fmt: skip
#: Quantities of rows that name another row: where nothing is named there is nothing to measure, table or not.
_OF_NAMED_ROWS = ("replacement_distance",)
#: Probes of which nothing that is drawn out and used again stays in the ground.
_STAYING = ("implant", "subslab", "passive")


@dataclass(frozen=True, slots=True)
class Untold:
    """Sample numbers that nothing speaks for: `together` for one want of the whole folder, `apart` each for itself."""

    want: Want
    together: Int64
    apart: Int64


class Absence:
    """What the rules of one review are not told of, each kind found out once.

    Parameters
    ----------
    evidence : Evidence
    rules : iterable of Rule
        Those in force: where one of them counts the rows of a table, the others of that table are silent.
    """

    def __init__(self, evidence: Evidence, rules: Iterable[Rule]) -> None:
        self._ev = evidence
        self._counted = {rule.measure for rule in rules if rule.measure}

    def of(self, rule: Rule, said: Iterable[Judged]) -> tuple[Judged, ...]:
        """Return what `rule` must say of samples and results that no row of its table speaks for.

        Rules that are silent without evidence say nothing here either, nor where their check `said` it itself.
        """
        if rule.no_evidence == NOTHING or rule.row not in _NOUNS or rule.measure in _OF_NAMED_ROWS:
            return ()
        if rule.row == "lab_qc" and any((one.row < 0).any() for one in said):
            return ()
        found = [self._told_of(rule, one) for one in self._untold(rule)]
        return tuple(judged for one in found for judged in one)

    def _untold(self, rule: Rule) -> tuple[Untold, ...]:
        name, by_sample = rule.row, rule.reaches != "row"
        if name == "probes" and by_sample:
            return (self._without_probe,)
        if name == "equipment_log" and by_sample and "probes" in rule.also:
            return self._without_equipment
        if name in self._ev.tables or COUNTED_BY.get(name) in self._counted:
            return ()
        return (Untold(Want(_NOUNS[name], ((name, "*"),)), np.flatnonzero(self._concerned), _NONE),)

    def _told_of(self, rule: Rule, untold: Untold) -> list[Judged]:
        out = []
        if rule.row == "lab_qc":
            rows = self._judged_results
            if len(rows):
                out.append(self._whole(rule, untold.want, results=Links(np.zeros(len(rows), np.int64), rows)))
        elif len(untold.together):
            links = Links(np.zeros(len(untold.together), np.int64), untold.together.astype(np.int64))
            out.append(self._whole(rule, untold.want, samples=links))
        if len(untold.apart):
            ids: Texts = np.array(self._ev.sample_ids.names, dtype=object)
            links = Links(np.arange(len(untold.apart), dtype=np.int64), untold.apart.astype(np.int64))
            out.append(self._whole(rule, Want(untold.want.phrase), samples=links, subject=ids[untold.apart]))
        return out

    def _whole(
        self, rule: Rule, want: Want, *, samples: Links | None = None, results: Links | None = None,
        subject: Texts | None = None,
    ) -> Judged:  # fmt: skip
        table = self._ev.tables.get(rule.row)
        return whole_table(
            table.rows if table is not None else 0, (want,), samples=samples, results=results, subject=subject
        )

    # -- what speaks for a sample ----------------------------------------------------------------------------------

    @cached_property
    def _concerned(self) -> Bool:
        samples = self._ev.samples
        return np.asarray((samples.soil_gas == YES) & ~samples.passive)

    @cached_property
    def _judged_results(self) -> Int64:
        if self._ev.results is None:
            return _NONE
        return np.flatnonzero(judged_results(self._ev)).astype(np.int64)

    @cached_property
    def _probe_row(self) -> Int64:
        """Row of probes by sample number; negative where none, or two different ones, stand there."""
        return self._ev.probe_ids.rows_of(self._ev.samples.probe)

    @cached_property
    def _without_probe(self) -> Untold:
        ev = self._ev
        table, home = ev.tables.get("probes"), ev.tables.get("samples")
        if table is None:
            return Untold(Want(_NOUNS["probes"], (("probes", "*"),)), np.flatnonzero(self._concerned), _NONE)
        told = np.zeros(ev.sample_count, bool)
        links = samples_of_rows(ev, table)
        # No rule of drawing gas speaks of a passive probe: it does not speak for a canister drawn from it.
        drawn = (words(table, "kind")[0] != "passive")[links.entry]
        told[links.target[drawn]] = True
        lacking = np.flatnonzero(self._concerned & ~told)
        want = Want("the probe that it was drawn from", (("samples", "probe_id"),))
        if home is not None and "probe_id" not in home:
            return Untold(want, lacking, _NONE)
        return Untold(want, _NONE, lacking)

    @cached_property
    def _without_equipment(self) -> tuple[Untold, ...]:
        """Samples of which neither the log nor the probe's own tip says what they were drawn with."""
        ev = self._ev
        log, table = ev.tables.get("equipment_log"), ev.tables.get("probes")
        used, tip_used = self._used
        dedicated, named, reusable, staying = self._tips(table)
        untold = self._concerned & ~dedicated & ~named & ~used
        if log is None:
            return (Untold(Want(_NOUNS["equipment_log"], (("equipment_log", "*"),)), np.flatnonzero(untold), _NONE),)
        if not any(column in log for column in ("probe_id", "location_id")):
            places = (("equipment_log", "probe_id"), ("equipment_log", "location_id"))
            return (Untold(Want("where each piece of equipment was used", places), np.flatnonzero(untold), _NONE),)
        equipment = Untold(Want("what it was drawn with"), _NONE, np.flatnonzero(untold & ~staying))
        nameless = np.flatnonzero(self._concerned & reusable & ~named & used & ~tip_used)
        want = Want("which reusable tip it was drawn through", (("probes", "tip_id"),))
        if table is not None and "tip_id" not in table:
            return (equipment, Untold(want, nameless, _NONE))
        return (equipment, Untold(want, _NONE, nameless))

    def _tips(self, table: Table | None) -> tuple[Bool, Bool, Bool, Bool]:
        """Of the probe of each sample: a dedicated tip, a tip with an id, a reusable tip, nothing to be used again."""
        no = np.zeros(self._ev.sample_count, bool)
        if table is None:
            return no, no, no, no
        use, kind = words(table, "tip_use")[0], words(table, "kind")[0]
        tip = self._ev.equipment_ids.of("probes", "tip_id", table.rows)
        of_rows = (use == "dedicated", (tip >= 0) & (use != "dedicated"), use == "reusable", np.isin(kind, _STAYING))
        dedicated, named, reusable, staying = (
            pick(np.asarray(rows, dtype=bool), self._probe_row, False) for rows in of_rows
        )
        return dedicated, named, reusable, staying

    @cached_property
    def _used(self) -> tuple[Bool, Bool]:
        """Samples at whose probe (else location) some piece of equipment, and a tip, was in use."""
        ev = self._ev
        samples = ev.samples
        any_at, tip_at = (
            (np.zeros(len(ev.probe_ids.names) + 1, bool), np.zeros(len(ev.location_ids.names) + 1, bool),
             np.zeros(len(ev.location_ids.names) + 1, bool))
            for _ in range(2)
        )  # fmt: skip
        for use in ev.uses:
            for probe, unplaced, location in (any_at, tip_at) if use.kind == "tip" else (any_at,):
                if use.probe >= 0:
                    probe[use.probe] = True
                elif use.location >= 0:
                    unplaced[use.location] = True
                if use.location >= 0:
                    location[use.location] = True
        probe_of, place_of = np.maximum(samples.probe, -1), np.maximum(samples.location, -1)
        nowhere = samples.probe == NO_ROW
        found = [
            probe[probe_of] | unplaced[place_of] | (nowhere & location[place_of])
            for probe, unplaced, location in (any_at, tip_at)
        ]
        return found[0], found[1]


_NONE = np.empty(0, np.int64)


def whole_table(
    rows: int, wants: tuple[Want, ...], *, samples: Links | None = None, results: Links | None = None,
    subject: Texts | None = None,
) -> Judged:  # fmt: skip
    """Unproven findings on a whole table of `rows` rows, one a subject (one alone without any).

    Of several wants each finding has its own, those alike kept once; of one, all have it.
    """
    size = len(subject) if subject is not None else 1
    distinct = tuple(dict.fromkeys(wants))
    number = {want: index for index, want in enumerate(distinct)}
    which = np.array([number[want] for want in wants], dtype=np.int16)
    return Judged(
        state=np.zeros(rows, np.uint8),
        row=np.full(size, -1, np.int64),
        outcome=np.full(size, Outcome.UNPROVEN, np.uint8),
        limit=np.full(size, -1, np.int16),
        measured=np.full(size, np.nan),
        want=which if len(wants) > 1 else np.zeros(size, np.int16),
        wants=distinct,
        hard=np.zeros(size, bool),
        facts={"about": Labels(subject)} if subject is not None else {},
        samples=samples if samples is not None else Links.none(),
        results=results if results is not None else Links.none(),
        subject=subject,
    )


__all__ = ["COUNTED_BY", "Absence", "Untold", "whole_table"]
