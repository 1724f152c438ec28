"""Every promise measured on the finished pieces, apart from the code that built them.

Only the pieces' meshes answer. The joint, the plan and the survey tell what to look
for and what it is held against.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..errors import ProofFailed
from ..meshes.mesh_checks import enclosed_volume
from ..values import Check, Joint, Piece, Plan, Settings, Survey, TruedPart
from .bore_checks import bore_checks, found_bores
from .collar_checks import collar_checks
from .collar_room import notch_volume
from .collar_slices import EDGE, FinishedCollar
from .group_checks import group_checks, group_middle, parallel_part
from .joint_checks import FinishedTenon, tenon_checks
from .joint_shape import shape_of
from .joint_slices import slice_joint
from .nick_checks import nick_checks
from .own_pattern import MatingEnds, pattern_checks
from .piece_checks import Seam, pose_checks, seam_of, surface_checks, ways_whole
from .solid import Solid, cavity_reaches, euler_number, read_solid, ways_through
from .verdicts import between, exactly

MOST_LENGTH_ERROR = 0.01
"""Assembled length less the part's, mm."""

LEAST_VOLUME_SLACK, VOLUME_SHARE = 0.5, 1e-5
"""Slack of the volume balance: mm3, and the share that float32 takes of a large part."""

JOINT_SLACK = 0.03
"""mm3 for each of many joints: the gap around two tapered bores is summed to 0.022."""


def prove_pieces(
    survey: Survey,
    trued: TruedPart,
    plan: Plan,
    pieces: tuple[Piece, ...],
    settings: Settings,
) -> tuple[Check, ...]:
    """Measure every promise on the finished pieces.

    Where a piece is not closed or not outward its sections would mean nothing: then
    the checks of the surfaces and poses are all.

    Parameters
    ----------
    pieces : from the low end up; one more than the plan has joints, and its collars
    """
    every = [read_solid(piece, survey.frame) for piece in pieces]
    checks: list[Check] = []
    cavities = iter(_cavities(trued, plan))
    for piece, solid in zip(pieces, every, strict=True):
        checks += surface_checks(solid, next(cavities) if piece.role == "piece" else 0)
        checks += pose_checks(piece, solid, survey.frame, settings, plan.lean)
    if not all(solid.is_sound for solid in every):
        return tuple(checks)
    solids = [solid for piece, solid in zip(pieces, every, strict=True) if piece.role == "piece"]
    assert len(solids) == len(plan.joints) + 1
    bores = found_bores(survey, settings)
    rings = iter(solid for piece, solid in zip(pieces, every, strict=True) if piece.role != "piece")
    made = [
        _Made(
            _finished_tenons(survey, trued, plan.joints, number, solids, settings),
            _finished_collar(trued, joint, number, solids, rings),
        )
        for number, joint in enumerate(plan.joints)
    ]
    checks += _part_checks(survey, trued, solids, made, settings)
    seams = [
        Seam(-np.inf),
        *(joint.seam(trued) for joint in made),
        Seam(np.inf),
    ]
    for solid, low, high in zip(solids, seams[:-1], seams[1:], strict=True):
        checks.append(ways_whole(solid, trued.mesh, low, high))
        checks += bore_checks(bores, solid)
    for joint in made:
        for tenon in joint.tenons:
            alone = len(joint.tenons) == 1
            checks += tenon_checks(tenon, bores, survey, settings, alone=alone)
            checks += nick_checks(tenon, _reached(plan, tenon.number), settings)
        if len(joint.tenons) > 1:
            checks += group_checks(joint.tenons, settings)
        if joint.collar is not None:
            checks += collar_checks(joint.collar, settings)
    checks += pattern_checks([joint.ends(settings) for joint in made])
    return tuple(checks)


def _reached(plan: Plan, number: int) -> float:
    """Station up to which the joint below a joint reaches, or the part's low end."""
    return plan.joints[number - 1].zone[1] if number else 0.0


def _cavities(trued: TruedPart, plan: Plan) -> list[int]:
    """How many sealed cavities of the part lie between the seams of each piece."""
    lows, highs = cavity_reaches(trued.mesh).T
    seams = [-np.inf, *(joint.station for joint in plan.joints), np.inf]
    return [int(((lows > low) & (highs < high)).sum()) for low, high in pairwise(seams)]


@dataclass(frozen=True, slots=True, eq=False)
class _Made:
    """A joint as made: its tenons, or its collar."""

    tenons: list[FinishedTenon]
    collar: FinishedCollar | None

    @property
    def gap_volume(self) -> float:
        """Volume, mm3, of the part that neither of the two pieces fills."""
        if self.collar is not None:
            return notch_volume(self.collar)
        return self.tenons[0].gap_volume

    def ends(self, settings: Settings) -> MatingEnds:
        """What of it must meet no other joint's."""
        if self.collar is not None:
            flank = min(lug.flank for lug in self.collar.collar.lugs)
            made, heights = self.collar, (EDGE, flank)
            return MatingEnds(made.ring, made.upper, made.station, made.centre, heights)
        first = self.tenons[0]
        return MatingEnds(
            first.lower,
            first.upper,
            first.tenon.station,
            group_middle(self.tenons),
            parallel_part(self.tenons, settings),
        )

    def seam(self, trued: TruedPart) -> Seam:
        """The seam, around all bores that its tenons run around."""
        if self.collar is not None:
            centre = np.array([self.collar.collar.inner.offset])
            return seam_of(trued.mesh, self.collar.mouth, centre)
        centres = [tenon.shape.centres for tenon in self.tenons if tenon.shape.bores]
        return seam_of(trued.mesh, self.tenons[0].mouth, np.vstack([np.empty((0, 2)), *centres]))


def _finished_tenons(
    survey: Survey,
    trued: TruedPart,
    joints: tuple[Joint, ...],
    number: int,
    solids: list[Solid],
    settings: Settings,
) -> list[FinishedTenon]:
    lower, upper = solids[number].placed, solids[number + 1].placed
    joint = joints[number]
    made = []
    for tenon in joint.tenons:
        shape = shape_of(tenon, survey)
        slices = slice_joint(trued.mesh, lower, upper, shape, settings.mouth_relief, joint.zone[1])
        made.append(FinishedTenon(number, shape, lower, upper, slices))
    return made


def _finished_collar(
    trued: TruedPart, joint: Joint, number: int, solids: list[Solid], rings: Iterator[Solid]
) -> FinishedCollar | None:
    if joint.collar is None:
        return None
    lower, upper = solids[number].placed, solids[number + 1].placed
    ring = next(rings).placed
    return FinishedCollar(number, joint.collar, joint.station, trued.mesh, lower, upper, ring)


def _part_checks(
    survey: Survey,
    trued: TruedPart,
    solids: list[Solid],
    made: list[_Made],
    settings: Settings,
) -> list[Check]:
    """Assembled length, volume balance, and the openings that truing had to keep.

    Trued ends are flat and the survey tells what reaches past them; ends left as
    found keep their highest and lowest points.
    """
    stations = np.concatenate([solid.placed.vertices[:, 2] for solid in solids])
    low, high = survey.ends(settings)
    due = np.ptp(survey.mesh.vertices[:, 2]) if settings.true == "none" else high - low
    volume = enclosed_volume(trued.mesh)
    accounted = sum(solid.volume for solid in solids) + sum(joint.gap_volume for joint in made)
    slack = max(LEAST_VOLUME_SLACK, JOINT_SLACK * len(made), VOLUME_SHARE * volume)
    shells = 1 + len(cavity_reaches(trued.mesh))
    ways = [ways_through(euler_number(mesh), shells) for mesh in (trued.mesh, survey.mesh)]
    return [
        between("assembled_length", np.ptp(stations) - due, -MOST_LENGTH_ERROR, MOST_LENGTH_ERROR),
        between("volume_balance", accounted - volume, -slack, slack),
        exactly("ways_through", *ways),
    ]


def check_proofs(checks: tuple[Check, ...]) -> None:
    """Refuse pieces that break a promise.

    Raises
    ------
    ProofFailed : each failed check with its value and its limit
    """
    failed = [check for check in checks if not check.ok]
    if failed:
        raise ProofFailed(
            f"{len(failed)} of {len(checks)} proofs failed: {'; '.join(map(_told, failed))}",
            "every proof within its limit, 0 failed",
            "another --clearance or --engagement, or a --cut elsewhere; and report this part, for "
            "pieces that are planned and built should prove",
        )


def _told(check: Check) -> str:
    place = f" of {check.piece}" if check.piece is not None else ""
    place += f" of joint {check.joint}" if check.joint is not None else ""
    limit = check.limit
    held = f"{limit[0]:.6g} to {limit[1]:.6g}" if isinstance(limit, tuple) else f"{limit:.6g}"
    return f"{check.name}{place} is {check.value:.6g}, limit {held}"
