"""Faces of a joint that print in the air, the groove left in the bores, the holes' guard."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.mesh_checks import triangle_normals
from ..values import AXIAL_GAP, Check, FloatArray, Mesh, RoundSurface, Settings, Survey
from .joint_levels import CONTACT
from .joint_shape import ON_BORE, JointShape
from .section import any_corner
from .verdicts import at_least, at_most, between, greatest

STEEPEST_DEG = 45.0
FACET_SLOPE_DEG = 0.5
"""What facets may add to a 45 degree cone: a facet whose one edge is a chord of 0.005
sagitta leans over by atan(1 + 0.005 / width) - 45, which is 0.2 at the least width of a
roof, 0.8; the rest is for the rounding of narrow facets to float32."""

NARROWEST_FACET = 1e-3
"""Facets narrower than this, mm, are passed over: rounding turns them, none prints."""


_BESIDE_SOCKET = 0.1
"""Faces all of whose corners lie farther than this, mm, out of the groove's reach are the
part's own: its walls stand farther off."""


@dataclass(frozen=True, slots=True, eq=False)
class _Faces:
    """Faces that lean over, or lie under the sky.

    angles : (k,) degrees from vertical
    corners : (k, 3, 3) mm
    """

    angles: FloatArray
    corners: FloatArray

    def flat(self) -> FloatArray:
        """(n, 3) corners of those that lie rather than stand: roofs, and what they cover."""
        return self.corners[self.angles > STEEPEST_DEG / 2.0].reshape(-1, 3)


def roof_checks(
    shape: JointShape,
    lower: Mesh,
    upper: Mesh,
    survey: Survey,
    settings: Settings,
    facets: float,
    number: int,
) -> list[Check]:
    """Our faces print unsupported; the groove in the bore; the holes' guard.

    A roof leans over by as much as the bore it ends in is rough.

    Parameters
    ----------
    facets : how far, mm, those of the bores may stand into them
    """
    tenon = shape.tenon
    mouth = float(upper.vertices[:, 2].min())
    reach = tenon.reach + _BESIDE_SOCKET
    top = tenon.roof_top + min(settings.guard, 1.0) / 2.0
    roof = _faces(_zone(upper, shape, mouth, top, reach), looking=-1)
    zone = _zone(lower, shape, tenon.station + CONTACT, top, reach)
    under = _faces(zone, looking=-1)
    flattest = max(roof.angles.max(initial=0.0), under.angles.max(initial=0.0))
    roof_top = greatest(roof.flat()[:, 2])
    width = tenon.socket_radius - float(shape.bore_radii(np.array(tenon.roof_top)))
    lean = np.degrees(np.arctan2(width + facets, width)) - 45.0
    steepest = STEEPEST_DEG + max(FACET_SLOPE_DEG, lean)
    return [
        at_most("self_supporting", flattest, steepest, joint=number),
        *_groove_check(shape, lower, roof, facets, number, reach),
        *_guard_check(survey, settings.guard - 2.0 * facets, (mouth, roof_top), number),
    ]


def _groove_check(
    shape: JointShape, lower: Mesh, roof: _Faces, facets: float, number: int, reach: float
) -> list[Check]:
    """The groove left in the bores; in solid there is none to leave one in."""
    if not shape.bores:
        return []
    covered = _faces(_zone(lower, shape, shape.tenon.station + CONTACT, np.inf, reach), looking=1)
    groove = _groove(roof.flat(), covered.flat(), shape, facets)
    due = _groove_due(shape) + 2.0 * facets
    return [between("bore_groove", groove, 0.0, due, joint=number)]


def _zone(mesh: Mesh, shape: JointShape, low: float, high: float, reach: float) -> Mesh:
    """The faces in a zone, within reach of the bores, that our joint may be of.

    Faces on the zone's floor lie on the bed or the shoulder.
    """
    heights = mesh.vertices[:, 2]
    zoned = (heights >= low) & (heights <= high)
    ours = any_corner(zoned, mesh.triangles)
    ours &= any_corner(heights > low + NARROWEST_FACET, mesh.triangles)
    zone = mesh.triangles[ours]
    within = shape.parameters(mesh.vertices[:, :2]) < reach
    return Mesh(mesh.vertices, zone[any_corner(within, zone)])


def _faces(zone: Mesh, *, looking: int) -> _Faces:
    """Faces that look down (-1) and could want support, or up (1).

    Faces at the piece's very top have nothing of it above them.
    """
    normals, areas = triangle_normals(zone)
    corners = zone.vertices[zone.triangles]
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    kept = (normals[:, 2] * looking > 0.0) & (2.0 * areas > NARROWEST_FACET * sides)
    if looking < 0:
        top = zone.vertices[:, 2].max() - NARROWEST_FACET
        kept &= corners[:, :, 2].min(axis=1) < top
    angles: FloatArray = np.degrees(np.arcsin(np.minimum(np.abs(normals[kept, 2]), 1.0)))
    return _Faces(angles, corners[kept])


def _groove(roof: FloatArray, covered: FloatArray, shape: JointShape, facets: float) -> float:
    """Greatest length, mm, of the gap in any bore's wall from the tenon up to the roof.

    Both end in the wall along a rim, which between two bores runs over a ridge. Not a
    number where a rim is missing; where the roof lies lower, the least.
    """
    gaps = []
    for bore, centre in zip(shape.bores, shape.centres, strict=True):
        rims = [_rim(points, bore, centre, facets) for points in (covered, roof)]
        if not all(len(angles) for angles, _ in rims):
            return np.nan
        angles = np.concatenate([angles for angles, _ in rims])
        low, high = (np.interp(angles, *rim, period=2.0 * np.pi) for rim in rims)
        gaps.append(high - low)
    every = np.concatenate(gaps)
    return float(every.min() if every.min() < 0.0 else every.max())


def _rim(
    points: FloatArray, bore: RoundSurface, centre: FloatArray, facets: float
) -> tuple[FloatArray, FloatArray]:
    """(n,), (n,) angles and stations of the points on a bore's wall."""
    x, y, stations = points[:, 0] - centre[0], points[:, 1] - centre[1], points[:, 2]
    off = np.abs(np.hypot(x, y) - bore.radii_at(stations))
    on = off < facets + ON_BORE
    return np.arctan2(y[on], x[on]), stations[on]


def _groove_due(shape: JointShape) -> float:
    """The gap and the land, along a bore that may taper; it may thin a web from both sides."""
    slopes = [bore.slope for bore in shape.bores]
    narrowing = min(slopes) if len(slopes) == 1 else -max(map(abs, slopes))
    return (AXIAL_GAP + shape.tenon.land) / (1.0 + narrowing)


def _guard_check(
    survey: Survey, guard: float, zone: tuple[float, float], number: int
) -> list[Check]:
    """Axial distance from the zone as built to the nearest edge of a side hole."""
    mouth, roof_top = zone
    distances = [max(hole.low - roof_top, mouth - hole.high) for hole in survey.side_holes]
    return [at_least("hole_guard", min(distances), guard, joint=number)] if distances else []
