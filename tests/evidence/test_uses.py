"""Equipment in time order: how long a use lasts, what was cleaned between two of them, what was drawn with it."""

from __future__ import annotations

import pytest

from vaporqa.evidence import Evidence
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Outcome
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")
Row = dict[str, str]
Rows = dict[str, list[Row]]
HOLDS, BROKEN, UNPROVEN = Outcome.HOLDS, Outcome.BROKEN, Outcome.UNPROVEN


def at(clock: str) -> str:
    """A time on 5 June, or a whole date."""
    return clock if "-" in clock else f"2025-06-05T{clock}"


def event(name: str, what: str, clock: str, **cells: str) -> Row:
    return {"event_id": name, "equipment_id": "T", "equipment_kind": "tip", "event": what, "at": at(clock), **cells}


def probe(name: str, place: str, **cells: str) -> Row:
    return {"probe_id": name, "location_id": place, **cells}


def sample(name: str, begun: str, ended: str, **cells: str) -> Row:
    times = {"started_at": at(begun), "ended_at": at(ended)}
    return {"sample_id": name, "kind": "primary", "matrix": "soil_gas", **times, **cells}


def moves(rows: Rows) -> dict[str, Outcome]:
    """Outcome of each move by the key of its later use."""
    tables = tables_from_text(rows, PROJECT)
    evidence = Evidence(tables, PROJECT, RULEBOOK)
    return {str(tables.tables[move.use.table].keys[move.use.row]): move.outcome for move in evidence.moves}


def moved(removed: str, cleaned: str, again: str = "11:00", first: str = "08:00") -> Outcome:
    """The move from one probe to the next, the first removed and the tip cleaned at the times given (empty: not)."""
    gone = {"removed_at": at(removed)} if removed else {}
    log = [event("E1", "used", first, probe_id="P1"), event("E3", "used", again, probe_id="P2")]
    log += [event("E2", "cleaned", cleaned)] if cleaned else []
    return moves({"probes": [probe("P1", "L1", **gone), probe("P2", "L2")], "equipment_log": log})["E3"]


@pytest.mark.parametrize(
    ("removed", "cleaned", "outcome"),
    [
        ("09:30", "10:00", HOLDS),
        ("09:30", "09:30", HOLDS),  # the minute it was pulled
        ("09:30", "11:00", HOLDS),  # the minute it goes in again
        ("09:30", "09:29", BROKEN),  # still in the ground
        ("09:30", "11:01", BROKEN),
        ("09:30", "", BROKEN),
        ("", "08:00", HOLDS),  # nothing ends the use: it ends when it began
        ("", "07:59", BROKEN),
        ("12:00", "10:00", BROKEN),  # pulled after it is said to have been used elsewhere: no cleaning fits between
    ],
)
def test_a_cleaning_counts_between_two_uses(removed: str, cleaned: str, outcome: Outcome) -> None:
    assert moved(removed, cleaned) is outcome


@pytest.mark.parametrize(
    ("first", "cleaned", "again", "outcome"),
    [
        ("2025-06-05", "2025-06-06", "2025-06-07", HOLDS),
        ("2025-06-05", "2025-06-08", "2025-06-07", BROKEN),
        ("2025-06-05", "2025-06-05", "2025-06-07", UNPROVEN),  # before or after the first use of that day
        ("2025-06-05", "2025-06-07", "2025-06-07", UNPROVEN),
        ("2025-06-05", "", "2025-06-05", UNPROVEN),  # which of the two came first
        ("08:00", "2025-06-05", "11:00", UNPROVEN),
    ],
)
def test_dates_alone(first: str, cleaned: str, again: str, outcome: Outcome) -> None:
    assert moved("", cleaned, again, first) is outcome


def test_the_last_sample_ends_a_use_that_no_removal_ends() -> None:
    rows: Rows = {
        "probes": [probe("P1", "L1"), probe("P2", "L2")],
        "samples": [sample("A", "08:30", "09:00", probe_id="P1"), sample("B", "09:10", "09:45", probe_id="P1")],
        "equipment_log": [event("E1", "used", "08:00", probe_id="P1"), event("E3", "used", "11:00", probe_id="P2")],
    }
    for cleaned, outcome in (("09:44", BROKEN), ("09:45", HOLDS)):
        log = [*rows["equipment_log"], event("E2", "cleaned", cleaned)]
        assert moves({**rows, "equipment_log": log})["E3"] is outcome


TIPS = [
    probe("P1", "L1", tip_id="T", tip_use="reusable", installed_at=at("08:00"), removed_at=at("09:30")),
    probe("P2", "L2", tip_id="T", tip_use="reusable", installed_at=at("11:00")),
]


def test_a_tip_that_a_probe_names_is_a_use_unless_the_log_has_it() -> None:
    elsewhere = [{**event("E9", "cleaned", "10:00"), "equipment_id": "T9"}]
    assert moves({"probes": TIPS, "equipment_log": elsewhere}) == {"P2": BROKEN}
    assert moves({"probes": TIPS, "equipment_log": [event("E2", "cleaned", "10:00")]}) == {"P2": HOLDS}
    assert moves({"probes": TIPS, "equipment_log": [event("E2", "used", "11:00", probe_id="P2")]}) == {"E2": BROKEN}
    assert moves({"probes": TIPS, "equipment_log": [event("E2", "used", "11:00", location_id="L2")]}) == {"E2": BROKEN}


def test_without_an_equipment_log_nothing_is_proven() -> None:
    assert moves({"probes": TIPS}) == {"P2": UNPROVEN}


def test_a_dedicated_tip_and_tubing_do_not_move() -> None:
    dedicated = [{**row, "tip_use": "dedicated"} for row in TIPS]
    used = [event("E1", "used", "08:00", probe_id="P1"), event("E2", "used", "11:00", probe_id="P2")]
    assert moves({"probes": dedicated, "equipment_log": used}) == {}
    bare = [probe("P1", "L1"), probe("P2", "L2")]
    assert moves({"probes": bare, "equipment_log": [{**row, "equipment_kind": "tubing"} for row in used]}) == {}


def test_the_gravest_of_two_possible_last_uses_decides() -> None:
    """The tip came from P1 or from P2, used on one date; it was cleaned after neither or after both."""
    probes = [probe("P1", "L1"), probe("P2", "L2"), probe("P3", "L3")]
    log = [
        event("E1", "used", "2025-06-05", probe_id="P1"),
        event("E2", "used", "2025-06-05", probe_id="P2"),
        event("E4", "used", "2025-06-07", probe_id="P3"),
    ]
    assert moves({"probes": probes, "equipment_log": log})["E4"] is BROKEN
    cleaned = event("E3", "cleaned", "2025-06-06")
    assert moves({"probes": probes, "equipment_log": [*log, cleaned]})["E4"] is HOLDS


def test_the_order_of_the_rows_does_not_matter() -> None:
    log = [
        event("E1", "used", "08:00", probe_id="P1"),
        event("E2", "cleaned", "09:00"),
        event("E3", "used", "10:00", probe_id="P2"),
        event("E4", "used", "11:00", probe_id="P3"),
    ]
    probes = [probe("P1", "L1"), probe("P2", "L2"), probe("P3", "L3")]
    expected = {"E3": HOLDS, "E4": BROKEN}
    assert moves({"probes": probes, "equipment_log": log}) == expected
    assert moves({"probes": probes[::-1], "equipment_log": log[::-1]}) == expected


def test_what_is_drawn_with_a_use_ends_with_the_next_use_elsewhere() -> None:
    rows: Rows = {
        "probes": [probe("P1", "L1"), probe("P2", "L2")],
        "samples": [
            sample("before", "07:00", "07:30", probe_id="P1"),
            sample("during", "08:30", "09:00", probe_id="P1"),
            sample("anywhere", "08:40", "09:00", location_id="L1"),
            sample("after", "12:00", "12:30", probe_id="P1"),
            sample("air", "08:30", "09:00", probe_id="P1") | {"kind": "ambient_air", "matrix": "ambient_air"},
            {"sample_id": "undated", "kind": "primary", "matrix": "soil_gas", "probe_id": "P1"},
        ],
        "equipment_log": [event("E1", "used", "08:00", probe_id="P1"), event("E2", "used", "11:00", probe_id="P2")],
    }
    evidence = Evidence(tables_from_text(rows, PROJECT), PROJECT, RULEBOOK)
    number = evidence.equipment_ids.names.index("T")
    drawn = {evidence.sample_ids.names[i] for i in evidence.samples_drawn_with(number).tolist()}
    assert drawn == {"during", "anywhere", "undated"}


def test_a_use_of_unreadable_time_leaves_every_clean_move_of_the_piece_open() -> None:
    """Fault list: at L1, cleaned, at L2; when it was at L3 cannot be read, and that may have been between the two."""
    rows = {
        "probes": [probe("P1", "L1"), probe("P2", "L2"), probe("P3", "L3")],
        "equipment_log": [
            event("E1", "used", "08:00", probe_id="P1", equipment_kind="gauge"),
            event("E2", "cleaned", "09:00", equipment_kind="gauge"),
            event("E3", "used", "10:00", probe_id="P2", equipment_kind="gauge"),
            event("E4", "used", "2025-06-35T10:00", probe_id="P3", equipment_kind="gauge"),
        ],
    }
    assert moves(rows) == {"E1": UNPROVEN, "E3": UNPROVEN, "E4": UNPROVEN}
