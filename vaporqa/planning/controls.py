"""Duplicates and blanks that the rules on frequency ask for, and where they tell most."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from vaporqa.checks.frequency import blanks_by_day, due, duplicate_groups
from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.cells import words
from vaporqa.evidence.made import is_made
from vaporqa.planning.draws import Draw, LimitBook
from vaporqa.planning.order import Ordered
from vaporqa.planning.values import Basis, Item, Step

_EPOCH = date(1970, 1, 1)
_TRAVEL = ("trip_blank", "field_blank")
#: Name of a group that takes in the whole folder.
_ALL = "the folder"


def duplicates(ev: Evidence, draws: Sequence[Draw], order: Ordered, book: LimitBook) -> Iterator[Item]:
    """Duplicates due in each group of samples, those that are listed taken off."""
    rule = book.rule("duplicate-frequency")
    if rule is None:
        return
    table = ev.tables.get("samples")
    groups: dict[str, tuple[int, int]] = {}
    to_come = {draw.row for draw in draws if draw.soil_gas and not draw.drawn}
    if table is not None and not is_made(table):
        # A group of which everything is drawn is no longer planned; what it lacks is a finding.
        groups = {
            group.name: (group.found[0], group.served[1])
            for group in duplicate_groups(ev, table) if to_come & set(group.own)
        }  # fmt: skip
    unlisted = sum(draw.row < 0 for draw in draws)
    if unlisted:
        found, served = groups.get("", (0, 0))
        groups[""] = (found, served + unlisted)
    for name, (found, served) in sorted(groups.items()):
        if not served:
            continue
        count, index = due(rule, served)
        rest = max(count - found, 0)
        note = f"for {served} primary {_samples(served)}; {found} listed, {rest} still to plan"
        if rest:
            note += f": {_where(order.steps)}"
        yield Item("", "duplicates_due", name or _ALL, value=float(count), basis=(Basis(rule.id, rule.limits[index]),),
                   note=note)  # fmt: skip


def _samples(count: int) -> str:
    return "sample" if count == 1 else "samples"


def _where(steps: Sequence[Step]) -> str:
    known = [step for step in steps if not math.isnan(step.highest)]
    if known and known[-1].highest > 0:
        dirtiest = max(known, key=lambda step: step.highest)
        return f"take it at {dirtiest.probe}, the dirtiest that is known, where it tells most"
    return "take it where contamination is expected; no earlier result tells where"


def equipment_blanks(ev: Evidence, draws: Sequence[Draw], order: Ordered, book: LimitBook) -> Iterator[Item]:
    """Equipment blanks due on each day that is still to come, where reusable equipment is in use."""
    rule = book.rule("equipment-blank-frequency")
    if rule is None or not order.reusable or not order.steps:
        return
    log = ev.tables.get("equipment_log")
    logged, _ = blanks_by_day(log) if log is not None else ({}, 0)
    served: Counter[int | None] = Counter()
    to_come = set()
    for draw in draws:
        if not draw.soil_gas:
            continue
        when = draw.start or draw.ended
        day = when.day if when is not None else None
        served[day] += 1
        if not draw.drawn:
            to_come.add(day)
    for day in sorted(to_come, key=lambda one: -1 if one is None else one):
        count, index = due(rule, served[day])
        made = logged.get(day, 0) if day is not None else 0
        name = str(_EPOCH + timedelta(days=day)) if day is not None else "each day of sampling"
        rest = max(count - made, 0)
        note = f"for {served[day]} {_samples(served[day])}; {made} logged, {rest} still to take"
        if rest:
            note += f": {_after_which(order.steps)}"
        yield Item("", "equipment_blanks_due", name, value=float(count), basis=(Basis(rule.id, rule.limits[index]),),
                   note=note)  # fmt: skip


def _after_which(steps: Sequence[Step]) -> str:
    known = [step for step in steps if not math.isnan(step.highest) and step.highest > 0]
    if known:
        dirtiest = max(known, key=lambda step: step.highest)
        return f"through the equipment as cleaned after {dirtiest.probe}, the dirtiest stop that is known"
    return "through equipment as cleaned between two stops"


def trip_blanks(ev: Evidence, draws: Sequence[Draw], book: LimitBook) -> Iterator[Item]:
    """Trip or field blanks without which some containers prove nothing, by shipment."""
    rule: Rule | None = book.rule("trip-blank")
    table = ev.tables.get("samples")
    if rule is None or table is None or not rule.limits:
        return
    needed = rule.options.get("needed_for")
    containers = {str(one) for one in needed} if isinstance(needed, tuple) else {str(needed)}
    shipment, _ = words(table, "shipment_id")
    travel = Counter(str(shipment[draw.row]) for draw in draws if draw.row >= 0 and draw.kind in _TRAVEL)
    served = Counter(
        str(shipment[draw.row]) for draw in draws
        if draw.row >= 0 and draw.kind not in _TRAVEL and draw.container in containers
    )  # fmt: skip
    for name, count in sorted(served.items()):
        found = travel[name]
        note = f"for {count} in {' or '.join(sorted(one.replace('_', ' ') for one in containers))}; {found} listed"
        if not found:
            note += "; without one these results cannot be proven"
        yield Item("", "trip_blanks_due", name or "the shipment", value=1.0,
                   basis=(Basis(rule.id, rule.limits[0]),), note=note)  # fmt: skip
