"""Test parts whose truth is known, made without any code of the core.

Everything here is in millimetres and degrees. A part is built about the z axis
with its low end at 0, then put into a pose. `tube` facets it in one of two ways:

- ``rims="true"``: as a CAD program exports it. The round surfaces are coarse,
  with long slivers between their rings, but every vertex lies on every true
  surface that meets there, hole rims included.
- ``rims="facets"``: as a mesh modeller's boolean leaves it. The rims lie on the
  facets of the coarse prisms, so they are off the true circle by up to the
  facets' sagitta R (1 - cos(pi/n)).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import manifold3d
import numpy as np
import trimesh
from numpy.typing import NDArray

from tests.part_frame import contract_frame

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

RIM_SEGMENT = 0.2
"""Length, mm, of the edges round a hole where its facets are not given."""


@dataclass(frozen=True, slots=True)
class Hole:
    """A round side hole, square to the axis, from the outside into the bore."""

    station: float
    angle_deg: float
    diameter: float


@dataclass(frozen=True, slots=True)
class Ring:
    """A turned ring on the outside; `bead` rounds it to half an ellipse."""

    station: float
    height: float
    diameter: float
    bead: bool = False


@dataclass(frozen=True, slots=True)
class Recess:
    """A turned groove, in the outside or in the bore."""

    station: float
    height: float
    diameter: float
    place: Literal["outside", "bore"] = "outside"


@dataclass(frozen=True, slots=True)
class Block:
    """A block on the outside: `reach` is how far its face lies from the axis."""

    station: float
    height: float
    angle_deg: float
    width: float
    reach: float


@dataclass(frozen=True, slots=True)
class Truth:
    """What was built, about z with the low end at 0, and where it was put.

    bore, outside : diameters at station 0 and at the far end
    pose : (4, 4) rigid, to the source's coordinates in mm
    unit : mm that one unit of the part's mesh stands for
    """

    length: float
    bore: tuple[float, float]
    outside: tuple[float, float]
    holes: tuple[Hole, ...]
    rings: tuple[Ring, ...]
    recesses: tuple[Recess, ...]
    block: Block | None
    pose: FloatArray
    unit: float

    def diameter(self, ends: tuple[float, float], station: float) -> float:
        """Diameter of the bore or the outside at a station of the build."""
        return ends[0] + (ends[1] - ends[0]) * station / self.length

    def wall(self, station: float) -> float:
        """Radial wall at a station of the build."""
        return (self.diameter(self.outside, station) - self.diameter(self.bore, station)) / 2.0


@dataclass(frozen=True, slots=True)
class Datums:
    """The truth as the contract counts it: stations from the low end it defines.

    holes : (k, 3) station, angle in degrees in (-180, 180], diameter
    """

    point: FloatArray
    direction: FloatArray
    bore: tuple[float, float]
    outside: tuple[float, float]
    holes: FloatArray


@dataclass(frozen=True, slots=True)
class Part:
    """A mesh in units of its file and what is true of it."""

    mesh: trimesh.Trimesh
    truth: Truth

    def save(self, path: Any) -> None:
        """Write a binary STL."""
        self.mesh.export(path, file_type="stl")


def random_pose(rng: np.random.Generator, reach: float = 200.0) -> FloatArray:
    """Any rotation, evenly, with a shift of up to `reach` along each axis."""
    quaternion = rng.normal(size=4)
    pose = np.eye(4)
    pose[:3, :3] = _rotation(quaternion / np.linalg.norm(quaternion))
    pose[:3, 3] = rng.uniform(-reach, reach, size=3)
    return pose


def turned_pose(axis: Sequence[float], angle_deg: float, shift: Sequence[float]) -> FloatArray:
    """The pose that turns about an axis through the origin, then shifts."""
    half = math.radians(angle_deg) / 2.0
    unit = np.asarray(axis, np.float64) / np.linalg.norm(axis)
    pose = np.eye(4)
    pose[:3, :3] = _rotation(np.array([math.cos(half), *(math.sin(half) * unit)]))
    pose[:3, 3] = shift
    return pose


def _rotation(quaternion: FloatArray) -> FloatArray:
    """(3, 3) of a unit quaternion w, x, y, z."""
    w, x, y, z = quaternion
    skew = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    turn: FloatArray = np.eye(3) + 2.0 * w * skew + 2.0 * skew @ skew
    return turn


def tube(
    *,
    length: float,
    bore: float | tuple[float, float],
    outside: float | tuple[float, float],
    holes: Sequence[Hole] = (),
    rings: Sequence[Ring] = (),
    recesses: Sequence[Recess] = (),
    block: Block | None = None,
    facets: int = 63,
    hole_facets: int | None = None,
    rims: Literal["true", "facets"] = "true",
    level_step: float | None = None,
    phase_deg: float = 0.7,
    pose: FloatArray | None = None,
    unit: float = 1.0,
    shuffle: np.random.Generator | None = None,
) -> Part:
    """A tube with what a turner and a driller would do to it.

    bore, outside : one diameter, or two for a taper: (at 0, at the far end)
    facets : sides of every ring of the turned surfaces
    hole_facets : sides of each hole; by default about `RIM_SEGMENT` long
    level_step : greatest distance between the rings of a taper, as CAD makes
        them; a cylinder has none between its ends
    phase_deg : angle of the first generator
    unit : mm per unit of the mesh that is returned
    shuffle : renumbers vertices, triangles and the corners of triangles
    """
    truth = Truth(
        length=length,
        bore=_both_ends(bore),
        outside=_both_ends(outside),
        holes=tuple(holes),
        rings=tuple(rings),
        recesses=tuple(recesses),
        block=block,
        pose=np.eye(4) if pose is None else pose,
        unit=unit,
    )
    builder = _Builder(truth, facets, math.radians(phase_deg), level_step)
    vertices, triangles = builder.build(hole_facets, exact_rims=rims == "true")
    placed = vertices @ truth.pose[:3, :3].T + truth.pose[:3, 3]
    mesh = trimesh.Trimesh(placed / unit, triangles, process=False)
    return Part(mesh if shuffle is None else shuffled(mesh, shuffle), truth)


def shuffled(mesh: trimesh.Trimesh, rng: np.random.Generator) -> trimesh.Trimesh:
    """The same surface with everything that has an order put in another."""
    order = rng.permutation(len(mesh.vertices))
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    faces = place[mesh.faces][rng.permutation(len(mesh.faces))]
    first = rng.integers(0, 3, size=len(faces))
    faces = faces[np.arange(len(faces))[:, None], (first[:, None] + np.arange(3)) % 3]
    return trimesh.Trimesh(mesh.vertices[order], faces, process=False)


def remembering(vertices: FloatArray, triangles: IntArray) -> tuple[manifold3d.Manifold, int]:
    """A solid whose triangles remember, through every boolean, where they came from; its number."""
    run = manifold3d.Manifold.reserve_ids(1)
    mesh = manifold3d.Mesh64(
        vert_properties=np.ascontiguousarray(vertices, np.float64),
        tri_verts=np.ascontiguousarray(triangles, np.uint64),
        run_index=np.array([0, 3 * len(triangles)], np.uint64),
        run_original_id=np.array([run], np.uint32),
        face_id=np.arange(len(triangles), dtype=np.uint64),
    )
    solid = manifold3d.Manifold(mesh)
    assert solid.status() == manifold3d.Error.NoError, solid.status()
    assert solid.volume() > 0.0
    return solid, run


def datums(truth: Truth) -> Datums:
    """The truth by the contract's rules of direction, low end and reference angle."""
    axis = truth.pose[:3, 2]
    origin = truth.pose[:3, 3]
    (reference, left, direction), turned = contract_frame(axis)
    rows = []
    for hole in truth.holes:
        angle = math.radians(hole.angle_deg)
        toward = truth.pose[:3, :3] @ [math.cos(angle), math.sin(angle), 0.0]
        seen = math.degrees(math.atan2(toward @ left, toward @ reference))
        station = truth.length - hole.station if turned else hole.station
        rows.append((station, seen, hole.diameter))
    return Datums(
        point=origin + axis * truth.length if turned else origin,
        direction=direction,
        bore=truth.bore[::-1] if turned else truth.bore,
        outside=truth.outside[::-1] if turned else truth.outside,
        holes=np.array(sorted(rows)).reshape(-1, 3),
    )


def collapse_short_edges(
    vertices: FloatArray, triangles: IntArray, meets: NDArray[np.bool_], least: float
) -> tuple[FloatArray, IntArray, IntArray]:
    """Take out the crumbs that a boolean leaves where a rim passes close to a ring.

    An edge shorter than `least` loses the end that meets no surface that the
    other end does not meet as well, where neither a fold nor a flipped triangle
    comes of it; so until none goes. Returned third: which triangles are left.
    """
    faces, kept = triangles, np.arange(len(triangles))
    while True:
        collapsed = _collapse_once(vertices, faces, meets, least)
        left = collapsed[:, 0] >= 0
        if left.all():
            break
        faces, kept = collapsed[left], kept[left]
    used, corners = np.unique(faces, return_inverse=True)
    return vertices[used], corners.reshape(-1, 3), kept


def _collapse_once(
    vertices: FloatArray, triangles: IntArray, meets: NDArray[np.bool_], least: float
) -> IntArray:
    faces = triangles.copy()
    edges = np.unique(np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1), axis=0)
    lengths = np.linalg.norm(vertices[edges[:, 0]] - vertices[edges[:, 1]], axis=1)
    short = edges[lengths < least][np.argsort(lengths[lengths < least], kind="stable")]
    around: dict[int, set[int]] = {int(v): set() for v in np.unique(short)}
    for corner in faces.T:
        for face in np.flatnonzero(np.isin(corner, short)):
            around[int(corner[face])].add(int(face))
    for pair in short.tolist():
        for gone, kept in (pair, pair[::-1]):
            if np.all(meets[gone] <= meets[kept]) and _collapses(
                gone, kept, faces, around, vertices
            ):
                break
    return faces


def _collapses(
    gone: int, kept: int, faces: IntArray, around: dict[int, set[int]], vertices: FloatArray
) -> bool:
    """Whether `gone` could be, and so was, merged into `kept`."""
    both = around[gone] & around[kept]
    moving = sorted(around[gone] - both)
    if len(both) != 2 or not moving:
        return False
    near_gone = set(faces[sorted(around[gone])].ravel().tolist()) - {gone, kept}
    near_kept = set(faces[sorted(around[kept])].ravel().tolist()) - {gone, kept}
    if len(near_gone & near_kept) != 2:
        return False
    renamed = np.where(faces[moving] == gone, kept, faces[moving])
    before, after = _normals(vertices[np.stack([faces[moving], renamed])])
    if np.any(np.einsum("ij,ij->i", before, after) < 0.9):
        return False
    faces[moving] = renamed
    for face in both:
        for corner in faces[face].tolist():
            around.get(corner, set()).discard(face)
    faces[sorted(both)] = -1
    around[kept] |= set(moving)
    around[gone] = set()
    return True


def _normals(corners: FloatArray) -> FloatArray:
    """Of few triangles, (..., 3, 3), the unit normals: written out, as `np.cross` prepares long."""
    b, c = corners[..., 1, :] - corners[..., 0, :], corners[..., 2, :] - corners[..., 0, :]
    ahead, behind = [1, 2, 0], [2, 0, 1]
    normals = b[..., ahead] * c[..., behind] - b[..., behind] * c[..., ahead]
    lengths = np.sqrt(np.sum(normals * normals, axis=-1, keepdims=True))
    unit: FloatArray = normals / np.maximum(lengths, 1e-12)
    return unit


def _both_ends(diameter: float | tuple[float, float]) -> tuple[float, float]:
    return diameter if isinstance(diameter, tuple) else (diameter, diameter)


@dataclass(frozen=True, slots=True)
class _Surface:
    """A true surface, as the distance of points from it and its gradient.

    kind : "turned" r = a + b z; "hole" of radius a about the ray at `angle`
        through station b; "plane" n.p = a
    """

    kind: Literal["turned", "hole", "plane"]
    a: float
    b: float = 0.0
    angle: float = 0.0
    normal: tuple[float, float, float] = (0.0, 0.0, 0.0)

    def distance(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(n,) signed measure, zero on the surface, and its (n, 3) gradient."""
        x, y, z = points.T
        if self.kind == "plane":
            return points @ self.normal - self.a, np.tile(self.normal, (len(points), 1))
        if self.kind == "turned":
            radius = np.hypot(x, y)
            slopes = np.full_like(x, -self.b)
            return radius - self.a - self.b * z, np.column_stack((x / radius, y / radius, slopes))
        sine, cosine = math.sin(self.angle), math.cos(self.angle)
        across, up = cosine * y - sine * x, z - self.b
        radius = np.hypot(across, up)
        turn = across / radius
        return radius - self.a, np.column_stack((-sine * turn, cosine * turn, up / radius))


class _Builder:
    """Solid of revolution, tools and the snap of their rims, about the z axis."""

    def __init__(self, truth: Truth, facets: int, phase: float, level_step: float | None) -> None:
        self.truth = truth
        self.facets = facets
        self.phase = phase
        self.level_step = level_step
        self.surfaces: list[_Surface] = []
        self.origin_of_run: dict[int, IntArray] = {}

    def build(self, hole_facets: int | None, *, exact_rims: bool) -> tuple[FloatArray, IntArray]:
        """Vertices and triangles of the finished part."""
        solid = self._turned_solid()
        if self.truth.block is not None:
            solid = solid + self._block(self.truth.block)
        if self.truth.holes:
            tools = [self._drill(hole, hole_facets) for hole in self.truth.holes]
            solid = solid - manifold3d.Manifold.batch_boolean(tools, manifold3d.OpType.Add)
        raw = solid.to_mesh64()
        vertices = np.array(raw.vert_properties[:, :3], np.float64)
        triangles = np.array(raw.tri_verts, np.int64)
        if not exact_rims:
            return vertices, triangles
        meets = self._meets(len(vertices), triangles, self._surface_of(raw))
        vertices = self._snap(vertices, meets)
        vertices, triangles, _ = collapse_short_edges(vertices, triangles, meets, RIM_SEGMENT / 2.0)
        return vertices, triangles

    # The turned solid

    def _turned_solid(self) -> manifold3d.Manifold:
        points, surface_of_edge = self._profile()
        count, sides = len(points), self.facets
        angles = self.phase + 2.0 * math.pi * np.arange(sides) / sides
        ring = np.column_stack((np.cos(angles), np.sin(angles)))
        vertices = np.column_stack(
            ((points[:, None, :1] * ring).reshape(-1, 2), np.repeat(points[:, 1], sides))
        )
        edge, side = np.divmod(np.arange(count * sides), sides)
        here, ahead = edge * sides, (edge + 1) % count * sides
        right = (side + 1) % sides
        corners = np.column_stack((here + side, here + right, ahead + right, ahead + side))
        triangles = corners[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3)
        return self._solid(vertices, triangles, np.repeat(surface_of_edge[edge], 2))

    def _profile(self) -> tuple[FloatArray, IntArray]:
        """Closed (r, z) outline, counter-clockwise, and the surface of each edge."""
        low, high = self._add(_plane(2, -1, 0.0)), self._add(_plane(2, 1, self.truth.length))
        outer = self._chain(self.truth.outside, self._outside_features())
        inner = self._chain(self.truth.bore, self._bore_features())
        rising, rising_of = self._lay(outer)
        falling, falling_of = self._lay(inner)
        points = np.array(rising + falling[::-1])
        of_edge = [*rising_of, high, *falling_of[::-1], low]
        return points, np.array(of_edge, np.int64)

    def _outside_features(self) -> list[tuple[float, float, float, bool]]:
        rings = [(r.station, r.station + r.height, r.diameter, r.bead) for r in self.truth.rings]
        return sorted(rings + self._recesses("outside"))

    def _bore_features(self) -> list[tuple[float, float, float, bool]]:
        return sorted(self._recesses("bore"))

    def _recesses(self, place: str) -> list[tuple[float, float, float, bool]]:
        return [
            (r.station, r.station + r.height, r.diameter, False)
            for r in self.truth.recesses
            if r.place == place
        ]

    def _chain(
        self, ends: tuple[float, float], features: list[tuple[float, float, float, bool]]
    ) -> list[tuple[float, float, int]]:
        """Points (r, z) from the low end up, each with the surface of the edge after it."""
        slope = (ends[1] - ends[0]) / 2.0 / self.truth.length
        base = self._add(_Surface("turned", ends[0] / 2.0, slope))
        chain: list[tuple[float, float, int]] = []
        start = 0.0
        for low, high, diameter, bead in features:
            chain += self._levels(ends, start, low, base)
            radius_low, radius_high = (self.truth.diameter(ends, z) / 2.0 for z in (low, high))
            if bead:
                rise = diameter / 2.0 - (radius_low + radius_high) / 2.0
                chain += self._bead(low, high, radius_low, radius_high, rise)
            else:
                chain.append((radius_low, low, self._add(_plane(2, 1, low))))
                chain.append((diameter / 2.0, low, self._add(_Surface("turned", diameter / 2.0))))
                chain.append((diameter / 2.0, high, self._add(_plane(2, 1, high))))
            start = high
        chain += self._levels(ends, start, self.truth.length, base)
        chain.append((ends[1] / 2.0, self.truth.length, base))
        return chain

    def _levels(
        self, ends: tuple[float, float], low: float, high: float, surface: int
    ) -> list[tuple[float, float, int]]:
        """Ring stations from `low` up to, and without, `high`."""
        step = self.level_step if ends[0] != ends[1] else None
        steps = 1 if step is None else math.ceil((high - low) / step)
        stations = low + (high - low) * np.arange(steps) / steps
        return [(self.truth.diameter(ends, z) / 2.0, float(z), surface) for z in stations]

    def _bead(
        self, low: float, high: float, radius_low: float, radius_high: float, rise: float
    ) -> list[tuple[float, float, int]]:
        turn = math.pi * np.arange(13) / 12.0
        share = (1.0 - np.cos(turn)) / 2.0
        radii = radius_low + (radius_high - radius_low) * share + rise * np.sin(turn)
        stations = low + (high - low) * share
        slopes = np.diff(radii) / np.diff(stations)
        beads = []
        for radius, z, slope in zip(radii, stations, slopes, strict=False):
            cone = self._add(_Surface("turned", float(radius - slope * z), float(slope)))
            beads.append((float(radius), float(z), cone))
        return beads

    def _lay(
        self, chain: list[tuple[float, float, int]]
    ) -> tuple[list[tuple[float, float]], list[int]]:
        return [(r, z) for r, z, _ in chain], [surface for _, _, surface in chain[:-1]]

    # Tools

    def _drill(self, hole: Hole, facets: int | None) -> manifold3d.Manifold:
        """A prism from the axis outward, with its vertices on the hole's true circle."""
        radius, angle = hole.diameter / 2.0, math.radians(hole.angle_deg)
        sides = facets or max(24, round(2.0 * math.pi * radius / RIM_SEGMENT))
        turn = 2.0 * math.pi * (np.arange(sides) + 0.371) / sides
        reach = max(*self.truth.outside, *(r.diameter for r in self.truth.rings), 0.0)
        reach = max(reach, 2.0 * self.truth.block.reach if self.truth.block else 0.0)
        across, up = radius * np.cos(turn), hole.station + radius * np.sin(turn)
        rings = [np.column_stack((np.full(sides, x), across, up)) for x in (0.0, reach)]
        vertices = np.vstack((*rings, [[0.0, 0.0, hole.station], [reach, 0.0, hole.station]]))
        here, right = np.arange(sides), (np.arange(sides) + 1) % sides
        far, near_centre = here + sides, np.full(sides, 2 * sides)
        triangles = np.vstack(
            (
                np.column_stack((here, right, far)),
                np.column_stack((right, right + sides, far)),
                np.column_stack((near_centre, right, here)),
                np.column_stack((near_centre + 1, far, right + sides)),
            )
        )
        cosine, sine = math.cos(angle), math.sin(angle)
        vertices = vertices @ np.array([[cosine, sine, 0.0], [-sine, cosine, 0.0], [0, 0, 1]])
        surface = self._add(_Surface("hole", radius, hole.station, angle))
        owner = np.where(np.arange(len(triangles)) < 2 * sides, surface, -1)
        return self._solid(vertices, triangles, owner)

    def _block(self, block: Block) -> manifold3d.Manifold:
        inner = self.truth.wall(block.station) / 2.0
        inner += self.truth.diameter(self.truth.bore, block.station) / 2.0
        low, high = (
            np.array([inner, -block.width / 2.0, block.station]),
            np.array([block.reach, block.width / 2.0, block.station + block.height]),
        )
        box = trimesh.creation.box(bounds=(low, high))
        angle = math.radians(block.angle_deg)
        cosine, sine = math.cos(angle), math.sin(angle)
        turn = np.array([[cosine, sine, 0.0], [-sine, cosine, 0.0], [0.0, 0.0, 1.0]])
        normals = np.round(box.face_normals) @ turn
        vertices = box.vertices @ turn
        offsets = np.einsum("ij,ij->i", normals, vertices[box.faces[:, 0]])
        owner = [
            self._add(_Surface("plane", float(offset), normal=tuple(normal.tolist())))
            for normal, offset in zip(normals, offsets, strict=True)
        ]
        return self._solid(vertices, np.asarray(box.faces), np.array(owner))

    # Surfaces of triangles, and the snap

    def _add(self, surface: _Surface) -> int:
        if surface not in self.surfaces:
            self.surfaces.append(surface)
        return self.surfaces.index(surface)

    def _solid(
        self, vertices: FloatArray, triangles: IntArray, owner: IntArray
    ) -> manifold3d.Manifold:
        solid, run = remembering(vertices, triangles)
        self.origin_of_run[run] = np.asarray(owner, np.int64)
        return solid

    def _surface_of(self, mesh: Any) -> IntArray:
        owner = np.empty(len(mesh.tri_verts), np.int64)
        edges = np.asarray(mesh.run_index, np.int64) // 3
        runs = np.asarray(mesh.run_original_id, np.int64)
        faces = np.asarray(mesh.face_id, np.int64)
        for first, last, run in zip(edges[:-1], edges[1:], runs, strict=True):
            owner[first:last] = self.origin_of_run[int(run)][faces[first:last]]
        return owner

    def _meets(self, count: int, triangles: IntArray, owner: IntArray) -> NDArray[np.bool_]:
        """(vertices, surfaces): which true surfaces each vertex has a triangle on."""
        meets = np.zeros((count, len(self.surfaces)), bool)
        for corner in triangles.T:
            meets[corner[owner >= 0], owner[owner >= 0]] = True
        return meets

    def _snap(self, vertices: FloatArray, meets: NDArray[np.bool_]) -> FloatArray:
        """Move every vertex onto all the true surfaces that meet there.

        Newton steps of least length: from a facet's rim to the rim that the
        true surfaces share is a move of no more than the facets' sagitta.
        """
        moved = vertices.copy()
        for _ in range(8):
            residuals = np.zeros(meets.shape)
            gradients = np.zeros((*meets.shape, 3))
            for index, surface in enumerate(self.surfaces):
                at = meets[:, index]
                residuals[at, index], gradients[at, index] = surface.distance(moved[at])
            moved -= np.einsum("ijk,ik->ij", np.linalg.pinv(gradients, rcond=1e-6), residuals)
        assert np.abs(residuals).max() < 1e-9
        return moved


def _plane(axis: int, sign: int, offset: float) -> _Surface:
    normal = [0.0, 0.0, 0.0]
    normal[axis] = float(sign)
    return _Surface("plane", sign * offset, normal=(normal[0], normal[1], normal[2]))


# Parts with the sizes that the acceptance tests ask for

SEVEN_HOLES = tuple(
    Hole(station, 0.0, diameter)
    for station, diameter in (
        (96, 7.0), (122, 8.0), (147, 7.5), (196, 7.0), (221, 8.5), (247, 6.5), (312, 10.0)
    )
)  # fmt: skip


def straight_pipe(**changes: Any) -> Part:
    """352 long, bore 14.2, outside 21.4, seven holes in line."""
    settings: dict[str, Any] = {
        "length": 352.0, "bore": 14.2, "outside": 21.4, "holes": SEVEN_HOLES,
        "pose": turned_pose((0.662, 0.662, 0.352), 73.0, (12.0, -40.0, 75.0)),
    }  # fmt: skip
    return tube(**(settings | changes))


def ringed_pipe(**changes: Any) -> Part:
    """310 long, bore 15, outside 24, two turned rings, a block, three holes."""
    settings: dict[str, Any] = {
        "length": 310.0, "bore": 15.0, "outside": 24.0,
        "holes": (Hole(110, 0, 7), Hole(140, 0, 8), Hole(178, 0, 7)),
        "rings": (Ring(24, 9, 31), Ring(240, 7, 32)),
        "block": Block(270, 26, 0, 12, 19),
    }  # fmt: skip
    return tube(**(settings | changes))


def tapered_pipe(**changes: Any) -> Part:
    """276 long, bore 16 to 6, outside 26 to 17, six holes in line and one behind."""
    settings: dict[str, Any] = {
        "length": 276.0, "bore": (16.0, 6.0), "outside": (26.0, 17.0),
        "holes": (
            Hole(70, 0, 7), Hole(92, 0, 7), Hole(114, 0, 6), Hole(121, 180, 4.5),
            Hole(150, 0, 6), Hole(172, 0, 5.5), Hole(194, 0, 5),
        ),
        "facets": 126, "level_step": 4.32,
    }  # fmt: skip
    return tube(**(settings | changes))


def plain_tube(**changes: Any) -> Part:
    """A tube of nothing but its two surfaces and its ends."""
    settings: dict[str, Any] = {"length": 300.0, "bore": 19.0, "outside": 26.0}
    return tube(**(settings | changes))


def in_pose(part: Part, pose: FloatArray) -> Part:
    """The same part after one more rigid motion, in mm."""
    step = pose.copy()
    step[:3, 3] /= part.truth.unit
    moved = part.mesh.copy()
    moved.apply_transform(step)
    return Part(moved, replace(part.truth, pose=pose @ part.truth.pose))
