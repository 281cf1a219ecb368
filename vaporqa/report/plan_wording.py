"""What the items of a plan are called, and how their numbers, limits and gaps are written for a person."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from vaporqa.criteria import Backing
from vaporqa.outcomes import Outcome
from vaporqa.planning import Basis, Item, Lack, Plan, ProbeState, Safe, When
from vaporqa.report.sentences import Sentences
from vaporqa.report.wording import Clock, figure, visible

TITLES = {
    "services_cleared": "Buried services cleared", "stop": "Stop of the day", "clean_before": "To be cleaned before it",
    "tubing_to_cut": "Tubing to cut, at least", "tubing_part": "tubing", "tip_part": "tip",
    "void_part": "void of the retraction", "pack_part": "sand pack", "seal_part": "dry seal", "train_part": "train",
    "bulb_part": "glass bulb", "dead_volume": "Dead volume", "purge_least": "Purge, at least",
    "purge_most": "Purge, at most", "purge_flow": "Flow of the purge", "purge_time_least": "Purge time, at least",
    "purge_time_most": "Purge time, at most", "strokes_least": "By hand, at least", "strokes_most": "By hand, at most",
    "stroke_interval": "One stroke in, at least", "height_above_water": "Open interval above water",
    "water_seen": "Water was seen", "wait": "Wait after installation", "earliest_purge": "Earliest purge",
    "earliest_sample": "Earliest sample", "rain_hold": "Rain hold until", "sampling_flow": "Flow of the sample",
    "vacuum_expected": "Start vacuum to expect", "vacuum_start_least": "Start vacuum, at least",
    "close_from": "Close from a vacuum of", "close_at": "Close, at the latest, at",
    "fill_time_from": "Filled for closing after", "fill_time_to": "Full after",
    "preserve_by": "Preserve by", "latest_receipt": "At the laboratory by", "latest_analysis": "Analysed by",
    "duplicates_due": "Duplicates", "equipment_blanks_due": "Equipment blanks",
    "trip_blanks_due": "Trip or field blanks",
}  # fmt: skip
PARTS = ("tubing_part", "tip_part", "void_part", "pack_part", "seal_part", "train_part", "bulb_part")
#: Rules that say how each probe is tested and drawn; their limits stand on every plan.
AT_EVERY_PROBE = (
    "shut-in-vacuum", "shut-in-hold", "shut-in-decay", "shut-in-order", "shroud-concentration", "leak-tracer-recovery",
    "purge-vacuum", "purge-to-sample", "sampling-vacuum", "suction-present", "probe-depth", "tip-opened",
    "stick-up-clearance", "water-in-train", "storage-temperature",
)  # fmt: skip
#: Rules whose limits warn people.
WARNINGS = ("methane-explosive", "oxygen-deficient", "hydrogen-sulfide")
CLEARANCE = "Where no clearance is recorded nothing is driven, drilled or cored."
ON_THE_DAY = (
    "Read methane and oxygen at each hole before work and while it is open; stop at the readings below.",
    "Mark off the place of work from traffic, and wear what makes you seen.",
    "Lift rods, jacks and hammers with two people or a device; keep hands and feet from under the string.",
    "Local codes, the approved project plan and licensed practice come first; where they ask for more, they hold.",
)


@dataclass(frozen=True, slots=True)
class Said:
    """An item as a person reads it: what it is called, what is said, and the rules and limits it comes from."""

    item: Item
    title: str
    text: str
    basis: str
    note: str


class PlanWords:
    """Writes the items of one plan."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        project = plan.review.project
        zones = {"field": project.time_zone, "laboratory": project.lab_time_zone or project.time_zone}
        self._clocks = {name: Clock(zone) for name, zone in zones.items()}

    def said(self, item: Item) -> Said:
        """Return an item in words."""
        title = TITLES[item.name]
        note = visible(item.note, 200)
        return Said(item, title, self.text(item), "; ".join(basis_text(one) for one in item.basis), note)

    def text(self, item: Item) -> str:
        """Return what an item says: a number, a time, a word, or what is missing for it."""
        if item.missing:
            return missing_text(item)
        if item.name == "stop":
            return f"{item.value:.0f}"
        parts = []
        if item.when is not None:
            parts.append(self.when(item.when))
        elif item.word and math.isnan(item.value):
            parts.append(_word(item))
        if not math.isnan(item.value):
            amount = amount_text(item)
            parts.append(f"after {amount} in 24 h" if item.name == "rain_hold" else amount)
        return ", ".join(parts)

    def when(self, when: When) -> str:
        """Return a time in the zone in which it is read."""
        if when.date_only and when.zone == "laboratory":
            return f"{_date(when.day)}, end of the laboratory's day"
        if when.date_only:
            return _date(when.day)
        return self._clocks[when.zone].written(when.low, False)

    def iso(self, when: When) -> str:
        """Return a time as a file holds it: ISO 8601 with its offset, or a date."""
        if when.date_only:
            return _date(when.day)
        project = self.plan.review.project
        zone = project.time_zone if when.zone == "field" else project.lab_time_zone or project.time_zone
        return iso_time(when.low, zone)


def iso_time(microseconds: int, zone: str) -> str:
    """Return an instant as ISO 8601 with the offset of a zone (UTC where there is none)."""
    import zoneinfo

    utc = dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(microseconds=microseconds)
    local = utc.astimezone(zoneinfo.ZoneInfo(zone) if zone else dt.UTC)
    return local.isoformat(timespec="seconds" if local.second else "minutes")


def _date(day: int) -> str:
    return str(dt.date(1970, 1, 1) + dt.timedelta(days=day))


def _word(item: Item) -> str:
    return visible(item.word.replace("_", " "), 120)


def missing_text(item: Item) -> str:
    """Return why something could not be worked out."""
    phrase = item.missing
    return {
        Lack.UNREADABLE: f"cannot be said: {phrase} cannot be read",
        Lack.CONTRADICTS: f"cannot be said: it needs {phrase}, and what is recorded contradicts that",
        Lack.NO_NUMBER: f"cannot be said: the rules in force do not have {phrase}",
        Lack.LEFT_OUT: f"cannot be said: the rule is not in force here, and it needs {phrase}",
    }.get(item.lack, f"cannot be said: {phrase} is not recorded" if phrase != "the dead volume" else
          "cannot be said without the dead volume")  # fmt: skip


def amount_text(item: Item) -> str:
    """Return a number with its unit, rounded to the side that keeps its limit."""
    if item.unit == "min":
        return _minutes(item.value, item.safe)
    if item.unit == "strokes":
        return f"{item.value:,.0f} {'stroke' if item.value == 1 else 'strokes'}"
    text = safe_figure(item.value, item.safe)
    return f"{text} {item.unit}" if item.unit else text


def safe_figure(value: float, safe: Safe) -> str:
    """Return a number to three figures or to the whole unit, whichever is finer, rounded to its safe side.

    Examples
    --------
    >>> safe_figure(256.43, Safe.UP), safe_figure(256.43, Safe.DOWN), safe_figure(1483.7, Safe.UP)
    ('257', '256', '1,484')
    >>> safe_figure(10.5, Safe.UP), safe_figure(46.866, Safe.NEAREST)
    ('10.5', '46.9')
    """
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else str(value)
    places = max(2 - math.floor(math.log10(abs(value))), 0)
    places = min(places, 2)
    scaled = value * 10**places
    near = round(scaled)
    if safe is Safe.NEAREST or abs(scaled - near) <= 1e-6:
        whole = near
    else:
        whole = math.ceil(scaled) if safe is Safe.UP else math.floor(scaled)
    if whole == 0:
        return figure(value)
    text = f"{whole / 10**places:,.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _minutes(value: float, safe: Safe) -> str:
    seconds = value * 60.0
    near = round(seconds)
    if safe is not Safe.NEAREST and abs(seconds - near) > 1e-6:
        near = math.ceil(seconds) if safe is Safe.UP else math.floor(seconds)
    hours, rest = divmod(near, 3600)
    minutes, left = divmod(rest, 60)
    parts = [f"{hours} h" if hours else "", f"{minutes} min" if minutes else "", f"{left} s" if left else ""]
    return " ".join(part for part in parts if part) or "0 s"


def basis_text(basis: Basis) -> str:
    """Return a rule with its limit, and how the limit is founded where that is not in the issuing body's own text."""
    limit = basis.limit
    told = {Backing.VERIFIED: "", Backing.MEMORY: ", from memory", Backing.PRACTICE: ", common practice"}
    return f"{basis.rule}: {limit.written}{told.get(limit.backing, f', {limit.backing.value}')}"


def limits_used(items: Iterable[Item], more: Sequence[Basis] = ()) -> list[Basis]:
    """Return every limit that the plan came from, once each, in the order of first use."""
    found = {(basis.rule, basis.limit.name): basis for item in items for basis in item.basis}
    found |= {(basis.rule, basis.limit.name): basis for basis in more if (basis.rule, basis.limit.name) not in found}
    return list(found.values())


def standing_limits(plan: Plan, ids: Sequence[str]) -> list[tuple[str, list[Basis]]]:
    """Return the limits of rules in force that no probe changes, by the title of their rule."""
    rules = {rule.id: rule for rule in plan.review.rules}
    return [
        (rules[name].title, [Basis(name, limit) for limit in rules[name].limits]) for name in ids if name in rules
    ]  # fmt: skip


def without_clearance(plan: Plan) -> list[str]:
    """Return what stands at the top of every plan: the probes whose buried services are not shown to be clear."""
    told = {
        "none": ("no clearance of buried services is recorded", "do not drive it"),
        "unreadable": ("the clearance of buried services cannot be read", "do not drive it"),
        "late": ("buried services were cleared only after it was put in", ""),
    }
    out = []
    for state in plan.probes:
        if state.state in ("sampled", "removed") or state.clearance not in told:
            continue
        why, what = told[state.clearance]
        what = what if not state.driven else "it stands in the ground: find out before it is touched"
        out.append(f"{visible(state.probe, 60)}: {why}; {what}")
    return out


def heading(state: ProbeState) -> str:
    """Return what a probe is and how far it has come."""
    place = f"{visible(state.location, 60)}, " if state.location else ""
    kind = {"driven": "driven probe", "implant": "implant", "subslab": "sub-slab probe", "passive": "passive sampler"}
    stands = "in the ground" if state.driven else "not put in yet"
    if state.state != "to sample":
        stands = {"sampled": "sampled", "removed": "removed", "passive": stands}[state.state]
    return f"{place}{kind.get(state.kind, 'kind not recorded')}, {stands}"


def already_against(plan: Plan, sentences: Sentences) -> list[str]:
    """Return findings that what is recorded of probes and equipment earns already, each one sentence."""
    found = plan.review.findings
    tables = {"probes", "equipment_log", "locations", "weather", "containers"}
    wanted = []
    for index in range(len(found)):
        name = found.tables[int(found.table[index])]
        rule = plan.review.rules[int(found.rule[index])]
        broken = int(found.outcome[index]) == Outcome.BROKEN
        if name in tables and (broken or rule.check == "reading") and rule.id != "equipment-blank-frequency":
            wanted.append(index)
    return sentences.of(wanted)


def order_words(plan: Plan) -> list[str]:
    """Return on what the order rests, and where the planned times go against it."""
    out = {
        "earlier results": ["From clean to dirty, by the highest detect that earlier results show of each location."],
        "some earlier results": [
            "From clean to dirty where earlier results tell; nothing is known of the others; they follow as declared."
        ],
        "declared order": ["In the order declared: no earlier result tells which ground is clean and which is dirty."],
    }[plan.ordered_by]
    for dirtier, cleaner in plan.against_times:
        out.append(f"The planned times take {visible(dirtier, 60)} before {visible(cleaner, 60)}, the dirtier first.")
    return out
