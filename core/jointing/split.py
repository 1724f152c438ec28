"""Cutting the trued part along stepped surfaces, and closing each piece with its joints.

A joint cuts its bore at the tenon's tip and at the socket's roof, and all else at its seam.
No surface of the part lies between them (the plan saw to that), so
every triangle is cut by known planes only, each edge cut gives one vertex that its
two triangles share, and the new faces run from outline to outline: the pieces are closed
because the part is. Triangles away from joints stay as they were.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from ..errors import BadSetting
from ..values import (
    FloatArray,
    IntArray,
    Joint,
    Mesh,
    Piece,
    Plan,
    Settings,
    Survey,
    Tenon,
    TruedPart,
)
from .face_builder import FaceBuilder
from .joint_faces import add_socket, add_tenon
from .open_ends import CutBores, OpenEnd, find_open_end
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
    pieces = []
    for number, (below, above) in enumerate(pairwise(ends)):
        mesh = _piece(part, survey, trued, below, above, settings)
        label = f"{name}-{number + 1:02d}"
        pieces.append(stand_on_bed(label, mesh, survey.frame, settings.envelope, below, above))
    return tuple(pieces)


def check_buildable(trued: TruedPart, plan: Plan, settings: Settings) -> None:
    """Every joint of a plan can be built on the part as it was trued.

    Raises
    ------
    BadSetting : a joint around two bores is to go where they were not made true
    """
    for joint in plan.joints:
        for tenon in joint.tenons:
            _check_generators(trued, tenon, settings)


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


def _piece(
    part: CutPart,
    survey: Survey,
    trued: TruedPart,
    below: Joint | None,
    above: Joint | None,
    settings: Settings,
) -> Mesh:
    """One piece, closed, in the part frame."""
    kept = part.kept(below, above)
    builder = FaceBuilder(part.vertices)
    if above is not None:
        end = find_open_end(part, kept, above, upper=False)
        rings = [
            add_tenon(builder, tenon, bores) for tenon, bores in _bores(survey, trued, above, end)
        ]
        builder.section([*end.section, *(ring[::-1] for ring in rings)], up=True)
    if below is not None:
        end = find_open_end(part, kept, below, upper=True)
        rings = [
            add_socket(
                builder,
                tenon,
                bores,
                survey.walls[tenon.wall],
                settings.least_wall,
                settings.mouth_relief,
            )
            for tenon, bores in _bores(survey, trued, below, end)
        ]
        builder.section([*end.section, *(ring[::-1] for ring in rings)], up=False)
    near = np.vstack([part.triangles[kept], *builder.faces])
    return _joined(part, part.kept_away(below, above), builder.vertices, near)


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
