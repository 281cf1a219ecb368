"""A trace as text for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from vaporqa.outcomes import Standing
from vaporqa.report.chain_lines import LinkLine, SaidLine
from vaporqa.report.digest import counted
from vaporqa.report.terminal import MARKS, no_command, styled, wrapped
from vaporqa.report.trace import Trace, Traced
from vaporqa.report.wording import STANDING_MARKS, visible

_ROWS, _NAMES = 8, 12
_REASON, _CELL, _KEY, _PLACE = 700, 90, 90, 120


def trace_text(trace: Trace, *, colour: bool = False) -> str:
    """Return the trace as text, lines at most 80 columns wide wherever no single word is wider."""
    lines: list[str] = []
    if len(trace.rows) > 1:
        key = visible(trace.key, _KEY)
        many = f"{len(trace.rows)} rows of {trace.table} stand under the key {key}: all of them follow."
        lines += [*wrapped(many), ""]
    for number, row in enumerate(trace.rows):
        lines += [""] * bool(number)
        lines += _row(row, colour=colour)
    return "".join(f"{no_command(line)}\n" for line in lines)


def _row(row: Traced, *, colour: bool) -> Iterator[str]:
    name = f": {visible(row.name, 120)}" if row.name else ""
    yield from wrapped(f"{row.table} {visible(row.key, _KEY)}{name}")
    yield from wrapped(visible(row.place, _PLACE))
    yield from _head(row, colour=colour)
    if row.stands_in:
        yield from wrapped(visible(row.stands_in, _REASON))
    yield ""
    if row.cells:
        cells = "; ".join(f"{visible(header, 60)}: {visible(text, _CELL)}" for header, text in row.cells)
        yield from wrapped(f"In the file: {cells}", "", "  ")
        yield ""
    yield from _settled(row)
    if row.upward:
        yield "It stands on"
        for table, key, place, standing in row.upward:
            yield from wrapped(f"{table} {visible(key, _KEY)} {visible(place, _PLACE)}: {standing}", "  ", "      ")
        yield ""
    yield from _hanging(row)
    listed = frozenset(place for link in row.links for place in link.rows[:_ROWS])
    for link in row.links:
        yield from _link(link, listed, colour=colour)
    if not row.links:
        yield "What the rules said of it"
        yield from _all_said(row.said, "  ", listed, (row.table, row.key, row.place))
        if not row.said:
            yield "  Nothing: no rule concerned it beyond the reading of its cells."


def _head(row: Traced, *, colour: bool) -> Iterator[str]:
    mark = STANDING_MARKS[Standing[row.standing.upper()]]
    letters = f", qualifier {row.qualifier}" if row.qualifier else ""
    bias = f", bias {row.bias}" if row.bias else ""
    final = f"; {visible(row.final, 120)}" if row.final else ""
    word = f"{mark} {row.standing}"
    for number, line in enumerate(wrapped(f"{word}{letters}{bias}{final}", "", "  ")):
        yield line.replace(word, styled(word, row.standing, colour=colour), 1) if number == 0 else line


def _settled(row: Traced) -> Iterator[str]:
    if row.table != "results":
        return
    if not row.settled:
        yield "No finding gives it a letter."
        yield ""
        return
    yield "Settled from"
    for one in row.settled:
        yield from wrapped(f"{one.letters or '-':<9} {visible(one.finding, 160)}", "  ", "            ")
    what = f"{row.qualifier}, {row.standing}" if row.qualifier else row.standing
    yield from wrapped(f"Together: {what}{f', bias {row.bias}' if row.bias else ''}.", "  ")
    yield ""


def _hanging(row: Traced) -> Iterator[str]:
    if row.table == "results":
        return
    reach = ", ".join(counted(count, table.removesuffix("s")) for table, count in row.reaches)
    yield from wrapped(f"Its findings reach: {reach or 'no further row'}.", "", "  ")
    if row.samples:
        names = ", ".join(visible(name, 60) for name in row.samples[:_NAMES])
        more = f" and {len(row.samples) - _NAMES:,} more" if len(row.samples) > _NAMES else ""
        yield from wrapped(f"Samples that hang on it: {names}{more}.", "", "  ")
    if row.results_behind:
        yield from wrapped(f"Results that hang on it: {row.results_behind:,}.")
    yield ""


def _link(link: LinkLine, listed: frozenset[tuple[str, str, str]], *, colour: bool) -> Iterator[str]:
    bad = link.state in ("broken", "unproven")
    effect = " (changes nothing here)" if bad and link.effect == "-" else ""
    effect = f" ({link.effect})" if link.effect not in ("-", link.state) else effect
    yield f"{MARKS[link.state]} {link.title}: {styled(link.state, link.state, colour=colour)}{effect}"
    for table, key, place in link.rows[:_ROWS]:
        yield from wrapped(f"{table} {visible(key, _KEY)} {visible(place, _PLACE)}", "    ", "        ")
    if len(link.rows) > _ROWS:
        yield f"    and {counted(len(link.rows) - _ROWS, 'more row')}"
    if link.nothing:
        yield from wrapped(f"{link.nothing[0].upper()}{link.nothing[1:]}.", "    ")
    yield from _all_said(link.said, "    ", listed, link.rows[0] if len(link.rows) == 1 else None)
    if link.cells_read:
        yield "    ● Every filled cell of these rows that no line above names could be read."
    if link.left_out:
        names = ", ".join(visible(one, 60) for one in link.left_out)
        yield from wrapped(f"– not reviewed on purpose: {names}", "    ", "      ")
    if link.idle:
        yield from wrapped(f"· not concerned: {', '.join(link.idle)}", "    ", "      ")


def _all_said(
    said: Sequence[SaidLine], indent: str, listed: frozenset[tuple[str, str, str]], own: tuple[str, str, str] | None
) -> Iterator[str]:
    """What the rules said; what one of them says of several rows in the same words is said once."""
    together: dict[tuple[str, str, str, str, bool], list[SaidLine]] = {}
    for one in said:
        together.setdefault((one.rule, one.outcome, one.sentence, one.effect, one.counts), []).append(one)
    for lines in together.values():
        yield from wrapped(_said(lines, listed, own), indent, f"{indent}  ")


def _said(lines: Sequence[SaidLine], listed: frozenset[tuple[str, str, str]], own: tuple[str, str, str] | None) -> str:
    first = lines[0]
    places = [(one.table, one.key, one.place) for one in lines]
    where = ""
    if places != [own]:
        # The place of a row stands where the chain lists the row; elsewhere it is said here.
        named = [f"{table} {visible(key, _KEY)}" if (table, key, place) in listed
                 else f"{table} {visible(key, _KEY)} {visible(place, _PLACE)}".rstrip()
                 for table, key, place in places[:_ROWS]]  # fmt: skip
        more = f", and {len(places) - _ROWS:,} more" if len(places) > _ROWS else ""
        where = f" ({', '.join(named)}{more})"
    sentence = visible(first.sentence, _REASON)
    if first.outcome == "holds":
        return f"{MARKS['holds']} {first.rule}{where}: {sentence}"
    what = f", {first.effect}" if first.effect not in ("-", first.outcome) else ""
    letter = f" {first.letter}" if first.letter not in ("", first.effect) else ""
    aside = "" if first.counts or first.effect == "caution" else ", without effect here"
    return f"{MARKS[first.outcome]} {first.outcome}{what}{letter}{aside}: {first.rule}{where}: {sentence}"


__all__ = ["trace_text"]
