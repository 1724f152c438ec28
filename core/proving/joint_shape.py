"""What a joint is to look like from above: around which bores, where its middle and its key."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..jointing.hull import hull_middle, hull_parameter, outline_place, outline_points
from ..meshes.angles import plane_lengths
from ..values import BoolArray, FloatArray, RoundSurface, Survey, Tenon

_BESIDE_KEY = np.radians(1.1)
_BESIDE_MARK = 0.01
"""Over a mark's top, mm."""

ON_BORE = 0.1
"""What lies this near to the bore's radius, mm, belongs to the bore."""


@dataclass(frozen=True, slots=True, eq=False)
class JointShape:
    """A tenon's outline, from above, in the part frame.

    bores : those that it runs around; none where it is solid
    centres : (b, 2) mm, of their centre lines
    swell : (b,) mm, by how much each disc is wider than the first
    middle : (2,) mm, about which it would turn
    """

    tenon: Tenon
    bores: tuple[RoundSurface, ...]
    centres: FloatArray
    swell: FloatArray
    middle: FloatArray

    def parameters(self, points: FloatArray) -> FloatArray:
        """(n,) mm, the hull parameter u of each point."""
        if len(self.centres) > 1:
            return hull_parameter(points, self.centres, self.swell)
        return plane_lengths(*(points.T - self.centres.T))

    def off_key(self, points: FloatArray, stations: FloatArray) -> BoolArray:
        """(n,) whether points at stations miss keys, and marks at their heights, and their gaps."""
        tenon = self.tenon
        off = np.ones(len(points), bool)
        low = stations < tenon.rib_roof if tenon.rib_height is not None else np.ones(len(off), bool)
        for key in tenon.keys:
            off &= ~(low & self._within(points, key.angle, key.half_width + key.side_gap))
        for mark in tenon.marks:
            low = np.flatnonzero(stations < tenon.station + mark.depth + _BESIDE_MARK)
            off[low] &= ~self._within(points[low], mark.angle, mark.half_width)
        return off

    def _within(self, points: FloatArray, angle: float, half_width: float) -> BoolArray:
        """(n,) whether points lie in a strip square to the outline, and a little beside it.

        What is nearer to a key's flank than the clearance faces the flank.
        """
        radii = self.tenon.tenon_radius + self.swell
        beside = max(_BESIDE_KEY * self.tenon.tenon_radius, self.tenon.radial_clearance)
        half = half_width * self.tenon.tenon_radius + beside
        place = outline_place(self.centres, radii, 0.0, angle)
        feet, normals = outline_points(
            self.centres, radii, 0.0, np.array([place - half, place, place + half])
        )
        x, y = points.T
        first, last = (
            normals[k][0] * (y - feet[k][1]) - normals[k][1] * (x - feet[k][0]) for k in (0, 2)
        )
        in_front = normals[1][0] * (x - self.middle[0]) + normals[1][1] * (y - self.middle[1])
        within: BoolArray = (first >= 0.0) & (last <= 0.0) & (in_front > 0.0)
        return within

    def bore_radii(self, stations: FloatArray) -> FloatArray:
        """(n,) mm, of the first bore; 0 where it is solid."""
        return self.bores[0].radii_at(stations) if self.bores else np.zeros_like(stations)

    def on_bores(self, points: FloatArray, stations: FloatArray) -> BoolArray:
        """(n,) whether points lie on the wall of one of the bores, or in it."""
        on = np.zeros(len(points), bool)
        for bore, centre in zip(self.bores, self.centres, strict=False):
            radii = plane_lengths(points[:, 0] - centre[0], points[:, 1] - centre[1])
            on |= radii < bore.radii_at(stations) + ON_BORE
        return on


def shape_of(tenon: Tenon, survey: Survey) -> JointShape:
    """The shape that a tenon was designed to."""
    centres = np.array(tenon.centres)
    return JointShape(
        tenon,
        tuple(survey.bores[k] for k in tenon.bores),
        centres,
        np.array(tenon.swells),
        hull_middle(centres),
    )
