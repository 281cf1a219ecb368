"""Bad input through the command line: one change to a sample folder that reads well, and what is said of it."""

from __future__ import annotations

import csv
import io
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

import vaporqa.cli as cli
from vaporqa.intake import files

DYEWORKS = Path(__file__).parents[2] / "sample_inputs" / "bramblegate-dyeworks"
WORKBOOK = "deliveries/laboratory_a.xlsx"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DYEWORKS, tmp_path / "dyeworks"))


def change(folder: Path, before: str, after: str, at: str = "") -> tuple[int, int]:
    """Write `after` for the only `before` in the project file; return the line and column of `at` within it."""
    file = folder / "project.yaml"
    text = file.read_text(encoding="utf-8")
    assert text.count(before) == 1
    place = text.index(before) + after.index(at or after)
    text = text.replace(before, after)
    file.write_text(text, encoding="utf-8")
    return text.count("\n", 0, place) + 1, place - text.rfind("\n", 0, place)


#: Case -> the text replaced, by which, the word that the message points at, and the message.
STOPS = {
    "a column mapped twice": (
        "        location_id: Station\n", "        location_id: Station\n        probe_id: Tip no.\n", "probe_id",
        "the key 'probe_id' stands here a second time (first in line ",
    ),
    "a column mapped and fixed": (
        "fixed: {kind: driven, install_method: direct_push", "fixed: {tip_id: T, install_method: direct_push", "tip_id",
        "'tip_id' of probes stands under both `columns` and `fixed`; keep one of them",
    ),
    "a header that is not there": (
        "probe_id: Hole", "probe_id: Holes", "probe_id",
        (
            "in field/crew_a_probes.csv there is no header 'Holes', which feeds probes.probe_id; "
            "the nearest header is 'Hole'"
        ),
    ),
    "a header of a workbook that is not there": (
        "kind: Type, parent_sample_id: Parent", "kind: Type, parent_sample_id: Parents", "parent_sample_id",
        (
            f"in {WORKBOOK} (Page 1) there is no header 'Parents', which feeds samples.parent_sample_id; "
            "the nearest header is 'Parent'"
        ),
    ),
    "a format that reads nothing": (
        'formats: {analyzed_at: "%d.%m.%Y %H:%M"}', 'formats: {analyzed_at: "%Y/%m/%d"}', "analyzed_at",
        (
            "'%Y/%m/%d' reads no cell of the column 'Analysed' in deliveries/laboratory_b/page_1.csv, "
            "which feeds results.analyzed_at; its cells are such as '25.04.2026 "
        ),
    ),
    "a table from itself": (
        "- from: results                 # Laboratory B", "- from: samples", "samples",
        "the table samples is derived from itself; name the table whose files feed it",
    ),
    "a meaning that is none": (
        "B: in_blank}", "B: in_blanks}", "in_blanks",
        "'in_blanks' is no meaning of a flag; did you mean 'in_blank'?",
    ),
    "a sheet that is not there": (
        "sheet: Page 1", "sheet: Pages 1", "Pages 1", f"{WORKBOOK} has no sheet 'Pages 1'; did you mean 'Page 1'?",
    ),
    "a glob that meets nothing": (
        "deliveries/laboratory_b/*.csv", "deliveries/laboratory_bb/*.csv", "deliveries",
        "no file 'deliveries/laboratory_bb/*.csv' in the project folder, which feeds results",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", STOPS)
def test_a_mapping_that_cannot_be_right_stops_with_its_place(
    case: str, folder: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    before, after, at, message = STOPS[case]
    line, column = change(folder, before, after, at)
    assert cli.run(["check", str(folder)]) == 2
    said = capfd.readouterr().err
    assert f"project.yaml:{line}:{column}: {message}" in " ".join(said.split()), said
    # One slip is one problem: nothing that is right is blamed for it.
    assert said.count("project.yaml:") == 1


def password() -> bytes:
    return b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le")


def macros() -> bytes:
    stream = io.BytesIO((DYEWORKS / WORKBOOK).read_bytes())
    with zipfile.ZipFile(stream, "a") as package:
        package.writestr("xl/vbaProject.bin", b"x")
    return stream.getvalue()


def bomb() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as package:
        package.writestr("xl/workbook.xml", "<workbook/>")
        package.writestr("xl/worksheets/sheet1.xml", b"0" * (64 << 20))
    return stream.getvalue()


@pytest.mark.parametrize(
    ("made", "message"),
    [
        (password, "the workbook is protected by a password; save it without a password"),
        (macros, "the workbook holds macros, and none is opened; save it as .xlsx without"),
        (bomb, "the workbook unpacks to 1,"),
    ],
)
def test_a_workbook_that_is_not_opened_says_why(
    made: Callable[[], bytes], message: str, folder: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (folder / WORKBOOK).write_bytes(made())
    assert cli.run(["check", str(folder)]) == 2
    assert f"{WORKBOOK}: {message}" in " ".join(capfd.readouterr().err.split())


def test_a_text_file_that_is_too_large_is_not_read(
    folder: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(files, "TEXT_LIMIT", 1500)
    size = (folder / "deliveries/mobile.tsv").stat().st_size
    assert cli.run(["check", str(folder)]) == 2
    said = " ".join(capfd.readouterr().err.split())
    assert f"deliveries/mobile.tsv: the file has {size:,} bytes; at most 1,500 are read; split it" in said


def found(out: Path, rule: str) -> list[tuple[str, str, str]]:
    """Table, key and effect of the findings of a rule."""
    with (out / "findings.csv").open(encoding="utf-8", newline="") as lines:
        return [(row["table"], row["key"], row["effect"]) for row in csv.DictReader(lines) if row["rule"] == rule]


def test_a_flag_that_nobody_declared_is_a_finding_and_not_a_guess(folder: Path, tmp_path: Path) -> None:
    change(folder, "Laboratory D: {S: laboratory_solvent, J", "Laboratory D: {J")
    out = tmp_path / "out"
    # The S that Laboratory C declared means nothing in a row of Laboratory D.
    assert cli.run(["check", str(folder), "--out", str(out), "--fail-on", "unproven"]) == 1
    assert found(out, "known-flag") == [("results", "*:Q", "unproven"), ("results", "*:S", "unproven")]


def test_two_mappings_that_give_one_key_different_values_are_both_unproven(folder: Path, tmp_path: Path) -> None:
    file = folder / "field" / "crew_b_probes.tsv"
    text = file.read_text(encoding="utf-8")
    last = text.splitlines()[-1]
    file.write_text(f"{text}{last.replace('P-23', 'P-01').replace('L-23', 'L-99')}\n", encoding="utf-8")
    out = tmp_path / "out"
    assert cli.run(["check", str(folder), "--out", str(out), "--fail-on", "unproven"]) == 1
    assert [one for one in found(out, "duplicate-rows") if one[0] == "probes"] == 2 * [("probes", "P-01", "unproven")]
    with (out / "flags" / "probes.csv").open(encoding="utf-8", newline="") as lines:
        rows = [row for row in csv.DictReader(lines) if row["key"] == "P-01"]
    assert [(row["source_file"], row["standing"]) for row in rows] == [
        ("field/crew_a_probes.csv", "unproven"), ("field/crew_b_probes.tsv", "unproven"),
    ]  # fmt: skip


def test_what_feeds_nothing_is_listed_and_a_near_miss_is_named(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert cli.run(["check", str(folder), "--out", str(out)]) == 0
    html = (out / "report.html").read_text(encoding="utf-8")
    place = html.index("<b>container.csv</b>")
    assert "feeds no table; did you mean &#39;containers.csv&#39;?" in html[place : place + 100]
