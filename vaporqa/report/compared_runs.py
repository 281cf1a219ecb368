"""Two runs compared, as text for a terminal of 80 columns, as a table, and as a page."""

from __future__ import annotations

import csv
import io
import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence

from vaporqa import __version__
from vaporqa.comparing import Mover, RunComparison
from vaporqa.comparing.runs import Row, Why
from vaporqa.report.templating import rendered
from vaporqa.report.terminal import no_command
from vaporqa.report.wording import defused, visible

WIDTH = 80
_SHOWN, _GROUPS = 6, 12
#: Rows of a kind that the page shows; the table holds all.
_ON_PAGE = 400
COLUMNS = (
    "change", "table", "key", "place", "standing_before", "standing_after", "qualifier_before", "qualifier_after",
    "final_before", "final_after", "findings_gone", "findings_new", "findings_changed", "reasons",
)  # fmt: skip
_WHAT = {"gone": "no longer", "new": "now", "changed": "now otherwise"}


def runs_text(found: RunComparison, *, csv_name: str = "") -> str:
    """Return the comparison as text: what differs between the runs, how rows moved, and what is behind it."""
    lines = [*_wrapped(f"Old: {found.old.folder}", "", "  "), *_wrapped(f"New: {found.new.folder}", "", "  "), ""]
    differs = [f"{name}: {what}" for name, what in found.inputs] + [mover_text(one) for one in found.differences]
    lines.append("What differs" if differs else "Inputs, profiles and limits are the same.")
    for line in differs:
        lines += _wrapped(line, "  ", "      ")
    lines += ["", summary(found)]
    for line in steps(found):
        lines += _wrapped(line, "  ", "      ")
    if found.by_rule:
        lines += ["", "Findings by rule: new, gone, changed"]
        lines += [f"  {rule}: {new:,}, {gone:,}, {changed:,}" for rule, new, gone, changed in found.by_rule]
    groups = by_reason(found.moved)
    for whys, rows in groups[:_GROUPS]:
        lines.append("")
        for why in whys or (None,):
            lines += _wrapped(why_text(why) if why is not None else NOTHING_NAMED, "", "  ")
        lines += _rows(rows, csv_name)
    if len(groups) > _GROUPS:
        lines += ["", f"and {len(groups) - _GROUPS:,} more groups of rows; {csv_name or '--csv FILE'} has all"]
    for title, others in _other_lists(found):
        if others:
            lines += ["", f"{title}: {len(others):,}", *_rows(others, csv_name)]
    return "\n".join(map(no_command, lines)) + "\n"


NOTHING_NAMED = "What moved these is no finding of their own (another row counts for them, or their own cells changed)"


def summary(found: RunComparison) -> str:
    """Return the sentence that counts what ends otherwise."""
    if found.same:
        return "No row ends otherwise."
    parts = [
        f"{len(found.moved):,} moved", f"{len(found.changed):,} with another number or limit",
        f"{len(found.came):,} new", f"{len(found.went):,} gone",
    ]  # fmt: skip
    return f"Rows: {', '.join(parts)}."


def steps(found: RunComparison) -> list[str]:
    """Return how many rows of each table moved from what to what, most first."""
    counts = Counter((row.table, row.ended(row.old), row.ended(row.new)) for row in found.moved)
    ordered = sorted(counts.items(), key=lambda item: (item[0][0], -item[1], item[0]))
    return [f"{table}: {was} -> {now}: {count:,}" for (table, was, now), count in ordered]


def by_reason(rows: Sequence[Row]) -> list[tuple[tuple[Why, ...], list[Row]]]:
    """Group rows by what is behind their change, the largest group first."""
    groups: dict[tuple[Why, ...], list[Row]] = {}
    for row in rows:
        groups.setdefault(row.why, []).append(row)
    return sorted(groups.items(), key=lambda item: (-len(item[1]), [(why.finding, why.what) for why in item[0]]))


def why_text(why: Why) -> str:
    """Return one finding behind a change as a sentence."""
    said = f"{_WHAT[why.what]}: {why.finding}: {why.reason}"
    return visible(f"{said} (before: {why.was})" if why.was and why.was != why.reason else said, 700)


def mover_text(one: Mover) -> str:
    """Return a difference of the two rulebooks."""
    return f"{one.name}: {one.before or 'none'} -> {one.after or 'none'}"


def _rows(rows: Sequence[Row], csv_name: str) -> Iterator[str]:
    for row in rows[:_SHOWN]:
        yield from _wrapped(
            f"{row.table} {visible(row.key, 90)} ({visible(row.place, 90)}): {_step(row)}", "  ", "      "
        )
    if len(rows) > _SHOWN:
        where = f"{csv_name} holds all" if csv_name else "--csv FILE writes all"
        yield f"  and {len(rows) - _SHOWN:,} more; {where}"


def _step(row: Row) -> str:
    if row.old is None or row.new is None:
        return row.ended(row.new or row.old)
    was, now = row.ended(row.old), row.ended(row.new)
    if was != now:
        return f"{was} -> {now}"
    return f"{final(row.old)} -> {final(row.new)}"


def final(side: dict[str, str] | object) -> str:
    """Return what a result row ends at: its number, or its limit where it was not detected; with the bias."""
    assert isinstance(side, dict)
    number = f"{side['final_value']} {side['final_unit']}"
    if side["final_detected"] == "false":
        number = f"not detected at {side['final_limit'] or 'a limit not known'} {side['final_unit']}"
    parts = [number.strip(), f"bias {side['bias']}" if side["bias"] else ""]
    if side["final_in_use"] == "false":
        parts.append("set aside")
    return ", ".join(part for part in parts if part)


def _wrapped(text: str, first: str, later: str) -> Iterator[str]:
    yield from textwrap.wrap(
        visible(text, 900), WIDTH, initial_indent=first, subsequent_indent=later, break_on_hyphens=False
    )


def runs_csv(found: RunComparison) -> bytes:
    """Return every row that ends otherwise, is new or is gone, as comma-separated UTF-8."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for change, rows in _changes(found):
        for row in rows:
            sides = [side or {} for side in (row.old, row.new)]
            named = [
                "; ".join(why.finding for why in row.why if why.what == what) for what in ("gone", "new", "changed")
            ]
            cells = (
                change, row.table, row.key, row.place, *(side.get("standing", "") for side in sides),
                *(side.get("qualifier", "") for side in sides), *(final(side) if side else "" for side in sides),
                *named, " ".join(f"{_WHAT[why.what]}: {why.reason}" for why in row.why),
            )  # fmt: skip
            writer.writerow([_once_defused(cell) for cell in cells])
    return out.getvalue().encode("utf-8", "backslashreplace")


def _once_defused(text: str) -> str:
    """The runs' own files are defused already."""
    return text if text.startswith("'") else defused(text)


def _changes(found: RunComparison) -> tuple[tuple[str, tuple[Row, ...]], ...]:
    return (("moved", found.moved), ("changed", found.changed), ("new", found.came), ("gone", found.went))


def runs_page(found: RunComparison) -> bytes:
    """Return the comparison as one page that needs no network and no script."""
    shown, left = [], _ON_PAGE
    for whys, rows in by_reason(found.moved):
        if left <= 0:
            break
        shown.append((whys, rows[:left], max(len(rows) - left, 0)))
        left -= len(rows)
    tables = {
        table: sorted(((was, now, number) for (was, now), number in counts.items() if was != now), key=_by_step)
        for table, counts in found.standings.items()
    }
    return rendered(
        "compared.html.j2",
        found=found, shown=shown, unshown=max(len(found.moved) - _ON_PAGE, 0), summary=summary(found),
        steps=steps(found),
        tables={table: rows for table, rows in tables.items() if rows},
        names=[str(run.review.get("project", {}).get("name", "")) for run in (found.old, found.new)],
        lists=[(title, rows[:_ON_PAGE], max(len(rows) - _ON_PAGE, 0)) for title, rows in _other_lists(found) if rows],
        nothing_named=NOTHING_NAMED, version=__version__, step=_step, what=_WHAT, mover=mover_text,
    )  # fmt: skip


def _by_step(step: tuple[str, str, int]) -> tuple[int, str, str]:
    return -step[2], step[0], step[1]


def _other_lists(found: RunComparison) -> tuple[tuple[str, tuple[Row, ...]], ...]:
    return (
        ("Same standing, another number, limit or bias", found.changed),
        ("Rows that are new", found.came),
        ("Rows that are gone", found.went),
    )
