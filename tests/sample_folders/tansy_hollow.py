"""Tansy Hollow: a campaign half done, and the plan that what is left of it must get.

Every expectation below was worked out by hand from the cells that are written here, with the arithmetic beside it.
The folder is no part of `make.FOLDERS`: in mid-campaign most of what a review asks for is unproven, and the list of
every flag would say nothing more than that. `test_tansy_hollow.py` holds its plan and its README.
"""

from __future__ import annotations

from typing import NamedTuple

from paper import Folder, Sheet

PROJECT = """\
project: Tansy Hollow               # invented
purpose: remediation
time_zone: America/Denver
lab_time_zone: America/Chicago
altitude: 5280 ft
lab_altitude: 600 ft
reference: {temperature: 25 degC, pressure: 1 atm}
stage: 2A
"""
#: What the plan is asked for besides the folder.
DAY, STROKE = "2026-10-14T10:00", "100 mL"

_PROBES = {
    **{n: n for n in ("probe_id", "location_id", "kind", "install_method", "pilot_hole", "installed_at", "removed_at")},
    **{n: f"{n} [ft]" for n in ("depth_top", "depth_bottom", "rod_length", "tubing_length", "water_depth")},
    **{
        n: f"{n} [in]" for n in (
            "tubing_inner_diameter", "tubing_outer_diameter", "bore_diameter", "rod_outer_diameter", "retraction",
            "sand_pack_top", "sand_pack_bottom", "dry_seal_length",
        )
    },
    "tip_volume": "tip_volume [mL]",
    **{
        n: n for n in (
            "sand_pack_porosity", "dry_seal_porosity", "tubing_material", "tip_id", "tip_use", "joints_checked",
            "services_cleared_at",
        )
    },
}  # fmt: skip
_SAMPLES = {
    **{n: n for n in ("sample_id", "probe_id", "location_id", "kind", "matrix", "container", "container_id")},
    "flow": "flow [mL/min]", "volume": "volume [mL]", "container_volume": "container_volume [mL]",
    **{n: n for n in ("started_at", "ended_at", "water_seen", "preserved", "shipment_id")},
    "vacuum_start": "vacuum_start [inHg]", "vacuum_end": "vacuum_end [inHg]",
}  # fmt: skip
_CLEARED = "2026-10-09T11:00"
_LINE = {"tubing_inner_diameter": "0.17", "tubing_material": "ptfe"}
_DRIVEN = {
    "kind": "driven", "install_method": "hand_driven", "pilot_hole": "none", "rod_outer_diameter": "1",
    "joints_checked": "yes", **_LINE,
}  # fmt: skip


def build() -> Folder:
    """The folder as it stands at seven in the morning of the fourteenth."""
    folder = Folder(
        "tansy-hollow", PROJECT,
        {
            "locations": Sheet({"location_id": "location_id", "setting": "setting"}),
            "probes": Sheet(dict(_PROBES)),
            "samples": Sheet(dict(_SAMPLES)),
            "purges": Sheet({"purge_id": "purge_id", "sample_id": "sample_id", "started_at": "started_at",
                             "ended_at": "ended_at", "flow": "flow [mL/min]", "volume": "volume [mL]",
                             "train_volume": "train_volume [mL]"}),
            "containers": Sheet({"container_id": "container_id", "container": "container",
                                 "container_volume": "container_volume [L]",
                                 "vacuum_dispatch": "vacuum_dispatch [inHg]"}),
            "equipment_log": Sheet({n: n for n in ("event_id", "equipment_id", "equipment_kind", "at", "event",
                                                   "probe_id", "cleaning_method", "dried")}),
            "weather": Sheet({"at": "at", "rain": "rain [in]", "rain_period": "rain_period [h]",
                              "barometer": "barometer [inHg]"}),
            "required_analytes": Sheet({"cas": "cas", "analyte": "analyte"}),
            "results": Sheet({n: n for n in ("result_id", "sample_id", "method", "cas", "analyte", "result", "unit",
                                             "reporting_limit", "analyzed_at")}),
        },
    )  # fmt: skip
    for number in range(1, 9):
        folder.sheets["locations"].add(location_id=f"L-{number}", setting="yard" if number < 8 else "store")
    _probes(folder)
    _samples(folder)
    _rest(folder)
    folder.readme = readme()
    return folder


def _probes(folder: Folder) -> None:
    add = folder.sheets["probes"].add
    add(probe_id="TH-01", location_id="L-1", installed_at="2026-10-13T11:00", removed_at="2026-10-13T15:00",
        depth_top="7.75", depth_bottom="8", rod_length="9", tubing_length="9.5", retraction="3", tip_id="T-1",
        tip_use="reusable", services_cleared_at=_CLEARED, **_DRIVEN)  # fmt: skip
    add(probe_id="TH-02", location_id="L-2", depth_top="8.75", depth_bottom="9", rod_length="10",
        tubing_length="10.5", retraction="3", tip_id="T-1", tip_use="reusable", services_cleared_at=_CLEARED,
        **_DRIVEN)  # fmt: skip
    add(probe_id="TH-03", location_id="L-3", depth_top="11.33", depth_bottom="11.5", water_depth="12",
        rod_length="12", tubing_length="12.5", retraction="2", tip_volume="3", tip_id="T-1", tip_use="reusable",
        services_cleared_at=_CLEARED, **_DRIVEN)  # fmt: skip
    add(probe_id="TH-04", location_id="L-4", installed_at="2026-10-14T07:30", depth_top="5.2", depth_bottom="5.4",
        rod_length="6", tubing_length="7", tip_id="D-4", tip_use="dedicated", services_cleared_at=_CLEARED,
        **_DRIVEN)  # fmt: skip
    add(
        probe_id="TH-05",
        location_id="L-5",
        depth_top="8.75",
        depth_bottom="9",
        rod_length="10",
        tubing_length="9.5",
        retraction="3",
        tip_id="D-5",
        tip_use="dedicated",
        **{**_DRIVEN, "pilot_hole": ""},
    )
    add(probe_id="TH-06", location_id="L-6", kind="implant", install_method="hand_auger", pilot_hole="none",
        installed_at="2026-10-13T09:00", depth_top="5", depth_bottom="6", tubing_length="7",
        tubing_outer_diameter="0.25", bore_diameter="2.25", sand_pack_top="60", sand_pack_bottom="72",
        dry_seal_length="12", sand_pack_porosity="0.30", dry_seal_porosity="0.30", services_cleared_at=_CLEARED,
        **_LINE)  # fmt: skip
    add(
        probe_id="TH-07",
        location_id="L-7",
        depth_top="5.33",
        depth_bottom="5.5",
        water_depth="5.4",
        rod_length="6",
        retraction="2",
        tip_id="T-2",
        tip_use="reusable",
        services_cleared_at=_CLEARED,
        **_DRIVEN,
    )
    add(probe_id="TH-08", location_id="L-8", kind="subslab", install_method="core_drill",
        installed_at="2026-10-14T08:00", tubing_length="2", tubing_material="ptfe",
        services_cleared_at="2026-10-14T09:00")  # fmt: skip


def _samples(folder: Folder) -> None:
    add = folder.sheets["samples"].add
    gas = {"kind": "primary", "matrix": "soil_gas"}
    for number, day in ((2, "12"), (3, "12"), (4, "13")):
        add(sample_id=f"E-{number}", location_id=f"L-{number}", container="canister", shipment_id="S-0",
            started_at=f"2026-05-{day}T10:00", ended_at=f"2026-05-{day}T10:05", **gas)  # fmt: skip
    add(sample_id="TH-01-1", probe_id="TH-01", container="canister", container_id="K-1", water_seen="line",
        started_at="2026-10-13T14:35", ended_at="2026-10-13T14:40", vacuum_start="24.1", vacuum_end="4",
        shipment_id="S-1", **gas)  # fmt: skip
    add(sample_id="TH-02-1", probe_id="TH-02", container="canister", container_id="K-2", shipment_id="S-1",
        started_at="2026-10-14T13:00", **gas)  # fmt: skip
    add(sample_id="TH-03-1", probe_id="TH-03", container="canister", container_id="K-3", shipment_id="S-1",
        flow="100", started_at="2026-10-14T11:00", **gas)  # fmt: skip
    add(sample_id="TH-03-S", probe_id="TH-03", kind="primary", matrix="soil", container="core_sampler",
        started_at="2026-10-14T11:30")  # fmt: skip
    add(sample_id="TH-03-V", probe_id="TH-03", kind="primary", matrix="soil", container="vial", preserved="methanol",
        started_at="2026-10-14T11:30")  # fmt: skip
    add(sample_id="TH-04-1", probe_id="TH-04", container="glass_bulb", container_volume="125", shipment_id="S-1", **gas)
    add(sample_id="TH-05-1", probe_id="TH-05", container="sorbent_tube", flow="50", volume="100", shipment_id="S-1",
        **gas)  # fmt: skip
    add(sample_id="TH-06-1", probe_id="TH-06", container="sorbent_tube", started_at="2026-10-15T09:30",
        shipment_id="S-1", **gas)  # fmt: skip
    add(sample_id="TH-07-1", probe_id="TH-07", container="bag", container_volume="1000", shipment_id="S-1", **gas)
    add(sample_id="TH-08-1", probe_id="TH-08", kind="primary", matrix="subslab_gas", container="canister",
        shipment_id="S-1")  # fmt: skip


def _rest(folder: Folder) -> None:
    purges, log, stock = (folder.sheets[name].add for name in ("purges", "equipment_log", "containers"))
    purges(purge_id="PU-1", sample_id="TH-01-1", started_at="2026-10-13T14:25", ended_at="2026-10-13T14:28",
           flow="150", volume="450")  # fmt: skip
    purges(purge_id="PU-2", sample_id="TH-02-1", train_volume="10")
    for name, litres, vacuum in (("K-1", "1", "29.0"), ("K-2", "1", "29.0"), ("K-3", "6", "")):
        stock(container_id=name, container="canister", container_volume=litres, vacuum_dispatch=vacuum)
    # The tip was wiped before it was pulled: inside its use, and that counts for nothing.
    wash = {"event": "cleaned", "cleaning_method": "detergent and water", "dried": "yes"}
    log(event_id="EQ-1", equipment_id="SY-1", equipment_kind="syringe", at="2026-10-13T14:25", event="used",
        probe_id="TH-01")  # fmt: skip
    log(event_id="EQ-2", equipment_id="T-1", equipment_kind="tip", at="2026-10-13T14:45", **wash)
    log(event_id="EQ-3", equipment_id="SY-1", equipment_kind="syringe", at="2026-10-13T16:00", **wash)
    weather = folder.sheets["weather"].add
    for at, rain, period, barometer in (
        ("2026-10-12T17:00", "0", "48", ""), ("2026-10-12T18:00", "0.3", "1", ""),
        ("2026-10-12T19:00", "0.3", "1", ""), ("2026-10-13T07:00", "0", "12", "24.62"),
        ("2026-10-13T19:00", "0", "12", "24.55"), ("2026-10-14T07:00", "0", "12", "24.50"),
    ):  # fmt: skip
        weather(at=at, rain=rain, rain_period=period, barometer=barometer)
    for cas, name in (("127-18-4", "tetrachloroethene"), ("79-01-6", "trichloroethene"), ("74-82-8", "methane"),
                      ("7783-06-4", "hydrogen sulfide")):  # fmt: skip
        folder.sheets["required_analytes"].add(cas=cas, analyte=name)
    for number, (sample, cas, name, result) in enumerate((
        ("E-2", "127-18-4", "tetrachloroethene", "40"), ("E-2", "79-01-6", "trichloroethene", "ND"),
        ("E-3", "127-18-4", "tetrachloroethene", "1200"), ("E-3", "79-01-6", "trichloroethene", "85"),
        ("E-4", "127-18-4", "tetrachloroethene", "ND"), ("E-4", "79-01-6", "trichloroethene", "ND"),
    ), start=1):  # fmt: skip
        folder.sheets["results"].add(
            result_id=f"R-{number}", sample_id=sample, method="TO-15", cas=cas, analyte=name, result=result,
            unit="ug/m3", reporting_limit="5", analyzed_at="2026-05-20T09:00",
        )  # fmt: skip


class Due(NamedTuple):
    """One thing that the plan must say: a number in a unit, a local time or date, or (`missing`) what it lacks."""

    probe: str
    item: str
    of: str
    value: str
    unit: str = ""
    limits: str = ""
    why: str = ""
    missing: str = ""
    against: bool = False


#: mL a foot of tubing of 0.17 in bore: pi/4 (0.17 x 2.54)^2 x 30.48 = 4.463 (criteria O7 prints 4.463).
#: mL an inch of a hole of 1 in: pi/4 2.54^2 x 2.54 = 12.870.
_RAIN = "0.3 + 0.3 in within 2 h, ended 12 October 19:00; + 48 h"
_LONG, _SHORT = "rain-wait.wait, rain-wait.heavy", "purge-volumes.enough, purge-flow.highest"
_MOST = "over-purge.most, purge-flow.highest"
_HALF = "holding-time-left.half, holding-time."

EXPECTED: tuple[Due, ...] = (
    # TH-01: sampled; nothing is left to plan but its deadlines.
    Due("TH-01", "water_seen", "TH-01-1", "line", limits="water-in-train.line", why="seen on the thirteenth",
        against=True),
    Due("TH-01", "latest_receipt", "TH-01-1", "2026-10-16", limits=_HALF + "canister_sulfur",
        why="hydrogen sulfide: 13 October + half of 7 d, whole days: + 3 d"),
    Due("TH-01", "latest_receipt", "TH-01-1", "2026-10-28", limits=_HALF + "canister",
        why="the others: 13 October + half of 30 d"),
    Due("TH-01", "latest_analysis", "TH-01-1", "2026-10-20", limits="holding-time.canister_sulfur", why="+ 7 d"),
    Due("TH-01", "latest_analysis", "TH-01-1", "2026-11-12", limits="holding-time.canister",
        why="+ 30 d: 18 days of October are left, so 12 November"),
    # TH-02: the tip T-1 comes from TH-01.
    Due("TH-02", "services_cleared", "", "2026-10-09T11:00"),
    Due("TH-02", "tubing_to_cut", "", "10.5", "ft", "tubing-reaches-tip.reaches, tubing-tail.tail", "10 ft + 6 in"),
    Due("TH-02", "tubing_part", "", "46.87", "mL", why="4.4634 x 10.5"),
    Due("TH-02", "void_part", "", "38.61", "mL", why="12.870 x 3"),
    Due("TH-02", "train_part", "", "10", "mL", why="as the purge form has it"),
    Due("TH-02", "dead_volume", "", "95.48", "mL", why="46.87 + 38.61 + 10"),
    Due("TH-02", "purge_least", "", "286.4", "mL", "purge-volumes.enough", "3 x 95.48"),
    Due("TH-02", "purge_most", "", "954.8", "mL", "over-purge.most", "10 x 95.48"),
    Due("TH-02", "purge_flow", "", "200", "mL/min", "purge-flow.highest", "none was planned: the highest allowed"),
    Due("TH-02", "purge_time_least", "", "1.432", "min", _SHORT, "286.4 / 200"),
    Due("TH-02", "purge_time_most", "", "4.774", "min", _MOST, "954.8 / 200"),
    Due("TH-02", "strokes_least", "", "3", "strokes", "purge-volumes.enough", "286.4 / 100 = 2.86, a whole stroke up"),
    Due("TH-02", "strokes_most", "", "9", "strokes", "over-purge.most", "954.8 / 100 = 9.55, a whole stroke down"),
    Due("TH-02", "stroke_interval", "", "30", "s", "purge-flow.highest", "100 mL at 200 mL/min"),
    Due("TH-02", "wait", "", "2", "h", "equilibration-time.pushed", "driven, no pilot hole"),
    Due("TH-02", "earliest_purge", "", "", limits="equilibration-time.pushed", missing="when the probe was installed"),
    Due("TH-02", "rain_hold", "", "2026-10-14T19:00", limits=_LONG, why=_RAIN + "; planned 14 October 13:00",
        against=True),
    Due("TH-02", "sampling_flow", "TH-02-1", "200", "mL/min", "sampling-flow.most"),
    Due("TH-02", "vacuum_expected", "TH-02-1", "24.22", "inHg",
        why="sent at 29.0 under 29.278 (standard atmosphere at 600 ft) leaves 0.278; 24.50 - 0.278"),
    Due("TH-02", "vacuum_start_least", "TH-02-1", "19.58", "inHg", "canister-start.evacuated",
        "25 inHg leaves 29.921 - 25 = 4.921 at sea level; 24.50 - 4.921"),
    Due("TH-02", "close_from", "TH-02-1", "10", "inHg", "canister-end.most"),
    Due("TH-02", "close_at", "TH-02-1", "2", "inHg", "canister-end.least"),
    Due("TH-02", "fill_time_from", "TH-02-1", "2.902", "min", "canister-end.most, sampling-flow.most",
        "1000 x (14.5 - 0.278) / 24.5 = 580.5 mL; / 200"),
    Due("TH-02", "fill_time_to", "TH-02-1", "4.535", "min", "canister-end.least, sampling-flow.most",
        "1000 x (22.5 - 0.278) / 24.5 = 907.0 mL; / 200"),
    Due("TH-02", "latest_receipt", "TH-02-1", "2026-10-17", limits=_HALF + "canister_sulfur",
        why="14 October + 3 d"),
    Due("TH-02", "latest_receipt", "TH-02-1", "2026-10-29", limits=_HALF + "canister",
        why="14 October + 15 d"),
    Due("TH-02", "latest_analysis", "TH-02-1", "2026-10-21", limits="holding-time.canister_sulfur", why="+ 7 d"),
    Due("TH-02", "latest_analysis", "TH-02-1", "2026-11-13", limits="holding-time.canister", why="+ 30 d"),
    # TH-03: the dirtiest that is known, half a foot above the water, with soil beside the gas.
    Due("TH-03", "services_cleared", "", "2026-10-09T11:00"),
    Due("TH-03", "tubing_to_cut", "", "12.5", "ft", "tubing-reaches-tip.reaches, tubing-tail.tail", "12 ft + 6 in"),
    Due("TH-03", "tubing_part", "", "55.79", "mL", why="4.4634 x 12.5"),
    Due("TH-03", "tip_part", "", "3", "mL"),
    Due("TH-03", "void_part", "", "25.74", "mL", why="12.870 x 2"),
    Due("TH-03", "dead_volume", "", "84.53", "mL", why="55.79 + 3 + 25.74"),
    Due("TH-03", "purge_least", "", "253.6", "mL", "purge-volumes.enough", "3 x 84.53"),
    Due("TH-03", "purge_most", "", "845.3", "mL", "over-purge.most", "10 x 84.53"),
    Due("TH-03", "purge_flow", "", "200", "mL/min", "purge-flow.highest"),
    Due("TH-03", "purge_time_least", "", "1.268", "min", _SHORT, "253.6 / 200"),
    Due("TH-03", "purge_time_most", "", "4.227", "min", _MOST, "845.3 / 200"),
    Due("TH-03", "strokes_least", "", "3", "strokes", "purge-volumes.enough", "2.54, up"),
    Due("TH-03", "strokes_most", "", "8", "strokes", "over-purge.most", "8.45, down"),
    Due("TH-03", "stroke_interval", "", "30", "s", "purge-flow.highest"),
    Due("TH-03", "height_above_water", "", "0.5", "ft", "above-water.above", "12 - 11.5"),
    Due("TH-03", "wait", "", "2", "h", "equilibration-time.pushed"),
    Due("TH-03", "earliest_purge", "", "", limits="equilibration-time.pushed", missing="when the probe was installed"),
    Due("TH-03", "rain_hold", "", "2026-10-14T19:00", limits=_LONG, why=_RAIN + "; planned 14 October 11:00",
        against=True),
    Due("TH-03", "sampling_flow", "TH-03-1", "100", "mL/min", "sampling-flow.most", "as the samples table has it"),
    Due("TH-03", "vacuum_expected", "TH-03-1", "24.50", "inHg", why="no vacuum at dispatch: a canister sent empty"),
    Due("TH-03", "vacuum_start_least", "TH-03-1", "19.58", "inHg", "canister-start.evacuated", "as at TH-02"),
    Due("TH-03", "close_from", "TH-03-1", "10", "inHg", "canister-end.most"),
    Due("TH-03", "close_at", "TH-03-1", "2", "inHg", "canister-end.least"),
    Due("TH-03", "fill_time_from", "TH-03-1", "35.51", "min", "canister-end.most, sampling-flow.most",
        "6000 x 14.5 / 24.5 = 3551 mL; / 100"),
    Due("TH-03", "fill_time_to", "TH-03-1", "55.10", "min", "canister-end.least, sampling-flow.most",
        "6000 x 22.5 / 24.5 = 5510 mL; / 100"),
    Due("TH-03", "preserve_by", "TH-03-S", "2026-10-16T11:30", limits="holding-time.core_sampler", why="+ 48 h"),
    Due("TH-03", "latest_receipt", "TH-03-1", "2026-10-17", limits=_HALF + "canister_sulfur"),
    Due("TH-03", "latest_receipt", "TH-03-1", "2026-10-29", limits=_HALF + "canister"),
    Due("TH-03", "latest_receipt", "TH-03-S", "2026-10-21", limits=_HALF + "soil_vial",
        why="once in a preserved vial: 14 October + 7 d"),
    Due("TH-03", "latest_receipt", "TH-03-V", "2026-10-21", limits=_HALF + "soil_vial"),
    Due("TH-03", "latest_analysis", "TH-03-1", "2026-10-21", limits="holding-time.canister_sulfur"),
    Due("TH-03", "latest_analysis", "TH-03-1", "2026-11-13", limits="holding-time.canister"),
    Due("TH-03", "latest_analysis", "TH-03-S", "2026-10-28", limits="holding-time.soil_vial",
        why="once in a preserved vial: 14 October + 14 d"),
    Due("TH-03", "latest_analysis", "TH-03-V", "2026-10-28", limits="holding-time.soil_vial"),
    # TH-04: standing since half past seven, with a bulb that the purge must sweep.
    Due("TH-04", "services_cleared", "", "2026-10-09T11:00"),
    Due("TH-04", "tubing_to_cut", "", "6.5", "ft", "tubing-reaches-tip.reaches, tubing-tail.tail", "6 ft + 6 in"),
    Due("TH-04", "tubing_part", "", "31.24", "mL", why="84 in, as criteria O8 prints it"),
    Due("TH-04", "bulb_part", "", "125", "mL", why="not evacuated, so it is swept"),
    Due("TH-04", "dead_volume", "", "156.2", "mL", why="31.24 + 125"),
    Due("TH-04", "purge_least", "", "468.7", "mL", "purge-volumes.enough", "3 x 156.24"),
    Due("TH-04", "purge_most", "", "1562", "mL", "over-purge.most", "10 x 156.24"),
    Due("TH-04", "purge_flow", "", "200", "mL/min", "purge-flow.highest"),
    Due("TH-04", "purge_time_least", "", "2.344", "min", _SHORT, "468.7 / 200"),
    Due("TH-04", "purge_time_most", "", "7.812", "min", _MOST, "1562.4 / 200"),
    Due("TH-04", "strokes_least", "", "5", "strokes", "purge-volumes.enough", "4.69, up"),
    Due("TH-04", "strokes_most", "", "15", "strokes", "over-purge.most", "15.6, down"),
    Due("TH-04", "stroke_interval", "", "30", "s", "purge-flow.highest"),
    Due("TH-04", "wait", "", "2", "h", "equilibration-time.pushed"),
    Due("TH-04", "earliest_purge", "", "2026-10-14T09:30", limits="equilibration-time.pushed", why="07:30 + 2 h"),
    Due("TH-04", "earliest_sample", "", "2026-10-14T09:32:21", limits="equilibration-time.pushed",
        why="+ 2.3437 min = 140.6 s, a whole second up"),
    Due("TH-04", "rain_hold", "", "2026-10-14T19:00", limits=_LONG, why=_RAIN + "; asked for 10:00", against=True),
    Due("TH-04", "sampling_flow", "TH-04-1", "200", "mL/min", "sampling-flow.most"),
    Due("TH-04", "fill_time_to", "TH-04-1", "filled by the purge that sweeps it", limits="sampling-flow.most"),
    Due("TH-04", "latest_receipt", "TH-04-1", "", limits=_HALF + "glass_bulb",
        missing="when the surrogate is added", why="12 h after it"),
    Due("TH-04", "latest_analysis", "TH-04-1", "", limits="holding-time.glass_bulb",
        missing="when the surrogate is added", why="24 h after it"),
    # TH-05: no clearance, and a tubing that is shorter than its rods.
    Due("TH-05", "services_cleared", "", "", missing="when buried services were located and cleared", against=True),
    Due("TH-05", "tubing_to_cut", "", "10.5", "ft", "tubing-reaches-tip.reaches, tubing-tail.tail", "10 ft + 6 in",
        against=True),
    Due("TH-05", "void_part", "", "38.61", "mL", why="12.870 x 3: its retraction is stated"),
    Due("TH-05", "dead_volume", "", "", "mL", missing="a tubing at least as long as its rods"),
    Due("TH-05", "purge_least", "", "", "mL", "purge-volumes.enough", missing="the dead volume"),
    Due("TH-05", "purge_most", "", "", "mL", "over-purge.most", missing="the dead volume"),
    Due("TH-05", "purge_flow", "", "200", "mL/min", "purge-flow.highest"),
    Due("TH-05", "purge_time_least", "", "", "min", _SHORT, missing="the dead volume"),
    Due("TH-05", "purge_time_most", "", "", "min", _MOST, missing="the dead volume"),
    Due("TH-05", "strokes_least", "", "", "strokes", "purge-volumes.enough", missing="the dead volume"),
    Due("TH-05", "strokes_most", "", "", "strokes", "over-purge.most", missing="the dead volume"),
    Due("TH-05", "stroke_interval", "", "30", "s", "purge-flow.highest"),
    Due("TH-05", "wait", "", "48", "h", "equilibration-time.augered", "a pilot hole may have been augered"),
    Due("TH-05", "earliest_purge", "", "", limits="equilibration-time.augered", missing="when the probe was installed"),
    Due("TH-05", "rain_hold", "", "2026-10-14T19:00", limits=_LONG, why=_RAIN + "; asked for 10:00", against=True),
    Due("TH-05", "sampling_flow", "TH-05-1", "50", "mL/min", "sampling-flow.most"),
    Due("TH-05", "fill_time_to", "TH-05-1", "2", "min", "sampling-flow.most", "100 / 50"),
    Due("TH-05", "latest_receipt", "TH-05-1", "2026-10-29", limits=_HALF + "sorbent_tube"),
    Due("TH-05", "latest_analysis", "TH-05-1", "2026-11-13", limits="holding-time.sorbent_tube"),
    # TH-06: the implant of criteria O8, in an augered hole.
    Due("TH-06", "services_cleared", "", "2026-10-09T11:00"),
    Due("TH-06", "tubing_part", "", "31.24", "mL", why="criteria O8"),
    Due("TH-06", "pack_part", "", "231.7", "mL", why="pi/4 (2.25^2 - 0.25^2) x 2.54^2 x 30.48 x 0.30; criteria O8"),
    Due("TH-06", "seal_part", "", "231.7", "mL", why="criteria O8"),
    Due("TH-06", "dead_volume", "", "494.6", "mL", why="criteria O8: 494.58"),
    Due("TH-06", "purge_least", "", "1484", "mL", "purge-volumes.enough", "criteria O8: 1483.7"),
    Due("TH-06", "purge_most", "", "4946", "mL", "over-purge.most", "10 x 494.58"),
    Due("TH-06", "purge_flow", "", "200", "mL/min", "purge-flow.highest"),
    Due("TH-06", "purge_time_least", "", "7.419", "min", _SHORT, "criteria O8: 7.42 min at 200"),
    Due("TH-06", "purge_time_most", "", "24.73", "min", _MOST, "4945.8 / 200"),
    Due("TH-06", "strokes_least", "", "15", "strokes", "purge-volumes.enough", "14.8, up"),
    Due("TH-06", "strokes_most", "", "49", "strokes", "over-purge.most", "49.5, down"),
    Due("TH-06", "stroke_interval", "", "30", "s", "purge-flow.highest"),
    Due("TH-06", "wait", "", "48", "h", "equilibration-time.augered"),
    Due("TH-06", "earliest_purge", "", "2026-10-15T09:00", limits="equilibration-time.augered",
        why="13 October 09:00 + 48 h"),
    Due("TH-06", "earliest_sample", "", "2026-10-15T09:07:26", limits="equilibration-time.augered",
        why="+ 7.4187 min = 445.1 s, a whole second up"),
    Due("TH-06", "rain_hold", "", "2026-10-14T19:00", limits=_LONG, why=_RAIN + "; planned 15 October 09:30, after it"),
    Due("TH-06", "sampling_flow", "TH-06-1", "200", "mL/min", "sampling-flow.most"),
    Due("TH-06", "fill_time_to", "TH-06-1", "", "min", "sampling-flow.most",
        missing="the volume to draw through the tube"),
    Due("TH-06", "latest_receipt", "TH-06-1", "2026-10-30", limits=_HALF + "sorbent_tube",
        why="15 October + 15 d"),
    Due("TH-06", "latest_analysis", "TH-06-1", "2026-11-14", limits="holding-time.sorbent_tube", why="+ 30 d"),
    # TH-07: its open interval would end below the water; the tubing is still to be cut.
    Due("TH-07", "services_cleared", "", "2026-10-09T11:00"),
    Due("TH-07", "tubing_to_cut", "", "6.5", "ft", "tubing-reaches-tip.reaches, tubing-tail.tail", "6 ft + 6 in"),
    Due("TH-07", "tubing_part", "", "29.01", "mL", why="of the tubing to be cut: 4.4634 x 6.5"),
    Due("TH-07", "void_part", "", "25.74", "mL", why="12.870 x 2"),
    Due("TH-07", "dead_volume", "", "54.75", "mL", why="29.01 + 25.74"),
    Due("TH-07", "purge_least", "", "164.3", "mL", "purge-volumes.enough", "3 x 54.75"),
    Due("TH-07", "purge_most", "", "547.5", "mL", "over-purge.most", "10 x 54.75"),
    Due("TH-07", "purge_flow", "", "200", "mL/min", "purge-flow.highest"),
    Due("TH-07", "purge_time_least", "", "0.8213", "min", _SHORT, "164.26 / 200"),
    Due("TH-07", "purge_time_most", "", "2.738", "min", _MOST, "547.5 / 200"),
    Due("TH-07", "strokes_least", "", "2", "strokes", "purge-volumes.enough", "1.64, up"),
    Due("TH-07", "strokes_most", "", "5", "strokes", "over-purge.most", "5.48, down"),
    Due("TH-07", "stroke_interval", "", "30", "s", "purge-flow.highest"),
    Due("TH-07", "height_above_water", "", "-0.1", "ft", "above-water.above", "5.4 - 5.5: under water", against=True),
    Due("TH-07", "wait", "", "2", "h", "equilibration-time.pushed"),
    Due("TH-07", "earliest_purge", "", "", limits="equilibration-time.pushed", missing="when the probe was installed"),
    Due("TH-07", "rain_hold", "", "2026-10-14T19:00", limits=_LONG, why=_RAIN + "; asked for 10:00", against=True),
    Due("TH-07", "sampling_flow", "TH-07-1", "200", "mL/min", "sampling-flow.most"),
    Due("TH-07", "fill_time_to", "TH-07-1", "5", "min", "sampling-flow.most", "1000 / 200"),
    Due("TH-07", "latest_receipt", "TH-07-1", "2026-10-14T22:00", limits=_HALF + "bag_methane",
        why="methane: 10:00 + half of 24 h"),
    Due("TH-07", "latest_receipt", "TH-07-1", "2026-10-14T13:00", limits=_HALF + "bag_reactive",
        why="hydrogen sulfide: 10:00 + half of 6 h"),
    Due("TH-07", "latest_receipt", "TH-07-1", "2026-10-14T13:00", limits=_HALF + "bag_lasting",
        why="tetrachloroethene, trichloroethene: 10:00 + half of 6 h"),
    Due("TH-07", "latest_analysis", "TH-07-1", "2026-10-15T10:00", limits="holding-time.bag_methane", why="+ 24 h"),
    Due("TH-07", "latest_analysis", "TH-07-1", "2026-10-14T16:00", limits="holding-time.bag_reactive", why="+ 6 h"),
    Due("TH-07", "latest_analysis", "TH-07-1", "2026-10-14T16:00", limits="holding-time.bag_lasting", why="+ 6 h"),
    # TH-08: under a slab, cored before the services were cleared; the bore of its tubing is not recorded.
    Due("TH-08", "services_cleared", "", "2026-10-14T09:00", why="an hour after it was cored", against=True),
    Due("TH-08", "dead_volume", "", "", "mL", missing="the tubing inner diameter"),
    Due("TH-08", "purge_least", "", "", "mL", "purge-volumes.enough", missing="the dead volume"),
    Due("TH-08", "purge_most", "", "", "mL", "over-purge.most", missing="the dead volume"),
    Due("TH-08", "purge_flow", "", "200", "mL/min", "purge-flow.highest"),
    Due("TH-08", "purge_time_least", "", "", "min", _SHORT, missing="the dead volume"),
    Due("TH-08", "purge_time_most", "", "", "min", _MOST, missing="the dead volume"),
    Due("TH-08", "strokes_least", "", "", "strokes", "purge-volumes.enough", missing="the dead volume"),
    Due("TH-08", "strokes_most", "", "", "strokes", "over-purge.most", missing="the dead volume"),
    Due("TH-08", "stroke_interval", "", "30", "s", "purge-flow.highest"),
    Due("TH-08", "wait", "", "2", "h", "equilibration-time.subslab"),
    Due("TH-08", "earliest_purge", "", "2026-10-14T10:00", limits="equilibration-time.subslab", why="08:00 + 2 h"),
    Due("TH-08", "sampling_flow", "TH-08-1", "200", "mL/min", "sampling-flow.most"),
    Due("TH-08", "vacuum_expected", "TH-08-1", "24.50", "inHg"),
    Due("TH-08", "vacuum_start_least", "TH-08-1", "19.58", "inHg", "canister-start.evacuated"),
    Due("TH-08", "close_from", "TH-08-1", "10", "inHg", "canister-end.most"),
    Due("TH-08", "close_at", "TH-08-1", "2", "inHg", "canister-end.least"),
    Due("TH-08", "fill_time_from", "TH-08-1", "", "min", "canister-end.most, sampling-flow.most",
        missing="the volume of the container"),
    Due("TH-08", "fill_time_to", "TH-08-1", "", "min", "canister-end.least, sampling-flow.most",
        missing="the volume of the container"),
    Due("TH-08", "latest_receipt", "TH-08-1", "2026-10-17", limits=_HALF + "canister_sulfur"),
    Due("TH-08", "latest_receipt", "TH-08-1", "2026-10-29", limits=_HALF + "canister"),
    Due("TH-08", "latest_analysis", "TH-08-1", "2026-10-21", limits="holding-time.canister_sulfur"),
    Due("TH-08", "latest_analysis", "TH-08-1", "2026-11-13", limits="holding-time.canister"),
    # The day: duplicates, blanks.
    Due("", "duplicates_due", "S-1", "1", "", "duplicate-frequency.least",
        "8 primary samples: 5 % is 0.4, a whole one; at TH-03, the dirtiest that is known"),
    Due("", "equipment_blanks_due", "2026-10-14", "1", "", "equipment-blank-frequency.least",
        "6 samples that day; after TH-03"),
    Due("", "equipment_blanks_due", "2026-10-15", "1", "", "equipment-blank-frequency.least", "TH-06 alone"),
    Due("", "trip_blanks_due", "S-1", "1", "", "trip-blank.nondetect", "two sorbent tubes travel in it, and no blank"),
)  # fmt: skip

#: The stops from clean to dirty, the highest detect of each location (ug/m3, empty: nothing known), and what is cleaned
#: before it with the place it comes from. SY-1 was cleaned on the evening of the thirteenth, T-1 only inside its use.
ORDER: tuple[tuple[str, str, dict[str, str]], ...] = (
    ("TH-04", "0", {}),
    ("TH-02", "40", {"SY-1": "TH-04", "T-1": "TH-01"}),
    ("TH-03", "1200", {"SY-1": "TH-02", "T-1": "TH-02"}),
    ("TH-05", "", {"SY-1": "TH-03"}),
    ("TH-06", "", {"SY-1": "TH-05"}),
    ("TH-07", "", {"SY-1": "TH-06"}),
    ("TH-08", "", {"SY-1": "TH-07"}),
)
#: The planned times take the dirtier of these first.
AGAINST_TIMES = (("TH-03", "TH-02"),)
WITHOUT_CLEARANCE = ("TH-05",)
CLEARED_LATE = ("TH-08",)


def readme() -> str:
    """What the folder is, and the plan that it must give."""
    out = [_HEAD]
    for probe in dict.fromkeys(due.probe for due in EXPECTED):
        out.append(f"\n### {probe or 'The day'}\n\n| item | of | value | limits | by hand |\n|---|---|---|---|---|\n")
        for due in EXPECTED:
            if due.probe == probe:
                said = f"{due.value} {due.unit}".strip() if not due.missing else f"not known: {due.missing}"
                said += ", **against**" if due.against else ""
                out.append(f"| {due.item} | {due.of} | {said} | {due.limits} | {due.why} |\n")
    out.append(_ORDER)
    for number, (probe, highest, clean) in enumerate(ORDER, start=1):
        known = f"{highest} ug/m3" if highest else "nothing known"
        washed = ", ".join(f"{piece} (from {place})" for piece, place in clean.items()) or "nothing"
        out.append(f"{number}. {probe}: {known}; to clean before it: {washed}\n")
    return "".join(out)


_HEAD = f"""\
# Tansy Hollow

An invented yard at 5,280 ft, in the middle of a campaign. It is the morning of 14 October 2026: TH-01 was sampled
yesterday, three locations have results of the spring (E-2 to E-4), heavy rain ended on the evening of the twelfth, and
seven probes are still to be sampled. What it is for is its plan:

    vaporqa plan sample_inputs/tansy-hollow --day {DAY} --stroke "{STROKE}"

`vaporqa check` reviews it too, and finds most of it unproven: it is not done.

## First of all

TH-05 has no recorded clearance of buried services and must not be driven. TH-08 was cored at 08:00 and its services
were cleared at 09:00, too late.

## The plan that it must give

Worked out by hand from the tables, before the tool was run. Tubing of 0.17 in bore holds pi/4 x (0.17 x 2.54 cm)^2 x
30.48 cm = 4.4634 mL a foot (`criteria` O7: 4.463), a hole of 1 in 12.870 mL an inch. The barometer is that of the
nearest weather row, 24.50 inHg. *Against* marks what goes against its limit as things stand.
"""
_ORDER = """
## Order

From clean to dirty by the spring results (L-4 nothing, L-2 40, L-3 1200 ug/m3 of tetrachloroethene); of L-5 to L-8
nothing is known, and they follow as the table lists them. The planned times take TH-03 (11:00) before TH-02 (13:00).

"""
