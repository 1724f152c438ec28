"""Cylinders and cones that a part's walls follow, by robust geometric least squares.

A guess from the outlines of plane sections is refined on the vertices that lie on the
true circle. A fine mesh is looked at in slabs: some ten thousand vertices fix an axis
as well as a million.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..errors import DegeneratePoints, NotTubular
from ..meshes.angles import TURN, plane_lengths, short_way
from ..meshes.borders import twins_among
from ..meshes.plane_sections import Sections
from ..meshes.products import heights_along, row_lengths
from ..values import BoolArray, FloatArray, IntArray, Mesh, read_only
from .cylinder_fit import ConeFit, fit_cone, frame_rows
from .flats import FOLDED, LEVEL_COSINE

_RADIAL_COSINE = math.cos(math.radians(30.0))
"""A triangle belongs to a round surface if its normal is this near to radial."""

_HEIGHT_OVER_NOISE = 12.0
_HEIGHT_OVER_BULGE = 4.0
_SLIVER = 0.005
"""A triangle lower than this, mm, may lie any way by rounding."""

_SAGITTA_THAT_SHOWS = 0.001
_STRAIGHT_DIFFERENCE = 0.01
_TUKEY = 4.685
_MOST_TURNS, _FEW_STEPS = 20, 3
_SETTLED = 1e-4
_LEAST_AROUND = 0.25
"""Share of a turn that a round surface's triangles go around, at the least: corners go less."""

_LOPSIDED = 0.5
"""By how much more, from 0 to 1, fewer points may lie to some sides than all do."""

_SOME_TRIANGLES = 10_000
_SOME_POINTS = 4_000
_FEW_POINTS = 1_000
_LEAST_PLANES = 10
"""A surface is seen in no fewer of the planes that cut a fine mesh."""

USUAL_FACETS = 2.2
"""A facet wider than this many median ones is no usual one."""


@dataclass(frozen=True, slots=True, eq=False)
class Facets:
    """Triangles of a mesh that are looked at closely, and who is next to whom.

    mesh : of those triangles alone
    whole : what they are of
    planes : (p,) heights of the planes that cut them; none where they are all there are
    heights : (m,) mm, least height of each triangle
    twin : (3 m,) for half-edge 3 t + k the opposite half-edge, -1 where the neighbour is
        not among the triangles
    """

    mesh: Mesh
    whole: Mesh
    planes: FloatArray
    normals: FloatArray
    areas: FloatArray
    centroids: FloatArray
    heights: FloatArray
    twin: IntArray

    def __post_init__(self) -> None:
        read_only(self.planes)
        read_only(self.normals)
        read_only(self.areas)
        read_only(self.centroids)
        read_only(self.heights)
        read_only(self.twin)


@dataclass(frozen=True, slots=True, eq=False)
class FoundSurface:
    """A cylinder or cone found, and how coarsely it is faceted.

    low, high : mm along the cone's direction, between which it was seen
    facet_angle : radians, width of its usual facet
    """

    cone: ConeFit
    low: float
    high: float
    facet_angle: float

    @property
    def sagitta_share(self) -> float:
        """Usual chord error as a share of the radius."""
        return 1.0 - math.cos(self.facet_angle / 2.0)

    @property
    def is_many_sided(self) -> bool:
        """Few, long sides are meant; a coarse circle has more, or shorter ones."""
        if self.facet_angle <= 0.0:
            return False
        return round(2.0 * math.pi / self.facet_angle) <= 12 and self.side > 3.0

    @property
    def side(self) -> float:
        """Width, mm, of the usual facet."""
        return 2.0 * self.cone.radius_at_point * math.sin(self.facet_angle / 2.0)


def measure_facets(
    mesh: Mesh, sections: Sections, low: float = -math.inf, high: float = math.inf
) -> Facets:
    """Normals, areas and neighbours of a mesh; of a fine one, of what some planes cut.

    Parameters
    ----------
    sections : of this mesh
    low, high : heights between which those planes lie
    """
    whole, triangles, planes = mesh, mesh.triangles, np.empty(0)
    if len(triangles) > _SOME_TRIANGLES:
        chosen = _some_planes(sections, low, high)
        planes = sections.heights[chosen]
        triangles = triangles[_cut_by(sections, chosen)]
        used, corners = np.unique(triangles, return_inverse=True)
        mesh = Mesh(mesh.vertices[used], corners.reshape(-1, 3))
        triangles = mesh.triangles
    a, b, c = (mesh.vertices[triangles[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    length = row_lengths(cross)
    sides = np.sqrt(
        np.max([((p - q) ** 2).sum(axis=1) for p, q in ((a, b), (b, c), (c, a))], axis=0)
    )
    return Facets(
        mesh,
        whole,
        planes,
        cross / np.maximum(length, 1e-300)[:, None],
        length / 2.0,
        (a + b + c) / 3.0,
        length / np.maximum(sides, 1e-300),
        twins_among(triangles),
    )


def _some_planes(sections: Sections, low: float, high: float) -> IntArray:
    """Planes at even steps, so many that they cut some triangles."""
    counts = np.bincount(sections.plane[sections.outline], minlength=len(sections.heights))
    planes = np.flatnonzero((sections.heights >= low) & (sections.heights <= high))
    most = max(_LEAST_PLANES, len(planes) * _SOME_TRIANGLES // max(int(counts[planes].sum()), 1))
    step = max(1, -(-len(planes) // most))
    some: IntArray = planes[(len(planes) - 1) % step // 2 :: step]
    return some


def _cut_by(sections: Sections, planes: IntArray) -> IntArray:
    """Numbers of the triangles that some planes cut."""
    chosen = np.zeros(len(sections.heights), bool)
    chosen[planes] = True
    found: IntArray = np.unique(sections.triangle[chosen[sections.plane[sections.outline]]])
    return found


def fit_surface(
    facets: Facets,
    guess: ConeFit,
    span: tuple[float, float],
    tolerance: float,
    *,
    inward: bool,
    direction_free: bool,
) -> FoundSurface:
    """The cylinder or cone that the triangles about a guess follow.

    Parameters
    ----------
    span : mm along the guess's direction, between which they are looked for
    tolerance : mm, how far from the surface a vertex may lie and still be of it

    Raises
    ------
    NotTubular : too few triangles lie there, or too little around
    """
    facet_angle = 0.0
    heights = heights_along(facets.centroids, guess.direction)
    within = (heights >= span[0]) & (heights <= span[1])
    for widths, most in ((3.0, _FEW_POINTS), (1.0, _SOME_POINTS)):
        gate = widths * tolerance
        found = FoundSurface(guess, *span, facet_angle)
        on_it = within & belongs(facets, found, gate, inward=inward)
        if on_it.sum() < 4:
            raise _too_little(guess, span, "with fewer than 4 triangles on it", inward=inward)
        guess = _fit_on_circle(facets, on_it, guess, direction_free=direction_free, most=most)
        facet_angle = _facet_angle(facets, on_it, guess, gate)
    around = _share_around(facets, on_it, guess)
    if around < _LEAST_AROUND:
        raise _too_little(guess, span, f"over {100.0 * around:.0f} % of a turn", inward=inward)
    return FoundSurface(guess, *span, facet_angle)


def _too_little(
    guess: ConeFit, span: tuple[float, float], seen: str, *, inward: bool
) -> NotTubular:
    name = "bore" if inward else "outside"
    return NotTubular(
        f"a {name} of about {2.0 * guess.radius_at_point:.2f} mm over {span[1] - span[0]:.1f} mm "
        f"{seen}",
        "a wall that follows one cylinder or cone",
        "a part with a round bore, or a larger --max-move for a rough one",
    )


def _share_around(facets: Facets, chosen: BoolArray, cone: ConeFit) -> float:
    """Share of a turn that some triangles go around a surface's centre line."""
    angles = _angles_about(cone, facets.mesh.vertices)[facets.mesh.triangles[chosen].T]
    ways = short_way(angles - angles[0])
    starts = (angles[0] + ways.min(axis=0)) % TURN
    order = np.argsort(starts)
    starts, stops = starts[order], (starts + np.ptp(ways, axis=0))[order]
    gaps = np.append(starts[1:], starts[0] + TURN) - np.maximum.accumulate(stops)
    return 1.0 - float(gaps.clip(0.0).sum()) / TURN


def _angles_about(cone: ConeFit, points: FloatArray) -> FloatArray:
    """(n,) angles of points about a centre line."""
    x, y = (heights_along(points - cone.point, row) for row in frame_rows(cone.direction)[:2])
    angles: FloatArray = np.arctan2(y, x)
    return angles


def belongs(facets: Facets, surface: FoundSurface, tolerance: float, *, inward: bool) -> BoolArray:
    """(m,) which triangles lie on a surface: all corners near it, normal near radial.

    The normal of a sliver says nothing and is not asked. One that lies level is a
    floor, though its corners lie on the circle.
    """
    cone = surface.cone
    rows = frame_rows(cone.direction)
    local = (facets.mesh.vertices - cone.point) @ rows.T
    radii = cone.radius_at_point + cone.slope * local[:, 2]
    excess = plane_lengths(local[:, 0], local[:, 1]) - radii
    near = (excess <= tolerance) & (excess >= -tolerance - surface.sagitta_share * radii)
    facing = _facing(facets, cone.point, cone.direction) * (-1.0 if inward else 1.0)
    radial = (facing > _RADIAL_COSINE) | ((facing < -_RADIAL_COSINE) & (facets.heights < FOLDED))
    radial |= facets.heights < _telling_height(facets, local, radii, cone, tolerance)
    a, b, c = facets.mesh.triangles.T
    all_near: BoolArray = near[a] & near[b] & near[c]
    level = np.abs(heights_along(facets.normals, cone.direction)) > LEVEL_COSINE
    belonging: BoolArray = all_near & radial & ~(level & (facets.heights > FOLDED))
    return belonging


def _telling_height(
    facets: Facets, local: FloatArray, radii: FloatArray, cone: ConeFit, tolerance: float
) -> FloatArray:
    """(m,) mm: how high a triangle must be for its normal to tell what it lies on.

    Three points of a round surface that are almost in line span a plane that may
    stand at any angle to it: the bulge of the arc under them, or the noise, decides.
    """
    span = _spans(np.arctan2(local[:, 1], local[:, 0]), facets.mesh.triangles)
    bulge = radii[facets.mesh.triangles[:, 0]] * (1.0 - np.cos(span / 2.0))
    noise = min(cone.rms_residual, tolerance / 4.0)
    least = max(_SLIVER, _HEIGHT_OVER_NOISE * noise)
    height: FloatArray = np.maximum(_HEIGHT_OVER_BULGE * bulge, least)
    return height


def _spans(angles: FloatArray, triangles: IntArray) -> FloatArray:
    """(m,) radians, the widest that a side of each triangle spans, given the vertices' angles."""
    a, b, c = angles[triangles.T]
    turns = (np.abs(short_way(turn)) for turn in (a - b, b - c, c - a))
    spans: FloatArray = np.maximum.reduce(list(turns))
    return spans


def bending_vertices(
    facets: Facets, chosen: BoolArray, direction: FloatArray, least_bend: float
) -> BoolArray:
    """(n,) vertices at which the chosen triangles bend around the axis by more than an angle.

    A vertex within a flat facet lies on a chord of the circle; only where the
    surface bends do vertices lie on the circle itself.
    """
    triangle = np.arange(len(facets.twin)) // 3
    other = facets.twin // 3
    chosen = chosen & (facets.heights > _SLIVER)
    both = chosen[triangle] & chosen[other] & (triangle < other)
    across = facets.normals - heights_along(facets.normals, direction)[:, None] * direction
    across /= np.maximum(row_lengths(across), 1e-300)[:, None]
    cosines = np.einsum("ij,ij->i", across[triangle[both]], across[other[both]])
    bends = np.flatnonzero(both)[cosines < math.cos(least_bend)]
    corners = facets.mesh.triangles.ravel()
    found = np.zeros(len(facets.mesh.vertices), bool)
    found[corners[bends]] = True
    found[corners[facets.twin[bends]]] = True
    return found


def _facing(facets: Facets, point: FloatArray, direction: FloatArray) -> FloatArray:
    """(m,) cosine between each triangle's normal and the way out from the axis."""
    arms = facets.centroids - point
    arms = arms - heights_along(arms, direction)[:, None] * direction
    out = np.einsum("ij,ij->i", arms, facets.normals)
    cosines: FloatArray = out / np.maximum(row_lengths(arms), 1e-300)
    return cosines


def _fit_on_circle(
    facets: Facets,
    on_it: BoolArray,
    guess: ConeFit,
    *,
    direction_free: bool,
    most: int,
) -> ConeFit:
    """Robust geometric fit to the vertices that lie on the true circle.

    most : how many of them, taken at random, are enough

    A taper that makes less than 0.01 mm over the length, or cannot be told from
    noise, is none.
    """
    least_bend = 2.0 * math.acos(max(0.0, 1.0 - _SAGITTA_THAT_SHOWS / guess.radius_at_point))
    bending = bending_vertices(facets, on_it, guess.direction, least_bend)
    corners = _corners_of(facets, on_it)
    along = heights_along(facets.mesh.vertices, guess.direction)
    spans = bending.sum() >= 12 and np.ptp(along[bending]) >= 0.5 * np.ptp(along[corners])
    if spans:
        angles = _angles_about(guess, facets.mesh.vertices)
        spans = _to_one_side(angles[bending]) <= _to_one_side(angles[corners]) + _LOPSIDED
    used = np.flatnonzero(bending if spans else corners)
    if len(used) > most:
        used = np.random.default_rng(0).choice(used, most, replace=False)
    points, areas = facets.mesh.vertices[used], _areas_around(facets, on_it)[used]
    try:
        cone = _robust_cone(points, areas, guess, slope_free=True, direction_free=direction_free)
        reach = float(np.ptp(heights_along(points, cone.direction)))
        difference, noise = abs(cone.slope) * reach, 4.0 * cone.slope_error * reach
        if 2.0 * difference < max(_STRAIGHT_DIFFERENCE, 2.0 * noise):
            cone = _robust_cone(
                points, areas, guess, slope_free=False, direction_free=direction_free
            )
    except DegeneratePoints as problem:
        raise NotTubular(problem.found, problem.needed, problem.remedy) from problem
    return cone


def _to_one_side(angles: FloatArray) -> float:
    """How lopsided points lie about a centre: 0 all around, 1 to one side or two opposite ones."""
    return max(abs(complex(np.exp(1j * turns * angles).mean())) for turns in (1, 2))


def _corners_of(facets: Facets, chosen: BoolArray) -> BoolArray:
    used = np.zeros(len(facets.mesh.vertices), bool)
    used[facets.mesh.triangles[chosen].ravel()] = True
    return used


def _areas_around(facets: Facets, chosen: BoolArray) -> FloatArray:
    """(n,) area, mm2, of the chosen triangles about each vertex: how much it speaks for."""
    shares = np.repeat(facets.areas[chosen], 3)
    corners = facets.mesh.triangles[chosen].ravel()
    areas: FloatArray = np.bincount(corners, shares, len(facets.mesh.vertices)).astype(np.float64)
    return areas


def _weighted_share(values: FloatArray, weights: FloatArray, share: float) -> float:
    """The value under which a share of all weight lies."""
    order = np.argsort(values)
    growing = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(growing, share * growing[-1])])


def _robust_cone(
    points: FloatArray, areas: FloatArray, guess: ConeFit, *, slope_free: bool, direction_free: bool
) -> ConeFit:
    """Geometric fit with Tukey's weights: what does not belong stops counting.

    References
    ----------
    A. E. Beaton, J. W. Tukey (1974), "The fitting of power series, meaning
    polynomials", Technometrics 16, 147-185 (the biweight; 4.685 by common practice).
    """
    cone = guess
    areas = areas / float(areas.mean())
    weights: FloatArray = areas
    for turn in range(_MOST_TURNS):
        before = cone
        cone = fit_cone(
            points,
            cone.direction,
            weights=weights,
            start=cone,
            slope_free=slope_free,
            direction_free=direction_free,
            most_steps=_FEW_STEPS,
        )
        misses: FloatArray = np.abs(distances_to(cone, points))
        scale = max(1.4826 * _weighted_share(misses, areas, 0.5), 1e-4)
        inlying: FloatArray = (1.0 - (misses / (_TUKEY * scale)) ** 2).clip(0.0)
        weights = areas * inlying * inlying
        moved = abs(cone.radius_at_point - before.radius_at_point)
        if turn > 1 and moved < _SETTLED * max(1e-4, cone.rms_residual):
            break
    return cone


def distances_to(cone: ConeFit, points: FloatArray) -> FloatArray:
    """(n,) signed distances, mm, of points from a cone; positive outside it."""
    arms = points - cone.point
    stations = heights_along(arms, cone.direction)
    radii = row_lengths(arms - stations[:, None] * cone.direction)
    shrink = 1.0 / math.sqrt(1.0 + cone.slope**2)
    distances: FloatArray = (radii - cone.radius_at_point - cone.slope * stations) * shrink
    return distances


def _facet_angle(facets: Facets, on_it: BoolArray, cone: ConeFit, gate: float) -> float:
    """Angle that the widest usual facets span.

    The area-weighted 95th percentile over triangles whose corners all lie on the circle;
    those of more than twice the median width are flats, not facets.
    """
    rows = frame_rows(cone.direction)
    local = (facets.mesh.vertices - cone.point) @ rows.T
    triangles = facets.mesh.triangles[on_it]
    spans = _spans(np.arctan2(local[:, 1], local[:, 0]), triangles)
    a, b, c = (np.abs(distances_to(cone, facets.mesh.vertices)) < gate)[triangles.T]
    exact = a & b & c
    if not exact.any():
        return 0.0
    spans, areas = spans[exact], facets.areas[on_it][exact]
    usual = spans <= USUAL_FACETS * _weighted_share(spans, areas, 0.5)
    return _weighted_share(spans[usual], areas[usual], 0.95)
