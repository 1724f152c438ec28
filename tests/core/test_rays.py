"""Rays from a middle against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.proving.rays import Crossings, cross_rays, overlap_area, ray_angles
from borewright.core.proving.section import cut_sections
from borewright.core.values import Mesh
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.core.test_section import as_mesh, ball, of_trimesh, polygon, prism

RAYS = 720
ROUNDING = 1e-7


def rays_at(mesh: Mesh, station: float, count: int = RAYS) -> Crossings:
    section = cut_sections(mesh, np.array([station]))
    return cross_rays(section.starts, section.stops, count)


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
    crossings = rays_at(as_mesh(prism(polygon(count, radius, turn=turn))), 2.0)
    step = 2.0 * math.pi / count
    off = np.mod(ray_angles(RAYS) - turn, step) - step / 2.0
    due = radius * math.cos(step / 2.0) / np.cos(off)
    assert crossings.outermost() == pytest.approx(due, rel=ROUNDING)


def test_a_ray_enters_and_leaves_in_turn() -> None:
    tube = prism(polygon(32, 9.0)) - prism(polygon(32, 5.0), -1.0, 11.0)
    crossings = rays_at(as_mesh(tube), 2.0)
    assert (crossings.ray == np.repeat(np.arange(RAYS), 2)).all()
    assert (crossings.enters.reshape(-1, 2) == [1, -1]).all()
    assert (crossings.innermost() < crossings.outermost()).all()


def test_a_ray_that_starts_in_material_enters_it_at_the_axis() -> None:
    crossings = rays_at(as_mesh(prism(polygon(32, 9.0))), 2.0)
    assert (crossings.innermost() == 0.0).all()
    assert (crossings.outermost() > 8.9).all()


def test_rays_that_meet_nothing_say_so() -> None:
    """A bar beside the axis, seen under asin(1 / 5) on either side of the x axis."""
    bar = prism(polygon(400, 1.0, centre=(-5.0, 0.0)))
    crossings = rays_at(as_mesh(bar), 2.0)
    met = np.pi - np.abs(ray_angles(RAYS)) < math.asin(1.0 / 5.0)
    assert (np.isfinite(crossings.innermost()) == met).mean() > 0.995
    assert (crossings.outermost()[~np.isfinite(crossings.innermost())] == 0.0).all()


def test_overlap_of_two_discs_is_the_lens() -> None:
    """2 R^2 acos(d / 2R) - (d / 2) sqrt(4 R^2 - d^2), closed form."""
    radius, apart = 5.0, 6.0
    one, other = (
        rays_at(as_mesh(prism(polygon(1000, radius, centre=(x, 0.3)))), 2.0, 7200)
        for x in (-apart / 2.0, apart / 2.0)
    )
    half = apart / (2.0 * radius)
    lens = 2.0 * radius**2 * math.acos(half) - apart / 2.0 * math.sqrt(4.0 * radius**2 - apart**2)
    assert overlap_area(one, other) == pytest.approx(lens, rel=1e-4)


def test_discs_apart_and_rings_in_each_other_do_not_overlap() -> None:
    inner = prism(polygon(64, 5.0)) - prism(polygon(64, 4.0), -1.0, 11.0)
    outer = prism(polygon(64, 7.0)) - prism(polygon(64, 5.2), -1.0, 11.0)
    beside = prism(polygon(64, 1.0, centre=(20.0, 0.0)))
    ring, around, apart = (rays_at(as_mesh(solid), 2.0) for solid in (inner, outer, beside))
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
    crossings = rays_at(mesh, station)
    balance = np.bincount(crossings.ray, weights=crossings.enters, minlength=RAYS)
    assert (balance == 0).all()
    area = overlap_area(crossings, crossings)
    assert area == pytest.approx(cut_sections(mesh, np.array([station])).areas()[0], rel=0.02)
