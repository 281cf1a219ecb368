"""``vaporqa rules`` on a rulebook of one rule, from its file to the screen."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

import vaporqa.rulebook
from vaporqa.checks import CHECKS, CheckSpec
from vaporqa.cli.rules import command
from vaporqa.criteria import Rule
from vaporqa.errors import UsageError
from vaporqa.evidence import Evidence
from vaporqa.evidence.judged import Judged
from vaporqa.outcomes import Outcome
from vaporqa.rulebook import loading, shipped

TOPIC = """
format: 1
topic: Depth of probes
about: How deep the open interval lies.
rules:
  - id: {rule}
    title: The open interval lies deep enough
    why: Outside air is drawn down to a shallow point, and the result reads low for it.
    row: probes
    where: {{kind: driven, rod_length: {{at_least: 3 ft}}}}
    check: depth
    stage: 1
    limits:
      least:
        at_least: {least} ft
        source: {{document: Advisory, publisher: An agency, year: 2015}}
        backing: secondary
    consequence:
      least: {{detect: J-, nondetect: UJ}}
      no_evidence: none
    reaches: sample
    say: {{least: "The open interval of {{key}} begins at {{measured}} (limit {{limit}})."}}
    examples:
      - {{name: five feet, row: {{depth_top: 5 ft}}, expect: holds}}
      - {{name: an inch short, row: {{depth_top: 59 in}}, expect: {{broken: least}}}}
"""


def run_depth(rule: Rule, evidence: Evidence) -> tuple[Judged, ...]:
    table = evidence.tables.get("probes")
    assert table is not None
    depth = table.number("depth_top")
    assert depth is not None
    short = depth.values < rule.limits[0].value * (1 - 1e-9)
    row = np.flatnonzero(short)
    none = np.zeros(len(row))
    state = np.where(short, Outcome.BROKEN, Outcome.HOLDS).astype(np.uint8)
    return (
        Judged(
            state, row, state[row], none.astype(np.int16), depth.values[row], none.astype(np.int16) - 1, (), none > 0
        ),
    )


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "rules"
    folder.mkdir()
    (folder / "depth.yaml").write_text(TOPIC.format(rule="probe-depth", least=5))
    monkeypatch.setitem(CHECKS, "depth", CheckSpec("depth", "how deep", run_depth, dimension="length"))
    for module in (vaporqa.rulebook, loading, shipped):
        monkeypatch.setattr(module, "find_shipped", folder.resolve, raising=False)
    return folder


def call(*words: str | Path) -> Result:
    return CliRunner().invoke(command, [str(word) for word in words], catch_exceptions=False)


def test_list_shows_one_line_a_rule(home: Path) -> None:
    result = call("list")
    assert result.exit_code == 0
    assert result.output.splitlines()[:2] == [
        "Depth of probes (depth)",
        "  probe-depth  The open interval lies deep enough",
    ]


def test_list_is_the_same_from_the_files_and_from_the_loaded_rulebook(home: Path) -> None:
    assert call("list").output == call("list", "--profile", "baseline").output


def test_show_has_limit_source_backing_letters_and_examples_in_eighty_columns(home: Path) -> None:
    lines = call("show", "probe-depth").output.splitlines()
    assert max(map(len, lines)) <= 80
    for wanted in (
        "where       kind driven; rod_length at least 0.9144 m",
        "  least: at least 5 ft",
        "      secondary: Advisory, An agency, 2015",
        "  least               J-              UJ",
        "  no_evidence         -               -",
        "reaches     sample",
        "  an inch short -> broken: least",
    ):
        assert wanted in lines


def test_show_offers_the_nearest_rule(home: Path) -> None:
    with pytest.raises(UsageError, match="did you mean 'probe-depth'"):
        call("show", "probe-dept")


def test_examples_that_hold_exit_with_nought(home: Path) -> None:
    result = call("test")
    assert (result.exit_code, result.output) == (
        0,
        "1 rule, 2 examples: 0 failed; 0 limits that an example does not pin\n",
    )


def test_a_broken_limit_fails_and_names_the_example(home: Path) -> None:
    (home / "depth.yaml").write_text(TOPIC.format(rule="probe-depth", least=6))
    result = call("test")
    line = 1 + TOPIC.splitlines().index("      - {{name: five feet, row: {{depth_top: 5 ft}}, expect: holds}}")
    assert result.exit_code == 1
    assert result.output.splitlines()[0] == (
        f"rules/depth.yaml:{line}: probe-depth, example 'five feet': expected holds, got broken: least"
    )


def test_a_limit_that_no_example_notices_is_named_and_counts_with_mutate(home: Path) -> None:
    (home / "depth.yaml").write_text(
        TOPIC.format(rule="probe-depth", least=5).replace("depth_top: 5 ft", "depth_top: 9 ft")
    )
    result = call("test")
    assert result.exit_code == 0
    assert "no example of probe-depth stands on it: least, at least 5 ft" in result.output
    assert call("test", "--mutate").exit_code == 1


@pytest.mark.parametrize("inside", [True, False])
def test_only_the_rules_of_the_path_are_run(home: Path, tmp_path: Path, inside: bool) -> None:
    path = (home if inside else tmp_path) / "second.yaml"
    path.write_text(TOPIC.format(rule="second-depth", least=6))
    lines: Sequence[str] = call("test", path).output.splitlines()
    assert len(lines) == 3  # the failing example, the limit that is no longer pinned, the count
    assert all("second-depth" in line for line in lines[:2])
    assert lines[2].startswith("1 rule, 2 examples: 1 failed")


@pytest.mark.parametrize("rule", ["result-judged", "judgement-stale"])
def test_rules_that_stand_in_no_file_are_shown_too(rule: str) -> None:
    said = CliRunner().invoke(command, ["show", rule]).output
    assert said.startswith(f"{rule}\n")
    assert "part of every review; it stands in no rule file" in said
