"""Nicks in shoulder and mouth, read back from sections of the made pieces."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.values import FloatArray
from manifold3d import CrossSection, JoinType

from tests.core.test_swap import cut_part
from tests.grouped import FACETS, SEAMS, GroupedPart

WIDTHS = {"wall 2.4": 18.82, "wall 3": 20.0, "wall 5": 24.0, "solid 14": 14.0, "solid 24": 24.0}
"""Of the outside, mm."""

LEAST_WALL = 0.8
RELIEF = 0.4
OVER_NICKS = 1.3
"""Height over the seam, mm, at which no nick is left."""

every_part = pytest.mark.parametrize("name", WIDTHS)
every_seam = pytest.mark.parametrize("number", range(len(SEAMS)))


def voids(section: CrossSection) -> list[CrossSection]:
    """Each void by itself, the one about the axis last."""
    found = [
        CrossSection([ring[::-1]])
        for ring in section.to_polygons()
        if CrossSection([ring]).area() == 0.0
    ]
    return sorted(found, key=lambda void: -float(np.hypot(*middle_of(void))))


def middle_of(region: CrossSection) -> FloatArray:
    corners = np.vstack(region.to_polygons())
    return (corners.min(axis=0) + corners.max(axis=0)) / 2.0


def spread_deg(region: CrossSection) -> tuple[float, float]:
    """Middle and width, degrees about the axis."""
    x, y = np.vstack(region.to_polygons()).T
    start = math.atan2(y[0], x[0])
    turns = np.angle(np.exp(1j * (np.arctan2(y, x) - start)))
    return math.degrees(start + (turns.min() + turns.max()) / 2.0), math.degrees(np.ptp(turns))


def root_nicks(part: GroupedPart, number: int) -> list[CrossSection]:
    """Voids of the lower piece just under its shoulder, the bore left out."""
    found = voids(part.placed[number].slice(SEAMS[number] - 0.3))
    return [void for void in found if np.hypot(*middle_of(void)) > 1.0]


def mouth_nicks(part: GroupedPart, number: int) -> list[CrossSection]:
    """What the socket is wider over its relief than farther up, where there are ribs only."""
    low, high = (
        voids(part.placed[number + 1].slice(SEAMS[number] + height))[-1]
        for height in (RELIEF + 0.05, OVER_NICKS)
    )
    wider = low - high.offset(0.03, JoinType.Round, 2.0, 360)
    return [piece for piece in wider.decompose() if piece.area() > 0.01]


def count_of(nicks: list[CrossSection], radius: float) -> int:
    """A nick wider than 1.6 mm stands for five."""
    widths = [math.radians(spread_deg(nick)[1]) * radius for nick in nicks]
    return sum(5 if width > 1.6 else 1 for width in widths)


@every_part
@every_seam
def test_nicks_count_the_joint_on_both_pieces(name: str, number: int) -> None:
    part = cut_part(name)
    radius = part.joints[number].tenon.tenon_radius
    assert count_of(root_nicks(part, number), radius) == number + 1
    assert count_of(mouth_nicks(part, number), radius) == number + 1


@every_part
@every_seam
def test_nicks_of_assembled_pieces_face_each_other(name: str, number: int) -> None:
    part = cut_part(name)
    roots, mouths = (
        sorted(spread_deg(nick)[0] % 360.0 for nick in nicks)
        for nicks in (root_nicks(part, number), mouth_nicks(part, number))
    )
    assert roots == pytest.approx(mouths, abs=0.3)


@every_part
@every_seam
def test_the_seams_rim_is_an_unbroken_circle_on_both_pieces(name: str, number: int) -> None:
    part, radius = cut_part(name), WIDTHS[name] / 2.0
    for piece, height in ((number, -0.01), (number + 1, 0.01)):
        section = part.placed[piece].slice(SEAMS[number] + height)
        (rim,) = [ring for ring in section.to_polygons() if CrossSection([ring]).area() > 0.0]
        reach = np.hypot(rim[:, 0], rim[:, 1])
        assert reach.max() <= radius + 1e-4
        assert reach.min() >= radius * math.cos(math.pi / FACETS) - 1e-4  # on its chords


@every_part
@every_seam
def test_no_wall_beyond_the_relief_is_thinner_than_the_least(name: str, number: int) -> None:
    part = cut_part(name)
    inscribed = WIDTHS[name] / 2.0 * math.cos(math.pi / FACETS)
    for height in np.linspace(RELIEF, OVER_NICKS, 10) + 1e-3:
        room = voids(part.placed[number + 1].slice(SEAMS[number] + float(height)))[-1]
        corners = np.vstack(room.to_polygons())
        assert inscribed - np.hypot(corners[:, 0], corners[:, 1]).max() >= LEAST_WALL
