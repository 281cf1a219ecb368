"""The fingerprint of a finding: a hash over everything that somebody who judges it looks at."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator, Sequence

import numpy as np

from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Amounts, Fact, Judged, Labels
from vaporqa.outcomes import Letter, Outcome, Pair
from vaporqa.review.measured import unit_of
from vaporqa.review.values import Findings
from vaporqa.tables.values import Int64, Tables

_SIGNS = 32
_PLACEHOLDER = re.compile(r"\{([a-z_][a-z0-9_]*)\}")


class Fingerprints:
    """Fingerprints of the findings of one review, before any judgement is applied.

    Parameters
    ----------
    evidence : Evidence
    rules, judged
        As the review holds them.
    findings : Findings
    """

    def __init__(
        self, evidence: Evidence, rules: tuple[Rule, ...], judged: Sequence[tuple[int, Judged]], findings: Findings
    ) -> None:
        self._evidence, self._rules, self._judged, self._findings = evidence, rules, judged, findings

    def of(self, index: int) -> str:
        """Return the fingerprint of one finding.

        It is taken over the id, the outcome and its letters, what was measured, the limit, what was missing, the
        witnesses that the sentence names, the texts of the cells of the row where it arose, and the samples and
        results that it reaches. A finding on a whole table is taken by the keys of its rows instead of their cells.
        The order of rows, of columns and of files does not matter.
        """
        found = self._findings
        row = int(found.row[index])
        tables = self._evidence.tables
        name = found.tables[int(found.table[index])]
        own = found.own.target[found.own.entry == index]
        parts: list[object] = [
            str(found.id[index]), int(found.outcome[index]), int(found.detect[index]), int(found.nondetect[index]),
            self.measured(index), self.limit(index), str(found.want[index]), str(found.column[index]),
            cells_of(tables, name, row) if row >= 0 else _keys(tables, name, own),
            sorted(self._facts(index)) if row >= 0 else [],
            self._samples(found.samples.target[found.samples.entry == index]),
            _keys(tables, "results", found.results.target[found.results.entry == index]),
        ]  # fmt: skip
        text = json.dumps(parts, ensure_ascii=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()[:_SIGNS]

    def measured(self, index: int) -> str:
        """Return what was measured, with its unit; empty where there is no number."""
        found = self._findings
        value = float(found.measured[index])
        if not np.isfinite(value):
            return ""
        unit = unit_of(self._rules[int(found.rule[index])], int(found.limit[index]))
        return f"{value:.12g} {unit}".strip()

    def limit(self, index: int) -> str:
        """Return the limit as written; empty where none broke."""
        found = self._findings
        number = int(found.limit[index])
        return self._rules[int(found.rule[index])].limits[number].written if number >= 0 else ""

    def pair(self, index: int) -> Pair:
        """Return the letters that the rule gave."""
        found = self._findings
        return Pair(Letter(int(found.detect[index])), Letter(int(found.nondetect[index])))

    def _facts(self, index: int) -> Iterator[str]:
        found = self._findings
        _, judged = self._judged[int(found.judged[index])]
        entry = int(found.entry[index])
        named = self._named(index)
        for name, fact in judged.facts.items():
            if name in named:
                yield f"{name}={_fact(fact, entry)}"

    def _named(self, index: int) -> set[str]:
        """Facts that the sentence of the finding names; of several witnesses that it does not name, any may lead."""
        found = self._findings
        rule, limit = self._rules[int(found.rule[index])], int(found.limit[index])
        if rule.check == "reading":
            return {"cell"}  # the further detail may name the line of another row
        if int(found.outcome[index]) == Outcome.UNPROVEN:
            said = rule.say.get("no_evidence", "")
        else:
            name = rule.limits[limit].name if limit >= 0 else "broken"
            said = rule.say.get(name, rule.say.get("broken", ""))
        return set(_PLACEHOLDER.findall(said))

    def _samples(self, numbers: Int64) -> list[str]:
        names = self._evidence.sample_ids.names
        return sorted({str(names[number]) for number in numbers.tolist()})


def _fact(fact: Fact, entry: int) -> str:
    if isinstance(fact, Labels):
        return str(fact.values[entry])
    if isinstance(fact, Amounts):
        unit = fact.unit if isinstance(fact.unit, str) else str(fact.unit[entry])
        return f"{float(fact.values[entry]):.12g} {unit}"
    return f"{int(fact.low[entry])} {bool(fact.date_only[entry])}"


def cells_of(tables: Tables, name: str, row: int) -> list[str]:
    """Return ``header=text`` of every filled cell of a row, sorted; its key where no file stands behind it."""
    table = tables.get(name)
    if table is None:
        return []
    if table.cells is None:
        return [str(table.keys[row])]
    texts = ((header, str(table.cells.cell(row, header))) for header in table.cells.all_headers)
    return sorted(f"{header}={text}" for header, text in texts if text)


def _keys(tables: Tables, name: str, rows: Int64) -> list[str]:
    table = tables.get(name)
    return sorted(str(key) for key in table.keys[rows].tolist()) if table is not None else []
