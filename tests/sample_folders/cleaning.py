"""What touched what, how it was cleaned, the blanks between, and the meters against known gas."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time

from forms import new_sample
from paper import Folder, minutes, stamp
from site_plan import Point, Site


@dataclass(frozen=True)
class Rinse:
    """An equipment blank: argon (or water) over a tip after a round of a crew."""

    sample: str
    crew: str
    turn: int
    tip: str
    water: bool = False


def write_equipment_log(site: Site, folder: Folder, points: list[Point], rinses: tuple[Rinse, ...]) -> None:
    """Uses, cleanings and blanks of every tip, in time order."""
    events: list[tuple[datetime, dict[str, str]]] = []
    for p in points:
        tip = {"equipment_id": p.tip, "equipment_kind": "tip", "by": f"crew {p.crew}"}
        events.append((p.installed, {**tip, "event": "used", "location_id": p.location, "probe_id": p.probe}))
        washed = {"event": "cleaned", "cleaning_method": "detergent, tap water, distilled water", "dried": "yes"}
        events.append((last_pulled(points, p.crew, p.turn) + minutes(7 + 4 * p.slot), {**tip, **washed}))
    for rinse in rinses:
        of_round = [p for p in points if (p.crew, p.turn) == (rinse.crew, rinse.turn)]
        at = last_pulled(points, rinse.crew, rinse.turn) + minutes(17 + 4 * len(of_round))
        tip = {"equipment_id": rinse.tip, "equipment_kind": "tip", "by": f"crew {rinse.crew}"}
        events.append((at, {**tip, "event": "blank", "sample_id": rinse.sample}))
        row = new_sample(
            site, folder, rinse.sample, "vial" if rinse.water else "canister", at, at + minutes(6), of_round[0].day,
            rinse.crew, kind="equipment_blank", matrix="water" if rinse.water else "unknown",
        )  # fmt: skip
        if rinse.water:
            row |= {"preserved": "acid", "preserved_at": row["ended_at"]}
    for number, (at, cells) in enumerate(sorted(events, key=lambda e: (e[0], e[1]["equipment_id"])), 1):
        folder.sheets["equipment_log"].add(event_id=f"E-{number:03d}", at=stamp(at), **cells)


def last_pulled(points: list[Point], crew: str, turn: int) -> datetime:
    """When the last string of a round was pulled."""
    return max(p.removed for p in points if (p.crew, p.turn) == (crew, turn))


def write_instrument_checks(site: Site, folder: Folder) -> None:
    """Each meter against known gas in the morning, at noon and in the evening of each day."""
    gases = {"GM": (("methane", 2.5), ("carbon dioxide", 5.0), ("oxygen", 20.9)), "HE": (("helium", 10.0),)}
    for day in site.days:
        for stage, clock in (("opening", time(6, 5)), ("midday", time(12, 34)), ("closing", time(21, 45))):
            for kind, checks in gases.items():
                for crew in site.rounds:
                    for gas, known in checks:
                        dice = site.dice("check", day, stage, kind, crew, gas)
                        folder.sheets["instrument_checks"].add(
                            check_id=f"IC-{len(folder.sheets['instrument_checks'].rows) + 1:03d}",
                            instrument_id=f"{kind}-{crew}", at=stamp(datetime.combine(day, clock)), stage=stage,
                            gas=gas, expected=f"{known:.1f}", reading=f"{known * dice.uniform(0.96, 1.04):.2f}",
                            unit="%v",
                        )  # fmt: skip


def write_other_blanks(site: Site, folder: Folder, trips: tuple[int, ...], lots: tuple[str, ...]) -> None:
    """A blank through each new lot of tubing on the first morning, and trip blanks that were never opened."""
    morning = datetime.combine(site.days[0], time(6, 20))
    for number, lot in enumerate(lots, 1):
        new_sample(
            site, folder, f"{site.prefix}-MB{number}", "canister", morning, morning + minutes(6), 0, "A",
            kind="material_blank", matrix="unknown", tubing_lot=lot,
        )  # fmt: skip
    for number, day in enumerate(trips, 1):
        filled = datetime.combine(site.days[day], time(6, 0))
        row = new_sample(
            site, folder, f"{site.prefix}-TB{number}", "canister", filled, filled, day, "A", kind="trip_blank",
            matrix="unknown",
        )  # fmt: skip
        row |= {"vacuum_start": "", "vacuum_end": ""}
        for step in folder.rows("custody", sample_id=row["sample_id"]):
            step["vacuum_receipt"] = ""
