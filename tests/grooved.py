"""Parts cut by grooved tenons, and what booleans measure of the groove; no code of the core."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from borewright.core.fitting.oring_tables import CORD_HOUSINGS
from borewright.core.jointing.grooved_design import grooved_on
from borewright.core.jointing.grooved_line import GroovedLine
from borewright.core.jointing.wall_run import wall_runs
from borewright.core.values import FloatArray, Joint, JointKind, Settings
from manifold3d import CrossSection, Manifold

from tests.grouped import SEAMS, SETTINGS, GroupedPart, Section, a_part, a_place

CORDS = {housing.cord: housing for housing in CORD_HOUSINGS}
SEGMENTS = 240


def grooved(
    section: Section, cord: float | None, engagement: float, settings: Settings = SETTINGS
) -> GroupedPart:
    """A part cut by grooved tenons; for thread without a cord."""
    part = a_part(section)
    line = grooved_line(part, cord, engagement, settings)
    kind: JointKind = "lapped" if cord is None else "oring"
    joints = [
        Joint(kind, station, (grooved_on(line, station, a_place(number, len(SEAMS), same=False)),))
        for number, station in enumerate(SEAMS)
    ]
    return replace(part, joints=tuple(joints), settings=settings)


def grooved_line(
    part: GroupedPart, cord: float | None, engagement: float, settings: Settings = SETTINGS
) -> GroovedLine:
    (run,) = wall_runs(part.survey)
    return GroovedLine(
        run,
        engagement,
        settings.made_clearance,
        settings.least_wall,
        nozzle=settings.nozzle,
        undersize=settings.made_clearance - settings.clearance,
        cord=None if cord is None else CORDS[cord],
    )


def outer_radii(section: CrossSection) -> tuple[float, float]:
    """Least and greatest distance of a section's outline from the axis, mm."""
    return _radii(max(section.to_polygons(), key=lambda loop: float(np.ptp(loop, axis=0).max())))


def hole_radii(section: CrossSection) -> tuple[float, float]:
    """The same of the hole in its middle."""
    holes = [loop for loop in section.to_polygons() if _area(loop) < 0.0]
    assert len(holes) == 1
    return _radii(holes[0])


def _radii(loop: FloatArray) -> tuple[float, float]:
    middles = (loop + np.roll(loop, -1, axis=0)) / 2.0
    return float(np.hypot(*middles.T).min()), float(np.hypot(*loop.T).max())


def _area(loop: FloatArray) -> float:
    ahead = np.roll(loop, -1, axis=0)
    return float((loop[:, 0] * ahead[:, 1] - loop[:, 1] * ahead[:, 0]).sum()) / 2.0


def band(low: float, high: float, inner: float, outer: float) -> Manifold:
    """A ring about the axis, to damage with."""
    whole = Manifold.cylinder(high - low, outer, circular_segments=SEGMENTS)
    hole = Manifold.cylinder(high - low + 2.0, inner, circular_segments=SEGMENTS)
    return (whole - hole.translate((0.0, 0.0, -1.0))).translate((0.0, 0.0, low))


def block(at: float, half: float, low: float, high: float, inner: float, outer: float) -> Manifold:
    """A radial block at an angle, to damage with."""
    box = Manifold.cube((outer - inner, 2.0 * half, high - low))
    return box.translate((inner, -half, low)).rotate((0.0, 0.0, math.degrees(at)))
