"""``vaporqa check`` of several folders: the same for any number of workers, and no failure stops another folder."""

from __future__ import annotations

import csv
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from urllib.parse import unquote_to_bytes

import pytest

import vaporqa.cli as cli

sys.path.insert(0, str(Path(__file__).parent.parent / "programme"))
from tiny_folders import NORTH, SOUTH, write_both, write_tiny

from vaporqa import folders, library

SAMPLES = Path(__file__).parent.parent.parent / "sample_inputs"


def contents(out: Path) -> dict[str, bytes]:
    """Every file of a run but run.json, which tells when and by what command."""
    files = {str(path.relative_to(out)): path.read_bytes() for path in out.rglob("*") if path.is_file()}
    return {name: content for name, content in files.items() if not name.endswith("run.json")}


def lines_of(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.fixture
def several(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two tiny folders, one larger, one that does not load; commands run beside them."""
    write_both(tmp_path / "in")
    shutil.copytree(SAMPLES / "ridgeback-landfill", tmp_path / "in" / "ridgeback")
    (tmp_path / "in" / "broken").mkdir()
    (tmp_path / "in" / "broken" / "project.yaml").write_text("project: [x\n")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_number_of_workers_leaves_no_trace(several: Path, capfd: pytest.CaptureFixture[str]) -> None:
    seen = {}
    for jobs in ("1", "2", "3"):
        shutil.rmtree("out", ignore_errors=True)
        code = cli.run(["check", "in", "in/../in/nowhere", "--out", "out", "--jobs", jobs])
        screen = capfd.readouterr()
        seen[jobs] = (code, screen.out, screen.err, contents(several / "out"))
    assert seen["1"] == seen["2"] == seen["3"]
    code, screen_out, screen_err, files = seen["1"]
    assert code == 2  # graver than 1, which the rejected rows of one folder would give
    assert "in/broken/project.yaml:2:1" in screen_err
    assert "nowhere" in screen_err
    assert {"programme.html", "programme.csv", "ridgeback/report.html", "north/flags/results.csv"} <= set(files)
    assert not any(name.startswith(("broken/", "nowhere/")) for name in files)
    order = [line.split()[-1] for line in screen_out.splitlines()[1:6]]
    assert order == ["broken", "north", "ridgeback", "south", "nowhere"]


@pytest.mark.slow
def test_a_cluster_gives_the_same_as_this_process(several: Path, capfd: pytest.CaptureFixture[str]) -> None:
    distributed = pytest.importorskip("distributed")
    (several / "own.yaml").write_text((SAMPLES.parent / "rules" / "profiles" / "landfill.yaml").read_text().replace(
        "profile: landfill", "profile: own-landfill", 1))  # fmt: skip
    arguments = ["check", "in", "--out", "out", "--rules", "own.yaml", "--profile", "own-landfill"]
    here = (cli.run(arguments), capfd.readouterr().out, contents(several / "out"))
    shutil.rmtree("out")
    with distributed.LocalCluster(
        processes=True, n_workers=2, threads_per_worker=1, dashboard_address=None, local_directory=str(several / "d")
    ) as cluster:
        there = (cli.run([*arguments, "--scheduler", cluster.scheduler_address]), capfd.readouterr().out,
                 contents(several / "out"))  # fmt: skip
    assert here == there
    assert here[0] == 2


@pytest.mark.slow
def test_a_cluster_without_workers_says_so(
    several: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr("vaporqa.programme.cluster.PATIENCE_SECONDS", 1)
    with distributed.LocalCluster(n_workers=0, dashboard_address=None, local_directory=str(several / "d")) as cluster:
        assert cli.run(["check", "in", "--scheduler", cluster.scheduler_address]) == 2
    assert "has no worker" in capfd.readouterr().err


def test_no_scheduler_no_package_and_both_options(
    several: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    for address in ("tcp://127.0.0.1:9", "here", "tcp://127.0.0.1:99999999"):
        assert cli.run(["check", "in", "--scheduler", address]) == 2
        assert f"no Dask scheduler answers at '{address}'" in capfd.readouterr().err
    assert cli.run(["check", "in", "--scheduler", "tcp://127.0.0.1:9", "--jobs", "2"]) == 2
    assert "given both" in capfd.readouterr().err
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert cli.run(["check", "in", "--scheduler", "tcp://127.0.0.1:9"]) == 2
    assert "pip install 'vaporqa[cluster]'" in capfd.readouterr().err


@pytest.mark.parametrize("jobs", ["0", "-1", "x", "1.5", "", "100000"])
def test_jobs_is_a_whole_number_from_1(jobs: str, several: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["check", "in", "--jobs", jobs]) == 2
    assert "--jobs" in capfd.readouterr().err


def test_text_has_the_text_of_each_and_the_roll_up(several: Path, capfd: pytest.CaptureFixture[str]) -> None:
    cli.run(["check", "in/north", "in/south", "--format", "text"])
    said = capfd.readouterr().out
    assert said.index("North\n") < said.index("South\n") < said.index("2 of 2 folders were reviewed")
    assert said.count("Buried services must be located") == 2
    assert not (several / "out").exists()


def test_annotations_are_annotations_alone(several: Path, capfd: pytest.CaptureFixture[str]) -> None:
    cli.run(["check", "in/north", "in/south", "--format", "annotations"])
    lines = capfd.readouterr().out.splitlines()
    assert sum(line.startswith("::") for line in lines) >= 2
    others = [line for line in lines if not line.startswith("::")]
    assert all(line.endswith("more than a workflow run shows: see findings.csv.") for line in others)


def dies_in_the_south(text: str) -> str:
    """Work as it is, and a process that is killed at one folder (as when memory runs out)."""
    if json.loads(text)["name"] == "south":
        os.kill(os.getpid(), signal.SIGKILL)
    return folders.review_one(text)


def test_a_killed_worker_is_told_for_its_folder_and_the_others_go_on(
    several: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(folders, "review_one", dies_in_the_south)
    # Spawned processes look the function up by its name in this module.
    assert cli.run(["check", "in/south", "in/north", "in/broken", "--out", "out", "--jobs", "2"]) == 3
    screen = capfd.readouterr()
    assert "in/south: the worker process was killed (SIGKILL)" in screen.err
    assert "in/broken/project.yaml:2:1" in screen.err
    assert "1 of 3 folders was reviewed" in " ".join(screen.out.split())
    table = {line["name"]: line for line in lines_of(several / "out" / "programme.csv")}
    assert (table["south"]["end"], table["south"]["results"]) == ("worker lost", "")
    assert "SIGKILL" in table["south"]["error"]
    assert table["north"]["results"] == "4"
    assert (several / "out" / "north" / "report.html").is_file()


def test_a_fault_in_one_folder_saves_its_trace_and_exits_3(
    several: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    check = library.check

    def broken(folder: Path, **more: object) -> object:
        if Path(folder).name == "north":
            raise ZeroDivisionError("on purpose")
        return check(folder, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(library, "check", broken)
    monkeypatch.setattr("tempfile.tempdir", str(several))
    assert cli.run(["check", "in/north", "in/south", "--out", "out"]) == 3
    said = capfd.readouterr().err
    trace = next(several.glob("vaporqa-fault-*.txt"))
    assert str(trace) in said
    assert "on purpose" in trace.read_text()
    assert "in/north: a fault in vaporqa itself" in said
    assert (several / "out" / "south" / "report.html").is_file()


def test_a_folder_that_goes_away_is_told_and_stops_no_other(
    several: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    check = library.check

    def gone(folder: Path, **more: object) -> object:
        if Path(folder).name == "north":
            shutil.rmtree(folder)
            (Path(folder) / "results.csv").read_bytes()
        return check(folder, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(library, "check", gone)
    assert cli.run(["check", "in/north", "in/south", "--out", "out"]) == 2
    assert "in/north: the folder went away" in capfd.readouterr().err
    assert [line["end"] for line in lines_of(several / "out" / "programme.csv")] == ["not reviewed", "reviewed"]


def test_exit_codes_by_the_worst(several: Path) -> None:
    both = ["check", "in/north", "in/south"]
    assert cli.run(both) == 0  # unproven, and --fail-on is rejected
    assert cli.run([*both, "--fail-on", "unproven"]) == 1
    assert cli.run(["check", "in/north", "in/ridgeback"]) == 1
    assert cli.run(["check", "in/north", "in/ridgeback", "--fail-on", "never"]) == 0
    assert cli.run(["check", "in/broken", "in/ridgeback", "--fail-on", "never"]) == 2


def test_where_the_roll_up_cannot_go(several: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (several / "mine").mkdir()
    (several / "mine" / "programme.csv").write_text("my own\n")
    (several / "file").write_text("")
    write_tiny(several / "odd", "programme.html", NORTH)
    write_tiny(several / "odd", "south", SOUTH)
    for arguments, said in (
        (["check", "in", "--out", "mine"], "that no earlier run wrote"),
        (["check", "in", "--out", "file"], "this is a file, not a folder"),
        (["check", "in", "--out", "file/below"], "file"),
        (["check", "odd", "--out", "out"], "a folder is called 'programme.html'"),
    ):
        assert cli.run(arguments) == 2
        screen = capfd.readouterr()
        assert said in screen.err
        assert screen.out == ""
    assert (several / "mine" / "programme.csv").read_text() == "my own\n"
    assert not (several / "out").exists()


def test_an_earlier_roll_up_is_replaced(several: Path) -> None:
    assert cli.run(["check", "in/north", "in/south", "--out", "out"]) == 0
    first = contents(several / "out")
    assert cli.run(["check", "in/north", "in/ridgeback", "--out", "out"]) == 1
    assert [line["name"] for line in lines_of(several / "out" / "programme.csv")] == ["north", "ridgeback"]
    assert cli.run(["check", "in/north", "in/south", "--out", "out"]) == 0
    again = contents(several / "out")
    assert {name: again[name] for name in first} == first
    assert not list((several / "out").glob(".vaporqa-*"))


def test_folders_of_one_name_have_reports_of_their_own(several: Path) -> None:
    write_tiny(several / "deep" / "one", "yard", NORTH)
    write_tiny(several / "deep" / "two", "yard", SOUTH)
    assert cli.run(["check", "deep/one/yard", "deep/two/yard", "--out", "out"]) == 0
    assert [line["name"] for line in lines_of(several / "out" / "programme.csv")] == ["one/yard", "two/yard"]
    assert (several / "out" / "one" / "yard" / "report.html").is_file()
    assert 'href="./two/yard/report.html"' in (several / "out" / "programme.html").read_text()


HOSTILE = (
    "javascript:alert(1)", "<img src=x onerror=alert(1)>", '"><script>x', "=1+1", "::error::x", "a\nb", "c\x1b[31md",
    "e..", "%2e%2e", "#f?g&h", "ünïcode ⟵",
)  # fmt: skip


def test_hostile_folder_names(several: Path, capfd: pytest.CaptureFixture[str]) -> None:
    for name in HOSTILE:
        write_tiny(several / "bad", name, NORTH)
    # Not UTF-8: a name of an old disk.
    shutil.copytree(several / "bad" / "=1+1", several / "bad" / os.fsdecode(b"latin\xe9"))
    assert cli.run(["check", "bad", "--out", "out", "--jobs", "2"]) == 0
    screen = capfd.readouterr().out
    assert "\x1b" not in screen
    assert not any(line.lstrip().startswith(("::", "##[")) for line in screen.splitlines())
    page = (several / "out" / "programme.html").read_text(encoding="utf-8")
    assert "<img" not in page
    assert page.count("<script") == 1
    links = [part.partition('"')[0] for part in page.split('href="')[1:] if part.startswith("./")]
    assert len(links) == len(HOSTILE) + 1
    for link in links:
        assert Path(os.fsdecode(os.fsencode(several / "out") + b"/" + unquote_to_bytes(link))).is_file()
    names = [line["name"] for line in lines_of(several / "out" / "programme.csv")]
    assert "'=1+1" in names
    assert len(names) == len(HOSTILE) + 1


@pytest.mark.slow
def test_ctrl_c_stops_all_and_leaves_nothing_half_written(several: Path) -> None:
    for number in range(12):
        shutil.copytree(SAMPLES / "marrowgate-plating", several / "many" / f"yard-{number:02}")
    (several / "out").mkdir()
    command = [sys.executable, "-m", "vaporqa", "check", "many", "--out", "out", "--jobs", "2"]
    with subprocess.Popen(
        command, cwd=several, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True
    ) as run:
        until = time.monotonic() + 60
        while not (several / "out" / "yard-00" / "run.json").exists() and time.monotonic() < until:
            time.sleep(0.01)
        os.killpg(run.pid, signal.SIGINT)
        _, said = run.communicate(timeout=60)
    assert run.returncode == 130
    assert said.decode().strip() == "vaporqa: interrupted."
    assert (several / "out" / "yard-00" / "report.html").is_file()
    assert not list((several / "out").rglob(".vaporqa-*"))
    assert not list((several / "out").glob("programme*"))
    assert not (several / "out" / "yard-11").exists()
    until = time.monotonic() + 10
    while running(run.pid) and time.monotonic() < until:
        time.sleep(0.05)
    assert not running(run.pid)


def running(group: int) -> list[str]:
    """Processes of a group that still run (not those that ended and that nobody has asked after)."""
    found = subprocess.run(["ps", "-e", "-o", "pgid=,stat=,args="], capture_output=True, text=True, check=True).stdout
    split = [line.split(None, 2) for line in found.splitlines()]
    return [line[2] for line in split if int(line[0]) == group and not line[1].startswith("Z")]
