"""`vaporqa plan` on the command line: bad input by its exact words, what is written, and where it is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from vaporqa.cli import run

SAMPLE = "sample_inputs/tansy-hollow"
HOME = Path(__file__).parents[2]


@pytest.fixture(autouse=True)
def in_the_repository(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(HOME)


def folder(tmp_path: Path, probes: str | None, head: str = "time_zone: America/Boise\n") -> Path:
    made = tmp_path / "made"
    made.mkdir()
    (made / "project.yaml").write_text(f"project: Made up\n{head}")
    (made / "locations.csv").write_text("location_id\nL\n")
    if probes is not None:
        (made / "probes.csv").write_text(probes)
    return made


_OFFSET = "write it with an offset, as in 2026-11-01T01:30-06:00"


@pytest.mark.parametrize(
    ("option", "text", "said"),
    [
        ("--flow", "150", "'150' has no unit; write one after the number, as in '150 mL/min'"),
        ("--flow", "0 mL/min", "'0 mL/min' is not above nought; name a flow that moves gas"),
        ("--flow", "-5 mL/min", "'-5 mL/min' is not above nought; name a flow that moves gas"),
        ("--stroke", "0 mL", "'0 mL' is not above nought; name a stroke that moves gas"),
        ("--day", "1/12/2026",
         "'1/12/2026' is no time that can be read; write it as 2026-12-01T08:00, local time of the field"),
        ("--day", "2026-12-01",
         "'2026-12-01' has no time of day, and limits in hours need one; add it, as in 2026-12-01T08:00"),
        ("--day", "2026-11-01T01:30", f"'2026-11-01T01:30' occurs twice in America/Denver; {_OFFSET}"),
        ("--day", "2026-03-08T02:30", f"'2026-03-08T02:30' never occurs in America/Denver; {_OFFSET}"),
    ],
)  # fmt: skip
def test_options_that_cannot_be_read(option: str, text: str, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", SAMPLE, option, text]) == 2
    assert capsys.readouterr().err.splitlines() == [f"vaporqa: {option}: {said}"]


def test_a_flow_in_another_dimension_and_everything_else_wrong_is_said_at_once(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["plan", SAMPLE, "--flow", "3 ft", "--stroke", "100", "--day", "tomorrow"]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert [line.split(":")[1].strip() for line in lines[:3]] == ["--flow", "--stroke", "--day"]
    assert "'ft' is a unit of length, and flow is wanted" in lines[0]
    assert lines[3] == "vaporqa: 3 problems."


def test_no_folder_no_probes_and_no_rows(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", str(tmp_path / "nowhere")]) == 2
    assert str(tmp_path / "nowhere") in capsys.readouterr().err
    made = folder(tmp_path, None)
    fill = "a plan is made by probe: fill probes.csv, one row a probe (`vaporqa tables probes` shows its columns)"
    assert run(["plan", str(made)]) == 2
    assert capsys.readouterr().err == f"{made}: the folder has no probes table; {fill}\n"
    (made / "probes.csv").write_text("probe_id,location_id\n")
    assert run(["plan", str(made)]) == 2
    assert capsys.readouterr().err == f"{made}: the probes table has no row; {fill}\n"


def test_an_unknown_profile_is_met_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", SAMPLE, "--profile", "californa-2015"]) == 2
    assert "did you mean 'california-2015'?" in capsys.readouterr().err


def test_local_time_without_a_zone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = folder(tmp_path, "probe_id,location_id\nP,L\n", head="")
    assert run(["plan", str(made), "--day", "2026-12-01T08:00"]) == 2
    said = capsys.readouterr().err
    assert "time_zone" in said


def test_it_writes_a_page_and_a_table_and_the_same_ones_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "plan"
    assert run(["plan", SAMPLE, "--out", str(out)]) == 0
    first = {path.name: path.read_bytes() for path in out.iterdir()}
    assert set(first) == {"plan.html", "plan.csv"}
    assert capsys.readouterr().out.splitlines()[-1].endswith("plan.csv beside it.")
    assert run(["plan", SAMPLE, "--out", str(out)]) == 0
    assert {path.name: path.read_bytes() for path in out.iterdir()} == first
    assert b"default-src 'none'; style-src 'unsafe-inline'" in first["plan.html"]
    assert b"<script" not in first["plan.html"]


def test_it_writes_nowhere_else(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = folder(tmp_path, "probe_id,location_id\nP,L\n")
    assert run(["plan", str(made), "--out", str(made)]) == 2
    assert "the plan would be written among the tables" in capsys.readouterr().err
    other = tmp_path / "other"
    other.mkdir()
    (other / "mine.txt").write_text("mine")
    assert run(["plan", str(made), "--out", str(other)]) == 2
    assert "the folder is not empty and holds no earlier plan (it has mine.txt)" in capsys.readouterr().err
    assert sorted(path.name for path in other.iterdir()) == ["mine.txt"]


def test_lines_of_the_screen_are_no_wider_than_eighty(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", SAMPLE, "--stroke", "100 mL"]) == 0
    assert max(map(len, capsys.readouterr().out.splitlines())) <= 80


def test_foreign_text_stays_text(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = folder(tmp_path, "probe_id,location_id,kind\n=1+1<script>alert(1)</script>,L,subslab\n")
    out = tmp_path / "plan"
    assert run(["plan", str(made), "--out", str(out)]) == 0
    assert "<script>alert" not in (out / "plan.html").read_text()
    assert "\n'=1+1<script>" in (out / "plan.csv").read_text()
    capsys.readouterr()
