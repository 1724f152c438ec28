"""Making the round surfaces and ends exact, and leaving all else as it is."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from ..errors import BadMesh, TruingRefused
from ..meshes.ear_clipping import clip_ears
from ..meshes.mesh_checks import check_closed, compact, neighbours
from ..meshes.polygon import fill_polygon, signed_area, stitch
from ..surveying.openings import Loop, boundary_loops
from ..surveying.round_surfaces import bending_vertices, measure_facets
from ..values import (
    BORE,
    HIGH_END,
    LOW_END,
    OUTSIDE,
    ROUND_OFF,
    FloatArray,
    IntArray,
    Mesh,
    RoundSurface,
    Settings,
    Survey,
    TruedPart,
)
from .unroll import Chain, place_lines, strip_faces

_SHOWN_BEND = math.radians(1.0)
_AXIS = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True)
class _Target:
    """A surface to be made exact. Unrolled as (turn * angle, station), its front faces up."""

    label: int
    surface: RoundSurface
    turn: int


def true_up(survey: Survey, settings: Settings) -> TruedPart:
    """The part with its round surfaces and flat ends exact.

    Vertices on a surface move radially onto it, keeping angle and station; the
    surface between its boundary loops is meshed anew; hole rims and everything
    that is no round surface keep their vertices.

    Raises
    ------
    TruingRefused : the exact surfaces would leave less wall than asked for, or do
        not close with what is kept
    """
    before = len(survey.mesh.triangles)
    targets = _targets(survey, settings)
    if not targets:
        none = tuple(np.empty(0) for _ in survey.bores)
        return TruedPart(survey.mesh, survey.labels, none, before, 0.0)
    _check_wall(survey, settings)
    moved, greatest = _snap(survey, targets)
    _check_moves(greatest, settings)
    rebuilt = _Rebuild(survey, targets, moved)
    mesh, labels = rebuilt.run()
    try:
        check_closed(mesh)
    except BadMesh as gap:
        raise TruingRefused(
            f"true surfaces that do not close with the rest: {gap.found}",
            gap.needed,
            "--true none, or mend the mesh near there",
        ) from gap
    return TruedPart(mesh, labels, (rebuilt.generators,), before, greatest)


def as_trued(survey: Survey, settings: Settings) -> Survey:
    """The survey with no chord error left on the surfaces that are trued."""
    exact = {target.label for target in _targets(survey, settings)}
    bores = tuple(_as_exact(bore, BORE in exact) for bore in survey.bores)
    outsides = tuple(_as_exact(outside, OUTSIDE in exact) for outside in survey.outsides)
    return replace(
        survey,
        bores=bores,
        outsides=outsides,
        walls=tuple(
            replace(wall, inner=bores[wall.bores[0]], outer=_as_exact(wall.outer, OUTSIDE in exact))
            for wall in survey.walls
        ),
    )


def _as_exact(surface: RoundSurface, is_exact: bool) -> RoundSurface:  # noqa: FBT001
    return replace(surface, sagitta=0.0) if is_exact else surface


def _targets(survey: Survey, settings: Settings) -> list[_Target]:
    targets = []
    if settings.true in ("both", "bore"):
        targets.append(_Target(BORE, survey.bore, -1))
    if settings.true in ("both", "outside"):
        targets.append(_Target(OUTSIDE, survey.outside, 1))
    return targets


def _check_wall(survey: Survey, settings: Settings) -> None:
    if survey.wall_least < settings.least_wall:
        raise TruingRefused(
            f"a wall of {survey.wall_least:.2f} mm at its thinnest between true surfaces",
            f"{settings.least_wall:.2f} mm",
            f"--least-wall {math.floor(survey.wall_least * 20.0) / 20.0:.2f}, or a thicker part",
        )


def _check_moves(greatest: float, settings: Settings) -> None:
    if greatest > max(settings.max_move, ROUND_OFF):
        raise TruingRefused(
            f"a vertex that truing would move by {greatest:.3f} mm",
            f"at most {settings.max_move:.3f} mm",
            f"--max-move {math.ceil(greatest * 100.0) / 100.0:.2f}, or --true none",
        )


def _snap(survey: Survey, targets: list[_Target]) -> tuple[FloatArray, float]:
    """All vertices with those on targets and ends put exactly there; the greatest move.

    A vertex within a flat facet lies on a chord: its way out to the circle is
    chord error, not a move.
    """
    vertices = survey.mesh.vertices.copy()
    facets = measure_facets(survey.mesh)
    greatest = 0.0
    for label, station in ((LOW_END, 0.0), (HIGH_END, survey.length)):
        corners = np.unique(survey.mesh.triangles[survey.labels == label])
        if len(corners):
            greatest = max(greatest, float(np.abs(vertices[corners, 2] - station).max()))
        vertices[corners, 2] = station
    for target in targets:
        chosen = survey.labels == target.label
        corners = np.unique(survey.mesh.triangles[chosen])
        centre = np.array(target.surface.offset)
        arms = vertices[corners, :2] - centre
        lengths = np.hypot(arms[:, 0], arms[:, 1])
        radii = target.surface.radii_at(vertices[corners, 2])
        on_circle = bending_vertices(facets, chosen, _AXIS, _SHOWN_BEND)[corners]
        moves = np.where(on_circle, np.abs(lengths - radii), np.maximum(lengths - radii, 0.0))
        greatest = max(greatest, float(moves.max(initial=0.0)))
        vertices[corners, :2] = centre + arms * (radii / lengths)[:, None]
    return vertices, greatest


class _Rebuild:
    """The mesh being put together anew: kept triangles, strips, ends."""

    def __init__(self, survey: Survey, targets: list[_Target], vertices: FloatArray) -> None:
        self.survey = survey
        self.targets = targets
        self.triangles = survey.mesh.triangles
        self.twin = neighbours(self.triangles)
        self.vertices: list[FloatArray] = [vertices]
        self.count = len(vertices)
        self.on_edge: dict[int, list[int]] = {}
        self.circles: dict[int, list[int]] = {}
        self.generators = np.empty(0)
        self.moved = Mesh(vertices, self.triangles)

    def run(self) -> tuple[Mesh, IntArray]:
        outlined = [(target, self._chains(target)) for target in self.targets]
        redone = [target.label for target in self.targets] + [LOW_END, HIGH_END]
        kept = np.flatnonzero(~np.isin(self.survey.labels, redone))
        whole, labels = self._kept(kept)
        taken = _edges(whole)
        parts = [(pair[0].label, self._strips(*pair, taken)) for pair in outlined]
        parts += [(label, self._end(label)) for label in (LOW_END, HIGH_END)]
        for label, faces in parts:
            if faces:
                whole = np.vstack([whole, np.array(faces)])
                labels = np.concatenate([labels, np.full(len(faces), label)])
        return compact(np.vstack(self.vertices), whole), labels

    def _chains(self, target: _Target) -> list[Chain]:
        """The loops that bound a round surface, with new vertices where lines cross them."""
        inside = self.survey.labels == target.label
        loops = boundary_loops(self.moved, inside, self.twin)
        circles = [loop for loop in loops if self._is_end_circle(loop)]
        others = [loop for loop in loops if not self._is_end_circle(loop)]
        angles = _angles(self.moved.vertices, np.array(target.surface.offset))
        lines = place_lines(target.surface, [angles[loop.vertices] for loop in others])
        if target.label == BORE:
            self.generators = lines
        turned = np.sort(lines * target.turn)
        chains = [self._circle(target, loop, turned) for loop in circles]
        return chains + [
            self._crossed(target, loop, angles * target.turn, turned) for loop in others
        ]

    def _strips(
        self, target: _Target, chains: list[Chain], taken: set[tuple[int, int]]
    ) -> list[tuple[int, int, int]]:
        """The triangles of a round surface between its loops."""
        now = np.vstack(self.vertices)
        unrolled = _angles(now, np.array(target.surface.offset)) * target.turn
        radius = target.surface.radius_at((target.surface.start + target.surface.stop) / 2.0)
        return strip_faces(chains, unrolled, now[:, 2], radius, taken)

    def _is_end_circle(self, loop: Loop) -> bool:
        """Does the surface meet one flat end all along this loop?"""
        beyond = np.unique(self.survey.labels[self.twin[loop.half_edges] // 3])
        return len(beyond) == 1 and beyond[0] in (LOW_END, HIGH_END)

    def _circle(self, target: _Target, loop: Loop, turned: FloatArray) -> Chain:
        """A circle between surface and end, made anew with a vertex on each line."""
        station = float(self.moved.vertices[loop.vertices[0], 2])
        forward = loop.turns * target.turn > 0
        order = np.arange(len(turned)) if forward else np.arange(len(turned))[::-1]
        points = _on_surface(target, turned[order], np.full(len(turned), station))
        numbers = self._add(points)
        backward = self.twin[loop.half_edges]
        self.circles[int(backward.min())] = numbers[::-1]
        return Chain(numbers, None, order.tolist())

    def _crossed(
        self, target: _Target, loop: Loop, angles: FloatArray, turned: FloatArray
    ) -> Chain:
        """A loop with a new vertex wherever it crosses a line."""
        chain = Chain([], [])
        stations = self.moved.vertices[:, 2]
        for half_edge, start, end in zip(
            loop.half_edges.tolist(),
            loop.vertices.tolist(),
            np.roll(loop.vertices, -1).tolist(),
            strict=True,
        ):
            chain.vertices.append(start)
            chain.lines.append(-1)
            passed, shares = _lines_between(angles[start], angles[end], turned)
            if not len(passed):
                continue
            heights = stations[start] + shares * (stations[end] - stations[start])
            numbers = self._add(_on_surface(target, turned[passed], heights))
            chain.vertices.extend(numbers)
            chain.lines.extend(passed.tolist())
            self.on_edge[half_edge] = numbers
            self.on_edge[int(self.twin[half_edge])] = numbers[::-1]
        return chain

    def _add(self, points: FloatArray) -> list[int]:
        numbers = list(range(self.count, self.count + len(points)))
        self.vertices.append(points)
        self.count += len(points)
        return numbers

    def _outline(self, loop: Loop) -> list[int]:
        """The vertices of a loop of an end, with what its neighbours put on it."""
        if int(loop.half_edges.min()) in self.circles:
            return self.circles[int(loop.half_edges.min())]
        corners = self.triangles.ravel()
        outline: list[int] = []
        for half_edge in loop.half_edges.tolist():
            outline.append(int(corners[half_edge]))
            outline.extend(self.on_edge.get(half_edge, []))
        return outline

    def _end(self, label: int) -> list[tuple[int, int, int]]:
        """The flat end between its loops: a ring where it is one, else any polygon."""
        inside = self.survey.labels == label
        if not inside.any():
            return []
        loops = boundary_loops(self.moved, inside, self.twin)
        outlines = [np.array(self._outline(loop)) for loop in loops]
        points = np.vstack(self.vertices)[:, :2].copy()
        if label == LOW_END:
            points[:, 0] *= -1.0
        areas = [signed_area(points[outline]) for outline in outlines]
        outers = [k for k, area in enumerate(areas) if area > 0.0]
        faces: list[tuple[int, int, int]] = []
        for outer in outers:
            holes = [
                outlines[k]
                for k, area in enumerate(areas)
                if area <= 0.0 and _holds(points[outlines[outer]], points[outlines[k][0]])
            ]
            faces += _fill_end(points, outlines[outer], holes)
        return faces

    def _kept(self, kept: IntArray) -> tuple[IntArray, IntArray]:
        """Kept triangles; those with new vertices on their edges are divided."""
        touched = np.unique(np.array([half_edge // 3 for half_edge in self.on_edge], np.int64))
        divided = kept[np.isin(kept, touched)]
        whole = kept[~np.isin(kept, touched)]
        faces = [self.triangles[whole]]
        labels = [self.survey.labels[whole]]
        for triangle in divided.tolist():
            parts = self._divide(triangle)
            faces.append(np.array(parts))
            labels.append(np.full(len(parts), self.survey.labels[triangle]))
        return np.vstack(faces), np.concatenate(labels)

    def _divide(self, triangle: int) -> list[tuple[int, int, int]]:
        """A triangle with vertices on its edges, as triangles.

        It is laid out as a flat triangle whose edges bulge a little, so that it is
        convex and no three of its vertices lie in line.
        """
        corners = 100.0 * np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
        outward = np.array([[0.0, -1.0], [1.0, 1.0], [-1.0, 0.0]])
        numbers: list[int] = []
        layout: list[FloatArray] = []
        for k in range(3):
            new = self.on_edge.get(3 * triangle + k, [])
            numbers += [int(self.triangles[triangle, k]), *new]
            shares = np.arange(len(new) + 1)[:, None] / (len(new) + 1)
            line = corners[k] + shares * (corners[(k + 1) % 3] - corners[k])
            layout.append(line + 10.0 * shares * (1.0 - shares) * outward[k])
        return [(numbers[a], numbers[b], numbers[c]) for a, b, c in clip_ears(np.vstack(layout))]


def _edges(triangles: IntArray) -> set[tuple[int, int]]:
    """The edges of triangles as pairs of vertices, lower number first."""
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    pairs = np.column_stack([np.minimum(start, end), np.maximum(start, end)])
    return set(map(tuple, pairs.tolist()))


def _angles(vertices: FloatArray, centre: FloatArray) -> FloatArray:
    angles: FloatArray = np.arctan2(vertices[:, 1] - centre[1], vertices[:, 0] - centre[0])
    return angles


def _on_surface(target: _Target, turned: FloatArray, stations: FloatArray) -> FloatArray:
    """(n, 3) points of a surface at unrolled angles and stations."""
    radii = target.surface.radii_at(stations)
    angles = turned * target.turn
    x, y = target.surface.offset
    return np.column_stack([x + radii * np.cos(angles), y + radii * np.sin(angles), stations])


def _lines_between(start: float, end: float, turned: FloatArray) -> tuple[IntArray, FloatArray]:
    """Lines that an edge crosses on its short way round, in order, and at which share of it."""
    step = float(np.angle(np.exp(1j * (end - start))))
    ahead = np.mod((turned - start) * (1.0 if step > 0.0 else -1.0), 2.0 * math.pi)
    passed = np.flatnonzero(ahead < abs(step))
    passed = passed[np.argsort(ahead[passed])]
    return passed, ahead[passed] / max(abs(step), 1e-300)


def _holds(outline: FloatArray, point: FloatArray) -> bool:
    """Is the point inside the outline? By the crossings of a ray to the right."""
    a, b = outline, np.roll(outline, -1, axis=0)
    straddles = (a[:, 1] > point[1]) != (b[:, 1] > point[1])
    a, b = a[straddles], b[straddles]
    reach = a[:, 0] + (point[1] - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
    return bool((reach > point[0]).sum() % 2)


def _fill_end(
    points: FloatArray, outer: IntArray, holes: list[IntArray]
) -> list[tuple[int, int, int]]:
    """A ring about the axis is stitched by angle; any other shape is clipped into ears."""
    if len(holes) == 1:
        inner = holes[0][::-1]
        chains = [np.arctan2(points[chain][:, 1], points[chain][:, 0]) for chain in (outer, inner)]
        if all(_runs_once_around(chain) for chain in chains):
            numbers = np.concatenate([outer, inner])
            return [
                (int(numbers[a]), int(numbers[b]), int(numbers[c]))
                for a, b, c in stitch(*chains, closed=True)
            ]
    return fill_polygon(points, outer, holes)


def _runs_once_around(angles: FloatArray) -> bool:
    """Do the angles grow all the way, once around?"""
    steps = np.angle(np.exp(1j * np.diff(angles, append=angles[0])))
    return bool((steps > 0.0).all()) and abs(float(steps.sum()) - 2.0 * math.pi) < 1e-6
