"""The trued mesh put together: kept triangles, and new ones between the loops."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..errors import TruingRefused
from ..values import HOLE, FloatArray, IntArray, Mesh, RoundSurface, Survey, read_only
from .faces import flat_faces, round_faces, wall_faces
from .kept import Kept, kept_triangles
from .loop_kinds import Circle, Rim
from .outlines import Outlines
from .source import Source
from .strips import edge_pairs
from .targets import Flat

_FOLDED = 0.03
"""A triangle lower than this, mm, may be turned over, as the source has such."""


@dataclass(frozen=True, slots=True, eq=False)
class Rebuilt:
    """The trued mesh, what each triangle belongs to, and the lines of each set."""

    mesh: Mesh
    labels: IntArray
    numbers: IntArray
    lines: dict[int, FloatArray]

    def __post_init__(self) -> None:
        read_only(self.labels)
        read_only(self.numbers)


def rebuild(
    survey: Survey,
    source: Source,
    circles: list[Circle],
    rims: list[Rim],
    flats: tuple[Flat, ...],
    *,
    careful: bool,
) -> Rebuilt:
    """The mesh with everything asked for made anew.

    Parameters
    ----------
    careful : mind every edge that is already made; slower

    Raises
    ------
    TruingRefused : the loops cross each other, or new and kept do not close
    """
    outlines = Outlines(source, circles, rims, flats)
    walls = [[rim for rim in rims if rim.wall.region == region] for region in _walls(rims)]
    targets = tuple(source.targets.values())
    made = {target.region for target in targets} | {flat.region for flat in flats}
    kept = kept_triangles(outlines, made | set(_walls(rims)))
    parts = [(wall_faces(outlines, pair), HOLE, pair[0].wall.number) for pair in walls] + [
        (flat_faces(outlines, flat), flat.label, 0) for flat in flats
    ]
    near = _near_borders(source, kept)
    fixed = np.vstack([near, kept.parts, *(faces for faces, _, _ in parts)])
    taken = edge_pairs(fixed) if careful else None
    strips = [(round_faces(outlines, t, taken), t.label, t.number) for t in targets]
    for target, (faces, _, _) in zip(targets, strips, strict=True):
        check_facing(outlines.positions(faces), target.surface, target.turn)
    made_anew = np.vstack([fixed, *(faces for faces, _, _ in strips)])
    check_joined(*_on_borders(outlines, made_anew))
    return _put_together(survey, outlines, kept, parts + strips)


def _walls(rims: list[Rim]) -> list[int]:
    return list(dict.fromkeys(rim.wall.region for rim in rims))


def _near_borders(source: Source, kept: Kept) -> IntArray:
    """(k, 3) whole kept triangles that have an edge between two vertices of borders."""
    on_border = np.zeros(len(source.mesh.vertices), bool)
    on_border[source.borders.start] = True
    corners = source.mesh.triangles[kept.whole]
    near: IntArray = corners[on_border[corners].sum(axis=1) >= 2]
    return near


def check_facing(corners: FloatArray, surface: RoundSurface, turn: int) -> None:
    """No triangle (k, 3, 3) of a round surface may be turned inside out.

    Parameters
    ----------
    turn : 1 where it faces away from its centre line, -1 where it faces it

    Raises
    ------
    TruingRefused : with where it would be so
    """
    x, y, z = (np.ascontiguousarray(column) for column in corners.T)  # (3, k), by corner
    (ux, uy, uz), (vx, vy, vz) = (
        (w[1] - w[0] for w in (x, y, z)),
        (w[2] - w[0] for w in (x, y, z)),
    )
    normal = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    out = x.sum(axis=0) / 3.0 - surface.offset[0], y.sum(axis=0) / 3.0 - surface.offset[1]
    inward = turn * (normal[0] * out[0] + normal[1] * out[1]) < 0.0
    sides = (x - x[[1, 2, 0]]) ** 2 + (y - y[[1, 2, 0]]) ** 2 + (z - z[[1, 2, 0]]) ** 2
    size = normal[0] ** 2 + normal[1] ** 2 + normal[2] ** 2
    wrong = inward & (size > _FOLDED**2 * sides.max(axis=0))
    if wrong.any():
        place = corners[wrong][0, 0]
        raise TruingRefused(
            f"a round surface folded over itself near station {place[2]:.2f} mm, "
            f"{math.degrees(math.atan2(place[1], place[0])):.0f} degrees",
            "edges of openings that keep clear of each other and of the ends",
            "--true none, or mend the mesh there",
        )


def _on_borders(outlines: Outlines, triangles: IntArray) -> tuple[FloatArray, IntArray]:
    """All vertices, and triangles with each that is on no border, and so as it was, as -1."""
    count = len(outlines.source.mesh.vertices)
    stays = np.ones(outlines.count, bool)
    stays[outlines.source.borders.start] = False
    stays[count:] = False
    numbers, places = np.unique(triangles, return_inverse=True)
    places = places.reshape(triangles.shape)
    return outlines.positions(numbers), np.where(stays[triangles], -1, places)


def check_joined(points: FloatArray, triangles: IntArray) -> None:
    """Every edge has exactly two triangles, that run it both ways.

    Parameters
    ----------
    triangles : (k, 3) places among the points; edges of a corner -1 are not asked

    Raises
    ------
    TruingRefused : with how many have not, and where the first of them is
    """
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    asked = (start >= 0) & (end >= 0)
    start, end = start[asked], end[asked]
    codes, which, counts = np.unique(
        np.minimum(start, end) * len(points) + np.maximum(start, end),
        return_inverse=True,
        return_counts=True,
    )
    balance = np.bincount(which.reshape(-1), np.where(start < end, 1.0, -1.0), len(codes))
    wrong = codes[(counts != 2) | (balance != 0.0)]
    if len(wrong):
        place = points[int(wrong[0]) // len(points)]
        raise TruingRefused(
            f"true surfaces that do not close with the rest: {len(wrong)} edges without just two "
            f"triangles, the first near station {place[2]:.2f} mm",
            "0 such edges",
            "--true none, or mend the mesh near there",
        )


def _put_together(
    survey: Survey, outlines: Outlines, kept: Kept, made: list[tuple[IntArray, int, int]]
) -> Rebuilt:
    origin = np.concatenate([kept.whole, kept.origin])
    sizes = [len(faces) for faces, _, _ in made]
    labels = np.repeat([label for _, label, _ in made], sizes)
    numbers = np.repeat([number for _, _, number in made], sizes)
    triangles = np.vstack(
        [survey.mesh.triangles[kept.whole], kept.parts, *(faces for faces, _, _ in made)]
    )
    used = np.zeros(outlines.count, bool)
    used[triangles.ravel()] = True
    chosen = np.flatnonzero(used)
    number = np.empty(outlines.count, np.int64)
    number[chosen] = np.arange(len(chosen))
    return Rebuilt(
        mesh=Mesh(outlines.positions(chosen), number[triangles]),
        labels=np.concatenate([survey.labels[origin], labels]),
        numbers=np.concatenate([survey.numbers[origin], numbers]),
        lines=outlines.lines,
    )
