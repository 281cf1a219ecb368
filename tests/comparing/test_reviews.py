"""A folder under two rulebooks: which rows move, and by what.

The leak is (1.2 - 0) of 20 %v, 6 %: over the 5 % of California's advisory of 2015 and under a limit of 10 %.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from vaporqa.cli.compare import command
from vaporqa.comparing import Comparison, Mover, compare_reviews
from vaporqa.criteria import Rulebook
from vaporqa.errors import UsageError
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Standing
from vaporqa.review import review_folder
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

SHIPPED = load_rulebook()
SAMPLES = (
    "sample_id,kind,matrix,started_at\nA,primary,soil_gas,2025-05-06T10:00Z\nB,primary,soil_gas,2025-05-06T12:00Z\n"
)
TESTS = (
    "test_id,sample_id,at,approach,tracer,train_detected,shroud_low [%v],train_reading [%v]\n"
    "T1,A,2025-05-06T09:50Z,shroud,helium,yes,20,1.2\nT2,B,2025-05-06T11:50Z,shroud,helium,yes,20,0.2\n"
)
RESULTS = (
    "result_id,sample_id,cas,analyte,result,unit,reporting_limit\n"
    "R1,A,71-43-2,benzene,5,ppbv,1\nR2,A,79-01-6,trichloroethene,<1,ppbv,1\nR3,B,71-43-2,benzene,5,ppbv,1\n"
)


def only(*ids: str) -> Rulebook:
    return replace(SHIPPED, rules=tuple(rule for rule in SHIPPED.rules if rule.id in ids))


def with_limit(book: Rulebook, rule_id: str, name: str, value: float, written: str) -> Rulebook:
    rules = []
    for rule in book.rules:
        limits = tuple(
            replace(one, value=value, written=written) if rule.id == rule_id and one.name == name else one
            for one in rule.limits
        )
        rules.append(replace(rule, limits=limits))
    return replace(book, rules=tuple(rules))


def rows_of(text: str) -> list[dict[str, str]]:
    """Rows with the unit of a header moved into its cells."""
    return [
        {name.partition(" ")[0]: f"{cell} %v" if "[%v]" in name else cell for name, cell in row.items()}
        for row in csv.DictReader(text.splitlines())
    ]


def compared(before: Rulebook, after: Rulebook) -> Comparison:
    project = Project(time_zone="UTC", lab_time_zone="UTC")
    given = {"samples": rows_of(SAMPLES), "results": rows_of(RESULTS), "tracer_tests": rows_of(TESTS)}
    tables = tables_from_text(given, project)
    return compare_reviews(*(review_folder(project, tables, book) for book in (before, after)))


LEAK = Mover("leak-tracer-recovery.leak", "at most 5 %", "at most 10 %")


def test_the_limit_that_moved_a_row_is_named() -> None:
    book = only("leak-tracer-recovery")
    made = compared(book, with_limit(book, "leak-tracer-recovery", "leak", 0.1, "at most 10 %"))
    assert made.differences == (LEAK,)
    assert {(one.table, one.key): one.qualifier for one in made.moved} == {
        ("results", "R1"): ("J-", ""), ("results", "R2"): ("UJ", "U"), ("tracer_tests", "T1"): ("", ""),
    }  # fmt: skip
    assert all(one.movers == (LEAK,) for one in made.moved)
    test = next(one for one in made.moved if one.table == "tracer_tests")
    assert test.standing == (Standing.ESTIMATED, Standing.USABLE)


def test_a_limit_that_moves_nothing_is_a_difference_alone() -> None:
    book = only("leak-tracer-recovery")
    made = compared(book, with_limit(book, "leak-tracer-recovery", "leak", 0.055, "at most 5.5 %"))
    assert [one.name for one in made.differences] == ["leak-tracer-recovery.leak"]
    assert made.moved == ()


def test_the_same_rulebook_moves_nothing() -> None:
    made = compared(SHIPPED, SHIPPED)
    assert (made.differences, made.moved) == ((), ())


def test_a_rule_that_is_turned_off_is_named() -> None:
    book = only("leak-tracer-recovery")
    off = replace(book, rules=tuple(replace(rule, off=True) for rule in book.rules))
    made = compared(book, off)
    assert Mover("leak-tracer-recovery", "on", "off") in made.moved[0].movers


def test_reviews_of_other_tables_are_refused() -> None:
    project, book = Project(time_zone="UTC"), only("leak-tracer-recovery")
    one, other = (
        review_folder(project, tables_from_text({"results": rows_of(RESULTS)[:count]}, project), book)
        for count in (1, 2)
    )
    with pytest.raises(ValueError, match="not of the same tables"):
        compare_reviews(one, other)


PROFILE = """\
format: 1
profile: lenient
about: A limit of ten per cent for the leak.
limits:
  leak-tracer-recovery.leak: {at_most: 10 %, source: {reasoning: invented for a test}, backing: practice}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    home = tmp_path / "larkspur"
    home.mkdir()
    left_out = ", ".join(f"{topic}: not of this test" for topic in SHIPPED.topics if topic != "leak_tracer")
    text = f"project: Larkspur Yard\ntime_zone: UTC\nlab_time_zone: UTC\nleave_out: {{{left_out}}}\n"
    for name, content in {
        "project.yaml": text, "samples.csv": SAMPLES, "results.csv": RESULTS, "tracer_tests.csv": TESTS
    }.items():  # fmt: skip
        (home / name).write_text(content, encoding="utf-8")
    (tmp_path / "lenient.yaml").write_text(PROFILE, encoding="utf-8")
    return home


def test_the_command_prints_eighty_columns_and_writes_every_row(folder: Path, tmp_path: Path) -> None:
    into = tmp_path / "moved.csv"
    words = [str(folder), "--against", "lenient", "--rules", str(tmp_path / "lenient.yaml"), "--csv", str(into)]
    before = sorted(path.name for path in folder.iterdir())
    result = CliRunner().invoke(command, words, catch_exceptions=False, standalone_mode=False)
    lines = result.output.splitlines()
    assert result.return_value == 0
    assert max(map(len, lines)) <= 80
    assert "leak-tracer-recovery.leak: at most 5 % -> at most 10 %" in lines
    assert "  tracer_tests T1: estimated -> usable" in lines
    with into.open(newline="", encoding="utf-8") as file:
        rows = {row["key"]: row for row in csv.DictReader(file)}
    assert "T1" in rows
    assert rows["T1"]["place"].endswith("tracer_tests.csv:2")
    assert rows["T1"]["moved_by"] == "leak-tracer-recovery.leak"
    assert (rows["T1"]["limit_before"], rows["T1"]["limit_after"]) == ("at most 5 %", "at most 10 %")
    assert sorted(path.name for path in folder.iterdir()) == before


def test_the_nearest_profile_is_offered(folder: Path) -> None:
    with pytest.raises(UsageError, match="did you mean 'illinois'"):
        CliRunner().invoke(
            command, [str(folder), "--against", "ilinois"], catch_exceptions=False, standalone_mode=False
        )
