"""The part with its triangles divided where joints cut it; those away from joints untouched.

A joint cuts its bores at other stations than the rest of the part, so each triangle
near it is told apart first: which of the joint's bores it lines, or none of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..meshes.cut_edges import cut_along, cut_at_stations, height_spans
from ..values import (
    BORE,
    BoolArray,
    FloatArray,
    IntArray,
    Joint,
    Survey,
    TruedPart,
    read_only,
)
from .hull import hull_parameter

CLEAR = 0.002
"""A vertex nearer than this to a cut, mm, is moved along the wall that far off it.

Cuts then pass through no vertex, and cross no edge closer to a vertex than a
file's float32 can tell.
"""

_OVER_RIDGE = 0.05
"""How far over the roof's ridge, mm, two bores are cut."""

_SAME = 1e-6
"""Centre lines nearer than this, mm, are one bore's."""


def bore_levels(joint: Joint) -> tuple[float, float]:
    """Up to which station the lower piece keeps the bores' wall, and from which the upper.

    Around two bores the wall between is made anew, up to the web's ridge.
    """
    if len(joint.bores) > 1:
        return joint.station, joint.roof_top + _OVER_RIDGE
    return joint.tip, joint.roof_top


def joint_u(joint: Joint, points_xy: FloatArray) -> FloatArray:
    """(n,) the hull parameter of points, mm."""
    radii = joint.bore_radius_at_tip + np.array(joint.swells)
    return hull_parameter(points_xy, np.array(joint.centres), radii)


@dataclass(frozen=True, slots=True, eq=False)
class CutPart:
    """The part as joints divide it.

    source : (n, 3) the part's vertices, those too near to a cut moved off it
    away : (k, 3) the part's triangles that no joint comes near to, as they were
    away_at : (k,) a station of each of them
    home : (h,) the part's numbers of the first `h` of `vertices`
    vertices : (v, 3) of all that is near joints; the others are new
    triangles : (t, 3) those near joints, divided
    bores : for the bores of a joint (t,), which of them each triangle lines, -1 none
    """

    source: FloatArray
    away: IntArray
    away_at: FloatArray
    home: IntArray
    vertices: FloatArray
    triangles: IntArray
    bores: dict[tuple[int, ...], IntArray]

    def __post_init__(self) -> None:
        for array in (self.source, self.away, self.away_at, self.home, self.vertices):
            read_only(array)
        read_only(self.triangles)

    def kept(self, below: Joint | None, above: Joint | None) -> BoolArray:
        """(t,) triangles near joints that the piece between two joints keeps."""
        stations = np.ascontiguousarray(self.vertices[:, 2])
        middles = sum(stations[self.triangles[:, k]] for k in range(3)) / 3.0
        kept = np.ones(len(self.triangles), bool)
        if below is not None:
            kept &= middles > self._limits(below, upper=True)
        if above is not None:
            kept &= middles < self._limits(above, upper=False)
        return kept

    def _limits(self, joint: Joint, *, upper: bool) -> FloatArray:
        """(t,) stations at which the upper or the lower piece of a joint ends."""
        inner = self.bores[joint.bores] >= 0
        limits = np.where(inner, bore_levels(joint)[upper], joint.station)
        if joint.key.kind == "notch":
            half = joint.key.half_width - (joint.key.side_gap if upper else 0.0)
            lining = np.flatnonzero(inner)
            middles = self.vertices[self.triangles[lining], :2].mean(axis=1)
            x, y = (middles - np.array(joint.centres[0])).T
            turn = np.angle(np.exp(1j * (np.arctan2(y, x) - joint.key.angle)))
            limits[lining[np.abs(turn) < half]] = joint.station
        return limits

    def kept_away(self, below: Joint | None, above: Joint | None) -> IntArray:
        """(k, 3) triangles away from joints that lie between two joints."""
        low = -math.inf if below is None else below.station
        high = math.inf if above is None else above.station
        between: IntArray = self.away[(self.away_at > low) & (self.away_at < high)]
        return between


def cut_part(survey: Survey, trued: TruedPart, joints: tuple[Joint, ...]) -> CutPart:
    """The part divided where all joints cut it."""
    triangles = trued.mesh.triangles
    low, high = height_spans(trued.mesh.vertices, triangles)
    near = np.zeros(len(triangles), bool)
    for joint in joints:
        near |= (low < bore_levels(joint)[1] + CLEAR) & (high > joint.station - CLEAR)
    chosen = triangles[near]
    used = np.zeros(len(trued.mesh.vertices), bool)
    used[chosen] = True
    home = np.flatnonzero(used)
    number = np.cumsum(used) - 1
    divider = _Divider(trued.mesh.vertices[home], number[chosen])
    divider.tell_bores(survey, joints, trued.labels[near] == BORE, trued.numbers[near])
    for bores in divider.bores:
        divider.cut_joints([joint for joint in joints if joint.bores == bores])
    source = trued.mesh.vertices.copy()
    source[home] = divider.vertices[: len(home)]
    return CutPart(
        source=source,
        away=triangles[~near],
        away_at=low[~near],
        home=home,
        vertices=divider.vertices,
        triangles=divider.triangles,
        bores=divider.bores,
    )


class _Divider:
    """The triangles near joints as they are being divided."""

    def __init__(self, vertices: FloatArray, triangles: IntArray) -> None:
        self.vertices = vertices
        self.triangles = triangles
        self.bores: dict[tuple[int, ...], IntArray] = {}

    def tell_bores(
        self, survey: Survey, joints: tuple[Joint, ...], is_bore: BoolArray, numbers: IntArray
    ) -> None:
        """Which bore of a joint each triangle lines: by its label, else by where it is."""
        for joint in joints:
            if joint.bores not in self.bores:
                places = _places_in_joint(survey, joint)
                told = np.where(is_bore, places[np.where(is_bore, numbers, 0)], -1)
                self.bores[joint.bores] = told
            unknown = np.flatnonzero(~is_bore & self._may_reach(joint))
            middle = (joint.station + bore_levels(joint)[1]) / 2.0
            points = _points_at(self.vertices[self.triangles[unknown]], middle)
            gaps = np.linalg.norm(points[:, None] - np.array(joint.centres)[None], axis=2)
            nearest = (gaps - np.array(joint.swells)).argmin(axis=1)
            within = joint_u(joint, points) < joint.tenon_radius
            self.bores[joint.bores][unknown] = np.where(within, nearest, -1)

    def _may_reach(self, joint: Joint) -> BoolArray:
        """(t,) triangles in a joint's zone of which a point could be within mid wall.

        From a corner u changes by no more than the way to the point.
        """
        low, high = height_spans(self.vertices, self.triangles)
        there = (low < bore_levels(joint)[1]) & (high > joint.station)
        a, b, c = self.triangles.T
        x, y = np.ascontiguousarray(self.vertices[:, :2].T)
        far = np.maximum(*(np.hypot(x[k] - x[a], y[k] - y[a]) for k in (b, c)))
        there &= joint_u(joint, self.vertices[:, :2])[a] - far < joint.tenon_radius
        return there

    def cut_joints(self, joints: list[Joint]) -> None:
        """Divide all that joints about the same bores cut: at stations, then at flanks."""
        bores = joints[0].bores
        notched = [joint for joint in joints if joint.key.kind == "notch"]
        levels = [level for joint in joints for level in bore_levels(joint)]
        levels += [joint.station for joint in notched]
        self._cut_side(levels, self.bores[bores] >= 0)
        self._cut_side([joint.station for joint in joints], self.bores[bores] < 0)
        for joint in notched:
            for angle in _flank_angles(joint):
                self._cut_flank(joint, angle)

    def _cut_side(self, levels: list[float], chosen: BoolArray) -> None:
        """Divide the chosen triangles at stations."""
        stations = np.array(sorted(levels))
        low, high = height_spans(self.vertices, self.triangles)
        for station in stations:
            crossing = chosen & (low < station + CLEAR) & (high > station - CLEAR)
            corners = self.triangles[crossing].ravel()
            above = self.vertices[corners, 2] - station
            near = np.abs(above) < CLEAR
            self.vertices[corners[near], 2] = station + np.where(above[near] < 0, -CLEAR, CLEAR)
        self._take(*cut_at_stations(self.vertices, self.triangles, stations, chosen))

    def _cut_flank(self, joint: Joint, angle: float) -> None:
        """Divide a joint's bore along a notch's flank, the half-plane at an angle."""
        lining = np.zeros(len(self.vertices), bool)
        lining[self.triangles[self.bores[joint.bores] >= 0]] = True
        stations = self.vertices[:, 2]
        lining &= (stations >= joint.station) & (stations <= joint.roof_top)
        x, y = (self.vertices[:, :2] - np.array(joint.centres[0])).T
        field = y * math.cos(angle) - x * math.sin(angle)
        field = np.where(lining & (np.abs(field) >= CLEAR / 4.0), field, 0.0)
        in_front = x * math.cos(angle) + y * math.sin(angle)
        self._take(*cut_along(self.vertices, self.triangles, field, in_front))

    def _take(self, vertices: FloatArray, triangles: IntArray, origin: IntArray) -> None:
        self.vertices, self.triangles = vertices, triangles
        self.bores = {bores: inner[origin] for bores, inner in self.bores.items()}


def _places_in_joint(survey: Survey, joint: Joint) -> IntArray:
    """For each bore's stretch of a survey: which of a joint's bores it belongs to, -1 none."""
    offsets = np.array([bore.offset for bore in survey.bores])
    apart = np.linalg.norm(offsets[:, None] - np.array(joint.centres)[None], axis=2)
    return np.where(apart.min(axis=1) < _SAME, apart.argmin(axis=1), -1)


def _points_at(corners: FloatArray, station: float) -> FloatArray:
    """(m, 2) a point of each triangle, (m, 3, 3), at a station or as near to it as it comes."""
    heights = corners[:, :, 2]
    level = np.clip(station, heights.min(axis=1), heights.max(axis=1))[:, None]
    above, ahead = heights - level, np.roll(heights, -1, axis=1) - level
    met = (above * ahead <= 0.0) & (above != ahead)
    share = np.where(met, above / np.where(met, above - ahead, 1.0), 0.0)[:, :, None]
    flat = ~met.any(axis=1)
    weight = np.where(flat[:, None], 1.0, met)[:, :, None]
    onward = np.roll(corners, -1, axis=1) - corners
    points: FloatArray = (((corners + share * onward) * weight).sum(axis=1) / weight.sum(axis=1))[
        :, :2
    ]
    return points


def _flank_angles(joint: Joint) -> tuple[float, ...]:
    """The angles at which a notch and its lug end."""
    outer, lug = joint.key.half_width, joint.key.half_width - joint.key.side_gap
    return tuple(joint.key.angle + offset for offset in (-outer, -lug, lug, outer))
