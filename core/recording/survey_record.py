"""What was found of a part, for the record: mm, degrees, the axis in the source's coordinates."""

from __future__ import annotations

import math

import numpy as np

from ..values import HoleWall, Ornament, RoundSurface, SideHole, Survey


def survey_entry(survey: Survey) -> dict[str, object]:
    """All that was found of a part."""
    return {
        "axis": {
            "point": survey.frame.origin.tolist(),
            "direction": survey.frame.rows[2].tolist(),
        },
        "length": survey.length,
        "bores": [_round_surface(bore) for bore in survey.bores],
        "outer": _round_surface(survey.outsides[0]) if survey.outsides else None,
        "outsides": [_round_surface(outside) for outside in survey.outsides],
        "side_holes": [_side_hole(hole, survey.bores[hole.bore]) for hole in survey.side_holes],
        "ornaments": [_ornament(ornament) for ornament in survey.ornaments],
        "wall": {"least": survey.wall_least, "median": survey.wall_median},
    }


def _round_surface(surface: RoundSurface) -> dict[str, object]:
    """Its `diameter` is the one halfway along."""
    ends = [2.0 * surface.radius_at(surface.start), 2.0 * surface.radius_at(surface.stop)]
    return {
        "diameter": (ends[0] + ends[1]) / 2.0,
        "end_diameters": ends,
        "offset": list(surface.offset),
        "from": surface.start,
        "to": surface.stop,
        "rms": surface.rms,
    }


def _ornament(ornament: Ornament) -> dict[str, object]:
    return {
        "from": ornament.start,
        "to": ornament.stop,
        "least_radius": ornament.least_radius,
        "greatest_radius": ornament.greatest_radius,
        "on": "bore" if ornament.place == "bore" else "outside",
    }


def _side_hole(hole: SideHole, bore: RoundSurface) -> dict[str, object]:
    """Its diameter and slant are told where its wall is a cylinder."""
    told: dict[str, object] = {
        "station": hole.station,
        "angle_deg": math.degrees(hole.angle),
        "axial_width": hole.axial_width,
        "across_width": hole.across_width,
        "bore": hole.bore,
    }
    if hole.wall is not None:
        told["diameter"] = 2.0 * hole.wall.radius
        told["slant_deg"] = hole_slant_deg(hole.wall, bore)
    return told


def hole_slant_deg(wall: HoleWall, bore: RoundSurface) -> float:
    """Angle between a hole's centre line and the bore's radius to where it comes out."""
    radius = np.array([wall.point[0] - bore.offset[0], wall.point[1] - bore.offset[1], 0.0])
    sine = np.linalg.norm(np.cross(radius, wall.direction))
    return math.degrees(math.atan2(float(sine), float(radius @ wall.direction)))
