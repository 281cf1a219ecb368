"""Cutbank Terminal: moves of the tips, blanks over them, and duplicates."""

from __future__ import annotations

from chemistry import CHLOROFORM, TCE, TOLUENE
from faults import NOTE, UNPROVEN, Fault, Finding, Reach
from paper import Folder, minutes
from planting import (
    J_UJ,
    absent,
    carried_over,
    cleaning_before,
    fault,
    leave_uncleaned,
    result_key,
    tainted_by_blank,
    targets,
    unproven,
    use_of,
    whole,
)  # fmt: skip
from site_plan import shift

BENZENE, CIS, ETHYLBENZENE, XYLENES = "71-43-2", "156-59-2", "100-41-4", "179601-23-1"
PAIRS_GIVEN: dict[tuple[str, str], float | None] = {
    ("CT-A05", TCE): 95.0, ("CT-A05D", TCE): 41.0, ("CT-A05", CIS): 4.1, ("CT-A05D", CIS): 7.9,
    ("CT-A05", TOLUENE): 14.0, ("CT-A05D", TOLUENE): None, ("CT-A05", BENZENE): 2.6, ("CT-A05D", BENZENE): None,
    ("CT-A05", XYLENES): 60.0, ("CT-A05D", XYLENES): 100.0, ("CT-A05", CHLOROFORM): 6.0,
    ("CT-A05D", CHLOROFORM): 6.3, ("CT-A05", ETHYLBENZENE): 5.2, ("CT-A05D", ETHYLBENZENE): 5.5,
    ("CT-A24", TCE): 5200.0, ("CT-A24D", TCE): 5350.0, ("CT-A28", TCE): 44.0, ("CT-EB2", TOLUENE): 3.9,
}  # fmt: skip
UNDER_THE_BLANK = ("CT-A06", "CT-A09", "CT-A13", "CT-A16", "CT-A20", "CT-A23")


def moved(probe: str, outcome: str, letters: tuple[str, str], sample: str, folder: Folder) -> Finding:
    """A move of a tip, on its later use."""
    event = use_of(folder, probe)["event_id"]
    return Finding("clean-between-locations", "equipment_log", event, outcome, letters, whole(sample))


def date_only(folder: Folder) -> None:
    """The cleaning between two uses of one day shows only the day."""
    row = cleaning_before(folder, "P-B23")
    row["at"] = row["at"][:10]


def blank_event(folder: Folder) -> str:
    """Key of the dirty blank in the log."""
    return folder.one("equipment_log", sample_id="CT-EB2")["event_id"]


def without_method(folder: Folder) -> None:
    """Two cleanings, one without its method, one left wet."""
    cleaning_before(folder, "P-B07")["cleaning_method"] = ""
    cleaning_before(folder, "P-B08")["dried"] = "no"


def methods_missing(folder: Folder) -> list[Finding]:
    """A note on each."""
    first, second = (cleaning_before(folder, probe)["event_id"] for probe in ("P-B07", "P-B08"))
    return [
        Finding("cleaning-method", "equipment_log", first, "unproven", NOTE),
        Finding("cleaning-method", "equipment_log", second, "broken", NOTE),
    ]


MOVES: tuple[Fault, ...] = (
    Fault(
        "Tip TA-1 went from CT-A12 to CT-A15 without a cleaning. Nothing at A15 is as little as 1 % of what was "
        "at A12.",
        leave_uncleaned("P-A15"),
        lambda f: [
            moved("P-A15", "broken", ("J+", "-"), "CT-A15", f), *carried_over(f, "CT-A15", ("CT-A12", "CT-A12D")),
        ],
    ),
    Fault(
        "Tip TA-3 went from CT-A24 to CT-A28 without a cleaning. The trichloroethene at A28 is under 1 % of that at "
        "A24 and may be nothing but what the tip brought; the rest is more than that.",
        leave_uncleaned("P-A28"),
        lambda f: [
            moved("P-A28", "broken", ("J+", "-"), "CT-A28", f), *carried_over(f, "CT-A28", ("CT-A24", "CT-A24D")),
        ],
    ),
    Fault(
        "The cleaning of tip TB-2 between CT-B20 and CT-B23, both of 31 October, shows only that date: it may have "
        "been before both, between or after.",
        date_only, lambda f: [moved("P-B23", "unproven", UNPROVEN, "CT-B23", f)],
    ),
    Fault(
        "CT-B24 was drawn from a second probe at location L-B21 with the tip of the first, not cleaned between.",
        leave_uncleaned("P-B24"), lambda f: [moved("P-B24", "broken", NOTE, "CT-B24", f)],
    ),
    Fault(
        "The equipment blank CT-EB2 over tip TA-2 found toluene; CT-EB1 before it and CT-EB3 after it were clean. What "
        "TA-2 touched between them is tainted for toluene.",
        lambda _: None,
        lambda f: tainted_by_blank(f, blank_event(f), "CT-EB2", TOLUENE, UNDER_THE_BLANK),
    ),
    fault(
        "No equipment blank was drawn on 30 October.", lambda _: None,
        Finding("equipment-blank-frequency", "equipment_log", "*:2024-10-30", "broken", NOTE),
    ),
    Fault("One cleaning does not say how, another left the tip wet.", without_method, methods_missing),
)  # fmt: skip


def spoil_pair(folder: Folder) -> None:
    """The parent lacks an analyte, and neither member has a limit for another."""
    folder.drop("results", sample_id="CT-A05", cas=ETHYLBENZENE)
    for sample in ("CT-A05", "CT-A05D"):
        row = next(row for _, row in targets(folder, sample) if row["cas"] == CHLOROFORM)
        row |= {"reporting_limit": "", "limit_of_detection": "", "detection_limit": ""}


def disagreeing(folder: Folder) -> list[Finding]:
    """Both rows of each pair."""
    found = []
    for cas in (TCE, CIS, TOLUENE, CHLOROFORM):
        outcome, letters = ("unproven", UNPROVEN) if cas == CHLOROFORM else ("broken", J_UJ)
        for sample in ("CT-A05", "CT-A05D"):
            found.append(Finding("duplicate-agreement", "results", result_key(folder, sample, cas), outcome, letters))
    found.append(
        Finding("duplicate-parent", "results", result_key(folder, "CT-A05D", ETHYLBENZENE), "broken", UNPROVEN)
    )
    found.append(Finding("analytes-complete", "samples", "CT-A05", "broken", NOTE))
    return found


def own_tests(folder: Folder, number: str, twin: str, later: int) -> None:
    """Tests of its own for a duplicate."""
    for table, prefix, key in (
        ("shut_in_tests", "SI", "test_id"), ("tracer_tests", "TT", "test_id"), ("purges", "PU", "purge_id"),
    ):  # fmt: skip
        row = dict(folder.one(table, **{key: f"{prefix}-{number}"}))
        for name in ("started_at", "ended_at", "at"):
            if name in row:
                row[name] = shift(row[name], minutes(later))
        folder.sheets[table].rows.append(row | {key: f"{prefix}-{twin}", "sample_id": f"CT-{twin}"})


def orphan(folder: Folder) -> None:
    """A duplicate that names nobody."""
    folder.one("samples", sample_id="CT-A12D")["parent_sample_id"] = ""
    own_tests(folder, "A12", "A12D", 0)


def draw_later(folder: Folder) -> None:
    """The second canister was opened when the first was closed."""
    own_tests(folder, "A24", "A24D", 17)
    row = folder.one("samples", sample_id="CT-A24D")
    row |= {name: shift(row[name], minutes(17)) for name in ("started_at", "ended_at")}
    probe = folder.one("probes", probe_id="P-A24")
    probe["removed_at"] = shift(probe["removed_at"], minutes(17))


def drawn_later(folder: Folder) -> list[Finding]:
    """Both rows of every pair of the two samples."""
    return [
        Finding("duplicate-kind", "results", key, "broken", NOTE)
        for sample in ("CT-A24", "CT-A24D") for key, _ in targets(folder, sample)
    ]  # fmt: skip


def tie_three(folder: Folder) -> None:
    """Three rows under one pair number."""
    for sample in ("CT-A01", "CT-A09", "CT-A12"):
        next(row for _, row in targets(folder, sample) if row["cas"] == BENZENE)["pair_id"] = "Q-1"


def spread(folder: Folder) -> None:
    """The laboratory's own repeat of trichloroethene is half as much again."""
    row = folder.one("lab_qc", qc_id=f"LD-V3-{TCE}")
    first = float(next(r["result"] for _, r in targets(folder, row["sample_id"]) if r["cas"] == TCE))
    second = float(f"{first * 1.5:.3g}")
    row |= {"result": f"{second:.0f}", "rpd": f"{200 * (second - first) / (second + first):.1f}"}


PAIRS: tuple[Fault, ...] = (
    Fault(
        "CT-A05 and its duplicate: trichloroethene differs by 79 %, cis-1,2-dichloroethene by more than the limit near "
        "the limit, toluene is there in one only and far over the other's limit, chloroform has no limits to be judged "
        "by. Benzene, within one limit, and the xylenes, at exactly 50 %, agree. The parent lacks ethylbenzene.",
        spoil_pair, disagreeing,
    ),
    fault(
        "The duplicate CT-A12D names no parent.", orphan,
        absent("duplicate-parent", "CT-A12D", *whole("CT-A12D")),
    ),
    fault(
        "Delivery group LA-4472 has no duplicate.", lambda _: None,
        Finding("duplicate-frequency", "samples", "*:LA-4472", "broken", NOTE),
    ),
    Fault(
        "CT-A24D is called a duplicate but was drawn after its parent.", draw_later, drawn_later,
        "It was tested on its own.",
    ),
    Fault(
        "Three results for benzene carry one pair number.", tie_three,
        lambda f: [
            unproven("duplicate-agreement", "results", result_key(f, sample, BENZENE))
            for sample in ("CT-A01", "CT-A09", "CT-A12")
        ],
    ),
    fault(
        "The laboratory's duplicate of trichloroethene in batch V3 differs by 40 %.", spread,
        Finding(
            "laboratory-duplicate-agreement", "lab_qc", f"LD-V3-{TCE}", "broken", ("J", "-"),
            (Reach(laboratory="Laboratory A", batch="V3", cas=(TCE,)),),
        ),
    ),
)  # fmt: skip
