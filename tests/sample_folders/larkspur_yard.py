"""Larkspur Yard: a folder in which nothing is wrong."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from chemistry import FIXED_GASES, PCE, VOLATILES
from cleaning import Rinse, write_equipment_log, write_instrument_checks, write_other_blanks
from faults import Fault
from forms import TUBING_LOT, blank_sheets, received, write_point, write_weather
from laboratory import Bench, Run, results_sheet, write_lab_qc, write_levels, write_required
from paper import Folder, minutes, stamp
from site_plan import Site, lay_out

NOON = (time(7, 30), time(12, 40))
SITE = Site(
    name="larkspur-yard", prefix="LY", title="Larkspur Yard", days=(date(2025, 6, 3), date(2025, 6, 4)),
    offset="-06:00", lab_offset="-05:00", altitude=4100, lab_altitude=600,
    rounds={
        crew: tuple(
            (day, NOON[half], tuple(f"T{crew}-{n}" for n in range(1, 4 if half == 0 else 3)))
            for day in (0, 1) for half in (0, 1)
        )
        for crew in "AB"
    },
    duplicates=frozenset({"LY-A04", "LY-B08"}), mass=False, first_ppbv=45.0, growth=1.42,
)  # fmt: skip

PROJECT = """\
project: Larkspur Yard              # invented
purpose: property transaction
time_zone: America/Boise
lab_time_zone: America/Chicago
altitude: 4100 ft
lab_altitude: 600 ft
reference: {temperature: 25 degC, pressure: 1 atm}
stage: 2A
"""

README = """\
# Larkspur Yard

An invented property transaction. A dry cleaner once stood at the south end of a rail yard at 4,100 ft; two crews
drove twenty temporary soil-gas probes over two days in June, from the clean edges towards the old machine room.
Each crew drives three strings in the morning and two after noon, waits more than two hours, and pulls and washes
the tips between the rounds. One-litre canisters went by courier to Laboratory A, at 600 ft and one time zone further
east, which reports 42 volatile organics in ppbv, and fixed gases with the helium tracer in per cent by volume.

Gauges were read at the local barometer: a perfect vacuum shows only about 25.7 inHg up there, and a canister closed
at 5 inHg in the yard shows about 8.5 inHg at the laboratory. Blanks were filled with argon, so that they show neither
oxygen nor nitrogen.

## What must be found

Nothing. Every form is complete, every test passed, every limit is met. Every row of every table is `usable`, without
so much as a note.
"""

FAULTS: tuple[Fault, ...] = ()


def build() -> Folder:
    """The folder, from the site plan to the last result."""
    points = lay_out(SITE)
    folder = Folder(SITE.name, PROJECT, blank_sheets(SITE), separated_by_tabs=("weather", "field_readings"))
    for p in points:
        write_point(SITE, folder, p)
    rinses = tuple(
        Rinse(f"LY-EB{2 * day + n + 1}", crew, 2 * day, f"T{crew}-1") for day in (0, 1) for n, crew in enumerate("AB")
    )
    write_equipment_log(SITE, folder, points, rinses)
    write_other_blanks(SITE, folder, trips=(0, 1), lots=(TUBING_LOT,))
    write_instrument_checks(SITE, folder)
    write_weather(SITE, folder)
    bench = Bench(SITE, points, {}, nondetect="ND")
    sheet = folder.sheets["results"] = results_sheet(SITE, stated_keys=True, flags=False, lod=True)
    for day in range(len(SITE.days)):
        shipment = folder.rows("samples", shipment_id=f"SHP-{day + 1}")
        for prefix, method, analytes, wait, step in (
            ("V", "TO-15", VOLATILES, 3, 48), ("F", "D1946", FIXED_GASES, 5, 20),
        ):  # fmt: skip
            began = datetime.combine(SITE.days[day], time(8, 20)) + timedelta(days=2 + wait)
            for place, row in enumerate(shipment, 1):
                sample = row["sample_id"]
                point = bench.points.get(sample)
                own = SITE.dice("dilution", point.sample if point else sample).uniform(1.38, 1.72)
                strong = point is not None and method == "TO-15" and bench.tetrachloroethene(point) > 400
                bench.write(
                    sheet,
                    Run(
                        sample, method, analytes, f"{prefix}25{day + 1}", f"{prefix}25{day + 1}-{place:02d}",
                        began + minutes(step * place), "Laboratory A", stamp(received(SITE, day)), "LA-3107",
                        round(own * (4 if strong else 1), 2),
                    ),
                )  # fmt: skip
    write_lab_qc(bench, folder)
    write_levels(bench, folder)
    write_required(folder)
    folder.readme = README
    assert all(r["result"] != "ND" for r in folder.rows("results", cas=PCE) if r["sample_id"] in bench.points)
    return folder
