"""What a rule says of a row, what that does to the row, and what the row is worth after all of it.

*Outcome* says what was seen, *effect* what it does. Letters are the qualifiers of the published validation
guidelines, held as bits so that the findings of a row combine by OR, in any order.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, IntFlag


class Outcome(IntEnum):
    """What one rule says of one row. Held as one byte a row and rule."""

    NOT_CONCERNED = 0
    HOLDS = 1
    BROKEN = 2
    UNPROVEN = 3
    NOT_DUE = 4

    @property
    def words(self) -> str:
        """The outcome as rule files and reports write it."""
        return self.name.lower().replace("_", " ")


class Effect(IntEnum):
    """What a finding does to a row, from mildest to gravest; `CAUTION` never touches a row."""

    NONE = 0
    NOTE = 1
    ESTIMATE = 2
    UNPROVEN = 3
    REJECT = 4
    CAUTION = 5

    @property
    def word(self) -> str:
        """The effect as outputs write it (`-` for none)."""
        return "-" if self is Effect.NONE else self.name.lower()


class Standing(IntEnum):
    """What a row is worth after all rules."""

    USABLE = 0
    ESTIMATED = 1
    UNPROVEN = 2
    REJECTED = 3

    @property
    def word(self) -> str:
        """The standing as outputs write it."""
        return self.name.lower()


class Letter(IntFlag):
    """The consequence of one finding for one status (detect or nondetect), as a bit."""

    NONE = 0
    NOTE = 1
    U = 2  # by a blank: the detect becomes a nondetect at a stated limit
    J = 4
    J_PLUS = 8
    J_MINUS = 16
    UJ = 32
    NJ = 64
    UNPROVEN = 128
    R = 256

    @property
    def word(self) -> str:
        """The letter as rule files and outputs write it."""
        return _LETTER_WORDS[self]

    @property
    def effect(self) -> Effect:
        """The effect that this letter has."""
        if self & Letter.R:
            return Effect.REJECT
        if self & Letter.UNPROVEN:
            return Effect.UNPROVEN
        if self & (Letter.J | Letter.J_PLUS | Letter.J_MINUS | Letter.UJ | Letter.NJ):
            return Effect.ESTIMATE
        if self & (Letter.NOTE | Letter.U):
            return Effect.NOTE
        return Effect.NONE


_LETTER_WORDS = {
    Letter.NONE: "-",
    Letter.NOTE: "note",
    Letter.U: "U",
    Letter.J: "J",
    Letter.J_PLUS: "J+",
    Letter.J_MINUS: "J-",
    Letter.UJ: "UJ",
    Letter.NJ: "NJ",
    Letter.UNPROVEN: "unproven",
    Letter.R: "R",
}
LETTERS: dict[str, Letter] = {word: letter for letter, word in _LETTER_WORDS.items()}


@dataclass(frozen=True, slots=True)
class Pair:
    """The consequence of a finding: its letter for a detect and its letter for a nondetect."""

    detect: Letter
    nondetect: Letter

    @property
    def effect(self) -> Effect:
        """The graver effect of the two: what the finding does to a row that is no result."""
        return max(self.detect.effect, self.nondetect.effect)

    @property
    def rank(self) -> tuple[int, int, int]:
        """Order of gravity, for choosing between two limits of one rule."""
        effects = sorted((self.detect.effect, self.nondetect.effect), reverse=True)
        return (int(effects[0]), int(effects[1]), int(self.detect) + int(self.nondetect))

    def __str__(self) -> str:
        return f"{self.detect.word} / {self.nondetect.word}"


NOTHING = Pair(Letter.NONE, Letter.NONE)
NOTE = Pair(Letter.NOTE, Letter.NOTE)
UNPROVEN = Pair(Letter.UNPROVEN, Letter.UNPROVEN)
