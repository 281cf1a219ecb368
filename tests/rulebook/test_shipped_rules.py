"""The shipped rules against the rulebook, written out here by hand: ids, letters, reach; and their own examples."""

from __future__ import annotations

import pytest

from vaporqa.criteria import Backing, Rulebook
from vaporqa.examples import nudge_limits, run_examples
from vaporqa.outcomes import NOTHING
from vaporqa.rulebook import load_rulebook

#: Topic to its rules, in the order of the rulebook.
RULES = {
    "intake": (
        "readable-number readable-time known-word known-unit known-flag one-value-a-key required-filled keys-meet "
        "duplicate-rows local-time-exists units-as-declared"
    ),
    "installation": (
        "equilibration-time probe-depth above-water tip-opened tubing-reaches-tip tubing-tail stick-up-clearance "
        "interval-matches-retraction joints-tight tubing-material tubing-new dedicated-point-single-use "
        "replacement-distance depth-plausible"
    ),
    "shut_in": "shut-in-vacuum shut-in-hold shut-in-decay shut-in-order shut-in-done",
    "leak_tracer": (
        "leak-tracer-recovery leak-tracer-undetected shroud-concentration leak-test-done cloth-tracer-recovery "
        "cloth-tracer-reported tracer-not-a-target tracer-meter-interference"
    ),
    "purge": (
        "purge-volumes purge-flow purge-vacuum purge-arithmetic purge-to-sample purge-done over-purge"
    ),
}  # fmt: skip

#: Rule to (letters by limit, no evidence, reach), as the columns *broken*, *no evidence* and *reaches* have them.
LETTERS = {
    "leak-tracer-recovery": (("J- / UJ", "R / R"), "unproven / unproven", "sample"),
    "leak-tracer-undetected": (("unproven / unproven",), "unproven / unproven", "sample"),
    "shroud-concentration": (("unproven / unproven", "unproven / unproven"), "unproven / unproven", "sample"),
    "leak-test-done": (("unproven / unproven",), "unproven / unproven", "sample"),
    "cloth-tracer-recovery": (("J- / R",), "unproven / unproven", "analyte"),
    "cloth-tracer-reported": (("unproven / unproven",), "unproven / unproven", "sample"),
    "tracer-not-a-target": (("unproven / unproven",), "- / -", "sample"),
    "tracer-meter-interference": (("unproven / unproven",), "- / -", "sample"),
    "purge-volumes": (("J / UJ", "R / R"), "unproven / unproven", "sample"),
    "purge-flow": (("J / UJ",), "unproven / unproven", "sample"),
    "purge-vacuum": (("J- / UJ",), "unproven / unproven", "sample"),
    "purge-arithmetic": (("note / note",), "- / -", "row"),
    "purge-to-sample": (("J / UJ", "J / UJ"), "unproven / unproven", "sample"),
    "purge-done": (("unproven / unproven",), "unproven / unproven", "sample"),
    "over-purge": (("note / note",), "- / -", "row"),
}

#: Limits as the rulebook writes them, with their standing there.
LIMITS = {
    "leak-tracer-recovery": [(0.05, Backing.VERIFIED), (0.20, Backing.DERIVED)],
    "leak-tracer-undetected": [(0.05, Backing.DERIVED)],
    "shroud-concentration": [(10 * 1e7, Backing.SECONDARY), (100, Backing.SECONDARY)],  # 1 % is 1e7 ppbv
    "leak-test-done": [(1, Backing.VERIFIED)],
    "cloth-tracer-recovery": [(10, Backing.VERIFIED)],
    "cloth-tracer-reported": [(1, Backing.VERIFIED)],
    "tracer-not-a-target": [(0, Backing.VERIFIED)],
    "tracer-meter-interference": [(1e7, Backing.SECONDARY)],
    "purge-volumes": [(3, Backing.VERIFIED), (1, Backing.DERIVED)],
    "purge-flow": [(200, Backing.VERIFIED)],
    "purge-vacuum": [(100 * 0.249089, Backing.VERIFIED)],  # conventional inch of water, 249.089 Pa (NIST SP 811)
    "purge-arithmetic": [(0.20, Backing.DERIVED)],
    "purge-to-sample": [(600, Backing.SECONDARY), (0, Backing.DERIVED)],
    "purge-done": [(1, Backing.VERIFIED)],
    "over-purge": [(10, Backing.MEMORY)],
}  # fmt: skip

#: Outside air let in is the reason: leak and vacuum rules.
AIR_LET_IN = {"leak-tracer-recovery", "cloth-tracer-recovery", "purge-vacuum"}
CHECKED = ("intake", "leak_tracer", "purge")


@pytest.fixture(scope="module")
def rulebook() -> Rulebook:
    return load_rulebook()


@pytest.mark.parametrize("topic", CHECKED)
def test_a_topic_has_every_rule_of_the_rulebook(rulebook: Rulebook, topic: str) -> None:
    assert [rule.id for rule in rulebook.rules if rule.topic == topic] == RULES[topic].split()


@pytest.mark.parametrize("topic", CHECKED)
def test_every_example_answers_as_it_expects(rulebook: Rulebook, topic: str) -> None:
    found = run_examples(rulebook, RULES[topic].split())
    assert len(found) >= len(RULES[topic].split())
    assert [one.message for one in found if not one.passed] == []


@pytest.mark.parametrize("topic", CHECKED)
def test_every_number_is_noticed_by_an_example(rulebook: Rulebook, topic: str) -> None:
    assert [one.message for one in nudge_limits(rulebook, RULES[topic].split())] == []


@pytest.mark.parametrize("rule_id", LETTERS)
def test_letters_and_reach_are_those_of_the_rulebook(rulebook: Rulebook, rule_id: str) -> None:
    rule = rulebook.rule(rule_id)
    letters = tuple(str(rule.pair(limit.name)) for limit in rule.limits)
    assert (letters, str(rule.no_evidence), rule.reaches) == LETTERS[rule_id]
    assert rule.stage == "1"


@pytest.mark.parametrize("rule_id", LIMITS)
def test_limits_are_those_of_the_rulebook(rulebook: Rulebook, rule_id: str) -> None:
    for limit, (value, backing) in zip(rulebook.rule(rule_id).limits, LIMITS[rule_id], strict=True):
        assert limit.value == pytest.approx(value, rel=1e-5, abs=1e-12)
        assert limit.backing is backing


def test_air_gases_turn_where_outside_air_is_the_reason(rulebook: Rulebook) -> None:
    lets_in = {rule.id for rule in rulebook.rules if rule.id in LETTERS and rule.air_let_in}
    # A rule whose letters are all unproven turns nothing; whether it says so makes no difference.
    assert {name for name in lets_in if LETTERS[name][0][0] != "unproven / unproven"} == AIR_LET_IN


def test_what_earns_nothing_is_silent(rulebook: Rulebook) -> None:
    silent = {name for name in LETTERS if rulebook.rule(name).no_evidence == NOTHING}
    assert silent == {"tracer-not-a-target", "tracer-meter-interference", "purge-arithmetic", "over-purge"}


def test_every_finding_of_reading_leaves_its_row_unproven(rulebook: Rulebook) -> None:
    for name in RULES["intake"].split():
        rule = rulebook.rule(name)
        assert (rule.check, rule.limits) == ("reading", ())
        assert {str(rule.consequence["broken"]), str(rule.no_evidence)} == {"unproven / unproven"}


def test_every_rule_of_reading_shows_what_it_finds(rulebook: Rulebook) -> None:
    for name in RULES["intake"].split():
        shown = {outcome for example in rulebook.rule(name).examples for outcome, _ in example.expect.values()}
        # A derived table needs a file that it is derived from, which an example cannot have.
        assert "holds" in shown
        assert name == "one-value-a-key" or shown & {"broken", "unproven"}, name
