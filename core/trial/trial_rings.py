"""The rings that try a tenon: built by the joint's own builders, and proven with its tenon.

The n-th socket ring is cut from a tube with n bars, at its own clearance; the tenon ring
from one without bars. Each is proven with the tenon ring as two pieces of a part are.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..jointing.split import build_pieces
from ..proving.prove import prove_pieces
from ..values import Check, Cut, Joint, Piece, Plan, Settings
from .barred_tube import BarredTube, barred_tube
from .ring_sizes import RingSizes, ring_sizes
from .trial_set import (
    About,
    Envelope,
    FitTrial,
    TrialRing,
    named_for,
    proven_trial,
    set_out,
)
from .tried_joint import TriedJoint

WIDE = 10000.0
"""An envelope that all rings fit, mm: they are set out later."""


def tenon_trial(tried: TriedJoint, envelope: Envelope | None) -> FitTrial:
    """The proven rings that try a tenon.

    Parameters
    ----------
    envelope : mm, that the set has to fit; any where it is None

    Raises
    ------
    BadSetting : the rings would take more plastic than a trial is worth
    TooWide : the set does not fit the envelope
    ProofFailed : a ring breaks a promise
    """
    sizes = ring_sizes(tried)
    cuts = [_cut(sizes, tried.settings.clearance, 0)]
    cuts += [_cut(sizes, clearance, k) for k, clearance in enumerate(sizes.clearances, 1)]
    loose = [replace(cuts[0].lower, name="tenon")]
    loose += [replace(cut.upper, name=f"ring-{k}") for k, cut in enumerate(cuts[1:], 1)]
    base, *pieces = set_out(loose, envelope)
    rings = tuple(
        _ring(sizes, number, clearance, piece)
        for number, (clearance, piece) in enumerate(zip(sizes.clearances, pieces, strict=True), 1)
    )
    checks = [
        check
        for cut, ring in zip(cuts[1:], rings, strict=True)
        for check in _ring_checks(_within(cut, envelope), base, ring)
    ]
    return proven_trial(_about(sizes), base, rings, checks, sizes.outer_radius, envelope)


def _ring(sizes: RingSizes, number: int, clearance: float, piece: Piece) -> TrialRing:
    tenon = sizes.tenon_of(clearance)
    return TrialRing(number, clearance, tenon.radial_clearance, 2.0 * tenon.socket_radius, piece)


def _about(sizes: RingSizes) -> About:
    tried, own = sizes.tried, sizes.tried.tenon
    return About(
        kind="tenon",
        source=tried.source,
        settings=tried.settings,
        within=2.0 * own.tenon_radius,
        key_angles=tuple(key.angle for key in sizes.tenon.keys),
        own={
            "bore_diameter": 2.0 * tried.bore_radius,
            "outside_diameter": 2.0 * tried.outer_radius,
            "engagement": own.engagement,
            "parallel": own.parallel_length,
        },
        tried={
            "bore_diameter": 2.0 * sizes.bore_radius,
            "outside_diameter": 2.0 * sizes.outer_radius,
            "engagement": sizes.tenon.engagement,
            "parallel": sizes.tenon.parallel_length,
        },
        remarks=sizes.remarks,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _CutTube:
    """A tube cut at a joint of one clearance."""

    tube: BarredTube
    plan: Plan
    settings: Settings
    lower: Piece
    upper: Piece


def _cut(sizes: RingSizes, clearance: float, number: int) -> _CutTube:
    """A tube with so many bars, cut."""
    tenon = sizes.tenon_of(clearance)
    seam = tenon.station
    tube = barred_tube(
        sizes.bore_radius, sizes.outer_radius, sizes.length, seam, sizes.bars, number
    )
    plan = Plan((Cut(seam, (seam, seam), "fit trial"),), (Joint("tenon", seam, (tenon,)),))
    settings = replace(sizes.settings_of(clearance), envelope=(WIDE, WIDE, WIDE))
    lower, upper = build_pieces(tube.survey, tube.trued, plan, settings, f"ring-{number}")
    return _CutTube(tube, plan, settings, lower, upper)


def _within(cut: _CutTube, envelope: Envelope | None) -> _CutTube:
    """To be proven to lie in an envelope."""
    settings = cut.settings
    return replace(cut, settings=replace(settings, envelope=envelope or settings.envelope))


def _ring_checks(cut: _CutTube, tenon: Piece, ring: TrialRing) -> list[Check]:
    """Every promise of two pieces, of the tenon ring and a socket ring; and the ring's own gap.

    A pin alone seats in any rotation: it is several together that have one seat.
    """
    pair = (tenon, ring.piece)
    proven = prove_pieces(cut.tube.survey, cut.tube.trued, cut.plan, pair, cut.settings)
    if not cut.plan.joints[0].tenon.keys:
        proven = tuple(check for check in proven if not check.name.startswith("one_seat"))
    return named_for(ring, proven, tenon)
