"""`suits`: a word of a row (a material, a container, what was seen) against what it must be, analyte by analyte.

A limit lists the words that pass. Its `when` says for which words of the row's own columns, or for which analytes (CAS
numbers) or classes of the shipped list, it is meant: one that is meant for analytes is broken only where the samples of
the row have a result for one of them. A word that no limit knows proves nothing.
"""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Limit, Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.asked import Asked
from vaporqa.evidence.cells import words
from vaporqa.evidence.conditions import conditions
from vaporqa.evidence.drawing import is_soil_gas, soil_gas_of_rows
from vaporqa.evidence.joins import pairs_by_group
from vaporqa.evidence.judged import Judged, Labels, Links, judged_from
from vaporqa.outcomes import Outcome
from vaporqa.tables.values import Bool, Int64, Table, Texts

OPTIONS = {"column": "the column that holds the word"}
_BY_ANALYTE = ("analyte", "class")


def run(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    """Judge the word of every row that meets the conditions of the rule."""
    table = evidence.tables.get(rule.row)
    if table is None:
        return ()
    column = str(rule.options["column"])
    met = conditions(evidence, table, rule.where)
    value, hard = words(table, column)
    links = soil_gas_of_rows(evidence, table)
    concerned = table.counts & (met.yes | met.unknown) & _of_soil_gas(evidence, table)
    known = _known_words(rule, column)
    told = concerned & ~met.unknown & ~hard & np.isin(value.astype(str), known)
    result_row, result = _results(evidence, links) if any(map(_is_by_analyte, rule.limits)) else _no_pairs()
    row, limit, pairs = [], [], []
    spoken = np.zeros(table.rows, bool)
    covered = np.empty(0, np.int64)
    # The gravest breach speaks; a milder one adds only the analytes that the graver one left out.
    order = sorted(range(len(rule.limits)), key=lambda i: rule.pair(rule.limits[i].name).rank, reverse=True)
    for index in order:
        one = rule.limits[index]
        broken = told & ~spoken & _meant(table, one) & ~np.isin(value.astype(str), one.words)
        if not _is_by_analyte(one):
            rows = np.flatnonzero(broken)
            spoken |= broken
            pairs.append((np.empty(0, np.int64), np.empty(0, np.int64)))
        else:
            code = result_row * (int(result.max(initial=0)) + 1) + result
            mine = broken[result_row] & _of_analytes(evidence, one)[result] & ~np.isin(code, covered)
            covered = np.concatenate([covered, code[mine]])
            rows = np.unique(result_row[mine])
            pairs.append((np.searchsorted(rows, result_row[mine]), result[mine]))
        row.append(rows)
        limit.append(np.full(len(rows), index))
    return (_judged(evidence, rule, table, (value, hard, told, concerned), met, links, row, limit, pairs),)


def _judged(evidence, rule, table, cells, met, links, row, limit, pairs):  # type: ignore[no-untyped-def]
    raise NotImplementedError
