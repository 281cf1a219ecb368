"""Marrowgate Plating: a complete laboratory deliverable at stage 2B, and a fault for what no other folder reaches."""

from __future__ import annotations

from datetime import date, datetime, time

from cleaning import Rinse, write_equipment_log, write_instrument_checks, write_other_blanks
from deliverable import WANTED, Deliverable, Injection, Sequence, empty_control, empty_results
from faults import numbered
from forms import TUBING_LOT, blank_sheets, new_sample, received, write_point, write_weather
from marrowgate_faults import FAULTS, OTHER_LOT
from paper import Folder, Row, Sheet, minutes, sig, stamp
from site_plan import Point, Site, lay_out

HALVES = (time(7, 30), time(12, 40))
#: A laboratory on wheels stood at the gate on the second day; the tubes went to Laboratory A with that day's canisters.
CONTAINERS = {
    "MG-A08": "sorbent_tube", "MG-B08": "sorbent_tube", "MG-A09": "glass_bulb", "MG-A10": "glass_bulb",
    "MG-B09": "bag", "MG-B10": "plastic_syringe",
}  # fmt: skip
SITE = Site(
    name="marrowgate-plating", prefix="MG", title="Marrowgate Plating",
    days=tuple(date(2026, 4, day) for day in (20, 21)),
    offset="-05:00", lab_offset="-05:00", altitude=650, lab_altitude=400,
    rounds={
        crew: tuple(
            (day, HALVES[half], tuple(f"M{crew}-{n}" for n in range(1, 4 - half))) for day in (0, 1) for half in (0, 1)
        )
        for crew in "AB"
    },
    duplicates=frozenset({"MG-A04"}), mass=True, first_ppbv=60.0, growth=1.25, containers=CONTAINERS,
)  # fmt: skip
GROUP = "MG-26"
#: Runs that were diluted more than their neighbours.
DILUTED = {"MG-A06": 8.0, "MG-A07": 12.0}
V1 = Sequence("V1", "CAL-1", "TO-15", "Laboratory A", datetime(2026, 4, 25, 8, 0), True)
V2 = Sequence("V2", "CAL-2", "TO-15", "Laboratory A", datetime(2026, 4, 26, 8, 0), True)
S2 = Sequence("S2", "CAL-3", "TO-17", "Laboratory A", datetime(2026, 4, 27, 8, 0), True)
M2 = Sequence("M2", "CAL-4", "8260", "Laboratory B", datetime(2026, 4, 21, 8, 0), False)

PROJECT = """\
project: Marrowgate Plating         # invented
purpose: property transaction
time_zone: America/Chicago
lab_time_zone: America/Chicago
altitude: 650 ft
lab_altitude: 400 ft
reference: {temperature: 25 degC, pressure: 1 atm}
stage: 2B
tables:
  results:
    - file: results.csv
      lab_flags:
        J: below_reporting_limit
        E: over_range
        S: surrogate_outside
        Q: control_outside
        H: late
        T: tentative
        X: rejected_by_laboratory
"""

README = """\
# Marrowgate Plating

An invented plating works with a boiler house. Two crews drove twenty temporary points on two days in April. Most
samples are one-litre canisters for Laboratory A; two are pumped sorbent tubes, kept cold. On the second day a
laboratory on wheels (Laboratory B) took two glass bulbs, a bag and, against all advice, a plastic syringe. The
laboratories delivered everything that stage 2B asks for: tunes, initial calibrations, second sources, calibration
checks, response factors, areas of internal standards. Each result stands in two forms, ug/m3 and ppbv; a
nondetect is printed as ND.

Everything that is not in this list is in order under the whole rulebook at stage 2B. A caution (hydrogen sulfide in the
pit of the boiler house) stands in the review and on its first page, and in no flag.

## What was planted

Each entry names the rule, the table of the row on which the finding sits, and the letters for a detect and a nondetect.

"""


def build() -> Folder:
    """The folder: clean first, then the faults, one after the other."""
    folder, _ = clean()
    for fault in FAULTS:
        fault.plant(folder)
    folder.readme = README + numbered(FAULTS, folder)
    return folder


def clean() -> tuple[Folder, Deliverable]:
    """The folder before anything was planted."""
    points = lay_out(SITE)
    folder = Folder(SITE.name, PROJECT, blank_sheets(SITE), separated_by_tabs=("custody", "field_readings"))
    folder.sheets["probes"].headers |= {"replaces_probe_id": "replaces_probe_id"}
    for p in points:
        write_point(SITE, folder, p)
    for number in ("B03", "B04"):
        folder.one("probes", probe_id=f"P-{number}")["tubing_lot"] = OTHER_LOT
        folder.one("samples", sample_id=f"MG-{number}")["tubing_lot"] = OTHER_LOT
    write_equipment_log(SITE, folder, points, (Rinse("MG-EB1", "A", 0, "MA-1"), Rinse("MG-EB2", "B", 2, "MB-1")))
    write_other_blanks(SITE, folder, trips=(0,), lots=(TUBING_LOT, OTHER_LOT))
    write_tube_and_field_blanks(folder)
    write_instrument_checks(SITE, folder)
    write_weather(SITE, folder)
    folder.sheets["results"], folder.sheets["lab_qc"] = empty_results(), empty_control()
    bench = Deliverable(
        SITE, {p.sample: tetrachloroethene(p) for p in points},
        {p.duplicate: p.sample for p in points if p.duplicate}, GROUP,
    )  # fmt: skip
    write_runs(bench, folder, {p.sample: p for p in points})
    bench.write_lots(folder)
    levels = folder.sheets["screening_levels"] = Sheet(
        {n: n for n in ("cas", "analyte", "matrix", "level", "unit", "basis")}
    )
    for a in WANTED:
        levels.add(
            cas=a.cas, analyte=a.name, matrix="soil_gas", level=sig(400 * a.in_mass(a.limit), 2), unit="ug/m3",
            basis="project plan",
        )  # fmt: skip
    return folder, bench


def tetrachloroethene(p: Point) -> float:
    """ppbv at a point."""
    return SITE.first_ppbv * SITE.growth**p.visit * SITE.dice("source", p.sample).uniform(0.97, 1.03)


def write_tube_and_field_blanks(folder: Folder) -> None:
    """A tube that was never opened, with the second day's shipment, and a canister filled with argon in the yard."""
    morning = datetime.combine(SITE.days[1], time(6, 0))
    new_sample(
        SITE, folder, "MG-TB2", "sorbent_tube", morning, morning, 1, "A", kind="trip_blank", matrix="unknown",
    )  # fmt: skip
    noon = datetime.combine(SITE.days[0], time(11, 50))
    new_sample(
        SITE, folder, "MG-FB1", "canister", noon, noon + minutes(6), 0, "A", kind="field_blank", matrix="unknown",
    )  # fmt: skip


def write_runs(bench: Deliverable, folder: Folder, points: dict[str, Point]) -> None:
    """Every sample in its sequence, then the control samples of each sequence."""
    for of, repeated in ((V1, "MG-B04"), (V2, "MG-A07"), (S2, "MG-B08"), (M2, "MG-A10")):
        inside = [r for r in folder.sheets["samples"].rows if sequence(r) is of]
        for place, row in enumerate(inside):
            p = points.get(row["parent_sample_id"] or row["sample_id"])
            own = SITE.dice("dilution", p.sample if p else row["sample_id"]).uniform(1.38, 1.72)
            at, arrival = of.tuned + minutes(110 + 30 * place), stamp(received(SITE, 0 if of is V1 else 1))
            if of is M2 and p:
                own, at, arrival = 1.0, p.ended + minutes(50), stamp(p.ended + minutes(3))
            dilution = DILUTED.get(row["sample_id"], own)
            bench.write(
                folder, of,
                Injection(row["sample_id"], f"{of.batch}-{place + 1:02d}", at, round(dilution, 2), arrival),
            )  # fmt: skip
        checks = tuple(of.tuned + minutes(after) for after in (20, 305, 660))
        bench.write_control(folder, of, repeated, checks)


def sequence(row: Row) -> Sequence:
    """Where a sample was run."""
    if row["laboratory"] == "Laboratory B":
        return M2
    if row["container"] == "sorbent_tube":
        return S2
    return V1 if row["shipment_id"] == "SHP-1" else V2
