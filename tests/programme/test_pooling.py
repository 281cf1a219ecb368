"""Pooling: expected numbers are worked out by hand from what the folders hold."""

from __future__ import annotations

import json
import math
import random
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest
from tiny_folders import write_both

import vaporqa
from vaporqa.errors import UsageError
from vaporqa.programme import Duplicates, End, Group, Member, RuleCounts, Summary, pool
from vaporqa.programme.names import names_of
from vaporqa.review.indicators import pooled_over, pooled_rsd


def summary(**more: object) -> Summary:
    empty: dict[str, object] = {
        "project": "", "profiles": (), "samples": 0, "findings": 0, "results": (0, 0, 0, 0), "worst": 0, "rules": (),
        "laboratories": (), "crews": (), "duplicates": (),
    }  # fmt: skip
    return Summary(**{**empty, **more})  # type: ignore[arg-type]


def members(*summaries: Summary | None) -> list[Member]:
    return [
        Member(f"f{at}", f"in/f{at}", End.REVIEWED if one else End.NOT_DONE, "" if one else "no such folder", one)
        for at, one in enumerate(summaries)
    ]


def test_standings_add_up_and_a_folder_that_failed_counts_nowhere() -> None:
    found = pool(members(summary(results=(5, 1, 0, 2)), None, summary(results=(10, 0, 3, 0))))
    assert found.results == (15, 1, 3, 2)
    assert (found.reviewed, len(found.members)) == (2, 3)


def test_rules_go_by_folders_then_results_then_findings() -> None:
    one = summary(rules=(RuleCounts("a", "A", 9, 0, 900), RuleCounts("b", "B", 1, 2, 4), RuleCounts("c", "C", 0, 7, 0)))
    two = summary(rules=(RuleCounts("b", "B", 1, 0, 6), RuleCounts("d", "D", 50, 0, 3)))
    found = pool(members(one, two)).rules
    # b was broken in two folders; a bears on more results than d, although d has more findings; c never was broken.
    assert [each.rule for each in found] == ["b", "a", "d", "c"]
    b = found[0]
    assert (b.folders_broken, b.broken, b.results, b.folders_unproven, b.unproven) == (2, 2, 10, 1, 2)


def test_groups_go_by_failure_rate_and_few_results_come_last() -> None:
    one = summary(laboratories=(Group("Laboratory A", (20, 5, 3, 2)), Group("tiny", (0, 0, 0, 1))))
    two = summary(laboratories=(Group(" laboratory  a ", (10, 0, 0, 0)), Group("Laboratory B", (15, 15, 0, 0))))
    a = pool(members(one, two)).laboratories
    assert [each.name for each in a] == ["Laboratory B", "Laboratory A", "tiny"]
    # A: 30 usable of 40, so 10 failed, a quarter. B: 15 of 30, a half. tiny: 1 of 1, which says little.
    assert [(each.failed, each.results, each.rate, each.few) for each in a] == [
        (15, 30, 0.5, False), (10, 40, 0.25, False), (1, 1, 1.0, True),
    ]  # fmt: skip
    assert a[1].counts == (30, 5, 3, 2)
    assert a[1].folders == 2


def test_duplicates_of_one_cas_number_are_one_analyte() -> None:
    north = Duplicates("Benzene", "71-43-2", 3, 1, 2, 0, 40.0, 40.0 / math.sqrt(2))
    south = Duplicates("benzene", "71-43-2", 2, 2, 0, 1, 20.0, 10.0)
    nothing = Duplicates("Benzene", "71-43-2", 1, 0, 1, 0, math.nan, math.nan)
    found = pool(members(summary(duplicates=(north,)), summary(duplicates=(south,)), summary(duplicates=(nothing,))))
    (one,) = found.duplicates_by_analyte
    # (1 x 28.2843^2 + 2 x 10^2) / 3 = (800 + 200) / 3, its root 18.2574.
    assert one.pooled_rsd == pytest.approx(math.sqrt(1000 / 3), rel=1e-14)
    assert (one.folders, one.pairs, one.both_detected, one.neither_detected, one.rejected) == (3, 6, 3, 3, 1)
    assert one.largest_rpd == 40.0
    assert found.duplicates.pooled_rsd == one.pooled_rsd


def test_no_pair_has_no_pooled_value() -> None:
    found = pool(members(summary()))
    assert math.isnan(found.duplicates.pooled_rsd)
    assert math.isnan(found.duplicates.largest_rpd)


def test_pooling_parts_is_pooling_all_pairs_however_they_are_parted() -> None:
    made = random.Random(7)
    rpd = np.array([made.uniform(0, 200) for _ in range(60)])
    for parts in ([60], [1, 59], [20, 20, 20], [1] * 60):
        ends = np.cumsum(parts)
        split = [rpd[end - size : end] for end, size in zip(ends, parts, strict=True)]
        assert pooled_over((len(one), pooled_rsd(one)) for one in split) == pytest.approx(pooled_rsd(rpd), rel=1e-13)


def test_the_order_of_the_parts_leaves_no_trace() -> None:
    parts = [(3, 11.1), (7, 0.3), (1, 199.9), (12, 1e-9), (5, 33.3)]
    assert len({pooled_over(order) for order in permutations(parts)}) == 1


def test_two_tiny_folders_by_hand(tmp_path: Path) -> None:
    found = vaporqa.check_folders(write_both(tmp_path))
    # RPD of the three pairs of two detects: 200 x 2 / 22, 200 x 10 / 50, 0; one pair of two nondetects.
    first, second = 200 * 2 / 22, 40.0
    assert found.duplicates.pairs == 4
    assert found.duplicates.both_detected == 3
    assert found.duplicates.pooled_rsd == pytest.approx(math.sqrt((first**2 + second**2 + 0) / 2 / 3), rel=1e-12)
    benzene, toluene = found.duplicates_by_analyte
    assert benzene.pooled_rsd == pytest.approx(math.sqrt((first**2 + second**2) / 2 / 2), rel=1e-12)
    assert (benzene.folders, benzene.pairs, benzene.largest_rpd) == (2, 2, pytest.approx(40.0))
    assert (toluene.pairs, toluene.both_detected, toluene.neither_detected, toluene.pooled_rsd) == (2, 1, 1, 0.0)
    # Four results of the north and two of the south are Laboratory A's, whatever the case of its name.
    assert {one.name: (one.results, one.folders) for one in found.laboratories} == {
        "Laboratory A": (6, 2), "Laboratory B": (3, 1),
    }  # fmt: skip
    assert {one.name: (one.results, one.folders) for one in found.crews} == {"crew A": (8, 2), "": (1, 1)}
    # Nothing shows when or how anything was collected: no result can be relied on.
    assert found.results == (0, 0, 9, 0)


def test_a_summary_travels_as_text() -> None:
    there = summary(
        project="\udcff <b>", profiles=("a",), rules=(RuleCounts("a", "A", 1, 2, 3),), crews=(Group("", (1, 2, 3, 4)),),
        duplicates=(Duplicates("x", "", 1, 0, 1, 0, math.inf, 1 / 3),),
    )  # fmt: skip
    assert Summary.of_json(json.loads(json.dumps(there.as_json()))) == there


def test_folders_of_one_name_are_told_apart_by_their_paths(tmp_path: Path) -> None:
    paths = [tmp_path / "a" / "yard", tmp_path / "b" / "yard", tmp_path / "c" / "wharf"]
    assert names_of(paths) == ["a/yard", "b/yard", "wharf"]
    deep = [tmp_path / "x" / "1" / "yard", tmp_path / "y" / "1" / "yard"]
    assert names_of(deep) == ["x/1/yard", "y/1/yard"]


@pytest.mark.parametrize(
    ("paths", "said"),
    [(("a/yard", "a/../a/yard"), "named twice"), (("a/yard", "b/yard", "c/a"), "would stand inside")],
)
def test_reports_that_would_share_a_place_are_refused(paths: tuple[str, ...], said: str, tmp_path: Path) -> None:
    for path in paths:
        (tmp_path / path).mkdir(parents=True, exist_ok=True)
    with pytest.raises(UsageError, match=said):
        names_of([tmp_path / path for path in paths])
