"""Parts of kinds that strangers send, each of known shape: right pieces, or a true word."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
from borewright.core.errors import BadMesh, CoreError, NotTubular
from borewright.core.values import Mesh, Outcome, Settings
from manifold3d import CrossSection, JoinType, Manifold

from tests.bored import as_solid, in_place
from tests.jobs import split_surveyed
from tests.loose_parts import mesh_of


def column(diameter: float, low: float, high: float, x: float = 0.0, sides: int = 96) -> Manifold:
    """A cylinder along z."""
    return Manifold.cylinder(high - low, diameter / 2.0, -1.0, sides).translate((x, 0.0, low))


def split(part: Manifold | Mesh, height: float = 180.0) -> Outcome:
    mesh = mesh_of(part) if isinstance(part, Manifold) else part
    (outcome,) = split_surveyed(mesh, "part", Settings(envelope=(180.0, 180.0, height)))
    return outcome


def test_a_tenon_around_bores_of_two_sizes_is_no_higher_than_its_engagement() -> None:
    """A channel for a wire beside the bore, from 160 mm up: the seam lies at the last station.

    The ridge between the bores lies where the bore's facets are, inside the true round.
    """
    part = column(36.0, 0.0, 330.0) - column(14.0, -1.0, 331.0) - column(2.5, 160.0, 331.0, 12.0)
    outcome = split(part)
    (joint,) = outcome.plan.joints
    top = outcome.pieces[0].mesh.vertices[:, 2].max()
    assert joint.station + joint.engagement == 180.0
    assert 180.0 - 0.0025 <= top <= 180.0 + 1e-4


def helix(radius: float, depth: float, pitch: float, low: float, high: float) -> Manifold:
    """A thread's cutter: a triangle of a depth run around a cylinder, sunk 0.4 into it."""
    turns = np.linspace(0.0, (high - low) / pitch, int(48 * (high - low) / pitch) + 1)
    profile = [(-0.4, -0.4), (depth, -0.03), (depth, 0.03), (-0.4, 0.4)]
    corners = np.array(
        [
            (
                (radius + out) * math.cos(2.0 * math.pi * turn),
                (radius + out) * math.sin(2.0 * math.pi * turn),
                low + pitch * (turn + up),
            )
            for turn in turns
            for out, up in profile
        ]
    )
    last = 4 * (len(turns) - 1)
    sides = [
        (4 * k + a, 4 * k + b, 4 * k + c)
        for k in range(len(turns) - 1)
        for j in range(4)
        for a, b, c in ((j, 4 + j, 4 + (j + 1) % 4), (j, 4 + (j + 1) % 4, (j + 1) % 4))
    ]
    ends = [(0, 1, 2), (0, 2, 3), (last, last + 2, last + 1), (last, last + 3, last + 2)]
    faces = np.array(sides + ends, np.uint64)
    solid = Manifold(manifold3d.Mesh64(corners, faces))
    assert solid.volume() > 0.0
    return solid


def bores_of(outcome: Outcome) -> list[tuple[float, float, float]]:
    """Diameter, first and last station of each bore."""
    return [(2.0 * b.radius_at_zero, b.start, b.stop) for b in outcome.survey.bores]


def test_a_thread_in_the_end_of_a_bore_is_an_ornament_of_a_straight_bore() -> None:
    """The hollow's middle circles about the axis there: that is no bend."""
    tube = column(26.0, 0.0, 320.0) - column(16.0, -1.0, 321.0)
    outcome = split(tube - helix(8.0, 1.2, 3.0, 290.0, 325.0))
    ((diameter, start, stop),) = bores_of(outcome)
    assert (diameter, start, stop) == pytest.approx((16.0, 0.0, 320.0), abs=0.02)
    (thread,) = (o for o in outcome.survey.ornaments if o.place == "bore")
    assert 288.5 < thread.start < 290.0
    assert thread.greatest_radius == pytest.approx(9.2, abs=0.01)


def test_a_branch_that_leans_from_a_straight_bore_does_not_bend_it() -> None:
    """A Y: along 100 of 330 mm the sections hold the branch's hollow too."""

    def branch(diameter: float, length: float) -> Manifold:
        return column(diameter, 0.0, length).rotate((0.0, 40.0, 0.0)).translate((0.0, 0.0, 150.0))

    part = column(24.0, 0.0, 330.0) + branch(24.0, 120.0)
    outcome = split(part - column(16.0, -1.0, 331.0) - branch(16.0, 130.0))
    ((diameter, start, stop),) = bores_of(outcome)
    assert (diameter, start, stop) == pytest.approx((16.0, 0.0, 330.0), abs=0.02)
    low, high = 150.0 - 12.0 / math.sin(math.radians(40.0)), 150.0
    for joint in outcome.plan.joints:
        assert not low < joint.station < high + 8.0 / math.sin(math.radians(40.0))


def rounded_tube() -> Manifold:
    """Edges of both ends rounded by 2 mm: 1 mm of the wall's 5 is flat."""
    wall = CrossSection.square((5.0, 330.0)).translate((7.0, 0.0))
    rounded = [-2.0, 2.0]
    for reach in rounded:
        wall = wall.offset(reach, JoinType.Round, circular_segments=64)
    return wall.revolve(96)


def elbow() -> Manifold:
    """A pipe that turns off square at its high end: what is highest is round and lies down."""

    def bent(diameter: float, beyond: float) -> Manifold:
        upright = column(diameter, -beyond, 250.0)
        lying = column(diameter, 0.0, 150.0 + beyond).rotate((0.0, 90.0, 0.0))
        ball = Manifold.sphere(diameter / 2.0, 64)
        return upright + (lying + ball).translate((0.0, 0.0, 250.0))

    return bent(24.0, 0.0) - bent(16.0, 1.0)


@pytest.mark.parametrize(("part", "length"), [(rounded_tube(), 330.0), (elbow(), 262.0)])
def test_what_is_round_at_an_end_is_not_made_flat(part: Manifold, length: float) -> None:
    """What lies within 0.01 mm of a flat end counts as of it: 83 mm2 of the rounded tube's."""
    outcome = split(part)
    assert outcome.survey.length == pytest.approx(length, abs=1e-4)
    top = as_solid(in_place(outcome.pieces[-1])).split_by_plane((0.0, 0.0, 1.0), length - 0.15)[0]
    due = part.split_by_plane((0.0, 0.0, 1.0), length - 0.15)[0]
    assert (top - due).volume() + (due - top).volume() < 0.01 * 83.0  # they were 2.9 and 12.2


def fine_tube() -> Mesh:
    """24 outside, 14 inside, its triangles some 3 mm wide."""
    return mesh_of((column(24.0, 0.0, 330.0) - column(14.0, -1.0, 331.0)).refine_to_length(3.0))


def pulled(mesh: Mesh, *, side: float, share: float) -> Mesh:
    """One corner of the wall at a radius, near 120 mm up, moved to a share of that radius."""
    vertices = mesh.vertices.copy()
    radii = np.hypot(vertices[:, 0], vertices[:, 1])
    chosen = np.flatnonzero((np.abs(radii - side) < 0.02) & (np.abs(vertices[:, 2] - 120.0) < 2.0))
    vertices[chosen[0], :2] *= share
    return Mesh(vertices, mesh.triangles)


@pytest.mark.parametrize(
    ("side", "share", "radius"),
    [(12.0, 0.5, 6.0), (12.0, 0.0, 0.0), (12.0, -0.3, 3.6), (7.0, 2.0, 14.0), (7.0, -2.0, 14.0)],
)
def test_a_spike_through_the_wall_is_told_with_its_place(
    side: float, share: float, radius: float
) -> None:
    with pytest.raises(BadMesh, match="passes through itself: 1 corner") as refusal:
        split(pulled(fine_tube(), side=side, share=share))
    ((x, y, z),) = refusal.value.places
    assert math.hypot(x, y) == pytest.approx(radius, abs=0.01)
    assert abs(z - 120.0) < 2.0


@pytest.mark.parametrize(("depth", "reach"), [(4.0, 10.0), (2.0, 15.0), (1.0, 20.0)])
def test_a_dent_of_the_whole_wall_is_no_spike_and_leaves_the_rest_its_wall(
    depth: float, reach: float
) -> None:
    """Both sides of the wall go in, one before the other, and blend into what is round."""
    mesh = fine_tube()
    vertices = mesh.vertices.copy()
    radii = np.hypot(vertices[:, 0], vertices[:, 1])
    around = 12.0 * np.arctan2(vertices[:, 1], vertices[:, 0])
    off = np.hypot(around, vertices[:, 2] - 100.0) / reach
    vertices[:, :2] *= (1.0 - depth * (1.0 - off.clip(0.0, 1.0) ** 2) / radii)[:, None]
    assert len(split(Mesh(vertices, mesh.triangles)).pieces) == 2


@pytest.mark.parametrize("tilt", [0.0, 90.0])
def test_what_comes_into_a_bore_by_a_way_that_is_open_is_no_spike(tilt: float) -> None:
    """A pin down the bore from a bridge over its end; one through a hole from a bow outside."""
    tube = column(30.0, 0.0, 330.0) - column(18.0, -1.0, 331.0)
    bow = Manifold.cube((40.0, 4.0, 4.0)).translate((-20.0, -2.0, 0.0))
    if tilt:
        hole = column(10.0, 0.0, 30.0).rotate((0.0, 90.0, 0.0)).translate((0.0, 0.0, 100.0))
        legs = bow.translate((0.0, 0.0, 18.0)) + Manifold.cube((4.0, 4.0, 22.0)).translate(
            (-20.0, -2.0, -1.0)
        )
        pin = column(3.0, -1.0, 20.0, sides=24)
        whole = legs + Manifold.cube((4.0, 4.0, 20.0)).translate((16.0, -2.0, 0.0))
        part = tube - hole + (whole + pin).rotate((0.0, 90.0, 0.0)).translate((0.0, 0.0, 100.0))
    else:
        pin = column(3.0, 300.0, 332.0, sides=24)
        part = tube + (bow.translate((0.0, 0.0, 330.0)) ^ column(30.0, 329.0, 335.0)) + pin
    assert len(part.decompose()) == 1
    assert len(split(part).pieces) == 2


def test_a_joint_keeps_off_the_gap_of_a_double_wall() -> None:
    """A sealed hollow all around the bore, from 60 to 260: 3 mm of wall within, 3 without."""
    hollow = column(28.0, 60.0, 260.0) - column(18.0, 55.0, 265.0)
    outcome = split(column(34.0, 0.0, 330.0) - column(12.0, -1.0, 331.0) - hollow, 221.2)
    ((diameter, _, _),) = bores_of(outcome)
    assert diameter == pytest.approx(12.0, abs=0.02)
    assert outcome.survey.wall_least == pytest.approx(3.0, abs=0.01)
    for joint in outcome.plan.joints:
        assert joint.station > 260.0 or joint.station + joint.engagement < 60.0


def test_walls_double_all_along_are_told_as_such() -> None:
    hollow = column(28.0, 1.0, 329.0) - column(18.0, 0.0, 330.0)
    with pytest.raises(NotTubular, match=r"a hollow all around the bore from .* double walls"):
        split(column(34.0, 0.0, 330.0) - column(12.0, -1.0, 331.0) - hollow)


def test_the_least_wall_of_a_bottle_is_its_own() -> None:
    """3 mm all along; the outside's narrowest is not where the bore beside it is widest."""
    outer = [(0, 0), (30, 0), (30, 150), (28, 170), (15, 200), (13, 215), (13, 300), (0, 300)]
    inner = [(0, 3), (27, 3), (27, 150), (25, 168), (12, 198), (10, 213), (10, 301), (0, 301)]
    whole, hollow = (CrossSection([np.array(c, float)]).revolve(96) for c in (outer, inner))
    assert split(whole - hollow).survey.wall_least == pytest.approx(3.0, abs=0.02)


@pytest.mark.parametrize(("sides", "at_low_end"), [(4, False), (6, False), (6, True), (8, True)])
def test_a_socket_for_a_nut_in_the_end_of_a_bore_keeps_its_flat_sides(
    sides: int, *, at_low_end: bool
) -> None:
    """Its corners lie on a circle of 16 mm: made round, it would hold no nut."""
    low, high = (-1.0, 18.0) if at_low_end else (312.0, 331.0)
    part = column(26.0, 0.0, 330.0) - column(10.0, -1.0, 331.0)
    part -= column(16.0, low, high, sides=sides)
    outcome = split(part)
    assert [diameter for diameter, _, _ in bores_of(outcome)] == [pytest.approx(10.0, abs=0.02)]
    piece = as_solid(in_place(outcome.pieces[0 if at_low_end else -1]))
    nut = column(15.9, 1.0, 17.0, sides=sides).translate((0.0, 0.0, 0.0 if at_low_end else 312.0))
    hole = column(16.0, 1.0, 17.0).translate((0.0, 0.0, 0.0 if at_low_end else 312.0))
    segment = math.pi * 64.0 - 32.0 * sides * math.sin(2.0 * math.pi / sides)
    assert (piece ^ nut).volume() < 1e-6
    assert (piece ^ hole).volume() == pytest.approx(16.0 * segment, rel=0.02)


@pytest.mark.parametrize("flat", [False, True])
def test_stations_at_an_end_are_told_without_the_rounding_of_a_file(*, flat: bool) -> None:
    """A keyway in the bore, all along; a bore with a flat, as for a shaft."""
    part = column(28.0, 0.0, 330.0) - column(14.0, -1.0, 331.0)
    part -= Manifold.cube((4.0, 3.0, 400.0)).translate((-2.0, 6.0, -10.0))
    if flat:
        bar = Manifold.cube((20.0, 20.0, 400.0)).translate((4.0, -10.0, -10.0))
        part = column(30.0, 0.0, 330.0) - (column(12.0, -1.0, 331.0) - bar)
    mesh = mesh_of(part)
    stored = Mesh(np.float64(np.float32(mesh.vertices - [0.0, 0.0, 1e-9])), mesh.triangles)
    with pytest.raises(CoreError) as refusal:
        split(stored)
    assert "recesses of the bore from 0.00 to 330.00 mm" in str(refusal.value)
