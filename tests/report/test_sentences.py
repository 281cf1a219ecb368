"""Reasons as a stranger reads them: the numbers in a sentence bear out what it says, and what is missing is named."""

from __future__ import annotations

from pathlib import Path

import pytest

import vaporqa

PROJECT = "project: Larkspur Yard\npurpose: property transaction\ntime_zone: UTC\nlab_time_zone: UTC\nstage: '1'\n"


def reasons(folder: Path, table: str, **tables: str) -> list[str]:
    """Reasons of each row of a table of a folder made of CSV texts."""
    (folder / "project.yaml").write_text(PROJECT, encoding="utf-8")
    for name, text in tables.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return list(vaporqa.check(folder).flags[table]["reasons"])


def test_two_readings_show_the_loss_between_them(tmp_path: Path) -> None:
    (said,) = reasons(
        tmp_path, "shut_in_tests",
        shut_in_tests="test_id,sample_id,vacuum_start [inH2O],vacuum_end [inH2O],duration [s]\nT1,S1,110,109.5,120\n",
        samples="sample_id,kind,matrix\nS1,primary,soil_gas\n",
    )  # fmt: skip
    assert "fell from 110 inH2O to 109.5 inH2O: 0.5 inH2O lost (limit: under 0.5 inH2O)" in said


def test_a_reading_of_a_check_shows_how_far_off_it_was(tmp_path: Path) -> None:
    (said,) = reasons(
        tmp_path, "field_readings",
        instrument_checks="check_id,instrument_id,at,gas,expected,reading,unit\nC1,M1,2025-06-03T06:00,oxygen,10,11.01,%v\n",
        field_readings="reading_id,instrument_id,at,gas,reading,unit\nR1,M1,2025-06-03T10:00,oxygen,5,%v\n",
    )  # fmt: skip
    assert "read 11.01 %v of oxygen where 10 %v was given" in said
    assert "10.1 % off (limit: within 10 %)" in said


@pytest.mark.parametrize(
    ("tubing", "rods", "named"),
    [("", "7", "the length of the tubing is not recorded"), ("7", "", "the length of the rods is not recorded"),
     ("7", "T", "a readable value of the length of the rods is not recorded")],
)  # fmt: skip
def test_of_two_lengths_the_one_that_is_missing_is_named(tmp_path: Path, tubing: str, rods: str, named: str) -> None:
    (said,) = reasons(
        tmp_path, "probes",
        probes="probe_id,location_id,kind,tubing_length [ft],rod_length [ft]\n"
        f"P1,L1,driven,{tubing},{rods}\nP2,L1,subslab,9,9\n",
    )[:1]  # fmt: skip
    assert f"Whether the tubing of P1 reaches the tip cannot be judged: {named}" in said


def test_a_time_that_cannot_be_read_is_said_in_a_whole_sentence(tmp_path: Path) -> None:
    (said,) = reasons(
        tmp_path, "probes",
        probes="probe_id,location_id,kind,installed_at\nP1,L1,driven,8 o'clock\n",
        samples="sample_id,probe_id,kind,matrix,started_at\nS1,P1,primary,soil_gas,2025-06-03T10:00\n",
    )  # fmt: skip
    assert "cannot be judged: when the probe was installed, in a form that can be read, is not recorded." in said


def test_a_question_that_nobody_answered_is_quoted(tmp_path: Path) -> None:
    (said, _) = reasons(
        tmp_path, "probes", probes="probe_id,location_id,kind,joints_checked\nP1,L1,driven,\nP2,L1,driven,yes\n"
    )
    assert (
        "Whether the joints of P1 were tight cannot be judged: the answer to 'joints checked' is not recorded." in said
    )


@pytest.mark.parametrize(
    ("of_sample", "of_custody", "named"),
    [("C1", "", "on the custody record"), ("", "C1", "on the sample's form"), ("", "", "on both forms")],
)
def test_of_two_forms_the_one_that_lacks_the_id_is_named(
    tmp_path: Path, of_sample: str, of_custody: str, named: str
) -> None:
    (said, _) = reasons(
        tmp_path, "custody",
        samples=f"sample_id,kind,matrix,container_id\nS1,primary,soil_gas,{of_sample}\nS2,primary,soil_gas,C2\n",
        custody=f"custody_id,sample_id,step,container_id\nA,S1,1,{of_custody}\nB,S2,1,C2\n",
    )  # fmt: skip
    assert f"cannot be judged: the container id {named} is not recorded." in said
