"""What the items of a plan are called, and how their numbers, limits and gaps are written for a person."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from vaporqa.criteria import Backing, Limit, Sense
from vaporqa.planning import Basis, Item, Lack, Plan, Safe, When
from vaporqa.report.wording import Clock, figure, visible

#: Lines of a plan: what they are called, and the items that stand in one, those of one sample together.
LINES = (
    ("Buried services", ("services_cleared",)),
    ("Tubing to cut", ("tubing_to_cut",)),
    ("Dead volume", ("dead_volume",)),
    ("Purge", ("purge_least", "purge_most")),
    ("Purge by pump", ("purge_flow", "purge_time_least", "purge_time_most")),
    ("Purge by hand", ("strokes_least", "strokes_most", "stroke_interval")),
    ("Above the water", ("height_above_water",)),
    ("Water", ("water_seen",)),
    ("After installation", ("wait", "earliest_purge", "earliest_sample")),
    ("Rain", ("rain_hold",)),
    ("Flow of the sample", ("sampling_flow",)),
    ("Start vacuum", ("vacuum_expected", "vacuum_start_least")),
    ("Vacuum to close at", ("close_from", "close_at")),
    ("Time to fill", ("fill_time_from", "fill_time_to")),
    ("Duplicates", ("duplicates_due",)),
    ("Equipment blanks", ("equipment_blanks_due",)),
    ("Trip or field blanks", ("trip_blanks_due",)),
)
#: What stands before a number in its line.
_BEFORE = {
    "services_cleared": "cleared ", "tubing_to_cut": "at least ", "purge_least": "at least ", "purge_most": "at most ",
    "purge_flow": "at ", "purge_time_least": "at least ", "purge_time_most": "at most ", "strokes_least": "at least ",
    "strokes_most": "at most ", "stroke_interval": "each in at least ", "water_seen": "seen in the ", "wait": "wait ",
    "earliest_purge": "purge from ", "earliest_sample": "sample from ", "rain_hold": "wait until ",
    "vacuum_expected": "expect ", "vacuum_start_least": "at least ", "close_from": "from ", "close_at": "to ",
    "fill_time_from": "from ", "fill_time_to": "up to ",
}  # fmt: skip
#: And before what cannot be said.
_LACKING = {"earliest_purge": "the hour ", "vacuum_expected": "it "}
#: Said with the deadlines.
WHOLE_DAY = "A date counts to the end of that day at the laboratory; a time is that of the field."
#: The parts of a dead volume.
PARTS = {
    "tubing_part": "tubing", "tip_part": "tip", "void_part": "void of the retraction", "pack_part": "sand pack",
    "seal_part": "dry seal", "train_part": "train", "bulb_part": "glass bulb",
}  # fmt: skip
#: Items of the road to the laboratory, and the verb of each.
DEADLINES = {"preserve_by": "preserve by", "latest_receipt": "at the laboratory by", "latest_analysis": "analysed by"}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a plan.

    Attributes
    ----------
    title, of : str
        What it is called, and the sample or group that it is about.
    text : str
        What is said.
    made_of : str
        The parts of a dead volume.
    note : str
    basis : str
        Rules and limits behind it.
    against, lacks : bool
        It goes against a limit as things stand; something of it could not be worked out.
    """

    title: str
    of: str
    text: str
    made_of: str
    note: str
    basis: str
    against: bool
    lacks: bool


@dataclass(frozen=True, slots=True)
class Deadline:
    """Samples of one container that share their limits and dates: what must be done by when."""

    samples: tuple[str, ...]
    container: str
    analytes: str
    text: str
    basis: str
    lacks: bool


class PlanWords:
    """Writes the items of one plan."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        project = plan.review.project
        zones = {"field": project.time_zone, "laboratory": project.lab_time_zone or project.time_zone}
        self._clocks = {name: Clock(zone) for name, zone in zones.items()}

    def lines(self, items: Sequence[Item]) -> list[Line]:
        """Return the items of a probe, or of the whole day, in lines; deadlines are apart."""
        out = []
        for title, names in LINES:
            mine = [item for item in items if item.name in names]
            for of in dict.fromkeys(item.of for item in mine):
                here = [item for item in mine if item.of == of]
                out.append(self._line(title, of, here, items))
        return out

    def _line(self, title: str, of: str, here: Sequence[Item], items: Sequence[Item]) -> Line:
        # What cannot be said for one reason is said once.
        pieces = dict.fromkeys(
            self._piece(item)
            for item in here
        )  # fmt: skip
        made_of = ""
        if here[0].name == "dead_volume":
            parts = [item for item in items if item.name in PARTS and item.of in ("", of)]
            made_of = " + ".join(
                f"{PARTS[part.name]} {self.text(part)}" + (f" ({part.note})" if part.note else "") for part in parts
            )
            made_of = f"known of it: {made_of}" if made_of and here[0].missing else made_of
        return Line(
            title=title, of=visible(of, 60), text=", ".join(pieces), made_of=made_of,
            note="; ".join(dict.fromkeys(visible(item.note, 240) for item in here if item.note)),
            basis="; ".join(dict.fromkeys(basis_text(basis) for item in here for basis in item.basis)),
            against=any(item.against for item in here), lacks=any(item.missing for item in here),
        )  # fmt: skip

    def _piece(self, item: Item) -> str:
        if item.missing:
            return _LACKING.get(item.name, "") + self.text(item)
        if item.word and item.name != "water_seen":
            return self.text(item)
        return _BEFORE.get(item.name, "") + self.text(item)

    def deadlines(self) -> list[Deadline]:
        """Return what must reach the laboratory by when: samples that share container, limits and dates together."""
        by_limit: dict[tuple[str, str, str, str], list[Item]] = {}
        for item in self.plan.items:
            if item.name in DEADLINES:
                limit = item.basis[-1].limit.name if item.basis else ""
                by_limit.setdefault((item.probe, item.of, item.word, limit), []).append(item)
        groups: dict[tuple[str, str, str, str, bool], list[str]] = {}
        for (_, of, container, _), items in by_limit.items():
            pieces = [
                f"{DEADLINES[item.name].removesuffix(' by')} {item.note}" if item.missing and item.note
                else "" if item.missing else f"{DEADLINES[item.name]} {self.text(item)}"
                for item in items
            ]  # fmt: skip
            pieces += [self.text(item) for item in items if item.missing and not item.note]
            told = "; ".join(dict.fromkeys(piece for piece in pieces if piece))
            about = "; ".join(dict.fromkeys(item.about for item in items if item.about))
            bases = "; ".join(dict.fromkeys(basis_text(basis) for item in items for basis in item.basis))
            key = (container.replace("_", " "), about, told, bases, any(item.missing for item in items))
            groups.setdefault(key, []).append(visible(of, 60))
        return [
            Deadline(tuple(samples), container, visible(about, 300), text, bases, lacks)
            for (container, about, text, bases, lacks), samples in groups.items()
        ]

    def text(self, item: Item) -> str:
        """Return what an item says: a number, a time, a word, or what is missing for it."""
        if item.missing:
            return missing_text(item)
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
    if item.name == "services_cleared":
        return f"{phrase} {'cannot be read' if item.lack is Lack.UNREADABLE else 'is not recorded'}"
    if phrase == "the dead volume":
        return "cannot be said without the dead volume"
    return {
        Lack.UNREADABLE: f"cannot be said: {phrase} cannot be read",
        Lack.CONTRADICTS: f"cannot be said: it needs {phrase}, and what is recorded contradicts that",
        Lack.NO_NUMBER: f"cannot be said: the rules in force do not have {phrase}",
    }.get(item.lack, f"cannot be said: {phrase} is not recorded")


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
    return f"{basis.rule}.{limit.name}: {limit_text(limit)}{told.get(limit.backing, f', {limit.backing.value}')}"


def limit_text(limit: Limit) -> str:
    """Return a limit as a person reads it; one in words says that it asks for them."""
    return f"must be {limit.written}" if limit.sense is Sense.IS else limit.written
