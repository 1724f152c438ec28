"""The proof that no two middle pieces of a part can change places, on parts where some can."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
from borewright.core.jointing.joint_design import CutPlace, tenon_on
from borewright.core.jointing.joint_line import JointLine
from borewright.core.jointing.pins_design import pins_on
from borewright.core.jointing.wall_run import wall_runs
from borewright.core.proving.own_pattern import wrong_joints
from borewright.core.values import Joint, Survey

from tests.grouped import (
    KEY_ANGLE,
    GroupedPart,
    a_part,
    free_turns,
    pins_line,
    round_section,
    square_section,
)

SEAMS = (35.0, 70.0, 105.0, 140.0)
HEIGHT = 2.0
"""Over each seam, mm, at which all tenons and sockets are parallel."""


def a_tenon(survey: Survey, station: float, pattern: int) -> Joint:
    (run,) = wall_runs(survey)
    line = JointLine(run, 12.0, 0.15, 0.8)
    return Joint("tenon", station, (tenon_on(line, station, CutPlace(pattern, 4, KEY_ANGLE)),))


def some_pins(survey: Survey, station: float, pattern: int) -> Joint:
    line = pins_line(survey, 12.0)
    return Joint("pins", station, pins_on(line, station, CutPlace(pattern, 4, KEY_ANGLE)))


Make = Callable[[Survey, float, int], Joint]
KINDS: dict[str, tuple[Make, GroupedPart]] = {
    "tenons in a wall": (a_tenon, a_part(round_section(24.0, 14.0))),
    "tenons in solid": (a_tenon, a_part(round_section(24.0))),
    "pins": (some_pins, a_part(square_section(40.0))),
}
every_kind = pytest.mark.parametrize("kind", KINDS)


def cut_in_patterns(kind: str, patterns: Sequence[int]) -> GroupedPart:
    make, part = KINDS[kind]
    joints = [
        make(part.survey, station, pattern)
        for station, pattern in zip(SEAMS, patterns, strict=False)
    ]
    return replace(part, joints=tuple(joints))


def exchanges(part: GroupedPart) -> int:
    """How many pairs of middle pieces can change places, by turning sections of all joints."""
    count = len(part.joints)
    lowers = [part.placed[n].slice(SEAMS[n] + HEIGHT) for n in range(count)]
    uppers = [part.placed[n + 1].slice(SEAMS[n] + HEIGHT) for n in range(count)]
    turns = np.arange(-4.0, 4.0, 0.5)  # all patterns have their first key at one angle
    fits = {
        (low, high): len(free_turns(lowers[low], uppers[high], (0.0, 0.0), turns)) > 0
        for low in range(count)
        for high in range(count)
    }
    found = 0
    for one, other in combinations(range(1, count), 2):
        order = list(range(count + 1))
        order[one], order[other] = other, one
        # piece n has the tenon of joint n, and the socket of joint n - 1
        found += all(fits[low, high - 1] for low, high in pairwise(order))
    return found


@every_kind
@pytest.mark.parametrize(
    ("patterns", "swaps"),
    [
        ((0, 1, 2, 3), 0),
        ((0, 0, 0, 0), 3),
        ((0, 0, 0, 1), 1),  # the second piece and the third
        ((0, 1, 0, 1), 1),  # the second and the fourth
        ((0, 0, 1, 1), 0),
        ((2, 1, 1, 1), 1),
    ],
)
def test_swaps_are_counted(kind: str, patterns: tuple[int, ...], swaps: int) -> None:
    part = cut_in_patterns(kind, patterns)
    (check,) = part.checks["own_pattern"]
    assert check.value == exchanges(part) == swaps
    assert check.ok == (swaps == 0)


@pytest.mark.parametrize("count", [3, 4, 7])
def test_wrong_joints_are_those_of_pieces_in_changed_order(count: int) -> None:
    for one, other in combinations(range(1, count), 2):
        order = list(range(count + 1))
        order[one], order[other] = other, one
        meets = {(low, high - 1) for low, high in pairwise(order)}
        right = {(joint, joint) for joint in range(count)}
        assert sorted(meets - right) == sorted(wrong_joints(one, other))


@every_kind
def test_a_part_of_three_pieces_has_one_in_the_middle_and_nothing_to_swap(kind: str) -> None:
    part = cut_in_patterns(kind, (0, 0))
    assert "own_pattern" not in part.checks
