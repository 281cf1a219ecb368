"""Timelines of reusable equipment: used, cleaned, blanks clean or dirty, and moves without a cleaning."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from dataclasses import dataclass
from itertools import islice

import numpy as np

from vaporqa.evidence.reported import DETECTED, NONDETECT
from vaporqa.evidence.time_order import LAST
from vaporqa.evidence.uses import cleanings_of
from vaporqa.report.digest import counted
from vaporqa.report.figures.drawing import box, cut, line, picture, words
from vaporqa.report.figures.marks import WORDS, Mark, mark, shape
from vaporqa.report.figures.picture import LISTED, MARKS, Picture, legend, plotted, swatch
from vaporqa.report.figures.verdicts import rules_by, verdict
from vaporqa.report.wording import Clock, visible
from vaporqa.review.values import Review

_TITLE = "Equipment: used, cleaned, blanks, and moves between places"
_LANES, _LANE, _LEFT, _RIGHT, _DAYS = 12, 76.0, 14.0, 466.0, 9
_KINDS = {
    "used": ("square", "full square, upper line: used at a place (a grey bar for as long as it stayed there)"),
    "cleaned": ("tick", "hook, middle line: cleaned"),
    "clean blank": ("drop", "open drop, lower line: blank without a detect"),
    "dirty blank": ("full_drop", "full drop, lower line: blank with a detect"),
    "blank without a result": ("bar", "upright bar, lower line: blank whose results do not tell"),
}


@dataclass(frozen=True, slots=True)
class _Event:
    what: str
    low: int
    high: int
    place: str = ""
    until: int = 0
    move: Mark = Mark.HOLDS


@dataclass(frozen=True, slots=True)
class _Piece:
    name: str
    kind: str
    events: tuple[_Event, ...]
    untimed: int

    def moves(self, least: Mark = Mark.NOTE) -> int:
        """How many uses follow a move that the rule found fault with."""
        return sum(one.move >= least for one in self.events)


def equipment_times(review: Review) -> Picture | None:
    """Draw the pieces that were used more than once or had a blank; None where none has a readable time."""
    pieces = [one for one in _pieces(review) if one.events]
    if not pieces:
        return None
    told = [one for one in pieces if len(one.events) > 1]
    order = sorted(told, key=lambda one: (
        -max(event.move for event in one.events), -one.moves(),
        -sum(event.what == "dirty blank" for event in one.events), one.name,
    ))  # fmt: skip
    if not order:
        return None
    shown: list[_Piece] = []
    drawn = 0
    for piece in order[:_LANES]:
        if shown and drawn + len(piece.events) > MARKS:
            break
        shown.append(piece)
        drawn += len(piece.events)
    axis = _Axis([event for piece in shown for event in piece.events], review.project.time_zone)
    top = 30.0
    bottom = top + _LANE * len(shown)
    parts = axis.drawn(top - 8, bottom)
    for number, piece in enumerate(shown):
        parts += _lane(piece, axis, top + _LANE * number)
    untimed = sum(one.untimed for one in shown)
    leaves_out = []
    if len(order) > len(shown):
        leaves_out.append(f"{counted(len(order) - len(shown), 'milder piece')} not drawn.")
    if len(pieces) > len(told):
        leaves_out.append(f"{counted(len(pieces) - len(told), 'piece')} with a single event not drawn.")
    if untimed:
        leaves_out.append(f"{counted(untimed, 'event')} of these pieces not drawn, for want of a readable time.")
    leaves_out.append(
        "Tubing and dedicated tips are not shown: they are not moved. Of a date without a time the middle of the day "
        "is drawn."
    )
    clock = Clock(review.project.time_zone)
    listed = [
        (one.name, clock.written(event.low, event.low != event.high), event.what, event.place or "-",
         "-" if event.what != "used" else WORDS[event.move])
        for one, event in islice(((one, event) for one in order for event in one.events), LISTED)
    ]  # fmt: skip
    kinds = [event.move for one in shown for event in one.events if event.move is not Mark.HOLDS]
    used = [what for what in _KINDS if any(event.what == what for one in shown for event in one.events)]
    return Picture(
        "picture-equipment", _TITLE,
        picture(
            "picture-equipment", _TITLE,
            f"{len(shown)} pieces of equipment as lanes along the days on which something happened to them.",
            bottom + 8, parts,
        ),
        (
            (f"{counted(len(shown), 'piece')} of equipment, the gravest at the top. A mark above a use says what the "
            "rule on cleaning made of the move to that place; no mark means that a cleaning lies between."),
            axis.says,
        ),
        tuple(leaves_out),
        legend(
            kinds, more=tuple((swatch(shape(_KINDS[what][0], 10, 10)), _KINDS[what][1]) for what in used),
            meanings={
                Mark.NOTE: "open diamond above: moved uncleaned within one place, noted only",
                Mark.ESTIMATE: "half disc above: moved without a cleaning on record, detects become estimates",
                Mark.UNPROVEN: "ring with a question mark above: whether it was cleaned before is not proven",
                Mark.REJECT: "cross above: moved without a cleaning on record, results are rejected",
            },
        ),
        plotted(
            ("Piece", "When", "What", "Place", "Move made of it"), listed, sum(len(one.events) for one in order),
            "flags/equipment_log.csv",
        ),
    )  # fmt: skip


def _pieces(review: Review) -> list[_Piece]:
    evidence = review.evidence
    names, places = evidence.equipment_ids.names, (*evidence.location_ids.names, "unnamed")
    rules = rules_by(review, check="moves")
    found = {name: verdict(review, rules, name) for name in ("equipment_log", "probes")}
    events: dict[int, list[_Event]] = {}
    kind: dict[int, str] = {}
    untimed: dict[int, int] = {}
    for number, uses in evidence.uses_of_equipment.items():
        for use in uses:
            kind.setdefault(number, use.kind)
            if not use.timed:
                untimed[number] = untimed.get(number, 0) + 1
                continue
            judged = found[use.table]
            end = use.end[0] if use.end[1] == LAST else use.end[1]
            made = Mark(int(judged.mark[use.row])) if judged is not None else Mark.HOLDS
            events.setdefault(number, []).append(
                _Event("used", *use.begin, visible(str(places[use.location]), 60), end, made)
            )
    for number, times in cleanings_of(evidence).at.items():
        if number in events:
            events[number] += [_Event("cleaned", low, high) for low, high in times]
    for blank in evidence.equipment_blanks:
        if blank.equipment in events:
            if blank.timed:
                events[blank.equipment].append(_Event(_blank(review, blank.results), *blank.at))
            else:
                untimed[blank.equipment] = untimed.get(blank.equipment, 0) + 1
    return [
        _Piece(
            visible(str(names[number]), 60), kind.get(number, ""),
            tuple(sorted(found_events, key=lambda one: (one.low, one.high, one.what, one.place))),
            untimed.get(number, 0),
        )
        for number, found_events in events.items()
    ]  # fmt: skip


def _blank(review: Review, rows: np.ndarray[tuple[int], np.dtype[np.int64]]) -> str:
    results = review.evidence.results
    status = results.detected[rows] if results is not None else np.empty(0, np.int8)
    if (status == DETECTED).any():
        return "dirty blank"
    return "clean blank" if len(status) and (status == NONDETECT).all() else "blank without a result"


def _lane(piece: _Piece, axis: _Axis, top: float) -> list[str]:
    levels = {"used": top + 36, "cleaned": top + 51}
    upper, lowest = levels["used"], top + 66
    faults = piece.moves()
    said = f"{counted(faults, 'move')} marked" if faults else "no move marked"
    name = f"{piece.name} ({piece.kind})" if piece.kind else piece.name
    parts = [
        line(_LEFT, top, _RIGHT, top, "l-grid"), line(_LEFT, upper, _RIGHT, upper, "l-grid"),
        words(_LEFT + 5, top + 14, cut(name, 250)), words(_RIGHT - 5, top + 14, said, anchor="end", kind="t-soft"),
    ]  # fmt: skip
    for event in piece.events:
        x = axis.at(event)
        if event.what == "used":
            end = axis.where(event.until)
            if end > x + 5:
                parts.append(box(x, upper - 2.5, end - x, 5, "b-use"))
    for event in piece.events:
        x = axis.at(event)
        parts.append(shape(_KINDS[event.what][0], x, levels.get(event.what, lowest)))
        if event.move is not Mark.HOLDS:
            parts.append(mark(event.move, x, upper - 13))
    return parts


class _Axis:
    """Time to the right: the days on which something happened side by side, or where they are many one stretch."""

    def __init__(self, events: list[_Event], zone: str) -> None:
        self._zone: dt.tzinfo = zoneinfo.ZoneInfo(zone) if zone else dt.UTC
        local = [self._local(_middle(event)) for event in events]
        self._days = sorted({one.date() for one in local})
        minutes = [one.hour * 60 + one.minute for one in local]
        self._first, self._last = max(min(minutes) - 40, 0), min(max(minutes) + 40, 1440)
        self._joined = len(self._days) > _DAYS
        if self._joined:
            self.says = "Time runs to the right without gaps."
        else:
            days = "the day is" if len(self._days) == 1 else f"{len(self._days)} days are"
            self.says = (
                f"Time runs to the right; {days} drawn from {self._clock(self._first)} to {self._clock(self._last)}, "
                "days without an event are left out."
            )

    @staticmethod
    def _clock(minutes: int) -> str:
        return f"{minutes // 60:02d}:{minutes % 60:02d}"

    def _local(self, instant: int) -> dt.datetime:
        return (dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(microseconds=instant)).astimezone(self._zone)

    def at(self, event: _Event) -> float:
        """Return where an event stands."""
        return self.where(_middle(event))

    def where(self, instant: int) -> float:
        """Return where an instant stands; one on a day that is left out stands between its neighbours."""
        local = self._local(instant)
        day, minutes = local.date(), local.hour * 60 + local.minute + local.second / 60
        if self._joined:
            span = (self._days[-1] - self._days[0]).days + 1
            share = ((day - self._days[0]).days + minutes / 1440) / span
            return _LEFT + min(max(share, 0.0), 1.0) * (_RIGHT - _LEFT)
        before = sum(one < day for one in self._days)
        width = (_RIGHT - _LEFT) / len(self._days)
        if day not in self._days:
            return _LEFT + width * before
        share = (minutes - self._first) / (self._last - self._first)
        return _LEFT + width * before + 5 + min(max(share, 0.0), 1.0) * (width - 10)

    def drawn(self, top: float, bottom: float) -> list[str]:
        """Draw the edges of the days and their dates."""
        if self._joined:
            days = (self._days[0], self._days[-1])
            return [
                words(_LEFT, top - 6, f"{days[0]:%Y-%m-%d}", kind="t-soft"),
                words(_RIGHT, top - 6, f"{days[1]:%Y-%m-%d}", anchor="end", kind="t-soft"),
                line(_LEFT, top, _LEFT, bottom), line(_RIGHT, top, _RIGHT, bottom),
            ]  # fmt: skip
        width = (_RIGHT - _LEFT) / len(self._days)
        style = "%Y-%m-%d" if width > 90 else "%m-%d" if width > 48 else "%d"
        parts = []
        for number, day in enumerate(self._days):
            left = _LEFT + number * width
            parts += [line(left, top, left, bottom), words(left + 5, top - 6, day.strftime(style), kind="t-soft")]
        return [*parts, line(_RIGHT, top, _RIGHT, bottom)]


def _middle(event: _Event) -> int:
    return event.low + (event.high - event.low) // 2
