"""Changes of a rule that cannot matter, each with the reason: what `mutating` need not see noticed.

Each stands under a check, where it holds for every rule that asks for it, or under one shipped rule.
"""

from __future__ import annotations

import re

from vaporqa.criteria import Rule

_TOLD = "the check decides by itself what passes; the words only tell a person"
_NUMBER_ALONE = "the check takes the number alone and has a sense of its own"
_GATE = "it only says what another limit is for, and nothing breaks it"
_NEVER_MISSING = "its evidence is there or cannot be read, and what cannot be read is unproven whatever the rule says"
_UNREAD = "what cannot be read is unproven whatever the rule says"
_OWN_SCHEME = "no shipped scheme rejects; it serves a scheme of one's own"
_OTHER_LISTS_IT = "its case alone decides, and the rule knows the word from its other limit"
_GRAVER_SPEAKS = "where both are broken the graver one speaks, and it is the same number"
_IN_THE_WORDS = "where nothing was printed the measure is within, which the words let pass"

#: Check, the change as `mutating` words it, and why it cannot matter.
_BY_CHECK = (
    *(
        (check, r"\w+: word '.*' dropped", _TOLD)
        for check in (
            "calibration", "consistent", "custody_chain", "equipment_blank", "flagged", "identity", "inside", "moves",
            "order", "parents", "rechecked", "recovery", "run_in_use", "same_identity", "stated", "together",
            "tune_clock",
        )
    ),
    *(
        (check, r"no evidence: - / - made .*", _NEVER_MISSING)
        for check in ("confirmed", "consistent", "flagged", "forms", "inside", "parents", "run_in_use")
    ),
    ("frequency", r"(share|least): at least read as .*", _NUMBER_ALONE),
    ("forms", r"agree: at most read as .*", _NUMBER_ALONE),
    ("rain_wait", r"heavy: at least read as at most", _NUMBER_ALONE),
    ("rain_wait", r"heavy: .* for a (non)?detect made .*", _GATE),
    ("confirmed", r"high: .* for a (non)?detect made .*", _GATE),
    ("rechecked", r"exceedance: .* for a (non)?detect made .*", _GATE),
    ("reading", r"no evidence: .*", _UNREAD),
    ("blank", r"broken: R for a detect made .*|broken: - for a nondetect made .*", _OWN_SCHEME),
)  # fmt: skip

#: Shipped rule, the change, and why it cannot matter.
_BY_RULE = (
    *(
        (rule, r"broken: .*", "it finds what cannot be read, which is never broken")
        for rule in (
            "readable-number", "readable-time", "known-word", "known-unit", "known-flag", "required-filled",
            "keys-meet", "local-time-exists",
        )
    ),
    ("one-value-a-key", r"broken: .*", "an example has no table that is derived from another; whole folders show it"),
    *(
        (rule, r"no evidence: .*", _NEVER_MISSING)
        for rule in ("dedicated-point-single-use", "blank-units", "analytes-complete")
    ),
    ("cloth-tracer-recovery", r"spares tracer: no", "its reach leaves out the tracer, which is no target"),
    ("tracer-meter-interference", r"spares tracer: no", "a sample with a result of its tracer is not concerned"),
    ("water-in-train", r"\w+: word 'no' dropped", _OTHER_LISTS_IT),
    ("container-suits", r"\w+: word '.*' dropped", _OTHER_LISTS_IT),
    ("container-suits", r"heavy_compounds: when container dropped", "all else but a bag is in its words or rejected"),
    ("container-suits", r"air let in: yes", "it estimates heavy compounds alone, never oxygen or nitrogen"),
    ("instrument-checked", r"reading: when on dropped", _GRAVER_SPEAKS),
    ("instrument-drift", r"reading: when on dropped", _GRAVER_SPEAKS),
    ("instrument-checked", r"air let in: yes", "only its unproven reaches results"),
    ("instrument-drift", r"air let in: yes", "only its unproven reaches results"),
    ("holding-time", r"bag_reactive: when class: 'sulfur' dropped", "each sulfur gas of the list is reactive too"),
    ("holding-time", r"option exempt dropped", "it adds to the sentence and decides nothing"),
    ("control-sample-precision", r"printed: when limits dropped", _IN_THE_WORDS),
    ("internal-standard-area", r"printed_(low|high): when limits dropped", _IN_THE_WORDS),
    ("internal-standard-area", r"printed_high: word 'under' dropped", "an area under its window breaks a graver limit"),
)  # fmt: skip


def reason_why_not(rule: Rule, what: str) -> str:
    """Return why a change cannot matter, as `mutating` words it; empty where it can."""
    for stands, reasons in ((rule.id, _BY_RULE), (rule.check, _BY_CHECK)):
        for name, change, reason in reasons:
            if name == stands and re.fullmatch(change, what):
                return reason
    return ""
