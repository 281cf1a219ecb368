"""A comparison of two reviews for a terminal of 80 columns, and as a table."""

from __future__ import annotations

import csv
import io
import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence

from vaporqa.comparing import Comparison, Moved, Mover
from vaporqa.report.places import row_place
from vaporqa.report.terminal import no_command
from vaporqa.report.wording import defused, visible
from vaporqa.tables.values import Tables

WIDTH = 80
_SHOWN = 8
COLUMNS = (
    "table", "key", "place", "standing_before", "standing_after", "qualifier_before", "qualifier_after", "moved_by",
    "limit_before", "limit_after",
)  # fmt: skip


def comparison_text(comparison: Comparison, *, csv_name: str = "") -> str:
    """Return the comparison as text: what differs, how many rows moved where, and the rows by what moved them."""
    lines = [
        *_wrapped(f"As the folder declares: {_profiles(comparison.before)}", "", "  "),
        *_wrapped(f"Against: {_profiles(comparison.after)}", "", "  "),
        "",
    ]
    if not comparison.differences:
        lines.append("The two rulebooks do not differ.")
    else:
        lines.append("What differs")
        for mover in comparison.differences:
            lines += _wrapped(_mover(mover), "  ", "      ")
    total = sum(comparison.rows.values())
    number = len(comparison.moved)
    lines += ["", f"{number:,} of {total:,} rows {'ends' if number == 1 else 'end'} otherwise"]
    steps = Counter((one.table, _step(one)) for one in comparison.moved)
    for (table, step), count in sorted(steps.items(), key=lambda item: (item[0][0], -item[1], item[0][1])):
        lines += _wrapped(f"{table}: {step}: {count:,}", "  ", "      ")
    for movers, rows in _by_movers(comparison.moved):
        lines += ["", *_wrapped("; ".join(map(_mover, movers)) or "what moved them cannot be named", "", "  ")]
        for one in rows[:_SHOWN]:
            lines += _wrapped(f"{one.table} {visible(one.key, 90)}: {_step(one)}", "  ", "      ")
        if len(rows) > _SHOWN:
            where = f"; {csv_name} holds all" if csv_name else "; --csv FILE writes all"
            lines += _wrapped(f"and {len(rows) - _SHOWN:,} more{where}", "  ", "      ")
    return "\n".join(map(no_command, lines)) + "\n"


def _by_movers(moved: Sequence[Moved]) -> list[tuple[tuple[Mover, ...], list[Moved]]]:
    groups: dict[tuple[Mover, ...], list[Moved]] = {}
    for one in moved:
        groups.setdefault(one.movers, []).append(one)
    return sorted(groups.items(), key=lambda item: (-len(item[1]), tuple(mover.name for mover in item[0])))


def _profiles(names: Sequence[str]) -> str:
    return ", then ".join(names) if names else "baseline"


def _mover(mover: Mover) -> str:
    if not mover.before and not mover.after:
        return f"{mover.name}: its consequences or options"
    return f"{mover.name}: {mover.before or 'none'} -> {mover.after or 'none'}"


def _step(one: Moved) -> str:
    was, now = (
        f"{standing.word} {letter}".strip() for standing, letter in zip(one.standing, one.qualifier, strict=True)
    )
    return f"{was} -> {now}"


def _wrapped(text: str, first: str, later: str) -> Iterator[str]:
    yield from textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=later, break_on_hyphens=False)


def comparison_csv(comparison: Comparison, tables: Tables) -> bytes:
    """Return the moved rows as comma-separated UTF-8, several movers of a row joined by `; `."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for one in comparison.moved:
        cells = (
            one.table, one.key, row_place(tables.tables[one.table], one.row), one.standing[0].word,
            one.standing[1].word, *one.qualifier, "; ".join(mover.name for mover in one.movers),
            "; ".join(mover.before for mover in one.movers), "; ".join(mover.after for mover in one.movers),
        )  # fmt: skip
        writer.writerow([defused(cell) for cell in cells])
    return out.getvalue().encode("utf-8", "backslashreplace")
