"""Cutbank Terminal: what reading the tables finds."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from chemistry import TOLUENE
from faults import NOTE, UNPROVEN, Fault, Finding, Reach
from paper import Folder
from planting import absent, change, each, fault, result_key, targets, unproven, whole

ACETONE, BENZENE, HEXANE, DIBROMOETHANE = "67-64-1", "71-43-2", "110-54-3", "106-93-4"
BLANKS = ("method-blank", "container-blank", "material-blank")


#: Rules that can only note something: for them an unreadable cell is a note as well.
NOTE_ONLY = ("sensitivity",)


def on_result(
    sample: str, cas: str, rules: tuple[str, ...], **cells: str
) -> tuple[Callable[[Folder], None], Callable[[Folder], list[Finding]]]:
    """Spoil one result; each of `rules` is then unproven there."""

    def plant(folder: Folder) -> None:
        next(row for _, row in targets(folder, sample) if row["cas"] == cas).update(cells)

    def findings(folder: Folder) -> list[Finding]:
        key = result_key(folder, sample, cas)
        return [
            Finding(rule, "results", key, "unproven", NOTE) if rule in NOTE_ONLY else unproven(rule, "results", key)
            for rule in rules
        ]

    return plant, findings


def mistype_sample(folder: Folder) -> None:
    """One row of one run under a sample number that nobody drew."""
    next(row for _, row in targets(folder, "CT-A12") if row["cas"] == DIBROMOETHANE)["sample_id"] = "CT-A1Z"


def stray_row(folder: Folder) -> list[Finding]:
    """What that row then lacks."""
    key = next(key for key, _ in targets(folder, "CT-A1Z"))
    rules = ("keys-meet", "holding-time", "dates-in-order")
    return [
        *(unproven(rule, "results", key) for rule in rules),
        *each("container-blank", "unproven", NOTE, [key]), *each("material-blank", "unproven", NOTE, [key]),
        Finding("analytes-complete", "samples", "CT-A12", "broken", NOTE),
    ]  # fmt: skip


def flag(folder: Folder) -> None:
    """A flag that no list explains."""
    for row in flagged(folder):
        row["lab_flag"] = "S"


def flagged(folder: Folder) -> Iterator[dict[str, str]]:
    """Three detects of one sample."""
    wanted = (BENZENE, HEXANE, "79-01-6")
    return (row for _, row in targets(folder, "CT-A09") if row["cas"] in wanted)


def flag_findings(folder: Folder) -> list[Finding]:
    """One finding for the letter; it reaches the rows that carry it."""
    keys = tuple(key for key, row in targets(folder, "CT-A09") if row["lab_flag"] == "S")
    return [Finding("known-flag", "results", "*:S", "unproven", UNPROVEN, (Reach(keys=keys),))]


def add_copy(table: str, name: str, key: Callable[[Folder], str]) -> Callable[[Folder], None]:
    """Append an exact later copy of a row."""

    def plant(folder: Folder) -> None:
        folder.sheets[table].rows.append(dict(folder.one(table, **{name: key(folder)})))

    return plant


def add_rival(folder: Folder) -> None:
    """A second, different tracer test under the same number."""
    row = dict(folder.one("tracer_tests", test_id="TT-A11"))
    folder.sheets["tracer_tests"].rows.append(row | {"train_reading": "0.21"})


def repeat_hour(folder: Folder) -> None:
    """The injection happened in the hour that the clocks ran through twice."""
    for row in folder.rows("results", sample_id="CT-A13", method="TO-15"):
        row["analyzed_at"] = "2024-11-03T01:30"


def repeated_hour(folder: Folder) -> list[Finding]:
    """Every row of the run; surrogates have no holding time."""
    rows = zip(folder.keys("results"), folder.sheets["results"].rows, strict=True)
    run = [(key, row["kind"]) for key, row in rows if row["sample_id"] == "CT-A13" and row["method"] == "TO-15"]
    found = each("local-time-exists", "unproven", UNPROVEN, [key for key, _ in run])
    aim = [key for key, kind in run if kind == "target"]
    for rule in ("holding-time", "holding-time-gross", "dates-in-order"):
        found += each(rule, "unproven", UNPROVEN, aim)
    return found


def untimed_cleaning(folder: Folder) -> None:
    """A second cleaning that evening, written down without its time."""
    folder.sheets["equipment_log"].add(
        event_id="E-900", equipment_id="TB-1", equipment_kind="tip", event="cleaned",
        cleaning_method="detergent, tap water, distilled water", dried="yes", by="crew B",
    )  # fmt: skip


def first_of_a09(folder: Folder) -> str:
    """A detect of a clean sample."""
    return result_key(folder, "CT-A09", "67-66-3")


INTAKE = (
    fault(
        "On the purge form of CT-A03 the highest vacuum reads `I5`: a letter for a figure.",
        change("purges", {"purge_id": "PU-A03"}, vacuum_highest="I5"),
        unproven("readable-number", "purges", "PU-A03"),
        unproven("purge-vacuum", "purges", "PU-A03", *whole("CT-A03")),
    ),
    Fault(
        "The laboratory's acetone for CT-A01 reads `2O.4`: neither a number nor a nondetect.",
        *on_result(
            "CT-A01", ACETONE,
            ("readable-number", *BLANKS, "below-reporting-limit", "sensitivity", "result-consistent"),
            result="2O.4", lab_flag="",
        ),
        "Whether acetone was detected is unknown.",
    ),
    fault(
        "The purge of CT-A04 ended at `11:4S`.",
        change("purges", {"purge_id": "PU-A04"}, ended_at="2024-10-28T11:4S"),
        unproven("readable-time", "purges", "PU-A04"),
        unproven("purge-to-sample", "purges", "PU-A04", *whole("CT-A04")),
    ),
    fault(
        "The matrix of CT-A07 was written as `soil vapour`.",
        change("samples", {"sample_id": "CT-A07"}, matrix="soil vapour"),
        unproven("known-word", "samples", "CT-A07", *whole("CT-A07")),
        consequence="The rules of sampling soil gas do not speak of CT-A07.",
    ),
    fault(
        "The kind of CT-A08 was left empty, so it is unknown.",
        change("samples", {"sample_id": "CT-A08"}, kind=""),
        unproven("known-word", "samples", "CT-A08", *whole("CT-A08")),
        consequence="The rules of sampling soil gas do not speak of CT-A08.",
    ),
    fault(
        "One meter check is of stage `mid-day`, which is not in the list; no rule needs that cell.",
        change("instrument_checks", {"check_id": "IC-009"}, stage="mid-day"),
        unproven("known-word", "instrument_checks", "IC-009"),
    ),
    Fault(
        "Hexane of CT-A01 stands in `ug/rn3`.",
        *on_result("CT-A01", HEXANE, ("known-unit", *BLANKS, "blank-units"), unit="ug/rn3"),
    ),
    Fault(
        "Toluene of CT-A12 has a number and no unit.",
        *on_result("CT-A12", TOLUENE, ("known-unit", *BLANKS, "blank-units"), unit=""),
    ),
    Fault("Three detects of CT-A09 carry a flag `S` that nobody declared.", flag, flag_findings),
    fault(
        "A cleaning of tip TB-1 was logged without its time. The tip's other cleanings are all there, so no move hangs "
        "on it.",
        untimed_cleaning,
        unproven("required-filled", "equipment_log", "E-900"),
    ),
    fault(
        "The purge of CT-A10 names `CT-A1O`, with a letter for the nought.",
        change("purges", {"purge_id": "PU-A10"}, sample_id="CT-A1O"),
        unproven("keys-meet", "purges", "PU-A10"),
        unproven("purge-volumes", "purges", "PU-A10"),
        unproven("purge-to-sample", "purges", "PU-A10"),
        absent("purge-done", "CT-A10", *whole("CT-A10")),
        consequence="CT-A10 has no purge.",
    ),
    Fault(
        "1,2-Dibromoethane of CT-A12 was reported under `CT-A1Z`, which nobody drew.", mistype_sample, stray_row,
        "Until a rule on blanks judges that row, no rule at all holds for it: `result-judged` speaks too.",
        lambda folder: [("holding-time-left", key) for key, _ in targets(folder, "CT-A1Z")],
    ),
    fault(
        "The purge of CT-A01 was entered twice, word for word.",
        add_copy("purges", "purge_id", lambda _: "PU-A01"),
        Finding("duplicate-rows", "purges", "PU-A01", "broken", NOTE),
    ),
    Fault(
        "Chloroform of CT-A09 was delivered twice, word for word.",
        add_copy("results", "result_id", first_of_a09),
        lambda folder: [Finding("duplicate-rows", "results", first_of_a09(folder), "broken", NOTE)],
    ),
    fault(
        "Two tracer tests with different readings are both called TT-A11.",
        add_rival,
        *2 * (Finding("duplicate-rows", "tracer_tests", "TT-A11", "broken", UNPROVEN, whole("CT-A11")),),
    ),
    Fault(
        "The volatile organics of CT-A13 were analysed at 01:30 on 3 November, an hour that occurred twice.",
        repeat_hour, repeated_hour,
    ),
    fault(
        "The purge form of CT-A14 shows -18 inH2O where every other row is positive.",
        change("purges", {"purge_id": "PU-A14"}, vacuum_highest="-18"),
        Finding("units-as-declared", "purges", "PU-A14", "broken", UNPROVEN),
        unproven("purge-vacuum", "purges", "PU-A14", *whole("CT-A14")),
    ),
)  # fmt: skip
