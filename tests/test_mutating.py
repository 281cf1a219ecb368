"""Rules changed in one place at a time: a change that no example notices is named, and no other."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import pytest
from test_examples import LOW, SOURCE, book, depths, example, judge_depth, limit, rule

from vaporqa.criteria import Backing, Limit, Rule, Sense
from vaporqa.examples import mutate_rules
from vaporqa.examples.mutating import mutants_of
from vaporqa.outcomes import NOTE, NOTHING, UNPROVEN, Letter, Pair

ON = replace(example("5 ft", "holds", {"depth_top": "5 ft"}))
PAST = replace(example("4.9 ft", {"": ("broken", "least")}, {"depth_top": "4.9 ft"}), effect={"": LOW})
OPEN = replace(example("bare", "unproven", {"kind": "driven"}), effect={"": UNPROVEN})


def pinned(*examples: object, **more: object) -> Rule:
    return rule(*examples, consequence={"least": LOW}, no_evidence=UNPROVEN, measure="intake_depth", **more)  # type: ignore[arg-type]


def survivors(one: Rule) -> list[str]:
    return [survivor.what for survivor in mutate_rules(book(one), judge=judge_depth).survivors]


def changes(one: Rule) -> dict[str, Rule]:
    found = list(mutants_of(one))
    assert len({what for what, _ in found}) == len(found)
    return dict(found)


def test_a_rule_whose_examples_pin_everything_has_no_survivors() -> None:
    attack = mutate_rules(book(pinned(ON, PAST, OPEN)), judge=judge_depth)
    # The number to two sides, the sense in two ways, the letters of a detect and a nondetect, and missing evidence.
    assert (attack.mutants, attack.survivors, attack.equivalent, attack.share) == (7, (), (), 0.0)


def test_without_an_example_on_the_limit_its_number_and_its_equality_survive() -> None:
    assert survivors(pinned(PAST, OPEN)) == [
        "least: number moved across an example on it", "least: at least read as over",
    ]  # fmt: skip


def test_an_example_that_does_not_say_what_follows_lets_the_letters_survive() -> None:
    silent = [replace(one, effect={}) for one in (PAST, OPEN)]
    assert survivors(pinned(ON, *silent)) == [
        "least: J- for a detect made J+", "least: UJ for a nondetect made -",
        "no evidence: unproven / unproven made note / note",
    ]  # fmt: skip


def test_an_example_that_fails_already_notices_nothing() -> None:
    wrong = replace(ON, expect={"": ("broken", "least")})
    assert survivors(pinned(wrong, PAST, OPEN)) == survivors(pinned(PAST, OPEN))


def test_a_survivor_is_named_with_file_and_line() -> None:
    first = mutate_rules(book(pinned(PAST, OPEN)), judge=judge_depth).survivors[0]
    assert first.message == "r.yaml:3: no example of depth notices: least: number moved across an example on it"


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (Pair(Letter.R, Letter.R), ["J / R", "R / UJ"]),
        (Pair(Letter.J, Letter.UJ), ["J- / UJ", "J / -"]),
        (Pair(Letter.J_PLUS, Letter.NONE), ["J- / -", "J+ / UJ"]),
        (UNPROVEN, ["note / unproven", "unproven / note"]),
        (NOTE, ["- / note", "note / -"]),
    ],
)
def test_each_half_of_a_pair_becomes_its_neighbour(before: Pair, after: list[str]) -> None:
    found = changes(rule(consequence={"least": before}))
    assert [str(one.pair("least")) for what, one in found.items() if " for a " in what] == after


def test_missing_evidence_reach_and_air_are_changed() -> None:
    one = pinned(reaches="sample", air_let_in=True, spares_tracer=True, row="tracer_tests")
    found = changes(one)
    assert found["no evidence: unproven / unproven made note / note"].no_evidence == NOTE
    assert found["reaches: sample made row"].reaches == "row"
    assert not found["air let in: no"].air_let_in
    assert not found["spares tracer: no"].spares_tracer
    assert changes(rule(no_evidence=NOTHING))["no evidence: - / - made unproven / unproven"].no_evidence == UNPROVEN
    rejected = rule(consequence={"least": Pair(Letter.R, Letter.R)}, reaches="sample")
    assert not [what for what in changes(rejected) if what.startswith("air")], "nothing of it turns"


def test_senses_are_read_otherwise() -> None:
    def read(one: Limit) -> list[tuple[Sense, float, float]]:
        got = [mutant.limits[0] for what, mutant in changes(rule(limits=(one,))).items() if "moved" not in what]
        return [(each.sense, each.value, each.upper) for each in got if each.sense is not one.sense or each != one]

    feet = 0.3048
    assert [one[0] for one in read(limit("l", Sense.AT_MOST, 5))][:2] == [Sense.UNDER, Sense.AT_LEAST]
    assert [one[0] for one in read(limit("l", Sense.OVER, 5))][:2] == [Sense.AT_LEAST, Sense.UNDER]
    assert [one[:2] for one in read(limit("l", Sense.WITHIN, 5))][:3] == [
        (Sense.AT_MOST, 5 * feet), (Sense.AT_LEAST, -5 * feet), (Sense.OVER, 5 * feet),
    ]  # fmt: skip
    assert [one[:2] for one in read(limit("l", Sense.BETWEEN, 5, upper=8))][:2] == [
        (Sense.AT_MOST, 8 * feet), (Sense.AT_LEAST, 5 * feet),
    ]  # fmt: skip


def test_words_cases_conditions_and_options_are_dropped_one_by_one() -> None:
    words = Limit(
        "w", Sense.IS, float("nan"), "", "words", SOURCE, Backing.PRACTICE, words=("yes", "no"),
        when=MappingProxyType({"kind": ("driven", "implant")}),
    )  # fmt: skip
    one = rule(
        *depths(), limits=(words,), where={"kind": ("driven", "implant"), "tip_use": "dedicated"},
        options={"gate": 5.0, "share": 0.5, "either": True, "needed_for": ("bag", "tube")},
    )  # fmt: skip
    found = changes(one)
    assert found["w: word 'yes' dropped"].limits[0].words == ("no",)
    assert found["w: when kind dropped"].limits[0].when == {}
    assert found["w: when kind: 'implant' dropped"].limits[0].when == {"kind": ("driven",)}
    assert found["where: kind: 'driven' dropped"].where == {"kind": ("implant",), "tip_use": "dedicated"}
    assert found["where: tip_use dropped"].where == {"kind": ("driven", "implant")}
    assert [found[f"option gate made {number}"].options["gate"] for number in (4, 6)] == [4.0, 6.0]
    assert found["option share made 0.45"].options["share"] == pytest.approx(0.45)
    assert found["option either made no"].options["either"] is False
    assert found["option needed_for: 'bag' dropped"].options["needed_for"] == ("tube",)
    assert "needed_for" not in found["option needed_for dropped"].options
