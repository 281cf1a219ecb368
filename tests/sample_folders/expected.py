"""What every row of a sample folder must be worth, settled from the fault list in plain Python.

Nothing here comes from the program under test. The findings of each fault are written down beside the fault; this
module gives them to the rows that they stand on and reach, and settles each row as section 5 of the design says:
blanks first, then letters by the status after blanks, then one qualifier, one bias, one standing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

from faults import RULE_ORDER, UNPROVEN, Fault, Finding, Reach
from paper import Folder, Row

#: Rules that need no rule file: they follow from the tables and from the outcomes of the others.
ALWAYS = ("collection-time-agrees", "result-judged")
#: Rules outside intake and reporting that hold for every target result of a clean folder.
JUDGES = ("holding-time", "holding-time-gross", "dates-in-order", "holding-time-left", "method-blank")
OXYGEN_AND_NITROGEN = ("7782-44-7", "7727-37-9")
STANDINGS = ("usable", "estimated", "unproven", "rejected")
EFFECTS = ("note", "estimate", "unproven", "reject")  # the standing of the same place goes with each
#: A CAS number that a spreadsheet made a date of, or a name that stands alone, and the number that is meant and used.
MEANT = {"2075-01-04": "75-01-4", "Naphthalene": "91-20-3"}


@dataclass(frozen=True)
class Verdict:
    """One row of a flags file; the last four are empty for tables other than results."""

    key: str
    standing: str
    qualifier: str
    bias: str
    rules: str
    final_detected: str = ""
    final_value: str = ""
    final_limit: str = ""
    final_in_use: str = ""


@dataclass(frozen=True)
class Said:
    """One finding as it is listed."""

    rule: str
    table: str
    key: str
    outcome: str
    effect: str


@dataclass
class Entry:
    """A row while findings gather on it: own findings, and letters of those that reach it."""

    own: list[Finding]
    reached: list[tuple[Finding, tuple[str, str], str]]


def effect_of(letter: str) -> str:
    """What a letter does to a row."""
    if letter == "R":
        return "reject"
    if letter == "unproven":
        return "unproven"
    return "note" if letter in ("-", "note", "U") else "estimate"


def graver(effects: Iterable[str]) -> str:
    """The worst of several effects."""
    return max(effects, key=EFFECTS.index)


def status(row: Row) -> str:
    """`detect`, `nondetect` or `unknown`, as the nondetect conventions of the data contract read a row."""
    text = row["result"].strip()
    if row.get("lab_flag", "") == "U" or text == "ND" or text.startswith("<"):
        return "nondetect"
    try:
        return "detect" if float(text) > 0 else "unknown"
    except ValueError:
        return "unknown"


def own_limit(row: Row) -> str:
    """Where a nondetect stands: the number beside its mark, else its reporting limit."""
    text = row["result"].strip()
    beside = text.lstrip("<").strip() if text.startswith("<") or row.get("lab_flag", "") == "U" else ""
    return beside or row["reporting_limit"]


def number(row: Row) -> str:
    """CAS number of a row, else that of its name."""
    written = row["cas"] or row["analyte"]
    return MEANT.get(written, written)


def opposite(letters: tuple[str, str]) -> tuple[str, str]:
    """Outside air makes oxygen and nitrogen read high."""
    return {"J-": "J+"}.get(letters[0], letters[0]), {"UJ": "-"}.get(letters[1], letters[1])


def reached_by(reach: Reach, key: str, row: Row) -> bool:
    """Whether a reach takes this result in."""
    if reach.keys:
        return key in reach.keys
    return (
        row["kind"] in ("target", "tentative")
        and reach.sample in ("", row["sample_id"])
        and reach.laboratory in ("", row["laboratory"])
        and reach.batch in ("", row.get("batch_id", ""))
        and (not reach.cas or number(row) in reach.cas)
        and (not reach.spared or row["cas"] != reach.spared)
    )


def settle_result(key: str, row: Row, entry: Entry, in_use: str) -> Verdict:
    """One result row."""
    now, limit = status(row), own_limit(row)
    by_blank = [(float(at), at) for _, letters, at in entry.reached if letters[0] == "U"]
    by_blank += [(float(f.limit), f.limit) for f in entry.own if f.limit]
    if now == "detect" and by_blank:
        now, limit = "nondetect", max(by_blank)[1]
    counted: list[tuple[str, str, str]] = []  # rule, letter for the status, letter for a detect
    for finding in entry.own:
        counted.append((finding.rule, letter_for(finding.letters, now), finding.letters[0]))
    for finding, letters, _ in entry.reached:
        letter = "U" if letters[0] == "U" and by_blank else letter_for(letters, now)
        if letter != "-":
            counted.append((finding.rule, letter, letters[0]))
    standing = STANDINGS[max((EFFECTS.index(effect_of(letter)) for _, letter, _ in counted), default=0)]
    given = {letter for _, letter, _ in counted if letter in ("J", "J+", "J-", "UJ", "NJ", "R")}
    qualifier = one_qualifier(given, now)
    bias = ""
    if given and qualifier not in ("", "R", "NJ"):  # where neither is known, no letter of a detect counts
        signs = {detect for _, letter, detect in counted if letter in given and detect in ("J", "J+", "J-")}
        bias = {frozenset({"J+"}): "high", frozenset({"J-"}): "low"}.get(frozenset(signs), "unknown" if signs else "")
    return Verdict(
        key, standing, qualifier, bias, in_order(rule for rule, _, _ in counted),
        {"detect": "true", "nondetect": "false", "unknown": ""}[now],
        row["result"] if now == "detect" else "", limit if now == "nondetect" else "", in_use,
    )  # fmt: skip


def letter_for(letters: tuple[str, str], now: str) -> str:
    """The letter of a pair for a status; of an unknown one the letter that does more."""
    if now == "unknown":
        return max(letters, key=lambda letter: EFFECTS.index(effect_of(letter)))
    return letters[0] if now == "detect" else letters[1]


def one_qualifier(given: Collection[str], now: str) -> str:
    """Section 5, points 3 to 5."""
    if "R" in given:
        return "R"
    if now == "unknown":
        return ""
    if now == "nondetect":
        return "UJ" if "UJ" in given else "U"
    if "NJ" in given:
        return "NJ"
    return next(iter(given)) if len(given) == 1 else "J" if given else ""


def in_order(rules: Iterable[str]) -> str:
    """Rule ids, each once, in rulebook order."""
    return "; ".join(sorted(set(rules), key=RULE_ORDER.index))


def copies(rows: list[Row], keys: list[str]) -> set[int]:
    """Places of later exact copies."""
    seen: set[tuple[str, ...]] = set()
    later = set()
    for place, row in enumerate(rows):
        cells = (keys[place], *(text for name, text in row.items() if name != "@file"))
        if cells in seen:
            later.add(place)
        seen.add(cells)
    return later


def expect(
    folder: Folder, faults: Iterable[Fault], shipped: Collection[str]
) -> tuple[dict[str, list[Verdict]], list[Said]]:
    """Every row of every table in file order, and every finding.

    Parameters
    ----------
    folder : Folder
        With its faults planted.
    faults : iterable of Fault
    shipped : collection of str
        Ids of the rules that exist; findings of others are left out.
    """
    faults = list(faults)
    findings = [f for fault in faults for f in fault.findings(folder) if f.rule in shipped or f.rule in ALWAYS]
    silent = {pair for fault in faults for pair in fault.unconcerned(folder)}
    idle = dict(pair for fault in faults for pair in fault.not_in_use(folder))
    verdicts: dict[str, list[Verdict]] = {}
    said: list[Said] = []
    for table, sheet in folder.sheets.items():
        keys = folder.keys(table)
        later = copies(sheet.rows, keys)
        entries = [Entry([], []) for _ in keys]
        here = [f for f in findings if f.table == table]
        for finding in here:
            if finding.key.startswith("*"):
                said.append(Said(finding.rule, table, finding.key, finding.outcome, graver_of(finding)))
            else:
                entries[place_of(finding, keys, later, entries)].own.append(finding)
        if table == "results":
            reach_results(findings, keys, sheet.rows, entries, later)
            judge_unjudged(
                shipped,
                silent,
                keys,
                sheet.rows,
                entries,
                later | {place for place, key in enumerate(keys) if idle.get(key)},
            )
        verdicts[table] = []
        for place, (key, row, entry) in enumerate(zip(keys, sheet.rows, entries, strict=True)):
            if table == "results":
                in_use = "false" if place in later or idle.get(key) else "" if key in idle else "true"
                verdict = settle_result(key, row, entry, in_use)
                now = {"true": "detect", "false": "nondetect", "": "unknown"}[verdict.final_detected]
                said += [Said(f.rule, table, key, f.outcome, effect_of(letter_for(f.letters, now))) for f in entry.own]
            else:
                effects = [graver_of(f) for f in (*entry.own, *(f for f in here if key in f.named))]
                standing = STANDINGS[max(map(EFFECTS.index, effects), default=0)]
                named = [f.rule for f in here if key in f.named]
                verdict = Verdict(key, standing, "", "", in_order([*(f.rule for f in entry.own), *named]))
                said += [Said(f.rule, table, key, f.outcome, graver_of(f)) for f in entry.own]
            if place in later:
                verdict = replace(verdict, standing=verdicts[table][keys.index(key)].standing)
            verdicts[table].append(verdict)
        if table == "results":
            stand = {v.key: v.standing for v in verdicts[table]}
            verdicts[table] = [
                replace(v, standing=stand[idle[v.key]]) if idle.get(v.key) else v for v in verdicts[table]
            ]
    for finding in findings:  # on a table that the folder does not have
        if finding.table not in folder.sheets:
            said.append(Said(finding.rule, finding.table, finding.key, finding.outcome, graver_of(finding)))
    return verdicts, sorted(said, key=lambda s: (RULE_ORDER.index(s.rule), s.table, s.key, s.outcome, s.effect))


def graver_of(finding: Finding) -> str:
    """What a finding does to a row that is no result."""
    return graver(map(effect_of, finding.letters))


def place_of(finding: Finding, keys: list[str], later: set[int], entries: list[Entry]) -> int:
    """The row on which a finding stands: copies and conflicts repeat a key."""
    places = [place for place, key in enumerate(keys) if key == finding.key]
    if finding.rule == "duplicate-rows":
        if finding.outcome == "broken" and finding.letters != UNPROVEN:
            return next(place for place in places if place in later)
        return next(p for p in places if not any(f.rule == "duplicate-rows" for f in entries[p].own))
    own = [place for place in places if place not in later]
    if len(own) > 1:  # different rows under one stated key: each has a finding of its own
        return next((p for p in own if not any(f.rule == finding.rule for f in entries[p].own)), own[0])
    return own[0]


def reach_results(
    findings: list[Finding], keys: list[str], rows: list[Row], entries: list[Entry], later: set[int]
) -> None:  # fmt: skip
    """Give each finding to the results that it taints."""
    for finding in findings:
        for reach in finding.reaches:
            for place, (key, row) in enumerate(zip(keys, rows, strict=True)):
                if place in later or not reached_by(reach, key, row):
                    continue
                letters = reach.letters or finding.letters
                if finding.air_let_in and row["cas"] in OXYGEN_AND_NITROGEN:
                    letters = opposite(letters)
                entries[place].reached.append((finding, letters, reach.limit))


def judge_unjudged(
    shipped: Collection[str], silent: set[tuple[str, str]], keys: list[str], rows: list[Row], entries: list[Entry],
    later: set[int],
) -> None:  # fmt: skip
    """A target or tentative result for which no rule outside intake and reporting holds is unproven."""
    for place, (key, row, entry) in enumerate(zip(keys, rows, entries, strict=True)):
        if place in later or row["kind"] not in ("target", "tentative"):
            continue
        speaking = {finding.rule for finding in entry.own}
        if not any(rule in shipped and rule not in speaking and (rule, key) not in silent for rule in JUDGES):
            entry.own.append(Finding("result-judged", "results", key, "unproven", UNPROVEN))
