"""The dictionary of checks: every kind of computation that a rule may ask for.

A check is a pure function of a rule and the evidence: no files, no clock, no screen. To add one, write one file with
a `run` function and its `OPTIONS`, and one line below.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

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


#: Every check, by the word that rule files use.
CHECKS: dict[str, CheckSpec] = {}
