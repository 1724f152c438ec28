"""Each cut of a part has a turn between its keys, and a count of nicks, of its own."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from borewright.core.jointing.key_pattern import (
    FIVE_WIDTH,
    LEAST_STEP,
    MARK_GAP,
    MARK_WIDTH,
    mark_places,
    pattern_of,
    patterns_available,
    second_turn,
)
from hypothesis import given
from hypothesis import strategies as st

LEASTS = st.floats(0.0, math.radians(150.0))


def turns_of(count: int, least: float) -> list[float]:
    return sorted(second_turn(number, count, least) for number in range(count))


@given(LEASTS, st.data())
def test_turns_of_any_two_cuts_differ_by_more_than_the_least_step(
    least: float, data: st.DataObject
) -> None:
    """From the other key the turn reads as a whole turn less: that fits no other cut either."""
    count = data.draw(st.integers(1, patterns_available(least)))
    turns = turns_of(count, least)
    for turn, after in pairwise(turns):
        assert after - turn >= LEAST_STEP - 1e-12
    mirrored = [2.0 * math.pi - turn for turn in turns]
    assert min(mirrored) - max(turns) > LEAST_STEP


@given(LEASTS, st.integers(1, 40))
def test_a_turn_leaves_room_for_both_keys_and_is_far_from_a_half(least: float, count: int) -> None:
    for turn in turns_of(count, least):
        assert turn >= least
        assert abs(turn - math.pi) >= math.radians(20.0) - 1e-12


@given(st.integers(1, 28), st.integers(1, 100))
def test_no_two_pieces_have_the_same_patterns_at_both_ends(patterns: int, count: int) -> None:
    """As far as there are pairs; up to as many cuts as patterns each has its own."""
    count = min(count, patterns**2 + 1)
    found = [pattern_of(number, count, patterns) for number in range(count)]
    assert all(0 <= pattern < patterns for pattern in found)
    pairs = list(pairwise(found))
    assert len(set(pairs)) == len(pairs)
    if count <= patterns:
        assert found == list(range(count))


def test_turns_beyond_the_patterns_come_in_pairs_of_their_own() -> None:
    available = patterns_available(0.0)
    assert available == 28  # 100 degrees of room in steps of 3.5
    turns = [second_turn(number, 99, 0.0) for number in range(99)]
    assert len(set(turns)) <= available
    assert len(set(pairwise(turns))) == 98


@pytest.mark.parametrize("number", range(12))
def test_nicks_read_back_as_fives_and_ones(number: int) -> None:
    """The first cut has one; none is nearer to another, or to the key, than the gap."""
    start = 1.7
    places = mark_places(number, start, 100.0)
    widths = [2.0 * half for _, half in places]
    values = [5 if width > (FIVE_WIDTH + MARK_WIDTH) / 2.0 else 1 for width in widths]
    assert sum(values) == number + 1
    assert len(values) == sum(divmod(number + 1, 5))
    edges = [start, *(edge for mid, half in places for edge in (mid - half, mid + half))]
    gaps = [after - before for before, after in zip(edges[::2], edges[1::2], strict=False)]
    assert min(gaps) == pytest.approx(MARK_GAP)


@given(st.integers(0, 40), st.floats(0.0, 5.0), st.floats(0.0, 30.0))
def test_no_nick_lies_beyond_the_room_and_only_the_last_are_left_out(
    number: int, start: float, room: float
) -> None:
    places = mark_places(number, start, room)
    assert all(middle + half <= room + 1e-9 for middle, half in places)
    assert places == mark_places(number, start, math.inf)[: len(places)]
    wanted = mark_places(number, start, math.inf)
    if len(places) < len(wanted):
        middle, half = wanted[len(places)]
        assert middle + half > room - 1e-9
