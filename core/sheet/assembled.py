"""A part's finished pieces put together, and the plane through the axis that shows most of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..recording.job_record import PartRecord
from ..values import FloatArray, Mesh, Outcome, PassedOn, Piece, SideHole, Survey
from .cross_sections import Loops, Plane, section_along
from .cut_faces import Hatching, hatchings_of

_SHOWN = 0.2
"""Share of its width that a hole's middle may lie off a plane that shows it."""

_ON_AXIS = 0.1
"""mm, off the axis, from which a plane is laid beside it."""

_SHARP = math.radians(20.0)
"""Turn of an outline from which a point is a corner."""

_LEVEL = 0.02
"""mm, within which corners lie on one level."""


@dataclass(frozen=True, slots=True, eq=False)
class AssembledPart:
    """Pieces in their places, in section.

    meshes, sections : one a piece, in the part frame, and in the plane
    """

    pieces: tuple[Piece, ...]
    meshes: tuple[Mesh, ...]
    survey: Survey | None
    plane: Plane
    sections: tuple[Loops, ...]

    @property
    def hatchings(self) -> tuple[Hatching, ...]:
        """One a piece."""
        return hatchings_of(self.pieces)

    @property
    def extent(self) -> tuple[FloatArray, FloatArray]:
        """Least and greatest (across, station) of what the plane cuts, mm."""
        points = np.concatenate([loop for loops in self.sections for loop in loops])
        return points.min(axis=0), points.max(axis=0)


def assemble(part: PartRecord, plane: Plane | None = None) -> AssembledPart:
    """The pieces of a part in section, by default in the plane that shows most side holes.

    A part that could not be surveyed stands as it prints, cut through its middle.
    """
    outcome = part.outcome
    survey = None if isinstance(outcome, PassedOn) else outcome.survey
    if isinstance(outcome, PassedOn):
        meshes: tuple[Mesh, ...] = (_about_middle(outcome.piece),)
        cut = plane or Plane(0.0)
    else:
        meshes = tuple(piece.in_part(outcome.survey.frame) for piece in part.pieces)
        cut = plane or telling_plane(outcome)
    sections = tuple(section_along(mesh, cut) for mesh in meshes)
    return AssembledPart(part.pieces, meshes, survey, cut, sections)


def _about_middle(piece: Piece) -> Mesh:
    points = piece.mesh.vertices / piece.scale
    middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
    return Mesh(points - [middle[0], middle[1], 0.0], piece.mesh.triangles)


def telling_plane(outcome: Outcome) -> Plane:
    """The plane along most side holes; without any, through bores or pins, or clear of keys."""
    survey = outcome.survey
    if survey.side_holes:
        planes = [_plane_along(survey, hole) for hole in survey.side_holes]
        counts = [sum(is_shown(survey, hole, p) for hole in survey.side_holes) for p in planes]
        return planes[counts.index(max(counts))]
    aside = [bore.offset for bore in survey.bores if bore.eccentricity > 0.01]
    if aside:
        return Plane(math.atan2(aside[0][1], aside[0][0]))
    pins = [joint.key_angles[0] for joint in outcome.plan.joints if joint.kind == "pins"]
    if pins:
        return Plane(pins[0])
    return Plane(clear_angle([a for joint in outcome.plan.joints for a in joint.key_angles]))


def hole_middle(survey: Survey, hole: SideHole) -> tuple[float, float]:
    """(x, y) mm, where a hole's centre line comes out."""
    if hole.wall is not None:
        return hole.wall.point[:2]
    at = [s for s in survey.outsides if s.start <= hole.station <= s.stop]
    radius = (
        at[0].radius_at(hole.station) if at else survey.bores[hole.bore].radius_at(hole.station)
    )
    return radius * math.cos(hole.angle), radius * math.sin(hole.angle)


def hole_angle(survey: Survey, hole: SideHole) -> float:
    """Radians, the way a hole goes outward, seen along the axis."""
    if hole.wall is not None:
        return math.atan2(hole.wall.direction[1], hole.wall.direction[0])
    (x, y), (bore_x, bore_y) = hole_middle(survey, hole), survey.bores[hole.bore].offset
    return math.atan2(y - bore_y, x - bore_x)


def _plane_along(survey: Survey, hole: SideHole) -> Plane:
    """Along a hole, through its middle; through the axis, where that is as good as on it."""
    through = Plane(hole_angle(survey, hole))
    offset = through.beyond(*hole_middle(survey, hole))
    return through if abs(offset) < _ON_AXIS else Plane(through.angle, offset)


def is_shown(survey: Survey, hole: SideHole, plane: Plane) -> bool:
    """Whether a plane runs along a hole, near its middle."""
    aside = abs(plane.beyond(*hole_middle(survey, hole)))
    leans = abs(math.sin(hole_angle(survey, hole) - plane.angle))
    return aside < _SHOWN * hole.across_width and leans < _SHOWN


def clear_angle(angles: list[float]) -> float:
    """A whole degree of the half turn, as far as can be from all angles and their opposites."""
    tried = np.radians(np.arange(180.0))
    if not angles:
        return 0.0
    apart = np.abs(np.sin(tried[:, None] - np.array(angles))).min(axis=1)
    return float(tried[np.round(apart, 6).argmax()])


def edges_beyond(sections: tuple[Loops, ...], centre: float) -> FloatArray:
    """Edges of a bore seen beyond the plane: level, between two corners beside its centre line.

    Parameters
    ----------
    centre : mm across, of the bore's centre line

    Returns
    -------
    (n, 2, 2) mm, their ends
    """
    loops = [loop for each in sections for loop in each]
    corners = np.concatenate([_corners(loop) for loop in loops] or [np.empty((0, 2))])
    edges = []
    for left in corners[corners[:, 0] < centre]:
        level = corners[np.abs(corners[:, 1] - left[1]) < _LEVEL]
        right = level[level[:, 0] > centre]
        if not len(right) or (level[level[:, 0] < centre, 0] > left[0] + _LEVEL).any():
            continue
        ends = np.array([left, right[right[:, 0].argmin()]])
        if _sees_void(loops, ends):
            edges.append(ends)
    return np.array(edges).reshape(-1, 2, 2)


def _corners(loop: FloatArray) -> FloatArray:
    before, ahead = loop - np.roll(loop, 1, axis=0), np.roll(loop, -1, axis=0) - loop
    cross = before[:, 0] * ahead[:, 1] - before[:, 1] * ahead[:, 0]
    turns = np.abs(np.arctan2(cross, (before * ahead).sum(axis=1)))
    corners: FloatArray = loop[turns > _SHARP]
    return corners


def _sees_void(loops: list[FloatArray], ends: FloatArray) -> bool:
    """Whether just over or just under a level edge nothing is cut."""
    return any(
        not spans_at(loops, ends[0, 1] + step, (ends[0, 0] + 0.05, ends[1, 0] - 0.05))
        for step in (-2.0 * _LEVEL, 2.0 * _LEVEL)
    )


def spans_at(
    loops: list[FloatArray] | Loops, station: float, within: tuple[float, float]
) -> list[tuple[float, float]]:
    """Where a level line runs through what is cut, from left to right, between two places."""
    crossed = []
    for loop in loops:
        ahead = np.roll(loop, -1, axis=0)
        at = (loop[:, 1] > station) != (ahead[:, 1] > station)
        run = (ahead - loop)[at]
        crossed += (loop[at, 0] + (station - loop[at, 1]) / run[:, 1] * run[:, 0]).tolist()
    ordered = sorted(crossed)
    spans = zip(ordered[::2], ordered[1::2], strict=True)
    return [(a, b) for a, b in spans if a < within[1] and b > within[0]]
