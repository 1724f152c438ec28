"""Families whose outside is not round: oval, many-sided, two bores in one body, sculpted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tests.families.chains import (
    AS_CAD,
    Facets,
    Point,
    bore_cutter,
    finished,
    stretches,
)
from tests.families.outlines import many_sided, obround, oval
from tests.families.solids import Solid, Workshop
from tests.families.surfaces import UPRIGHT, Direction, Outline, level, sculpted
from tests.families.truth import FloatArray, Opening, Part, Truth


@dataclass(frozen=True, slots=True)
class FaceHole:
    """A round hole square to a flat face of the outside, straight over a bore.

    side : 1 for the face at +y, -1 for that at -y
    """

    station: float
    diameter: float
    bore: int
    side: int


def sectioned(
    outline: Outline,
    bores: Sequence[tuple[float, Point]],
    least_wall: float,
    *,
    length: float,
    facets: Facets,
    face: float = 0.0,
    holes: Sequence[FaceHole] = (),
) -> Part:
    """One section all along: an outline and round bores given as (diameter, offset).

    face : distance of the flat faces, through which there are holes, from the middle
    """
    workshop = Workshop()
    solid = workshop.prism(outline, UPRIGHT, 0.0, length)
    chains = [([(0.0, diameter), (length, diameter)], offset) for diameter, offset in bores]
    tools = [bore_cutter(workshop, chain, length, facets.sides, offset) for chain, offset in chains]
    drilled = [_drilled(workshop, hole, bores[hole.bore][1], face) for hole in holes]
    truth = Truth(
        length=length,
        bores=tuple(s for chain, offset in chains for s in stretches(chain, offset)),
        openings=tuple(opening for _, opening in drilled),
        least_wall=least_wall,
    )
    tools += [tool for tool, _ in drilled]
    return finished(workshop, solid, tools, truth, facets)


def _drilled(workshop: Workshop, hole: FaceHole, bore: Point, face: float) -> tuple[Solid, Opening]:
    """The drill, and the opening that it makes."""
    up, out = np.array([0.0, 0.0, 1.0]), np.array([0.0, float(hole.side), 0.0])
    frame = Direction(np.array([*bore, hole.station]), up, np.cross(out, up), out)
    outline = oval(hole.diameter / 2.0, hole.diameter / 2.0, 48)
    angle_deg = math.degrees(math.atan2(hole.side * face, bore[0]))
    opening = Opening(hole.station, angle_deg, hole.diameter, hole.diameter, hole.bore)
    return workshop.prism(outline, frame, 0.0, face + 1.0), opening


def oval_tube(
    *,
    length: float = 160.0,
    axes: tuple[float, float] = (30.0, 23.0),
    bore: float = 14.0,
    facets: Facets = AS_CAD,
) -> Part:
    """An elliptic outside about a round bore."""
    outline = oval(axes[0] / 2.0, axes[1] / 2.0, facets.sides)
    least = (min(axes) - bore) / 2.0
    return sectioned(outline, [(bore, (0.0, 0.0))], least, length=length, facets=facets)


def many_sided_tube(
    *,
    sides: int = 8,
    across_flats: float = 24.0,
    bore: float = 14.0,
    length: float = 160.0,
    facets: Facets = AS_CAD,
) -> Part:
    """A regular polygon with sharp corners about a round bore."""
    least = (across_flats - bore) / 2.0
    outline = many_sided(sides, across_flats)
    return sectioned(outline, [(bore, (0.0, 0.0))], least, length=length, facets=facets)


def two_bores(
    *,
    length: float = 160.0,
    bore: float = 9.0,
    apart: float = 14.0,
    size: tuple[float, float] = (31.0, 17.0),
    body: Literal["capsule", "oval"] = "capsule",
    holes: Sequence[FaceHole] = (),
    facets: Facets = AS_CAD,
) -> Part:
    """Two equal bores side by side; the axis is the middle of the outside.

    holes : through the flat faces of a capsule

    The wall of a capsule is least beside the bores or at its ends, that of an oval where
    the ellipse comes nearest to a bore's centre line, at half_u cos t below.
    """
    half_u, half_v = size[0] / 2.0, size[1] / 2.0
    if body == "capsule":
        outline = obround(*size, facets.sides)
        to_outside = min(half_v, half_u - apart / 2.0)
    else:
        outline = oval(half_u, half_v, facets.sides)
        cosine = min(1.0, half_u * apart / 2.0 / (half_u**2 - half_v**2))
        sine = math.sqrt(1.0 - cosine**2)
        to_outside = math.hypot(half_u * cosine - apart / 2.0, half_v * sine)
    least = min(to_outside - bore / 2.0, apart - bore)
    centres = [(bore, (-apart / 2.0, 0.0)), (bore, (apart / 2.0, 0.0))]
    for hole in holes:
        assert body == "capsule"
        assert apart + hole.diameter <= 2.0 * (half_u - half_v)
    return sectioned(
        outline, centres, least, length=length, facets=facets, face=half_v, holes=holes
    )


def free_form(
    *,
    length: float = 120.0,
    diameter: float = 24.0,
    swing: float = 1.2,
    lobes: int = 3,
    turns: float = 0.75,
    bore: float = 13.0,
    step: float = 1.5,
    facets: Facets = AS_CAD,
) -> Part:
    """A sculpted outside: radius = diameter/2 + swing cos(lobes angle + 2 pi turns z / length)."""

    def radius(angle: FloatArray, station: FloatArray) -> FloatArray:
        phase = lobes * angle + 2.0 * math.pi * turns * station / length
        swung: FloatArray = diameter / 2.0 + swing * np.cos(phase)
        return swung

    workshop = Workshop()
    angles = np.linspace(0.02, 0.02 + 2.0 * math.pi, 2 * facets.sides, endpoint=False)
    stations = np.linspace(0.0, length, round(length / step) + 1)
    around, along = np.meshgrid(angles, stations)
    radii = radius(around, along)
    rings = np.dstack((radii * np.cos(around), radii * np.sin(around), along))
    side = np.full((len(stations) - 1, len(angles)), workshop.add(sculpted(radius)))
    solid = workshop.loft(rings, side, (workshop.add(level(0.0)), workshop.add(level(length))))
    ends = [(0.0, bore), (length, bore)]
    truth = Truth(
        length=length, bores=stretches(ends), least_wall=diameter / 2.0 - swing - bore / 2.0
    )
    return finished(
        workshop, solid, [bore_cutter(workshop, ends, length, facets.sides)], truth, facets
    )
