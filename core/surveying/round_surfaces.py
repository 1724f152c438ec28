"""Finding the bore and the round outside in a mesh: axis, radii, tapers.

A first axis comes from the normals, a first surface from the straight line that
most of the wall follows in (station, radius), the final one from geometric least
squares on vertices that lie on the true circle, robustly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..errors import DegeneratePoints, NotTubular
from ..meshes.mesh_checks import neighbours, triangle_normals
from ..values import BoolArray, FloatArray, IntArray, Mesh, read_only
from .cylinder_fit import ConeFit, fit_cone, frame_rows

RADIAL_COSINE = math.cos(math.radians(30.0))
"""A triangle belongs to a round surface if its normal is this near to radial."""

_SIDE_COSINE = 0.35
_HEIGHT_OVER_NOISE = 12.0
_HEIGHT_OVER_BULGE = 4.0
_LEVEL_COSINE = 0.9
_SLIVER = 0.005
"""A triangle lower than this, mm, may lie any way by rounding."""

_FOLDED = 0.1
"""A triangle lower than this, mm, may be folded over by whoever made the mesh."""

_SAGITTA_THAT_SHOWS = 0.001
_LEAST_SHARE = 0.4
_STRAIGHT_DIFFERENCE = 0.01
_TUKEY = 4.685
_MOST_SAMPLES = 20_000
_SOME = 4_000
_CANDIDATES = 400


@dataclass(frozen=True, slots=True, eq=False)
class Facets:
    """Per-triangle geometry of a mesh, and who is next to whom.

    heights : (m,) mm, least height of each triangle
    """

    mesh: Mesh
    normals: FloatArray
    areas: FloatArray
    centroids: FloatArray
    heights: FloatArray
    twin: IntArray

    def __post_init__(self) -> None:
        read_only(self.normals)
        read_only(self.areas)
        read_only(self.centroids)
        read_only(self.heights)
        read_only(self.twin)


@dataclass(frozen=True, slots=True, eq=False)
class FoundSurface:
    """A cone or cylinder found, and how coarsely it is faceted.

    facet_angle : radians, width of its usual facet
    share : of the area that faces its way, how much lies on it
    """

    cone: ConeFit
    facet_angle: float
    share: float

    @property
    def sagitta_share(self) -> float:
        """Usual chord error as a share of the radius."""
        return 1.0 - math.cos(self.facet_angle / 2.0)


def measure_facets(mesh: Mesh) -> Facets:
    """Normals, areas, centroids and neighbours of a closed mesh."""
    normals, areas = triangle_normals(mesh)
    corners = mesh.vertices[mesh.triangles]
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    heights = 2.0 * areas / np.maximum(sides, 1e-300)
    twin = neighbours(mesh.triangles)
    return Facets(mesh, normals, areas, corners.mean(axis=1), heights, twin)


def find_bore(facets: Facets, tolerance: float) -> FoundSurface:
    """The bore: the cylinder or cone that most of the inward-facing wall follows.

    Parameters
    ----------
    tolerance : mm, how far from the surface a vertex may lie and still be of it

    Raises
    ------
    NotTubular : no axis has a round bore around it
    """
    refusals: list[NotTubular] = []
    for direction in _axis_candidates(facets):
        try:
            centre = _rough_centre(facets, direction, inward=True)
            return _find_surface(facets, centre, direction, tolerance, inward=True)
        except NotTubular as refusal:
            refusals.append(refusal)
    raise refusals[0]


def find_outside(facets: Facets, bore: ConeFit, tolerance: float) -> FoundSurface:
    """The round outside about a line parallel to the bore's axis.

    Raises
    ------
    NotTubular : too little of the outside follows one cylinder or cone
    """
    centre = _rough_centre(facets, bore.direction, inward=False)
    return _find_surface(facets, centre, bore.direction, tolerance, inward=False)


def belongs(facets: Facets, surface: FoundSurface, tolerance: float, *, inward: bool) -> BoolArray:
    """(m,) which triangles lie on a surface: all corners near it, normal near radial.

    The normal of a sliver says nothing and is not asked. One that lies level is a
    floor, though its corners lie on the circle.
    """
    cone = surface.cone
    rows = frame_rows(cone.direction)
    local = (facets.mesh.vertices - cone.point) @ rows.T
    radii = cone.radius_at_point + cone.slope * local[:, 2]
    excess = np.hypot(local[:, 0], local[:, 1]) - radii
    near = (excess <= tolerance) & (excess >= -tolerance - surface.sagitta_share * radii)
    radial = _radial(facets, cone.point, cone.direction, inward=inward, cosine=RADIAL_COSINE)
    folded = _radial(facets, cone.point, cone.direction, inward=not inward, cosine=RADIAL_COSINE)
    radial |= folded & (facets.heights < _FOLDED)
    radial |= facets.heights < _telling_height(facets, local, radii, cone, tolerance)
    all_near: BoolArray = near[facets.mesh.triangles].all(axis=1)
    level = np.abs(facets.normals @ cone.direction) > _LEVEL_COSINE
    belonging: BoolArray = all_near & radial & ~(level & (facets.heights > _FOLDED))
    return belonging


def _telling_height(
    facets: Facets, local: FloatArray, radii: FloatArray, cone: ConeFit, tolerance: float
) -> FloatArray:
    """(m,) mm: how high a triangle must be for its normal to tell what it lies on.

    Three points of a round surface that are almost in line span a plane that may
    stand at any angle to it: the bulge of the arc under them, or the noise, decides.
    """
    angles = np.arctan2(local[:, 1], local[:, 0])[facets.mesh.triangles]
    span = np.abs(np.angle(np.exp(1j * (angles - np.roll(angles, 1, axis=1))))).max(axis=1)
    bulge = radii[facets.mesh.triangles[:, 0]] * (1.0 - np.cos(span / 2.0))
    noise = min(cone.rms_residual, tolerance / 4.0)
    least = max(_SLIVER, _HEIGHT_OVER_NOISE * noise)
    height: FloatArray = np.maximum(_HEIGHT_OVER_BULGE * bulge, least)
    return height


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
    across = facets.normals - (facets.normals @ direction)[:, None] * direction
    across /= np.maximum(np.linalg.norm(across, axis=1, keepdims=True), 1e-300)
    cosines = np.einsum("ij,ij->i", across[triangle[both]], across[other[both]])
    bends = np.flatnonzero(both)[cosines < math.cos(least_bend)]
    corners = facets.mesh.triangles.ravel()
    found = np.zeros(len(facets.mesh.vertices), bool)
    found[corners[bends]] = True
    found[corners[facets.twin[bends]]] = True
    return found


def _axis_candidates(facets: Facets) -> list[FloatArray]:
    """Directions that few normals follow, the likeliest axis first."""
    weighted = facets.normals * facets.areas[:, None]
    directions = np.linalg.eigh(weighted.T @ facets.normals)[1].T
    return [_refined_axis(facets, direction) for direction in directions]


def _refined_axis(facets: Facets, direction: FloatArray) -> FloatArray:
    """The direction most square to the normals of the walls beside it."""
    axis = direction
    for _ in range(5):
        side = np.abs(facets.normals @ axis) < _SIDE_COSINE
        if side.sum() < 3:
            return direction
        normals = facets.normals[side]
        weights = facets.areas[side] / (np.abs(normals @ axis) + 0.01)
        axis = np.linalg.eigh((normals * weights[:, None]).T @ normals)[1][:, 0]
    return axis


def _radial(
    facets: Facets, point: FloatArray, direction: FloatArray, *, inward: bool, cosine: float
) -> BoolArray:
    """(m,) triangles whose normal points to (or from) the axis."""
    arms = facets.centroids - point
    arms = arms - (arms @ direction)[:, None] * direction
    facing = np.einsum("ij,ij->i", arms, facets.normals) * (-1.0 if inward else 1.0)
    radial: BoolArray = facing > cosine * np.linalg.norm(arms, axis=1)
    return radial


def _rough_centre(facets: Facets, direction: FloatArray, *, inward: bool) -> FloatArray:
    """A point that most normals of the side walls pass through, by weighted least squares."""
    rows = frame_rows(direction)
    side = np.flatnonzero(np.abs(facets.normals @ direction) < _SIDE_COSINE)
    if len(side) < 3:
        raise _no_surface(inward=inward, share=0.0)
    flat = facets.centroids[side] @ rows[:2].T
    along = facets.normals[side] @ rows[:2].T
    across = np.column_stack([-along[:, 1], along[:, 0]])
    offsets = np.einsum("ij,ij->i", across, flat)
    size = float(np.ptp(flat, axis=0).max())
    centre = (flat.max(axis=0) + flat.min(axis=0)) / 2.0
    facing = np.ones(len(side), bool)
    for turn in range(24):
        if turn >= 8:
            sign = np.einsum("ij,ij->i", flat - centre, along)
            facing = (sign < 0.0) if inward else (sign > 0.0)
            if facing.sum() < 3:
                raise _no_surface(inward=inward, share=0.0)
        misses = np.abs(across @ centre - offsets)
        weights = np.where(facing, facets.areas[side] / (misses + 0.002 * size), 0.0)
        system = (across * weights[:, None]).T @ across
        if np.linalg.cond(system) > 1e12:
            raise _no_surface(inward=inward, share=0.0)
        centre = np.linalg.solve(system, (across * weights[:, None]).T @ offsets)
    middle = facets.mesh.vertices.mean(axis=0)
    point: FloatArray = centre @ rows[:2] + (middle @ direction) * direction
    return point


def _find_surface(
    facets: Facets, centre: FloatArray, direction: FloatArray, tolerance: float, *, inward: bool
) -> FoundSurface:
    facing = _radial(facets, centre, direction, inward=inward, cosine=RADIAL_COSINE - 0.06)
    facing &= np.abs(facets.normals @ direction) < _SIDE_COSINE
    facing_area = float(facets.areas[facing].sum())
    if facing.sum() < 6:
        raise _no_surface(inward=inward, share=0.0)
    chosen = _on_dominant_line(facets, facing, centre, direction)
    guess = _cone_guess(facets, chosen, centre, direction)
    facet_angle = 0.0
    for widths, most in ((10.0, _SOME), (3.0, _SOME), (1.0, _SOME), (1.0, None)):
        gate = widths * tolerance
        on_it = belongs(facets, FoundSurface(guess, facet_angle, 0.0), gate, inward=inward)
        if on_it.sum() < 6:
            raise _no_surface(inward=inward, share=0.0)
        guess = _fit_on_circle(facets, on_it, guess, direction_free=inward, most=most)
        facet_angle = _facet_angle(facets, on_it, guess, gate)
    found = FoundSurface(guess, facet_angle, 0.0)
    on_it = belongs(facets, found, tolerance, inward=inward)
    share = float(facets.areas[on_it].sum()) / facing_area
    if share < _LEAST_SHARE:
        raise _no_surface(inward=inward, share=share)
    _refuse_many_sided(found, inward=inward)
    return FoundSurface(guess, facet_angle, share)


def _on_dominant_line(
    facets: Facets, facing: BoolArray, centre: FloatArray, direction: FloatArray
) -> BoolArray:
    """Of the facing triangles, those about the line in (station, radius) that holds most area."""
    rows = frame_rows(direction)
    local = (facets.mesh.vertices - centre) @ rows.T
    radii = np.hypot(local[:, 0], local[:, 1])
    corners = facets.mesh.triangles[facing]
    stations, distances = local[corners, 2], radii[corners]
    weights = facets.areas[facing]
    rng = np.random.default_rng(0)
    some = rng.choice(len(corners), min(_MOST_SAMPLES, 4 * len(corners)), p=weights / weights.sum())
    pick = rng.integers(0, 3, len(some))
    z, r = stations[some, pick], distances[some, pick]
    width = 0.03 * float(np.median(r))
    line = _best_line(z, r, width, float(np.ptp(z)), rng)
    off = np.abs(distances - line[0] - line[1] * stations).max(axis=1)
    chosen = facing.copy()
    chosen[facing] = off < width
    return chosen


def _best_line(
    z: FloatArray, r: FloatArray, width: float, span: float, rng: np.random.Generator
) -> tuple[float, float]:
    """(radius at 0, slope) of the line with most points within a width, of many tried."""
    first, second = rng.integers(0, len(z), (2, _CANDIDATES))
    apart = np.abs(z[second] - z[first]) > 0.1 * span
    rise = np.where(apart, r[second] - r[first], 0.0)
    slopes = rise / np.where(apart, z[second] - z[first], 1.0)
    slopes = np.where(np.abs(slopes) < 0.3, slopes, 0.0)
    bases = r[first] - slopes * z[first]
    scores = [
        float((1.0 - ((r - base - slope * z) / width) ** 2).clip(0.0).sum())
        for base, slope in zip(bases, slopes, strict=True)
    ]
    best = int(np.argmax(scores))
    return float(bases[best]), float(slopes[best])


def _cone_guess(
    facets: Facets, chosen: BoolArray, centre: FloatArray, direction: FloatArray
) -> ConeFit:
    """The cone through the chosen triangles' vertices, its direction kept."""
    used = _corners_of(facets, chosen)
    points = facets.mesh.vertices[used]
    areas = _areas_around(facets, chosen)[used]
    try:
        return fit_cone(
            points,
            direction,
            weights=areas / areas.mean(),
            point_guess=centre,
            direction_free=False,
        )
    except DegeneratePoints as problem:
        raise NotTubular(problem.found, problem.needed, problem.remedy) from problem


def _fit_on_circle(
    facets: Facets,
    on_it: BoolArray,
    guess: ConeFit,
    *,
    direction_free: bool,
    most: int | None,
) -> ConeFit:
    """Robust geometric fit to the vertices that lie on the true circle.

    most : how many of them, taken at random, are enough; None: all count

    A taper that makes less than 0.01 mm over the length, or cannot be told from
    noise, is none.
    """
    least_bend = 2.0 * math.acos(max(0.0, 1.0 - _SAGITTA_THAT_SHOWS / guess.radius_at_point))
    bending = bending_vertices(facets, on_it, guess.direction, least_bend)
    used = np.flatnonzero(bending if bending.sum() >= 12 else _corners_of(facets, on_it))
    if most is not None and len(used) > most:
        used = np.random.default_rng(0).choice(used, most, replace=False)
    points, areas = facets.mesh.vertices[used], _areas_around(facets, on_it)[used]
    try:
        cone = _robust_cone(points, areas, guess, slope_free=True, direction_free=direction_free)
        difference = abs(cone.slope) * float(np.ptp(points @ cone.direction))
        noise = 4.0 * cone.slope_error * float(np.ptp(points @ cone.direction))
        if 2.0 * difference < max(_STRAIGHT_DIFFERENCE, 2.0 * noise):
            cone = _robust_cone(
                points, areas, guess, slope_free=False, direction_free=direction_free
            )
    except DegeneratePoints as problem:
        raise NotTubular(problem.found, problem.needed, problem.remedy) from problem
    return cone


def _corners_of(facets: Facets, chosen: BoolArray) -> BoolArray:
    used = np.zeros(len(facets.mesh.vertices), bool)
    used[facets.mesh.triangles[chosen].ravel()] = True
    return used


def _areas_around(facets: Facets, chosen: BoolArray) -> FloatArray:
    """(n,) area, mm2, of the chosen triangles about each vertex: how much it speaks for."""
    shares = np.repeat(facets.areas[chosen], 3)
    corners = facets.mesh.triangles[chosen].ravel()
    areas = np.zeros(len(facets.mesh.vertices))
    np.add.at(areas, corners, shares)
    return areas


def _weighted_median(values: FloatArray, weights: FloatArray) -> float:
    order = np.argsort(values)
    growing = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(growing, 0.5 * growing[-1])])


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
    for _ in range(12):
        before = cone
        cone = fit_cone(
            points,
            cone.direction,
            weights=weights,
            point_guess=cone.point,
            slope_free=slope_free,
            direction_free=direction_free,
        )
        misses: FloatArray = np.abs(distances_to(cone, points))
        scale = max(1.4826 * _weighted_median(misses, areas), 1e-4)
        inlying: FloatArray = (1.0 - (misses / (_TUKEY * scale)) ** 2).clip(0.0)
        weights = areas * inlying * inlying
        if abs(cone.radius_at_point - before.radius_at_point) < 1e-9:
            break
    return cone


def distances_to(cone: ConeFit, points: FloatArray) -> FloatArray:
    """(n,) signed distances, mm, of points from a cone; positive outside it."""
    arms = points - cone.point
    stations = arms @ cone.direction
    radii = np.linalg.norm(arms - stations[:, None] * cone.direction, axis=1)
    shrink = 1.0 / math.sqrt(1.0 + cone.slope**2)
    distances: FloatArray = (radii - cone.radius_at_point - cone.slope * stations) * shrink
    return distances


def _facet_angle(facets: Facets, on_it: BoolArray, cone: ConeFit, gate: float) -> float:
    """Angle that the widest usual facets span.

    The area-weighted 95th percentile over triangles whose corners all lie on the circle.
    """
    rows = frame_rows(cone.direction)
    local = (facets.mesh.vertices - cone.point) @ rows.T
    angles = np.arctan2(local[:, 1], local[:, 0])[facets.mesh.triangles[on_it]]
    turns = np.angle(np.exp(1j * (angles - np.roll(angles, 1, axis=1))))
    spans = np.abs(turns).max(axis=1)
    misses = np.abs(distances_to(cone, facets.mesh.vertices))[facets.mesh.triangles[on_it]]
    exact = misses.max(axis=1) < gate
    if not exact.any():
        return 0.0
    order = np.argsort(spans[exact])
    growing = np.cumsum(facets.areas[on_it][exact][order])
    return float(spans[exact][order][int(np.searchsorted(growing, 0.95 * growing[-1]))])


def _refuse_many_sided(found: FoundSurface, *, inward: bool) -> None:
    """A coarse circle and a meant polygon look alike: few, long sides are meant."""
    if found.facet_angle <= 0.0:
        return
    sides = round(2.0 * math.pi / found.facet_angle)
    side = 2.0 * found.cone.radius_at_point * math.sin(found.facet_angle / 2.0)
    if sides <= 12 and side > 3.0:
        name = "bore" if inward else "outside"
        raise NotTubular(
            f"a {name} of {sides} flat sides, each {side:.2f} mm wide",
            "a round one: more than 12 sides, or sides under 3 mm",
            "a mesh with finer facets",
        )


def _no_surface(*, inward: bool, share: float) -> NotTubular:
    name, way = ("bore", "inward") if inward else ("outside", "outward")
    return NotTubular(
        f"no round {name}: {100.0 * share:.0f} % of the {way}-facing wall lies on one "
        "cylinder or cone",
        f"at least {100.0 * _LEAST_SHARE:.0f} %",
        "a part with one straight, round bore and a round outside along one axis",
    )
