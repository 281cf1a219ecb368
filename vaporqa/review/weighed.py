"""What a rule measured where it holds: a review keeps numbers for what speaks alone, and the rest is weighed again."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from vaporqa.checks import CHECKS
from vaporqa.checks.bound import case_fits
from vaporqa.criteria import Limit, Rule, Sense
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Amounts, EveryEntry, Labels, Measured, every_entry, state_of_rows
from vaporqa.evidence.keeping import comparison, keeps_limit
from vaporqa.evidence.measures import MEASURES
from vaporqa.outcomes import Outcome
from vaporqa.review.measured import in_unit_of_limit
from vaporqa.review.phases import BLANK_CHECKS
from vaporqa.review.values import Review
from vaporqa.tables.values import Bool, Int64


@dataclass(frozen=True, slots=True)
class Figure:
    """A measured number and the limit that it keeps; `value` is in the unit of the limit."""

    value: float
    limit: Limit


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that a rule weighed on a row: the figures that it held against limits, and its facts."""

    measured: Measured
    index: int
    figures: tuple[Figure, ...]


#: Check to the limit that its one number is held against; of the others the number itself tells, or none is a number.
_ONE_LIMIT = {
    "tune_clock": "window", "canister_held": "leak", "rain_wait": "wait", "rechecked": "days",
}  # fmt: skip


#: Checks of which a row that holds has a number or a fact worth saying; the others are not weighed again.
_WORTH_SAYING = ("bound", "elapsed", "agreement", "laboratory_pair", "recovery", "calibration", "blank", "moves")


class WeighedAgain:
    """Weighs rules a second time, each once, when a number of a row that holds is asked for.

    Parameters
    ----------
    review : Review
    most_rows : int or None
        Rules on tables with more rows are not weighed again: a page must not cost as much as the review did.

    Notes
    -----
    Where the second weighing does not come to the outcome that the review has, it says nothing.
    """

    def __init__(self, review: Review, most_rows: int | None = None) -> None:
        self._review = review
        self._most_rows = most_rows
        self._found: dict[int, list[EveryEntry]] = {}
        self._orders: dict[tuple[int, int], tuple[Int64, Int64]] = {}
        self._before_blanks: Evidence | None = None
        self._known: dict[tuple[int, int], tuple[Entry, ...]] = {}
        self._fits: dict[tuple[int, int], Bool] = {}

    def holding(self, judged: int, row: int) -> tuple[Entry, ...]:
        """Return the entries of a row for which ``review.judged[judged]`` holds."""
        if (judged, row) not in self._known:
            self._known[judged, row] = self._holding(judged, row)
        return self._known[judged, row]

    def _holding(self, judged: int, row: int) -> tuple[Entry, ...]:
        review = self._review
        index, one = review.judged[judged]
        rule = review.rules[index]
        name = one.table or rule.row
        table = review.tables.get(name)
        told = rule.check in _WORTH_SAYING or rule.check in _ONE_LIMIT
        if table is None or not told or self._too_large(table.rows):
            return ()
        entries: list[tuple[EveryEntry, int]] = []
        for number, part in enumerate(self._of_rule(index, rule)):
            if (part.measured.table or rule.row) == name:
                entries += [(part, at) for at in self._at(index, number, part, row).tolist()]
        if not entries:
            return ()
        outcome = np.array([int(part.outcome[at]) for part, at in entries], np.uint8)
        if state_of_rows(1, np.zeros(len(entries), np.int64), outcome)[0] != one.state[row]:
            return ()
        kept = [(part.measured, at) for part, at in entries if part.outcome[at] == Outcome.HOLDS]
        return tuple(Entry(measured, at, self._figures(rule, measured, at)) for measured, at in kept)

    def _too_large(self, rows: int) -> bool:
        return self._most_rows is not None and rows > self._most_rows

    def _of_rule(self, index: int, rule: Rule) -> list[EveryEntry]:
        if index not in self._found:
            evidence = self._review.evidence
            if rule.check in BLANK_CHECKS:
                if self._before_blanks is None:
                    review = self._review
                    self._before_blanks = Evidence(review.tables, review.project, review.rulebook)
                evidence = self._before_blanks
            with every_entry() as kept:
                CHECKS[rule.check].run(rule, evidence)
            self._found[index] = kept
        return self._found[index]

    def _at(self, index: int, number: int, part: EveryEntry, row: int) -> Int64:
        if (index, number) not in self._orders:
            order = np.argsort(part.measured.row, kind="stable").astype(np.int64)
            self._orders[index, number] = order, part.measured.row[order]
        order, rows = self._orders[index, number]
        return order[np.searchsorted(rows, row, "left") : np.searchsorted(rows, row, "right")]

    # -- which limit the number was held against -----------------------------------------------------------------

    def _figures(self, rule: Rule, measured: Measured, at: int) -> tuple[Figure, ...]:
        value = float(measured.value[at])
        if rule.check == "bound":
            return self._bound(rule, measured, at)
        if rule.check == "elapsed":
            return self._elapsed(rule, measured, at, value)
        if not math.isfinite(value):
            return ()
        compare = comparison(self._review.evidence)
        found = [
            (rule, limit) for limit in _limits_of(rule, measured, at, value)
            if keeps_limit(limit, np.array([value]), compare)[0]
        ]  # fmt: skip
        return tuple(_figure(one, limit, value) for one, limit in found)

    def _bound(self, rule: Rule, measured: Measured, at: int) -> tuple[Figure, ...]:
        evidence = self._review.evidence
        compare = comparison(evidence)
        out = []
        for limit in rule.limits:
            if limit.sense is Sense.IS or not self._fits_case(limit, measured)[at]:
                continue
            value = measured.value[at : at + 1]
            if limit.measure not in ("", rule.measure):
                parts = [one for one in evidence.measure(MEASURES[limit.measure]) if len(one.row) == len(measured.row)]
                if len(parts) != 1:
                    continue
                value = parts[0].value[at : at + 1]
            if np.isfinite(value[0]) and keeps_limit(limit, value, compare)[0]:
                out.append(_figure(rule, limit, float(value[0])))
        return tuple(out)

    def _fits_case(self, limit: Limit, measured: Measured) -> Bool:
        key = id(measured), id(limit)
        if key not in self._fits:
            self._fits[key] = case_fits(limit.when, measured)
        return self._fits[key]

    def _elapsed(self, rule: Rule, measured: Measured, at: int, value: float) -> tuple[Figure, ...]:
        allowed = measured.facts.get("allowed")
        if not math.isfinite(value) or not isinstance(allowed, Labels):
            return ()
        if "of" in rule.options:
            return (_figure(rule, rule.limits[0], value),)
        said = str(allowed.values[at])
        for limit in rule.limits:
            if f"{limit.number:g} {limit.unit}" == said:
                return (_figure(rule, limit, value),)
        return ()


def _figure(rule: Rule, limit: Limit, value: float) -> Figure:
    number = np.array([rule.limits.index(limit)], np.int16)
    return Figure(float(in_unit_of_limit(rule, number, np.array([value]))[0]), limit)


def _limits_of(rule: Rule, measured: Measured, at: int, value: float) -> list[Limit]:
    """Limits that the one number of an entry was held against."""
    names: tuple[str, ...] = ()
    if rule.check in _ONE_LIMIT:
        names = (_ONE_LIMIT[rule.check],)
    elif rule.check in ("agreement", "laboratory_pair"):
        names = ("rpd",) if _is_rpd(measured, at, value) else ("difference",)
    elif rule.check == "recovery":
        printed = [_amount(measured, name, at) for name in ("printed_low", "printed_high")]
        asks = str(rule.options.get("asks", "number"))
        defaults = tuple(name for name, own in zip(("low", "high"), printed, strict=True) if math.isnan(own))
        names = {"number": defaults, "dilution": ("dilution",)}.get(asks, ())
    elif rule.check == "calibration":
        of = str(rule.options.get("of", ""))
        if of == "initial_calibration":
            spread = _amount(measured, "rsd", at) == value
            names = ("spread", "allowed") if spread else ("level",)
        else:
            names = ("least",) if of == "response_factor" else ("low", "high")
    return [limit for limit in rule.limits if limit.name in names and limit.sense is not Sense.IS]


def _is_rpd(measured: Measured, at: int, value: float) -> bool:
    """Whether the number of a pair is the relative difference (the other test counts multiples of a limit)."""
    one, other = _amount(measured, "result", at), _amount(measured, "other_result", at)
    if not math.isfinite(one + other):
        return True  # a stated RPD
    mean = (one + other) / 2.0
    return mean != 0 and math.isclose(abs(one - other) / mean, value, rel_tol=1e-9, abs_tol=1e-12)


def _amount(measured: Measured, name: str, at: int) -> float:
    fact = measured.facts.get(name)
    return float(fact.values[at]) if isinstance(fact, Amounts) else math.nan


__all__ = ["Entry", "Figure", "WeighedAgain"]
