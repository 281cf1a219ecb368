"""Uses of equipment whose place nobody can tell: the log names neither a probe nor a location, or none that there is.

What was drawn with the piece at such a use may be any sample of the time until its next use.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vaporqa.evidence.cells import NO_ROW
from vaporqa.evidence.joins import Ids
from vaporqa.evidence.uses import Use, is_drawn
from vaporqa.tables.values import Bool, Int64

if TYPE_CHECKING:
    from vaporqa.evidence import Evidence

#: A stamp without a time of day spans a local day, 25 h at most.
_DAY = 25 * 3600 * 1_000_000


class Placeless:
    """Tells which uses have no place, and what may have been drawn at one.

    Parameters
    ----------
    evidence : Evidence
    """

    def __init__(self, evidence: Evidence) -> None:
        samples = evidence.samples
        # A place that no list knows and where nothing was drawn is none; where there is no list it may be real.
        self._no_probe = _unmet(evidence.probe_ids, "probes" in evidence.tables, samples.probe)
        at_probes = evidence.location_ids.columns.get(("probes", "location_id"), np.empty(0, np.int64))
        places = np.concatenate([samples.location, at_probes])
        self._no_location = _unmet(evidence.location_ids, "locations" in evidence.tables, places)
        drawn, when = is_drawn(evidence), evidence.drawn_when
        timed = np.flatnonzero(drawn & when.known)
        self._order = timed[np.argsort(when.low[timed], kind="stable")].astype(np.int64)
        self._low, self._high = when.low[self._order], when.high[self._order]
        #: Samples of which nobody knows when they were drawn: of any time.
        self.untimed: Int64 = np.flatnonzero(drawn & ~when.known).astype(np.int64)

    def is_lost(self, use: Use) -> bool:
        """Whether neither the probe nor the location of a use can be told."""
        return bool(self._no_probe[use.probe] and self._no_location[use.location])

    def drawn(self, use: Use, until: int) -> Int64:
        """Sample numbers that may have been drawn from the beginning of a use to an instant (microseconds UTC)."""
        if not use.timed:
            return self._order
        first = np.searchsorted(self._low, max(use.begin[0], np.iinfo(np.int64).min + _DAY) - _DAY, "left")
        last = np.searchsorted(self._low, until, "right")
        part = slice(int(first), int(last))
        return self._order[part][self._high[part] >= use.begin[0]]


def _unmet(ids: Ids, listed: bool, elsewhere: Int64) -> Bool:
    """Numbers that meet no row of their table and nothing else; a last entry serves "no id"."""
    out = np.ones(len(ids.names) + 1, bool)
    out[:-1] = listed & (ids.row == NO_ROW)
    out[elsewhere[elsewhere >= 0]] = False
    return out


__all__ = ["Placeless"]
