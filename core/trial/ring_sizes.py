"""Sizes of the rings that try a joint: as true to it as 6 cm3 of plastic allow.

What the fit depends on is the joint's own: the tenon's radius, its keys, the gap, the
mouth's bevel, the cones. Its length is not: the parallel part is cut short, and where that is
not enough the walls are thinned from the sides that do not meet, and the rings get fewer.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from ..errors import BadSetting
from ..jointing.joint_design import with_pattern
from ..jointing.joint_line import LEAST_LAND
from ..values import AXIAL_GAP, CHORD_TOLERANCE, FACET_ALLOWANCE, LEAD_IN, Settings, Tenon
from .trial_bars import Bars, bars_of
from .trial_set import MOST_PLASTIC
from .tried_joint import TriedJoint

LEAST_CLEARANCE = 0.05
"""Smallest gap a side, mm, that is tried; two lines this near print as one."""

USUAL_STEP, LEAST_STEP, _STEP_GRID = 0.05, 0.02, 0.005
"""Between the clearances of two rings, mm."""

FOOT = 1.6
"""Height, mm, of the tenon ring below its tenon."""

CAP = 0.8
"""Height, mm, of a socket ring above its roof."""

PARALLELS = (6.0, 5.0, 4.0)
"""Lengths, mm, of the parallel part, the best first."""

WALLS = (2.4, 2.0, 1.6)
"""Walls, mm, of tenon and socket where plastic must be saved; the least one follows."""

MOST_CLEARANCE = 0.5
"""Widest gap a side, mm, that a printer profile keeps."""

MOST, FEWEST = 5, 3
"""Socket rings; an odd number, so that one has the clearance asked for."""

ESTIMATE_SHARE = 0.99
"""Of the plastic allowed, what sizes are chosen for; the finished rings are measured."""

_TOLD = 0.005
"""Differences smaller than this, mm, are not told."""

_LEAST_DRILLED = 1.5
"""A bore narrower than this, mm radius, is not worth drilling to save plastic."""


@dataclass(frozen=True, slots=True)
class RingSizes:
    """One tenon ring and its socket rings, in a tube cut at `tenon.station`.

    tenon : with the clearance asked for; its heights are the rings'
    bore_radius : mm, of the rings; 0 where they are solid
    outer_radius : mm, of the rings, bars apart
    length : mm, of the tube
    clearances : mm a side, ring after ring, growing
    remarks : what the rings do not share with the joint
    """

    tried: TriedJoint
    tenon: Tenon
    bore_radius: float
    outer_radius: float
    clearances: tuple[float, ...]
    bars: Bars
    remarks: tuple[str, ...]

    @property
    def length(self) -> float:
        """Of the tube that a tenon and a socket ring are cut from, mm."""
        return self.tenon.roof_top + CAP

    def settings_of(self, clearance: float) -> Settings:
        """The settings with a ring's clearance."""
        return replace(self.tried.settings, clearance=clearance)

    def tenon_of(self, clearance: float) -> Tenon:
        """The tenon with the socket of another clearance."""
        gap = self.settings_of(clearance).made_clearance
        own = self.tenon
        wider = replace(own, socket_radius=own.tenon_radius + gap, radial_clearance=gap)
        return _with_keys(wider, self.tried) if own.keys else wider


def trial_clearances(middle: float, count: int) -> tuple[float, ...]:
    """Clearances a side about the one asked for, mm; steps shrink where it is small.

    Near the ends of what may be kept in a profile it is not the middle one.
    """
    half = count // 2
    step = math.floor((middle - LEAST_CLEARANCE) / half / _STEP_GRID + 1e-6) * _STEP_GRID
    step = min(max(step, LEAST_STEP), USUAL_STEP)
    highest = MOST_CLEARANCE - (count - 1) * step
    first = max(LEAST_CLEARANCE, min(middle - half * step, highest))
    return tuple(round(first + number * step, 6) for number in range(count))


def ring_sizes(tried: TriedJoint) -> RingSizes:
    """The first of the sizes, from the truest on, that stay within the plastic allowed.

    Raises
    ------
    BadSetting : even the fewest, shortest and thinnest rings take more
    """
    for sizes in _from_the_truest(tried):
        if plastic_of(sizes) <= ESTIMATE_SHARE * MOST_PLASTIC:
            return sizes
    raise _too_much(sizes)


def _from_the_truest(tried: TriedJoint) -> Iterator[RingSizes]:
    thinnest = _thinnest(tried.settings)
    walls = [wall for wall in WALLS if wall > thinnest] + [thinnest]
    for parallel in PARALLELS:
        yield _sizes(tried, MOST, parallel, math.inf)
    for count in (MOST, FEWEST):
        for wall in walls:
            yield _sizes(tried, count, PARALLELS[-1], wall)


def _thinnest(settings: Settings) -> float:
    """The thinnest wall, mm, that still holds the mouth's bevel beside a groove."""
    return settings.least_wall + settings.mouth_relief + 2.0 * FACET_ALLOWANCE


def _sizes(tried: TriedJoint, count: int, parallel: float, wall: float) -> RingSizes:
    """Rings of at most so long a parallel part, and so thick walls."""
    own, settings = tried.tenon, tried.settings
    clearances = trial_clearances(settings.clearance, count)
    widest = own.tenon_radius + replace(settings, clearance=clearances[-1]).made_clearance
    bore = max(tried.bore_radius, own.tenon_radius - wall)
    if bore > tried.bore_radius and bore < _LEAST_DRILLED:
        bore = tried.bore_radius
    beyond_groove = widest + own.relief + CHORD_TOLERANCE
    least_outer = beyond_groove + settings.least_wall + FACET_ALLOWANCE
    outer = max(min(tried.outer_radius, beyond_groove + wall), least_outer)
    parallel = min(parallel, own.parallel_length)
    return RingSizes(
        tried=tried,
        tenon=_short_tenon(tried, bore, parallel),
        bore_radius=bore,
        outer_radius=outer,
        clearances=clearances,
        bars=bars_of(outer, settings.nozzle, tried.place.key_angle),
        remarks=_remarks(tried, count, parallel, bore, outer),
    )


def _short_tenon(tried: TriedJoint, bore: float, parallel: float) -> Tenon:
    """The joint's tenon on a foot of its own, about the axis, without witness marks."""
    own, settings = tried.tenon, tried.settings
    room = own.tenon_radius - LEAD_IN - bore
    land = min(max(room, LEAST_LAND), settings.least_wall)
    engagement = parallel + own.tenon_radius - bore - land
    short = replace(
        own,
        station=FOOT,
        engagement=engagement,
        land=land,
        bore_radius_at_tip=bore,
        roof_top=FOOT + engagement + AXIAL_GAP + land,
        wall=0,
        bores=(0,) if bore else (),
        centres=((0.0, 0.0),),
        swells=(0.0,),
        crest=0.0,
        outline_excess=0.0,
        marks=(),
    )
    return _with_keys(short, tried) if own.keys else short


def _with_keys(tenon: Tenon, tried: TriedJoint) -> Tenon:
    """The keys of the joint, their gaps for the tenon's own clearance; no witness marks."""
    return replace(with_pattern(tenon, tried.tenon.relief, 0.0, tried.place), marks=())


def plastic_of(sizes: RingSizes) -> float:
    """Volume, mm3, of all rings in the file, their facets left out."""
    sockets = [sizes.tenon_of(clearance) for clearance in sizes.clearances]
    bars = [sizes.bars.volume(number, _height(sizes)) for number in range(1, len(sockets) + 1)]
    rings = sum(_socket_ring(sizes, socket) for socket in sockets)
    larger: float = sizes.tried.settings.print_scale**3
    return larger * (_tenon_ring(sizes) + rings + sum(bars))


def _height(sizes: RingSizes) -> float:
    return sizes.length - sizes.tenon.station


def _tenon_ring(sizes: RingSizes) -> float:
    tenon, bore = sizes.tenon, sizes.bore_radius
    cone = tenon.tip - tenon.tip_height_at(tenon.tenon_radius)
    return (
        _cone(sizes.outer_radius, sizes.outer_radius, FOOT)
        + _cone(tenon.tenon_radius, tenon.tenon_radius, tenon.parallel_length)
        + _cone(tenon.tenon_radius, bore + tenon.land, cone)
        - _cone(bore, bore, FOOT + tenon.engagement)
        + _keys_of(tenon, tenon.parallel_length)
    )


def _socket_ring(sizes: RingSizes, socket: Tenon) -> float:
    radius, bore = socket.socket_radius, sizes.bore_radius
    upright = socket.roof_height_at(radius) - socket.station
    return (
        _cone(sizes.outer_radius, sizes.outer_radius, _height(sizes))
        - _cone(radius, radius, upright)
        - _cone(radius, bore, radius - bore)
        - _cone(bore, bore, CAP)
        - _keys_of(socket, upright)
    )


def _keys_of(tenon: Tenon, height: float) -> float:
    widths = sum(2.0 * key.half_width * tenon.tenon_radius for key in tenon.keys)
    return widths * tenon.relief * height


def _cone(low: float, high: float, height: float) -> float:
    return math.pi / 3.0 * height * (low**2 + low * high + high**2)


def _remarks(
    tried: TriedJoint, count: int, parallel: float, bore: float, outer: float
) -> tuple[str, ...]:
    own = tried.tenon
    told = []
    if parallel < own.parallel_length - _TOLD:
        told.append(
            f"The parallel part is {parallel:.1f} mm long, the joint's {own.parallel_length:.1f} "
            "mm: the gap is what is tried."
        )
    if len(own.bores) > 1:
        told.append("The joint goes around two bores; the rings try it around one.")
    if not own.keys:
        told.append("It is a pin without a key: in the rings, alone, it turns freely.")
    if bore > tried.bore_radius + _TOLD:
        own_bore = f"has a bore of {2.0 * tried.bore_radius:.2f} mm" if own.bores else "is solid"
        told.append(
            f"To save plastic the rings are drilled to {2.0 * bore:.2f} mm; the joint {own_bore}."
        )
    if outer < tried.outer_radius - _TOLD:
        told.append(
            f"To save plastic the rings are {2.0 * outer:.2f} mm wide outside; the part has "
            f"{2.0 * tried.outer_radius:.2f} mm."
        )
    if outer > tried.outer_radius + _TOLD:
        told.append(
            f"The rings are {2.0 * outer:.2f} mm wide outside, the part "
            f"{2.0 * tried.outer_radius:.2f} mm, so that the widest socket keeps its wall."
        )
    if count < MOST:
        told.append(f"To save plastic there are {count} socket rings in place of {MOST}.")
    return tuple(told)


def _too_much(smallest: RingSizes) -> BadSetting:
    widest = _widest_that_fits(smallest)
    tenon = smallest.tenon
    return BadSetting(
        f"{plastic_of(smallest) / 1000.0:.1f} cm3 of plastic for {1 + FEWEST} rings about a tenon "
        f"of {2.0 * tenon.tenon_radius:.1f} mm, walls at their thinnest",
        f"at most {MOST_PLASTIC / 1000.0:.0f} cm3",
        f"a trial of a narrower joint, --bore and --wall or --solid for a tenon of at most "
        f"{widest:.0f} mm: the gap that a printer needs depends little on the diameter",
    )


def _widest_that_fits(smallest: RingSizes) -> float:
    """Diameter, mm, of the widest tenon whose rings, as thin, stay within the plastic allowed.

    Volumes of thin rings grow a little faster than their radius: this is on the safe side.
    """
    share = ESTIMATE_SHARE * MOST_PLASTIC / plastic_of(smallest)
    return math.floor(2.0 * smallest.tenon.tenon_radius * share)
