"""Cutting a mesh along stations and flanks keeps it closed and moves nothing."""

from __future__ import annotations

import numpy as np
import pytest
from borewright.core.meshes.cut_edges import cut_at_stations
from borewright.core.meshes.mesh_checks import check_closed, enclosed_volume, triangle_normals
from borewright.core.values import Mesh
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.parts import Hole, random_pose, tube


def drilled(seed: int) -> Mesh:
    part = tube(
        length=60.0,
        bore=9.0,
        outside=16.0,
        holes=[Hole(30.0, 40.0, 4.0)],
        facets=20,
        pose=random_pose(np.random.default_rng(seed), reach=0.0),
    )
    return Mesh(part.mesh.vertices, part.mesh.faces)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 5), st.lists(st.floats(-25.0, 25.0), min_size=1, max_size=6, unique=True))
def test_stations_divide_every_triangle_that_passes_them(seed: int, levels: list[float]) -> None:
    mesh = drilled(seed)
    stations = np.array(sorted(levels))
    everything = np.ones(len(mesh.triangles), bool)
    vertices, triangles, origin = cut_at_stations(
        mesh.vertices, mesh.triangles, stations, everything
    )
    cut = Mesh(vertices, triangles)
    check_closed(cut)
    # close crossings join: corners move along the outline by 0.0002 mm, so by far less in volume
    assert enclosed_volume(cut) == pytest.approx(enclosed_volume(mesh), rel=2e-6)
    heights = cut.vertices[cut.triangles, 2]
    for station in stations:
        assert not ((heights.min(axis=1) < station) & (heights.max(axis=1) > station)).any()
    areas, before = (triangle_normals(one)[1] for one in (cut, mesh))
    shares = np.bincount(origin, areas, minlength=len(before))
    assert np.abs(shares - before).max() < 0.001 * 60.0  # a few joins in a row, a side of 60
    assert np.array_equal(cut.vertices[: len(mesh.vertices)], mesh.vertices)


def test_a_station_through_vertices_adds_none_there() -> None:
    mesh = drilled(0)
    station = float(mesh.vertices[7, 2])
    vertices, triangles, _ = cut_at_stations(
        mesh.vertices, mesh.triangles, np.array([station]), np.ones(len(mesh.triangles), bool)
    )
    check_closed(Mesh(vertices, triangles))
    assert (np.linalg.norm(vertices - mesh.vertices[7], axis=1) == 0.0).sum() == 1


def test_close_stations_put_no_vertices_on_top_of_each_other() -> None:
    """One after another they would: each cut's own diagonals would be cut again."""
    part = tube(length=2000.0, bore=9.0, outside=16.0, facets=20)
    mesh = Mesh(part.mesh.vertices, part.mesh.faces)
    stations = np.sort(np.concatenate([np.arange(100.0, 1900.0, 150.0) + k for k in (0.0, 1.0)]))
    vertices, _, _ = cut_at_stations(
        mesh.vertices, mesh.triangles, stations, np.ones(len(mesh.triangles), bool)
    )
    order = np.lexsort(np.round(vertices, 4).T)
    gaps = np.linalg.norm(np.diff(vertices[order], axis=0), axis=1)
    assert gaps.min() > 1e-3
