"""Two runs that were written: which rows end otherwise, which came and went, and which findings are behind it.

A run is read from its folder alone (`review.json`, `run.json`, `findings.csv`, `flags/`), so that two deliveries of
which only the reports were kept can still be compared.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from csv import Error as CsvError
from csv import reader as csv_records
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from vaporqa.comparing.reviews import Mover
from vaporqa.errors import FolderError, Problem
from vaporqa.tables.values import Int64, Texts

if TYPE_CHECKING:
    import pyarrow as pa

JOINED_BY = "; "
#: What a row ended as; a row that differs in any of them is changed, in the first two moved.
ENDED = ("standing", "qualifier", "bias", "final_detected", "final_value", "final_limit", "final_unit", "final_in_use")
_READ = ("key", *ENDED, "findings", "source_file", "source_line")
#: What makes a finding another one under the same id.
_FINDING = ("outcome", "effect", "qualifier_detect", "qualifier_nondetect", "measured", "limit", "unit")
_MEND = "name the folder that `vaporqa check FOLDER --out DIR` wrote"


@dataclass(frozen=True, slots=True)
class Run:
    """One run, as its folder has it.

    Attributes
    ----------
    folder : Path
    review, run : mapping
        review.json and run.json.
    flags : mapping
        Table to the columns of its flag file that are compared, each an object array (n,).
    findings : mapping
        Id to its line in findings.csv.
    """

    folder: Path
    review: Mapping[str, Any]
    run: Mapping[str, Any]
    flags: Mapping[str, Mapping[str, Texts]]
    findings: Mapping[str, Mapping[str, str]]


@dataclass(frozen=True, slots=True)
class Why:
    """A finding behind a change: it is `new`, `gone` or `changed`; `reason` is the newer one, `was` the older."""

    what: str
    finding: str
    rule: str
    reason: str
    was: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A row of either run or of both; `old` and `new` hold what it ended as, None where it is not there.

    `place` is where it stands in the newer run, else in the older.
    """

    table: str
    key: str
    place: str
    old: Mapping[str, str] | None
    new: Mapping[str, str] | None
    why: tuple[Why, ...]

    def ended(self, side: Mapping[str, str] | None) -> str:
        """Standing and qualifier in words; empty where the row is not there."""
        return f"{side['standing']} {side['qualifier']}".strip() if side is not None else ""


@dataclass(frozen=True, slots=True)
class RunComparison:
    """Two runs compared.

    Attributes
    ----------
    old, new : Run
    differences : tuple of Mover
        Profiles, choices and limits that are not the same.
    inputs : tuple of (str, str)
        Input file, and whether it is new, gone or changed.
    standings : mapping
        Table to (standing before, standing after) to number of rows; an empty standing is a row that is not there.
    moved, changed, came, went : tuple of Row
        Rows whose standing or qualifier moved; that end with another number, limit, bias or run in use only; that are
        in the newer run alone; in the older alone.
    by_rule : tuple of (str, int, int, int)
        Rule, findings new, gone and changed.
    """

    old: Run
    new: Run
    differences: tuple[Mover, ...]
    inputs: tuple[tuple[str, str], ...]
    standings: Mapping[str, Mapping[tuple[str, str], int]]
    moved: tuple[Row, ...]
    changed: tuple[Row, ...]
    came: tuple[Row, ...]
    went: tuple[Row, ...]
    by_rule: tuple[tuple[str, int, int, int], ...]

    @property
    def same(self) -> bool:
        """Nothing ends otherwise."""
        return not (self.moved or self.changed or self.came or self.went)


def read_run(folder: Path) -> Run:
    """Read a run from the folder that it was written into.

    Raises
    ------
    FolderError
        The folder holds no run, or a file of it is missing or is not what the run wrote.
    """
    folder = Path(folder)
    problems: list[Problem] = []
    if not (folder / "review.json").is_file():
        said = "this project folder holds no run" if (folder / "project.yaml").is_file() else "this folder holds no run"
        if not folder.is_dir():
            said = "there is no such folder"
        raise FolderError(Problem(str(folder), 0, 0, f"{said} (no review.json)", _MEND))
    review, run = (_json(folder / name, problems) for name in ("review.json", "run.json"))
    if review is not None and review.get("format") != 1:
        problems.append(Problem(str(folder / "review.json"), 0, 0, "the format of this run is not known", _MEND))
    flags = {path.stem: _columns(path, _READ, problems) for path in sorted((folder / "flags").glob("*.csv"))}
    wanted = ("finding", "rule", "reason", *_FINDING)
    found = _columns(folder / "findings.csv", wanted, problems)
    if not problems:
        lacks = [name for name in ("finding", "rule", "reason") if name not in found]
        lacks += [f"{table}: {name}" for table, columns in flags.items() for name in _READ[:3] if name not in columns]
        problems += [Problem(str(folder), 0, 0, f"the run has no column '{name}'", "run it again") for name in lacks]
    if review is not None and run is not None:
        problems += _not_whole(folder, review, run, bool(problems))
    if problems or review is None or run is None:
        raise FolderError(problems)
    rows = zip(*(found[name].tolist() for name in wanted if name in found), strict=True)
    names = [name for name in wanted if name in found]
    findings = {row[0]: dict(zip(names, row, strict=True)) for row in rows}
    return Run(folder, review, run, flags, findings)


def _not_whole(folder: Path, review: Mapping[str, Any], run: Mapping[str, Any], told: bool) -> Iterator[Problem]:
    """Yield what is not as run.json states: the run was cut short while it was written, or touched since."""
    for name, found, parts in (("review.json", review, _OF_REVIEW), ("run.json", run, _OF_RUN)):
        if not all(_fits(found.get(key), shape) for key, shape in parts.items()):
            yield Problem(str(folder / name), 0, 0, "it is missing, or is not what a run writes", "run it again")
            return
    if told:
        return
    written: Mapping[str, str] = run["written"]
    read = {"review.json", "findings.csv", *(f"flags/{path.name}" for path in (folder / "flags").glob("*.csv"))}
    for name in sorted(read | {name for name in written if name.startswith("flags/") and name.endswith(".csv")}):
        path = folder / name
        if not path.is_file() or hashlib.sha256(path.read_bytes()).hexdigest() != written.get(name):
            message = "it is not the file that run.json states: the run was cut short, or the file was touched since"
            yield Problem(str(path), 0, 0, message, "run it again")


#: Parts of the two files that a comparison looks into: a mapping to texts, a list of texts, or of mappings with texts.
_OF_REVIEW: Mapping[str, Any] = {"profiles": [], "choices": {}, "limits": ["limit", "written"], "rules": ["id"]}
_OF_RUN: Mapping[str, Any] = {"versions": {}, "inputs": {}, "written": {}}


def _fits(found: object, shape: Sequence[str] | Mapping[str, str]) -> bool:
    if isinstance(shape, Mapping):
        return isinstance(found, dict) and all(isinstance(one, str) for one in found.values())
    if not isinstance(found, list):
        return False
    if not shape:
        return all(isinstance(one, str) for one in found)
    return all(isinstance(one, dict) and all(isinstance(one.get(key), str) for key in shape) for one in found)


def _json(path: Path, problems: list[Problem]) -> dict[str, Any] | None:
    try:
        found = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        found = None
    if isinstance(found, dict):
        return found
    problems.append(Problem(str(path), 0, 0, "it is missing, or is not what a run writes", "run it again"))
    return None


def _columns(path: Path, wanted: Sequence[str], problems: list[Problem]) -> dict[str, Texts]:
    table = _csv(path, problems)
    if table is None:
        return {}
    out = {name: table[name].to_numpy(zero_copy_only=False) for name in wanted if name in table.column_names}
    if "key" in out:
        out["_text"] = _own_text(table, out["key"])
    return out


def _csv(path: Path, problems: list[Problem]) -> pa.Table | None:
    import pyarrow as pa
    from pyarrow import csv

    try:
        with path.open(encoding="utf-8", newline="") as file:
            header = next(csv_records(file), [])
        options = csv.ConvertOptions(
            column_types=dict.fromkeys(header, pa.string()), strings_can_be_null=False, quoted_strings_can_be_null=False
        )
        return csv.read_csv(path, parse_options=csv.ParseOptions(newlines_in_values=True), convert_options=options)
    except (OSError, UnicodeError, CsvError, pa.ArrowInvalid):
        message = "it is missing, or is not what a run writes"
        problems.append(Problem(str(path), 0, 0, message, "run it again"))
        return None


def _own_text(table: pa.Table, keys: Texts) -> Texts:
    """Full text of the rows that share their key with another, to tell them apart; empty elsewhere."""
    out: Texts = np.full(len(keys), "", object)
    distinct, inverse, count = np.unique(keys.astype(str), return_inverse=True, return_counts=True)
    shared = np.flatnonzero(count[inverse.reshape(-1)] > 1)
    if len(distinct) == len(keys):
        return out
    names = [name for name in table.column_names if name not in _OURS]
    rows = table.select(names).take(shared).to_pylist()
    out[shared] = ["\x1f".join(str(row[name]) for name in names) for row in rows]
    return out


_OURS = (*ENDED, "reasons", "rules", "findings", "source_file", "source_line")


def compare_runs(old: Run, new: Run) -> RunComparison:
    """Compare two runs, row by row of every table and finding by finding.

    Rows are met by table and key; rows that share a key by their full text first, then in the order of that text.
    """
    why = _Whys(old.findings, new.findings)
    moved: list[Row] = []
    changed: list[Row] = []
    came: list[Row] = []
    went: list[Row] = []
    standings: dict[str, Counter[tuple[str, str]]] = {}
    for table in dict.fromkeys(chain(old.flags, new.flags)):
        one, other = old.flags.get(table, {}), new.flags.get(table, {})
        first, second, left, right = _meet(one, other)
        counts: Counter[tuple[str, str]] = Counter()
        if len(first):
            counts.update(zip(one["standing"][first].tolist(), other["standing"][second].tolist(), strict=True))
        counts.update((str(word), "") for word in one["standing"][left].tolist() if len(left))
        counts.update(("", str(word)) for word in other["standing"][right].tolist() if len(right))
        standings[table] = counts
        moves, differs = _differ(one, other, first, second)
        for rows, into in ((moves, moved), (differs, changed)):
            into.extend(
                _row(table, one, other, a, b, why)
                for a, b in zip(first[rows].tolist(), second[rows].tolist(), strict=True)
            )
        came.extend(_row(table, one, other, -1, b, why) for b in right.tolist())
        went.extend(_row(table, one, other, a, -1, why) for a in left.tolist())
    return RunComparison(
        old, new, _differences(old, new), _inputs(old, new), standings, tuple(moved), tuple(changed), tuple(came),
        tuple(went), why.by_rule(),
    )  # fmt: skip


def _meet(one: Mapping[str, Texts], other: Mapping[str, Texts]) -> tuple[Int64, Int64, Int64, Int64]:
    """Rows that meet, in the order of the newer run, and those of either that meet none."""
    keys = [side["key"].tolist() if "key" in side else [] for side in (one, other)]
    if len(set(keys[0])) == len(keys[0]) and len(set(keys[1])) == len(keys[1]):
        at = {key: place for place, key in enumerate(keys[0])}
        first = np.array([at.get(key, -1) for key in keys[1]], np.int64)
        met = np.flatnonzero(first >= 0)
        gone = np.ones(len(keys[0]), bool)
        gone[first[met]] = False
        return first[met], met, np.flatnonzero(gone), np.flatnonzero(first < 0)
    waiting: dict[tuple[str, str], list[int]] = {}
    for place, pair in enumerate(zip(keys[0], one["_text"].tolist() if keys[0] else [], strict=True)):
        waiting.setdefault(pair, []).append(place)
    texts = list(zip(keys[1], other["_text"].tolist() if keys[1] else [], strict=True))
    found = [waiting[pair].pop(0) if waiting.get(pair) else -1 for pair in texts]
    # What shares a key and was corrected is met in the order of its text.
    left_over: dict[str, list[int]] = {}
    for (key, _), places in sorted(waiting.items()):
        left_over.setdefault(key, []).extend(places)
    for place in sorted((p for p, a in enumerate(found) if a < 0), key=lambda p: texts[p]):
        rest = left_over.get(texts[place][0])
        if rest:
            found[place] = rest.pop(0)
    first = np.array(found, np.int64)
    met = np.flatnonzero(first >= 0)
    gone = np.ones(len(keys[0]), bool)
    gone[first[met]] = False
    return first[met], met, np.flatnonzero(gone), np.flatnonzero(first < 0)


def _differ(one: Mapping[str, Texts], other: Mapping[str, Texts], first: Int64, second: Int64) -> tuple[Int64, Int64]:
    """Places among the rows that meet: those that moved, and those that differ in what else they ended as."""
    moved, differs = np.zeros(len(first), bool), np.zeros(len(first), bool)
    for name in ENDED:
        if len(first) and (name in one or name in other):
            was = one[name][first] if name in one else np.full(len(first), "", object)
            now = other[name][second] if name in other else np.full(len(first), "", object)
            apart = was != now
            if name in ENDED[:2]:
                moved |= apart
            differs |= apart
    return np.flatnonzero(moved), np.flatnonzero(differs & ~moved)


def _row(table: str, one: Mapping[str, Texts], other: Mapping[str, Texts], a: int, b: int, why: _Whys) -> Row:
    old, new = _ended(one, a), _ended(other, b)
    side, at = (other, b) if b >= 0 else (one, a)
    file, line = (str(side[name][at]) if name in side else "" for name in ("source_file", "source_line"))
    was, now = (str(s["findings"][i]) if i >= 0 and "findings" in s else "" for s, i in ((one, a), (other, b)))
    # Of a row that is in one run alone, the findings are what it is, not what moved it.
    reasons = why.of(was, now) if a >= 0 and b >= 0 else ()
    return Row(table, str(side["key"][at]), f"{file}:{line}" if line else file, old, new, reasons)


def _ended(side: Mapping[str, Texts], at: int) -> dict[str, str] | None:
    return {name: str(side[name][at]) if name in side else "" for name in ENDED} if at >= 0 else None


class _Whys:
    """Finds what is behind a row that changed: findings that it names in one run only, or that say something else."""

    def __init__(self, old: Mapping[str, Mapping[str, str]], new: Mapping[str, Mapping[str, str]]) -> None:
        self._old, self._new = old, new
        self._made: dict[tuple[str, str], tuple[Why, ...]] = {}

    def of(self, was: str, now: str) -> tuple[Why, ...]:
        """Return the findings behind the change of a row that named `was` and now names `now`."""
        if (was, now) not in self._made:
            before, after = (dict.fromkeys(part for part in text.split(JOINED_BY) if part) for text in (was, now))
            found = [self._why("gone", one) for one in before if one not in after]
            found += [self._why("new", one) for one in after if one not in before]
            found += [self._why("changed", one) for one in after if one in before and self._says_otherwise(one)]
            self._made[was, now] = tuple(found)
        return self._made[was, now]

    def _why(self, what: str, finding: str) -> Why:
        old, new = self._old.get(finding, {}), self._new.get(finding, {})
        rule = new.get("rule") or old.get("rule") or finding.partition("/")[0]
        if what == "gone":
            return Why(what, finding, rule, old.get("reason", ""))
        return Why(what, finding, rule, new.get("reason", ""), old.get("reason", "") if what == "changed" else "")

    def _says_otherwise(self, finding: str) -> bool:
        old, new = self._old.get(finding), self._new.get(finding)
        if old is None or new is None:
            return False
        return any(old.get(name, "") != new.get(name, "") for name in _FINDING)

    def by_rule(self) -> tuple[tuple[str, int, int, int], ...]:
        """Count the findings that are new, gone or changed, by rule."""
        counts: dict[str, list[int]] = {}
        for finding in dict.fromkeys([*self._old, *self._new]):
            old, new = self._old.get(finding), self._new.get(finding)
            place = 0 if old is None else 1 if new is None else 2 if self._says_otherwise(finding) else -1
            if place >= 0:
                rule = (new or old or {}).get("rule", "")
                counts.setdefault(rule, [0, 0, 0])[place] += 1
        return tuple((rule, new, gone, changed) for rule, (new, gone, changed) in sorted(counts.items()))


def _differences(old: Run, new: Run) -> tuple[Mover, ...]:
    """Profiles, choices, limits and rules in force that are not the same in both."""
    out = []
    words = [", then ".join(run.review.get("profiles", ())) or "baseline" for run in (old, new)]
    if words[0] != words[1]:
        out.append(Mover("profile", *words))
    chosen = [run.review.get("choices", {}) for run in (old, new)]
    limits = [{one["limit"]: one["written"] for one in run.review.get("limits", ())} for run in (old, new)]
    for before, after in (chosen, limits):
        for name in dict.fromkeys([*before, *after]):
            if before.get(name) != after.get(name):
                out.append(Mover(name, str(before.get(name, "")), str(after.get(name, ""))))
    rules = [{one["id"] for one in run.review.get("rules", ())} for run in (old, new)]
    out += [Mover(name, "in force", "not reviewed") for name in sorted(rules[0] - rules[1])]
    out += [Mover(name, "not reviewed", "in force") for name in sorted(rules[1] - rules[0])]
    versions = [str(run.run.get("versions", {}).get("vaporqa", "")) for run in (old, new)]
    if versions[0] != versions[1]:
        out.append(Mover("vaporqa", *versions))
    return tuple(out)


def _inputs(old: Run, new: Run) -> tuple[tuple[str, str], ...]:
    before, after = old.run.get("inputs", {}), new.run.get("inputs", {})
    out = []
    for name in sorted({*before, *after}):
        if name not in before or name not in after:
            out.append((name, "new" if name not in before else "gone"))
        elif before[name] != after[name]:
            out.append((name, "changed"))
    return tuple(out)
