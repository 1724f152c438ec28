"""A joint around two bores against one built independently, with booleans, from its sizes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from borewright.core.errors import BadSetting
from borewright.core.jointing.open_ends import least_u_along
from borewright.core.jointing.zone_cut import tenon_u
from borewright.core.meshes.mesh_checks import check_closed
from borewright.core.truing.unroll import strip_count
from borewright.core.values import CHORD_TOLERANCE, FloatArray, Key, Tenon
from hypothesis import example, given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, FillRule, JoinType, Manifold, OpType

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
    prism,
    tenon_around,
)
from tests.touching import touching_points

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
    """The outside is the outline around both, at their widest; the first rib lies on a flank."""
    discs = [disc(max(bore.low, bore.high) + WALL, 300, bore.centre) for bore in bores]
    solid = prism(CrossSection.batch_hull(discs))
    across = np.subtract(bores[1].centre, bores[0].centre)
    angle = math.atan2(across[1], across[0]) + flank * math.pi / 2.0 + turn
    return bored_part(solid, bores, WALL, around=(0, 1), key_angle=angle, tenon_wall=1.9)


def hull_section(tenon: Tenon, u: float) -> CrossSection:
    """The outline at u, by a convex hull of discs."""
    pairs = zip(tenon.swells, tenon.centres, strict=True)
    return CrossSection.batch_hull([disc(u + swell, FINE, centre) for swell, centre in pairs])


def slab(tenon: Tenon, u: float, low: float, high: float) -> Manifold:
    return Manifold.extrude(hull_section(tenon, u), high - low).translate((0.0, 0.0, low))


def flank_normals(tenon: Tenon) -> list[FloatArray]:
    """Unit normals of lines that touch both discs: n . (c1 - c0) = r0 - r1."""
    arm = np.subtract(tenon.centres[1], tenon.centres[0])
    distance = np.linalg.norm(arm)
    along, left = arm / distance, np.array([-arm[1], arm[0]]) / distance
    cos = -tenon.swells[1] / distance
    return [cos * along + side * math.sqrt(1.0 - cos**2) * left for side in (1.0, -1.0)]


def web_section(tenon: Tenon) -> CrossSection:
    """Between the lines that touch both bores at the tip, from touch to touch."""
    corners = [
        tuple(np.add(centre, (tenon.bore_radius_at_tip + swell) * normal))
        for swell, centre in zip(tenon.swells, tenon.centres, strict=True)
        for normal in flank_normals(tenon)
    ]
    return CrossSection.hull_points(corners)


def capped(tenon: Tenon, u: float, edge: float, edge_at: float, top: float) -> Manifold:
    """From the seam up: upright at u, a 45 degree cone in to an edge, then a ridge over the web.

    The ridge's flanks are planes, z = top - u, and the bores take away all but the web.
    """
    trunk = slab(tenon, u, SEAM, edge_at - (u - edge))
    capital = trunk.batch_hull([trunk, slab(tenon, edge, edge_at - 1e-4, edge_at)])
    ridge = prism(web_section(tenon)).trim_by_plane((0.0, 0.0, 1.0), edge_at - 1e-3)
    for normal in flank_normals(tenon):
        reach = top + float(normal @ tenon.centres[0])
        plane = -np.array([*normal, 1.0]) / math.sqrt(2.0)
        ridge = ridge.trim_by_plane(plane.tolist(), -reach / math.sqrt(2.0))
    return capital + ridge


def walk(tenon: Tenon) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Points, normals and lengths around the tenon's outline, 0.01 apart on its arcs."""
    left, right = flank_normals(tenon)
    points, normals = [], []
    for centre, swell, first, last in (
        (tenon.centres[1], tenon.swells[1], right, left),
        (tenon.centres[0], tenon.swells[0], left, right),
    ):
        radius = tenon.tenon_radius + swell
        start = math.atan2(first[1], first[0])
        span = math.fmod(math.atan2(last[1], last[0]) - start + 4.0 * math.pi, 2.0 * math.pi)
        angles = start + np.linspace(0.0, span, math.ceil(radius * span / 0.01))
        rays = np.column_stack([np.cos(angles), np.sin(angles)])
        points.append(np.array(centre) + radius * rays)
        normals.append(rays)
    outline = np.vstack(points)
    steps = np.linalg.norm(np.roll(outline, -1, axis=0) - outline, axis=1)
    return outline, np.vstack(normals), np.concatenate([[0.0], np.cumsum(steps)])


def stretch(tenon: Tenon, angle: float, half: float) -> tuple[FloatArray, FloatArray]:
    """Points and normals of the outline within `half` mm along it of where an angle meets it.

    The angle is seen from the middle of the centres.
    """
    points, normals, lengths = walk(tenon)
    arms = points - np.mean(tenon.centres, axis=0)
    ahead = np.roll(arms, -1, axis=0)
    ray = np.array([math.cos(angle), math.sin(angle)])
    side, next_side = (ray[0] * line[:, 1] - ray[1] * line[:, 0] for line in (arms, ahead))
    (edge,) = np.flatnonzero((side < 0.0) & (next_side >= 0.0) & (arms @ ray > 0.0))
    share = side[edge] / (side[edge] - next_side[edge])
    middle = lengths[edge] + share * (lengths[edge + 1] - lengths[edge])
    whole = lengths[-1]
    past = np.mod(lengths[:-1] - middle + whole / 2.0, whole) - whole / 2.0
    at = np.unique(np.concatenate([[-half, half], past[np.abs(past) < half]]))
    order = np.argsort(past)
    closed = np.concatenate([past[order], past[order][:1] + whole])
    closed = np.concatenate([past[order][-1:] - whole, closed])
    around = np.concatenate([order[-1:], order, order[:1]])

    def between(values: FloatArray) -> FloatArray:
        return np.column_stack([np.interp(at, closed, values[around, k]) for k in (0, 1)])

    return between(points), between(normals)


def rib_prism(tenon: Tenon, key: Key, u: float, gap: float) -> Manifold:
    """The room of a rib at outline u, its leaning flanks 0.05 wide."""
    half = key.half_width * tenon.tenon_radius + gap
    out = u - tenon.tenon_radius
    foot, square = stretch(tenon, key.angle, half)
    top, normals = stretch(tenon, key.angle, half - 0.05)
    outline = np.vstack(
        [
            (foot + (out - 1.0) * square)[::-1],
            foot[:1] + out * square[:1],
            top + (out + key.relief) * normals,
            foot[-1:] + out * square[-1:],
        ]
    )
    return prism(CrossSection([outline[::-1]], FillRule.NonZero))


def ribs(tenon: Tenon, u: float, *, gaps: float = 0.0, more: float = 0.0) -> Manifold:
    """The room of all ribs, with so many of their gaps, and standing out by `more`."""
    rooms = [
        rib_prism(
            tenon,
            replace(key, relief=key.relief + more),
            u,
            gaps * key.side_gap * tenon.tenon_radius,
        )
        for key in tenon.keys
    ]
    return Manifold.batch_boolean(rooms, OpType.Add)


def nicks(tenon: Tenon, *, root: bool) -> Manifold:
    """Witness marks: 45 degrees down to the tenon's root, or up to the socket's wall."""
    made = Manifold()
    out = 0.0 if root else tenon.socket_radius - tenon.tenon_radius
    for mark in tenon.marks:
        points, normals = stretch(tenon, mark.angle, mark.half_width * tenon.tenon_radius)
        deep = SEAM - mark.depth if root else SEAM + mark.depth
        corners = [
            np.column_stack([points + aside * normals, np.full(len(points), height)])
            for aside, height in ((out, deep), (out + mark.depth, SEAM), (out - 0.2, SEAM))
        ]
        made += Manifold.hull_points(np.vstack(corners))
    return made - slab(tenon, tenon.tenon_radius, SEAM - 3.0, SEAM) if root else made


def tenon_solid(part: BoredPart) -> Manifold:
    tenon = part.tenon
    edge = tenon.bore_radius_at_tip + tenon.land
    top = tenon.tip + tenon.bore_radius_at_tip
    plain = capped(tenon, tenon.tenon_radius, edge, tenon.tip, top)
    grown = capped(tenon, tenon.tenon_radius + tenon.relief, edge, tenon.tip, top)
    solid = plain + (grown ^ ribs(tenon, tenon.tenon_radius))
    for bore in part.bores:
        solid -= bore.solid()
    return solid


def room_solid(part: BoredPart) -> Manifold:
    """What the socket takes from the part: mouth relief, wall and roof, grooves and nicks."""
    tenon = part.tenon
    top = tenon.tip + 0.2 + tenon.land + tenon.bore_radius_at_tip
    edge = tenon.bore_radius_at_tip - 0.3
    edge_at = top - edge
    rooms = []
    for relief in (0.0, tenon.relief):
        u = tenon.socket_radius + relief
        trunk = slab(tenon, u, SEAM, SEAM + 0.4)
        mouth = trunk.batch_hull([trunk, slab(tenon, u + 0.4, SEAM, SEAM + 1e-4)])
        rooms.append(capped(tenon, u, edge, edge_at, top) + mouth)
    plain, grown = rooms
    grooves = ribs(tenon, tenon.socket_radius, gaps=1.0, more=0.4)
    return plain + (grown ^ grooves) + nicks(tenon, root=False)


def apart(first: Manifold, second: Manifold) -> float:
    """Volume, mm3, that only one of them has."""
    return (first - second).volume() + (second - first).volume()


def chord_volume(part: BoredPart) -> float:
    """What facets of ours leave out or add, a third of the chord error on all of an outline.

    A chord is off by two thirds of its greatest error in the mean, flanks not at all, and
    generators and subdivision make facets narrower than they need be.
    """
    tenon = part.tenon
    around = 2.0 * math.pi * (tenon.socket_radius + max(tenon.swells)) + tenon.outline_excess
    return around * (tenon.highest - SEAM) * CHORD_TOLERANCE / 3.0


@pytest.mark.parametrize("flank", [1, -1])
@pytest.mark.parametrize("bores", PAIRS.values(), ids=PAIRS.keys())
def test_tenon_and_socket_are_those_of_the_booleans(bores: tuple[Bore, Bore], flank: int) -> None:
    part = two_bored(bores, flank)
    lower, upper = (as_solid(in_place(piece)) for piece in part.pieces())
    below = part.solid.trim_by_plane((0.0, 0.0, -1.0), -SEAM) - nicks(part.tenon, root=True)
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
        assert len(touching_points(piece.mesh)) == 0
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
    tenon = part.tenon
    lower, upper = (as_solid(in_place(piece)) for piece in part.pieces())
    for height in (SEAM + 0.5, SEAM + tenon.parallel_length / 2.0):
        outline = CrossSection([max(lower.slice(height).to_polygons(), key=np.ptp)])
        wall = upper.slice(height)
        near = outline.offset(CLEARANCE - 0.003, JoinType.Round, 2.0, FINE)
        assert (near ^ wall).area() < 1e-4
        far = outline.offset(CLEARANCE + 0.03, JoinType.Round, 2.0, FINE)
        length = math.tau * tenon.tenon_radius + tenon.outline_excess
        assert (far ^ wall).area() > 0.8 * length * (0.03 - 2.5 * CHORD_TOLERANCE)


@pytest.mark.parametrize("bores", PAIRS.values(), ids=PAIRS.keys())
def test_tenon_lies_within_its_outline_and_socket_off_its_own(bores: tuple[Bore, Bore]) -> None:
    """Facets take nothing from the clearance, wherever the bores' generators are."""
    part = two_bored(bores)
    tenon = part.tenon
    height = SEAM + tenon.parallel_length / 2.0
    lower, wall = (as_solid(in_place(piece)).slice(height) for piece in part.pieces())
    standing = ribs(tenon, tenon.tenon_radius).slice(height)
    assert (lower - hull_section(tenon, tenon.tenon_radius + 5e-4) - standing).area() < 1e-3
    assert (wall ^ hull_section(tenon, tenon.socket_radius - 5e-4)).area() < 1e-3


@pytest.mark.parametrize("bores", PAIRS.values(), ids=PAIRS.keys())
def test_the_roof_keeps_its_gap_over_tip_and_ridge(bores: tuple[Bore, Bore]) -> None:
    """The cones are 0.2 apart along the axis, tip and ridge a land more."""
    part = two_bored(bores)
    tenon = part.tenon
    lower, upper = (as_solid(in_place(piece)) for piece in part.pieces())
    head = lower.trim_by_plane((0.0, 0.0, 1.0), SEAM + 1.0)
    assert (head.translate((0.0, 0.0, 0.19)) ^ upper).volume() < 1e-3
    assert (head.translate((0.0, 0.0, 0.25)) ^ upper).volume() > 0.5
    inside = head ^ slab(tenon, tenon.bore_radius_at_tip, SEAM, LENGTH)
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
    tenon = tenon_around([bore.surface for bore in bores], tuple(range(len(bores))), 0.0)
    start, end = np.array(ends[:2]), np.array(ends[2:])
    shares = np.linspace(0.0, 1.0, 4001)[:, None]
    sampled = tenon_u(tenon, start + shares * (end - start)).min()
    found = least_u_along(tenon, start[None], end[None])
    assert found <= sampled + 1e-9
    assert found >= sampled - math.dist(start, end) / 8000.0  # squares would underflow


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
        assert len(touching_points(piece.mesh)) == 0
    lower, upper = (as_solid(in_place(piece)) for piece in pieces)
    assert (lower ^ upper).volume() < 2e-3
    for solid in (lower, upper):
        assert solid.volume() > 0.0
        assert (solid - part.solid).volume() < 0.02


def test_bores_that_are_not_true_are_refused_with_what_to_do() -> None:
    with pytest.raises(BadSetting, match="2 of 2 bores as they are where the joint at station 25"):
        two_bored(EQUAL).pieces(is_true=False)
