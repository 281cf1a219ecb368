"""Professional judgements: what they replace, what they cannot, and when they no longer count.

The letters before a judgement are those of the written rules (see `judged_tables`); after it, those that it names.
"""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from judged_tables import BENZENE, BOOK, DAY, LEAK, PCE, TCE, TOLUENE, ids, index, made, reviewed, weighed, worth
from test_properties import copy, read, table_files, write

from vaporqa.criteria import Rule
from vaporqa.errors import UsageError
from vaporqa.intake import load_project, read_folder
from vaporqa.judging import nearest_findings
from vaporqa.outcomes import LETTERS, Effect, Letter, Pair
from vaporqa.report.sentences import Sentences
from vaporqa.review import review_folder
from vaporqa.review.fingerprints import Fingerprints
from vaporqa.review.values import Review
from vaporqa.rulebook.judgement_file import Judgement, Judgements
from vaporqa.rulebook.judgement_letters import JUDGED_DETECT, JUDGED_NONDETECT, decided_pair, pair_fault
from vaporqa.tables.project import Project
from vaporqa.tables.values import Tables

FOLDERS = Path(__file__).parents[2] / "sample_inputs"
PLAIN = {BENZENE: "estimated J", TOLUENE: "estimated UJ", TCE: "estimated J-", PCE: "estimated UJ"}


@pytest.fixture(scope="module")
def tables() -> Tables:
    return made()


def confirming(review: Review, finding: str, effect: str, detect: str, nondetect: str) -> Judgement:
    """A judgement of a finding with letters of its own, its fingerprint right."""
    prints = Fingerprints(review.evidence, review.rules, review.judged, review.findings)
    at = index(review, finding)
    return Judgement(
        finding, DAY, "reviewer A", "Looked at again.", Effect[effect.upper()],
        Pair(LETTERS[detect], LETTERS[nondetect]), Effect(int(review.findings.effect[at])), prints.pair(at),
        prints.measured(at), prints.limit(at), prints.of(at),
    )  # fmt: skip


def test_what_the_rules_say_without_a_judgement(tables: Tables) -> None:
    assert worth(reviewed(tables)) == PLAIN


@pytest.mark.parametrize(
    ("effect", "letters", "expected"),
    [
        # Without the leak, benzene keeps the J+ of its blank, and the rest is as reported.
        ("note", ("note", "note"), {BENZENE: "estimated J+", TOLUENE: "usable U", TCE: "usable", PCE: "usable U"}),
        ("estimate", ("J-", "UJ"), PLAIN),
        ("unproven", ("unproven", "unproven"),
         {BENZENE: "unproven J+", TOLUENE: "unproven U", TCE: "unproven", PCE: "unproven U"}),
        ("reject", ("R", "R"), dict.fromkeys(PLAIN, "rejected R")),
    ],
)  # fmt: skip
def test_an_effect_decides_the_letters(
    tables: Tables, effect: str, letters: tuple[str, str], expected: dict[str, str]
) -> None:
    found = weighed(tables, LEAK, effect)
    assert (found.judgement.pair.detect.word, found.judgement.pair.nondetect.word) == letters
    assert worth(found.after) == expected
    assert not found.named


def test_letters_that_are_named_count(tables: Tables) -> None:
    found = weighed(tables, LEAK, "estimate", "J+", "note")
    assert worth(found.after) == {BENZENE: "estimated J+", TOLUENE: "usable U", TCE: "estimated J+", PCE: "usable U"}
    assert found.named


def test_an_estimate_of_a_gross_leak_takes_the_direction_of_the_smaller_one() -> None:
    # 5 of 20 %v is 25 %, over the 20 % of the gross leak: R / R; the rule's other limit says J- / UJ.
    tables = made(train="5 %v")
    assert set(worth(reviewed(tables)).values()) == {"rejected R"}
    assert str(weighed(tables, LEAK, "estimate").judgement.pair) == "J- / UJ"


def test_the_finding_stays_and_its_own_letters_stand_beside(tables: Tables) -> None:
    found = weighed(tables, LEAK, "note")
    assert ids(found.after) == ids(found.before)
    applied = found.after.judging.applied[found.index]
    assert (applied.effect_before, str(applied.before)) == (Effect.ESTIMATE, "J- / UJ")
    assert found.after.findings.effect_word(found.index) == "note"
    said = Sentences(found.after).one(found.index)
    assert said.startswith(Sentences(found.before).one(found.index_before))
    assert said.endswith(
        " Judged by reviewer A on 2026-03-09: note (note / note) in place of estimate (J- / UJ). "
        "Reason given: The field notes say so."
    )
    # Every result that the finding reaches names it still.
    row = found.after.tables.tables["results"].keys.tolist().index(TOLUENE)
    lists = Sentences(found.after).lists("results")
    assert found.index in lists.sets[int(lists.of_row[row])]


def test_rows_that_end_otherwise_are_counted(tables: Tables) -> None:
    better, worse, other = weighed(tables, LEAK, "note").moved()["results"]
    assert (len(better), len(worse), len(other)) == (3, 0, 1)


def test_a_judged_blank_makes_a_detect_again(tables: Tables) -> None:
    """The U turned 0.4 into a nondetect at 0.5; judged a note, 0.4 is a detect under its reporting limit of 1.0: J."""
    found = weighed(tables, "method-blank/results/" + PCE, "note")
    after = found.after
    row = after.tables.tables["results"].keys.tolist().index(PCE)
    assert after.final is not None
    assert found.before.final is not None
    assert (int(found.before.final.detected[row]), float(found.before.final.limit[row])) == (0, 0.5)
    assert (int(after.final.detected[row]), float(after.final.value[row])) == (1, 0.4)
    assert "below-reporting-limit/results/" + PCE in ids(after)
    assert worth(after)[PCE] == "estimated J"


def test_a_finding_that_a_judged_blank_brings_up_can_be_judged_too(tables: Tables) -> None:
    blank = weighed(tables, "method-blank/results/" + PCE, "note").judgement
    low = weighed(tables, "below-reporting-limit/results/" + PCE, "note", standing=Judgements((blank,))).judgement
    leak = weighed(tables, LEAK, "note", standing=Judgements((blank, low))).judgement
    after = reviewed(tables, [low, leak, blank])
    assert len(after.judging.applied) == 3
    assert worth(after)[PCE] == "usable"
    # Without the judgement of the blank there is no such finding.
    alone = reviewed(tables, [low])
    assert [one.change for one in alone.judging.not_applied] == ["no finding has that id now"]


def test_a_finding_on_a_whole_table_can_be_judged(tables: Tables) -> None:
    whole = "container-blank/results/*"
    assert worth(weighed(tables, whole, "unproven").after)[TOLUENE] == "unproven UJ"


def test_a_new_row_opens_what_was_judged_of_a_whole_table(tables: Tables) -> None:
    judgement = weighed(tables, "container-blank/results/*", "unproven").judgement
    assert len(reviewed(made(), [judgement]).judging.applied) == 1
    more = reviewed(made(results={"100-41-4": "3"}), [judgement])
    assert len(more.judging.not_applied) == 1


def test_a_changed_value_opens_the_finding_again(tables: Tables) -> None:
    judgement = weighed(tables, LEAK, "note").judgement
    after = reviewed(made(train="1.8 %v"), [judgement])  # 9 % of 20 %v, still under the 20 % of a gross leak
    assert worth(after) == PLAIN
    assert not after.judging.applied
    stale = index(after, "judgement-stale/tracer_tests/*:" + LEAK)
    assert after.findings.effect_word(stale) == "note"
    assert str(after.findings.key[stale]) == "*:" + LEAK
    assert Sentences(after).one(stale) == (
        "The judgement of leak-tracer-recovery/tracer_tests/T1 by reviewer A on 2026-03-09 is not applied: it judged "
        "8 % against at most 5 %, and there is 9 % against at most 5 % now; the finding is open again."
    )


def test_a_cell_that_changes_without_the_number_opens_it_too(tables: Tables) -> None:
    judgement = weighed(tables, LEAK, "note").judgement
    assert len(reviewed(made(), [judgement]).judging.applied) == 1
    changed = reviewed(made(train="16000 ppmv"), [judgement])  # the same 8 %, written otherwise
    assert not changed.judging.applied
    assert "the values behind it have changed (fingerprint" in changed.judging.not_applied[0].change


def test_a_judgement_that_meets_nothing_is_a_finding_of_its_own(tables: Tables) -> None:
    judgement = replace(weighed(tables, LEAK, "note").judgement, finding="purge-flow/purges/PU-9")
    after = reviewed(tables, [judgement])
    assert worth(after) == PLAIN
    stale = index(after, "judgement-stale/results/*:purge-flow/purges/PU-9")
    assert "no finding has that id now" in Sentences(after).one(stale)


def test_a_superseded_judgement_is_history(tables: Tables) -> None:
    judgement = replace(weighed(tables, LEAK, "note").judgement, superseded=DAY)
    after = reviewed(tables, [judgement])
    assert worth(after) == PLAIN
    assert (len(after.judging.applied), len(after.judging.not_applied), len(after.judging.superseded)) == (0, 0, 1)


@pytest.mark.parametrize("text", ["1.2.3", "abc"])
def test_no_judgement_makes_a_value_exist(text: str) -> None:
    """Every finding of a row whose number cannot be read is judged away; the row stays unproven all the same."""
    tables = made(results={"79-01-6": text})
    review = reviewed(tables)
    assert worth(review)[TCE].startswith("unproven")
    mine = [one for one in ids(review) if TCE in one and not one.startswith("result-judged")]
    assert any(one.startswith(("readable-number", "known-unit")) for one in mine)
    judgements = [confirming(review, one, "note", "note", "note") for one in [*mine, LEAK]]
    after = reviewed(tables, judgements)
    assert len(after.judging.applied) == len(judgements)
    assert worth(after)[TCE].startswith("unproven")
    floor = index(after, "result-judged/results/" + TCE)
    assert "cannot be read, and a professional judgement puts none in its place" in Sentences(after).one(floor)
    # The other rows take what the judgements give them.
    assert worth(after)[TOLUENE] == "usable U"


def test_the_floor_that_a_judgement_brings_up_can_be_judged_graver() -> None:
    tables = made(results={"79-01-6": "abc"})
    review = reviewed(tables)
    mine = [one for one in ids(review) if TCE in one and not one.startswith("result-judged")]
    judgements = [confirming(review, one, "note", "note", "note") for one in [*mine, LEAK]]
    floor = "result-judged/results/" + TCE
    graver = weighed(tables, floor, "reject", standing=Judgements(tuple(judgements))).judgement
    after = reviewed(tables, [graver, *judgements])
    assert after.judging.not_applied == ()
    assert worth(after)[TCE] == "rejected R"


def test_no_judgement_makes_a_nondetect_without_a_readable_limit_usable() -> None:
    tables = made(results={"108-88-3": "ND"}, reporting_limit="1.2.3", limit_of_detection="")
    review = reviewed(tables)
    mine = [one for one in ids(review) if TOLUENE in one and not one.startswith("result-judged")]
    rest = [one for one in ids(review) if "/*" in one or one == LEAK]
    judgements = [confirming(review, one, "note", "note", "note") for one in [*mine, *rest]]
    after = reviewed(tables, judgements)
    assert len(after.judging.applied) == len(judgements)
    assert worth(review)[TOLUENE].startswith("unproven")
    assert worth(after)[TOLUENE].startswith("unproven")


def test_the_floor_itself_cannot_be_judged_away() -> None:
    tables = made(results={"79-01-6": "abc"})
    with pytest.raises(UsageError, match="no judgement can make it usable"):
        weighed(tables, "result-judged/results/" + TCE, "note")


def test_a_judgement_of_a_judgement_is_refused(tables: Tables) -> None:
    with pytest.raises(UsageError, match="judge the finding that it names again"):
        weighed(tables, f"judgement-stale/tracer_tests/*:{LEAK}", "note")


def test_a_second_judgement_needs_to_be_asked_for(tables: Tables) -> None:
    first = weighed(tables, LEAK, "note").judgement
    with pytest.raises(UsageError, match=r"judged already, by reviewer A on 2026-03-09"):
        weighed(tables, LEAK, "reject", standing=Judgements((first,)))
    second = weighed(tables, LEAK, "reject", standing=Judgements((first,)), replaces=True)
    assert second.earlier == first
    # What it says of the rule is what the rule said, not the first judgement.
    assert (second.judgement.original_effect, str(second.judgement.original)) == (Effect.ESTIMATE, "J- / UJ")
    assert second.judgement.fingerprint == first.fingerprint
    assert worth(second.before)[TOLUENE] == "usable U"
    assert worth(second.after)[TOLUENE] == "rejected R"


def test_nearest_findings_are_those_of_the_rule_first() -> None:
    known = [
        "purge-flow/purges/PU-A04",
        "purge-flow/purges/PU-A05",
        "purge-volumes/purges/PU-A04",
        *map(str, range(50)),
    ]
    assert nearest_findings("purge-flow/purges/PU-A4", known)[0] == "purge-flow/purges/PU-A04"
    assert len(nearest_findings("purge-flow/purges/PU-A0", known * 9)) <= 5
    assert nearest_findings("nothing like it", ["x/y/z"]) == []


# Properties


def _folder(name: str) -> tuple[Project, Tables]:
    project = load_project(FOLDERS / name)
    return project, read_folder(FOLDERS / name, project)


@pytest.fixture(scope="module", params=["alder-crossing", "cutbank-terminal"])
def folder(request: pytest.FixtureRequest) -> tuple[Project, Tables, Review]:
    project, tables = _folder(str(request.param))
    return project, tables, review_folder(project, tables, BOOK)


def flags(review: Review) -> dict[str, tuple[bytes, bytes, bytes]]:
    return {
        name: (one.standing.tobytes(), one.qualifier.tobytes(), one.bias.tobytes())
        for name, one in review.settled.items()
    }


def test_a_judgement_of_equal_letters_changes_no_flag(folder: tuple[Project, Tables, Review]) -> None:
    project, tables, plain = folder
    same = [
        replace(
            confirming(plain, one, "note", "note", "note"),
            pair=Pair(Letter(int(plain.findings.detect[at])), Letter(int(plain.findings.nondetect[at]))),
        )
        for at, one in enumerate(ids(plain))
    ]
    after = review_folder(project, tables, BOOK, Judgements(tuple(same)))
    assert len(after.judging.applied) == len(same) > 10
    assert flags(after) == flags(plain)
    assert after.findings.effect.tolist() == plain.findings.effect.tolist()


@pytest.mark.parametrize("name", ["alder-crossing", "cutbank-terminal"])
def test_a_fingerprint_does_not_depend_on_where_rows_and_columns_stand(name: str, tmp_path: Path) -> None:
    project, tables = _folder(name)
    mixed = copy(name, tmp_path)
    rng = random.Random(5)
    for path in table_files(mixed):
        header, rows, delimiter = read(path)
        rng.shuffle(rows)
        write(path, header[::-1], [row[::-1] for row in rows], delimiter)
    other = read_folder(mixed, load_project(mixed))
    assert prints_of(review_folder(project, tables, BOOK)) == prints_of(review_folder(project, other, BOOK))


def prints_of(review: Review) -> dict[str, str]:
    prints = Fingerprints(review.evidence, review.rules, review.judged, review.findings)
    return {one: prints.of(at) for at, one in enumerate(ids(review))}


_EFFECTS = st.sampled_from(["note", "estimate", "unproven", "reject"])


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_the_order_of_judgements_does_not_matter(tables: Tables, data: st.DataObject) -> None:
    plain = reviewed(tables)
    chosen = data.draw(st.lists(st.sampled_from(ids(plain)), min_size=2, max_size=5, unique=True))
    given_letters = {"note": "note", "estimate": "", "unproven": "unproven", "reject": "R"}
    judgements = []
    for one in chosen:
        effect = data.draw(_EFFECTS)
        letter = given_letters[effect]
        judgements.append(confirming(plain, one, effect, letter or "J", letter or "UJ"))
    turned = data.draw(st.permutations(judgements))
    first, second = reviewed(tables, judgements), reviewed(tables, turned)
    assert flags(first) == flags(second)
    assert ids(first) == ids(second)


@given(detect=st.sampled_from(JUDGED_DETECT), nondetect=st.sampled_from(JUDGED_NONDETECT), word=_EFFECTS)
def test_letters_go_with_an_effect_when_the_graver_one_has_it(detect: str, nondetect: str, word: str) -> None:
    effect = Effect[word.upper()]
    pair = Pair(LETTERS[detect], LETTERS[nondetect])
    fits = max(pair.effect, Effect.NOTE) is effect
    assert (pair_fault(effect, pair) is None) == fits


@given(
    word=_EFFECTS, detect=st.sampled_from([one for one in LETTERS if one != "UJ"]),
    nondetect=st.sampled_from(JUDGED_NONDETECT), rule=st.sampled_from(BOOK.rules),
)  # fmt: skip
def test_the_letters_that_an_effect_decides_always_go_with_it(
    word: str, detect: str, nondetect: str, rule: Rule
) -> None:
    effect = Effect[word.upper()]
    pair = decided_pair(effect, Pair(LETTERS[detect], LETTERS[nondetect]), rule)
    assert pair_fault(effect, pair) is None
