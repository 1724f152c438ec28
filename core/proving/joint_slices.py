"""A finished joint in slices: what its two pieces and the part are, ray by ray.

The slices lie at Gauss points between the levels at which the joint's surfaces
change, so that areas integrate to volumes and every stretch of the joint is met.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.mesh_checks import triangle_normals
from ..values import MOUTH_RELIEF, BoolArray, FloatArray, IntArray, Joint, Mesh, read_only
from .section import (
    Crossings,
    band_of,
    cross_rays,
    cut_section,
    loop_areas,
    overlap_area,
    ray_angles,
)

RAYS = 1800
"""Rays of a slice, 0.2 degrees apart: the step in which a joint is turned all round."""

CONTACT = 1e-4
"""Levels this close, mm, are one: float32 holds no more at the far end of a part."""

LEVEL_FLATNESS = 0.999
"""Cosine from which a face counts as flat across the axis."""

_LONGEST_PANEL = 2.5
_GAUSS_PLACES = 0.5 + np.array([-0.5, 0.0, 0.5]) * np.sqrt(0.6)
_GAUSS_WEIGHTS = np.array([5.0, 8.0, 5.0]) / 18.0
_BESIDE_KEY = np.radians(1.0)


@dataclass(frozen=True, slots=True, eq=False)
class JointSlices:
    """Slices of one joint, s of them, with n = RAYS rays each.

    stations, weights : (s,) mm, of the Gauss points; the weights sum to the height
    tenon : (s, n) mm, outermost radius of the lower piece, 0 where it has none
    tenon_wall : (s, n) mm, its thinnest stretch of material
    socket : (s, n) mm, innermost radius of the upper piece, infinite without any
    socket_wall : (s, n) mm, its thinnest stretch of material
    overlap : (s,) mm2, shared by both pieces
    gap : (s,) mm2, inside the part and the socket, yet in neither piece
    parallel : (s,) of the slices in which tenon and socket are both parallel
    key_parallel : (s,) of those in which rib and groove are as well
    cone : (s,) of the slices from there to the tenon's tip
    beyond_relief : (s,) of the slices above the socket mouth's relief
    off_key : (n,) of the rays that miss the key and its gaps
    """

    stations: FloatArray
    weights: FloatArray
    tenon: FloatArray
    tenon_wall: FloatArray
    socket: FloatArray
    socket_wall: FloatArray
    overlap: FloatArray
    gap: FloatArray
    parallel: BoolArray
    key_parallel: BoolArray
    cone: BoolArray
    beyond_relief: BoolArray
    off_key: BoolArray

    def __post_init__(self) -> None:
        assert self.tenon.shape == self.socket.shape == (len(self.stations), len(self.off_key))
        for name in self.__slots__:
            read_only(getattr(self, name))


def slice_joint(part: Mesh, lower: Mesh, upper: Mesh, joint: Joint) -> JointSlices:
    """Cut the part and the two pieces of a joint, all in the part frame."""
    levels = _levels(lower, upper, joint)
    stations, weights = _gauss_points(levels)
    part, lower, upper = (band_of(mesh, levels[0], levels[-1]) for mesh in (part, lower, upper))
    rows = [_measure_slice(part, lower, upper, station) for station in stations.tolist()]
    cones = _cones_start(joint, 0.0)
    beyond_relief = stations > joint.station + MOUTH_RELIEF
    return JointSlices(
        stations=stations,
        weights=weights,
        tenon=np.array([row.tenon.outermost() for row in rows]),
        tenon_wall=np.array([row.tenon.thinnest() for row in rows]),
        socket=np.array([row.socket.innermost() for row in rows]),
        socket_wall=np.array([row.socket.thinnest() for row in rows]),
        overlap=np.array([overlap_area(row.tenon, row.socket) for row in rows]),
        gap=np.array([row.gap for row in rows]),
        parallel=beyond_relief & (stations < cones),
        key_parallel=beyond_relief & (stations < _cones_start(joint, joint.key.relief)),
        cone=(stations > cones) & (stations < joint.tip),
        beyond_relief=beyond_relief & (stations < joint.roof_top),
        off_key=_rays_off_key(joint),
    )


def _cones_start(joint: Joint, relief: float) -> float:
    """Station of the lower of the tenon's and the socket's cones, `relief` further out."""
    tenon = joint.tip_height_at(joint.tenon_radius + relief)
    return min(tenon, joint.roof_height_at(joint.socket_radius + relief))


@dataclass(frozen=True, slots=True, eq=False)
class _Slice:
    tenon: Crossings
    socket: Crossings
    gap: float


def _measure_slice(part: Mesh, lower: Mesh, upper: Mesh, station: float) -> _Slice:
    below, above = cut_section(lower, station), cut_section(upper, station)
    bore, voids = loop_areas(cut_section(part, station)), loop_areas(above)
    gap = bore[bore < 0.0].sum() - voids[voids < 0.0].sum() - loop_areas(below).sum()
    return _Slice(cross_rays(below, RAYS), cross_rays(above, RAYS), float(gap))


def _levels(lower: Mesh, upper: Mesh, joint: Joint) -> FloatArray:
    """Stations between which the joint's surfaces run on smoothly, ascending."""
    bottom = min(float(upper.vertices[:, 2].min()), joint.station)
    top = max(float(lower.vertices[:, 2].max()), joint.roof_top)
    flats = [
        flat_levels(mesh, bottom, top, facing) for mesh in (lower, upper) for facing in (1, -1)
    ]
    designed = np.array(
        [
            joint.station + MOUTH_RELIEF,
            *(joint.tip_height_at(joint.tenon_radius + out) for out in (0.0, joint.key.relief)),
            *(joint.roof_height_at(joint.socket_radius + out) for out in (0.0, joint.key.relief)),
            joint.tip,
            joint.roof_top,
        ]
    )
    every = np.sort(np.concatenate([*flats, designed, [bottom, top]]))
    return every[(every >= bottom) & (every <= top)]


def flat_levels(mesh: Mesh, low: float, high: float, facing: int) -> FloatArray:
    """Stations from low to high of the corners of faces flat across the axis.

    facing : 1 for faces that look up, -1 for faces that look down
    """
    near = band_of(mesh, low, high)
    flat = triangle_normals(near)[0][:, 2] * facing > LEVEL_FLATNESS
    stations: FloatArray = np.unique(near.vertices[near.triangles[flat], 2])
    return stations


def _gauss_points(levels: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Three Gauss points in every panel between levels, none longer than 2.5 mm."""
    apart = np.concatenate([[True], np.diff(levels) > CONTACT])
    bounds = levels[apart]
    pieces = np.ceil(np.diff(bounds) / _LONGEST_PANEL).astype(np.int64)
    lengths = np.repeat(np.diff(bounds) / pieces, pieces)
    starts = bounds[0] + np.cumsum(lengths) - lengths
    stations = starts[:, None] + lengths[:, None] * _GAUSS_PLACES
    return stations.ravel(), (lengths[:, None] * _GAUSS_WEIGHTS).ravel()


def _rays_off_key(joint: Joint) -> BoolArray:
    key = joint.key
    turn = np.abs(np.angle(np.exp(1j * (ray_angles(RAYS) - key.angle))))
    off: BoolArray = turn > key.half_width + key.side_gap + _BESIDE_KEY
    return off


def turn_collisions(
    tenon: FloatArray, socket: FloatArray, turns: IntArray, depth: float
) -> BoolArray:
    """(k,) whether the tenon, turned by each number of rays, enters the socket by `depth`.

    Parameters
    ----------
    tenon, socket : (s, n) mm, outermost and innermost radii along n rays, in s slices
    turns : (k,) rays, from -n to n; positive as angles grow
    depth : mm, radial
    """
    count = tenon.shape[1]
    thrice, bound = np.tile(tenon, 3), socket + depth
    hits = [(thrice[:, count - k : 2 * count - k] > bound).any() for k in turns.tolist()]
    return np.array(hits)


def spread_parallel(slices: JointSlices, most: int) -> IntArray:
    """Indices of up to `most` slices spread over the joint's parallel part."""
    chosen = np.flatnonzero(slices.parallel)
    assert len(chosen), "the design keeps a parallel part beyond the mouth's relief"
    places = np.linspace(0, len(chosen) - 1, most).astype(np.int64)
    spread: IntArray = chosen[np.unique(places)]
    return spread


def radii_at(
    lower: Mesh, upper: Mesh, stations: FloatArray, rays: int
) -> tuple[FloatArray, FloatArray]:
    """(s, rays) outermost radii of the lower piece and innermost of the upper."""
    pairs = [(cut_section(lower, z), cut_section(upper, z)) for z in stations.tolist()]
    tenon = np.array([cross_rays(below, rays).outermost() for below, _ in pairs])
    socket = np.array([cross_rays(above, rays).innermost() for _, above in pairs])
    return tenon, socket
