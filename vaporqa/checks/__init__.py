"""The dictionary of checks: every kind of computation that a rule may ask for.

A check is a pure function of a rule and the evidence: no files, no clock, no screen. To add one, write one file with
a `run` function and its `OPTIONS`, and one line below.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from vaporqa.checks import (
    agreement,
    blank,
    bound,
    calibration,
    canister_held,
    confirmed,
    consistent,
    custody_chain,
    elapsed,
    equipment_blank,
    flagged,
    forms,
    frequency,
    identity,
    inside,
    laboratory_pair,
    moves,
    order,
    parents,
    rain_wait,
    reading,
    rechecked,
    recovery,
    run_in_use,
    same_identity,
    sensitivity,
    stated,
    suits,
    together,
    tune_clock,
)
from vaporqa.criteria import Rule
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Judged


@dataclass(frozen=True, slots=True)
class CheckSpec:
    """One kind of computation.

    Attributes
    ----------
    name : str
        The word that rule files use.
    about : str
        One sentence for the documentation of rule files.
    run : callable
        ``run(rule, evidence) -> tuple of Judged``, one for each table on whose rows it speaks.
    measured : bool
        The rule must name a `measure`.
    options : mapping
        Further keys of the rule that this check understands, with what each means.
    facts : tuple of str
        Placeholders that its sentences may use besides those of the measure and the common ones.
    numeric : bool
        It holds a measured number against its limits (so that limits are nudged in tests).
    dimension : str
        Dimension of its limits, where the check and not a measure decides.
    """

    name: str
    about: str
    run: Callable[[Rule, Evidence], tuple[Judged, ...]]
    measured: bool = False
    options: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    facts: tuple[str, ...] = ()
    numeric: bool = True
    dimension: str = ""


_ALL = (
    CheckSpec("bound", "One measured quantity held against the limits of the rule.", bound.run, True, bound.OPTIONS),
    CheckSpec(
        "elapsed", "Time between two stamps against limits by matrix, container, preservation and class.",
        elapsed.run, False, elapsed.OPTIONS,
        ("analyte", "container", "from", "to", "to_in_the_field", "allowed", "exempt", "candidates"), True, "ratio",
    ),
    CheckSpec(
        "order", "Stamps of one row that must follow each other.", order.run, False, order.OPTIONS,
        ("earlier", "later", "dates", "candidates", "analyte"), False,
    ),
    CheckSpec(
        "agreement", "Two results that should be the same gas twice.", agreement.run, False, agreement.OPTIONS,
        ("analyte", "result", "other_result", "status", "other_status", "other", "higher_limit", "rpd"), True, "ratio",
    ),
    CheckSpec(
        "laboratory_pair", "A laboratory duplicate against its parent.", laboratory_pair.run, False,
        laboratory_pair.OPTIONS, ("analyte", "result", "other_result"), True, "ratio",
    ),
    CheckSpec(
        "parents", "A duplicate names its parent, and the parent has the analyte.", parents.run, False,
        parents.OPTIONS, ("named", "analyte"), False,
    ),
    CheckSpec(
        "frequency", "Enough quality-control samples of one kind for what they stand for.", frequency.run, False,
        frequency.OPTIONS, ("found", "due", "group", "served"), True, "ratio",
    ),
    CheckSpec(
        "moves", "Equipment cleaned between its use at one location and at the next.", moves.run, False,
        moves.OPTIONS, ("equipment", "here", "last", "used", "last_used", "assumed"), False,
    ),
    CheckSpec(
        "blank", "Blanks beside a result, by the blank scheme in force.", blank.run, False, blank.OPTIONS,
        ("analyte", "blank", "found", "result", "at", "scheme"), False, "words",
    ),
    CheckSpec(
        "equipment_blank", "Blanks of reusable equipment, by the blank scheme in force.", equipment_blank.run, False,
        equipment_blank.OPTIONS, ("equipment", "found", "medium", "at"), False,
    ),
    CheckSpec(
        "recovery", "Recoveries against the laboratory's printed limits, else the default.", recovery.run, False,
        recovery.OPTIONS, ("analyte", "recovery", "printed_low", "printed_high", "flag"), True, "percent",
    ),
    CheckSpec(
        "calibration", "Calibrations and their check standards, numbers before the laboratory's word.", calibration.run,
        False, calibration.OPTIONS, ("analyte", "laboratory_says", "rsd", "stated", "off"), True, "percent",
    ),
    CheckSpec(
        "tune_clock", "Analysis within the window after a tune that passed.", tune_clock.run, False,
        tune_clock.OPTIONS, ("analyte", "tune", "from", "to"), True, "duration",
    ),
    CheckSpec(
        "stated", "Cells that must be filled, and yes/no cells that must say yes.", stated.run, False, stated.OPTIONS,
        ("denied",), False,
    ),
    CheckSpec(
        "together", "Duplicates drawn at the same time, replicates one after the other, as labelled.", together.run,
        False, together.OPTIONS, ("sample", "parent", "analyte"), False,
    ),
    CheckSpec(
        "reading", "What reading the tables found, cell by cell.", reading.run, False, reading.OPTIONS,
        ("column", "detail", "cell"), False,
    ),
    CheckSpec(
        "suits", "A word of a row against what it must be, for the words or analytes it is meant for.", suits.run,
        False, suits.OPTIONS, ("found", "analyte", "class"), False,
    ),
    CheckSpec(
        "rain_wait", "Time from the latest day of heavy rain to sampling.", rain_wait.run, False, rain_wait.OPTIONS,
        ("rain", "ended"), True, "duration",
    ),
    CheckSpec(
        "canister_held", "Outside air that a canister let in on its way, by absolute pressure.", canister_held.run,
        False, canister_held.OPTIONS, ("end_pressure", "receipt_pressure", "change"), True, "ratio",
    ),
    CheckSpec(
        "confirmed", "A share of the high readings confirmed by another meter or the laboratory.", confirmed.run, False,
        confirmed.OPTIONS, ("high", "hits", "confirmed"), True, "ratio",
    ),
    CheckSpec(
        "rechecked", "A high reading read again within days, with what could explain it looked at.", rechecked.run,
        False, rechecked.OPTIONS, ("place", "lacking"), True, "duration",
    ),
    CheckSpec(
        "custody_chain", "Custody records of a sample follow each other, hand to hand.", custody_chain.run, False,
        custody_chain.OPTIONS, ("what", "when", "earlier", "earlier_when", "receiver", "releaser"), False,
    ),
    CheckSpec(
        "same_identity", "Ids on a sample's form and on its custody records are the same.", same_identity.run, False,
        same_identity.OPTIONS, ("what", "on_custody", "on_sample"), False,
    ),
    CheckSpec(
        "inside", "A collection time lies between the start and the end of its sample.", inside.run, False,
        inside.OPTIONS, ("analyte", "collected", "side", "edge"), False,
    ),
    CheckSpec(
        "run_in_use", "Which of several runs counts, and what stands behind a value over range.", run_in_use.run, False,
        run_in_use.OPTIONS, ("analyte", "other", "why", "result"), False,
    ),
    CheckSpec(
        "sensitivity", "The limit of a nondetect against the screening level.", sensitivity.run, False,
        sensitivity.OPTIONS, ("analyte", "ceiling", "level"), True, "ratio",
    ),
    CheckSpec(
        "forms", "A number by mass and the same number by volume.", forms.run, False, forms.OPTIONS,
        ("subject", "mass", "volume", "expected", "hint"), True, "ratio",
    ),
    CheckSpec(
        "identity", "The CAS number is one, and the name belongs to it.", identity.run, False, identity.OPTIONS,
        ("cas", "name", "meant"), False,
    ),
    CheckSpec(
        "consistent", "Result, status, flags and limits of one row agree.", consistent.run, False, consistent.OPTIONS,
        ("analyte", "result", "beside", "reporting_limit", "detection_limit", "limit_of_detection"), False,
    ),
    CheckSpec(
        "flagged", "Results of a kind, or with a flag of the laboratory that means something.", flagged.run, False,
        flagged.OPTIONS, ("analyte", "meaning", "flag"), False,
    ),
)  # fmt: skip

#: Every check, by the word that rule files use.
CHECKS: dict[str, CheckSpec] = {spec.name: spec for spec in _ALL}
