"""Ways of making a hole, waiting times, and sizes that are equal but for rounding."""

from __future__ import annotations

import numpy as np
import pytest

from vaporqa.criteria import Rulebook
from vaporqa.evidence import Evidence
from vaporqa.evidence.cells import Known
from vaporqa.evidence.drawing import difference
from vaporqa.evidence.installation import ways_of
from vaporqa.evidence.measures import MEASURES
from vaporqa.evidence.single_use import places_by_then
from vaporqa.intake import tables_from_text
from vaporqa.tables.project import Project

EMPTY = Rulebook((), (), (), {}, {}, {})
HOUR = 3600.0


def measured(name: str, project: Project | None = None, **tables: list[dict[str, str]]):
    project = project or Project(time_zone="UTC", lab_time_zone="UTC")
    (found,) = Evidence(tables_from_text(tables, project), project, EMPTY).measure(MEASURES[name])
    return found


@pytest.mark.parametrize(
    ("kind", "method", "pilot", "ways"),
    [
        ("subslab", "hand_auger", "augered", ("subslab",)),
        ("driven", "hand_driven", "none", ("pushed",)),
        ("driven", "", "driven", ("pushed",)),
        ("driven", "hand_driven", "augered", ("augered",)),
        ("driven", "hand_driven", "", ("pushed", "augered")),
        ("implant", "hollow_stem_auger", "", ("augered",)),
        ("implant", "direct_push", "none", ("implanted",)),
        ("", "direct_push", "none", ("pushed", "implanted")),
        ("implant", "sonic", "", ("drilled",)),
        ("implant", "rotary", "augered", ("augered",)),
        ("implant", "", "none", ("implanted", "augered", "drilled")),
        ("implant", "core_drill", "none", ("augered", "drilled")),
        ("", "hand_auger", "", ("subslab", "augered")),
        ("", "", "", ("pushed", "implanted", "augered", "drilled")),
    ],
)
def test_what_is_not_written_down_stays_possible(kind, method, pilot, ways):
    found, decided_by = ways_of(kind, method, pilot)
    assert found == ways
    assert (decided_by >= 0) == (len(ways) > 1)


def wait(probe: dict[str, str], sample: dict[str, str], purges: list[dict[str, str]] | None = None):
    base = {"probe_id": "P", "kind": "driven", "install_method": "hand_driven", "pilot_hole": "none"}
    drawn = {"sample_id": "A", "probe_id": "P", "kind": "primary", "matrix": "soil_gas"}
    tables = {"probes": [{**base, **probe}], "samples": [{**drawn, **sample}]}
    return measured("equilibration", **tables, **({"purges": purges} if purges else {}))


def test_the_earliest_of_purges_and_start():
    installed, start = {"installed_at": "2025-06-05T06:00"}, {"started_at": "2025-06-05T10:00"}
    assert wait(installed, start).value[0] == 4 * HOUR
    first, second = (
        {"purge_id": f"U{hour}", "sample_id": "A", "started_at": f"2025-06-05T{hour}:30"} for hour in ("08", "09")
    )
    assert wait(installed, start, [second, first]).value[0] == 2.5 * HOUR
    assert wait(installed, {}, [second]).value[0] == 3.5 * HOUR
    late = {"purge_id": "U", "sample_id": "A", "started_at": "2025-06-05T11:00"}
    assert wait(installed, start, [late]).value[0] == 4 * HOUR  # a purge after its sample makes no wait longer
    untimed = {"purge_id": "U", "sample_id": "A", "ended_at": "2025-06-05T09:45"}
    assert wait(installed, start, [untimed]).value[0] == 3.75 * HOUR


def test_an_unreadable_purge_time_is_ambiguous_whatever_the_start_says():
    unreadable = {"purge_id": "U", "sample_id": "A", "started_at": "08:3O"}
    found = wait({"installed_at": "2025-06-05T06:00"}, {"started_at": "2025-06-05T10:00"}, [unreadable])
    assert np.isnan(found.value[0])
    assert found.hard[0]


def test_dates_leave_a_shortest_and_a_longest_wait():
    found = wait({"installed_at": "2025-06-04"}, {"started_at": "2025-06-05T10:00"})
    assert found.value[0] == 34 * HOUR
    assert min(other.value[0] for other in found.otherwise) == pytest.approx(10 * HOUR, abs=1e-3)


def test_equal_sizes_in_two_units_differ_by_nothing():
    """8 ft is 96 in; as floating numbers some such pairs part in the last digit."""
    feet = np.arange(1, 200) * 0.3048
    inches = np.arange(1, 200) * 12 * 0.0254
    known = np.ones(len(feet), bool)
    found = difference(Known(feet, known, ~known), Known(inches, known, ~known))
    assert np.all(found.value == 0.0)
    assert difference(Known(feet, known, ~known), Known(inches + 1e-4, known, ~known)).value.max() < -9e-5


def test_distances_need_a_unit_of_length():
    tables = {
        "locations": [{"location_id": "L1", "x": "0", "y": "0"}, {"location_id": "L2", "x": "6", "y": "8"}],
        "probes": [
            {"probe_id": "P1", "location_id": "L1"}, {"probe_id": "P2", "location_id": "L2", "replaces_probe_id": "P1"},
        ],
    }  # fmt: skip
    feet = Project(time_zone="UTC", units={"locations.x": "ft", "locations.y": "ft"})
    assert measured("replacement_distance", feet, **tables).value[1] == pytest.approx(10 * 0.3048)
    degrees = Project(time_zone="UTC", units={"locations.x": "deg", "locations.y": "deg"})
    found = measured("replacement_distance", degrees, **tables)
    assert np.isnan(found.value[1])
    assert found.concerned.tolist() == [False, True]


H = 3_600_000_000


@pytest.mark.parametrize(
    ("uses", "counts", "open_"),
    [
        ([(1, (0, 0), True), (2, (H, H), True), (1, (2 * H, 2 * H), True)], [1, 2, 2], [False] * 3),
        ([(1, (0, 0), True), (1, (H, H), True)], [1, 1], [False, False]),
        ([(1, (0, 24 * H), True), (2, (0, 24 * H), True)], [1, 1], [True, True]),
        ([(1, (0, 24 * H), True), (2, (24 * H, 24 * H), True)], [1, 2], [False, False]),
        ([(1, (0, 0), True), (2, (0, 0), True)], [1, 1], [True, True]),  # one instant, two places
        ([(1, (0, 0), True), (2, (0, 0), False)], [1, 1], [True, True]),
        ([(1, (0, 0), True), (2, (H, H), True), (3, (H, 5 * H), False)], [1, 2, 1], [True, False, True]),
    ],
)
def test_places_by_then(uses, counts, open_):
    found = places_by_then(uses)
    assert [one.count for one in found] == counts
    assert [one.open for one in found] == open_


def test_places_do_not_depend_on_the_order_of_rows():
    uses = [(1, (0, 0), True), (2, (H, H), True), (3, (2 * H, 2 * H), True)]
    forward, backward = places_by_then(uses), places_by_then(uses[::-1])
    assert forward == backward[::-1]
    assert [one.last for one in forward] == [-1, 1, 2]
