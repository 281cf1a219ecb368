"""Small words for planting: where a row is, what it reaches, what happens on each result of a sample."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from faults import UNPROVEN, Fault, Finding, Reach
from paper import Folder, Row

Letters = tuple[str, str]
Plant = Callable[[Folder], object]
J_UJ, LOW, REJECTED = ("J", "UJ"), ("J-", "UJ"), ("R", "R")


def whole(sample: str, spared: str = "") -> tuple[Reach, ...]:
    """Everything that was asked of a sample."""
    return (Reach(sample=sample, spared=spared),)


def change(table: str, key: dict[str, str], **cells: str) -> Plant:
    """Write other texts into one row."""

    def plant(folder: Folder) -> None:
        folder.one(table, **key).update(cells)

    return plant


def fault(story: str, plant: Callable[[Folder], object], *findings: Finding, consequence: str = "") -> Fault:
    """A fault whose findings can be written down without looking at the rows."""
    return Fault(story, plant, lambda _: findings, consequence)


def targets(folder: Folder, sample: str, method: str = "") -> Iterator[tuple[str, Row]]:
    """Key and row of each target result of a sample, by one method where it is named."""
    for key, row in zip(folder.keys("results"), folder.sheets["results"].rows, strict=True):
        if row["sample_id"] == sample and row["kind"] == "target" and method in ("", row["method"]):
            yield key, row


def result_key(folder: Folder, sample: str, cas: str) -> str:
    """Key of the first result of an analyte in a sample."""
    return next(key for key, row in targets(folder, sample) if row["cas"] == cas)


def each(rule: str, outcome: str, letters: Letters, keys: Iterable[str]) -> list[Finding]:
    """The same finding on each of these results."""
    return [Finding(rule, "results", key, outcome, letters) for key in keys]


def on_samples(
    rules: Iterable[tuple[str, str, Letters]], sample: str, method: str = "", cas: Iterable[str] = ()
) -> Callable[[Folder], list[Finding]]:  # fmt: skip
    """Findings on every target result of a sample (of one method, of these analytes)."""

    def findings(folder: Folder) -> list[Finding]:
        wanted = set(cas)
        keys = [key for key, row in targets(folder, sample, method) if not wanted or row["cas"] in wanted]
        return [f for rule, outcome, letters in rules for f in each(rule, outcome, letters, keys)]

    return findings


def use_of(folder: Folder, probe: str) -> Row:
    """The log's use of a tip at a probe."""
    return folder.one("equipment_log", probe_id=probe, event="used")


def cleaning_before(folder: Folder, probe: str) -> Row:
    """The last cleaning of a probe's tip before that probe was driven."""
    tip, installed = (folder.one("probes", probe_id=probe)[name] for name in ("tip_id", "installed_at"))
    washed = [r for r in folder.rows("equipment_log", equipment_id=tip, event="cleaned") if r["at"] < installed]
    return max(washed, key=lambda r: r["at"])


def leave_uncleaned(probe: str) -> Callable[[Folder], None]:
    """Take the last cleaning before a use out of the log."""
    return lambda folder: folder.sheets["equipment_log"].rows.remove(cleaning_before(folder, probe))


def is_detect(row: Row) -> bool:
    """A number without a mark of nondetection."""
    return row["result"][:1].isdigit() and row.get("lab_flag", "") != "U"


def carried_over(folder: Folder, sample: str, last: Iterable[str]) -> list[Finding]:
    """Detects of a sample that are at most 1 % of the highest detect of that analyte at the last location."""
    highest: dict[tuple[str, str], float] = {}
    for before in last:
        for _, row in targets(folder, before):
            if is_detect(row):
                analyte = row["cas"], row["unit"]
                highest[analyte] = max(highest.get(analyte, 0.0), float(row["result"]))
    found = []
    for key, row in targets(folder, sample):
        top = highest.get((row["cas"], row["unit"]), 0.0)
        if is_detect(row) and float(row["result"]) <= 0.01 * top * (1 + 1e-9):
            found.append(Finding("carry-over", "results", key, "broken", ("R", "-")))
    return found


def tainted_by_blank(
    folder: Folder, event: str, blank: str, cas: str, samples: Iterable[str]
) -> list[Finding]:  # fmt: skip
    """A dirty gas blank by the scheme `five-times`: over 5 B none; at most LOD, else limit: U there; else J+."""
    in_blank = float(next(row for _, row in targets(folder, blank) if row["cas"] == cas)["result"])
    reaches = []
    for sample in samples:
        for key, row in targets(folder, sample):
            if row["cas"] != cas or not is_detect(row) or float(row["result"]) > 5 * in_blank * (1 + 1e-9):
                continue
            limit = row["limit_of_detection"] or row["reporting_limit"]
            under = float(row["result"]) <= float(limit)
            letters = ("U", "-") if under else ("J+", "-")
            reaches.append(Reach(keys=(key,), letters=letters, limit=limit if under else ""))
    return [Finding("equipment-blank-clean", "equipment_log", event, "broken", ("J+", "-"), tuple(reaches))]


def absent(rule: str, sample: str, *reaches: Reach) -> Finding:
    """A test or purge that the sample does not have, in a folder that has the form: the rule is broken, unproven."""
    return Finding(rule, "samples", sample, "broken", UNPROVEN, reaches)


def unproven(rule: str, table: str, key: str, *reaches: Reach) -> Finding:
    """Evidence that is missing or cannot be read."""
    return Finding(rule, table, key, "unproven", UNPROVEN, reaches)
