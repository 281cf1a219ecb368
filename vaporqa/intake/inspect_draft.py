"""A draft mapping of a stranger's file: entries with their grounds, those that are not sure marked for a person.

Nothing is guessed silently: an entry comes from a heading, from the data dictionary or from the cells, and says so;
a unit or an order of day and month that the file does not state becomes a question.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from vaporqa.intake.headings import FLAGS, WORDS, plain
from vaporqa.intake.inspect_columns import ColumnFacts
from vaporqa.intake.inspect_entries import DraftMapping, Entry, Ground, asked, counted
from vaporqa.intake.inspect_headers import is_two_units
from vaporqa.intake.inspect_matching import CELLS, HEADING, LOOSE, OWN, SURE, TableMatch, needs_unit
from vaporqa.intake.lab_flags import flags_in
from vaporqa.quantities.units import nearest_units, parse_unit, symbols
from vaporqa.tables.dictionary import FLAG_MEANINGS, TABLES, ColumnSpec, TableSpec

#: Texts of one column that get an entry of their own; of more, a person is told.
LISTED_AT_MOST = 40
_SHORT = 40
#: A header's unit and the row's own speak of one number here; both together stop or puzzle a run.
_BESIDE_UNIT = ("result", "reading", "level")
_NUMERIC = ("number", "percent", "fraction", "quantity", "amount", "coordinate")


def draft_mapping(match: TableMatch, ground: Ground, source: str = "") -> DraftMapping:
    """Return the entries for one table."""
    drafter = _Drafter(TABLES[match.table], match, ground, source)
    entries = drafter.all()
    used = (
        {one.at for found in match.matches.values() for one in found}
        | {one.at for one in match.wide}
        | {pair.clock for at, pair in ground.joined.items() if any(at == one.at for one in drafter.chosen.values())}
    )
    unused = [header.text for at, header in enumerate(ground.headers) if at not in used and header.text]
    return DraftMapping(match.table, source, tuple(entries), tuple(unused))


class _Drafter:
    def __init__(self, spec: TableSpec, match: TableMatch, ground: Ground, source: str) -> None:
        self.spec = spec
        self.match = match
        self.ground = ground
        self.source = source
        self.chosen = {name: found[0] for name, found in match.matches.items()}
        self.clocks = {pair.clock for pair in ground.joined.values()}

    def facts(self, name: str) -> ColumnFacts:
        return self.ground.facts[self.chosen[name].at]

    def columns(self) -> list[tuple[ColumnSpec, ColumnFacts]]:
        return [(spec, self.facts(spec.name)) for spec in self.spec.columns if spec.name in self.chosen]

    def all(self) -> list[Entry]:
        found = [self.column(spec) for spec, _ in self.columns()]
        for name in self.match.absent:
            reason = "it must be there, and no heading is known to mean it; a column of one text goes under `fixed`"
            found.append(Entry(("columns", name), (asked(f"the header of {name}"),), False, reason))
        found += self.wide()
        for spec, facts in self.columns():
            if spec.kind == "time":
                found += self.times(spec, facts)
        for spec, facts in self.columns():
            found += self.missing(spec, facts)
        found += self.decimal()
        for spec, facts in self.columns():
            found += self.values(spec, facts)
        for spec, _ in self.columns():
            found += self.units(spec)
        if not self.source and self.spec.name in ("results", "lab_qc"):
            found += self.flags()
        if not self.source and self.spec.name == "results" and "kind" not in self.chosen:
            found += self.kinds()
        if self.source and self.spec.name == "samples":
            found += self.whole_file()
        return found

    def column(self, spec: ColumnSpec) -> Entry:
        """Return the entry that says which header feeds a column."""
        matches, facts = self.match.matches[spec.name], self.facts(spec.name)
        rivals = [self.ground.headers[one.at].text for one in matches[1:] if one.at not in self.clocks]
        first = matches[0]
        header = self.ground.headers[first.at].text
        such = ", ".join(f"'{_short(text)}'" for text in facts.samples[:2])
        reason = {
            OWN: "the column's own name",
            HEADING: f"a usual heading of {spec.name}",
            CELLS: "no heading says so; its cells do",
            LOOSE: f"the heading may mean {spec.name}, and other things",
        }.get(first.ground, f"the heading is near one of {spec.name}")
        reason += f"; such as {such}" if such else "; no cell is filled"
        pair = self.ground.joined.get(first.at) if spec.kind == "time" else None
        doubt = "" if pair else _doubt(spec, facts)
        sure = first.ground in SURE or (first.ground == CELLS and spec.name in ("cas", "unit"))
        if rivals:
            reason += "; also possible: " + ", ".join(f"'{text}'" for text in rivals)
        if doubt:
            reason += f"; {doubt}"
        texts: tuple[str, ...] = (header,)
        if pair:
            texts = (self.ground.headers[pair.date].text, self.ground.headers[pair.clock].text)
            if not pair.related:
                reason += f"; times of day stand in '{texts[1]}', and the date in '{texts[0]}'?"
        if spec.name == "sample_id" and self.ground.longer_key:
            reason = (f"'{header}' and the analyte stand in several rows, and '{self.ground.longer_key}' tells them "
                      f"apart: one sample, or several of one name?")  # fmt: skip
            return Entry(("columns", spec.name), (asked(self.ground.longer_key), header), True, reason)
        if rivals or doubt or not sure or (pair and not pair.related):
            texts = tuple(map(asked, texts))
        return Entry(("columns", spec.name), texts, bool(pair), reason)

    def wide(self) -> list[Entry]:
        """Return what turns columns of analytes into rows."""
        if not self.match.wide:
            return []
        headers = [self.ground.headers[one.at] for one in self.match.wide]
        reason = f"{len(headers):,} headings are names of analytes and stand over numbers: each becomes rows"
        found = [
            Entry(("wide", "from"), tuple(header.text for header in headers), True, reason),
            Entry(("wide", "to"), ("analyte",), False, "the heading"),
            Entry(("wide", "value"), ("result",), False, "the cell"),
        ]
        for one, header in zip(self.match.wide, headers, strict=True):
            if one.column != header.name:
                found.append(Entry(("values", "analyte", header.name), (one.column,), False, "the unit aside"))
        units = {one.unit or self.ground.row_units.get(one.at, "") for one in self.match.wide}
        unit = units.pop() if len(units) == 1 else ""
        if all(header.unit for header in headers) or (not unit and "unit" in self.chosen):
            return found
        if unit and parse_unit(unit, "amount"):
            found.append(Entry(("units", "result"), (unit,), False, "the headings or the units row say so"))
        else:
            reason = "the file does not say it, or not one for all; such as " + ", ".join(symbols("amount")[1:6])
            found.append(Entry(("units", "result"), (asked("unit of the analytes' columns"),), False, reason))
        return found

    def times(self, spec: ColumnSpec, facts: ColumnFacts) -> list[Entry]:
        pair = self.ground.joined.get(self.chosen[spec.name].at)
        fit = pair.times if pair else facts.times
        path = ("formats", spec.name)
        found = []
        if fit.formats and fit.differ:
            text, one, other = fit.differing
            reason = f"each reads all {fit.of:,} different cells, and '{text}' is {one} or {other}: day and month"
            found.append(Entry(path, (asked(" or ".join(fit.formats)),), False, reason))
        elif fit.formats:
            rest = f"the {fit.of - fit.iso:,} different cells that are not ISO 8601" if fit.iso else (
                f"all {fit.of:,} different cells")  # fmt: skip
            also = f"; so does {', '.join(fit.formats[1:])}, to the same times" if fit.formats[1:] else ""
            found.append(Entry(path, (fit.formats[0],), False, f"reads {rest}{also}"))
        elif fit.together:
            reason = f"no one format reads all {fit.of:,} different cells; these do so together"
            found.append(Entry(path, tuple(map(asked, fit.together)), True, reason))
        if not fit.dates and not fit.midnight and fit.days >= 3 and 0 < fit.clock_times <= 2:
            times = "one time" if fit.clock_times == 1 else "two times"
            reason = (
                f"{spec.name} has {times} of day on {fit.days:,} days: a true time, or what an export made of dates?"
            )
            found.append(Entry(("date_only",), (asked(spec.name),), True, reason))
        return found

    def missing(self, spec: ColumnSpec, facts: ColumnFacts) -> list[Entry]:
        if not facts.nothing or spec.kind == "word":
            return []
        counts = ", ".join(f"'{text}' in {counted(count, 'cell')}" for text, count in facts.nothing.items())
        # Beside a limit or a time such a mark can only mean that nothing stands there; a result may be "not found".
        plain_case = spec.kind in ("time", "quantity", "number", "percent", "coordinate") or spec.name == "cas" or (
            spec.kind == "amount" and not spec.name.startswith(("result", "reading", "train_reading")))  # fmt: skip
        reason = f"{counts}: no value" if plain_case else f"{counts}: nothing recorded, or a word that means something?"
        texts = tuple(facts.nothing) if plain_case else tuple(map(asked, facts.nothing))
        return [Entry(("missing", spec.name), texts, True, reason)]

    def decimal(self) -> list[Entry]:
        numeric = [facts for spec, facts in self.columns() if spec.kind in _NUMERIC]
        comma, thousands = sum(one.comma for one in numeric), sum(one.thousands for one in numeric)
        points = sum(one.points for one in numeric)
        if not comma and not thousands:
            return []
        if comma and not points:
            return [Entry(("decimal",), (",",), False, f"{comma + thousands:,} cells have a comma, none has a point")]
        shown = [text for one in numeric if one.comma or one.thousands for text in one.samples]
        such = next((f", such as '{text}'" for text in shown if "," in text), "")
        reason = f"{comma + thousands:,} cells have a comma and {points:,} a point{such}"
        if not comma:
            reason += ": a decimal mark, or a mark of thousands? For thousands leave the entry out"
        return [Entry(("decimal",), (asked(","),), False, reason)]

    def values(self, spec: ColumnSpec, facts: ColumnFacts) -> list[Entry]:
        found: list[Entry] = []
        if spec.kind == "word":
            usual = WORDS.get(spec.name, {})
            for text in self.listed(facts.words):
                word = usual.get(plain(text), "")
                if text.casefold() in spec.words:
                    continue
                path = ("values", spec.name, text)
                count = counted(facts.words[text], "cell")
                if word in spec.words:
                    # A code or a single word means one thing here and another there.
                    sure = " " in plain(text)
                    found.append(Entry(path, (word if sure else asked(word),), False, f"{count}; a usual word for it"))
                else:
                    # The words are said once, at the first text that needs one.
                    said = any("one of" in entry.reason for entry in found)
                    words = "" if said else f"; one of {', '.join(spec.words)}"
                    found.append(Entry(path, (asked("its meaning"),), False, count + words))
        elif spec.kind == "yes_no" and facts.cells > facts.yes_no:
            for text in self.listed(facts.words):
                found.append(Entry(("values", spec.name, text), (asked("yes or no"),), False, "neither yes nor no"))
        elif spec.kind == "unit":
            for text in self.listed(facts.words):
                if parse_unit(text) is None:
                    near = " or ".join(nearest_units(text)) or "a unit that is known"
                    path = ("values", spec.name, text)
                    two = "can be read in more than one way" if is_two_units(text) else "is no unit that is known"
                    found.append(Entry(path, (asked(near),), False, f"{counted(facts.words[text], 'cell')}; it {two}"))
        elif spec.name == "cas":
            for text, number in list(facts.mangled.items())[:LISTED_AT_MOST]:
                sure = self.ground.cas_of.get(text) == number
                reason = "a spreadsheet made a date of it" + ("; the analyte's name agrees" if sure else "")
                found.append(Entry(("values", "cas", text), (number if sure else asked(number),), False, reason))
        texts = len(facts.mangled if spec.name == "cas" else facts.words)
        if found and texts > LISTED_AT_MOST:
            more = f"; {texts - LISTED_AT_MOST:,} more texts of this column are not listed here"
            found[-1] = replace(found[-1], reason=found[-1].reason + more)
        return found

    def listed(self, words: Mapping[str, int]) -> list[str]:
        return list(words)[:LISTED_AT_MOST]

    def units(self, spec: ColumnSpec) -> list[Entry]:
        dimension = needs_unit(spec)
        if not dimension or (spec.kind == "coordinate" and "crs" in self.chosen):
            return []
        match = self.chosen[spec.name]
        header = self.ground.headers[match.at]
        path = ("units", spec.name)
        by_row = any(
            name in self.chosen or any(name == other.name for other in self.ground.headers)
            for name in (f"{spec.name}_unit", spec.unit_column) if name
        )  # fmt: skip
        if header.unit and header.name == spec.name and parse_unit(header.unit, dimension):
            return []
        unit, where = (match.unit, "the header says so") if match.unit else (
            self.ground.row_units.get(match.at, ""), "the units row says so")  # fmt: skip
        if by_row and (not unit or spec.name in _BESIDE_UNIT):
            return []
        if unit and (parse_unit(unit, dimension) or (spec.kind == "coordinate" and parse_unit(unit, "angle"))):
            return [Entry(path, (unit,), False, where)]
        if unit:
            near = " or ".join(nearest_units(unit, dimension)) or f"a unit of {dimension}"
            return [Entry(path, (asked(near),), False, f"'{unit}' in the file is no unit that can be read in one way")]
        some = ", ".join(symbols(dimension)[:6])
        return [Entry(path, (asked(f"unit of '{header.text}'"),), False, f"the file does not say; such as {some}")]

    def flags(self) -> list[Entry]:
        counts: dict[str, int] = {}
        where: dict[str, str] = {}
        sources: list[tuple[str, Mapping[str, int]]] = []
        for spec, facts in self.columns():
            cells: Mapping[str, int] = {}
            if spec.name == "lab_flag":
                cells = facts.words
            elif spec.kind == "amount":
                cells = {flag: count for flag, count in facts.flags.items() if flag}
            sources.append((self.ground.headers[self.chosen[spec.name].at].text, cells))
        sources += [
            (self.ground.headers[one.at].text, {flag: n for flag, n in self.ground.facts[one.at].flags.items() if flag})
            for one in self.match.wide
        ]
        for header, cells in sources:
            for text, count in cells.items():
                for flag in flags_in(text, FLAGS):
                    counts[flag] = counts.get(flag, 0) + count
                    where.setdefault(flag, header)
        found = []
        for flag in [flag for flag in counts if flag not in FLAG_MEANINGS][:LISTED_AT_MOST]:
            usual = FLAGS.get(flag, "")
            reason = f"{counted(counts[flag], 'cell')} of '{where[flag]}'; "
            reason += "what it often means" if usual else "see the laboratory's key: " + ", ".join(FLAG_MEANINGS)
            found.append(Entry(("lab_flags", flag), (asked(usual or "its meaning"),), False, reason))
        if len(counts) > LISTED_AT_MOST:
            found[-1] = replace(found[-1], reason=f"{found[-1].reason}; more flags are not listed here")
        return found

    def kinds(self) -> list[Entry]:
        names = self.facts("analyte").surrogates if "analyte" in self.chosen else ()
        if not names:
            return []
        reason = "laboratories add them to each sample; such rows are no targets"
        return [Entry(("kinds", "surrogate"), tuple(map(asked, names[:LISTED_AT_MOST])), True, reason)]

    def whole_file(self) -> list[Entry]:
        found = []
        for name in ("kind", "matrix"):
            if name not in self.chosen:
                spec = self.spec.column(name)
                words = ", ".join(spec.words) if spec else ""
                reason = f"no column says it; if it is one for all samples, one of {words}"
                found.append(Entry(("fixed", name), (asked(f"the {name} of every sample"),), False, reason))
        return found


def _short(text: str) -> str:
    return text if len(text) <= _SHORT else text[: _SHORT - 3] + "..."


def _doubt(spec: ColumnSpec, facts: ColumnFacts) -> str:
    """Return why the cells of a column may not be what its heading says; empty where they may."""
    if not facts.cells:
        return ""
    such = f"such as '{_short(facts.samples[0])}'"
    if spec.kind in _NUMERIC and facts.amounts * 2 < facts.cells:
        return f"{facts.cells - facts.amounts:,} of {facts.cells:,} cells are no numbers, {such}"
    if spec.kind == "time" and not facts.times.reads and not facts.serial:
        return f"no format that is tried reads its cells, {such}"
    if spec.name == "cas" and (facts.cas + len(facts.mangled)) == 0:
        return f"no cell is a CAS number, {such}"
    if spec.kind == "unit" and not any(parse_unit(text) for text in facts.words):
        return f"no cell is a unit that is known, {such}"
    if (spec.kind == "word" and len(facts.words) > LISTED_AT_MOST) or (spec.kind == "word" and not facts.words):
        return f"it holds {facts.distinct:,} different texts, and {len(spec.words)} words are known"
    return ""
