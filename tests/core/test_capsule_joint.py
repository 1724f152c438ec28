"""A joint around two bores against one built independently, with booleans, from its sizes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from borewright.core.errors import BadSetting
from borewright.core.jointing.open_ends import least_u_along
from borewright.core.jointing.zone_cut import joint_u
from borewright.core.meshes.mesh_checks import check_closed, check_touching
from borewright.core.truing.unroll import strip_count
from borewright.core.values import CHORD_TOLERANCE, FloatArray, Joint
from hypothesis import example, given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, JoinType, Manifold

from tests.bored import (
    CLEARANCE,
    LENGTH,
    SEAM,
    Bore,
    BoredPart,
    as_solid,
    bored_part,
    disc,
    in_place,
    joint_around,
    prism,
)

FINE = 480
WALL = 4.6

EQUAL = (Bore(5.5, 5.5), Bore(5.5, 5.5, (15.5, 0.0), 70))
TAPERED = (Bore(6.0, 5.0), Bore(6.0, 5.0, (15.5, 0.0), 70))
WIDENING = (Bore(5.0, 6.0), Bore(5.0, 6.0, (15.5, 0.0), 70))
UNEQUAL = (Bore(4.0, 4.0, (3.0, -2.0), 64), Bore(6.5, 6.5, (-9.0, 10.0), 78))
WIDER_FIRST = (UNEQUAL[1], UNEQUAL[0])
CROSSING = (Bore(4.0, 6.0, (3.0, -2.0), 64), Bore(6.5, 4.5, (-9.0, 10.0), 78))
PAIRS = {
    "equal": EQUAL,
    "tapered": TAPERED,
    "widening": WIDENING,
    "unequal": UNEQUAL,
    "wider one first": WIDER_FIRST,
    "of tapers that cross": CROSSING,
}


def two_bored(bores: tuple[Bore, Bore], flank: int = 1, turn: float = 0.0) -> BoredPart:
    """The outside is the outline around both, at their widest; the key lies on a flank."""
    discs = [disc(max(bore.low, bore.high) + WALL, 300, bore.centre) for bore in bores]
    solid = prism(CrossSection.batch_hull(discs))
    across = np.subtract(bores[1].centre, bores[0].centre)
    angle = math.atan2(across[1], across[0]) + flank * math.pi / 2.0 + turn
    return bored_part(solid, bores, WALL, around=(0, 1), key_angle=angle, tenon_wall=1.9)


def hull_section(joint: Joint, u: float) -> CrossSection:
    """The outline at u, by a convex hull of discs."""
    pairs = zip(joint.swells, joint.centres, strict=True)
    return CrossSection.batch_hull([disc(u + swell, FINE, centre) for swell, centre in pairs])


def slab(joint: Joint, u: float, low: float, high: float) -> Manifold:
    return Manifold.extrude(hull_section(joint, u), high - low).translate((0.0, 0.0, low))


def flank_normals(joint: Joint) -> list[FloatArray]:
    """Unit normals of lines that touch both discs: n . (c1 - c0) = r0 - r1."""
    arm = np.subtract(joint.centres[1], joint.centres[0])
    distance = np.linalg.norm(arm)
    along, left = arm / distance, np.array([-arm[1], arm[0]]) / distance
    cos = -joint.swells[1] / distance
    return [cos * along + side * math.sqrt(1.0 - cos**2) * left for side in (1.0, -1.0)]


def web_section(joint: Joint) -> CrossSection:
    """Between the lines that touch both bores at the tip, from touch to touch."""
    corners = [
        tuple(np.add(centre, (joint.bore_radius_at_tip + swell) * normal))
        for swell, centre in zip(joint.swells, joint.centres, strict=True)
        for normal in flank_normals(joint)
    ]
    return CrossSection.hull_points(corners)


def capped(joint: Joint, u: float, edge: float, edge_at: float, top: float) -> Manifold:
    """From the seam up: upright at u, a 45 degree cone in to an edge, then a ridge over the web.

    The ridge's flanks are planes, z = top - u, and the bores take away all but the web.
    """
    trunk = slab(joint, u, SEAM, edge_at - (u - edge))
    capital = trunk.batch_hull([trunk, slab(joint, edge, edge_at - 1e-4, edge_at)])
    ridge = prism(web_section(joint)).trim_by_plane((0.0, 0.0, 1.0), edge_at - 1e-3)
    for normal in flank_normals(joint):
        reach = top + float(normal @ joint.centres[0])
        plane = -np.array([*normal, 1.0]) / math.sqrt(2.0)
        ridge = ridge.trim_by_plane(plane.tolist(), -reach / math.sqrt(2.0))
    return capital + ridge


def rib_prism(joint: Joint, u: float, gap: float) -> Manifold:
    """The room of the rib at outline u, its leaning flanks 0.05 wide, on the flank it is on."""
    key = joint.key
    middle = np.mean(joint.centres, axis=0)
    ray = np.array([math.cos(key.angle), math.sin(key.angle)])
    normal = max(flank_normals(joint), key=lambda flank: float(flank @ ray))
    line = joint.tenon_radius + float(normal @ joint.centres[0])
    foot = middle + (line - normal @ middle) / (normal @ ray) * ray
    foot = foot + (u - joint.tenon_radius) * normal
    ahead = np.array([-normal[1], normal[0]])
    half = key.half_width * joint.tenon_radius + gap
    corners = [
        foot + along * ahead + out * normal
        for along, out in (
            (-half, -1.0),
            (half, -1.0),
            (half, 0.0),
            (half - 0.05, key.relief),
            (-half + 0.05, key.relief),
            (-half, 0.0),
        )
    ]
    outline = [tuple(corner) for corner in corners]
    section = CrossSection([outline])
    return prism(section if section.area() > 0.0 else CrossSection([outline[::-1]]))


def tenon_solid(part: BoredPart) -> Manifold:
    joint = part.joint
    edge = joint.bore_radius_at_tip + joint.land
    top = joint.tip + joint.bore_radius_at_tip
    plain = capped(joint, joint.tenon_radius, edge, joint.tip, top)
    grown = capped(joint, joint.tenon_radius + joint.key.relief, edge, joint.tip, top)
    solid = plain + (grown ^ rib_prism(joint, joint.tenon_radius, 0.0))
    for bore in part.bores:
        solid -= bore.solid()
    return solid


def room_solid(part: BoredPart) -> Manifold:
    """What the socket takes from the part: mouth relief, wall and roof, groove and all."""
    joint = part.joint
    gap = joint.key.side_gap * joint.tenon_radius
    top = joint.tip + 0.2 + joint.land + joint.bore_radius_at_tip
    edge = joint.bore_radius_at_tip - 0.3
    edge_at = top - edge
    rooms = []
    for relief in (0.0, joint.key.relief):
        u = joint.socket_radius + relief
        trunk = slab(joint, u, SEAM, SEAM + 0.4)
        mouth = trunk.batch_hull([trunk, slab(joint, u + 0.4, SEAM, SEAM + 1e-4)])
        rooms.append(capped(joint, u, edge, edge_at, top) + mouth)
    plain, grown = rooms
    groove = rib_prism(replace_relief(joint, joint.key.relief + 0.4), joint.socket_radius, gap)
    return plain + (grown ^ groove)


def replace_relief(joint: Joint, relief: float) -> Joint:
    return replace(joint, key=replace(joint.key, relief=relief))


def apart(first: Manifold, second: Manifold) -> float:
    """Volume, mm3, that only one of them has."""
    return (first - second).volume() + (second - first).volume()


def chord_volume(part: BoredPart) -> float:
    """What facets of ours leave out or add, a third of the chord error on all of an outline.

    A chord is off by two thirds of its greatest error in the mean, flanks not at all, and
    generators and subdivision make facets narrower than they need be.
    """
    joint = part.joint
    around = 2.0 * math.pi * (joint.socket_radius + max(joint.swells)) + joint.outline_excess
    return around * (joint.highest - SEAM) * CHORD_TOLERANCE / 3.0


@pytest.mark.parametrize("flank", [1, -1])
@pytest.mark.parametrize("bores", PAIRS.values(), ids=PAIRS.keys())
def test_tenon_and_socket_are_those_of_the_booleans(bores: tuple[Bore, Bore], flank: int) -> None:
    part = two_bored(bores, flank)
    lower, upper = (as_solid(in_place(piece)) for piece in part.pieces())
    below = part.solid.trim_by_plane((0.0, 0.0, -1.0), -SEAM)
    above = part.solid.trim_by_plane((0.0, 0.0, 1.0), SEAM)
    assert apart(lower, below + tenon_solid(part)) < chord_volume(part)
    assert apart(upper, above - room_solid(part)) < chord_volume(part)


TURNS = [0.3, -0.6, math.pi / 2.0, -math.pi / 2.0, 1.2, 0.85]


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("bores", PAIRS.values(), ids=PAIRS.keys())
def test_pieces_close_and_do_not_meet_wherever_the_key_is(
    bores: tuple[Bore, Bore], turn: float
) -> None:
    part = two_bored(bores, turn=turn)
    pieces = part.pieces()
    for piece in pieces:
        check_closed(piece.mesh)
        check_touching(piece.mesh)
        made = trimesh.Trimesh(piece.mesh.vertices, piece.mesh.triangles, process=False)
        assert made.is_watertight and made.is_winding_consistent and made.volume > 0.0
    lower, upper = (as_solid(in_place(piece)) for piece in pieces)
    assert (lower ^ upper).volume() < 1e-3
    for solid in (lower, upper):
        assert (solid - part.solid).volume() < 0.02


@pytest.mark.parametrize("turn", [0.0, 0.9, math.pi / 2.0])
@pytest.mark.parametrize("bores", PAIRS.values(), ids=PAIRS.keys())
def test_the_clearance_is_kept_all_round_and_no_more(bores: tuple[Bore, Bore], turn: float) -> None:
    """Off the groove's flanks, which have it along the outline."""
    part = two_bored(bores, turn=turn)
    joint = part.joint
    lower, upper = (as_solid(in_place(piece)) for piece in part.pieces())
    for height in (SEAM + 0.5, SEAM + joint.parallel_length / 2.0):
        tenon = CrossSection([max(lower.slice(height).to_polygons(), key=np.ptp)])
        wall = upper.slice(height)
        near = tenon.offset(CLEARANCE - 0.003, JoinType.Round, 2.0, FINE)
        assert (near ^ wall).area() < 1e-4
        far = tenon.offset(CLEARANCE + 0.03, JoinType.Round, 2.0, FINE)
        length = math.tau * joint.tenon_radius + joint.outline_excess
        assert (far ^ wall).area() > 0.8 * length * (0.03 - 2.5 * CHORD_TOLERANCE)


@pytest.mark.parametrize("bores", PAIRS.values(), ids=PAIRS.keys())
def test_tenon_lies_within_its_outline_and_socket_off_its_own(bores: tuple[Bore, Bore]) -> None:
    """Facets take nothing from the clearance, wherever the bores' generators are."""
    part = two_bored(bores)
    joint = part.joint
    height = SEAM + joint.parallel_length / 2.0
    tenon, wall = (as_solid(in_place(piece)).slice(height) for piece in part.pieces())
    rib = rib_prism(joint, joint.tenon_radius, 0.0).slice(height)
    assert (tenon - hull_section(joint, joint.tenon_radius + 5e-4) - rib).area() < 1e-3
    assert (wall ^ hull_section(joint, joint.socket_radius - 5e-4)).area() < 1e-3


@pytest.mark.parametrize("bores", PAIRS.values(), ids=PAIRS.keys())
def test_the_roof_keeps_its_gap_over_tip_and_ridge(bores: tuple[Bore, Bore]) -> None:
    """The cones are 0.2 apart along the axis, tip and ridge a land more."""
    part = two_bored(bores)
    joint = part.joint
    lower, upper = (as_solid(in_place(piece)) for piece in part.pieces())
    head = lower.trim_by_plane((0.0, 0.0, 1.0), SEAM + 1.0)
    assert (head.translate((0.0, 0.0, 0.19)) ^ upper).volume() < 1e-3
    assert (head.translate((0.0, 0.0, 0.25)) ^ upper).volume() > 0.5
    inside = head ^ slab(joint, joint.bore_radius_at_tip, SEAM, LENGTH)
    assert (inside.translate((0.0, 0.0, 0.98)) ^ upper).volume() < 1e-3
    assert (inside.translate((0.0, 0.0, 1.05)) ^ upper).volume() > 0.5


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("bores", PAIRS.values(), ids=PAIRS.keys())
def test_no_face_of_the_socket_is_flatter_than_its_facets_make_it(
    bores: tuple[Bore, Bore], turn: float
) -> None:
    """45 degrees, and half a degree for chords; slivers that print as nothing aside."""
    part = two_bored(bores, turn=turn)
    mesh = in_place(part.pieces()[1])
    made = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
    corners = made.triangles
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    ours = (corners[:, :, 2].max(axis=1) < LENGTH - 1.0) & (
        corners[:, :, 2].max(axis=1) > SEAM + 1e-3
    )
    wide = 2.0 * made.area_faces > 1e-3 * sides
    down = -made.face_normals[ours & wide, 2]
    angles = np.degrees(np.arcsin(down.max()))
    assert 44.9 < angles < 45.5


@given(
    st.sampled_from([*PAIRS.values(), (EQUAL[0],)]),
    st.tuples(*[st.floats(-30.0, 30.0)] * 4),
)
def test_the_least_u_along_a_segment_is_that_of_its_nearest_point(
    bores: tuple[Bore, ...], ends: tuple[float, float, float, float]
) -> None:
    joint = joint_around([bore.surface for bore in bores], tuple(range(len(bores))), 0.0)
    start, end = np.array(ends[:2]), np.array(ends[2:])
    shares = np.linspace(0.0, 1.0, 4001)[:, None]
    sampled = joint_u(joint, start + shares * (end - start)).min()
    found = least_u_along(joint, start[None], end[None])
    assert found <= sampled + 1e-9
    assert found >= sampled - np.linalg.norm(end - start) / 8000.0


@settings(max_examples=20, deadline=None)
@given(
    st.tuples(st.floats(2.5, 9.0), st.floats(2.5, 9.0)),
    st.tuples(st.floats(-1.5, 1.5), st.floats(-1.5, 1.5)),
    st.floats(1.0, 8.0),
    st.floats(-math.pi, math.pi),
    st.floats(-math.pi, math.pi),
    st.tuples(st.integers(0, 40), st.integers(0, 40)),
)
@example((3.0, 3.0), (1.0, 0.0), 1.0, -1.625, 0.0, (0, 1))  # an arc starts at half a turn
def test_any_two_bores_are_joined(
    radii: tuple[float, float],
    tapers: tuple[float, float],
    web: float,
    turn: float,
    key_turn: float,
    more_facets: tuple[int, int],
) -> None:
    apart_by = sum(radii) + sum(map(abs, tapers)) + web
    centres = ((4.0, -3.0), (4.0 + apart_by * math.cos(turn), -3.0 + apart_by * math.sin(turn)))
    facets = [
        strip_count(radius + 1.5) + more for radius, more in zip(radii, more_facets, strict=True)
    ]
    first, second = (
        Bore(low, low + taper, centre, count)
        for low, taper, centre, count in zip(radii, tapers, centres, facets, strict=True)
    )
    part = two_bored((first, second), turn=key_turn)
    pieces = part.pieces()
    for piece in pieces:
        check_closed(piece.mesh)
        check_touching(piece.mesh)
    lower, upper = (as_solid(in_place(piece)) for piece in pieces)
    assert (lower ^ upper).volume() < 2e-3
    for solid in (lower, upper):
        assert solid.volume() > 0.0
        assert (solid - part.solid).volume() < 0.02


def test_bores_that_are_not_true_are_refused_with_what_to_do() -> None:
    with pytest.raises(BadSetting, match="2 of 2 bores as they are where the joint at station 25"):
        two_bored(EQUAL).pieces(is_true=False)
