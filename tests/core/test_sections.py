"""Plane sections of meshes of known shape, and the circles that their outlines follow."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
from borewright.core.meshes.plane_sections import Sections, cut_sections
from borewright.core.surveying.outline_circles import fit_circles
from borewright.core.surveying.outline_tracks import follow_outlines, profile_stretches
from numpy.typing import NDArray

from tests.families.odd_outside import many_sided_tube, oval_tube, two_bores
from tests.families.round_outside import bell, eccentric, milled, odd_holes, stepped
from tests.families.truth import Part, noisy, shuffled

FloatArray = NDArray[np.float64]

TOLERANCE = 0.05
SAGITTA = 7.0 * (1.0 - math.cos(math.pi / 60.0))
"""A chord of the families' facets, 60 and more around, lies no farther inside a bore."""


def cut(part: Part, heights: FloatArray) -> Sections:
    columns = [np.ascontiguousarray(part.vertices[:, axis]) for axis in range(3)]
    return cut_sections(columns, part.triangles, heights)


def test_the_area_of_an_octagon_is_that_of_the_polygon() -> None:
    """An octagon of 24 across flats: 2 (sqrt 2 - 1) 24^2."""
    sections = cut(many_sided_tube(), np.array([20.0, 77.7, 140.0]))
    outer = sections.areas[sections.areas > 0.0]
    assert outer == pytest.approx(2.0 * (math.sqrt(2.0) - 1.0) * 24.0**2, rel=1e-6)


@pytest.mark.parametrize("part", [odd_holes(), two_bores(), oval_tube()])
def test_outlines_are_those_that_an_independent_library_cuts(part: Part) -> None:
    heights = np.array([13.3, 40.1, 72.5, 99.7])
    sections = cut(part, heights)
    lengths = np.linalg.norm(sections.ends - sections.starts, axis=1)
    mesh = manifold3d.Mesh(part.vertices.astype(np.float32), part.triangles.astype(np.uint32))
    solid = manifold3d.Manifold(mesh)
    for plane, height in enumerate(heights):
        contours = solid.slice(float(height)).to_polygons()
        due = [np.linalg.norm(c - np.roll(c, 1, axis=0), axis=1).sum() for c in contours]
        found = np.bincount(sections.outline, lengths)[sections.plane == plane]
        assert np.sort(found) == pytest.approx(np.sort(due), abs=1e-3)
        area = sections.areas[sections.plane == plane].sum()
        assert area == pytest.approx(solid.slice(float(height)).area(), rel=1e-5)


def test_every_segment_leads_on_to_the_next_around_its_outline() -> None:
    sections = cut(odd_holes(), np.linspace(5.0, 195.0, 40))
    assert np.array_equal(sections.starts[sections.following], sections.ends)
    assert np.array_equal(sections.outline[sections.following], sections.outline)
    assert np.array_equal(np.sort(sections.following), np.arange(len(sections.following)))


def test_circles_of_bores_are_found_and_an_oval_is_none() -> None:
    sections = cut(oval_tube(), np.linspace(10.0, 150.0, 5))
    circles = fit_circles(sections, TOLERANCE)
    hollow = sections.areas < 0.0
    assert circles.radii[hollow] == pytest.approx(7.0, abs=SAGITTA)
    assert np.abs(circles.centres[hollow]).max() < SAGITTA
    assert circles.shares[hollow] == pytest.approx(1.0)
    assert circles.shares[~hollow].max() < 0.5


def test_a_circle_with_a_flat_or_a_keyway_keeps_its_radius() -> None:
    for shape in ("flat", "keyway", "bore keyway"):
        part = milled(shape=shape, stop=200.0)
        sections = cut(part, np.linspace(10.0, 150.0, 5))
        circles = fit_circles(sections, TOLERANCE)
        due = np.where(sections.areas < 0.0, 7.0, 12.0)
        assert np.abs(circles.radii - due).max() < 1e-3, shape
        assert circles.shares.min() > 0.5


def test_noise_moves_a_circle_by_its_standard_error_and_no_more() -> None:
    """Radius: sigma / sqrt(n) of the corners, here 252; chords of the facets are none."""
    part = noisy(eccentric(), 0.02, np.random.default_rng(5))
    sections = cut(part, np.linspace(10.0, 150.0, 30))
    circles = fit_circles(sections, TOLERANCE)
    hollow = sections.areas < 0.0
    corners = np.bincount(sections.outline)[hollow].min()
    assert np.abs(circles.radii[hollow] - 7.0).max() < 5.0 * 0.02 / math.sqrt(corners / 2.0)


def test_order_of_vertices_and_triangles_does_not_matter() -> None:
    part = odd_holes()
    heights = np.linspace(5.0, 195.0, 20)
    one, other = cut(part, heights), cut(shuffled(part, np.random.default_rng(1)), heights)
    assert np.sort(one.areas) == pytest.approx(np.sort(other.areas), abs=1e-9)


def tracks_of(part: Part, *, hollow: bool) -> list[FloatArray]:
    low, high = part.vertices[:, 2].min(), part.vertices[:, 2].max()
    sections = cut(part, low + (high - low) * (np.arange(64) + 0.5) / 64.0)
    circles = fit_circles(sections, TOLERANCE)
    chosen = sections.areas < 0.0 if hollow else sections.areas > 0.0
    stretches = profile_stretches(follow_outlines(sections, circles, chosen)[0], 3.0, 0.25)
    return [
        np.array([s.low, s.high, s.radius_at_zero + s.slope * s.low,
                  s.radius_at_zero + s.slope * s.high])
        for s in stretches
    ]  # fmt: skip


def test_a_stepped_bore_is_a_stretch_for_each_diameter() -> None:
    found = tracks_of(stepped(), hollow=True)
    for stretch, (start, stop, radius) in zip(
        found, ((0.0, 60.0, 6.0), (60.0, 130.0, 7.5), (130.0, 180.0, 9.0)), strict=True
    ):
        assert start <= stretch[0] < start + 3.0
        assert stop - 3.0 < stretch[1] <= stop
        assert stretch[2:] == pytest.approx(radius, abs=1e-6)


def test_a_bell_is_a_stretch_for_each_slope() -> None:
    found = tracks_of(bell(), hollow=True)
    slopes = [(stretch[3] - stretch[2]) / (stretch[1] - stretch[0]) for stretch in found]
    assert slopes == pytest.approx([0.01, 0.1, 0.45], abs=SAGITTA / 10.0)


def test_two_bores_are_two_tracks() -> None:
    part = two_bores()
    sections = cut(part, np.linspace(5.0, 155.0, 30))
    circles = fit_circles(sections, TOLERANCE)
    tracks = follow_outlines(sections, circles, sections.areas < 0.0)
    assert [len(track.heights) for track in tracks] == [30, 30]
    centres = sorted(float(track.centres[:, 0].mean()) for track in tracks)
    assert centres == pytest.approx([-7.0, 7.0], abs=SAGITTA)
