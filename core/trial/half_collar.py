"""The lower half of a collar, with raised bars on its outside."""

from __future__ import annotations

import numpy as np

from ..meshes.angles import short_way
from ..meshes.cut_edges import cut_at_stations
from ..meshes.edge_rings import counter_clockwise, edge_rings, unpaired
from ..meshes.mesh_checks import compact
from ..values import HIGH_END, BoolArray, FloatArray, IntArray, Mesh
from .barred_tube import Labelled, add_bars
from .trial_bars import Bars

_ON = 0.02
"""Corners this near, mm, to the outside's radius lie on it: chords lie 0.005 within."""


def half_collar(whole: Mesh, station: float, bars: Bars, number: int) -> Mesh:
    """A collar about the z axis up to the seam, closed there, its outside made anew with bars.

    Parameters
    ----------
    station : of the seam
    number : how many bars
    """
    vertices, triangles = _below(whole, station)
    skin = np.hypot(*vertices[:, :2].T) > bars.radius - _ON
    inner = triangles[~skin[triangles].all(axis=1)]
    foot, seam = _open_rings(vertices, inner, skin)
    made = Labelled(vertices)
    angles = np.arctan2(vertices[foot, 1], vertices[foot, 0])
    low = float(vertices[foot, 2].min())
    levels = low, low + bars.short_height(station - low), station
    above = [vertices[foot] * (1.0, 1.0, 0.0) + (0.0, 0.0, level) for level in levels[1:]]
    rings = [foot, *map(made.builder.ring, above)]
    fronts = [made.circle(angles, bars.radius + bars.proud, level) for level in levels]
    add_bars(made, rings, fronts, _covers(angles, bars, number))
    made.end(rings[-1], seam, HIGH_END)
    return compact(made.builder.vertices, np.vstack([inner, *made.builder.faces]))


def _below(whole: Mesh, station: float) -> tuple[FloatArray, IntArray]:
    """Vertices and triangles up to a station."""
    every = np.ones(len(whole.triangles), bool)
    vertices, triangles, _ = cut_at_stations(
        whole.vertices, whole.triangles, np.array([station]), every
    )
    middles = vertices[triangles][:, :, 2].mean(axis=1)
    return vertices, triangles[middles < station]


def _open_rings(
    vertices: FloatArray, triangles: IntArray, skin: BoolArray
) -> tuple[IntArray, IntArray]:
    """The rings, counter-clockwise from above, of the foot's rim and of the seam's inside.

    Without its outside the half is open at those two.
    """
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    single = unpaired(start, end)
    rings = edge_rings(start[single], end[single])
    assert len(rings) == 2
    (foot,) = (counter_clockwise(vertices, ring) for ring in rings if skin[ring].all())
    (seam,) = (counter_clockwise(vertices, ring) for ring in rings if not skin[ring].any())
    return foot, seam


def _covers(angles: FloatArray, bars: Bars, number: int) -> IntArray:
    """Which bar the strip after each corner lies under, from 0; -1: none.

    Bars start and end at corners: they are as wide as asked, or up to two strips wider.
    """
    covers = np.full(len(angles), -1)
    for bar, middle in enumerate(bars.angles(number).tolist()):
        off = short_way(angles - middle)
        first = off[off <= -bars.half_width].max()
        last = off[off >= bars.half_width].min()
        covers[(off >= first) & (off < last)] = bar
    return covers
