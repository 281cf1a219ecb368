"""Cutbank Terminal: holding times. The runs themselves are timed where the laboratories' sequences are planned."""

from __future__ import annotations

from chemistry import METHANE
from faults import NOTE, UNPROVEN, Fault, Finding, Reach
from paper import Folder
from planting import LOW, Plant, on_samples, result_key, targets, unproven

LATE = ("holding-time", "broken", LOW)
GROSS = ("holding-time-gross", "broken", ("J-", "R"))
ORDER = ("dates-in-order", "broken", UNPROVEN)
THREE = ("110-82-7", "142-82-5", "74-83-9")


def as_it_is(_: Folder) -> None:
    """The sequence already runs so late."""


def stamped(sample: str, method: str = "", **cells: str) -> Plant:
    """Another stamp on every row of a sample (of one method)."""

    def plant(folder: Folder) -> None:
        for row in folder.rows("results", sample_id=sample):
            if method in ("", row["method"]):
                row.update(cells)

    return plant


def three_without_stamp(folder: Folder) -> None:
    """Three rows without the time of analysis."""
    for _, row in targets(folder, "CT-A12"):
        if row["cas"] in THREE:
            row["analyzed_at"] = ""


def late_receipt(folder: Folder) -> None:
    """The courier kept the canister for eighteen days."""
    folder.one("custody", sample_id="CT-B12", step="2").update(
        released_at="2024-11-16T09:30-06:00", received_at="2024-11-16T09:40"
    )


def no_container(folder: Folder) -> None:
    """The form says neither what the sample was drawn into nor its number."""
    folder.one("samples", sample_id="CT-B22").update(container="", container_id="", controller_id="")


def without_container(folder: Folder) -> list[Finding]:
    """Whatever needs the container lacks it."""
    reach = Reach(sample="CT-B22")
    found = [unproven("holding-time", "results", key) for key, _ in targets(folder, "CT-B22")]
    found += [Finding("container-blank", "results", key, "unproven", NOTE) for key, _ in targets(folder, "CT-B22")]
    found += [
        unproven(rule, "samples", "CT-B22", reach) for rule in ("canister-start", "canister-end", "canister-held")
    ]
    for row in folder.rows("custody", sample_id="CT-B22"):
        for rule in ("identities-match", "storage-temperature"):
            found.append(Finding(rule, "custody", row["custody_id"], "unproven", NOTE, (reach,)))
    return found


def two_classes(folder: Folder) -> list[Finding]:
    """CT-B21: methane is late by its own day, the rest grossly so by six hours."""
    methane = result_key(folder, "CT-B21", METHANE)
    found = []
    for key, _ in targets(folder, "CT-B21"):
        for rule, outcome, letters in (LATE, GROSS):
            if rule == LATE[0] or key != methane:
                found.append(Finding(rule, "results", key, outcome, letters))
    return found


HOLDING: tuple[Fault, ...] = (
    Fault("The canister CT-B06 was analysed after 34 days.", as_it_is, on_samples((LATE,), "CT-B06")),
    Fault("The canister CT-B07 was analysed after 62 days.", as_it_is, on_samples((LATE, GROSS), "CT-B07")),
    Fault(
        "The sulfur gases of CT-B08 were analysed after 9 days; its other analytes had 30, carbon disulfide too.",
        as_it_is, on_samples((LATE,), "CT-B08", "D5504"),
    ),
    Fault(
        "The sulfur gases of CT-B09 were analysed after 15 days, more than twice their week.",
        as_it_is, on_samples((LATE, GROSS), "CT-B09", "D5504"),
    ),
    Fault(
        "The bag CT-B15 waited 7.5 hours; its methane had a day.", as_it_is, on_samples((LATE,), "CT-B15", "8260"),
    ),
    Fault(
        "The bag CT-B16 waited 13 hours; its methane had a day.",
        as_it_is, on_samples((LATE, GROSS), "CT-B16", "8260"),
    ),
    Fault("The bag CT-B21 waited 26 hours, too long for its methane as well.", as_it_is, two_classes),
    Fault("The syringe CT-B17 waited 41 minutes.", as_it_is, on_samples((LATE,), "CT-B17")),
    Fault(
        "Of the syringe CT-B18 only the date of analysis is known: it may have waited half an hour or the whole day.",
        as_it_is, on_samples((("holding-time", "unproven", UNPROVEN),), "CT-B18"),
    ),
    Fault(
        "The glass bulb CT-B20 was analysed 27 hours after its surrogate was added.",
        as_it_is, on_samples((LATE,), "CT-B20"),
    ),
    Fault("The container of CT-B22 was not written down.", no_container, without_container),
    Fault(
        "Three results of CT-A12 have no time of analysis.", three_without_stamp,
        on_samples(
            (("holding-time", "unproven", UNPROVEN), ("dates-in-order", "unproven", UNPROVEN)), "CT-A12", cas=THREE
        ),
    ),
    Fault(
        "The results of CT-B10 say received on 13 October for the 31st: two figures transposed, before it was drawn.",
        stamped("CT-B10", received_at="2024-10-13T09:40"), on_samples((ORDER,), "CT-B10"),
    ),
    Fault(
        "The volatile organics of CT-B11 say analysed on 2 October for 2 November, before the sample was drawn.",
        stamped("CT-B11", "TO-15", analyzed_at="2024-10-02T23:18"), on_samples((ORDER,), "CT-B11", "TO-15"),
        "How long it waited is then not a question: the holding-time rules are not concerned.",
        lambda folder: [
            (rule, key)
            for rule in ("holding-time", "holding-time-gross")
            for key, _ in targets(folder, "CT-B11", "TO-15")
        ],
    ),
    Fault(
        "The canister CT-B12 was received after 18 of its 30 days.",
        late_receipt, on_samples((("holding-time-left", "broken", NOTE),), "CT-B12"),
    ),
)  # fmt: skip
