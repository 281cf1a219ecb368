"""What a stranger's columns look like: formats that read all cells, marks, flags, commas, mangled CAS numbers."""

from __future__ import annotations

from pathlib import Path

import pyarrow as pa
import pytest

from vaporqa.intake.headings import _listed, headings_of, plain
from vaporqa.intake.inspect_columns import ColumnFacts, describe_column, footer_rows, record_rows
from vaporqa.intake.inspect_headers import find_header
from vaporqa.intake.inspect_times import clock_times, fit_times
from vaporqa.intake.inspection import inspect_file
from vaporqa.intake.mapping import Layout
from vaporqa.intake.notes import Notes
from vaporqa.tables.dictionary import TABLES


def facts(tmp_path: Path, cells: list[str], header: str = "Result") -> ColumnFacts:
    path = tmp_path / "lab.csv"
    lines = [f"{header},other", *(f'"{cell}",x{number}' for number, cell in enumerate(cells))]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return inspect_file(path).facts[0]


TIMES = {
    # texts, formats that read all, two of them differ
    "one order only": (["06/13/2025", "05/04/2025"], ("%m/%d/%Y",), False),
    "other order only": (["13/06/2025", "05/04/2025"], ("%d/%m/%Y",), False),
    "either order": (["06/03/2025", "05/04/2025"], ("%m/%d/%Y", "%d/%m/%Y"), True),
    "either order and the same day": (["05/05/2025", "06/06/2025"], ("%m/%d/%Y", "%d/%m/%Y"), False),
    "day, month and century": (["01/02/03"], ("%m/%d/%y", "%d/%m/%y"), True),
    "month by name": (["3-Jun-2025", "14-Jul-2025"], ("%d-%b-%Y",), False),
    "twelve hours": (["6/13/2025 1:05 PM", "6/14/2025 11:00 AM"], ("%m/%d/%Y %I:%M %p",), False),
    "beside ISO": (["2025-06-13", "06/14/2025"], ("%m/%d/%Y",), False),
    "no time": (["SV-1", "SV-22"], (), False),
    "an impossible day": (["06/31/2025"], (), False),
}


@pytest.mark.parametrize("case", TIMES)
def test_formats_that_read_every_cell(case: str) -> None:
    texts, formats, differ = TIMES[case]
    fit = fit_times(pa.array(texts))
    assert (fit.formats, fit.differ) == (formats, differ)


def test_where_no_format_reads_all_those_that_do_together_are_told() -> None:
    fit = fit_times(pa.array(["06/13/2025", "06/14/2025 10:20", "06/15/2025"]))
    assert not fit.formats
    assert set(fit.together) == {"%m/%d/%Y", "%m/%d/%Y %H:%M"}


def test_a_rare_format_far_down_is_seen() -> None:
    texts = [f"06/{1 + at % 28:02d}/{1926 + at // 28}" for at in range(2_000)]
    assert fit_times(pa.array(texts)).formats == ("%m/%d/%Y",)
    texts[1_234] = "14-Jul-2025"
    fit = fit_times(pa.array(texts))
    assert not fit.formats
    assert "%d-%b-%Y" in fit.together


def test_times_of_day_alone() -> None:
    assert clock_times(pa.array(["10:20", "1:05 PM"]))
    assert not clock_times(pa.array(["10:20", "25:61"]))
    assert not clock_times(pa.array(["1020", "1130"]))


def test_marks_flags_and_numbers_are_counted_apart(tmp_path: Path) -> None:
    found = facts(tmp_path, ["1.5", "2", "ND", "<0.5", "0.5 U", "3.1 J", "4.2E", "--", "I5"])
    assert (found.numbers, found.points) == (2, 1)
    assert dict(found.marks) == {"ND": 1, "<x": 1, "x U": 1}
    assert {flag: count for flag, count in found.flags.items() if flag} == {"J": 1, "E": 1}
    assert dict(found.nothing) == {"--": 1}
    assert found.misread == (("I5", "15?"),)


def test_decimal_commas_and_marks_of_thousands(tmp_path: Path) -> None:
    found = facts(tmp_path, ["1,5", "12,25 J", "1,200", "3"])
    assert (found.comma, found.thousands, found.numbers) == (2, 1, 1)
    assert found.flags["J"] == 1


def test_cas_numbers_that_a_spreadsheet_turned_into_dates(tmp_path: Path) -> None:
    # Vinyl chloride 75-01-4, methylene chloride 75-09-2; 64164 days from 1899-12-30 are 2075-09-02.
    found = facts(tmp_path, ["71-43-2", "2075-01-04", "64164", "71-43-3"], "CAS No.")
    assert found.cas == 1
    assert dict(found.mangled) == {"2075-01-04": "75-01-4", "64164": "75-09-2"}
    assert found.wrong_cas == ("71-43-3",)


def test_dates_are_no_mangled_cas_numbers(tmp_path: Path) -> None:
    found = facts(tmp_path, ["2025-06-03", "2025-06-04", "2075-01-04"], "Date Sampled")
    assert not found.mangled
    assert found.times.is_iso


def test_a_footer_is_seen_and_a_sparse_table_has_none(tmp_path: Path) -> None:
    path = tmp_path / "lab.csv"
    path.write_text("a,b,c\n1,2,3\n4,5,6\n7,8,9\n1,1,1\n* ND: not detected,,\n", encoding="utf-8")
    assert inspect_file(path).footer == (6,)
    path.write_text("a,b,c\n1,,\n4,,\n7,,\n", encoding="utf-8")
    assert inspect_file(path).footer == ()


def test_header_preamble_and_units_row(tmp_path: Path) -> None:
    path = tmp_path / "lab.csv"
    path.write_text(
        "Laboratory A,,\nReport 7,,\n\nClient ID,Result,PQL\n,ug/m3,(ug/m3)\nS1,1.5,0.5\nS2,2.5,0.5\n",
        encoding="utf-8",
    )
    place = inspect_file(path).header
    assert (place.row, place.sure, place.units_rows, place.units) == (4, True, (5,), ("", "ug/m3", "ug/m3"))
    assert [row.row for row in place.preamble] == [1, 2]


def test_a_first_row_of_values_is_no_sure_header(tmp_path: Path) -> None:
    path = tmp_path / "lab.csv"
    path.write_text("S1,1.5,0.5\nS2,2.5,0.5\nS3,3.5,0.5\n", encoding="utf-8")
    assert not inspect_file(path).header.sure


def test_every_heading_belongs_to_a_column_and_means_one() -> None:
    for table, column in _listed():
        homes = TABLES.values() if table == "*" else [TABLES[table]]
        assert any(spec.column(column) for spec in homes), (table, column)
    for table in TABLES:
        for heading, columns in headings_of(table)[0].items():
            assert len(columns) == 1, (table, heading, columns)
            assert plain(heading) == heading


@pytest.mark.parametrize(
    ("heading", "column"),
    [
        # The data contract: LOQ, CRQL, PQL, MRL and RL are reporting limits, MDL a detection limit, LOD its own.
        ("LOQ", "reporting_limit"), ("CRQL", "reporting_limit"), ("PQL", "reporting_limit"), ("MRL", "reporting_limit"),
        ("RL", "reporting_limit"), ("MDL", "detection_limit"), ("LOD", "limit_of_detection"),
        ("Date Sampled", "collected_at"), ("CAS No.", "cas"), ("CAS#", "cas"), ("ClientSampleID", "sample_id"),
    ],
)  # fmt: skip
def test_headings_that_the_contract_names(heading: str, column: str) -> None:
    assert headings_of("results")[0][plain(heading)] == (column,)


def test_rows_that_are_no_records_are_left_aside(tmp_path: Path) -> None:
    path = tmp_path / "lab.csv"
    path.write_text("Client ID,Result,Note\nS1,1.5,a\nS2,2.5,b\nS3,3.5,b\nS4,3.5,b\nEnd,,\n", encoding="utf-8")
    found = inspect_file(path)
    file = found.opened.read(Layout(header_row=1), Notes())
    assert file is not None
    assert footer_rows(file) == (6,)
    assert describe_column(file, 0, record_rows(file, (6,))).filled == 4
    assert find_header(found.opened.top) is not None
