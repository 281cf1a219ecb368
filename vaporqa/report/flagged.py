"""The flag files and findings.csv: every row of every table with what it is worth and why."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from vaporqa.criteria import Rule
from vaporqa.outcomes import Standing
from vaporqa.report.csv_lines import Coded, csv_lines
from vaporqa.report.flag_shapes import check_frame
from vaporqa.report.judgements import JUDGED_COLUMNS, judged_columns
from vaporqa.report.places import finding_place, row_place
from vaporqa.report.row_lists import RowLists
from vaporqa.report.sentences import Sentences, limit_of, unit_without_limit
from vaporqa.report.wording import nearest_end, plain_number
from vaporqa.review.values import Review
from vaporqa.settling import BIASES, QUALIFIERS
from vaporqa.tables.values import Float, Int64, Table

if TYPE_CHECKING:
    import pandas as pd

JOINED_BY = "; "
_STANDINGS = tuple(standing.word for standing in Standing)
_YES_NO = ("false", "true", "")
_FINAL = ("final_detected", "final_value", "final_limit", "final_unit", "final_in_use")
_LAST = ("reasons", "rules", "findings", "source_file", "source_line")
#: At the end of flags/results.csv where a judgement is applied: what the rules alone give.
BEFORE_COLUMNS = ("standing_before", "qualifier_before")

FINDING_COLUMNS = (
    "finding", "rule", "table", "key", "file", "line", "column", "outcome", "effect", "qualifier_detect",
    "qualifier_nondetect", "measured", "limit", "unit", "limit_backing", "reaches", "reason", "source",
    *JUDGED_COLUMNS,
)  # fmt: skip


def own_columns(table: str) -> tuple[str, ...]:
    """Return the columns that a flag file has besides the file's own, in order."""
    return ("key", "standing", "qualifier", "bias", *(_FINAL if table == "results" else ()), *_LAST)


def flag_columns(table: Table, more: Sequence[str] = ()) -> list[tuple[str, str]]:
    """Return (header in the flag file, header in the source) of the columns passed through; `more` are ours too."""
    ours = {*own_columns(table.name), *more}
    headers = list(table.cells.all_headers) if table.cells is not None else []
    taken = ours | {header for header in headers if header not in ours}
    out = []
    for header in headers:
        name = header
        while name in ours or (name != header and name in taken):
            name += " (file)"
        taken.add(name)
        out.append((name, header))
    return out


def flag_table(review: Review, table: str, sentences: Sentences) -> dict[str, Coded]:
    """Return the columns of one flag file, as they stand in it, by header."""
    home = review.tables.tables[table]
    lists = sentences.lists(table)
    columns: dict[str, Coded] = {"key": Coded.each(pa.array(home.keys, pa.string()))}
    taken = BEFORE_COLUMNS if table == "results" and table in review.judging.before else ()
    for name, header in flag_columns(home, taken):
        codes, texts = home.cells.codes(header)
        columns[name] = Coded.of(codes, pc.fill_null(texts, ""))
    columns |= _settled(review, home)
    if table == "results":
        columns |= _final(review, home)
    columns |= _named(review, home, lists, sentences)
    columns["source_file"] = Coded.of(home.file_of, home.files or ("",))
    columns["source_line"] = _lines(home)
    return columns | _before_judgement(review, home)


def _before_judgement(review: Review, table: Table) -> dict[str, Coded]:
    """What the rules alone give each result, beside the final; only where a professional judged a finding."""
    before = review.judging.before.get(table.name)
    if before is None or table.name != "results":
        return {}
    return {
        "standing_before": Coded.of(before.standing, _STANDINGS),
        "qualifier_before": Coded.of(before.qualifier, QUALIFIERS),
    }


def _settled(review: Review, table: Table) -> dict[str, Coded]:
    settled = review.settled.get(table.name)
    nothing = np.zeros(table.rows, np.int8)
    result = table.name == "results" and settled is not None
    return {
        "standing": Coded.of(settled.standing if settled is not None else nothing, _STANDINGS),
        "qualifier": Coded.of(settled.qualifier if result and settled is not None else nothing, QUALIFIERS),
        "bias": Coded.of(settled.bias if result and settled is not None else nothing, BIASES),
    }


def _final(review: Review, table: Table) -> dict[str, Coded]:
    final = review.final
    if final is None:
        empty = Coded.of(np.zeros(table.rows, np.int8), ("",))
        return dict.fromkeys(_FINAL, empty)
    return {
        "final_detected": Coded.of(np.where(final.detected < 0, 2, final.detected), _YES_NO),
        "final_value": _numbers(final.value),
        "final_limit": _numbers(final.limit),
        "final_unit": _texts(final.unit),
        "final_in_use": Coded.of(np.where(final.in_use < 0, 2, final.in_use), _YES_NO),
    }


def _numbers(values: Float) -> Coded:
    distinct, codes = np.unique(values, return_inverse=True)
    texts = [plain_number(value) for value in distinct.tolist()]
    return Coded.of(codes.reshape(-1), texts)


def _texts(values: Any) -> Coded:
    coded = pa.array(values, pa.string()).dictionary_encode()
    return Coded.of(coded.indices.fill_null(-1).to_numpy(zero_copy_only=False), coded.dictionary)


def _lines(table: Table) -> Coded:
    lines = pa.array(np.asarray(table.line_of, np.int64)).cast(pa.string())
    if not any(table.sheets):
        return Coded.each(lines)
    sheets = [f"{sheet}!" if sheet else "" for sheet in table.sheets]
    before = pa.array(sheets, pa.string()).take(pa.array(np.asarray(table.file_of)))
    return Coded.each(pc.binary_join_element_wise(before, lines, ""))


def _named(review: Review, table: Table, lists: RowLists, sentences: Sentences) -> dict[str, Coded]:
    """Reasons, rules and findings, once a set; what stands for a copy or a run set aside comes first."""
    found = review.findings
    named = sorted({index for members in lists.sets for index in members})
    reason = dict(zip(named, sentences.of(named), strict=True))
    ids = [rule.id for rule in review.rules]
    reasons, rules, findings = [], [], []
    for members in lists.sets:
        reasons.append(JOINED_BY.join(dict.fromkeys(reason[index] for index in members)))
        rules.append(JOINED_BY.join(dict.fromkeys(ids[int(found.rule[index])] for index in members)))
        findings.append(JOINED_BY.join(str(found.id[index]) for index in members))
    return {
        "reasons": _with_standing_in(review, table, lists, reasons),
        "rules": Coded.of(lists.of_row, rules),
        "findings": Coded.of(lists.of_row, findings),
    }


def _with_standing_in(review: Review, table: Table, lists: RowLists, reasons: list[str]) -> Coded:
    instead = counts_for(review, table)
    aside = np.flatnonzero(instead >= 0)
    if not len(aside):
        return Coded.of(lists.of_row, reasons)
    codes, texts = lists.of_row.copy(), list(reasons)
    number: dict[tuple[int, str], int] = {}
    for row in aside.tolist():
        said = standing_in(table, row, int(instead[row]))
        at = number.setdefault((int(lists.of_row[row]), said), len(texts))
        if at == len(texts):
            texts.append(JOINED_BY.join(part for part in (said, reasons[int(lists.of_row[row])]) if part))
        codes[row] = at
    return Coded.of(codes, texts)


def counts_for(review: Review, table: Table) -> Int64:
    """Return the row that counts in place of each row; -1 where the row counts itself."""
    copies = np.asarray(table.copy_of, np.int64)
    if table.name != "results" or review.final is None:
        return copies
    return np.where(review.final.counts_for >= 0, review.final.counts_for, copies)


def standing_in(table: Table, row: int, other: int) -> str:
    """Return the sentence that says which row counts for a copy or a run set aside."""
    key, place = str(table.keys[other]), row_place(table, other)
    if int(table.copy_of[row]) >= 0:
        return f"This row is an exact copy; {key} ({place}) counts for it."
    return f"This run is set aside; {key} ({place}) counts for it."


def flag_file(review: Review, table: str, sentences: Sentences) -> Iterator[bytes]:
    """Yield ``flags/<table>.csv`` as UTF-8 pieces."""
    home = review.tables.tables[table]
    columns = flag_table(review, table, sentences)
    return csv_lines(list(columns), list(columns.values()), home.rows)


def frames(review: Review, sentences: Sentences | None = None) -> dict[str, pd.DataFrame]:
    """Return every flag file as a DataFrame: one row a table row, in the file's order.

    All columns are text as in the files, but for ``final_value`` and ``final_limit`` (float64, nan where there is
    none), ``final_detected`` and ``final_in_use`` (boolean, missing where undecided) and ``source_line`` of text files
    (int64). Nothing is defused: that is for spreadsheets.
    """
    return {table: frame(review, table, sentences) for table in review.tables.tables}


def frame(review: Review, table: str, sentences: Sentences | None = None) -> pd.DataFrame:
    """Return one flag file as a DataFrame; see `frames`."""
    import pandas as pd  # start-up time

    columns = flag_table(review, table, sentences or Sentences(review))
    made: pd.DataFrame = pa.table({name: column.decoded() for name, column in columns.items()}).to_pandas()
    home = review.tables.tables[table]
    if not any(home.sheets):
        made["source_line"] = np.asarray(home.line_of, np.int64)
    if table == "results" and review.final is not None:
        made["final_value"], made["final_limit"] = review.final.value, review.final.limit
        for name, codes in (("final_detected", review.final.detected), ("final_in_use", review.final.in_use)):
            made[name] = pd.Series(codes == 1, dtype="boolean").mask(codes < 0)
    check_frame(made, table, home.rows, final=table == "results" and review.final is not None)
    return made


def finding_rows(review: Review, sentences: Sentences) -> list[dict[str, str]]:
    """Return every finding as findings.csv has it, column to text."""
    columns = finding_columns(review, sentences)
    return [dict(zip(FINDING_COLUMNS, row, strict=True)) for row in zip(*columns, strict=True)]


def finding_columns(review: Review, sentences: Sentences) -> list[Sequence[str]]:
    """Return the columns of findings.csv, in the order of `FINDING_COLUMNS`."""
    found = review.findings
    every = range(len(found))
    rule_of = found.rule.tolist()
    rules = [review.rules[number] for number in rule_of]
    places = [finding_place(review, index) for index in every]
    letters = [found.letters(index) for index in every]
    limits = [limit_of(review, index) for index in every]
    measured = found.measured.tolist()
    units = [
        limit.unit if limit is not None else "" if math.isnan(value) else unit_without_limit(rule)
        for limit, rule, value in zip(limits, rules, measured, strict=True)
    ]
    against = [
        "" if limit is None else JOINED_BY.join(limit.words) or plain_number(nearest_end(value, limit))
        for limit, value in zip(limits, measured, strict=True)
    ]
    return [
        [str(text) for text in found.id],
        [rule.id for rule in rules],
        [found.tables[number] for number in found.table.tolist()],
        [str(key) for key in found.key],
        [place[0] for place in places],
        [place[1] for place in places],
        [place[2] for place in places],
        [found.outcome_word(index) for index in every],
        [found.effect_word(index) for index in every],
        [pair[0] for pair in letters],
        [pair[1] for pair in letters],
        [plain_number(value) for value in measured],
        against,
        units,
        [limit.backing.value if limit is not None else "" for limit in limits],
        reached(review),
        sentences.of(every),
        [source_text(rule, number) for rule, number in zip(rules, found.limit.tolist(), strict=True)],
        *judged_columns(review),
    ]


def reached(review: Review) -> list[str]:
    """Return how many rows each finding reaches, by table: ``results:62``."""
    found = review.findings
    own = np.bincount(found.own.entry, minlength=len(found)).tolist()
    names = [found.tables[number] for number in found.table.tolist()]
    out = []
    for row, name, count, rows in zip(found.row.tolist(), names, found.reached.tolist(), own, strict=True):
        out.append(_reach(name, rows if row < 0 else 0, count))
    return out


def reaches(review: Review, index: int) -> str:
    """Return how many rows one finding reaches, by table."""
    found = review.findings
    table, count = found.tables[int(found.table[index])], int(found.reached[index])
    own = int(np.count_nonzero(found.own.entry == index)) if int(found.row[index]) < 0 else 0
    return _reach(table, own, count)


def _reach(table: str, own: int, results: int) -> str:
    """Rows of its own that a finding on a whole table is about, and results that it reaches."""
    if table == "results":
        own, results = 0, own + results
    parts = [f"{table}:{own}"] if own else []
    return JOINED_BY.join([*parts, *([f"results:{results}"] if results else [])])


def source_text(rule: Rule, limit: int) -> str:
    """Return the source of the limit that broke; where none did, every source of the rule once."""
    if limit >= 0:
        return str(rule.limits[limit].source)
    return JOINED_BY.join(dict.fromkeys(str(one.source) for one in rule.limits if str(one.source)))


def findings_file(review: Review, sentences: Sentences) -> Iterator[bytes]:
    """Yield ``findings.csv`` as UTF-8 pieces."""
    columns = [Coded.each(pa.array(list(column), pa.string())) for column in finding_columns(review, sentences)]
    return csv_lines(FINDING_COLUMNS, columns, len(review.findings))
