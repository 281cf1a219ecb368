"""`suits`: a word of a row (a material, a container, what was seen) against what it must be, analyte by analyte.

A limit lists the words that pass. Its `when` says for which words of the row's own columns, or for which analytes (CAS
numbers) or classes of the shipped list, it is meant: one that is meant for analytes is broken only where the samples of
the row have a result for one of them. A word that no limit knows proves nothing.
"""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Limit, Option, Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import Known, take_words, words
from vaporqa.evidence.conditions import conditions
from vaporqa.evidence.drawing import soil_gas_of_rows, soil_gas_rows
from vaporqa.evidence.joins import pairs_by_group
from vaporqa.evidence.judged import Judged, Labels, Links, Measured, judged_from
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Int64, Table, Texts

OPTIONS = {"column": "the column that holds the word"}
_BY_ANALYTE = ("analyte", "class")


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge the word of every row that meets the conditions of the rule; of samples, those of soil gas."""
    table = evidence.tables.get(rule.row)
    if table is None:
        return ()
    value, hard = _words(evidence, table, str(rule.options["column"]))
    asked = _asked(rule, evidence, table, value, hard)
    told = asked.concerned & asked.known
    links = soil_gas_of_rows(evidence, table)
    held_by, results = _results(evidence, links)
    entries = [np.arange(table.rows, dtype=np.int64)]
    limit = [np.full(table.rows, -1, np.int16)]
    reached = [Links.none()]
    covered = np.zeros(len(results), bool)
    # The gravest breach speaks; a milder one adds only the analytes that the graver one left out.
    for index in sorted(range(len(rule.limits)), key=lambda i: rule.pair(rule.limits[i].name).rank, reverse=True):
        one = rule.limits[index]
        broken = told & (limit[0] < 0) & _meant(evidence, table, one) & ~np.isin(value.astype(str), one.words)
        if not any(key in _BY_ANALYTE for key in one.when):
            limit[0][broken] = index
            continue
        mine = broken[held_by] & ~covered & _of_analytes(evidence, one, results)
        covered |= mine
        rows, entry = np.unique(held_by[mine], return_inverse=True)
        reached.append(Links(entry.reshape(-1) + sum(map(len, entries)), results[mine]))
        entries.append(rows)
        limit.append(np.full(len(rows), index, np.int16))
    measured = _measured(evidence, asked, np.concatenate(entries), value, links, reached)
    which = np.concatenate(limit)
    outcome = np.where(which >= 0, Outcome.BROKEN, np.where(told[measured.row], Outcome.HOLDS, Outcome.UNPROVEN))
    outcome = np.where(measured.concerned, outcome, Outcome.NOT_CONCERNED).astype(np.uint8)
    return (judged_from(measured, table.rows, outcome, which),)


def _words(evidence: Evidence, table: Table, column: str) -> tuple[Texts, Bool]:
    """The word of each row; a sample that names a container but not its type takes the type from the stock."""
    if (table.name, column) != ("samples", "container"):
        return words(table, column)
    number = evidence.sample_ids.of("samples", "sample_id", table.rows)
    return take_words(evidence.samples.container, evidence.samples.container_hard, number)


def _asked(rule: Rule, evidence: Evidence, table: Table, value: Texts, hard: Bool) -> Asked:
    met = conditions(evidence, table, rule.where)
    concerned = table.counts & (met.yes | met.unknown)
    if table.name == "samples":
        gas = np.zeros(table.rows, bool)
        rows, number = soil_gas_rows(evidence)
        gas[rows[~evidence.samples.passive[number]]] = True
        concerned &= gas
    asked = Asked(np.arange(table.rows, dtype=np.int64), concerned)
    for index, want in enumerate(met.wants):
        asked.need(met.want != index, want.phrase, *want.places)
    asked.hard_where(met.hard)
    column = str(rule.options["column"])
    phrase = f"the {column.replace('_', ' ')}"
    asked.need(Known(np.zeros(table.rows), (value != "") & ~hard, hard), phrase, (table.name, column))
    known = {word for one in rule.limits for word in (*one.words, *_listed(one.when.get(column, ())))}
    judged = np.isin(value.astype(str), sorted(known)) | (value == "") | hard
    asked.need(judged, f"a {phrase.removeprefix('the ')} that the rule knows", (table.name, column))
    return asked


def _measured(
    evidence: Evidence, asked: Asked, row: Int64, value: Texts, links: Links, reached: list[Links]
) -> Measured:
    """One entry a row, which reaches its samples, then those that reach single results."""
    base = asked.measured(np.full(len(value), np.nan))
    results = Links(np.concatenate([one.entry for one in reached]), np.concatenate([one.target for one in reached]))
    names = evidence.analyte_names(results.target)
    said: list[set[str]] = [set() for _ in row]
    for entry, name in zip(results.entry.tolist(), names.tolist(), strict=True):
        said[entry].add(str(name))
    listed: Texts = np.array([", ".join(sorted(some)) for some in said] + [""], dtype=object)[:-1]
    found: Texts = np.array([str(word).replace("_", " ") for word in value[row]] + [""], dtype=object)[:-1]
    return Measured(
        row=row, concerned=base.concerned[row], value=base.value[row], want=base.want[row], wants=base.wants,
        hard=base.hard[row], facts={"found": Labels(found), "analyte": Labels(listed)}, samples=links, results=results,
    )  # fmt: skip


def _listed(wanted: Option) -> tuple[str, ...]:
    return tuple(str(word) for word in (wanted if isinstance(wanted, tuple) else (wanted,)))


def _meant(evidence: Evidence, table: Table, limit: Limit) -> Bool:
    """Rows for whose words a limit is meant."""
    meant = np.ones(table.rows, bool)
    for column, wanted in limit.when.items():
        if column not in _BY_ANALYTE:
            meant &= np.isin(_words(evidence, table, column)[0].astype(str), _listed(wanted))
    return meant


def _results(evidence: Evidence, links: Links) -> tuple[Int64, Int64]:
    """Pairs (row, results row) of the target and tentative results that hang on each row."""
    results = evidence.results
    if results is None or not len(links.entry):
        return np.empty(0, np.int64), np.empty(0, np.int64)
    rows = np.flatnonzero(results.target & (results.sample >= 0))
    pair, found = pairs_by_group(links.target, results.sample[rows], evidence.sample_count)
    return links.entry[pair], rows[found]


def _of_analytes(evidence: Evidence, limit: Limit, results: Int64) -> Bool:
    """Results of the analytes for which a limit is meant."""
    if evidence.results is None:
        return np.zeros(len(results), bool)
    analytes = evidence.analytes
    meant = np.ones(len(analytes.cas) + 1, bool)
    meant[-1] = False
    if "analyte" in limit.when:
        meant[:-1] &= np.isin(np.array(analytes.cas, dtype=str), _listed(limit.when["analyte"]))
    if "class" in limit.when:
        meant[:-1] &= np.any([analytes.in_class(name) for name in _listed(limit.when["class"])], axis=0)
    return meant[evidence.results.analyte[results]]
