"""The rings that try a collar: halves of it, for a stub of the tube that it goes over.

At each clearance the whole collar is built and proven, with both ends that it lies over, as in
a part; the ring in the file is its lower half, measured on the stub again.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..jointing.collar_faces import collar_mesh
from ..jointing.pose import stand_on_bed
from ..jointing.split import build_pieces
from ..proving.overlaps import RAYS
from ..proving.piece_checks import pose_checks, surface_checks
from ..proving.prove import prove_pieces
from ..proving.rays import Crossings, cross_rays
from ..proving.section import cut_sections
from ..proving.solid import read_solid
from ..proving.verdicts import between, least
from ..values import LEAD_IN, MOUTH_RELIEF, Check, Collar, Cut, FloatArray, Joint, Mesh, Piece, Plan
from .barred_tube import BarredTube, barred_tube
from .collar_sizes import CollarSizes, collar_sizes
from .half_collar import half_collar
from .trial_rings import WIDE
from .trial_set import (
    CLEARANCE_ERROR,
    PART_FRAME,
    About,
    Envelope,
    FitTrial,
    TrialRing,
    proven_trial,
    set_out,
)
from .tried_joint import TriedCollar

_LEVELS = 5


def collar_trial(tried: TriedCollar, envelope: Envelope | None) -> FitTrial:
    """The proven rings that try a collar.

    Parameters
    ----------
    envelope : mm, that the set has to fit; any where it is None

    Raises
    ------
    BadSetting : the rings would take more plastic than a trial is worth
    TooWide : the set does not fit the envelope
    ProofFailed : a ring breaks a promise
    """
    sizes = collar_sizes(tried)
    tube = barred_tube(
        tried.bore_radius, tried.outer_radius, 2.0 * sizes.station, sizes.station, sizes.bars, 0
    )
    made = _Made(sizes, tube, envelope)
    lower, _, upper = made.pieces(sizes.collar)
    upper = replace(upper, name="other-end")
    wholes = [made.ring(clearance) for clearance in sizes.clearances]
    halves = [made.half(whole, k) for k, whole in enumerate(wholes, 1)]
    base, *pieces = set_out([replace(lower, name="stub"), *halves], envelope)
    rings = tuple(made.told(k, piece) for k, piece in enumerate(pieces, 1))
    checks = [
        check
        for ring, whole in zip(rings, wholes, strict=True)
        for check in made.checks(ring, base, whole, upper)
    ]
    return proven_trial(_about(sizes), base, rings, checks, sizes.outside, envelope)


@dataclass(frozen=True, slots=True, eq=False)
class _Made:
    """A tube, and what is made of it."""

    sizes: CollarSizes
    tube: BarredTube
    envelope: Envelope | None

    def pieces(self, collar: Collar) -> tuple[Piece, ...]:
        """Lower end, collar and upper end."""
        settings = replace(self.sizes.tried.settings, envelope=(WIDE, WIDE, WIDE))
        plan = self._plan(collar)
        return build_pieces(self.tube.survey, self.tube.trued, plan, settings, "whole")

    def _plan(self, collar: Collar) -> Plan:
        seam = self.sizes.station
        joint = Joint("collar", seam, (), collar)
        return Plan((Cut(seam, (seam, seam), "fit trial"),), (joint,))

    def ring(self, clearance: float) -> Mesh:
        """The whole collar of a clearance, in the part frame."""
        return collar_mesh(self.sizes.made_collar_of(clearance), self.sizes.station, 1)

    def half(self, whole: Mesh, number: int) -> Piece:
        """Its lower half with bars, standing."""
        sizes = self.sizes
        mesh = half_collar(whole, sizes.station, sizes.bars, number)
        return self._standing(mesh, f"ring-{number}")

    def _standing(self, mesh: Mesh, name: str) -> Piece:
        settings = replace(self.sizes.tried.settings, envelope=(WIDE, WIDE, WIDE))
        return stand_on_bed(name, mesh, PART_FRAME, settings, None, None, "collar")

    def told(self, number: int, piece: Piece) -> TrialRing:
        """The ring with its sizes."""
        clearance = self.sizes.clearances[number - 1]
        gap = self.sizes.settings_of(clearance).made_clearance
        around = 2.0 * (self.sizes.tried.outer_radius + gap)
        return TrialRing(number, clearance, gap, around, piece)

    def checks(self, ring: TrialRing, stub: Piece, whole: Mesh, upper: Piece) -> list[Check]:
        """Every promise of the whole collar with both ends; then those of its half."""
        settings = self.sizes.settings_of(ring.clearance)
        wide = replace(settings, envelope=(WIDE, WIDE, WIDE))
        pieces = (stub, self._standing(whole, f"whole-{ring.number}"), upper)
        plan = self._plan(self.sizes.collar_of(ring.clearance))
        proven = prove_pieces(self.tube.survey, self.tube.trued, plan, pieces, wide)
        name = ring.piece.name
        every = [
            replace(check, piece=check.piece or name, joint=None)
            for check in proven
            if ring.number == 1 or check.piece not in {stub.name, upper.name}
        ]
        own = replace(settings, envelope=self.envelope or wide.envelope)
        for piece in (ring.piece, stub) if ring.number == 1 else (ring.piece,):
            solid = read_solid(piece, PART_FRAME)
            every += surface_checks(solid, 0)
            every += pose_checks(piece, solid, PART_FRAME, own)
        return [*every, *self._gap_checks(ring, stub)]

    def _gap_checks(self, ring: TrialRing, stub: Piece) -> list[Check]:
        """The half's own gap about the stub, and what the two share."""
        low, high = ring.made_clearance - CLEARANCE_ERROR, ring.made_clearance + CLEARANCE_ERROR
        name = ring.piece.name
        gaps = self._gaps(ring.piece, stub)
        return [
            between("ring_clearance", least(gaps), low, high, piece=name),
            between("ring_clearance", float(np.median(gaps)), low, high, piece=name),
        ]

    def _gaps(self, ring: Piece, stub: Piece) -> FloatArray:
        """Radial gaps, mm, along rays at levels between the ring's bevel and the seam."""
        sizes = self.sizes
        bottom = sizes.station - sizes.collar.reach + MOUTH_RELIEF
        levels = np.linspace(bottom, sizes.station - LEAD_IN, _LEVELS + 2)[1:-1]
        around, within = (read_solid(piece, PART_FRAME).placed for piece in (ring, stub))
        gaps = []
        for level in levels.tolist():
            inner = _rays(around, level).innermost()
            outer = _rays(within, level).outermost()
            gaps.append((inner - outer)[outer > sizes.tried.bore_radius])
        return np.concatenate(gaps)


def _rays(mesh: Mesh, level: float) -> Crossings:
    section = cut_sections(mesh, np.array([level]))
    return cross_rays(section.starts, section.stops, RAYS)


def _about(sizes: CollarSizes) -> About:
    tried, own = sizes.tried, sizes.tried.collar
    diameters = {
        "bore_diameter": 2.0 * tried.bore_radius,
        "outside_diameter": 2.0 * tried.outer_radius,
    }
    return About(
        kind="collar",
        source=tried.source,
        settings=tried.settings,
        within=2.0 * tried.outer_radius,
        key_angles=tuple(lug.angle for lug in own.lugs),
        own={**diameters, "engagement": own.reach, "collar_thickness": own.thickness},
        tried={
            **diameters,
            "engagement": sizes.collar.reach,
            "collar_thickness": sizes.collar_of(tried.settings.clearance).thickness,
        },
        remarks=sizes.remarks,
    )
