"""Each proof passes on right pieces and fails on pieces damaged in just that way.

The pieces are built with manifold3d (tests/built_joint.py); what the proofs measure is
held against closed forms and against manifold3d.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from borewright.core.errors import ProofFailed
from borewright.core.proving.joint_checks import FinishedTenon
from borewright.core.proving.joint_shape import shape_of
from borewright.core.proving.joint_slices import slice_joint
from borewright.core.proving.overlaps import RAYS
from borewright.core.proving.prove import check_proofs
from borewright.core.proving.rays import ray_angles
from borewright.core.proving.solid import read_solid
from borewright.core.values import Check, Mesh, Piece, RoundSurface
from manifold3d import Manifold

from tests.built_joint import (
    BORE_RADIUS,
    HOLE_RADIUS,
    LENGTH,
    SEAM,
    SEGMENTS,
    BuiltJoint,
    as_mesh,
    as_piece,
    build_joint,
    halves,
    posed_frame,
    socket_of,
    tenon_of,
    turned,
)
from tests.surveys import with_keys

SAGITTA = BORE_RADIUS * (1.0 - math.cos(math.pi / SEGMENTS))
"""How far the bore's chords stand into it."""


@pytest.fixture(scope="module")
def rib() -> BuiltJoint:
    return build_joint()


@pytest.fixture(scope="module")
def thin() -> BuiltJoint:
    """A wall that only just holds a tenon."""
    return build_joint(10.2)


def failures(checks: dict[str, list[Check]]) -> set[str]:
    return {name for name, several in checks.items() if not all(check.ok for check in several)}


def the(checks: dict[str, list[Check]], name: str) -> Check:
    (check,) = checks[name]
    return check


def measured(built: BuiltJoint) -> FinishedTenon:
    lower, upper = (read_solid(piece, posed_frame()).placed for piece in built.pieces())
    shape = shape_of(built.tenon, built.survey())
    relief, top = built.settings.mouth_relief, built.tenon.roof_top
    slices = slice_joint(as_mesh(built.part), lower, upper, shape, relief, top)
    return FinishedTenon(0, shape, lower, upper, slices)


def with_mesh(piece: Piece, mesh: Mesh) -> Piece:
    return replace(piece, mesh=mesh)


def ring(inner: float, outer: float, low: float, high: float) -> Manifold:
    return turned([(inner, low), (outer, low), (outer, high), (inner, high)])


def pin(radius: float, station: float) -> Manifold:
    """A rod straight across the bore, its ends inside the wall."""
    rod = Manifold.cylinder(2.0 * BORE_RADIUS + 2.0, radius, circular_segments=24, center=True)
    return rod.rotate((0.0, 90.0, 0.0)).rotate((0.0, 0.0, 55.0)).translate((0.0, 0.0, station))


# Right pieces.


@pytest.mark.parametrize(
    "shape",
    [
        pytest.param({}, id="rib"),
        pytest.param({"outside_radius": 10.2}, id="thin wall"),
        pytest.param({"number": 1}, id="the second of three cuts"),
        pytest.param({"outside_radius": 13.0, "slope": -0.02}, id="narrowing upward"),
        pytest.param({"outside_radius": 12.0, "slope": 0.015}, id="widening upward"),
        pytest.param({"outside_radius": 13.0, "clearance": 0.3}, id="loose"),
        pytest.param({"outside_radius": 12.0, "clearance": 0.05}, id="tight"),
        pytest.param({"holes": ()}, id="no holes"),
    ],
)
def test_right_pieces_pass_every_proof(shape: dict[str, Any]) -> None:
    checks = build_joint(**shape).checks()
    assert failures(checks) == set()
    check_proofs(tuple(check for several in checks.values() for check in several))


def test_every_promise_has_its_proof(rib: BuiltJoint) -> None:
    of_piece = {
        *("closed", "outward", "bodies", "envelope", "on_bed", "rigid", "upright"),
        *("ways_whole", "bore_free", "bore_free_at_features"),
    }
    of_joint = {
        *("overlap", "least_clearance", "greatest_clearance", "key_clearance", "cone_clearance"),
        *("tenon_wall", "socket_wall", "one_seat_play", "one_seat_free_turns"),
        *(
            "shoulders_meet",
            "seam_at_station",
            "outside_kept",
            "self_supporting",
            "bore_groove",
            "hole_guard",
            "nick_floor",
        ),
    }
    of_part = {"assembled_length", "volume_balance", "ways_through"}
    checks = rib.checks()
    assert set(checks) == of_piece | of_joint | of_part
    for name in of_piece:
        assert [check.piece for check in checks[name]] == ["pipe-01", "pipe-02"]
    for name in of_joint:
        assert the(checks, name).joint == 0


# What is measured, against closed forms.


@pytest.mark.parametrize("clearance", [0.05, 0.15, 0.3])
def test_clearance_is_measured_to_the_facets(clearance: float) -> None:
    """Least at the tenon's corners; greatest by the sagitta of the tenon, by its closed form."""
    built = build_joint(13.0, clearance=clearance)
    checks = built.checks()
    corner = 1.0 / math.cos(math.pi / SEGMENTS)
    least = built.tenon.socket_radius * corner - built.tenon.tenon_radius
    greatest = built.tenon.socket_radius - built.tenon.tenon_radius / corner
    # Facets of both pieces start at the same angles: corners face corners.
    assert the(checks, "least_clearance").value == pytest.approx(min(least, greatest), abs=2e-5)
    assert the(checks, "greatest_clearance").value == pytest.approx(max(least, greatest), abs=2e-5)


def test_walls_are_measured_at_their_thinnest(rib: BuiltJoint, thin: BuiltJoint) -> None:
    """Both walls lie between polygons of equal angles: thinnest at the chords' middles.

    The socket's at its grooves, or at its nicks just over the mouth's relief of 0.4, where
    the lowest slice is looked at a little higher.
    """
    apothem, corner = math.cos(math.pi / SEGMENTS), 1.0 / math.cos(math.pi / SEGMENTS)
    for built in (rib, thin):
        checks, tenon = built.checks(), built.tenon
        left = (tenon.tenon_radius - BORE_RADIUS) * apothem
        outside = built.outside.radius_at(SEAM)
        nick = max(mark.depth for mark in tenon.marks) - 0.4
        deepest = (tenon.socket_radius + max(tenon.relief, nick)) * corner
        assert the(checks, "tenon_wall").value == pytest.approx(left, abs=1e-4)
        over = the(checks, "socket_wall").value - (outside - deepest) * apothem
        assert -1e-4 < over < (0.01 if nick > tenon.relief else 1e-4)


def test_play_is_the_gap_at_the_flanks(rib: BuiltJoint, thin: BuiltJoint) -> None:
    for built in (rib, thin):
        gap_deg = math.degrees(built.tenon.keys[0].side_gap)
        play = the(built.checks(), "one_seat_play").value
        assert gap_deg - 0.001 <= play <= gap_deg + 2.0 * 0.025 + 0.001


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_play_agrees_with_turned_solids(rib: BuiltJoint, way: float) -> None:
    """manifold3d turns the lower piece: free just short of the play told, then not."""
    play = the(rib.checks(), "one_seat_play").value
    short = rib.lower.rotate((0.0, 0.0, way * (play - 0.06))) ^ rib.upper
    beyond = rib.lower.rotate((0.0, 0.0, way * (play + 0.05))) ^ rib.upper
    assert short.volume() < 1e-6
    assert beyond.volume() > 1e-4


def test_gap_volume_agrees_with_solids(rib: BuiltJoint, thin: BuiltJoint) -> None:
    for built in (rib, thin):
        deepest = max(mark.depth for mark in built.tenon.marks)
        zone = ring(0.0, 30.0, SEAM - deepest, built.tenon.roof_top)
        gap = ((built.part - built.lower - built.upper) ^ zone).volume()
        assert measured(built).gap_volume == pytest.approx(gap, rel=1e-4)


@pytest.mark.parametrize("fatter", [0.2, 0.3])
def test_overlap_agrees_with_solids(rib: BuiltJoint, fatter: float) -> None:
    fat = replace(rib, lower=halves(rib.part)[0] + (rib.part ^ tenon_of(rib.tenon, fatter=fatter)))
    overlap = (fat.lower ^ fat.upper).volume()
    assert overlap > 1.0
    checks = fat.checks()
    assert the(checks, "overlap").value == pytest.approx(overlap, rel=0.01)
    corner = 1.0 / math.cos(math.pi / SEGMENTS)
    apart = rib.tenon.socket_radius - (rib.tenon.tenon_radius + fatter) / corner
    assert the(checks, "least_clearance").value == pytest.approx(apart, abs=1e-3)


def test_bore_depth_is_the_sagitta_of_its_chords(rib: BuiltJoint) -> None:
    for check in rib.checks()["bore_free"]:
        assert check.value == pytest.approx(SAGITTA, abs=1e-6)


def test_roof_leans_45_degrees_and_its_groove_is_gap_and_land(rib: BuiltJoint) -> None:
    checks = rib.checks()
    assert the(checks, "self_supporting").value == pytest.approx(45.0, abs=0.01)
    assert the(checks, "bore_groove").value == pytest.approx(0.2 + 0.8 + SAGITTA, abs=1e-4)


def test_guard_is_measured_from_the_zone_as_built(rib: BuiltJoint) -> None:
    roof_top = rib.tenon.roof_top + SAGITTA
    due = min(50.0 - HOLE_RADIUS - roof_top, SEAM - 20.0 - HOLE_RADIUS)
    assert the(rib.checks(), "hole_guard").value == pytest.approx(due, abs=1e-4)


def test_volumes_balance_to_far_less_than_their_limit(rib: BuiltJoint) -> None:
    assert abs(the(rib.checks(), "volume_balance").value) < 0.02


def test_proofs_do_not_depend_on_the_order_of_triangles(rib: BuiltJoint) -> None:
    rng = np.random.default_rng(5)
    shuffled = []
    for piece in rib.pieces():
        count = len(piece.mesh.vertices)
        order = rng.permutation(count)
        triangles = np.argsort(order)[rng.permutation(piece.mesh.triangles)]
        shuffled.append(with_mesh(piece, Mesh(piece.mesh.vertices[order], triangles)))
    before, after = rib.checks(), rib.prove(tuple(shuffled))
    for name, several in before.items():
        values = [check.value for check in after[name]]
        assert values == pytest.approx([check.value for check in several], rel=1e-9, abs=1e-9)


# Damaged surfaces.


def test_a_missing_triangle_is_three_open_edges(rib: BuiltJoint) -> None:
    lower, upper = rib.pieces()
    torn = with_mesh(lower, Mesh(lower.mesh.vertices, lower.mesh.triangles[1:]))
    checks = rib.prove((torn, upper))
    assert failures(checks) == {"closed"}
    assert checks["closed"][0].value == 3
    assert "overlap" not in checks, "sections of a torn mesh mean nothing"


def test_a_triangle_that_welding_collapses_is_a_fault(rib: BuiltJoint) -> None:
    """Two vertices closer than float32 can tell: a reader of the file gets one."""
    lower, upper = rib.pieces()
    first, second, _ = lower.mesh.triangles[0]
    vertices = np.vstack([lower.mesh.vertices, lower.mesh.vertices[first] * (1.0 + 1e-9)])
    sliver = [first, second, len(vertices) - 1]
    added = with_mesh(lower, Mesh(vertices, np.vstack([lower.mesh.triangles, [sliver]])))
    checks = rib.prove((added, upper))
    assert failures(checks) == {"closed"}
    assert checks["closed"][0].value == 1


def test_a_doubled_triangle_is_not_closed(rib: BuiltJoint) -> None:
    lower, upper = rib.pieces()
    triangles = np.vstack([lower.mesh.triangles, lower.mesh.triangles[:1]])
    doubled = with_mesh(lower, Mesh(lower.mesh.vertices, triangles))
    assert "closed" in failures(rib.prove((doubled, upper)))


def test_one_turned_triangle_is_not_closed(rib: BuiltJoint) -> None:
    lower, upper = rib.pieces()
    triangles = lower.mesh.triangles.copy()
    triangles[0] = triangles[0, ::-1]
    turned_over = with_mesh(lower, Mesh(lower.mesh.vertices, triangles))
    assert "closed" in failures(rib.prove((turned_over, upper)))


def test_inside_out_fails_outward(rib: BuiltJoint) -> None:
    lower, upper = rib.pieces()
    flipped = with_mesh(upper, Mesh(upper.mesh.vertices, upper.mesh.triangles[:, ::-1]))
    assert failures(rib.prove((lower, flipped))) == {"outward"}


def test_a_loose_crumb_is_a_second_body(rib: BuiltJoint) -> None:
    crumb = Manifold.cube((0.3, 0.3, 0.3)).translate((0.0, 0.0, 5.0))
    crumbed = replace(rib, lower=rib.lower + crumb)
    assert crumbed.checks()["bodies"][0].value == 2
    assert "bodies" in failures(crumbed.checks())


# Damaged poses.


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_too_large_fails_the_envelope(rib: BuiltJoint, axis: int) -> None:
    size = rib.pieces()[0].mesh.vertices.max(axis=0)
    envelope = list(rib.settings.envelope)
    envelope[axis] = float(size[axis]) - 0.01
    tight = replace(rib, settings=replace(rib.settings, envelope=tuple(envelope)))
    assert failures(tight.checks()) == {"envelope"}
    assert tight.checks()["envelope"][0].value == pytest.approx(0.01, abs=1e-9)


@pytest.mark.parametrize("shift", [(0, 0, 0.01), (0, 0, -0.01), (-0.01, 0, 0), (0, -0.01, 0)])
def test_off_the_bed_fails_on_bed(rib: BuiltJoint, shift: tuple[float, float, float]) -> None:
    lower, upper = rib.pieces()
    vertices = (lower.mesh.vertices + shift).astype(np.float32).astype(float)
    motion = lower.to_source.copy()
    motion[:3, 3] -= motion[:3, :3] @ np.array(shift)
    moved = replace(lower, mesh=Mesh(vertices, lower.mesh.triangles), to_source=motion)
    assert failures(rib.prove((moved, upper))) == {"on_bed"}


def test_a_motion_that_stretches_or_mirrors_is_not_rigid(rib: BuiltJoint) -> None:
    lower, upper = rib.pieces()
    for change in (np.diag([1.0, 1.0, 1.0 + 1e-6, 1.0]), np.diag([1.0, -1.0, 1.0, 1.0])):
        bent = replace(lower, to_source=lower.to_source @ change)
        assert "rigid" in failures(rib.prove((bent, upper)))


def test_a_leaning_piece_is_not_upright(rib: BuiltJoint) -> None:
    lower, upper = rib.pieces()
    lean = np.eye(4)
    lean[:3, :3] = [[1, 0, 0], [0, math.cos(0.001), -math.sin(0.001)],
                    [0, math.sin(0.001), math.cos(0.001)]]  # fmt: skip
    leaning = replace(lower, to_source=lower.to_source @ lean)
    checks = rib.prove((leaning, upper))
    assert "upright" in failures(checks)
    assert checks["upright"][0].value == pytest.approx(math.degrees(0.001), rel=1e-6)


# Damaged fits.


def test_a_fat_tenon_fails_least_clearance(rib: BuiltJoint) -> None:
    fat = replace(rib, lower=halves(rib.part)[0] + (rib.part ^ tenon_of(rib.tenon, fatter=0.05)))
    checks = fat.checks()
    assert {"least_clearance", "greatest_clearance"} <= failures(checks)
    assert the(checks, "least_clearance").value == pytest.approx(0.10, abs=0.005)
    assert the(checks, "overlap").ok


def test_a_thin_tenon_fails_greatest_clearance(rib: BuiltJoint) -> None:
    lower = halves(rib.part)[0] + (rib.part ^ tenon_of(rib.tenon, fatter=-0.05))
    checks = replace(rib, lower=lower).checks()
    assert "greatest_clearance" in failures(checks)
    assert the(checks, "greatest_clearance").value == pytest.approx(0.20, abs=0.005)


def test_a_tenon_that_widens_is_measured_where_it_is_widest(rib: BuiltJoint) -> None:
    """By 0.04 over its height, and not told by what it is in the middle."""
    tenon, top = rib.tenon, rib.tenon.tip_height_at(rib.tenon.tenon_radius) - 0.5
    radius = tenon.tenon_radius
    flared = turned([(0.0, SEAM - 1.0), (radius, SEAM - 1.0), (radius, SEAM),
                     (radius + 0.04, top), (0.0, top)])  # fmt: skip
    checks = replace(rib, lower=rib.lower + (rib.part ^ flared)).checks()
    assert "least_clearance" in failures(checks)
    due = tenon.socket_radius - (radius + 0.04) * math.cos(math.pi / SEGMENTS)
    assert the(checks, "least_clearance").value == pytest.approx(due, abs=1e-3)


def test_a_tenon_with_a_gap_in_it_fails_greatest_clearance(rib: BuiltJoint) -> None:
    """Where there is no tenon there is no clearance to measure: that may not pass."""
    slot = Manifold.cube((20.0, 1.0, 20.0)).translate((0.0, -0.5, SEAM + 1.0))
    assert "greatest_clearance" in failures(replace(rib, lower=rib.lower - slot).checks())


def test_a_missing_tenon_passes_nothing_by_its_absence(rib: BuiltJoint) -> None:
    checks = replace(rib, lower=halves(rib.part)[0]).checks()
    missing = {"least_clearance", "greatest_clearance", "key_clearance", "cone_clearance"}
    assert missing | {"tenon_wall", "one_seat_play"} <= failures(checks)


def test_a_socket_bored_through_has_no_roof_and_passes_nothing_by_it(rib: BuiltJoint) -> None:
    through = rib.upper - ring(0.0, rib.tenon.socket_radius, SEAM + 1.0, LENGTH + 1.0)
    checks = replace(rib, upper=through).checks()
    assert {"bore_groove", "volume_balance"} <= failures(checks)


def test_a_dent_only_one_slice_high_is_seen(rib: BuiltJoint) -> None:
    worn = rib.lower - ring(rib.tenon.tenon_radius - 0.1, 12.0, SEAM + 3.0, SEAM + 5.0)
    assert "greatest_clearance" in failures(replace(rib, lower=worn).checks())


def test_overlap_is_caught_at_the_tip_and_at_the_shoulder(rib: BuiltJoint) -> None:
    tenon = rib.tenon
    knob = rib.part ^ ring(tenon.tenon_radius - 1.0, tenon.tenon_radius, tenon.tip - 1.0, tenon.tip)
    collar = rib.part ^ ring(tenon.socket_radius + 1.0, 12.0, SEAM - 1.0, SEAM + 0.002)
    for wrong in (knob, collar):
        over = replace(rib, lower=rib.lower + wrong)
        volume = (over.lower ^ over.upper).volume()
        check = the(over.checks(), "overlap")
        assert not check.ok
        assert check.value == pytest.approx(volume, rel=0.02)


def test_shoulders_that_coincide_but_for_rounding_do_not_overlap(rib: BuiltJoint) -> None:
    lower, upper = rib.pieces()
    motion = upper.to_source.copy()
    motion[:3, 3] -= 1e-5 * posed_frame().rows[2]
    checks = rib.prove((lower, replace(upper, to_source=motion)))
    assert failures(checks) == set()


def test_a_fat_rib_fails_key_clearance(rib: BuiltJoint) -> None:
    thicker = with_keys(rib.tenon, relief=rib.tenon.relief + 0.1)
    lower = halves(rib.part)[0] + (rib.part ^ tenon_of(thicker))
    assert failures(replace(rib, lower=lower).checks()) == {"key_clearance"}


def test_a_long_tip_fails_cone_clearance(rib: BuiltJoint) -> None:
    longer = replace(rib.tenon, engagement=rib.tenon.engagement + 0.1)
    lower = halves(rib.part)[0] + (rib.part ^ tenon_of(longer))
    checks = replace(rib, lower=lower).checks()
    assert failures(checks) == {"cone_clearance"}
    assert the(checks, "cone_clearance").value == pytest.approx(0.1, abs=0.005)


# Damaged walls.


def test_a_reamed_tenon_fails_its_wall(rib: BuiltJoint) -> None:
    reamed = rib.lower - ring(0.0, rib.tenon.tenon_radius - 0.7, SEAM + 3.0, SEAM + 6.0)
    checks = replace(rib, lower=reamed).checks()
    assert "tenon_wall" in failures(checks)
    assert the(checks, "tenon_wall").value == pytest.approx(0.7, abs=0.001)


def test_a_deep_groove_fails_the_socket_wall(rib: BuiltJoint) -> None:
    deep = with_keys(rib.tenon, relief=1.1)
    checks = replace(rib, upper=halves(rib.part)[1] - socket_of(deep)).checks()
    assert "socket_wall" in failures(checks)
    apothem = math.cos(math.pi / SEGMENTS)
    left = rib.outside.radius_at(SEAM) * apothem - rib.tenon.socket_radius - 1.1
    assert the(checks, "socket_wall").value == pytest.approx(left, abs=1e-4)


def test_a_bubble_inside_a_wall_is_a_thin_wall(rib: BuiltJoint) -> None:
    """Thickness is of each stretch of material, not from first surface to last."""
    bubble = ring(8.4, 9.0, SEAM + 3.0, SEAM + 6.0)
    checks = replace(rib, lower=rib.lower - bubble).checks()
    assert {"bodies", "tenon_wall"} <= failures(checks)


@pytest.mark.parametrize("ray", [300, 307, 309])
def test_a_ray_along_a_flank_is_no_thin_wall(thin: BuiltJoint, ray: int) -> None:
    """A rib whose flank lies on a ray, but for float32: that ray runs in and out of it."""
    angle = float(ray_angles(RAYS)[ray]) - thin.tenon.keys[0].half_width
    turned_key = build_joint(10.2, key_angle=angle)
    assert failures(turned_key.checks()) == set()


# Damaged bores.


def test_a_pin_across_the_bore_is_told_to_its_middle(rib: BuiltJoint) -> None:
    checks = replace(rib, upper=rib.upper + pin(0.4, 57.0)).checks()
    assert "bore_free" in failures(checks)
    assert checks["bore_free"][1].value == pytest.approx(BORE_RADIUS, abs=0.05)
    assert checks["bore_free"][0].ok


def test_a_hair_of_a_bump_in_the_bore_is_found(rib: BuiltJoint) -> None:
    bump = Manifold.cube((0.5, 1.0, 0.5), center=True).translate((BORE_RADIUS + 0.24, 0.0, 5.0))
    checks = replace(rib, lower=rib.lower + bump).checks()
    assert failures(checks) == {"bore_free"}
    assert checks["bore_free"][0].value == pytest.approx(0.01, abs=1e-5)


def test_an_intrusion_beside_a_side_hole_is_not_excused_by_it(rib: BuiltJoint) -> None:
    checks = replace(rib, upper=rib.upper + pin(0.4, 52.0)).checks()
    assert "bore_free_at_features" in failures(checks)
    assert all(check.ok for check in checks["bore_free"])


def test_a_bore_left_as_found_may_keep_its_own_facets_only() -> None:
    """A bore said to be 0.05 wider than its mesh: as if every facet stood 0.05 into it."""
    built = build_joint(11.6, ())
    wider = RoundSurface(BORE_RADIUS + 0.05, 0.0, 0.0, LENGTH)
    claimed = replace(built, bore=wider)
    assert failures(claimed.checks()) == {"bore_free"}
    untrued = replace(claimed, settings=replace(built.settings, true="outside"))
    assert failures(untrued.checks()) == set()
    bump = Manifold.cube((0.5, 1.0, 0.5), center=True).translate((BORE_RADIUS + 0.15, 0.0, 5.0))
    assert "bore_free" in failures(replace(untrued, lower=untrued.lower + bump).checks())


# Damaged assemblies.


def test_an_open_seam_fails_length_and_shoulders(rib: BuiltJoint) -> None:
    lower, upper = rib.pieces()
    motion = upper.to_source.copy()
    motion[:3, 3] += 0.05 * posed_frame().rows[2]
    checks = rib.prove((lower, replace(upper, to_source=motion)))
    assert {"assembled_length", "shoulders_meet", "seam_at_station"} <= failures(checks)
    assert the(checks, "assembled_length").value == pytest.approx(0.05, abs=1e-4)
    assert the(checks, "shoulders_meet").value == pytest.approx(0.05, abs=1e-4)


def test_ends_left_as_found_keep_their_own_extent(rib: BuiltJoint) -> None:
    """A survey that reads the part 0.05 longer than its extent, as where an end is rough."""
    survey = replace(rib.survey(), length=LENGTH + 0.05)
    assert failures(rib.prove(rib.pieces(), survey=survey)) == {"assembled_length"}
    untrued = replace(rib, settings=replace(rib.settings, true="none"))
    assert failures(untrued.prove(rib.pieces(), survey=survey)) == set()


def test_what_reaches_past_a_flat_end_counts_in_the_length(rib: BuiltJoint) -> None:
    post = Manifold.cube((1.0, 1.0, 2.0)).translate((9.0, 0.0, LENGTH - 1.0))
    longer = replace(rib, part=rib.part + post, upper=rib.upper + post)
    told = replace(longer.survey(), beyond_ends=(0.0, 1.0))
    assert failures(longer.prove(longer.pieces(), survey=told)) == set()
    assert failures(longer.checks()) == {"assembled_length"}


def test_a_recessed_shoulder_does_not_meet(rib: BuiltJoint) -> None:
    recessed = rib.lower - ring(rib.tenon.tenon_radius, 13.0, SEAM - 0.01, SEAM + 0.2)
    checks = replace(rib, lower=recessed).checks()
    assert {"shoulders_meet", "seam_at_station"} <= failures(checks)


def test_a_seam_elsewhere_fails_its_station(rib: BuiltJoint) -> None:
    moved = replace(rib, tenon=replace(rib.tenon, station=SEAM + 0.01, engagement=9.99))
    assert "seam_at_station" in failures(moved.checks())
    assert the(moved.checks(), "shoulders_meet").ok


def test_a_bite_out_of_the_outside_breaks_the_balance(rib: BuiltJoint) -> None:
    bite = Manifold.cube((1.2, 1.2, 1.2), center=True).translate((11.6, 0.0, 8.0))
    bitten = rib.lower - bite
    checks = replace(rib, lower=bitten).checks()
    assert failures(checks) == {"volume_balance"}
    loss = bitten.volume() - rib.lower.volume()
    assert loss < -0.7
    assert the(checks, "volume_balance").value == pytest.approx(loss, abs=0.02)


# Damaged holes.


def test_a_plugged_hole_is_missed(rib: BuiltJoint) -> None:
    plug = ring(BORE_RADIUS + 0.5, 11.0, 45.0, 55.0)
    checks = replace(rib, upper=rib.upper + plug).checks()
    assert "ways_whole" in failures(checks)
    assert [(check.value, check.limit) for check in checks["ways_whole"]] == [(2, 2), (1, 2)]


def test_a_hole_that_the_seam_cuts_is_missed_in_both_pieces() -> None:
    cut = build_joint(11.6, (20.0, SEAM))
    checks = cut.checks()
    assert {"ways_whole", "hole_guard"} <= failures(checks)
    assert [check.ok for check in checks["ways_whole"]] == [False, False]
    assert the(checks, "hole_guard").value < 0.0


def test_a_hole_within_the_guard_fails_it() -> None:
    near = build_joint(11.6, (SEAM - HOLE_RADIUS - 1.9, 50.0))
    checks = near.checks()
    assert failures(checks) == {"hole_guard"}
    assert the(checks, "hole_guard").value == pytest.approx(1.9, abs=1e-4)


def test_a_hole_lost_in_truing_is_missed(rib: BuiltJoint) -> None:
    filled = rib.part + ring(BORE_RADIUS + 0.5, 11.0, 15.0, 25.0)
    checks = rib.prove(rib.pieces(), trued=filled)
    assert {"ways_through", "volume_balance"} <= failures(checks)
    assert (the(checks, "ways_through").value, the(checks, "ways_through").limit) == (2, 3)


def test_a_part_with_an_opening_of_its_own_is_no_fault() -> None:
    """A handle bored through a lug: the part's openings, not the survey's holes, are due."""
    built = build_joint(11.6, ())
    lug = Manifold.cube((6.0, 3.0, 6.0), center=True).translate((12.5, 0.0, 55.0))
    bored = Manifold.cylinder(9.0, 1.0, center=True, circular_segments=24)
    bored = bored.rotate((90.0, 0.0, 0.0)).translate((13.8, 0.0, 55.0))
    tube_alone = ring(0.0, 11.0, 50.0, 60.0)
    part, upper = (solid + (lug - tube_alone) - bored for solid in (built.part, built.upper))
    checks = replace(built, part=part, upper=upper).checks()
    assert failures(checks) == set()
    assert [check.limit for check in checks["ways_whole"]] == [1, 2]


# Damaged seats.


def test_without_a_key_nothing_stops_a_turn(rib: BuiltJoint) -> None:
    plain = with_keys(rib.tenon, relief=0.0)
    keyless = replace(
        rib,
        lower=halves(rib.part)[0] + (rib.part ^ tenon_of(plain)),
        upper=halves(rib.part)[1] - socket_of(plain),
    )
    checks = keyless.checks()
    assert failures(checks) == {"one_seat_play"}
    assert the(checks, "one_seat_play").value == math.inf


def test_two_equal_keys_have_two_seats(rib: BuiltJoint) -> None:
    first = rib.tenon.keys[0]
    one = replace(rib.tenon, keys=(first,), marks=())
    other = replace(one, keys=(replace(first, angle=first.angle - math.pi),))
    twofold = replace(
        rib,
        lower=halves(rib.part)[0] + (rib.part ^ (tenon_of(one) + tenon_of(other))),
        upper=halves(rib.part)[1] - (socket_of(one) + socket_of(other)),
    )
    assert (twofold.lower.rotate((0.0, 0.0, 180.0)) ^ twofold.upper).volume() < 1e-6
    checks = twofold.checks()
    assert "one_seat_free_turns" in failures(checks)
    assert the(checks, "one_seat_play").ok
    seat = 2.0 * math.degrees(first.side_gap)
    # Free turns are a fifth of a degree apart, and end where surfaces touch 0.05 deep.
    assert the(checks, "one_seat_free_turns").value == pytest.approx(seat / 0.2, abs=2)


def test_a_wide_groove_has_too_much_play(rib: BuiltJoint) -> None:
    wide = with_keys(rib.tenon, side_gap=math.radians(1.7))
    checks = replace(rib, upper=halves(rib.part)[1] - socket_of(wide)).checks()
    assert failures(checks) == {"one_seat_play"}
    assert the(checks, "one_seat_play").value == pytest.approx(1.7, abs=0.051)


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_groove_wide_on_one_side_has_too_much_play(rib: BuiltJoint, way: float) -> None:
    """Of both grooves: one alone would not let it turn on."""
    widening, gap = math.radians(0.5), rib.tenon.keys[0].side_gap
    shifted = tuple(
        replace(key, angle=key.angle + way * widening, side_gap=gap + widening)
        for key in rib.tenon.keys
    )
    upper = halves(rib.part)[1] - socket_of(replace(rib.tenon, keys=shifted))
    checks = replace(rib, upper=upper).checks()
    assert failures(checks) == {"one_seat_play"}
    due = math.degrees(gap + 2.0 * widening)
    assert the(checks, "one_seat_play").value == pytest.approx(due, abs=0.051)


# Damaged roofs.


def test_a_flat_roof_does_not_print(rib: BuiltJoint) -> None:
    tenon = rib.tenon
    bored = ring(0.0, tenon.socket_radius, tenon.tip - 2.0, tenon.tip + 0.2)
    checks = replace(rib, upper=rib.upper - bored).checks()
    assert "self_supporting" in failures(checks)
    assert the(checks, "self_supporting").value == pytest.approx(90.0, abs=1e-6)


@pytest.mark.parametrize("lean_deg", [45.4, 45.6])
def test_a_roof_may_lean_45_degrees_and_its_facets(rib: BuiltJoint, lean_deg: float) -> None:
    tenon, radius = rib.tenon, rib.tenon.socket_radius
    low, high = tenon.roof_height_at(radius), tenon.roof_height_at(radius)
    high += (radius - BORE_RADIUS + 1.0) / math.tan(math.radians(lean_deg))
    socket = turned(
        [(0.0, SEAM - 1.0), (radius, SEAM - 1.0), (radius, low), (BORE_RADIUS - 1.0, high),
         (0.0, high)]
    )  # fmt: skip
    check = the(replace(rib, upper=halves(rib.part)[1] - socket).checks(), "self_supporting")
    assert check.value == pytest.approx(lean_deg, abs=0.02)
    assert check.ok == (lean_deg < 45.5)


def test_a_roof_that_ends_in_a_rough_bore_may_lean_by_that(rib: BuiltJoint) -> None:
    """A bore left as found, 0.05 into the round that the survey tells: atan(1 + d / width)."""
    assert the(rib.checks(), "self_supporting").limit == 45.5
    rough = replace(
        rib,
        bore=RoundSurface(BORE_RADIUS + 0.05, 0.0, 0.0, LENGTH),
        settings=replace(rib.settings, true="none"),
    )
    depth, width = 0.05 + SAGITTA + 1e-3, rib.tenon.socket_radius - BORE_RADIUS - 0.05
    due = math.degrees(math.atan(1.0 + depth / width))
    assert the(rough.checks(), "self_supporting").limit == pytest.approx(due, abs=1e-6)


def test_a_lip_under_the_tenon_does_not_print(rib: BuiltJoint) -> None:
    """Our faces on the lower piece count too: here a step out of the tenon's wall."""
    lip = ring(rib.tenon.tenon_radius - 0.5, rib.tenon.tenon_radius + 0.1, SEAM + 4.0, SEAM + 5.0)
    assert "self_supporting" in failures(replace(rib, lower=rib.lower + lip).checks())


def test_a_fold_in_the_flat_of_the_tip_wants_no_support(rib: BuiltJoint) -> None:
    """A face of the tip's land divided about a point outside it, in its plane."""
    lower, upper = rib.pieces()
    vertices, triangles = lower.mesh.vertices, lower.mesh.triangles
    corners = vertices[triangles]
    flat = (corners[:, :, 2] == vertices[:, 2].max()).all(axis=1)
    face = np.flatnonzero(flat)[0]
    (a, b, c), middle = triangles[face], corners[face].mean(axis=0)
    beyond = (1.5 * (vertices[a] + vertices[b]) / 2.0 - 0.5 * middle).astype(np.float32)
    beyond[2] = vertices[:, 2].max()
    d = len(vertices)
    fan = np.array([[a, b, d], [b, c, d], [c, a, d]])
    folded = Mesh(np.vstack([vertices, beyond]), np.vstack([np.delete(triangles, face, 0), fan]))
    assert failures(rib.prove((with_mesh(lower, folded), upper))) == set()


def test_a_high_roof_leaves_too_long_a_groove(rib: BuiltJoint) -> None:
    higher = replace(rib.tenon, engagement=rib.tenon.engagement + 0.3)
    checks = replace(rib, upper=halves(rib.part)[1] - socket_of(higher)).checks()
    assert "bore_groove" in failures(checks)
    assert the(checks, "bore_groove").value == pytest.approx(1.3 + SAGITTA, abs=1e-3)


# The verdict.


def test_failed_proofs_are_told_with_value_and_limit() -> None:
    checks = (
        Check("closed", 0.0, 0.0, ok=True, piece="pipe-01"),
        Check("overlap", 15.25, 0.01, ok=False, joint=0),
        Check("least_clearance", 0.1, (0.12, 0.18), ok=False, joint=1),
        Check("envelope", 0.5, 0.002, ok=False, piece="pipe-02"),
    )
    with pytest.raises(ProofFailed) as caught:
        check_proofs(checks)
    assert "3 of 4 proofs" in caught.value.found
    assert "overlap of joint 0 is 15.25, limit 0.01" in caught.value.found
    assert "least_clearance of joint 1 is 0.1, limit 0.12 to 0.18" in caught.value.found
    assert "envelope of pipe-02 is 0.5, limit 0.002" in caught.value.found


def test_passed_proofs_are_accepted() -> None:
    check_proofs((Check("closed", 0.0, 0.0, ok=True, piece="pipe-01"),))


def test_a_part_in_one_piece_is_proven_too(rib: BuiltJoint) -> None:
    whole = as_piece("pipe-01", rib.part)
    roomy = replace(rib, settings=replace(rib.settings, envelope=(30.0, 30.0, 70.0)))
    checks = roomy.prove((whole,))
    assert failures(checks) == set()
    assert "overlap" not in checks
