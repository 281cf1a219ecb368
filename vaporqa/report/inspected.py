"""A stranger's file as a person sees it: facts, header, columns, and what still needs an answer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from vaporqa.intake.inspect_columns import ColumnFacts
from vaporqa.intake.inspect_entries import unsure
from vaporqa.intake.inspect_files import BYTES_AT_MOST, ROWS_AT_MOST, TOP_ROWS
from vaporqa.intake.inspect_headers import HeaderCandidate
from vaporqa.intake.inspection import COLUMNS_AT_MOST, Inspection
from vaporqa.intake.unanswered import how_to_answer
from vaporqa.report.drafts import draft_lines
from vaporqa.report.terminal import no_command
from vaporqa.report.wording import visible
from vaporqa.tables.dictionary import TABLES

_CELL = 40
_LISTED = 8
#: A table with a lower score shares a heading or two with the file, and no more.
_FITS = 4
#: Tables named with their score.
_TABLES = 3


def inspection_text(found: Inspection, file: str) -> str:
    """Return facts and draft as one YAML text: the facts are comments, so that all of it may be saved as it is.

    Parameters
    ----------
    file : str
        Path of the file inside the project folder, for the draft.
    """
    facts = [f"# {line}".rstrip() for line in facts_lines(found)]
    needs = [f"# {line}".rstrip() for line in needs_lines(found)]
    lines = [*facts, "#", *draft_text(found, file), "", *needs]
    return "\n".join(map(no_command, lines)) + "\n"


def draft_text(found: Inspection, file: str) -> list[str]:
    """Return the lines of the draft: `tables:` as project.yaml may hold it."""
    count = len(unsure(found.drafts))
    waits = "Nothing in it waits for an answer; read it before you use it."
    if count:
        waits = f"{count:,} entries wait" if count > 1 else "1 entry waits"
        waits += ' for an answer (marked "? "), and no run starts before.'
    head = [
        f"# Draft mapping of {visible(found.opened.path.name)} for {found.chosen.table}.",
        f"# Put it under the other keys of project.yaml. {waits}",
    ]
    return [*head, *draft_lines(found.drafts, file)]


def facts_lines(found: Inspection) -> Iterator[str]:
    """Yield what was seen in the file."""
    opened, place = found.opened, found.header
    yield f"{visible(opened.path.name)}: {opened.kind}, {opened.size:,} bytes"
    for fact in opened.facts:
        yield f"  {fact}"
    for sheet in opened.sheets:
        here = "  <- looked at" if sheet.name == opened.sheet else ""
        extent = f"{sheet.rows:,} rows, {sheet.columns:,} columns" if sheet.rows else "empty, or not opened"
        yield f"  sheet '{visible(sheet.name, _CELL)}': {extent}{here}"
    if opened.sampled:
        yield f"  only the first {ROWS_AT_MOST:,} rows (at most {BYTES_AT_MOST:,} bytes) were looked at"
    yield f"  {len(found.file.lines):,} records of {len(found.file.headers):,} columns under the header"
    yield ""
    yield f"Header: row {place.row}{'' if place.sure else ', not sure'}"
    for candidate in place.candidates:
        yield f"  row {candidate.row}: {_why(candidate)}"
    for row in place.preamble[:_LISTED]:
        yield f"  above it, row {row.row}: {visible(' | '.join(cell for cell in row.cells if cell.strip()), 100)}"
    if len(place.preamble) > _LISTED:
        yield f"  and {len(place.preamble) - _LISTED:,} more rows above it"
    for units_row in place.units_rows:
        yield f"  row {units_row} under it names units"
    for remark in found.remarks:
        yield f"  {visible(remark, 300)}"
    if found.footer:
        yield f"  at the end, hardly a cell filled: row {', '.join(map(str, found.footer))}"
    for problem in found.problems:
        yield f"  stops a run: {visible(problem.message, 200)}; {visible(problem.mend, 100)}"
    yield ""
    yield "Columns:"
    fed: dict[int, list[str]] = {}
    for name, matches in found.chosen.matches.items():
        fed.setdefault(matches[0].at, []).append(name)
    for one in found.chosen.wide:
        fed.setdefault(one.at, []).append("rows of analyte and result")
    for at, facts in enumerate(found.facts):
        to = f"  -> {', '.join(fed[at])}" if at in fed else ""
        yield f"  {facts.header.field}. {visible(facts.header.text, 60) or '(no header)'}{to}"
        samples = ", ".join(f"'{visible(text, _CELL)}'" for text in facts.samples)
        such = f": {samples}" if samples else ""
        yield f"     {facts.filled:,} of {facts.rows:,} filled, {facts.distinct:,} different{such}"
        for look in looks(facts):
            yield f"     {look}"
    if len(found.file.headers) > COLUMNS_AT_MOST:
        yield f"  and {len(found.file.headers) - COLUMNS_AT_MOST:,} more columns that were not looked at"
    yield ""
    yield f"Table: {found.chosen.table}"
    others = [one for one in found.tables[:_TABLES] if one.table != found.chosen.table]
    for table in (found.chosen, *others):
        lacks = f"; lacks {', '.join(table.absent)}" if table.absent else ""
        named = ", and the file is called so" if table.named else ""
        must = [column.name for column in TABLES[table.table].columns if column.required]
        has = f", among them {', '.join(name for name in must if name in table.matches)}" if len(must) > len(
            table.absent) else ""  # fmt: skip
        yield f"  {table.table}: {len(table.matches)} columns known{has}{named}{lacks} (score {table.score:g})"


def _why(candidate: HeaderCandidate) -> str:
    said = [f"{candidate.filled} of {candidate.width} cells filled"]
    said.append(
        f"{candidate.known} are headings that the trade uses" if candidate.known else "no heading that is known"
    )
    if candidate.values:
        said.append(f"{candidate.values} look like values")
    if candidate.over_values:
        said.append(f"{candidate.over_values} stand over numbers or dates")
    if candidate.repeats:
        said.append(f"{candidate.repeats} stand twice")
    return ", ".join(said)


def looks(facts: ColumnFacts) -> Iterator[str]:
    """Yield what the cells of a column look like."""
    if facts.nothing:
        yield f"nothing given: {_counted(facts.nothing)}"
    if facts.cells and facts.amounts * 2 >= facts.cells:
        yield f"numbers: {facts.numbers:,} of {facts.cells:,}" + (
            f", nondetect marks: {_counted(facts.marks)}" if facts.marks else "")  # fmt: skip
    if flags := {flag: count for flag, count in facts.flags.items() if flag}:
        yield f"flags stuck to numbers: {_counted(flags)}"
    if facts.comma:
        yield f"decimal commas: {facts.comma:,} cells"
    if facts.thousands:
        yield f"a comma before three digits, a mark of thousands or a decimal mark: {facts.thousands:,} cells"
    if facts.misread:
        pairs = ", ".join(f"'{visible(text, _CELL)}' ({offer})" for text, offer in facts.misread[:_LISTED])
        yield f"no numbers: {pairs}" + (f" and {len(facts.misread) - _LISTED:,} more" if len(facts.misread) > 8 else "")
    yield from _times(facts)
    if facts.cas:
        wrong = f"; wrong check digit: {', '.join(facts.wrong_cas[:_LISTED])}" if facts.wrong_cas else ""
        yield f"CAS numbers: {facts.cas:,} of {facts.cells:,}{wrong}"
    if facts.mangled:
        pairs = ", ".join(f"'{visible(text, _CELL)}' was {cas}" for text, cas in list(facts.mangled.items())[:_LISTED])
        yield f"CAS numbers that a spreadsheet turned into dates: {pairs}"
    if facts.analytes or facts.analytes_inside:
        known = facts.analytes or facts.analytes_inside
        unknown = f"; not: {', '.join(visible(text, _CELL) for text in facts.unknown_names[:_LISTED])}"
        aside = "" if facts.analytes else ", a mark after a comma left aside"
        yield f"names of analytes: {known:,} are listed{aside}" + (unknown if facts.unknown_names else "")
    if facts.units:
        two = f"; more than one unit is spelled so: {', '.join(facts.two_units)}" if facts.two_units else ""
        yield f"units: {_counted(facts.units)}{two}"
    if facts.yes_no and not facts.numbers:
        yield "yes and no"
    if facts.spans:
        yield f"ranges: {facts.spans:,} of {facts.cells:,}"


def _times(facts: ColumnFacts) -> Iterator[str]:
    fit = facts.times
    what = "dates only" if fit.dates else "times"
    if fit.is_iso:
        yield f"{what}, ISO 8601"
    elif fit.formats:
        yield f"{what} in {' or '.join(fit.formats)}" + (f", beside {fit.iso:,} in ISO 8601" if fit.iso else "")
    elif fit.together:
        yield f"times, some in each of {', '.join(fit.together)}"
    if fit.differ:
        text, one, other = fit.differing
        yield f"day and month cannot be told apart: '{text}' is {one} or {other}"
    if fit.midnight:
        yield "every time of day is midnight: read as dates"
    elif not fit.dates and fit.days >= 3 and 0 < fit.clock_times <= 2:
        yield f"{fit.clock_times} different time{'s' * (fit.clock_times > 1)} of day on {fit.days:,} days"
    if facts.serial:
        yield "days of the workbook's calendar, if these are times: its numbers are read so then"
    if facts.clock:
        yield "times of day without a date"


def _counted(counts: Mapping[str, int]) -> str:
    shown = [f"'{visible(text, _CELL)}' {count:,}" for text, count in list(counts.items())[:_LISTED]]
    return ", ".join(shown) + (f" and {len(counts) - _LISTED:,} more" if len(counts) > _LISTED else "")


def needs_lines(found: Inspection) -> Iterator[str]:
    """Yield what still needs a person."""
    yield "What still needs you:"
    needs = [*_open_entries(found), *_other_needs(found)]
    for number, need in enumerate(needs, 1):
        yield f"  {number}. {need}"
    if not needs:
        yield "  nothing that the file itself shows; read the draft before you use it"


def _open_entries(found: Inspection) -> Iterator[str]:
    grouped: dict[str, list[str]] = {}
    for table, entry in unsure(found.drafts):
        path = ("tables", table, *entry.path)
        group = ".".join([table, *entry.path[:2]]) if entry.path[0] == "values" else ".".join(path[1:])
        shown = ", ".join(entry.texts)
        grouped.setdefault(group, []).append(
            f"{visible(entry.path[2], _CELL)}: {shown}" if entry.path[0] == "values" else f"{shown}"
        )
        if len(grouped[group]) == 1:
            grouped[group].insert(0, how_to_answer(path))
    for group, (how, *texts) in grouped.items():
        shown = "; ".join(visible(text, 100) for text in texts[:4]) + (f" and {len(texts) - 4:,} more" if len(texts) > 4
                                                                       else "")  # fmt: skip
        yield f"{group} ({shown}): {how}"


def _other_needs(found: Inspection) -> Iterator[str]:
    table = found.chosen
    for problem in found.problems:
        yield f"row {problem.line}, field {problem.column}: {visible(problem.message, 200)}; {problem.mend}"
    if table.score < _FITS:
        yield "hardly a heading is known, and the table is a guess: name it with --table"
    rival = next((one for one in found.tables if one.table != table.table), None)
    if rival is not None and rival.score > table.score - 2:
        yield f"the file may feed {rival.table} instead: run again with --table {rival.table}"
    others = [sheet for sheet in found.opened.sheets if sheet.name != found.opened.sheet and sheet.rows]
    if others:
        names = ", ".join(f"'{visible(sheet.name, _CELL)}'" for sheet in others[:_LISTED])
        yield f"other sheets were not looked at: {names}; run again with --sheet"
    if found.repeated_keys:
        yield (f"{found.repeated_keys:,} rows have the sample and analyte of an earlier row: reruns, two forms, "
               "copies, or sample names that need another part")  # fmt: skip
    kinds = {spec.kind for spec in TABLES[table.table].columns if spec.name in table.matches}
    if "time" in kinds:
        yield "local times are read in `time_zone` (the laboratory's own in `lab_time_zone`): ask whose clock they show"
    if table.table == "results":
        for name in ("method", "cas", "reporting_limit", "lab_flag"):
            if name == "lab_flag" and any(facts.flags for facts in found.facts):
                continue
            form = any(other.startswith(name) for other in table.matches)
            if not form:
                yield f"no column feeds {name}: rules that need it will say so" + (
                    "; one for all rows goes under `fixed`" if name == "method" else "")  # fmt: skip
    unknown = [text for facts in found.facts for text in facts.unknown_names]
    if unknown:
        shown = ", ".join(f"'{visible(text, _CELL)}'" for text in unknown[:_LISTED])
        yield f"analyte names that are not listed: {shown}; give them a CAS number in analyte_names.csv"
    if found.opened.sampled:
        yield f"the rows after the first {ROWS_AT_MOST:,} were not looked at: footers and rare texts there are not seen"
    if found.header.row > TOP_ROWS - 5:
        yield "the header stands far down; a later row was not compared"
