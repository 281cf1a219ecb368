"""Which analyte a row of any table names, and what sentences call it."""

from __future__ import annotations

import pytest

from vaporqa.evidence.named import Analytes, analytes_of
from vaporqa.intake import tables_from_text
from vaporqa.tables.project import Project

PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")


def numbered(results: list[dict[str, str]], blanks: list[dict[str, str]] | None = None) -> Analytes:
    rows = {"results": [{"sample_id": "A", **row} for row in results]}
    if blanks:
        rows["lab_qc"] = [{"qc_id": f"MB{i}", "kind": "method_blank", **row} for i, row in enumerate(blanks)]
    return analytes_of(tables_from_text(rows, PROJECT), {})


@pytest.mark.parametrize("turned", [False, True])
def test_a_row_that_misnames_its_number_does_not_rename_the_others(turned: bool) -> None:
    rows = [{"analyte": "Trichloroethene", "cas": "71-43-2"}, {"analyte": "Benzene", "cas": "71-43-2"}]
    found = numbered(rows[::-1] if turned else rows)
    assert found.name == ("Benzene",)


def test_the_spelling_of_most_rows_is_taken_and_never_that_of_another_number() -> None:
    often = {"analyte": "Trichloroethene", "cas": ""}
    assert numbered([{"analyte": "TCE", "cas": ""}, often, often]).name == ("Trichloroethene",)
    assert numbered([{"analyte": "TCE", "cas": ""}]).name == ("TCE",)
    assert numbered([{"analyte": "m-Xylene", "cas": "95-47-6"}]).name == ("o-xylene",)


@pytest.mark.parametrize("turned", [False, True])
def test_the_name_of_an_unlisted_substance_does_not_hang_on_the_order_of_rows(turned: bool) -> None:
    rows = [{"analyte": "ODDIUM", "cas": ""}, {"analyte": "Oddium", "cas": ""}, {"analyte": "oddium", "cas": ""}]
    found = numbered(rows[::-1] if turned else rows)
    assert found.name == ("ODDIUM",)
    assert set(found.of["results"].tolist()) == {0}


@pytest.mark.parametrize("cells", [
    {"analyte": "TCE", "cas": ""},
    {"analyte": "Trichloroethylene", "cas": ""},
    {"analyte": "Trichloroethene", "cas": "79-01-6"},
    {"analyte": "Trichloroethene", "cas": "65386"},  # what a spreadsheet makes of 79-01-6 (measured)
])  # fmt: skip
def test_a_result_meets_its_blank_by_the_number_that_it_means(cells: dict[str, str]) -> None:
    for blank in ({"analyte": "Trichloroethene", "cas": "79-01-6"}, {"analyte": "TCE", "cas": ""}):
        found = numbered([cells], [blank])
        assert found.of["results"].tolist() == found.of["lab_qc"].tolist()
