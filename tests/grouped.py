"""Parts cut by joints of several tenons: built by the core, measured with booleans.

Solids are made with manifold3d and told of by hand: no survey, no truing, no planner. What
is measured on the pieces are sections and booleans of their files, by no code of the core.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from borewright.core.jointing.each_design import each_on
from borewright.core.jointing.each_line import EachLine, each_line
from borewright.core.jointing.joint_design import CutPlace
from borewright.core.jointing.pins_design import pins_on
from borewright.core.jointing.pins_line import PinsLine
from borewright.core.jointing.split import build_pieces
from borewright.core.jointing.wall_run import runs_beside, wall_runs
from borewright.core.proving.prove import prove_pieces
from borewright.core.values import (
    BORE,
    OTHER,
    Check,
    Cut,
    FloatArray,
    Joint,
    Mesh,
    Piece,
    Plan,
    RoundSurface,
    Settings,
    Survey,
    TruedPart,
    WallStretch,
)
from manifold3d import CrossSection, JoinType, Manifold, Mesh64

from tests.built_joint import as_mesh, as_piece, posed_frame

LENGTH = 200.0
SEAMS = (50.0, 100.0, 150.0)
KEY_ANGLE = 0.4
FACETS = 120
SETTINGS = Settings((300.0, 300.0, 300.0))


@dataclass(frozen=True, eq=False)
class Section:
    """The section of a prism, its bores left out, and what a survey would tell of it.

    outer : mm, the widest disc about each bore's centre, or the middle
    """

    outline: CrossSection
    bores: tuple[RoundSurface, ...]
    outer: tuple[float, ...]


def round_section(width: float, bore: float | None = None) -> Section:
    """A round bar, or a tube."""
    surfaces = () if bore is None else (RoundSurface(bore / 2.0, 0.0, 0.0, LENGTH),)
    inscribed = width / 2.0 * math.cos(math.pi / FACETS)
    return Section(CrossSection.circle(width / 2.0, FACETS), surfaces, (inscribed,))


def square_section(width: float) -> Section:
    return Section(CrossSection.square((width, width), center=True), (), (width / 2.0,))


def twin_section(radii: tuple[float, float], apart: float, wall: float, body: str) -> Section:
    """Two bores side by side: in tubes that run into each other or a neck, or in one body."""
    centres = ((-apart / 2.0, 0.0), (apart / 2.0, 0.0))
    pairs = list(zip(radii, centres, strict=True))
    tubes = [CrossSection.circle(radius + wall, FACETS).translate(at) for radius, at in pairs]
    neck = CrossSection.square((apart, 4.0), center=True)
    outline = CrossSection.batch_hull(tubes) if body == "oval" else tubes[0] + tubes[1] + neck
    bores = tuple(RoundSurface(radius, 0.0, 0.0, LENGTH, at) for radius, at in pairs)
    held = (math.cos(math.pi / FACETS) * (radius + wall) for radius in radii)
    clear = (apart - radius for radius in radii[::-1])
    return Section(outline, bores, tuple(map(min, held, clear)))


@dataclass(frozen=True, eq=False)
class GroupedPart:
    """A prism, what is known of it, and the joints that cut it."""

    section: Section
    solid: Manifold
    survey: Survey
    joints: tuple[Joint, ...]
    settings: Settings = SETTINGS

    @cached_property
    def trued(self) -> TruedPart:
        mesh, survey = self.survey.mesh, self.survey
        turn = 2.0 * math.pi / FACETS
        generators = tuple(
            np.sort(np.mod(turn * np.arange(FACETS) + math.pi, 2.0 * math.pi) - math.pi)
            for _ in survey.bores
        )
        count = len(mesh.triangles)
        return TruedPart(mesh, survey.labels, generators, count, 0.0, 0.0, survey.numbers)

    @cached_property
    def plan(self) -> Plan:
        cuts = [Cut(joint.station, (joint.station, joint.station), "") for joint in self.joints]
        return Plan(tuple(cuts), self.joints)

    @cached_property
    def pieces(self) -> tuple[Piece, ...]:
        return build_pieces(self.survey, self.trued, self.plan, self.settings, "part")

    @cached_property
    def placed(self) -> tuple[Manifold, ...]:
        """The pieces where they belong in the part frame."""
        return tuple(self.as_placed(piece) for piece in self.pieces)

    def as_placed(self, piece: Piece) -> Manifold:
        moved = piece.mesh.vertices @ piece.to_source[:3, :3].T + piece.to_source[:3, 3]
        made = Manifold(
            Mesh64(self.survey.frame.to_part(moved), piece.mesh.triangles.astype(np.uint64))
        )
        assert not made.is_empty(), made.status()
        return made

    @cached_property
    def checks(self) -> dict[str, list[Check]]:
        return self.prove(self.pieces)

    def prove(self, pieces: Sequence[Piece]) -> dict[str, list[Check]]:
        named: dict[str, list[Check]] = {}
        proofs = prove_pieces(self.survey, self.trued, self.plan, tuple(pieces), self.settings)
        for check in proofs:
            named.setdefault(check.name, []).append(check)
        return named

    def prove_damaged(self, number: int, damaged: Manifold) -> set[str]:
        """Names of the checks that fail with one of the pieces damaged."""
        pieces = list(self.pieces)
        pieces[number] = replace(pieces[number], **_stored(damaged))
        named = self.prove(pieces)
        return {name for name, checks in named.items() if not all(check.ok for check in checks)}


def _stored(solid: Manifold) -> dict[str, object]:
    piece = as_piece("damaged", solid)
    return {"mesh": piece.mesh, "to_source": piece.to_source}


def a_part(section: Section, joints: Sequence[Joint] = ()) -> GroupedPart:
    """A part of a section, without or with joints."""
    solid = Manifold.extrude(section.outline, LENGTH)
    for bore in section.bores:
        rod = Manifold.cylinder(LENGTH + 2.0, bore.radius_at_zero, circular_segments=FACETS)
        solid -= rod.translate((*bore.offset, -1.0))
    return GroupedPart(section, solid, _survey(section, as_mesh(solid)), tuple(joints))


def _survey(section: Section, mesh: Mesh) -> Survey:
    corners = mesh.vertices[mesh.triangles]
    labels, numbers = np.full(len(corners), OTHER), np.zeros(len(corners), np.int64)
    for number, bore in enumerate(section.bores):
        arms = corners[..., :2] - np.array(bore.offset)
        off = np.abs(np.hypot(arms[..., 0], arms[..., 1]) - bore.radius_at_zero)
        on = (off < 1e-6).all(axis=1) & (np.ptp(corners[..., 2], axis=1) > 1.0)
        labels[on], numbers[on] = BORE, number
    whole = [WallStretch((), None, RoundSurface(section.outer[0], 0.0, 0.0, LENGTH), 0.0, LENGTH)]
    around = [
        WallStretch(
            (number,), bore, RoundSurface(outer, 0.0, 0.0, LENGTH, bore.offset), 0.0, LENGTH
        )
        for number, (bore, outer) in enumerate(zip(section.bores, section.outer, strict=False))
    ]
    return Survey(
        mesh=mesh,
        labels=labels,
        numbers=numbers,
        frame=posed_frame(),
        length=LENGTH,
        bores=section.bores,
        outsides=(),
        walls=tuple(around or whole),
        side_holes=(),
        ornaments=(),
        wall_least=1.0,
        wall_median=1.0,
    )


def pinned(
    section: Section, engagement: float, *, same: bool = False, seams: Sequence[float] = SEAMS
) -> GroupedPart:
    """A part cut by joints of pins; `same`: every cut has the first one's pattern."""
    part = a_part(section)
    line = pins_line(part.survey, engagement)
    joints = [
        Joint("pins", station, pins_on(line, station, a_place(number, len(seams), same=same)))
        for number, station in enumerate(seams)
    ]
    return replace(part, joints=tuple(joints))


def ringed(
    section: Section,
    engagement: float,
    *,
    same: bool = False,
    settings: Settings = SETTINGS,
    seams: Sequence[float] = SEAMS,
) -> GroupedPart:
    """A part cut by joints of two rings."""
    part = a_part(section)
    line = rings_line(part.survey, engagement, settings)
    joints = [
        Joint("tenon", station, each_on(line, station, a_place(number, len(seams), same=same)))
        for number, station in enumerate(seams)
    ]
    return replace(part, joints=tuple(joints), settings=settings)


def a_place(number: int, count: int, *, same: bool) -> CutPlace:
    return CutPlace(0 if same else number, count, KEY_ANGLE)


def pins_line(survey: Survey, engagement: float) -> PinsLine:
    (run,) = wall_runs(survey)
    return PinsLine(run, engagement, SETTINGS.made_clearance, SETTINGS.least_wall)


def rings_line(survey: Survey, engagement: float, settings: Settings = SETTINGS) -> EachLine:
    ((first, second),) = runs_beside(survey)
    return each_line(first, second, engagement, settings.made_clearance, settings.least_wall)


# --- measures by booleans ----------------------------------------------------------------


def slab(solid: Manifold, low: float, high: float) -> Manifold:
    """What of a solid lies between two stations."""
    return solid.trim_by_plane((0.0, 0.0, 1.0), low).trim_by_plane((0.0, 0.0, -1.0), -high)


def least_distance(one: CrossSection, other: CrossSection) -> float:
    """Between two sections that share nothing, mm: from corners of either to edges of the other."""
    assert (one ^ other).area() < 1e-9
    return min(_to_edges(one, other), _to_edges(other, one))


def _to_edges(one: CrossSection, other: CrossSection) -> float:
    points = np.vstack(one.to_polygons())
    starts = np.vstack(other.to_polygons())
    along = np.vstack([np.roll(ring, -1, axis=0) - ring for ring in other.to_polygons()])
    arms = points[:, None] - starts[None]
    square = np.maximum((along**2).sum(axis=1), 1e-30)
    share = np.clip((arms * along).sum(axis=2) / square, 0.0, 1.0)
    return float(np.linalg.norm(arms - share[..., None] * along, axis=2).min())


def free_turns(
    lower: CrossSection,
    upper: CrossSection,
    middle: tuple[float, float],
    turns_deg: FloatArray,
    depth: float = 0.05,
) -> FloatArray:
    """The turns of the lower section about a middle at which it keeps out of the upper one.

    depth : mm, that the lower one gives way all around
    """
    back = (-middle[0], -middle[1])
    pressed = lower.offset(-depth, JoinType.Round, circular_segments=64).translate(back)
    still = upper.translate(back)
    free = [turn for turn in turns_deg.tolist() if (pressed.rotate(turn) ^ still).area() < 1e-6]
    return np.array(free)


def steepest_down_deg(piece: Manifold, low: float, high: float) -> float:
    """Greatest angle from vertical of faces between two stations that look down."""
    mesh = as_mesh(piece)
    corners = mesh.vertices[mesh.triangles]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normals, axis=1)
    z = corners[..., 2]
    seen = (size > 1e-4) & (z.min(axis=1) >= low) & (z.max(axis=1) <= high)
    down = -normals[seen, 2] / size[seen]
    return float(np.degrees(np.arcsin(down.max(initial=0.0))))
