"""`bound` with a proof, a gate, limits of words, and several readings of one entry."""

from __future__ import annotations

import pytest

from vaporqa.checks import CHECKS
from vaporqa.evidence import Evidence
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Outcome
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()
PROJECT = Project(time_zone="UTC", lab_time_zone="UTC")
CANISTER = {"sample_id": "A", "kind": "primary", "matrix": "soil_gas", "container": "canister"}


def judge(rule_id: str, **tables: list[dict[str, str]]) -> tuple[Outcome, str, str, bool]:
    """Outcome of the first row, the limit that broke, what is missing, and whether it is hard."""
    rule = RULEBOOK.rule(rule_id)
    one, *_ = CHECKS[rule.check].run(rule, Evidence(tables_from_text(tables, PROJECT), PROJECT, RULEBOOK))
    limit = rule.limits[one.limit[0]].name if len(one.limit) and one.limit[0] >= 0 else ""
    want = one.wants[one.want[0]].phrase if len(one.want) and one.want[0] >= 0 else ""
    return Outcome(int(one.state[0])), limit, want, bool(len(one.hard) and one.hard[0])


def decay(resolution: str, end: str = "100 inH2O") -> tuple[Outcome, str, str, bool]:
    cells = {"test_id": "T", "vacuum_start": "100 inH2O", "vacuum_end": end, "gauge_resolution": resolution}
    return judge("shut-in-decay", shut_in_tests=[cells])


def test_a_proof_that_is_not_good_enough_leaves_what_holds_unproven():
    assert decay("0.5 inH2O")[0] is Outcome.HOLDS
    assert decay("1 inH2O") == (Outcome.UNPROVEN, "", "a gauge resolution of at most 0.5 inH2O", False)
    assert decay("") == (Outcome.UNPROVEN, "", "the resolution of the gauge", False)


def test_an_unreadable_proof_is_hard_and_a_plain_breach_needs_none():
    cells = {"test_id": "T", "vacuum_start": "100 inH2O", "gauge_resolution": "O.5", "gauge_resolution_unit": "inH2O"}
    held, lost = ({**cells, "vacuum_end": end} for end in ("100 inH2O", "98 inH2O"))
    assert judge("shut-in-decay", shut_in_tests=[held])[0::3] == (Outcome.UNPROVEN, True)
    assert judge("shut-in-decay", shut_in_tests=[lost])[:2] == (Outcome.BROKEN, "loss")


@pytest.mark.parametrize(
    ("left", "ended", "outcome", "limit"),
    [
        ("0.5 inHg", "10:31", Outcome.BROKEN, "flow_lost_long_draw"),
        ("0.5 inHg", "10:30", Outcome.BROKEN, "least"),
        ("0.5 inHg", "", Outcome.UNPROVEN, ""),
        ("1.5 inHg", "", Outcome.BROKEN, "least"),
        ("5 inHg", "", Outcome.HOLDS, ""),
    ],
)
def test_a_gate_that_cannot_be_told_leaves_open_what_hangs_on_it(left, ended, outcome, limit):
    ended_at = f"2025-06-05T{ended}" if ended else ""
    row = {**CANISTER, "vacuum_end": left, "started_at": "2025-06-05T10:00", "ended_at": ended_at}
    found = judge("canister-end", samples=[row])
    assert found[:2] == (outcome, limit)
    assert found[2] == ("how long the collection took" if outcome is Outcome.UNPROVEN else "")


def test_words_beside_numbers():
    def order(changed: str, ended: str = "2025-06-05T09:50"):
        return judge(
            "shut-in-order",
            samples=[{"sample_id": "A", "kind": "primary", "matrix": "soil_gas", "started_at": "2025-06-05T10:05"}],
            purges=[{"purge_id": "U", "sample_id": "A", "started_at": "2025-06-05T10:00"}],
            shut_in_tests=[{"test_id": "T", "sample_id": "A", "ended_at": ended, "train_changed_after": changed}],
        )

    assert order("no")[0] is Outcome.HOLDS
    assert order("yes")[:2] == (Outcome.BROKEN, "unchanged")
    assert order("") == (Outcome.UNPROVEN, "", "whether the train was changed after it", False)
    assert order("", "2025-06-05T10:02")[:2] == (Outcome.BROKEN, "before")
    assert order("perhaps")[0::3] == (Outcome.UNPROVEN, True)


@pytest.mark.parametrize(
    ("installed", "pilot", "outcome", "want"),
    [
        ("2025-06-05T07:00", "none", Outcome.HOLDS, ""),
        ("2025-06-05T09:00", "none", Outcome.BROKEN, ""),
        ("2025-06-05", "none", Outcome.UNPROVEN, "the time of day of the installation or of the draw"),
        ("2025-06-04", "none", Outcome.HOLDS, ""),
        ("2025-06-06", "none", Outcome.BROKEN, ""),
        ("2025-06-05T07:00", "", Outcome.UNPROVEN, "whether a pilot hole was augered"),
        ("2025-06-05T09:00", "", Outcome.BROKEN, ""),
        ("2025-06-02T09:00", "", Outcome.HOLDS, ""),
    ],
)
def test_every_reading_must_agree(installed, pilot, outcome, want):
    probe = {"probe_id": "P", "kind": "driven", "install_method": "hand_driven", "pilot_hole": pilot}
    sample = {"sample_id": "A", "probe_id": "P", "kind": "primary", "matrix": "soil_gas"}
    found = judge(
        "equilibration-time", probes=[{**probe, "installed_at": installed}],
        samples=[{**sample, "started_at": "2025-06-05T10:00"}],
    )  # fmt: skip
    assert (found[0], found[2]) == (outcome, want)


def test_what_no_form_holds_is_one_finding_for_the_table():
    """No column, no weather and no altitude: the place that would supply the barometer is missing altogether."""
    from vaporqa.review.gathering import is_absent

    rule = RULEBOOK.rule("canister-start")
    tables = tables_from_text({"samples": [{**CANISTER, "vacuum_start": "25 inHg"}]}, PROJECT)
    one, *_ = CHECKS[rule.check].run(rule, Evidence(tables, PROJECT, RULEBOOK))
    assert is_absent(one.wants[one.want[0]], tables)
