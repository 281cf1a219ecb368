"""``vaporqa compare`` as a person calls it: two runs, or one folder under another profile."""

from __future__ import annotations

from pathlib import Path

import pytest

from vaporqa.cli import run

SAMPLE = Path(__file__).parents[2] / "sample_inputs" / "larkspur-yard"


@pytest.fixture(scope="module")
def written(tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("written") / "run"
    assert run(["check", str(SAMPLE), "--out", str(out), "--format", f"json={out.parent / 'r.json'}"]) == 0
    return out


def test_two_runs_as_text_table_and_page(written, tmp_path, capsys):
    assert (
        run(["compare", str(written), str(written), "--csv", f"{tmp_path}/m.csv", "--html", f"{tmp_path}/m.html"]) == 0
    )
    assert "No row ends otherwise." in capsys.readouterr().out
    assert (tmp_path / "m.csv").read_text().startswith("change,table,key,")
    assert "Inputs, profiles and limits are the same." in (tmp_path / "m.html").read_text()


def test_one_folder_against_a_profile(capsys):
    assert run(["compare", str(SAMPLE), "--against", "illinois"]) == 0
    assert "probe-depth.least: at least 5 ft -> at least 3 ft" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([str(SAMPLE)], "a comparison is of two runs, or of one project folder --against a profile"),
        ([str(SAMPLE), str(SAMPLE), "--against", "illinois"], "write `vaporqa compare OLD NEW`"),
        ([str(SAMPLE), "--against", "ilinois"], "did you mean 'illinois'?"),
        ([str(SAMPLE), "--against", "illinois", "--html", "x.html"], "--html is for two runs; leave it out"),
        ([str(SAMPLE), "nowhere"], "nowhere: there is no such folder (no review.json)"),
    ],
)
def test_what_cannot_be_compared_is_said(arguments, said, capsys):
    assert run(["compare", *arguments]) == 2
    assert said in capsys.readouterr().err
