"""What is this part? Axis, bore, outside, wall, side holes, ornaments."""

from __future__ import annotations

import math

import numpy as np

from ..errors import BadSetting, NotTubular
from ..meshes.mesh_checks import sound_mesh
from ..values import (
    BORE,
    HIGH_END,
    LOW_END,
    OTHER,
    OUTSIDE,
    ROUND_OFF,
    BoolArray,
    FloatArray,
    Frame,
    IntArray,
    Mesh,
    Ornament,
    RoundSurface,
    Survey,
    WallStretch,
)
from .cylinder_fit import ConeFit, frame_rows
from .openings import find_ornaments, find_side_holes, patches_of_other
from .round_surfaces import (
    RADIAL_COSINE,
    Facets,
    FoundSurface,
    belongs,
    find_bore,
    find_outside,
    measure_facets,
)

_ALMOST_X_DEG = 1.0
_SAME_COMPONENT = 0.001
_NOISE_REACH = 3.0
_MOST_BAND = 0.5
"""Widest band, mm, in which vertices are looked for: a fit must not see the other side."""


def survey_part(mesh: Mesh, *, max_move: float, flip: bool = False) -> Survey:
    """Read a mesh in millimetres: what it is, where, and which triangle belongs to what.

    Parameters
    ----------
    mesh : as it came, any pose, mm
    max_move : mm, how far off a surface a vertex may lie and still belong to it
    flip : the other end is the low end

    Raises
    ------
    BadMesh : not one sound closed body
    NotTubular : no round bore or no round outside about it
    """
    sound, remarks = sound_mesh(mesh)
    facets = measure_facets(sound)
    band = max(max_move, ROUND_OFF)
    bore = find_bore(facets, min(band, _MOST_BAND))
    outside = find_outside(facets, bore.cone, min(band, _MOST_BAND))
    direction = axis_direction(bore.cone.direction, flip=flip)
    _check_reach(bore, outside, max_move)
    labels = _label_round(facets, bore, outside, band)
    _label_ends(facets, labels, direction, band)
    frame = _part_frame(facets, labels, bore.cone, direction)
    part = Mesh(frame.to_part(sound.vertices), sound.triangles)
    return _describe(part, facets, labels, frame, bore, outside, band, remarks)


def axis_direction(direction: FloatArray, *, flip: bool) -> FloatArray:
    """The axis with its component of largest magnitude positive (the first of equals)."""
    sizes = np.abs(direction)
    leading = int(np.flatnonzero(sizes >= sizes.max() - _SAME_COMPONENT)[0])
    sign = math.copysign(1.0, direction[leading]) * (-1.0 if flip else 1.0)
    return direction * sign


def _check_reach(bore: FoundSurface, outside: FoundSurface, max_move: float) -> None:
    """Bore and outside must not both be within max_move of one point."""
    at = outside.cone.point - bore.cone.point
    along = float(at @ bore.cone.direction)
    inner = bore.cone.radius_at_point + bore.cone.slope * along
    wall = outside.cone.radius_at_point - inner
    if 2.0 * max_move > wall > 0.0:
        raise BadSetting(
            f"a max-move of {max_move:.3f} mm in a wall of some {wall:.2f} mm",
            "less than half of the wall",
            f"--max-move {math.floor(wall * 50.0 - 1.0) / 100.0:.2f} or less",
        )


def _label_round(
    facets: Facets, bore: FoundSurface, outside: FoundSurface, band: float
) -> IntArray:
    labels = np.full(len(facets.areas), OTHER)
    labels[belongs(facets, outside, band, inward=False)] = OUTSIDE
    labels[belongs(facets, bore, band, inward=True)] = BORE
    return labels


def _label_ends(facets: Facets, labels: IntArray, direction: FloatArray, band: float) -> None:
    """Mark the flat ends: square to the axis, near the part's extremes, level within the band."""
    stations = facets.mesh.vertices @ direction
    facing = facets.normals @ direction
    for label, sign in ((LOW_END, -1.0), (HIGH_END, 1.0)):
        square = sign * facing > RADIAL_COSINE
        extreme = sign * float((sign * stations).max())
        near = (np.abs(stations - extreme) <= 2.0 * band)[facets.mesh.triangles].all(axis=1)
        flat = facets.mesh.triangles[square & near]
        plane = float(np.median(stations[np.unique(flat)])) if len(flat) else extreme
        level = (np.abs(stations - plane) <= band)[facets.mesh.triangles].all(axis=1)
        labels[square & near & level] = label


def _end_station(facets: Facets, labels: IntArray, label: int, direction: FloatArray) -> float:
    """Where an end lies along the axis: the median of its flat, else the farthest vertex."""
    stations = facets.mesh.vertices @ direction
    corners = np.unique(facets.mesh.triangles[labels == label])
    if len(corners):
        return float(np.median(stations[corners]))
    return float(stations.min() if label == LOW_END else stations.max())


def _part_frame(facets: Facets, labels: IntArray, bore: ConeFit, direction: FloatArray) -> Frame:
    across_x = math.degrees(math.acos(min(1.0, abs(float(direction[0])))))
    reference = np.eye(3)[1 if across_x < _ALMOST_X_DEG else 0]
    low = _end_station(facets, labels, LOW_END, direction)
    origin = bore.point + (low - bore.point @ direction) * direction
    return Frame(origin, frame_rows(direction, reference))


def _describe(
    part: Mesh,
    facets: Facets,
    labels: IntArray,
    frame: Frame,
    bore: FoundSurface,
    outside: FoundSurface,
    band: float,
    remarks: tuple[str, ...],
) -> Survey:
    high = _end_station(facets, labels, HIGH_END, frame.rows[2])
    length = high - float(frame.origin @ frame.rows[2])
    inner = _in_part(bore, frame, part.vertices[_corners(part, labels, BORE)], length)
    outer = _in_part(outside, frame, part.vertices[_corners(part, labels, OUTSIDE)], length)
    patches = patches_of_other(labels, facets.twin)
    holes, hole_patches = find_side_holes(part, labels, facets.twin, patches, outer)
    ornaments = find_ornaments(
        part, labels, facets.twin, patches, hole_patches, inner, outer, 2.0 * band
    )
    least, median = _walls(inner, outer, ornaments)
    return Survey(
        mesh=part,
        labels=labels,
        numbers=np.zeros(len(labels), np.int64),
        frame=frame,
        length=length,
        bores=(inner,),
        outsides=(outer,),
        walls=(
            WallStretch(
                (0,), inner, outer, max(inner.start, outer.start), min(inner.stop, outer.stop)
            ),
        ),
        side_holes=holes,
        ornaments=ornaments,
        wall_least=least,
        wall_median=median,
        remarks=remarks,
        beyond_ends=_beyond(part, length, (labels != LOW_END) & (labels != HIGH_END)),
        beyond_rough_ends=_beyond(part, length, np.ones(len(labels), bool)),
    )


def _beyond(part: Mesh, length: float, chosen: BoolArray) -> tuple[float, float]:
    """How far the chosen triangles reach past the low and the high end, mm.

    Corners that they share with a flat end lie on its plane.
    """
    flat = np.zeros(len(part.vertices), bool)
    flat[part.triangles[~chosen].ravel()] = True
    stations = part.vertices[~flat, 2]
    low, high = float(stations.min(initial=0.0)), float(stations.max(initial=length))
    return max(0.0, -low), max(0.0, high - length)


def _corners(part: Mesh, labels: IntArray, label: int) -> IntArray:
    corners: IntArray = np.unique(part.triangles[labels == label])
    return corners


def _in_part(found: FoundSurface, frame: Frame, points: FloatArray, length: float) -> RoundSurface:
    """A found cone as seen from the part frame, over the stretch of its points."""
    cone = found.cone
    centre = frame.to_part(cone.point[None])[0]
    slope = cone.slope * math.copysign(1.0, float(cone.direction @ frame.rows[2]))
    surface = RoundSurface(
        radius_at_zero=cone.radius_at_point - slope * float(centre[2]),
        slope=slope,
        start=max(0.0, float(points[:, 2].min())),
        stop=min(length, float(points[:, 2].max())),
        offset=(float(centre[0]), float(centre[1])),
        rms=cone.rms_residual,
        sagitta=found.sagitta_share * cone.radius_at_point + _NOISE_REACH * cone.rms_residual,
    )
    return surface


def _walls(
    bore: RoundSurface, outside: RoundSurface, ornaments: tuple[Ornament, ...]
) -> tuple[float, float]:
    """Least and median wall, mm, of the round stretch; recesses count in the least."""
    start, stop = max(bore.start, outside.start), min(bore.stop, outside.stop)
    if stop <= start:
        raise NotTubular(
            f"a bore from {bore.start:.2f} to {bore.stop:.2f} mm and an outside from "
            f"{outside.start:.2f} to {outside.stop:.2f} mm",
            "a stretch that has both",
            "a part whose bore runs within its outside",
        )
    ends = [outside.radius_at(z) - bore.radius_at(z) for z in (start, stop)]
    least = min(ends) - outside.eccentricity
    if least <= 0.0:
        raise NotTubular(
            f"a bore that leaves a wall of {least:.2f} mm",
            "a bore inside its outside",
            "check the mesh: bore and outside cross",
        )
    for ornament in ornaments:
        middle = min(max((ornament.start + ornament.stop) / 2.0, start), stop)
        left = ornament.least_radius - bore.radius_at(middle)
        is_recess = left < min(ends) - outside.eccentricity - outside.sagitta - ROUND_OFF
        if ornament.place == "outside" and is_recess and left > 0.0:
            least = min(least, left)
    return least, sum(ends) / 2.0
