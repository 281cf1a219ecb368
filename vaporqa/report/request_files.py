"""The list of what to ask for as a file to paste into a letter (.md, .txt, .html) or to work through (.csv)."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType

import pyarrow as pa

from vaporqa.report.csv_lines import Coded, csv_lines
from vaporqa.report.digest import counted
from vaporqa.report.places import file_name, header_of, line_text
from vaporqa.report.requests import SHOWN, Request, RequestList, some
from vaporqa.report.wording import visible
from vaporqa.review.values import Review

_TITLE = "Evidence asked for"
_OF = {
    "field crew": "Of the field crew", "laboratory": "Of the laboratory", "project": "Of the project",
}  # fmt: skip
#: Sentences on contradicting records that one request shows; findings.csv holds all.
_SENTENCES = 6
_ON_PURPOSE = "Not reviewed on purpose"
_ON_PURPOSE_WORDS = "Nothing is asked for on these; they were left out, with the reason given."
_ABOVE = "Not reviewed at this stage"
_SILENT = "Not asked for"
_SILENT_WORDS = "Rules would judge more if this were there, and say nothing where it is not; no row hangs on it."
#: Signs that steer Markdown wherever they stand, and those that do so at a word's edge, before an address or in front.
_MARKS = re.compile(r"[\\`*{\[\]<>&|~$@]|(?<!\w)_|_(?!\w)|:(?=//)|(?<=www)\.|^[-+#=]|(?<=^\d)[.)]|(?<=^\d\d)[.)]")
_NAMED = {"<": "&lt;", ">": "&gt;", "&": "&amp;"}
COLUMNS = (
    "supplier", "request", "wanted", "form", "column", "row_kind", "key", "file", "line", "field", "cell", "needed",
    "rules", "why", "results_unproven", "results_unproven_for_this_alone",
)  # fmt: skip


def _details(request: Request) -> Iterator[str]:
    """The sentences under a request, the same in every form of letter."""
    yield f"Where: {request.where}."
    for noun, keys in request.keys:
        yield f"For {some(keys, noun)}."
    alike: dict[tuple[str, str], list[str]] = {}
    for cell in request.cells:
        alike.setdefault((cell.cell, cell.needed), []).append(cell.place)
    for (cell_text, needed), places in list(alike.items())[:SHOWN]:
        more = f" and {counted(len(places) - 1, 'more cell')}" if len(places) > 1 else ""
        verb = "read" if more else "reads"
        stands = f"{verb} '{cell_text}'" if cell_text else f"{'are' if more else 'is'} empty"
        yield f"{places[0]}{more} {stands}; needed: {needed}."
    if len(alike) > SHOWN:
        yield f"And {counted(sum(map(len, list(alike.values())[SHOWN:])), 'more cell')} that cannot be read."
    yield from request.reasons[:_SENTENCES]
    if len(request.reasons) > _SENTENCES:
        yield f"And {len(request.reasons) - _SENTENCES:,} more of the kind."
    yield f"Why: {'; '.join(f'{visible(title, 160)} ({visible(rule, 80)})' for rule, title in request.why)}."
    yield request.settles


def as_markdown(asked: RequestList, review: Review) -> bytes:
    """Return the list as Markdown; text from the tables stays text."""
    lines = [f"# {_TITLE}: {_plain(asked.project)}", "", _plain(asked.opening), ""]
    for supplier, requests in asked.groups:
        lines += [f"## {_OF[supplier]}", ""]
        for one in requests:
            lines += [f"{one.number}. **{_plain(one.what)}**", ""]
            lines += [f"    - {_plain(text)}" for text in _details(one)]
            lines += [""]
    for heading, words, entries in _closing(asked):
        lines += [f"## {heading}", ""]
        lines += [words, ""] if words else []
        lines += [f"- {_plain(text)}" for text in entries]
        lines += [""]
    return ("\n".join(lines).rstrip("\n") + "\n").encode("utf-8", "replace")


def _plain(text: str) -> str:
    """A text in which no sign steers Markdown or the HTML that is made of it."""
    return _MARKS.sub(lambda found: _NAMED.get(found[0], "\\" + found[0]), text)


def as_text(asked: RequestList, review: Review) -> bytes:
    """Return the list as plain text of 80 columns."""
    lines = [*_wrapped(f"{_TITLE}: {asked.project}"), "", *_wrapped(asked.opening), ""]
    for supplier, requests in asked.groups:
        lines += [_OF[supplier].upper(), ""]
        for one in requests:
            lines += _wrapped(f"{one.what}.", f"{one.number:>3}. ", "     ")
            for text in _details(one):
                lines += _wrapped(text, "     - ", "       ")
            lines += [""]
    for heading, words, entries in _closing(asked):
        lines += [heading.upper(), ""]
        lines += [*_wrapped(words), ""] if words else []
        for text in entries:
            lines += _wrapped(text, "  - ", "    ")
        lines += [""]
    return ("\n".join(lines).rstrip("\n") + "\n").encode("utf-8", "replace")


def _wrapped(text: str, first: str = "", further: str = "") -> list[str]:
    return textwrap.wrap(
        text, 80, initial_indent=first, subsequent_indent=further, break_long_words=False, break_on_hyphens=False
    )


def _closing(asked: RequestList) -> Iterator[tuple[str, str, list[str]]]:
    if asked.left_out:
        yield _ON_PURPOSE, _ON_PURPOSE_WORDS, [f"{name}: {reason}" for name, reason in asked.left_out]
    if asked.above:
        words = f"{counted(len(asked.above), 'rule')} above the declared stage {asked.stage}: nothing is asked for."
        yield _ABOVE, words, [visible(title, 160) for title in asked.above]
    if asked.silent:
        yield _SILENT, _SILENT_WORDS, list(asked.silent)


def as_html(asked: RequestList, review: Review) -> bytes:
    """Return the list as one page that needs no network and no script."""
    import jinja2  # start-up time: only this form needs it

    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("vaporqa.report", "templates"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
    )
    text = environment.get_template("requests.html.j2").render(
        asked=asked, title=_TITLE, headings=_OF, details=_details, closing=list(_closing(asked))
    )
    return text.encode("utf-8", "replace")


def as_csv(asked: RequestList, review: Review) -> bytes:
    """Return every row that is asked about, one a line, with the cell where one cannot be read."""
    lines = [line for request in asked.requests for line in _csv_of(request, review)]
    columns = [
        Coded.each(pa.array([line[number] for line in lines], pa.string())) for number in range(len(COLUMNS))
    ]  # fmt: skip
    return b"".join(csv_lines(COLUMNS, columns, len(lines)))


def _csv_of(request: Request, review: Review) -> Iterator[tuple[str, ...]]:
    piece = request.piece
    table = review.tables.get(piece.table)
    start = (piece.supplier, str(request.number), request.what, piece.table, piece.column)
    why = "; ".join(visible(title, 160) for _, title in request.why)
    end = ("; ".join(rule for rule, _ in request.why), why, str(piece.unproven), str(piece.alone))
    unread: dict[int, list[tuple[str, str]]] = {}
    for cell, one in zip(request.cells, piece.unread, strict=True):
        unread.setdefault(one.row, []).append((one.cell, cell.needed))
    told: set[str] = set()
    rows = piece.own_rows.tolist() if table is not None else []
    for row in rows:
        assert table is not None
        key = str(table.keys[row])
        told.add(key)
        header = header_of(table, row, piece.column) if piece.column not in ("", "*") else ""
        for cell_text, needed in unread.get(row, [("", "")]):
            yield (
                *start, piece.table, key, file_name(table, row), line_text(table, row), header, cell_text, needed, *end,
            )  # fmt: skip
    for (noun, _), (name, keys) in zip(request.keys, piece.subjects.items(), strict=True):
        if rows and name != piece.table and piece.table == "results":
            continue
        for key in keys:
            if name != piece.table or key not in told:
                yield (*start, noun, key, "", "", "", "", "", *end)
    if not rows and not piece.subjects:
        yield (*start, "", "", "", "", "", "", "", *end)


_Writer = Callable[[RequestList, Review], bytes]
#: Suffix to what writes it.
WRITERS: Mapping[str, _Writer] = MappingProxyType(
    {".md": as_markdown, ".txt": as_text, ".html": as_html, ".csv": as_csv}
)
