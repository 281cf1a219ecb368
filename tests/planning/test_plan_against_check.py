"""Who keeps to the plan keeps the rule: each deadline and limit passes the review, and one step further does not."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

import vaporqa
from vaporqa.outcomes import Outcome
from vaporqa.planning import Item

HEAD = "project: Made up\ntime_zone: America/Boise\nlab_time_zone: America/New_York\naltitude: 5280 ft\n"
PROBE = {
    "probe_id": "P", "location_id": "L", "kind": "driven", "install_method": "hand_driven", "pilot_hole": "none",
    "installed_at": "2026-12-01T08:00", "tubing_length [ft]": "10.5", "tubing_inner_diameter [in]": "0.17",
    "rod_length [ft]": "10", "rod_outer_diameter [in]": "1", "retraction [in]": "3",
}  # fmt: skip
SAMPLE = {"sample_id": "S", "probe_id": "P", "kind": "primary", "matrix": "soil_gas", "started_at": "2026-12-01T23:30"}
RAIN = [
    {"at": "2026-11-30T19:00", "rain [in]": "0", "rain_period [h]": "96"},
    {"at": "2026-11-30T20:00", "rain [in]": "0.6", "rain_period [h]": "1"},
    {"at": "2026-12-05T20:00", "rain [in]": "0", "rain_period [h]": "120"},
]


def write(folder: Path, tables: dict[str, list[dict[str, str]]]) -> Path:
    folder.mkdir()
    (folder / "project.yaml").write_text(HEAD)
    for name, rows in {"locations": [{"location_id": "L"}], **tables}.items():
        names = list(dict.fromkeys(column for row in rows for column in row))
        lines = [names, *([row.get(column, "") for column in names] for row in rows)]
        (folder / f"{name}.csv").write_text("".join(",".join(cells) + "\n" for cells in lines))
    return folder


def broken(folder: Path) -> set[str]:
    found = vaporqa.check(folder).review.findings
    return {str(one) for one, outcome in zip(found.id, found.outcome, strict=True) if outcome == Outcome.BROKEN}


def breaks(rule: str, folder: Path) -> bool:
    return any(one.startswith(f"{rule}/") for one in broken(folder))


def items(folder: Path, name: str) -> list[Item]:
    return [item for item in vaporqa.plan(folder).plan.items if item.name == name]


def utc(microseconds: int) -> str:
    return (dt.datetime(1970, 1, 1) + dt.timedelta(microseconds=microseconds)).isoformat(timespec="seconds") + "Z"


#: Sample to container and the one analyte that is asked for in it.
KEPT_IN = {
    "S1": ("canister", "71-43-2"), "S2": ("canister", "7783-06-4"), "S3": ("bag", "74-82-8"), "S4": ("bag", "71-43-2"),
    "S5": ("syringe", "71-43-2"), "S6": ("sorbent_tube", "71-43-2"),
}  # fmt: skip


@pytest.mark.parametrize(("item", "column", "rule"), [
    ("latest_analysis", "analyzed_at", "holding-time"), ("latest_receipt", "received_at", "holding-time-left"),
])  # fmt: skip
def test_deadlines_are_the_last_that_pass(tmp_path: Path, item, column, rule) -> None:
    samples = [{**SAMPLE, "sample_id": name, "container": container} for name, (container, _) in KEPT_IN.items()]
    wanted = [{"cas": cas} for cas in ("71-43-2", "7783-06-4", "74-82-8")]
    tables = {"probes": [PROBE], "samples": samples, "required_analytes": wanted}
    due = items(write(tmp_path / "plan", tables), item)
    names = {"71-43-2": "benzene", "7783-06-4": "hydrogen sulfide", "74-82-8": "methane"}
    times: dict[str, tuple[str, str]] = {}
    for name, (_, cas) in KEPT_IN.items():
        (mine,) = [one for one in due if one.of == name and names[cas] in (one.about or names[cas])]
        if mine.when.date_only:
            # The last minute of the last day, in the laboratory's zone, and the first of the next.
            day = dt.date(1970, 1, 1) + dt.timedelta(days=mine.when.day)
            times[name] = (f"{day}T23:59", f"{day + dt.timedelta(days=1)}T00:00")
        else:
            times[name] = (utc(mine.when.low), utc(mine.when.low + 1_000_000))
    # The clock runs from the end of collection: each sample ends when it was planned to begin.
    done = [{**sample, "ended_at": sample["started_at"]} for sample in samples]
    for number in (0, 1):
        results = [
            {"sample_id": name, "cas": cas, "analyte": names[cas], "result": "5", "unit": "ug/m3",
             "analyzed_at": "2027-06-01", "received_at": "2026-12-01T23:30Z", column: times[name][number]}
            for name, (_, cas) in KEPT_IN.items()
        ]  # fmt: skip
        folder = write(tmp_path / f"{number}", {**tables, "samples": done, "results": results})
        late = {key.split("/")[2] for key in broken(folder) if key.startswith(f"{rule}/")}
        assert late == (set(KEPT_IN) if number else set())


def test_the_earliest_purge_and_the_end_of_the_rain_hold_are_the_first_that_pass(tmp_path: Path) -> None:
    folder = write(tmp_path / "plan", {"probes": [PROBE], "samples": [SAMPLE], "weather": RAIN})
    for name, rule in (("earliest_purge", "equilibration-time"), ("rain_hold", "rain-wait")):
        (due,) = items(folder, name)
        said = []
        for number, shift in enumerate((0, -1_000_000)):
            begun = utc(due.when.low + shift)
            sample = {**SAMPLE, "started_at": begun, "ended_at": utc(due.when.low + 600_000_000)}
            tables = {"probes": [PROBE], "samples": [sample], "weather": RAIN}
            said.append(breaks(rule, write(tmp_path / f"{name}{number}", tables)))
        assert said == [False, True], name


def test_purge_volumes_between_least_and_most_pass(tmp_path: Path) -> None:
    folder = write(tmp_path / "plan", {"probes": [PROBE], "samples": [SAMPLE]})
    (least,), (most,) = items(folder, "purge_least"), items(folder, "purge_most")
    wanted = {
        least.value: (False, False), least.value * 0.9999: (True, False),
        most.value: (False, False), most.value * 1.0001: (False, True),
    }  # fmt: skip
    for number, (volume, expected) in enumerate(wanted.items()):
        purge = {"purge_id": "U", "sample_id": "S", "volume [mL]": f"{volume:.15g}"}
        made = write(tmp_path / f"{number}", {"probes": [PROBE], "samples": [SAMPLE], "purges": [purge]})
        assert (breaks("purge-volumes", made), breaks("over-purge", made)) == expected


def test_the_least_start_vacuum_passes_and_an_inch_less_does_not(tmp_path: Path) -> None:
    sample = {**SAMPLE, "container": "canister", "container_volume [L]": "1"}
    folder = write(tmp_path / "plan", {"probes": [PROBE], "samples": [sample]})
    (least,) = items(folder, "vacuum_start_least")
    said = []
    for number, vacuum in enumerate((least.value, least.value - 0.01)):
        tables = {"probes": [PROBE], "samples": [{**sample, "vacuum_start [inHg]": f"{vacuum:.15g}"}]}
        said.append(breaks("canister-start", write(tmp_path / f"{number}", tables)))
    assert said == [False, True]
    # And a canister closed when the plan says so was filled as the review reckons it.
    (full,) = items(folder, "fill_time_to")
    (expect,) = items(folder, "vacuum_expected")
    begun = dt.datetime(2026, 12, 1, 23, 30)
    done = {
        **sample, "vacuum_start [inHg]": f"{expect.value:.15g}", "vacuum_end [inHg]": "2", "flow [mL/min]": "200",
        "ended_at": (begun + dt.timedelta(minutes=full.value)).isoformat(timespec="seconds"),
    }  # fmt: skip
    assert not breaks("canister-fill", write(tmp_path / "filled", {"probes": [PROBE], "samples": [done]}))


def test_tubing_cut_as_planned_passes(tmp_path: Path) -> None:
    (cut,) = items(write(tmp_path / "plan", {"probes": [PROBE]}), "tubing_to_cut")
    assert cut.unit == "ft"
    said = []
    for number, length in enumerate((cut.value, cut.value - 0.01)):
        probe = {**PROBE, "tubing_length [ft]": f"{length:.15g}"}
        said.append(breaks("tubing-tail", write(tmp_path / f"{number}", {"probes": [probe]})))
    assert said == [False, True]
