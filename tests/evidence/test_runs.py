"""Which run of a result is in use: named, linked and least diluted, alone in range, or undecided."""

from __future__ import annotations

import pytest

from vaporqa.evidence import Evidence
from vaporqa.evidence.runs import IN_USE, SET_ASIDE, UNDECIDED
from vaporqa.intake import tables_from_text
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")
Row = dict[str, str]


def in_use(*runs: Row) -> list[int]:
    """Use of each run of one result, in the order given and the same backwards."""
    rows = [
        {"result_id": f"R{number}", "sample_id": "S", "analyte": "benzene", "cas": "71-43-2", "result": "5",
         "unit": "ug/m3", **run}
        for number, run in enumerate(runs)
    ]  # fmt: skip

    def decided(given: list[Row]) -> dict[str, int]:
        tables = tables_from_text({"samples": [{"sample_id": "S"}], "results": given}, PROJECT)
        found = Evidence(tables, PROJECT, RULEBOOK).in_use
        return dict(zip(map(str, tables.tables["results"].keys), found.tolist(), strict=True))

    first = decided(rows)
    assert decided(rows[::-1]) == first
    return [first[f"R{number}"] for number in range(len(runs))]


@pytest.mark.parametrize(
    ("runs", "expected"),
    [
        (({},), [IN_USE]),
        (({"in_use": "no"},), [SET_ASIDE]),
        (({"in_use": "yes"}, {"in_use": "no"}), [IN_USE, SET_ASIDE]),
        (({"in_use": "yes"}, {}), [IN_USE, SET_ASIDE]),
        (({}, {"in_use": "no"}), [IN_USE, SET_ASIDE]),
        (({"in_use": "yes"}, {"in_use": "yes"}), [UNDECIDED, UNDECIDED]),
        (({}, {}), [UNDECIDED, UNDECIDED]),  # nothing links the two
        (({"dilution": "1"}, {"dilution": "10"}), [UNDECIDED, UNDECIDED]),
        (({"dilution": "1"}, {"dilution": "10", "run_kind": "dilution"}), [IN_USE, SET_ASIDE]),
        (({"dilution": "10"}, {"dilution": "1", "run_of": "R0"}), [SET_ASIDE, IN_USE]),
        (
            ({"dilution": "1", "lab_flag": "over_range"}, {"dilution": "10", "run_kind": "dilution"}),
            [SET_ASIDE, IN_USE],
        ),
        (({"lab_flag": "over_range"}, {"run_kind": "dilution"}), [SET_ASIDE, IN_USE]),  # it alone is in range
        (({}, {"run_kind": "dilution"}), [UNDECIDED, UNDECIDED]),  # no dilution stated
        (({"dilution": "1"}, {"dilution": "1", "run_kind": "reanalysis"}), [UNDECIDED, UNDECIDED]),
    ],
)
def test_runs(runs: tuple[Row, ...], expected: list[int]) -> None:
    assert in_use(*runs) == expected


def test_a_row_set_aside_names_the_one_that_counts_for_it() -> None:
    rows = [
        {"sample_id": "S", "analyte": "benzene", "cas": "71-43-2", "run_id": "1", "dilution": "1"},
        {
            "sample_id": "S",
            "analyte": "benzene",
            "cas": "71-43-2",
            "run_id": "2",
            "dilution": "9",
            "run_kind": "dilution",
        },
        {"sample_id": "S", "analyte": "toluene", "cas": "108-88-3", "run_id": "1"},
    ]
    tables = tables_from_text({"samples": [{"sample_id": "S"}], "results": rows}, PROJECT)
    runs = Evidence(tables, PROJECT, RULEBOOK).runs
    assert runs.counts_for.tolist() == [-1, 0, -1]
    assert runs.several.tolist() == [True, True, False]
