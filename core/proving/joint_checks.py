"""What each joint promises, measured on its two finished pieces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..values import (
    AXIAL_GAP,
    CHORD_TOLERANCE,
    BoolArray,
    Check,
    FloatArray,
    IntArray,
    Mesh,
    Settings,
    Survey,
    Tenon,
)
from .arcs import Outlines
from .bore_checks import FoundBore
from .clearances import Facing, measure_clearances
from .groove_checks import groove_checks
from .joint_levels import CONTACT, flat_levels
from .joint_shape import JointShape
from .joint_slices import JointSlices
from .overlaps import RAYS
from .rays import Crossings, cross_rays
from .roofs import roof_checks
from .section import any_corner, band_of
from .shoulder_overlap import shoulder_overlap
from .turning import play_deg, turn_collisions
from .verdicts import at_least, at_most, between, greatest, least
from .walls import least_wall

MOST_OVERLAP = 0.01
"""Volume, mm3, that two pieces may share."""

MOST_PLAY_DEG = 1.5
AFTER_PLAY_DEG = 0.5
COLLISION_DEPTH = 0.05
"""Radial depth, mm, at which surfaces stop a turn: less gives way in a print."""

TURNED_SLICES = 3

_SHOULDER_REACH = 0.5
"""How far from the seam, mm, a level face may be its shoulder: less than a ring keeps off."""


@dataclass(frozen=True, slots=True, eq=False)
class FinishedTenon:
    """A tenon and its socket as made: the two pieces in the part frame, and their slices.

    number : of its joint
    """

    number: int
    shape: JointShape
    lower: Mesh
    upper: Mesh
    slices: JointSlices

    @property
    def tenon(self) -> Tenon:
        """The tenon as designed."""
        return self.shape.tenon

    @property
    def mouth(self) -> float:
        """Station, mm, of the upper piece's lowest point."""
        return float(self.upper.vertices[:, 2].min())

    @property
    def gap_volume(self) -> float:
        """Volume, mm3, between tenon and socket."""
        return float(self.slices.areas.gap @ self.slices.areas.weights)

    def facing_out(self) -> Facing:
        """What of the lower piece's outlines faces the socket: outward, off the bores."""
        lower = self.slices.lower
        facing = ~lower.is_void & (lower.turn > 0.0) & self.off_land(lower) & self._own(lower)
        return self._facing(lower, lower[facing])

    def facing_in(self) -> Facing:
        """What of the upper piece's outlines faces the tenon: the void around the middle."""
        upper = self.slices.upper
        return self._facing(upper, upper[upper.is_void & (upper.windings == -1)])

    def off_land(self, outlines: Outlines) -> BoolArray:
        """(k,) the segments farther from the bores than the middle of the tenon's land."""
        shape, slices = self.shape, self.slices
        limits = shape.bore_radii(slices.stations) + shape.tenon.land / 2.0
        if not shape.bores:
            limits = np.zeros_like(slices.stations)
        off = np.ones(len(outlines), bool)
        for ends in (outlines.starts, outlines.stops):
            off &= shape.parameters(ends + shape.middle) > limits[outlines.level]
        return off

    def _own(self, outlines: Outlines) -> BoolArray:
        """(k,) the segments of this tenon, not of another one of the joint."""
        middles = (outlines.starts + outlines.stops) / 2.0 + self.shape.middle
        own: BoolArray = self.shape.parameters(middles) < self.tenon.reach
        return own

    def _facing(self, piece: Outlines, outlines: Outlines) -> Facing:
        points = np.concatenate([outlines.ends[:2], outlines.ends[2:]], axis=1).T
        stations = np.tile(self.slices.stations[outlines.level], 2)
        off_key = self.shape.off_key(points + self.shape.middle, stations)
        return Facing(outlines, piece, off_key[: len(outlines)], off_key[len(outlines) :])


def tenon_checks(
    made: FinishedTenon,
    bores: tuple[FoundBore, ...],
    survey: Survey,
    settings: Settings,
    *,
    alone: bool,
) -> list[Check]:
    """Every promise of one tenon and its socket.

    alone : the joint has no other; of several the seat is told of all together
    """
    tenon, socket = made.facing_out(), made.facing_in()
    zone = [(made.tenon.station, made.tenon.roof_top)]
    facets = max((bores[k].facet_depth(zone) for k in made.tenon.bores), default=0.0)
    return [
        *fit_checks(made, tenon, socket, settings),
        *wall_checks(made, tenon.outlines, settings),
        *(seat_checks(made, tenon.outlines, socket.outlines) if alone else ()),
        *seam_checks(made),
        *groove_checks(made.shape, made.lower, made.upper, settings, made.number),
        outside_check(made),
        *roof_checks(made.shape, made.lower, made.upper, survey, settings, facets, made.number),
    ]


def fit_checks(
    made: FinishedTenon, tenon: Facing, socket: Facing, settings: Settings
) -> list[Check]:
    """Overlap with the neighbour; clearance on parallel faces, on the key, on the cones.

    The greatest clearance may in any case be larger by the facets of both pieces.
    """
    slices, asked, number = made.slices, settings.made_clearance, made.number
    tolerance = min(0.03, 0.25 * asked)
    low = asked - tolerance
    high = asked + max(tolerance, 2.0 * CHORD_TOLERANCE + CONTACT)
    gaps = measure_clearances(tenon, socket, slices.touched, 1.1 * high)
    plain = gaps.distance[slices.parallel[gaps.level] & gaps.off_key]
    keyed = gaps.distance[slices.key_parallel[gaps.level] & ~gaps.off_key]
    cones = gaps.distance[slices.cone[gaps.level] & gaps.off_key]
    guiding = gaps.distance[slices.guiding[gaps.level] & gaps.off_key]
    widest = np.inf if (gaps.open & slices.parallel).any() else greatest(guiding)
    shared = slices.shared_volume + shoulder_overlap(made.lower, made.upper, made.tenon.station)
    checks = [
        at_most("overlap", shared, MOST_OVERLAP, joint=number),
        between("least_clearance", least(plain), low, high, joint=number),
        between("greatest_clearance", widest, low, high, joint=number),
        at_least("cone_clearance", least(cones), min(low, AXIAL_GAP - tolerance), joint=number),
    ]
    if made.tenon.keys:
        flanks = made.tenon.tenon_radius * min(key.side_gap for key in made.tenon.keys)
        limit = min(low, flanks - tolerance)
        checks.append(at_least("key_clearance", least(keyed), limit, joint=number))
    return checks


def wall_checks(made: FinishedTenon, tenon: Outlines, settings: Settings) -> list[Check]:
    """Least thickness of tenon and socket; ribs and grooves counted.

    Bevels are left out: of the tenon the stretch of its 45 degree tip, of the socket
    the relief at its mouth. The roof's cone counts: the wall only grows there. A web
    between two bores is the part's own.
    """
    slices = made.slices
    lower = slices.lower[slices.on_tenon[slices.lower.level]]
    upper = slices.upper[slices.beyond_relief[slices.upper.level]]
    upper = upper[made.off_land(upper)]  # the roof runs out in the bores, in any roughness
    walls = (
        ("tenon_wall", _tenon_wall(made, lower, tenon)),
        ("socket_wall", least_wall(upper, upper.is_void & (upper.windings == -1))),
    )
    return [
        at_least(name, least(np.array([wall])), settings.least_wall, joint=made.number)
        for name, wall in walls
    ]


def _tenon_wall(made: FinishedTenon, lower: Outlines, tenon: Outlines) -> float:
    """Least thickness of a tenon, mm: of a solid one twice its least radius."""
    if made.shape.bores:
        return least_wall(lower, _off_bores(made, lower))
    own = tenon[made.slices.on_tenon[tenon.level]]
    return 2.0 * float(own.radial_reach()[0].min(initial=np.inf))


def _off_bores(made: FinishedTenon, outlines: Outlines) -> BoolArray:
    """(k,) the segments that are no part of a bore's own wall."""
    shape, stations = made.shape, made.slices.stations[outlines.level]
    off = np.zeros(len(outlines), bool)
    for ends in (outlines.starts, outlines.stops):
        off |= ~shape.on_bores(ends + shape.middle, stations)
    return off


def seat_checks(made: FinishedTenon, tenon: Outlines, socket: Outlines) -> list[Check]:
    """One seat only: the play each way, and the turns beyond it that nothing stops.

    Every slice is turned against itself, so only what meets at one height collides.
    """
    levels = _spread_parallel(made)
    lower, upper = (piece[np.isin(piece.level, levels)] for piece in (tenon, socket))
    plays = play_deg(lower, upper)
    outer = [_rays(lower[lower.level == level]).outermost() for level in levels.tolist()]
    inner = [_rays(upper[upper.level == level]).innermost() for level in levels.tolist()]
    hits = turn_collisions(np.array(outer), np.array(inner), COLLISION_DEPTH)
    turns_deg = np.arange(RAYS) * (360.0 / RAYS)
    beyond = (turns_deg > plays[0] + AFTER_PLAY_DEG) & (
        360.0 - turns_deg > plays[1] + AFTER_PLAY_DEG
    )
    return [
        at_most("one_seat_play", max(plays), MOST_PLAY_DEG, joint=made.number),
        at_most("one_seat_free_turns", float((beyond & ~hits).sum()), 0.0, joint=made.number),
    ]


def _rays(outlines: Outlines) -> Crossings:
    return cross_rays(outlines.starts, outlines.stops, RAYS)


def _spread_parallel(made: FinishedTenon) -> IntArray:
    """Up to `TURNED_SLICES` slices spread over the joint's parallel part, or that of its ribs."""
    slices, ends = made.slices, made.tenon.rib_height is not None
    chosen = np.flatnonzero(slices.key_parallel if ends else slices.parallel)
    assert len(chosen), "the design keeps a parallel part beyond the mouth's relief"
    places = np.linspace(0, len(chosen) - 1, TURNED_SLICES).astype(np.int64)
    spread: IntArray = chosen[np.unique(places)]
    return spread


def outside_check(made: FinishedTenon) -> Check:
    """Nothing made stands out of the part's outside, nor is any of the outside lost.

    In every slice the upper piece has the part's own outer outlines.
    """
    areas = made.slices.areas
    seen = areas.stations > max(made.mouth, made.tenon.station)
    strays = np.abs(areas.lost_outside[seen]) / areas.outline_length[seen]
    return at_most("outside_kept", greatest(strays), CONTACT, joint=made.number)


def seam_checks(made: FinishedTenon) -> list[Check]:
    """The outer shoulders meet, and meet at the station planned."""
    station = made.tenon.station
    shoulder = _shoulder_levels(made.lower, made.shape, 1)
    mouth = _shoulder_levels(made.upper, made.shape, -1)
    found = bool(shoulder.size and mouth.size)
    levels = np.concatenate([shoulder, mouth])
    apart = np.ptp(levels) if found else np.nan
    off = np.abs(levels - station).max() if found else np.nan
    return [
        at_most("shoulders_meet", apart, CONTACT, joint=made.number),
        at_most("seam_at_station", off, CONTACT, joint=made.number),
    ]


def _shoulder_levels(mesh: Mesh, shape: JointShape, facing: int) -> FloatArray:
    """Stations of flat faces near the seam that reach out beyond the socket."""
    station = shape.tenon.station
    near = band_of(mesh, station - _SHOULDER_REACH, station + _SHOULDER_REACH)
    beyond = shape.parameters(near.vertices[:, :2]) > (shape.tenon.reach)
    outer = Mesh(near.vertices, near.triangles[any_corner(beyond, near.triangles)])
    levels = flat_levels(outer, facing)
    kept: FloatArray = levels[np.abs(levels - station) <= _SHOULDER_REACH]
    return kept
