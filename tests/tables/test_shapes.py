"""The shape of typed tables: right ones pass, and each way of being wrong is caught."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from vaporqa.intake import tables_from_text
from vaporqa.tables.project import Project
from vaporqa.tables.shapes import ShapeError, check_shape
from vaporqa.tables.values import Number, Table, Text


@pytest.fixture
def probes() -> Table:
    rows = [{"probe_id": "P1", "depth_top": "5 ft", "kind": "driven", "installed_at": "2025-06-03"}, {"probe_id": "P2"}]
    return tables_from_text({"probes": rows}, Project(time_zone="America/Boise")).tables["probes"]


def test_what_intake_makes_has_the_right_shape(probes):
    check_shape(probes)


def wrong_columns(table: Table) -> dict[str, object]:
    depth = table.columns["depth_top"]
    return {
        "depth_top of another dtype": {"depth_top": Number(depth.values.astype(np.float32), depth.state)},
        "state of another dtype": {"depth_top": Number(depth.values, depth.state.astype(np.int64))},
        "another kind": {"depth_top": table.columns["probe_id"]},
        "unknown column": {"depth": depth},
        "another length": {"depth_top": Number(depth.values[:1], depth.state[:1])},
        "a code outside its words": {"probe_id": Text(np.array([0, 9], np.int32), table.columns["probe_id"].words)},
    }


@pytest.mark.parametrize(
    "name",
    [
        "depth_top of another dtype",
        "state of another dtype",
        "another kind",
        "unknown column",
        "another length",
        "a code outside its words",
    ],
)
def test_each_breach_is_caught(probes, name):
    broken = dataclasses.replace(probes, columns={**probes.columns, **wrong_columns(probes)[name]})
    with pytest.raises(ShapeError, match="probes"):
        check_shape(broken)


def test_two_rows_in_one_place_are_caught(probes):
    with pytest.raises(ShapeError):
        check_shape(dataclasses.replace(probes, line_of=np.array([2, 2])))
