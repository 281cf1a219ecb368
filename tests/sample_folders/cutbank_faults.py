"""The faults of Cutbank Terminal, in the order of the rulebook, and the concentrations that they need."""

from __future__ import annotations

from cutbank_holding import HOLDING
from cutbank_intake import INTAKE
from cutbank_leaks import LEAKS, LEAKS_GIVEN
from cutbank_pairs import MOVES, PAIRS, PAIRS_GIVEN
from cutbank_purges import PURGES
from faults import Fault

FAULTS: tuple[Fault, ...] = (*INTAKE, *LEAKS, *PURGES, *MOVES, *HOLDING, *PAIRS)
#: (sample, CAS number) -> value in the printed unit, None for not detected.
GIVEN: dict[tuple[str, str], float | None] = {**LEAKS_GIVEN, **PAIRS_GIVEN}
