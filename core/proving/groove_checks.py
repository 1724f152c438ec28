"""The groove around a tenon as made, and the socket that closes it: measured on sections."""

from __future__ import annotations

import math

import numpy as np

from ..fitting.grooves import LAND_BESIDE, LAPPED_LINES
from ..fitting.oring_tables import CORD_HOUSINGS
from ..fitting.ring_housings import HOUSING_LINES
from ..values import CHORD_TOLERANCE, Check, FloatArray, Mesh, Settings, TenonGroove
from .arcs import Outlines
from .blocked_turns import sections_about
from .joint_levels import CONTACT, flat_levels
from .joint_shape import JointShape
from .section import band_of
from .verdicts import at_least, at_most, between
from .walls import least_wall

MOST_OFF = 0.03
"""mm, by which a groove's sizes may be off: the least of what a housing's tables allow."""

_BY_EDGE = 0.05
"""mm from an edge of the groove at which it is measured."""

_CLOSED = 1e-6
"""Radians by which an outline may miss a full turn."""

_RING_SECTIONS = 7

_FLANK_REACH = 0.5
"""How far from its place, mm, the groove's lower flank is looked for."""


def groove_checks(
    shape: JointShape, lower: Mesh, upper: Mesh, settings: Settings, number: int
) -> list[Check]:
    """What a groove promises, of a tenon that has one."""
    groove = shape.tenon.groove
    if groove is None:
        return []
    stations = shape.tenon.station + _floor_heights(groove)
    below = sections_about(lower, shape.middle, stations)
    bottom = _radii(below[~below.is_void], len(stations))
    socket = _socket_radii(shape, upper, stations)
    due = shape.tenon.tenon_radius - groove.depth
    lines = LAPPED_LINES if groove.cord is None else HOUSING_LINES
    least = max(settings.least_wall, lines * settings.nozzle)
    return [
        _near("groove_diameter", 2.0 * bottom, 2.0 * due, number),
        _near("groove_width", _widths(shape, groove, lower, bottom), groove.width, number),
        at_least("groove_wall", _wall_under(shape, below, bottom, stations), least, joint=number),
        *_housing_depth(groove, socket[:, None] - bottom[..., None], settings, number),
        _unbroken(shape, groove, upper, number),
    ]


def _floor_heights(groove: TenonGroove) -> FloatArray:
    """Heights over the seam, mm, by both ends of the groove's bottom and in its middle."""
    edge = min(_BY_EDGE, groove.width / 4.0)
    return groove.start + np.array([edge, groove.width / 2.0, groove.width - edge])


def _near(name: str, values: FloatArray, due: float, number: int) -> Check:
    """The check that all values are near what is due; it tells the one farthest off."""
    off = np.abs(values - due)
    measured = values.size and np.isfinite(off).all()
    worst = values.flat[off.argmax()] if measured else math.nan
    return between(name, worst, due - MOST_OFF, due + MOST_OFF, joint=number)


def _radii(outlines: Outlines, levels: int) -> FloatArray:
    """(levels, 2) least and greatest radius, mm; no numbers where no outline is all round."""
    found = np.full((levels, 2), math.nan)
    for level in range(levels):
        one = outlines[outlines.level == level]
        if abs(abs(float(one.turn.sum())) - 2.0 * math.pi) < _CLOSED:
            middles = (one.starts + one.stops) / 2.0
            radii = np.concatenate([np.hypot(*ends.T) for ends in (one.starts, middles)])
            found[level] = radii.min(), radii.max()
    return found


def _socket_radii(shape: JointShape, upper: Mesh, stations: FloatArray) -> FloatArray:
    """(s, 2) least and greatest radius, mm, of the socket at stations."""
    above = sections_about(upper, shape.middle, stations)
    return _radii(above[above.is_void & (above.windings == -1)], len(stations))


def _widths(shape: JointShape, groove: TenonGroove, lower: Mesh, bottom: FloatArray) -> FloatArray:
    """Widths of the bottom, mm: from the lower flank to where the ceiling leaves the bottom.

    The ceiling is told from two sections of it, and drawn on down to the bottom.
    """
    flank = shape.tenon.station + groove.start
    stations = flank + groove.width + groove.depth * np.array([0.25, 0.75])
    outlines = sections_about(lower, shape.middle, stations)
    first, second = _radii(outlines[~outlines.is_void], 2)
    rise = (stations[1] - stations[0]) / (second - first)
    tops = stations[0] - (first - bottom) * rise
    band = band_of(lower, flank - _FLANK_REACH, flank + _FLANK_REACH)
    found = flat_levels(band, 1)
    found = found[np.abs(found - flank) <= _FLANK_REACH]
    widths: FloatArray = (tops[..., None] - found).ravel()
    return widths


def _wall_under(
    shape: JointShape, below: Outlines, bottom: FloatArray, stations: FloatArray
) -> float:
    """Least wall, mm, between the groove's bottom and the bore; of a solid its diameter."""
    if not shape.bores:
        return 2.0 * float(bottom.min())
    ours = np.zeros(len(below), bool)
    for ends in (below.starts, below.stops):
        ours |= ~shape.on_bores(ends + shape.middle, stations[below.level])
    return least_wall(below, ours)


def _housing_depth(
    groove: TenonGroove, gaps: FloatArray, settings: Settings, number: int
) -> list[Check]:
    """From the groove's bottom to the socket as they print: what squeezes the ring."""
    if groove.cord is None:
        return []
    due = next(one.depth for one in CORD_HOUSINGS if one.cord == groove.cord)
    undersize = settings.made_clearance - settings.clearance
    return [_near("housing_depth", gaps - undersize, due, number)]


def _unbroken(shape: JointShape, groove: TenonGroove, upper: Mesh, number: int) -> Check:
    """The socket is a full circle all along the groove and past both its edges."""
    past = min(LAND_BESIDE, groove.start) / 2.0
    heights = np.linspace(groove.start - past, groove.stop + past, _RING_SECTIONS)
    radii = _socket_radii(shape, upper, shape.tenon.station + heights)
    off = float(np.abs(radii - shape.tenon.socket_radius).max())
    return at_most("ring_face", off, 2.0 * CHORD_TOLERANCE + CONTACT, joint=number)
