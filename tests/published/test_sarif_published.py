"""SARIF 2.1.0 against another reading of the standard.

Source: the models of the library sarif-pydantic, written from OASIS "Static Analysis Results Interchange Format (SARIF)
Version 2.1.0" (27 March 2020). They accept unknown properties, which the standard's own schema does not: so any
property that a model does not know fails here.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import BaseModel
from sarif_pydantic import Sarif

import vaporqa
from vaporqa.report.exchange import WRITERS

SAMPLES = sorted(path for path in (Path(__file__).parents[2] / "sample_inputs").iterdir() if path.is_dir())
#: Properties of the standard that the models leave out (sections 3.14.17 and 3.20.21; the numbers are from memory).
IN_THE_STANDARD_ALL_THE_SAME = {".runs[0].columnKind", ".runs[0].invocations[0].toolExecutionNotifications"}


def unknown(model: object, place: str = "") -> list[str]:
    """Every property below `model` that the models do not know."""
    if isinstance(model, list):
        return [one for index, part in enumerate(model) for one in unknown(part, f"{place}[{index}]")]
    if not isinstance(model, BaseModel):
        return []
    found = [f"{place}.{name}" for name in model.model_extra or {}]
    for name in type(model).model_fields:
        found += unknown(getattr(model, name), f"{place}.{name}")
    return found


@pytest.mark.parametrize("folder", SAMPLES, ids=lambda path: path.name)
def test_every_sample_folder_reads_as_sarif(folder):
    checked = vaporqa.check(folder)
    log = Sarif.model_validate_json(WRITERS["sarif"](checked.report))
    assert log.version == "2.1.0"
    assert set(unknown(log)) <= IN_THE_STANDARD_ALL_THE_SAME
    assert sum(len(run.results or ()) for run in log.runs) == len(checked.review.findings)


def test_a_property_that_the_standard_does_not_know_is_noticed():
    log = Sarif.model_validate({"version": "2.1.0", "runs": [{"tool": {"driver": {"name": "x", "colour": "red"}}}]})
    assert unknown(log) == [".runs[0].tool.driver.colour"]
