"""The dictionary of measures: every quantity that a rule may name, with its table, dimension and facts."""

from __future__ import annotations

from vaporqa.evidence import blanks, clocks, counts, decontamination, purging, tracers
from vaporqa.evidence.judged import MeasureSpec

_TRACER_FACTS = ("tracer", "train", "ceiling", "shroud", "shroud_by", "untimed", "judged_on")
_TIME_FACTS = ("analyte", "container", "from", "to")
_TIME_CASES = ("medium", "container", "preserved", "class", "cas")

_ALL = (
    MeasureSpec(
        "leak_fraction", "tracer_tests", "ratio", "tracer in the train over the lowest shroud reading, where detected",
        tracers.leak_fraction, _TRACER_FACTS,
    ),
    MeasureSpec(
        "leak_bound", "tracer_tests", "ratio", "reporting limit of a nondetect tracer over the lowest shroud reading",
        tracers.leak_bound, _TRACER_FACTS,
    ),
    MeasureSpec(
        "shroud_lowest", "tracer_tests", "amount", "lowest shroud reading", tracers.shroud_lowest, _TRACER_FACTS
    ),
    MeasureSpec(
        "shroud_over_reporting_limit", "tracer_tests", "count", "lowest shroud reading over a stated reporting limit",
        tracers.shroud_over_reporting_limit, _TRACER_FACTS,
    ),
    MeasureSpec(
        "cloth_tracer_ratio", "tracer_tests", "count", "tracer among the results over each target's reporting limit",
        tracers.cloth_tracer_ratio, ("tracer", "analyte"),
    ),
    MeasureSpec(
        "tracer_as_target", "tracer_tests", "count", "listings of the tracer among the targets",
        tracers.tracer_as_target, _TRACER_FACTS,
    ),
    MeasureSpec(
        "methane_at_meter", "tracer_tests", "amount", "methane where a field meter read the tracer",
        tracers.methane_at_meter, _TRACER_FACTS,
    ),
    MeasureSpec(
        "tracer_tests_of_samples", "samples", "count", "tracer tests that count for the sample",
        counts.tracer_tests_of_samples,
    ),
    MeasureSpec(
        "shut_in_tests_of_samples", "samples", "count", "shut-in tests that count for the sample",
        counts.shut_in_tests_of_samples,
    ),
    MeasureSpec(
        "purges_of_samples", "samples", "count", "purges that belong to the sample", counts.purges_of_samples
    ),
    MeasureSpec(
        "cloth_tracer_listings", "samples", "count", "results of the sample for the tracer of its cloth test",
        counts.cloth_tracer_listings, ("tracer",),
    ),
    MeasureSpec(
        "purge_volumes", "purges", "count", "purged volume over dead volume", purging.purge_volumes,
        ("dead", "assumed", "purged", "by"),
    ),
    MeasureSpec("purge_flow", "purges", "flow", "flow of the purge", purging.purge_flow),
    MeasureSpec("purge_vacuum", "purges", "pressure", "highest vacuum while purging", purging.purge_vacuum),
    MeasureSpec(
        "purge_arithmetic", "purges", "ratio", "gap between two records of the purged volume", purging.purge_arithmetic,
        ("stated", "worked"),
    ),
    MeasureSpec(
        "purge_to_sample", "purges", "duration", "time from the end of the purge to the start of the sample",
        purging.purge_to_sample,
    ),
    MeasureSpec(
        "carried_share", "results", "ratio", "a detect over the highest at the equipment's last location",
        decontamination.carried_share, ("analyte", "last_location", "highest", "result"),
    ),
    MeasureSpec(
        "collection_to_analysis", "results", "duration", "end of collection to analysis", clocks.collection_to_analysis,
        _TIME_FACTS, _TIME_CASES,
    ),
    MeasureSpec(
        "surrogate_to_analysis", "results", "duration", "addition of the surrogate to analysis",
        clocks.surrogate_to_analysis, _TIME_FACTS, _TIME_CASES,
    ),
    MeasureSpec(
        "surrogate_to_receipt", "results", "duration", "addition of the surrogate to receipt by the laboratory",
        clocks.surrogate_to_receipt, _TIME_FACTS, _TIME_CASES,
    ),
    MeasureSpec(
        "collection_to_preservation", "results", "duration", "end of collection to preservation",
        clocks.collection_to_preservation, _TIME_FACTS, _TIME_CASES,
    ),
    MeasureSpec(
        "collection_to_receipt", "results", "duration", "end of collection to receipt", clocks.collection_to_receipt,
        _TIME_FACTS, _TIME_CASES,
    ),
    MeasureSpec(
        "certification", "containers", "words", "how the container was certified clean", blanks.certification,
        ("certified",),
    ),
)  # fmt: skip

#: Every measure, by the word that rule files use.
MEASURES: dict[str, MeasureSpec] = {spec.name: spec for spec in _ALL}
