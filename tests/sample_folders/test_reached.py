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
from marrowgate_faults import CAUTIONS as AT_MARROWGATE
from ridgeback_faults import CAUTIONS as AT_RIDGEBACK

from vaporqa.intake import load_project, read_folder
from vaporqa.review import review_folder
from vaporqa.review.values import Review
from vaporqa.rulebook import load_rulebook


def words(text: str) -> frozenset[str]:
    """Rule ids as they stand in a line."""
    return frozenset(text.split())


#: What reading finds is unproven by the data contract and never broken, or the other way about.
READING_IS_UNPROVEN = words(
    "readable-number readable-time known-word known-unit known-flag required-filled keys-meet local-time-exists"
)
READING_IS_BROKEN = words("duplicate-rows units-as-declared")
NEVER_BROKEN = READING_IS_UNPROVEN
NEVER_UNPROVEN = READING_IS_BROKEN | words(
    # cells that differ within a key are broken
    "one-value-a-key "
    # an empty flag, kind, link between runs says no, so that nothing can be missing
    "over-range one-value-in-use tentative laboratory-flag "
    # silent for want of evidence, and no folder has the want: an order of uses or of installations that cannot be
    # told, a duplicate without a pair, a total without parts, a sample that is in no batch beside others that are
    "dedicated-point-single-use sampling-order carry-over duplicate-parent collection-time-agrees analytes-complete "
    "parts-and-totals "
    # a folder without an equipment log has no row that is unproven, and no folder has kinds that are all unknown
    "equipment-blank-frequency duplicate-frequency "
    # readings of methane that could decide it are all there
    "methane-confirmed methane-explosive"
)  # fmt: skip
NEVER_HOLDS: frozenset[str] = frozenset()


CAUTIONS = {"ridgeback-landfill": AT_RIDGEBACK, "marrowgate-plating": AT_MARROWGATE}


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
        assert set(found) == CAUTIONS.get(name, frozenset()), name
