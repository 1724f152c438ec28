"""What each piece promises by itself, measured on the piece as its file holds it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..values import (
    CHORD_TOLERANCE,
    FIT_SLACK,
    Check,
    FloatArray,
    Frame,
    Mesh,
    Ornament,
    Piece,
    RoundSurface,
    Settings,
    Survey,
)
from .arcs import outlines_of
from .bore_clearance import Stretch, bore_intrusion, stretches_inside, stretches_outside
from .section import cut_sections
from .solid import Solid, euler_between
from .verdicts import at_most, exactly

ROUNDING = 1e-3
"""What float32 and the survey's own digits may take from a length, mm."""

_BORE_MARGIN = 0.1
"""Something that comes this near to the bore's radius, mm, has rims on it."""

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


def pose_checks(piece: Piece, solid: Solid, frame: Frame, settings: Settings) -> list[Check]:
    """In the envelope, on the bed, moved rigidly, low end down."""
    low, high = solid.filed.vertices.min(axis=0), solid.filed.vertices.max(axis=0)
    excess = high - np.array(settings.envelope)
    turn = frame.rows @ piece.to_source[:3, :3]
    bent = float(np.abs(turn.T @ turn - np.eye(3)).max())
    mirrored = float(np.linalg.det(turn)) < 0.0
    tilt_deg = np.degrees(np.arctan2(np.hypot(turn[0, 2], turn[1, 2]), turn[2, 2]))
    return [
        at_most("envelope", excess.max(), FIT_SLACK, piece=piece.name),
        at_most("on_bed", max(-low[0], -low[1], abs(low[2])), 0.0, piece=piece.name),
        at_most("rigid", np.inf if mirrored else bent, _LEAST_RIGID, piece=piece.name),
        at_most("upright", tilt_deg, _MOST_TILT_DEG, piece=piece.name),
    ]


def holes_whole(solid: Solid, trued: Mesh, low: Seam, high: Seam) -> Check:
    """The piece has as many openings through its wall as the part between its seams.

    Half the Euler number, less its sign, counts them: a tube has 0, and each side
    hole, or handle, or further bore, adds 1. At a seam the part is closed by its own
    section. A hole that a seam cuts is missing from both pieces.

    Parameters
    ----------
    low, high : the seams below and above, or the part's ends
    """
    surface = euler_between(trued, low.station, high.station) + low.euler + high.euler
    return exactly("holes_whole", -solid.euler / 2.0, -surface / 2.0, piece=solid.name)


def facet_depth(
    survey: Survey, bore: RoundSurface, settings: Settings, stretches: list[Stretch]
) -> float:
    """How far a bore's own facets may stand into it, mm.

    A true bore keeps the chord tolerance; one left as found keeps what it had.
    """
    true = CHORD_TOLERANCE + ROUNDING
    if settings.true in {"both", "bore"} and not _bore_features(survey, bore, stretches):
        return true
    return max(true, bore_intrusion(survey.mesh, bore, stretches) + ROUNDING)


def _bore_features(survey: Survey, bore: RoundSurface, stretches: list[Stretch]) -> list[Stretch]:
    """Where side holes and ornaments interrupt a bore: rims there keep their facets."""
    windows = [(hole.low - ROUNDING, hole.high + ROUNDING) for hole in survey.side_holes]
    windows += [
        (ornament.start - ROUNDING, ornament.stop + ROUNDING)
        for ornament in survey.ornaments
        if ornament.place == "bore" or _meets_bore(ornament, bore)
    ]
    return [window for stretch in stretches for window in stretches_inside(*stretch, windows)]


def _meets_bore(ornament: Ornament, bore: RoundSurface) -> bool:
    """Does something that borders the outside reach through to the bore?"""
    ends = (bore.radius_at(ornament.start), bore.radius_at(ornament.stop))
    return ornament.least_radius <= max(ends) + bore.eccentricity + _BORE_MARGIN


def bore_checks(survey: Survey, settings: Settings, solid: Solid) -> list[Check]:
    """Nothing stands into any stretch of any bore but its own facets.

    Beside side holes and bore ornaments the part's own rims are the limit, apart
    from the rest, so that they cannot excuse an intrusion elsewhere.
    """
    stations = solid.placed.vertices[:, 2]
    bottom, top = float(stations.min()), float(stations.max())
    checks = []
    for bore in survey.bores:
        low, high = max(bottom, bore.start) + ROUNDING, min(top, bore.stop) - ROUNDING
        features = _bore_features(survey, bore, [(low, high)])
        for name, stretches in (
            ("bore_free", stretches_outside(low, high, features)),
            ("bore_free_at_features", features),
        ):
            if stretches:
                depth = bore_intrusion(solid.placed, bore, stretches)
                limit = facet_depth(survey, bore, settings, stretches)
                checks.append(at_most(name, depth, limit, piece=solid.name))
    return checks
