"""One sample with a leak test, four results and their method blanks: what each is worth follows from the written rules.

Helium in the train at 1.6 of 20 %v is 8 % where at most 5 % passes: J- / UJ on every result of the sample. By the
five-times scheme benzene (12.5 beside a blank of 4) leaves as J+, and tetrachloroethene (0.4, at most the limit of
detection of 0.5) becomes a nondetect at 0.5.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from vaporqa.intake import tables_from_text
from vaporqa.judging import Decision, Weighed, decide
from vaporqa.outcomes import Standing
from vaporqa.review import review_folder
from vaporqa.review.values import Review
from vaporqa.rulebook import load_rulebook
from vaporqa.rulebook.judgement_file import NO_JUDGEMENTS, Judgement, Judgements
from vaporqa.settling import QUALIFIERS
from vaporqa.tables.project import Project
from vaporqa.tables.values import Tables

BOOK = load_rulebook()
KEPT = ("intake", "reporting", "leak_tracer", "holding_times", "blanks")
PROJECT = Project(
    time_zone="UTC", lab_time_zone="UTC",
    leave_out={topic: "not of this test" for topic in BOOK.topics if topic not in KEPT},
)  # fmt: skip
DAY = dt.date(2026, 3, 9)
LEAK = "leak-tracer-recovery/tracer_tests/T1"
BENZENE, TOLUENE, TCE, PCE = ("S1/71-43-2/TO-15", "S1/108-88-3/TO-15", "S1/79-01-6/TO-15", "S1/127-18-4/TO-15")
_NAMES = {
    "71-43-2": "Benzene",
    "108-88-3": "Toluene",
    "79-01-6": "Trichloroethene",
    "127-18-4": "Tetrachloroethene",
    "100-41-4": "Ethylbenzene",
}
_BLANKS = {"71-43-2": "4", "108-88-3": "<1.0", "79-01-6": "<1.0", "127-18-4": "4"}
Cells = dict[str, str]


def made(*, train: str = "1.6 %v", results: dict[str, str] | None = None, **cells: str) -> Tables:
    """Return the tables; `train` is the tracer in the train, `results` replaces single results by CAS number."""
    written = {"71-43-2": "12.5", "108-88-3": "<1.0", "79-01-6": "10.5", "127-18-4": "0.4", **(results or {})}
    both = {"batch_id": "B1", "laboratory": "Laboratory A", "method": "TO-15", "unit": "ug/m3"}
    both |= {"reporting_limit": "1.0"}
    rows = [
        {"sample_id": "S1", "cas": cas, "analyte": _NAMES[cas], "result": text, "lab_sample_id": "L1",
         "received_at": "2025-05-07 09:00", "analyzed_at": "2025-05-08 09:00", **both,
         "limit_of_detection": "0.5", **cells}
        for cas, text in written.items()
    ]  # fmt: skip
    blanks = [
        {"qc_id": f"Q{number}", "kind": "method_blank", "cas": cas, "analyte": _NAMES[cas], "result": text, **both}
        for number, (cas, text) in enumerate(_BLANKS.items())
    ]
    sample = {"sample_id": "S1", "kind": "primary", "matrix": "soil_gas", "container": "canister", "probe_id": "P1"}
    sample |= {"started_at": "2025-05-06 09:00", "ended_at": "2025-05-06 09:30"}
    test = {"test_id": "T1", "sample_id": "S1", "at": "2025-05-06 08:45", "approach": "shroud", "tracer": "Helium"}
    test |= {"shroud_low": "20 %v", "train_reading": train, "train_detected": "yes"}
    return tables_from_text(
        {"samples": [sample], "results": rows, "tracer_tests": [test], "lab_qc": blanks}, PROJECT
    )  # fmt: skip


def weighed(
    tables: Tables, finding: str, effect: str, detect: str = "", nondetect: str = "",
    standing: Judgements = NO_JUDGEMENTS, *, replaces: bool = False,
) -> Weighed:  # fmt: skip
    decision = Decision(finding, effect, "reviewer A", "The field notes say so.", DAY, detect, nondetect, replaces)
    return decide(decision, PROJECT, tables, BOOK, standing)


def reviewed(tables: Tables, judgements: Sequence[Judgement] = ()) -> Review:
    return review_folder(PROJECT, tables, BOOK, Judgements(tuple(judgements)))


def worth(review: Review) -> dict[str, str]:
    """Key of each result to its standing and qualifier: ``estimated J-``."""
    settled, keys = review.settled["results"], review.tables.tables["results"].keys
    return {
        str(key): f"{Standing(int(standing)).word} {QUALIFIERS[int(letter)]}".strip()
        for key, standing, letter in zip(keys, settled.standing, settled.qualifier, strict=True)
    }


def ids(review: Review) -> list[str]:
    return [str(one) for one in review.findings.id]


def index(review: Review, finding: str) -> int:
    return int(np.flatnonzero(review.findings.id == finding)[0])
