"""Pictures of the evidence, drawn from what the rules measured and held against the limits in force."""

from __future__ import annotations

from vaporqa.report.figures.canister_pressures import canister_pressures
from vaporqa.report.figures.duplicate_pairs import duplicate_pairs
from vaporqa.report.figures.equipment_times import equipment_times
from vaporqa.report.figures.evidence_matrix import evidence_matrix
from vaporqa.report.figures.holding_time import holding_time
from vaporqa.report.figures.picture import Picture
from vaporqa.report.figures.purge_volumes import purge_volumes
from vaporqa.report.figures.recoveries import recoveries
from vaporqa.report.figures.site import site_plan
from vaporqa.report.figures.tracer_recovery import tracer_recovery
from vaporqa.review.values import Review

__all__ = ["Picture", "pictures"]


def pictures(review: Review) -> tuple[Picture, ...]:
    """Return every picture whose data exist, along the road of a sample.

    Parameters
    ----------
    review : Review

    Returns
    -------
    tuple of Picture
        The same bytes for the same tables, whatever the order of their rows.
    """
    found = [
        site_plan(review), evidence_matrix(review), equipment_times(review), tracer_recovery(review),
        purge_volumes(review), canister_pressures(review), holding_time(review), *recoveries(review),
        duplicate_pairs(review),
    ]  # fmt: skip
    return tuple(one for one in found if one is not None)
