"""Sections of meshes and their areas, against closed forms and manifold3d."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from borewright.core.proving.section import Sections, band_of, cut_sections
from borewright.core.values import FloatArray, Mesh
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection, Manifold, OpType

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


def cut_section(mesh: Mesh, station: float) -> Sections:
    return cut_sections(mesh, np.array([station]))


def loop_areas(section: Sections) -> FloatArray:
    return section.loop_area


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
    starts, stops = (np.unique(ends, axis=0) for ends in (section.starts, section.stops))
    assert np.array_equal(starts, stops)
    assert (len(section.level) == 0) == (station == 0.0)


def test_a_plane_that_misses_gives_nothing() -> None:
    section = cut_section(as_mesh(prism(polygon(9, 4.0))), 10.5)
    assert len(section.starts) == 0
    assert len(loop_areas(section)) == 0
    assert section.areas() == pytest.approx([0.0])


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


def test_many_planes_at_once_are_the_same_as_one_by_one() -> None:
    mesh = of_trimesh(ball(5.0, (1.0, -0.5, 0.0)))
    stations = np.array([-6.0, -3.3, -3.2, 0.0, 0.1, 4.9, 5.5])
    together = cut_sections(mesh, stations)
    for level, station in enumerate(stations.tolist()):
        alone = cut_section(mesh, station)
        chosen = together.level == level
        assert len(alone.level) == chosen.sum()
        assert together.areas()[level] == pytest.approx(alone.areas()[0], rel=1e-12)
        assert together.outline_lengths()[level] == pytest.approx(alone.outline_lengths()[0])


def test_segments_follow_each_other_along_their_loop() -> None:
    """Several planes through the same edges of a leaning tube, and through others."""
    tube = prism(polygon(32, 9.0)) - prism(polygon(20, 5.0), 2.0, 11.0)
    seen = cut_sections(as_mesh(tube.rotate((8.0, 5.0, 0.0))), np.linspace(1.0, 9.0, 23))
    lengths = np.hypot(*(seen.stops - seen.starts).T)
    for loop in range(len(seen.loop_level)):
        own = np.flatnonzero(seen.loop == loop)
        own = own[np.argsort(seen.along[own], kind="stable")]
        assert (seen.level[own] == seen.loop_level[loop]).all()
        assert np.array_equal(seen.stops[own], np.roll(seen.starts[own], -1, axis=0))
        passed = np.cumsum(lengths[own])
        assert seen.along[own] == pytest.approx(passed - lengths[own], abs=1e-9)
        assert seen.loop_length[loop] == pytest.approx(passed[-1])


def test_material_and_voids_are_told_apart_by_level() -> None:
    tube = prism(polygon(32, 9.0)) - prism(polygon(20, 5.0), 2.0, 11.0)
    seen = cut_sections(as_mesh(tube), np.array([1.0, 4.0]))
    outer, inner = (0.5 * n * math.sin(2.0 * math.pi / n) * r * r for n, r in ((32, 9), (20, 5)))
    assert seen.material_areas() == pytest.approx([outer, outer], rel=ROUNDING)
    assert seen.void_areas() == pytest.approx([0.0, inner], rel=ROUNDING)
    assert seen.areas() == pytest.approx([outer, outer - inner], rel=ROUNDING)
    assert seen.loop_level.tolist() == [0, 1, 1]
