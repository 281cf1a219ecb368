"""One row traced: what it is worth, how that was settled, and the chain of everything that stands behind it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from vaporqa.errors import Problem, UsageError, did_you_mean, nearest
from vaporqa.outcomes import Standing
from vaporqa.report.chain_lines import ChainLines, LinkLine, SaidLine, letter_words
from vaporqa.report.flagged import counts_for, standing_in
from vaporqa.report.places import row_place
from vaporqa.report.sentences import Sentences
from vaporqa.report.wording import plain_number, visible
from vaporqa.review.chain import Chain, Chains
from vaporqa.review.hanging import samples_behind, upward
from vaporqa.review.values import Review
from vaporqa.review.weighed import WeighedAgain
from vaporqa.settling import BIASES, QUALIFIERS
from vaporqa.tables.values import Int64, Table

#: Cells of a result that say what was found; of other tables every filled cell is shown.
_CELLS = (
    "result", "result_mass", "result_volume", "unit", "unit_mass", "unit_volume", "detected", "nondetect_at",
    "reporting_limit", "reporting_limit_mass", "reporting_limit_volume", "detection_limit", "limit_of_detection",
    "dilution", "lab_flag",
)  # fmt: skip
#: Keys looked through for the nearest one: difflib takes minutes over a million.
_LOOKED_THROUGH = 3000
_OFFERED = 4


@dataclass(frozen=True, slots=True)
class Settled:
    """One finding that stands on a result or reaches it, with what it gives there."""

    finding: str
    rule: str
    letters: str
    effect: str
    reason: str


@dataclass(frozen=True, slots=True)
class Traced:
    """One row traced.

    Attributes
    ----------
    table, key, place : str
        `place` is ``file:line``.
    name : str
        Of a result: analyte and sample.
    standing, qualifier, bias : str
    final : str
        Of a result: what becomes of the value after blanks.
    stands_in : str
        For a copy or a run set aside: which row counts for it; empty otherwise.
    cells : tuple of (header, text)
        As the file has them.
    settled : tuple of Settled
        Findings from which a result was settled, in rulebook order.
    links : tuple of LinkLine
        The chain; of results and samples.
    said : tuple of SaidLine
        What every rule said of the row itself; of other tables.
    reaches : tuple of (table, rows)
        How many rows the findings of the row reach, each counted once.
    samples : tuple of str
        Samples that hang on a row of another table.
    results_behind : int
        Target results that hang on it.
    upward : tuple of (table, key, place, standing)
        Rows that the row points to, and those that these point to.
    """

    table: str
    key: str
    place: str
    name: str
    standing: str
    qualifier: str
    bias: str
    final: str
    stands_in: str
    cells: tuple[tuple[str, str], ...]
    settled: tuple[Settled, ...]
    links: tuple[LinkLine, ...]
    said: tuple[SaidLine, ...]
    reaches: tuple[tuple[str, int], ...]
    samples: tuple[str, ...]
    results_behind: int
    upward: tuple[tuple[str, str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Trace:
    """Every row that stands under one key."""

    table: str
    key: str
    rows: tuple[Traced, ...]

    def as_json(self) -> dict[str, Any]:
        """Return the trace as plain values, in the order of its fields."""
        return asdict(self)


def trace(review: Review, sentences: Sentences, table: str, key: str, weighed: WeighedAgain | None = None) -> Trace:
    """Trace every row of `table` under `key`.

    Parameters
    ----------
    review, sentences
    table : str
        Name in the data dictionary.
    key : str
        As flag files have it; parts of a made one joined by `/`.
    weighed : WeighedAgain or None
        Kept from an earlier trace of the same review, so that no rule is weighed more than once again.

    Raises
    ------
    UsageError
        The folder has no such table, or the table no such key; the nearest are offered.
    """
    home = _table(review, table)
    rows = _rows(home, key)
    chains = Chains(review, rows if table == "results" else (), weighed)
    lines = ChainLines(review, sentences)
    return Trace(table, key, tuple(_traced(review, sentences, chains, lines, home, row) for row in rows))


def _table(review: Review, name: str) -> Table:
    found = review.tables.get(name)
    if found is not None:
        return found
    known = list(review.tables.tables)
    mend = did_you_mean(name, known) or f"this folder has: {', '.join(known)}"
    raise UsageError(Problem("", 0, 0, f"this folder has no table '{visible(name)}'", mend))


def _rows(table: Table, key: str) -> list[int]:
    """Rows under a key; of a made key, those that were numbered after the first as well."""
    rows = np.flatnonzero(np.asarray(table.keys == key, dtype=bool)).tolist()
    if not table.key_stated:
        stem = f"{key}#"
        rows += [row for row, one in enumerate(table.keys) if one.startswith(stem) and one[len(stem) :].isdecimal()]
    if rows:
        return sorted(int(row) for row in rows)
    raise UsageError(
        Problem("", 0, 0, f"the table {table.name} has no row under the key '{visible(key)}'", _near(table, key))
    )


def _near(table: Table, key: str) -> str:
    """Offer keys that hold what was asked for, else keys that look like it."""
    folded = key.casefold()
    holding = [one for one in (str(text) for text in table.keys) if folded and folded in one.casefold()]
    found = list(dict.fromkeys(holding))[:_OFFERED]
    more = len(set(holding)) - len(found)
    if not found:
        start = folded[:3]
        alike = [str(one) for one in table.keys if str(one).casefold().startswith(start)] or list(map(str, table.keys))
        found = nearest(key, list(dict.fromkeys(alike))[:_LOOKED_THROUGH], at_most=_OFFERED)
    if not found:
        first = f"'{visible(str(table.keys[0]), 60)}'" if table.rows else "nothing"
        return f"keys stand in the column `key` of flags/{table.name}.csv; the first is {first}"
    named = ", ".join(f"'{visible(one, 60)}'" for one in found)
    return f"did you mean {named}{f' or one of {more:,} more' if more > 0 else ''}?"


def _traced(review: Review, sentences: Sentences, chains: Chains, lines: ChainLines, table: Table, row: int) -> Traced:
    settled = review.settled[table.name]
    result, sample = table.name == "results", table.name == "samples"
    chain = chains.of_result(row) if result else chains.of_sample(row) if sample else None
    other = int(counts_for(review, table)[row])
    numbers = samples_behind(review, table.name, row)
    behind = _results_behind(review, table.name, row, numbers)
    return Traced(
        table=table.name,
        key=str(table.keys[row]),
        place=row_place(table, row),
        name=_name(review, row) if result else "",
        standing=Standing(int(settled.standing[row])).word,
        qualifier=QUALIFIERS[int(settled.qualifier[row])] if result else "",
        bias=BIASES[int(settled.bias[row])] if result else "",
        final=final_words(review, row) if result else "",
        stands_in=standing_in(table, row, other) if other >= 0 else "",
        cells=_cells(table, row),
        settled=_settled(review, sentences, chain) if result and chain is not None else (),
        links=lines.links(chain) if chain is not None else (),
        said=lines.lines(chains.of_row(table.name, row)) if chain is None else (),
        reaches=() if result else _reaches(review, table.name, row),
        samples=() if result or sample else tuple(review.evidence.sample_ids.names[one] for one in numbers),
        results_behind=0 if result else behind,
        upward=() if chain is not None else _upward(review, table.name, row),
    )


def _settled(review: Review, sentences: Sentences, chain: Chain) -> tuple[Settled, ...]:
    given = [one for one in chain.given if one.counts]
    reasons = sentences.of(one.finding for one in given)
    return tuple(
        Settled(
            str(review.findings.id[one.finding]), review.rules[int(review.findings.rule[one.finding])].id,
            letter_words(one.counts), one.effect.word, reason,
        )
        for one, reason in zip(given, reasons, strict=True)
    )  # fmt: skip


def _name(review: Review, row: int) -> str:
    results = review.evidence.results
    assert results is not None
    analyte = str(review.evidence.analyte_names(np.array([row]))[0]) or "an unnamed analyte"
    number = int(results.sample[row])
    return f"{analyte} in {review.evidence.sample_ids.names[number]}" if number >= 0 else f"{analyte}, of no sample"


def final_words(review: Review, row: int) -> str:
    """Return what becomes of a result: its value, or the limit at which it stands."""
    final = review.final
    if final is None:
        return ""
    unit = str(final.unit[row] or "")
    if int(final.detected[row]) == 1:
        return f"detected, {plain_number(float(final.value[row])) or 'no number'} {unit}".rstrip()
    if int(final.detected[row]) == 0:
        limit = plain_number(float(final.limit[row]))
        return f"not detected at {limit} {unit}".rstrip() if limit else "not detected, at no stated limit"
    return "detected or not: not stated"


def _cells(table: Table, row: int) -> tuple[tuple[str, str], ...]:
    if table.cells is None:
        return ()
    wanted = _CELLS if table.name == "results" else tuple(table.columns)
    out: dict[str, str] = {}
    for column in wanted:
        header = str(table.cells.header(row, column)) if column in table.columns else ""
        text = table.cells.cell(row, header) if header else table.fixed.get(column, "")
        if text:
            out.setdefault(header or column, text)
    return tuple(out.items())


def _reaches(review: Review, table: str, row: int) -> tuple[tuple[str, int], ...]:
    """Rows that the findings on a row reach, each counted once: its own on a whole table, samples and results."""
    findings = review.findings
    starts, found = review.rows_findings[table]
    mine = found[starts[row] : starts[row + 1]]
    samples = np.unique(findings.samples.target[np.isin(findings.samples.entry, mine)])
    direct = findings.results.target[np.isin(findings.results.entry, mine)]
    results = np.unique(np.concatenate([direct, review.evidence.results_of_samples(samples)]))
    return tuple((name, len(rows)) for name, rows in (("samples", samples), ("results", results)) if len(rows))


def _results_behind(review: Review, table: str, row: int, numbers: Int64) -> int:
    evidence = review.evidence
    if table != "lab_qc":
        return len(evidence.results_of_samples(numbers))
    from vaporqa.evidence.batches import results_of_batches

    rows = np.array([row], np.int64)
    found = [results_of_batches(evidence, rows, by).target for by in ("batch_id", "calibration_id")]
    return len(np.unique(np.concatenate(found)))


def _upward(review: Review, table: str, row: int) -> tuple[tuple[str, str, str, str], ...]:
    out = []
    for name, at in upward(review, table, row):
        home = review.tables.tables[name]
        standing = Standing(int(review.settled[name].standing[at])).word
        out.append((name, str(home.keys[at]), row_place(home, at), standing))
    return tuple(out)


__all__ = ["Settled", "Trace", "Traced", "final_words", "trace"]
