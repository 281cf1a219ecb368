"""Uses in time order against the definitions written out as plain searches over all uses."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from vaporqa.evidence.time_order import FIRST, LAST, InTimeOrder, Spans, certainly_before, elsewhere
from vaporqa.evidence.uses import Use

HOUR = 3_600_000_000
#: An instant, a local day, and the 25 hours of the day on which clocks go back.
WIDTHS = (0, 0, 0, 24 * HOUR, 25 * HOUR)


@st.composite
def a_use(draw: st.DrawFn, row: int) -> Use:
    low = draw(st.integers(0, 60)) * HOUR
    begin = (low, low + draw(st.sampled_from(WIDTHS)))
    timed = draw(st.sampled_from((True, True, True, False)))
    place = draw(st.sampled_from(((-1, 0), (-1, 1), (0, 0), (1, 0), (2, 1), (-1, -1))))
    return Use(7, "tip", *place, begin if timed else (0, 0), begin, timed, False, "equipment_log", row)


def uses() -> st.SearchStrategy[list[Use]]:
    return st.integers(1, 14).flatmap(lambda size: st.tuples(*(a_use(row) for row in range(size)))).map(list)


def plain_predecessors(use: Use, all_uses: list[Use]) -> set[int]:
    timed = [one for one in all_uses if one.timed]
    earlier = [
        one for one in timed if one is not use and one.begin[0] <= use.begin[1] and not certainly_before(use, one)
    ]
    certain = [one for one in earlier if certainly_before(one, use)]
    latest = max((one.begin[0] for one in certain), default=FIRST)
    return {one.row for one in earlier if not certainly_before(one, use) or one.begin[1] >= latest}


@given(uses())
@settings(max_examples=300, deadline=None)
def test_the_uses_that_could_be_the_last_one_before(all_uses: list[Use]) -> None:
    piece = InTimeOrder(all_uses)
    for use in filter(lambda one: one.timed, all_uses):
        assert {one.row for one in piece.possible_predecessors(use)} == plain_predecessors(use, all_uses)


@given(uses())
@settings(max_examples=300, deadline=None)
def test_the_next_use_elsewhere_and_the_first(all_uses: list[Use]) -> None:
    piece = InTimeOrder(all_uses)
    for use in all_uses:
        later = [one for one in all_uses if one.timed and certainly_before(use, one) and elsewhere(use, one)]
        if use.timed:
            assert piece.next_elsewhere(use) == min((one.begin[1] for one in later), default=LAST)
        first = next((one for one in piece.uses if one is not use and elsewhere(one, use)), None)
        assert piece.first_elsewhere(use) is first


SPAN = st.tuples(st.integers(0, 30), st.integers(0, 5)).map(lambda one: (one[0], one[0] + one[1]))


@given(st.lists(SPAN, max_size=8), st.integers(0, 35), st.integers(0, 35))
@settings(max_examples=300, deadline=None)
def test_events_between_two_instants(spans: list[tuple[int, int]], after: int, before: int) -> None:
    found = Spans(spans)
    assert found.any_inside(after, before) == any(low >= after and high <= before for low, high in spans)
    assert found.any_touching(after, before) == any(high >= after and low <= before for low, high in spans)


def test_a_long_stay_at_one_place_is_passed_over_at_once() -> None:
    """Ten thousand uses at one place: each answer looks at a handful of them."""
    looked = 0

    class Counted(Use):
        def __getattribute__(self, name: str) -> object:
            nonlocal looked
            looked += name == "begin"
            return super().__getattribute__(name)

    stay = [Counted(7, "gauge", -1, 0, (n, n), (n, n), True, False, "equipment_log", n) for n in range(10_000)]
    last = Counted(7, "gauge", -1, 1, (10_000, 10_000), (10_000, 10_000), True, False, "equipment_log", 10_000)
    piece = InTimeOrder([*stay, last])
    looked = 0
    assert [piece.next_elsewhere(use) for use in stay] == [10_000] * len(stay)
    assert [use.row for use in piece.possible_predecessors(last)] == [9_999]
    assert looked < 20 * len(stay)
