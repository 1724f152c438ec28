"""What opens the wall of a part, and what else lies on it: side holes, ornaments."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from ..meshes.connected import connected_groups
from ..values import (
    BORE,
    HOLE,
    OTHER,
    OUTSIDE,
    BoolArray,
    FloatArray,
    IntArray,
    Mesh,
    Ornament,
    RoundSurface,
    SideHole,
    read_only,
)
from .bore_openings import Terrain, find_openings_of_bores, survey_terrain
from .hole_passages import Passage, find_passages
from .hole_sizes import SizedHole, measure_hole
from .ornaments import find_ornaments as find_all_ornaments


@dataclass(frozen=True, slots=True, eq=False)
class Openings:
    """Side holes and ornaments, and the labels with the walls of round holes marked.

    labels, numbers : (m,) as in `Survey`
    """

    side_holes: tuple[SideHole, ...]
    ornaments: tuple[Ornament, ...]
    labels: IntArray
    numbers: IntArray

    def __post_init__(self) -> None:
        read_only(self.labels)
        read_only(self.numbers)


def find_openings(
    part: Mesh,
    labels: IntArray,
    numbers: IntArray,
    bores: tuple[RoundSurface, ...],
    outsides: tuple[RoundSurface, ...],
    length: float,
    band: float,
) -> Openings:
    """Side holes and ornaments of a part in its own frame.

    A side hole is an opening of a bore's wall that leads to the outside. Whatever else
    belongs to no surface is an ornament, if it is more than noise.

    Parameters
    ----------
    labels, numbers : (m,) bores, outsides and ends marked, all else OTHER
    outsides : none where the outside is not round: then it is OTHER as well
    length : mm, between the ends
    band : mm, how far off its surface a vertex may lie
    """
    terrain = survey_terrain(part, labels, numbers, bores)
    passages = find_passages(terrain, find_openings_of_bores(terrain), outsides, band)
    sized = [measure_hole(terrain, passage, outsides, band) for passage in passages]
    order = sorted(range(len(sized)), key=lambda k: (sized[k].hole.station, sized[k].hole.angle))
    walls = [passage.triangles for passage in passages]
    in_holes = np.concatenate([*walls, np.empty(0, np.int64)])
    holes = [_opening_bore(terrain, passages[k], sized[k].hole, bores) for k in order]
    marked, counted = _mark_walls(labels, numbers, [sized[k] for k in order])
    ornaments = find_all_ornaments(terrain, in_holes, bores, outsides, length, band)
    return Openings(tuple(holes), ornaments, marked, counted)


def _opening_bore(
    terrain: Terrain, passage: Passage, hole: SideHole, bores: tuple[RoundSurface, ...]
) -> SideHole:
    """The hole with the stretch of the bore that most of its rim opens."""
    line = terrain.lines[passage.opening.line]
    station = float(terrain.part.vertices[passage.opening.loop.vertices, 2].mean())
    gaps = [
        max(bore.start - station, station - bore.stop, 0.0) if bore.offset == line else np.inf
        for bore in bores
    ]
    return replace(hole, bore=int(np.argmin(gaps)))


def _mark_walls(
    labels: IntArray, numbers: IntArray, holes: list[SizedHole]
) -> tuple[IntArray, IntArray]:
    marked, counted = labels.copy(), numbers.copy()
    for k, sized in enumerate(holes):
        marked[sized.on_wall] = HOLE
        counted[sized.on_wall] = k
    return marked, counted


# What the survey and truing still use until they have moved over

_ELLIPSE_STEPS = 30


@dataclass(frozen=True, slots=True, eq=False)
class Loop:
    """A closed chain of half-edges that bounds a region, the region on its left.

    half_edges : (k,) 3 t + c runs from corner c of triangle t to the next corner
    vertices : (k,) start vertex of each
    turns : how often it runs about the axis: 0 for an opening, 1 or -1 around the part
    """

    half_edges: IntArray
    vertices: IntArray
    turns: int

    def __post_init__(self) -> None:
        read_only(self.half_edges)
        read_only(self.vertices)


def boundary_loops(mesh: Mesh, inside: BoolArray, twin: IntArray) -> list[Loop]:
    """Loops along which the triangles marked inside end.

    At a vertex that the region touches twice each fan of triangles keeps its own
    loop, so that every loop is simple in the surface.
    """
    triangle = np.arange(len(twin)) // 3
    edge = np.flatnonzero(inside[triangle] & ~inside[twin // 3])
    following = _next_corner(edge)
    while True:
        inner = inside[twin[following] // 3]
        if not inner.any():
            break
        following[inner] = _next_corner(twin[following[inner]])
    after = dict(zip(edge.tolist(), following.tolist(), strict=True))
    angles = np.arctan2(mesh.vertices[:, 1], mesh.vertices[:, 0])
    corners = mesh.triangles.ravel()
    loops = []
    while after:
        start, current = next(iter(after.items()))
        chain = [start]
        del after[start]
        while current != start:
            chain.append(current)
            current = after.pop(current)
        half_edges = np.array(chain)
        vertices = corners[half_edges]
        steps = np.angle(np.exp(1j * np.diff(angles[vertices], append=angles[vertices[0]])))
        loops.append(Loop(half_edges, vertices, round(float(steps.sum()) / (2.0 * math.pi))))
    return loops


def _next_corner(half_edges: IntArray) -> IntArray:
    following: IntArray = half_edges - half_edges % 3 + (half_edges + 1) % 3
    return following


def patches_of_other(labels: IntArray, twin: IntArray) -> IntArray:
    """(m,) number of the connected patch of OTHER triangles, -1 elsewhere."""
    other = labels == OTHER
    number = np.full(len(labels), -1)
    place = np.cumsum(other) - 1
    triangle = np.arange(len(twin)) // 3
    pair = other[triangle] & other[twin // 3]
    groups = connected_groups(int(other.sum()), place[triangle[pair]], place[twin[pair] // 3])
    number[other] = groups
    return number


def find_side_holes(
    mesh: Mesh,
    labels: IntArray,
    twin: IntArray,
    patches: IntArray,
    outside: RoundSurface,
) -> tuple[tuple[SideHole, ...], set[int]]:
    """Side holes, and the patches that are nothing but the walls of one.

    A side hole is an opening of the bore whose walls lead to the outside.
    """
    inner = _openings(mesh, labels == BORE, twin, patches)
    outer = _openings(mesh, labels == OUTSIDE, twin, patches)
    reaching = set(np.unique(patches[twin[_edges_of(labels == OUTSIDE, labels, twin)] // 3]))
    holes, plain = [], set()
    for patch, loop in inner:
        if patch not in reaching:
            continue
        rim = mesh.vertices[loop.vertices]
        beyond = [other for number, other in outer if number == patch]
        shown = _nearest_rim(mesh, rim, beyond)
        alone = len(beyond) == 1 and sum(number == patch for number, _ in inner) == 1
        if alone:
            plain.add(patch)
            extent = mesh.vertices[np.unique(mesh.triangles[patches == patch])][:, 2]
        else:
            extent = np.concatenate([rim[:, 2], shown[:, 2]])
        holes.append(_measure_hole(shown, float(extent.min()), float(extent.max()), outside))
    return tuple(sorted(holes, key=lambda hole: hole.station)), plain


def _edges_of(inside: BoolArray, labels: IntArray, twin: IntArray) -> IntArray:
    triangle = np.arange(len(twin)) // 3
    return np.flatnonzero(inside[triangle] & (labels[twin // 3] == OTHER))


def _openings(
    mesh: Mesh, inside: BoolArray, twin: IntArray, patches: IntArray
) -> list[tuple[int, Loop]]:
    """Loops that do not run about the axis, each with the patch beyond it."""
    found = []
    for loop in boundary_loops(mesh, inside, twin):
        beyond = np.unique(patches[twin[loop.half_edges] // 3])
        if loop.turns == 0 and len(beyond) == 1 and beyond[0] >= 0:
            found.append((int(beyond[0]), loop))
    return found


def _nearest_rim(mesh: Mesh, rim: FloatArray, candidates: list[Loop]) -> FloatArray:
    """The outer rim that belongs to an inner one; the inner itself if there is none."""
    centre = _unrolled_centre(rim)
    best, least = rim, math.inf
    for loop in candidates:
        points = mesh.vertices[loop.vertices]
        angle, station = np.subtract(_unrolled_centre(points), centre)
        reach = float(np.hypot(points[:, 0], points[:, 1]).mean())
        distance = math.hypot(reach * math.remainder(angle, 2.0 * math.pi), station)
        if distance < least:
            best, least = points, distance
    return best


def _unrolled_centre(points: FloatArray) -> tuple[float, float]:
    middle = points.mean(axis=0)
    return math.atan2(middle[1], middle[0]), float(middle[2])


def _measure_hole(rim: FloatArray, low: float, high: float, outside: RoundSurface) -> SideHole:
    """Station, angle and widths of a hole from its rim at the outside.

    The rim is seen along the hole's own direction, where a round hole is a circle
    however much the part's surface curves.
    """
    angle = _unrolled_centre(rim)[0]
    for _ in range(6):
        across = rim[:, 1] * math.cos(angle) - rim[:, 0] * math.sin(angle)
        centre, half = _fit_ellipse(np.column_stack([across, rim[:, 2]]))
        angle += math.atan2(centre[0], outside.radius_at(centre[1]))
    return SideHole(
        station=centre[1],
        angle=_half_open(angle),
        axial_width=2.0 * half[1],
        across_width=2.0 * half[0],
        low=low,
        high=high,
    )


def _half_open(angle: float) -> float:
    """The angle in (-pi, pi]; what is -pi but for rounding is pi."""
    turned = math.remainder(angle, 2.0 * math.pi)
    return turned + 2.0 * math.pi if turned < -math.pi + 1e-6 else turned


def _fit_ellipse(points: FloatArray) -> tuple[tuple[float, float], tuple[float, float]]:
    """Centre and half widths of an upright ellipse through a rim.

    Minimises the squared relative misses sqrt((x/a)^2 + (y/b)^2) - 1, which for a
    circle are its distances over its radius. A rim that no ellipse follows (a
    slot) keeps its extents.
    """
    low, high = points.min(axis=0), points.max(axis=0)
    centre, half = (low + high) / 2.0, (high - low) / 2.0
    fallback = (float(centre[0]), float(centre[1])), (float(half[0]), float(half[1]))
    for _ in range(_ELLIPSE_STEPS):
        arms = (points - centre) / half
        reach = np.hypot(arms[:, 0], arms[:, 1])
        slopes = -np.column_stack([arms / half, arms**2 / half]) / reach[:, None]
        step, _, rank, _ = np.linalg.lstsq(slopes, 1.0 - reach, rcond=1e-9)
        if rank < 4 or (half + step[2:] <= 0.0).any():
            return fallback
        centre, half = centre + step[:2], half + step[2:]
        if np.abs(step).max() < 1e-10:
            break
    if np.abs(reach - 1.0).max() > 0.05:
        return fallback
    return (float(centre[0]), float(centre[1])), (float(half[0]), float(half[1]))


def find_ornaments(
    mesh: Mesh,
    labels: IntArray,
    twin: IntArray,
    patches: IntArray,
    hole_patches: set[int],
    bore: RoundSurface,
    outside: RoundSurface,
    speck: float,
) -> tuple[Ornament, ...]:
    """Patches that belong to no round surface, end or side hole.

    Patches whose every vertex lies within `speck` mm of a round surface are
    noise, not ornaments.
    """
    count = int(patches.max()) + 1 if len(patches) else 0
    if count == 0:
        return ()
    corners = np.flatnonzero(patches >= 0)
    points = _corners_and_nearest(mesh.vertices[mesh.triangles[corners]])
    patch = np.repeat(patches[corners], 6)
    radii = np.hypot(points[:, 0], points[:, 1])
    stations = points[:, 2]
    off_bore = np.abs(radii - bore.radii_at(stations))
    off_outside = np.abs(outside_excess(points, outside))
    on_bore_side = np.zeros(count, bool)
    touched = patches[twin[_edges_of(labels == BORE, labels, twin)] // 3]
    on_bore_side[touched] = True
    outward = np.zeros(count, bool)
    outward[patches[twin[_edges_of(labels == OUTSIDE, labels, twin)] // 3]] = True
    low, high = _extent(stations, patch, count)
    least, greatest = _extent(radii, patch, count)
    strays = _extent(np.minimum(off_bore, off_outside), patch, count)[1]
    found = [
        Ornament(
            float(low[k]),
            float(high[k]),
            float(least[k]),
            float(greatest[k]),
            "bore" if on_bore_side[k] and not outward[k] else "outside",
        )
        for k in range(count)
        if k not in hole_patches and strays[k] > speck
    ]
    return tuple(sorted(found, key=lambda ornament: (ornament.start, ornament.stop)))


def _corners_and_nearest(triangles: FloatArray) -> FloatArray:
    """(6 m, 3): each triangle's corners, and each edge's point nearest the axis.

    The middle of a flat lies nearer the axis than any of its corners.
    """
    along = np.roll(triangles, -1, axis=1) - triangles
    reach = (along[..., :2] ** 2).sum(axis=2)
    share = -(triangles[..., :2] * along[..., :2]).sum(axis=2) / np.maximum(reach, 1e-30)
    nearest = triangles + share.clip(0.0, 1.0)[..., None] * along
    points: FloatArray = np.concatenate([triangles, nearest], axis=1).reshape(-1, 3)
    return points


def outside_excess(vertices: FloatArray, surface: RoundSurface) -> FloatArray:
    """(n,) mm, how far vertices stand out of a surface about its own centre line."""
    arms = vertices[:, :2] - np.array(surface.offset)
    excess: FloatArray = np.hypot(arms[:, 0], arms[:, 1]) - surface.radii_at(vertices[:, 2])
    return excess


def _extent(values: FloatArray, group: IntArray, count: int) -> tuple[FloatArray, FloatArray]:
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, group, values)
    np.maximum.at(high, group, values)
    return low, high
