"""The faults of Marrowgate Plating, in the order of its README."""

from __future__ import annotations

from faults import Fault
from marrowgate_calibration import FAULTS as CALIBRATION
from marrowgate_field import FAULTS as FIELD
from marrowgate_laboratory import FAULTS as LABORATORY
from marrowgate_reporting import FAULTS as REPORTING

OTHER_LOT = "TUB-131"
#: A reading that warns people, which changes the standing of no row.
CAUTIONS = frozenset({("hydrogen-sulfide", "FR-S1")})
FAULTS: tuple[Fault, ...] = (*FIELD, *LABORATORY, *CALIBRATION, *REPORTING)
