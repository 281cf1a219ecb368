"""Thornfield Pipeline: shallow driven points over shallow water, bags, and a laboratory on wheels."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from chemistry import FIXED_GASES, METHANE, MOBILE, VOLATILES
from cleaning import Rinse, write_equipment_log, write_instrument_checks, write_other_blanks
from faults import numbered
from forms import TUBING_LOT, blank_sheets, received, write_point, write_weather
from laboratory import Bench, Run, results_sheet, write_lab_qc, write_levels
from paper import Folder, Row, minutes, stamp
from site_plan import Point, Site, lay_out
from thornfield_faults import FAULTS

HALVES = (time(7, 30), time(12, 40))
CANISTERS = ("TP-A10", "TP-B05")
NUMBERS = (*(f"A{n:02d}" for n in range(1, 11)), *(f"B{n:02d}" for n in range(1, 12)))
SITE = Site(
    name="thornfield-pipeline", prefix="TP", title="Thornfield Pipeline",
    days=tuple(date(2025, 5, day) for day in (12, 13, 15, 16)),
    offset="-05:00", lab_offset="-05:00", altitude=150, lab_altitude=50,
    rounds={
        "A": tuple(
            (day, HALVES[half], tuple(f"TA-{n}" for n in range(1, 4 - half))) for day in (0, 1) for half in (0, 1)
        ),
        "B": (
            (0, HALVES[0], ("TB-1", "TB-2", "TB-3")), (0, HALVES[1], ("TB-1", "TB-2")),
            (1, HALVES[0], ("TB-1", "TB-2")), (1, HALVES[1], ("TB-1", "TB-2")),
            (2, HALVES[0], ("TB-1",)), (3, HALVES[0], ("TB-1",)),
        ),
    },
    duplicates=frozenset({"TP-A07", "TP-B06"}), mass=False, first_ppbv=60.0, growth=1.25,
    containers={f"TP-{n}": "bag" for n in NUMBERS if f"TP-{n}" not in CANISTERS},
)  # fmt: skip
#: Bags that waited for the laboratory on wheels, each in a batch of its own; the others waited 45 to 170 minutes.
WAITED = {"TP-B03": (7.0, "6"), "TP-B04": (25.0, "7"), "TP-B06": (6.0, "8")}
WET_UNTIL = datetime(2025, 5, 14, 6, 0)
GROUP = "TP-12"

PROJECT = """\
project: Thornfield Pipeline        # invented
purpose: pipeline
time_zone: America/Chicago
lab_time_zone: America/Chicago
altitude: 150 ft
lab_altitude: 50 ft
reference: {temperature: 25 degC, pressure: 1 atm}
profile: pipeline
stage: 2A
"""

README = """\
# Thornfield Pipeline

An invented easement in a river plain, where the water lies 9 to 11 ft below the grass. The pipeline carried solvents
in batches and lost pressure in the spring. Two crews drove twenty-one temporary points along it between 12 and 16 May,
each from its clean end towards the suspected joint. Two first holes met refusal and were replaced. Most samples are
bags for a laboratory on wheels (Laboratory B); two are one-litre canisters for Laboratory A, and so are the blanks. It
rained in the night to the 14th. Results stand in ppbv, fixed gases in per cent by volume; a nondetect is printed as
`<` its reporting limit.

Everything that is not in this list is in order under the whole rulebook.

## What was planted

Each entry names the rule, the table of the row on which the finding sits, and the letters for a detect and a nondetect.

"""


def build() -> Folder:
    """The folder: clean first, then the faults, one after the other."""
    points = lay_out(SITE)
    folder = Folder(SITE.name, PROJECT, blank_sheets(SITE), separated_by_tabs=("probes",))
    folder.sheets["probes"].headers |= {"refusal": "refusal", "replaces_probe_id": "replaces_probe_id"}
    for p in points:
        write_point(SITE, folder, p)
        folder.one("probes", probe_id=p.probe)["water_depth"] = f"{SITE.dice('water', p.probe).uniform(9.1, 10.9):.1f}"
    for row in folder.sheets["locations"].rows:
        row["setting"] = "easement"
    rinses = (
        *(Rinse(f"TP-EB{2 * day + n + 1}", crew, 2 * day, f"T{crew}-1") for day in (0, 1)
          for n, crew in enumerate("AB")),
        Rinse("TP-EB5", "B", 4, "TB-1"), Rinse("TP-EB6", "B", 5, "TB-1"),
    )  # fmt: skip
    write_equipment_log(SITE, folder, points, rinses)
    write_other_blanks(SITE, folder, trips=(), lots=(TUBING_LOT,))
    write_instrument_checks(SITE, folder)
    write_weather(SITE, folder)
    rain_in_the_night(folder)
    bench = Bench(SITE, points, {}, nondetect="<")
    folder.sheets["results"] = results_sheet(SITE, stated_keys=True, flags=False, lod=True)
    for row in list(folder.sheets["samples"].rows):
        write_results(bench, folder, row)
    write_lab_qc(bench, folder)
    write_levels(bench, folder)
    for fault in FAULTS:
        fault.plant(folder)
    folder.readme = README + numbered(FAULTS, folder)
    return folder


def rain_in_the_night(folder: Folder) -> None:
    """0.60 in within six hours, and a dry week around it."""
    for row in folder.sheets["weather"].rows:
        row["rain"] = "0.60" if row["at"] == stamp(WET_UNTIL) else "0.00"


def write_results(bench: Bench, folder: Folder, row: Row) -> None:
    """Every run of one sample."""
    sample, sheet = row["sample_id"], folder.sheets["results"]
    p = bench.points.get(sample)
    if row["container"] == "bag" and p is not None:
        write_bag(bench, folder, sample, p)
        return
    day = int(row["shipment_id"][-1]) - 1
    own = SITE.dice("dilution", sample).uniform(1.38, 1.72)
    same = [r["sample_id"] for r in folder.rows("samples", shipment_id=row["shipment_id"])]
    turn = same.index(sample)
    began = datetime.combine(SITE.days[day], time(9, 0)) + timedelta(days=5)
    strong = p is not None and bench.tetrachloroethene(p) > 400
    for prefix, method, analytes, at, dilution in (
        ("V", "TO-15", VOLATILES, began + minutes(40 * turn), own * (4 if strong else 1)),
        ("F", "D1946", FIXED_GASES, began + timedelta(days=4) + minutes(20 * turn), own),
    ):  # fmt: skip
        batch = f"{prefix}{day + 1}"
        bench.write(sheet, Run(
            sample, method, analytes, batch, f"{batch}-{turn + 1:02d}", at, "Laboratory A",
            stamp(received(SITE, day)), GROUP, round(dilution, 2),
        ))  # fmt: skip


def write_bag(bench: Bench, folder: Folder, sample: str, p: Point) -> None:
    """Volatile organics first, then methane."""
    hours, batch = WAITED.get(sample, (SITE.dice("waits", sample).randint(45, 170) / 60, str(p.day + 1)))
    at, arrival = p.ended + timedelta(hours=hours), stamp(p.ended + minutes(3))
    methane = tuple(a for a in FIXED_GASES if a.cas == METHANE)
    for prefix, method, analytes, later in (("M", "8260", MOBILE, 0), ("G", "D1946", methane, 6)):
        bench.write(folder.sheets["results"], Run(
            sample, method, analytes, f"{prefix}{batch}", f"{prefix}{batch}-{sample[3:]}", at + minutes(later),
            "Laboratory B", arrival, GROUP, 1.0,
        ))  # fmt: skip
