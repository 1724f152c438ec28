"""What several glued tenons of one joint hold together, and a single one by itself.

What each carries sums: section, glue, and every load along the axis, as if all were loaded
alike. The thinnest wall, the greatest peak of shear and the least tilt are those of one of
them, for each of them has to bear its own.

A twist turns all of them about the joint's middle, and the glue around each shears along
its outline. With r from the middle to a point of an outline and t along it, glue of mean
shear s over an overlap L resists with

    T = s L integral |r x t| ds,

which is s times area times radius where the tenon stands in the middle. For a round tenon of
radius a whose centre lies c off the middle, |r x t| = |a + c cos v|, and

    integral |a + c cos v| a dv = 2 pi a^2                                 c <= a
                                = 4 a (a asin(a / c) + sqrt(c^2 - a^2))    c > a

(derived here, by the integral of a cosine between its zeros). Shear as even as that is the
least that the elastic one comes to at the same mean, by Cauchy and Schwarz; and what tenons
bear against their sockets sideways is left out, which is more than this in a tight fit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .strength import First, JointSizes, Strength, first_reached

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class JointStrength:
    """What a joint holds, all its tenons together; loads in N, straight along the axis.

    parts : of each tenon by itself
    root_wall : mm, of the thinnest tenon
    glue_volume : mm3; `glue_area` mm2
    design_load, design_torque : N and N mm, at the low end of the design shear
    peak_over_mean : the greatest of any tenon
    tilt : radians; the tenon that leans least stops the others
    glue_breaks, layers_part, first : as of a single tenon
    """

    parts: tuple[Strength, ...]
    root_wall: float
    root_area: float
    glue_area: float
    glue_volume: float
    design_load: float
    design_torque: float
    peak_over_mean: float
    tilt: float
    glue_breaks: tuple[float, float]
    layers_part: tuple[float, float]
    first: First


def strength_together(parts: Sequence[Strength], centres: Sequence[Point]) -> JointStrength:
    """Of all tenons of a joint.

    Parameters
    ----------
    parts : of each tenon by itself, under the same assumptions
    centres : mm, of each tenon
    """
    sizes = [part.sizes for part in parts]
    layers_part = _sum_of_spans([part.layers_part for part in parts])
    glue_breaks = _sum_of_spans([part.glue_breaks for part in parts])
    return JointStrength(
        parts=tuple(parts),
        root_wall=min(size.root_wall for size in sizes),
        root_area=sum(size.root_area for size in sizes),
        glue_area=sum(size.glue_area for size in sizes),
        glue_volume=sum(part.glue_volume for part in parts),
        design_load=sum(part.design_load for part in parts),
        design_torque=_torque(parts, centres),
        peak_over_mean=max(part.peak_over_mean for part in parts),
        tilt=min(part.tilt for part in parts),
        glue_breaks=glue_breaks,
        layers_part=layers_part,
        first=first_reached(layers_part, glue_breaks),
    )


def middle_of(sizes: Sequence[JointSizes], centres: Sequence[Point]) -> Point:
    """The point that a twist turns a joint about: the middle of its glue, by area."""
    whole = sum(size.glue_area for size in sizes)
    x, y = (
        sum(size.glue_area * centre[axis] for size, centre in zip(sizes, centres, strict=True))
        / whole
        for axis in (0, 1)
    )
    return x, y


def _torque(parts: Sequence[Strength], centres: Sequence[Point]) -> float:
    """N mm, about the joint's middle, at the design shear."""
    middle = middle_of([part.sizes for part in parts], centres)
    return sum(
        part.design_load * mean_lever(part.sizes.tenon_radius, math.dist(middle, centre))
        for part, centre in zip(parts, centres, strict=True)
    )


def mean_lever(radius: float, off: float) -> float:
    """Mean over a round outline of the lever arm, mm, with which shear along it resists a twist.

    Parameters
    ----------
    radius : mm, of the outline
    off : mm, of its centre from the point that it is twisted about
    """
    if off <= radius:
        return radius
    straight = math.sqrt(off * off - radius * radius)
    return 2.0 / math.pi * (radius * math.asin(radius / off) + straight)


def _sum_of_spans(spans: Sequence[tuple[float, float]]) -> tuple[float, float]:
    return sum(low for low, _ in spans), sum(high for _, high in spans)
