"""What each piece promises by itself, measured on the piece as its file holds it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..values import (
    FIT_SLACK,
    Check,
    FloatArray,
    Frame,
    Lean,
    Mesh,
    Piece,
    Settings,
)
from .arcs import outlines_of
from .section import cut_sections
from .solid import Solid, euler_between, ways_through
from .verdicts import at_most, exactly

ROUNDING = 1e-3
"""What float32 and the survey's own digits may take from a length, mm."""

_MOST_TILT_DEG = 0.01
_LEAST_RIGID = 1e-9


@dataclass(frozen=True, slots=True)
class Seam:
    """Where a piece ends.

    station : mm; infinite at an end of the part
    euler : Euler number of the part's section there
    """

    station: float
    euler: int = 0


def seam_of(trued: Mesh, station: float, centres: FloatArray) -> Seam:
    """The seam across a part, with its section: an outline round material adds 1, a void takes 1.

    Where a hole opens a bore in it, the section is not the joint's: 1 more makes it
    the section of no closed piece.

    Parameters
    ----------
    centres : (b, 2) mm, of the bores that the joint runs around
    """
    sections = cut_sections(trued, np.array([station]))
    whole = True
    for centre in centres:
        seen = outlines_of(sections, centre)
        whole &= bool((seen.is_void & (seen.windings == -1)).any())
        whole &= bool((~seen.is_void & (seen.windings == 1)).any())
    return Seam(station, int(np.sign(sections.loop_area).sum()) + (not whole))


def surface_checks(solid: Solid, cavities: int) -> list[Check]:
    """Closed, outward, one body. Where these fail no other measure means anything.

    cavities : how many sealed ones the part has between the piece's seams
    """
    name = solid.name
    return [
        exactly("closed", solid.faults, 0, piece=name),
        Check("outward", solid.volume, 0.0, solid.volume > 0.0, piece=name),
        exactly("bodies", solid.shells - cavities, 1, piece=name),
    ]


def bed_checks(piece: Piece, solid: Solid, settings: Settings) -> list[Check]:
    """In the envelope, on the bed, moved rigidly."""
    low, high = solid.filed.vertices.min(axis=0), solid.filed.vertices.max(axis=0)
    excess = high - np.array(settings.envelope)
    turn = piece.to_source[:3, :3]
    bent = float(np.abs(turn.T @ turn - np.eye(3)).max())
    mirrored = float(np.linalg.det(turn)) < 0.0
    return [
        at_most("envelope", excess.max(), FIT_SLACK, piece=piece.name),
        at_most("on_bed", max(-low[0], -low[1], abs(low[2])), 0.0, piece=piece.name),
        at_most("rigid", np.inf if mirrored else bent, _LEAST_RIGID, piece=piece.name),
    ]


def pose_checks(
    piece: Piece, solid: Solid, frame: Frame, settings: Settings, lean: Lean | None = None
) -> list[Check]:
    """In the envelope, on the bed, moved rigidly, low end down or leaning as planned."""
    return [*bed_checks(piece, solid, settings), _tilt_check(piece, frame, lean)]


def _tilt_check(piece: Piece, frame: Frame, lean: Lean | None) -> Check:
    """Upright with its low end down, or leaning to the side and by the angle planned."""
    name, axis = "upright", np.array([0.0, 0.0, 1.0])
    if lean is not None:
        name, sine = "leaning", math.sin(lean.tilt)
        axis = np.array([-sine * math.cos(lean.azimuth), -sine * math.sin(lean.azimuth), 0.0])
        axis[2] = math.cos(lean.tilt)
    upright = frame.rows @ piece.to_source[:3, 2]
    off = math.atan2(float(np.linalg.norm(np.cross(upright, axis))), float(upright @ axis))
    return at_most(name, math.degrees(off), _MOST_TILT_DEG, piece=piece.name)


def ways_whole(solid: Solid, trued: Mesh, low: Seam, high: Seam) -> Check:
    """As many ways lead through the piece as through the part between its seams.

    A tube has 1, and each side hole, or handle, or further bore, adds 1. At a seam the
    part is closed by its own section. A hole that a seam cuts is missing from both pieces.

    Parameters
    ----------
    low, high : the seams below and above, or the part's ends
    """
    surface = euler_between(trued, low.station, high.station) + low.euler + high.euler
    ways = [ways_through(euler, solid.shells) for euler in (solid.euler, surface)]
    return exactly("ways_whole", *ways, piece=solid.name)
