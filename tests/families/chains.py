"""Chains of round stretches, how they are cut into facets, and the finished part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from tests.families.solids import Solid, Workshop
from tests.families.surfaces import cone, level
from tests.families.truth import Part, Stretch, Surface, Truth

Chain = Sequence[tuple[float, float]]
"""(station, diameter) from the low end up; a station that comes twice is a step."""

Point = tuple[float, float]

OVERHANG = 0.05
"""How far, mm, the bore's cutter stands out of an open end."""


@dataclass(frozen=True, slots=True)
class Facets:
    """How the surfaces are cut up.

    sides : of every ring; without `edge` the faces between two rings are long slivers
    edge : where given, all is remeshed to edges of at most this length, mm
    """

    sides: int = 63
    edge: float | None = None


AS_CAD = Facets()


def stretches(chain: Chain, offset: Point = (0.0, 0.0)) -> tuple[Stretch, ...]:
    return tuple(
        Stretch((here[1], there[1]), here[0], there[0], offset)
        for here, there in pairwise(chain)
        if there[0] > here[0]
    )


def least_wall_between(outside: Chain, bore: Chain) -> float:
    """Of two chains about one line: least at a station where either bends or steps."""
    walls = []
    for outer in stretches(outside):
        for inner in stretches(bore):
            start, stop = max(outer.start, inner.start), min(outer.stop, inner.stop)
            if start < stop:
                walls += [outer.diameter_at(z) - inner.diameter_at(z) for z in (start, stop)]
    return min(walls) / 2.0


def chain_solid(workshop: Workshop, chain: Chain, sides: int, offset: Point = (0.0, 0.0)) -> Solid:
    surfaces: list[Surface] = []
    for (start, low), (stop, high) in pairwise(chain):
        if stop > start:
            slope = (high - low) / 2.0 / (stop - start)
            surfaces.append(cone(low / 2.0 - slope * start, slope, offset))
        else:
            surfaces.append(level(start))
    points = [(station, diameter / 2.0) for station, diameter in chain]
    return workshop.turned(points, surfaces, sides, offset)


def bore_cutter(
    workshop: Workshop, chain: Chain, length: float, sides: int, offset: Point = (0.0, 0.0)
) -> Solid:
    """The bore's cutter, standing out of the ends that it opens."""
    points = list(chain)
    if points[0][0] <= 0.0:
        points[0] = _beyond(points[1], points[0])
    if points[-1][0] >= length:
        points[-1] = _beyond(points[-2], points[-1])
    return chain_solid(workshop, points, sides, offset)


def _beyond(inner: tuple[float, float], end: tuple[float, float]) -> tuple[float, float]:
    """The end of a stretch, carried on by the overhang."""
    share = 1.0 + OVERHANG / abs(end[0] - inner[0])
    return inner[0] + share * (end[0] - inner[0]), inner[1] + share * (end[1] - inner[1])


def finished(
    workshop: Workshop, solid: Solid, tools: list[Solid], truth: Truth, facets: Facets
) -> Part:
    for tool in tools:
        solid -= tool
    mesh = workshop.finish(solid, facets.edge)
    return Part(*mesh, tuple(workshop.surfaces), truth)
