"""Rules against evidence: counts worked out by hand on three samples, and what the sample folders must agree on."""

from __future__ import annotations

import csv
import random
import shutil
from collections import Counter
from pathlib import Path

import pytest
from small_purges import small_folder

import vaporqa
from vaporqa.outcomes import Standing
from vaporqa.report.evidence_part import evidence_json
from vaporqa.review.evidence_matrix import EvidenceMatrix, Piece, Reviewed, evidence_matrix_of

FOLDERS = Path(__file__).parents[2] / "sample_inputs"
NAMES = sorted(path.parent.name for path in FOLDERS.glob("*/project.yaml"))


def matrix(folder: Path) -> EvidenceMatrix:
    return evidence_matrix_of(vaporqa.check(folder).review)


def piece(found: EvidenceMatrix, table: str, column: str) -> Piece:
    (one,) = [one for one in found.pieces if (one.table, one.column) == (table, column)]
    return one


def test_one_cell_unreadable_and_one_empty(tmp_path: Path) -> None:
    # Two results a sample. S1 and S2 lack the vacuum: four results; nothing else judges S3, which says so.
    found = matrix(small_folder(tmp_path / "yard", ["readable-number", "purge-vacuum"]))
    vacuum, rest = found.pieces
    assert (vacuum.table, vacuum.column, vacuum.supplier) == ("purges", "vacuum_highest", "field crew")
    assert (vacuum.unproven, vacuum.alone, vacuum.rows, vacuum.samples) == (4, 4, 2, 2)
    assert dict(vacuum.subjects) == {"purges": ("PU1", "PU2")}
    assert [(one.row, one.cell, one.rule) for one in vacuum.unread] == [(0, "I5", "readable-number")]
    assert [(one.rule, one.judgements, one.unreadable, one.findings) for one in vacuum.wants] == [
        ("readable-number", 1, 1, 1), ("purge-vacuum", 2, 1, 2),
    ]  # fmt: skip
    assert (rest.follows, rest.supplier, rest.unproven, rest.alone) == (True, "laboratory", 2, 2)
    assert dict(rest.subjects) == {"samples": ("S3",)}
    assert (found.unproven, found.otherwise_unproven) == (6, 0)


def test_what_two_pieces_hold_open_is_settled_by_neither_alone(tmp_path: Path) -> None:
    # S1 lacks the vacuum and the end of its purge, S2 the vacuum only.
    found = matrix(small_folder(tmp_path / "yard", ["purge-vacuum", "purge-to-sample"]))
    vacuum, ended = piece(found, "purges", "vacuum_highest"), piece(found, "purges", "ended_at")
    assert (vacuum.unproven, vacuum.alone) == (4, 2)
    assert (ended.unproven, ended.alone, dict(ended.subjects)) == (2, 0, {"purges": ("PU1",)})
    assert found.pieces.index(vacuum) < found.pieces.index(ended)


def test_a_table_that_is_not_there(tmp_path: Path) -> None:
    found = matrix(small_folder(tmp_path / "yard", ["purge-done"], purges=""))
    purges = piece(found, "purges", "*")
    assert (purges.absent, purges.supplier, purges.unproven, purges.alone) == (True, "field crew", 6, 6)
    assert dict(purges.subjects) == {"samples": ("S1", "S2", "S3")}
    (want,) = purges.wants
    # The rule speaks once a sample, also where the whole table is missing.
    assert (want.rule, want.judgements, want.findings) == ("purge-done", 3, 3)


def test_a_record_that_is_not_there_is_wanted_though_nothing_is_missing_in_any_cell(tmp_path: Path) -> None:
    purges = "purge_id,sample_id\nPU1,S1\nPU2,S2\n"
    found = matrix(small_folder(tmp_path / "yard", ["purge-done"], purges=purges))
    (one,) = [one for one in found.pieces if one.shown_otherwise]
    assert (one.unproven, one.alone, dict(one.subjects)) == (2, 2, {"samples": ("S3",)})


def test_nothing_is_wanted_by_a_rule_that_is_left_out(tmp_path: Path) -> None:
    found = matrix(small_folder(tmp_path / "yard", ["purge-done"]))
    assert [one for one in found.pieces if one.asked_for and not one.follows] == []
    lines = {line.rule.id: line for line in found.rules}
    assert (lines["purge-vacuum"].reviewed, lines["purge-vacuum"].reason) == (Reviewed.LEFT_OUT, "not of this test")
    assert lines["purge-done"].reviewed is Reviewed.JUDGED
    count = lines["purge-done"].count
    assert count is not None
    assert (count.holds, count.broken, count.unproven) == (3, 0, 0)


@pytest.fixture(scope="module", params=NAMES)
def checked(request: pytest.FixtureRequest) -> vaporqa.Checked:
    return vaporqa.check(FOLDERS / str(request.param))


def test_every_unproven_finding_stands_in_the_matrix_and_the_other_way_round(
    checked: vaporqa.Checked, tmp_path: Path
) -> None:
    checked.write(tmp_path / "out")
    with (tmp_path / "out" / "findings.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    unproven = Counter(row["rule"] for row in rows if row["outcome"] == "unproven")
    broken = Counter(
        row["rule"]
        for row in rows
        if row["outcome"] == "broken" and "unproven" in (row["qualifier_detect"], row["qualifier_nondetect"])
    )
    wanted, cleared_up = Counter[str](), Counter[str]()
    for one in evidence_matrix_of(checked.review).pieces:
        for want in one.wants:
            (cleared_up if one.shown_otherwise else wanted)[want.rule] += want.findings
            assert bool(want.judgements) == bool(want.findings)
    assert +wanted == unproven
    assert +cleared_up == broken


def test_silence_agrees_with_coverage(checked: vaporqa.Checked) -> None:
    topics = {rule.id: rule.topic for rule in checked.review.rules}
    silent = Counter[str]()
    for one in evidence_matrix_of(checked.review).pieces:
        for want in one.wants:
            silent[want.rule] += want.silent
    expected = {one.rule: one.silent for one in checked.review.coverage.rules if one.silent}
    assert {rule: number for rule, number in silent.items() if number and topics[rule] != "cautions"} == expected


def test_every_unproven_result_waits_for_something(checked: vaporqa.Checked) -> None:
    found = evidence_matrix_of(checked.review)
    review = checked.review
    table, runs = review.tables.get("results"), review.evidence.runs
    assert table is not None
    counts = table.counts & (runs.counts_for < 0)
    assert found.unproven == int((counts & (review.settled["results"].standing == Standing.UNPROVEN)).sum())
    assert found.otherwise_unproven == 0


def test_every_rule_stands_in_the_matrix_once_and_says_why_it_was_not_reviewed(checked: vaporqa.Checked) -> None:
    found = evidence_matrix_of(checked.review)
    names = [line.rule.id for line in found.rules]
    assert names[:-1] == [rule.id for rule in checked.review.rulebook.rules]
    assert names[-1] == "result-judged"
    in_force = {rule.id for rule in checked.review.rules}
    for line in found.rules:
        assert (line.count is not None) == (line.rule.id in in_force)
        assert bool(line.reason) == (line.rule.id not in in_force)


def cell(folder: Path, name: str, key: str, header: str, text: str) -> None:
    path = folder / name
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    (row,) = [row for row in rows if next(iter(row.values())) == key]
    row[header] = text
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


@pytest.mark.parametrize(
    ("name", "key", "header", "text", "place"),
    [
        ("probes.csv", "P-B05", "tubing_inner_diameter [in]", "0.17", ("probes", "tubing_inner_diameter")),
        ("purges.csv", "PU-A04", "ended_at", "2024-10-28T11:45", ("purges", "ended_at")),
    ],
)
def test_what_is_supplied_settles_as_many_results_as_was_said(
    tmp_path: Path, name: str, key: str, header: str, text: str, place: tuple[str, str]
) -> None:
    before = matrix(FOLDERS / "cutbank-terminal")
    folder = Path(shutil.copytree(FOLDERS / "cutbank-terminal", tmp_path / "terminal"))
    cell(folder, name, key, header, text)
    after = matrix(folder)
    assert before.unproven - after.unproven == piece(before, *place).alone > 0
    assert [one for one in after.pieces if (one.table, one.column) == place] == []


def test_the_order_of_rows_does_not_matter(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(FOLDERS / "cutbank-terminal", tmp_path / "terminal"))
    rng = random.Random(5)
    for path in [*folder.glob("*.csv"), *folder.glob("*.tsv")]:
        delimiter = "\t" if path.suffix == ".tsv" else ","
        with path.open(newline="", encoding="utf-8") as file:
            header, *rows = csv.reader(file, delimiter=delimiter)
        rng.shuffle(rows)
        with path.open("w", newline="", encoding="utf-8") as file:
            csv.writer(file, delimiter=delimiter).writerows([header, *rows])
    assert evidence_json(matrix(folder)) == evidence_json(matrix(FOLDERS / "cutbank-terminal"))
