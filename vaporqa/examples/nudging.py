"""Limits nudged: every number of every limit must be noticed by an example, or it could be anything."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from vaporqa.checks import CHECKS
from vaporqa.criteria import Limit, Rule, Rulebook, Sense
from vaporqa.examples.answers import Case
from vaporqa.examples.running import Judge, judge_by_check, judged_by, rules_named, try_case
from vaporqa.quantities.units import parse_unit

#: A limit moved by this share must be noticed by an example that stands on it (equality is decided at 1e-9).
ON_THE_LIMIT = 1e-6
#: Moved by this share to the other side it must be noticed by an example that stands just past it.
JUST_PAST = 0.1

_SECONDS_PER_DAY = 86_400.0


@dataclass(frozen=True, slots=True)
class UnnoticedLimit:
    """A limit whose number could be another without any example of its rule answering otherwise.

    Attributes
    ----------
    rule, limit : str
    on : bool
        No example stands on the limit.
    past : bool
        No example stands just past it.
    message : str
        ``file:line: ...`` naming what is not noticed.
    """

    rule: str
    limit: str
    on: bool
    past: bool
    message: str


def nudge_limits(
    rulebook: Rulebook, rule_ids: Sequence[str] | None = None, *, judge: Judge = judge_by_check
) -> list[UnnoticedLimit]:
    """Move each number of each limit a little to both sides and return the limits that no example notices.

    To one side it moves by a millionth: an example that stands on the limit must then answer otherwise. To the other
    side by a tenth (one day, or one, where limits are counted): an example just past the limit must then do so.

    Parameters
    ----------
    rulebook, rule_ids, judge
        As for `run_examples`.

    Raises
    ------
    UsageError
        A rule id that does not exist.
    """
    found = []
    for rule in rules_named(rulebook, rule_ids):
        numeric = [limit for limit in rule.limits if limit.sense is not Sense.IS]
        check = CHECKS.get(rule.check)
        if not numeric or (check is not None and not check.numeric):
            continue
        cases = [case for example in rule.examples if (case := try_case(rule, example, rulebook)) is not None]
        before = [_fingerprint(rule, case, judge) for case in cases]
        for limit in numeric:
            missed = {True: False, False: False}
            for on, moved in moves(limit):
                limits = tuple(moved if one.name == limit.name else one for one in rule.limits)
                changed = replace(rule, limits=limits)
                if all(_fingerprint(changed, case, judge) == was for case, was in zip(cases, before, strict=True)):
                    missed[on] = True
            if any(missed.values()):
                found.append(_unnoticed(rule, limit, on=missed[True], past=missed[False]))
    return found


def _fingerprint(rule: Rule, case: Case, judge: Judge) -> tuple[object, ...]:
    """Return everything that may change when a limit moves: states, and which limits broke where."""
    said = []
    for one in judged_by(rule, case, judge):
        entries = sorted(zip(one.row.tolist(), one.outcome.tolist(), one.limit.tolist(), strict=True))
        said.append((one.table, one.state.tobytes(), tuple(entries)))
    return tuple(said)


def moves(limit: Limit) -> Iterator[tuple[bool, Limit]]:
    """Yield the limit moved, and whether an example on it (True) or just past it (False) must notice.

    An inclusive limit is moved against the rows that pass, so that a row on it breaks; an exclusive one towards the
    rows that break, so that a row on it passes.
    """
    if limit.sense is Sense.BETWEEN:
        yield True, replace(limit, value=limit.value + _little(limit.value))
        yield False, replace(limit, value=limit.value - _step(limit, limit.value))
        yield True, replace(limit, upper=limit.upper - _little(limit.upper))
        yield False, replace(limit, upper=limit.upper + _step(limit, limit.upper))
        return
    down_on = limit.sense in (Sense.AT_MOST, Sense.WITHIN, Sense.OVER)
    sign = -1.0 if down_on else 1.0
    yield True, replace(limit, value=limit.value + sign * _little(limit.value))
    yield False, replace(limit, value=limit.value - sign * _step(limit, limit.value))


def _little(value: float) -> float:
    return ON_THE_LIMIT * (abs(value) or 1.0)


def _step(limit: Limit, value: float) -> float:
    """A tenth, but what is counted moves by one: one calendar day, one reading."""
    share = JUST_PAST * abs(value)
    if limit.unit in ("d", "day", "days"):
        return max(share, _SECONDS_PER_DAY)
    known = parse_unit(limit.unit)
    counted = limit.unit != "%" and known is None
    # A limit of nought moves by one of its unit.
    nought = known.factor if known is not None else JUST_PAST
    return max(share, 1.0) if counted and float(limit.number).is_integer() else share or nought


def _unnoticed(rule: Rule, limit: Limit, *, on: bool, past: bool) -> UnnoticedLimit:
    lacking = " and ".join(words for words, lacks in (("on it", on), ("just past it", past)) if lacks)
    message = f"{rule.file}:{rule.line}: no example of {rule.id} stands {lacking}: {limit.name}, {limit.written}"
    return UnnoticedLimit(rule.id, limit.name, on, past, message)
