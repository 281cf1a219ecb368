"""What a plan says where something is missing, cannot be read, contradicts itself, or goes against its limit."""

from __future__ import annotations

from pathlib import Path

import pytest

import vaporqa
from vaporqa.planning import Item, Lack, Plan
from vaporqa.report.plan_parts import without_clearance

#: A driven probe with everything that its dead volume needs: 10 ft of 0.17 in and 3 in of a 1 in hole.
PROBE = {
    "probe_id": "P", "location_id": "L", "kind": "driven", "install_method": "hand_driven", "pilot_hole": "none",
    "tubing_length [ft]": "10.5", "tubing_inner_diameter [in]": "0.17", "rod_length [ft]": "10",
    "rod_outer_diameter [in]": "1", "retraction [in]": "3", "services_cleared_at": "2026-12-01T06:00",
}  # fmt: skip
SAMPLE = {
    "sample_id": "S", "probe_id": "P", "kind": "primary", "matrix": "soil_gas", "container": "canister",
    "container_volume [L]": "1", "started_at": "2026-12-02T10:00",
}  # fmt: skip
HEAD = {"project": "Made up", "time_zone": "America/Boise", "lab_time_zone": "America/Boise", "altitude": "5280 ft"}


@pytest.fixture
def make(tmp_path: Path):
    """Write a folder of tables and plan it."""

    def made(tables: dict[str, list[dict[str, str]]], head: dict[str, str] | None = None, **more) -> Plan:
        folder = tmp_path / f"folder{len(list(tmp_path.iterdir()))}"
        folder.mkdir()
        (folder / "project.yaml").write_text("".join(f"{k}: {v}\n" for k, v in (head or HEAD).items()))
        for name, rows in {"locations": [{"location_id": "L"}], **tables}.items():
            names = list(dict.fromkeys(column for row in rows for column in row))
            lines = [names, *([row.get(column, "") for column in names] for row in rows)]
            (folder / f"{name}.csv").write_text("".join(",".join(cells) + "\n" for cells in lines))
        return vaporqa.plan(folder, **more).plan

    return made


def without(row: dict[str, str], *names: str) -> dict[str, str]:
    return {name: cell for name, cell in row.items() if name.partition(" ")[0] not in names}


def one(plan: Plan, name: str, probe: str = "P") -> Item:
    (item,) = plan.of(probe, name)
    return item


@pytest.mark.parametrize(
    ("column", "phrase"),
    [
        ("tubing_inner_diameter", "the tubing inner diameter"),
        ("retraction", "the retraction that opened the tip"),
        ("rod_outer_diameter", "the rod outer diameter"),
    ],
)
def test_missing_geometry_leaves_the_dead_volume_open_and_the_rest_is_worked_out(make, column, phrase) -> None:
    plan = make({"probes": [without(PROBE, column)], "samples": [SAMPLE]})
    dead = one(plan, "dead_volume")
    assert (dead.missing, dead.lack) == (phrase, Lack.NOT_RECORDED)
    assert one(plan, "purge_least").missing == "the dead volume"
    assert one(plan, "vacuum_start_least").missing == ""
    assert one(plan, "tubing_to_cut").value == pytest.approx(10.5)


def test_a_number_that_cannot_be_read_is_not_called_unrecorded(make) -> None:
    plan = make({"probes": [{**PROBE, "tubing_inner_diameter [in]": "O.17"}], "samples": [SAMPLE]})
    dead = one(plan, "dead_volume")
    assert (dead.missing, dead.lack) == ("the tubing inner diameter", Lack.UNREADABLE)


def test_tubing_without_a_length_is_taken_as_it_is_to_be_cut_and_neither_without_rods(make) -> None:
    cut = make({"probes": [without(PROBE, "tubing_length")], "samples": [SAMPLE]})
    # 10.5 ft x 4.4634 mL + 3 in x 12.870 mL.
    assert one(cut, "dead_volume").value == pytest.approx(85.477, abs=0.01)
    bare = make({"probes": [without(PROBE, "tubing_length", "rod_length")], "samples": [SAMPLE]})
    assert one(bare, "dead_volume").missing == "the tubing length"
    assert one(bare, "tubing_to_cut").missing == "the length of the rods"


def test_a_tubing_cell_that_cannot_be_read_is_not_replaced_by_a_planned_one(make) -> None:
    plan = make({"probes": [{**PROBE, "tubing_length [ft]": "1O.5"}], "samples": [SAMPLE]})
    assert (one(plan, "dead_volume").missing, one(plan, "dead_volume").lack) == ("the tubing length", Lack.UNREADABLE)


def test_without_altitude_and_weather_the_gauge_is_not_foretold(make) -> None:
    plan = make({"probes": [PROBE], "samples": [SAMPLE]}, without(HEAD, "altitude"))
    for name in ("vacuum_expected", "vacuum_start_least", "fill_time_from", "fill_time_to"):
        assert one(plan, name).missing == "a barometer reading, or the altitude of the site"
    assert one(plan, "close_at").value == 2
    assert one(plan, "purge_least").value == pytest.approx(3 * 85.477, abs=0.03)


@pytest.mark.parametrize(("word", "lack"), [("", Lack.NOT_RECORDED), ("tin can", Lack.UNREADABLE)])
def test_an_unknown_container_leaves_filling_and_deadlines_open(make, word, lack) -> None:
    plan = make({"probes": [PROBE], "samples": [{**SAMPLE, "container": word}]})
    for name in ("fill_time_to", "latest_analysis"):
        assert (one(plan, name).missing, one(plan, name).lack) == ("the container", lack)
    # What holds for any container is said once for the day.
    assert {item.word for item in plan.of("", "latest_analysis")} >= {"canister", "bag", "sorbent_tube", "syringe"}
    assert one(plan, "vacuum_start_least", "").value == pytest.approx(24.63 - 4.92, abs=0.02)


def test_a_sample_that_names_no_probe_or_one_that_is_not_there_is_named(make) -> None:
    lost = [{**SAMPLE, "sample_id": "A", "probe_id": ""}, {**SAMPLE, "sample_id": "B", "probe_id": "Q"}]
    plan = make({"probes": [PROBE], "samples": [SAMPLE, *lost]})
    said = {item.of: item.missing for item in plan.of("", "dead_volume")}
    assert said == {"A": "the probe that it is to be drawn from", "B": "one row of the probe that it names"}


def test_a_flow_over_the_limit_is_said_and_a_sub_slab_profile_moves_it(make) -> None:
    plan = make({"probes": [PROBE], "samples": [SAMPLE]}, flow="0.25 L/min")
    for name in ("purge_flow", "sampling_flow"):
        assert (one(plan, name).value, one(plan, name).against) == (pytest.approx(250), True)
    slow = make({"probes": [PROBE], "samples": [SAMPLE]}, profile="sub-slab")
    assert (one(slow, "purge_flow").value, one(slow, "purge_flow").against) == (50, False)
    assert one(slow, "purge_time_least").value == pytest.approx(3 * 85.477 / 50, abs=0.001)
    assert one(slow, "purge_flow").basis[0].limit.profile == "sub-slab"


def test_profiles_move_waiting_times_and_the_vacuum_to_close_at(make) -> None:
    probe = {**PROBE, "installed_at": "2026-12-02T08:00"}
    plan = make({"probes": [probe], "samples": [SAMPLE]}, profile="california-2003")
    # 20 minutes for a pushed probe (work plans that apply the 2003 advisory, secondary), 5 inHg left in a canister.
    assert one(plan, "wait").value == pytest.approx(20 / 60)
    assert (
        one(plan, "earliest_purge").when.low
        - one(make({"probes": [probe], "samples": [SAMPLE]}), "earliest_purge").when.low
        == -100 * 60 * 1_000_000
    )
    assert one(plan, "close_at").value == 5


def test_a_stroke_that_is_more_than_ten_volumes_fits_no_whole_number(make) -> None:
    plan = make({"probes": [PROBE], "samples": [SAMPLE]}, stroke="1 L")
    assert (one(plan, "strokes_least").value, one(plan, "strokes_most").value) == (1, 0)
    assert one(plan, "strokes_most").against


def test_strokes_that_come_out_whole_are_not_rounded_up(make) -> None:
    # A bore of 1.1283791670955126 cm holds 100 mL a metre: three volumes are 300 mL, three strokes and not four.
    probe = {"probe_id": "P", "location_id": "L", "kind": "subslab", "tubing_length [cm]": "100",
             "tubing_inner_diameter [cm]": "1.1283791670955126"}  # fmt: skip
    plan = make({"probes": [probe], "samples": [SAMPLE]}, stroke="100 mL")
    assert (one(plan, "strokes_least").value, one(plan, "strokes_most").value) == (3, 10)


def test_a_date_alone_counts_from_its_end_and_a_drilled_hole_has_no_hour(make) -> None:
    dated = make({"probes": [{**PROBE, "installed_at": "2026-12-01"}], "samples": [SAMPLE]})
    purge = one(dated, "earliest_purge")
    # Midnight after 1 December in Boise is 07:00 UTC on the second; two hours on.
    assert purge.when.low == pytest.approx(1_796_202_000 * 1_000_000, abs=1)
    assert "from the end of the day" in purge.note
    drilled = {**PROBE, "kind": "implant", "install_method": "rotary", "installed_at": "2026-12-01T08:00"}
    wait = one(make({"probes": [drilled], "samples": [SAMPLE]}), "wait")
    assert (wait.missing, wait.lack) == ("a single number for a drilled hole", Lack.NO_NUMBER)


def test_a_duplicate_and_its_parent_share_the_flow_of_one_line(make) -> None:
    twin = {**SAMPLE, "sample_id": "SD", "kind": "field_duplicate", "parent_sample_id": "S"}
    plan = make({"probes": [PROBE], "samples": [{**SAMPLE, "parent_sample_id": ""}, twin]})
    flows = {item.of: (item.value, item.against) for item in plan.of("P", "sampling_flow")}
    assert flows == {"S": (100, False), "SD": (100, False)}
    both = make({"probes": [PROBE], "samples": [{**SAMPLE, "parent_sample_id": ""}, twin]}, flow="150 mL/min")
    assert all(item.against for item in both.of("P", "sampling_flow"))
    # One duplicate is listed for the one primary sample: none is left to plan.
    assert "1 listed, 0 still to plan" in one(plan, "duplicates_due", "").note


def test_shared_tips_without_a_log_are_cleaned_and_one_in_the_ground_is_drawn_first(make) -> None:
    tip = {"tip_id": "T", "tip_use": "reusable"}
    probes = [
        {**PROBE, **tip, "location_id": "L"},
        {**PROBE, **tip, "probe_id": "Q", "location_id": "M", "installed_at": "2026-12-02T07:00"},
    ]
    samples = [SAMPLE, {**SAMPLE, "sample_id": "SQ", "probe_id": "Q"}]
    plan = make({"probes": probes, "samples": samples, "locations": [{"location_id": "L"}, {"location_id": "M"}]})
    assert [step.probe for step in plan.steps] == ["Q", "P"]
    assert plan.steps[1].after == "Q"
    assert dict(plan.steps[1].clean) == {"T": "Q"}
    assert plan.ordered_by == "declared order"


def test_rods_come_to_holes_that_are_not_made_yet_and_a_retired_syringe_to_none(make) -> None:
    probes = [
        {**PROBE, "installed_at": "2026-12-01T08:00"}, {**PROBE, "probe_id": "Q", "location_id": "M"},
        {**PROBE, "probe_id": "R", "location_id": "N"},
    ]  # fmt: skip
    log = [
        {"event_id": "1", "equipment_id": "ROD", "equipment_kind": "rod", "at": "2026-12-01T08:00", "event": "used",
         "probe_id": "P"},
        {"event_id": "2", "equipment_id": "SYR", "equipment_kind": "syringe", "at": "2026-12-01T08:00", "event": "used",
         "probe_id": "P"},
        {"event_id": "3", "equipment_id": "SYR", "equipment_kind": "syringe", "at": "2026-12-01T09:00",
         "event": "retired"},
    ]  # fmt: skip
    places = [{"location_id": name} for name in "LMN"]
    plan = make({"probes": probes, "equipment_log": log, "locations": places})
    assert [(step.probe, dict(step.clean)) for step in plan.steps] == [
        ("P", {}), ("Q", {"ROD": "P"}), ("R", {"ROD": "Q"}),
    ]  # fmt: skip


def test_sampled_probes_without_clearance_are_named_after_those_to_come(make) -> None:
    probes = [without(PROBE, "services_cleared_at"), {**without(PROBE, "services_cleared_at"), "probe_id": "Q"}]
    samples = [{**SAMPLE, "ended_at": "2026-12-02T10:05"}]
    said = without_clearance(make({"probes": probes, "samples": samples}))
    assert said == [
        "Q: no clearance of buried services is recorded; do not drive it",
        "No clearance in time is recorded of probes that are sampled or removed: P",
    ]


def test_passive_samplers_and_removed_probes_ask_for_no_purge(make) -> None:
    probes = [{**PROBE, "kind": "passive"}, {**PROBE, "probe_id": "Q", "removed_at": "2026-12-01T09:00"}]
    plan = make({"probes": probes})
    assert [state.state for state in plan.probes] == ["passive", "removed"]
    assert not plan.steps
    assert not [item for item in plan.items if item.name in ("dead_volume", "purge_least", "wait")]


def test_a_rule_that_is_left_out_gives_no_number(make) -> None:
    head = {**HEAD, "leave_out": "{purge: a pump with its own form is used}"}
    plan = make({"probes": [PROBE], "samples": [SAMPLE]}, head)
    assert not plan.of("P", "purge_least")
    assert one(plan, "dead_volume").value == pytest.approx(85.477, abs=0.01)


def test_no_heavy_rain_on_record_holds_nothing_back_and_slabs_are_not_concerned(make) -> None:
    rain = "rain [in]", "rain_period [h]"
    dry = [{"at": "2026-12-02T09:00", rain[0]: "0.4", rain[1]: "96"}]
    plan = make({"probes": [PROBE], "samples": [SAMPLE], "weather": dry})
    assert one(plan, "rain_hold").word == "no heavy rain on record"
    assert one(plan, "rain_hold").when is None
    slab = make({"probes": [{**PROBE, "kind": "subslab"}], "samples": [SAMPLE], "weather": dry})
    assert not slab.of("P", "rain_hold")


def test_rain_on_the_morning_of_a_planned_afternoon_holds_it_back(make) -> None:
    wet = [{"at": "2026-12-02T12:00", "rain [in]": "0.5", "rain_period [h]": "1"}]
    hold = one(make({"probes": [PROBE], "samples": [SAMPLE], "weather": wet}), "rain_hold")
    # The sample was planned for ten, and half an inch had fallen by noon: 48 h from then, 19:00 UTC on the fourth.
    assert hold.against
    assert hold.when.low == 1_796_410_800 * 1_000_000
