"""What a joint is to look like from above: around which bores, where its middle and its key."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..jointing.hull import hull_middle, hull_parameter, outline_place, outline_points
from ..values import BoolArray, FloatArray, Joint, RoundSurface, Survey

_BESIDE_KEY = np.radians(1.1)

ON_BORE = 0.1
"""What lies this near to the bore's radius, mm, belongs to the bore."""


@dataclass(frozen=True, slots=True, eq=False)
class JointShape:
    """A joint's outline, from above, in the part frame.

    bores : those that it runs around
    centres : (b, 2) mm, of their centre lines
    swell : (b,) mm, by how much each disc is wider than the first
    middle : (2,) mm, about which the joint would turn
    """

    joint: Joint
    bores: tuple[RoundSurface, ...]
    centres: FloatArray
    swell: FloatArray
    middle: FloatArray

    def parameters(self, points: FloatArray) -> FloatArray:
        """(n,) mm, the hull parameter u of each point."""
        return hull_parameter(points, self.centres, self.swell)

    def off_key(self, points: FloatArray) -> BoolArray:
        """(n,) whether points miss the key and its gaps: a strip square to the outline."""
        joint, radii = self.joint, self.joint.tenon_radius + self.swell
        half = (joint.key.half_width + joint.key.side_gap + _BESIDE_KEY) * joint.tenon_radius
        place = outline_place(self.centres, radii, 0.0, joint.key.angle)
        feet, normals = outline_points(
            self.centres, radii, 0.0, np.array([place - half, place, place + half])
        )
        first, last = (_cross(normals[k], points - feet[k]) for k in (0, 2))
        in_front = (points - self.middle) @ normals[1] > 0.0
        off: BoolArray = ~((first >= 0.0) & (last <= 0.0) & in_front)
        return off

    def on_bores(self, points: FloatArray, stations: FloatArray) -> BoolArray:
        """(n,) whether points lie on the wall of one of the bores, or in it."""
        on = np.zeros(len(points), bool)
        for bore, centre in zip(self.bores, self.centres, strict=True):
            radii = np.hypot(points[:, 0] - centre[0], points[:, 1] - centre[1])
            on |= radii < bore.radii_at(stations) + ON_BORE
        return on


def shape_of(joint: Joint, survey: Survey) -> JointShape:
    """The shape that a joint was designed to."""
    centres = np.array(joint.centres)
    return JointShape(
        joint,
        tuple(survey.bores[k] for k in joint.bores),
        centres,
        np.array(joint.swells),
        hull_middle(centres),
    )


def _cross(normal: FloatArray, arms: FloatArray) -> FloatArray:
    turned: FloatArray = normal[0] * arms[:, 1] - normal[1] * arms[:, 0]
    return turned
