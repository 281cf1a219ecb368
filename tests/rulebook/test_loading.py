"""Which files are read, in which order, which profiles apply, and what is refused on the way."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from rule_words import WORDS

from vaporqa.criteria import Backing, Rulebook, Sense
from vaporqa.errors import RulebookError, UsageError
from vaporqa.outcomes import NOTHING, UNPROVEN, Letter, Pair
from vaporqa.rulebook import load_rulebook, shipped_headings
from vaporqa.rulebook.bounds import read_in
from vaporqa.tables.yaml_nodes import SIZE_LIMIT

GOOD = Path(__file__).parent / "good"
PROFILE = """
format: 1
profile: {name}
about: a test
limits: {{leak-tracer-recovery.leak: {{{sense}: {number}, source: {{reasoning: r}}, backing: practice}}}}
"""
TOPIC = """
format: 1
topic: {topic}
about: a test
rules:
  - id: {rule}
    title: T
    why: W
    row: samples
    check: present
    consequence: {{broken: note, no_evidence: none}}
    say: {{broken: "It is not there."}}
    examples:
      - {{name: there, row: {{sample_id: A}}, expect: holds}}
      - {{name: gone, row: {{sample_id: A}}, expect: broken}}
"""


def load(**how: object) -> Rulebook:
    return load_rulebook(shipped=GOOD, vocabulary=WORDS, **how)  # type: ignore[arg-type]


def messages(**how: object) -> list[str]:
    with pytest.raises(RulebookError) as raised:
        load(**how)
    return [f"{one.file}:{one.line}: {one.message}" for one in raised.value.problems]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "project" / "ours").mkdir(parents=True)
    return tmp_path / "project"


def test_a_rule_is_read_as_a_person_reads_it() -> None:
    rule = load().rule("leak-tracer-recovery")
    assert dict(rule.where) == {
        "approach": "shroud",
        "train_detected": True,
        "probes.kind": ("driven", "implant"),
        "probes.depth_top": {"at_least": pytest.approx(5 * 0.3048)},
    }
    assert (rule.air_let_in, rule.spares_tracer, rule.stage, rule.reaches) == (True, True, "1", "sample")
    assert dict(rule.options) == {"either": False}
    assert rule.pair("leak") == Pair(Letter.J_MINUS, Letter.UJ)
    assert rule.pair("gross_leak") == Pair(Letter.R, Letter.R)
    assert rule.pair("weak_shroud") == Pair(Letter.NOTE, Letter.NOTE)
    assert rule.no_evidence == UNPROVEN
    assert "no_evidence" not in rule.consequence


def test_limits_are_canonical_and_keep_what_was_written() -> None:
    leak, gross, shroud = load().rule("leak-tracer-recovery").limits
    assert (leak.sense, leak.value, leak.number, leak.unit, leak.written) == (
        Sense.AT_MOST,
        0.05,
        5.0,
        "%",
        "at most 5 %",
    )
    assert str(leak.source) == "Advisory, California EPA (DTSC), 2015, 4.2.2.2"
    assert (leak.backing, leak.profile, dict(leak.when)) == (Backing.VERIFIED, "baseline", {"basis": "field"})
    assert (gross.value, gross.backing) == (0.2, Backing.DERIVED)
    assert (shroud.measure, shroud.value) == ("lowest_shroud", 10 * 1e7)  # ppbv in a hundredth


def test_a_unit_is_kept_by_its_symbol() -> None:
    # checks count calendar days where the unit is d, whichever way a person spells it
    for spelling in ("30 d", "30 days", "30 day"):
        assert read_in(spelling, "duration") == (30 * 86_400.0, 30.0, "d")


def test_cells_of_examples_stay_as_written() -> None:
    rows = load().rule("leak-tracer-recovery").examples[3].tables["tracer_tests"]
    assert rows[0]["sample_id"] == "010"
    assert rows[0]["at"] == "12:30"
    assert rows[0]["train_detected"] == "no"
    assert rows[1]["shroud_low_unit"] == "1e-3"


def test_rules_stand_in_topic_order_and_know_their_place() -> None:
    rulebook = load()
    assert [rule.id for rule in rulebook.rules] == ["leak-tracer-recovery", "method-blank"]
    assert [rule.order for rule in rulebook.rules] == [0, 1]
    assert list(rulebook.topics) == ["leak_tracer", "blanks"]
    assert rulebook.rules[1].no_evidence == NOTHING
    assert (rulebook.rules[1].row, rulebook.rules[1].also) == ("results", ("lab_qc",))
    assert rulebook.rules[0].line == 1 + GOOD.joinpath("leak_tracer.yaml").read_text().splitlines().index(
        "  - id: leak-tracer-recovery"
    )


def test_files_are_hashed() -> None:
    import hashlib

    files = load().files
    assert set(files) == {"rules/leak_tracer.yaml", "rules/blanks.yaml", "rules/profiles/illinois.yaml"}
    assert files["rules/blanks.yaml"] == hashlib.sha256((GOOD / "blanks.yaml").read_bytes()).hexdigest()


def test_schemes_are_values() -> None:
    scheme = load().schemes["multiples"]
    assert [(cell.nondetect, cell.letter, cell.at) for cell in scheme.cells] == [
        (True, Letter.NONE, ""),
        (False, Letter.U, "higher"),
        (None, Letter.NONE, ""),
    ]
    (comparison,) = scheme.cells[1].conditions
    assert (comparison.sense, comparison.factor, comparison.common_factor, comparison.of) == (
        Sense.AT_MOST,
        5,
        10,
        "blank",
    )


def test_a_profile_replaces_number_and_sense_and_says_so() -> None:
    rulebook = load(profiles=["illinois"])
    leak = rulebook.rule("leak-tracer-recovery").limit("leak")
    assert (leak.sense, leak.value, leak.profile, dict(leak.when)) == (Sense.UNDER, 0.1, "illinois", {"basis": "field"})
    assert not rulebook.rule("method-blank").off
    assert rulebook.profiles == ("illinois",)
    assert [(one.what, one.before, one.after) for one in rulebook.changes] == [
        ("leak-tracer-recovery.leak", "at most 5 %", "under 10 %"),
        ("method-blank", "off", "on"),
        ("blanks.scheme", "five-times", "multiples"),
        ("compare", "exact", "rounded"),
    ]
    assert rulebook.choose["compare"] == "rounded"


def test_the_baseline_changes_nothing() -> None:
    assert load(profiles=["baseline"]) == load()


def test_later_profiles_stand_over_earlier_ones(folder: Path) -> None:
    for name, number in (("loose", "12 %"), ("tight", "2 %")):
        (folder / "ours" / f"{name}.yaml").write_text(PROFILE.format(name=name, sense="at_most", number=number))
    for names, value in (
        (["loose", "tight"], 0.02),
        (["tight", "loose"], 0.12),
        (["tight", "illinois", "loose"], 0.12),
    ):
        rulebook = load(extra=[Path("ours")], folder=folder, profiles=names)
        assert rulebook.profiles == tuple(names)
        assert rulebook.rule("leak-tracer-recovery").limit("leak").value == value
    changed = [
        (one.before, one.after)
        for one in load(extra=[Path("ours")], folder=folder, profiles=["loose", "tight"]).changes
    ]
    assert changed == [("at most 5 %", "at most 12 %"), ("at most 12 %", "at most 2 %")]


def test_a_profile_of_the_project_that_is_not_named_comes_last(folder: Path) -> None:
    (folder / "ours" / "plan.yaml").write_text(PROFILE.format(name="our-plan", sense="at_most", number="3 %"))
    rulebook = load(extra=[Path("ours")], folder=folder, profiles=["illinois"])
    assert rulebook.profiles == ("illinois", "our-plan")
    assert rulebook.rule("leak-tracer-recovery").limit("leak").written == "at most 3 %"


def test_rules_of_the_project_come_after_the_shipped_ones(folder: Path) -> None:
    (folder / "ours" / "a_topic.yaml").write_text(TOPIC.format(topic="Ours", rule="our-rule"))
    rulebook = load(extra=[Path("ours")], folder=folder)
    assert [rule.id for rule in rulebook.rules] == ["leak-tracer-recovery", "method-blank", "our-rule"]
    assert rulebook.rule("our-rule").file == "ours/a_topic.yaml"


def test_a_rule_id_that_stands_already_names_both_places(folder: Path) -> None:
    (folder / "ours" / "a_topic.yaml").write_text(TOPIC.format(topic="Ours", rule="method-blank"))
    line = 1 + (GOOD / "blanks.yaml").read_text().splitlines().index("  - id: method-blank")
    assert messages(extra=[Path("ours")], folder=folder) == [
        f"ours/a_topic.yaml:6: the rule 'method-blank' stands already in rules/blanks.yaml:{line}"
    ]


def test_a_topic_or_profile_name_that_stands_already_is_refused(folder: Path) -> None:
    (folder / "ours" / "blanks.yaml").write_text(TOPIC.format(topic="Ours", rule="our-rule"))
    (folder / "ours" / "il.yaml").write_text(PROFILE.format(name="illinois", sense="at_most", number="3 %"))
    assert messages(extra=[Path("ours")], folder=folder) == [
        "ours/blanks.yaml:0: the topic 'blanks' stands already in rules/blanks.yaml",
        "ours/il.yaml:3: the profile 'illinois' stands already in rules/profiles/illinois.yaml",
    ]


def test_an_unknown_profile_is_offered_the_nearest() -> None:
    with pytest.raises(UsageError, match="there is no profile 'ilinois'; did you mean 'illinois'"):
        load(profiles=["ilinois"])


@pytest.mark.parametrize("stated", ["../outside.yaml", "ours/../../outside.yaml", "ours/link.yaml", "ours/linked"])
def test_a_path_that_leaves_the_folder_is_refused(folder: Path, stated: str) -> None:
    outside = folder.parent / "outside.yaml"
    outside.write_text(TOPIC.format(topic="Ours", rule="our-rule"))
    (folder.parent / "elsewhere").mkdir()
    (folder.parent / "elsewhere" / "more.yaml").write_text(TOPIC.format(topic="Ours", rule="our-rule"))
    (folder / "ours" / "link.yaml").symlink_to(outside)
    (folder / "ours" / "linked").symlink_to(folder.parent / "elsewhere", target_is_directory=True)
    found = messages(extra=[Path(stated)], folder=folder)
    assert len(found) == 1
    assert "leaves the project folder" in found[0]


def test_an_absolute_path_in_project_yaml_is_refused_but_a_person_may_name_one(folder: Path) -> None:
    outside = folder.parent / "outside.yaml"
    outside.write_text(TOPIC.format(topic="Ours", rule="our-rule"))
    assert "leaves the project folder" in messages(extra=[outside], folder=folder)[0]
    assert load(further=[outside], folder=folder).rules[-1].id == "our-rule"


def test_missing_empty_and_large_paths_are_named_together(folder: Path) -> None:
    (folder / "large.yaml").write_bytes(b"#" * (SIZE_LIMIT + 1))
    (folder / "empty.yaml").write_text("")
    found = messages(extra=[Path("none.yaml"), Path("ours"), Path("large.yaml"), Path("empty.yaml")], folder=folder)
    assert found == [
        "empty.yaml:0: this is no rule file and no profile",
        f"large.yaml:0: the file has {SIZE_LIMIT + 1:,} bytes; at most {SIZE_LIMIT:,} are read",
        "none.yaml:0: there is no such rule file or folder",
        "ours:0: this folder holds no rule file",
    ]


def test_deep_nesting_and_foreign_bytes_are_refused(folder: Path) -> None:
    (folder / "deep.yaml").write_text("[" * 500 + "]" * 500)
    (folder / "bytes.yaml").write_bytes(b"topic: \xff\n")
    found = messages(extra=[Path("deep.yaml"), Path("bytes.yaml")], folder=folder)
    assert found[0] == "bytes.yaml:1: the file is not UTF-8 text"
    assert found[1].startswith("deep.yaml:1: nested deeper than")


def test_headings_are_those_of_the_loaded_rulebook() -> None:
    headings = shipped_headings(GOOD)
    assert headings is not None
    assert [(one.topic, one.id, one.title, one.off) for one in headings] == [
        (rule.topic, rule.id, rule.title, rule.off) for rule in load().rules
    ]


def test_headings_of_a_broken_file_are_left_to_the_loader(tmp_path: Path) -> None:
    (tmp_path / "broken.yaml").write_text("format: 1\ntopic: [\n")
    assert shipped_headings(tmp_path) is None


def test_neither_loading_nor_listing_imports_pandas() -> None:
    code = (
        "import sys\n"
        "from vaporqa.cli.rules import command\n"
        "command(['list'], standalone_mode=False)\n"
        "print([name for name in ('pandas', 'numpy', 'pydantic') if name in sys.modules])\n"
        "import vaporqa.rulebook.loading, vaporqa.checks\n"
        "print('pandas' in sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-2:] == ["[]", "False"]
