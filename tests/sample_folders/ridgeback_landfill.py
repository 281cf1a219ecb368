"""Ridgeback Landfill: implants round a landfill, gas meters, and canisters for fixed gases."""

from __future__ import annotations

import math
from datetime import date, datetime, time, timedelta

from chemistry import CARBON_DIOXIDE, FIXED_GASES, HELIUM, METHANE, NITROGEN, OXYGEN
from cleaning import write_instrument_checks, write_other_blanks
from faults import numbered
from forms import TUBING_LOT, blank_sheets, received, write_point, write_weather
from laboratory import Bench, Run, results_sheet, write_lab_qc, write_levels
from paper import Folder, Sheet, minutes, stamp
from ridgeback_faults import ALTITUDE, FAULTS, GIVEN, LAB_ALTITUDE, WASTE_GAS
from site_plan import Point, Site, lay_out

HALVES = (time(7, 30), time(12, 40))
SITE = Site(
    name="ridgeback-landfill", prefix="RL", title="Ridgeback Landfill",
    days=tuple(date(2026, 3, day) for day in (3, 4, 7, 13)),  # the meters went back on the last two
    offset="-06:00", lab_offset="-06:00", altitude=ALTITUDE, lab_altitude=LAB_ALTITUDE,
    rounds={
        crew: tuple(
            (day, HALVES[half], tuple(f"D{n}" for n in range(1, 4 - half))) for day in (0, 1) for half in (0, 1)
        )
        for crew in "AB"
    },
    duplicates=frozenset({"RL-A06"}), mass=False, first_ppbv=50.0, growth=1.2,
)  # fmt: skip
WANTED = tuple(a for a in FIXED_GASES if a.cas != METHANE)
METERED = ("methane", "carbon dioxide", "oxygen", "nitrogen")
IMPLANT = {
    "sand_pack_top": "ft", "sand_pack_bottom": "ft", "sand_pack_porosity": "", "dry_seal_length": "ft",
    "dry_seal_porosity": "", "bore_diameter": "in",
}  # fmt: skip

PROJECT = """\
project: Ridgeback Landfill         # invented
purpose: landfill
time_zone: America/Chicago
lab_time_zone: America/Chicago
altitude: 900 ft
lab_altitude: 600 ft
reference: {temperature: 25 degC, pressure: 1 atm}
profile: landfill
stage: 2A
"""

README = """\
# Ridgeback Landfill

An invented landfill with twenty permanent implants round it: crew A reads and samples the ten on the inner road, crew
B the ten on the property line. Each was augered by hand, with a tip of its own, a sand pack and a dry seal, nine days
before. Gas meters read methane, carbon dioxide, oxygen and nitrogen at each; one-litre canisters went to Laboratory A
for oxygen, nitrogen, carbon dioxide and the helium tracer, in per cent by volume. The meters went back to the property
line three and nine days later. Sampling tubing is new at each implant.

Everything that is not in this list is in order under the whole rulebook, with the profile `landfill`. Cautions
(explosive methane at A10, B07, B08, B09, B10 and in the scale house; too little oxygen in the scale house) stand in
the review and on its first page, and in no flag.

## What was planted

Each entry names the rule, the table of the row on which the finding sits, and the letters for a detect and a nondetect.

"""


def build() -> Folder:
    """The folder: clean first, then the faults, one after the other."""
    points = lay_out(SITE)
    folder = Folder(SITE.name, PROJECT, blank_sheets(SITE), separated_by_tabs=("instrument_checks",))
    folder.sheets["probes"].headers |= {n: f"{n} [{u}]" if u else n for n, u in IMPLANT.items()}
    folder.sheets["field_readings"].headers |= {
        "recheck_of": "recheck_of", "liquid_checked": "liquid_checked",
        "control_well_checked": "control_well_checked", "barometer": "barometer [inHg]",
    }  # fmt: skip
    for p in points:
        write_point(SITE, folder, p)
        set_implant(folder, p)
        read_gases(folder, p)
    for row in folder.sheets["locations"].rows:
        row["setting"] = "perimeter"
    for number, p in enumerate(sorted(points, key=lambda p: (p.arrived, p.crew)), 1):
        folder.sheets["equipment_log"].add(
            event_id=f"E-{number:03d}", equipment_id=f"SL-{p.probe[2:]}", equipment_kind="tubing",
            at=stamp(p.arrived), event="used", location_id=p.location, probe_id=p.probe, by=f"crew {p.crew}",
        )  # fmt: skip
    write_other_blanks(SITE, folder, trips=(), lots=(TUBING_LOT,))
    write_instrument_checks(SITE, folder)
    check_nitrogen(folder)
    write_weather(SITE, folder)
    write_results(folder, points)
    for fault in FAULTS:
        fault.plant(folder)
    folder.readme = README + numbered(FAULTS, folder)
    return folder


def set_implant(folder: Folder, p: Point) -> None:
    """An augered hole with a tip of its own, nine days old, and a purge of three and a half dead volumes."""
    probe, purge = folder.one("probes", probe_id=p.probe), folder.one("purges", purge_id=f"PU-{p.probe[2:]}")
    bottom = float(probe["depth_bottom"])
    length = bottom + 1.5
    probe |= {
        "kind": "implant", "install_method": "hand_auger", "installed_at": stamp(p.installed - timedelta(days=9)),
        "removed_at": "", "rod_length": "", "rod_outer_diameter": "", "stick_up": "", "retraction": "",
        "joints_checked": "", "tip_id": f"IT-{p.probe[2:]}", "tip_use": "dedicated", "bore_diameter": "1.25",
        "depth_top": f"{bottom - 0.5:.2f}", "sand_pack_top": f"{bottom - 0.6:.2f}", "sand_pack_bottom": f"{bottom:.2f}",
        "sand_pack_porosity": "0.30", "dry_seal_length": "0.50", "dry_seal_porosity": "0.30",
        "tubing_length": f"{length:.2f}",
        "services_cleared_at": (SITE.days[0] - timedelta(days=10)).isoformat(),
    }  # fmt: skip
    bore = math.pi / 4 * (float(probe["tubing_inner_diameter"]) * 2.54) ** 2 * length * 30.48
    annulus = math.pi / 4 * (1.25**2 - float(probe["tubing_outer_diameter"]) ** 2) * 2.54**2
    dead = bore + 4.0 + annulus * 0.30 * (0.6 + 0.5) * 30.48 + float(purge["train_volume"])
    purge |= {"volume": f"{3.5 * dead:.0f}", "flow": f"{3.5 * dead / p.purge_minutes:.0f}"}


def read_gases(folder: Folder, p: Point) -> None:
    """Four gases of one meter; crew B's stand at the boundary."""
    number = p.probe[2:]
    readings = folder.rows("field_readings", probe_id=p.probe)
    gases = WASTE_GAS.get(number)
    for row in readings:
        row |= {"reading_id": f"FR-{number}-{row['gas']}", "setting": "soil" if p.crew == "A" else "boundary"}
        if gases:
            row["reading"] = f"{gases[METERED.index(row['gas'])]:.1f}"
    nitrogen = gases[3] if gases else 99.1 - sum(float(row["reading"]) for row in readings)
    folder.sheets["field_readings"].add(
        **(readings[0] | {"reading_id": f"FR-{number}-nitrogen", "gas": "nitrogen", "reading": f"{nitrogen:.1f}",
                          "detector": "other"})
    )  # fmt: skip


def check_nitrogen(folder: Folder) -> None:
    """The nitrogen of each gas meter against a known mixture, at the times of its other gases."""
    sheet = folder.sheets["instrument_checks"]
    for row in folder.rows("instrument_checks", gas="methane"):
        reading = 79.0 * SITE.dice("nitrogen", row["check_id"]).uniform(0.98, 1.02)
        sheet.add(**(row | {"check_id": f"{row['check_id']}N", "gas": "nitrogen", "expected": "79.0",
                            "reading": f"{reading:.2f}"}))  # fmt: skip


def write_results(folder: Folder, points: list[Point]) -> None:
    """One run of each canister, a week after its shipment came in."""
    given = dict(GIVEN)
    for number, (_, dioxide, oxygen, nitrogen) in WASTE_GAS.items():
        for cas, value in ((CARBON_DIOXIDE, dioxide), (OXYGEN, oxygen), (NITROGEN, nitrogen)):
            given[f"RL-{number}", cas] = value
    bench = Bench(SITE, points, given, nondetect="ND")
    sheet = folder.sheets["results"] = results_sheet(SITE, stated_keys=True, flags=False, lod=True)
    for day in (0, 1):
        began = datetime.combine(SITE.days[day], time(8, 20)) + timedelta(days=9)
        for place, row in enumerate(folder.rows("samples", shipment_id=f"SHP-{day + 1}"), 1):
            sample = row["sample_id"]
            point = bench.points.get(sample)
            dilution = SITE.dice("dilution", point.sample if point else sample).uniform(1.38, 1.72)
            bench.write(sheet, Run(
                sample, "D1946", WANTED, f"F{day + 1}", f"F{day + 1}-{place:02d}", began + minutes(20 * place),
                "Laboratory A", stamp(received(SITE, day)), "LA-6020", round(dilution, 2),
            ))  # fmt: skip
    write_lab_qc(bench, folder)
    wanted = [a for a in WANTED if a.cas != HELIUM]
    write_levels(bench, folder, [a for a in wanted if a.cas == CARBON_DIOXIDE])
    levels = folder.sheets["screening_levels"]
    levels.rows = [row for row in levels.rows if row["cas"] in (METHANE, CARBON_DIOXIDE)]
    folder.sheets["required_analytes"] = Sheet({n: n for n in ("cas", "analyte", "method")})
    for a in wanted:
        folder.sheets["required_analytes"].add(cas=a.cas, analyte=a.name, method="D1946")
