"""What stands under a joint's section: the joint across its keys, and its gap enlarged."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ..values import FloatArray, Joint
from .assembled import AssembledPart
from .cross_sections import Loops, Plane, Window, section_across
from .cut_faces import Hatching, Placing, draw_cut_face
from .dimensions import BEYOND, GAP, LINE_ROW, arrow, level_dimension
from .joint_notes import key_places, level_of_keys, shown_gap, shown_tenon
from .lettering import HALF_CAPITAL
from .plane_marks import mark_upright_plane
from .scales import Scale, fitting_scale, told_length
from .svg import TEXT_SIZE, Pen, Point

_ROOM, _MOST_ROOM = (50.0, 50.0), (84.0, 84.0)
"""For the section across, mm on paper; the larger where it would be drawn smaller than it is."""

_AROUND = 9.5
"""Around that section, for letters and numbers, mm."""

_NUMBER_APART = 4.0
"""From the outline to the middle of a key's number, mm."""

DETAIL = Scale(10, 1)
_INWARD, _OUTWARD = 1.1, 1.5
_BELOW, _ABOVE = 1.2, 2.2
"""How far around the gap at the seam is drawn ten times its size, mm."""


def draw_across(
    pen: Pen, whole: AssembledPart, numbers: tuple[int, ...], joint: Joint, plane: Plane
) -> float:
    """Section C-C across the keys, seen from the high end, under all that is drawn.

    Parameters
    ----------
    numbers : of the pieces that meet, from 0
    plane : of section B-B, marked here

    Returns
    -------
    where it ends to the right, mm on paper
    """
    level, before = level_of_keys(joint), len(pen.boxes)
    sections = [section_across(whole.meshes[k], level) for k in numbers]
    points = np.concatenate([loop for loops in sections for loop in loops])
    (left, low), (right, high) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    scale = _scale_across((right - left, high - low))
    top = pen.high[1] + TEXT_SIZE + 4.0
    corner = pen.low[0] + _AROUND - left * scale.factor, top + _AROUND + high * scale.factor
    placing = Placing(scale.factor, corner)
    for number, loops in zip(numbers, sections, strict=True):
        draw_cut_face(pen, placing, loops, whole.hatchings[number], line="fine")
    (x1, y1), (x2, y2), (x, y) = (
        placing.at(*place) for place in ((left, high), (right, low), (0.0, 0.0))
    )
    pen.line("axis", (x, y1 - 2.0), (x, y2 + 2.0))
    pen.line("axis", (x1 - 2.0, y), (x2 + 2.0, y))
    reach = float(np.abs(points @ [math.cos(plane.angle), math.sin(plane.angle)]).max())
    mark_upright_plane(pen, "B", plane, scale.factor, (x, y), reach * scale.factor)
    _draw_key_numbers(pen, placing, joint, points)
    pen.text(f"C-C ({scale.told})", ((x1 + x2) / 2.0, top), "middle")
    return max(x2, *(box.x + box.width for box in pen.boxes[before:]))


def _scale_across(size: Point) -> Scale:
    small, large = fitting_scale(size, _ROOM), fitting_scale(size, _MOST_ROOM)
    return small if small.factor >= 1.0 else min(large, Scale(1, 1), key=lambda one: one.factor)


def _draw_key_numbers(pen: Pen, placing: Placing, joint: Joint, points: FloatArray) -> None:
    """Each key's, lug's or pin's number outside, with a line to its place."""
    for number, place in enumerate(key_places(joint), 1):
        for aside in (0.0, 0.15, -0.15, 0.3, -0.3, 0.45, -0.45, 0.6, -0.6):
            out = np.array([math.cos(place.angle + aside), math.sin(place.angle + aside)])
            away = float((points @ out).max() - np.array([place.x, place.y]) @ out)
            end = np.array([place.x, place.y]) + away * out
            x, y = placing.at(*end.tolist())
            x, y = x + _NUMBER_APART * float(out[0]), y - _NUMBER_APART * float(out[1])
            if not any(_is_near(pen, k, (x, y)) for k in range(len(pen.boxes))):
                break
        tip = placing.at(place.x, place.y)
        apart = math.dist((x, y), tip)
        toward = (tip[0] - x) / apart, (tip[1] - y) / apart
        start = x + 2.2 * toward[0], y + 2.2 * toward[1]
        pen.line("narrow", start, tip)
        arrow(pen, tip, toward)
        pen.text(str(number), (x, y + HALF_CAPITAL), "middle")


def _is_near(pen: Pen, number: int, place: Point) -> bool:
    box = pen.boxes[number]
    return (
        box.x - 1.5 < place[0] < box.x + box.width + 1.5
        and box.y - 2.5 < place[1] < box.y + box.height + 2.5
    )


def detail_window(joint: Joint, plane: Plane) -> Window:
    """Around the gap at the seam, as far up as it is parallel."""
    gap, above = shown_gap(joint, plane), _ABOVE
    below = _BELOW if joint.collar is None else _ABOVE
    if joint.collar is None:
        above = min(above, 0.9 * shown_tenon(joint, plane).parallel_length)
    left, right = gap.middle - _INWARD, gap.middle + _OUTWARD
    return Window(left, right, joint.station - below, joint.station + above)


def draw_detail(
    pen: Pen,
    sections: tuple[Loops, ...],
    hatchings: Sequence[Hatching],
    joint: Joint,
    plane: Plane,
    corner: Point,
) -> None:
    """Detail D, the gap at the seam ten times its size, with the clearance a side.

    Parameters
    ----------
    corner : mm on paper, left of and over all of it
    """
    factor, gap, window = DETAIL.factor, shown_gap(joint, plane), detail_window(joint, plane)
    top = corner[1] + TEXT_SIZE + LINE_ROW + 2.0
    placing = Placing(factor, (corner[0] - window.left * factor, top + window.high * factor))
    for hatching, loops in zip(hatchings, sections, strict=True):
        draw_cut_face(pen, placing, loops, hatching, window=window)
    draw_frame(pen, placing, window)
    inner, outer = (placing.at(across, 0.0)[0] for across in (gap.inner, gap.outer))
    y = top - 3.5
    level_dimension(pen, inner, outer, y, told_length(joint.radial_clearance), factor, outer)
    for x in (inner, outer):
        pen.broken_line("narrow", (x, top - GAP), (x, y - BEYOND))
    pen.text(f"D ({DETAIL.told})", (corner[0], corner[1] + TEXT_SIZE))


def draw_frame(pen: Pen, placing: Placing, window: Window) -> None:
    """The narrow line around a detail, or around what is drawn of it."""
    (left, bottom), (right, top) = (
        placing.at(window.left, window.low),
        placing.at(window.right, window.high),
    )
    frame = np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
    pen.outlines("narrow", [frame])
