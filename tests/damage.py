"""What befalls meshes on their way from a stranger, and what is right to come of it.

Each damage takes a mesh, as vertices and triangles, and gives it back damaged. It
finds its place by the surfaces that the part was built with, so that one damage may
follow another. Nothing of the core is used here. Millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tests.parts import Part, Truth

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

ASIDE = 60.0
"""mm along the build's x axis, how far the second body stands from the first."""

Face = Literal["end", "bore", "outside", "hole"]


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """A mesh as its file holds it.

    unit : mm that one of its units stands for
    """

    vertices: FloatArray
    triangles: IntArray
    truth: Truth
    unit: float = 1.0


Step = Callable[[Source, np.random.Generator], Source]


@dataclass(frozen=True, slots=True)
class Damage:
    """One kind of damage.

    outcome : "mended": the right pieces, and a remark; "sound": the right pieces, and
        nothing need be said; "refused": a refusal with places; "either": the right
        pieces or a refusal with places
    bodies : how many parts there are in the mesh then
    remark : what the remark on it holds
    """

    name: str
    step: Step
    outcome: Literal["mended", "sound", "refused", "either"]
    remark: str = ""
    bodies: int = 1


def source_of(part: Part) -> Source:
    """A test part, undamaged."""
    vertices = np.array(part.mesh.vertices) * part.truth.unit
    return Source(vertices, np.array(part.mesh.faces, np.int64), part.truth)


# Where


def middles(source: Source) -> FloatArray:
    """(m, 3) the middles of the triangles, as built: about z, the low end at 0."""
    return as_built(source, source.vertices[source.triangles].mean(axis=1))


def as_built(source: Source, points: FloatArray) -> FloatArray:
    """Points of the mesh in the part's own build frame."""
    pose = source.truth.pose
    built: FloatArray = (points - pose[:3, 3]) @ pose[:3, :3]
    return built


def of_face(source: Source, face: Face) -> BoolArray:
    """Which triangles have all their corners on one of the part's true surfaces."""
    truth = source.truth
    points = as_built(source, source.vertices)
    radius, station = np.hypot(points[:, 0], points[:, 1]), points[:, 2]
    bore = truth.bore[0] + (truth.bore[1] - truth.bore[0]) * station / truth.length
    outside = truth.outside[0] + (truth.outside[1] - truth.outside[0]) * station / truth.length
    if face == "end":
        on = np.abs(station) < 0.01
    elif face == "bore":
        on = np.abs(2.0 * radius - bore) < 0.02
    elif face == "outside":
        on = np.abs(2.0 * radius - outside) < 0.02
    else:
        hole = truth.holes[0]
        turn = math.radians(hole.angle_deg)
        across = points[:, 1] * math.cos(turn) - points[:, 0] * math.sin(turn)
        toward = points[:, 0] * math.cos(turn) + points[:, 1] * math.sin(turn)
        off = np.hypot(across, station - hole.station) - hole.diameter / 2.0
        on = (np.abs(off) < 0.02) & (toward > 0.0)
    chosen: BoolArray = on[source.triangles].all(axis=1)
    return chosen


def nearest(source: Source, face: Face, count: int, rng: np.random.Generator) -> IntArray:
    """Triangles of a face side by side: those about one of them."""
    rows = np.flatnonzero(of_face(source, face))
    points = middles(source)[rows]
    gaps = np.linalg.norm(points - points[rng.integers(len(rows))], axis=1)
    return rows[np.argsort(gaps, kind="stable")[:count]]


# What befalls


def loosened(source: Source, _: np.random.Generator) -> Source:
    """Every triangle with vertices of its own, as an STL has them."""
    vertices = source.vertices[source.triangles].reshape(-1, 3)
    return replace(source, vertices=vertices, triangles=np.arange(len(vertices)).reshape(-1, 3))


def cracked(source: Source, rng: np.random.Generator) -> Source:
    """Loosened, and every corner rounded by up to 0.0004 mm its own way."""
    loose = loosened(source, rng)
    return replace(loose, vertices=loose.vertices + rng.uniform(-4e-4, 4e-4, loose.vertices.shape))


def doubled(source: Source, rng: np.random.Generator) -> Source:
    """A twentieth of the triangles twice."""
    again = rng.choice(len(source.triangles), len(source.triangles) // 20, replace=False)
    return _with_triangles(source, np.roll(source.triangles[again], 1, axis=1))


def twice(source: Source, _: np.random.Generator) -> Source:
    """The whole body twice in the same place."""
    return _with_body(source, source.vertices, source.triangles)


def twice_turned(source: Source, _: np.random.Generator) -> Source:
    """The whole body twice in the same place, one copy inside out."""
    return _with_body(source, source.vertices, source.triangles[:, ::-1])


def collapsed(source: Source, rng: np.random.Generator) -> Source:
    """Some triangles more that have two corners in one vertex."""
    a, b, _c = source.triangles[rng.choice(len(source.triangles), 20)].T
    return _with_triangles(source, np.column_stack((a, b, b)))


def with_slivers(source: Source, rng: np.random.Generator) -> Source:
    """Some edges split on one side, and the gap closed by triangles without area."""
    return _split_edges(source, rng, close=True)


def with_tee_junctions(source: Source, rng: np.random.Generator) -> Source:
    """Some edges split on one side only."""
    return _split_edges(source, rng, close=False)


def flipped(source: Source, rng: np.random.Generator) -> Source:
    """A patch of a tenth of the triangles faces the other way."""
    points = middles(source)
    gaps = np.linalg.norm(points - points[rng.integers(len(points))], axis=1)
    patch = np.argsort(gaps, kind="stable")[: len(points) // 10]
    triangles = source.triangles.copy()
    triangles[patch] = triangles[patch, ::-1]
    return replace(source, triangles=triangles)


def inside_out(source: Source, _: np.random.Generator) -> Source:
    """All triangles face inward."""
    return replace(source, triangles=source.triangles[:, ::-1])


def torn(face: Face, count: int) -> Step:
    """Triangles side by side are missing."""

    def tear(source: Source, rng: np.random.Generator) -> Source:
        gone = nearest(source, face, count, rng)
        return replace(source, triangles=np.delete(source.triangles, gone, axis=0))

    return tear


def rim_torn(source: Source, rng: np.random.Generator) -> Source:
    """All triangles are missing that reach within 1 mm of a place on a hole's rim."""
    corners = source.triangles[nearest(source, "hole", 1, rng)[0]]
    gaps = np.linalg.norm(source.vertices - source.vertices[corners[0]], axis=1)
    gone = (gaps < 1.0)[source.triangles].any(axis=1)
    return replace(source, triangles=source.triangles[~gone])


def without(face: Face) -> Step:
    """A whole face is missing: an end, the bore's wall, or a hole's."""

    def strip(source: Source, _: np.random.Generator) -> Source:
        return replace(source, triangles=source.triangles[~of_face(source, face)])

    return strip


def with_specks(source: Source, rng: np.random.Generator) -> Source:
    """Five tetrahedra of 0.02 mm3 about the part."""
    damaged = source
    for _ in range(5):
        place = source.vertices[rng.integers(len(source.vertices))] + rng.uniform(1.0, 3.0, 3)
        damaged = _with_body(damaged, place + 0.5 * _CORNERS, _TETRAHEDRON)
    return damaged


def with_second_body(source: Source, _: np.random.Generator) -> Source:
    """The same part once more, beside the first."""
    aside = source.truth.pose[:3, 0] * ASIDE
    return _with_body(source, source.vertices + aside, source.triangles)


def not_finite(source: Source, rng: np.random.Generator) -> Source:
    """One coordinate is no number."""
    vertices = source.vertices.copy()
    vertices[source.triangles[rng.integers(len(source.triangles)), 0], 1] = np.nan
    return replace(source, vertices=vertices)


def with_fin(source: Source, rng: np.random.Generator) -> Source:
    """Two triangles back to back stand on an edge."""
    a, b, tip, vertices = _fin(source, rng)
    fin = np.array([[a, b, tip], [b, a, tip]])
    return _with_triangles(replace(source, vertices=vertices), fin)


def with_flap(source: Source, rng: np.random.Generator) -> Source:
    """One triangle stands on an edge: its third."""
    a, b, tip, vertices = _fin(source, rng)
    return _with_triangles(replace(source, vertices=vertices), np.array([[a, b, tip]]))


def touching_in_a_point(source: Source, rng: np.random.Generator) -> Source:
    """A tetrahedron of a sixth of a mm3 stands with one corner on a vertex of the outside."""
    corner = source.triangles[nearest(source, "outside", 1, rng)[0], 0]
    place = source.vertices[corner]
    away = _outward(source, place)
    across = np.cross(source.truth.pose[:3, 2], away)
    shape = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [1, 0, 1]]) @ np.array(
        [away, across, source.truth.pose[:3, 2]]
    )
    count = len(source.vertices)
    numbers = np.array([corner, count, count + 1, count + 2])
    return replace(
        source,
        vertices=np.vstack((source.vertices, place + shape[1:])),
        triangles=np.vstack((source.triangles, numbers[_TETRAHEDRON])),
    )


def in_inches(source: Source, _: np.random.Generator) -> Source:
    """The coordinates count inches."""
    return replace(source, vertices=source.vertices / 25.4, unit=25.4)


# How


_CORNERS = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
_TETRAHEDRON = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])


def _with_triangles(source: Source, triangles: IntArray) -> Source:
    return replace(source, triangles=np.vstack((source.triangles, triangles)))


def _with_body(source: Source, vertices: FloatArray, triangles: IntArray) -> Source:
    return replace(
        source,
        vertices=np.vstack((source.vertices, vertices)),
        triangles=np.vstack((source.triangles, triangles + len(source.vertices))),
    )


def _split_edges(source: Source, rng: np.random.Generator, *, close: bool) -> Source:
    """Five triangles cut in two at the middle of an edge, where their neighbours are not."""
    chosen = rng.choice(len(source.triangles), 5, replace=False)
    a, b, c = source.triangles[chosen].T
    new = len(source.vertices) + np.arange(len(chosen))
    middle = (source.vertices[a] + source.vertices[b]) / 2.0
    halves = [np.column_stack((a, new, c)), np.column_stack((new, b, c))]
    if close:
        halves.append(np.column_stack((a, b, new)))
    return replace(
        source,
        vertices=np.vstack((source.vertices, middle)),
        triangles=np.vstack((np.delete(source.triangles, chosen, axis=0), *halves)),
    )


def _fin(source: Source, rng: np.random.Generator) -> tuple[int, int, int, FloatArray]:
    """An edge of the outside, the number of a new vertex 2 mm off it, and the vertices."""
    a, b, _ = source.triangles[nearest(source, "outside", 1, rng)[0]].tolist()
    foot = (source.vertices[a] + source.vertices[b]) / 2.0
    tip = foot + 2.0 * _outward(source, foot)
    return a, b, len(source.vertices), np.vstack((source.vertices, tip))


def _outward(source: Source, point: FloatArray) -> FloatArray:
    """The unit vector away from the part's axis at a point."""
    pose = source.truth.pose
    built = (point - pose[:3, 3]) @ pose[:3, :3]
    flat = np.array([built[0], built[1], 0.0])
    outward: FloatArray = pose[:3, :3] @ (flat / np.linalg.norm(flat))
    return outward


DAMAGES = (
    Damage("slivers", with_slivers, "sound"),
    Damage("tee junctions", with_tee_junctions, "mended", "split there"),
    Damage("doubled", doubled, "mended", "doubled"),
    Damage("twice", twice, "mended", "doubled"),
    Damage("twice, one turned", twice_turned, "mended", "doubled"),
    Damage("collapsed triangles", collapsed, "mended", "no area"),
    Damage("end torn", torn("end", 4), "mended", "tear"),
    Damage("bore torn", torn("bore", 4), "either", "tear"),
    Damage("outside torn", torn("outside", 4), "either", "tear"),
    Damage("hole torn", torn("hole", 4), "either", "tear"),
    Damage("rim torn", rim_torn, "either", "tear"),
    Damage("end missing", without("end"), "refused"),
    Damage("bore missing", without("bore"), "refused"),
    Damage("hole missing", without("hole"), "refused"),
    Damage("flipped", flipped, "mended", "turned"),
    Damage("inside out", inside_out, "mended", "outward"),
    Damage("fin", with_fin, "mended", "fin"),
    Damage("flap", with_flap, "refused"),
    Damage("touching in a point", touching_in_a_point, "mended", "touched"),
    Damage("specks", with_specks, "mended", "specks were"),
    Damage("second body", with_second_body, "sound", bodies=2),
    Damage("not finite", not_finite, "refused"),
    Damage("unwelded", loosened, "mended", "welded"),
    Damage("cracked", cracked, "mended", "crack"),
    Damage("inches", in_inches, "sound"),
)
"""In the order in which two of them may follow each other."""
