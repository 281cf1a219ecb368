"""Evidence that is taken away never makes a row better, and what a rule needs and has not is unproven by name.

The expectations are those of the written contract: "an empty condition, a missing table that a rule needs, an unmet
key, or a row that no rule could judge is unproven, by name, on the first page"; `-done` rules speak once a sample, and
where one speaks for an absent table the other rules of that table are silent.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from vaporqa.criteria import Rulebook
from vaporqa.intake import load_project, read_folder
from vaporqa.outcomes import Outcome, Standing
from vaporqa.review import review_folder
from vaporqa.review.values import Review
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.dictionary import TABLES
from vaporqa.tables.project import Project
from vaporqa.tables.values import Bool, Table, Tables, Text

SAMPLE_INPUTS = Path(__file__).resolve().parents[2] / "sample_inputs"
FOLDERS = ("larkspur-yard", "marrowgate-plating")
SOIL_GAS_KINDS = ("primary", "field_duplicate", "field_replicate")
SOIL_GAS = ("soil_gas", "subslab_gas")

OF_PROBES = ("equilibration-time", "probe-depth", "tip-opened", "tubing-reaches-tip", "tubing-material")
CALIBRATIONS = ("initial-calibration", "calibration-check", "second-source-check")
#: Table -> rules that must make every soil-gas result unproven where the folder has no such table, with the table and
#: key of the finding: `*` once on the whole table, else once a sample or result.
WITHOUT: Mapping[str, Mapping[str, tuple[str, str]]] = {
    "probes": dict.fromkeys(OF_PROBES, ("probes", "*")),
    "shut_in_tests": {"shut-in-done": ("samples", "")},
    "tracer_tests": {"leak-test-done": ("samples", "")},
    "purges": {"purge-done": ("samples", "")},
    "instrument_checks": {"instrument-checked": ("tracer_tests", "*")},
    "lab_qc": {"control-sample-recovery": ("lab_qc", "*"), "method-blank": ("results", "*")},
    "samples": {"known-word": ("samples", "")},
}
#: Rules of an absent table that are silent, a `-done` rule speaking for them.
SILENT = {
    "shut_in_tests": ("shut-in-vacuum", "shut-in-hold", "shut-in-decay"),
    "tracer_tests": ("leak-tracer-recovery", "leak-tracer-undetected", "shroud-concentration", "cloth-tracer-recovery"),
    "purges": ("purge-volumes", "purge-flow", "purge-vacuum", "purge-to-sample"),
    "custody": ("custody-order", "custody-unbroken", "identities-match", "seal-intact", "storage-temperature"),
}
#: Table -> rules that note it once on the whole table.
NOTED = {
    "probes": ("joints-tight",),
    "equipment_log": ("equipment-blank-frequency", "cleaning-method"),
    "containers": ("container-certified",),
    "lab_qc": ("control-sample-precision", "laboratory-duplicate-agreement"),
}


@dataclass(frozen=True)
class Folder:
    """A sample folder as it was read, and its review."""

    project: Project
    tables: Tables
    book: Rulebook
    review: Review

    def without(self, name: str, column: str = "") -> Review:
        """Review it without a table, or without a column."""
        tables = dict(self.tables.tables)
        if column:
            table = tables[name]
            columns = {key: value for key, value in table.columns.items() if key != column}
            tables[name] = replace(table, columns=columns)
        else:
            del tables[name]
        return self.reviewed(tables)

    def with_column(self, name: str, column: str, found: Text) -> Review:
        """Review it with other texts in a column."""
        table = self.tables.tables[name]
        changed = replace(table, columns={**table.columns, column: found})
        return self.reviewed({**self.tables.tables, name: changed})

    def reviewed(self, tables: Mapping[str, Table]) -> Review:
        """Review some tables as those of this folder."""
        changed = replace(self.tables, tables=tables)
        return review_folder(self.project, changed, self.book)


@cache
def opened(name: str) -> Folder:
    """A sample folder, read once."""
    project = load_project(SAMPLE_INPUTS / name)
    tables = read_folder(SAMPLE_INPUTS / name, project)
    book = load_rulebook(profiles=project.profiles)
    return Folder(project, tables, book, review_folder(project, tables, book))


@cache
def without(name: str, table: str) -> Review:
    """Review of a sample folder without a table."""
    return opened(name).without(table)


def soil_gas(folder: Folder, samples: set[str] | None = None) -> Bool:
    """Target results in use of soil-gas samples (of some of them), passive samplers apart, by row of results."""
    home = folder.tables.tables["samples"]
    kind, matrix, container = (home.word(column) for column in ("kind", "matrix", "container"))
    assert kind is not None
    assert matrix is not None
    assert container is not None
    wanted = {
        str(key)
        for row, key in enumerate(home.keys)
        if kind.words[kind.codes[row]] in SOIL_GAS_KINDS
        and matrix.words[matrix.codes[row]] in SOIL_GAS
        and container.words[container.codes[row]] != "passive_sampler"
    }
    results = folder.tables.tables["results"]
    named, evidence = results.text("sample_id"), folder.review.evidence
    assert named is not None
    assert evidence.results is not None
    of = np.array([named.at(row) in (wanted if samples is None else wanted & samples) for row in range(results.rows)])
    return np.asarray(of & evidence.results.target & (evidence.in_use != 0))


def worth(review: Review) -> np.ndarray:
    """Standing of each result."""
    return np.asarray(review.settled["results"].standing)


def named(review: Review, rule: str, table: str, key: str) -> set[int]:
    """Result rows that name an unproven finding of a rule on a table; an empty key is any."""
    found = review.findings
    of_rule = np.array([one.id == rule for one in review.rules])[found.rule]
    on_table = np.array([one == table for one in found.tables], bool)[found.table]
    wanted = of_rule & on_table & (found.outcome == Outcome.UNPROVEN)
    if key:
        wanted &= found.key == key
    assert review.evidence.results is not None
    sample = review.evidence.results.sample
    here, through = (any_of(wanted, pairs) for pairs in (review.rows_findings["results"], review.sample_findings))
    reached = review.takes_sample_findings & (sample >= 0) & np.append(through, False)[sample]
    return set(np.flatnonzero(here | reached).tolist())


def any_of(wanted: Bool, by_row: tuple[np.ndarray, np.ndarray]) -> Bool:
    """Rows that name a wanted finding."""
    starts, of_row = by_row
    count = np.concatenate([[0], np.cumsum(wanted[of_row])])
    return np.asarray(count[starts[1:]] > count[starts[:-1]])


def tracers(folder: Folder) -> Bool:
    """Results of what some leak test used as its tracer: no test qualifies its own tracer's row."""
    tests, results = folder.tables.tables["tracer_tests"], folder.tables.tables["results"]
    used = tests.text("tracer")
    assert used is not None
    spellings = {used.at(row) for row in range(tests.rows)}
    columns = [column for column in map(results.text, ("cas", "analyte")) if column is not None]
    return np.array([any(column.at(row) in spellings for column in columns) for row in range(results.rows)], bool)


@pytest.mark.parametrize("name", FOLDERS)
@pytest.mark.parametrize("table", WITHOUT)
def test_a_folder_without_a_table_has_no_usable_result_that_needed_it(name: str, table: str) -> None:
    folder = opened(name)
    concerned = soil_gas(folder)
    if table == "instrument_checks":
        concerned &= ~tracers(folder)
    assert (worth(folder.review)[concerned] == Standing.USABLE).any()
    review = without(name, table)
    assert not (worth(review)[concerned] < Standing.UNPROVEN).any()
    for rule, (home, key) in WITHOUT[table].items():
        missed = set(np.flatnonzero(concerned).tolist()) - named(review, rule, home, key)
        assert not missed, rule


@pytest.mark.parametrize("name", FOLDERS)
@pytest.mark.parametrize("table", SILENT)
def test_where_a_done_rule_speaks_the_others_of_its_table_are_silent(name: str, table: str) -> None:
    review = without(name, table)
    ids = {str(one).partition("/")[0] for one in review.findings.id}
    assert not ids & set(SILENT[table])


@pytest.mark.parametrize("table", ["shut_in_tests", "tracer_tests", "purges"])
def test_where_the_done_rule_is_left_out_the_others_speak(table: str) -> None:
    folder = opened("larkspur-yard")
    done = {"shut_in_tests": "shut-in-done", "tracer_tests": "leak-test-done", "purges": "purge-done"}[table]
    project = replace(folder.project, leave_out={done: "no forms were kept"})
    review = replace(folder, project=project).without(table)
    concerned = set(np.flatnonzero(soil_gas(folder)).tolist())
    for rule in SILENT[table]:
        assert concerned <= named(review, rule, table, "*"), rule


@pytest.mark.parametrize("name", FOLDERS)
@pytest.mark.parametrize("table", NOTED)
def test_what_only_earns_a_note_is_noted_once(name: str, table: str) -> None:
    review = without(name, table)
    ids = [str(one) for one in review.findings.id]
    for rule in NOTED[table]:
        assert ids.count(f"{rule}/{table}/*") == 1


@pytest.mark.parametrize("name", FOLDERS)
def test_without_log_and_probes_nothing_says_what_drew_a_sample(name: str) -> None:
    folder = opened(name)
    tables = {key: table for key, table in folder.tables.tables.items() if key not in ("equipment_log", "probes")}
    found = named(folder.reviewed(tables), "clean-between-locations", "equipment_log", "*")
    assert set(np.flatnonzero(soil_gas(folder)).tolist()) <= found


@pytest.mark.parametrize("name", FOLDERS)
@pytest.mark.parametrize("word", ["", "no such probe"])
def test_a_sample_whose_probe_is_lost_is_told_by_itself(name: str, word: str) -> None:
    folder = opened(name)
    home = folder.tables.tables["samples"]
    text = home.text("probe_id")
    assert text is not None
    codes, words = text.codes.copy(), np.append(text.words, word).astype(object)
    codes[::2] = len(words) - 1 if word else -1
    review = folder.with_column("samples", "probe_id", replace(text, codes=codes, words=words))
    for key in map(str, home.keys[::2]):
        concerned = set(np.flatnonzero(soil_gas(folder, {key})).tolist())
        for rule in OF_PROBES:
            assert concerned <= named(review, rule, "probes", f"*:{key}"), (key, rule)
        assert not (worth(review)[sorted(concerned)] < Standing.UNPROVEN).any()
    others = {str(key) for key in home.keys[1::2]}
    assert not named(review, "probe-depth", "probes", "") & set(np.flatnonzero(soil_gas(folder, others)).tolist()) - (
        named(folder.review, "probe-depth", "probes", "")
    )


@pytest.mark.parametrize("name", FOLDERS)
def test_a_column_of_probes_that_is_not_there_is_said_once(name: str) -> None:
    folder = opened(name)
    review = folder.without("samples", "probe_id")
    concerned = set(np.flatnonzero(soil_gas(folder)).tolist())
    for rule in OF_PROBES:
        assert concerned <= named(review, rule, "probes", "*"), rule
        assert not [one for one in review.findings.id if str(one).startswith(f"{rule}/probes/*:")]


#: Columns without which some row of the second folder is worth more, and the words of the contract that allow it.
BETTER = {
    # no evidence: `-` (silent), or `note`
    **dict.fromkeys(
        ("shut_in_tests.train_changed_after", "purges.started_at", "samples.vacuum_highest", "samples.container_id",
         "results.recovery"),
        "no evidence earns nothing, or a note",
    ),
    # another column steps in, as the rulebook says
    "shut_in_tests.duration": "duration, else end minus start",
    "samples.ended_at": "`collected_at`: used where samples has none",
    "results.collected_at": "a `collected_at` that is not there disagrees with nothing",
    "results.area_low": "area against area_low and area_high, else the check standard's area",
    "results.area_high": "area against area_low and area_high, else the check standard's area",
    "lab_qc.rsd": "numbers before `passed`",
    "lab_qc.difference": "numbers before `passed`",
    "results.cas": "same analyte (CAS, else name)",
    # two records that disagree are a finding; one alone is what there is
    "results.result_mass": "forms-agree has one form",
    "results.result_volume": "forms-agree has one form",
    "results.detection_limit_mass": "result-consistent has one limit less",
}  # fmt: skip


def test_taking_a_column_away_makes_no_row_better() -> None:
    folder = opened("marrowgate-plating")
    before = worth(folder.review)
    better = set()
    for name in ("probes", "equipment_log", "shut_in_tests", "tracer_tests", "purges", "samples", "lab_qc", "results"):
        for column in folder.tables.tables[name].columns:
            spec = TABLES[name].column(column)
            if spec is None or spec.required or f"{name}.{column}" == "results.result_id":
                continue  # intake stops where a required column is not there
            after = worth(folder.without(name, column))
            if ((after < before) & (after < Standing.UNPROVEN)).any():
                better.add(f"{name}.{column}")
    assert better == set(BETTER)
