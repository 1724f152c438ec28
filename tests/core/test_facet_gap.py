"""The gap between facets of tenon and socket, against closed forms.

A polygon with its n corners on a circle of radius R comes as near to the middle as
R cos(pi / n): a socket drawn so loses R (1 - cos(pi / n)) of its clearance. Ours touches
its circle from outside instead. A footprint takes as many corners as its chord error asks
for; here that number is given, to see the rule itself.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.jointing import footprint
from borewright.core.jointing.footprint import Footprint, socket_footprint, tenon_footprint
from borewright.core.values import CHORD_TOLERANCE, Tenon
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

TENON, SOCKET = 10.0, 10.15


def a_tenon(radius: float = TENON) -> Tenon:
    """Solid and without keys: nothing but facets between it and its socket."""
    return Tenon(
        station=0.0,
        engagement=10.0,
        tenon_radius=radius,
        socket_radius=SOCKET,
        radial_clearance=SOCKET - TENON,
        land=9.5,
        bore_radius_at_tip=0.0,
        roof_top=19.7,
        bores=(),
    )


def corners(outline: Footprint) -> FloatArray:
    points: FloatArray = outline.points(outline.u, np.zeros(len(outline.u)))[:, :2]
    return points


def nearest_to_middle(polygon: FloatArray) -> float:
    """Least distance of a polygon's sides from the origin."""
    return float(to_sides(np.zeros((1, 2)), polygon).min())


def to_sides(points: FloatArray, polygon: FloatArray) -> FloatArray:
    """(n, m) distances of points from a polygon's sides."""
    starts, along = polygon, np.roll(polygon, -1, axis=0) - polygon
    past = points[:, None] - starts[None]
    share = ((past * along).sum(axis=2) / (along**2).sum(axis=1)).clip(0.0, 1.0)
    distances: FloatArray = np.linalg.norm(past - share[..., None] * along, axis=2)
    return distances


def turned(polygon: FloatArray, angle: float) -> FloatArray:
    c, s = math.cos(angle), math.sin(angle)
    moved: FloatArray = polygon @ np.array([[c, s], [-s, c]])
    return moved


def gap(inner: FloatArray, outer: FloatArray) -> float:
    """Least distance between two polygons, one inside the other."""
    return float(min(to_sides(inner, outer).min(), to_sides(outer, inner).min()))


@pytest.fixture(params=[24, 32, 64, 96])
def count(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> int:
    number = int(request.param)
    monkeypatch.setattr(footprint, "strip_count", lambda _radius: number)
    return number


WORST_OF_INSCRIBED = {24: 0.0632, 32: 0.1011, 64: 0.1378, 96: 0.1446}
"""Rs cos(pi / n) - Rt, computed by hand from the closed form, mm."""


def test_corners_on_the_sockets_circle_would_eat_clearance(count: int) -> None:
    inscribed = corners(tenon_footprint(a_tenon(SOCKET), ()))
    tenon = corners(tenon_footprint(a_tenon(), ()))
    assert len(inscribed) == len(tenon) == count
    assert np.linalg.norm(tenon, axis=1) == pytest.approx(TENON)
    half_pitch = math.pi / count
    assert gap(turned(tenon, half_pitch), inscribed) == pytest.approx(
        WORST_OF_INSCRIBED[count], abs=5e-5
    )
    closed = SOCKET * math.cos(half_pitch) - TENON
    assert nearest_to_middle(inscribed) - TENON == pytest.approx(closed, abs=1e-12)


def test_a_sockets_facets_touch_its_circle_and_leave_all_of_the_clearance(count: int) -> None:
    socket = corners(socket_footprint(a_tenon(), ()))
    tenon = corners(tenon_footprint(a_tenon(), ()))
    assert np.linalg.norm(socket, axis=1) == pytest.approx(SOCKET / math.cos(math.pi / count))
    assert nearest_to_middle(socket) == pytest.approx(SOCKET, abs=1e-12)
    gaps = [gap(turned(tenon, turn * math.pi / count), socket) for turn in np.linspace(0, 2, 9)]
    assert min(gaps) == pytest.approx(0.15, abs=1e-12)  # a corner before a facet's middle
    assert int(np.argmin(gaps)) == 4


def test_facets_of_unlike_width_leave_all_of_the_clearance_too() -> None:
    generators = np.sort(np.random.default_rng(3).uniform(-math.pi, math.pi, 37))
    about_a_bore = Tenon(
        station=0.0,
        engagement=10.0,
        tenon_radius=TENON,
        socket_radius=SOCKET,
        radial_clearance=SOCKET - TENON,
        land=0.8,
        bore_radius_at_tip=8.0,
        roof_top=11.0,
    )
    socket = corners(socket_footprint(about_a_bore, (generators,)))
    tenon = corners(tenon_footprint(about_a_bore, (generators,)))
    widths = np.linalg.norm(np.roll(socket, -1, axis=0) - socket, axis=1)
    assert widths.max() > 1.5 * widths.min()
    assert nearest_to_middle(socket) == pytest.approx(SOCKET, abs=1e-9)
    gaps = [gap(turned(tenon, turn), socket) for turn in np.linspace(0.0, 0.2, 21)]
    assert min(gaps) >= SOCKET - TENON - 1e-12


def test_no_facet_is_farther_from_its_circle_than_the_chord_error() -> None:
    # sagitta R (1 - cos(pi / n)) <= s asks for n = ceil(pi / acos(1 - s / R))
    tenon = corners(tenon_footprint(a_tenon(), ()))
    socket = corners(socket_footprint(a_tenon(), ()))
    assert len(tenon) == len(socket) == math.ceil(math.pi / math.acos(1 - CHORD_TOLERANCE / SOCKET))
    assert TENON - nearest_to_middle(tenon) <= CHORD_TOLERANCE
    outermost = np.linalg.norm(socket, axis=1).max()
    assert outermost - SOCKET <= CHORD_TOLERANCE * (1.0 + 1e-3)


@pytest.mark.parametrize(
    ("radius", "sagitta", "facets"),
    [
        (10.0, 0.1, 23),
        (10.0, 0.05, 32),
        (10.0, 0.01, 71),
        (6.0, 0.01, 55),
        (9.5, 0.01, 69),
        (20.0, 0.01, 100),
    ],
)
def test_facets_for_a_sagitta_are_the_fewest_that_hold_it(
    radius: float, sagitta: float, facets: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("borewright.core.truing.unroll.CHORD_TOLERANCE", sagitta)
    assert footprint.strip_count(radius) == max(facets, 24)  # a circle has 24 at the least
    assert radius * (1.0 - math.cos(math.pi / facets)) <= sagitta
    assert radius * (1.0 - math.cos(math.pi / (facets - 1))) > sagitta
