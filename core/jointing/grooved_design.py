"""A tenon with a groove around it at a station, over ribs that stand on its lowest part."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..errors import WallTooThin
from ..fitting.grooves import LAND_BESIDE, MOST_LAPPED_DEPTH, groove_start, lapped_groove
from ..values import Tenon, TenonGroove
from .grooved_line import MOST_MOUNTING_STRETCH, RIB_HEIGHT, GroovedLine
from .joint_design import CutPlace, tenon_on

LEAD_IN_WIDTH = 1.0
"""Bevel at the mouth of a socket into which a ring goes, mm: more than it stands out."""

MOST_LAPPED_WIDTH = 6.0
"""Of a groove for thread, mm, so that it winds fast. Common practice, no source."""


def grooved_on(line: GroovedLine, station: float, place: CutPlace) -> Tenon:
    """The tenon of a joint with a groove for an O-ring, or for thread.

    Raises
    ------
    WallTooThin : the wall cannot hold groove, tenon, clearance, ribs and socket, the engagement
        is too short for them, or the tenon is too thin for an O-ring to be put over it
    """
    tenon = tenon_on(line, station, place)
    here = np.array([station])
    wall = tenon.tenon_radius - float(line.bore_radius(here)[0])
    lead_in = min([LEAD_IN_WIDTH, *(mark.depth for mark in tenon.marks)])
    make = _for_thread if line.cord is None else _for_ring
    groove = replace(make(line, tenon, wall), lead_in=lead_in)
    return replace(tenon, rib_height=RIB_HEIGHT, groove=groove)


def _for_ring(line: GroovedLine, tenon: Tenon, wall: float) -> TenonGroove:
    assert line.cord is not None
    depth = line.groove_depth
    _check_mounting(line, tenon.tenon_radius)
    start = groove_start(line.groove_height, tenon.parallel_length, line.below_groove)
    return TenonGroove(start, line.cord.width, depth, wall - depth, 0.0, line.cord.cord)


def _for_thread(line: GroovedLine, tenon: Tenon, wall: float) -> TenonGroove:
    room = tenon.parallel_length - line.below_groove - LAND_BESIDE
    width = min(room - MOST_LAPPED_DEPTH, MOST_LAPPED_WIDTH)
    radius = tenon.tenon_radius
    found = lapped_groove(
        radius, radius - wall, width, least_wall=line.least_wall, nozzle=line.nozzle
    )
    start = groove_start(found.height, tenon.parallel_length, line.below_groove)
    return TenonGroove(start, found.width, found.depth, found.wall_left, 0.0)


def _check_mounting(line: GroovedLine, radius: float) -> None:
    """The ring can be stretched over the tenon to its groove."""
    assert line.cord is not None
    depth, needed = line.groove_depth, line.least_radius
    if radius < needed:
        raise WallTooThin(
            f"a tenon of {2.0 * radius:.2f} mm diameter with a groove of {depth:.2f} mm, over "
            f"which an O-ring of {line.cord.cord:.2f} mm would be pulled to "
            f"{radius / (radius - depth):.2f} times its size",
            f"{2.0 * needed:.2f} mm, for at most {MOST_MOUNTING_STRETCH:.2f} times",
            "a thicker part, or another --joint",
        )
