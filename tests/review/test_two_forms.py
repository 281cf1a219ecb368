"""Rows by mass and by volume that are two forms of one result end alike, whatever is wrong with either."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

import vaporqa

PROJECT = """\
project: Two forms
time_zone: UTC
lab_time_zone: UTC
stage: 2A
tables:
  results:
    - {file: results.csv, two_forms: true}
"""
SAMPLES = """\
sample_id,kind,parent_sample_id,matrix,container,started_at,ended_at
A,primary,,soil_gas,canister,2026-03-02T09:00,2026-03-02T09:30
D,field_duplicate,A,soil_gas,canister,2026-03-02T09:00,2026-03-02T09:30
"""
HEADER = "sample_id,cas,analyte,result,unit,reporting_limit,batch_id,laboratory,lab_flag,analyzed_at"
#: 78.1118 g/mol over 24.465404 L/mol (25 degC, 1 atm): 10.00 ppbv of benzene is 31.93 ug/m3.
BENZENE = "{sample},71-43-2,benzene,{result},{unit},{limit},B1,Laboratory A,,2026-03-05T10:00"
CHECKED = ("standing", "qualifier", "bias", "final_detected", "final_in_use", "rules")


def results(tmp_path: Path, *rows: str, qc: str = "", profile: tuple[str, ...] = ()) -> pd.DataFrame:
    (tmp_path / "project.yaml").write_text(PROJECT)
    (tmp_path / "samples.csv").write_text(SAMPLES)
    (tmp_path / "results.csv").write_text("\n".join([HEADER, *rows]) + "\n")
    if qc:
        (tmp_path / "lab_qc.csv").write_text(qc)
    return vaporqa.check(tmp_path, profile=profile).flags["results"]


def benzene(result: str, unit: str, limit: str, sample: str = "A") -> str:
    return BENZENE.format(sample=sample, result=result, unit=unit, limit=limit)


def alike(flags: pd.DataFrame, *columns: str) -> bool:
    return all(flags[column].astype(str).nunique() == 1 for column in columns or CHECKED)


def test_what_taints_one_form_taints_the_other(tmp_path):
    flags = results(tmp_path, benzene("31.93", "ug/m3", "3.2"), benzene("10.00", "ppbv", "1.00"))
    assert alike(flags)
    assert flags["final_value"].tolist() == [31.93, 10.00]  # each its own number
    assert "duplicate-rows" not in flags["rules"][0]
    assert "one-value-in-use" not in flags["rules"][0]


@pytest.mark.parametrize("bad", [("3l.93", "10.00"), ("31.93", "l0.00")])
def test_a_cell_that_cannot_be_read_leaves_both_unproven(tmp_path, bad):
    flags = results(tmp_path, benzene(bad[0], "ug/m3", "3.2"), benzene(bad[1], "ppbv", "1.00"))
    assert flags["standing"].tolist() == ["unproven", "unproven"]
    assert all("readable-number" in rules for rules in flags["rules"])


@pytest.mark.parametrize("forms", [("31.93", "ND"), ("ND", "10.00")])
def test_forms_that_contradict_each_other_leave_both_unproven(tmp_path, forms):
    flags = results(tmp_path, benzene(forms[0], "ug/m3", "3.2"), benzene(forms[1], "ppbv", "1.00"))
    assert alike(flags)
    assert flags["standing"].tolist() == ["unproven", "unproven"]
    assert all("forms-agree" in rules for rules in flags["rules"])
    assert "one form says that it was detected" in flags["reasons"][0]


def test_forms_that_are_far_apart_leave_both_unproven(tmp_path):
    flags = results(tmp_path, benzene("40.00", "ug/m3", "3.2"), benzene("10.00", "ppbv", "1.00"))
    assert alike(flags)
    assert all("forms-agree" in rules for rules in flags["rules"])


def test_a_blank_turns_both_forms_into_nondetects_at_one_limit(tmp_path):
    qc = (
        "qc_id,laboratory,batch_id,kind,cas,analyte,result,unit,reporting_limit\n"
        "MB,Laboratory A,B1,method_blank,71-43-2,benzene,3.1927,ug/m3,3.1927\n"
    )
    # Scheme of multiples: at most five times the blank is U at the higher of the result and its reporting limit.
    rows = benzene("6.3854", "ug/m3", "3.1927"), benzene("2.000", "ppbv", "1.000")
    flags = results(tmp_path, *rows, qc=qc, profile=("blank-multiples",))
    assert alike(flags)
    assert flags["final_detected"].tolist() == [False, False]
    assert "method-blank" in flags["rules"][1]
    mass, volume = flags["final_limit"].tolist()
    # One limit in two units: ug/m3 = ppbv x 78.1118 / 24.465404.
    assert mass == pytest.approx(6.3854)
    assert volume == pytest.approx(6.3854 * 24.465404 / 78.1118, rel=1e-5)


def test_a_pair_is_compared_in_the_form_that_both_have(tmp_path):
    # By volume 10 and 20 ppbv: |10 - 20| / 15 = 66.7 %. The parent's mass form is 5 % off, and is not used.
    flags = results(
        tmp_path,
        benzene("33.5", "ug/m3", "0.32"), benzene("10.00", "ppbv", "0.100"), benzene("20.00", "ppbv", "0.100", "D"),
    )  # fmt: skip
    assert all("duplicate-agreement" in rules for rules in flags["rules"])
    assert all("66.7 %" in reasons for reasons in flags["reasons"])


def test_a_result_in_two_forms_is_counted_once(tmp_path):
    results(tmp_path, benzene("31.93", "ug/m3", "3.2"), benzene("10.00", "ppbv", "1.00"))
    text = vaporqa.check(tmp_path).text()
    assert "1 row by volume of a result that stands by mass as well" in text
