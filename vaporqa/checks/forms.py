"""`forms`: a number by mass and the same number by volume agree at the declared reference conditions.

One steady offset of a laboratory (another reference temperature) is said once, not pair by pair.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from vaporqa.criteria import RELATIVE_TOLERANCE, Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.clocks import judged_results
from vaporqa.evidence.forms import QUANTITIES, Pairs, pairs_of, rounding, steady_ratio
from vaporqa.evidence.judged import Amounts, Facts, Judged, Labels, Links, Want
from vaporqa.evidence.keeping import comparison, keeps_limit
from vaporqa.outcomes import Outcome
from vaporqa.quantities.constants import ICE_POINT
from vaporqa.tables.values import Bool, Float, Int64, Texts

OPTIONS = {
    "steady_pairs": "how many pairs at least show a steady offset",
    "steady_share": "share of the pairs precise enough to tell that must fit it, such as 0.9",
}


_OPPOSED = Want("one form says that it was detected, the other that it was not", ())


@dataclass(frozen=True, slots=True)
class _Steady:
    """One offset of one laboratory: the pairs that it explains (as bool by pair), and the one that shows it best."""

    laboratory: str
    ratio: float
    pairs: Bool
    witness: int


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge every number that stands in both forms, on the row by mass.

    The first limit is what may part the two beyond rounding; past the second one of the two must be wrong.
    """
    table, pairs = evidence.tables.get("results"), pairs_of(evidence)
    if table is None or pairs is None:
        return ()
    agree, wrong = rule.limit("agree"), rule.limit("wrong")
    unknown = np.isnan(pairs.converted)
    state = np.zeros(table.rows, np.uint8)
    state[pairs.row] = Outcome.HOLDS
    state[pairs.row[unknown]] = Outcome.UNPROVEN
    off = pairs.off
    with np.errstate(invalid="ignore"):
        apart = np.flatnonzero(np.abs(off) > agree.value * (1 + RELATIVE_TOLERANCE)).astype(np.int64)
    open_to = rounding(table, pairs.take(apart))
    room = np.full(len(off), agree.value)
    room[apart] += open_to
    broken = np.zeros(len(off), bool)
    broken[apart] = np.abs(off[apart]) > room[apart] * (1 + RELATIVE_TOLERANCE)
    steady = _steady(rule, evidence, pairs, off, room, broken)
    single = broken.copy()
    for one in steady:
        single &= ~one.pairs
    picked = _worst_of_rows(pairs, off, room, single)
    size = len(picked)
    entry = np.concatenate([picked, np.array([one.witness for one in steady], np.int64)])
    offset = np.concatenate([off[picked], np.array([one.ratio - 1.0 for one in steady])])
    past = ~keeps_limit(wrong, np.abs(offset), comparison(evidence))
    state[pairs.row[broken]] = Outcome.BROKEN
    opposed = _opposed(evidence)
    state[opposed] = np.maximum(state[opposed], Outcome.UNPROVEN)
    doubt, plain = len(opposed), len(entry)
    explained = [np.flatnonzero(one.pairs) for one in steady]
    own = _links((size + place, np.unique(pairs.row[index])) for place, index in enumerate(explained))
    return (
        Judged(
            state=state,
            row=np.concatenate([pairs.row[picked], np.full(len(steady), -1, np.int64), opposed]),
            outcome=np.repeat(np.array([Outcome.BROKEN, Outcome.UNPROVEN], np.uint8), [plain, doubt]),
            limit=np.append(
                np.where(past, rule.limits.index(wrong), rule.limits.index(agree)), np.full(doubt, -1)
            ).astype(np.int16),
            measured=np.append(offset, np.full(doubt, np.nan)),
            want=np.repeat(np.array([-1, 0], np.int16), [plain, doubt]),
            wants=(_OPPOSED,),
            hard=np.repeat([False, True], [plain, doubt]),
            facts=_facts(evidence, pairs, entry, steady, size, opposed),
            subject=np.array([""] * size + _subjects(evidence, steady) + [""] * doubt, dtype=object),
            alone=True,
            own=own,
        ),
    )


def _opposed(evidence: Evidence) -> Int64:
    """Rows by mass whose row by volume says the opposite of whether it was detected."""
    assert evidence.results is not None
    return np.flatnonzero(judged_results(evidence) & evidence.results.opposed).astype(np.int64)


def _subjects(evidence: Evidence, steady: list[_Steady]) -> list[str]:
    """Laboratories, where the folder has several."""
    several = _laboratories(evidence)[1]
    return [one.laboratory if several else "" for one in steady]


def _links(groups: Iterable[tuple[int, Int64]]) -> Links:
    listed = list(groups)
    nothing = np.empty(0, np.int64)
    return Links(
        np.concatenate([nothing, *(np.full(len(rows), place, np.int64) for place, rows in listed)]),
        np.concatenate([nothing, *(rows for _, rows in listed)]),
    )


def _worst_of_rows(pairs: Pairs, off: Float, room: Float, broken: Bool) -> Int64:
    """Of each row the pair that is furthest beyond what is allowed."""
    index = np.flatnonzero(broken)
    order = index[np.lexsort((pairs.quantity[index], room[index] - np.abs(off[index]), pairs.row[index]))]
    first = np.ones(len(order), bool)
    first[1:] = pairs.row[order][1:] != pairs.row[order][:-1]
    return order[first].astype(np.int64)


def _laboratories(evidence: Evidence) -> tuple[Texts, bool]:
    """Laboratory of each row of results, and whether there are several."""
    table = evidence.tables.get("results")
    assert table is not None
    text = table.text("laboratory")
    if text is None:
        return np.full(table.rows, "", object), False
    return np.append(text.words, "")[text.codes], len(np.unique(text.codes)) > 1


def _steady(rule: Rule, evidence: Evidence, pairs: Pairs, off: Float, room: Float, broken: Bool) -> list[_Steady]:
    table = evidence.tables.get("results")
    assert table is not None
    if not broken.any():
        return []
    laboratory = _laboratories(evidence)[0][pairs.row]
    least, share = int(float(str(rule.options["steady_pairs"]))), float(str(rule.options["steady_share"]))
    found = []
    for name in np.unique(laboratory[broken].astype(str)).tolist():
        mine = np.flatnonzero((laboratory == name) & ~np.isnan(off))
        ratio = steady_ratio(1.0 + off[mine], room[mine], least, share)
        if np.isnan(ratio):
            continue
        explained = np.zeros(len(off), bool)
        explained[mine] = broken[mine] & (np.abs((1.0 + off[mine]) / ratio - 1.0) <= room[mine])
        keys = [(room[i], str(table.keys[pairs.row[i]]), int(pairs.quantity[i])) for i in np.flatnonzero(explained)]
        witness = int(np.flatnonzero(explained)[keys.index(min(keys))])
        found.append(_Steady(name, ratio, explained, witness))
    return found


def _facts(evidence: Evidence, pairs: Pairs, entry: Int64, steady: list[_Steady], size: int, opposed: Int64) -> Facts:
    names = evidence.analyte_names(pairs.row[entry])
    what = np.array([one.replace("_", " ") for one in QUANTITIES], dtype=object)[pairs.quantity[entry]]
    subject = (names + ", " + what).astype(object) if len(entry) else np.empty(0, object)
    hint: Texts = np.full(len(entry), "", object)
    for place, one in enumerate(steady, start=size):
        count = int(one.pairs.sum())
        subject[place] = f"{count} pairs alike, such as {subject[place]}"
        kelvin = (evidence.project.reference_temperature + ICE_POINT.value) / one.ratio
        hint[place] = f"; it fits a reference temperature of {kelvin - ICE_POINT.value:.1f} degC"
    nothing = np.full(len(opposed), np.nan)
    return {
        "subject": Labels(np.append(subject, evidence.analyte_names(opposed))),
        "mass": Amounts(np.append(pairs.mass[entry], nothing), "ug/m3"),
        "volume": Amounts(np.append(pairs.volume[entry], nothing), "ppbv"),
        "expected": Amounts(np.append(pairs.converted[entry], nothing), "ug/m3"),
        "hint": Labels(np.append(hint, np.full(len(opposed), "", object))),
    }
