"""From what the rules said to findings: consequences, findings on a whole table, keys and ids, what each reaches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Judged, Labels, Links, Want, distinct_links
from vaporqa.outcomes import NOTE, NOTHING, UNPROVEN, Effect, Letter, Outcome, Pair
from vaporqa.review.measured import in_unit_of_limit
from vaporqa.tables.values import Bool, Float, Int16, Int64, Tables, Texts, UInt8


@dataclass(slots=True)
class Pile:
    """Findings of one rule and table, still apart, (m,): see `review.values.Findings` for the meaning."""

    rule: int
    judged: int
    table: str
    row: Int64
    outcome: UInt8
    detect: Int16
    nondetect: Int16
    limit: Int16
    measured: Float
    entry: Int64
    want: Texts
    subject: Texts
    own: Links
    samples: Links
    results: Links
    pair_detect: Int16
    pair_nondetect: Int16
    #: Contract column of each finding of reading; None for other rules.
    columns: Texts | None = None
    silent: int = 0
    #: What was missing: entries that earned a finding for want of it, and entries that were silent about it.
    lacking: dict[tuple[str, tuple[tuple[str, str], ...]], tuple[int, int]] = field(default_factory=dict)


def pile_of(rule_index: int, rule: Rule, judged_index: int, judged: Judged, tables: Tables) -> Pile:
    """Give each speaking entry its consequence, drop the silent ones, and merge what is the same for a whole table."""
    size = len(judged.row)
    detect, nondetect = _letters(rule, judged)
    name = judged.table or rule.row
    quiet = _quiet(judged, detect, nondetect)
    lacking = _lacking(judged, quiet)
    group = np.arange(size, dtype=np.int64)
    if not judged.alone:
        group = _whole_table(judged, tables)
    keep = np.flatnonzero(~quiet)
    leaders, number = np.unique(group[keep], return_inverse=True)
    # The first entry of a group leads it; groups are numbered by their first entry.
    first = np.full(len(leaders), size, np.int64)
    np.minimum.at(first, number.reshape(-1), keep)
    order = np.argsort(first, kind="stable")
    rank = np.empty(len(leaders), np.int64)
    rank[order] = np.arange(len(leaders))
    of_entry = np.full(size, -1, np.int64)
    of_entry[keep] = rank[number.reshape(-1)]
    lead = first[order]
    merged = leaders[order] < 0
    row = np.where(merged, -1, judged.row[lead])
    own_entry, own_row = of_entry[keep], judged.row[keep]
    inside = own_row >= 0
    own = Links(own_entry[inside], own_row[inside])
    if judged.own is not None:
        more = of_entry[judged.own.entry]
        own = Links(
            np.concatenate([own.entry, more[more >= 0]]),
            np.concatenate([own.target, judged.own.target[more >= 0]]),
        )
    if rule.reaches == "row":
        judged = replace(judged, samples=Links.none(), results=Links.none(), letters=None)
    samples = _renumber(judged.samples, of_entry)
    taken = of_entry[judged.results.entry] >= 0
    results = Links(of_entry[judged.results.entry][taken], judged.results.target[taken])
    if judged.letters is not None:
        pair_detect, pair_nondetect = judged.letters[0][taken], judged.letters[1][taken]
    else:
        pair_detect, pair_nondetect = detect[lead][results.entry], nondetect[lead][results.entry]
    phrases: Texts = np.array([*(want.phrase for want in judged.wants), ""], dtype=object)
    subject = judged.subject[lead] if judged.subject is not None else np.full(len(lead), "", object)
    return Pile(
        rule=rule_index, judged=judged_index, table=name, row=row.astype(np.int64), outcome=judged.outcome[lead],
        detect=detect[lead], nondetect=nondetect[lead], limit=judged.limit[lead],
        measured=in_unit_of_limit(rule, judged.limit[lead], judged.measured[lead]),
        entry=lead, want=phrases[judged.want[lead]], subject=subject, own=own, samples=samples, results=results,
        pair_detect=pair_detect.astype(np.int16), pair_nondetect=pair_nondetect.astype(np.int16),
        columns=_columns(judged, lead), silent=int(quiet.sum()), lacking=lacking,
    )  # fmt: skip


def with_other_forms(pile: Pile, evidence: Evidence) -> Pile:
    """Take what stands on or reaches one form of a result to its other form, so that both end alike."""
    results = evidence.results
    if results is None or not (results.form_of >= 0).any():
        return pile
    other, size = results.other_form, len(results.form_of)
    entry, row = pile.results.entry, pile.results.target
    detect, nondetect = pile.pair_detect, pile.pair_nondetect
    if pile.table == "results":
        entry, row = np.concatenate([pile.own.entry, entry]), np.concatenate([pile.own.target, row])
        detect = np.concatenate([pile.detect[pile.own.entry], detect])
        nondetect = np.concatenate([pile.nondetect[pile.own.entry], nondetect])
    partner = other[row]
    new = (partner >= 0) & ~np.isin(entry * size + partner, entry * size + row)
    pile.results = Links(np.append(pile.results.entry, entry[new]), np.append(pile.results.target, partner[new]))
    pile.pair_detect = np.append(pile.pair_detect, detect[new]).astype(np.int16)
    pile.pair_nondetect = np.append(pile.pair_nondetect, nondetect[new]).astype(np.int16)
    return pile


def quiet_entries(rule: Rule, judged: Judged) -> Bool:
    """Entries that earn no finding, (m,): unproven ones of a rule that says nothing of missing evidence."""
    return _quiet(judged, *_letters(rule, judged))


def broken_and_open(rule: Rule, judged: Judged) -> Bool:
    """Entries that break a limit whose consequence is unproven, (m,): the records do not show that it was kept."""
    detect, nondetect = _letters(rule, judged)
    return np.asarray((judged.outcome == Outcome.BROKEN) & (((detect | nondetect) & int(Letter.UNPROVEN)) != 0))


def _quiet(judged: Judged, detect: Int16, nondetect: Int16) -> Bool:
    quiet: Bool = (judged.outcome == Outcome.UNPROVEN) & (detect == 0) & (nondetect == 0)
    return quiet if judged.quiet is None else quiet | judged.quiet


def _columns(judged: Judged, lead: Int64) -> Texts | None:
    fact = judged.facts.get("column")
    return fact.values[lead] if isinstance(fact, Labels) else None


def _letters(rule: Rule, judged: Judged) -> tuple[Int16, Int16]:
    """Letters of each entry: the broken limit's pair, no evidence, or unproven for an unreadable cell."""
    by_limit = [rule.pair(limit.name) for limit in rule.limits]
    broken_pair = rule.consequence.get("broken", NOTHING)
    # What a rule can only note, an unreadable cell cannot make unproven.
    grave = max((pair.effect for pair in (*by_limit, broken_pair)), default=Effect.NONE) > Effect.NOTE
    unread = UNPROVEN if grave or rule.check == "reading" else rule.no_evidence
    pairs: list[Pair] = [*by_limit, broken_pair, rule.no_evidence, unread, NOTE]
    plain, missing, hard, note = (len(by_limit) + i for i in range(4))
    broken = judged.outcome == Outcome.BROKEN
    choice = np.where(broken, np.where(judged.limit >= 0, judged.limit, plain), np.where(judged.hard, hard, missing))
    if judged.noted is not None:
        choice = np.where(judged.noted, note, choice)
    detect = np.array([int(pair.detect) for pair in pairs], dtype=np.int16)
    nondetect = np.array([int(pair.nondetect) for pair in pairs], dtype=np.int16)
    return detect[choice], nondetect[choice]


def _lacking(judged: Judged, quiet: Bool) -> dict[tuple[str, tuple[tuple[str, str], ...]], tuple[int, int]]:
    out: dict[tuple[str, tuple[tuple[str, str], ...]], tuple[int, int]] = {}
    for number, want in enumerate(judged.wants):
        mine = judged.want == number
        silent = int((mine & quiet).sum())
        said = int(mine.sum()) - silent
        if said or silent:
            before = out.get((want.phrase, want.places), (0, 0))
            out[want.phrase, want.places] = (before[0] + said, before[1] + silent)
    return out


def _whole_table(judged: Judged, tables: Tables) -> Int64:
    """Group numbers: entries that lack the same absent column share a negative one; every other entry has its own."""
    group = np.arange(len(judged.row), dtype=np.int64)
    absent = np.array([is_absent(want, tables) for want in judged.wants] + [False], dtype=bool)
    together = (judged.outcome == Outcome.UNPROVEN) & absent[judged.want] & ~judged.hard
    return np.where(together, -2 - judged.want.astype(np.int64), group)


def is_absent(want: Want, tables: Tables) -> bool:
    """Whether every place that could hold a piece of evidence is missing from the folder altogether."""
    if not want.places:
        return False
    for name, column in want.places:
        table = tables.get(name)
        if table is not None and (column == "*" or column in table):
            return False
    return True


def _renumber(links: Links, of_entry: Int64) -> Links:
    entry = of_entry[links.entry]
    keep = entry >= 0
    return distinct_links(entry[keep], links.target[keep])


def sort_piles(piles: Sequence[Pile], tables: Tables) -> list[Pile]:
    """Put piles in rulebook order, then by the table's place in the rule."""
    names = list(tables.tables)
    return sorted(piles, key=lambda pile: (pile.rule, names.index(pile.table) if pile.table in names else -1))


def keys_and_ids(rules: Sequence[Rule], piles: Sequence[Pile], tables: Tables) -> tuple[Texts, Texts]:
    """Key of each finding, and its id ``rule/table/key``, with ``~2`` for a second one of the same rule and key.

    Repeats are numbered in the order of the full cell text of their rows, not of the file.
    """
    keys: list[str] = []
    ids: list[str] = []
    for pile in piles:
        table = tables.get(pile.table)
        stem = f"{rules[pile.rule].id}/{pile.table}/"
        rows = pile.row.tolist()
        for row, subject in zip(rows, pile.subject.tolist(), strict=True):
            whole = f"*:{subject}" if subject else "*"
            keys.append(str(table.keys[row]) if row >= 0 and table is not None else whole)
            ids.append(stem + keys[-1])
    return np.array(keys, dtype=object), _numbered(ids, piles, tables)


def _numbered(ids: list[str], piles: Sequence[Pile], tables: Tables) -> Texts:
    out = np.array(ids, dtype=object)
    seen: dict[str, list[int]] = {}
    if len(set(ids)) == len(ids):
        return out
    for index, one in enumerate(ids):
        seen.setdefault(one, []).append(index)
    places = [
        (pile.table, int(row), int(entry)) for pile in piles for row, entry in zip(pile.row, pile.entry, strict=True)
    ]
    for one, indices in seen.items():
        if len(indices) > 1:
            indices.sort(key=lambda i: (_cell_text(tables, places[i][0], places[i][1]), places[i][2]))
            for number, index in enumerate(indices[1:], start=2):
                out[index] = f"{one}~{number}"
    return out


def _cell_text(tables: Tables, name: str, row: int) -> tuple[str, ...]:
    table = tables.get(name)
    if table is None or row < 0 or table.cells is None:
        return ()
    return tuple(table.cells.cell(row, header) for header in table.cells.all_headers)


def reached_counts(evidence: Evidence, size: int, samples: Links, results: Links) -> Int64:
    """How many result rows each finding reaches, through its samples or directly."""
    out = np.zeros(size, np.int64)
    np.add.at(out, results.entry, 1)
    if len(samples.entry):
        found = evidence.results
        per = np.zeros(evidence.sample_count, np.int64)
        if found is not None:
            use = found.reachable & (found.sample >= 0)
            per = np.bincount(found.sample[use], minlength=evidence.sample_count)
        np.add.at(out, samples.entry, per[samples.target])
    return out


def flip_for_air(detect: Int16, nondetect: Int16) -> tuple[Int16, Int16]:
    """Oxygen and nitrogen where air let in is the reason: J- becomes J+, UJ becomes none; R and J stay."""
    low = (detect & int(Letter.J_MINUS)) != 0
    turned = np.where(low, (detect & ~int(Letter.J_MINUS)) | int(Letter.J_PLUS), detect)
    return turned.astype(np.int16), (nondetect & ~int(Letter.UJ)).astype(np.int16)
