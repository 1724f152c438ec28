"""The faces of a joint around two bores: round each bore, and over the web between them.

Seen along the axis, a hull's outline is two arcs and two flanks, and so are the faces
between it and the bores. By an arc they are as round one bore. By a flank they lie in
planes: the roof in one at 45 degrees up to the ridge, which lies over the line between the
centres; the tenon's end level up to the line that touches both bores, and from there
parallel to the roof. Those planes cut each bore along a curve on the web's side, and the bore's
wall is made anew between that curve and the level at which it was cut.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..values import AXIAL_GAP, FloatArray, IntArray, RoundSurface, Tenon
from .face_builder import FaceBuilder
from .footprint import Footprint
from .hull import hull_outline
from .open_ends import CutBores

_BESIDE = 0.02
"""A generator nearer than this, mm, to the ridge gives way."""

_SECOND_ARC, _LEFT, _FIRST_ARC, _RIGHT = range(4)
"""Parts of an outline, counter-clockwise."""


@dataclass(frozen=True, slots=True, eq=False)
class _Curve:
    """Where a joint's faces meet one bore: vertices by growing angle from the arc's start.

    The arc starts and ends at the bore's vertices that stand out the most to the flanks.

    arc_end : number of the vertex at which the arc ends and the web's side begins
    ridge : number of the vertex on the ridge
    """

    numbers: IntArray
    arc_end: int
    ridge: int

    @property
    def arc(self) -> IntArray:
        """Along the arc, both ends included."""
        return self.numbers[: self.arc_end + 1]

    @property
    def to_ridge(self) -> IntArray:
        """From the arc's end up to the ridge."""
        return self.numbers[self.arc_end : self.ridge + 1]

    @property
    def from_ridge(self) -> IntArray:
        """From the ridge down to the arc's start."""
        return np.append(self.numbers[self.ridge :], self.numbers[0])


def add_tenon_ridge(
    builder: FaceBuilder, bores: CutBores, tenon: Tenon, outline: Footprint, land: IntArray
) -> None:
    """From the land inward: the level face, the rise to the ridge, and the bores' wall below."""
    top = tenon.tip + tenon.bore_radius_at_tip
    first, second = _curves(builder, tenon, bores, top, level=tenon.tip)
    _add_faces(builder, tenon, outline, land, (first, second), up=True)
    for ring, curve, centre in zip(bores.rings, (first, second), tenon.centres, strict=True):
        builder.band(ring, curve.numbers, centre, closed=True, up=False)


def add_roof_ridge(
    builder: FaceBuilder, bores: CutBores, tenon: Tenon, outline: Footprint, head: IntArray
) -> None:
    """From the socket's wall inward: the roof up to the ridge, and the bores' wall above."""
    top = tenon.tip + AXIAL_GAP + tenon.bore_radius_at_tip + tenon.land
    first, second = _curves(builder, tenon, bores, top, level=None)
    _add_faces(builder, tenon, outline, head, (first, second), up=False)
    for ring, curve, centre in zip(bores.rings, (first, second), tenon.centres, strict=True):
        builder.band(curve.numbers, ring, centre, closed=True, up=False)


def _add_faces(
    builder: FaceBuilder,
    tenon: Tenon,
    outline: Footprint,
    ring: IntArray,
    curves: tuple[_Curve, _Curve],
    *,
    up: bool,
) -> None:
    """All between a ring around both bores and their curves: by arcs and flanks, over the web."""
    first, second = curves
    for disc, part, curve in ((0, _FIRST_ARC, first), (1, _SECOND_ARC, second)):
        chain = ring[outline.chain(part)]
        builder.band(chain, curve.arc, tenon.centres[disc], closed=False, up=up)
    for part, start, stop in ((_LEFT, second, first), (_RIGHT, first, second)):
        touched = [stop.numbers[0], start.arc[-1]]
        builder.plane(np.concatenate([ring[outline.chain(part)], touched]), up=up)
        builder.between(stop.from_ridge[::-1], start.to_ridge, up=up)


@dataclass(frozen=True, slots=True, eq=False)
class _Lie:
    """How one disc of a hull lies to the other.

    start, span : radians, where its arc starts and how long it is
    ridge : direction to the other disc
    before, after : (2,) normals of the flank at the arc's end and of that at its start
    arm : (2,) mm, from the first disc's centre
    """

    start: float
    span: float
    ridge: float
    before: FloatArray
    after: FloatArray
    arm: FloatArray


def _lie(tenon: Tenon, disc: int) -> _Lie:
    centres = np.array(tenon.centres)
    radii = tenon.bore_radius_at_tip + np.array(tenon.swells)
    _, normals = hull_outline(centres, radii, 0.0, math.inf)
    after, before = normals[[2, 3]] if disc == 0 else normals[[0, 1]]
    start, stop = (math.atan2(normal[1], normal[0]) for normal in (after, before))
    other = centres[1 - disc] - centres[disc]
    return _Lie(
        start=start,
        span=float(np.mod(stop - start, 2.0 * math.pi)),
        ridge=math.atan2(other[1], other[0]),
        before=before,
        after=after,
        arm=centres[disc] - centres[0],
    )


def _curves(
    builder: FaceBuilder, tenon: Tenon, bores: CutBores, top: float, *, level: float | None
) -> tuple[_Curve, _Curve]:
    """The curves in both bores; see `_curve`."""
    first, second = (
        _curve(builder, tenon, disc, bore, generators, top, level=level)
        for disc, (bore, generators) in enumerate(
            zip(bores.surfaces, bores.generators, strict=True)
        )
    )
    return first, second


def _curve(
    builder: FaceBuilder,
    tenon: Tenon,
    disc: int,
    bore: RoundSurface,
    generators: FloatArray,
    top: float,
    *,
    level: float | None,
) -> _Curve:
    """New vertices on a bore's generators, and one on the ridge, at station `top` - u.

    level : that of the arc instead, and the least of all
    """
    lie = _lie(tenon, disc)
    gone = np.mod(generators - lie.start, 2.0 * math.pi)
    first = generators[np.abs(np.angle(np.exp(1j * gone))).argmin()]
    turned = np.sort(np.mod(generators - first, 2.0 * math.pi))
    span, ridge = np.mod(np.array([lie.start + lie.span, lie.ridge]) - first, 2.0 * math.pi)
    arc_end = turned[np.abs(turned - span).argmin()]
    after = int(np.searchsorted(turned, ridge))
    half = (turned[after] - turned[after - 1]) / 2.0
    chord = math.cos(half) / math.cos(ridge - turned[after] + half)
    kept = turned[np.abs(turned - ridge) * bore.radius_at(tenon.tip) > _BESIDE]
    at = int(np.searchsorted(kept, ridge))
    angles = np.insert(kept, at, ridge)
    shares = np.insert(np.ones(len(kept)), at, chord)
    on_arc = angles <= arc_end
    toward = first + angles
    directions = np.column_stack([np.cos(toward), np.sin(toward)])
    normals = np.where(
        on_arc[:, None], directions, np.where((angles <= ridge)[:, None], lie.before, lie.after)
    )
    reach = np.where(on_arc, -tenon.swells[disc], normals @ lie.arm)
    along = shares * (normals * directions).sum(axis=1)
    stations = (top - reach - along * bore.radius_at_zero) / (1.0 + along * bore.slope)
    if level is not None:
        stations = np.where(on_arc | (angles == angles[0]), level, np.maximum(stations, level))
    radii = (shares * bore.radii_at(stations))[:, None]
    points = np.column_stack([np.array(tenon.centres[disc]) + radii * directions, stations])
    return _Curve(builder.ring(points), int(np.flatnonzero(on_arc)[-1]), at)
