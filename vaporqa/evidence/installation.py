"""How a probe was put in: waiting time, depth, water, tip, rods and tubing, and the hole it replaces. Lengths m."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import lru_cache, reduce
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Known, Moment, moments, numbers, words
from vaporqa.evidence.drawing import US_PER_S, difference, labels, nothing, purge_begun, soil_gas_of_rows
from vaporqa.evidence.judged import Amounts, Facts, Labels, Measured, Stamps, Want
from vaporqa.quantities.units import parse_unit
from vaporqa.tables.values import Table, Texts

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

_AUGERS = ("hand_auger", "hollow_stem_auger")
_PUSHED = ("hand_driven", "direct_push")
_DRILLED = ("rotary", "sonic", "air_hammer")
#: What a sentence calls each way of making the hole.
_WAY_NAMES = {
    "subslab": "sub-slab probe", "pushed": "driven or pushed probe", "implanted": "implant in a pushed hole",
    "augered": "probe in an augered hole", "drilled": "probe in a drilled hole",
}  # fmt: skip
_BOTTOM = "the bottom of the open interval"
_WANTS = (
    Want("the kind of probe", (("probes", "kind"),)),
    Want("how the hole was made", (("probes", "install_method"),)),
    Want("whether a pilot hole was augered", (("probes", "pilot_hole"),)),
    Want("the time of day of the installation or of the draw"),
    Want("the kind of probe, or a time of day that decides without it", (("probes", "kind"),)),
)


@lru_cache(maxsize=256)
def ways_of(kind: str, method: str, pilot: str) -> tuple[tuple[str, ...], int]:
    """Every way in which a hole may have been made, the kindest first, and which of the wants would decide it.

    An empty word is one that nobody wrote down: each way that it leaves open stays possible.
    """
    if kind == "subslab":
        return ("subslab",), -1
    if pilot == "augered" or method in _AUGERS:
        return (("augered",), -1) if kind else (("subslab", "augered"), 0)
    if method in _DRILLED:
        return (("drilled",), -1) if kind else (("subslab", "drilled"), 0)
    pushed = {"driven": ("pushed",), "": ("pushed", "implanted")}.get(kind, ("implanted",))
    if method in _PUSHED or kind == "driven":
        return (pushed, -1 if kind else 4) if pilot else ((*pushed, "augered"), 2)
    if method == "core_drill" and kind:
        return ("augered", "drilled"), 1
    return (*pushed, "augered", "drilled"), 1 if kind else 0


def equilibration(ev: Evidence) -> Measured:
    """Seconds from the installation to the purge (else the start) of each soil-gas sample; one entry a sample.

    A date without a time leaves a shortest and a longest wait; a hole of which too little is written down leaves
    several ways of making it. The kindest reading leads, the others stand beside it.
    """
    table = ev.tables.get("probes")
    if table is None:
        return nothing()
    links = soil_gas_of_rows(ev, table)
    row, sample = links.entry, links.target
    kind, kind_hard = words(table, "kind")
    method, method_hard = words(table, "install_method")
    pilot, pilot_hard = words(table, "pilot_hole")
    asked = Asked(row, table.counts[row] & (kind[row] != "passive"))
    installed = moments(table, "installed_at").take(row)
    purge, start = purge_begun(ev), ev.samples.start
    begun = _first_of(purge, start).take(sample)
    asked.need(installed, "when the probe was installed", ("probes", "installed_at"))
    asked.need(begun, "when its purge or sample began", ("purges", "started_at"), ("samples", "started_at"))
    asked.hard_where((kind_hard | method_hard | pilot_hard)[row])
    found = [ways_of(str(k), str(m), str(p)) for k, m, p in zip(kind[row], method[row], pilot[row], strict=True)]
    depth = max((len(ways) for ways, _ in found), default=1)
    longest = (begun.high - installed.low) / US_PER_S
    shortest = (begun.low - installed.high) / US_PER_S
    ids = np.array([*ev.sample_ids.names, ""], dtype=object)
    facts: Facts = {
        "sample": Labels(ids[sample]),
        "way": Labels(labels([_WAY_NAMES[ways[0]] for ways, _ in found])),
        "installed": Stamps(installed.low, installed.date_only),
        "begun": Stamps(begun.low, begun.date_only),
        "by": Labels(np.where(purge.take(sample).known, "purge", "sample").astype(object)),
    }
    entry = np.arange(len(row), dtype=np.int64)
    first = asked.measured(longest, facts=facts, samples=replace(links, entry=entry))
    readings = []
    for place in range(depth):
        way = labels([ways[min(place, len(ways) - 1)] for ways, _ in found])
        for wait in (longest, shortest):
            value = np.where(np.isfinite(first.value), wait, np.nan)
            readings.append(replace(first, value=value, cases={"way": way, "equilibration": way}))
    decided = np.array([want if want >= 0 else 3 for _, want in found], dtype=np.int16) + len(first.wants)
    wants = (*first.wants, *_WANTS)
    lead, *others = (replace(reading, wants=wants) for reading in readings)
    unreadable = (kind_hard | method_hard | pilot_hard)[row]
    lead = replace(lead, decided_by=decided.astype(np.int16), hard=lead.hard | unreadable)
    return replace(lead, otherwise=tuple(others))


def _first_of(purge: Moment, start: Moment) -> Moment:
    """The purge or the start of each sample, whichever came first; the start alone where there is no purge."""
    use = (~purge.known & ~purge.hard) | (purge.known & start.known & (start.low < purge.low))
    return Moment(
        np.where(use, start.low, purge.low), np.where(use, start.high, purge.high), np.where(use, start.day, purge.day),
        np.where(use, start.date_only, purge.date_only), np.where(use, start.known, purge.known),
        np.where(use, start.hard, purge.hard),
    )  # fmt: skip


def _by_probe(
    ev: Evidence, of: Callable[[Table], Known], phrase: str, *columns: str,
    facts: Callable[[Table], Facts] | None = None,
) -> Measured:  # fmt: skip
    """One entry a probe row, reaching the soil-gas samples drawn from it; passive samplers are not concerned."""
    table = ev.tables.get("probes")
    if table is None:
        return nothing()
    kind, _ = words(table, "kind")
    asked = Asked(np.arange(table.rows, dtype=np.int64), table.counts & (kind != "passive"))
    value = of(table)
    asked.need(value, phrase, *(("probes", column) for column in columns))
    return asked.measured(value.value, facts=facts(table) if facts else {}, samples=soil_gas_of_rows(ev, table))


def _gap(ev: Evidence, columns: Mapping[str, str]) -> Measured:
    """The first column less all the others, of each probe row; what is missing is named column by column."""
    table = ev.tables.get("probes")
    if table is None:
        return nothing()
    kind, _ = words(table, "kind")
    asked = Asked(np.arange(table.rows, dtype=np.int64), table.counts & (kind != "passive"))
    parts = [numbers(table, column) for column in columns]
    for part, (column, phrase) in zip(parts, columns.items(), strict=True):
        asked.need(part, phrase, ("probes", column))
    return asked.measured(reduce(difference, parts).value, samples=soil_gas_of_rows(ev, table))


def intake_depth(ev: Evidence) -> Measured:
    """Depth of the top of the sand pack, else of the open interval."""

    def taken(table: Table) -> Facts:
        pack = numbers(table, "sand_pack_top")
        return {"top_of": Labels(np.where(pack.known, "the sand pack", "the open interval").astype(object))}

    return _by_probe(
        ev, lambda table: numbers(table, "sand_pack_top").or_else(numbers(table, "depth_top")),
        "the depth of the sand pack or of the open interval", "sand_pack_top", "depth_top", facts=taken,
    )  # fmt: skip


def height_above_water(ev: Evidence) -> Measured:
    """How far the bottom of the open interval stands above the water."""
    return _gap(ev, {"water_depth": "the depth of the water", "depth_bottom": _BOTTOM})


def retraction(ev: Evidence) -> Measured:
    """How far the string was drawn back; a dedicated tip is concerned only where that is stated."""
    found = _by_probe(ev, lambda table: numbers(table, "retraction"), "how far the string was drawn back", "retraction")
    table = ev.tables.get("probes")
    if table is None:
        return found
    use, _ = words(table, "tip_use")
    stated = numbers(table, "retraction")
    return replace(found, concerned=found.concerned & ((use != "dedicated") | stated.known | stated.hard))


def tubing_beyond_rods(ev: Evidence) -> Measured:
    """Tubing length less rod length."""
    found = _gap(ev, {"tubing_length": "the length of the tubing", "rod_length": "the length of the rods"})
    table = ev.tables.get("probes")
    if table is None:
        return found
    tubing, rods = _feet(numbers(table, "tubing_length")), _feet(numbers(table, "rod_length"))
    return replace(found, facts={"tubing": tubing, "rods": rods})


def _feet(length: Known) -> Amounts:
    foot = parse_unit("ft", "length")
    assert foot is not None
    return Amounts(np.asarray(foot.from_canonical(length.value)), "ft", digits=5)


def stick_up(ev: Evidence) -> Measured:
    """What stands out of the ground for the extraction jack."""
    return _by_probe(ev, lambda table: numbers(table, "stick_up"), "the stick-up", "stick_up")


def interval_over_retraction(ev: Evidence) -> Measured:
    """Length of the open interval less the retraction that opened it."""
    columns = {"depth_bottom": _BOTTOM, "depth_top": "the top of the open interval", "retraction": "the retraction"}
    return _gap(ev, columns)


def total_depth(ev: Evidence) -> Measured:
    """Total depth of the probe."""
    return _by_probe(ev, lambda table: numbers(table, "total_depth"), "the total depth", "total_depth")


def replacement_distance(ev: Evidence) -> Measured:
    """Distance of a probe from the one it replaces, by the coordinates of their locations."""
    table, places = ev.tables.get("probes"), ev.tables.get("locations")
    if table is None:
        return nothing()
    old = ev.probe_ids.of("probes", "replaces_probe_id", table.rows)
    asked = Asked(np.arange(table.rows, dtype=np.int64), table.counts & (old >= 0))
    names = np.array([*ev.probe_ids.names, ""], dtype=object)
    facts: Facts = {"replaced": Labels(names[old])}
    here = ev.location_ids.of("probes", "location_id", table.rows)
    old_row = ev.probe_ids.rows_of(old)
    there = np.where(old_row >= 0, here[np.maximum(old_row, 0)], -1)
    asked.need(there >= 0, "the location of the probe that it replaces", ("probes", "replaces_probe_id"))
    if places is None:
        asked.need(np.zeros(table.rows, bool), "where both holes lie", ("locations", "*"))
        return asked.measured(np.full(table.rows, np.nan), facts=facts)
    steps = []
    for column in ("x", "y"):
        at = numbers(places, column)
        parts = [at.take(ev.location_ids.rows_of(number)) for number in (here, there)]
        for part in parts:
            asked.need(part, "where both holes lie", ("locations", column))
        steps.append(difference(*parts).value)
    measurable = in_metres(ev, places)
    comparable = [np.append(measurable, "")[ev.location_ids.rows_of(number)] for number in (here, there)]
    alike = (comparable[0] != "") & (comparable[0] == comparable[1])
    asked.need(alike, "one projected system for the coordinates of both holes", ("locations", "crs"))
    return asked.measured(np.hypot(*steps), facts=facts)


#: Coordinate systems that count in metres: the zones of the universal transverse Mercator grid on the usual datums.
_METRIC = (("epsg:326", 60), ("epsg:327", 60), ("epsg:269", 23), ("epsg:258", 38))


def in_metres(ev: Evidence, places: Table) -> Texts:
    """Name of the system in which each location's coordinates are metres; empty where they are degrees or not known.

    A unit of length in the header (or under `units:`) makes them metres in the site's own system, or in the row's crs.
    """
    crs, _ = words(places, "crs")
    lengths = [_has_length(ev, places, column) for column in ("x", "y")]
    local = np.full(places.rows, "the site's own grid", object)
    if all(lengths):
        return np.where(crs == "", local, crs)
    known = [text if _is_metric(text) else "" for text in crs.astype(str)]
    return np.array(known, dtype=object)


def _has_length(ev: Evidence, places: Table, column: str) -> bool:
    header = places.headers.get(column, "")
    _, _, inside = header.partition("[")
    unit = inside.rstrip("] ") or ev.project.units.get(f"locations.{column}", "")
    return bool(unit) and parse_unit(unit, "length") is not None


def _is_metric(crs: str) -> bool:
    folded = crs.replace(" ", "").casefold()
    for stem, zones in _METRIC:
        zone = folded.removeprefix(stem)
        if zone != folded and zone.isdigit() and len(zone) == 2 and 1 <= int(zone) <= zones:
            return True
    return False
