"""What a planted fault is: what was done to the folder, and which findings it must cause, written down beforehand."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from paper import Folder

UNPROVEN = ("unproven", "unproven")
NOTE = ("note", "note")
#: Rule ids in the order of the rulebook; of the findings without a limit the one on times of collection stands with
#: reporting, whose table it is on, and the last at the end.
RULE_ORDER = (
    "readable-number", "readable-time", "known-word", "known-unit", "known-flag", "one-value-a-key", "required-filled",
    "keys-meet", "duplicate-rows", "local-time-exists", "units-as-declared",
    "equilibration-time", "probe-depth", "above-water", "tip-opened", "tubing-reaches-tip", "tubing-tail",
    "stick-up-clearance", "interval-matches-retraction", "joints-tight", "tubing-material", "tubing-new",
    "dedicated-point-single-use", "replacement-distance", "depth-plausible",
    "shut-in-vacuum", "shut-in-hold", "shut-in-decay", "shut-in-order", "shut-in-done",
    "leak-tracer-recovery", "leak-tracer-undetected", "shroud-concentration", "leak-test-done",
    "cloth-tracer-recovery", "cloth-tracer-reported", "tracer-not-a-target", "tracer-meter-interference",
    "purge-volumes", "purge-flow", "purge-vacuum", "purge-arithmetic", "purge-to-sample", "purge-done", "over-purge",
    "sampling-flow", "sampling-vacuum", "canister-start", "canister-end", "canister-held", "canister-fill",
    "water-in-train", "container-suits", "sampling-order", "rain-wait", "suction-present", "readings-chain",
    "clean-between-locations", "carry-over", "equipment-blank-clean", "equipment-blank-frequency", "cleaning-method",
    "instrument-checked", "instrument-drift", "gas-balance", "looks-like-outside-air", "combustion-meter-oxygen",
    "methane-confirmed", "exceedance-rechecked",
    "custody-order", "custody-unbroken", "identities-match", "seal-intact", "storage-temperature", "custody-done",
    "holding-time", "holding-time-gross", "dates-in-order", "holding-time-left",
    "method-blank", "container-blank", "trip-blank", "material-blank", "container-certified", "blank-units",
    "surrogate-recovery", "surrogate-diluted-out", "control-sample-recovery", "control-sample-precision",
    "internal-standard-area", "surrogate-flag-agrees",
    "tune-clock", "initial-calibration", "calibration-check", "second-source-check", "response-factor",
    "duplicate-agreement", "duplicate-parent", "duplicate-frequency", "duplicate-kind",
    "laboratory-duplicate-agreement",
    "collection-time-agrees",
    "below-reporting-limit", "over-range", "one-value-in-use", "sensitivity", "limit-follows-dilution", "forms-agree",
    "cas-number", "analyte-name", "result-consistent", "analytes-complete", "parts-and-totals", "tentative",
    "laboratory-flag", "result-judged",
)  # fmt: skip


@dataclass(frozen=True)
class Reach:
    """Results that a finding taints: those that meet every part that is given.

    Attributes
    ----------
    sample : str
        Target and tentative results of this sample.
    laboratory, batch : str
        Of this batch.
    cas : tuple of str
        Of these analytes; empty is all.
    spared : str
        CAS number that is not tainted (a tracer's own row).
    keys : tuple of str
        These results and no others.
    letters : tuple of str
        In place of the finding's own pair, where a scheme gives each result its own.
    limit : str
        Limit at which a U by a blank stands.
    """

    sample: str = ""
    laboratory: str = ""
    batch: str = ""
    cas: tuple[str, ...] = ()
    spared: str = ""
    keys: tuple[str, ...] = ()
    letters: tuple[str, str] | None = None
    limit: str = ""


@dataclass(frozen=True)
class Finding:
    """One outcome worth reporting, as it must come out.

    Attributes
    ----------
    outcome : str
        `broken` or `unproven`.
    letters : tuple of str
        For a detect and for a nondetect: a qualifier, `-`, `note` or `unproven`.
    air_let_in : bool
        Outside air is the reason: oxygen and nitrogen take the opposite bias.
    named : tuple of str
        Rows of its own table that a finding on the whole table (key `*`) reaches.
    limit : str
        Limit at which a U by a blank stands, where the finding is on the result itself.
    """

    rule: str
    table: str
    key: str
    outcome: str
    letters: tuple[str, str]
    reaches: tuple[Reach, ...] = ()
    air_let_in: bool = False
    named: tuple[str, ...] = ()
    limit: str = ""


@dataclass(frozen=True)
class Fault:
    """One planted fault: its story, what it does to the folder, and the findings that it must cause.

    Attributes
    ----------
    unconcerned : callable
        (rule, key of a result) that fall silent.
    not_in_use : callable
        (key of a run, key of the run that counts for it); the second is empty where nothing decides between them.
    """

    story: str
    plant: Callable[[Folder], object]
    findings: Callable[[Folder], Iterable[Finding]]
    consequence: str = ""
    unconcerned: Callable[[Folder], Iterable[tuple[str, str]]] = lambda _: ()
    not_in_use: Callable[[Folder], Iterable[tuple[str, str]]] = lambda _: ()


def cited(fault: Fault, folder: Folder) -> str:
    """Rules of a fault with their letters, as the list in a README shows them."""
    lines: dict[str, None] = {}
    for f in fault.findings(folder):
        letters = " / ".join(f.letters) if f.letters[0] != f.letters[1] else f.letters[0]
        named = {r.letters for r in f.reaches if r.letters}
        if named:
            letters += " (" + ", ".join(sorted(" / ".join(pair) for pair in named)) + ")"
        lines[f"`{f.rule}` on {f.table}: {letters}"] = None
    return "; ".join(lines) or "nothing: this must hold"


def numbered(faults: Iterable[Fault], folder: Folder) -> str:
    """The numbered list of a README."""
    items = []
    for number, fault in enumerate(faults, 1):
        after = f" {fault.consequence}" if fault.consequence else ""
        items.append(f"{number}. {fault.story}\n   {cited(fault, folder)}.{after}\n")
    return "".join(items)
