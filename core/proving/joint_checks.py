"""What each joint promises, measured on its two finished pieces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.mesh_checks import triangle_normals
from ..values import (
    AXIAL_GAP,
    CHORD_TOLERANCE,
    Check,
    FloatArray,
    Joint,
    Mesh,
    Settings,
    Survey,
)
from .joint_slices import (
    CONTACT,
    RAYS,
    JointSlices,
    flat_levels,
    radii_at,
    spread_parallel,
    turn_collisions,
)
from .piece_checks import facet_depth
from .section import any_corner
from .verdicts import at_least, at_most, between, greatest, least

MOST_OVERLAP = 0.01
"""Volume, mm3, that two pieces may share."""

MOST_PLAY_DEG = 1.5
AFTER_PLAY_DEG = 0.5
PLAY_SOUGHT_DEG = 5.0
COLLISION_DEPTH = 0.05
"""Radial depth, mm, at which surfaces stop a turn: less gives way in a print."""

TOUCH_DEPTH = 1e-3
"""Radial depth, mm, at which surfaces touch: above the rounding of float32."""

TURNED_SLICES = 3
FINE_RAYS = 14400
"""Rays, 0.025 degrees apart, by which the play is found."""

STEEPEST_DEG = 45.0
FACET_SLOPE_DEG = 0.5
"""What facets may add to a 45 degree cone: a facet whose one edge is a chord of 0.005
sagitta leans over by atan(1 + 0.005 / width) - 45, which is 0.2 at the least width of a
roof, 0.8; the rest is for the rounding of narrow facets to float32."""

NARROWEST_FACET = 1e-3
"""Facets narrower than this, mm, are passed over: rounding turns them, none prints."""

_SHOULDER_REACH = 0.5
"""How far from the seam, mm, a level face may be its shoulder: less than a ring keeps off."""


@dataclass(frozen=True, slots=True, eq=False)
class FinishedJoint:
    """A joint as made: the two pieces in the part frame, and their slices."""

    number: int
    joint: Joint
    lower: Mesh
    upper: Mesh
    slices: JointSlices

    @property
    def mouth(self) -> float:
        """Station, mm, of the upper piece's lowest point."""
        return float(self.upper.vertices[:, 2].min())

    @property
    def gap_volume(self) -> float:
        """Volume, mm3, between tenon and socket."""
        return float(self.slices.gap @ self.slices.weights)


def joint_checks(made: FinishedJoint, survey: Survey, settings: Settings) -> list[Check]:
    """Every promise of one joint."""
    return [
        *fit_checks(made, settings),
        *wall_checks(made, settings),
        *seat_checks(made),
        *seam_checks(made),
        *roof_checks(made, survey, settings),
    ]


def fit_checks(made: FinishedJoint, settings: Settings) -> list[Check]:
    """Overlap with the neighbour; clearance on parallel faces, on the key, on the cones.

    The greatest clearance may in any case be larger by the facets of both pieces.
    """
    slices, asked, number = made.slices, settings.clearance, made.number
    tolerance = min(0.03, 0.25 * asked)
    low = asked - tolerance
    high = asked + max(tolerance, 2.0 * CHORD_TOLERANCE + CONTACT)
    gap = np.where(slices.tenon > 0.0, slices.socket - slices.tenon, np.inf)
    plain = slices.parallel[:, None] & slices.off_key
    keyed = slices.key_parallel[:, None] & ~slices.off_key
    cones = slices.cone[:, None] & slices.off_key
    overlap = float(slices.overlap @ slices.weights)
    return [
        at_most("overlap", overlap, MOST_OVERLAP, joint=number),
        between("least_clearance", least(gap[plain]), low, high, joint=number),
        between("greatest_clearance", greatest(gap[plain]), low, high, joint=number),
        at_least("key_clearance", least(gap[keyed]), low, joint=number),
        at_least(
            "cone_clearance", least(gap[cones]), min(low, AXIAL_GAP - tolerance), joint=number
        ),
    ]


def wall_checks(made: FinishedJoint, settings: Settings) -> list[Check]:
    """Least radial thickness of tenon and socket; rib, groove and lug counted.

    Bevels are left out: of the tenon the stretch of its 45 degree tip, of the socket
    the relief at its mouth. The roof's cone counts: the wall only grows there.
    """
    slices = made.slices
    below_tip = slices.stations < made.joint.tip_height_at(made.joint.tenon_radius)
    tenon = _walls(slices.tenon_wall[below_tip & (slices.stations > made.joint.station)])
    socket = _walls(slices.socket_wall[slices.beyond_relief])
    return [
        at_least("tenon_wall", least(tenon), settings.least_wall, joint=made.number),
        at_least("socket_wall", least(socket), settings.least_wall, joint=made.number),
    ]


def _walls(thinnest: FloatArray) -> FloatArray:
    """Thickness that two neighbouring rays agree on.

    A single ray may run along a key's radial flank and, by rounding, in and out of it.
    """
    agreed: FloatArray = np.maximum(thinnest, np.roll(thinnest, 1, axis=1))
    return agreed


def seat_checks(made: FinishedJoint) -> list[Check]:
    """One seat only: the play each way, and the turns beyond it that nothing stops.

    Every slice is turned against itself, so only what meets at one height collides.
    """
    slices = made.slices
    chosen = spread_parallel(slices, TURNED_SLICES)
    turns = np.arange(RAYS)
    hits = turn_collisions(slices.tenon[chosen], slices.socket[chosen], turns, COLLISION_DEPTH)
    step = 360.0 / RAYS
    plays = _plays_deg(made, slices.stations[chosen])
    turns_deg = turns * step
    beyond = (turns_deg > plays[0] + AFTER_PLAY_DEG) & (
        360.0 - turns_deg > plays[1] + AFTER_PLAY_DEG
    )
    return [
        at_most("one_seat_play", max(plays), MOST_PLAY_DEG, joint=made.number),
        at_most("one_seat_free_turns", float((beyond & ~hits).sum()), 0.0, joint=made.number),
    ]


def _plays_deg(made: FinishedJoint, stations: FloatArray) -> tuple[float, float]:
    """First turn each way at which tenon and socket touch, in fine steps.

    It is over-read by at most two steps, never under-read. Without a touch up to
    `PLAY_SOUGHT_DEG` it is infinite.
    """
    step = 360.0 / FINE_RAYS
    tenon, socket = radii_at(made.lower, made.upper, stations, FINE_RAYS)
    turns = np.arange(int(PLAY_SOUGHT_DEG / step) + 1)
    ways = [turn_collisions(tenon, socket, way * turns, TOUCH_DEPTH) for way in (1, -1)]
    first, second = (float(np.argmax(hits)) * step if hits.any() else np.inf for hits in ways)
    return first, second


def seam_checks(made: FinishedJoint) -> list[Check]:
    """The outer shoulders meet, and meet at the station planned."""
    joint = made.joint
    reach = joint.socket_radius + joint.key.relief
    shoulder = _shoulder_levels(made.lower, joint.station, reach, 1)
    mouth = _shoulder_levels(made.upper, joint.station, reach, -1)
    found = bool(shoulder.size and mouth.size)
    levels = np.concatenate([shoulder, mouth])
    apart = np.ptp(levels) if found else np.nan
    off = np.abs(levels - joint.station).max() if found else np.nan
    return [
        at_most("shoulders_meet", apart, CONTACT, joint=made.number),
        at_most("seam_at_station", off, CONTACT, joint=made.number),
    ]


def _shoulder_levels(mesh: Mesh, station: float, reach: float, facing: int) -> FloatArray:
    """Stations of flat faces near the seam that reach out beyond the socket."""
    radii = np.hypot(mesh.vertices[:, 0], mesh.vertices[:, 1])
    outer = Mesh(mesh.vertices, mesh.triangles[any_corner(radii > reach, mesh.triangles)])
    levels = flat_levels(outer, station - _SHOULDER_REACH, station + _SHOULDER_REACH, facing)
    near: FloatArray = levels[np.abs(levels - station) <= _SHOULDER_REACH]
    return near


def roof_checks(made: FinishedJoint, survey: Survey, settings: Settings) -> list[Check]:
    """Our faces print unsupported; the groove in the bore; the holes' guard.

    The groove is the gap and the land, along a bore that may taper. A roof leans over
    by as much as the bore it ends in is rough.
    """
    joint, number = made.joint, made.number
    reach = joint.socket_radius + joint.key.relief + settings.least_wall / 2.0
    top = joint.roof_top + min(settings.guard, 1.0) / 2.0
    roof_angles, roof_corners = _overhangs(made.upper, made.mouth, top, reach)
    tenon_angles, _ = _overhangs(made.lower, joint.station + CONTACT, top, reach)
    flattest = max(roof_angles.max(initial=0.0), tenon_angles.max(initial=0.0))
    roof_top = greatest(roof_corners[roof_angles > STEEPEST_DEG / 2.0])
    facets = facet_depth(survey, settings, [(joint.station, joint.roof_top)])
    groove = roof_top - float(made.lower.vertices[:, 2].max())
    width = joint.socket_radius - survey.bore.radius_at(joint.roof_top)
    lean = np.degrees(np.arctan2(width + facets, width)) - 45.0
    due = (AXIAL_GAP + joint.land) / (1.0 + survey.bore.slope) + 2.0 * facets
    return [
        at_most(
            "self_supporting", flattest, STEEPEST_DEG + max(FACET_SLOPE_DEG, lean), joint=number
        ),
        between("bore_groove", groove, 0.0, due, joint=number),
        *_guard_check(made, survey, settings.guard - 2.0 * facets, roof_top),
    ]


def _overhangs(mesh: Mesh, low: float, high: float, reach: float) -> tuple[FloatArray, FloatArray]:
    """Downward faces in a zone, within reach of the axis, that could want support.

    Faces on the zone's floor lie on the bed or the shoulder; faces at the piece's very
    top have nothing of it above them.

    Returns
    -------
    (k,) degrees from vertical, and (k, 3) the stations of their corners
    """
    radii = np.hypot(mesh.vertices[:, 0], mesh.vertices[:, 1])
    heights = mesh.vertices[:, 2]
    zoned = (heights >= low) & (heights <= high)
    ours = any_corner(zoned, mesh.triangles) & any_corner(radii < reach, mesh.triangles)
    for off in (heights > low + NARROWEST_FACET, heights < heights.max() - NARROWEST_FACET):
        ours &= any_corner(off, mesh.triangles)
    near = Mesh(mesh.vertices, mesh.triangles[ours])
    normals, areas = triangle_normals(near)
    corners = near.vertices[near.triangles]
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    kept = (normals[:, 2] < 0.0) & (2.0 * areas > NARROWEST_FACET * sides)
    angles: FloatArray = np.degrees(np.arcsin(np.minimum(-normals[kept, 2], 1.0)))
    return angles, corners[kept, :, 2]


def _guard_check(made: FinishedJoint, survey: Survey, guard: float, roof_top: float) -> list[Check]:
    """Axial distance from the zone as built to the nearest edge of a side hole."""
    distances = [max(hole.low - roof_top, made.mouth - hole.high) for hole in survey.side_holes]
    return [at_least("hole_guard", min(distances), guard, joint=made.number)] if distances else []
