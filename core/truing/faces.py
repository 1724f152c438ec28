"""New triangles between the loops as they become: of round surfaces, hole walls and flats."""

from __future__ import annotations

import math

import numpy as np

from ..errors import BadMesh, TruingRefused
from ..meshes.angles import short_way
from ..meshes.polygon import stitch
from ..meshes.section_filling import fill_section
from ..values import IntArray
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
    """(k, 3) the triangles of a flat between its loops, whatever they are.

    Raises
    ------
    TruingRefused : the loops as they became bound no area
    """
    loops = outlines.source.borders.loops
    numbers = [k for k, loop in enumerate(loops) if loop.region == flat.region]
    if not numbers:
        return np.empty((0, 3), np.int64)
    found = [outlines.chain(number).vertices for number in numbers]
    whole = np.concatenate(found)
    points = outlines.positions(whole)[:, :2] * [flat.facing, 1.0]
    chains = np.split(np.arange(len(whole)), np.cumsum([len(chain) for chain in found])[:-1])
    try:
        return whole[fill_section(points, chains)]
    except BadMesh as gap:
        raise TruingRefused(gap.found, gap.needed, "--true none, or mend the mesh there") from gap
