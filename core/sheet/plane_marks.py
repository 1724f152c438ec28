"""Where a section's plane lies in another view: its line, its letters, the way it is seen.

In the manner of ISO 128-3. Letters stand upright, whatever way the plane runs.
"""

from __future__ import annotations

import math

import numpy as np

from .cross_sections import Plane
from .dimensions import ARROW_LENGTH, arrow
from .lettering import HALF_CAPITAL
from .svg import TEXT_SIZE, Pen, Point

_TAIL = ARROW_LENGTH + 1.0
"""Length of an arrow with its line, mm."""

LEVEL_MARK = 5.0
"""How far beside a view the end of a level plane reaches, mm."""


def mark_upright_plane(
    pen: Pen, letter: str, plane: Plane, factor: float, middle: Point, reach: float
) -> None:
    """A plane along the axis in a view from above.

    Parameters
    ----------
    middle : mm on paper, of the axis
    reach : mm on paper, from there to the outline
    """
    cosine, sine = math.cos(plane.angle), math.sin(plane.angle)
    along, behind = np.array([cosine, -sine]), np.array([-sine, -cosine])
    nearest = np.array(middle) + plane.offset * factor * behind
    ends = [nearest - along * (reach + 3.0), nearest + along * (reach + 3.0)]
    pen.segments("axis", np.array([ends]))
    for end, outward in zip(ends, (-along, along), strict=True):
        pen.segments("outline", np.array([[end - 1.5 * outward, end + outward]]))
        pen.segments("narrow", np.array([[end - behind * _TAIL, end]]))
        arrow(pen, (float(end[0]), float(end[1])), (float(behind[0]), float(behind[1])))
        x, y = (end + 3.2 * outward).tolist()
        pen.text(letter, (x, y + HALF_CAPITAL), "middle")


def mark_level_plane(pen: Pen, letter: str, left: Point, right: Point) -> Point:
    """A plane across in a section along the axis, seen from above; where its right end lies.

    Parameters
    ----------
    left, right : mm on paper, where the view ends at that level
    """
    (x, y), end = left, right[0] + 2.5
    for start, stop in ((x - 3.5, x - 1.0), (right[0] + 0.5, end)):
        pen.line("outline", (start, y), (stop, y))
    pen.line("narrow", (x - 3.0, y - _TAIL), (x - 3.0, y))
    arrow(pen, (x - 3.0, y), (0.0, 1.0))
    pen.text(letter, (x - 3.0, y - _TAIL - 0.3 * TEXT_SIZE), "middle")
    return end, y
