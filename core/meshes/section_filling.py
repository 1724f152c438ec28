"""Triangles of a plane section with any number of outlines."""

from __future__ import annotations

import numpy as np

from ..errors import BadMesh
from ..values import BoolArray, FloatArray, IntArray
from .ear_clipping import clip_ears
from .polygon import doubled_areas, fill_polygon, signed_area, stitch

_BESIDE = 12
"""So many triangles on each side of one turned inside out are made anew with it."""


def fill_section(points: FloatArray, rings: list[IntArray]) -> IntArray:
    """Triangles of a plane section: any number of outlines, each with holes or without.

    Parameters
    ----------
    points : (n, 2) float
    rings : indices; counter-clockwise around material, clockwise around a hole in it

    Returns
    -------
    (m, 3) indices, counter-clockwise

    Raises
    ------
    BadMesh : the outlines do not bound an area: the mesh passes through itself
    """
    areas = [signed_area(points[ring]) for ring in rings]
    outers = [ring for ring, area in zip(rings, areas, strict=True) if area > 0.0]
    sizes = np.array([area for area in areas if area > 0.0])
    held: list[list[IntArray]] = [[] for _ in outers]
    for ring, area in zip(rings, areas, strict=True):
        if area > 0.0:
            continue
        around = [_holds(points[outer], points[ring[0]]) for outer in outers]
        if not any(around):
            raise BadMesh(
                f"a section of the part with an outline of {area:.4f} mm2 in no other, turned "
                f"inside out, near ({points[ring[0], 0]:.2f}, {points[ring[0], 1]:.2f}) mm off "
                "the axis",
                "holes that lie in outlines",
                "mend the mesh where it passes through itself",
            )
        held[int(np.where(around, sizes, np.inf).argmin())].append(ring)
    faces = [_fill(points, outer, holes) for outer, holes in zip(outers, held, strict=True)]
    return np.vstack(faces)


def _holds(outline: FloatArray, point: FloatArray) -> bool:
    """Is the point inside the outline? By the crossings of a ray to the right."""
    a, b = outline, np.roll(outline, -1, axis=0)
    straddles = (a[:, 1] > point[1]) != (b[:, 1] > point[1])
    a, b = a[straddles], b[straddles]
    reach = a[:, 0] + (point[1] - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
    return bool((reach > point[0]).sum() % 2)


def _fill(points: FloatArray, outer: IntArray, holes: list[IntArray]) -> IntArray:
    """One outline with its holes: stitched about its one hole where that works."""
    if len(holes) == 1:
        faces = _stitched(points, outer, holes[0][::-1])
        doubled = doubled_areas(points, faces)
        whole = 2.0 * (signed_area(points[outer]) + signed_area(points[holes[0]]))
        if doubled.min() > 0.0 and abs(float(doubled.sum()) - whole) < 1e-9 * whole:
            return faces
    return fill_polygon(points, outer, holes)


def _stitched(points: FloatArray, outer: IntArray, inner: IntArray) -> IntArray:
    """The ring between two outlines, stitched by angle and mended where that folds it over."""
    centre = points[inner].mean(axis=0)
    angles = [np.arctan2(*(points[ring] - centre).T[::-1]) for ring in (outer, inner)]
    numbers = np.concatenate([outer, inner])
    strip = stitch(*angles, closed=True)
    folded = doubled_areas(points, numbers[strip]) <= 0.0
    if not folded.any():
        stitched: IntArray = numbers[strip]
        return stitched
    anew = np.zeros(len(strip), bool)
    for step in range(-_BESIDE, _BESIDE + 1):
        anew |= np.roll(folded, step)
    parts = [numbers[strip[~anew]]]
    for run in _runs(anew):
        outline = numbers[_outline(strip[run], len(outer))]
        parts.append(outline[np.array(clip_ears(points[outline]))])
    return np.vstack(parts)


def _runs(chosen: BoolArray) -> list[IntArray]:
    """Places of each run of chosen things in a ring, in order."""
    if chosen.all():
        return [np.arange(len(chosen))]
    start = int(np.flatnonzero(~chosen)[0])
    places = (np.flatnonzero(np.roll(chosen, -start)) + start) % len(chosen)
    breaks = np.flatnonzero(np.diff(places) % len(chosen) != 1) + 1
    return np.split(places, breaks)


def _outline(strip: IntArray, first_count: int) -> IntArray:
    """The outline of consecutive triangles of a stitched strip, counter-clockwise.

    Each triangle is (first chain, what comes next on either, second chain).
    """
    last = strip[-1]
    ends = (last[1], last[2]) if last[1] < first_count else (last[0], last[1])
    chains = [np.append(strip[:, k], end) for k, end in zip((0, 2), ends, strict=True)]
    first, second = (chain[np.append(True, np.diff(chain) != 0)] for chain in chains)
    return np.concatenate([first, second[::-1]])
