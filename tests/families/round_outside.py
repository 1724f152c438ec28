"""Families with a round outside: turned, drilled and milled tubes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np

from tests.families.chains import (
    AS_CAD,
    Chain,
    Facets,
    Point,
    bore_cutter,
    chain_solid,
    finished,
    least_wall_between,
    stretches,
)
from tests.families.outlines import rectangle
from tests.families.side_cuts import SideCut
from tests.families.solids import Workshop
from tests.families.surfaces import Direction
from tests.families.truth import Part, Truth


def turned(
    outside: Chain,
    bore: Chain,
    *,
    off_centre: Point = (0.0, 0.0),
    cuts: Sequence[SideCut] = (),
    facets: Facets = AS_CAD,
) -> Part:
    """Any tube of round stretches: plain, tapered, stepped, flared, blind, eccentric, with holes.

    bore : a chain that ends short of an end of the part leaves that end closed
    off_centre : of the outside from the bore
    cuts : on an outside that is a plain cylinder about the bore
    """
    workshop = Workshop()
    length = outside[-1][0]
    solid = chain_solid(workshop, outside, facets.sides, off_centre)
    tools = [bore_cutter(workshop, bore, length, facets.sides)]
    tools += [cut.cutter(workshop, outside[0][1] / 2.0, (0.0, 0.0)) for cut in cuts]
    truth = Truth(
        length=length,
        bores=stretches(bore),
        outsides=stretches(outside, off_centre),
        openings=tuple(cut.opening(outside[0][1] / 2.0) for cut in cuts),
        least_wall=least_wall_between(outside, bore) - math.hypot(*off_centre),
    )
    return finished(workshop, solid, tools, truth, facets)


def eccentric(
    *,
    length: float = 160.0,
    outside: float = 24.0,
    bore: float = 14.0,
    off_centre: Point = (1.4, 0.7),
    facets: Facets = AS_CAD,
) -> Part:
    """A round bore beside the middle of a round outside."""
    ends = (0.0, length)
    return turned(
        [(z, outside) for z in ends], [(z, bore) for z in ends],
        off_centre=off_centre, facets=facets,
    )  # fmt: skip


def stepped(
    *,
    outside: float = 26.0,
    steps: Sequence[tuple[float, float]] = ((60.0, 12.0), (130.0, 15.0), (180.0, 18.0)),
    facets: Facets = AS_CAD,
) -> Part:
    """A bore of two or more diameters; `steps` are (where each ends, its diameter)."""
    bore: list[tuple[float, float]] = []
    start = 0.0
    for stop, diameter in steps:
        bore += [(start, diameter), (stop, diameter)]
        start = stop
    return turned([(0.0, outside), (start, outside)], bore, facets=facets)


def bell(
    *,
    outside: Chain = ((0.0, 22.0), (120.0, 24.0), (150.0, 34.0), (170.0, 52.0)),
    bore: Chain = ((0.0, 12.0), (100.0, 14.0), (150.0, 24.0), (170.0, 42.0)),
    facets: Facets = AS_CAD,
) -> Part:
    """Bore and outside flare, in cones that change slope at stations of their own."""
    return turned(outside, bore, facets=facets)


def closed_end(
    *,
    length: float = 160.0,
    outside: float = 24.0,
    bore: float = 15.0,
    floor: float = 148.0,
    facets: Facets = AS_CAD,
) -> Part:
    """A blind bore with a flat floor, open at the low end."""
    return turned([(0.0, outside), (length, outside)], [(0.0, bore), (floor, bore)], facets=facets)


ODD_CUTS = (
    SideCut(40.0, 10.0, 14.0, 6.0, "slot"),
    SideCut(70.0, -70.0, 9.0, 6.0, "oval"),
    SideCut(100.0, 160.0, 10.0, 7.0, "window"),
    SideCut(130.0, 45.0, 6.0, 6.0, along_deg=25.0),
    SideCut(160.0, -30.0, 6.0, 6.0, across_deg=15.0),
)
"""Obround, oval, rectangular, leaning along the axis, leaning across it."""


def odd_holes(
    *,
    length: float = 200.0,
    outside: float = 24.0,
    bore: float = 14.0,
    cuts: Sequence[SideCut] = ODD_CUTS,
    facets: Facets = AS_CAD,
) -> Part:
    """Side holes of every shape in a plain tube."""
    ends = (0.0, length)
    return turned([(z, outside) for z in ends], [(z, bore) for z in ends], cuts=cuts, facets=facets)


def milled(
    *,
    length: float = 160.0,
    outside: float = 24.0,
    bore: float = 14.0,
    shape: Literal["flat", "keyway", "bore keyway"] = "flat",
    reach: float = 10.0,
    width: float = 5.0,
    start: float = -1.0,
    stop: float = 40.0,
    angle_deg: float = 50.0,
    facets: Facets = AS_CAD,
) -> Part:
    """A flat, or a groove of some width, milled along a round tube from start to stop.

    reach : from the axis to the flat, or to the groove's floor. The corners of a flat
        lie on the outside's own circle.
    """
    workshop = Workshop()
    solid = chain_solid(workshop, [(0.0, outside), (length, outside)], facets.sides)
    angle = math.radians(angle_deg)
    out = np.array([math.cos(angle), math.sin(angle), 0.0])
    left = np.array([-out[1], out[0], 0.0])
    inner, outer = (0.0, reach) if shape == "bore keyway" else (reach, outside)
    wide = 2.0 * outside if shape == "flat" else width
    frame = Direction((inner + outer) / 2.0 * out, out, left, np.array([0.0, 0.0, 1.0]))
    tool = workshop.prism(rectangle(outer - inner, wide), frame, start, stop)
    ends = [(0.0, bore), (length, bore)]
    corner = math.hypot(reach, width / 2.0)
    least = outside / 2.0 - corner if shape == "bore keyway" else reach - bore / 2.0
    truth = Truth(
        length=length,
        bores=stretches(ends),
        outsides=stretches([(0.0, outside), (length, outside)]),
        least_wall=least,
    )
    tools = [bore_cutter(workshop, ends, length, facets.sides), tool]
    return finished(workshop, solid, tools, truth, facets)
