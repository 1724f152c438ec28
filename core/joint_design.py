"""The sizes of a joint at a station: radii, heights and key, from the wall there."""

from __future__ import annotations

import math

from .errors import WallTooThin
from .values import (
    AXIAL_GAP,
    FACET_ALLOWANCE,
    KEY_RELIEF,
    LEAD_IN,
    Joint,
    Key,
    RoundSurface,
)

LEAST_ENGAGEMENT, MOST_ENGAGEMENT, ENGAGEMENT_STEP = 6.0, 25.0, 0.5
SHORT_ENGAGEMENT_SHARE = 0.35
LEAST_PARALLEL = 2.0
"""Shortest parallel part of a tenon, mm, that still guides it."""

LEAST_LAND = 0.1
"""Narrowest land, mm; a wall too thin for it and the whole lead-in has less lead-in."""

KEY_WIDTH_SHARE = 0.35
LEAST_KEY_WIDTH = 2.4
"""Six lines of a 0.4 nozzle, mm: a key must be plastic, not a wisp."""

MOST_PLAY = math.radians(1.25)
"""A key's play to each side; the contract allows 1.5 degrees."""

FLANK_LEAN = 0.05
"""How far a rib's flank leans, mm along the arc, over its relief."""

KEY_OVERLAP = 0.3
"""Least radial overlap, mm, of a rib turned out of its groove."""


def mid_wall_diameter(bore: RoundSurface, outside: RoundSurface, station: float) -> float:
    """Diameter, mm, of the circle midway between bore and outside at a station."""
    return bore.radius_at(station) + outside.radius_at(station) - outside.eccentricity


def usual_engagement(joint_diameter: float) -> float:
    """Half the joint's diameter, between 6 and 25, to 0.5 mm. Common practice, no source."""
    steps = round(joint_diameter / 2.0 / ENGAGEMENT_STEP)
    return min(max(steps * ENGAGEMENT_STEP, LEAST_ENGAGEMENT), MOST_ENGAGEMENT)


def shortest_engagement(joint_diameter: float) -> float:
    """0.35 of the joint's diameter, up to the next 0.5 mm, not under 6."""
    steps = math.ceil(joint_diameter * SHORT_ENGAGEMENT_SHARE / ENGAGEMENT_STEP - 1e-9)
    return min(max(steps * ENGAGEMENT_STEP, LEAST_ENGAGEMENT), MOST_ENGAGEMENT)


def rib_relief(radial_clearance: float) -> float:
    """How far a rib stands out, mm: enough to overlap the socket when turned away."""
    return max(KEY_RELIEF, radial_clearance + KEY_OVERLAP)


def least_joint_wall(radial_clearance: float, least_wall: float) -> float:
    """Thinnest wall, mm, that holds a tenon, the clearance and a socket."""
    return 2.0 * (least_wall + FACET_ALLOWANCE) + radial_clearance


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
    tip = station + engagement
    bore_radius = max(bore.radius_at(station), bore.radius_at(tip))
    reach = engagement + AXIAL_GAP + least_wall
    outside_radius = min(outside.radius_at(station), outside.radius_at(station + reach))
    outside_radius -= outside.eccentricity
    wall = outside_radius - bore_radius
    _check_wall(wall, station, radial_clearance, least_wall)
    tenon_radius = (bore_radius + outside_radius - radial_clearance) / 2.0
    socket_radius = tenon_radius + radial_clearance
    at_tip = bore.radius_at(tip)
    land = min(least_wall, max(tenon_radius - LEAD_IN - at_tip, LEAST_LAND))
    cone = tenon_radius - at_tip - land
    if engagement - cone < LEAST_PARALLEL:
        raise WallTooThin(
            f"an engagement of {engagement:.2f} mm at station {station:.2f} mm leaves "
            f"{engagement - cone:.2f} mm parallel under a 45 degree tip of {cone:.2f} mm",
            f"at least {LEAST_PARALLEL:.2f} mm parallel",
            f"--engagement {cone + LEAST_PARALLEL:.1f} or more",
        )
    spare = outside_radius - socket_radius - least_wall - FACET_ALLOWANCE
    kind_is_rib = spare >= rib_relief(radial_clearance)
    key = _design_key(tenon_radius, radial_clearance, key_angle, rib=kind_is_rib)
    roof_at_axis = tip + AXIAL_GAP + at_tip + land
    roof_top = (roof_at_axis - bore.radius_at_zero) / (1.0 + bore.slope)
    return Joint(
        station=station,
        engagement=engagement,
        tenon_radius=tenon_radius,
        socket_radius=socket_radius,
        radial_clearance=radial_clearance,
        land=land,
        bore_radius_at_tip=at_tip,
        roof_top=roof_top,
        key=key,
    )


def _check_wall(wall: float, station: float, clearance: float, least_wall: float) -> None:
    needed = least_joint_wall(clearance, least_wall)
    if wall < needed:
        raise WallTooThin(
            f"wall {wall:.2f} mm at station {station:.2f} mm",
            f"{needed:.2f} mm for a tenon and a socket of {least_wall:.2f} mm each, "
            f"{FACET_ALLOWANCE:.2f} mm each for facets and {clearance:.2f} mm of clearance",
            "a thicker part, --least-wall or --clearance smaller",
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
