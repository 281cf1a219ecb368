"""How far the sample folders reach: which shipped rules no row of them ever breaks, leaves unproven or keeps.

The lists are an inventory, not an expectation: their members were read off a run over the folders and then grouped
by reason. A rule that falls out of reach, a new rule that no folder
reaches, and one that a folder newly reaches all fail here, so that the lists stay true.
"""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from faults import RULE_ORDER
from make import FOLDERS, SAMPLE_INPUTS, build
from ridgeback_faults import CAUTIONS

from vaporqa.intake import load_project, read_folder
from vaporqa.review import review_folder
from vaporqa.review.values import Review
from vaporqa.rulebook import load_rulebook


def words(text: str) -> frozenset[str]:
    """Rule ids as they stand in a line."""
    return frozenset(text.split())


#: What reading finds is unproven by the data contract and never broken, or the other way about.
READING_IS_UNPROVEN = words(
    "readable-number readable-time known-word known-unit known-flag required-filled keys-meet local-time-exists "
    "collection-time-agrees"
)
READING_IS_BROKEN = words("duplicate-rows units-as-declared")
#: The folders have no tune, calibration, internal standard, second form of a result, total beside its parts, surrogate
#: that fails or is flagged, time of collection on a result, or reading of hydrogen sulfide.
NO_SUCH_ROWS = words(
    "tune-clock initial-calibration calibration-check second-source-check response-factor internal-standard-area "
    "forms-agree surrogate-diluted-out surrogate-flag-agrees parts-and-totals collection-time-agrees "
    "hydrogen-sulfide"
)
NEVER_BROKEN = READING_IS_UNPROVEN | NO_SUCH_ROWS | words(
    # no table is derived from another
    "one-value-a-key "
    # installation and tests of the train
    "stick-up-clearance interval-matches-retraction dedicated-point-single-use shut-in-vacuum shut-in-hold "
    "shut-in-decay shut-in-order sampling-flow sampling-vacuum canister-fill container-suits readings-chain "
    # custody
    "custody-order identities-match custody-done "
    # the laboratory's blanks and recoveries are all in order
    "method-blank container-blank trip-blank material-blank container-certified blank-units surrogate-recovery "
    "control-sample-recovery control-sample-precision "
    # reporting
    "over-range one-value-in-use sensitivity limit-follows-dilution cas-number analyte-name result-consistent "
    "tentative laboratory-flag"
)  # fmt: skip
NEVER_UNPROVEN = READING_IS_BROKEN | NO_SUCH_ROWS | words(
    "one-value-a-key "
    # installation forms are filled in, but for joints, tubing materials and dead volumes
    "equilibration-time probe-depth above-water tip-opened tubing-reaches-tip tubing-tail stick-up-clearance "
    "interval-matches-retraction tubing-new dedicated-point-single-use replacement-distance depth-plausible "
    # tests are there or broken, and their forms filled in
    "shut-in-vacuum shut-in-hold shut-in-decay shut-in-done leak-tracer-undetected leak-test-done "
    "cloth-tracer-reported tracer-not-a-target purge-flow purge-done sampling-flow sampling-vacuum water-in-train "
    "sampling-order rain-wait suction-present "
    # the log is full, but for dates
    "carry-over equipment-blank-clean equipment-blank-frequency "
    # every meter was checked
    "instrument-checked instrument-drift looks-like-outside-air combustion-meter-oxygen methane-confirmed "
    # custody is full
    "custody-order custody-unbroken seal-intact custody-done container-certified "
    # control samples are full
    "surrogate-recovery control-sample-recovery control-sample-precision duplicate-parent duplicate-frequency "
    "duplicate-kind laboratory-duplicate-agreement "
    # reporting
    "over-range one-value-in-use cas-number analyte-name analytes-complete tentative laboratory-flag "
    # cautions of readings that are all there
    "methane-explosive oxygen-deficient"
)  # fmt: skip
NEVER_HOLDS = NO_SUCH_ROWS | words(
    # one meter saw no tracer, and it could not have seen enough; one look at the air of a structure, and it was bad
    "leak-tracer-undetected oxygen-deficient"
)


@pytest.fixture(scope="module")
def reviews() -> Mapping[str, Review]:
    """Each folder under its own profiles."""
    found = {}
    for name in FOLDERS:
        project = load_project(SAMPLE_INPUTS / name)
        tables = read_folder(SAMPLE_INPUTS / name, project)
        found[name] = review_folder(project, tables, load_rulebook(profiles=project.profiles))
    return found


@pytest.mark.parametrize(
    ("outcome", "never"), [("broken", NEVER_BROKEN), ("unproven", NEVER_UNPROVEN), ("holds", NEVER_HOLDS)]
)
def test_the_rules_out_of_reach_are_those_listed(
    reviews: Mapping[str, Review], outcome: str, never: frozenset[str]
) -> None:  # fmt: skip
    reached = {
        count.rule for review in reviews.values() for count in review.coverage.rules if getattr(count, outcome) > 0
    }
    shipped = {rule.id for review in reviews.values() for rule in review.rulebook.rules}
    assert sorted(shipped - reached) == sorted(never)


def test_every_rule_that_the_fault_lists_can_name_is_shipped(reviews: Mapping[str, Review]) -> None:
    shipped = {rule.id for review in reviews.values() for rule in review.rulebook.rules}
    assert set(RULE_ORDER) - shipped == {"result-judged"}  # it follows from the outcomes of the others


def test_the_cautions_are_those_of_the_fault_lists(reviews: Mapping[str, Review]) -> None:
    for name, review in reviews.items():
        folder, _ = build(name)
        found = [(one.rule, folder.keys(one.table)[one.row]) for one in review.cautions]
        assert len(found) == len(set(found))
        assert set(found) == (CAUTIONS if name == "ridgeback-landfill" else set()), name
