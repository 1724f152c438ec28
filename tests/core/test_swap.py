"""Middle pieces of a three-joint part fit nowhere but in their own place, and there one way only.

Parts are cut by the core and measured with manifold3d: sections of tenon and socket are
turned against each other at the height of their parallel part.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from itertools import permutations

import numpy as np
import pytest
from borewright.core.jointing.joint_design import CutPlace, tenon_on
from borewright.core.jointing.joint_line import JointLine
from borewright.core.jointing.wall_run import wall_runs
from borewright.core.values import Joint, RoundSurface, WallStretch
from manifold3d import CrossSection

from tests.grouped import (
    FACETS,
    KEY_ANGLE,
    LENGTH,
    SEAMS,
    GroupedPart,
    a_part,
    round_section,
    twin_section,
)

ENGAGEMENT = 16.0
COLLIDES = 0.05
"""mm3, in the parallel part of a joint."""

MOST_PLAY_DEG, BEYOND_DEG = 1.5, 0.5


def around_both(wall: float) -> GroupedPart:
    """Two bores of 11 mm, 15.5 mm apart, in one wall."""
    part = a_part(twin_section((5.5, 5.5), 15.5, wall, "oval"))
    first = part.survey.bores[0]
    held = (5.5 + wall) * math.cos(math.pi / FACETS)
    outer = RoundSurface(held, 0.0, 0.0, LENGTH, first.offset)
    walls = (WallStretch((0, 1), first, outer, 0.0, LENGTH),)
    return replace(part, survey=replace(part.survey, walls=walls))


UNCUT = {
    "wall 2.4": a_part(round_section(18.82, 14.0)),
    "wall 3": a_part(round_section(20.0, 14.0)),
    "wall 5": a_part(round_section(24.0, 14.0)),
    "solid 9": a_part(round_section(9.0)),
    "solid 14": a_part(round_section(14.0)),
    "solid 24": a_part(round_section(24.0)),
    "two bores, wall 2.5": around_both(2.5),
    "two bores, wall 3.5": around_both(3.5),
    "two bores, wall 5": around_both(5.0),
}
every_part = pytest.mark.parametrize("name", UNCUT)


@cache
def cut_part(name: str) -> GroupedPart:
    part = UNCUT[name]
    (run,) = wall_runs(part.survey)
    line = JointLine(run, ENGAGEMENT, 0.15, 0.8)
    angle = math.pi / 2.0 if len(run.bores) == 2 else KEY_ANGLE
    places = [CutPlace(number, len(SEAMS), angle) for number in range(len(SEAMS))]
    joints = [
        Joint("tenon", station, (tenon_on(line, station, place),))
        for station, place in zip(SEAMS, places, strict=True)
    ]
    return replace(part, joints=tuple(joints))


def halves(part: GroupedPart, number: int) -> tuple[CrossSection, CrossSection]:
    """Tenon and socket of a joint in the middle of the tenon's parallel part, about its middle."""
    tenon = part.joints[number].tenon
    height = tenon.station + tenon.parallel_length / 2.0
    x, y = np.mean(tenon.centres, axis=0)
    lower, upper = (part.placed[number + k].slice(height).translate((-x, -y)) for k in (0, 1))
    return lower, upper


def parallel_height(part: GroupedPart) -> float:
    """mm over which every rib and groove runs on: off the mouth's relief and nicks."""
    return min(j.tenon.parallel_length - j.tenon.relief for j in part.joints) - 1.2


def turns_that_fit(
    part: GroupedPart, lower: CrossSection, upper: CrossSection, turns_deg: list[float]
) -> list[float]:
    """Turns at which the two share less than `COLLIDES`."""
    area = COLLIDES / parallel_height(part)
    return [turn for turn in turns_deg if (lower.rotate(turn) ^ upper).area() <= area]


WHOLE_DEGREES = [float(turn) for turn in range(360)]


@every_part
def test_right_neighbours_share_nothing(name: str) -> None:
    part = cut_part(name)
    for below, above in zip(part.placed[:-1], part.placed[1:], strict=True):
        assert (below ^ above).volume() < 1e-3


@every_part
def test_no_tenon_goes_into_another_joints_socket_at_any_degree(name: str) -> None:
    """So no two middle pieces can change places, nor one stand in for another."""
    part = cut_part(name)
    radii = {round(joint.tenon.tenon_radius, 9) for joint in part.joints}
    assert len(radii) == 1
    for one, other in permutations(range(len(part.joints)), 2):
        lower, upper = halves(part, one)[0], halves(part, other)[1]
        assert turns_that_fit(part, lower, upper, WHOLE_DEGREES) == []


@every_part
def test_each_joint_seats_at_one_turn_only_with_little_play(name: str) -> None:
    """Play is up to the last tenth of a degree at which nothing is shared."""
    part = cut_part(name)
    for number in range(len(part.joints)):
        lower, upper = halves(part, number)
        plays = []
        for way in (-1.0, 1.0):
            steps = [way * 0.1 * k for k in range(1, 40)]
            touching = [abs(t) for t in steps if (lower.rotate(t) ^ upper).area() > 1e-4]
            plays.append(min(touching) - 0.1)
        assert max(plays) <= MOST_PLAY_DEG
        back, forth = plays
        beyond = [t for t in WHOLE_DEGREES if forth + BEYOND_DEG < t < 360.0 - back - BEYOND_DEG]
        assert len(beyond) >= 355
        assert turns_that_fit(part, lower, upper, beyond) == []
