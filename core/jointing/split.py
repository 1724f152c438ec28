"""Cutting the trued part along stepped surfaces, and closing each piece with its joints.

A joint cuts its bore at the tenon's tip and at the socket's roof, and all else at its seam.
No surface of the part lies between them (the plan saw to that), so
every triangle is cut by known planes only, each edge cut gives one vertex that its
two triangles share, and the new faces run from outline to outline: the pieces are closed
because the part is. Triangles away from joints stay as they were.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..errors import BadSetting
from ..values import (
    BoolArray,
    Collar,
    FloatArray,
    IntArray,
    Joint,
    Mesh,
    Piece,
    Plan,
    Role,
    Settings,
    Survey,
    Tenon,
    TruedPart,
)
from .collar_faces import add_collar_end, collar_mesh
from .face_builder import FaceBuilder
from .joint_faces import add_socket, add_tenon
from .open_ends import CutBores, OpenEnd, find_collar_end, find_open_end
from .pose import stand_on_bed
from .zone_cut import CutPart, cut_part


def build_pieces(
    survey: Survey, trued: TruedPart, plan: Plan, settings: Settings, name: str
) -> tuple[Piece, ...]:
    """The finished pieces, each standing as it prints, from the low end up.

    Raises
    ------
    BadMesh : the part passes through itself at a seam
    BadSetting : a joint around two bores is to go where they were not made true
    CrowdedZone : something besides the bore lies where a joint has to go
    TooWide : a piece does not fit the envelope's floor
    """
    check_buildable(trued, plan, settings)
    part = cut_part(survey, trued, plan.joints)
    ends = (None, *plan.joints, None)
    pieces: list[Piece] = []
    for number, (below, above) in enumerate(pairwise(ends), 1):
        mesh = _Builder(part, survey, trued, settings, number).piece(below, above)
        label = _label(name, pieces)
        pieces.append(stand_on_bed(label, mesh, survey.frame, settings, below, above))
        if above is not None and above.collar is not None:
            ring = collar_mesh(above.collar, above.station, number)
            role: Role = "collar" if above.collar.place == "outside" else "sleeve"
            label = _label(name, pieces)
            pieces.append(stand_on_bed(label, ring, survey.frame, settings, above, None, role))
    return tuple(pieces)


def _label(name: str, before: list[Piece]) -> str:
    return f"{name}-{len(before) + 1:02d}"


def check_buildable(trued: TruedPart, plan: Plan, settings: Settings) -> None:
    """Every joint of a plan can be built on the part as it was trued.

    Raises
    ------
    BadSetting : a joint around two bores, or a collar, is to go where the part was not
        made true
    """
    for joint in plan.joints:
        if joint.collar is not None:
            _check_collar(joint, settings)
        for tenon in joint.tenons:
            _check_generators(trued, tenon, settings)


def _check_collar(joint: Joint, settings: Settings) -> None:
    """The ends under a collar are made anew on the exact surfaces."""
    if settings.true != "both":
        raise BadSetting(
            f"--true {settings.true}, where the joint at station {joint.station:.2f} mm is a "
            f"{joint.kind}",
            "bore and outside made true, for the ends under it are made anew",
            "--true both",
        )


def _check_generators(trued: TruedPart, tenon: Tenon, settings: Settings) -> None:
    """The wall of two bores is made anew along their generators."""
    bare = [number for number in tenon.bores if not len(trued.generators[number])]
    if len(tenon.bores) > 1 and bare:
        raise BadSetting(
            f"--true {settings.true}, which leaves {len(bare)} of {len(tenon.bores)} bores as they "
            f"are where the joint at station {tenon.station:.2f} mm goes around them",
            f"{len(tenon.bores)} true bores for a joint around them",
            "--true bore, or --true both",
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Builder:
    """Makes one piece, closed, in the part frame.

    number : of the piece, from 1, and of the joint above it
    """

    part: CutPart
    survey: Survey
    trued: TruedPart
    settings: Settings
    number: int

    def piece(self, below: Joint | None, above: Joint | None) -> Mesh:
        """The piece between two joints."""
        kept = self.part.kept(below, above)
        builder = FaceBuilder(self.part.vertices)
        if above is not None:
            self._add_end(builder, kept, above, upper=False)
        if below is not None:
            self._add_end(builder, kept, below, upper=True)
        near = np.vstack([self.part.triangles[kept], *builder.faces])
        return _joined(self.part, self.part.kept_away(below, above), builder.vertices, near)

    def _add_end(self, builder: FaceBuilder, kept: BoolArray, joint: Joint, *, upper: bool) -> None:
        if joint.collar is not None:
            self._add_collar_end(builder, kept, joint, joint.collar, upper=upper)
            return
        end = find_open_end(self.part, kept, joint, upper=upper)
        add = self._add_socket if upper else add_tenon
        each = _bores(self.survey, self.trued, joint, end)
        rings = [add(builder, tenon, bores)[::-1] for tenon, bores in each]
        builder.section([*end.section, *rings], up=not upper)

    def _add_socket(self, builder: FaceBuilder, tenon: Tenon, bores: CutBores) -> IntArray:
        wall, settings = self.survey.walls[tenon.wall], self.settings
        return add_socket(builder, tenon, bores, wall, settings.least_wall, settings.mouth_relief)

    def _add_collar_end(
        self,
        builder: FaceBuilder,
        kept: BoolArray,
        joint: Joint,
        collar: Collar,
        *,
        upper: bool,
    ) -> None:
        outer, inner = find_collar_end(self.part, kept, joint, upper=upper)
        least_wall, marks = self.settings.least_wall, self.number - upper
        add_collar_end(builder, outer, inner, collar, joint.station, least_wall, marks, upper=upper)


def _bores(
    survey: Survey, trued: TruedPart, joint: Joint, end: OpenEnd
) -> Iterator[tuple[Tenon, CutBores]]:
    """Each tenon of a joint with its bores."""
    rings = iter(end.bores)
    for tenon in joint.tenons:
        yield (
            tenon,
            CutBores(
                [next(rings) for _ in tenon.bores],
                [survey.bores[number] for number in tenon.bores],
                tuple(trued.generators[number] for number in tenon.bores),
            ),
        )


def _joined(part: CutPart, away: IntArray, vertices: FloatArray, near: IntArray) -> Mesh:
    """Triangles away from joints and those near them as one mesh, of the vertices they use."""
    new = len(part.source) - len(part.home)
    numbers = np.concatenate([part.home, np.arange(len(part.home), len(vertices)) + new])
    triangles = np.vstack([away, numbers[near]])
    used = np.zeros(new + len(vertices), bool)
    used[triangles] = True
    number = np.cumsum(used) - 1
    kept_old, kept_new = used[: len(part.source)], used[len(part.source) :]
    return Mesh(
        np.vstack([part.source[kept_old], vertices[len(part.home) :][kept_new]]),
        number[triangles],
    )
