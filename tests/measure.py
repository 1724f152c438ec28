"""Measures finished pieces from their files, with trimesh and manifold3d only.

No code of the core is called here: what the core promises is read from the
STL files and from job.json, and held against the truth that a part was built
to. Millimetres and degrees throughout.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import manifold3d
import numpy as np
import trimesh
from numpy.typing import NDArray

from tests.parts import Truth, datums, tube

FloatArray = NDArray[np.float64]

COLLISION = 0.01
"""Overlap, mm3, from which two pieces are said to collide."""

SHARP_DEG = 25.0
"""Angle between two triangles from which their common edge counts as a rim."""

RIM_BAND = 0.3
"""How far from the true outside a rim's vertices may lie, mm, to be one of its rims."""

MOUTH = 0.5
"""Height over the seam, mm, under which a socket has its first-layer relief."""

MARKS = 1.25
"""Height over the seam, mm, to which witness marks reach into a socket at the most."""

LEAD_IN = 0.5
"""Height under the tip, mm, in which a thin tenon has its 45 degree lead-in."""

EDGE = 0.05
"""How far from an edge a wall is measured, mm: at the edge itself it has no thickness."""

OFF_PLANE = 0.0013
"""Added to heights, mm, so that no section runs in a flat face that lies at a round number."""

FOLD = 1e-4
"""Width, mm, under which a fold in an outline is rounding of float32, not matter."""

RAYS = 720


@dataclass(frozen=True, slots=True)
class PieceFile:
    """One piece as its file holds it: in print pose, z up."""

    name: str
    mesh: trimesh.Trimesh
    solid: manifold3d.Manifold
    to_source: FloatArray
    record: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Finished:
    """A folder of pieces of one part, from the low end up, and what is said of them."""

    job: dict[str, Any]
    part: dict[str, Any]
    pieces: tuple[PieceFile, ...]


@dataclass(frozen=True, slots=True)
class Seat:
    """One joint in the pose of its lower piece's file.

    centre : (2,) about which the joint would turn: where its bore's centre line stands,
        or midway between those of two
    seam, tip : heights of the seam plane and of the tenon's highest point
    key_angles : radians about the centre, the first key's first
    """

    lower: manifold3d.Manifold
    upper: manifold3d.Manifold
    centre: FloatArray
    seam: float
    tip: float
    key_angles: tuple[float, ...]

    @property
    def key_angle(self) -> float:
        """Of the first key."""
        return self.key_angles[0]


@dataclass(frozen=True, slots=True)
class Clearance:
    """Radial gap on the parallel faces off the key, and how much of them that was."""

    least: float
    greatest: float
    parallel_length: float
    key_arc_deg: float


@dataclass(frozen=True, slots=True)
class Turning:
    """What turning the upper piece in its seat finds: play to each side, free angles beyond."""

    play_deg: tuple[float, float]
    free_deg: tuple[float, ...]


def solid_of(mesh: trimesh.Trimesh) -> manifold3d.Manifold:
    """The solid that a closed mesh bounds; fails loudly where it bounds none."""
    raw = manifold3d.Mesh64(
        vert_properties=np.ascontiguousarray(mesh.vertices, np.float64),
        tri_verts=np.ascontiguousarray(mesh.faces, np.uint64),
    )
    solid = manifold3d.Manifold(raw)
    assert solid.status() == manifold3d.Error.NoError, solid.status()
    return solid


def load(folder: Path, part: str | None = None) -> Finished:
    """All pieces of one part (the first, or the one named) of a finished folder."""
    job = json.loads((folder / "job.json").read_text(encoding="utf-8"))
    record = next(p for p in job["parts"] if part in {None, p["name"]})
    pieces = []
    for entry in record["pieces"]:
        mesh = trimesh.load_mesh(folder / entry["file"])
        matrix = np.array(entry["to_source"], np.float64)
        pieces.append(PieceFile(entry["name"], mesh, solid_of(mesh), matrix, entry))
    return Finished(job, record, tuple(pieces))


def is_one_closed_body(piece: PieceFile) -> bool:
    """Every edge between two triangles, outward, positive volume, in one connected piece."""
    mesh = piece.mesh
    closed = bool(mesh.is_watertight and mesh.is_winding_consistent and mesh.volume > 0.0)
    return closed and len(piece.solid.decompose()) == 1


def through_holes(piece: PieceFile) -> int:
    """The genus: 1 for the bore and 1 for each hole through the wall."""
    return int(2 - piece.mesh.euler_number) // 2


# Joints


def seat(finished: Finished, index: int) -> Seat:
    """Joint `index`, with both its pieces brought into the lower one's pose."""
    lower, upper = finished.pieces[index], finished.pieces[index + 1]
    joint = finished.part["joints"][index]
    to_lower = np.linalg.inv(lower.to_source)
    point = np.array(finished.part["survey"]["axis"]["point"])
    direction = np.array(finished.part["survey"]["axis"]["direction"])
    foot = point + joint["station"] * direction
    aside = _middle(finished.part, joint)
    for offset, turn in zip(aside, (0.0, math.pi / 2.0), strict=True):
        foot = foot + offset * _reference(direction, turn)
    foot = _moved(foot, to_lower)
    angles_deg = joint.get("key_angles_deg", [joint["key_angle_deg"]])
    keys = [_reference(direction, math.radians(a)) @ to_lower[:3, :3].T for a in angles_deg]
    return Seat(
        lower=lower.solid,
        upper=upper.solid.transform((to_lower @ upper.to_source)[:3]),
        centre=foot[:2],
        seam=float(foot[2]),
        tip=float(foot[2]) + float(joint["engagement"]),
        key_angles=tuple(math.atan2(key[1], key[0]) for key in keys),
    )


def _middle(part: dict[str, Any], joint: dict[str, Any]) -> FloatArray:
    """(2,) offset from the axis of the middle between the bores that a joint runs around."""
    if "bores" not in joint:
        return np.zeros(2)
    offsets = [part["survey"]["bores"][number]["offset"] for number in joint["bores"]]
    middle: FloatArray = np.mean(np.array(offsets, np.float64), axis=0)
    return middle


def overlap(at: Seat) -> float:
    """Volume, mm3, that both pieces claim."""
    return float((at.lower ^ at.upper).volume())


def clearance(at: Seat) -> Clearance:
    """Least and greatest radial gap over the whole parallel length, off the keys.

    The greatest is measured above the witness marks.
    """
    heights = np.arange(at.seam + MOUTH, at.tip - EDGE, 0.5)
    levels: list[_Rays] = []
    for height in heights.tolist():
        rays = _outlines(at, height)
        if levels and abs(np.median(rays.tenon) - np.median(levels[0].tenon)) > 0.02:
            break
        levels.append(rays)
    reaches = [max(_key_reach(rays, turn) for rays in levels) for turn in _key_turns(at)]
    gaps = [(rays.socket - rays.tenon)[_off_keys(rays, at, reaches)] for rays in levels]
    above = [gap for gap, height in zip(gaps, heights, strict=False) if height > at.seam + MARKS]
    least, greatest = (float(np.concatenate(gaps).min()), float(np.concatenate(above).max()))
    parallel = float(heights[len(levels) - 1]) - at.seam
    return Clearance(least, greatest, parallel, 2.0 * math.degrees(sum(reaches)))


def joint_diameters(at: Seat) -> tuple[float, float]:
    """Diameters, mm, of tenon and socket just over the witness marks, off the keys.

    The tenon's is that of the circle about it, the socket's that of the circle
    within it: what would pass a ring gauge and a plug gauge.
    """
    rays = _outlines(at, at.seam + MARKS + OFF_PLANE)
    off_key = _off_keys(rays, at, [_key_reach(rays, turn) for turn in _key_turns(at)])
    return 2.0 * float(rays.tenon[off_key].max()), 2.0 * float(rays.socket[off_key].min())


def walls(at: Seat) -> tuple[float, float]:
    """Least radial wall, mm, of the tenon and of the socket, the keys' parts included.

    A ray that meets no wall at all counts as none. The bevelled edges, a tenon's
    lead-in and a socket's relief, are left out: a bevel runs out to nothing.
    """
    tenon = [
        _least_wall(at, at.lower, height)
        for height in (np.linspace(at.seam + EDGE, at.tip - LEAD_IN, 16) - OFF_PLANE).tolist()
    ]
    socket = [
        _least_wall(at, at.upper, height)
        for height in (np.linspace(at.seam + MOUTH, at.tip, 16) + OFF_PLANE).tolist()
    ]
    return min(tenon), min(socket)


def land(at: Seat) -> float:
    """Width, mm, of the flat at the tenon's tip."""
    return _least_wall(at, at.lower, at.tip - EDGE) - EDGE


def turning(at: Seat, parallel_length: float) -> Turning:
    """Where the upper piece still fits when it is turned about the axis.

    Level sections over the tenon's parallel length are turned against each
    other; the area they share, times the height they stand for, is the overlap
    of that stretch, and so no more than the overlap of the pieces. Play is read
    in steps of 0.05 degrees; then every whole degree from 2 on is tried, and
    those at which the pieces do not collide are told.
    """
    steps = 4
    height = (parallel_length - MOUTH) / steps
    levels = at.seam + MOUTH + height * (np.arange(steps) + 0.5)
    pairs = []
    for level in levels:
        lower, upper = (
            solid.slice(float(level)).translate(tuple(-at.centre)) for solid in (at.lower, at.upper)
        )
        pairs.append((lower, upper))

    def collides(angle_deg: float) -> bool:
        shared = sum((lower ^ upper.rotate(angle_deg)).area() for lower, upper in pairs)
        return bool(shared * height > COLLISION)

    play = (_play(collides, -1.0), _play(collides, 1.0))
    free = tuple(float(angle) for angle in range(2, 359) if not collides(float(angle)))
    return Turning(play, free)


def flattest_underside_deg(at: Seat) -> float:
    """Least slope from the level, degrees, of the joint's downward faces off the bed.

    Only faces in and about the socket are of our making: all corners within
    0.75 mm of the socket's radius or nearer to the axis. The bed, on which the
    upper piece's seam lies, is left out.
    """
    ours_within = joint_diameters(at)[1] / 2.0 + 0.75
    flattest = 90.0
    for solid in (at.lower, at.upper):
        mesh = trimesh.Trimesh(*_arrays(solid), process=False)
        corners = mesh.triangles
        heights = corners[:, :, 2]
        radii = np.linalg.norm(corners[:, :, :2] - at.centre, axis=2)
        ours = (mesh.face_normals[:, 2] < -1e-3) & (mesh.area_faces > 1e-9)
        ours &= (heights.max(axis=1) > at.seam + 1e-3) & (heights.max(axis=1) < at.tip + 1.5)
        ours &= (heights.min(axis=1) > at.seam - 1e-3) & (radii.max(axis=1) < ours_within)
        down = np.clip(-mesh.face_normals[ours, 2], 0.0, 1.0)
        flattest = min(flattest, float(np.degrees(np.arccos(down)).min(initial=90.0)))
    return flattest


def groove_length(at: Seat, bore_radius: float) -> float:
    """Axial length, mm, of the gap that the joint leaves in the bore, away from the key."""
    angle = at.key_angle + math.pi
    foot = at.centre + (bore_radius + 0.05) * np.array([math.cos(angle), math.sin(angle)])
    ends = [at.seam + 0.5 * (at.tip - at.seam), at.tip + 20.0]
    hits = [_column(solid, foot, *ends) for solid in (at.lower, at.upper)]
    return float(hits[1].min() - hits[0].max())


# The whole


def assembled(finished: Finished) -> FloatArray:
    """All vertices of all pieces in the source's coordinates."""
    return np.vstack([_moved(p.mesh.vertices, p.to_source) for p in finished.pieces])


def assembled_length(finished: Finished, truth: Truth) -> float:
    """Distance, mm, between the outermost points along the true axis."""
    along = assembled(finished) @ datums(truth).direction
    return float(np.ptp(along))


def axis_error_deg(piece: PieceFile, truth: Truth) -> float:
    """Angle between the piece's upright and the true axis."""
    upright = piece.to_source[:3, 2]
    return _angle_deg(upright, datums(truth).direction)


def bore_axis_error_deg(piece: PieceFile, truth: Truth, low: float, high: float) -> float:
    """Angle between the true axis and the line through two sections of the piece's bore."""
    ends = []
    for height in (low, high):
        x, y = _bore_centre(piece, height)
        ends.append(_moved(np.array([x, y, height]), piece.to_source))
    return _angle_deg(ends[1] - ends[0], datums(truth).direction)


def round_deviations(finished: Finished, truth: Truth) -> tuple[float, float]:
    """Greatest distance, mm, of bore and outside from truth.

    Taken at corners and at the middles of edges, so that chords count too. Faces
    of joints, rings and holes lie elsewhere or face elsewhere.
    """
    worst = [0.0, 0.0]
    for piece in finished.pieces:
        to_truth = np.linalg.inv(_truth_frame(truth)) @ piece.to_source
        corners = _moved(piece.mesh.vertices, to_truth)[piece.mesh.faces]
        points = np.concatenate((corners, (corners + np.roll(corners, 1, axis=1)) / 2.0), axis=1)
        radii, stations = np.hypot(points[..., 0], points[..., 1]), points[..., 2]
        told = datums(truth)
        for index, ends in enumerate((told.bore, told.outside)):
            true = (ends[0] + (ends[1] - ends[0]) * stations / truth.length) / 2.0
            off = np.abs(radii - true).max(axis=1)
            on_it = (off < 0.5) & _faces_radially(corners)
            worst[index] = max(worst[index], float(off[on_it].max(initial=0.0)))
    return worst[0], worst[1]


def hole_rims(finished: Finished, truth: Truth) -> FloatArray:
    """(k, 4) holes read from the pieces' outer rims: station, angle_deg, along, across."""
    told = datums(truth)
    found = []
    for piece in finished.pieces:
        to_truth = np.linalg.inv(_truth_frame(truth)) @ piece.to_source
        points = _moved(piece.mesh.vertices, to_truth)
        for loop in _sharp_loops(piece.mesh):
            rim = points[loop]
            radii = np.hypot(rim[:, 0], rim[:, 1])
            true = _radius(told.outside, rim[:, 2], truth.length)
            if len(loop) >= 8 and np.abs(radii - true).max() < RIM_BAND:
                found += _round_rim(rim, float(radii.mean()))
    return np.array(sorted(found)).reshape(-1, 4)


def reference_solid(truth: Truth) -> manifold3d.Manifold:
    """The true part itself, finely faceted, in the source's coordinates."""
    fine = tube(
        length=truth.length,
        bore=truth.bore,
        outside=truth.outside,
        holes=truth.holes,
        rings=truth.rings,
        recesses=truth.recesses,
        block=truth.block,
        facets=240,
        pose=truth.pose,
        rims="facets",
        hole_facets=120,
    )
    return solid_of(fine.mesh)


def section_difference(
    finished: Finished, truth: Truth, reference: manifold3d.Manifold, stations: FloatArray
) -> float:
    """Worst mean distance, mm, between the outlines of pieces and reference, over sections.

    That is the area which only one of the two covers, over the outlines' length.
    """
    to_truth = np.linalg.inv(_truth_frame(truth))
    true = reference.transform(to_truth[:3])
    worst = 0.0
    for station in stations.tolist():
        seen = manifold3d.CrossSection.batch_boolean(
            [piece.slice(station) for piece in _along_axis(finished, truth)],
            manifold3d.OpType.Add,
        )
        expected = true.slice(station)
        apart = (seen - expected).area() + (expected - seen).area()
        worst = max(worst, apart / _outline_length(expected))
    return worst


def bore_excess(finished: Finished, truth: Truth, stations: FloatArray) -> float:
    """How much farther from the axis the nearest matter is than the true bore, mm, at the least."""
    told = datums(truth)
    least = math.inf
    for station in stations.tolist():
        radius = float(_radius(told.bore, np.array(station), truth.length))
        for piece in _along_axis(finished, truth):
            for contour in piece.slice(station).to_polygons():
                least = min(least, _distance_from_origin(contour) - radius)
    return least


def volume(finished: Finished) -> float:
    """mm3, of all pieces."""
    return sum(float(piece.solid.volume()) for piece in finished.pieces)


def _along_axis(finished: Finished, truth: Truth) -> list[manifold3d.Manifold]:
    to_truth = np.linalg.inv(_truth_frame(truth))
    return [piece.solid.transform((to_truth @ piece.to_source)[:3]) for piece in finished.pieces]


def _outline_length(section: manifold3d.CrossSection) -> float:
    return sum(
        float(np.linalg.norm(np.roll(contour, -1, axis=0) - contour, axis=1).sum())
        for contour in section.to_polygons()
    )


def _distance_from_origin(contour: FloatArray) -> float:
    """Least distance of a closed outline from the origin."""
    along = np.roll(contour, -1, axis=0) - contour
    share = -np.einsum("ij,ij->i", contour, along) / np.maximum((along**2).sum(axis=1), 1e-18)
    nearest = contour + np.clip(share, 0.0, 1.0)[:, None] * along
    return float(np.linalg.norm(nearest, axis=1).min())


# Sections and rays


@dataclass(frozen=True, slots=True)
class _Rays:
    """Radii of the tenon's outside and the socket's inside, by angle from the key."""

    turn: FloatArray
    tenon: FloatArray
    socket: FloatArray


def _outlines(at: Seat, height: float) -> _Rays:
    tenon, socket = (
        [contour - at.centre for contour in solid.slice(height).to_polygons()]
        for solid in (at.lower, at.upper)
    )
    turn = _turns([*tenon, *socket], at.key_angle)
    out = _crossings(tenon, _wrapped(turn + at.key_angle))
    inner = _crossings(socket, _wrapped(turn + at.key_angle))
    return _Rays(turn, np.nanmax(np.nan_to_num(out, nan=0.0), axis=1), np.nanmin(inner, axis=1))


def _turns(contours: list[FloatArray], zero: float) -> FloatArray:
    """Angles of rays, from `zero` on, in (-pi, pi]: evenly, and closely beside every corner.

    Beside, not at: a ray along a radial flank would run in it.
    """
    corners = np.vstack(contours)
    angles = np.arctan2(corners[:, 1], corners[:, 0]) - zero
    even = (np.arange(RAYS) + 0.2357) * 2.0 * math.pi / RAYS
    return np.sort(_wrapped(np.concatenate((even, angles - 1e-4, angles + 1e-4))))


def _wrapped(angles: FloatArray) -> FloatArray:
    wrapped: FloatArray = (angles + math.pi) % (2.0 * math.pi) - math.pi
    return wrapped


def _key_turns(at: Seat) -> list[float]:
    """Angles of all keys, as rays count them: from the first."""
    return [angle - at.key_angle for angle in at.key_angles]


def _off_keys(rays: _Rays, at: Seat, reaches: list[float]) -> NDArray[np.bool_]:
    """(r,) whether rays miss every key."""
    off = np.ones(len(rays.turn), bool)
    for turn, reach in zip(_key_turns(at), reaches, strict=True):
        off &= np.abs(_wrapped(rays.turn - turn)) > reach
    return off


def _key_reach(rays: _Rays, key_turn: float) -> float:
    """Half the arc that a key takes, radians, a degree and a half to spare.

    The key is where an outline leaves its circle by more than 0.25 mm within
    30 degrees of where the job says that the key is: two keys are 60 apart or more.
    """
    bent = np.abs(rays.tenon - np.median(rays.tenon)) > 0.25
    bent |= np.abs(rays.socket - np.median(rays.socket)) > 0.25
    turn = np.abs(_wrapped(rays.turn - key_turn))
    near = turn < math.radians(30.0)
    return float(turn[bent & near].max(initial=0.0)) + math.radians(1.5)


def _least_wall(at: Seat, solid: manifold3d.Manifold, height: float) -> float:
    """Least wall of a level section.

    The section is first rid of folds narrower than `FOLD`.
    """
    section = solid.slice(height).simplify(FOLD)
    contours = [contour - at.centre for contour in section.to_polygons()]
    turn = _turns(contours, at.key_angle)
    hits = _crossings(contours, _wrapped(turn + at.key_angle))
    hits = hits[:, : 2 * (hits.shape[1] // 2)]
    if np.isnan(hits[:, 0]).any():
        return 0.0
    return float(np.nanmin(hits[:, 1::2] - hits[:, 0::2]))


def _crossings(contours: list[FloatArray], angles: FloatArray) -> FloatArray:
    """(rays, m) ascending distances at which rays from the origin cross contours, else NaN.

    No contour may pass through the origin.
    """
    starts = np.vstack(contours)
    ends = np.vstack([np.roll(contour, -1, axis=0) for contour in contours])
    from_angle = np.arctan2(starts[:, 1], starts[:, 0])
    sweep = np.arctan2(ends[:, 1], ends[:, 0]) - from_angle
    sweep = (sweep + math.pi) % (2.0 * math.pi) - math.pi
    order = np.argsort(angles)
    ring = np.concatenate([angles[order] + turn for turn in (-2.0 * math.pi, 0.0, 2.0 * math.pi)])
    first = np.searchsorted(ring, from_angle + np.minimum(sweep, 0.0))
    count = np.searchsorted(ring, from_angle + np.maximum(sweep, 0.0)) - first
    edge = np.repeat(np.arange(len(starts)), count)
    within = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    ray = order[(first[edge] + within) % len(angles)]
    distance = _distance_along(_unit(angles[ray]), starts[edge], ends[edge])
    sequence = np.lexsort((distance, ray))
    ray, distance = ray[sequence], distance[sequence]
    place = np.arange(len(ray)) - np.searchsorted(ray, ray)
    nearest = np.full((len(angles), max(2, int(place.max(initial=0)) + 1)), np.nan)
    nearest[ray, place] = distance
    return nearest


def _distance_along(directions: FloatArray, starts: FloatArray, ends: FloatArray) -> FloatArray:
    """Distances from the origin, along unit directions, to the lines from starts to ends."""
    along = ends - starts
    above: FloatArray = _cross2(starts, along) / _cross2(directions, along)
    return above


def _arrays(solid: manifold3d.Manifold) -> tuple[FloatArray, NDArray[np.int64]]:
    raw = solid.to_mesh64()
    points = np.asarray(raw.vert_properties, np.float64)[:, :3]
    return points, np.asarray(raw.tri_verts, np.int64)


def _column(solid: manifold3d.Manifold, foot: FloatArray, low: float, high: float) -> FloatArray:
    """Heights between low and high at which a plumb line enters or leaves a solid."""
    points, faces = _arrays(solid)
    a, b, c = (points[faces[:, k]] for k in range(3))
    area = _cross2(b - a, c - a)
    a, b, c, area = (values[np.abs(area) > 1e-12] for values in (a, b, c, area))
    second = _cross2(foot - a[:, :2], c - a) / area
    third = _cross2(b - a, foot - a[:, :2]) / area
    inside = (second >= 0.0) & (third >= 0.0) & (second + third <= 1.0)
    heights = (a[:, 2] + second * (b - a)[:, 2] + third * (c - a)[:, 2])[inside]
    between: FloatArray = np.unique(heights[(heights > low) & (heights < high)])
    return between


def _cross2(one: FloatArray, other: FloatArray) -> FloatArray:
    product: FloatArray = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
    return product


def _bore_centre(piece: PieceFile, height: float) -> FloatArray:
    """(2,) centroid of the innermost contour of a level section."""
    contours = piece.solid.slice(height).to_polygons()
    inner = min(contours, key=lambda contour: abs(_area_and_centroid(contour)[0]))
    return _area_and_centroid(inner)[1]


def _area_and_centroid(contour: FloatArray) -> tuple[float, FloatArray]:
    ahead = np.roll(contour, -1, axis=0)
    cross = contour[:, 0] * ahead[:, 1] - contour[:, 1] * ahead[:, 0]
    area = float(cross.sum()) / 2.0
    return area, ((contour + ahead) * cross[:, None]).sum(axis=0) / (6.0 * area)


def _unit(angles: FloatArray) -> FloatArray:
    return np.column_stack((np.cos(angles), np.sin(angles)))


# Turning


def _play(collides: Callable[[float], bool], sense: float) -> float:
    """Last angle, degrees, before the first collision, or 180 where there is none."""
    for step in range(1, 61):
        if collides(sense * 0.05 * step):
            return 0.05 * (step - 1)
    return 180.0


# Rims


def _sharp_loops(mesh: trimesh.Trimesh) -> list[NDArray[np.int64]]:
    """Vertices of each connected set of sharp edges."""
    sharp = mesh.face_adjacency_angles > math.radians(SHARP_DEG)
    edges = mesh.face_adjacency_edges[sharp]
    label = np.arange(len(mesh.vertices))
    while True:
        least = np.minimum(label[edges[:, 0]], label[edges[:, 1]])
        after = label.copy()
        np.minimum.at(after, edges[:, 0], least)
        np.minimum.at(after, edges[:, 1], least)
        after = after[after]
        if np.array_equal(after, label):
            break
        label = after
    used = np.unique(edges)
    order = used[np.argsort(label[used], kind="stable")]
    return np.split(order, np.flatnonzero(np.diff(label[order])) + 1)


def _round_rim(rim: FloatArray, radius: float) -> list[tuple[float, float, float, float]]:
    """Station, angle, width along and across of a rim, or nothing where it is not round."""
    angle = math.atan2(rim[:, 1].mean(), rim[:, 0].mean())
    across = math.cos(angle) * rim[:, 1] - math.sin(angle) * rim[:, 0]
    toward = math.cos(angle) * rim[:, 0] + math.sin(angle) * rim[:, 1]
    if toward.min() <= 0.0:
        return []
    design = np.column_stack((across, rim[:, 2], np.ones(len(rim))))
    solved = np.linalg.lstsq(design, across**2 + rim[:, 2] ** 2, rcond=None)[0]
    centre = solved[:2] / 2.0
    fitted = math.sqrt(solved[2] + centre @ centre)
    off = np.hypot(across - centre[0], rim[:, 2] - centre[1]) - fitted
    if np.abs(off).max() > 0.1:
        return []
    angle += math.asin(centre[0] / radius)
    turn = math.degrees((angle + math.pi) % (2.0 * math.pi) - math.pi)
    return [(float(centre[1]), turn, float(np.ptp(rim[:, 2])), float(np.ptp(across)))]


# Frames


def _truth_frame(truth: Truth) -> FloatArray:
    """(4, 4) from the contract's part frame (z the station) to the source, by truth."""
    told = datums(truth)
    frame = np.eye(4)
    frame[:3, 0] = _reference(told.direction, 0.0)
    frame[:3, 1] = np.cross(told.direction, frame[:3, 0])
    frame[:3, 2] = told.direction
    frame[:3, 3] = told.point
    return frame


def _reference(direction: FloatArray, angle: float) -> FloatArray:
    """The unit vector square to the axis at an angle, by the contract's datum."""
    along_x = abs(direction[0]) > math.cos(math.radians(1.0))
    start = np.array([0.0, 1.0, 0.0]) if along_x else np.array([1.0, 0.0, 0.0])
    reference = start - direction * (start @ direction)
    reference /= np.linalg.norm(reference)
    turned: FloatArray = math.cos(angle) * reference + math.sin(angle) * np.cross(
        direction, reference
    )
    return turned


def _moved(points: FloatArray, matrix: FloatArray) -> FloatArray:
    moved: FloatArray = np.asarray(points) @ matrix[:3, :3].T + matrix[:3, 3]
    return moved


def _radius(ends: tuple[float, float], stations: FloatArray, length: float) -> FloatArray:
    radii: FloatArray = (ends[0] + (ends[1] - ends[0]) * stations / length) / 2.0
    return radii


def _faces_radially(corners: FloatArray) -> NDArray[np.bool_]:
    """Whether a triangle's normal is within 20 degrees of the radius through its middle."""
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    middles = corners.mean(axis=1)[:, :2]
    middles /= np.maximum(np.linalg.norm(middles, axis=1, keepdims=True), 1e-12)
    radial: NDArray[np.bool_] = np.abs(np.einsum("ij,ij->i", normals[:, :2], middles)) > math.cos(
        math.radians(20.0)
    )
    return radial


def _angle_deg(one: FloatArray, other: FloatArray) -> float:
    sine = np.linalg.norm(np.cross(one, other))
    return math.degrees(math.atan2(float(sine), float(one @ other)))
