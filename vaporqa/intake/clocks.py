"""Typed times: which clock a column's local times were read from, and columns of dates dressed as times."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.errors import Problem
from vaporqa.intake.times import DATE, LOCAL, NO_TIME, ReadTimes, offers, place, read_times
from vaporqa.intake.zones import ONCE, TWICE, Clock, day_numbers
from vaporqa.tables.values import (
    EMPTY,
    MICROSECONDS_PER_DAY,
    READ,
    UNREADABLE,
    Bool,
    Column,
    Int32,
    Int64,
    Number,
    Text,
    Texts,
    Time,
    UInt8,
)

if TYPE_CHECKING:
    from vaporqa.intake.notes import Notes
    from vaporqa.intake.raw import Part, RawColumn
    from vaporqa.intake.typed import Typing

#: As many different dates that share one instant of the day are the mark of an export, not of a crew.
SAME_INSTANT_DATES = 3


@dataclass(frozen=True, slots=True)
class _ByText:
    """What each distinct text becomes, (k + 1,) each: the last is the empty cell."""

    low: Int64
    high: Int64
    day: Int32
    date_only: Bool
    state: UInt8
    fate: UInt8
    local: Int64

    @classmethod
    def of(cls, read: ReadTimes, clock: Clock | None, *, dated: bool) -> _ByText:
        placed = place(read, clock, np.full(len(read.kind), True) if dated else None)
        is_date = read.kind != NO_TIME if dated else read.kind == DATE
        readable = (read.kind != NO_TIME) & (placed.fate == ONCE)
        state = np.where(readable, READ, UNREADABLE)
        return cls(
            np.append(np.where(readable, placed.low, 0), 0),
            np.append(np.where(readable, placed.high, 0), 0),
            np.append(np.where(readable, day_numbers(placed.local), 0), 0).astype(np.int32),
            np.append(is_date & readable, False),
            np.append(state, EMPTY).astype(np.uint8),
            np.append(placed.fate, ONCE).astype(np.uint8),
            placed.local,
        )


class TimeReader:
    """Reads the time columns of one table."""

    def __init__(self, given: Typing, notes: Notes) -> None:
        self.given = given
        self.notes = notes

    def column(self, raw: RawColumn, columns: Mapping[str, Column]) -> Time:
        """Return a typed time column; `columns` are the typed columns of its table so far."""
        given, table = self.given, self.given.spec.name
        read = read_times(raw.texts)
        if read.wrong.any():
            rows = raw.rows(read.wrong)
            self.notes.reading(
                "readable-time", table, raw.spec.name, rows, offers(raw.texts, read.wrong)[raw.codes[rows]]
            )
        at_laboratory = self._laboratory_rows(raw, columns)
        n = given.rows
        low, high = np.zeros(n, np.int64), np.zeros(n, np.int64)
        day, date_only, state = np.zeros(n, np.int32), np.zeros(n, np.bool_), np.zeros(n, np.uint8)
        for laboratory, mask in ((False, ~at_laboratory), (True, at_laboratory)):
            if not mask.any():
                continue
            clock = self._clock(raw, read, laboratory, mask)
            variants = {False: _ByText.of(read, clock, dated=False)}
            for part, mapping in zip(raw.parts, given.mappings, strict=True):
                inside = mask[part.start : part.stop]
                rows = np.flatnonzero(inside) + part.start
                codes = raw.codes[rows]
                if raw.spec.name in mapping.date_only and part.header:
                    dated = True
                    file = given.cells.files[given.cells.file_of(part.start)] if part.stop > part.start else None
                    if file is not None:
                        self.notes.remark(file.place, f"column '{part.header}': read as dates, as declared")
                else:
                    dated = self._reads_as_dates(read, variants[False].local, codes, part, clock)
                if dated and True not in variants:
                    variants[True] = _ByText.of(read, clock, dated=True)
                chosen = variants[dated]
                low[rows], high[rows], day[rows] = chosen.low[codes], chosen.high[codes], chosen.day[codes]
                date_only[rows], state[rows] = chosen.date_only[codes], chosen.state[codes]
                if chosen.fate.any():
                    self._tell_fates(raw, chosen.fate, rows, codes, clock)
        return Time(low, high, day, date_only, state)

    def _laboratory_rows(self, raw: RawColumn, columns: Mapping[str, Column]) -> Bool:
        """Rows whose local time was read from the laboratory's clock."""
        spec, n = self.given.spec, self.given.rows
        if spec.name == "custody" and raw.spec.name == "received_at":
            return last_steps(columns.get("sample_id"), columns.get("step"), n)
        field_time = spec.name == "results" and raw.spec.name == "collected_at"
        laboratory = (raw.spec.lab_time or spec.side == "laboratory") and not field_time
        return np.full(n, laboratory, np.bool_)

    def _clock(self, raw: RawColumn, read: ReadTimes, laboratory: bool, mask: Bool) -> Clock | None:
        project = self.given.project
        name = (project.lab_time_zone or project.time_zone) if laboratory else project.time_zone
        zoneless = np.append((read.kind == LOCAL) | (read.kind == DATE), False)
        rows = np.flatnonzero(zoneless[raw.codes] & mask) if zoneless.any() else np.empty(0, np.int64)
        if laboratory and not project.lab_time_zone and project.time_zone and len(rows):
            self.notes.remark("project.yaml", f"no lab_time_zone: local times of the laboratory are read in {name}")
        if name:
            return Clock(name)
        if len(rows):
            cells, row = self.given.cells, int(rows[0])
            index = cells.file_of(row)
            file, number = cells.files[index], cells.column_number(row, raw.spec.name)
            key = "lab_time_zone" if laboratory else "time_zone"
            written = raw.texts[int(raw.codes[row])].as_py()
            place_of = f"{file.name}:{int(file.lines[row - cells.starts[index]])}:{max(number, 1)}"
            message = f"no `{key}` is declared, and {place_of} holds a local time ('{written}')"
            mend = "write `time_zone: <zone, such as America/Boise>`, or give every time its offset"
            self.notes.problem(Problem("project.yaml", 0, 0, message, mend))
        else:
            self.notes.remark(
                "project.yaml", "no time_zone is declared: calendar days are those that the times are written with"
            )
        return None

    def _reads_as_dates(self, read: ReadTimes, local: Int64, codes: Int32, part: Part, clock: Clock | None) -> bool:
        """Whether a file's column holds dates dressed as times: every time in it is local midnight."""
        header = part.header
        if not self.given.in_files or not header or clock is None:
            return False
        name = self.given.cells.files[self.given.cells.file_of(part.start)].name
        used = np.zeros(len(read.kind) + 1, np.bool_)
        used[codes] = True
        times = np.flatnonzero(used[:-1] & (read.kind != DATE) & (read.kind != NO_TIME))
        if not len(times):
            return False
        of_day = local[times] % MICROSECONDS_PER_DAY
        one_local = int(of_day.min()) == int(of_day.max())
        if one_local and of_day[0] == 0:
            self.notes.remark(name, f"column '{header}': every time is local midnight; read as dates")
            return True
        written = read.wall[times] % MICROSECONDS_PER_DAY
        one_written = int(written.min()) == int(written.max())
        dates = len(np.unique(day_numbers(local[times]))) if one_local or one_written else 0
        if dates >= SAME_INSTANT_DATES:
            clock_time = int(written[0] if one_written else of_day[0]) // 60_000_000
            shown = f"{clock_time // 60:02d}:{clock_time % 60:02d}"
            self.notes.remark(
                name,
                f"column '{header}': all of {dates:,} dates share one time of day ({shown}); left as it is, "
                "`date_only` declares dates",
            )
        return False

    def _tell_fates(self, raw: RawColumn, fate: UInt8, rows: Int64, codes: Int32, clock: Clock | None) -> None:
        wrong = fate[codes] != ONCE
        detail: Texts = np.full(len(fate), "", dtype=object)
        for at in np.flatnonzero(fate != ONCE):
            text = raw.texts[int(at)].as_py().strip()
            where = clock.name if clock else ""
            detail[at] = f"{text} occurs {'twice' if fate[at] == TWICE else 'never'} in {where}"
        self.notes.reading("local-time-exists", self.given.spec.name, raw.spec.name, rows[wrong], detail[codes[wrong]])


def last_steps(sample: Column | None, step: Column | None, rows: int) -> Bool:
    """Rows of custody that are the last step of their sample: the receipt at the laboratory."""
    last = np.zeros(rows, np.bool_)
    if not isinstance(sample, Text) or not isinstance(step, Number):
        return last
    usable = np.flatnonzero((sample.codes >= 0) & (step.state == READ))
    highest = np.full(len(sample.words), -np.inf)
    np.maximum.at(highest, sample.codes[usable], step.values[usable])
    last[usable] = step.values[usable] == highest[sample.codes[usable]]
    return last
