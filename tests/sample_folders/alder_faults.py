"""The faults of Alder Crossing, and the concentrations that they need."""

from __future__ import annotations

from chemistry import CHLOROFORM, HELIUM, PCE, TCE, TOLUENE
from faults import NOTE, UNPROVEN, Fault, Finding, Reach
from paper import Folder, minutes
from planting import (
    J_UJ,
    LOW,
    Plant,
    absent,
    carried_over,
    change,
    cleaning_before,
    fault,
    is_detect,
    leave_uncleaned,
    on_samples,
    tainted_by_blank,
    targets,
    use_of,
    whole,
)  # fmt: skip
from site_plan import dead_volume, shift

CIS = "156-59-2"
#: (sample, CAS number) -> value in the printed unit, None for not detected.
GIVEN: dict[tuple[str, str], float | None] = {
    ("AC-EB2", TOLUENE): 2.0,
    ("AC-A02", TOLUENE): 0.60,  # under its reporting limit, no limit of detection given
    ("AC-A03", TOLUENE): 14.0,  # over five times the blank
    ("AC-A04", TOLUENE): 0.30, ("AC-A05", TOLUENE): 0.30,  # at most the limit of detection
    ("AC-A04D", TOLUENE): None,
    ("AC-A06", TOLUENE): 10.0,  # five times the blank, and not over it
    ("AC-A07", TOLUENE): 0.55,  # between the limit of detection and the reporting limit
    ("AC-A02", HELIUM): 1.60,
    ("AC-EW1", CHLOROFORM): 0.80,
    ("AC-B01", PCE): 5200.0, ("AC-B01", TCE): 840.0, ("AC-B01", CIS): 95.0,
    ("AC-B02", PCE): 31.0, ("AC-B02", TCE): 8.4, ("AC-B02", CIS): 3.0,
}  # fmt: skip
TAINTED_TA = ("AC-A02", "AC-A03", "AC-A04", "AC-A04D", "AC-A05", "AC-A06", "AC-A07")
TAINTED_TB = ("AC-B02", "AC-B03", "AC-B04", "AC-B05", "AC-B06", "AC-B07")


def moved(
    folder: Folder, probe: str, samples: tuple[str, ...], outcome: str = "broken",
    letters: tuple[str, str] = ("J+", "-"),
) -> Finding:  # fmt: skip
    """A move of a tip, on its later use in the log."""
    reaches = tuple(Reach(sample=sample) for sample in samples)
    return Finding(
        "clean-between-locations", "equipment_log", use_of(folder, probe)["event_id"], outcome, letters, reaches
    )


def wash_too_early(folder: Folder) -> None:
    """The cleaning was logged while the string still stood in the ground."""
    cleaning_before(folder, "P-A03")["at"] = folder.one("samples", sample_id="AC-A02")["started_at"]


def forget_use(folder: Folder) -> None:
    """Neither the cleaning before P-B05 nor its use are in the log; the probe's own form names the tip."""
    leave_uncleaned("P-B05")(folder)
    folder.sheets["equipment_log"].rows.remove(use_of(folder, "P-B05"))


def date_only(probe: str, day: str) -> Plant:
    """The cleaning before a use shows only its date."""

    def plant(folder: Folder) -> None:
        cleaning_before(folder, probe)["at"] = day

    return plant


def leak(folder: Folder) -> None:
    """8 % of the helium under the shroud, and no limit of detection for toluene."""
    folder.one("tracer_tests", test_id="TT-A02").update(shroud_low="20.0", shroud_high="24.0", train_reading="1.55")
    toluene = next(row for _, row in targets(folder, "AC-A02") if row["cas"] == TOLUENE)
    toluene |= {"limit_of_detection": "", "detection_limit": ""}


def dirty_gas_blank(folder: Folder) -> list[Finding]:
    """Toluene, analyte by analyte, between the clean blanks on either side; a detect under its limit is J besides."""
    event = folder.one("equipment_log", sample_id="AC-EB2")["event_id"]
    low = next(key for key, row in targets(folder, "AC-A07") if row["cas"] == TOLUENE)
    return [
        *tainted_by_blank(folder, event, "AC-EB2", TOLUENE, TAINTED_TA),
        Finding("below-reporting-limit", "results", low, "broken", ("J", "-")),
    ]


def dirty_water_blank(folder: Folder) -> list[Finding]:
    """Chloroform is there, which is all that water can tell: every tainted detect is J+, however high."""
    event = folder.one("equipment_log", sample_id="AC-EW1")["event_id"]
    reached = tuple(
        key for sample in TAINTED_TB for key, row in targets(folder, sample)
        if row["cas"] == CHLOROFORM and is_detect(row)
    )  # fmt: skip
    return [Finding("equipment-blank-clean", "equipment_log", event, "broken", ("J+", "-"), (Reach(keys=reached),))]


def only_the_probe(folder: Folder) -> None:
    """The tests of A06 name its probe and no sample."""
    for table in ("shut_in_tests", "tracer_tests", "purges"):
        folder.one(table, sample_id="AC-A06").update(sample_id="", probe_id="P-A06")


def short_second_purge(folder: Folder) -> None:
    """Two dead volumes before the second sample from one probe."""
    purge = folder.one("purges", purge_id="PU-A09R")
    volume = 2.0 * dead_volume(folder.one("probes", probe_id="P-A09"), purge)
    purge |= {"volume": f"{volume:.0f}", "flow": f"{volume / 3:.0f}"}


def day_early(table: str, test: str) -> Plant:
    """The form carries the day before."""

    def plant(folder: Folder) -> None:
        row = folder.one(table, test_id=test)
        row |= {name: shift(row[name], -minutes(24 * 60)) for name in ("at", "started_at", "ended_at") if name in row}

    return plant


def day_before(folder: Folder) -> None:
    """The form carries the day before, and the very minute at which the sample began."""
    started = folder.one("samples", sample_id="AC-B09")["started_at"]
    folder.one("tracer_tests", test_id="TT-B09")["at"] = shift(started, -minutes(24 * 60))


FAULTS: tuple[Fault, ...] = (
    Fault(
        "The cleaning of tip TA between P-A02 and P-A03 was logged while P-A02 still stood in the ground.",
        wash_too_early,
        lambda f: [moved(f, "P-A03", ("AC-A03",)), *carried_over(f, "AC-A03", ("AC-A02",))],
    ),
    Fault(
        "Tip TB went uncleaned from AC-B01, the dirtiest point, to AC-B02. Tetrachloroethene (0.6 %) and "
        "trichloroethene (exactly 1 %) at B02 may be nothing but what it carried; cis-1,2-dichloroethene (3 %) and the "
        "rest are more.",
        leave_uncleaned("P-B02"),
        lambda f: [
            moved(f, "P-B02", ("AC-B02",)), *carried_over(f, "AC-B02", ("AC-B01",)),
            Finding("sampling-order", "samples", "AC-B02", "broken", NOTE),
        ],
    ),
    Fault(
        "Tip TB went uncleaned from AC-B04 to AC-B05. The log does not hold the use at P-B05; the probe's form does, "
        "and the finding sits on it.",
        forget_use,
        lambda f: [
            Finding("clean-between-locations", "probes", "P-B05", "broken", ("J+", "-"), whole("AC-B05")),
            *carried_over(f, "AC-B05", ("AC-B04",)),
        ],
    ),
    fault(
        "The cleaning of tip TB after P-B06 (pulled on 30 October) and before P-B07 (driven on 1 November) shows only "
        "the 31st. That decides it.",
        date_only("P-B07", "2025-10-31"),
    ),
    Fault(
        "The cleaning of tip TA between P-A07 and P-A08, both of 31 October, shows only that date.",
        date_only("P-A08", "2025-10-31"),
        lambda f: [moved(f, "P-A08", ("AC-A08",), "unproven", UNPROVEN)],
    ),
    Fault(
        "P-A08 and P-A09 stand at one location. No cleaning of tip TA is logged between them, but the one of which "
        "only the date is known may have been there.",
        leave_uncleaned("P-A09"),
        lambda f: [moved(f, "P-A09", ("AC-A09", "AC-A09R"), "unproven", NOTE)],
    ),
    fault(
        "Nobody wrote down when P-A05 was pulled. Its use ends with its sample, and the cleaning came after.",
        change("probes", {"probe_id": "P-A05"}, removed_at=""),
    ),
    fault(
        "AC-A02: 1.60 % helium of 20.0 % under the shroud (8 %). Its toluene, 0.60 ppbv, has no limit of detection.",
        leak,
        Finding("leak-tracer-recovery", "tracer_tests", "TT-A02", "broken", LOW, whole("AC-A02", HELIUM), True),
        consequence="The blank below makes the toluene a nondetect first; the leak then makes it UJ.",
    ),
    Fault(
        "The equipment blank AC-EB2 over tip TA found 2.0 ppbv toluene; AC-EB1 before it and AC-EB3 after it were "
        "clean. A02 (0.60, no limit of detection): U at the reporting limit. A03 (14.0, over 10): nothing. A04 and A05 "
        "(0.30): U at the limit of detection. A04D: not detected, it keeps its own limit. A06 (exactly 10.0): J+. A07 "
        "(0.55, over its limit of detection): J+.",
        lambda _: None, dirty_gas_blank,
    ),
    Fault(
        "The equipment blank AC-EW1 over tip TB was water and held 0.80 ug/L chloroform; AC-EB4 before it and AC-EB5 "
        "after it, both of gas, were clean.",
        lambda _: None, dirty_water_blank,
    ),
    fault(
        "The purge of AC-A04 ran at 240 mL/min. AC-A04D, drawn with it, has no purge of its own and takes this one.",
        change("purges", {"purge_id": "PU-A04"}, flow="240", volume="720"),
        Finding(
            "purge-flow", "purges", "PU-A04", "broken", J_UJ, (Reach(sample="AC-A04"), Reach(sample="AC-A04D"))
        ),
    ),
    fault("The tests of AC-A06 name only its probe.", only_the_probe),
    fault(
        "Two samples were drawn from P-A09, each after a purge that names only the probe. The second purge was of 2.0 "
        "dead volumes and taints the second sample only.",
        short_second_purge,
        Finding("purge-volumes", "purges", "PU-A09R", "broken", J_UJ, whole("AC-A09R")),
    ),
    fault(
        "The tracer test of AC-B07 is dated a day early: 24 hours and 5 minutes before the sample. It proves nothing.",
        day_early("tracer_tests", "TT-B07"),
        absent("leak-test-done", "AC-B07", *whole("AC-B07")),
    ),
    fault(
        "The shut-in test of AC-B08 is dated a day early as well.",
        day_early("shut_in_tests", "SI-B08"),
        absent("shut-in-done", "AC-B08", *whole("AC-B08")),
    ),
    fault("The tracer test of AC-B09 was made exactly 24 hours before the sample began, and counts.", day_before),
    Fault(
        "The bag AC-A10 was closed at 21:24 on 1 November and its volatile organics analysed at 02:50 on the 2nd. The "
        "clocks went back between: not five and a half hours but six and a half. Its methane had a day.",
        lambda _: None, on_samples((("holding-time", "broken", LOW),), "AC-A10", "8260"),
    ),
)  # fmt: skip
