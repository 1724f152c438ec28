"""New triangles between the loops as they become: of round surfaces, hole walls and flats."""

from __future__ import annotations

import math

import numpy as np

from ..meshes.polygon import fill_polygon, signed_area, stitch
from ..values import FloatArray, IntArray
from .lines import short_way
from .loop_kinds import Rim, angles_about
from .outlines import Outlines
from .rims import across_and_along
from .strips import Outline, strip_faces
from .targets import Flat, Target


def round_faces(outlines: Outlines, target: Target, taken: set[tuple[int, int]] | None) -> IntArray:
    """(k, 3) the triangles of a round surface between its loops."""
    borders = outlines.source.borders
    loops = [k for k, loop in enumerate(borders.loops) if loop.region == target.region]
    if not loops:
        return np.empty((0, 3), np.int64)
    chains = [outlines.chain(loop) for loop in loops]
    vertices = np.concatenate([chain.vertices for chain in chains])
    points = outlines.positions(vertices)
    surface = target.surface
    radius = surface.radius_at((surface.start + surface.stop) / 2.0)
    outline = Outline(
        first=np.cumsum([0, *(len(chain.vertices) for chain in chains)]),
        vertices=vertices,
        lines=np.concatenate([chain.lines for chain in chains]),
        arcs=target.turn * radius * angles_about(points, surface),
        stations=points[:, 2].copy(),
        around=2.0 * math.pi * radius,
    )
    return strip_faces(outline, taken)


def wall_faces(outlines: Outlines, rims: list[Rim]) -> IntArray:
    """(k, 3) the triangles of a side hole's wall, from its outer rim to its inner one."""
    outer, inner = sorted(rims, key=lambda rim: -rim.side.turn)
    chains = [outlines.chain(rim.loop).vertices for rim in (outer, inner)]
    angles = []
    for k, chain in enumerate(chains):
        across = across_and_along(outlines.positions(chain), outer.wall.wall)[0]
        about = np.arctan2(across[:, 1], across[:, 0])
        if short_way(np.diff(about, append=about[0])).sum() < 0.0:
            chains[k], about = chain[::-1], about[::-1]
        angles.append(about)
    return np.concatenate(chains)[np.array(stitch(*angles, closed=True))]


def flat_faces(outlines: Outlines, flat: Flat) -> IntArray:
    """(k, 3) the triangles of a flat between its loops: a ring, or any polygon."""
    loops = outlines.source.borders.loops
    numbers = [k for k, loop in enumerate(loops) if loop.region == flat.region]
    found = [outlines.chain(number).vertices for number in numbers]
    whole = np.concatenate([np.empty(0, np.int64), *found])
    points = outlines.positions(whole)[:, :2] * [flat.facing, 1.0]
    chains = np.split(np.arange(len(whole)), np.cumsum([len(chain) for chain in found])[:-1])
    areas = [signed_area(points[chain]) for chain in chains]
    faces = [np.empty((0, 3), np.int64)]
    for outer, area in zip(chains, areas, strict=True):
        if area > 0.0:
            holes = [
                chain
                for chain, hole in zip(chains, areas, strict=True)
                if hole <= 0.0 and _holds(points[outer], points[chain[0]])
            ]
            faces.append(_fill_flat(points, outer, holes))
    triangles: IntArray = whole[np.vstack(faces)]
    return triangles


def _holds(outline: FloatArray, point: FloatArray) -> bool:
    """Is the point inside the outline? By the crossings of a ray to the right."""
    a, b = outline, np.roll(outline, -1, axis=0)
    straddles = (a[:, 1] > point[1]) != (b[:, 1] > point[1])
    a, b = a[straddles], b[straddles]
    reach = a[:, 0] + (point[1] - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
    return bool((reach > point[0]).sum() % 2)


def _fill_flat(points: FloatArray, outer: IntArray, holes: list[IntArray]) -> IntArray:
    """A ring is stitched by angle about its hole; any other shape is clipped into ears."""
    if len(holes) == 1:
        inner = holes[0][::-1]
        centre = points[inner].mean(axis=0)
        arms = [points[chain] - centre for chain in (outer, inner)]
        angles = [np.arctan2(arm[:, 1], arm[:, 0]) for arm in arms]
        if all(_runs_once_around(chain) for chain in angles):
            ring: IntArray = np.concatenate([outer, inner])[np.array(stitch(*angles, closed=True))]
            return ring
    return np.array(fill_polygon(points, outer, holes))


def _runs_once_around(angles: FloatArray) -> bool:
    """Do the angles grow all the way, once around?"""
    steps = short_way(np.diff(angles, append=angles[0]))
    return bool((steps > 0.0).all()) and abs(float(steps.sum()) - 2.0 * math.pi) < 1e-6
