"""Families that are more, or less, than a tube: a whistle head, a bent tube."""

from __future__ import annotations

import math

import numpy as np

from tests.families.chains import (
    AS_CAD,
    OVERHANG,
    Facets,
    bore_cutter,
    chain_solid,
    finished,
    stretches,
)
from tests.families.outlines import oval, polygon, rectangle
from tests.families.solids import Solid, Workshop
from tests.families.surfaces import Direction, bent_tube, end_plane
from tests.families.truth import Opening, Part, Truth


def whistle_head(
    *,
    length: float = 100.0,
    outside: float = 26.0,
    bore: float = 16.0,
    floor: float = 70.0,
    window: tuple[float, float] = (54.0, 62.0),
    ramp: float = 40.0,
    width: float = 9.0,
    windway: tuple[float, float] = (9.2, 10.6),
    angle_deg: float = 35.0,
    facets: Facets = AS_CAD,
) -> Part:
    """A blind bore, a window with a lip into it, and a windway through the plug's wall.

    window : stations of the lip's edge and of the windway's mouth
    ramp : station at which the slope that leads to the lip leaves the outside
    windway : radii between which its rectangle lies, from the window to the high end
    """
    workshop = Workshop()
    solid = chain_solid(workshop, [(0.0, outside), (length, outside)], facets.sides)
    ends = [(0.0, bore), (floor, bore)]
    angle = math.radians(angle_deg)
    out = np.array([math.cos(angle), math.sin(angle), 0.0])
    left, up = np.array([-out[1], out[0], 0.0]), np.array([0.0, 0.0, 1.0])
    low, high = window
    reach, lip = outside / 2.0, windway[0] + 0.4
    slope = (lip - reach) / (low - ramp)
    inward = (low + high) / 2.0
    beside = Direction(-width / 2.0 * left, up, out, left)
    window_profile = polygon(np.array([(low, 0.0), (high, 0.0), (high, outside), (low, outside)]))
    ramp_profile = polygon(
        np.array(
            [
                (ramp + 3.0 / slope, reach + 3.0),
                (inward, lip + slope * (inward - low)),
                (inward, reach + 3.0),
            ]
        )
    )
    mouth = [workshop.prism(p, beside, 0.0, width) for p in (window_profile, ramp_profile)]
    middle = sum(windway) / 2.0
    duct_frame = Direction(middle * out, out, left, up)
    duct = workshop.prism(
        rectangle(windway[1] - windway[0], width - 0.6), duct_frame, high - 1.0, length + 1.0
    )
    truth = Truth(
        length=length,
        bores=stretches(ends),
        outsides=stretches([(0.0, outside), (length, outside)]),
        openings=(Opening((ramp + high) / 2.0, angle_deg, high - ramp, width),),
    )
    tools = [bore_cutter(workshop, ends, length, facets.sides), *mouth, duct]
    return finished(workshop, solid, tools, truth, facets)


def curved(
    *,
    length: float = 160.0,
    outside: float = 24.0,
    bore: float = 14.0,
    sagitta: float = 1.5,
    step: float = 2.0,
    facets: Facets = AS_CAD,
) -> Part:
    """A tube along an arc of a circle; `length` and `sagitta` are those of its axis' chord.

    The axis starts and ends on z and bows out towards +x by the sagitta.
    """
    bend = length**2 / 8.0 / sagitta + sagitta / 2.0
    half = math.asin(length / 2.0 / bend)
    workshop = Workshop()
    body = _arc_solid(workshop, outside / 2.0, (bend, half, 0.0), length, facets.sides, step)
    tool = _arc_solid(
        workshop, bore / 2.0, (bend, half, OVERHANG / bend), length, facets.sides, step
    )
    truth = Truth(length=length, bores=(), least_wall=(outside - bore) / 2.0, sagitta=sagitta)
    return finished(workshop, body, [tool], truth, facets)


def _arc_solid(
    workshop: Workshop,
    radius: float,
    arc: tuple[float, float, float],
    length: float,
    sides: int,
    step: float,
) -> Solid:
    """arc : radius of the axis, half its angle, and by how much both ends are overrun."""
    bend, half, over = arc
    centre = np.array([-math.sqrt(bend**2 - length**2 / 4.0), 0.0, length / 2.0])
    turns = np.linspace(-half - over, half + over, round(length / step) + 1)
    ring = radius * oval(1.0, 1.0, sides).points
    frames = []
    for turn in turns:
        out = np.array([math.cos(turn), 0.0, math.sin(turn)])
        ahead = np.array([-math.sin(turn), 0.0, math.cos(turn)])
        frames.append(Direction(centre + bend * out, out, np.array([0.0, 1.0, 0.0]), ahead))
    rings = np.stack([frame.points(ring, 0.0) for frame in frames])
    side = workshop.add(bent_tube(radius, bend, length / 2.0))
    ends = [workshop.add(end_plane(frame, 0.0)) for frame in (frames[0], frames[-1])]
    return workshop.loft(rings, np.full((len(rings) - 1, sides), side), (ends[0], ends[1]))
