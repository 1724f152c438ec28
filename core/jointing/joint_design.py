"""The sizes of a joint at a station: radii, heights and key, from the wall there."""

from __future__ import annotations

import math

import numpy as np

from ..errors import WallTooThin
from ..values import FACET_ALLOWANCE, FloatArray, Joint, Key
from .hull import outline_excess
from .joint_line import LEAST_PARALLEL, JointLine, rib_relief

LEAST_ENGAGEMENT, MOST_ENGAGEMENT, ENGAGEMENT_STEP = 6.0, 25.0, 0.5
SHORT_ENGAGEMENT_SHARE = 0.35
ENGAGEMENT_TIE = 1e-4
"""Half a step goes up, also where a survey's last digits lie just under it."""

KEY_WIDTH_SHARE = 0.35
LEAST_KEY_WIDTH = 2.4
"""Six lines of a 0.4 nozzle, mm: a key must be plastic, not a wisp."""

MOST_PLAY = math.radians(1.25)
"""A key's play to each side; the contract allows 1.5 degrees."""

FLANK_LEAN = 0.05
"""How far a rib's flank leans, mm along the arc, over its relief."""


def usual_engagement(joint_diameter: float) -> float:
    """Half the joint's diameter, between 6 and 25, to 0.5 mm. Common practice, no source."""
    steps = math.floor(joint_diameter / 2.0 / ENGAGEMENT_STEP + 0.5 + ENGAGEMENT_TIE)
    return min(max(steps * ENGAGEMENT_STEP, LEAST_ENGAGEMENT), MOST_ENGAGEMENT)


def shortest_engagement(joint_diameter: float) -> float:
    """0.35 of the joint's diameter, up to the next 0.5 mm, not under 6."""
    steps = math.ceil(joint_diameter * SHORT_ENGAGEMENT_SHARE / ENGAGEMENT_STEP - 1e-9)
    return min(max(steps * ENGAGEMENT_STEP, LEAST_ENGAGEMENT), MOST_ENGAGEMENT)


def joint_on(line: JointLine, station: float, key_angle: float) -> Joint:
    """A tenon in mid wall at a station, around the bore or both bores of a run of wall.

    On a taper the wall is the one left over the whole zone: the widest bore and
    the narrowest outer surface of it.

    Raises
    ------
    WallTooThin : the wall cannot hold tenon, clearance and socket, or the
        engagement is too short for the 45 degree tip that the wall asks for
    """
    here = np.array([station])
    _check_wall(line, here)
    _check_parallel(line, here)
    run = line.run
    tenon_radius = float(line.tenon_radius(here)[0])
    rise = float(line.rise(here)[0])
    at_tip = [bore.radius_at(station + rise) for bore in run.surfaces]
    return Joint(
        station=station,
        engagement=line.engagement,
        tenon_radius=tenon_radius,
        socket_radius=tenon_radius + line.radial_clearance,
        radial_clearance=line.radial_clearance,
        land=float(line.land(here)[0]),
        bore_radius_at_tip=at_tip[0],
        roof_top=station + float(line.zone(here)[0]),
        key=_design_key(line, tenon_radius, line.relief(station), key_angle),
        wall=run.wall_number(station),
        bores=run.bores,
        centres=run.centres,
        swells=tuple(radius - at_tip[0] for radius in at_tip),
        crest=line.engagement - rise,
        outline_excess=outline_excess(np.array(run.centres), np.array(at_tip)),
    )


def _check_wall(line: JointLine, here: FloatArray) -> None:
    if line.wall_spare(here)[0] < 0.0:
        raise WallTooThin(
            f"wall {line.wall(here)[0]:.2f} mm at station {here[0]:.2f} mm",
            wall_need(line),
            "a thicker part, --least-wall or --clearance smaller",
        )


def wall_need(line: JointLine) -> str:
    """The wall that a joint needs, in words."""
    around = " around both bores" if line.rib_only else ""
    rib = f", {rib_relief(line.radial_clearance):.2f} mm for a rib" if line.rib_only else ""
    return (
        f"{line.wall_needed:.2f} mm of wall{around} for a tenon and a socket of "
        f"{line.least_wall:.2f} mm each, {FACET_ALLOWANCE:.2f} mm each for facets{rib} and "
        f"{line.radial_clearance:.2f} mm of clearance"
    )


def _check_parallel(line: JointLine, here: FloatArray) -> None:
    spare = float(line.parallel_spare(here)[0])
    if spare < 0.0:
        left = LEAST_PARALLEL + spare
        raise WallTooThin(
            f"an engagement of {line.engagement:.2f} mm at station {here[0]:.2f} mm leaves "
            f"{left:.2f} mm parallel under a 45 degree tip of {line.engagement - left:.2f} mm",
            f"at least {LEAST_PARALLEL:.2f} mm parallel",
            f"--engagement {math.ceil((line.engagement - spare) * 10.0 - 1e-9) / 10.0:.1f} or more",
        )


def _design_key(line: JointLine, tenon_radius: float, relief: float, angle: float) -> Key:
    width = max(LEAST_KEY_WIDTH, KEY_WIDTH_SHARE * tenon_radius)
    half_width = min(0.5 * width / tenon_radius, math.pi / 4.0)
    side_gap = line.radial_clearance / tenon_radius
    if len(line.run.bores) == 1:
        # the radial clearance lets a leaning flank turn on before it touches
        turned_on = side_gap * FLANK_LEAN / relief if relief else 0.0
        side_gap = min(side_gap, MOST_PLAY - turned_on)
    return Key(
        kind="rib" if relief else "notch",
        angle=angle,
        half_width=half_width,
        side_gap=side_gap,
        relief=relief,
    )
