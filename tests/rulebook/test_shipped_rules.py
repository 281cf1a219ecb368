"""The shipped rules against the rulebook, written out by hand: ids, letters, reach, limits; and their own examples."""

from __future__ import annotations

import pytest
from rulebook_by_hand import ASIDE, ENTRIES, pair

from vaporqa.criteria import Rulebook
from vaporqa.examples import mutate_rules, nudge_limits, run_examples
from vaporqa.outcomes import Letter
from vaporqa.rulebook import load_rulebook

TOPICS = tuple(dict.fromkeys(entry.topic for entry in ENTRIES.values()))
READING = [entry.id for entry in ENTRIES.values() if entry.topic == "intake"]


@pytest.fixture(scope="module")
def rulebook() -> Rulebook:
    return load_rulebook()


def test_the_topics_are_those_of_the_rulebook(rulebook: Rulebook) -> None:
    assert {rule.topic for rule in rulebook.rules} == set(TOPICS)


@pytest.mark.parametrize("topic", TOPICS)
def test_a_topic_has_every_rule_of_the_rulebook(rulebook: Rulebook, topic: str) -> None:
    assert [rule.id for rule in rulebook.rules if rule.topic == topic] == [
        entry.id for entry in ENTRIES.values() if entry.topic == topic
    ]


@pytest.mark.parametrize("topic", TOPICS)
def test_every_example_answers_as_it_expects(rulebook: Rulebook, topic: str) -> None:
    ids = [entry.id for entry in ENTRIES.values() if entry.topic == topic]
    found = run_examples(rulebook, ids)
    assert len(found) >= len(ids)
    assert [one.message for one in found if not one.passed] == []


@pytest.mark.parametrize("topic", TOPICS)
def test_every_number_is_noticed_by_an_example(rulebook: Rulebook, topic: str) -> None:
    ids = [entry.id for entry in ENTRIES.values() if entry.topic == topic]
    assert [one.message for one in nudge_limits(rulebook, ids)] == []


@pytest.mark.parametrize("rule_id", ENTRIES)
def test_row_evidence_reach_and_stage_are_those_of_the_rulebook(rulebook: Rulebook, rule_id: str) -> None:
    rule, entry = rulebook.rule(rule_id), ENTRIES[rule_id]
    assert (str(rule.no_evidence), rule.reaches, rule.stage) == (entry.no_evidence, entry.reaches, entry.stage)
    assert entry.row == ("any",) or (rule.row, *rule.also) == entry.row


@pytest.mark.parametrize("rule_id", ENTRIES)
def test_letters_are_those_of_the_rulebook(rulebook: Rulebook, rule_id: str) -> None:
    rule = rulebook.rule(rule_id)
    wanted = {line.name: line.letters for line in ENTRIES[rule_id].lines if line.letters != ASIDE}
    assert {name: str(rule.pair(name)) for name in wanted} == wanted


@pytest.mark.parametrize("rule_id", ENTRIES)
def test_limits_are_those_of_the_rulebook(rulebook: Rulebook, rule_id: str) -> None:
    rule = rulebook.rule(rule_id)
    lines = {line.name: line for line in ENTRIES[rule_id].lines if line.name != "broken"}
    assert {limit.name for limit in rule.limits} == set(lines)
    for limit in rule.limits:
        line = lines[limit.name]
        assert not line.backing or limit.backing in line.backing
        if line.numbered:
            assert limit.written.removesuffix(" x") == line.limit


@pytest.mark.parametrize("rule_id", ENTRIES)
def test_air_gases_turn_where_outside_air_is_the_reason(rulebook: Rulebook, rule_id: str) -> None:
    rule = rulebook.rule(rule_id)
    pairs = [rule.pair(limit.name) for limit in rule.limits]
    # A rule whose letters are all R, J or unproven turns nothing; whether it says so makes no difference.
    if any(one.detect is Letter.J_MINUS or one.nondetect is Letter.UJ for one in pairs):
        assert rule.air_let_in == ENTRIES[rule_id].air


@pytest.mark.parametrize("rule_id", ENTRIES)
def test_an_example_pins_the_letters_of_each_limit(rulebook: Rulebook, rule_id: str) -> None:
    pinned = {str(one) for example in rulebook.rule(rule_id).examples for one in example.effect.values()}
    assert {line.letters for line in ENTRIES[rule_id].lines if line.letters != ASIDE} <= pinned


def test_no_change_of_a_shipped_rule_goes_unnoticed(rulebook: Rulebook) -> None:
    attack = mutate_rules(rulebook)
    assert attack.mutants > 10 * len(rulebook.rules)
    assert [one.message for one in attack.survivors] == []
    # Few of them cannot matter, and each of those is said why.
    assert len(attack.equivalent) < attack.mutants / 10
    assert all(one.reason for one in attack.equivalent)


def test_every_finding_of_reading_leaves_its_row_unproven(rulebook: Rulebook) -> None:
    for name in READING:
        rule = rulebook.rule(name)
        assert (rule.check, rule.limits) == ("reading", ())
        assert {str(rule.consequence["broken"]), str(rule.no_evidence)} == {pair("unproven")}


def test_every_rule_of_reading_shows_what_it_finds(rulebook: Rulebook) -> None:
    for name in READING:
        shown = {outcome for example in rulebook.rule(name).examples for outcome, _ in example.expect.values()}
        # A derived table needs a file that it is derived from, which an example cannot have.
        assert "holds" in shown
        assert name == "one-value-a-key" or shown & {"broken", "unproven"}, name
