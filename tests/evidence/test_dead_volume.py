"""Dead volume part by part, each worked out with pi in the test, and what leaves it unknown."""

from __future__ import annotations

from math import pi

import pytest

from vaporqa.evidence.dead_volume import DeadVolume, dead_volumes
from vaporqa.intake import tables_from_text
from vaporqa.tables.project import Project

TUBING = {"tubing_length": "84 in", "tubing_inner_diameter": "0.17 in"}
ANNULUS = {"bore_diameter": "2.25 in", "tubing_outer_diameter": "0.25 in"}
PACK = {"sand_pack_top": "5 ft", "sand_pack_bottom": "6 ft"}


def cylinder(diameter: float, length: float) -> float:
    """mL of a cylinder, inches."""
    return pi / 4 * (diameter * 2.54) ** 2 * length * 2.54


def probe(**cells: str) -> DeadVolume:
    row = {"probe_id": "P", "location_id": "L", **cells}
    return dead_volumes(tables_from_text({"probes": [row]}, Project(time_zone="UTC")).tables["probes"])


def test_subslab_tubing_alone() -> None:
    found = probe(kind="subslab", **TUBING)
    assert found.value[0] == pytest.approx(cylinder(0.17, 84), rel=1e-9)
    assert (found.want[0], found.assumed[0]) == ("", "tip volume 0")


def test_an_unit_of_the_file_changes_nothing() -> None:
    metric = probe(kind="subslab", tubing_length="213.36 cm", tubing_inner_diameter="4.318 mm")
    assert metric.value[0] == pytest.approx(probe(kind="subslab", **TUBING).value[0], rel=1e-9)


def test_driven_counts_tip_and_void_of_the_rod() -> None:
    found = probe(kind="driven", tip_volume="2 mL", rod_outer_diameter="1 in", retraction="3 in", **TUBING)
    assert found.void[0] == pytest.approx(cylinder(1, 3), rel=1e-9)
    assert found.value[0] == pytest.approx(cylinder(0.17, 84) + 2 + cylinder(1, 3), rel=1e-9)
    assert found.assumed[0] == ""


def test_the_bore_serves_where_the_rod_is_not_given() -> None:
    found = probe(kind="driven", bore_diameter="1.25 in", retraction="3 in", **TUBING)
    assert found.void[0] == pytest.approx(cylinder(1.25, 3), rel=1e-9)


def test_a_rod_not_drawn_back_needs_no_diameter() -> None:
    found = probe(kind="driven", retraction="0 in", **TUBING)
    assert (found.want[0], found.void[0]) == ("", 0)


def test_a_dedicated_tip_counts_its_void_only_where_stated() -> None:
    assert probe(kind="driven", tip_use="dedicated", **TUBING).want[0] == ""
    stated = probe(kind="driven", tip_use="dedicated", retraction="3 in", rod_outer_diameter="1 in", **TUBING)
    assert stated.void[0] == pytest.approx(cylinder(1, 3), rel=1e-9)


def test_implant_with_porosities_of_its_own() -> None:
    found = probe(
        kind="implant", sand_pack_porosity="0.35", dry_seal_porosity="0.45", dry_seal_length="12 in",
        **TUBING, **ANNULUS, **PACK,
    )  # fmt: skip
    annulus = cylinder(2.25, 12) - cylinder(0.25, 12)
    assert found.pack[0] == pytest.approx(0.35 * annulus, rel=1e-9)
    assert found.seal[0] == pytest.approx(0.45 * annulus, rel=1e-9)
    assert found.value[0] == pytest.approx(cylinder(0.17, 84) + 0.80 * annulus, rel=1e-9)


def test_porosity_is_taken_for_granted_and_said() -> None:
    found = probe(kind="implant", dry_seal_length="12 in", **TUBING, **ANNULUS, **PACK)
    assert found.pack[0] == pytest.approx(0.30 * (cylinder(2.25, 12) - cylinder(0.25, 12)), rel=1e-9)
    assert found.assumed[0] == "tip volume 0, sand pack porosity 0.30, dry seal porosity 0.30"


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"kind": "subslab", "tubing_inner_diameter": "0.17 in"}, "tubing_length"),
        ({"kind": "subslab", "tubing_length": "84 in"}, "tubing_inner_diameter"),
        ({**TUBING}, "kind"),
        ({"kind": "driven", "tip_use": "reusable", **TUBING}, "retraction"),
        ({"kind": "driven", "retraction": "3 in", **TUBING}, "rod_outer_diameter"),
        ({"kind": "implant", **TUBING}, "sand_pack_top"),
        ({"kind": "implant", "sand_pack_top": "5 ft", **TUBING, **ANNULUS}, "sand_pack_bottom"),
        ({"kind": "implant", "bore_diameter": "2.25 in", **TUBING, **PACK}, "tubing_outer_diameter"),
        ({"kind": "implant", "tubing_outer_diameter": "0.25 in", **TUBING, **PACK}, "bore_diameter"),
    ],
)
def test_what_is_missing_is_named(cells: dict[str, str], column: str) -> None:
    found = probe(**cells)
    assert (found.place[0], bool(found.hard[0])) == (column, False)


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"kind": "subslab", "tubing_length": "84 in", "tubing_inner_diameter": "0 in"}, "tubing_length"),
        ({"kind": "driven", "retraction": "-3 in", "rod_outer_diameter": "1 in", **TUBING}, "retraction"),
        ({"kind": "subslab", "tip_volume": "-5 mL", **TUBING}, "tip_volume"),
        (
            {"kind": "implant", "sand_pack_top": "6 ft", "sand_pack_bottom": "5 ft", **TUBING, **ANNULUS},
            "sand_pack_bottom",
        ),
        (
            {"kind": "implant", "bore_diameter": "0.25 in", "tubing_outer_diameter": "2.25 in", **TUBING, **PACK},
            "bore_diameter",
        ),
    ],
)
def test_what_cannot_be_is_no_evidence(cells: dict[str, str], column: str) -> None:
    found = probe(**cells)
    assert (found.place[0], bool(found.hard[0])) == (column, True)


def test_an_unreadable_cell_is_not_taken_for_an_empty_one() -> None:
    found = probe(kind="implant", dry_seal_length="12 in", sand_pack_porosity="O.3", **TUBING, **ANNULUS, **PACK)
    assert found.hard[0]
    assert "porosity" in found.want[0]


@pytest.mark.parametrize("column", ["tip_volume", "dry_seal_length"])
def test_an_unreadable_length_or_volume_is_not_nought(column: str) -> None:
    unit = {"tip_volume": "mL", "dry_seal_length": "in"}[column]
    cells = {"kind": "implant", "dry_seal_length": "12 in", **TUBING, **ANNULUS, **PACK}
    found = probe(**{**cells, column: "l2", f"{column}_unit": unit})
    assert (found.place[0], bool(found.hard[0])) == (column, True)
