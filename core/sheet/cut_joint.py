"""A joint cut out of a part in the plane that tells most of it, and how much of it is drawn."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..jointing.collar_design import mating_surface
from ..values import Joint
from .assembled import AssembledPart, spans_at
from .cross_sections import Loops, Plane, Window, section_along
from .joint_notes import telling_plane
from .scales import Scale, fitting_scale

_ROOM = (52.0, 68.0)
"""For the section itself, mm on paper."""

_BEYOND_ZONE = 4.0
"""How much of the pieces is drawn over and under a joint, mm, at the least."""

View = Literal["full", "half", "wall"]


@dataclass(frozen=True, slots=True, eq=False)
class CutJoint:
    """A joint's pieces in section.

    numbers : of its pieces, from 0, as the whole part counts them
    view : how much of it is drawn
    """

    joint: Joint
    whole: AssembledPart
    numbers: tuple[int, ...]
    plane: Plane
    sections: tuple[Loops, ...]
    window: Window
    view: View

    @property
    def scale(self) -> Scale:
        """The largest that it has room for."""
        return _scale_of(self.window)


def cut_joint(whole: AssembledPart, joint: Joint, number: int) -> CutJoint:
    """A joint's pieces in the plane that tells most of it.

    number : of the joint, from 0
    """
    plane = telling_plane(joint)
    numbers = _pieces_at(whole, joint, number)
    sections = tuple(section_along(whole.meshes[k], plane) for k in numbers)
    low, high = joint.zone
    margin = max(_BEYOND_ZONE, 0.08 * (high - low))
    low, high = low - margin, high + margin
    spans = [
        span
        for loops in sections
        for station in np.linspace(low, high, 23).tolist()
        for span in spans_at(loops, station, (-math.inf, math.inf))
    ]
    left, right = min(a for a, _ in spans) - 0.2, max(b for _, b in spans) + 0.2
    view, left = _viewed(spans, (left, right), high - low, joint, plane)
    window = Window(left, right, low, high)
    return CutJoint(joint, whole, numbers, plane, sections, window, view)


def _viewed(
    spans: list[tuple[float, float]],
    sides: tuple[float, float],
    height: float,
    joint: Joint,
    plane: Plane,
) -> tuple[View, float]:
    """How much is drawn, and from where across: half of what is round where it is larger so."""
    axis = axis_across(joint, plane)
    whole = fitting_scale((sides[1] - sides[0], height), _ROOM)
    half = fitting_scale((sides[1] - axis, height), _ROOM)
    if whole.factor < 1.0 and half.factor < 1.0:
        middle = (sides[0] + sides[1]) / 2.0
        wall = min((left for left, _ in spans if left > middle), default=axis)
        return ("wall", wall - 0.2) if wall > axis else ("half", axis)
    if half.factor > whole.factor and (is_round(joint) or whole.factor < 1.0):
        return "half", axis
    return "full", sides[0]


def _scale_of(window: Window) -> Scale:
    return fitting_scale((window.right - window.left, window.high - window.low), _ROOM)


def is_round(joint: Joint) -> bool:
    """Whether its two sides are alike."""
    return joint.collar is not None or (len(joint.tenons) == 1 and len(joint.tenon.centres) == 1)


def axis_across(joint: Joint, plane: Plane) -> float:
    """Where its middle lies in a section, mm across."""
    if joint.collar is not None:
        return plane.across(*mating_surface(joint.collar).offset)
    centres = [plane.across(*centre) for tenon in joint.tenons for centre in tenon.centres]
    return sum(centres) / len(centres)


def _pieces_at(whole: AssembledPart, joint: Joint, number: int) -> tuple[int, ...]:
    """Which pieces meet at a seam: the lower, the upper, and a collar of its own."""
    bodies = [k for k, piece in enumerate(whole.pieces) if piece.role == "piece"]
    rings = [
        k
        for k, piece in enumerate(whole.pieces)
        if piece.role != "piece"
        and piece.joint_below is not None
        and piece.joint_below.station == joint.station
    ]
    return (bodies[number], bodies[number + 1], *rings)
