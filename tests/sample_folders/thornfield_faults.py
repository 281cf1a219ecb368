"""The faults of Thornfield Pipeline."""

from __future__ import annotations

from chemistry import METHANE
from faults import NOTE, UNPROVEN, Fault, Finding, Reach
from paper import Folder
from planting import J_UJ, LOW, REJECTED, Plant, change, fault, on_samples, result_key, targets, whole
from site_plan import dead_volume

NAPHTHALENE = "91-20-3"
LATE, GROSS = ("holding-time", "broken", LOW), ("holding-time-gross", "broken", ("J-", "R"))


def deep(number: str, bottom: float, drawn_back: float, **cells: str) -> Plant:
    """A string driven to `bottom` (ft) and drawn back so many inches; rods, tubing and purge follow."""

    def plant(folder: Folder) -> None:
        probe = folder.one("probes", probe_id=f"P-{number}")
        rods = bottom + float(probe["stick_up"]) / 12
        probe |= {
            "depth_top": f"{bottom - drawn_back / 12:.2f}", "depth_bottom": f"{bottom:.2f}",
            "total_depth": f"{bottom:.2f}", "retraction": f"{drawn_back:.1f}", "rod_length": f"{rods:.2f}",
            "tubing_length": f"{rods + 0.75:.2f}", **cells,
        }  # fmt: skip
        purge = folder.one("purges", purge_id=f"PU-{number}")
        volume = 3.4 * dead_volume(probe, purge)
        purge |= {"volume": f"{volume:.0f}", "flow": f"{volume / 3:.0f}"}

    return plant


def at_the_water(folder: Folder) -> None:
    """The water stands exactly at the bottom of the open interval."""
    probe = folder.one("probes", probe_id="P-A02")
    probe["water_depth"] = probe["depth_bottom"]


def short_tubing(folder: Folder) -> None:
    """Three inches shorter than the rods."""
    probe = folder.one("probes", probe_id="P-A08")
    probe["tubing_length"] = f"{float(probe['rod_length']) - 0.25:.2f}"


def refused(number: str, east: float, north: float) -> Plant:
    """A first hole met refusal at 6.10 ft, so many feet from the one that replaces it; its tip was left there."""

    def plant(folder: Folder) -> None:
        stood = folder.one("locations", location_id=f"L-{number}")
        folder.sheets["locations"].add(
            location_id=f"L-{number}X", x=f"{float(stood['x']) + east:.1f}", y=f"{float(stood['y']) + north:.1f}",
            setting="easement", note="refusal",
        )  # fmt: skip
        probe = folder.one("probes", probe_id=f"P-{number}")
        folder.sheets["probes"].rows.append(
            probe | {
                "probe_id": f"P-{number}X", "location_id": f"L-{number}X", "depth_top": "5.89",
                "depth_bottom": "6.10", "total_depth": "6.10", "rod_length": "6.60", "stick_up": "6.0",
                "tubing_length": "7.35", "tip_id": f"DT-{number}X", "tip_use": "dedicated", "retraction": "2.5",
                "refusal": "cobble at 6.10 ft",
            }
        )  # fmt: skip
        probe["replaces_probe_id"] = f"P-{number}X"

    return plant


def chilled(folder: Folder) -> None:
    """The canister travelled in a cool box with ice."""
    folder.one("custody", sample_id="TP-A10", step="2")["temperature"] = "38"


def on_probe(
    rule: str, number: str, letters: tuple[str, str], *reaches: Reach, outcome: str = "broken", air: bool = True
) -> Finding:  # fmt: skip
    """A finding on the form of a probe."""
    return Finding(rule, "probes", f"P-{number}", outcome, letters, reaches, air)


def two_classes(folder: Folder) -> list[Finding]:
    """TP-B04: methane is late by its own day, the rest grossly so by six hours."""
    methane = result_key(folder, "TP-B04", METHANE)
    return [
        Finding(rule, "results", key, outcome, letters)
        for key, _ in targets(folder, "TP-B04") for rule, outcome, letters in (LATE, GROSS)
        if rule == LATE[0] or key != methane
    ]  # fmt: skip


def material(number: str, found: str) -> Plant:
    """Another tubing in the ground."""
    return change("probes", {"probe_id": f"P-{number}"}, tubing_material=found)


FAULTS: tuple[Fault, ...] = (
    fault(
        "The open interval of P-A01 begins at 4.40 ft.",
        deep("A01", 4.65, 3.0), on_probe("probe-depth", "A01", LOW, *whole("TP-A01")),
    ),
    fault(
        "Water stands exactly at the bottom of the open interval of P-A02.",
        at_the_water, on_probe("above-water", "A02", REJECTED, *whole("TP-A02")),
    ),
    fault(
        "The string of P-A03 was never drawn back.",
        deep("A03", 6.5, 0.0), on_probe("tip-opened", "A03", REJECTED, *whole("TP-A03")),
    ),
    fault(
        "The string of P-A04 was drawn back half an inch.",
        deep("A04", 6.5, 0.5), on_probe("tip-opened", "A04", LOW, *whole("TP-A04")),
    ),
    fault(
        "The string of P-A06 was drawn back 1.5 in, less than is usual.",
        deep("A06", 6.5, 1.5), on_probe("tip-opened", "A06", NOTE, *whole("TP-A06")),
    ),
    fault(
        "The string of P-A07 was drawn back 6.5 in; its two samples stand for an interval.",
        deep("A07", 7.0, 6.5),
        on_probe("tip-opened", "A07", NOTE, Reach(sample="TP-A07"), Reach(sample="TP-A07D")),
    ),
    fault(
        "The tubing of P-A08 is 3 in shorter than its rods.",
        short_tubing,
        on_probe("tubing-reaches-tip", "A08", REJECTED, *whole("TP-A08")), on_probe("tubing-tail", "A08", NOTE),
    ),
    fault(
        "The joints of P-A09 were not checked.",
        change("probes", {"probe_id": "P-A09"}, joints_checked="no"),
        on_probe("joints-tight", "A09", LOW, *whole("TP-A09")),
    ),
    fault(
        "The form of P-B11 does not say whether its joints were checked.",
        change("probes", {"probe_id": "P-B11"}, joints_checked=""),
        on_probe("joints-tight", "B11", NOTE, *whole("TP-B11"), outcome="unproven"),
    ),
    fault(
        "P-A05, on a bank where the water lies at 26 ft, is said to have been driven by hand to 21 ft.",
        deep("A05", 21.0, 3.0, water_depth="26.0"), on_probe("depth-plausible", "A05", NOTE),
    ),
    fault(
        "P-A07 replaces a hole that met refusal 3.0 ft away.",
        refused("A07", 3.0, 0.0), on_probe("replacement-distance", "A07", NOTE),
    ),
    fault("P-B06 replaces a hole that met refusal 3 ft east and 4 ft north of it: exactly 5 ft.",
          refused("B06", 3.0, 4.0)),
    fault(
        "Water was seen in the line of TP-B01.",
        change("samples", {"sample_id": "TP-B01"}, water_seen="line"),
        Finding("water-in-train", "samples", "TP-B01", "broken", LOW, whole("TP-B01"), True),
    ),
    fault(
        "Water was seen in the bag of TP-B02.",
        change("samples", {"sample_id": "TP-B02"}, water_seen="container"),
        Finding("water-in-train", "samples", "TP-B02", "broken", ("J-", "R"), whole("TP-B02"), True),
    ),
    Fault(
        "The bag TP-B03 waited 7 hours; its methane had a day.",
        lambda _: None, on_samples((LATE,), "TP-B03", "8260"),
    ),
    Fault("The bag TP-B04 waited 25 hours, too long for its methane as well.", lambda _: None, two_classes),
    fault("The bag TP-B06 waited exactly 6 hours.", lambda _: None),
    Fault(
        "The tubing of P-B05 is nylon, which holds back naphthalene.",
        material("B05", "nylon"),
        lambda f: [
            on_probe("tubing-material", "B05", LOW, Reach(keys=(result_key(f, "TP-B05", NAPHTHALENE),)), air=False)
        ],
    ),
    fault(
        "The tubing of P-B07 is vinyl.",
        material("B07", "vinyl"), on_probe("tubing-material", "B07", LOW, *whole("TP-B07"), air=False),
    ),
    fault(
        "The tubing of P-B08 is low-density polyethylene, which must never be used.",
        material("B08", "ldpe"), on_probe("tubing-material", "B08", REJECTED, *whole("TP-B08"), air=False),
    ),
    fault(
        "The tubing of P-B09 is of another material.",
        material("B09", "other"),
        on_probe("tubing-material", "B09", UNPROVEN, *whole("TP-B09"), outcome="unproven", air=False),
    ),
    fault(
        "Six tenths of an inch of rain fell in the night to 14 May, until 06:00. TP-B10 was drawn on the 15th, "
        "some 28 hours later; TP-B11, on the 16th, had waited more than 48.",
        lambda _: None,
        Finding("rain-wait", "samples", "TP-B10", "broken", J_UJ, whole("TP-B10")),
    ),
    Fault(
        "The canister TP-A10 was chilled to 38 degF.",
        chilled,
        lambda f: [
            Finding("storage-temperature", "custody", f.one("custody", sample_id="TP-A10", step="2")["custody_id"],
                    "broken", NOTE, whole("TP-A10"))
        ],
    ),
)  # fmt: skip
