"""What letters a professional judgement may give, and which it gives where none are named."""

from __future__ import annotations

from vaporqa.criteria import Rule
from vaporqa.errors import did_you_mean
from vaporqa.outcomes import LETTERS, Effect, Letter, Pair

#: Effects that a judgement may give a finding.
EFFECTS = ("note", "estimate", "unproven", "reject")
#: No `U`: it stands at a limit that a blank states, and a judgement states none.
JUDGED_DETECT = ("-", "note", "J", "J+", "J-", "NJ", "unproven", "R")
JUDGED_NONDETECT = ("-", "note", "UJ", "unproven", "R")
#: The rule under every review. No judgement makes evidence out of none.
FLOOR_RULE = "result-judged"
#: The rule that speaks of judgements themselves.
STALE_RULE = "judgement-stale"

_BY_EFFECT = {
    Effect.NOTE: Pair(Letter.NOTE, Letter.NOTE),
    Effect.ESTIMATE: Pair(Letter.J, Letter.UJ),
    Effect.UNPROVEN: Pair(Letter.UNPROVEN, Letter.UNPROVEN),
    Effect.REJECT: Pair(Letter.R, Letter.R),
}


def decided_pair(effect: Effect, original: Pair, rule: Rule) -> Pair:
    """Return the letters of an effect where a judgement names none.

    `note`, `unproven` and `reject` say the same of a detect and of a nondetect. An estimate keeps the direction of the
    finding: its own letters where they estimate, else those of the rule's other limits where these agree, else J / UJ.

    Parameters
    ----------
    effect : Effect
        NOTE, ESTIMATE, UNPROVEN or REJECT.
    original : Pair
        The letters that the rule gave.
    rule : Rule
    """
    if effect is not Effect.ESTIMATE:
        return _BY_EFFECT[effect]
    if original.effect is Effect.ESTIMATE:
        return original
    milder = {pair for pair in rule.consequence.values() if pair.effect is Effect.ESTIMATE}
    return milder.pop() if len(milder) == 1 else _BY_EFFECT[effect]


def letter_fault(word: str, *, detect: bool) -> tuple[str, str] | None:
    """Return what is wrong with a letter of a judgement, and how to mend it; None where it is right."""
    known = JUDGED_DETECT if detect else JUDGED_NONDETECT
    if word in known:
        return None
    status = "detect" if detect else "nondetect"
    listed = "write one of: " + ", ".join(known)
    if word == "U":
        return "'U' stands at a limit that a blank states, and a judgement states none", listed
    if word in LETTERS:
        return f"'{word}' is no letter for a {status}", listed
    return f"'{word}' is no letter", did_you_mean(word, known) or listed


def pair_fault(effect: Effect, pair: Pair) -> tuple[str, str] | None:
    """Return what is wrong with letters that do not go with their effect, and how to mend it; None where they do."""
    if pair.effect is effect or (effect is Effect.NOTE and pair.effect is Effect.NONE):
        return None
    for letter, option in ((pair.detect, "detect"), (pair.nondetect, "nondetect")):
        if letter.effect > effect:
            message = f"the effect is {effect.word}, and the letter {letter.word} for a {option} is graver"
            return message, f"write effect {letter.effect.word}, or a letter that goes no further than {effect.word}"
    message = f"the effect is {effect.word}, and neither letter ({pair}) goes as far"
    return message, f"write effect {max(pair.effect, Effect.NOTE).word}, or a letter of {effect.word}"


def floor_fault(finding: str, effect: Effect) -> tuple[str, str] | None:
    """Return why a finding cannot be judged so: it is the floor under every review, or speaks of a judgement itself."""
    if finding.partition("/")[0] == STALE_RULE:
        return f"a finding of {STALE_RULE} is judged by nobody", "judge the finding that it names again"
    if finding.partition("/")[0] == FLOOR_RULE and effect < Effect.UNPROVEN:
        return (
            f"a finding of {FLOOR_RULE} says that a result has nothing to rely on; no judgement can make it usable",
            "supply the evidence, or judge it unproven or reject",
        )
    return None
