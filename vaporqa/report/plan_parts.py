"""The parts of a plan that stand by themselves: safety, the order of the stops, limits, what is against a rule."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from vaporqa.outcomes import Outcome
from vaporqa.planning import Basis, Item, Plan, ProbeState, Step
from vaporqa.report.sentences import Sentences
from vaporqa.report.wording import figure, visible

#: Rules that say how each probe is tested and drawn; their limits stand on every plan.
AT_EVERY_PROBE = (
    "shut-in-vacuum", "shut-in-hold", "shut-in-decay", "shut-in-order", "shroud-concentration", "leak-tracer-recovery",
    "purge-vacuum", "purge-to-sample", "sampling-vacuum", "suction-present", "probe-depth", "tip-opened",
    "stick-up-clearance", "water-in-train", "storage-temperature",
)  # fmt: skip
#: Rules whose limits warn people.
WARNINGS = ("methane-explosive", "oxygen-deficient", "hydrogen-sulfide")
#: Probes that nobody drives any more; so many of them are named.
_DONE, _NAMED = ("sampled", "removed"), 12
CLEARANCE = "Where no clearance is recorded nothing is driven, drilled or cored."
ON_THE_DAY = (
    "Read methane and oxygen at each hole before work and while it is open; stop at the readings below.",
    "Mark off the place of work from traffic, and wear what makes you seen.",
    "Lift rods, jacks and hammers with two people or a device; keep hands and feet from under the string.",
    "Local codes, the approved project plan and licensed practice come first; where they ask for more, they hold.",
)


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
        if state.state in _DONE or state.clearance not in told:
            continue
        why, what = told[state.clearance]
        what = what if not state.driven else "it stands in the ground: find out before it is touched"
        out.append(f"{visible(state.probe, 60)}: {why}; {what}")
    done = [visible(state.probe, 60) for state in plan.probes if state.state in _DONE and state.clearance in told]
    if done:
        more = f" and {len(done) - _NAMED:,} more" if len(done) > _NAMED else ""
        out.append(
            f"No clearance in time is recorded of probes that are sampled or removed: {', '.join(done[:_NAMED])}{more}"
        )
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


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop of the day in words: what is known of its ground, and what comes first there."""

    step: Step
    known: str
    first: tuple[str, ...]


def stops(plan: Plan) -> list[Stop]:
    """Return the stops in their order."""
    cleared = {state.probe for state in plan.probes if state.clearance == "recorded"}
    return [_stop(step, cleared=step.probe in cleared) for step in plan.steps]


def _stop(step: Step, *, cleared: bool) -> Stop:
    known = "nothing known"
    if not math.isnan(step.highest):
        known = f"highest so far {figure(step.highest)} ug/m3" if step.highest else "nothing found so far"
    first = [] if cleared else ["have buried services located and cleared, and record it"]
    if step.after:
        first.append(f"its tip still stands at {visible(step.after, 40)}")
    first += [f"clean {visible(piece, 40)} (from {visible(place, 40)})" for piece, place in step.clean]
    first += [
        f"clean {visible(piece, 40)} (from {visible(place, 40)}; no record shows whether it was)"
        for piece, place in step.unsure
    ]
    return Stop(step, known, tuple(first))


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
