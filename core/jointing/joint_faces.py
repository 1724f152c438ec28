"""The faces of a tenon and of a socket between the loops that cutting left open.

Rings of vertex numbers run with growing angle (counter-clockwise from above). A
joint keyed by a notch has open chains instead of rings, and two flanks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.ear_clipping import clip_ears
from ..meshes.polygon import fill_polygon, signed_area, stitch
from ..values import (
    FACET_ALLOWANCE,
    MOUTH_RELIEF,
    FloatArray,
    IntArray,
    Joint,
    RoundSurface,
)
from .footprint import Footprint, socket_footprint, tenon_footprint

_LEAST_RELIEF = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class OpenEnd:
    """What cutting left open at one joint of one piece.

    outer : ring at the seam
    inner : for a rib the ring of the bore; for a notch the part of it off the notch
    low, rise, fall : for a notch, the chain along the seam in the notch (growing
        angle), and the bore's chains up its flank at the start and at the end of
        `inner`, from the seam upward, corners included
    """

    outer: IntArray
    inner: IntArray
    low: IntArray
    rise: IntArray
    fall: IntArray


class FaceBuilder:
    """Vertices and triangles added to a piece."""

    def __init__(self, vertices: FloatArray) -> None:
        self.vertices = vertices
        self.faces: list[IntArray] = []

    def ring(self, points: FloatArray) -> IntArray:
        """Numbers of new vertices."""
        numbers = len(self.vertices) + np.arange(len(points))
        self.vertices = np.vstack([self.vertices, points])
        return numbers

    def band(self, first: IntArray, second: IntArray, *, closed: bool, up: bool) -> None:
        """Triangles between two rings; `up` shows the side with the first ring below."""
        x, y = self.vertices[:, 0], self.vertices[:, 1]
        angles = [np.arctan2(y[chain], x[chain]) for chain in (first, second)]
        numbers = np.concatenate([first, second])
        self._take(numbers[np.array(stitch(*angles, closed=closed))], up=up)

    def flat(self, outer: IntArray, inner: IntArray, *, up: bool) -> None:
        """A level face between an outer ring and an inner one."""
        points = self.vertices[:, :2]
        self._take(np.array(fill_polygon(points, outer, [inner[::-1]])), up=up)

    def flank(self, outline: IntArray, angle: float, *, up: bool) -> None:
        """A radial face at an angle; `up` shows the side from which angles grow."""
        corners = self.vertices[outline]
        reach = corners[:, 0] * np.cos(angle) + corners[:, 1] * np.sin(angle)
        points = np.column_stack([reach, corners[:, 2]])
        if signed_area(points) < 0.0:
            outline, points = outline[::-1], points[::-1]
        self._take(outline[np.array(clip_ears(points))], up=up)

    def _take(self, faces: IntArray, *, up: bool) -> None:
        a, b, c = faces.T
        whole = faces[(a != b) & (b != c) & (c != a)]
        self.faces.append(whole if up else whole[:, ::-1])


def add_tenon(builder: FaceBuilder, end: OpenEnd, joint: Joint, generators: FloatArray) -> None:
    """Shoulder, tenon wall, tip cone and land on the lower piece."""
    outline = tenon_footprint(joint, generators)
    tops = np.array([joint.tip_height_at(radius) for radius in outline.radii])
    land_radius = np.full(len(outline.radii), joint.bore_radius_at_tip + joint.land)
    foot = builder.ring(outline.points(outline.radii, np.full(len(tops), joint.station)))
    head = builder.ring(outline.points(outline.radii, tops))
    land = builder.ring(outline.points(land_radius, np.full(len(tops), joint.tip)))
    closed = outline.closed
    builder.flat(end.outer, np.concatenate([foot, end.low]), up=True)
    for first, second in ((foot, head), (head, land), (land, end.inner)):
        builder.band(first, second, closed=closed, up=True)
    if not closed:
        for k, side, facing in ((0, end.rise, True), (-1, end.fall, False)):
            corner = np.concatenate([[foot[k], head[k], land[k]], side[::-1]])
            builder.flank(corner, float(outline.angles[k]), up=facing)


def add_socket(
    builder: FaceBuilder,
    end: OpenEnd,
    joint: Joint,
    generators: FloatArray,
    outside: RoundSurface,
    least_wall: float,
) -> None:
    """Mouth, its relief, socket wall and roof cone in the upper piece."""
    outline = socket_footprint(joint, generators)
    relief = _mouth_relief(outline, joint, outside, least_wall)
    bottoms = joint.station + relief
    tops = np.array([joint.roof_height_at(radius) for radius in outline.radii])
    mouth = builder.ring(
        outline.points(outline.radii + relief, np.full(len(relief), joint.station))
    )
    foot = builder.ring(outline.points(outline.radii, bottoms))
    foot = np.where(relief > 0.0, foot, mouth)
    head = builder.ring(outline.points(outline.radii, tops))
    closed = outline.closed
    builder.flat(end.outer, np.concatenate([mouth, end.low]), up=False)
    for first, second in ((mouth, foot), (foot, head), (head, end.inner)):
        builder.band(first, second, closed=closed, up=False)
    if not closed:
        for k, side, facing in ((0, end.rise, False), (-1, end.fall, True)):
            step = [mouth[k]] if mouth[k] == foot[k] else [mouth[k], foot[k]]
            corner = np.concatenate([step, [head[k]], side[::-1]])
            builder.flank(corner, float(outline.angles[k]), up=facing)


def _mouth_relief(
    outline: Footprint, joint: Joint, outside: RoundSurface, least_wall: float
) -> FloatArray:
    """Bevel at the mouth, mm, at each corner: none where the wall has none to spare."""
    narrowest = min(outside.radius_at(joint.station), outside.radius_at(joint.tip))
    limit = narrowest - outside.eccentricity - outside.sagitta - least_wall - FACET_ALLOWANCE / 2.0
    relief = np.minimum(MOUTH_RELIEF, limit - outline.radii)
    return np.where(relief >= _LEAST_RELIEF, relief, 0.0)
