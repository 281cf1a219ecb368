"""Cutbank Terminal: a folder with at least one planted fault of every rule line in six topics."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from chemistry import CLOTH_TRACER, FIXED_GASES, METHANE, MOBILE, SULFUR_GASES, VOLATILES
from cleaning import Rinse, write_equipment_log, write_instrument_checks, write_other_blanks
from cutbank_faults import FAULTS, GIVEN
from faults import numbered
from forms import TUBING_LOT, blank_sheets, received, write_point, write_weather
from laboratory import Bench, Run, results_sheet, write_lab_qc, write_levels, write_required
from paper import Folder, minutes, stamp
from site_plan import Point, Site, lay_out

START = (time(7, 30), time(12, 40))
SITE = Site(
    name="cutbank-terminal", prefix="CT", title="Cutbank Terminal",
    days=tuple(date(2024, 10, day) for day in (28, 29, 30, 31)),
    offset="-06:00", lab_offset="-05:00", altitude=5100, lab_altitude=600,
    rounds={
        "A": tuple(
            (day, START[half], tuple(f"TA-{n}" for n in range(1, 5 - half))) for day in range(4) for half in (0, 1)
        ),
        "B": tuple((day, START[half], ("TB-1", "TB-2", "TB-3")) for day in range(4) for half in (0, 1)),
    },
    duplicates=frozenset({"CT-A05", "CT-A12", "CT-A24", "CT-B14"}), mass=True, first_ppbv=60.0, growth=1.15,
    reading_units=True,
    containers={
        "CT-B13": "syringe", "CT-B14": "bag", "CT-B15": "bag", "CT-B16": "bag", "CT-B17": "syringe",
        "CT-B18": "syringe", "CT-B19": "glass_bulb", "CT-B20": "glass_bulb", "CT-B21": "bag",
    },
    stays={"CT-B24": "L-B21"},
)  # fmt: skip
#: Start of the sequence of volatile organics and of fixed gases for each day's shipment, by the laboratory's clock.
SEQUENCES = (
    (datetime(2024, 11, 2, 13, 0), datetime(2024, 11, 6, 8, 0)),
    (datetime(2024, 11, 2, 15, 30), datetime(2024, 11, 7, 8, 0)),
    (datetime(2024, 11, 4, 9, 0), datetime(2024, 11, 8, 8, 0)),
    (datetime(2024, 11, 5, 9, 0), datetime(2024, 11, 9, 8, 0)),
)  # fmt: skip
#: Samples that the laboratory ran at another time, in batches of their own.
LATE = {
    "CT-B06": ("8", datetime(2024, 12, 1, 11, 0)), "CT-B07": ("9", datetime(2024, 12, 30, 11, 0)),
    "CT-B12": ("7", datetime(2024, 11, 20, 11, 0)),
}  # fmt: skip
CLOTH = ("CT-A03", "CT-A22", "CT-A23")

PROJECT = """\
project: Cutbank Terminal           # invented
purpose: remediation
time_zone: America/Denver
lab_time_zone: America/Chicago
altitude: 5100 ft
lab_altitude: 600 ft
reference: {temperature: 25 degC, pressure: 1 atm}
stage: 2A
tables:
  results:
    - file: results.csv
      lab_flags: {U: nondetect, J: below_reporting_limit, E: over_range}
"""

README = """\
# Cutbank Terminal

An invented railway terminal at 5,100 ft where tank cars were washed with solvent. Two crews drove fifty-two temporary
soil-gas probes in the last four days of October, crew A from the west, crew B from the east, each from its clean edge
towards the wash rack. Tips are washed between the rounds. Most samples are one-litre canisters for Laboratory A, one
time zone east; on the third day and the fourth morning a laboratory on wheels (Laboratory B) took crew B's bags,
syringes and glass bulbs. The clocks went back on 3 November, while Laboratory A's sequence was running.

Volatile organics stand in ug/m3, fixed gases and helium in per cent by volume. Crew B's helium meter shows ppmv. A
nondetect is printed as its reporting limit with the flag U. Blanks were filled with argon.

Everything that is not in this list is in order under the whole rulebook.

## What was planted

Each entry names the rule, the table of the row on which the finding sits, and the letters for a detect and a nondetect.

"""


def build() -> Folder:
    """The folder: clean first, then the faults, one after the other."""
    points = lay_out(SITE)
    folder = Folder(SITE.name, PROJECT, blank_sheets(SITE), separated_by_tabs=("custody",))
    for p in points:
        write_point(SITE, folder, p)
    rinses = (
        Rinse("CT-EB1", "A", 0, "TA-2"), Rinse("CT-EB2", "A", 2, "TA-2"), Rinse("CT-EB3", "A", 6, "TA-2"),
    )  # fmt: skip
    write_equipment_log(SITE, folder, points, rinses)
    write_other_blanks(SITE, folder, trips=(), lots=(TUBING_LOT,))
    write_instrument_checks(SITE, folder)
    write_weather(SITE, folder)
    bench = Bench(SITE, points, GIVEN, nondetect="U")
    folder.sheets["results"] = results_sheet(SITE, stated_keys=True, flags=True, lod=True)
    for sample in [r["sample_id"] for r in folder.sheets["samples"].rows]:
        write_results(bench, folder, sample)
    write_lab_qc(bench, folder)
    write_levels(bench, folder, SULFUR_GASES)
    write_required(folder)
    for fault in FAULTS:
        fault.plant(folder)
    folder.readme = README + numbered(FAULTS, folder)
    return folder


def write_results(bench: Bench, folder: Folder, sample: str) -> None:
    """Every run of one sample."""
    row = folder.one("samples", sample_id=sample)
    p = bench.points.get(sample)
    day = int(row["shipment_id"][-1]) - 1
    sheet = folder.sheets["results"]
    if row["laboratory"] == "Laboratory B" and p is not None:
        write_mobile(bench, folder, sample, p)
        return
    group = "LA-4472" if sample in ("CT-B22", "CT-B23", "CT-B24") else "LA-4471"
    arrival = "2024-11-16T09:40" if sample == "CT-B12" else stamp(received(SITE, day))
    own = SITE.dice("dilution", p.sample if p else sample).uniform(1.38, 1.72)
    strong = p is not None and bench.tetrachloroethene(p) > 400
    same = [r["sample_id"] for r in folder.rows("samples", shipment_id=row["shipment_id"], laboratory="Laboratory A")]
    turn = same.index(sample)
    batch, first = LATE.get(sample, (str(day + 1), None))
    organics = (*VOLATILES, CLOTH_TRACER) if sample in CLOTH else VOLATILES
    at = first or SEQUENCES[day][0] + minutes(34 * turn)
    if sample == "CT-A13":
        at = datetime(2024, 11, 3, 0, 55)  # last of its sequence
    bench.write(sheet, Run(
        sample, "TO-15", organics, f"V{batch}", f"V{batch}-{turn + 1:02d}", at, "Laboratory A", arrival, group,
        round(own * (4 if strong else 1), 2),
    ))  # fmt: skip
    at = first + timedelta(hours=4) if first else SEQUENCES[day][1] + minutes(20 * turn)
    bench.write(sheet, Run(
        sample, "D1946", FIXED_GASES, f"F{batch}", f"F{batch}-{turn + 1:02d}", at, "Laboratory A", arrival, group,
        round(own, 2),
    ))  # fmt: skip
    sulfur = {
        "CT-A01": ("S1", datetime(2024, 11, 2, 10, 30)), "CT-B08": ("S2", datetime(2024, 11, 7, 15, 0)),
        "CT-B09": ("S3", datetime(2024, 11, 13, 15, 0)), f"{SITE.prefix}-MB1": ("S1", datetime(2024, 11, 2, 10, 0)),
    }  # fmt: skip
    if sample in sulfur:
        batch, at = sulfur[sample]
        bench.write(sheet, Run(
            sample, "D5504", SULFUR_GASES, batch, f"{batch}-{turn + 1:02d}", at, "Laboratory A", arrival, group,
            round(own, 2),
        ))  # fmt: skip


def write_mobile(bench: Bench, folder: Folder, sample: str, p: Point) -> None:
    """Runs of the laboratory on wheels: `waits` is the time from the end of collection."""
    waits = {
        "CT-B13": minutes(17), "CT-B14": minutes(95), "CT-B14D": minutes(120), "CT-B15": timedelta(hours=7.5),
        "CT-B16": timedelta(hours=13), "CT-B17": minutes(41), "CT-B18": minutes(21), "CT-B19": timedelta(hours=3),
        "CT-B20": minutes(4) + timedelta(hours=27), "CT-B21": timedelta(hours=26),
    }  # fmt: skip
    batch = {"CT-B19": "2", "CT-B20": "3", "CT-B21": "3"}.get(sample, "1")
    at, arrival = p.ended + waits[sample], stamp(p.ended + minutes(3), SITE.offset)
    bench.write(folder.sheets["results"], Run(
        sample, "8260", MOBILE, f"M{batch}", f"M{batch}-{sample[4:]}", at, "Laboratory B", arrival, "LB-19", 1.0,
        SITE.offset, date_only=sample == "CT-B18",
    ))  # fmt: skip
    if folder.one("samples", sample_id=sample)["container"] == "bag":
        methane = tuple(a for a in FIXED_GASES if a.cas == METHANE)
        bench.write(folder.sheets["results"], Run(
            sample, "D1946", methane, f"G{batch}", f"G{batch}-{sample[4:]}", at + minutes(6), "Laboratory B", arrival,
            "LB-19", 1.0, SITE.offset,
        ))  # fmt: skip
