"""The dictionary of measures: every quantity that a rule may name, with its table, dimension and facts."""

from __future__ import annotations

from vaporqa.evidence import (
    blanks,
    clocks,
    completeness,
    counts,
    custody,
    decontamination,
    installation,
    instruments,
    limits,
    purging,
    readings,
    recoveries,
    sampling,
    sampling_order,
    shut_in,
    single_use,
    tracers,
    tuning,
    weather,
)
from vaporqa.evidence.judged import MeasureSpec

_TRACER_FACTS = ("tracer", "train", "ceiling", "shroud", "shroud_by", "untimed", "judged_on")
_TIME_FACTS = ("analyte", "container", "from", "to")
_TIME_CASES = ("medium", "container", "preserved", "class", "cas")

_PRESSURE_FACTS = ("pressure", "gauge", "barometer", "barometer_from")
_CHECK_FACTS = ("gas", "instrument", "check", "expected", "found", "checked_at")

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
        "control_pair_difference", "lab_qc", "percent", "RPD of a control sample and its duplicate",
        recoveries.control_pair_difference, ("analyte", "parent", "printed"), ("limits",),
    ),
    MeasureSpec(
        "internal_standard_share", "results", "percent", "area of an internal standard over that of its check standard",
        tuning.internal_standard_share, ("standard", "area", "area_low", "area_high", "checked_area"), ("limits",),
    ),
    MeasureSpec(
        "certification", "containers", "words", "how the container was certified clean", blanks.certification,
        ("certified",),
    ),
    MeasureSpec(
        "equilibration", "probes", "duration", "time from the installation to the purge or start of a sample",
        installation.equilibration, ("sample", "way", "installed", "begun", "by"), ("way",),
    ),
    MeasureSpec(
        "intake_depth", "probes", "length", "depth of the sand pack, else of the open interval",
        installation.intake_depth, ("top_of",),
    ),
    MeasureSpec(
        "height_above_water", "probes", "length", "height of the open interval above the water",
        installation.height_above_water,
    ),
    MeasureSpec("retraction", "probes", "length", "how far the string was drawn back", installation.retraction),
    MeasureSpec(
        "tubing_beyond_rods", "probes", "length", "tubing length less rod length", installation.tubing_beyond_rods,
        ("tubing", "rods"),
    ),
    MeasureSpec("stick_up", "probes", "length", "what stands out of the ground", installation.stick_up),
    MeasureSpec(
        "interval_over_retraction", "probes", "length", "open interval less the retraction that opened it",
        installation.interval_over_retraction,
    ),
    MeasureSpec("total_depth", "probes", "length", "total depth", installation.total_depth),
    MeasureSpec(
        "replacement_distance", "probes", "length", "distance from the hole that it replaces",
        installation.replacement_distance, ("replaced",),
    ),
    MeasureSpec(
        "tubing_locations", "equipment_log", "count", "locations that a piece of tubing served by then",
        single_use.tubing_locations, ("equipment", "here", "last"),
    ),
    MeasureSpec(
        "dedicated_tip_probes", "probes", "count", "probes that a dedicated tip served by then",
        single_use.dedicated_tip_probes, ("tip", "last"),
    ),
    MeasureSpec(
        "shut_in_vacuum", "shut_in_tests", "pressure", "vacuum at the start of the test", shut_in.vacuum, ("untimed",)
    ),
    MeasureSpec("shut_in_hold", "shut_in_tests", "duration", "how long it was held", shut_in.hold, ("untimed",)),
    MeasureSpec(
        "shut_in_decay", "shut_in_tests", "pressure", "vacuum lost", shut_in.decay,
        ("untimed", "first", "last", "resolution"),
    ),
    MeasureSpec(
        "gauge_resolution", "shut_in_tests", "pressure", "a gauge resolution", shut_in.resolution, ("untimed",)
    ),
    MeasureSpec(
        "shut_in_to_purge", "shut_in_tests", "duration", "time from the end of the test to the start of the purge",
        shut_in.purge_after, ("untimed", "ended", "purged"),
    ),
    MeasureSpec(
        "train_changed", "shut_in_tests", "words", "whether the train was changed after the test", shut_in.train_changed
    ),
    MeasureSpec(
        "sampling_flow", "samples", "flow", "flow of the sample and of those drawn beside it", sampling.sampling_flow,
        ("beside",),
    ),
    MeasureSpec(
        "sampling_vacuum", "samples", "pressure", "highest vacuum while sampling", sampling.sampling_vacuum
    ),
    MeasureSpec(
        "probe_pressure", "samples", "pressure", "pressure in the probe before the draw", sampling.probe_pressure
    ),
    MeasureSpec(
        "canister_start", "samples", "pressure", "vacuum at the start as a gauge at sea level would show it",
        sampling.canister_start, _PRESSURE_FACTS,
    ),
    MeasureSpec(
        "canister_end", "samples", "pressure", "gauge vacuum left at the end", sampling.canister_end, ("controlled",),
        ("controller",),
    ),
    MeasureSpec(
        "collection_time", "samples", "duration", "how long a canister was filled", sampling.collection_time
    ),
    MeasureSpec(
        "canister_change", "samples", "pressure", "absolute pressure at receipt less that at the end",
        sampling.canister_change, ("end_pressure", "receipt_pressure", "change"),
    ),
    MeasureSpec(
        "canister_fill", "samples", "ratio", "gap between the volume by pressures and by flow and time",
        sampling.canister_fill, ("drawn", "metered"),
    ),
    MeasureSpec(
        "vacuum_readings", "samples", "count", "vacuum readings of a canister on record", sampling.readings_taken,
        ("lacking",),
    ),
    MeasureSpec(
        "rain_of_a_day", "samples", "length", "most rain in any 24 hours before sampling", weather.rain_of_a_day
    ),
    MeasureSpec(
        "over_last_place", "samples", "ratio", "highest detect over that at the last place of the equipment",
        sampling_order.over_last_place, ("equipment", "here", "before"),
    ),
    MeasureSpec(
        "check_before", "field_readings", "ratio", "how far off the meter was at its last check that day",
        instruments.check_before, _CHECK_FACTS, ("on",),
    ),
    MeasureSpec(
        "check_after", "field_readings", "ratio", "how far off the meter was at its next check",
        instruments.check_after, _CHECK_FACTS, ("on",),
    ),
    MeasureSpec(
        "gas_balance", "field_readings", "ratio", "sum of the gases of one probe and time", readings.gas_balance,
        ("place",),
    ),
    MeasureSpec(
        "oxygen_at_meter", "field_readings", "amount", "oxygen where carbon dioxide was read as well",
        readings.oxygen_at_meter, ("place", "own", "other"),
    ),
    MeasureSpec(
        "carbon_dioxide_at_meter", "field_readings", "amount", "carbon dioxide beside an oxygen reading",
        readings.carbon_dioxide_at_meter, ("place", "own", "other"),
    ),
    MeasureSpec(
        "oxygen_beside_methane", "field_readings", "amount", "oxygen at the probe and time of a methane reading",
        readings.oxygen_beside_methane, ("place", "own", "other"),
    ),
    MeasureSpec(
        "methane_found", "field_readings", "amount", "methane that a meter or the laboratory found",
        readings.methane_found, ("place",), ("setting",),
    ),
    MeasureSpec(
        "oxygen_reading", "field_readings", "amount", "oxygen that a meter read", readings.oxygen_reading, ("place",),
        ("setting",),
    ),
    MeasureSpec(
        "hydrogen_sulfide_reading", "field_readings", "amount", "hydrogen sulfide that a meter read",
        readings.hydrogen_sulfide_reading, ("place",), ("setting",),
    ),
    MeasureSpec(
        "custody_temperature", "custody", "temperature", "temperature at a custody record", custody.custody_temperature,
        ("container",), ("container", "matrix"),
    ),
    MeasureSpec(
        "custody_records_of_samples", "samples", "count", "custody records of the sample",
        custody.custody_records_of_samples,
    ),
    MeasureSpec(
        "detect_over_limit", "results", "ratio", "a detect as a share of its reporting limit", limits.detect_over_limit,
        ("analyte", "result", "reporting_limit"),
    ),
    MeasureSpec(
        "limit_to_dilution", "results", "ratio", "a reporting limit over its dilution against that of its batch",
        limits.limit_to_dilution, ("analyte", "reporting_limit", "scaled", "dilution"),
    ),
    MeasureSpec(
        "analytes_missing", "samples", "count", "analytes of its list that the sample lacks",
        completeness.analytes_missing, ("absent", "list"),
    ),
    MeasureSpec(
        "total_over_parts", "results", "ratio", "gap between a total and the sum of its parts",
        completeness.total_over_parts, ("analyte", "total", "parts"),
    ),
)  # fmt: skip

#: Every measure, by the word that rule files use.
MEASURES: dict[str, MeasureSpec] = {spec.name: spec for spec in _ALL}
