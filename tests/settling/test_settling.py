"""Settling: the combination table of the criteria, and the algebra that makes it order-free.

The pairs and their final letters are those of the combination table in criteria/lab.md 1.2 (derived there from the
definitions of the published qualifiers: the more protective wins) and its cases C29 to C32.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vaporqa.outcomes import LETTERS, Letter, Standing
from vaporqa.settling import BIASES, QUALIFIERS, Masks, masks_of, settle

PAIRS = {
    "low": ("J-", "UJ"), "high": ("J+", "-"), "open": ("J", "UJ"), "tentative": ("NJ", "-"), "reject": ("R", "R"),
    "gross low": ("J-", "R"), "unproven": ("unproven", "unproven"), "note": ("note", "note"), "one-sided": ("J", "-"),
}  # fmt: skip
RANK = {Standing.USABLE: 0, Standing.ESTIMATED: 1, Standing.UNPROVEN: 2, Standing.REJECTED: 3}


def masks(*names: str) -> Masks:
    detect = np.array([LETTERS[PAIRS[name][0]] for name in names], np.int16)
    nondetect = np.array([LETTERS[PAIRS[name][1]] for name in names], np.int16)
    each = masks_of(detect, nondetect)
    total = Masks.none(1)
    for index in range(len(names)):
        total |= Masks(
            each.detect[index : index + 1], each.nondetect[index : index + 1], each.leaning[index : index + 1]
        )
    return total


def final(detected: int, *names: str) -> tuple[str, str, Standing]:
    settled = settle(masks(*names), np.array([detected], np.int8))
    return QUALIFIERS[settled.qualifier[0]], BIASES[settled.bias[0]], Standing(int(settled.standing[0]))


@pytest.mark.parametrize(
    ("names", "qualifier", "bias"),
    [
        ((), "", ""),
        (("high",), "J+", "high"),
        (("low",), "J-", "low"),
        (("high", "low"), "J", "unknown"),  # C29
        (("high", "open"), "J", "unknown"),
        (("low", "open"), "J", "unknown"),
        (("tentative", "low"), "NJ", ""),
        (("reject", "low"), "R", ""),  # C30
        (("note",), "", ""),
        (("unproven",), "", ""),
    ],
)
def test_detects(names: tuple[str, ...], qualifier: str, bias: str) -> None:
    assert final(1, *names)[:2] == (qualifier, bias)


@pytest.mark.parametrize(
    ("names", "qualifier", "bias"),
    [
        ((), "U", ""),
        (("high",), "U", ""),  # C32: high bias cannot make a false negative
        (("low",), "UJ", "low"),  # C31
        (("low", "high"), "UJ", "low"),
        (("open",), "UJ", "unknown"),
        (("gross low",), "R", ""),
        (("one-sided",), "U", ""),
        (("tentative",), "U", ""),
    ],
)
def test_nondetects(names: tuple[str, ...], qualifier: str, bias: str) -> None:
    assert final(0, *names)[:2] == (qualifier, bias)


@pytest.mark.parametrize(
    ("detected", "names", "standing"),
    [
        (1, ("low",), Standing.ESTIMATED),
        (1, ("low", "unproven"), Standing.UNPROVEN),
        (1, ("unproven", "reject"), Standing.REJECTED),
        (0, ("high",), Standing.USABLE),
        (0, ("gross low",), Standing.REJECTED),
        (1, ("gross low",), Standing.ESTIMATED),
        (1, ("note",), Standing.USABLE),
        (-1, ("gross low",), Standing.REJECTED),
        (-1, ("high",), Standing.ESTIMATED),
    ],
)
def test_standing_is_the_worst_effect(detected: int, names: tuple[str, ...], standing: Standing) -> None:
    assert final(detected, *names)[2] == standing


some = st.lists(st.sampled_from(sorted(PAIRS)), max_size=6)
status = st.sampled_from([1, 0, -1])


@given(some, status, st.randoms(use_true_random=False))
def test_the_order_of_findings_does_not_matter(names: list[str], detected: int, random: object) -> None:
    shuffled = list(names)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert final(detected, *names) == final(detected, *shuffled)


@given(some, status)
def test_saying_it_twice_changes_nothing(names: list[str], detected: int) -> None:
    assert final(detected, *names) == final(detected, *names, *names)


@given(some, some, some)
def test_masks_combine_associatively(a: list[str], b: list[str], c: list[str]) -> None:
    one, two = (masks(*a) | masks(*b)) | masks(*c), masks(*a) | (masks(*b) | masks(*c))
    assert (one.detect == two.detect).all()
    assert (one.nondetect == two.nondetect).all()
    assert (one.leaning == two.leaning).all()


@given(some, st.sampled_from(sorted(PAIRS)), status)
def test_one_more_finding_never_improves_a_row(names: list[str], more: str, detected: int) -> None:
    before, after = final(detected, *names), final(detected, *names, more)
    assert RANK[after[2]] >= RANK[before[2]]
    if before[0] == "R":
        assert after[0] == "R"
    if before[0] == "UJ":
        assert after[0] in ("UJ", "R")
    if before[0] in ("J", "J+", "J-"):
        assert after[0] in ("J", "J+", "J-", "NJ", "R")


def test_letters_have_the_effects_of_the_design() -> None:
    assert [letter.effect.word for letter in (Letter.R, Letter.UJ, Letter.UNPROVEN, Letter.U, Letter.NONE)] == [
        "reject", "estimate", "unproven", "note", "-",
    ]  # fmt: skip


def test_the_bias_of_a_nondetect_is_read_from_findings_that_have_a_letter_for_it() -> None:
    # A high recovery says nothing of a nondetect, so that its J+ does not blur the low bias of the other finding.
    assert final(0, "low", "high") == ("UJ", "low", Standing.ESTIMATED)
    assert final(0, "low", "one-sided") == ("UJ", "low", Standing.ESTIMATED)
    assert final(0, "high") == ("U", "", Standing.USABLE)
