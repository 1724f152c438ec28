"""How far surfaces stand into a bore, against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from borewright.core.proving.bore_clearance import (
    bore_intrusion,
    bore_intrusions,
    stretches_inside,
    stretches_outside,
)
from borewright.core.values import Mesh, RoundSurface
from manifold3d import CrossSection, Manifold

BORE = RoundSurface(6.0, 0.0, 0.0, 40.0)
ALL = [(0.1, 39.9)]


def revolved(profile: list[tuple[float, float]], segments: int) -> Manifold:
    return Manifold.revolve(CrossSection([np.array(profile)]), segments)


def tube(segments: int, low: float = 6.0, high: float = 6.0) -> Manifold:
    return revolved([(low, 0.0), (10.0, 0.0), (10.0, 40.0), (high, 40.0)], segments)


def as_mesh(solid: Manifold) -> Mesh:
    mesh = solid.to_mesh64()
    return Mesh(np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts))


@pytest.mark.parametrize("segments", [12, 33, 128])
def test_facets_stand_in_by_their_sagitta(segments: int) -> None:
    """R (1 - cos(pi / n)), closed form."""
    sagitta = 6.0 * (1.0 - math.cos(math.pi / segments))
    assert bore_intrusion(as_mesh(tube(segments)), BORE, ALL) == pytest.approx(sagitta, abs=1e-9)


@pytest.mark.parametrize("slope", [0.04, -0.04])
def test_facets_of_a_taper_stand_in_by_their_sagitta(slope: float) -> None:
    """Deepest where the bore is widest; a facet's diagonal is met at its own deepest point."""
    taper = RoundSurface(6.0, slope, 0.0, 40.0)
    mesh = as_mesh(tube(24, 6.0, 6.0 + 40.0 * slope))
    widest = max(taper.radius_at(0.1), taper.radius_at(39.9))
    sagitta = widest * (1.0 - math.cos(math.pi / 24))
    assert bore_intrusion(mesh, taper, ALL) == pytest.approx(sagitta, rel=1e-6)


def test_the_depth_on_one_edge_is_its_closed_form() -> None:
    """A skew edge in a tapering bore, sampled finely: no closer point is missed."""
    rng = np.random.default_rng(11)
    taper = RoundSurface(6.0, 0.08, 0.0, 40.0)
    for _ in range(50):
        ends = np.column_stack([rng.uniform(-5, 5, (2, 2)), rng.uniform(-5, 45, 2)])
        far = ends.mean(axis=0) + 40.0 * np.array([*(ends.mean(axis=0)[:2]), 0.0]) + [60, 0, 0]
        mesh = Mesh(np.vstack([ends, far]), np.array([[0, 1, 2], [1, 0, 2]]))
        points = ends[0] + np.linspace(0, 1, 200_001)[:, None] * (ends[1] - ends[0])
        points = points[(points[:, 2] >= 1.0) & (points[:, 2] <= 39.0)]
        deep = taper.radii_at(points[:, 2]) - np.hypot(points[:, 0], points[:, 1])
        found = bore_intrusion(mesh, taper, [(1.0, 39.0)])
        assert found >= deep.max(initial=-np.inf) - 1e-9


def test_a_coarse_sliver_is_met_within_the_stretch_only() -> None:
    """Facets that run the whole length, cut by the ends of a short stretch."""
    mesh = as_mesh(tube(16))
    sagitta = 6.0 * (1.0 - math.cos(math.pi / 16))
    for low in (3.0, 17.3, 36.0):
        depth = bore_intrusion(mesh, BORE, [(low, low + 0.5)])
        assert depth == pytest.approx(sagitta, rel=1e-9)


def test_a_disc_across_the_bore_stands_in_by_all_of_it() -> None:
    lid = revolved([(0.0, 20.0), (8.0, 20.0), (8.0, 21.0), (0.0, 21.0)], 40)
    mesh = as_mesh(tube(64) + lid)
    assert bore_intrusion(mesh, BORE, ALL) == pytest.approx(6.0)
    assert bore_intrusion(mesh, BORE, [(0.1, 19.0), (22.0, 39.0)]) < 0.01


def test_a_leaning_plate_stands_in_by_all_where_the_centre_line_meets_it() -> None:
    """Its upper face meets the axis inside a triangle, at a station of closed form."""
    lean = math.radians(20.0)
    plate = Manifold.cube((30.0, 30.0, 1.0), center=True).translate((1.7, -4.1, 0.0))
    mesh = as_mesh(plate.rotate((20.0, 0.0, 0.0)).translate((0.0, 0.0, 20.0)))
    meets = 20.0 + 0.5 / math.cos(lean)
    near = [(meets - 0.05, meets + 0.05)]
    assert bore_intrusion(mesh, BORE, near) == pytest.approx(6.0, abs=1e-9)
    beside = [(meets + 0.5, meets + 0.6)]
    due = 6.0 - 0.5 / math.tan(lean)
    assert bore_intrusion(mesh, BORE, beside) == pytest.approx(due, abs=1e-6)


def test_a_pin_stands_in_up_to_its_nearest_face() -> None:
    rod = Manifold.cube((4.0, 0.5, 0.5), center=True).translate((6.0, 0.0, 10.0))
    mesh = as_mesh(tube(128) + rod)
    assert bore_intrusion(mesh, BORE, ALL) == pytest.approx(2.0, abs=1e-9)


def test_each_kind_of_stretch_has_the_depth_of_its_own() -> None:
    """Two pins, each in the midst of one kind of stretches; the kinds touch."""
    pins = [
        Manifold.cube((wide, 0.5, 0.5), center=True).translate((6.0, 0.0, station))
        for wide, station in ((4.0, 10.0), (6.0, 30.0))
    ]
    mesh = as_mesh(tube(128) + pins[0] + pins[1])
    kinds = [(0.1, 8.0), (12.0, 25.0)], [(8.0, 12.0)], [(25.0, 39.9)], []
    depths = bore_intrusions(mesh, BORE, kinds)
    sagitta = 6.0 * (1.0 - math.cos(math.pi / 128))
    assert depths == pytest.approx((sagitta, 2.0, 3.0, -math.inf), abs=1e-9)
    assert depths == tuple(bore_intrusion(mesh, BORE, stretches) for stretches in kinds)


def test_a_bore_off_the_axis_is_measured_from_its_own_centre_line() -> None:
    offset = RoundSurface(6.0, 0.0, 0.0, 40.0, offset=(1.5, -0.5))
    mesh = as_mesh(tube(64).translate((1.5, -0.5, 0.0)))
    sagitta = 6.0 * (1.0 - math.cos(math.pi / 64))
    assert bore_intrusion(mesh, offset, ALL) == pytest.approx(sagitta, abs=1e-9)


def test_nothing_near_is_minus_the_radius() -> None:
    far = trimesh.creation.box((1.0, 1.0, 50.0)).apply_translation((30.0, 0.0, 20.0))
    assert bore_intrusion(Mesh(far.vertices, far.faces), BORE, ALL) == -6.0


def test_stretches_are_what_windows_leave_and_take() -> None:
    windows = [(5.0, 7.0), (-2.0, 1.0), (6.0, 9.0), (19.0, 30.0)]
    assert stretches_outside(0.0, 20.0, windows) == [(1.0, 5.0), (9.0, 19.0)]
    assert stretches_inside(0.0, 20.0, windows) == [
        (5.0, 7.0),
        (0.0, 1.0),
        (6.0, 9.0),
        (19.0, 20.0),
    ]
    assert stretches_outside(0.0, 20.0, []) == [(0.0, 20.0)]
    assert stretches_outside(0.0, 20.0, [(-1.0, 21.0)]) == []
    assert stretches_inside(0.0, 20.0, [(20.0, 25.0)]) == []
