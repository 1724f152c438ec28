"""How the part lies in a view: its scale there, which way it is seen, where its points are."""

from __future__ import annotations

import math
from dataclasses import dataclass

import bpy
import numpy as np
from mathutils import Matrix, Vector

from ...core.showing.label_places import Box, Point
from ...core.values import Frame

OCTAVES = 2.0
"""The drawing is made anew each time that the scale has grown by this root of two."""
LIFT = 2.0
ALONG = 0.97
"""Seen so much along the axis, nothing is drawn beside the part."""


@dataclass(frozen=True, slots=True)
class SeenPart:
    """A part in a view.

    to_world : part frame, mm, to world
    to_facing : turns the plane y = 0 about the axis until it faces who looks
    mm_per_pixel : at the point of the axis that is looked at
    step : `mm_per_pixel`, in steps of a part of an octave
    along : whether it is seen from about its end
    to_front : in the view's own space, brings what lies on the part a little before it
    """

    to_world: Matrix
    to_facing: Matrix
    mm_per_pixel: float
    step: int
    along: bool
    to_front: Matrix

    @property
    def drawn_scale(self) -> float:
        """The scale that it is drawn for, mm a pixel."""
        return math.exp2(self.step / OCTAVES)


def see_part(
    frame: Frame,
    scale_to_mm: float,
    length: float,
    view: bpy.types.RegionView3D,
    *,
    width: float,
    clip_start: float,
) -> SeenPart:
    """How a part lies in a view.

    width : of the region, pixels
    clip_start : the nearest that anything is drawn, scene units
    """
    to_world = world_matrix(frame, scale_to_mm)
    to_part = to_world.inverted()
    looked_at = to_part @ view.view_location
    station = min(max(looked_at.z, 0.0), length)
    place = to_world @ Vector((0.0, 0.0, station))
    pixel = _pixel_size(view, place, width)
    mm_per_pixel = pixel * scale_to_mm
    toward = to_part.to_3x3() @ _toward_viewer(view, place)
    toward.normalize()
    angle = math.atan2(toward.x, -toward.y)
    return SeenPart(
        to_world=to_world,
        to_facing=Matrix.Rotation(angle, 4, "Z"),
        mm_per_pixel=mm_per_pixel,
        step=round(OCTAVES * math.log2(mm_per_pixel)),
        along=abs(toward.z) > ALONG,
        to_front=_lifted(view, place, pixel, clip_start),
    )


def world_matrix(frame: Frame, scale_to_mm: float) -> Matrix:
    """Part frame, mm, to world coordinates."""
    matrix = np.eye(4)
    matrix[:3, :3] = frame.rows.T / scale_to_mm
    matrix[:3, 3] = frame.origin / scale_to_mm
    return Matrix(matrix.tolist())


def _lifted(view: bpy.types.RegionView3D, place: Vector, pixel: float, clip_start: float) -> Matrix:
    """A little nearer to the viewer: more than a pixel, and than a step of the depth buffer.

    In perspective by shrinking toward the eye, which moves nothing on the screen. A step of
    the buffer's 24 bits is z^2 / (near 2^24) at a depth z.
    """
    if not view.is_perspective:
        return Matrix.Translation((0.0, 0.0, LIFT * pixel))
    depth = abs((view.view_matrix @ place).z)
    lift = LIFT * max(pixel, depth**2 / (clip_start * 2.0**24))
    return Matrix.Scale(max(0.5, 1.0 - lift / depth), 4)


def _toward_viewer(view: bpy.types.RegionView3D, place: Vector) -> Vector:
    back = view.view_matrix.inverted()
    return back.translation - place if view.is_perspective else back.to_3x3() @ Vector((0, 0, 1))


def _pixel_size(view: bpy.types.RegionView3D, place: Vector, width: float) -> float:
    """World units that a pixel is wide at a place."""
    matrix = view.perspective_matrix
    depth = abs((matrix @ place.to_4d()).w)
    across: float = matrix[0].to_3d().length
    return max(2.0 * depth / (width * across), 1e-9)


def free_box(area: bpy.types.Area, window: bpy.types.Region) -> Box:
    """Of a view's main region, what no other region of the area lies over; pixels of it."""
    left, low, right, high = 0.0, 0.0, float(window.width), float(window.height)
    for other in area.regions:
        if other.type == "WINDOW" or min(other.width, other.height) <= 1:
            continue
        start, stop = other.x - window.x, other.x - window.x + other.width
        under, over = other.y - window.y, other.y - window.y + other.height
        if other.alignment == "LEFT" and start <= left:
            left = max(left, stop)
        elif other.alignment == "RIGHT" and stop >= right:
            right = min(right, start)
        elif other.alignment == "TOP" and over >= high:
            high = min(high, under)
        elif other.alignment == "BOTTOM" and under <= low:
            low = max(low, over)
    return left, low, right, high


def on_screen(
    matrix: Matrix, place: tuple[float, float, float], width: float, height: float
) -> Point | None:
    """Pixels of a point; None of one behind the viewer. matrix : to clip coordinates."""
    point = matrix @ Vector((*place, 1.0))
    if point.w <= 0.0:
        return None
    return (
        width * (0.5 + 0.5 * point.x / point.w),
        height * (0.5 + 0.5 * point.y / point.w),
    )
