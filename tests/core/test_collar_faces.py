"""Collars, sleeves and the ends in them, measured with manifold3d and trimesh only."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from borewright.core.jointing.collar_design import Place, notch_height
from borewright.core.values import CHORD_TOLERANCE, FloatArray, IntArray
from manifold3d import CrossSection, Manifold

from tests.collared import (
    ENGAGEMENT,
    PLACES,
    SEAM,
    SETTINGS,
    WALLS,
    Collared,
    as_mesh,
    collared,
)

CLEARANCE = SETTINGS.clearance
COLLISION = 0.01
MOST_TILT_DEG = 45.5
"""45 degrees, and what facets of 0.005 chord error add."""

each = pytest.mark.parametrize(
    ("wall", "place"), [(wall, place) for wall in WALLS for place in PLACES]
)
"""Every wall with a collar and with a sleeve."""


def outlines(solid: Manifold, height: float) -> list[FloatArray]:
    return [np.array(line) for line in solid.slice(height).to_polygons()]


def ring_of(lines: list[FloatArray], *, outer: bool) -> FloatArray:
    """The outline that encloses most, or that of the void within."""
    rings = sorted(lines, key=lambda line: -abs(enclosed(line)))
    return rings[0 if outer else 1]


def enclosed(line: FloatArray) -> float:
    """Area, mm2, by the shoelace formula."""
    (x, y), (u, v) = line.T, np.roll(line, -1, axis=0).T
    return float((x * v - y * u).sum()) / 2.0


def distances(points: FloatArray, line: FloatArray) -> FloatArray:
    """(n,) mm, from points to the nearest place on a closed outline."""
    arm = np.roll(line, -1, axis=0) - line
    off = points[:, None] - line[None]
    share = np.clip((off * arm).sum(axis=2) / (arm**2).sum(axis=1), 0.0, 1.0)
    return np.linalg.norm(off - share[:, :, None] * arm, axis=2).min(axis=1)


def crossings(points: FloatArray, line: FloatArray) -> IntArray:
    """(n,) how often a ray to the right of each point crosses a closed outline."""
    ends = np.roll(line, -1, axis=0)
    (x, y), (u, v) = line.T, ends.T
    height = points[:, 1, None]
    met = (y <= height) != (v <= height)
    at = x + (height - y) / np.where(v == y, 1.0, v - y) * (u - x)
    counted: IntArray = (met & (at > points[:, 0, None])).sum(axis=1)
    return counted


@each
def test_all_three_are_closed_single_bodies(wall: str, place: Place) -> None:
    made = collared(wall, place)
    for solid in (made.lower, made.upper, made.ring):
        mesh = as_mesh(solid)
        body = trimesh.Trimesh(mesh.vertices.copy(), mesh.triangles.copy(), process=False)
        assert body.is_watertight and body.is_winding_consistent and body.volume > 0.0
        assert len(solid.decompose()) == 1
        assert solid.genus() == 1


@each
def test_ends_and_ring_share_nothing_and_ends_are_of_the_part(wall: str, place: Place) -> None:
    made = collared(wall, place)
    pairs = ((made.lower, made.upper), (made.lower, made.ring), (made.upper, made.ring))
    assert max(abs((one ^ other).volume()) for one, other in pairs) < 1e-6
    # new facets and the part's stand out of each other by no more than the chord error
    around = 2.0 * math.pi * made.end_radii[1] * 2.0 * (notch_height(made.collar, SEAM) + 1.0)
    strays = (made.lower - made.part).volume() + (made.upper - made.part).volume()
    assert 0.0 <= strays < 2.0 * around * CHORD_TOLERANCE


@each
def test_ends_lack_two_hexagons_their_nicks_and_a_bevel(wall: str, place: Place) -> None:
    made = collared(wall, place)
    inner, outer = made.end_radii
    lacking = made.part.volume() - made.lower.volume() - made.upper.volume()
    hexagons = sum(hexagon_area(made, lug) for lug in range(2)) * (outer**2 - inner**2) / 2.0
    bevel = min(0.4, outer - inner - SETTINGS.least_wall - 0.01)
    edge = 2.0 * math.pi * (outer if place == "outside" else inner) * bevel**2 / 2.0
    nicks = 2 * 0.5**2 * (outer - inner)
    assert lacking == pytest.approx(hexagons + edge + nicks, abs=0.03 * (hexagons + edge + nicks))


def hexagon_area(made: Collared, number: int) -> float:
    """Area, mm rad, of a notch: its lug's, widened by the gaps, summed over its angle."""
    lug, top = made.collar.lugs[number], made.end_radii[1] + CLEARANCE
    half = lug.half_width + lug.side_gap
    gap = CLEARANCE * math.hypot(1.0, top / made.end_radii[0])
    angles = np.linspace(-half, half, 2001)
    heights = lug.flank + gap + (lug.half_width - np.abs(angles)) * top
    return float(((heights[1:] + heights[:-1]) * np.diff(angles)).sum())


@each
def test_clearance_is_the_one_asked_for_all_round_both_ends(wall: str, place: Place) -> None:
    made = collared(wall, place)
    plain = np.linspace(1.1, ENGAGEMENT - 0.6, 7)
    for end, heights in ((made.lower, SEAM - plain), (made.upper, SEAM + plain)):
        gaps = np.concatenate([gaps_at(made, end, height) for height in heights.tolist()])
        assert gaps.min() > CLEARANCE - 0.001
        assert gaps.max() < CLEARANCE + 0.03


def gaps_at(made: Collared, end: Manifold, height: float) -> FloatArray:
    """From the end's corners off the lugs to the ring."""
    outside = made.collar.place == "outside"
    facing = ring_of(outlines(made.ring, height), outer=not outside)
    lines = outlines(end, height)
    points = np.vstack(lines)
    radii, angles = np.hypot(*points.T), np.arctan2(points[:, 1], points[:, 0])
    middle = sum(made.end_radii) / 2.0
    chosen = radii > middle if outside else radii < middle
    for lug in made.collar.lugs:
        off = np.abs(np.angle(np.exp(1j * (angles - lug.angle))))
        chosen &= off > lug.half_width + 0.03
    assert chosen.sum() > 24
    return distances(points[chosen], facing)


@each
def test_no_two_bodies_come_closer_than_the_clearance_but_for_the_play_allowed(
    wall: str, place: Place
) -> None:
    made = collared(wall, place)
    flanks = min(lug.side_gap for lug in made.collar.lugs) * made.end_radii[0]
    least = min(CLEARANCE, flanks)
    for end in (made.lower, made.upper):
        gap = made.ring.min_gap(end, 1.0)
        assert least - 0.002 < gap < least + 0.03
    assert made.lower.min_gap(made.upper, 1.0) == pytest.approx(0.0, abs=1e-9)


@each
def test_lugs_stay_back_and_the_ring_is_as_thick_as_asked(wall: str, place: Place) -> None:
    made = collared(wall, place)
    lines = outlines(made.ring, SEAM + 0.3)
    radii = [np.hypot(*line.T) for line in lines]
    if place == "outside":
        tips = min(radius.min() for radius in radii)
        assert tips == pytest.approx(made.end_radii[0] + 0.2, abs=0.01)
    else:
        tips = max(radius.max() for radius in radii)
        assert tips == pytest.approx(made.end_radii[1] - 0.2, abs=0.01)
    inner, outer = ring_of(lines, outer=False), ring_of(lines, outer=True)
    wall_found = min(distances(inner, outer).min(), distances(outer, inner).min())
    assert wall_found == pytest.approx(max(1.6, made.collar.thickness), abs=0.01)


# --- one seat only ---------------------------------------------------------------------------


def meets(one: Manifold, other: Manifold, turn_deg: float, levels: FloatArray) -> bool:
    """Whether one, turned about the axis, shares more than a trace with the other."""
    shared = 0.0
    for level in levels.tolist():
        shared += (slice_at(one, level).rotate(turn_deg) ^ slice_at(other, level)).area() * 0.5
    return shared > COLLISION


def slice_at(solid: Manifold, level: float) -> CrossSection:
    return solid.slice(level)


def free_turns(one: Manifold, other: Manifold, levels: FloatArray) -> list[float]:
    """Whole degrees by which one may be turned in the other."""
    pairs = [(slice_at(one, level), slice_at(other, level)) for level in levels.tolist()]
    free = []
    for turn in range(360):
        shared = sum((a.rotate(float(turn)) ^ b).area() * 0.5 for a, b in pairs)
        if shared <= COLLISION:
            free.append(float(turn))
    return free


LEVELS = np.array([0.4, 0.9, 1.4])
"""Beside the seam, where lugs are upright."""


@each
def test_an_end_fits_the_ring_in_one_rotation_only(wall: str, place: Place) -> None:
    made = collared(wall, place)
    for end, levels in ((made.lower, SEAM - LEVELS), (made.upper, SEAM + LEVELS)):
        assert free_turns(made.ring, end, levels) == [0.0]


@each
def test_the_two_ends_together_play_no_more_than_allowed(wall: str, place: Place) -> None:
    made = collared(wall, place)
    play = 0.0
    for end, levels in ((made.lower, SEAM - LEVELS), (made.upper, SEAM + LEVELS)):
        steps = [k * 0.05 for k in range(60)]
        play += next(turn for turn in steps if meets(made.ring, end, turn, levels))
    assert 0.0 < play <= 1.5
    told = made.checks()["one_seat_play"].value
    assert told <= play <= told + 0.25  # a collision needs some depth to show as a volume


def test_another_cuts_ends_collide_at_any_turn() -> None:
    wall = "wall 1.0 around 20"
    patterns = ((0.3, 1.7), (0.3, 2.1), (0.3, 2.5))
    for own in patterns:
        ring = collared(wall, "outside", own).ring
        for other in patterns:
            ends = collared(wall, "outside", other)
            for end, levels in ((ends.lower, SEAM - LEVELS), (ends.upper, SEAM + LEVELS)):
                free = free_turns(ring, end, levels)
                assert free == ([0.0] if own == other else [])


@each
def test_upside_down_neither_ring_nor_end_fits(wall: str, place: Place) -> None:
    made = collared(wall, place)
    over = made.ring.translate((0.0, 0.0, -SEAM)).rotate((180.0, 0.0, 0.0))
    over = over.translate((0.0, 0.0, SEAM))
    assert free_turns(over, made.lower, SEAM - LEVELS) == []
    wrong_end = made.upper.translate((0.0, 0.0, -SEAM)).rotate((180.0, 0.0, 0.0))
    wrong_end = wrong_end.translate((0.0, 0.0, SEAM))
    assert free_turns(made.ring, wrong_end, SEAM - LEVELS) == []


# --- along the axis ----------------------------------------------------------------------------


@each
def test_lugs_hold_the_ring_along_the_axis(wall: str, place: Place) -> None:
    made = collared(wall, place)
    told = made.checks()["axial_play"].value
    for way, end in ((-1.0, made.lower), (1.0, made.upper)):
        free = made.ring.translate((0.0, 0.0, way * (told - 0.04))) ^ end
        stopped = made.ring.translate((0.0, 0.0, way * (told + 0.06))) ^ end
        assert free.volume() < 1e-6
        assert stopped.volume() > COLLISION


@each
def test_the_ring_slides_on_from_above_and_the_upper_end_into_it(wall: str, place: Place) -> None:
    made = collared(wall, place)
    for rise in np.linspace(0.1, 2.0 * ENGAGEMENT, 25).tolist():
        up = (0.0, 0.0, rise)
        assert (made.ring.translate(up) ^ made.lower).volume() < 1e-6
        assert (made.upper.translate(up) ^ made.ring).volume() < 1e-6


@each
def test_all_prints_unsupported(wall: str, place: Place) -> None:
    made = collared(wall, place)
    for solid, low, high in (
        (made.lower, SEAM - ENGAGEMENT, SEAM),
        (made.upper, SEAM, SEAM + ENGAGEMENT),
        (made.ring, SEAM - ENGAGEMENT, SEAM + ENGAGEMENT),
    ):
        mesh = as_mesh(solid)
        body = trimesh.Trimesh(mesh.vertices.copy(), mesh.triangles.copy(), process=False)
        heights = body.triangles[:, :, 2]
        ours = (heights.max(axis=1) > low + 1e-3) & (heights.min(axis=1) < high)
        ours &= (body.face_normals[:, 2] < 0.0) & (body.area_faces > 1e-4)
        tilts = np.degrees(np.arcsin(-body.face_normals[ours, 2]))
        assert tilts.max(initial=0.0) < MOST_TILT_DEG
    assert tilts.size > 10  # the ring's lugs and its relief look down


@each
def test_each_end_and_the_ring_carry_as_many_nicks_as_cuts_so_far(wall: str, place: Place) -> None:
    for marks in (1, 3):
        made = collared(wall, place, marks=marks)
        top = SEAM + ENGAGEMENT
        assert dents(made.lower, SEAM - 0.05, made) == marks
        assert dents(made.upper, SEAM + 0.05, made) == marks
        assert dents(made.ring, top - 0.05, made) == marks


def dents(solid: Manifold, height: float, made: Collared) -> int:
    """How many dents an outline has besides the notches: runs of radii off its circle."""
    outside = made.collar.place == "outside"
    angles = np.linspace(0.0, 2.0 * math.pi, 7200, endpoint=False) + 1e-4
    radius = made.collar.outer.radius_at(SEAM) if outside else made.collar.inner.radius_at(SEAM)
    is_ring = solid is made.ring
    # just beyond the edge that is nicked: in the ring outside of it, in the ends within it
    off = 0.75 if is_ring else 0.5
    probe = radius + off if outside is is_ring else radius - off
    probes = probe * np.column_stack([np.cos(angles), np.sin(angles)])
    filled = sum(crossings(probes, line) for line in outlines(solid, height)) % 2
    away = np.ones(len(angles), bool)
    for lug in made.collar.lugs:
        turn = np.abs(np.angle(np.exp(1j * (angles - lug.angle))))
        away &= turn > lug.half_width + lug.side_gap + 0.2 / radius
    hollow = (filled == 0) & away
    return int((hollow & ~np.roll(hollow, 1)).sum())
