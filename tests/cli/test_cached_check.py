"""``vaporqa check`` of an unchanged folder, through the command: the same words and code, and no heavy library."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import vaporqa.cli as cli
from vaporqa import library

SAMPLES = Path(__file__).parent.parent.parent / "sample_inputs"
HEAVY = ("pandas", "pandera", "pyarrow", "jinja2", "numpy", "pydantic", "yaml")


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("VAPORQA_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def reviews(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Each review that really runs is noted here."""
    ran: list[str] = []
    check = library.check

    def noted(*arguments: object, **options: object) -> object:
        ran.append(Path(str(arguments[0])).name)
        return check(*arguments, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(library, "check", noted)
    return ran


def _answers(cache: Path) -> int:
    """Count what reviews said; the rules as they were read are kept beside it."""
    return sum(b'"said": ' in path.read_bytes() for path in cache.glob("*.answer"))


def _yard(tmp_path: Path, name: str = "larkspur-yard") -> Path:
    return Path(shutil.copytree(SAMPLES / name, tmp_path / name))


@pytest.mark.parametrize("name", ["larkspur-yard", "cutbank-terminal"])
@pytest.mark.parametrize("form", ["text", "json", "annotations", "sarif", "junit"])
def test_the_second_time_says_the_same_without_a_review(
    name: str, form: str, cache: Path, reviews: list[str], tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    folder = _yard(tmp_path, name)
    said = []
    for _ in range(2):
        code = cli.run(["check", str(folder), "--format", form])
        said.append((code, capfdbinary.readouterr().out))
    uncached = cli.run(["check", str(folder), "--format", form, "--no-cache"])
    assert said[0] == said[1] == (uncached, capfdbinary.readouterr().out)
    # A folder in order has nothing to annotate: its empty answer is one too.
    assert bool(said[0][1]) is ((name, form) != ("larkspur-yard", "annotations"))
    assert len(reviews) == 2  # the first, and the one that was not to use the cache


def test_the_level_is_asked_anew(cache: Path, reviews: list[str], tmp_path: Path) -> None:
    # The terminal has rejected rows by its list of planted faults.
    folder = str(_yard(tmp_path, "cutbank-terminal"))
    levels = ["never", "rejected", "unproven", "estimated"]
    assert [cli.run(["check", folder, "--fail-on", level]) for level in levels] == [0, 1, 1, 1]
    assert len(reviews) == 1


def test_a_changed_cell_is_reviewed(
    cache: Path, reviews: list[str], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    folder = _yard(tmp_path)
    assert cli.run(["check", str(folder), "--fail-on", "unproven"]) == 0
    path = folder / "results.csv"
    lines = path.read_text().splitlines(keepends=True)
    fields = lines[1].split(",")
    at = lines[0].split(",").index("result")
    path.write_text("".join([lines[0], ",".join([*fields[:at], "I5", *fields[at + 1 :]]), *lines[2:]]))
    assert cli.run(["check", str(folder), "--fail-on", "unproven"]) == 1
    assert "results.csv:2:" in capfd.readouterr().out
    assert len(reviews) == 2


def test_a_folder_that_cannot_be_read_is_read_each_time(cache: Path, reviews: list[str], tmp_path: Path) -> None:
    folder = _yard(tmp_path)
    (folder / "results.csv").write_bytes(b"PK\x03\x04 a workbook under another name")
    assert [cli.run(["check", str(folder)]) for _ in range(2)] == [2, 2]
    assert len(reviews) == 2
    assert _answers(cache) == 0


def test_no_cache_neither_asks_nor_keeps(cache: Path, reviews: list[str], tmp_path: Path) -> None:
    folder = str(_yard(tmp_path))
    assert cli.run(["check", folder, "--no-cache"]) == 0
    assert not cache.exists()
    cli.run(["check", folder])
    cli.run(["check", folder, "--no-cache"])
    assert len(reviews) == 3


def test_what_writes_files_always_runs(cache: Path, reviews: list[str], tmp_path: Path) -> None:
    folder = str(_yard(tmp_path))
    cli.run(["check", folder])
    for _ in range(2):
        assert cli.run(["check", folder, "--out", str(tmp_path / "out")]) == 0
        assert cli.run(["check", folder, "--format", f"sarif={tmp_path / 'one.sarif'}"]) == 0
    assert len(reviews) == 5
    assert _answers(cache) == 1


OWN = """\
format: 1
profile: plan
about: The plan of this site allows less vacuum.
limits:
  purge-vacuum.highest:
    at_most: {limit} inH2O
    source: {{document: Sampling plan, publisher: The project, year: 2025}}
    backing: practice
"""


@pytest.mark.parametrize("named", ["by the folder", "on the command line"])
def test_own_rules_count(
    named: str, cache: Path, reviews: list[str], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    # The highest vacuum that this folder's form has is 30 inH2O (purges.csv:18).
    folder = _yard(tmp_path)
    own = (folder if named == "by the folder" else tmp_path) / "plan.yaml"
    command = ["check", str(folder), "--fail-on", "estimated"]
    if named == "by the folder":
        (folder / "project.yaml").open("a").write("rules: [plan.yaml]\n")
    else:
        command += ["--rules", str(own)]
    for limit, code in ((30, 0), (29, 1)):
        own.write_text(OWN.format(limit=limit))
        assert [cli.run(command), cli.run(command)] == [code, code]
    assert "at most 29 inH2O" in capfd.readouterr().out
    assert len(reviews) == 2


def test_several_folders_run_each_time(cache: Path, reviews: list[str], tmp_path: Path) -> None:
    """Their roll-up is made of more than a screen's text."""
    projects = tmp_path / "projects"
    _yard(projects)
    _yard(projects, "cutbank-terminal")
    assert [cli.run(["check", str(projects)]) for _ in range(2)] == [1, 1]
    assert _answers(cache) == 0


def test_a_broken_cache_changes_nothing(
    cache: Path, reviews: list[str], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    folder = str(_yard(tmp_path))
    cli.run(["check", folder])
    first = capfd.readouterr()
    for path in cache.iterdir():
        path.write_bytes(b"\0" * 100)
    assert cli.run(["check", folder]) == 0
    assert capfd.readouterr() == first
    shutil.rmtree(cache)
    cache.write_text("a file stands here")
    assert cli.run(["check", folder]) == 0
    assert capfd.readouterr() == first
    assert first.err == ""
    assert len(reviews) == 3


def test_nothing_heavy_is_imported_and_nothing_written_in_the_folder(cache: Path, tmp_path: Path) -> None:
    folder = _yard(tmp_path)
    before = {path: path.stat().st_mtime_ns for path in [folder, *folder.rglob("*")]}
    program = (
        "import sys\nfrom vaporqa.cli import run\n"
        f"code = run(['check', {str(folder)!r}])\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], code, file=sys.stderr)"
    )
    said = []
    for _ in range(2):
        done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
        said.append((done.stdout, done.stderr.strip().splitlines()[-1]))
    assert said[0][1] != "[] 0"  # the review itself needs them
    assert said[1] == (said[0][0], "[] 0")
    assert {path: path.stat().st_mtime_ns for path in [folder, *folder.rglob("*")]} == before


@pytest.mark.parametrize("place", ["", "cache", ".cache/vaporqa"])
def test_a_cache_inside_the_folder_is_not_used(
    place: str, reviews: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = _yard(tmp_path)
    before = sorted(folder.rglob("*"))
    monkeypatch.setenv("VAPORQA_CACHE", str(folder / place))
    assert [cli.run(["check", str(folder)]) for _ in range(2)] == [0, 0]
    assert sorted(folder.rglob("*")) == before
    assert len(reviews) == 2


def test_runs_at_the_same_time(cache: Path, tmp_path: Path) -> None:
    folder = _yard(tmp_path)
    command = [sys.executable, "-m", "vaporqa", "check", str(folder)]
    runs = [subprocess.Popen(command, stdout=subprocess.PIPE, env=dict(os.environ)) for _ in range(3)]
    said = {run.communicate()[0] for run in runs}
    assert [run.returncode for run in runs] == [0, 0, 0]
    assert len(said) == 1
    assert _answers(cache) == 1
    assert {path.suffix for path in cache.iterdir()} == {".answer"}
