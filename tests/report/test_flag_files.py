"""flags/<table>.csv and findings.csv: every row, its reasons, and nothing that a spreadsheet would run."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import pyarrow as pa
from conftest import leak
from hypothesis import given
from hypothesis import strategies as st
from made_reviews import RESULTS, Said, made_review, write_folder

from vaporqa.outcomes import Letter, Outcome, Pair
from vaporqa.report.csv_lines import Coded, csv_lines
from vaporqa.report.flagged import FINDING_COLUMNS, findings_file, flag_file, frames
from vaporqa.report.sentences import Sentences
from vaporqa.report.wording import defused
from vaporqa.review.values import Review


def rows_of(review: Review, table: str) -> list[dict[str, str]]:
    text = b"".join(flag_file(review, table, Sentences(review))).decode()
    return list(csv.DictReader(io.StringIO(text, newline="")))


def findings_of(review: Review) -> list[dict[str, str]]:
    text = b"".join(findings_file(review, Sentences(review))).decode()
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_the_columns_stand_in_the_promised_order(review: Review) -> None:
    text = b"".join(flag_file(review, "results", Sentences(review))).decode()
    assert text.splitlines()[0].split(",") == [
        "key", "sample_id", "cas", "analyte", "method", "result", "unit", "reporting_limit", "reasons (file)", "note",
        "standing", "qualifier", "bias", "final_detected", "final_value", "final_limit", "final_unit", "final_in_use",
        "reasons", "rules", "findings", "source_file", "source_line",
    ]  # fmt: skip
    header = b"".join(flag_file(review, "tracer_tests", Sentences(review))).decode().splitlines()[0]
    assert header.split(",") == [
        "key", "test_id", "sample_id", "at", "shroud_low [%v]", "train_reading [%v]", "standing", "qualifier", "bias",
        "reasons", "rules", "findings", "source_file", "source_line",
    ]  # fmt: skip


def test_every_row_keeps_its_place_its_cells_and_its_line(review: Review) -> None:
    rows = rows_of(review, "results")
    source = list(csv.DictReader(io.StringIO(RESULTS, newline="")))
    assert [row["sample_id"] for row in rows] == [row["sample_id"] for row in source]
    assert [row["reasons (file)"] for row in rows] == [row["reasons"] for row in source]
    # The fourth record holds a line end, so that the fifth stands on line 7.
    assert [row["source_line"] for row in rows] == ["2", "3", "4", "5", "7", "8"]
    assert {row["source_file"] for row in rows} == {"results.csv"}
    assert [row["standing"] for row in rows] == ["unproven", "unproven", "rejected", "rejected", "usable", "rejected"]


def test_hostile_cells_are_harmless_and_numbers_stay_numbers(review: Review) -> None:
    notes = [row["note"] for row in rows_of(review, "results")]
    assert notes[0] == '\'=HYPERLINK("x")'
    assert notes[1] == "-0.5"
    assert notes[2] == "<script>alert(1)</script>"
    assert notes[3] == "two\nlines"
    assert findings_of(review)[4]["reason"] == "'=cmd() stands above its calibration."


def test_reasons_rules_and_findings_come_in_rulebook_order(review: Review) -> None:
    rows = rows_of(review, "results")
    assert rows[3]["rules"] == "readable-number; leak-tracer-recovery; purge-done"
    assert rows[3]["findings"] == (
        "readable-number/results/S2/108-88-3/TO-15; leak-tracer-recovery/tracer_tests/T2; purge-done/samples/*"
    )
    assert rows[3]["reasons"].startswith("The cell '1O.5' is no number (results.csv:5, column 'result'")
    assert rows[4]["rules"] == rows[4]["reasons"] == ""


def test_a_copy_says_which_row_counts_for_it(review: Review) -> None:
    copy = rows_of(review, "results")[5]
    assert copy["reasons"].startswith("This row is an exact copy; S2/71-43-2/TO-15 (results.csv:4) counts for it.")
    assert copy["final_in_use"] == "false"


def test_a_run_set_aside_says_which_row_counts_for_it(tmp_path: Path) -> None:
    review = made_review(write_folder(tmp_path / "yard"), aside={0: 2})
    assert rows_of(review, "results")[0]["reasons"] == (
        "This run is set aside; S2/71-43-2/TO-15 (results.csv:4) counts for it."
    )


def test_final_values_are_plain(review: Review) -> None:
    rows = rows_of(review, "results")
    finals = [(row["final_detected"], row["final_value"], row["final_limit"], row["final_unit"]) for row in rows]
    assert finals[0] == ("true", "12.5", "", "ug/m3")
    assert finals[1] == ("false", "", "2", "ug/m3")


def test_a_finding_without_a_letter_for_the_status_is_not_named(tmp_path: Path) -> None:
    # J+ for a detect, nothing for a nondetect, reaching the whole sample: only the detect names it.
    high = Said(1, "tracer_tests", 0, Outcome.BROKEN, Pair(Letter.J_PLUS, Letter.NONE), 0, 7.0, samples=("S1",))
    rows = rows_of(made_review(write_folder(tmp_path / "yard"), [high]), "results")
    assert [row["rules"] for row in rows[:2]] == ["leak-tracer-recovery", ""]


def test_a_tracer_is_spared_its_own_test(tmp_path: Path) -> None:
    review = made_review(write_folder(tmp_path / "yard"), [leak(0, 7.0, 0, "S1", 2)], own_tracer=[1])
    assert [row["rules"] for row in rows_of(review, "results")[:2]] == ["leak-tracer-recovery", ""]


def test_oxygen_not_detected_takes_no_letter_from_air_let_in(tmp_path: Path) -> None:
    text = RESULTS.replace("S1,108-88-3,Toluene", "S1,7782-44-7,Oxygen")
    review = made_review(write_folder(tmp_path / "yard", results=text), [leak(0, 7.0, 0, "S1", 2)])
    assert [row["rules"] for row in rows_of(review, "results")[:2]] == ["leak-tracer-recovery", ""]
    gross = made_review(write_folder(tmp_path / "gross", results=text), [leak(0, 27.0, 1, "S1", 2)])
    assert rows_of(gross, "results")[1]["rules"] == "leak-tracer-recovery"


def test_the_list_agrees_with_the_review_row_by_row(review: Review) -> None:
    for table in review.tables.tables:
        for row, line in enumerate(rows_of(review, table)):
            ids = [str(review.findings.id[index]) for index in review.findings_of(table, row)]
            assert line["findings"] == "; ".join(ids)


def test_findings_have_every_column(review: Review) -> None:
    rows = findings_of(review)
    assert tuple(rows[0]) == FINDING_COLUMNS
    low, whole = rows[1], rows[3]
    assert (low["measured"], low["limit"], low["unit"], low["limit_backing"]) == ("5.05", "5", "%", "verified")
    assert (low["qualifier_detect"], low["qualifier_nondetect"], low["reaches"]) == ("J-", "UJ", "results:2")
    assert low["source"].startswith("Advisory - Active Soil Gas Investigations, California EPA (DTSC), 2015")
    assert (whole["finding"], whole["key"], whole["line"]) == ("purge-done/samples/*", "*", "")
    assert (rows[0]["file"], rows[0]["line"], rows[0]["column"]) == ("results.csv", "5", "result")


def test_frames_hold_what_the_files_hold(review: Review) -> None:
    made = frames(review)
    assert set(made) == set(review.tables.tables)
    results = made["results"]
    assert results["reasons"].tolist() == [row["reasons"] for row in rows_of(review, "results")]
    assert results["note"][0] == '=HYPERLINK("x")'
    assert results["final_value"].tolist()[0] == 12.5
    assert results["final_in_use"].tolist()[-1] is False


def test_no_findings_at_all(tmp_path: Path) -> None:
    review = made_review(write_folder(tmp_path / "yard"))
    assert {row["standing"] for row in rows_of(review, "results")} == {"usable"}
    assert findings_of(review) == []


@given(st.lists(st.lists(st.text(st.characters(codec="utf-8"), max_size=6), min_size=3, max_size=3), max_size=30))
def test_any_text_comes_back_from_the_file_defused_once(rows: list[list[str]]) -> None:
    columns: list[Coded] = []
    for cells in zip(*rows, strict=True) if rows else [(), (), ()]:
        texts = list(dict.fromkeys(cells))
        codes = np.array([texts.index(cell) for cell in cells], np.int64)
        columns.append(Coded.of(codes, pa.array(texts, pa.string())))
    data = b"".join(csv_lines(["a", "b", "c"], columns, len(rows)))
    back = list(csv.reader(io.StringIO(data.decode(), newline="")))
    assert back[1:] == [[defused(cell) for cell in row] for row in rows]
