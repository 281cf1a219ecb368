"""Cutbank Terminal: purges."""

from __future__ import annotations

from faults import NOTE, Fault, Finding
from paper import Folder, minutes
from planting import J_UJ, LOW, REJECTED, Plant, absent, change, fault, unproven, whole
from site_plan import dead_volume, shift


def volumes(number: str, count: float) -> Plant:
    """Purge so many dead volumes, with flow and minutes that agree."""

    def plant(folder: Folder) -> None:
        purge = folder.one("purges", purge_id=f"PU-{number}")
        volume = count * dead_volume(folder.one("probes", probe_id=f"P-{number}"), purge)
        purge |= {"volume": f"{volume:.0f}", "flow": f"{volume / 3:.0f}"}

    return plant


def earlier(number: str, by: int, sheets: tuple[str, ...] = ("shut_in_tests", "tracer_tests", "purges")) -> Plant:
    """Move the tests of a sample to so many minutes earlier."""

    def plant(folder: Folder) -> None:
        for table in sheets:
            for row in folder.rows(table, sample_id=f"CT-{number}"):
                for name in ("started_at", "ended_at", "at"):
                    if name in row:
                        row[name] = shift(row[name], -minutes(by))

    return plant


def long_purge(folder: Folder) -> None:
    """Seven minutes at 185 mL/min, some thirteen dead volumes, over a minute before the sample."""
    purge = folder.one("purges", purge_id="PU-B10")
    begun = shift(purge["started_at"], -minutes(1))
    purge |= {"flow": "185", "volume": "1295", "started_at": begun, "ended_at": shift(begun, minutes(7))}


def broken(rule: str, number: str, letters: tuple[str, str], *, reach: bool = True, air: bool = False) -> Finding:
    """A purge beyond its limit."""
    reaches = whole(f"CT-{number}") if reach else ()
    return Finding(rule, "purges", f"PU-{number}", "broken", letters, reaches, air)


PURGES: tuple[Fault, ...] = (
    fault("CT-A06 was drawn after 2.1 dead volumes.", volumes("A06", 2.1), broken("purge-volumes", "A06", J_UJ)),
    fault(
        "CT-B07 was drawn after 2.1 dead volumes, and analysed after 62 days (see below).",
        volumes("B07", 2.1), broken("purge-volumes", "B07", J_UJ),
        consequence="Detects are J, for J and J- together leave the direction open; nondetects are rejected for age.",
    ),
    fault(
        "CT-B01 was drawn after 0.7 dead volumes: it is stale line gas.",
        volumes("B01", 0.7), broken("purge-volumes", "B01", REJECTED),
    ),
    fault(
        "The inner diameter of the tubing at P-B05 is missing, so its dead volume is unknown.",
        change("probes", {"probe_id": "P-B05"}, tubing_inner_diameter=""),
        unproven("purge-volumes", "purges", "PU-B05", *whole("CT-B05")),
    ),
    fault(
        "The line of CT-B02 was purged at 240 mL/min.",
        change("purges", {"purge_id": "PU-B02"}, flow="240", volume="720"), broken("purge-flow", "B02", J_UJ),
    ),
    fault(
        "The purge form of CT-B13 has no flow; 780 mL in 3 minutes make 260 mL/min.",
        change("purges", {"purge_id": "PU-B13"}, flow="", volume="780"), broken("purge-flow", "B13", J_UJ),
    ),
    fault(
        "The line of CT-A02 was under 120 inH2O while it was purged.",
        change("purges", {"purge_id": "PU-A02"}, vacuum_highest="120"),
        broken("purge-vacuum", "A02", LOW, air=True),
        consequence="Oxygen and nitrogen read high instead of low.",
    ),
    fault(
        "The purge form of CT-B12 says 700 mL where 150 mL/min for 3 minutes make 450 mL.",
        change("purges", {"purge_id": "PU-B12"}, flow="150", volume="700"),
        broken("purge-arithmetic", "B12", NOTE, reach=False),
    ),
    fault(
        "Seventeen minutes passed between the purge of CT-B03 and its sample.",
        earlier("B03", 13), broken("purge-to-sample", "B03", J_UJ),
    ),
    fault(
        "The sample CT-B19 was begun two minutes before its purge ended.",
        earlier("B19", -4, ("purges",)), broken("purge-to-sample", "B19", J_UJ),
    ),
    fault(
        "CT-B04 has no purge.",
        lambda folder: folder.drop("purges", purge_id="PU-B04"),
        absent("purge-done", "CT-B04", *whole("CT-B04")),
    ),
    fault(
        "The line of CT-B10 was purged of more than ten dead volumes.",
        long_purge, broken("over-purge", "B10", NOTE, reach=False),
    ),
)  # fmt: skip
