"""Three pins and their sockets at a station: where they stand, how wide, and when they are liked.

The first pin is wider than the others' sockets, so the pieces go together in one rotation
only. The second stands off it by an angle of its own for each cut, the third halfway round
the other side, so that no pins fit another cut's sockets.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from ..errors import WallTooThin
from ..values import MOUTH_RELIEF, FloatArray, Mark, Tenon
from .joint_design import CutPlace, mark_depth
from .key_pattern import LEAST_STEP, MARK_GAP, MOST_TURN, mark_places, pattern_of
from .pins_line import LEAST_PIN_TURN, PinsLine
from .tenon_line import check_parallel

_BEYOND_PLAY = 0.3
"""How much farther apart, mm, pins of two cuts stand than both clearances take up."""

_TIP_SHARE = 0.5
"""Of the engagement, above which a single tenon's tip leaves too little that guides it."""

_USUAL_LAND = 0.8
"""Radius, mm, of the flat at a single tenon's tip."""


def prefers_pins(outer_radius: float, engagement: float) -> bool:
    """Whether pins suit a solid section better than a single round tenon.

    A round tenon in mid section has half the section's radius, and its 45 degree tip is as
    high as that, less the flat at its end. The tip guides nothing and holds little glue: where
    it takes more than half of the engagement, slim pins, whose tips are short, hold better.
    """
    tip = outer_radius / 2.0 - _USUAL_LAND
    return tip > _TIP_SHARE * engagement


def pins_on(line: PinsLine, station: float, place: CutPlace) -> tuple[Tenon, ...]:
    """Three pins at a station, the first, widest one with the cut's witness marks.

    Raises
    ------
    WallTooThin : the section is too small for three pins that stand apart, or the
        engagement is too short for their tips
    """
    here = np.array([station])
    _check_section(line, here)
    check_parallel(line, station, "a pin's")
    turn = pin_turn(line, station, place)
    middle, circle = line.run.centres[0], float(line.circle(here)[0])
    first, other = float(line.first_radius(here)[0]), float(line.other_radius(here)[0])
    angles = (place.key_angle, place.key_angle + turn, place.key_angle + turn / 2.0 + math.pi)
    widest, *others = (
        _pin(line, station, radius, _at(middle, circle, angle))
        for radius, angle in zip((first, other, other), angles, strict=True)
    )
    marks = _marks(widest, line, here, place)
    return replace(widest, marks=marks), *others


def pin_turn(line: PinsLine, station: float, place: CutPlace) -> float:
    """Angle, radians, about the middle from the first pin to the second of a cut."""
    count = min(place.count, pin_patterns(line, station))
    room = MOST_TURN - LEAST_PIN_TURN
    pattern = pattern_of(place.number, place.count, count)
    return LEAST_PIN_TURN + room * (pattern + 0.5) / count


def pin_patterns(line: PinsLine, station: float) -> int:
    """How many cuts can have pins that stand otherwise than any other's.

    Between two cuts the second pin moves so far that it does not go into the other's socket
    even where the pieces turn by all that their clearances leave.
    """
    circle = float(line.circle(np.array([station]))[0])
    step = max(LEAST_STEP, (2.0 * line.radial_clearance + _BEYOND_PLAY) / circle)
    return max(1, math.floor((MOST_TURN - LEAST_PIN_TURN) / step))


def _pin(line: PinsLine, station: float, radius: float, centre: tuple[float, float]) -> Tenon:
    return Tenon(
        station=station,
        engagement=line.engagement,
        tenon_radius=radius,
        socket_radius=radius + line.radial_clearance,
        radial_clearance=line.radial_clearance,
        land=line.land,
        bore_radius_at_tip=0.0,
        roof_top=station + float(line.zone(np.array(station))),
        wall=line.run.wall_number(station),
        bores=(),
        centres=(centre,),
    )


def _at(middle: tuple[float, float], circle: float, angle: float) -> tuple[float, float]:
    return middle[0] + circle * math.cos(angle), middle[1] + circle * math.sin(angle)


def _marks(pin: Tenon, line: PinsLine, here: FloatArray, place: CutPlace) -> tuple[Mark, ...]:
    """The nicks that count a cut, around a pin from where it is nearest to the middle on."""
    depth = mark_depth(_spare(pin, line, here), place.room_below - line.least_wall)
    if not depth:
        return ()
    radius, inward = pin.tenon_radius, place.key_angle + math.pi
    room = 2.0 * math.pi * radius - MARK_GAP
    return tuple(
        Mark(math.remainder(inward + middle / radius, 2.0 * math.pi), half / radius, depth)
        for middle, half in mark_places(place.number, -MARK_GAP, room)
    )


def _spare(pin: Tenon, line: PinsLine, here: FloatArray) -> float:
    """Wall around a pin's socket beyond the least, mm: outside, bore and other sockets."""
    circle, other = float(line.circle(here)[0]), float(line.other_radius(here)[0])
    between = 2.0 * circle * math.sin(LEAST_PIN_TURN / 2.0) - pin.socket_radius
    walls = [
        float(line.outer_radius(here)[0]) - circle - pin.socket_radius,
        between - other - line.radial_clearance - line.least_wall,
    ]
    if line.run.surfaces:
        walls.append(circle - float(line.bore_radius(here)[0]) - pin.socket_radius - MOUTH_RELIEF)
    return min(walls) - line.least_wall


def _check_section(line: PinsLine, here: FloatArray) -> None:
    if line.wall_spare(here)[0] < 0.0:
        bore = f" around a bore {2.0 * line.bore_radius(here)[0]:.2f} mm wide"
        raise WallTooThin(
            f"a section {2.0 * line.outer_radius(here)[0]:.2f} mm wide"
            f"{bore if line.run.surfaces else ''} at station {here[0]:.2f} mm",
            line.need(),
            "--joint tenon, a wider part, --least-wall or --clearance smaller",
        )
