"""Custody chains and meters where an example of a rule file cannot reach: many samples, equal stamps, row orders."""

from __future__ import annotations

import numpy as np
import pytest

from vaporqa.checks import CHECKS
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Stamps
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Outcome
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC", stage="1")
Row = dict[str, str]


def judged(rule_id: str, **rows: list[Row]):
    rule = RULEBOOK.rule(rule_id)
    evidence = Evidence(tables_from_text(rows, PROJECT), PROJECT, RULEBOOK)
    return evidence, CHECKS[rule.check].run(rule, evidence)


def said(rule_id: str, **rows: list[Row]) -> dict[str, tuple[str, float]]:
    """Outcome and measured number by key, over every table of the rule."""
    evidence, found = judged(rule_id, **rows)
    out: dict[str, tuple[str, float]] = {}
    for one in found:
        keys = evidence.tables.tables[one.table or RULEBOOK.rule(rule_id).row].keys
        out |= {str(key): (Outcome(int(state)).words, 0.0) for key, state in zip(keys, one.state, strict=True)}
        for row, outcome, value in zip(one.row.tolist(), one.outcome.tolist(), one.measured.tolist(), strict=True):
            if row >= 0:
                out[str(keys[row])] = (Outcome(outcome).words, 0.0 if np.isnan(value) else round(value, 6))
    return out


# -- custody ---------------------------------------------------------------------------------------------------------


def stamp(minutes: int) -> str:
    return f"2025-06-{3 + minutes // 1440:02d}T{minutes // 60 % 24:02d}:{minutes % 60:02d}"


def test_the_order_of_custody_against_a_plain_reading_of_it():
    """Random chains with gaps; what must be out of order is found by walking each chain by hand."""
    rng = np.random.default_rng(11)
    samples, custody, wrong = [], [], {}
    for sample in range(40):
        latest = int(rng.integers(0, 600))
        samples.append({"sample_id": f"S{sample}", "kind": "primary", "matrix": "soil_gas", "ended_at": stamp(latest)})
        at = latest
        for step in range(1, int(rng.integers(1, 5)) + 1):
            key, cells = f"S{sample}-{step}", {}
            wrong[key] = False
            for column in ("released_at", "received_at"):
                if rng.random() < 0.2:
                    continue  # not recorded
                at = max(at + int(rng.integers(-40, 200)), 0)
                cells[column] = stamp(at)
                wrong[key] |= at < latest
                latest = max(latest, at)
            custody.append({"custody_id": key, "sample_id": f"S{sample}", "step": str(step), **cells})
    assert 10 < sum(wrong.values()) < len(wrong) - 10
    found = said("custody-order", samples=samples, custody=[custody[i] for i in rng.permutation(len(custody))])
    assert {key: outcome == "broken" for key, (outcome, _) in found.items()} == wrong


def test_the_custody_sentence_names_the_latest_stamp_that_is_contradicted():
    _, (one,) = judged(
        "custody-order",
        samples=[{"sample_id": "A", "ended_at": stamp(10)}],
        custody=[
            {"custody_id": "1", "sample_id": "A", "step": "1", "released_at": stamp(60), "received_at": stamp(90)},
            {"custody_id": "2", "sample_id": "A", "step": "2", "released_at": stamp(70), "received_at": stamp(95)},
        ],
    )
    earlier = one.facts["earlier_when"]
    assert isinstance(earlier, Stamps)
    assert one.row.tolist() == [1]
    assert (earlier.low - one.facts["when"].low).tolist() == [20 * 60 * 1_000_000]
    assert one.facts["earlier"].values.tolist() == ["received by the record 1"]


@pytest.mark.parametrize("turned", [False, True])
def test_two_records_of_one_step_are_taken_by_their_release(turned):
    rows = [
        {"custody_id": "B", "sample_id": "A", "step": "1", "released_at": stamp(20), "received_at": stamp(30),
         "released_by": "courier", "received_by": "Laboratory A"},
        {"custody_id": "A", "sample_id": "A", "step": "1", "released_at": stamp(40), "received_at": stamp(50),
         "released_by": "crew A", "received_by": "courier"},
    ]  # fmt: skip
    rows = rows[::-1] if turned else rows
    samples = [{"sample_id": "A", "ended_at": stamp(10)}]
    assert said("custody-order", samples=samples, custody=rows) == {"A": ("holds", 0.0), "B": ("holds", 0.0)}
    hands = said("custody-unbroken", samples=samples, custody=rows)
    assert hands == {"A": ("unproven", 0.0), "B": ("not concerned", 0.0)}


def test_custody_of_a_folder_without_custody_is_said_once_a_sample_by_one_rule():
    samples = [{"sample_id": "A", "kind": "primary"}, {"sample_id": "B", "kind": "primary"}]
    for rule_id in ("custody-order", "custody-unbroken", "identities-match", "seal-intact", "storage-temperature"):
        assert all(not len(one.row) for one in judged(rule_id, samples=samples)[1])
    _, (one,) = judged("custody-done", samples=samples)
    assert (one.row.tolist(), one.alone) == ([0, 1], True)


def test_ids_are_compared_to_the_letter_and_two_empty_controllers_agree():
    samples = [{"sample_id": "A", "container_id": "CN-1"}, {"sample_id": "B", "container_id": "CN-2"}]
    custody = [
        {"custody_id": "1", "sample_id": "A", "step": "1", "container_id": "CN-1"},
        {"custody_id": "2", "sample_id": "B", "step": "1", "container_id": "cn-2"},
        {"custody_id": "3", "sample_id": "Z", "step": "1", "container_id": "CN-3"},
    ]
    found = said("identities-match", samples=samples, custody=custody)
    assert {key: outcome for key, (outcome, _) in found.items()} == {"1": "holds", "2": "broken", "3": "unproven"}


def test_a_step_that_cannot_be_read_leaves_the_custody_open():
    """An empty step earns a note; one that stands there and cannot be read hides where the record belongs."""
    rows = {
        "samples": [{"sample_id": "A", "ended_at": stamp(10)}, {"sample_id": "B", "ended_at": stamp(10)}],
        "custody": [
            {"custody_id": "A1", "sample_id": "A", "step": "one", "released_at": stamp(20), "received_at": stamp(30)},
            {"custody_id": "B1", "sample_id": "B", "step": "", "released_at": stamp(20), "received_at": stamp(30)},
        ],
    }
    for rule_id in ("custody-order", "custody-unbroken"):
        _, (one,) = judged(rule_id, **rows)
        hard = dict(zip(one.row.tolist(), one.hard.tolist(), strict=True))
        assert (one.state.tolist(), hard) == ([Outcome.UNPROVEN] * 2, {0: True, 1: False}), rule_id


def test_a_stamp_of_another_record_is_named_with_it():
    _, (one,) = judged(
        "custody-order",
        samples=[{"sample_id": "A", "ended_at": stamp(10)}],
        custody=[
            {"custody_id": "C1", "sample_id": "A", "step": "1", "released_at": stamp(60), "received_at": stamp(90)},
            {"custody_id": "C2", "sample_id": "A", "step": "2", "released_at": stamp(70), "received_at": stamp(95)},
            {"custody_id": "C3", "sample_id": "A", "step": "3", "released_at": stamp(99), "received_at": stamp(98)},
        ],
    )
    said_of = dict(zip(one.row.tolist(), one.facts["earlier"].values.tolist(), strict=True))
    assert said_of == {1: "received by the record C1", 2: "released"}


# -- meters ----------------------------------------------------------------------------------------------------------


def reading(key: str, minutes: int, gas: str = "oxygen", meter: str = "GM-A", **cells: str) -> Row:
    return {"reading_id": key, "instrument_id": meter, "at": stamp(minutes), "gas": gas, "reading": "10 %v", **cells}


def check(key: str, minutes: int, found: str, gas: str = "oxygen", meter: str = "GM-A") -> Row:
    return {"check_id": key, "instrument_id": meter, "at": stamp(minutes), "gas": gas, "expected": "20 %v",
            "reading": f"{found} %v"}  # fmt: skip


def test_checks_around_readings_against_a_plain_search():
    """Random days; the last check that day and the next one at all are searched for one by one."""
    rng = np.random.default_rng(3)
    checks, readings = [], []
    for n in range(60):
        minutes, meter = int(rng.integers(0, 4000)), f"GM-{rng.choice(['A', 'B'])}"
        gas = str(rng.choice(["oxygen", "methane"]))
        checks.append((minutes, meter, gas, float(rng.choice([18, 20, 23, 25])), f"C{n:02d}"))
        readings.append((int(rng.integers(0, 4000)), meter, gas, f"R{n:02d}"))
    before, after = {}, {}
    for minutes, meter, gas, key in readings:
        same = [one for one in checks if one[1] == meter and one[2] == gas]
        earlier = [one for one in same if one[0] <= minutes and one[0] // 1440 == minutes // 1440]
        later = [one for one in same if one[0] > minutes]
        for out, found, pick in ((before, earlier, max), (after, later, min)):
            if not found:
                out[key] = ("unproven", 0.0)
                continue
            moment = pick(one[0] for one in found)
            off = max((one[3] / 20 - 1 for one in found if one[0] == moment), key=abs)
            out[key] = ("broken", round(off, 6)) if abs(off) > 0.1 + 1e-9 else ("holds", 0.0)
    rows = {
        "instrument_checks": [check(key, at, str(found), gas, meter) for at, meter, gas, found, key in checks],
        "field_readings": [reading(key, at, gas, meter) for at, meter, gas, key in readings],
    }
    for rule_id, expected in (("instrument-checked", before), ("instrument-drift", after)):
        assert said(rule_id, **rows) == expected
        turned = {name: rows[name][::-1] for name in rows}
        assert said(rule_id, **turned) == expected


def test_of_two_checks_at_one_instant_the_worse_one_counts():
    rows = {"field_readings": [reading("R", 600)],
            "instrument_checks": [check("C1", 300, "20"), check("C2", 300, "30")]}  # fmt: skip
    assert said("instrument-checked", **rows)["R"] == ("broken", 0.5)


def test_gases_of_two_places_or_times_are_not_added_up():
    gases = (("methane", "1"), ("carbon dioxide", "4"), ("oxygen", "15"), ("nitrogen", "50"))
    apart = [
        reading(f"R{n}", 600 + n, gas, probe_id="P1", reading=f"{value} %v") for n, (gas, value) in enumerate(gases)
    ]
    assert {outcome for outcome, _ in said("gas-balance", field_readings=apart).values()} == {"unproven"}
    together = [{**row, "at": stamp(600)} for row in apart]
    assert set(said("gas-balance", field_readings=together).values()) == {("broken", 0.7)}
    nowhere = [{**row, "probe_id": ""} for row in together]
    assert {outcome for outcome, _ in said("gas-balance", field_readings=nowhere).values()} == {"unproven"}


def test_a_reading_that_cannot_be_read_is_unproven_and_not_nought():
    rows = [reading("M", 600, "methane", probe_id="P1", detector="combustion"),
            reading("O", 600, probe_id="P1", reading="I2", reading_unit="%v")]  # fmt: skip
    _, (one,) = judged("combustion-meter-oxygen", field_readings=rows)
    assert (one.outcome.tolist(), one.hard.tolist()) == ([Outcome.UNPROVEN], [True])


def test_a_check_at_a_time_that_cannot_be_read_leaves_its_readings_open():
    """It may be the last one before a reading or the next one after it, and whether it passed hangs on which."""
    lost = {**check("C2", 0, "30"), "at": "half past five"}
    rows = {"field_readings": [reading("R", 600), reading("M", 600, "methane")],
            "instrument_checks": [check("C1", 300, "20"), lost, check("C3", 900, "20"),
                                  check("C4", 300, "20", "methane"), check("C5", 900, "20", "methane")]}  # fmt: skip
    for rule_id in ("instrument-checked", "instrument-drift"):
        found = said(rule_id, **rows)
        assert (found["R"][0], found["M"][0]) == ("unproven", "holds"), rule_id
        _, (one,) = judged(rule_id, **rows)
        assert one.hard[one.row == 0].tolist() == [True]


def test_what_is_left_to_the_whole_is_checked_with_no_gas():
    rows = {"field_readings": [reading("B", 600, "balance"), reading("N", 600, "nitrogen")]}
    for rule_id in ("instrument-checked", "instrument-drift"):
        assert said(rule_id, **rows) == {"B": ("not concerned", 0.0), "N": ("unproven", 0.0)}
