"""The key of an answer: another for everything that an outcome hangs on, and the same for all else."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from small_folder import TEXT, digest, inputs, key, shipped, write_yard

from vaporqa.cache import Shows, installation, key_of, keys
from vaporqa.intake import folder as folder_reading
from vaporqa.intake import plan
from vaporqa.rulebook.shipped import SUFFIXES, find_shipped

Change = Callable[[Path], object]


def _rename(folder: Path) -> None:
    (folder / "samples.csv").rename(folder / "sample.csv")


def _same_stamp(folder: Path) -> None:
    """Another byte under the same size and time: only the content tells."""
    path = folder / "results.csv"
    before = path.stat()
    path.write_bytes(path.read_bytes().replace(b"71-43-2", b"71-43-3"))
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))


def _hidden(folder: Path) -> None:
    (folder / ".old").mkdir()
    (folder / ".old" / "results.csv").write_text("a pattern in a mapping may find it\n")


def _deep(folder: Path, name: str, text: str = "x\n") -> None:
    (folder / "lab" / "first").mkdir(exist_ok=True)
    (folder / "lab" / "first" / name).write_text(text)


CHANGES: dict[str, Change] = {
    "a cell": lambda folder: (folder / "results.csv").write_text("sample_id,cas\nS1,71-43-3\n"),
    "a cell, size and time kept": _same_stamp,
    "project.yaml": lambda folder: (folder / "project.yaml").write_text("project: Yard\ntime_zone: UTC\n"),
    "a judgement": lambda folder: (folder / "judgements.yaml").write_text("format: 1\n"),
    "a table more": lambda folder: (folder / "purges.csv").write_text("purge_id\n"),
    "a table less": lambda folder: (folder / "samples.csv").unlink(),
    "a name": _rename,
    "a file that feeds no table": lambda folder: (folder / "readme.md").write_text("it is remarked on\n"),
    "a rule file in a folder": lambda folder: _deep(folder, "own.yaml"),
    "a table deep inside": lambda folder: _deep(folder, "results.csv"),
    "a table in another spelling": lambda folder: _deep(folder, "RESULTS.CSV"),
    "a table in a hidden folder": _hidden,
    "an old workbook deep inside": lambda folder: _deep(folder, "lab.xls"),
    "a run deep inside": lambda folder: _deep(folder, "review.json"),
    "a folder that is called like a table": lambda folder: (folder / "lab" / "x.csv").mkdir(parents=True),
    "a link": lambda folder: (folder / "purges.csv").symlink_to(folder / "results.csv"),
    "a link that leads nowhere": lambda folder: (folder / "purges.csv").symlink_to(folder / "nothing.csv"),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_another_key_for(change: Change, tmp_path: Path) -> None:
    folder = write_yard(tmp_path / "yard")
    before = key(folder)
    change(folder)
    assert key(folder).sha256 != before.sha256
    assert not before.still()


def _touch(folder: Path) -> None:
    os.utime(folder / "results.csv", ns=(1, 1))


SAME: dict[str, Change] = {
    "times alone": _touch,
    "a file that an editor hides": lambda folder: (folder / ".results.csv.swp").write_bytes(b"x"),
    "a lock of a spreadsheet": lambda folder: (folder / "~lock.results#").write_bytes(b"x"),
    "photographs deep inside": lambda folder: _deep(folder, "probe.jpg"),
}


@pytest.mark.parametrize("change", SAME.values(), ids=SAME)
def test_the_same_key_for(change: Change, tmp_path: Path) -> None:
    folder = write_yard(tmp_path / "yard")
    before = key(folder)
    change(folder)
    assert key(folder).sha256 == before.sha256


def test_what_a_link_leads_to_counts(tmp_path: Path) -> None:
    folder = write_yard(tmp_path / "yard")
    outside = tmp_path / "outside.csv"
    outside.write_text("a\n")
    (folder / "purges.csv").symlink_to(outside)
    before = key(folder)
    outside.write_text("b\n")
    assert key(folder).sha256 != before.sha256


def test_every_file_that_is_read_or_named_counts() -> None:
    """The cache repeats these words, because to import them would cost more than an answer may."""
    assert {*plan.ENDINGS, *SUFFIXES, *(Path(name).suffix for name in folder_reading.OWN_FILES)} == set(keys._READ)
    assert {*folder_reading._TABLE_ENDINGS, *plan._MACROS} <= set(keys._NAMED)
    assert folder_reading.RUN_FILE == keys._RUN_FILE
    assert find_shipped() == installation.shipped_rules()


def test_options_count(tmp_path: Path) -> None:
    folder = write_yard(tmp_path / "yard")
    own = tmp_path / "own.rules"
    own.write_text("format: 1\n")
    found = {
        key(folder).sha256,
        key(folder, shows=Shows("text", colour=True)).sha256,
        key(folder, shows=Shows("json", colour=False)).sha256,
        key(folder, profiles=("illinois", "michigan")).sha256,
        key(folder, profiles=("michigan", "illinois")).sha256,
        key(folder, profiles=("illinoismichigan",)).sha256,
        key(folder, rules=(own,)).sha256,
    }
    before = key(folder, rules=(own,)).sha256
    own.write_text("format: 1\n\n")
    found.add(key(folder, rules=(own,)).sha256)
    assert len(found) == 8
    assert before in found


def test_further_rules_in_a_folder_count(tmp_path: Path) -> None:
    folder, more = write_yard(tmp_path / "yard"), tmp_path / "more"
    more.mkdir()
    (more / "one.yaml").write_text("format: 1\n")
    before = key(folder, rules=(more,))
    (more / "two.yaml").write_text("format: 1\n")
    assert key(folder, rules=(more,)).sha256 != before.sha256
    assert not before.still()


def test_the_same_folder_elsewhere_has_the_same_key_unless_places_are_named(tmp_path: Path) -> None:
    one, other = write_yard(tmp_path / "one"), write_yard(tmp_path / "other")
    assert key(one).sha256 == key(other).sha256
    annotations = Shows("annotations", colour=False)
    assert key(one, shows=annotations).sha256 != key(other, shows=annotations).sha256


@pytest.mark.parametrize("what", ["code", "version", "zones", "rules"])
def test_the_installation_counts(what: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = write_yard(tmp_path / "yard")
    place = tmp_path / what
    place.mkdir()
    if what == "code":
        monkeypatch.setattr(installation, "_PACKAGE", place)
        monkeypatch.setattr(keys, "shipped_rules", lambda: tmp_path)
    elif what == "version":
        monkeypatch.syspath_prepend(str(place))
    elif what == "zones":
        monkeypatch.setenv("PYTHONTZPATH", str(place))
    else:
        monkeypatch.setattr(keys, "shipped_rules", lambda: place)
    before = key(folder).sha256
    name = {"code": "settling.py", "version": "numpy-9.9.9.dist-info", "zones": "Boise", "rules": "purge.yaml"}[what]
    (place / name).write_text("changed")
    assert key(folder).sha256 != before


def test_no_key_where_nothing_can_be_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert key_of(tmp_path / "nothing", TEXT, (), ()) is None
    assert key_of(tmp_path, TEXT, (), ()) is None  # no project.yaml
    folder = write_yard(tmp_path / "yard")
    assert key_of(folder, TEXT, (), (tmp_path / "no.yaml",)) is None
    monkeypatch.setattr(keys, "ENTRIES_AT_MOST", 4)  # three files and a folder
    assert key_of(folder, TEXT, (), ()) is not None
    monkeypatch.setattr(keys, "ENTRIES_AT_MOST", 3)
    assert key_of(folder, TEXT, (), ()) is None
    monkeypatch.setattr(keys, "ENTRIES_AT_MOST", 4)
    monkeypatch.setattr(keys, "BYTES_AT_MOST", 10)
    assert key_of(folder, TEXT, (), ()) is None


def test_a_pipe_in_the_folder_is_not_opened(tmp_path: Path) -> None:
    folder = write_yard(tmp_path / "yard")
    os.mkfifo(folder / "purges.csv")  # opened, it would wait for ever
    assert "purges.csv" not in "".join(key(folder).contents)


def test_a_key_stands_only_for_what_was_read(tmp_path: Path) -> None:
    folder = write_yard(tmp_path / "yard")
    one, rules = key(folder), shipped()
    assert one.stands_for(inputs(folder), rules)
    assert not one.stands_for({}, rules)
    assert not one.stands_for({**inputs(folder), "results.csv": "0" * 64}, rules)
    assert not one.stands_for({**inputs(folder), "lab/else.csv": digest(folder / "results.csv")}, rules)
    assert not one.stands_for(inputs(folder), {**rules, "rules/purge.yaml": "0" * 64})
    assert not one.stands_for(inputs(folder), {**rules, "own.rules": "0" * 64})
