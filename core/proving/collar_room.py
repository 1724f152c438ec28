"""What a collar's lugs leave open: along the axis, and of the part's volume."""

from __future__ import annotations

import math

import numpy as np

from ..values import CHORD_TOLERANCE, Check, FloatArray, Lug, Mesh, RoundSurface, Settings
from .arcs import Outlines
from .collar_slices import CollarSlices, FinishedCollar
from .piece_checks import ROUNDING
from .rays import Crossings, cross_rays, ray_angles
from .section import band_of
from .solid import volume_between
from .verdicts import at_least, at_most, greatest, least

AXIAL_SLACK = 0.1
"""How much farther than their gap asks, mm, the lugs may let a collar slip along the axis."""

SET_BACK = 0.2
"""How far, mm, a lug is to stay back from the wall's far side."""

_RAYS = 360
_ACROSS, _THROUGH = 9, 3
"""Upright lines through a lug: across its width, and through the wall."""

_INSIDE = 0.05
"""How far inside of a lug's faces, mm, the outermost of them stand."""


def axial_checks(made: FinishedCollar, settings: Settings) -> list[Check]:
    """The lugs' gables clear the notches', and hold the collar along the axis.

    Measured along upright lines through each lug. A gable leans more the nearer it is to the
    middle: by 45 degrees at the ring's own surface, a gap beyond the part's outside. The
    clearance told is the one where it leans most.
    """
    asked = settings.made_clearance
    low = asked - min(0.03, 0.25 * asked)
    rooms = np.array([_room(made, lug) for lug in made.collar.lugs])
    inner, outer = _wall_radii(made)
    lean = math.hypot(1.0, (outer + asked * made.is_outside) / inner)
    closest = least(rooms.ravel()) / lean
    play = greatest(rooms.min(axis=0)) if np.isfinite(rooms).all() else np.nan
    return [
        at_least("cone_clearance", closest, low, joint=made.number),
        at_most("axial_play", play, asked * lean + AXIAL_SLACK, joint=made.number),
    ]


def kept_checks(made: FinishedCollar, slices: CollarSlices) -> list[Check]:
    """Outside and bore of both ends are the part's own, but for notches, bevels and nicks.

    Beside the seam, where the edge that the ring covers has bevels and nicks, nothing
    stands out of the part's surface there.
    """
    off = made.off_lugs(_unit(ray_angles(_RAYS)))
    outer, inner = [0.0], [0.0]
    for number in (0, 1):
        for level in np.flatnonzero(slices.held[number]).tolist():
            found, due = (_rays(k, level) for k in (slices.ends[number], slices.part))
            out = (found.outermost() - due.outermost())[off]
            into = (due.innermost() - found.innermost())[off]
            bare = bool(slices.plain[level])
            outer.append(greatest(np.abs(out) if bare or not made.is_outside else out))
            inner.append(greatest(np.abs(into) if bare or made.is_outside else into))
    limit = 2.0 * CHORD_TOLERANCE + ROUNDING  # the facets of both
    return [
        at_most("outside_kept", max(outer), limit, joint=made.number),
        at_most("bore_kept", max(inner), limit, joint=made.number),
    ]


def _rays(outlines: Outlines, level: int) -> Crossings:
    here = outlines[outlines.level == level]
    return cross_rays(here.starts, here.stops, _RAYS)


def notch_volume(made: FinishedCollar) -> float:
    """Volume, mm3, that the part has and its two ends have not: notches, nicks and a bevel.

    Of all three within the collar's reach, where the ends were made anew.
    """
    whole, lower, upper = (
        volume_between(mesh, *made.reach) for mesh in (made.part, made.lower, made.upper)
    )
    return whole - lower - upper


def _wall_radii(made: FinishedCollar, angle: float | None = None) -> tuple[float, float]:
    """Radii, mm, between which the wall lies: along a ray at the seam, or all round the ring."""
    surfaces = (made.collar.inner, made.collar.outer)
    if angle is not None:
        first, last = (_along_ray(made, k, np.array([angle]))[0] for k in surfaces)
        return float(first), float(last)
    low, high = (sorted(surface.radius_at(end) for end in made.reach) for surface in surfaces)
    off = math.dist(surfaces[0].offset, surfaces[1].offset)
    return low[0] - off, high[1] + off


def _along_ray(made: FinishedCollar, surface: RoundSurface, angles: FloatArray) -> FloatArray:
    """(n,) mm, from the ring's centre line to a surface at the seam."""
    off = np.array(surface.offset) - made.centre
    rays = _unit(angles)
    across = off[1] * rays[:, 0] - off[0] * rays[:, 1]
    reach: FloatArray = rays @ off + np.sqrt(surface.radius_at(made.station) ** 2 - across**2)
    return reach


def _unit(angles: FloatArray) -> FloatArray:
    return np.column_stack([np.cos(angles), np.sin(angles)])


def _room(made: FinishedCollar, lug: Lug) -> tuple[float, float]:
    """Least height, mm, free below a lug and above it; infinite where it is missing."""
    half = lug.half_width - _INSIDE / made.collar.outer.radius_at(made.station)
    angles = lug.angle + np.linspace(-half, half, _ACROSS)
    first, last = (_along_ray(made, k, angles) for k in (made.collar.inner, made.collar.outer))
    shares = np.linspace(0.0, 1.0, _THROUGH)[:, None]
    inside = SET_BACK + _INSIDE
    radii = (first + inside) * (1.0 - shares) + (last - inside) * shares
    points = (radii[:, :, None] * _unit(angles)[None]).reshape(-1, 2) + made.centre
    low, high = made.reach
    bodies = [band_of(mesh, low, high) for mesh in (made.lower, made.ring, made.upper)]
    heights = [_heights_on_lines(body, points) for body in bodies]
    floor = np.where(heights[0] <= made.station, heights[0], -np.inf).max(axis=1)
    bottom, top = (
        np.nanmin(heights[1], axis=1, initial=np.inf),
        np.nanmax(heights[1], axis=1, initial=-np.inf),
    )
    ceiling = np.where(heights[2] >= made.station, heights[2], np.inf).min(axis=1)
    return float((bottom - floor).min()), float((ceiling - top).min())


def _heights_on_lines(mesh: Mesh, points: FloatArray) -> FloatArray:
    """(n, m) mm, where the upright line through each point meets each triangle, else nan."""
    a, b, c = (mesh.vertices[mesh.triangles[:, k]] for k in range(3))
    first, second = b - a, c - a
    whole = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    x, y = (points[:, k, None] - a[None, :, k] for k in (0, 1))
    stands = np.abs(whole) < 1e-9
    whole = np.where(stands, 1.0, whole)
    one = (x * second[:, 1] - y * second[:, 0]) / whole
    other = (y * first[:, 0] - x * first[:, 1]) / whole
    heights = a[:, 2] + one * first[:, 2] + other * second[:, 2]
    met = ~stands & (one >= -1e-9) & (other >= -1e-9) & (one + other <= 1.0 + 1e-9)
    found: FloatArray = np.where(met, heights, np.nan)
    return found
