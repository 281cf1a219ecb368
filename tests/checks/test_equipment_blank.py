"""What a dirty blank of reusable equipment does to each result that hangs on it, by the five-times table."""

from __future__ import annotations

import pytest

from vaporqa.checks import CHECKS
from vaporqa.evidence import Evidence
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Letter, Outcome
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")
Cells = dict[str, str]
TOLUENE = {"cas": "108-88-3", "analyte": "toluene", "unit": "ug/m3"}


def said(
    sample: Cells, blank: Cells, matrix: str = "ambient_air"
) -> list[tuple[Outcome, bool, list[tuple[int, float]]]]:
    """Each finding: its outcome, whether it is unreadable, and letter and limit of the results that it reaches."""
    rows = {
        "equipment_log": [
            {"event_id": "E1", "equipment_id": "S", "event": "used", "at": "2025-06-05T09:00", "location_id": "L"},
            {"event_id": "E2", "equipment_id": "S", "event": "blank", "at": "2025-06-05T10:00", "sample_id": "X"},
        ],
        "samples": [
            {
                "sample_id": "A",
                "location_id": "L",
                "kind": "primary",
                "matrix": "soil_gas",
                "started_at": "2025-06-05T09:10",
            },
            {"sample_id": "X", "kind": "equipment_blank", "matrix": matrix},
        ],
        "results": [{"sample_id": "A", **TOLUENE, **sample}],
    }
    if blank:
        rows["results"].append({"sample_id": "X", **TOLUENE, **blank})
    rule = RULEBOOK.rule("equipment-blank-clean")
    (found,) = CHECKS[rule.check].run(rule, Evidence(tables_from_text(rows, PROJECT), PROJECT, RULEBOOK))
    assert found.letters is not None
    assert found.at is not None
    out = []
    for entry, outcome in enumerate(found.outcome):
        mine = found.results.entry == entry
        pairs = list(zip(found.letters[0][mine].tolist(), found.at[mine].tolist(), strict=True))
        out.append((Outcome(int(outcome)), bool(found.hard[entry]), pairs))
    return out


LIMITS = {"reporting_limit": "1", "limit_of_detection": "0.5"}
J_PLUS, U, OPEN = int(Letter.J_PLUS), int(Letter.U), int(Letter.UNPROVEN)


@pytest.mark.parametrize(
    ("sample", "letters"),
    [
        ({"result": "3", **LIMITS}, [J_PLUS]),
        ({"result": "10", **LIMITS}, [J_PLUS]),
        ({"result": "10.1", **LIMITS}, []),
        ({"result": "ND", **LIMITS}, []),
        ({"result": "0.5", **LIMITS}, [U]),
    ],
)
def test_a_gas_blank_by_the_scheme(sample: Cells, letters: list[int]) -> None:
    ((outcome, _, pairs),) = said(sample, {"result": "2"})
    assert outcome is Outcome.BROKEN
    assert [letter for letter, _ in pairs] == letters
    assert [at for letter, at in pairs if letter == U] == [0.5] * letters.count(U)


def test_without_a_limit_the_scheme_is_open_and_never_silent() -> None:
    findings = said({"result": "3"}, {"result": "2"})
    assert [(outcome, hard) for outcome, hard, _ in findings] == [(Outcome.BROKEN, False), (Outcome.UNPROVEN, True)]
    assert [letter for letter, _ in findings[1][2]] == [OPEN]


@pytest.mark.parametrize("result", ["3", "30000"])
def test_a_water_blank_makes_every_detect_high(result: str) -> None:
    ((outcome, _, pairs),) = said({"result": result, **LIMITS}, {"result": "2", "unit": "ug/L"}, "water")
    assert (outcome, [letter for letter, _ in pairs]) == (Outcome.BROKEN, [J_PLUS])


def test_a_blank_that_cannot_be_read_leaves_its_analyte_open() -> None:
    ((outcome, hard, pairs),) = said({"result": "3", **LIMITS}, {"result": "I5"})
    assert (outcome, hard, [letter for letter, _ in pairs]) == (Outcome.UNPROVEN, True, [OPEN])


def test_a_blank_without_a_laboratory_result_is_silent() -> None:
    ((outcome, hard, _),) = said({"result": "3", **LIMITS}, {})
    assert (outcome, hard) == (Outcome.UNPROVEN, False)
    assert RULEBOOK.rule("equipment-blank-clean").no_evidence.detect == Letter.NONE
