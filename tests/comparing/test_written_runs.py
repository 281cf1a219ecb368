"""Two written runs compared: what a corrected form, a resubmitted table and a missing row come out as."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import shutil
from pathlib import Path

import pytest

import vaporqa
from vaporqa.comparing import compare_runs, read_run
from vaporqa.errors import FolderError
from vaporqa.library import compare_written
from vaporqa.report.compared_runs import runs_csv, runs_page, runs_text

SAMPLE = Path(__file__).parents[2] / "sample_inputs" / "larkspur-yard"
PURGES = "purges.csv"


@pytest.fixture(scope="module")
def first(tmp_path_factory) -> tuple[Path, Path]:
    """A project folder and its run."""
    home = tmp_path_factory.mktemp("first")
    shutil.copytree(SAMPLE, home / "project")
    return home / "project", vaporqa.check(home / "project").write(home / "run")


def corrected(first, tmp_path: Path, **files: tuple[str, str]) -> Path:
    """Run the same project with texts replaced in its files."""
    shutil.copytree(first[0], tmp_path / "project")
    for name, (old, new) in files.items():
        path = tmp_path / "project" / f"{name}.csv"
        text = path.read_text()
        assert text.count(old) == 1, (name, old, text.count(old))
        path.write_text(text.replace(old, new))
    return vaporqa.check(tmp_path / "project").write(tmp_path / "run")


def line(first, table: str, number: int) -> str:
    return (first[0] / f"{table}.csv").read_text().splitlines(keepends=True)[number - 1]


def test_a_run_against_itself_is_the_same(first):
    found = compare_written(first[1], first[1])
    assert found.same
    assert (found.inputs, found.differences, found.by_rule) == ((), (), ())
    assert "No row ends otherwise." in runs_text(found)


def test_a_worse_form_moves_the_results_of_its_sample_and_says_by_what(first, tmp_path):
    before = line(first, "purges", 2)
    header = line(first, "purges", 1).rstrip("\n").split(",")
    cells = before.rstrip("\n").split(",")
    vacuum = next(place for place, name in enumerate(header) if name.startswith("vacuum_highest"))
    sample = cells[header.index("sample_id")]
    cells[vacuum] = "150"  # over the 100 inH2O of purge-vacuum
    new = corrected(first, tmp_path, purges=(before, ",".join(cells) + "\n"))
    found = compare_written(first[1], new)
    assert found.inputs == (("purges.csv", "changed"),)
    rows = {row.key for row in found.moved if row.table == "results"}
    results = list(csv.DictReader(io.StringIO((first[0] / "results.csv").read_text())))
    assert rows == {row["result_id"] for row in results if row["sample_id"] == sample and row["kind"] == "target"}
    assert {why.rule for row in found.moved for why in row.why} == {"purge-vacuum"}
    assert {why.what for row in found.moved for why in row.why} == {"new"}
    assert found.by_rule == (("purge-vacuum", 1, 0, 0),)
    # And back again: the same rows, the finding gone.
    back = compare_written(new, first[1])
    assert {row.key for row in back.moved} == {row.key for row in found.moved}
    assert {why.what for row in back.moved for why in row.why} == {"gone"}
    assert "no longer: purge-vacuum" in runs_text(back)


def test_rows_come_and_go(first, tmp_path):
    second, third = line(first, "results", 2), line(first, "results", 3)
    key = second.split(",")[0]
    new = corrected(first, tmp_path, results=(second + third, second.replace(key, "NEW-1", 1) + third))
    found = compare_written(first[1], new)
    assert [(row.table, row.key) for row in found.came] == [("results", "NEW-1")]
    assert [(row.table, row.key) for row in found.went] == [("results", key)]
    assert found.standings["results"]["", "usable"] == 1
    text = runs_csv(found).decode()
    assert {(row["change"], row["key"]) for row in csv.DictReader(io.StringIO(text))} == {
        ("new", "NEW-1"),
        ("gone", key),
    }


def test_another_number_under_the_same_standing_is_not_hidden(first, tmp_path):
    header = line(first, "results", 1).rstrip("\n").split(",")
    rows = (first[0] / "results.csv").read_text().splitlines(keepends=True)[1:]
    index = {name: place for place, name in enumerate(header)}
    detects = (row for row in rows if row.split(",")[index["result"]].replace(".", "", 1).isdigit())
    plain = next(row for row in detects if row.split(",")[index["kind"]] in ("", "target"))
    cells = plain.split(",")
    number = cells[index["result"]]
    cells[index["result"]] = f"{float(number) * 1.01:.4g}"
    new = corrected(first, tmp_path, results=(plain, ",".join(cells)))
    found = compare_written(first[1], new)
    assert [row.key for row in found.changed] == [cells[0]]
    assert not found.moved
    assert number in runs_text(found)


def test_the_profile_and_its_limits_are_named(first, tmp_path):
    new = vaporqa.check(first[0], profile="illinois").write(tmp_path / "run")
    found = compare_written(first[1], new)
    said = {(one.name, one.before, one.after) for one in found.differences}
    assert ("profile", "baseline", "illinois") in said or any(name == "profile" for name, _, _ in said)
    assert ("probe-depth.least", "at least 5 ft", "at least 3 ft") in said


def test_rows_that_share_a_key_are_met_by_their_text(tmp_path):
    def run(name: str, rows: str) -> Path:
        folder = tmp_path / name
        folder.mkdir()
        (folder / "project.yaml").write_text("project: P\ntime_zone: UTC\nlab_time_zone: UTC\n")
        (folder / "locations.csv").write_text("location_id,note\n" + rows)
        return vaporqa.check(folder).write(tmp_path / f"{name}-run")

    one, other = run("one", "L,first\nL,second\nM,\n"), run("other", "L,second\nM,\nL,first\nL,third\n")
    found = compare_written(one, other)
    assert [(row.key, row.place) for row in found.came] == [("L", "locations.csv:5")]
    assert not found.went


def test_hostile_text_stays_text(tmp_path):
    def run(name: str, note: str) -> Path:
        folder = tmp_path / name
        folder.mkdir()
        (folder / "project.yaml").write_text("project: '<b>P'\ntime_zone: UTC\nlab_time_zone: UTC\n")
        (folder / "locations.csv").write_text(f"location_id,note\n{note},\n")
        return vaporqa.check(folder).write(tmp_path / f"{name}-run")

    found = compare_written(run("one", "=1+1"), run("other", "<script>alert(1)</script>\x1b[31m"))
    page = runs_page(found).decode()
    assert "<script>" not in page
    assert "<b>P" not in page
    assert "\x1b" not in runs_text(found)
    assert "\n=1+1" not in runs_csv(found).decode()
    assert ",=1+1" not in runs_csv(found).decode()


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda run: shutil.rmtree(run / "flags") or (run / "findings.csv").unlink(), "findings.csv: it is missing"),
        (lambda run: (run / "run.json").write_text("["), "run.json: it is missing, or is not what a run writes"),
        (lambda run: (run / "review.json").write_text('{"format": 9}'), "the format of this run is not known"),
        (lambda run: (run / "flags" / "results.csv").write_text("a\n1\n"), "the run has no column 'results: key'"),
        (lambda run: (run / "flags" / "results.csv").write_bytes(b"\xff\xfe\x00"), "flags/results.csv: it is missing"),
    ],
)
def test_a_run_that_is_not_whole_is_refused(first, tmp_path, spoil, said):
    shutil.copytree(first[1], tmp_path / "run")
    spoil(tmp_path / "run")
    with pytest.raises(FolderError) as fault:
        read_run(tmp_path / "run")
    assert said in str(fault.value)


def test_what_is_no_run_is_named_for_both_sides_at_once(first, tmp_path):
    with pytest.raises(FolderError) as fault:
        compare_written(first[0], tmp_path / "nowhere")
    assert "this project folder holds no run (no review.json); name the folder that" in str(fault.value)
    assert "there is no such folder" in str(fault.value)


def test_order_of_the_flag_files_does_not_matter(first, tmp_path):
    shutil.copytree(first[1], tmp_path / "run")
    path = tmp_path / "run" / "flags" / "results.csv"
    head, *rows = path.read_text().splitlines(keepends=True)
    path.write_text(head + "".join(reversed(rows)))
    with pytest.raises(FolderError, match=r"it is not the file that run\.json states"):
        read_run(tmp_path / "run")
    run = json.loads((tmp_path / "run" / "run.json").read_bytes())
    run["written"]["flags/results.csv"] = hashlib.sha256(path.read_bytes()).hexdigest()
    (tmp_path / "run" / "run.json").write_text(json.dumps(run))
    assert compare_runs(read_run(first[1]), read_run(tmp_path / "run")).same
