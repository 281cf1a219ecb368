"""Indicators, decisions and the validation stage as review.json and the page show them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import vaporqa
from vaporqa.review.stages import ValidationStage

HOME = Path(__file__).parents[2] / "sample_inputs"
Run = tuple[vaporqa.Checked, dict[str, Any], str]


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Run:
    checked = vaporqa.check(HOME / "alder-crossing")
    out = checked.write(tmp_path_factory.mktemp("runs") / "out")
    return checked, json.loads((out / "review.json").read_text("utf-8")), (out / "report.html").read_text("utf-8")


def test_the_decisions_of_all_analytes_are_the_sum_of_each(run: Run) -> None:
    _, made, _ = run
    overall = made["decisions"]["overall"]
    for word in ("usable", "usable with limits", "uncertain", "gap", "not comparable"):
        assert overall[word] == sum(one[word] for one in made["decisions"]["by_analyte"])
    assert sum(one["results"] for one in made["decisions"]["situations"]) == made["counts"]["results_total"]
    # Alder Crossing states no level for its fixed gases and tracer, and no list of required analytes.
    assert "Helium" in made["decisions"]["analytes_without_level"]
    assert made["indicators"]["completeness"]["planned"] is None


def test_completeness_agrees_with_the_counts_by_standing(run: Run) -> None:
    _, made, _ = run
    counts, complete = made["counts"]["results"], made["indicators"]["completeness"]
    assert complete["valid"] == counts["usable"] + counts["estimated"]
    assert (complete["unproven"], complete["rejected"]) == (counts["unproven"], counts["rejected"])
    assert complete["of_reported_percent"] == pytest.approx(
        100 * complete["valid"] / made["counts"]["results_total"], 1e-5
    )


def test_the_page_has_the_three_sections_and_the_formulas(run: Run) -> None:
    _, made, page = run
    for place in ("decisions", "indicators", "stage"):
        assert f'<section id="{place}">' in page
        assert f'href="#{place}"' in page
    assert "pooled relative standard deviation = sqrt(" in page
    assert made["validation_stage"]["said"] in page
    assert "There is no table required_analytes" in page


@pytest.mark.parametrize(
    ("supported", "in_part", "said"),
    [
        ("2A", "2A", "Validation stage 2A, by electronic checks, is supported throughout."),
        ("1", "2A", ("Validation stage 1, by electronic checks, is supported throughout, and stage 2A in part; "
         "stage 2A was declared.")),
        ("", "", "No published validation stage can be claimed; stage 2A was declared."),
    ],
)  # fmt: skip
def test_what_may_be_claimed_in_a_sentence(supported: str, in_part: str, said: str) -> None:
    from vaporqa.report.usability import stage_said

    assert stage_said(ValidationStage("2A", supported, in_part, (), ())) == said
