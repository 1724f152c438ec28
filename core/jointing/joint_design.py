"""The sizes of a joint at a station: radii, heights and key, from the wall there."""

from __future__ import annotations

import math

import numpy as np

from ..errors import WallTooThin
from ..values import FACET_ALLOWANCE, FloatArray, Joint, Key, RoundSurface
from .joint_line import LEAST_PARALLEL, JointLine, least_joint_wall, rib_relief

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


def mid_wall_diameter(bore: RoundSurface, outside: RoundSurface, station: float) -> float:
    """Diameter, mm, of the circle midway between bore and outside at a station."""
    return bore.radius_at(station) + outside.radius_at(station) - outside.eccentricity


def usual_engagement(joint_diameter: float) -> float:
    """Half the joint's diameter, between 6 and 25, to 0.5 mm. Common practice, no source."""
    steps = math.floor(joint_diameter / 2.0 / ENGAGEMENT_STEP + 0.5 + ENGAGEMENT_TIE)
    return min(max(steps * ENGAGEMENT_STEP, LEAST_ENGAGEMENT), MOST_ENGAGEMENT)


def shortest_engagement(joint_diameter: float) -> float:
    """0.35 of the joint's diameter, up to the next 0.5 mm, not under 6."""
    steps = math.ceil(joint_diameter * SHORT_ENGAGEMENT_SHARE / ENGAGEMENT_STEP - 1e-9)
    return min(max(steps * ENGAGEMENT_STEP, LEAST_ENGAGEMENT), MOST_ENGAGEMENT)


def design_joint(
    bore: RoundSurface,
    outside: RoundSurface,
    station: float,
    engagement: float,
    radial_clearance: float,
    least_wall: float,
    key_angle: float,
) -> Joint:
    """A ring tenon in mid wall at a station.

    On a taper the wall is the one left over the whole zone: the widest bore and
    the narrowest outside of it.

    Raises
    ------
    WallTooThin : the wall cannot hold tenon, clearance and socket, or the
        engagement is too short for the 45 degree tip that the wall asks for
    """
    line = JointLine(bore, outside, engagement, radial_clearance, least_wall)
    here = np.array([station])
    _check_wall(line, here)
    _check_parallel(line, here)
    tenon_radius = float(line.tenon_radius(here)[0])
    tip = station + engagement
    is_rib = bool(line.rib_spare(here)[0] >= 0.0)
    return Joint(
        station=station,
        engagement=engagement,
        tenon_radius=tenon_radius,
        socket_radius=tenon_radius + radial_clearance,
        radial_clearance=radial_clearance,
        land=float(line.land(here)[0]),
        bore_radius_at_tip=bore.radius_at(tip),
        roof_top=station + float(line.zone(here)[0]),
        key=_design_key(tenon_radius, radial_clearance, key_angle, rib=is_rib),
    )


def _check_wall(line: JointLine, here: FloatArray) -> None:
    wall, needed = (
        float(line.wall(here)[0]),
        least_joint_wall(line.radial_clearance, line.least_wall),
    )
    if line.wall_spare(here)[0] < 0.0:
        raise WallTooThin(
            f"wall {wall:.2f} mm at station {here[0]:.2f} mm",
            f"{needed:.2f} mm for a tenon and a socket of {line.least_wall:.2f} mm each, "
            f"{FACET_ALLOWANCE:.2f} mm each for facets and {line.radial_clearance:.2f} mm of "
            "clearance",
            "a thicker part, --least-wall or --clearance smaller",
        )


def _check_parallel(line: JointLine, here: FloatArray) -> None:
    spare = float(line.parallel_spare(here)[0])
    if spare < 0.0:
        cone = line.engagement - LEAST_PARALLEL - spare
        raise WallTooThin(
            f"an engagement of {line.engagement:.2f} mm at station {here[0]:.2f} mm leaves "
            f"{line.engagement - cone:.2f} mm parallel under a 45 degree tip of {cone:.2f} mm",
            f"at least {LEAST_PARALLEL:.2f} mm parallel",
            f"--engagement {cone + LEAST_PARALLEL:.1f} or more",
        )


def _design_key(tenon_radius: float, clearance: float, angle: float, *, rib: bool) -> Key:
    width = max(LEAST_KEY_WIDTH, KEY_WIDTH_SHARE * tenon_radius)
    half_width = min(0.5 * width / tenon_radius, math.pi / 4.0)
    relief = rib_relief(clearance) if rib else 0.0
    # the radial clearance lets a leaning flank turn on before it touches
    turned_on = clearance * FLANK_LEAN / relief / tenon_radius if rib else 0.0
    return Key(
        kind="rib" if rib else "notch",
        angle=angle,
        half_width=half_width,
        side_gap=min(clearance / tenon_radius, MOST_PLAY - turned_on),
        relief=relief,
    )
