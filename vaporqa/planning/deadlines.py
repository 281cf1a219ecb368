"""By when a sample must be preserved, reach the laboratory and be analysed, by its container and its analytes."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from vaporqa.analytes import all_analytes, by_cas
from vaporqa.checks.elapsed import Cases
from vaporqa.criteria import Limit, Option, Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.cells import moments, words
from vaporqa.planning.draws import Draw, LimitBook, lack_of, when_of
from vaporqa.planning.values import Basis, Item, Lack, Safe, When
from vaporqa.tables.values import Bool, Texts

_US_PER_DAY = 86_400_000_000
_US = 1_000_000
_SECONDS_PER_DAY = 86_400
#: Classes of the shipped list whose names say too little.
_CLASSES = {
    "short_canister": "nitrogen compounds, bis(chloromethyl) ether", "fixed_gas": "fixed gases",
    "volatile_organic": "volatile organics",
}  # fmt: skip
_START = "the planned time of sampling (started_at of samples, or --day)"
_SURROGATE = "when the surrogate is added"


@dataclass(frozen=True, slots=True)
class _Listed:
    """The analytes that are asked for: CAS numbers, names, and whether the folder lists them."""

    cas: tuple[str, ...]
    names: tuple[str, ...]
    own: bool


def listed_analytes(ev: Evidence) -> _Listed:
    """Analytes of required_analytes, else of screening_levels, else every one of the shipped list."""
    for name in ("required_analytes", "screening_levels"):
        table = ev.tables.get(name)
        if table is None or not table.rows:
            continue
        found = dict.fromkeys(str(cas) for cas in words(table, "cas")[0][table.counts] if cas)
        if found:
            named = [analyte.name if (analyte := by_cas(cas)) else cas for cas in found]
            return _Listed(tuple(found), tuple(named), own=True)
    return _Listed(tuple(one.cas for one in all_analytes()), tuple(one.name for one in all_analytes()), own=False)


def deadlines(ev: Evidence, draws: Sequence[Draw], book: LimitBook) -> Iterator[Item]:
    """Deadlines of each sample, drawn or planned, of which no result is there yet."""
    rule = book.rule("holding-time")
    if rule is None:
        return
    listed = listed_analytes(ev)
    table = ev.tables.get("samples")
    added, preserved = moments(table, "surrogate_added_at"), moments(table, "preserved_at")
    received = moments(table, "received_at")
    for draw in draws:
        if draw.row < 0 or ev.results_of_samples(np.array([draw.sample])).size:
            continue
        probe = str(ev.probe_ids.names[draw.probe]) if draw.probe >= 0 else ""
        if not draw.container or not draw.medium:
            phrase = "the matrix" if draw.container else "the container"
            lack = lack_of(not draw.container and draw.container_hard)
            yield Item(probe, "latest_analysis", draw.key, missing=phrase, lack=lack)
            continue
        clock = _Clock(draw.ended or draw.start, when_of(added, draw.row), when_of(preserved, draw.row), draw.drawn)
        case = {"medium": draw.medium, "container": draw.container, "preserved": draw.preserved}
        for item in _of_case(Item(probe, "", draw.key), case, clock, listed, rule, book):
            if item.name != "latest_receipt" or not received.known[draw.row]:
                yield item


def deadlines_by_container(ev: Evidence, start: When | None, book: LimitBook) -> Iterator[Item]:
    """Deadlines of every container for gas, for samples of which nobody says yet what they will be taken in."""
    rule = book.rule("holding-time")
    if rule is None:
        return
    listed = listed_analytes(ev)
    found = [limit.when.get("container") for limit in rule.limits if limit.when.get("medium") == "gas"]
    for container in dict.fromkeys(str(one) for one in found if one):
        case = {"medium": "gas", "container": container, "preserved": ""}
        clock = _Clock(start, None, None, drawn=False)
        yield from _of_case(Item("", "", "any sample"), case, clock, listed, rule, book)


@dataclass(frozen=True, slots=True)
class _Clock:
    """From when the time counts."""

    collected: When | None
    surrogate: When | None
    preserved: When | None
    drawn: bool


def _of_case(
    item: Item, case: Mapping[str, str], clock: _Clock, listed: _Listed, rule: Rule, book: LimitBook
) -> Iterator[Item]:
    item = replace(item, word=case["container"])
    found = list(limits_for(case, listed, rule))
    if not found:
        phrase = f"a holding time of {case['medium']} in a {case['container'].replace('_', ' ')}"
        yield replace(item, name="latest_analysis", missing=phrase, lack=Lack.NO_NUMBER)
        return
    for limit, about in found:
        yield from _of_limit(replace(item, about=about), limit, clock, rule, book)
    if case["container"] == "core_sampler":
        # The core goes on in a preserved vial, and the time of that vial counts from the same collection.
        vial = {"medium": case["medium"], "container": "vial", "preserved": "methanol"}
        for limit, about in limits_for(vial, listed, rule):
            whom = "; ".join(part for part in ("once in a preserved vial", about) if part)
            yield from _of_limit(replace(item, about=whom), limit, clock, rule, book)


def _of_limit(item: Item, limit: Limit, clock: _Clock, rule: Rule, book: LimitBook) -> Iterator[Item]:
    basis = Basis(rule.id, limit)
    to_preserve = limit.measure == "collection_to_preservation"
    began, phrase, after = clock.collected, _START, "the end of collection"
    if limit.measure == "surrogate_to_analysis":
        began, phrase, after = clock.surrogate, _SURROGATE, "the surrogate is added"
    last = "preserve_by" if to_preserve else "latest_analysis"
    if to_preserve and clock.preserved is not None:
        return
    receipt = book.basis("holding-time-left", "half") if not to_preserve else None
    wanted: list[tuple[str, float, tuple[Basis, ...]]] = []
    if receipt is not None:
        wanted.append(("latest_receipt", receipt.limit.value, (receipt, basis)))
    wanted.append((last, 1.0, (basis,)))
    for name, share, bases in wanted:
        if began is None:
            # A part of a day does not count: calendar days are whole.
            number = math.floor(limit.number * share) if limit.unit == "d" else limit.number * share
            note = f"{number:g} {limit.unit} after {after}"
            yield replace(item, name=name, basis=bases, missing=phrase, lack=Lack.NOT_RECORDED, note=note)
        else:
            yield replace(item, name=name, basis=bases, when=latest(limit, began, share), safe=Safe.DOWN)


def latest(limit: Limit, began: When, share: float = 1.0) -> When:
    """Return the latest end of a clock that began then and may run for a share of a limit.

    Limits in days are held against calendar days, so that the whole of the last local day at the laboratory counts;
    others against elapsed time. Of a day without a time the beginning counts, which is on the safe side.
    """
    if limit.unit == "d":
        day = began.day + int(limit.value * share / _SECONDS_PER_DAY * (1 + 1e-12))
        return When(day * _US_PER_DAY, (day + 1) * _US_PER_DAY - 1, day, date_only=True, zone="laboratory")
    end = began.low + int(limit.value * share * _US)
    return When(end, end, 0)


def limits_for(case: Mapping[str, str], listed: _Listed, rule: Rule) -> Iterator[tuple[Limit, str]]:
    """Limits that hold for some of the analytes in a sample of a case, each with whom it holds for.

    They are weighed as the check weighs them: of each analyte the first whose case fits; where the preservation is not
    stated every one that could fit up to the first that does.
    """
    size = len(listed.cas)
    fixed = {name: np.full(size, word, object) for name, word in case.items()}
    cas: Texts = np.array(listed.cas, dtype=object)
    cases = Cases({**fixed, "cas": cas}, functools.partial(_in_class, listed.cas), size)
    waiting = np.ones(size, bool)
    found: list[tuple[Limit, Bool]] = []
    for limit in rule.limits:
        fits, could = cases.fits(limit.when)
        mine = waiting & (fits | could)
        if mine.any():
            found.append((limit, mine))
        waiting &= ~fits
    for limit, mine in found:
        words_ = [_whom(limit.when, mine, listed), _kept(limit.when, case)]
        yield limit, "; ".join(word for word in words_ if word)


def _in_class(cas: tuple[str, ...], name: str) -> Bool:
    found = (by_cas(one) for one in cas)
    return np.array([one is not None and name in one.classes for one in found], bool)


def _whom(when: Mapping[str, Option], mine: Bool, listed: _Listed) -> str:
    if mine.all():
        return ""
    names = [listed.names[index] for index in np.flatnonzero(mine).tolist()]
    if listed.own and len(names) <= 6:
        return ", ".join(names)
    told = when.get("class", when.get("cas", ""))
    if not told:
        return "all others"
    if "cas" in when:
        return ", ".join(names)
    group = [str(one) for one in (told if isinstance(told, tuple) else (told,))]
    return ", ".join(_CLASSES.get(one, f"{one.replace('_', ' ')} compounds") for one in group)


def _kept(when: Mapping[str, Option], case: Mapping[str, str]) -> str:
    """How the sample is preserved, where that tells which limit holds and nobody says it."""
    told = when.get("preserved")
    if not told or case["preserved"]:
        return ""
    return "if not preserved" if told == "none" else "if preserved"
