"""Cutting the trued part along stepped surfaces, and closing each piece with its joints.

A joint cuts the outside at its seam and the bore at the tenon's tip and at the
socket's roof. No surface of the part lies between them (the plan saw to that), so
every triangle is cut by known planes only, each edge cut gives one vertex that its
two triangles share, and the new faces run from loop to loop: the pieces are closed
because the part is. Triangles away from joints stay as they were.
"""

from __future__ import annotations

import math

import numpy as np

from ..errors import CrowdedZone
from ..meshes.cut_edges import cut_along, cut_at_stations
from ..meshes.mesh_checks import compact
from ..meshes.polygon import signed_area
from ..values import (
    BoolArray,
    FloatArray,
    IntArray,
    Joint,
    Mesh,
    Piece,
    Plan,
    Settings,
    Survey,
    TruedPart,
)
from .joint_faces import FaceBuilder, OpenEnd, add_socket, add_tenon
from .pose import stand_on_bed

_CLEAR = 0.002
"""A vertex nearer than this to a cut, mm, is moved along the wall that far off it.

Cuts then pass through no vertex, and cross no edge closer to a vertex than a
file's float32 can tell.
"""


def build_pieces(
    survey: Survey, trued: TruedPart, plan: Plan, settings: Settings, name: str
) -> tuple[Piece, ...]:
    """The finished pieces, each standing as it prints, from the low end up.

    Raises
    ------
    CrowdedZone : something besides bore and outside lies where a joint has to go
    TooWide : a piece does not fit the envelope's floor
    """
    cutter = _Cutter(survey, trued, plan.joints)
    count = len(plan.joints) + 1
    pieces = []
    for number in range(count):
        below = plan.joints[number - 1] if number > 0 else None
        above = plan.joints[number] if number < count - 1 else None
        mesh = cutter.piece(below, above, settings.least_wall)
        label = f"{name}-{number + 1:02d}"
        pieces.append(stand_on_bed(label, mesh, survey.frame, settings.envelope, below, above))
    return tuple(pieces)


class _Cutter:
    """The part with its triangles divided along every joint's cuts."""

    def __init__(self, survey: Survey, trued: TruedPart, joints: tuple[Joint, ...]) -> None:
        self.survey = survey
        self.generators = trued.generators[0]
        self.joints = joints
        self.vertices = trued.mesh.vertices.copy()
        self.triangles = trued.mesh.triangles
        self.inner = self._inner_side()
        self._cut()
        self.middles = self.vertices[self.triangles].mean(axis=1)

    def _inner_side(self) -> BoolArray:
        """(m,) triangles on the bore's side of mid wall; told by all their corners."""
        stations = self.vertices[:, 2]
        middle = (
            self.survey.bore.radii_at(stations) + self.survey.outside.radii_at(stations)
        ) / 2.0
        excess = np.hypot(self.vertices[:, 0], self.vertices[:, 1]) - middle
        inner: BoolArray = excess[self.triangles].sum(axis=1) < 0.0
        return inner

    def _cut(self) -> None:
        """Divide all that any joint cuts: flanks of notches, then each side's stations."""
        notched = [joint for joint in self.joints if joint.key.kind == "notch"]
        for joint in notched:
            for angle in _flank_angles(joint):
                self._cut_flank(angle)
        inside = [level for joint in self.joints for level in (joint.tip, joint.roof_top)]
        inside += [joint.station for joint in notched]
        self._cut_side(inside, inner=True)
        self._cut_side([joint.station for joint in self.joints], inner=False)

    def _cut_side(self, levels: list[float], *, inner: bool) -> None:
        """Divide one side's triangles at stations."""
        stations = np.array(sorted(levels))
        if not len(stations):
            return
        chosen = self.inner == inner
        low = self.vertices[self.triangles, 2].min(axis=1)
        high = self.vertices[self.triangles, 2].max(axis=1)
        for station in stations:
            crossing = chosen & (low < station + _CLEAR) & (high > station - _CLEAR)
            corners = np.unique(self.triangles[crossing])
            above = self.vertices[corners, 2] - station
            near = np.abs(above) < _CLEAR
            self.vertices[corners[near], 2] = station + np.where(above[near] < 0, -_CLEAR, _CLEAR)
        self._take(*cut_at_stations(self.vertices, self.triangles, stations, chosen))

    def _cut_flank(self, angle: float) -> None:
        """Divide every triangle that crosses the half-plane from the axis at an angle."""
        x, y = self.vertices[:, 0], self.vertices[:, 1]
        field = y * math.cos(angle) - x * math.sin(angle)
        field = np.where(np.abs(field) < _CLEAR / 4.0, 0.0, field)
        in_front = x * math.cos(angle) + y * math.sin(angle)
        self._take(*cut_along(self.vertices, self.triangles, field, in_front))

    def _take(self, vertices: FloatArray, triangles: IntArray, origin: IntArray) -> None:
        self.vertices, self.triangles = vertices, triangles
        self.inner = self.inner[origin]

    def piece(self, below: Joint | None, above: Joint | None, least_wall: float) -> Mesh:
        """One piece, closed, in the part frame."""
        kept = np.ones(len(self.triangles), bool)
        if below is not None:
            kept &= self._above(below)
        if above is not None:
            kept &= self._below(above)
        triangles = self.triangles[kept]
        loops = _open_loops(triangles)
        builder = FaceBuilder(self.vertices)
        if above is not None:
            end = self._open_end(loops, above, above.tip, above.key.half_width)
            add_tenon(builder, end, above, self.generators)
        if below is not None:
            narrower = below.key.half_width - below.key.side_gap
            end = self._open_end(loops, below, below.roof_top, narrower)
            add_socket(builder, end, below, self.generators, self.survey.outside, least_wall)
        return compact(builder.vertices, np.vstack([triangles, *builder.faces]))

    def _below(self, joint: Joint) -> BoolArray:
        """(m,) triangles that the lower piece of a joint keeps."""
        stations = self.middles[:, 2]
        limit = np.where(self.inner, joint.tip, joint.station)
        if joint.key.kind == "notch":
            in_notch = self.inner & self._within(joint.key.angle, joint.key.half_width)
            limit = np.where(in_notch, joint.station, limit)
        kept: BoolArray = stations < limit
        return kept

    def _above(self, joint: Joint) -> BoolArray:
        """(m,) triangles that the upper piece of a joint keeps."""
        stations = self.middles[:, 2]
        limit = np.where(self.inner, joint.roof_top, joint.station)
        if joint.key.kind == "notch":
            half = joint.key.half_width - joint.key.side_gap
            in_lug = self.inner & self._within(joint.key.angle, half)
            limit = np.where(in_lug, joint.station, limit)
        kept: BoolArray = stations > limit
        return kept

    def _within(self, angle: float, half: float) -> BoolArray:
        """(m,) triangles whose middle lies within an angle of a direction."""
        angles = np.arctan2(self.middles[:, 1], self.middles[:, 0])
        near: BoolArray = np.abs(np.angle(np.exp(1j * (angles - angle)))) < half
        return near

    def _open_end(self, loops: list[IntArray], joint: Joint, level: float, half: float) -> OpenEnd:
        """The loops of a piece at a joint, sorted into outer and inner, by growing angle."""
        zone = [
            loop
            for loop in loops
            if (self.vertices[loop, 2] >= joint.station - 1e-9).all()
            and (self.vertices[loop, 2] <= joint.roof_top + 1e-9).all()
        ]
        if len(zone) != 2:
            raise CrowdedZone(
                f"{len(zone)} outlines where the joint from station {joint.station:.2f} to "
                f"{joint.roof_top:.2f} mm is to go",
                "2: the outside and the bore",
                "a --cut elsewhere; the wall there holds a hollow, a hole or a loose surface",
            )
        zone.sort(key=lambda loop: float(np.hypot(*self.vertices[loop, :2].T).mean()))
        inner, outer = (_counter_clockwise(self.vertices, loop) for loop in zone)
        none = np.empty(0, np.int64)
        if joint.key.kind == "rib":
            return OpenEnd(outer, inner, none, none, none)
        return self._notched_end(outer, inner, joint, level, half)

    def _notched_end(
        self, outer: IntArray, inner: IntArray, joint: Joint, level: float, half: float
    ) -> OpenEnd:
        """The bore's loop about a notch, taken apart at its four corners."""
        start, stop = joint.key.angle + half, joint.key.angle - half
        corners = [
            self._nearest(inner, start, level),
            self._nearest(inner, stop, level),
            self._nearest(inner, stop, joint.station),
            self._nearest(inner, start, joint.station),
        ]
        ring = np.roll(inner, -corners[0])
        a, b, c = (int(np.mod(corner - corners[0], len(ring))) for corner in corners[1:])
        assert 0 < a < b < c, "the loop runs over the tenon, down, through the notch, up"
        closed = np.append(ring, ring[0])
        return OpenEnd(
            outer=outer,
            inner=ring[: a + 1],
            low=ring[b : c + 1],
            rise=closed[c:],
            fall=ring[a : b + 1][::-1],
        )

    def _nearest(self, loop: IntArray, angle: float, station: float) -> int:
        points = self.vertices[loop]
        off = np.angle(np.exp(1j * (np.arctan2(points[:, 1], points[:, 0]) - angle)))
        reach = np.hypot(points[:, 0], points[:, 1])
        return int(np.argmin((reach * off) ** 2 + (points[:, 2] - station) ** 2))


def _flank_angles(joint: Joint) -> tuple[float, ...]:
    """The angles at which a notch and its lug end."""
    outer, lug = joint.key.half_width, joint.key.half_width - joint.key.side_gap
    return tuple(joint.key.angle + offset for offset in (-outer, -lug, lug, outer))


def _open_loops(triangles: IntArray) -> list[IntArray]:
    """Chains of vertices along which the triangles are open."""
    start = triangles.ravel()
    end = np.roll(triangles, -1, axis=1).ravel()
    span = int(max(start.max(), end.max())) + 1
    single = ~np.isin(start * span + end, end * span + start)
    after = dict(zip(start[single].tolist(), end[single].tolist(), strict=True))
    loops = []
    while after:
        first, current = after.popitem()
        loop = [first]
        while current != first:
            loop.append(current)
            current = after.pop(current)
        loops.append(np.array(loop))
    return loops


def _counter_clockwise(vertices: FloatArray, loop: IntArray) -> IntArray:
    return loop if signed_area(vertices[loop, :2]) > 0.0 else loop[::-1]
