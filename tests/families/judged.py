"""A survey held against the truth of a generated part."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from borewright.core.meshes.mend import mend_bodies
from borewright.core.surveying.survey import survey_part
from borewright.core.values import Mesh, RoundSurface, SideHole, Survey

from tests.families.truth import Counted, Part, Stretch, as_counted

AT_OUTSIDE = 12.0
"""mm from the axis at which an angle of a hole is held to the bound on lengths."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """What the project promises, mm and degrees."""

    diameter: float = 0.02
    axis_deg: float = 0.02
    reach: float = 0.1
    opening: float = 0.02
    wall: tuple[float, float] = (0.02, 0.02)


PROMISED = Bounds()


def read(part: Part) -> Survey:
    """Survey of the part as an STL file in its unit would hold it."""
    stored = part.vertices.astype(np.float32).astype(np.float64) * part.truth.unit
    (body,) = mend_bodies(Mesh(stored, part.triangles))
    return survey_part(body, max_move=0.1, flip=False)


def faults(part: Part, survey: Survey, bounds: Bounds = PROMISED) -> list[str]:
    """Every reading that is out of bounds, with what was found and what was due."""
    truth, due = part.truth, as_counted(part.truth)
    told = [*_axis(survey, due, bounds)]
    told += _off("length", survey.length, truth.length, bounds.diameter)
    told += _stretches("bore", survey.bores, due.bores, bounds)
    told += _stretches("outside", survey.outsides, due.outsides, bounds)
    told += _openings(survey, due, bounds)
    if truth.least_wall is not None:
        departure = survey.wall_least - truth.least_wall
        if not -bounds.wall[0] < departure < bounds.wall[1]:
            told.append(f"least wall {survey.wall_least:.3f}, due {truth.least_wall:.3f}")
    return told


def _off(what: str, found: float, due: float, bound: float) -> Iterator[str]:
    if not abs(found - due) < bound:
        yield f"{what} {found:.4f}, due {due:.4f} within {bound:g}"


def _axis(survey: Survey, due: Counted, bounds: Bounds) -> Iterator[str]:
    direction = survey.frame.rows[2]
    tilt = math.degrees(float(np.linalg.norm(np.cross(direction, due.direction))))
    yield from _off("axis: degrees off", tilt, 0.0, bounds.axis_deg)
    if direction @ due.direction < 0.0:
        yield "axis: the wrong way round"
    beside = np.cross(survey.frame.origin - due.point, due.direction)
    yield from _off("axis: mm beside", float(np.linalg.norm(beside)), 0.0, bounds.diameter)


def _stretches(
    what: str, found: tuple[RoundSurface, ...], due: tuple[Stretch, ...], bounds: Bounds
) -> list[str]:
    if len(found) != len(due):
        listed = [_told(s) for s in found]
        return [f"{len(found)} stretches of {what} {listed}, due {len(due)}"]
    left, told = list(found), []
    for stretch in due:
        surface = min(left, key=lambda s: _farness(s, stretch))
        left.remove(surface)
        place = f"{what} {stretch.start:.1f} to {stretch.stop:.1f}:"
        for name, here, there in zip("xy", surface.offset, stretch.offset, strict=True):
            told += _off(f"{place} offset {name}", here, there, bounds.diameter)
        told += _off(f"{place} from", surface.start, stretch.start, bounds.reach)
        told += _off(f"{place} to", surface.stop, stretch.stop, bounds.reach)
        for station in (stretch.start, stretch.stop):
            diameter = 2.0 * surface.radius_at(station)
            wanted = stretch.diameter_at(station)
            told += _off(f"{place} diameter at {station:.1f}", diameter, wanted, bounds.diameter)
    return told


def _told(surface: RoundSurface) -> str:
    low, high = (2.0 * surface.radius_at(z) for z in (surface.start, surface.stop))
    return (
        f"{surface.start:.2f}-{surface.stop:.2f} dia {low:.3f}-{high:.3f} "
        f"at {surface.offset[0]:.2f},{surface.offset[1]:.2f}"
    )


def _farness(surface: RoundSurface, stretch: Stretch) -> float:
    middle = (stretch.start + stretch.stop) / 2.0
    beside = math.dist(surface.offset, stretch.offset)
    return beside + abs((surface.start + surface.stop) / 2.0 - middle)


def _openings(survey: Survey, due: Counted, bounds: Bounds) -> list[str]:
    found = sorted(survey.side_holes, key=lambda h: h.station)
    if len(found) != len(due.openings):
        stations = [(round(h.station, 2), h.axial_width, h.across_width) for h in found]
        return [f"{len(found)} side holes {stations}, due {len(due.openings)}"]
    told: list[str] = []
    for hole, opening, bore in zip(found, due.openings, due.opened, strict=True):
        place = f"hole at {opening.station:.1f}:"
        told += _off(f"{place} station", hole.station, opening.station, bounds.opening)
        told += _off(f"{place} axial", hole.axial_width, opening.axial, bounds.opening)
        told += _off(f"{place} across", hole.across_width, opening.across, bounds.opening)
        turn = turned_by(hole, opening.angle_deg)
        told += _off(f"{place} angle, mm", AT_OUTSIDE * turn, 0.0, bounds.opening)
        opened = math.dist(survey.bores[hole.bore].offset, bore)
        told += _off(f"{place} mm from the bore it opens", opened, 0.0, bounds.diameter)
    return told


def turned_by(hole: SideHole, angle_deg: float) -> float:
    """Radians between a hole's angle and the one that is due."""
    return math.remainder(hole.angle - math.radians(angle_deg), 2.0 * math.pi)
