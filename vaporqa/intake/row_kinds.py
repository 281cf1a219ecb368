"""Rows that are not what their columns say: surrogates among the targets, and reruns under a sample id of their own."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from vaporqa.intake.raw import Part, RawColumn, merged, pa_texts
from vaporqa.quantities.units import parse_unit
from vaporqa.tables.dictionary import RESULT_KINDS, TableSpec
from vaporqa.tables.values import Bool, Int32

if TYPE_CHECKING:
    from vaporqa.intake.cells import Cells
    from vaporqa.intake.mapping import FileMapping
    from vaporqa.intake.notes import Notes

#: Kinds whose number is a recovery and no concentration.
RECOVERED = ("surrogate", "internal_standard")
_SEPARATORS = "-_ ."
_TOLD_AT_MOST = 20


def with_kinds(
    spec: TableSpec, raw: Mapping[str, RawColumn], cells: Cells, mappings: Sequence[FileMapping], notes: Notes
) -> dict[str, RawColumn]:
    """Fill `kind` of the results whose analyte is declared to be no target, and their recovery from `result`."""
    columns = dict(raw)
    analyte = columns.get("analyte")
    if analyte is None or not any(mapping.kinds for mapping in mappings):
        return columns
    rows = len(analyte.codes)
    names = [text.strip() for text in analyte.texts.to_pylist()]
    declared = np.full(rows, -1, np.int32)
    for part, mapping in zip(analyte.parts, mappings, strict=True):
        file = cells.files[cells.file_of(part.start)].place if part.stop > part.start else ""
        here = slice(part.start, part.stop)
        of = {name: RESULT_KINDS.index(kind) for kind, listed in mapping.kinds.items() for name in listed}
        codes = np.array([*(of.get(name, -1) for name in names), -1], np.int32)
        declared[here] = codes[analyte.codes[here]]
        counts = np.bincount(analyte.codes[here] + 1, minlength=len(names) + 1)
        for name, kind in of.items():
            count = sum(int(counts[at + 1]) for at, known in enumerate(names) if known == name)
            words = f"{count:,} rows of '{name}' are of kind {RESULT_KINDS[kind]}" if count else (
                f"the analyte '{name}', declared as {RESULT_KINDS[kind]}, stands in no row")  # fmt: skip
            if file:
                notes.remark(file, words + ", as declared" if count else words)
    stated = columns.get("kind")
    kinds: tuple[Int32, object] = (declared, pa_texts(RESULT_KINDS))
    if stated is None:
        columns["kind"] = _new(spec, "kind", kinds[0], kinds[1], analyte.parts)
    else:
        both, texts = merged([(stated.codes, stated.texts), kinds])
        filled = np.where(stated.codes >= 0, both[:rows], both[rows:]).astype(np.int32)
        columns["kind"] = replace(stated, codes=filled, texts=texts)
    recovered = np.isin(declared, [RESULT_KINDS.index(kind) for kind in RECOVERED])
    return _recoveries(spec, columns, recovered, notes)


def _recoveries(spec: TableSpec, columns: dict[str, RawColumn], rows: Bool, notes: Notes) -> dict[str, RawColumn]:
    """Move the result of declared surrogates to their recovery, where its unit is no concentration."""
    result = columns.get("result")
    if result is None or not rows.any():
        return columns
    unit = columns.get("unit")
    if unit is not None:
        per_cent = [parse_unit(text, "percent") is not None or parse_unit(text, "amount") is None
                    for text in unit.texts.to_pylist()]  # fmt: skip
        rows = rows & np.array([*per_cent, True], np.bool_)[unit.codes]
    known = columns.get("recovery")
    if known is not None:
        rows = rows & (known.codes < 0)
    rows = rows & (result.codes >= 0)
    if not rows.any():
        return columns
    size = len(rows)
    moved = np.where(rows, result.codes, -1).astype(np.int32)
    if known is None:
        columns["recovery"] = _new(spec, "recovery", moved, result.texts, result.parts)
    else:
        both, texts = merged([(known.codes, known.texts), (moved, result.texts)])
        filled = np.where(known.codes >= 0, both[:size], both[size:]).astype(np.int32)
        columns["recovery"] = replace(known, codes=filled, texts=texts)
    columns["result"] = replace(result, codes=np.where(rows, -1, result.codes).astype(np.int32))
    notes.remark_on_table(
        spec.name, f"column '{result.header}': {int(rows.sum()):,} cells of declared surrogates are recoveries"
    )
    return columns


def _new(spec: TableSpec, name: str, codes: Int32, texts: object, parts: Sequence[Part]) -> RawColumn:
    column = spec.column(name)
    if column is None:
        raise KeyError(name)
    nothing = np.empty(0, np.int64)
    return RawColumn(column, codes, texts, tuple(Part(part.start, part.stop, part.header, "", nothing)
                                                 for part in parts))  # fmt: skip


def with_reruns(
    spec: TableSpec, raw: Mapping[str, RawColumn], cells: Cells, mappings: Sequence[FileMapping], notes: Notes
) -> dict[str, RawColumn]:
    """Give the rows whose sample id ends in a rerun suffix back to their sample, as a run of its own."""
    columns = dict(raw)
    sample = columns.get("sample_id")
    if sample is None or not any(mapping.rerun_suffixes for mapping in mappings):
        return columns
    rows = len(sample.codes)
    texts = sample.texts.to_pylist()
    known = {text.strip() for text, here in zip(texts, sample.used(), strict=True) if here}
    bases: list[str] = list(texts)
    kind_of = np.full((len(mappings), len(texts) + 1), -1, np.int32)
    codes = sample.codes.astype(np.int32).copy()
    kinds = np.full(rows, -1, np.int32)
    for index, (part, mapping) in enumerate(zip(sample.parts, mappings, strict=True)):
        here = slice(part.start, part.stop)
        used = np.unique(sample.codes[here])
        told = []
        moved = np.arange(len(texts) + 1, dtype=np.int32)
        moved[-1] = -1
        for at in used[used >= 0].tolist():
            found = rerun_of(texts[at], mapping.rerun_suffixes, known)
            if found is None:
                continue
            base, suffix = found
            moved[at] = len(bases)
            bases.append(base)
            kind_of[index, at] = 0 if "DL" in suffix.upper() else 1
            told.append(f"'{texts[at]}' of '{base}'")
        codes[here] = moved[sample.codes[here]]
        kinds[here] = kind_of[index][sample.codes[here]]
        if told:
            more = f" and {len(told) - _TOLD_AT_MOST:,} more" if len(told) > _TOLD_AT_MOST else ""
            shown = ", ".join(told[:_TOLD_AT_MOST])
            notes.remark(cells.files[index].place, f"reruns by the declared suffixes: {shown}{more}")
    coded = pa_texts(bases).dictionary_encode()
    remap = np.append(coded.indices.to_numpy(), -1).astype(np.int32)
    again = kinds >= 0
    if not again.any():
        return columns
    columns["sample_id"] = replace(sample, codes=remap[codes], texts=coded.dictionary, written=sample.as_written)
    if spec.column("run_kind") is not None:
        _fill(spec, columns, "run_kind", kinds, ("dilution", "reanalysis"), sample.parts)
        of = np.where(again, remap[codes], -1).astype(np.int32)
        _fill(spec, columns, "run_of", of, coded.dictionary.to_pylist(), sample.parts)
    return columns


def _fill(
    spec: TableSpec,
    columns: dict[str, RawColumn],
    name: str,
    codes: Int32,
    texts: Sequence[str],
    parts: Sequence[Part],
) -> None:
    stated = columns.get(name)
    if stated is None:
        columns[name] = _new(spec, name, codes, pa_texts(texts), parts)
        return
    size = len(codes)
    both, words = merged([(stated.codes, stated.texts), (codes, pa_texts(texts))])
    columns[name] = replace(
        stated, codes=np.where(stated.codes >= 0, both[:size], both[size:]).astype(np.int32), texts=words
    )


def rerun_of(text: str, suffixes: Iterable[str], known: set[str]) -> tuple[str, str] | None:
    """Return the sample that a sample id is a rerun of, and its suffix; None where it ends in none.

    Of several suffixes the longest counts. What stands between sample and suffix belongs to the suffix, unless a
    sample is called so.

    Examples
    --------
    >>> rerun_of("SV-01DL2", ["DL", "DL2"], {"SV-01"}), rerun_of("SV-01-RE", ["RE"], {"SV-01"})
    (('SV-01', 'DL2'), ('SV-01', 'RE'))
    """
    plain = text.strip()
    for suffix in sorted(suffixes, key=len, reverse=True):
        base = plain.removesuffix(suffix)
        if base == plain:
            continue
        trimmed = base.rstrip(_SEPARATORS)
        if trimmed:
            return base if base in known else trimmed, suffix
    return None
