"""Trued parts against the closed form of their true surfaces, both ways.

The surveys are labelled by closed form as well, so that nothing here hangs on the survey.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
import trimesh
from borewright.core.errors import BadSetting, TruingRefused
from borewright.core.meshes.mesh_checks import check_closed
from borewright.core.truing.strips import Outline, strip_faces
from borewright.core.truing.true_up import as_trued, true_up
from borewright.core.values import (
    BORE,
    CHORD_TOLERANCE,
    HOLE,
    OTHER,
    OUTSIDE,
    HoleWall,
    Mesh,
    RoundSurface,
    Settings,
    Survey,
    TruedPart,
)

from tests.families.chains import Facets
from tests.families.dense import dense_tube
from tests.families.odd_outside import two_bores
from tests.families.round_outside import (
    bell,
    closed_end,
    eccentric,
    milled,
    odd_holes,
    stepped,
    turned,
)
from tests.families.truth import Part, noisy
from tests.true_surveys import drilled, off_round, off_wall, true_survey

PROMISED = 0.01
"""mm: what is asked of the trued part, both ways; facets keep half of it."""

LEANING = drilled(12.0, 130.0, 45.0, 6.0, lean_deg=25.0)


def walls_of(part: Part) -> list[HoleWall]:
    radius = part.truth.outsides[0].diameters[0] / 2.0
    return [drilled(radius, o.station, o.angle_deg, o.axial) for o in part.truth.openings]


def with_holes(triangles: int) -> tuple[Part, list[HoleWall]]:
    part = dense_tube(triangles)
    return part, walls_of(part)


MAKERS = {
    "six holes": lambda: with_holes(20_000),
    "a leaning hole": lambda: (odd_holes(), [LEANING]),
    "steps": lambda: (stepped(), []),
    "bends": lambda: (bell(), []),
    "closed end": lambda: (closed_end(), []),
    "eccentric": lambda: (eccentric(), []),
    "two bores": lambda: (two_bores(), []),
}


@dataclass(frozen=True, slots=True)
class Trued:
    """A part, the survey by closed form, and what truing made of it."""

    part: Part
    walls: list[HoleWall]
    survey: Survey
    result: TruedPart


@cache
def trued(name: str) -> Trued:
    part, walls = MAKERS[name]()
    survey = true_survey(part, walls)
    return Trued(part, walls, survey, true_up(survey, settings()))


def settings(**changes: object) -> Settings:
    return Settings((200.0, 200.0, 200.0), **changes)  # type: ignore[arg-type]


def sampled(result: TruedPart, label: int, number: int) -> np.ndarray:
    """A close sampling of the facets of one surface."""
    chosen = (result.labels == label) & (result.numbers == number)
    assert chosen.any()
    corners = result.mesh.vertices[result.mesh.triangles[chosen]]
    shares = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [1, 1, 0], [0, 1, 1], [1, 0, 1], [1, 1, 1]])
    shares = shares / shares.sum(axis=1, keepdims=True)
    return np.einsum("sk,tkd->std", shares, corners).reshape(-1, 3)


def vertices_on(result: TruedPart, label: int, number: int = 0) -> np.ndarray:
    chosen = (result.labels == label) & (result.numbers == number)
    return np.unique(result.mesh.triangles[chosen])


def distance(mesh: Mesh, points: np.ndarray, reach: float = 0.3) -> np.ndarray:
    """(n,) mm from each point to the nearest triangle; `reach` where none is so near."""
    corners = mesh.vertices[mesh.triangles]
    low, high = corners.min(axis=1) - reach, corners.max(axis=1) + reach
    found = np.full(len(points), reach)
    for k, point in enumerate(points):
        near = corners[((low <= point) & (point <= high)).all(axis=1)]
        if len(near):
            closest = trimesh.triangles.closest_point(near, np.tile(point, (len(near), 1)))
            found[k] = min(reach, np.linalg.norm(closest - point, axis=1).min())
    return found


def drilled_away(walls: list[HoleWall], points: np.ndarray) -> np.ndarray:
    """Points of a round surface that a hole takes away (or that lie across from one)."""
    away = np.zeros(len(points), bool)
    for wall in walls:
        ahead = (points - np.array([0.0, 0.0, wall.point[2]])) @ np.array(wall.direction)
        away |= (off_wall(wall, points) < 0.0) & (ahead > 0.0)
    return away


def true_points(surface: RoundSurface, count: int, rng: np.random.Generator) -> np.ndarray:
    angles = rng.uniform(-np.pi, np.pi, count)
    stations = rng.uniform(surface.start, surface.stop, count)
    radii = surface.radii_at(stations)
    x, y = surface.offset
    return np.column_stack([x + radii * np.cos(angles), y + radii * np.sin(angles), stations])


@pytest.mark.parametrize("name", MAKERS)
def test_facets_lie_within_the_chord_of_the_true_surfaces(name: str) -> None:
    case = trued(name)
    for label, surfaces in ((BORE, case.survey.bores), (OUTSIDE, case.survey.outsides)):
        for number, surface in enumerate(surfaces):
            off = off_round(surface, sampled(case.result, label, number))
            assert off.max() < 1e-9
            assert off.min() > -CHORD_TOLERANCE * 1.001
    for number, wall in enumerate(case.walls):
        off = off_wall(wall, sampled(case.result, HOLE, number))
        assert off.max() < CHORD_TOLERANCE
        assert off.min() > -CHORD_TOLERANCE * 1.001


@pytest.mark.parametrize("name", MAKERS)
def test_true_surfaces_lie_within_the_chord_of_the_facets(name: str) -> None:
    case = trued(name)
    rng = np.random.default_rng(4)
    for surface in (*case.survey.bores, *case.survey.outsides):
        points = true_points(surface, 600, rng)
        if name == "a leaning hole":  # its other holes are no round ones: keep off them all
            points = points[(points[:, 2] > 118.0) & (points[:, 2] < 150.0)]
        points = points[~drilled_away(case.walls, points)]
        assert len(points) > 50
        assert distance(case.result.mesh, points).max() < 1.5 * CHORD_TOLERANCE


@pytest.mark.parametrize("name", MAKERS)
def test_the_result_is_closed_and_has_every_opening(name: str) -> None:
    case = trued(name)
    check_closed(case.result.mesh)
    before, after = (
        trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
        for mesh in (case.survey.mesh, case.result.mesh)
    )
    assert after.is_watertight
    assert after.is_winding_consistent
    assert after.euler_number == before.euler_number


def frustum(low: float, high: float, length: float) -> float:
    return math.pi * length * (low * low + low * high + high * high) / 12.0


def drilled_volume(outside: float, bore: float, radius: float) -> float:
    """What a radial hole takes from a tube's wall: the wall's depth over the hole's disc.

    The depth at (u, v) off the centre line is sqrt(R^2 - u^2) - sqrt(r^2 - u^2); over v
    it spans 2 sqrt(a^2 - u^2). With u = a sin t the integrand is smooth and periodic.
    """
    t = (np.arange(2000) + 0.5) / 2000 * np.pi - np.pi / 2.0
    u = radius * np.sin(t)
    depth = np.sqrt(outside**2 - u**2) - np.sqrt(bore**2 - u**2)
    return float((2.0 * radius**2 * np.cos(t) ** 2 * depth).sum() * np.pi / 2000)


@pytest.mark.parametrize("name", ["six holes", "steps", "bends", "closed end", "eccentric"])
def test_the_volume_is_the_closed_form_but_for_chords(name: str) -> None:
    """A facet's prism lacks two thirds of its sagitta over its area, at the most."""
    case = trued(name)
    truth = case.part.truth
    volume, area = 0.0, 0.0
    for sign, stretches in ((1.0, truth.outsides), (-1.0, truth.bores)):
        for s in stretches:
            volume += sign * frustum(*s.diameters, s.stop - s.start)
            area += math.pi * max(s.diameters) * (s.stop - s.start)
    for wall in case.walls:
        volume -= drilled_volume(10.7, 7.1, wall.radius)
        area += 2.0 * math.pi * wall.radius * 5.0
    mesh = case.result.mesh
    found = trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False).volume
    assert found == pytest.approx(volume, abs=2.0 / 3.0 * CHORD_TOLERANCE * area)


def true_rim(wall: HoleWall, radius: float, turn: np.ndarray) -> np.ndarray:
    """Where a radial hole's cylinder meets a cylinder about the axis, by Pythagoras."""
    out = np.array(wall.direction)
    left = np.array([-out[1], out[0], 0.0])
    across = wall.radius * np.cos(turn)
    depth = np.sqrt(radius**2 - across**2)
    height = wall.point[2] + wall.radius * np.sin(turn)
    points: np.ndarray = depth[:, None] * out + across[:, None] * left
    points[:, 2] = height
    return points


@pytest.mark.parametrize(("label", "radius"), [(OUTSIDE, 10.7), (BORE, 7.1)])
def test_rims_of_holes_are_where_the_cylinders_meet(label: int, radius: float) -> None:
    case = trued("six holes")
    result = case.result
    for number, wall in enumerate(case.walls):
        rim = np.intersect1d(vertices_on(result, label), vertices_on(result, HOLE, number))
        points = result.mesh.vertices[rim]
        left = np.array([-wall.direction[1], wall.direction[0], 0.0])
        turn = np.arctan2(points[:, 2] - wall.point[2], points @ left)
        order = np.argsort(turn)
        points, turn = points[order], turn[order]
        assert np.abs(true_rim(wall, radius, turn) - points).max() < 1e-6
        middles = (points + np.roll(points, -1, axis=0)) / 2.0
        true = true_rim(wall, radius, np.linspace(-np.pi, np.pi, 5000))
        gaps = np.linalg.norm(middles[:, None] - true[None], axis=2).min(axis=1)
        assert gaps.max() < PROMISED


def test_a_step_is_an_exact_flat_ring_between_exact_circles() -> None:
    case = trued("steps")
    result = case.result
    vertices = result.mesh.vertices
    for number, station, inner, outer in ((0, 60.0, 6.0, 7.5), (1, 130.0, 7.5, 9.0)):
        level = (vertices[result.mesh.triangles][:, :, 2] == station).all(axis=1)
        assert level.any()
        assert (result.labels[level] == OTHER).all()
        ring = np.unique(result.mesh.triangles[level])
        for k, radius in ((number, inner), (number + 1, outer)):
            edge = np.intersect1d(ring, vertices_on(result, BORE, k))
            assert np.abs(np.hypot(*vertices[edge, :2].T) - radius).max() < 1e-9
        corners = vertices[result.mesh.triangles[level]]
        areas = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])[:, 2] / 2.0
        assert areas.min() > 0.0  # where a bore widens upward, the ring faces up
        count = len(case.result.generators[0])
        exact = count / 2.0 * math.sin(2.0 * math.pi / count) * (outer**2 - inner**2)
        assert areas.sum() == pytest.approx(exact, rel=1e-4)


def test_a_bend_is_one_circle_shared_by_both_stretches() -> None:
    case = trued("bends")
    result = case.result
    for label, first, station, radius in (
        (BORE, 0, 100.0, 7.0),
        (BORE, 1, 150.0, 12.0),
        (OUTSIDE, 0, 120.0, 12.0),
        (OUTSIDE, 1, 150.0, 17.0),
    ):
        shared = np.intersect1d(
            vertices_on(result, label, first), vertices_on(result, label, first + 1)
        )
        points = result.mesh.vertices[shared]
        assert len(points) >= 24
        assert np.abs(points[:, 2] - station).max() < 1e-6
        assert np.abs(np.hypot(points[:, 0], points[:, 1]) - radius).max() < 1e-6
    first, second, third = result.generators
    assert np.array_equal(first, second)
    assert np.array_equal(first, third)


def test_a_bend_is_found_though_the_labels_part_beside_it() -> None:
    """Triangles at a bend may be told to the wrong stretch; the cones meet where they meet."""
    part = turned(
        [(0.0, 22.0), (60.0, 22.0)],
        [(0.0, 12.0), (30.0, 13.0), (60.0, 15.0)],
        facets=Facets(edge=1.5),
    )
    survey = true_survey(part)
    stations = survey.mesh.vertices[survey.mesh.triangles][:, :, 2]
    strayed = (survey.labels == BORE) & (stations.min(axis=1) > 29.9) & (stations.max(axis=1) < 34)
    assert strayed.sum() > 40
    result = true_up(replace(survey, numbers=np.where(strayed, 0, survey.numbers)), settings())
    shared = np.intersect1d(vertices_on(result, BORE, 0), vertices_on(result, BORE, 1))
    assert np.abs(result.mesh.vertices[shared, 2] - 30.0).max() < 1e-6
    assert 0.01 < result.max_move < 0.07
    for number in (0, 1):
        off = off_round(survey.bores[number], sampled(result, BORE, number))
        assert off.max() < 1e-9
        assert off.min() > -CHORD_TOLERANCE * 1.001


def test_facets_of_two_bores_meet_at_lines_about_their_own_centres() -> None:
    case = trued("two bores")
    result = case.result
    assert len(result.generators) == 2
    for number, (bore, lines) in enumerate(zip(case.survey.bores, result.generators, strict=True)):
        points = result.mesh.vertices[vertices_on(result, BORE, number)]
        angles = np.arctan2(points[:, 1] - bore.offset[1], points[:, 0] - bore.offset[0])
        off = np.abs(np.angle(np.exp(1j * (angles[:, None] - lines[None])))).min(axis=1)
        assert len(lines) >= 24
        assert off.max() < 1e-9


def test_what_is_no_round_surface_keeps_its_triangles() -> None:
    case = trued("two bores")
    before = case.survey.mesh.vertices[case.survey.mesh.triangles[case.survey.labels == OTHER]]
    after = case.result.mesh.vertices[case.result.mesh.triangles[case.result.labels == OTHER]]
    assert np.array_equal(before[:, :, :2], after[:, :, :2])
    assert np.abs(before - after).max() < 1e-4  # ends are planes now


def test_triangles_do_not_grow_with_the_source() -> None:
    counts = []
    for triangles in (15_000, 60_000):
        part, walls = with_holes(triangles)
        survey = true_survey(part, walls)
        assert len(survey.mesh.triangles) > 0.9 * triangles
        counts.append(len(true_up(survey, settings()).mesh.triangles))
    assert counts[0] == counts[1] < 6_000


def test_a_noisy_part_ends_up_exact() -> None:
    part, walls = with_holes(60_000)
    scanned = noisy(part, 0.02, np.random.default_rng(1))
    survey = true_survey(part, walls, scanned)
    result = true_up(survey, settings(max_move=0.15))
    assert 0.05 < result.max_move <= 0.15
    for label, surface in ((BORE, survey.bores[0]), (OUTSIDE, survey.outsides[0])):
        off = off_round(surface, sampled(result, label, 0))
        assert off.max() < 1e-9
        assert off.min() > -CHORD_TOLERANCE * 1.001
    for number, wall in enumerate(walls):
        assert np.abs(off_wall(wall, sampled(result, HOLE, number))).max() < CHORD_TOLERANCE * 1.001
    assert len(result.mesh.triangles) < 6_000


def test_a_wall_that_strays_from_its_hole_is_kept() -> None:
    part, walls = with_holes(15_000)
    survey = true_survey(part, walls)
    beside = replace(walls[2], radius=walls[2].radius - 0.2)
    holes = list(survey.side_holes)
    holes[2] = replace(holes[2], wall=beside)
    result = true_up(replace(survey, side_holes=tuple(holes)), settings())
    check_closed(result.mesh)
    kept = result.mesh.vertices[vertices_on(result, HOLE, 2)]
    old = np.unique(survey.mesh.triangles[(survey.labels == HOLE) & (survey.numbers == 2)])
    assert len(kept) >= len(old)
    assert np.abs(off_wall(walls[2], kept)).max() < 0.08  # chords of the source, not 0.2


@pytest.mark.parametrize("true", ["bore", "outside"])
def test_with_one_surface_exact_the_walls_are_kept(true: str) -> None:
    part, walls = with_holes(15_000)
    survey = true_survey(part, walls)
    result = true_up(survey, settings(true=true))
    check_closed(result.mesh)
    exact, left = (BORE, OUTSIDE) if true == "bore" else (OUTSIDE, BORE)
    assert (result.labels == left).sum() >= (survey.labels == left).sum()
    assert (result.labels == exact).sum() < (survey.labels == exact).sum()
    assert (result.labels == HOLE).sum() >= (survey.labels == HOLE).sum()


def test_the_greatest_chord_that_was_filled_is_told() -> None:
    sides = 63
    coarse = true_survey(eccentric())
    sagitta = 12.0 * (1.0 - math.cos(math.pi / sides))
    assert true_up(coarse, settings()).greatest_chord == pytest.approx(sagitta, rel=1e-3)
    # a flat whose corners lie on the circle looks like the circle's: 12 - 10 mm deep
    flat = true_survey(milled())
    assert true_up(flat, settings()).greatest_chord == pytest.approx(2.0, rel=1e-3)


@pytest.mark.parametrize("angle_deg", [90.0, 180.0])
def test_one_wide_facet_far_from_all_borders_is_the_greatest_chord(angle_deg: float) -> None:
    """Two facets of a circle made one, elsewhere and where angles run over."""
    part = dense_tube(15_000, holes=0)
    lost, left = side_by_side(part.vertices, part.truth.outsides[0].diameters[0] / 2.0, angle_deg)
    triangles = np.where(part.triangles == lost, left, part.triangles)
    triangles -= triangles > lost
    whole = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)
    assert (~whole).sum() == 2
    wide = replace(
        part,
        vertices=np.delete(part.vertices, lost, axis=0),
        triangles=triangles[whole],
        owner=part.owner[whole],
    )
    check_closed(Mesh(wide.vertices, wide.triangles))
    step = math.dist(part.vertices[lost], part.vertices[left])
    radius = part.truth.outsides[0].diameters[0] / 2.0
    step = 2.0 * math.asin(step / 2.0 / radius)
    result = true_up(true_survey(wide), settings())
    assert result.greatest_chord == pytest.approx(radius * (1.0 - math.cos(step)), rel=1e-6)


def side_by_side(vertices: np.ndarray, radius: float, angle_deg: float) -> tuple[int, int]:
    """The vertex of a grid nearest to an angle, far from both ends, and its next along the ring."""
    angle = math.radians(angle_deg)
    place = np.array([radius * math.cos(angle), radius * math.sin(angle), 40.0])
    first = int(np.linalg.norm(vertices - place, axis=1).argmin())
    ring = np.flatnonzero(np.abs(vertices[:, 2] - vertices[first, 2]) < 1e-6)
    ring = ring[np.hypot(*vertices[ring, :2].T) > radius - 1e-6]
    away = np.linalg.norm(vertices[ring] - vertices[first], axis=1)
    return first, int(ring[np.argsort(away)[1]])


# The bore brought to a diameter


def test_a_bore_is_brought_to_the_diameter_asked_for() -> None:
    survey = trued("six holes").survey
    wanted = settings(bore=14.3)
    result, after = true_up(survey, wanted), as_trued(survey, wanted)
    assert after.bores[0].radius_at_zero == 7.15
    assert after.walls[0].inner == after.bores[0]
    assert after.walls[0].outer.radius_at_zero == survey.walls[0].outer.radius_at_zero
    assert after.wall_least == pytest.approx(survey.wall_least - 0.05)
    assert after.wall_median == pytest.approx(survey.wall_median - 0.05)
    assert result.max_move == pytest.approx(0.05, abs=1e-4)
    off = off_round(after.bores[0], sampled(result, BORE, 0))
    assert off.max() < 1e-9
    assert off.min() > -CHORD_TOLERANCE * 1.001
    check_closed(result.mesh)


def test_only_bores_near_the_diameter_are_brought_there() -> None:
    survey = trued("steps").survey
    after = as_trued(survey, settings(bore=15.1))
    assert [bore.radius_at_zero for bore in after.bores] == [6.0, 7.55, 9.0]
    assert after.wall_least == pytest.approx(survey.wall_least - 0.05)
    assert after.wall_median == survey.wall_median


def test_two_bores_share_the_wall_that_the_wider_one_leaves() -> None:
    survey = trued("two bores").survey
    both = replace(survey.walls[0], bores=(0, 1))
    survey = replace(survey, walls=(both,))
    narrower = replace(survey.bores[1], radius_at_zero=survey.bores[1].radius_at_zero - 0.5)
    survey = replace(survey, bores=(survey.bores[0], narrower))
    after = as_trued(survey, settings(bore=8.1))  # brings the second one only
    left = after.walls[0].outer.radius_at_zero - after.walls[0].inner.radius_at_zero
    had = both.outer.radius_at_zero - both.inner.radius_at_zero
    assert left == pytest.approx(had - 0.05)


@pytest.mark.parametrize("true", ["outside", "none"])
def test_a_bore_that_is_left_alone_cannot_be_brought_anywhere(true: str) -> None:
    survey = trued("six holes").survey
    with pytest.raises(BadSetting, match=rf"--bore 14\.30 with --true {true}.*--true both"):
        true_up(survey, settings(bore=14.3, true=true))


def test_a_diameter_out_of_reach_is_refused_with_what_would_do() -> None:
    survey = trued("six holes").survey
    with pytest.raises(TruingRefused, match=r"14\.200 mm.*within 0\.20 mm of the 14\.50 mm"):
        true_up(survey, settings(bore=14.5))
    with pytest.raises(TruingRefused, match=r"--bore 14\.20, or --max-move 0\.16"):
        as_trued(survey, settings(bore=14.5))
    remedied = true_up(survey, settings(bore=14.5, max_move=0.16))
    assert remedied.max_move == pytest.approx(0.15, abs=1e-3)


def test_a_tapered_bore_cannot_be_brought_to_one_diameter() -> None:
    with pytest.raises(TruingRefused, match="tapered bores only"):
        true_up(trued("bends").survey, settings(bore=12.0))  # what it has at station 0


# Walls


def test_surfaces_that_cross_are_refused() -> None:
    survey = trued("eccentric").survey
    wide = replace(survey.bores[0], radius_at_zero=10.6)
    crossing = replace(survey, bores=(wide,))
    with pytest.raises(TruingRefused, match=r"a wall of -0\.17 mm"):
        true_up(crossing, settings())


def test_a_bore_brought_up_to_the_outside_is_refused_and_a_thin_part_is_not() -> None:
    survey = trued("eccentric").survey
    near = replace(survey, bores=(replace(survey.bores[0], radius_at_zero=10.3),))
    with pytest.raises(TruingRefused, match=r"a wall of 0\.03 mm.*0\.10 mm"):
        true_up(near, settings(bore=20.8))
    assert true_up(survey, settings(least_wall=9.0)).generators[0].size


def test_a_step_within_the_band_is_not_closed_in_silence() -> None:
    """Both edges of a small step would come to lie on one circle; a file could not tell them."""
    survey = true_survey(stepped(steps=((60.0, 12.0), (130.0, 12.1))))
    one = replace(survey.bores[0], stop=130.0)
    merged = replace(
        survey, bores=(one,), numbers=np.zeros_like(survey.numbers), walls=survey.walls[:1]
    )
    with pytest.raises(TruingRefused, match=r"a step of 0\.050 mm near station 60\.00 mm"):
        true_up(merged, settings())


def test_loops_that_cross_are_refused() -> None:
    """Two circles the wrong way round: the lower one has the surface below it."""
    lines = np.arange(4)
    outline = Outline(
        first=np.array([0, 4, 8]),
        vertices=np.arange(8),
        lines=np.concatenate([lines, lines[::-1]]),
        arcs=np.concatenate([lines, lines[::-1]]) * 1.0,
        stations=np.repeat([5.0, 1.0], 4),
        around=4.0,
    )
    with pytest.raises(TruingRefused, match=r"cross each other near station 5\.00 mm"):
        strip_faces(outline, None)
    fair = replace(outline, stations=np.repeat([1.0, 5.0], 4))
    assert len(strip_faces(fair, None)) == 8


def test_loops_that_cross_are_told_where_they_do_and_not_at_the_surface_s_foot() -> None:
    """A surface from 0 to 9 and one from 4 to 12 over each other: they cross from 4 on."""
    lines = np.arange(4)
    outline = Outline(
        first=np.array([0, 4, 8, 12, 16]),
        vertices=np.arange(16),
        lines=np.concatenate([lines, lines[::-1], lines, lines[::-1]]),
        arcs=np.concatenate([lines, lines[::-1], lines, lines[::-1]]) * 1.0,
        stations=np.repeat([0.0, 9.0, 4.0, 12.0], 4),
        around=4.0,
    )
    with pytest.raises(TruingRefused, match=r"cross each other near station 4\.00 mm"):
        strip_faces(outline, None)
