"""Sections, loops and rays against closed forms and against trimesh's own sections."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from borewright.core.proving.section import (
    Crossings,
    band_of,
    cross_rays,
    cut_section,
    loop_areas,
    overlap_area,
    ray_angles,
)
from borewright.core.values import FloatArray, Mesh
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, Manifold, OpType

RAYS = 720
ROUNDING = 1e-7
"""Relative: manifold3d keeps outlines to about 1e-8 mm."""


def polygon(
    count: int, radius: float, *, turn: float = 0.0, centre: tuple[float, float] = (0.0, 0.0)
) -> FloatArray:
    angles = turn + 2.0 * np.pi * np.arange(count) / count
    return centre + radius * np.column_stack([np.cos(angles), np.sin(angles)])


def prism(outline: FloatArray, low: float = 0.0, high: float = 10.0) -> Manifold:
    return Manifold.extrude(CrossSection([outline]), high - low).translate((0.0, 0.0, low))


def as_mesh(solid: Manifold) -> Mesh:
    mesh = solid.to_mesh64()
    return Mesh(np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts))


def ball(radius: float, centre: tuple[float, float, float]) -> trimesh.Trimesh:
    return trimesh.creation.icosphere(4, radius).apply_translation(centre)


def of_trimesh(mesh: trimesh.Trimesh) -> Mesh:
    return Mesh(mesh.vertices, mesh.faces)


# Loops.


@pytest.mark.parametrize("count", [3, 8, 64, 360])
def test_area_of_a_regular_prism_is_its_closed_form(count: int) -> None:
    """(n / 2) sin(2 pi / n) R^2, closed form."""
    section = cut_section(as_mesh(prism(polygon(count, 7.0))), 3.3)
    due = 0.5 * count * math.sin(2.0 * math.pi / count) * 49.0
    assert loop_areas(section) == pytest.approx([due], rel=ROUNDING)


def test_a_tube_has_one_void_and_voids_are_negative() -> None:
    tube = prism(polygon(32, 9.0)) - prism(polygon(20, 5.0), -1.0, 11.0)
    areas = sorted(loop_areas(cut_section(as_mesh(tube), 4.0)))
    outer, inner = (0.5 * n * math.sin(2.0 * math.pi / n) * r * r for n, r in ((32, 9), (20, 5)))
    assert areas == pytest.approx([-inner, outer], rel=ROUNDING)


def test_loops_are_told_apart_however_many_there_are() -> None:
    bars = [prism(polygon(6, 1.0 + k / 10.0, centre=(4.0 * k, 0.0))) for k in range(7)]
    areas = loop_areas(cut_section(as_mesh(Manifold.batch_boolean(bars, OpType.Add)), 5.0))
    due = [1.5 * math.sqrt(3.0) * (1.0 + k / 10.0) ** 2 for k in range(7)]
    assert sorted(areas) == pytest.approx(due, rel=ROUNDING)


@pytest.mark.parametrize("station", [-3.1, -0.4, 0.7, 2.9])
def test_area_of_a_leaning_tube_agrees_with_manifold(station: float) -> None:
    tube = prism(polygon(40, 5.0), -6.0, 6.0) - prism(polygon(40, 2.0), -7.0, 7.0)
    leaning = tube.rotate((23.0, -11.0, 5.0))
    ours = loop_areas(cut_section(as_mesh(leaning), station)).sum()
    assert ours == pytest.approx(leaning.slice(station).area(), rel=ROUNDING)


@pytest.mark.parametrize("station", [0.0, 5.0, 9.0, 10.0])
def test_a_plane_through_vertices_still_gives_closed_loops(station: float) -> None:
    """The prism's rings lie at 0, 5 and 10; a vertex in the plane counts as above it."""
    stacked = prism(polygon(9, 4.0), 0.0, 5.0) + prism(polygon(9, 4.0, turn=0.2), 5.0, 10.0)
    section = cut_section(as_mesh(stacked), station)
    _, counts = np.unique(section.edges, return_counts=True)
    assert (counts == 2).all()
    assert (len(section.edges) == 0) == (station == 0.0)


def test_a_plane_that_misses_gives_nothing() -> None:
    section = cut_section(as_mesh(prism(polygon(9, 4.0))), 10.5)
    assert len(section.ends) == 0
    assert len(loop_areas(section)) == 0
    assert len(cross_rays(section, RAYS).ray) == 0


def test_a_band_has_the_same_sections_within() -> None:
    mesh = of_trimesh(ball(5.0, (0.0, 0.0, 0.0)))
    near = band_of(mesh, -0.5, 0.5)
    assert len(near.triangles) < len(mesh.triangles) / 4
    for station in (-0.5, 0.1, 0.5):
        assert loop_areas(cut_section(near, station)) == pytest.approx(
            loop_areas(cut_section(mesh, station))
        )


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    station=st.floats(-4.5, 4.5),
)
def test_area_follows_neither_numbering_nor_turn_of_the_mesh(seed: int, station: float) -> None:
    rng = np.random.default_rng(seed)
    mesh = ball(5.0, (1.0, -0.5, 0.0))
    due = loop_areas(cut_section(of_trimesh(mesh), station)).sum()
    order = rng.permutation(len(mesh.vertices))
    angle = rng.uniform(-math.pi, math.pi)
    turn = trimesh.transformations.rotation_matrix(angle, [0, 0, 1])[:3, :3]
    vertices = mesh.vertices[order] @ turn.T
    triangles = np.roll(np.argsort(order)[rng.permutation(mesh.faces)], 1, axis=1)
    ours = loop_areas(cut_section(Mesh(vertices, triangles), station)).sum()
    assert ours == pytest.approx(due, rel=ROUNDING)


# Rays.


def test_rays_are_even_and_off_the_vertices_of_regular_polygons() -> None:
    angles = ray_angles(RAYS)
    assert np.diff(angles) == pytest.approx(2.0 * np.pi / RAYS)
    assert angles[0] > -np.pi
    assert angles[-1] < np.pi
    for count in (8, 64, 90, 360, 720):
        steps = (angles + np.pi) * count / (2.0 * np.pi)
        assert np.abs(steps - np.round(steps)).min() > 1e-3


@pytest.mark.parametrize("turn", [0.0, 0.3, math.pi / 13.0])
def test_rays_meet_a_polygon_at_its_closed_form(turn: float) -> None:
    """r = R cos(pi / n) / cos(angle from the middle of the side), closed form."""
    count, radius = 13, 6.0
    crossings = cross_rays(
        cut_section(as_mesh(prism(polygon(count, radius, turn=turn))), 2.0), RAYS
    )
    step = 2.0 * math.pi / count
    off = np.mod(ray_angles(RAYS) - turn, step) - step / 2.0
    due = radius * math.cos(step / 2.0) / np.cos(off)
    assert crossings.outermost() == pytest.approx(due, rel=ROUNDING)


def test_a_ray_enters_and_leaves_in_turn() -> None:
    tube = prism(polygon(32, 9.0)) - prism(polygon(32, 5.0), -1.0, 11.0)
    crossings = cross_rays(cut_section(as_mesh(tube), 2.0), RAYS)
    assert (crossings.ray == np.repeat(np.arange(RAYS), 2)).all()
    assert (crossings.enters.reshape(-1, 2) == [1, -1]).all()
    assert (crossings.innermost() < crossings.outermost()).all()


def test_a_ray_that_starts_in_material_enters_it_at_the_axis() -> None:
    crossings = cross_rays(cut_section(as_mesh(prism(polygon(32, 9.0))), 2.0), RAYS)
    assert (crossings.innermost() == 0.0).all()
    assert crossings.thinnest() == pytest.approx(crossings.outermost())


def test_rays_that_meet_nothing_say_so() -> None:
    """A bar beside the axis, seen under asin(1 / 5) on either side of the x axis."""
    bar = prism(polygon(400, 1.0, centre=(-5.0, 0.0)))
    crossings = cross_rays(cut_section(as_mesh(bar), 2.0), RAYS)
    met = np.pi - np.abs(ray_angles(RAYS)) < math.asin(1.0 / 5.0)
    assert (np.isfinite(crossings.innermost()) == met).mean() > 0.995
    assert (crossings.outermost()[~np.isfinite(crossings.innermost())] == 0.0).all()


def test_thinnest_of_a_bore_off_centre() -> None:
    """R - r - e on the side towards which the outside is shifted away, closed form."""
    shifted = prism(polygon(2000, 9.0, centre=(0.5, 0.0))) - prism(polygon(2000, 5.0), -1.0, 11.0)
    thinnest = cross_rays(cut_section(as_mesh(shifted), 2.0), RAYS).thinnest()
    assert thinnest.min() == pytest.approx(9.0 - 5.0 - 0.5, abs=1e-4)
    assert thinnest.max() == pytest.approx(9.0 - 5.0 + 0.5, abs=1e-4)


def test_thinnest_counts_each_stretch_of_material() -> None:
    """Three skins, the outermost 0.2 where a ray meets corners: less by its facets elsewhere."""
    walls = prism(polygon(64, 9.0)) - prism(polygon(64, 5.0), -1.0, 11.0)
    split = walls - (prism(polygon(64, 8.8), 1.0, 9.0) - prism(polygon(64, 8.0), -1.0, 11.0))
    thinnest = cross_rays(cut_section(as_mesh(split), 5.0), RAYS).thinnest()
    assert thinnest.max() == pytest.approx(0.2, abs=2e-5)


def test_thinnest_takes_a_fold_of_a_rough_surface_for_no_wall() -> None:
    """By ray: plain; a crumb close to its wall; a crumb apart; a surface folded back."""
    stretches = [
        [(5.0, 1), (7.0, -1)],
        [(5.0, 1), (5.001, -1), (5.02, 1), (7.0, -1)],
        [(5.0, 1), (5.1, -1), (5.2, 1), (7.0, -1)],
        [(4.9, -1), (4.95, 1), (5.0, 1), (7.0, -1)],
        [],
    ]
    flat = [(ray, *crossing) for ray, line in enumerate(stretches) for crossing in line]
    ray, radius, enters = (np.array(column) for column in zip(*flat, strict=True))
    thinnest = Crossings(len(stretches), ray, radius, enters).thinnest()
    assert thinnest == pytest.approx([2.0, 2.0, 0.1, 2.0, np.inf])


def test_overlap_of_two_discs_is_the_lens() -> None:
    """2 R^2 acos(d / 2R) - (d / 2) sqrt(4 R^2 - d^2), closed form."""
    radius, apart = 5.0, 6.0
    one, other = (
        cross_rays(cut_section(as_mesh(prism(polygon(1000, radius, centre=(x, 0.3)))), 2.0), 7200)
        for x in (-apart / 2.0, apart / 2.0)
    )
    half = apart / (2.0 * radius)
    lens = 2.0 * radius**2 * math.acos(half) - apart / 2.0 * math.sqrt(4.0 * radius**2 - apart**2)
    assert overlap_area(one, other) == pytest.approx(lens, rel=1e-4)


def test_discs_apart_and_rings_in_each_other_do_not_overlap() -> None:
    inner = prism(polygon(64, 5.0)) - prism(polygon(64, 4.0), -1.0, 11.0)
    outer = prism(polygon(64, 7.0)) - prism(polygon(64, 5.2), -1.0, 11.0)
    beside = prism(polygon(64, 1.0, centre=(20.0, 0.0)))
    ring, around, apart = (
        cross_rays(cut_section(as_mesh(solid), 2.0), RAYS) for solid in (inner, outer, beside)
    )
    assert overlap_area(ring, around) == 0.0
    assert overlap_area(ring, apart) == 0.0
    assert overlap_area(ring, ring) == pytest.approx(
        (25.0 - 16.0) * 32.0 * math.sin(math.pi / 32.0), rel=1e-4
    )


@settings(max_examples=40, deadline=None)
@given(
    x=st.floats(-3.0, 3.0),
    y=st.floats(-3.0, 3.0),
    radius=st.floats(0.5, 6.0),
    station=st.floats(-0.4, 0.4),
)
def test_rays_balance_wherever_the_axis_passes(
    x: float, y: float, radius: float, station: float
) -> None:
    """Every ray leaves as often as it enters, and from a closed body at last leaves."""
    mesh = of_trimesh(ball(radius, (x, y, 0.0)))
    crossings = cross_rays(cut_section(mesh, station), RAYS)
    balance = np.bincount(crossings.ray, weights=crossings.enters, minlength=RAYS)
    assert (balance == 0).all()
    area = overlap_area(crossings, crossings)
    assert area == pytest.approx(loop_areas(cut_section(mesh, station)).sum(), rel=0.02)
