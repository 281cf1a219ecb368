"""The list of requests: who is asked for what, by hand, and that text from the tables stays text in every form."""

from __future__ import annotations

import csv
import html
import io
import re
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "review"))
from small_purges import SAMPLES, small_folder

import vaporqa
from vaporqa.report.page import SIZE_LIMIT, page
from vaporqa.report.request_files import COLUMNS, WRITERS
from vaporqa.report.requests import requests_of
from vaporqa.tables.dictionary import SUPPLIERS, TABLES, supplier_of

RULES = ["readable-number", "purge-vacuum", "purge-to-sample"]


def written(folder: Path, suffix: str) -> str:
    return vaporqa.check(folder).requests(suffix).decode("utf-8")


def test_the_letter_in_plain_text(tmp_path: Path) -> None:
    text = " ".join(written(small_folder(tmp_path / "yard", RULES), ".txt").split())
    vacuum, ended, rest = (text.index(start) for start in (" 1. The", " 2. The", " 3. Evidence"))
    assert text.index("OF THE FIELD CREW") < vacuum < ended < text.index("OF THE LABORATORY") < rest
    first, second = text[vacuum:ended], text[ended:rest]
    assert "form 'purges' (purges.csv), column 'vacuum_highest [inH2O]'" in first
    assert "For 2 purge rows: PU1 and PU2." in first
    # Line 2 of the file, fourth column.
    assert "purges.csv:2:4 reads 'I5'; needed: a number" in first
    assert "Why: A number that can be read (readable-number); Vacuum while purging (purge-vacuum)." in first
    assert "4 results are unproven for want of it, 2 of them for want of it alone." in first
    assert "The end of the purge." in second
    assert "2 results are unproven for want of it and of other things besides." in second


def test_what_was_left_out_is_listed_and_not_asked_for(tmp_path: Path) -> None:
    text = written(small_folder(tmp_path / "yard", ["purge-vacuum"]), ".md")
    asked, _, left_out = text.partition("## Not reviewed on purpose")
    assert "- purge-to-sample: not of this test\n" in left_out
    assert "purge-to-sample" not in asked
    assert "The end of the purge" not in asked


def test_nothing_to_ask_for() -> None:
    text = written(Path(__file__).parents[2] / "sample_inputs" / "larkspur-yard", ".txt")
    assert "Nothing is asked for" in text
    assert "OF THE" not in text


def test_the_file_of_rows_holds_every_row(tmp_path: Path) -> None:
    lines = list(csv.DictReader(io.StringIO(written(small_folder(tmp_path / "yard", RULES), ".csv"))))
    assert tuple(lines[0]) == COLUMNS
    got = [
        (one["supplier"], one["column"], one["row_kind"], one["key"], one["file"], one["line"], one["cell"],
         one["results_unproven"], one["results_unproven_for_this_alone"])
        for one in lines
    ]  # fmt: skip
    assert got[:3] == [
        ("field crew", "vacuum_highest", "purges", "PU1", "purges.csv", "2", "I5", "4", "2"),
        ("field crew", "vacuum_highest", "purges", "PU2", "purges.csv", "3", "", "4", "2"),
        ("field crew", "ended_at", "purges", "PU1", "purges.csv", "2", "", "2", "0"),
    ]
    assert [one["key"] for one in lines[3:]] == ["S3"]


def test_long_lists_are_cut_in_a_letter_and_whole_in_the_file_of_rows(tmp_path: Path) -> None:
    purges = "purge_id,sample_id,vacuum_highest [kPa]\n" + "".join(f"PU{n:02d},S1,\n" for n in range(30))
    folder = small_folder(tmp_path / "yard", ["purge-vacuum"], purges=purges)
    assert "For 30 purge rows: PU00, PU01," in written(folder, ".txt")
    assert "and 18 more." in " ".join(written(folder, ".txt").split())
    assert sum(",purges,PU" in line for line in written(folder, ".csv").splitlines()) == 30


HOSTILE = "<script>alert(1)</script>"
STEERING = "**_b_** [x](http://y) `z` <i>"


def test_text_from_the_tables_stays_text(tmp_path: Path) -> None:
    purges = (
        "purge_id,sample_id,ended_at,vacuum_highest [inH2O]\n"
        f'"{HOSTILE}",S1,2025-05-06T10:58,"{STEERING}"\n=cmd(),S2,2025-05-06T11:58,\n'
    )
    folder = small_folder(tmp_path / "yard", RULES, purges=purges)
    page_text = written(folder, ".html")
    assert HOSTILE not in page_text
    assert html.escape(HOSTILE) in page_text
    assert html.escape(STEERING, quote=False).replace("'", "&#39;") in page_text
    marked = written(folder, ".md")
    assert not re.search(r"(?<!\\)[<>`\[\]]", marked)
    assert r"\*\*\_b\_\*\* \[x\](http\://y) \`z\` &lt;i&gt;" in marked
    lines = list(csv.DictReader(io.StringIO(written(folder, ".csv"))))
    assert "'=cmd()" in [one["key"] for one in lines]
    assert HOSTILE in [one["key"] for one in lines]
    assert STEERING in [one["cell"] for one in lines]
    assert "\x1b" not in written(folder, ".txt")


def test_a_key_cannot_break_a_line_of_the_letter(tmp_path: Path) -> None:
    samples = SAMPLES.replace("S1,", '"S\n# 1",')
    folder = small_folder(tmp_path / "yard", ["purge-done"], samples=samples, purges="purge_id,sample_id\nPU2,S2\n")
    assert "\n# 1" not in written(folder, ".md")
    assert r"S\\n# 1" in written(folder, ".md")


def test_the_same_for_the_same_folder(tmp_path: Path) -> None:
    folder = small_folder(tmp_path / "yard", RULES)
    for suffix in WRITERS:
        assert written(folder, suffix) == written(folder, suffix)


def test_page_and_letter_name_the_same_pieces_and_the_page_stays_small() -> None:
    checked = vaporqa.check(Path(__file__).parents[2] / "sample_inputs" / "cutbank-terminal")
    tally = checked.report.tally
    asked = requests_of(checked.review, tally.evidence, checked.report.sentences)
    names = [(one.piece.table, one.piece.column, one.piece.phrase) for one in asked.requests]
    assert sorted(names) == sorted(
        (one.table, one.column, one.phrase) for one in tally.evidence.pieces if one.asked_for
    )
    made = page(checked.review, tally, checked.report.sentences)
    assert len(made) < SIZE_LIMIT
    section = made.decode().partition('<section id="evidence">')[2].partition("</section>")[0]
    for line in tally.evidence.rules:
        assert html.escape(line.rule.title, quote=False).replace("'", "&#39;") in section


def test_every_column_has_a_supplier() -> None:
    for table in TABLES.values():
        assert table.supplier in SUPPLIERS
        for column in table.columns:
            assert supplier_of(table.name, column.name) in SUPPLIERS


@pytest.mark.parametrize(
    ("table", "column", "who"),
    [
        ("custody", "released_by", "field crew"), ("custody", "received_by", "laboratory"),
        ("samples", "started_at", "field crew"), ("samples", "received_at", "laboratory"),
        ("locations", "x", "field crew"), ("locations", "crs", "project"), ("containers", "*", "laboratory"),
        ("lab_qc", "kind", "laboratory"), ("results", "collected_at", "field crew"), ("weather", "rain", "field crew"),
        ("screening_levels", "level", "project"), ("project", "lab_altitude", "project"),
    ],
)  # fmt: skip
def test_who_supplies_what(table: str, column: str, who: str) -> None:
    assert supplier_of(table, column) == who
