"""``vaporqa judge``: one finding judged, shown before and after, and written where every later check reads it."""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import json
import os
import stat
from pathlib import Path

import pytest

import vaporqa
import vaporqa.cli as cli
import vaporqa.cli.judge as judge_command

PROJECT = """\
project: Larkspur Yard
time_zone: UTC
leave_out: {installation: none, shut_in: none, purge: none, sampling: none, decontamination: none,
  field_instruments: none, custody: none, recovery: none, calibration: none, duplicates: none, blanks: none}
"""
SAMPLES = """\
sample_id,kind,matrix,container,started_at,ended_at
S1,primary,soil_gas,canister,2025-05-06 09:00,2025-05-06 09:30
"""
# Helium at 1.6 of 20 %v is 8 %, where at most 5 % passes: J- / UJ. Toluene, a nondetect, is a UJ by it.
TRACER_TESTS = """\
test_id,sample_id,at,approach,tracer,shroud_low [%v],train_reading [%v],train_detected
T1,S1,2025-05-06 08:45,shroud,Helium,20,1.6,yes
"""
RESULTS = """\
sample_id,cas,analyte,method,result,unit,reporting_limit,received_at,analyzed_at
S1,71-43-2,Benzene,TO-15,12.5,ug/m3,1.0,2025-05-07 09:00,2025-05-08 09:00
S1,108-88-3,Toluene,TO-15,<1.0,ug/m3,1.0,2025-05-07 09:00,2025-05-08 09:00
"""
LEAK = "leak-tracer-recovery/tracer_tests/T1"
WHO = ("--by", "reviewer A", "--why", "The bag of the train was mixed up; see the field notes.")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(judge_command, "today", lambda: dt.date(2026, 3, 9))
    home = tmp_path / "yard"
    home.mkdir()
    for name, text in (
        ("project.yaml", PROJECT), ("samples.csv", SAMPLES), ("tracer_tests.csv", TRACER_TESTS),
        ("results.csv", RESULTS),
    ):  # fmt: skip
        (home / name).write_text(text)
    return home


def judge(folder: Path, *more: str) -> int:
    return cli.run(["judge", str(folder), *more])


def qualifiers(folder: Path) -> dict[str, str]:
    frame = vaporqa.check(folder).flags["results"]
    return dict(zip(frame["analyte"], frame["standing"] + " " + frame["qualifier"], strict=True))


def test_a_judgement_moves_what_the_finding_reaches(folder: Path, capfd: pytest.CaptureFixture[str]) -> None:
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert qualifiers(folder) == {"Benzene": "estimated J-", "Toluene": "estimated UJ"}
    assert judge(folder, LEAK, "--effect", "note", *WHO) == 0
    said = capfd.readouterr().out
    assert "  by the rule  estimate (J- / UJ)\n  judged       note (note / note), reviewer A, 2026-03-09\n" in said
    assert "  tracer_tests: 1 better\n  results: 2 better\n" in said
    assert "Letters that were not named were decided" in said
    assert "Written: one entry more in" in said
    assert all(len(line) <= 80 for line in said.splitlines() if "judgements.yaml" not in line)
    assert qualifiers(folder) == {"Benzene": "usable ", "Toluene": "usable U"}
    after = {path.name: path.read_bytes() for path in folder.iterdir() if path.name != "judgements.yaml"}
    assert after == before
    mode = stat.S_IMODE((folder / "judgements.yaml").stat().st_mode)
    umask = os.umask(0)
    os.umask(umask)
    assert mode == 0o666 & ~umask


def test_every_output_says_who_why_and_what_stood_before(
    folder: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert judge(folder, LEAK, "--effect", "note", *WHO) == 0
    capfd.readouterr()
    out = tmp_path / "out"
    assert cli.run(["check", str(folder), "--out", str(out)]) == 0
    line = (
        "Professional judgement: 1 finding was judged by a professional: 2 results end better and no result ends worse "
        "by it."
    )
    assert line in " ".join(capfd.readouterr().out.split())
    assert line in (out / "report.html").read_text()
    assert "The bag of the train was mixed up; see the field notes." in (out / "report.html").read_text()
    with (out / "findings.csv").open(newline="") as file:
        (row,) = [row for row in csv.DictReader(file) if row["finding"] == LEAK]
    assert (row["effect"], row["qualifier_detect"], row["qualifier_nondetect"]) == ("note", "note", "note")
    assert (row["effect_before"], row["qualifier_detect_before"], row["qualifier_nondetect_before"]) == (
        "estimate", "J-", "UJ",
    )  # fmt: skip
    assert (row["judged_by"], row["judged_on"]) == ("reviewer A", "2026-03-09")
    assert row["judged_why"] == "The bag of the train was mixed up; see the field notes."
    assert "Judged by reviewer A on 2026-03-09: note (note / note) in place of estimate (J- / UJ)." in row["reason"]
    with (out / "flags" / "results.csv").open(newline="") as file:
        flags = {row["analyte"]: row for row in csv.DictReader(file)}
    assert (flags["Toluene"]["standing"], flags["Toluene"]["qualifier"]) == ("usable", "U")
    assert (flags["Toluene"]["standing_before"], flags["Toluene"]["qualifier_before"]) == ("estimated", "UJ")
    assert "Judged by reviewer A" in flags["Benzene"]["reasons"]
    review = json.loads((out / "review.json").read_text())
    (listed,) = review["judgements"]
    assert (listed["finding"], listed["state"], listed["effect_before"]) == (LEAK, "applied", "estimate")
    assert (review["counts"]["judgements"]["results_better"], review["counts"]["judgements"]["results_worse"]) == (2, 0)
    hashed = hashlib.sha256((folder / "judgements.yaml").read_bytes()).hexdigest()
    assert json.loads((out / "run.json").read_text())["inputs"]["judgements.yaml"] == hashed


def test_hostile_words_stay_words(folder: Path, tmp_path: Path) -> None:
    assert judge(folder, LEAK, "--effect", "reject", "--by", "=1+1", "--why", "<script>alert(1)</script>") == 0
    out = tmp_path / "out"
    assert cli.run(["check", str(folder), "--out", str(out)]) == 1
    assert "<script>alert" not in (out / "report.html").read_text()
    assert ",'=1+1," in (out / "findings.csv").read_text()


def test_a_changed_value_opens_the_finding_again(
    folder: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert judge(folder, LEAK, "--effect", "note", *WHO) == 0
    (folder / "tracer_tests.csv").write_text(TRACER_TESTS.replace(",1.6,", ",1.8,"))
    capfd.readouterr()
    assert cli.run(["check", str(folder), "--out", str(tmp_path / "out")]) == 0
    said = " ".join(capfd.readouterr().out.split())
    assert "1 judgement is not applied, because what was judged has changed or is gone." in said
    assert qualifiers(folder) == {"Benzene": "estimated J-", "Toluene": "estimated UJ"}
    page = (tmp_path / "out" / "report.html").read_text()
    assert "it judged 8 % against at most 5 %, and there is 9 % against at most 5 % now" in page
    assert f"judgement-stale/tracer_tests/*:{LEAK}" in (tmp_path / "out" / "findings.csv").read_text()


def test_a_second_judgement_keeps_the_first_as_history(folder: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert judge(folder, LEAK, "--effect", "note", *WHO) == 0
    written = (folder / "judgements.yaml").read_bytes()
    assert judge(folder, LEAK, "--effect", "reject", *WHO) == 2
    assert "is judged already, by reviewer A on 2026-03-09 (judgements.yaml:5); add --replace" in capfd.readouterr().err
    assert (folder / "judgements.yaml").read_bytes() == written
    assert judge(folder, LEAK, "--effect", "reject", "--replace", *WHO) == 0
    said = capfd.readouterr().out
    assert "  until now    note (note / note), reviewer A, 2026-03-09" in said
    assert "The earlier entry stays there, marked as superseded." in said
    assert qualifiers(folder) == {"Benzene": "rejected R", "Toluene": "rejected R"}
    assert "superseded: 2026-03-09" in (folder / "judgements.yaml").read_text()


def test_a_dry_run_writes_nothing(folder: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert judge(folder, LEAK, "--effect", "unproven", "--dry-run", *WHO) == 0
    said = capfd.readouterr().out
    assert "results: 2 worse" in said
    assert said.endswith("Nothing was written.\n")
    assert not (folder / "judgements.yaml").exists()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--effect", "note", "--by", "reviewer A"], "a judgement needs --why, and nothing stands there"),
        (["--effect", "note", "--by", "reviewer A", "--why", "  "], "needs --why, and nothing stands there"),
        (["--effect", "note", "--why", "x"], "a judgement needs --by, and nothing stands there; write who decides"),
        (["--effect", "rejct", *WHO], "there is no effect 'rejct'; did you mean 'reject'?"),
        (["--effect", "note", "--detect", "R", *WHO],
         ("the effect is note, and the letter R for a detect is graver; write effect reject, or a letter that goes no "
         "further than note")),
        (["--effect", "reject", "--detect", "J", "--nondetect", "UJ", *WHO],
         "the effect is reject, and neither letter (J / UJ) goes as far; write effect estimate, or a letter of reject"),
        (["--effect", "estimate", "--detect", "U", *WHO],
         "--detect: 'U' stands at a limit that a blank states, and a judgement states none"),
        (["--effect", "estimate", "--nondetect", "J", *WHO], "--nondetect: 'J' is no letter for a nondetect"),
        (["--effect", "note", "--by", "a\u202eb", "--why", "x"], "--by holds a character that does not print (U+202E)"),
        (["--effect", "note", "--by", "x", "--why", "y" * 2001], "--why has 2,001 characters; write at most 2,000"),
    ],
)  # fmt: skip
def test_what_does_not_stand_is_refused(
    folder: Path, capfd: pytest.CaptureFixture[str], given: list[str], said: str
) -> None:
    assert judge(folder, LEAK, *given) == 2
    assert said in capfd.readouterr().err
    assert not (folder / "judgements.yaml").exists()


def test_the_nearest_finding_is_offered(folder: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert judge(folder, "leak-tracer-recovery/tracer_tests/T2", "--effect", "note", "--by", "", "--why", "x") == 2
    said = capfd.readouterr().err
    assert f"there is no finding 'leak-tracer-recovery/tracer_tests/T2'; did you mean '{LEAK}'?" in said
    assert "a judgement needs --by" in said
    assert "2 problems." in said


def test_a_bad_file_and_a_bad_table_are_named_together(folder: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (folder / "judgements.yaml").write_text("format: 1\njudgments: []\n")
    (folder / "samples.csv").write_text("")
    assert cli.run(["check", str(folder)]) == 2
    said = capfd.readouterr().err
    assert "judgements.yaml:2:1: unknown key 'judgments'; did you mean 'judgements'?" in said
    assert "samples.csv: the file is empty" in said


def test_a_file_that_cannot_be_written_is_said(
    folder: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(self: Path, target: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "replace", refuse)
    assert judge(folder, LEAK, "--effect", "note", *WHO) == 2
    said = capfd.readouterr().err
    assert "judgements.yaml: writing there is not allowed; see to it that the project folder can be written to" in said
    assert sorted(path.name for path in folder.iterdir()) == [
        "project.yaml", "results.csv", "samples.csv", "tracer_tests.csv",
    ]  # fmt: skip


def test_the_library_judges_as_the_command_does(folder: Path) -> None:
    decision = vaporqa.Decision(LEAK, "unproven", "reviewer A", "No field notes.", dt.date(2026, 3, 9))
    made = vaporqa.judge(folder, decision)
    assert made.written
    assert made.path == folder / "judgements.yaml"
    assert qualifiers(folder) == {"Benzene": "unproven ", "Toluene": "unproven U"}
