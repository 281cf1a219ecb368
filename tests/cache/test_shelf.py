"""Where answers are kept: what cannot be trusted is no answer, and nothing that is wrong with a cache ever raises."""

from __future__ import annotations

import hashlib
import json
import os
import stat
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from small_folder import ANSWER, inputs, kept, key, shipped, write_yard

from vaporqa.cache import Answer, Key, find, keep, shelf


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("VAPORQA_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    return write_yard(tmp_path / "yard")


def test_kept_and_found(home: Path, yard: Path) -> None:
    assert find(key(yard)) is None
    assert not home.exists()
    kept(yard)
    assert find(key(yard)) == ANSWER
    assert stat.S_IMODE(home.stat().st_mode) == 0o700
    assert [stat.S_IMODE(entry.stat().st_mode) for entry in home.iterdir()] == [0o600]


def _entry(home: Path) -> Path:
    (path,) = home.glob("*.answer")
    return path


def _sealed(entry: dict[str, object]) -> bytes:
    body = json.dumps(entry).encode()
    return hashlib.sha256(body).hexdigest().encode() + b"\n" + body


def _another_standing(data: bytes) -> bytes:
    return data.replace(b'"worst": 0', b'"worst": 1')


BROKEN: dict[str, Callable[[bytes, str], bytes]] = {
    "empty": lambda data, key: b"",
    "cut short": lambda data, key: data[:-20],
    "one byte other": lambda data, key: _another_standing(data),
    "foreign": lambda data, key: b"SQLite format 3\0" * 9,
    "no JSON": lambda data, key: hashlib.sha256(b"{").hexdigest().encode() + b"\n{",
    "another key's": lambda data, key: _sealed({"format": 1, "key": "0" * 64, "worst": 0, "said": "x"}),
    "another format": lambda data, key: _sealed({"format": 2, "key": key, "worst": 0, "said": "x"}),
    "no such standing": lambda data, key: _sealed({"format": 1, "key": key, "worst": 4, "said": "x"}),
    "a yes for a standing": lambda data, key: _sealed({"format": 1, "key": key, "worst": True, "said": "x"}),
    "text that is none": lambda data, key: _sealed({"format": 1, "key": key, "worst": 0, "said": [1]}),
    "a list": lambda data, key: _sealed([1]),  # type: ignore[arg-type]
    "deep": lambda data, key: _sealed_body(b"[" * 100_000),
}


def _sealed_body(body: bytes) -> bytes:
    return hashlib.sha256(body).hexdigest().encode() + b"\n" + body


@pytest.mark.parametrize("broken", BROKEN.values(), ids=BROKEN)
def test_a_broken_entry_is_no_answer_and_is_replaced(
    broken: Callable[[bytes, str], bytes], home: Path, yard: Path
) -> None:
    one = kept(yard)
    path = _entry(home)
    path.write_bytes(broken(path.read_bytes(), one.sha256))
    assert find(one) is None
    kept(yard)
    assert find(one) == ANSWER


def _opened(path: Path, mode: int) -> None:
    path.chmod(mode)


def _linked(path: Path) -> None:
    path.rename(path.with_name("elsewhere"))
    path.symlink_to(path.with_name("elsewhere"))


@pytest.mark.parametrize("mode", [0o620, 0o602, 0o666])
def test_an_entry_that_others_may_write_is_no_answer(mode: int, home: Path, yard: Path) -> None:
    one = kept(yard)
    _entry(home).chmod(mode)
    assert find(one) is None


@pytest.mark.parametrize("mode", [0o770, 0o707, 0o777, 0o1777])
def test_a_folder_that_others_may_write_to_is_no_shelf(mode: int, home: Path, yard: Path) -> None:
    one = kept(yard)
    home.chmod(mode)
    assert find(one) is None
    assert not keep(one, ANSWER, inputs(yard), shipped())


def test_links_are_not_followed(home: Path, yard: Path) -> None:
    one = kept(yard)
    _linked(_entry(home))
    assert find(one) is None
    kept(yard)
    _linked(home)
    assert find(one) is None
    assert not keep(one, ANSWER, inputs(yard), shipped())


def test_somebody_else_s_folder_or_entry_is_not_trusted(
    home: Path, yard: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = kept(yard)
    monkeypatch.setattr(os, "geteuid", lambda: home.stat().st_uid + 1)
    assert find(one) is None
    assert not keep(one, ANSWER, inputs(yard), shipped())


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can give a file away")
def test_an_entry_that_was_given_away_is_not_trusted(home: Path, yard: Path) -> None:
    one = kept(yard)
    os.chown(_entry(home), 12345, -1)
    assert find(one) is None


@pytest.mark.skipif(os.geteuid() != 0, reason="only root could")
def test_root_makes_no_folder_in_somebody_s_home(tmp_path: Path, yard: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    somebody = tmp_path / "somebody"
    somebody.mkdir()
    os.chown(somebody, 12345, -1)
    monkeypatch.setenv("VAPORQA_CACHE", str(somebody / ".cache" / "vaporqa"))
    assert not keep(key(yard), ANSWER, inputs(yard), shipped())
    assert list(somebody.iterdir()) == []


def _in_place_of(home: Path, kind: str) -> None:
    if kind == "a file":
        home.write_text("a file stands here")
    elif kind == "a link that leads nowhere":
        home.symlink_to(home.with_name("nothing"))
    else:
        home.with_name("blocked").write_text("")
        home.symlink_to(home.with_name("blocked") / "below a file")


@pytest.mark.parametrize("kind", ["a file", "a link that leads nowhere", "a link below a file"])
def test_what_is_no_folder_keeps_nothing(kind: str, home: Path, yard: Path) -> None:
    _in_place_of(home, kind)
    assert find(key(yard)) is None
    assert not keep(key(yard), ANSWER, inputs(yard), shipped())


@pytest.mark.parametrize("step", ["mkstemp", "replace"])
def test_a_full_or_read_only_disk_keeps_nothing_and_leaves_nothing(
    step: str, home: Path, yard: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> object:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(*(("tempfile.mkstemp", full) if step == "mkstemp" else (Path, "replace", full)))
    assert not keep(key(yard), ANSWER, inputs(yard), shipped())
    assert list(home.iterdir()) == []


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_read_only_folder_answers_and_keeps_nothing(home: Path, yard: Path) -> None:
    one = kept(yard)
    home.chmod(0o500)
    assert find(one) == ANSWER
    (yard / "purges.csv").write_text("purge_id\n")
    assert not keep(key(yard), ANSWER, inputs(yard), shipped())
    home.chmod(0o700)


def _changed(yard: Path) -> Key:
    one = key(yard)
    (yard / "results.csv").write_text("sample_id,cas\nS1,75-01-4\n")
    return one


def test_a_file_that_changed_meanwhile_is_kept_under_no_key(home: Path, yard: Path) -> None:
    one = _changed(yard)
    assert not keep(one, ANSWER, inputs(yard), shipped())  # the review read the new bytes
    assert not home.exists()


def test_a_file_that_changed_after_it_was_read_is_kept_under_no_key(home: Path, yard: Path) -> None:
    read = inputs(yard)
    one = _changed(yard)
    assert not keep(one, ANSWER, read, shipped())
    assert not home.exists()


def test_a_file_that_changed_to_and_fro_is_kept_under_no_key(home: Path, yard: Path) -> None:
    path = yard / "results.csv"
    old = path.read_bytes()
    one = _changed(yard)
    read = inputs(yard)
    path.write_bytes(old)
    assert key(yard).sha256 == one.sha256
    assert not keep(one, ANSWER, read, shipped())


def test_a_folder_that_disappeared_meanwhile_is_kept_under_no_key(home: Path, yard: Path) -> None:
    one, read = key(yard), inputs(yard)
    yard.rename(yard.with_name("gone"))
    assert not keep(one, ANSWER, read, shipped())
    assert not home.exists()


def test_an_answer_that_is_too_long_is_not_kept(home: Path, yard: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shelf, "ENTRY_AT_MOST", 10)
    assert not keep(key(yard), ANSWER, inputs(yard), shipped())


def test_the_oldest_go(home: Path, yard: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    found = []
    for number in range(4):
        (yard / "results.csv").write_text(f"sample_id,cas\nS{number},71-43-2\n")
        found.append(kept(yard, Answer(b"x" * 1000, number)))
        os.utime(home / f"{found[-1].sha256}.answer", (number + 1, number + 1))
    assert find(found[0]) == Answer(b"x" * 1000, 0)  # asked for: it is the youngest now
    monkeypatch.setattr(shelf, "SHELF_AT_MOST", 3500)
    (yard / "results.csv").write_text("sample_id,cas\nlast,71-43-2\n")
    last = kept(yard)
    assert [find(one) is not None for one in (*found, last)] == [True, False, False, True, True]


def test_nothing_but_our_own_is_taken_away(home: Path, yard: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home.mkdir(mode=0o700)
    for name in ("notes.txt", "x.answer", ".aside-young", ".aside-old"):
        (home / name).write_text("y" * 5000)
        os.utime(home / name, (1, 1))
    os.utime(home / ".aside-young", (time.time(), time.time()))
    monkeypatch.setattr(shelf, "SHELF_AT_MOST", 0)
    kept(yard)
    assert sorted(path.name for path in home.iterdir()) == [".aside-young", "notes.txt", "x.answer"]


def test_many_at_once(home: Path, yard: Path) -> None:
    one, read, rules = key(yard), inputs(yard), shipped()

    def turn(_: int) -> bool:
        return keep(one, ANSWER, read, rules) and find(one) == ANSWER

    with ThreadPoolExecutor(8) as pool:
        assert all(pool.map(turn, range(64)))
    assert [path.name for path in home.iterdir()] == [f"{one.sha256}.answer"]


@pytest.mark.parametrize(
    ("system", "variables", "expected"),
    [
        ("linux", {}, "{home}/.cache/vaporqa"),
        ("linux", {"XDG_CACHE_HOME": "/var/tmp/kept"}, "/var/tmp/kept/vaporqa"),
        ("linux", {"XDG_CACHE_HOME": "relative"}, "{home}/.cache/vaporqa"),
        ("darwin", {"XDG_CACHE_HOME": "/var/tmp/kept"}, "{home}/Library/Caches/vaporqa"),
        ("linux", {"VAPORQA_CACHE": "/var/tmp/own", "XDG_CACHE_HOME": "/var/tmp/kept"}, "/var/tmp/own"),
        ("linux", {"VAPORQA_CACHE": ""}, "None"),
    ],
)
def test_where(
    system: str, variables: dict[str, str], expected: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("VAPORQA_CACHE", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "platform", system)
    assert str(shelf.shelf()) == expected.format(home=tmp_path)
