"""Sets of stations: what union, intersection and difference of closed spans are."""

from __future__ import annotations

import math

from borewright.core.planning.intervals import GRAIN, common, merge, nearest, outside_of, subtract


def test_spans_that_touch_become_one() -> None:
    assert merge([(3.0, 4.0), (0.0, 1.0), (1.0, 2.0)]) == [(0.0, 2.0), (3.0, 4.0)]
    assert merge([(0.0, 5.0), (1.0, 2.0)]) == [(0.0, 5.0)]


def test_what_is_common_may_be_a_single_point() -> None:
    assert common([(0.0, 2.0), (4.0, 6.0)], [(2.0, 5.0)]) == [(2.0, 2.0), (4.0, 5.0)]
    assert common([(0.0, 1.0)], [(1.5, 2.0)]) == []


def test_round_off_does_not_lose_a_single_point() -> None:
    assert len(common([(0.0, 1.0)], [(1.0 + GRAIN / 2.0, 2.0)])) == 1
    assert common([(0.0, 1.0)], [(1.0 + GRAIN * 2.0, 2.0)]) == []


def test_stations_outside_of_blocked_spans_include_their_ends() -> None:
    left = outside_of([(4.0, 6.0), (1.0, 3.0), (2.0, 4.0)])
    assert left == [(-math.inf, 1.0), (4.0, 4.0), (6.0, math.inf)]
    assert outside_of([]) == [(-math.inf, math.inf)]


def test_what_is_subtracted_leaves_its_ends() -> None:
    assert subtract([(0.0, 10.0)], (4.0, 6.0)) == [(0.0, 4.0), (6.0, 10.0)]
    assert subtract([(0.0, 10.0)], (-1.0, 11.0)) == []


def test_nearest_station_of_a_set() -> None:
    spans = [(0.0, 2.0), (5.0, 6.0)]
    assert nearest(spans, 1.5) == 1.5
    assert nearest(spans, 4.5) == 5.0
    assert nearest(spans, 3.5) == 2.0
    assert nearest([], 3.5) is None
