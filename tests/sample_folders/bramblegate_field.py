"""Field forms of two crews at Bramblegate Dyeworks: each with headers, dates and units of its own."""

from __future__ import annotations

from datetime import datetime, timedelta

from bramblegate_laboratories import OF_A, OF_B, OF_MOBILE
from paper import Row, minutes, stamp
from stranger import Delivery, separated

PROBES = (
    "probe_id", "location_id", "kind", "install_method", "pilot_hole", "installed_at", "depth_top", "depth_bottom",
    "retraction", "rod_length", "rod_outer_diameter", "tubing_length", "tubing_inner_diameter", "tubing_material",
    "tip_id", "tip_use", "joints_checked",
)  # fmt: skip
PURGES = ("purge_id", "sample_id", "started_at", "ended_at", "flow", "volume", "vacuum_highest")
PROBES_A, PROBES_B = "field/crew_a_probes.csv", "field/crew_b_probes.tsv"
PURGES_A, PURGES_B = "field/crew_a_purges.csv", "field/crew_b_purges.csv"
#: Probe -> sample drawn from it and when that began; the duplicate is drawn with its parent.
DRAWN = {
    **{f"P-{own}": (f"BG/{own}", begun) for own, (_, _, _, begun, _) in OF_A.items() if len(own) == 2},
    **{f"P-{sample[3:]}": (sample, begun) for sample, (_, begun, _) in {**OF_B, **OF_MOBILE}.items()},
}


def crew(probe: str) -> str:
    """Crew A drove the first ten."""
    return "A" if int(probe[2:]) < 10 else "B"


def write_forms(folder: Delivery) -> None:
    """Driven probes and purges, everything in order."""
    for probe, (sample, begun) in sorted(DRAWN.items()):
        folder.sheets["probes"].add(
            probe_id=probe, location_id=f"L-{probe[2:]}", kind="driven", install_method="direct_push",
            pilot_hole="none", installed_at=stamp(begun - timedelta(hours=3)), depth_top="6.50", depth_bottom="6.75",
            retraction="3.0", rod_length="7.25", rod_outer_diameter="1.25", tubing_length="8.00",
            tubing_inner_diameter="0.17", tubing_material="ptfe", tip_id=f"T-{probe[2:]}", tip_use="dedicated",
            joints_checked="yes",
        )  # fmt: skip
        folder.sheets["purges"].add(
            purge_id=f"G-{probe[2:]}", sample_id=sample, started_at=stamp(begun - minutes(6)),
            ended_at=stamp(begun - minutes(3)), flow="150", volume="450", vacuum_highest="40",
        )  # fmt: skip


def of_crew(folder: Delivery, table: str, key: str, name: str) -> list[Row]:
    """Rows of one crew's form."""
    return [r for r in folder.sheets[table].rows if crew(r[key].replace("G-", "P-")) == name]


def print_probes_a(folder: Delivery) -> bytes:
    """A title, units in round brackets, date and time apart, a note below."""
    head = ("Hole", "Loc.", "Date in", "Time in", "How", "Top (ft)", "Bottom (ft)", "Drawn back (in)", "String (ft)",
            "Rod OD (in)", "Tube (ft)", "Tube ID (in)", "Tube made of", "Tip", "Joints OK")  # fmt: skip
    lines: list[tuple[str, ...]] = [("Bramblegate, crew A, probe log",), head]
    for r in of_crew(folder, "probes", "probe_id", "A"):
        at = datetime.fromisoformat(r["installed_at"])
        lines.append((
            r["probe_id"], r["location_id"], f"{at.month}/{at.day}/{at.year}", at.strftime("%I:%M %p"), "DP",
            r["depth_top"], r["depth_bottom"], r["retraction"], r["rod_length"], r["rod_outer_diameter"],
            r["tubing_length"], r["tubing_inner_diameter"], "T", r["tip_id"], "Y",
        ))  # fmt: skip
    return separated(lines)


def print_probes_b(folder: Delivery) -> bytes:
    """Tabs, depths in inches, and the unit of the tubing in each row."""
    head = ("Probe no.", "Station", "Set", "Top [in]", "Bottom [in]", "Pulled [in]", "Rods [ft]", "Rod OD [in]",
            "Tubing", "Tubing unit", "Bore [in]", "Material", "Tip no.", "Joints")  # fmt: skip
    lines: list[tuple[str, ...]] = [head]
    for r in of_crew(folder, "probes", "probe_id", "B"):
        depths = [f"{float(r[name]) * 12:.0f}" for name in ("depth_top", "depth_bottom")]
        lines.append((
            r["probe_id"], r["location_id"], r["installed_at"], *depths, r["retraction"], r["rod_length"],
            r["rod_outer_diameter"], f"{float(r['tubing_length']) * 12:.0f}", "in", r["tubing_inner_diameter"],
            r["tubing_material"], r["tip_id"], "1",
        ))  # fmt: skip
    return separated(lines, mark="\t")


def print_purges_a(folder: Delivery) -> bytes:
    """A units row below the header."""
    lines: list[tuple[str, ...]] = [
        ("No.", "Sample", "Day", "Start", "Stop", "Rate", "Amount", "Peak"),
        ("", "", "", "", "", "mL/min", "mL", "in H2O"),
    ]
    for r in of_crew(folder, "purges", "purge_id", "A"):
        begun, done = (datetime.fromisoformat(r[name]) for name in ("started_at", "ended_at"))
        lines.append((r["purge_id"], r["sample_id"], f"{begun.month}/{begun.day}/{begun.year}",
                      begun.strftime("%H:%M"), done.strftime("%H:%M"), r["flow"], r["volume"],
                      r["vacuum_highest"]))  # fmt: skip
    return separated(lines)


def print_purges_b(folder: Delivery) -> bytes:
    """Litres, and the header again in the middle."""
    head = ("Purge", "For", "From", "To", "L/min", "L", "Vac [inH2O]")
    lines: list[tuple[str, ...]] = [head]
    for at, r in enumerate(of_crew(folder, "purges", "purge_id", "B")):
        if at == 3:
            lines.append(head)
        lines.append((r["purge_id"], r["sample_id"], r["started_at"], r["ended_at"], f"{float(r['flow']) / 1000:.2f}",
                      f"{float(r['volume']) / 1000:.2f}", r["vacuum_highest"]))  # fmt: skip
    return separated(lines)
