"""The shipped rules as they were read: value for value what the files say, or the files are read again."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import pytest

import vaporqa
from vaporqa.cache import rulebooks
from vaporqa.cache.rulebooks import kept_rulebook
from vaporqa.criteria import Rulebook
from vaporqa.errors import UsageError
from vaporqa.rulebook import load_rulebook, profile_summaries

CUTBANK = Path(__file__).parent.parent.parent / "sample_inputs" / "cutbank-terminal"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("VAPORQA_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


def _never() -> Rulebook:
    raise AssertionError("the files are read")


def _assert_same(one: Any, other: Any) -> None:
    """Equal in every value, every type and every order of names."""
    assert type(one) is type(other)
    if isinstance(one, Mapping):
        assert list(one) == list(other)
        for name in one:
            _assert_same(one[name], other[name])
    elif isinstance(one, tuple):
        assert len(one) == len(other)
        for pair in zip(one, other, strict=True):
            _assert_same(*pair)
    elif is_dataclass(one):
        for field in fields(one):
            _assert_same(getattr(one, field.name), getattr(other, field.name))
    else:
        assert one == other or (math.isnan(one) and math.isnan(other))


@pytest.mark.parametrize("profiles", [(), *((name,) for name in profile_summaries()), ("illinois", "bag-72")])
def test_what_is_kept_is_what_the_files_say(profiles: tuple[str, ...]) -> None:
    read = load_rulebook(profiles=profiles)
    assert kept_rulebook(profiles, lambda: read) is read
    _assert_same(kept_rulebook(profiles, _never), read)


def test_an_unknown_profile_is_said_each_time(home: Path) -> None:
    for _ in range(2):
        with pytest.raises(UsageError, match="there is no profile 'ilinois'; did you mean 'illinois'"):
            kept_rulebook(("ilinois",), lambda: load_rulebook(profiles=("ilinois",)))
    assert not home.exists()


def _sealed(entry: object) -> bytes:
    body = json.dumps(entry).encode()
    return hashlib.sha256(body).hexdigest().encode() + b"\n" + body


@pytest.mark.parametrize(
    "rulebook", [{}, [], "x", {"Rulebook": []}, {"Rulebook": [[], [], [], [], [], [], [], 1, 2]}, {"Rule": ["x"]},
                 {"Letter": 12345}, {"Nothing": 1}, {"a": 1, "b": 2}, {"": 3}],
)  # fmt: skip
def test_what_is_no_rulebook_is_read_again(rulebook: object, home: Path) -> None:
    read = load_rulebook()
    kept_rulebook((), lambda: read)
    (path,) = home.glob("*.answer")
    path.write_bytes(_sealed({"format": 1, "key": path.stem, "rulebook": rulebook}))
    assert kept_rulebook((), lambda: read) is read
    _assert_same(kept_rulebook((), _never), read)


def test_rules_that_changed_while_they_were_read_are_not_kept(home: Path) -> None:
    read = load_rulebook()
    other = replace(read, files={**read.files, "rules/purge.yaml": "0" * 64})
    assert kept_rulebook((), lambda: other) is other
    assert not home.exists()


def test_a_value_that_would_not_come_back_as_it_was_is_not_kept(home: Path) -> None:
    read = load_rulebook()
    other = replace(read, choose={"compare": ["exact"]})  # type: ignore[dict-item]
    assert kept_rulebook((), lambda: other) is other
    assert not home.exists()


def test_a_review_says_the_same_with_and_without() -> None:
    plain = vaporqa.check(CUTBANK, profile="california-2003")
    for _ in range(2):
        kept = vaporqa.check(CUTBANK, profile="california-2003", cached=True)
        assert kept.json() == plain.json()
        assert kept.text() == plain.text()


def test_the_library_alone_keeps_nothing(home: Path) -> None:
    vaporqa.check(CUTBANK)
    assert not home.exists()


def test_a_project_s_own_rules_are_read_each_time(home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object) -> Rulebook:
        raise AssertionError("asked for kept rules")

    monkeypatch.setattr(rulebooks, "kept_rulebook", refused)
    monkeypatch.setattr("vaporqa.library.kept_rulebook", refused)
    with pytest.raises(AssertionError, match="asked for kept rules"):
        vaporqa.check(CUTBANK, cached=True)
    own = tmp_path / "own.yaml"
    own.write_text("format: 1\nprofile: own\nabout: Nothing is changed.\nlimits: {}\n")
    assert "own" in vaporqa.check(CUTBANK, rules=[own], cached=True).review.rulebook.profiles
