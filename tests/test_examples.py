"""The runner of the examples inside rules, with a check of its own so that it is judged apart from the shipped ones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest

from vaporqa.criteria import RELATIVE_TOLERANCE, Backing, Example, Limit, Rule, Rulebook, Sense, Source
from vaporqa.errors import UsageError
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Judged, Links
from vaporqa.examples import nudge_limits, run_examples
from vaporqa.outcomes import NOTE, Letter, Outcome, Pair
from vaporqa.tables.values import READ, Tables

SOURCE = Source(reasoning="a test")


def limit(name: str, sense: Sense, feet: float, unit: str = "ft", upper: float = float("nan")) -> Limit:
    metres = 0.3048 if unit == "ft" else 1.0
    return Limit(
        name, sense, feet * metres, unit, f"{sense} {feet} {unit}", SOURCE, Backing.PRACTICE,
        upper=upper * metres, number=feet,
    )  # fmt: skip


def passes(value: float, one: Limit) -> bool:
    slack = RELATIVE_TOLERANCE * max(abs(value), abs(one.value))
    return {
        Sense.AT_LEAST: value >= one.value - slack,
        Sense.AT_MOST: value <= one.value + slack,
        Sense.UNDER: value < one.value - slack,
        Sense.OVER: value > one.value + slack,
        Sense.WITHIN: abs(value) <= one.value + slack,
        Sense.BETWEEN: one.value - slack <= value <= one.upper + slack,
    }[one.sense]


def judge_depth(rule: Rule, tables: Tables, evidence: Evidence) -> Sequence[Judged]:
    """Depth of the open interval's top against every limit; an uncased probe reaches the results of its samples."""
    table = tables.get("probes")
    if table is None:
        return ()
    depth = table.number("depth_top")
    kind = table.word("kind")
    state = np.zeros(table.rows, np.uint8)
    rows, outcomes, limits = [], [], []
    for row in range(table.rows):
        if kind is not None and kind.at(row) == "passive":
            continue
        if depth is None or depth.state[row] != READ:
            state[row] = Outcome.UNPROVEN
            rows, outcomes, limits = [*rows, row], [*outcomes, Outcome.UNPROVEN], [*limits, -1]
            continue
        broken = [number for number, one in enumerate(rule.limits) if not passes(depth.values[row], one)]
        state[row] = Outcome.BROKEN if broken else Outcome.HOLDS
        if broken:
            rows, outcomes, limits = [*rows, row], [*outcomes, Outcome.BROKEN], [*limits, broken[-1]]
    results = tables.get("results")
    pairs = [(entry, row) for entry in range(len(rows)) for row in range(results.rows if results else 0)]
    size = len(rows)
    links = Links(np.array([a for a, _ in pairs], np.int64), np.array([b for _, b in pairs], np.int64))
    return (
        Judged(
            state, np.array(rows, np.int64), np.array(outcomes, np.uint8), np.array(limits, np.int16),
            np.full(size, np.nan), np.full(size, -1, np.int16), (), np.zeros(size, bool), results=links,
        ),
    )  # fmt: skip


def example(
    name: str, expect: Mapping[str, tuple[str, str]] | str, row: Mapping[str, str] | None = None, **more: object
) -> Example:
    said = {"": (expect, "")} if isinstance(expect, str) else expect
    return Example(
        name, row or {}, more.get("tables", {}), more.get("project", {}), said, more.get("reached", {}), "r.yaml", 9
    )  # type: ignore[arg-type]


def rule(*examples: Example, limits: tuple[Limit, ...] = (limit("least", Sense.AT_LEAST, 5),), **more: object) -> Rule:
    made = Rule(
        "depth", "t", "w", "topic", "probes", "depth", 0, limits=limits, examples=examples, file="r.yaml", line=3
    )
    return replace(made, **more)  # type: ignore[arg-type]


def book(*rules: Rule) -> Rulebook:
    return Rulebook(rules, (), (), MappingProxyType({}), {}, {})


def run(one: Rule) -> list[tuple[bool, str]]:
    return [(result.passed, result.got) for result in run_examples(book(one), judge=judge_depth)]


def test_each_outcome_can_be_expected() -> None:
    assert run(
        rule(
            example("on it", "holds", {"depth_top": "5 ft"}),
            example("shallow", {"": ("broken", "least")}, {"depth_top": "59 in"}),
            example("some limit", "broken", {"depth_top": "1.5 m"}),
            example("no depth", "unproven", {"kind": "driven"}),
            example("passive", "not concerned", {"kind": "passive", "depth_top": "1 ft"}),
        )
    ) == [
        (True, "holds"),
        (True, "broken: least"),
        (True, "broken: least"),
        (True, "unproven"),
        (True, "not concerned"),
    ]


def test_a_failing_example_names_rule_example_place_and_difference() -> None:
    (result,) = run_examples(book(rule(example("wrong", "holds", {"depth_top": "4 ft"}))), judge=judge_depth)
    assert not result.passed
    assert (result.expected, result.got) == ("holds", "broken: least")
    assert result.message == "r.yaml:9: depth, example 'wrong': expected holds, got broken: least"


def test_the_right_outcome_by_the_wrong_limit_fails() -> None:
    limits = (limit("least", Sense.AT_LEAST, 5), limit("gross", Sense.AT_LEAST, 1))
    one = rule(example("gross", {"": ("broken", "least")}, {"depth_top": "6 in"}), limits=limits)
    assert run(one) == [(False, "broken: gross")]


def test_a_row_inherits_the_conditions_of_its_rule() -> None:
    where = {
        "kind": ("implant", "driven"),
        "joints_checked": True,
        "locations.setting": "yard",
        "depth_top": {"at_least": 1.0},
    }
    seen: list[tuple[str, ...]] = []

    def look(one: Rule, tables: Tables, evidence: Evidence) -> Sequence[Judged]:
        probes, locations = tables.get("probes"), tables.get("locations")
        assert probes is not None and locations is not None
        seen.append(
            (
                probes.word("kind").at(0),  # type: ignore[union-attr]
                str(probes.yes_no("joints_checked").values[0]),  # type: ignore[union-attr]
                probes.text("location_id").at(0),  # type: ignore[union-attr]
                locations.text("setting").at(0),  # type: ignore[union-attr]
                str(locations.keys[0]),
            )
        )
        assert "depth_top" not in probes
        return judge_depth(one, tables, evidence)

    run_examples(book(rule(example("bare", "unproven", {"rod_length": "6 ft"}), where=where)), judge=look)
    assert seen == [("implant", "1", "locations-1", "yard", "locations-1")]


def test_a_cell_of_the_example_outranks_the_condition() -> None:
    one = rule(example("passive", "not concerned", {"kind": "passive"}), where={"kind": "driven"})
    assert run(one) == [(True, "not concerned")]


def test_outcomes_by_key_and_the_results_reached() -> None:
    tables = {
        "probes": ({"probe_id": "P1", "depth_top": "4 ft"}, {"probe_id": "P2", "depth_top": "6 ft"}),
        "results": ({"sample_id": "A"}, {"sample_id": "A", "analyte": "toluene", "cas": "108-88-3"}),
    }
    expect = {"P1": ("broken", "least"), "P2": ("holds", "")}
    reached = {"P1": ("A/108-88-3", "A/71-43-2"), "P2": ()}
    good = example("two probes", expect, tables=tables, reached=reached)
    short = example("one is forgotten", expect, tables=tables, reached={"P1": ("A/71-43-2",)})
    one = rule(good, short, reaches="sample")
    first, second = run_examples(book(one), judge=judge_depth)
    assert first.passed
    assert first.got == "P1: broken: least; P2: holds"
    assert "must reach A/71-43-2, reached A/108-88-3, A/71-43-2" in second.message
    (first, _) = run_examples(book(replace(one, reaches="row")), judge=judge_depth)
    assert "must reach A/108-88-3, A/71-43-2, reached nothing" in first.message


def lowered(letters: Pair, effect: Mapping[str, Pair], **more: object) -> tuple[bool, str]:
    """A probe that is too shallow, over results of toluene and oxygen of its sample, and the letters expected of it."""
    tables = {
        "probes": ({"probe_id": "P1", "depth_top": "4 ft"}, {"probe_id": "P2", "depth_top": ""}),
        "results": (
            {"sample_id": "A", "analyte": "toluene", "cas": "108-88-3"},
            {"sample_id": "A", "analyte": "oxygen", "cas": "7782-44-7"},
        ),
    }
    expect = {"P1": ("broken", "least"), "P2": ("unproven", "")}
    told = replace(example("low", expect, tables=tables), effect=effect)
    one = rule(told, consequence={"least": letters}, reaches="sample", measure="intake_depth", **more)
    (result,) = run_examples(book(one), judge=judge_depth)
    return result.passed, result.message


LOW = Pair(Letter.J_MINUS, Letter.UJ)
REJECTED = Pair(Letter.R, Letter.R)


def test_letters_are_pinned_by_finding() -> None:
    assert lowered(LOW, {"P1": LOW, "P2": NOTE}, no_evidence=NOTE) == (True, "")
    assert "P1: must become R / R, became J- / UJ" in lowered(LOW, {"P1": REJECTED})[1]
    assert "P2: must become note / note, became - / -" in lowered(LOW, {"P2": NOTE})[1]


def test_letters_are_pinned_on_the_results_reached_and_turn_on_oxygen_where_air_was_let_in() -> None:
    high = Pair(Letter.J_PLUS, Letter.NONE)
    assert lowered(LOW, {"A/108-88-3": LOW, "A/7782-44-7": LOW}) == (True, "")
    assert lowered(LOW, {"A/108-88-3": LOW, "A/7782-44-7": high}, air_let_in=True) == (True, "")
    assert "A/7782-44-7: must become J- / UJ, became J+ / -" in lowered(LOW, {"A/7782-44-7": LOW}, air_let_in=True)[1]
    assert "A/71-43-2: the example has no such result" in lowered(LOW, {"A/71-43-2": LOW})[1]


def test_a_key_that_no_row_has_fails_and_offers_the_nearest() -> None:
    tables = {"probes": ({"probe_id": "P-1", "depth_top": "6 ft"}, {"probe_id": "Q-9", "depth_top": "6 ft"})}
    (result,) = run_examples(book(rule(example("lost", {"P-2": ("holds", "")}, tables=tables))), judge=judge_depth)
    assert not result.passed
    assert "P-2: no row has this key; did you mean 'P-1'?" in result.message


def test_a_cell_without_unit_fails_the_example_and_stops_no_other() -> None:
    first, second = run_examples(
        book(rule(example("bare", "holds", {"depth_top": "5"}), example("fine", "holds", {"depth_top": "5 ft"}))),
        judge=judge_depth,
    )
    assert not first.passed
    assert "has no unit" in first.message
    assert second.passed


def test_a_fault_in_a_check_names_the_example() -> None:
    def fail(*_: object) -> Sequence[Judged]:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError) as raised:
        run_examples(book(rule(example("zero", "holds", {"depth_top": "5 ft"}))), judge=fail)
    assert raised.value.__notes__ == ["in the example 'zero' of depth, r.yaml:9"]


def test_only_the_rules_named_are_run() -> None:
    one, two = (
        rule(example("a", "holds", {"depth_top": "5 ft"})),
        replace(rule(example("b", "unproven", {"kind": "driven"})), id="deep"),
    )
    assert [result.rule for result in run_examples(book(one, two), ["deep"], judge=judge_depth)] == ["deep"]
    with pytest.raises(UsageError, match="there is no rule 'dep'; did you mean 'deep'"):
        run_examples(book(one, two), ["dep"], judge=judge_depth)


def unnoticed(one: Rule) -> list[tuple[str, bool, bool]]:
    return [(found.limit, found.on, found.past) for found in nudge_limits(book(one), judge=judge_depth)]


def depths(*cells: str) -> list[Example]:
    return [example(cell, "holds", {"depth_top": cell}) for cell in cells]


@pytest.mark.parametrize(
    ("one", "on", "past"),
    [
        (limit("l", Sense.AT_LEAST, 5), "5 ft", "4.9 ft"),
        (limit("l", Sense.AT_MOST, 5), "5 ft", "5.1 ft"),
        (limit("l", Sense.OVER, 5), "5 ft", "5.1 ft"),
        (limit("l", Sense.UNDER, 5), "5 ft", "4.9 ft"),
        (limit("l", Sense.WITHIN, 5), "-5 ft", "5.1 ft"),
    ],
)
def test_a_limit_is_pinned_by_an_example_on_it_and_one_just_past_it(one: Limit, on: str, past: str) -> None:
    assert unnoticed(rule(*depths(on, past), limits=(one,))) == []
    assert unnoticed(rule(*depths(on), limits=(one,))) == [("l", False, True)]
    assert unnoticed(rule(*depths(past), limits=(one,))) == [("l", True, False)]
    assert unnoticed(rule(*depths("20 ft", "1 in"), limits=(one,))) == [("l", True, True)]


def test_both_ends_of_a_range_must_be_pinned() -> None:
    one = limit("l", Sense.BETWEEN, 5, upper=8)
    assert unnoticed(rule(*depths("5 ft", "4.9 ft", "8 ft", "8.1 ft"), limits=(one,))) == []
    assert unnoticed(rule(*depths("5 ft", "4.9 ft", "8.1 ft"), limits=(one,))) == [("l", True, False)]
    assert unnoticed(rule(*depths("5 ft", "8 ft", "8.1 ft"), limits=(one,))) == [("l", False, True)]


def test_words_are_not_nudged() -> None:
    words = Limit("w", Sense.IS, float("nan"), "", "yes", SOURCE, Backing.PRACTICE, words=("yes",))
    assert nudge_limits(book(rule(*depths("5 ft"), limits=(words,))), judge=lambda *_: ()) == []


def test_the_message_names_file_rule_and_limit() -> None:
    (found,) = nudge_limits(book(rule(*depths("20 ft"))), judge=judge_depth)
    assert found.message == "r.yaml:3: no example of depth stands on it and just past it: least, at_least 5 ft"
