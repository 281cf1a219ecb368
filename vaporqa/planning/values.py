"""A plan as values: what each number is, the rule and limit it comes from, and what was missing where there is none."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

from vaporqa.criteria import Limit
from vaporqa.review.values import Review


class When(NamedTuple):
    """An instant, or a local day of which no time is known: microseconds UTC from `low` to `high`."""

    low: int
    high: int
    day: int  # local date, days since 1970
    date_only: bool = False
    zone: str = "field"  # in whose zone a person reads it: `field` or `laboratory`


class Basis(NamedTuple):
    """A rule in force, and the limit of it that a number was worked out from."""

    rule: str
    limit: Limit


class Lack(StrEnum):
    """Why something could not be worked out."""

    NOTHING = ""
    NOT_RECORDED = "not recorded"
    UNREADABLE = "unreadable"
    CONTRADICTS = "contradicts"
    NO_NUMBER = "no number"  # the rules in force have none for this case


class Safe(StrEnum):
    """To which side a shown number is rounded, so that who keeps to it keeps the limit."""

    NEAREST = ""
    UP = "up"
    DOWN = "down"


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that the plan says, of a probe or (`probe` empty) of the whole day.

    Attributes
    ----------
    probe : str
    name : str
        A word of `ITEMS`.
    of : str
        The sample, container, equipment or group that it is about; empty where the probe says it all.
    value : float
        In `unit`; nan where it is a time or a word, or could not be worked out.
    when : When or None
    word : str
    basis : tuple of Basis
    missing, lack
        What is missing, as a phrase ("the tubing length"), and in what way.
    note : str
        A phrase on how the number is meant ("tip volume 0 taken for granted").
    about : str
        The analytes, or the state of the sample, that a deadline holds for; empty for all.
    safe : Safe
    against : bool
        What is recorded already goes against the limit.
    """

    probe: str
    name: str
    of: str = ""
    value: float = math.nan
    unit: str = ""
    when: When | None = None
    word: str = ""
    basis: tuple[Basis, ...] = ()
    missing: str = ""
    lack: Lack = Lack.NOTHING
    note: str = ""
    about: str = ""
    safe: Safe = Safe.NEAREST
    against: bool = False


@dataclass(frozen=True, slots=True)
class Step:
    """One stop of the day, in the order from clean to dirty.

    Attributes
    ----------
    probe, location : str
    highest : float
        Highest detect that is known of the location, ug/m3; nan where nothing is known.
    start : When or None
        As planned.
    after : str
        The probe in whose hole its tip still stands; empty where it waits for none.
    clean : tuple of str
        Equipment that must be cleaned before it, each with the place it comes from.
    unsure : tuple of str
        Equipment of which no record shows whether it was cleaned; it is cleaned as well.
    """

    probe: str
    location: str
    highest: float
    start: When | None
    after: str = ""
    clean: tuple[tuple[str, str], ...] = ()
    unsure: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class ProbeState:
    """A probe, and how far it has come.

    `state` is `to sample`, `sampled`, `removed` or `passive`; `clearance` is `recorded`, `none` (nothing recorded),
    `unreadable` or `late` (recorded after the probe was driven); `driven` says that it stands in the ground already.
    """

    probe: str
    location: str
    kind: str
    state: str
    clearance: str
    driven: bool


@dataclass(frozen=True, slots=True)
class Plan:
    """The plan of a field day, or of what is left of it.

    Attributes
    ----------
    review : Review
        Of the folder as it stands: rules in force, what is already against one, cautions.
    wishes : Wishes
        What was asked for.
    probes : tuple of ProbeState
        In the order of the table.
    items : tuple of Item
        By probe in that order, then those of the whole day.
    steps : tuple of Step
    ordered_by : str
        `earlier results`, `some earlier results` (the rest as declared) or `declared order`.
    against_times : tuple of (str, str)
        Pairs of probes that the planned times put the other way round.
    """

    review: Review
    wishes: Wishes
    probes: tuple[ProbeState, ...]
    items: tuple[Item, ...]
    steps: tuple[Step, ...]
    ordered_by: str
    against_times: tuple[tuple[str, str], ...] = ()

    def of(self, probe: str, name: str = "") -> tuple[Item, ...]:
        """Return the items of a probe (empty: of the whole day), of one name where given."""
        return tuple(item for item in self.items if item.probe == probe and name in ("", item.name))


@dataclass(frozen=True, slots=True)
class Wishes:
    """What was asked for besides the folder: a flow (mL/min), a stroke (mL), and when sampling begins.

    Each with the text as it was given; None where nothing was.
    """

    flow: float | None = None
    stroke: float | None = None
    start: When | None = None
    texts: dict[str, str] = field(default_factory=dict)


#: Every name of an item, in the order in which a plan shows them.
ITEMS = (
    "services_cleared", "stop", "clean_before", "tubing_to_cut", "tubing_part", "tip_part", "void_part",
    "pack_part", "seal_part", "train_part", "bulb_part", "dead_volume", "purge_least", "purge_most", "purge_flow",
    "purge_time_least", "purge_time_most", "strokes_least", "strokes_most", "stroke_interval", "height_above_water",
    "water_seen", "wait", "earliest_purge", "earliest_sample", "rain_hold", "sampling_flow", "vacuum_expected",
    "vacuum_start_least", "close_from", "close_at", "fill_time_from", "fill_time_to", "preserve_by",
    "latest_receipt", "latest_analysis", "duplicates_due", "equipment_blanks_due", "trip_blanks_due",
)  # fmt: skip
