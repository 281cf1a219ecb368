"""Tables from rows in memory: cells carry their units."""

from __future__ import annotations

import pytest

from vaporqa.errors import FolderError
from vaporqa.intake import tables_from_text
from vaporqa.tables.project import Project
from vaporqa.tables.values import BY_VOLUME, READ

PROJECT = Project(time_zone="America/Boise", lab_time_zone="America/Chicago")


def test_cells_carry_their_units():
    tables = tables_from_text(
        {
            "tracer_tests": [
                {"test_id": "T1", "shroud_low": "20 %v", "train_reading": "5000 ppmv"},
                {"test_id": "T2", "train_reading": "< 5 ppbv", "train_reporting_limit": "ND"},
            ],
            "purges": [{"volume": "1.5 L", "ended_at": "2025-06-03 00:00"}],
            "results": [{"sample_id": "S1", "result": "5", "unit": "ug/m3"}, {"sample_id": "S1", "result": "5 U ppbv"}],
        },
        PROJECT,
    )
    tests = tables.tables["tracer_tests"]
    assert tests.amount("shroud_low").values[0] == pytest.approx(2e8)
    assert tests.amount("train_reading").values.tolist() == pytest.approx([5e6, 5])
    assert tests.amount("train_reading").nondetect.tolist() == [False, True]
    assert tests.amount("train_reporting_limit").nondetect.tolist() == [False, True]
    assert tables.tables["purges"].number("volume").values.tolist() == [1500]
    # No file, so a single midnight stays the instant that the example states.
    assert not tables.tables["purges"].time("ended_at").date_only[0]
    results = tables.tables["results"].amount("result")
    assert results.family[1] == BY_VOLUME
    assert (results.state == READ).all()
    assert results.marked.tolist() == [False, True]
    assert tables.readings == ()


def test_a_bare_number_an_unknown_column_and_an_unknown_table_stop():
    with pytest.raises(FolderError) as raised:
        tables_from_text(
            {
                "probes": [{"probe_id": "P1", "depth_top": "5", "depth": "3 ft"}],
                "probe": [],
                "purges": [{"volume": "1 fl"}],
            },
            PROJECT,
        )
    message = str(raised.value)
    assert "probes:1:1: '5' in column 'depth_top' has no unit; write it after the number, such as 5 ft" in message
    assert "the table probes has no column 'depth'" in message
    assert "there is no table 'probe'; did you mean 'probes'?" in message


def test_cells_that_cannot_be_read_are_readings_as_in_files():
    tables = tables_from_text({"probes": [{"probe_id": "P1", "depth_top": "5 feeet", "kind": "drivn"}]}, PROJECT)
    assert {(reading.rule, reading.column) for reading in tables.readings} == {
        ("known-unit", "depth_top_unit"),
        ("known-word", "kind"),
    }
