"""`compare: rounded`: measured numbers are rounded to the last digit of the limit as written before they are compared.

The rounding method is that of ASTM E29, halves to the even digit (the convention from memory); that the outcome depends
on the method that is declared was read in its scope. Oracles A03, A04, A05 and C07.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from vaporqa.checks import CHECKS
from vaporqa.criteria import Limit, Rulebook
from vaporqa.evidence import Evidence
from vaporqa.evidence.keeping import EXACT, ROUNDED, keeps_limit, rounded
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Outcome
from vaporqa.quantities.agreement import relative_percent_difference
from vaporqa.rulebook import load_rulebook
from vaporqa.rulebook.bounds import limit_from
from vaporqa.rulebook.models import BoundShape
from vaporqa.tables.project import Project

PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")
HOLDS, BROKEN = Outcome.HOLDS, Outcome.BROKEN


def limit(sense: str, number: str | list[str], dimension: str) -> Limit:
    shape = BoundShape.model_validate({sense: number, "source": {"reasoning": "a test"}, "backing": "derived"})
    return limit_from(shape, "one", dimension)


def keeps(one: Limit, value: float, compare: str) -> bool:
    return bool(keeps_limit(one, np.array([value]), compare)[0])


@pytest.mark.parametrize(
    ("number", "value", "expected"),
    [
        ("50", 50.187, 50.0),
        ("50", 50.5, 50.0),  # halfway: to the even digit
        ("51", 51.5, 52.0),
        ("51", 50.5, 50.0),
        ("50", 49.5, 50.0),
        ("50.0", 50.187, 50.2),
        ("50.0", 50.15, 50.2),
        ("50.0", 50.25, 50.2),
        ("0.05", 0.045, 0.04),
        ("0.05", 0.055, 0.06),
        ("30", -12.5, -12.0),
        ("30", -13.5, -14.0),
    ],
)
def test_numbers_are_rounded_to_the_last_digit_as_written(number: str, value: float, expected: float) -> None:
    one = limit("at_most", number, "percent")
    assert rounded(one, np.array([value]))[0] == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("number", "dimension", "value", "expected"),
    [
        ("5 %", "ratio", 0.05049, 0.05),
        ("5.0 %", "ratio", 0.05049, 0.050),
        ("5.0 %", "ratio", 0.0506, 0.051),
        ("50 %", "ratio", 0.505, 0.50),  # 0.505 - 0.5 is not quite 0.005
        ("6 h", "duration", 6.4 * 3600, 6 * 3600.0),
        ("30 min", "duration", 30.6 * 60, 31 * 60.0),
        ("0.5 in", "length", 0.46 * 0.0254, 0.5 * 0.0254),
        ("0 in", "length", 0.4 * 0.0254, 0.0),
        ("40 degF", "temperature", (40.4 - 32) / 1.8, (40 - 32) / 1.8),  # a unit that does not begin at nought
        ("40 degF", "temperature", (41.5 - 32) / 1.8, (42 - 32) / 1.8),
    ],
)
def test_the_last_digit_is_one_of_the_unit_as_written(
    number: str, dimension: str, value: float, expected: float
) -> None:
    one = limit("at_most", number, dimension)
    assert rounded(one, np.array([value]))[0] == pytest.approx(expected, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(("number", "dimension"), [("1", "ratio"), ("2 x", "ratio"), ("10", "count")])
def test_counts_and_plain_factors_have_no_last_digit(number: str, dimension: str) -> None:
    assert rounded(limit("at_most", number, dimension), np.array([1.4]))[0] == 1.4


def test_a_number_that_is_not_known_stays_so() -> None:
    one = limit("at_most", "50", "percent")
    assert np.isnan(rounded(one, np.array([np.nan]))[0])
    assert not keeps(one, np.nan, ROUNDED)


@pytest.mark.parametrize(
    ("sense", "number", "value", "exact", "by_rounding"),
    [
        ("at_most", "50", 50.4, False, True),
        ("under", "50", 49.6, True, False),
        ("at_least", "70", 69.9, False, True),
        ("at_least", "70", 69.4, False, False),
        ("over", "70", 70.4, True, False),
        ("within", "30", -30.4, False, True),
        ("within", "30", -30.6, False, False),
        ("between", ["95", "105"], 105.4, False, True),
        ("between", ["95", "105"], 94.6, False, True),
        ("between", ["95.0", "105"], 105.4, False, False),  # the finer end decides
        ("between", ["95", "105"], 94.4, False, False),
    ],
)
def test_every_sense_is_compared_after_rounding(sense, number, value, exact, by_rounding) -> None:
    one = limit(sense, number, "percent")
    assert keeps(one, value, EXACT) is exact
    assert keeps(one, value, ROUNDED) is by_rounding


def test_a_limit_itself_is_kept_or_broken_alike_either_way() -> None:
    for sense, kept in (("at_most", True), ("at_least", True), ("under", False), ("over", False)):
        for number in ("5", "0.3", "7.35"):
            one = limit(sense, f"{number} inHg", "pressure")
            assert keeps(one, one.value, EXACT) is keeps(one, one.value, ROUNDED) is kept


# -- by the checks ---------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Rulebook]:
    """The rulebook as it is, and with the choice of a project's own profile."""
    path: Path = tmp_path_factory.mktemp("rules") / "own.yaml"
    path.write_text("format: 1\nprofile: own\nabout: rounds\nchoose: {compare: rounded}\n", encoding="utf-8")
    to15a = ["canister-to15a"]
    return {
        EXACT: load_rulebook(), ROUNDED: load_rulebook(further=[path]),
        "25 exact": load_rulebook(profiles=to15a), "25 rounded": load_rulebook(profiles=to15a, further=[path]),
    }  # fmt: skip


def judge(rulebook: Rulebook, rule_id: str, row: int = 0, **tables: list[dict[str, str]]) -> tuple[Outcome, str]:
    rule = rulebook.rule(rule_id)
    one = CHECKS[rule.check].run(rule, Evidence(tables_from_text(tables, PROJECT), PROJECT, rulebook))[0]
    broke = [rule.limits[k].name for k, at in zip(one.limit.tolist(), one.row.tolist(), strict=True) if at == row]
    return Outcome(int(one.state[row])), broke[0] if broke and one.state[row] == BROKEN else ""


def pair(first: str, second: str) -> dict[str, list[dict[str, str]]]:
    sample = {"matrix": "soil_gas"}
    result = {
        "analyte": "benzene",
        "unit": "ug/m3",
        "reporting_limit": "1",
        "detection_limit": "0.5",
        "detected": "yes",
    }
    return {
        "samples": [
            {**sample, "sample_id": "A", "kind": "primary"},
            {**sample, "sample_id": "B", "kind": "field_duplicate", "parent_sample_id": "A"},
        ],
        "results": [{**result, "sample_id": "A", "result": first}, {**result, "sample_id": "B", "result": second}],
    }


@pytest.mark.parametrize(
    ("book", "first", "second", "rpd", "expected"),
    [
        (EXACT, "100", "167", 50.187, BROKEN),  # A03
        (ROUNDED, "100", "167", 50.187, HOLDS),
        (EXACT, "100", "166.6", 49.962, HOLDS),  # A04
        (ROUNDED, "100", "166.6", 49.962, HOLDS),
        (ROUNDED, "100", "168", 50.746, BROKEN),
        ("25 exact", "43.6", "56.2", 25.2505, BROKEN),  # A05
        ("25 rounded", "43.6", "56.2", 25.2505, HOLDS),
    ],
)
def test_duplicates_by_rpd(books, book, first, second, rpd, expected) -> None:
    found = relative_percent_difference(np.array([float(first)]), np.array([float(second)]))[0]
    assert found == pytest.approx(rpd, abs=5e-4)
    assert judge(books[book], "duplicate-agreement", **pair(first, second))[0] is expected


def test_a_difference_of_more_than_one_limit_is_no_rounding_matter(books) -> None:
    # C20 near the limit: 1.4 limits apart stay more than one.
    for book in (EXACT, ROUNDED):
        assert judge(books[book], "duplicate-agreement", **pair("1.1", "2.5")) == (BROKEN, "difference")


@pytest.mark.parametrize(
    ("book", "recovery", "expected"),
    [
        (EXACT, "69.9", (BROKEN, "low")),  # C07
        (ROUNDED, "69.9", (HOLDS, "")),
        (ROUNDED, "69.5", (HOLDS, "")),  # halfway: to the even digit
        (ROUNDED, "69.4", (BROKEN, "low")),
        (ROUNDED, "130.5", (HOLDS, "")),
        (ROUNDED, "130.6", (BROKEN, "high")),
        (ROUNDED, "131", (BROKEN, "high")),  # C06
    ],
)
def test_surrogates(books, book, recovery, expected) -> None:
    sample = {"sample_id": "A", "kind": "primary", "matrix": "soil_gas"}
    row = {"sample_id": "A", "analyte": "toluene-d8", "kind": "surrogate", "recovery": recovery}
    assert judge(books[book], "surrogate-recovery", samples=[sample], results=[row]) == expected


def kept(analysed: str) -> dict[str, list[dict[str, str]]]:
    sample = {"sample_id": "A", "kind": "primary", "matrix": "soil_gas", "container": "bag"}
    result = {"sample_id": "A", "analyte": "trichloroethene", "analyzed_at": analysed, "result": "3", "unit": "ppbv"}
    return {"samples": [{**sample, "ended_at": "2024-05-01T00:00"}], "results": [result]}


@pytest.mark.parametrize(
    ("rule_id", "analysed", "exact", "by_rounding"),
    [
        ("holding-time", "06:30", BROKEN, HOLDS),  # six hours and a half go to the even six
        ("holding-time", "06:31", BROKEN, BROKEN),
        ("holding-time-gross", "12:30", BROKEN, HOLDS),  # twice six hours: the time is rounded, not the factor
        ("holding-time-gross", "12:31", BROKEN, BROKEN),
        ("holding-time-gross", "14:24", BROKEN, BROKEN),  # 2.4 times the limit
    ],
)
def test_holding_times_round_the_time(books, rule_id, analysed, exact, by_rounding) -> None:
    tables = kept(f"2024-05-01T{analysed}")
    assert judge(books[EXACT], rule_id, **tables)[0] is exact
    assert judge(books[ROUNDED], rule_id, **tables)[0] is by_rounding


@pytest.mark.parametrize(
    ("rule_id", "table", "row", "exact", "by_rounding"),
    [
        ("purge-flow", "purges", {"purge_id": "U", "flow": "200.4 mL/min"}, BROKEN, HOLDS),
        ("purge-flow", "purges", {"purge_id": "U", "flow": "201 mL/min"}, BROKEN, BROKEN),
        ("purge-vacuum", "purges", {"purge_id": "U", "vacuum_highest": "100.5 inH2O"}, BROKEN, HOLDS),
        ("shut-in-vacuum", "shut_in_tests", {"test_id": "T", "vacuum_start": "99.6 inH2O"}, BROKEN, HOLDS),
        ("shut-in-vacuum", "shut_in_tests", {"test_id": "T", "vacuum_start": "99.4 inH2O"}, BROKEN, BROKEN),
    ],
)
def test_bounds(books, rule_id, table, row, exact, by_rounding) -> None:
    assert judge(books[EXACT], rule_id, **{table: [row]})[0] is exact
    assert judge(books[ROUNDED], rule_id, **{table: [row]})[0] is by_rounding
