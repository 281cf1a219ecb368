"""Alder Crossing: the folder in which everything hangs on what came before what."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from alder_faults import FAULTS, GIVEN
from chemistry import FIXED_GASES, METHANE, MOBILE, VOLATILES
from cleaning import Rinse, write_equipment_log, write_instrument_checks, write_other_blanks
from faults import numbered
from forms import TUBING_LOT, blank_sheets, new_sample, received, write_point, write_weather
from laboratory import Bench, Run, results_sheet, write_lab_qc, write_levels
from paper import Folder, Row, minutes, stamp
from planting import cleaning_before
from site_plan import Point, Site, lay_out, shift

THREE_A_DAY = (time(6, 30), time(10, 15), time(13, 50))
SITE = Site(
    name="alder-crossing", prefix="AC", title="Alder Crossing",
    days=tuple(date(2025, 10, 29) + timedelta(days=n) for n in range(4)),
    offset="-07:00", lab_offset="-07:00", winter=(datetime(2025, 11, 2, 2, 0), "-08:00"),
    altitude=300, lab_altitude=50,
    rounds={
        "A": (*((day, start, ("TA",)) for day in (0, 1, 2) for start in THREE_A_DAY), (3, time(18, 20), ("TA",))),
        "B": tuple((day, start, ("TB",)) for day in (0, 1, 3) for start in THREE_A_DAY),
    },
    duplicates=frozenset({"AC-A04"}), mass=False, first_ppbv=60.0, growth=1.35,
    containers={"AC-A10": "bag"}, stays={"AC-A09": "L-A08"},
)  # fmt: skip
#: Start of the sequence of volatile organics for each day's shipment; fixed gases run a week later.
SEQUENCES = tuple(datetime(2025, 11, day, 9, 0) for day in (4, 5, 6, 7))

PROJECT = """\
project: Alder Crossing             # invented
purpose: remediation
time_zone: America/Los_Angeles
lab_time_zone: America/Los_Angeles
altitude: 300 ft
lab_altitude: 50 ft
reference: {temperature: 25 degC, pressure: 1 atm}
stage: 2A
"""

README = """\
# Alder Crossing

An invented road crossing where a tank once leaked. Two crews with one reusable tip each drove nineteen temporary
soil-gas probes between 29 October and 1 November, three a day: drive, wait, sample, pull, wash, drive again. Their
entries interleave in one equipment log. Crew A went back on the last night to draw a bag for a laboratory on site,
which ran it before dawn, after the clocks had gone back. One-litre canisters went to Laboratory A, which reports
volatile organics in ppbv and prints a nondetect as `<` its reporting limit. Its results carry no numbers of their
own, so their keys are made from the row.

Everything hangs on the order of things: which use of a tip followed which, whether a cleaning lay between, which
results lie between two equipment blanks, which sample a test belongs to that names only a probe.

Everything that is not in this list is in order under the whole rulebook.

## What was planted

Each entry names the rule, the table of the row on which the finding sits, and the letters for a detect and a nondetect
(in brackets those that a blank gives each result by its scheme).

"""


def build() -> Folder:
    """The folder: clean first, then the faults, one after the other."""
    points = lay_out(SITE)
    folder = Folder(SITE.name, PROJECT, blank_sheets(SITE), separated_by_tabs=("equipment_log",))
    for p in points:
        write_point(SITE, folder, p)
    rinses = (
        Rinse("AC-EB1", "A", 0, "TA"), Rinse("AC-EB2", "A", 3, "TA"), Rinse("AC-EB3", "A", 6, "TA"),
        Rinse("AC-EB4", "B", 0, "TB"), Rinse("AC-EW1", "B", 3, "TB", water=True), Rinse("AC-EB5", "B", 6, "TB"),
    )  # fmt: skip
    write_equipment_log(SITE, folder, points, rinses)
    draw_twice(folder, next(p for p in points if p.sample == "AC-A09"))
    write_other_blanks(SITE, folder, trips=(), lots=(TUBING_LOT,))
    write_instrument_checks(SITE, folder)
    write_weather(SITE, folder)
    bench = Bench(SITE, points, GIVEN, nondetect="<")
    bench.points["AC-A09R"] = bench.points["AC-A09"]
    folder.sheets["results"] = results_sheet(SITE, stated_keys=False, flags=False, lod=True)
    for row in list(folder.sheets["samples"].rows):
        write_results(bench, folder, row)
    write_lab_qc(bench, folder)
    for row in folder.sheets["lab_qc"].rows:  # the night's control samples ran before the hour that came twice
        if row["analyzed_at"].startswith("2025-11-02T01"):
            row["analyzed_at"] = shift(row["analyzed_at"], -minutes(60))
    write_levels(bench, folder)
    for fault in FAULTS:
        fault.plant(folder)
    folder.readme = README + numbered(FAULTS, folder)
    return folder


def draw_twice(folder: Folder, p: Point) -> None:
    """A second sample from one probe, forty minutes after the first, each with tests that name only the probe."""
    new_sample(
        SITE, folder, "AC-A09R", "canister", p.started + minutes(40), p.ended + minutes(40), p.day, p.crew,
        **{
            name: folder.one("samples", sample_id=p.sample)[name]
            for name in ("probe_id", "location_id", "kind", "matrix", "tubing_lot", "flow", "vacuum_highest",
                         "probe_pressure", "water_seen")
        },
    )  # fmt: skip
    folder.one("probes", probe_id=p.probe)["removed_at"] = stamp(p.removed + minutes(40))
    cleaning_before(folder, "P-A10")["at"] = stamp(p.removed + minutes(51))
    for table, key in (("shut_in_tests", "test_id"), ("tracer_tests", "test_id"), ("purges", "purge_id")):
        first = folder.one(table, sample_id=p.sample)
        first |= {"sample_id": "", "probe_id": p.probe}
        later = {name: shift(first[name], minutes(40)) for name in ("started_at", "ended_at", "at") if name in first}
        folder.sheets[table].rows.append(first | later | {key: f"{first[key]}R"})


def write_results(bench: Bench, folder: Folder, row: Row) -> None:
    """Every run of one sample."""
    sample, sheet = row["sample_id"], folder.sheets["results"]
    p = bench.points.get(sample)
    own = SITE.dice("dilution", p.sample if p else sample).uniform(1.38, 1.72)
    if row["container"] == "bag" and p is not None:
        night, arrival = datetime(2025, 11, 2, 2, 50), stamp(p.ended + minutes(3))
        methane = tuple(a for a in FIXED_GASES if a.cas == METHANE)
        runs = (("8260", MOBILE, "M1", night), ("D1946", methane, "G1", night + minutes(8)))
        for method, analytes, batch, at in runs:
            run = Run(sample, method, analytes, batch, f"{batch}-01", at, "Laboratory B", arrival, "AC-77", 1.0)
            bench.write(sheet, run)
        return
    day = int(row["shipment_id"][-1]) - 1
    arrival = stamp(received(SITE, day))
    if row["container"] == "vial":
        at = datetime(2025, 11, 6, 13, 20)
        bench.write(sheet, Run(
            sample, "8260", MOBILE, "W1", "W1-01", at, "Laboratory A", arrival, "AC-77", 1.0, water=True,
        ))  # fmt: skip
        return
    same = [r["sample_id"] for r in folder.rows("samples", shipment_id=row["shipment_id"], container="canister")]
    turn = same.index(sample)
    strong = p is not None and bench.tetrachloroethene(p) > 400
    for prefix, method, analytes, at, dilution in (
        ("V", "TO-15", VOLATILES, SEQUENCES[day] + minutes(40 * turn), own * (4 if strong else 1)),
        ("F", "D1946", FIXED_GASES, SEQUENCES[day] + timedelta(days=7) + minutes(20 * turn), own),
    ):  # fmt: skip
        batch = f"{prefix}{day + 1}"
        bench.write(sheet, Run(
            sample, method, analytes, batch, f"{batch}-{turn + 1:02d}", at, "Laboratory A", arrival, "AC-77",
            round(dilution, 2),
        ))  # fmt: skip
