"""A part's axis in the scene: where its stations are, and which one the mouse is at."""

from __future__ import annotations

from dataclasses import dataclass

import bpy
from bpy_extras import view3d_utils
from mathutils import Vector

from ...core.values import Frame
from ..overlay.view_scale import world_matrix

_END_ON = 0.05
"""Sine of the angle to the axis under which who looks cannot tell stations apart."""


@dataclass(frozen=True, slots=True)
class AxisInScene:
    """Lengths are units of the scene.

    origin : the point of the axis at station 0
    direction : of unit length
    scale_to_mm : of a unit
    """

    origin: Vector
    direction: Vector
    scale_to_mm: float

    def point(self, station: float) -> Vector:
        """The point of the axis at a station, mm."""
        return self.origin + self.direction * (station / self.scale_to_mm)

    def beside(self, looking: Vector) -> Vector:
        """Unit vector square to the axis, to the right of who looks along a direction."""
        across = looking.cross(self.direction)
        if across.length < _END_ON:
            across = self.direction.orthogonal()
        return across.normalized()


def axis_in_scene(frame: Frame, scale_to_mm: float) -> AxisInScene:
    """The axis of a part that was surveyed.

    frame : where it lies in its source's coordinates, mm
    """
    to_world = world_matrix(frame, scale_to_mm)
    return AxisInScene(to_world.translation, to_world.col[2].xyz.normalized(), scale_to_mm)


def looking(region: bpy.types.Region, view: bpy.types.RegionView3D, place: Vector) -> Vector:
    """Direction in which a point of the scene is looked at."""
    at = view3d_utils.location_3d_to_region_2d(region, view, place)
    middle = (region.width / 2.0, region.height / 2.0)
    return view3d_utils.region_2d_to_vector_3d(region, view, middle if at is None else at)


def station_at(
    region: bpy.types.Region,
    view: bpy.types.RegionView3D,
    mouse: tuple[float, float],
    axis: AxisInScene,
) -> float | None:
    """The station, mm, of the point of the axis nearest to the mouse.

    Parameters
    ----------
    mouse : pixels of the region

    Returns
    -------
    None : the axis is looked at end on
    """
    eye = view3d_utils.region_2d_to_origin_3d(region, view, mouse)
    ray = view3d_utils.region_2d_to_vector_3d(region, view, mouse)
    along = ray.dot(axis.direction)
    square = 1.0 - along * along
    if square < _END_ON**2:
        return None
    gap = axis.origin - eye
    distance = (ray.dot(gap) * along - axis.direction.dot(gap)) / square
    return float(distance * axis.scale_to_mm)
