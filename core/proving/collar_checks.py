"""What a collar, or a sleeve, and the two ends that it lies over promise, as finished."""

from __future__ import annotations

import numpy as np

from ..meshes.mesh_checks import triangle_normals
from ..values import CHORD_TOLERANCE, Check, FloatArray, IntArray, Mesh, Settings
from .arcs import Outlines
from .clearances import measure_clearances
from .collar_room import axial_checks, kept_checks
from .collar_slices import EDGE, CollarSlices, FinishedCollar, slice_collar
from .joint_levels import CONTACT, flat_levels
from .overlaps import RAYS
from .rays import Crossings, cross_rays
from .roofs import FACET_SLOPE_DEG, NARROWEST_FACET, STEEPEST_DEG
from .section import any_corner, band_of
from .shoulder_overlap import shoulder_overlap
from .turning import play_deg, turn_collisions
from .verdicts import at_least, at_most, between, greatest, least
from .walls import least_wall

MOST_OVERLAP = 0.01
"""Volume, mm3, that two bodies may share."""

MOST_PLAY_DEG = 1.5
AFTER_PLAY_DEG = 0.25
"""Of each end in the collar; the two ends' plays add up, and so does this, to 0.5."""

COLLISION_DEPTH = 0.05
"""Radial depth, mm, at which surfaces stop a turn: less gives way in a print."""

_TURNED_SLICES = 3


def collar_checks(made: FinishedCollar, settings: Settings) -> list[Check]:
    """Every promise of one collar and its two ends."""
    slices = slice_collar(made)
    return [
        *fit_checks(made, slices, settings),
        *wall_checks(made, slices, settings),
        *seat_checks(made, slices),
        *axial_checks(made, settings),
        *seam_checks(made),
        *kept_checks(made, slices),
        support_check(made),
    ]


def fit_checks(made: FinishedCollar, slices: CollarSlices, settings: Settings) -> list[Check]:
    """No overlap among the three; the clearance all round at both ends, and at the lugs.

    The greatest clearance may in any case be larger by the facets of both.
    """
    asked, number = settings.made_clearance, made.number
    tolerance = min(0.03, 0.25 * asked)
    low, high = asked - tolerance, asked + max(tolerance, 2.0 * CHORD_TOLERANCE + CONTACT)
    plain, keyed, widest = [], [], []
    for end in (0, 1):
        sides = slices.facing(made, end)
        gaps = measure_clearances(*sides, slices.touched[end], 1.1 * high)
        guided = slices.plain & slices.held[end]
        plain.append(gaps.distance[gaps.off_key])
        keyed.append(gaps.distance[~gaps.off_key])
        is_open = (gaps.open & guided).any()
        widest.append(
            np.inf if is_open else greatest(gaps.distance[guided[gaps.level] & gaps.off_key])
        )
    flanks = min(lug.side_gap for lug in made.collar.lugs) * _least_radius(made)
    shared = slices.shared_volume + shoulder_overlap(made.lower, made.upper, made.station)
    return [
        at_most("overlap", shared, MOST_OVERLAP, joint=number),
        between("least_clearance", _least_of(plain), low, high, joint=number),
        between("greatest_clearance", max(widest), low, high, joint=number),
        at_least("key_clearance", _least_of(keyed), min(low, flanks - tolerance), joint=number),
    ]


def _least_of(groups: list[FloatArray]) -> float:
    """The least value of all groups; not a number where one has none."""
    return float(np.min([least(group) for group in groups]))


def _least_radius(made: FinishedCollar) -> float:
    """The bore's, mm, under the ring."""
    return min(made.collar.inner.radius_at(end) for end in made.reach)


def wall_checks(made: FinishedCollar, slices: CollarSlices, settings: Settings) -> list[Check]:
    """Least thickness of the ring and of both ends beside their notches.

    Bevels and nicks are left out, and the gables of lugs: they run out to nothing.
    """
    flanks = np.abs(slices.stations - made.station) < min(lug.flank for lug in made.collar.lugs)
    whole = slices.plain | (np.abs(slices.stations - made.station) <= EDGE)
    ring = slices.ring[whole[slices.ring.level]]
    back = ring.is_void != made.is_outside
    at_lugs = ~(made.off_lugs(ring.starts) & made.off_lugs(ring.stops))
    ours = back | (at_lugs & flanks[ring.level])
    ends = []
    for number, end in enumerate(slices.ends):
        seen = end[(slices.held[number] & slices.plain)[end.level]]
        ends.append(least_wall(seen, seen.turn > 0.0))
    walls = (("collar_wall", least_wall(ring, ours)), ("end_wall", min(ends)))
    return [
        at_least(name, least(np.array([wall])), settings.least_wall, joint=made.number)
        for name, wall in walls
    ]


def seat_checks(made: FinishedCollar, slices: CollarSlices) -> list[Check]:
    """One seat only: each end's play in the ring, and the turns beyond it that nothing stops.

    The play told is of the two pieces against each other: that of both ends together.
    """
    plays, free = [0.0, 0.0], 0
    for number in (0, 1):
        levels = _beside_flanks(made, slices, number)
        end, ring = (
            piece[np.isin(piece.level, levels)] for piece in (slices.ends[number], slices.ring)
        )
        inner, outer = (end, ring) if made.is_outside else (ring, end)
        outer = outer[outer.turn <= 0.0] if made.is_outside else outer
        own = play_deg(inner, outer)
        plays = [one + other for one, other in zip(plays, own, strict=True)]
        free += _free_turns(inner, outer, levels.tolist(), own)
    return [
        at_most("one_seat_play", max(plays), MOST_PLAY_DEG, joint=made.number),
        at_most("one_seat_free_turns", float(free), 0.0, joint=made.number),
    ]


def _beside_flanks(made: FinishedCollar, slices: CollarSlices, number: int) -> IntArray:
    """Up to three levels of an end on which lugs are upright."""
    flank = min(lug.flank for lug in made.collar.lugs)
    beside = np.abs(slices.stations - made.station) < flank
    chosen = np.flatnonzero(beside & slices.held[number])
    assert len(chosen), "a lug has upright flanks on both sides of the seam"
    places = np.linspace(0, len(chosen) - 1, _TURNED_SLICES).astype(np.int64)
    return chosen[np.unique(places)]


def _free_turns(
    inner: Outlines, outer: Outlines, levels: list[int], plays: tuple[float, float]
) -> int:
    """How many turns, in steps of 0.2 degrees, nothing stops beyond the play."""
    out = np.array([_rays(inner[inner.level == level]).outermost() for level in levels])
    into = np.array([_rays(outer[outer.level == level]).innermost() for level in levels])
    hits = turn_collisions(out, into, COLLISION_DEPTH)
    turns = np.arange(RAYS) * (360.0 / RAYS)
    beyond = (turns > plays[0] + AFTER_PLAY_DEG) & (360.0 - turns > plays[1] + AFTER_PLAY_DEG)
    return int((beyond & ~hits).sum())


def _rays(outlines: Outlines) -> Crossings:
    return cross_rays(outlines.starts, outlines.stops, RAYS)


def seam_checks(made: FinishedCollar) -> list[Check]:
    """The butt faces meet, and meet at the station planned."""
    levels = []
    for mesh, facing in ((made.lower, 1), (made.upper, -1)):
        flat = flat_levels(band_of(mesh, made.station - EDGE, made.station + EDGE), facing)
        levels.append(flat[np.abs(flat - made.station) <= EDGE])
    found = all(flat.size for flat in levels)
    every = np.concatenate(levels)
    apart = np.ptp(every) if found else np.nan
    off = np.abs(every - made.station).max() if found else np.nan
    return [
        at_most("shoulders_meet", apart, CONTACT, joint=made.number),
        at_most("seam_at_station", off, CONTACT, joint=made.number),
    ]


def support_check(made: FinishedCollar) -> Check:
    """Every face of ours that looks down is no flatter than 45 degrees, but what is on the bed."""
    low, high = made.reach
    zones = (
        (made.lower, low, made.station),
        (made.upper, made.mouth, high),
        (made.ring, low, high),
    )
    flattest = max(_flattest_deg(mesh, bottom, top) for mesh, bottom, top in zones)
    limit = STEEPEST_DEG + FACET_SLOPE_DEG
    return at_most("self_supporting", flattest, limit, joint=made.number)


def _flattest_deg(mesh: Mesh, low: float, high: float) -> float:
    """Greatest angle from vertical, degrees, of the faces between two stations that look down."""
    heights = mesh.vertices[:, 2]
    zoned = any_corner((heights > low + NARROWEST_FACET) & (heights < high), mesh.triangles)
    zone = Mesh(mesh.vertices, mesh.triangles[zoned])
    normals, areas = triangle_normals(zone)
    corners = zone.vertices[zone.triangles]
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    kept = (normals[:, 2] < 0.0) & (2.0 * areas > NARROWEST_FACET * sides)
    angles = np.degrees(np.arcsin(np.minimum(-normals[kept, 2], 1.0)))
    return float(angles.max(initial=0.0))
