"""Two ring tenons and their sockets at a station, one around each of two bores."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from ..errors import WallTooThin
from ..values import Tenon
from .each_line import EachLine
from .joint_design import CutPlace, tenon_on


def each_on(line: EachLine, station: float, place: CutPlace) -> tuple[Tenon, Tenon]:
    """A ring with ribs and witness marks around the first bore, a plain one around the second.

    The first rib points away from the second bore, where it is farthest from the middle: there
    it leaves the joint the least play.

    Raises
    ------
    WallTooThin : the wall around a bore, or the web between both, cannot hold tenon and
        socket, or the engagement is too short for the 45 degree tip
    """
    here = np.array([station])
    if line.wall_spare(here)[0] < 0.0:
        walls = [float(one.wall(here)[0]) for one in (line.first, line.second)]
        raise WallTooThin(
            f"walls of {walls[0]:.2f} and {walls[1]:.2f} mm around two bores at station "
            f"{station:.2f} mm, the web between them shared",
            line.need(),
            "a thicker part, --least-wall or --clearance smaller",
        )
    (x, y), (other_x, other_y) = line.first.run.centres[0], line.second.run.centres[0]
    outward = replace(place, key_angle=math.atan2(y - other_y, x - other_x))
    return tenon_on(line.first, station, outward), tenon_on(line.second, station, outward)
