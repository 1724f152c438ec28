"""The part with its triangles divided where joints cut it; those away from joints untouched.

A joint cuts its bores at other stations than the rest of the part, so each triangle
near it is told apart first: which of the joint's bores it lines, or none of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..meshes.cut_edges import cut_at_stations, height_spans
from ..values import (
    BORE,
    BoolArray,
    FloatArray,
    IntArray,
    Joint,
    Survey,
    Tenon,
    TruedPart,
    read_only,
)
from .collar_design import flat_cuts
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


def bore_levels(tenon: Tenon) -> tuple[float, float]:
    """Up to which station the lower piece keeps the bores' wall, and from which the upper.

    Around two bores the wall between is made anew, up to the web's ridge.
    """
    if len(tenon.bores) > 1:
        return tenon.station, tenon.roof_top + _OVER_RIDGE
    return tenon.tip, tenon.roof_top


def side_levels(joint: Joint) -> tuple[float, float]:
    """The same of all that is no bore of a tenon: the seam, or beyond a collar's notches."""
    if joint.collar is not None:
        return flat_cuts(joint.collar, joint.station)
    return joint.station, joint.station


def joint_bounds(joint: Joint) -> tuple[float, float]:
    """The lowest and the highest station at which a joint cuts anything."""
    low, high = side_levels(joint)
    return low, max((bore_levels(tenon)[1] for tenon in joint.tenons), default=high)


def _bore_tenons(joint: Joint) -> list[Tenon]:
    """The tenon around each of a joint's bores."""
    return [tenon for tenon in joint.tenons for _ in tenon.bores]


def tenon_u(tenon: Tenon, points_xy: FloatArray) -> FloatArray:
    """(n,) the hull parameter of points, mm."""
    radii = tenon.bore_radius_at_tip + np.array(tenon.swells)
    return hull_parameter(points_xy, np.array(tenon.centres), radii)


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
        inner = self.bores[joint.bores]
        limits = np.full(len(inner), side_levels(joint)[upper])
        for place, tenon in enumerate(_bore_tenons(joint)):
            limits[inner == place] = bore_levels(tenon)[upper]
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
        bottom, top = joint_bounds(joint)
        near |= (low < top + CLEAR) & (high > bottom - CLEAR)
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
            for tenon in joint.tenons:
                if tenon.bores:
                    self._tell_unknown(joint, tenon, ~is_bore)

    def _tell_unknown(self, joint: Joint, tenon: Tenon, is_unknown: BoolArray) -> None:
        """Which of a tenon's bores the triangles of no known bore line, by where they are."""
        unknown = np.flatnonzero(is_unknown & self._may_reach(tenon))
        middle = (tenon.station + bore_levels(tenon)[1]) / 2.0
        points = _points_at(self.vertices[self.triangles[unknown]], middle)
        gaps = np.linalg.norm(points[:, None] - np.array(tenon.centres)[None], axis=2)
        nearest = (gaps - np.array(tenon.swells)).argmin(axis=1)
        within = tenon_u(tenon, points) < tenon.tenon_radius
        first = joint.bores.index(tenon.bores[0])
        self.bores[joint.bores][unknown[within]] = first + nearest[within]

    def _may_reach(self, tenon: Tenon) -> BoolArray:
        """(t,) triangles in a tenon's zone of which a point could be within mid wall.

        From a corner u changes by no more than the way to the point.
        """
        low, high = height_spans(self.vertices, self.triangles)
        there = (low < bore_levels(tenon)[1]) & (high > tenon.station)
        a, b, c = self.triangles.T
        x, y = np.ascontiguousarray(self.vertices[:, :2].T)
        far = np.maximum(*(np.hypot(x[k] - x[a], y[k] - y[a]) for k in (b, c)))
        there &= tenon_u(tenon, self.vertices[:, :2])[a] - far < tenon.tenon_radius
        return there

    def cut_joints(self, joints: list[Joint]) -> None:
        """Divide all that joints about the same bores cut, at stations."""
        bores = joints[0].bores
        for place in range(len(bores)):
            levels = [
                level for joint in joints for level in bore_levels(_bore_tenons(joint)[place])
            ]
            self._cut_side(levels, self.bores[bores] == place)
        beside = {level for joint in joints for level in side_levels(joint)}
        self._cut_side(list(beside), self.bores[bores] < 0)

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

    def _take(self, vertices: FloatArray, triangles: IntArray, origin: IntArray) -> None:
        self.vertices, self.triangles = vertices, triangles
        self.bores = {bores: inner[origin] for bores, inner in self.bores.items()}


def _places_in_joint(survey: Survey, joint: Joint) -> IntArray:
    """For each bore's stretch of a survey: which of a joint's bores it belongs to, -1 none."""
    if not joint.bores:
        return np.full(max(1, len(survey.bores)), -1)
    offsets = np.array([bore.offset for bore in survey.bores])
    centres = np.array([centre for tenon in joint.tenons for centre in tenon.centres])
    apart = np.linalg.norm(offsets[:, None] - centres[None], axis=2)
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
