"""The samples of a plan: those that are drawn, those still to be drawn, and probes for which none is listed yet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vaporqa.criteria import Limit, Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.cells import Moment, moments, words
from vaporqa.evidence.clocks import media_of_samples
from vaporqa.evidence.collected import NO
from vaporqa.planning.values import Basis, Lack, When, Wishes
from vaporqa.review.values import Review


@dataclass(frozen=True, slots=True)
class Draw:
    """One sample, planned or drawn.

    Attributes
    ----------
    sample, row : int
        Sample number and row of the samples table; -1 where none is listed.
    key : str
    probe : int
        Probe number, -1 for none.
    kind, medium, container, preserved : str
        Words, empty where unknown; `container_hard` where it cannot be read.
    soil_gas : bool
        The rules of sampling soil gas concern it, as far as is known.
    start : When or None
        Recorded or planned start; else the time that was asked for.
    stated : bool
        The start stands in the folder.
    ended : When or None
    """

    sample: int
    row: int
    key: str
    probe: int
    kind: str
    medium: str
    container: str
    container_hard: bool
    preserved: str
    soil_gas: bool
    start: When | None
    stated: bool
    ended: When | None

    @property
    def drawn(self) -> bool:
        """It has been collected."""
        return self.ended is not None


def when_of(moment: Moment, index: int) -> When | None:
    """Return the time at an index, None where it is not known."""
    if not moment.known[index]:
        return None
    low, high = int(moment.low[index]), int(moment.high[index])
    return When(low, high, int(moment.day[index]), bool(moment.date_only[index]))


def draws_of(ev: Evidence, wishes: Wishes) -> list[Draw]:
    """Every sample of the folder in the order of its table, then one a probe that has none and could have one."""
    out: list[Draw] = []
    samples, table = ev.samples, ev.tables.get("samples")
    if table is not None:
        number = ev.sample_ids.of("samples", "sample_id", table.rows)
        medium, _ = media_of_samples(ev)
        kept, _ = words(table, "preserved")
        for row in np.flatnonzero(table.counts & (number >= 0)).tolist():
            n = int(number[row])
            if int(samples.row[n]) != row:
                continue  # two different rows stand under this id: nothing can be planned on either
            start = when_of(samples.start, n)
            out.append(
                Draw(
                    sample=n, row=row, key=str(ev.sample_ids.names[n]), probe=int(samples.probe[n]),
                    kind=str(samples.kind[n]), medium=str(medium[n]), container=str(samples.container[n]),
                    container_hard=bool(samples.container_hard[n]), preserved=str(kept[row]),
                    soil_gas=bool(samples.soil_gas[n] != NO), start=start or wishes.start, stated=start is not None,
                    ended=when_of(samples.end, n),
                )
            )  # fmt: skip
    has_one = {draw.probe for draw in out if draw.soil_gas}
    probes = ev.tables.get("probes")
    if probes is not None:
        kind, _ = words(probes, "kind")
        removed = moments(probes, "removed_at")
        of_row = ev.probe_ids.of("probes", "probe_id", probes.rows)
        for row in np.flatnonzero(probes.counts & (of_row >= 0)).tolist():
            if int(of_row[row]) not in has_one and kind[row] != "passive" and not removed.known[row]:
                out.append(
                    Draw(
                        sample=-1, row=-1, key="", probe=int(of_row[row]), kind="primary", medium="gas", container="",
                        container_hard=False, preserved="", soil_gas=True, start=wishes.start, stated=False, ended=None,
                    )
                )  # fmt: skip
    return out


class LimitBook:
    """The rules in force, by id and limit name."""

    def __init__(self, review: Review) -> None:
        self._rules = {rule.id: rule for rule in review.rules}

    def rule(self, rule_id: str) -> Rule | None:
        """Return the rule, None where it is not in force."""
        return self._rules.get(rule_id)

    def basis(self, rule_id: str, name: str) -> Basis | None:
        """Return a limit with its rule, None where it is not in force."""
        rule = self._rules.get(rule_id)
        return Basis(rule_id, rule.limit(name)) if rule is not None and _has(rule, name) else None

    def cases(self, rule_id: str) -> tuple[Limit, ...]:
        """Return the limits of a rule in the order of the file; none where it is not in force."""
        rule = self._rules.get(rule_id)
        return rule.limits if rule is not None else ()


def _has(rule: Rule, name: str) -> bool:
    return any(limit.name == name for limit in rule.limits)


def lack_of(hard: bool) -> Lack:
    """Return how a part that is not known is missing."""
    return Lack.UNREADABLE if hard else Lack.NOT_RECORDED
