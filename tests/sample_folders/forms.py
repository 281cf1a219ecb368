"""The field forms of a folder, all filled in and all in order."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from paper import Folder, Row, Sheet, minutes, stamp, standard_atmosphere
from site_plan import Point, Site, place

TUBING_LOT = "TUB-118"
#: Contract column -> unit in the header.
UNITS = {
    "x": "ft", "y": "ft", "depth_top": "ft", "depth_bottom": "ft", "total_depth": "ft", "rod_length": "ft",
    "rod_outer_diameter": "in", "stick_up": "in", "tubing_length": "ft", "tubing_inner_diameter": "in",
    "tubing_outer_diameter": "in", "tip_volume": "mL", "retraction": "in", "water_depth": "ft",
    "shut_in_tests.duration": "min", "shut_in_tests.vacuum_start": "inH2O", "shut_in_tests.vacuum_end": "inH2O",
    "gauge_resolution": "inH2O", "shroud_low": "%v", "shroud_high": "%v", "train_reading": "%v",
    "train_reporting_limit": "%v", "background": "%v", "flow": "mL/min", "volume": "mL", "stroke_volume": "mL",
    "train_volume": "mL", "vacuum_highest": "inH2O", "container_volume": "mL", "vacuum_dispatch": "inHg",
    "vacuum_start": "inHg", "vacuum_end": "inHg", "vacuum_receipt": "inHg", "weather.temperature": "degF",
    "temperature": "degF", "probe_pressure": "inH2O", "rain": "in", "rain_period": "h", "barometer": "inHg",
}  # fmt: skip
COLUMNS = {
    "locations": "location_id x y setting note",
    "probes": "probe_id location_id kind install_method pilot_hole installed_at removed_at depth_top depth_bottom "
    "total_depth rod_length rod_outer_diameter stick_up tubing_length tubing_inner_diameter tubing_outer_diameter "
    "tubing_material tubing_lot tip_id tip_use tip_volume retraction joints_checked surface_seal services_cleared_at "
    "water_depth soil_texture",
    "equipment_log": "event_id equipment_id equipment_kind at event location_id probe_id sample_id cleaning_method "
    "dried by",
    "shut_in_tests": "test_id sample_id probe_id started_at ended_at duration vacuum_start vacuum_end gauge_id "
    "gauge_resolution train_changed_after",
    "tracer_tests": "test_id sample_id probe_id at tracer approach basis shroud_low shroud_high train_reading "
    "train_detected train_reporting_limit background instrument_id detector",
    "purges": "purge_id sample_id probe_id started_at ended_at flow volume strokes stroke_volume vacuum_highest "
    "volumes_target train_volume",
    "samples": "sample_id probe_id location_id kind parent_sample_id pair_id matrix container container_id "
    "container_volume controller_id tubing_lot started_at ended_at flow vacuum_dispatch vacuum_start vacuum_end "
    "vacuum_highest temperature probe_pressure water_seen surrogate_added_at preserved preserved_at shipment_id "
    "laboratory crew",
    "custody": "custody_id sample_id step released_by released_at received_by received_at temperature seal_intact "
    "vacuum_receipt container_id controller_id condition",
    "containers": "container_id container container_volume certified certified_at cleaning_lot cleaned_at",
    "weather": "at rain rain_period barometer temperature ponded",
    "instrument_checks": "check_id instrument_id at stage gas expected reading unit",
    "field_readings": "reading_id probe_id location_id instrument_id at gas reading unit setting detector",
}
BOTTLES = {  # container -> mL, prefix of the id, cleaning lot
    "canister": ("1000", "CN", "CL-0925"), "bag": ("1000", "BG", "BL-31"), "syringe": ("60", "SY", "SL-07"),
    "glass_bulb": ("125", "GB", "GL-12"), "vial": ("40", "VL", "VL-44"),
    "sorbent_tube": ("", "ST", "TL-03"), "plastic_syringe": ("60", "PS", "SL-08"),
}  # fmt: skip


def blank_sheets(site: Site) -> dict[str, Sheet]:
    """The empty field tables with their headers."""
    sheets = {}
    for table, names in COLUMNS.items():
        columns = names.split()
        if table == "tracer_tests" and site.reading_units:
            for named in ("train_reading", "train_reporting_limit"):
                columns.insert(columns.index(named) + 1, f"{named}_unit")
        headers = {}
        for column in columns:
            unit = UNITS.get(f"{table}.{column}") or UNITS.get(column)
            if table == "instrument_checks" or f"{column}_unit" in columns:
                unit = None
            headers[column] = f"{column} [{unit}]" if unit else column
        sheets[table] = Sheet(headers)
    return sheets


def barometer(site: Site, at: datetime) -> float:
    """Station pressure in inHg: a slow swing round the standard atmosphere of the altitude."""
    hours = (at - datetime.combine(site.days[0], time())).total_seconds() / 3600
    return standard_atmosphere(site.altitude) - 0.02 + 0.06 * (0.5 - abs((hours / 72) % 2 - 1))


def write_weather(site: Site, folder: Folder) -> None:
    """Six-hourly rows from five days before the first sample to the day after the last."""
    at = datetime.combine(site.days[0], time()) - timedelta(days=5)
    while at <= datetime.combine(site.days[-1], time()) + timedelta(days=1):
        dice = site.dice("weather", at)
        warm = 10 if at.hour in (12, 18) else 0
        folder.sheets["weather"].add(
            at=stamp(at), rain="0.03" if dice.random() < 0.1 else "0.00", rain_period="6",
            barometer=f"{barometer(site, at):.2f}", temperature=str(dice.randint(46, 55) + warm), ponded="no",
        )  # fmt: skip
        at += timedelta(hours=6)


def write_point(site: Site, folder: Folder, p: Point) -> None:
    """Location, probe, tests, purge, sample and meter readings of one point."""
    dice, sheets = site.dice("forms", p.sample), folder.sheets
    x, y = place(p)
    if p.location == f"L-{p.crew}{p.visit + 1:02d}":
        sheets["locations"].add(location_id=p.location, x=f"{x:.1f}", y=f"{y:.1f}", setting="yard")
    drawn_back = dice.choice((2.5, 3.0, 3.5, 4.0))
    total = dice.choice((5.75, 6.0, 6.5, 7.0, 7.5, 8.0))
    stick_up = dice.choice((6.0, 6.5, 7.0, 7.5, 8.0))
    rods = total + stick_up / 12
    sheets["probes"].add(
        probe_id=p.probe, location_id=p.location, kind="driven", install_method="hand_driven", pilot_hole="none",
        installed_at=stamp(p.installed), removed_at=stamp(p.removed), depth_top=f"{total - drawn_back / 12:.2f}",
        depth_bottom=f"{total:.2f}", total_depth=f"{total:.2f}", rod_length=f"{rods:.2f}", rod_outer_diameter="1.00",
        stick_up=f"{stick_up:.1f}", tubing_length=f"{rods + dice.choice((0.75, 1.0, 1.25)):.2f}",
        tubing_inner_diameter="0.17", tubing_outer_diameter="0.25", tubing_material="ptfe", tubing_lot=TUBING_LOT,
        tip_id=p.tip, tip_use="reusable", tip_volume="4.0", retraction=f"{drawn_back:.1f}", joints_checked="yes",
        surface_seal="hydrated bentonite", services_cleared_at=site.days[0].isoformat(),
        water_depth=f"{dice.uniform(17, 23):.1f}", soil_texture=dice.choice(("sandy silt", "fine sand", "silty sand")),
    )  # fmt: skip
    held = dice.randint(104, 118)
    sheets["shut_in_tests"].add(
        test_id=f"SI-{p.crew}{p.visit + 1:02d}", sample_id=p.sample, started_at=stamp(p.arrived + minutes(2)),
        ended_at=stamp(p.arrived + minutes(4)), duration="2", vacuum_start=f"{held}.0",
        vacuum_end=f"{held - dice.choice((0, 0, 0.2)):.1f}", gauge_id=f"VG-{p.crew}", gauge_resolution="0.2",
        train_changed_after="no",
    )  # fmt: skip
    low = shroud(site, p.sample)
    tracer = sheets["tracer_tests"].add(
        test_id=f"TT-{p.crew}{p.visit + 1:02d}", sample_id=p.sample, at=stamp(p.purge_start + minutes(2)),
        tracer="Helium", approach="shroud", basis="field", shroud_low=f"{low}.0",
        shroud_high=f"{low + dice.randint(2, 6)}.0", train_reading=f"{helium(site, p.sample):.2f}",
        train_detected="yes", train_reporting_limit="0.01", background="0.00", instrument_id=f"HE-{p.crew}",
        detector="thermal_conductivity",
    )  # fmt: skip
    if site.reading_units:
        tracer |= {"train_reading_unit": "%v", "train_reporting_limit_unit": "%v"}
        if p.crew == "B":  # this crew's meter shows parts per million
            tracer |= {
                "train_reading": f"{float(tracer['train_reading']) * 10_000:.0f}", "train_reading_unit": "ppmv",
                "train_reporting_limit": "100", "train_reporting_limit_unit": "ppmv",
            }  # fmt: skip
    flow = 170 if site.container(p.sample) == "glass_bulb" else dice.choice((140, 145, 150, 155, 160, 165, 170))
    sheets["purges"].add(
        purge_id=f"PU-{p.crew}{p.visit + 1:02d}", sample_id=p.sample, started_at=stamp(p.purge_start),
        ended_at=stamp(p.purge_end), flow=str(flow), volume=str(flow * p.purge_minutes),
        vacuum_highest=f"{dice.uniform(4, 30):.0f}", volumes_target="3", train_volume="15",
    )  # fmt: skip
    write_sample(site, folder, p, p.sample)
    if p.duplicate:
        write_sample(site, folder, p, p.duplicate)
    oxygen, dioxide = fixed_gas(site, p)
    for gas, value, detector in (
        ("methane", "0.1", "infrared"),
        ("carbon dioxide", f"{dioxide + dice.choice((-0.1, 0, 0.1)):.1f}", "infrared"),
        ("oxygen", f"{oxygen + dice.choice((-0.2, 0, 0.1)):.1f}", "electrochemical"),
    ):
        sheets["field_readings"].add(
            reading_id=f"FR-{len(sheets['field_readings'].rows) + 1:03d}", probe_id=p.probe, location_id=p.location,
            instrument_id=f"GM-{p.crew}", at=stamp(p.purge_start + minutes(4)), gas=gas, reading=value, unit="%v",
            setting="soil", detector=detector,
        )  # fmt: skip


def shroud(site: Site, sample: str) -> int:
    """Lowest helium under the shroud, %v."""
    return site.dice("shroud", sample).randint(18, 27)


def helium(site: Site, sample: str) -> float:
    """%v in the train: a small share of the shroud's, 0.2 to 1.5 % of it."""
    return max(0.03, round(shroud(site, sample) * site.dice("leak", sample).uniform(0.002, 0.015), 3))


def fixed_gas(site: Site, p: Point) -> tuple[float, float]:
    """Oxygen and carbon dioxide in %v: the nearer to the source, the more is used up."""
    dioxide = round(0.8 + 6.0 * p.severity + site.dice("carbon dioxide", p.sample).uniform(-0.1, 0.1), 2)
    return round(99.05 - nitrogen(p) - dioxide, 2), dioxide


def nitrogen(p: Point) -> float:
    """%v, rising slowly as oxygen is used up faster than carbon dioxide comes."""
    return 78.4 + 1.6 * p.severity


def write_sample(site: Site, folder: Folder, p: Point, sample: str) -> None:
    """The sample's row and its container's."""
    dice = site.dice("sample", sample)
    container = site.container(p.sample)
    flows = {
        "bag": "95" if p.duplicate else "150", "syringe": "60", "plastic_syringe": "60", "glass_bulb": "125",
        "sorbent_tube": "100",
    }  # fmt: skip
    row = new_sample(
        site, folder, sample, container, p.started, p.ended, day=p.day, crew=p.crew, probe_id=p.probe,
        location_id=p.location, kind="primary" if sample == p.sample else "field_duplicate",
        parent_sample_id="" if sample == p.sample else p.sample, matrix="soil_gas", tubing_lot=TUBING_LOT,
        flow=flows.get(container, str(round(740 / p.draw_minutes))),
        vacuum_highest=f"{dice.uniform(6, 40):.0f}", probe_pressure=f"{dice.uniform(-0.2, 0.1):.2f}", water_seen="no",
    )  # fmt: skip
    if container == "glass_bulb":
        row["surrogate_added_at"] = stamp(p.ended + minutes(4))


def new_sample(
    site: Site, folder: Folder, sample: str, container: str, start: datetime, end: datetime, day: int, crew: str,
    **cells: str,
) -> Row:  # fmt: skip
    """A row of samples with its container and its custody."""
    dice, sheets = site.dice("container", sample), folder.sheets
    volume, prefix, lot = BOTTLES[container]
    number = f"{prefix}-{dice.randint(1000, 9999)}"
    canister = container == "canister"
    on_site = container in ("bag", "syringe", "plastic_syringe", "glass_bulb")
    laboratory = "Laboratory B" if on_site else "Laboratory A"
    first = vacuum_end = ""
    if canister:
        first = f"{barometer(site, start) - dice.uniform(0.35, 0.75):.1f}"
        vacuum_end = f"{dice.uniform(4.4, 5.6):.1f}"
    row = sheets["samples"].add(
        sample_id=sample, container=container, container_id=number, container_volume=volume,
        controller_id=f"FC-{dice.randint(100, 999)}" if canister else "", started_at=stamp(start), ended_at=stamp(end),
        vacuum_dispatch=f"{dice.uniform(28.6, 28.9):.1f}" if canister else "", vacuum_start=first,
        vacuum_end=vacuum_end, temperature=str(dice.randint(52, 64)), laboratory=laboratory, crew=f"crew {crew}",
        shipment_id=f"SHP-{day + 1}" if not on_site else f"VAN-{day + 1}", **cells,
    )  # fmt: skip
    if number in {r["container_id"] for r in sheets["containers"].rows}:
        raise ValueError(f"two containers called {number}")
    sheets["containers"].add(
        container_id=number, container=container, container_volume=volume,
        certified="individual" if canister else "lot", cleaning_lot=lot, cleaned_at=stamp(cleaned(site)),
        certified_at=stamp(cleaned(site) + timedelta(hours=20)),
    )  # fmt: skip
    write_custody(site, folder, row, day, crew)
    return row


def cleaned(site: Site) -> datetime:
    """When the laboratory cleaned the containers."""
    return datetime.combine(site.days[0], time(9, 15)) - timedelta(days=12)


def received(site: Site, day: int) -> datetime:
    """When the shipment of a day reached Laboratory A, by its own clock."""
    return datetime.combine(site.days[day], time(9, 40)) + timedelta(days=2)


def write_custody(site: Site, folder: Folder, sample: Row, day: int, crew: str) -> None:
    """Crew to laboratory on site, or crew to courier to laboratory; the last receipt in the laboratory's time."""
    dice, sheet = site.dice("custody", sample["sample_id"]), folder.sheets["custody"]
    same = {"container_id": sample["container_id"], "controller_id": sample["controller_id"]}
    number = f"C-{len({r['sample_id'] for r in sheet.rows}) + 1:03d}"
    warm = str(dice.randint(62, 72))
    if sample["laboratory"] == "Laboratory B":
        handed = datetime.fromisoformat(sample["ended_at"]) + minutes(2)
        sheet.add(
            custody_id=f"{number}-1", sample_id=sample["sample_id"], step="1", released_by=f"crew {crew}",
            released_at=stamp(handed), received_by="Laboratory B", received_at=stamp(handed + minutes(1), site.offset),
            temperature=warm, seal_intact="yes", condition="good", **same,
        )  # fmt: skip
        return
    waybill = f"courier waybill {site.dice('waybill', day).randint(40_000, 59_999)}"
    evening, arrival = datetime.combine(site.days[day], time(18, 0)), received(site, day)
    chilled = sample["container"] in ("vial", "sorbent_tube")
    sheet.add(
        custody_id=f"{number}-1", sample_id=sample["sample_id"], step="1", released_by=f"crew {crew}",
        released_at=stamp(evening), received_by=waybill, received_at=stamp(evening + minutes(10)),
        temperature="39" if chilled else warm, seal_intact="yes", condition="good", **same,
    )  # fmt: skip
    held = ""
    if sample["vacuum_end"]:
        left = barometer(site, datetime.fromisoformat(sample["ended_at"])) - float(sample["vacuum_end"])
        held = f"{standard_atmosphere(site.lab_altitude) - left + dice.uniform(-0.3, 0.3):.1f}"
    sheet.add(
        custody_id=f"{number}-2", sample_id=sample["sample_id"], step="2", released_by=waybill,
        released_at=stamp(arrival - minutes(10), site.lab_clock(arrival)), received_by="Laboratory A",
        received_at=stamp(arrival), temperature="39" if chilled else str(dice.randint(64, 70)), seal_intact="yes",
        vacuum_receipt=held, condition="good", **same,
    )  # fmt: skip
