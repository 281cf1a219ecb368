"""Who drives which probe where and when: the day of a crew, before any form is filled in."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from paper import Row, minutes


@dataclass(frozen=True)
class Site:
    """What is the same for a whole folder."""

    name: str
    prefix: str
    title: str
    days: tuple[date, ...]
    offset: str  # of the field's zone while sampling
    lab_offset: str  # of the laboratory's zone at receipt
    altitude: int  # ft
    lab_altitude: int
    #: crew -> one entry a round: (day, start of driving, tips in the order they are driven)
    rounds: dict[str, tuple[tuple[int, time, tuple[str, ...]], ...]]
    duplicates: frozenset[str]
    mass: bool  # results of volatile organics in ug/m3, else in ppbv
    first_ppbv: float  # tetrachloroethene at a crew's first and cleanest point
    growth: float  # from one visit to the next
    reading_units: bool = False  # the tracer meter's unit stands in a column of its own
    containers: dict[str, str] = field(default_factory=dict)  # sample -> container, where it is no canister
    winter: tuple[datetime, str] | None = None  # the laboratory's offset from that local time on
    stays: dict[str, str] = field(default_factory=dict)  # sample -> location of another point (two probes there)

    def dice(self, *parts: object) -> random.Random:
        """A generator of its own for each cell, so that one change never moves another number."""
        return random.Random("/".join(map(str, (self.name, *parts))))

    def lab_clock(self, at: datetime) -> str:
        """Offset of the laboratory's zone at a local time of its own."""
        return self.winter[1] if self.winter and at >= self.winter[0] else self.lab_offset

    def container(self, sample: str) -> str:
        """Kind of container of a sample."""
        return self.containers.get(sample, "canister")


@dataclass(frozen=True)
class Point:
    """One probe and the sample drawn from it."""

    crew: str
    visit: int  # 0 for the crew's first
    visits: int
    sample: str
    probe: str
    location: str
    tip: str
    day: int
    turn: int  # round of that crew, counted over the job
    slot: int
    installed: datetime
    arrived: datetime
    purge_minutes: int
    draw_minutes: int
    angle: float
    duplicate: str  # its field duplicate, or empty

    @property
    def severity(self) -> float:
        """0 at the crew's cleanest point, 1 at its dirtiest."""
        return self.visit / max(1, self.visits - 1)

    @property
    def purge_start(self) -> datetime:
        """After the shut-in test."""
        return self.arrived + minutes(6)

    @property
    def purge_end(self) -> datetime:
        """When the last dead volume was drawn."""
        return self.purge_start + minutes(self.purge_minutes)

    @property
    def started(self) -> datetime:
        """Start of the sample."""
        return self.arrived + minutes(13)

    @property
    def ended(self) -> datetime:
        """End of the sample."""
        return self.started + minutes(self.draw_minutes)

    @property
    def removed(self) -> datetime:
        """When the string was pulled."""
        return self.ended + minutes(5)


def lay_out(site: Site) -> list[Point]:
    """Every point of the job. A crew goes from its clean edge towards the source."""
    points = []
    for crew, rounds in site.rounds.items():
        visits = sum(len(tips) for *_, tips in rounds)
        visit = 0
        for turn, (day, start, tips) in enumerate(rounds):
            begins = datetime.combine(site.days[day], start)
            late = 0
            for slot, tip in enumerate(tips):
                number = f"{crew}{visit + 1:02d}"
                sample = f"{site.prefix}-{number}"
                dice = site.dice("point", sample)
                container = site.container(sample)
                twin = f"{sample}D" if sample in site.duplicates else ""
                draw = {"syringe": 1, "plastic_syringe": 1, "glass_bulb": 1, "bag": 6}.get(
                    container, 8 if twin else dice.choice((4, 5, 6))
                )
                points.append(
                    Point(
                        crew, visit, visits, sample, f"P-{number}", site.stays.get(sample, f"L-{number}"), tip, day,
                        turn, slot, begins + minutes(18 * slot + 8), begins + minutes(165 + 24 * slot + late),
                        5 if container == "glass_bulb" else 3, draw, dice.uniform(-0.5, 0.5), twin,
                    )
                )  # fmt: skip
                late += 3 if twin else 0
                visit += 1
    return points


def place(point: Point) -> tuple[float, float]:
    """Feet east and north of the yard's corner: the source lies at (420, 260)."""
    distance = 30 + 300 * (1 - point.severity) ** 1.2
    side = math.pi if point.crew == "A" else 0.0
    return 420 + distance * math.cos(side + point.angle), 260 + distance * math.sin(side + point.angle)


def dead_volume(probe: Row, purge: Row, bulb: float = 0.0) -> float:
    """mL in tubing bore, tip, the void left by retraction, the train and a bulb that was not evacuated.

    The recipe is that of the rulebook for driven probes without sand pack or dry seal; lengths of the tubing in ft,
    diameters and retraction in inches.
    """
    bore = math.pi / 4 * (float(probe["tubing_inner_diameter"]) * 2.54) ** 2 * float(probe["tubing_length"]) * 30.48
    void = math.pi / 4 * (float(probe["rod_outer_diameter"]) * 2.54) ** 2 * float(probe["retraction"]) * 2.54
    return bore + float(probe["tip_volume"]) + void + float(purge["train_volume"]) + bulb


def shift(text: str, by: timedelta) -> str:
    """A local time as written, moved."""
    return (datetime.fromisoformat(text) + by).strftime("%Y-%m-%dT%H:%M")
