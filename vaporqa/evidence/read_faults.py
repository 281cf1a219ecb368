"""What reading finds that needs more than one row: keys that meet nothing, copies, conflicts, unknown kinds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.errors import nearest
from vaporqa.evidence.cells import NO_ROW, words
from vaporqa.evidence.collected import SOIL_GAS_KINDS, SOIL_GAS_MATRICES, UNKNOWN
from vaporqa.evidence.joins import Ids
from vaporqa.evidence.judged import Links
from vaporqa.evidence.made import is_made
from vaporqa.evidence.reach import samples_of_rows
from vaporqa.tables.dictionary import POINTERS
from vaporqa.tables.values import Int64, Table, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence


@dataclass(frozen=True, slots=True)
class Fault:
    """Rows of one table with one thing wrong, (k,).

    Attributes
    ----------
    table, column : str
    rows : int64 (k,)
    detail : object (k,)
        What more there is to say: the nearest key, the row it conflicts with, the word.
    broken : bool
        The outcome is broken (copies and conflicts); otherwise unproven.
    note : bool
    samples : Links
        (index into `rows`, sample number) that hang on each.
    results : Links
        (index into `rows`, results row).
    whole : str or None
        None for findings row by row; else the subject of one finding on the whole table ("" for none).
    """

    table: str
    column: str
    rows: Int64
    detail: Texts
    broken: bool = False
    note: bool = False
    samples: Links | None = None
    results: Links | None = None
    whole: str | None = None


def faults_of(ev: Evidence, rule_id: str) -> list[Fault]:
    """Faults of reading that a rule of topic intake speaks of, beyond what single cells show."""
    found = [
        Fault(r.table, r.column, r.rows, _details(r.detail, len(r.rows)), broken=rule_id in _BROKEN, note=r.note,
              samples=_known_word_reach(ev, r.table, r.column, r.rows),
              whole=r.whole or None)
        for r in ev.tables.readings
        if r.rule == rule_id and (len(r.rows) or r.whole)
    ]  # fmt: skip
    if rule_id == "keys-meet":
        found.extend(_unmet(ev))
    elif rule_id == "duplicate-rows":
        for table in ev.tables.tables.values():
            found.extend(_copies(table))
            found.extend(_conflicts(ev, table))
    elif rule_id == "known-word":
        found.extend(_unknown_kinds(ev))
    return found


#: Letters that hands and scanners take for figures, in small letters.
_LOOK_ALIKE = str.maketrans("oilsbz", "011582")

_BROKEN = ("duplicate-rows", "units-as-declared", "one-value-a-key")


def _details(detail: Texts, size: int) -> Texts:
    return detail if len(detail) == size else np.full(size, detail[0] if len(detail) else "", object)


def _known_word_reach(ev: Evidence, table: str, column: str, rows: Int64) -> Links | None:
    """An unreadable kind or matrix leaves every rule of soil gas open for the sample."""
    home = ev.tables.get(table)
    if table != "samples" or column not in ("kind", "matrix") or home is None:
        return None
    number = ev.sample_ids.of("samples", "sample_id", home.rows)[rows]
    entry = np.flatnonzero(number >= 0)
    unknown = ev.samples.soil_gas[number[entry]] == UNKNOWN
    return Links(entry[unknown].astype(np.int64), number[entry][unknown])


def _unknown_kinds(ev: Evidence) -> list[Fault]:
    """Samples whose unknown kind or matrix leaves open whether the rules of soil gas concern them; once a sample."""
    table = ev.tables.get("samples")
    if table is None:
        return []
    number = ev.sample_ids.of("samples", "sample_id", table.rows)
    kind, kind_hard = words(table, "kind")
    matrix, matrix_hard = words(table, "matrix")
    kind_open = (kind == "") | (kind == "unknown")
    matrix_open = (matrix == "") | (matrix == "unknown")
    kind_may = kind_open | np.isin(kind.astype(str), SOIL_GAS_KINDS)
    matrix_may = matrix_open | np.isin(matrix.astype(str), SOIL_GAS_MATRICES)
    open_rows = table.counts & (number >= 0) & kind_may & matrix_may & (kind_open | matrix_open)
    # Unreadable cells have their own finding already, which reaches the same results.
    open_rows &= ~kind_hard & ~matrix_hard
    rows = np.flatnonzero(open_rows).astype(np.int64)
    if not rows.size:
        return []
    detail = np.full(len(rows), "", object)
    links = Links(np.arange(len(rows), dtype=np.int64), number[rows])
    made = is_made(table)
    if made:
        return [Fault("samples", "kind", rows, detail, samples=links, whole="")]
    out = []
    for name in ("kind", "matrix"):
        mine = (kind_open[rows] if name == "kind" else ~kind_open[rows]).nonzero()[0]
        if mine.size:
            out.append(Fault("samples", name, rows[mine], detail[mine], samples=links.of(_mask(len(rows), mine))))
    return out


def _mask(size: int, index: Int64) -> np.ndarray:
    out = np.zeros(size, bool)
    out[index] = True
    return out


def _ids(ev: Evidence, home: str) -> Ids | None:
    return {
        "samples": ev.sample_ids,
        "probes": ev.probe_ids,
        "locations": ev.location_ids,
        "containers": ev.container_ids,
        "lab_qc": ev.qc_ids,
    }.get(home)


def _unmet(ev: Evidence) -> list[Fault]:
    """Keys that meet no row of a table that the folder has."""
    found = []
    for table_name, pointers in POINTERS.items():
        table = ev.tables.get(table_name)
        if table is None:
            continue
        for column, home in pointers.items():
            ids = _ids(ev, home)
            target = ev.tables.get(home)
            if target is None or is_made(target):
                continue
            if ids is None:  # field_readings.recheck_of points into its own table
                found.extend(_unmet_by_key(table, column, target))
                continue
            number = ids.of(table_name, column, table.rows)
            if not len(ids.row):
                continue
            lost = table.counts & (number >= 0) & (ids.row[np.maximum(number, 0)] == NO_ROW)
            rows = np.flatnonzero(lost).astype(np.int64)
            if rows.size:
                known = [ids.names[i] for i in np.flatnonzero(ids.row != NO_ROW)[:20_000]]
                near = _nearest_keys(ids, number[rows], known)
                found.append(Fault(table_name, column, rows, near, note=_above_the_stage(ev, column)))
    return found


def _above_the_stage(ev: Evidence, column: str) -> bool:
    """Whether only rules above the declared stage need a pointer: nothing that is reviewed hangs on it."""
    if column != "tune_id":
        return False
    stages = [rule.stage for rule in ev.rulebook.rules if rule.check == "tune_clock"]
    return bool(stages) and min(stages) > ev.project.stage


def _nearest_keys(ids: Ids, number: Int64, known: list[str]) -> Texts:
    near: dict[int, str] = {}
    alike = {name.casefold().translate(_LOOK_ALIKE): name for name in known}
    for one in np.unique(number)[:500].tolist():
        same_look = alike.get(ids.names[one].strip().casefold().translate(_LOOK_ALIKE), "")
        near[one] = same_look or next(iter(nearest(ids.names[one], known)), "")
    return np.array([near.get(one, "") for one in number.tolist()], dtype=object)


def _unmet_by_key(table: Table, column: str, target: Table) -> list[Fault]:
    text = table.text(column)
    if text is None:
        return []
    keys = {str(key) for key in target.keys}
    lost = np.array([word is not None and str(word) not in keys for word in text.words], dtype=bool)
    rows = np.flatnonzero(table.counts & (text.codes >= 0) & np.append(lost, False)[text.codes]).astype(np.int64)
    if not rows.size:
        return []
    detail = np.array([next(iter(nearest(text.at(int(r)), sorted(keys)[:20_000])), "") for r in rows], dtype=object)
    return [Fault(table.name, column, rows, detail)]


def _copies(table: Table) -> list[Fault]:
    rows = np.flatnonzero(table.copy_of >= 0).astype(np.int64)
    if not rows.size:
        return []
    first = table.line_of[table.copy_of[rows]]
    detail = np.array([f"an exact copy of line {line}" for line in first.tolist()], dtype=object)
    return [Fault(table.name, "", rows, detail, broken=True, note=True)]


def _conflicts(ev: Evidence, table: Table) -> list[Fault]:
    rows = np.flatnonzero(table.conflicted & table.counts).astype(np.int64)
    if not rows.size:
        return []
    detail = np.full(len(rows), "another, different row has the same key", object)
    samples, results = _hanging(ev, table, rows)
    return [Fault(table.name, "", rows, detail, broken=True, samples=samples, results=results)]


def _hanging(ev: Evidence, table: Table, rows: Int64) -> tuple[Links, Links]:
    """What hangs on rows whose key is ambiguous: the samples they are, name or hold."""
    entry_of = np.full(table.rows, -1, np.int64)
    entry_of[rows] = np.arange(len(rows))
    if table.name == "containers":
        number = ev.container_ids.of("containers", "container_id", table.rows)[rows]
        home = ev.tables.get("samples")
        if home is None:
            return Links.none(), Links.none()
        held = ev.container_ids.of("samples", "container_id", home.rows)
        sample = ev.sample_ids.of("samples", "sample_id", home.rows)
        pairs = [(i, int(s)) for i, n in enumerate(number.tolist()) for s in sample[(held == n) & (n >= 0)]]
    else:
        links = samples_of_rows(ev, table)
        keep = entry_of[links.entry] >= 0
        pairs = list(zip(entry_of[links.entry[keep]].tolist(), links.target[keep].tolist(), strict=True))
    if table.name == "results" or not pairs:
        return Links.none(), Links.none()
    array = np.array(pairs, dtype=np.int64)
    return Links(array[:, 0], array[:, 1]), Links.none()
