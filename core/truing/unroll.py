"""Re-meshing a round surface: unroll it, cut it into narrow strips, roll it back.

Only the loops that bound the surface matter. Straight lines along the surface,
close enough for the chord error, divide it into strips; where a line meets a loop
the loop gets a vertex. Between two lines the pieces of loops and of lines close
to small polygons, which are triangulated in (arc length, station). Everything
between the loops is new, and lies on the exact surface.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from ..errors import TruingRefused
from ..meshes.ear_clipping import clip_ears
from ..values import CHORD_TOLERANCE, FloatArray, RoundSurface

_LEAST_STRIPS = 24
_CLEAR_OF_VERTICES = 0.02
_TRIES = 61
_SHIFT = 0.3


@dataclass(slots=True)
class Chain:
    """A loop as it is being rebuilt: vertex numbers, and where it crosses lines.

    half_edges : for each vertex the half-edge that starts there, None on a
        circle that is made anew
    """

    vertices: list[int]
    half_edges: list[int] | None
    lines: list[int] = field(default_factory=list)


def strip_count(radius: float) -> int:
    """How many facets keep the chord error of a circle within tolerance."""
    return max(_LEAST_STRIPS, math.ceil(math.pi / math.acos(1.0 - CHORD_TOLERANCE / radius)))


def place_lines(surface: RoundSurface, loops: list[FloatArray]) -> FloatArray:
    """Ascending angles of the lines along a surface, clear of all loop vertices.

    Parameters
    ----------
    loops : the angles of each loop's vertices; a loop that closes on itself within
        a strip gets a line of its own. No strip is wider than the chord error allows.
    """
    radius = max(surface.radius_at(surface.start), surface.radius_at(surface.stop))
    count = strip_count(radius)
    width = 2.0 * math.pi / count
    taken = np.sort(np.concatenate([*loops, np.empty(0)]))
    regular = -math.pi + (np.arange(count) + 0.5) * width
    tries = _SHIFT * width * np.linspace(-1.0, 1.0, _TRIES)
    tries = tries[np.argsort(np.abs(tries), kind="stable")]
    clear = _CLEAR_OF_VERTICES / radius
    lines = _clearest(regular[:, None] + tries[None], taken, clear)
    lines = _wrapped(np.concatenate([lines, _own_lines(loops, lines, taken, clear)]))
    return _with_narrow_strips(lines, width, taken, clear)


def _own_lines(
    loops: list[FloatArray], lines: FloatArray, taken: FloatArray, clear: float
) -> FloatArray:
    """A line for each loop that none of the lines meets."""
    own: list[float] = []
    for loop in loops:
        middle = math.atan2(np.sin(loop).sum(), np.cos(loop).sum())
        reach = np.angle(np.exp(1j * (loop - middle)))
        inside = np.angle(np.exp(1j * (lines - middle)))
        around = np.ptp(reach) > math.pi
        if around or ((inside > reach.min()) & (inside < reach.max())).any():
            continue
        tries = middle + np.linspace(0.75 * reach.min(), 0.75 * reach.max(), _TRIES)
        tries = tries[np.argsort(np.abs(tries - middle), kind="stable")]
        own.append(float(_clearest(tries[None], taken, clear)[0]))
    return np.array(own)


def _with_narrow_strips(
    lines: FloatArray, width: float, taken: FloatArray, clear: float
) -> FloatArray:
    """The lines with one more in every strip that their shifts left wider than allowed."""
    gaps: FloatArray = np.diff(lines, append=lines[0] + 2.0 * math.pi)
    wide = np.flatnonzero(gaps > width * (1.0 + 1e-9))
    if not len(wide):
        return lines
    spread = np.linspace(-1.0, 1.0, _TRIES)
    spread = spread[np.argsort(np.abs(spread), kind="stable")]
    middle: FloatArray = lines[wide] + gaps[wide] / 2.0
    reach: FloatArray = width - gaps[wide] / 2.0
    tries: FloatArray = middle.reshape(-1, 1) + reach.reshape(-1, 1) * spread
    return _wrapped(np.concatenate([lines, _clearest(tries, taken, clear)]))


def _wrapped(angles: FloatArray) -> FloatArray:
    """Ascending, in [-pi, pi)."""
    return np.sort(np.mod(angles + math.pi, 2.0 * math.pi) - math.pi)


def _clearest(tries: FloatArray, taken: FloatArray, clear: float) -> FloatArray:
    """Of each row's angles the first that is clear of those taken, else the clearest."""
    if not len(taken):
        return tries[:, 0]
    ring = np.concatenate([taken[-1:] - 2.0 * math.pi, taken, taken[:1] + 2.0 * math.pi])
    angles = np.mod(tries + math.pi, 2.0 * math.pi) - math.pi
    after = np.searchsorted(ring, angles).clip(1, len(ring) - 1)
    gaps = np.minimum(np.abs(ring[after] - angles), np.abs(angles - ring[after - 1]))
    good = gaps >= clear
    column = np.where(good.any(axis=1), good.argmax(axis=1), gaps.argmax(axis=1))
    chosen: FloatArray = tries[np.arange(len(tries)), column]
    return chosen


def strip_faces(
    chains: list[Chain],
    angles: FloatArray,
    stations: FloatArray,
    radius: float,
    taken: set[tuple[int, int]],
) -> list[tuple[int, int, int]]:
    """Triangles between the chains that bound a surface.

    Parameters
    ----------
    chains : with the surface on their left in (angle, station)
    angles, stations : of every vertex, by its number
    radius : mm, to weigh angle against station
    taken : pairs of vertices, lower number first, that have an edge elsewhere

    Raises
    ------
    TruingRefused : the chains cross each other
    """
    parts = _split_at_lines(chains)
    partner = _line_partners(chains, stations)
    by_start = {part[0]: part for part in parts}
    triangles: list[tuple[int, int, int]] = []
    while by_start:
        start, part = next(iter(by_start.items()))
        face: list[int] = []
        following = start
        while following in by_start:
            part = by_start.pop(following)
            face.extend(part)
            following = partner[part[-1]]
        if following != start:
            raise _tangled(stations[start])
        triangles.extend(_fill_face(face, angles, stations, radius, taken))
    return triangles


def _split_at_lines(chains: list[Chain]) -> list[list[int]]:
    """The chains cut where they cross lines: each part lies between two lines."""
    parts: list[list[int]] = []
    for chain in chains:
        crossings = [k for k, line in enumerate(chain.lines) if line >= 0]
        assert crossings, "place_lines gives every loop a line"
        ring = chain.vertices + chain.vertices
        size = len(chain.vertices)
        for this, following in zip(crossings, [*crossings[1:], crossings[0] + size], strict=True):
            parts.append(ring[this : following + 1])
    return parts


def _line_partners(chains: list[Chain], stations: FloatArray) -> dict[int, int]:
    """For each vertex on a line the one across the surface from it, along the line."""
    on_line: dict[int, list[int]] = {}
    for chain in chains:
        for vertex, line in zip(chain.vertices, chain.lines, strict=True):
            if line >= 0:
                on_line.setdefault(line, []).append(vertex)
    partner: dict[int, int] = {}
    for vertices in on_line.values():
        vertices.sort(key=lambda vertex: float(stations[vertex]))
        if len(vertices) % 2:
            raise _tangled(stations[vertices[0]])
        for low, high in zip(vertices[::2], vertices[1::2], strict=True):
            partner[low], partner[high] = high, low
    return partner


def _tangled(station: float) -> TruingRefused:
    return TruingRefused(
        f"a round surface whose edges cross each other near station {station:.2f} mm",
        "edges that run about the surface or about openings in it, crossed 0 times",
        "--true none, or mend the mesh there",
    )


def _fill_face(
    face: list[int],
    angles: FloatArray,
    stations: FloatArray,
    radius: float,
    taken: set[tuple[int, int]],
) -> list[tuple[int, int, int]]:
    corners = np.array(face)
    turned = angles[corners] - angles[corners[0]]
    arcs = radius * np.angle(np.exp(1j * turned))
    points = np.column_stack([arcs, stations[corners]])

    def is_taken(a: int, b: int) -> bool:
        return (min(face[a], face[b]), max(face[a], face[b])) in taken

    return [(face[a], face[b], face[c]) for a, b, c in clip_ears(points, is_taken)]
