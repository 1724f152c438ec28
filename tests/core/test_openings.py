"""Side holes and ornaments on bodies whose openings are known in closed form."""

from __future__ import annotations

import math
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh

from core.surveying.bore_openings import winding, windings
from core.values import BORE, HIGH_END, HOLE, LOW_END, OTHER, OUTSIDE, SideHole
from tests.drilled import (
    BAND,
    LENGTH,
    Labelled,
    Solid,
    bore,
    circle,
    column,
    cone,
    drill,
    finer,
    labelled,
    many_sided,
    oval,
    rectangle,
    rough,
    round_surface,
    slot,
)
from tests.families.dense import dense_tube

CLOSE = 0.002
"""mm: cutters of 96 sides are within 0.002 of their circle."""

INNER, OUTER = round_surface(14.0), round_surface(24.0)
TUBE = cone((12.0, 12.0)) - bore(14.0)
SHARED = Path(__file__).resolve().parents[3] / "shared" / "parts"


def tube(*tools: Solid) -> Labelled:
    """The plain tube less the tools."""
    return labelled(
        Solid.batch_boolean([TUBE, *tools], manifold3d.OpType.Subtract), [INNER], [OUTER]
    )


def only_hole(part: Labelled, band: float = BAND) -> SideHole:
    holes = part.openings(band).side_holes
    assert len(holes) == 1
    return holes[0]


def check_hole(
    hole: SideHole,
    expected: tuple[float, float, float, float],
    within: float = CLOSE,
) -> None:
    """Station, angle in degrees, axial and across widths."""
    station, angle_deg, axial, across = expected
    assert hole.station == pytest.approx(station, abs=within)
    turned = math.remainder(hole.angle - math.radians(angle_deg), 2.0 * math.pi)
    assert abs(turned) * 12.0 < within
    assert hole.axial_width == pytest.approx(axial, abs=2.0 * within)
    assert hole.across_width == pytest.approx(across, abs=2.0 * within)


# Shapes of holes in a round tube


@pytest.mark.parametrize(
    ("outline", "axial", "across"),
    [
        (circle(3.5), 7.0, 7.0),
        (circle(1.0), 2.0, 2.0),
        (circle(3.0, 24), 6.0, 6.0),
        (oval(4.5, 3.0), 9.0, 6.0),
        (oval(3.5, 3.42), 7.0, 6.84),
        (slot(6.0, 3.0), 12.0, 6.0),
        (slot(5.0, 2.5)[::-1, ::-1], 5.0, 10.0),
        (rectangle(5.0, 3.0), 10.0, 6.0),
        (rectangle(3.0, 3.0), 6.0, 6.0),
    ],
)
@pytest.mark.parametrize("angle_deg", [0.0, 77.0, 180.0])
def test_a_square_cut_has_the_cutters_widths(
    outline: np.ndarray, axial: float, across: float, angle_deg: float
) -> None:
    hole = only_hole(tube(drill(outline, 30.0, angle_deg, 12.0)))
    check_hole(hole, (30.0, angle_deg, axial, across))
    assert (hole.wall is not None) == (len(outline) in (24, 96))


@pytest.mark.parametrize("lean_deg", [-35.0, 20.0, 40.0])
def test_a_hole_leaning_along_the_axis_is_longer_by_the_cosine(lean_deg: float) -> None:
    """Its rim's extremes lie in the plane through its centre line and the axis."""
    hole = only_hole(tube(drill(circle(3.0), 30.0, 50.0, 12.0, along_deg=lean_deg)))
    lean = math.radians(lean_deg)
    check_hole(hole, (30.0, 50.0, 6.0 / math.cos(lean), 6.0))
    assert hole.wall is not None
    assert hole.wall.radius == pytest.approx(3.0, abs=CLOSE)
    assert hole.wall.point == pytest.approx(
        (12.0 * math.cos(hole.angle), 12.0 * math.sin(hole.angle), 30.0), abs=CLOSE
    )
    x, y = math.cos(lean) * np.array([math.cos(hole.angle), math.sin(hole.angle)])
    assert np.allclose(hole.wall.direction, (x, y, math.sin(lean)), atol=1e-3)
    ends = [30.0 - 5.0 * math.tan(lean) - 3.0 / math.cos(lean), 30.0 + 3.0 / math.cos(lean)]
    if lean_deg < 0.0:
        ends = [30.0 - 3.0 / math.cos(lean), 30.0 - 5.0 * math.tan(lean) + 3.0 / math.cos(lean)]
    assert (hole.low, hole.high) == pytest.approx(ends, abs=0.01)


def test_a_square_hole_through_a_taper_keeps_its_diameter() -> None:
    inner, outer = round_surface(14.0, far=10.0), round_surface(26.0, far=20.0)
    body = cone((13.0, 10.0)) - cone((7.0 + 2.0 / 60.0, 5.0 - 2.0 / 60.0), -1.0, LENGTH + 1.0)
    part = labelled(body - drill(circle(3.0), 25.0, 30.0, 11.75), [inner], [outer])
    check_hole(only_hole(part), (25.0, 30.0, 6.0, 6.0))


def test_a_conical_hole_has_the_width_at_the_outside() -> None:
    """Half across y where y = 4 + (12 - sqrt(144 - y^2)) / 6, its radius falling 1 in 6."""
    hole = only_hole(
        tube(drill(circle(6.0, 180), 30.0, 0.0, 12.0, depth=12, beyond=12, growth=1 / 3))
    )
    half = 4.0
    for _ in range(60):
        half = 4.0 + (12.0 - math.sqrt(144.0 - half * half)) / 6.0
    check_hole(hole, (30.0, 0.0, 8.0, 2.0 * half), 0.004)
    assert hole.wall is None


def test_a_countersink_counts_as_the_hole_at_the_outside() -> None:
    sink = drill(circle(2.0), 30.0, 90.0, 12.0, depth=1.0, beyond=3.0, growth=3.0)
    part = tube(drill(circle(2.5), 30.0, 90.0, 12.0) + sink)
    hole = only_hole(part)
    assert hole.station == pytest.approx(30.0, abs=CLOSE)
    assert hole.axial_width == pytest.approx(6.0, abs=0.02)
    assert hole.wall is not None
    assert hole.wall.radius == pytest.approx(2.5, abs=CLOSE)
    assert part.openings().ornaments == ()


def test_holes_come_by_station_then_angle_and_opposite_ones_are_two() -> None:
    through = drill(circle(2.0), 20.0, 0.0, 12.0, depth=30.0)
    part = tube(
        through, drill(circle(2.0), 40.0, -50.0, 12.0), drill(circle(1.5), 40.0, -120.0, 12.0)
    )
    holes = part.openings().side_holes
    places = [(round(h.station, 2), round(math.degrees(h.angle), 1)) for h in holes]
    assert places == [(20.0, 0.0), (20.0, 180.0), (40.0, -120.0), (40.0, -50.0)]


def test_walls_of_round_holes_are_marked_and_nothing_else_changes() -> None:
    part = tube(
        drill(circle(3.0), 15.0, 0.0, 12.0),
        drill(slot(5.0, 2.0), 30.0, 0.0, 12.0),
        drill(circle(2.0), 45.0, 0.0, 12.0, along_deg=15.0),
    )
    found = part.openings()
    marked = found.labels == HOLE
    assert (part.labels[marked] == OTHER).all()
    assert np.array_equal(found.labels[~marked], part.labels[~marked])
    assert sorted(set(found.numbers[marked].tolist())) == [0, 2]
    for number, hole in enumerate(found.side_holes):
        corners = part.vertices[part.triangles[marked & (found.numbers == number)]].reshape(-1, 3)
        if hole.wall is None:
            assert number == 1
            continue
        arms = corners - hole.wall.point
        beside = arms - np.outer(arms @ hole.wall.direction, hole.wall.direction)
        assert np.abs(np.linalg.norm(beside, axis=1) - hole.wall.radius).max() < CLOSE
    assert (found.labels[part.labels == OTHER] == OTHER).sum() > 0


def test_a_hole_through_a_block_is_the_holes_own_and_the_block_stays() -> None:
    block = Solid.cube((8.0, 14.0, 16.0)).translate((11.0, -7.0, 20.0))
    body = TUBE + (block - bore(14.0))
    hole_tool = drill(circle(3.0), 28.0, 0.0, 19.0, beyond=4.0)
    part = labelled(body - hole_tool, [INNER], [OUTER])
    found = part.openings()
    assert len(found.side_holes) == 1
    hole = found.side_holes[0]
    check_hole(hole, (28.0, 0.0, 6.0, 6.0))
    assert hole.wall is not None
    assert hole.wall.point[0] == pytest.approx(19.0, abs=CLOSE)
    (ornament,) = found.ornaments
    assert ornament.place == "outside"
    assert (ornament.start, ornament.stop) == pytest.approx((20.0, 36.0), abs=CLOSE)
    assert ornament.greatest_radius == pytest.approx(math.hypot(19.0, 7.0), abs=CLOSE)


# Other outsides, other bores


def test_a_hole_beside_an_eccentric_bore_is_where_it_meets_the_outside() -> None:
    outer = round_surface(26.0, (1.5, -0.5))
    body = cone((13.0, 13.0), offset=(1.5, -0.5)) - bore(14.0)
    tool = drill(circle(3.0), 25.0, 30.0, 13.0, offset=(1.5, -0.5))
    x, y = 1.5 + 13.0 * math.cos(math.pi / 6.0), -0.5 + 13.0 * 0.5
    hole = only_hole(labelled(body - tool, [INNER], [outer]))
    check_hole(hole, (25.0, math.degrees(math.atan2(y, x)), 6.0, 6.0))


@pytest.mark.parametrize("angle_deg", [0.0, 22.5, 100.0])
def test_holes_of_a_many_sided_tube(angle_deg: float) -> None:
    """On a flat, on a corner, and on a flat away from its middle."""
    off_flat = math.radians((angle_deg + 22.5) % 45.0 - 22.5)
    reach = 12.0 / math.cos(off_flat)
    tool = drill(circle(2.0), 30.0, angle_deg, reach)
    part = labelled(column(many_sided(8, 24.0)) - bore(14.0) - tool, [INNER])
    hole = only_hole(part)
    assert hole.station == pytest.approx(30.0, abs=CLOSE)
    assert (hole.axial_width, hole.across_width) == pytest.approx((4.0, 4.0), abs=0.01)
    assert math.degrees(hole.angle) == pytest.approx(angle_deg, abs=0.1)
    assert part.openings().ornaments == ()


def test_holes_of_an_oval_tube_and_a_leaning_one() -> None:
    lean = math.radians(20.0)
    tools = [
        drill(circle(3.0), 15.0, 0.0, 15.0),
        drill(circle(3.0), 30.0, 90.0, 11.5, along_deg=20.0),
        drill(slot(5.0, 2.5), 48.0, 180.0, 15.0),
    ]
    body = column(oval(15.0, 11.5, 360)) - bore(14.0)
    part = labelled(Solid.batch_boolean([body, *tools], manifold3d.OpType.Subtract), [INNER])
    first, second, third = part.openings().side_holes
    check_hole(first, (15.0, 0.0, 6.0, 6.0))
    check_hole(second, (30.0, 90.0, 6.0 / math.cos(lean), 6.0), 0.005)
    check_hole(third, (48.0, 180.0, 10.0, 5.0))
    assert second.wall is not None
    assert part.openings().ornaments == ()


BORES = (round_surface(9.0, (-7.0, 0.0)), round_surface(9.0, (7.0, 0.0)))
PAIR = column(slot(15.5, 8.5, 360)) - bore(9.0, (-7.0, 0.0)) - bore(9.0, (7.0, 0.0))


def test_a_hole_of_two_bores_opens_the_one_that_it_leads_into() -> None:
    tools = drill(circle(3.0), 15.0, 90.0, 8.5, offset=(7.0, 0.0))
    tools += drill(circle(2.5), 40.0, -90.0, 8.5, offset=(-7.0, 0.0))
    right, left = labelled(PAIR - tools, BORES).openings().side_holes
    assert (right.bore, left.bore) == (1, 0)
    assert (right.axial_width, right.across_width) == pytest.approx((6.0, 6.0), abs=0.005)
    assert (left.axial_width, left.across_width) == pytest.approx((5.0, 5.0), abs=0.005)
    assert math.degrees(right.angle) == pytest.approx(math.degrees(math.atan2(8.5, 7)), abs=0.3)
    assert math.degrees(left.angle) == pytest.approx(math.degrees(math.atan2(-8.5, -7)), abs=0.3)


def test_a_way_from_bore_to_bore_is_no_side_hole_but_keeps_seams_off() -> None:
    across = drill(circle(2.0), 30.0, 0.0, 0.0, depth=7.0, beyond=7.0)
    found = labelled(PAIR - across, BORES).openings()
    assert found.side_holes == ()
    assert [o.place for o in found.ornaments] == ["bore"]
    assert found.ornaments[0].start == pytest.approx(28.0, abs=CLOSE)
    assert found.ornaments[0].stop == pytest.approx(32.0, abs=CLOSE)


def test_a_hole_belongs_to_the_stretch_of_the_bore_that_it_opens() -> None:
    wide, narrow = round_surface(14.0, stop=30.0), round_surface(11.0, start=30.0)
    body = cone((12.0, 12.0)) - cone((7.0, 7.0), -1.0, 30.0) - cone((5.5, 5.5), 29.0, 61.0)
    tools = drill(circle(2.0), 15.0, 0.0, 12.0) + drill(circle(2.0), 45.0, 0.0, 12.0)
    found = labelled(body - tools, [wide, narrow], [OUTER]).openings()
    assert [hole.bore for hole in found.side_holes] == [0, 1]
    (step,) = found.ornaments
    assert step.place == "bore"
    assert (step.start, step.stop) == pytest.approx((30.0, 30.0), abs=CLOSE)
    assert (step.least_radius, step.greatest_radius) == pytest.approx((5.5, 7.0), abs=CLOSE)


def test_the_double_part_of_an_independent_kernel() -> None:
    """Its truth: holes of 6, 6.5 and 6.5 into the bore at +x, drilled from +y."""
    if not (SHARED / "double.stl").exists():
        pytest.skip("the shared parts do not lie beside this checkout")
    mesh = trimesh.load_mesh(SHARED / "double.stl")
    mesh.merge_vertices()
    bores = [round_surface(11.0, (side * 7.75, 0.0), stop=300.0) for side in (-1, 1)]
    arms = [mesh.vertices[:, :2] - surface.offset for surface in bores]
    labels, numbers = np.full(len(mesh.faces), OTHER), np.zeros(len(mesh.faces), np.int64)
    for number, arm in enumerate(arms):
        on_it = (np.abs(np.hypot(*arm.T) - 5.5) < 0.005)[mesh.faces].all(axis=1)
        on_it &= np.abs(mesh.face_normals[:, 2]) < 0.5
        labels[on_it], numbers[on_it] = BORE, number
    for label, station in ((2, 0.0), (3, 300.0)):
        labels[(np.abs(mesh.vertices[:, 2] - station) < 1e-3)[mesh.faces].all(axis=1)] = label
    part = Labelled(
        mesh.vertices.view(np.ndarray),
        mesh.faces.view(np.ndarray),
        labels,
        numbers,
        tuple(bores),
        (),
    )
    holes = part.openings().side_holes
    assert [round(hole.station, 2) for hole in holes] == [90.0, 118.0, 160.0]
    assert [hole.bore for hole in holes] == [1, 1, 1]
    widths = [(hole.axial_width, hole.across_width) for hole in holes]
    assert np.allclose(widths, [[6.0] * 2, [6.5] * 2, [6.5] * 2], atol=0.02)


# What is no side hole


def test_a_blind_pocket_in_the_bore_is_an_ornament_of_the_bore() -> None:
    pocket = drill(circle(3.0), 20.0, 90.0, 9.5, depth=9.5, beyond=0.0)
    found = tube(pocket).openings()
    assert found.side_holes == ()
    (ornament,) = found.ornaments
    assert ornament.place == "bore"
    assert (ornament.start, ornament.stop) == pytest.approx((17.0, 23.0), abs=CLOSE)
    assert ornament.greatest_radius == pytest.approx(math.hypot(9.5, 3.0), abs=CLOSE)


def test_a_slot_from_an_end_is_an_obstacle_of_its_true_extents() -> None:
    milled = drill(rectangle(30.0, 2.0), 70.0, 0.0, 12.0)
    found = tube(milled).openings()
    assert found.side_holes == ()
    (ornament,) = found.ornaments
    assert ornament.place == "bore"
    assert (ornament.start, ornament.stop) == pytest.approx((40.0, 60.0), abs=CLOSE)
    assert (ornament.least_radius, ornament.greatest_radius) == pytest.approx((7.0, 12.0), abs=0.02)


def test_a_mitred_end_is_an_obstacle_though_all_its_corners_lie_on_surfaces() -> None:
    """A plane that leans 60 degrees from the axis, through the outside at station 50."""
    wedge = drill(rectangle(40.0, 40.0), 50.0, 0.0, 12.0, along_deg=30.0, depth=0.0, beyond=60.0)
    found = tube(wedge.rotate((0.0, 0.0, 180.0))).openings()
    assert found.side_holes == ()
    assert len(found.ornaments) == 1
    assert found.ornaments[0].place == "bore"
    assert found.ornaments[0].start == pytest.approx(50.0, abs=CLOSE)


def test_grooves_of_the_bore_are_ornaments_of_the_bore() -> None:
    groove = cone((8.0, 8.0), 20.0, 23.0)
    (ornament,) = tube(groove).openings().ornaments
    assert ornament.place == "bore"
    assert (ornament.start, ornament.stop) == pytest.approx((20.0, 23.0), abs=CLOSE)
    assert ornament.greatest_radius == pytest.approx(8.0, abs=CLOSE)


@pytest.mark.parametrize("height", [0.03, 0.08, 0.15, 1.0])
def test_a_ring_is_an_ornament_however_low(height: float) -> None:
    """Also one lower than the band, on which a seam would show."""
    ring = cone((12.0 + height, 12.0 + height), 20.0, 26.0) - bore(14.0)
    part = labelled(TUBE + ring, [INNER], [OUTER])
    ornaments = part.openings().ornaments
    assert min(o.start for o in ornaments) == pytest.approx(20.0, abs=CLOSE)
    assert max(o.stop for o in ornaments) == pytest.approx(26.0, abs=CLOSE)
    assert {o.place for o in ornaments} == {"outside"}


def test_a_plain_tube_has_nothing_on_it() -> None:
    found = tube().openings()
    assert found.side_holes == ()
    assert found.ornaments == ()


# Noise


@pytest.mark.parametrize("seed", range(3))
def test_noise_of_a_scan_hardly_moves_what_is_read(seed: int) -> None:
    """0.02 mm on every vertex along each axis; least squares over the whole wall."""
    lean = math.radians(20.0)
    tools = [
        drill(circle(3.5), 12.0, 0.0, 12.0),
        drill(circle(3.0), 30.0, 90.0, 12.0, along_deg=20.0),
        drill(slot(5.0, 2.5), 48.0, 200.0, 12.0),
    ]
    found = rough(finer(tube(*tools), 0.4), 0.02, seed).openings()
    first, second, third = found.side_holes
    check_noisy(first, 12.0, 7.0, 7.0)
    check_noisy(second, 30.0, 6.0 / math.cos(lean), 6.0)
    check_noisy(third, 48.0, 10.0, 5.0)
    assert found.ornaments == ()


def check_noisy(hole: SideHole, station: float, axial: float, across: float) -> None:
    assert hole.station == pytest.approx(station, abs=0.02)
    assert (hole.axial_width, hole.across_width) == pytest.approx((axial, across), abs=0.02)


def test_noise_on_an_outside_that_is_not_round() -> None:
    tools = drill(circle(3.0), 15.0, 0.0, 12.0) + drill(slot(5.0, 2.5), 40.0, 90.0, 12.0)
    part = labelled(column(many_sided(8, 24.0)) - bore(14.0) - tools, [INNER])
    found = rough(finer(part, 0.7), 0.02, 5).openings()
    first, second = found.side_holes
    check_noisy(first, 15.0, 6.0, 6.0)
    check_noisy(second, 40.0, 10.0, 5.0)
    assert found.ornaments == ()


@pytest.mark.parametrize("seed", range(2))
def test_specks_that_noise_leaves_are_neither_ornaments_nor_part_of_a_hole(seed: int) -> None:
    """One vertex in fifty lies beyond a band of 2.3 sigma: all triangles about it are OTHER."""
    part = dense_tube(200_000)
    rng = np.random.default_rng(seed)
    vertices = part.vertices + rng.normal(0.0, 0.02, part.vertices.shape)
    kinds = np.array([OUTSIDE, BORE, LOW_END, HIGH_END])
    labels = np.where(part.owner < 4, kinds[np.minimum(part.owner, 3)], OTHER)
    radii = np.hypot(vertices[:, 0], vertices[:, 1])
    stray = np.minimum(np.abs(radii - 7.1), np.abs(radii - 10.7)) > 0.046
    specks = stray[part.triangles].any(axis=1) & np.isin(labels, (OUTSIDE, BORE))
    assert specks.sum() > 5000
    ends = {"stop": 352.0, "rms": 0.02}
    specked = Labelled(
        vertices,
        part.triangles,
        np.where(specks, OTHER, labels),
        np.zeros(len(labels), np.int64),
        (round_surface(14.2, **ends),),
        (round_surface(21.4, **ends),),
    )
    found = specked.openings(0.046)
    assert found.ornaments == ()
    for hole, truth in zip(found.side_holes, part.truth.openings, strict=True):
        check_noisy(hole, truth.station, truth.axial, truth.across)


# Invariance


def test_neither_order_nor_turn_changes_what_is_read() -> None:
    part = tube(
        drill(circle(3.0), 15.0, 20.0, 12.0, along_deg=12.0),
        drill(slot(5.0, 2.0), 40.0, -60.0, 12.0),
    )
    rng = np.random.default_rng(4)
    turn = 1.234
    cosine, sine = math.cos(turn), math.sin(turn)
    turned = part.vertices @ np.array([[cosine, sine, 0.0], [-sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    order, rows = rng.permutation(len(turned)), rng.permutation(len(part.triangles))
    place = np.argsort(order)
    first = rng.integers(0, 3, (len(rows), 1))
    faces = np.take_along_axis(place[part.triangles[rows]], (first + np.arange(3)) % 3, axis=1)
    mixed = Labelled(
        turned[order], faces, part.labels[rows], part.numbers[rows], part.bores, part.outsides
    )
    before, after = part.openings(), mixed.openings()
    assert np.array_equal(before.labels[rows], after.labels)
    for one, other in zip(before.side_holes, after.side_holes, strict=True):
        assert other.station == pytest.approx(one.station, abs=1e-6)
        off = math.remainder(other.angle - one.angle - turn, 2.0 * math.pi)
        assert off == pytest.approx(0.0, abs=1e-6)
        assert other.axial_width == pytest.approx(one.axial_width, abs=1e-5)
        assert other.across_width == pytest.approx(one.across_width, abs=1e-5)


def test_each_of_several_chains_runs_as_often_around_as_it_was_drawn_to() -> None:
    drawn = [1, 1, -1, 2, 0, -3]
    counts = [7, 3, 24, 16, 5, 40]
    chains = []
    for turns, count in zip(drawn, counts, strict=True):
        angles = -2.5 * len(chains) + 2.0 * math.pi * np.arange(count) / count * (turns or 1)
        chains.append(np.stack([np.cos(angles), np.sin(angles)], 1) + (0.0 if turns else 3.0))
    assert windings(np.concatenate(chains), counts).tolist() == drawn
    assert [winding(chain) for chain in chains] == drawn
