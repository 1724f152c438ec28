"""A seam goes through any outside: pieces close, share out the part and seat in each other."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from borewright.core.errors import CrowdedZone
from borewright.core.jointing.split import build_pieces
from borewright.core.meshes.mesh_checks import check_closed
from borewright.core.values import CHORD_TOLERANCE, OTHER, FloatArray, Mesh, Piece, Plan, Settings
from manifold3d import CrossSection, Manifold

from tests.bored import (
    CLEARANCE,
    LENGTH,
    NICK_DEPTH,
    SEAM,
    Bore,
    BoredPart,
    as_solid,
    bored_part,
    disc,
    in_place,
    prism,
)
from tests.touching import touching_points


def oval(across: float, along: float) -> CrossSection:
    return disc(1.0, 300).scale((across, along))


def sculpted(rough: float, count: int) -> Manifold:
    """An outside with a dense mesh, lobed, waved along the axis, and rough."""
    rng = np.random.default_rng(3)
    rows = 40
    angles = 2.0 * math.pi * np.arange(count) / count
    heights = np.linspace(0.0, LENGTH, rows)
    radii = (
        14.0
        + 1.5 * np.cos(5.0 * angles)[None]
        + np.sin(heights / 4.0)[:, None]
        + rough * rng.uniform(-1.0, 1.0, (rows, count))
    )
    rim = np.stack([radii * np.cos(angles), radii * np.sin(angles)], axis=2)
    points = np.concatenate([rim, np.repeat(heights, count).reshape(rows, count, 1)], axis=2)
    number = np.arange(rows * count).reshape(rows, count)
    a, b = number[:-1], np.roll(number[:-1], -1, axis=1)
    c, d = np.roll(number[1:], -1, axis=1), number[1:]
    sides = [np.stack([a, b, c], axis=2).reshape(-1, 3), np.stack([a, c, d], axis=2).reshape(-1, 3)]
    low, high = rows * count, rows * count + 1
    first, last = number[0], number[-1]
    sides.append(np.column_stack([np.full(count, low), np.roll(first, -1), first]))
    sides.append(np.column_stack([np.full(count, high), last, np.roll(last, -1)]))
    vertices = np.vstack([points.reshape(-1, 3), [[0.0, 0.0, 0.0], [0.0, 0.0, LENGTH]]])
    return as_solid(Mesh(vertices, np.vstack(sides)))


def box(x: float, y: float, width: float, depth: float) -> CrossSection:
    return CrossSection.square((width, depth), center=True).translate((x, y))


ROUND = Bore(7.0, 7.0)
OFF_CENTRE = Bore(7.0, 7.0, (1.5, -0.8))

PARTS: dict[str, Callable[[], BoredPart]] = {
    "octagon": lambda: bored_part(prism(disc(13.0, 8)), [ROUND], 5.0),
    "oval": lambda: bored_part(prism(oval(11.5, 16.0)), [ROUND], 4.4),
    "square, bore off centre": lambda: bored_part(prism(box(0, 0, 24.0, 24.0)), [OFF_CENTRE], 3.4),
    "round, bore off centre": lambda: bored_part(prism(disc(13.0)), [OFF_CENTRE], 4.2),
    "round, tapered bore off centre": lambda: bored_part(
        prism(disc(13.0)), [Bore(7.5, 5.5, (1.5, -0.8))], 3.7
    ),
    "thin wall, bore off centre": lambda: bored_part(
        prism(disc(11.5)), [OFF_CENTRE], 2.7, tenon_wall=1.0
    ),
    "thin octagon": lambda: bored_part(prism(disc(11.0, 8)), [ROUND], 3.1, tenon_wall=1.0),
    "slot in the outside": lambda: bored_part(
        prism(disc(13.0) - box(12.3, 0.2, 2.0, 3.0)), [ROUND], 4.2
    ),
    "blind pocket": lambda: bored_part(
        prism(disc(13.0))
        - Manifold.extrude(disc(0.8, 24, (11.8, 0.0)), 20.0).translate((0, 0, SEAM - 10.0)),
        [ROUND],
        4.0,
    ),
    "a second bore beside the joint": lambda: bored_part(
        prism(CrossSection.batch_hull([disc(13.0), disc(13.0, 200, (20.0, 0.0))])),
        [ROUND, Bore(4.0, 4.0, (20.0, 0.0))],
        6.0,
    ),
    "a lobe that stands apart": lambda: bored_part(
        prism(disc(13.0))
        + Manifold.extrude(box(15.0, 0.0, 8.0, 3.0), LENGTH)
        - Manifold.extrude(box(16.0, 0.0, 2.0, 4.0), 30.0).translate((0, 0, SEAM - 10.0)),
        [ROUND],
        5.0,
    ),
    "sculpted": lambda: bored_part(sculpted(0.0, 200), [ROUND], 4.0),
    "sculpted and rough": lambda: bored_part(sculpted(0.25, 300), [ROUND], 4.0),
}


def check_pieces(part: BoredPart, pieces: tuple[Piece, ...], moved: float = 0.0) -> None:
    """Closed, sharing out the part but for the gap, and not into each other.

    moved : mm3, by vertices that are moved off the seam
    """
    for piece in pieces:
        check_closed(piece.mesh)
        assert len(touching_points(piece.mesh)) == 0
        made = trimesh.Trimesh(piece.mesh.vertices, piece.mesh.triangles, process=False)
        assert made.is_watertight and made.is_winding_consistent
        assert made.volume > 0.0
        assert np.array_equal(piece.mesh.vertices, piece.mesh.vertices.astype(np.float32))
    solids = [as_solid(in_place(piece)) for piece in pieces]
    lower, upper = solids
    assert (lower ^ upper).volume() < 1e-3
    beyond = sum((solid - part.solid).volume() for solid in solids)
    assert beyond < 0.02 + moved  # float32 rounding on some 6000 mm2 of surface
    gap = part.solid.volume() - lower.volume() - upper.volume()
    assert 0.9 < gap / expected_gap(part) < 1.1


def expected_gap(part: BoredPart) -> float:
    """Volume, mm3, of clearance, gap over the tip, mouth relief and nick, without the ribs'.

    By Pappus, each a thin ring: parallel part c wide; the gap over cone and land 0.2
    and 0.2 to 1.0 high; the relief 0.4 by 0.4 / 2. The nick is a
    triangle NICK_DEPTH each way in either piece, 1 mm wide, less the relief in the mouth.
    Half of what the tolerance allows is for the ribs' flanks and for tapers.
    """
    tenon = part.tenon
    radius, bore = tenon.tenon_radius, tenon.bore_radius_at_tip
    parallel = 2.0 * math.pi * (radius + CLEARANCE / 2.0) * CLEARANCE * tenon.parallel_length
    edge = bore + tenon.land
    cone = math.pi * (tenon.socket_radius**2 - edge**2) * 0.2
    land = math.pi * (edge**2 - bore**2) * 0.6
    relief = 2.0 * math.pi * radius * 0.08
    nick = 1.0 * (NICK_DEPTH**2 - 0.4**2 / 2.0)
    return parallel + cone + land + relief + nick


@pytest.mark.parametrize("make", PARTS.values(), ids=PARTS.keys())
def test_pieces_of_any_outside_close_and_fit(make: Callable[[], BoredPart]) -> None:
    part = make()
    check_pieces(part, part.pieces())


@pytest.mark.parametrize("make", PARTS.values(), ids=PARTS.keys())
def test_an_untrued_bore_does_as_well(make: Callable[[], BoredPart]) -> None:
    part = make()
    check_pieces(part, part.pieces(is_true=False))


def rings_at(mesh: Mesh, station: float) -> CrossSection:
    return as_solid(mesh).slice(station)


def test_a_part_without_joints_is_one_piece_as_it_was() -> None:
    part = PARTS["octagon"]()
    trued = part.trued()
    settings = Settings((300.0, 300.0, 300.0))
    (piece,) = build_pieces(part.survey(trued), trued, Plan((), ()), settings, "part")
    assert np.array_equal(piece.mesh.triangles, trued.mesh.triangles)
    assert np.abs(in_place(piece).vertices - trued.mesh.vertices).max() < 1e-5


@pytest.mark.parametrize("off", [-0.005, -0.0019, -0.001, 0.0, 0.001, 0.0019, 0.005])
@pytest.mark.parametrize("low", [True, False])
def test_a_flat_face_at_the_seam_or_just_off_it(off: float, low: bool) -> None:  # noqa: FBT001
    """A collar's face within 0.002 mm of the seam is moved off it, along the axis."""
    start = SEAM + off - (0.0 if low else 5.0)
    collar = Manifold.extrude(disc(16.0), 5.0).translate((0.0, 0.0, start))
    part = bored_part(prism(disc(13.0)) + collar, [ROUND], 5.0)
    moved = 0.002 * math.pi * (16.0**2 - 13.0**2)
    check_pieces(part, part.pieces(), moved if abs(off) < 0.002 else 0.0)


@pytest.mark.parametrize("off", [-1e-5, 0.0, 1e-5])
@pytest.mark.parametrize("which", [0, 1])
def test_a_rib_or_nick_may_end_at_half_a_turn(which: int, off: float) -> None:
    """Where the outlines' and the bore's angles start, one just below pi, the other above -pi."""

    def turned(angle: float) -> BoredPart:
        return bored_part(prism(disc(11.5, 300)), [Bore(6.0, 6.5)], 5.0, key_angle=angle)

    tenon = turned(0.0).tenon
    feature = (tenon.keys[0], tenon.marks[0])[which]
    part = turned(math.pi - feature.angle - feature.half_width + off)
    check_pieces(part, part.pieces())


def steep_taper() -> BoredPart:
    """Its facets run from end to end, and start wider than the tenon."""
    return bored_part(prism(disc(18.0)), [Bore(11.0, 5.0)], 6.0)


@pytest.mark.parametrize(
    "make",
    [*(PARTS[name] for name in ("octagon", "thin octagon", "blind pocket")), steep_taper],
)
def test_a_bore_that_no_label_tells_is_told_by_where_it_lies(
    make: Callable[[], BoredPart],
) -> None:
    part = make()
    trued = part.trued(is_true=False)
    bare = replace(trued, labels=np.full(len(trued.labels), OTHER))
    for piece, told in zip(part.pieces_of(bare), part.pieces_of(trued), strict=True):
        assert np.array_equal(piece.mesh.vertices, told.mesh.vertices)
        assert np.array_equal(piece.mesh.triangles, told.mesh.triangles)


@pytest.mark.parametrize("make", PARTS.values(), ids=PARTS.keys())
def test_tenon_and_socket_run_about_the_bore_with_the_clearance_between(
    make: Callable[[], BoredPart],
) -> None:
    part = make()
    tenon = part.tenon
    lower, upper = (in_place(piece) for piece in part.pieces())
    middle = tenon.station + tenon.parallel_length / 2.0
    centre = np.array(tenon.centres[0])
    outline = np.vstack(rings_at(lower, middle).to_polygons()) - centre
    reach = np.hypot(outline[:, 0], outline[:, 1])
    outer = reach > tenon.tenon_radius - 0.3
    for key in tenon.keys:
        turned = np.angle(np.exp(1j * (np.arctan2(outline[:, 1], outline[:, 0]) - key.angle)))
        outer &= np.abs(turned) > key.half_width + 0.1
    assert reach[outer].max() == pytest.approx(tenon.tenon_radius, abs=1e-4)
    assert reach[outer].min() > tenon.tenon_radius - CHORD_TOLERANCE
    room = rings_at(upper, middle)
    narrower = disc(tenon.socket_radius - 1e-3, 2000, tenon.centres[0])
    assert (room ^ narrower).area() < 1e-6
    assert (room ^ disc(tenon.socket_radius + 0.02, 2000, tenon.centres[0])).area() > 0.1


def test_the_shoulder_is_flat_at_the_seam_whatever_the_outside() -> None:
    """Its area is the section's less the tenon's, ribs and all, or the socket's relieved mouth.

    And less the nick, which reaches as far beyond the tenon as it is deep, and beyond the
    relief by so much less.
    """
    part = PARTS["sculpted and rough"]()
    tenon = part.tenon
    whole = part.solid.slice(SEAM) + disc(8.0)
    for piece, facing, edge in zip(part.pieces(), (1.0, -1.0), (0.0, CLEARANCE + 0.4), strict=True):
        mesh = in_place(piece)
        made = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
        level = np.abs(made.triangles[:, :, 2] - SEAM).max(axis=1) < 1e-4
        assert (np.abs(made.face_normals[level, 2] - facing) < 1e-3).all()
        column = math.pi * (tenon.tenon_radius + edge) ** 2 + 2.0 * 2.8 * tenon.relief
        column += NICK_DEPTH - (edge - CLEARANCE if edge else 0.0)
        areas: FloatArray = made.area_faces[level]
        assert areas.sum() == pytest.approx(whole.area() - column, abs=0.8)


@pytest.mark.parametrize("place", [9.2, 9.9])
def test_a_pocket_that_reaches_the_joint_is_refused_with_numbers(place: float) -> None:
    near = Manifold.extrude(disc(0.8, 24, (place, 0.0)), 20.0).translate((0, 0, SEAM - 10.0))
    part = bored_part(prism(disc(13.0)) - near, [ROUND], 4.0)
    with pytest.raises(CrowdedZone, match=r"outline.* where the joint from station 25.00 to 34.00"):
        part.pieces()


def test_a_hole_through_the_joint_is_refused() -> None:
    drill = (
        Manifold.cylinder(20.0, 2.0, 2.0, 40).rotate((0.0, 90.0, 0.0)).translate((0, 0, SEAM + 4.0))
    )
    part = bored_part(prism(disc(13.0)) - drill, [ROUND], 4.0)
    with pytest.raises(CrowdedZone, match=r"outlines .*where the joint from station 25.00"):
        part.pieces()
