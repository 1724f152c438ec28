"""Solids with one bore or two, made with manifold3d, and told of by hand.

No survey and no truing: what the builders of pieces get is put together here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from borewright.core.jointing.hull import least_parameter, outline_excess
from borewright.core.jointing.joint_design import turned_along
from borewright.core.jointing.split import build_pieces
from borewright.core.values import (
    BORE,
    OTHER,
    Cut,
    FloatArray,
    Frame,
    Key,
    Mark,
    Mesh,
    Piece,
    Plan,
    RoundSurface,
    Settings,
    Survey,
    Tenon,
    TruedPart,
    WallStretch,
)
from manifold3d import CrossSection, Manifold
from manifold3d import Mesh as ManifoldMesh

from tests.surveys import joint_of

LENGTH = 60.0
SEAM = 25.0
CLEARANCE = 0.15
LEAST_WALL = 0.8
SECOND_RIB = 1.9
"""From the first rib, radians; of two bores that share of the outline."""
NICK_APART, NICK_DEPTH = 3.1, 0.8
"""mm, from the middle of the first rib along the outline, and into the shoulder."""


@dataclass(frozen=True)
class Bore:
    """A bore to be made: radii at both ends of the part, where, and by how many facets."""

    low: float
    high: float
    centre: tuple[float, float] = (0.0, 0.0)
    facets: int = 72

    @property
    def surface(self) -> RoundSurface:
        slope = (self.high - self.low) / LENGTH
        return RoundSurface(self.low, slope, 0.0, LENGTH, self.centre)

    @property
    def generators(self) -> FloatArray:
        angles = 2.0 * math.pi * np.arange(self.facets) / self.facets
        return np.sort(np.mod(angles + math.pi, 2.0 * math.pi) - math.pi)

    def solid(self) -> Manifold:
        """The bore's own room, longer than the part."""
        slope = self.surface.slope
        rod = Manifold.cylinder(LENGTH + 2.0, self.low - slope, self.high + slope, self.facets)
        return rod.translate((*self.centre, -1.0))


@dataclass(frozen=True)
class BoredPart:
    """A solid, its bores, and a tenon of it."""

    solid: Manifold
    bores: tuple[Bore, ...]
    tenon: Tenon
    wall: float

    def survey(self, trued: TruedPart) -> Survey:
        surfaces = tuple(bore.surface for bore in self.bores)
        inner = surfaces[self.tenon.bores[0]]
        outer = RoundSurface(
            inner.radius_at_zero + self.wall, inner.slope, 0.0, LENGTH, inner.offset
        )
        return Survey(
            mesh=trued.mesh,
            labels=trued.labels,
            numbers=trued.numbers,
            frame=Frame(np.zeros(3), np.eye(3)),
            length=LENGTH,
            bores=surfaces,
            outsides=(),
            walls=(WallStretch(self.tenon.bores, inner, outer, 0.0, LENGTH),),
            side_holes=(),
            ornaments=(),
            wall_least=self.wall,
            wall_median=self.wall,
        )

    def trued(self, *, is_true: bool = True) -> TruedPart:
        mesh = as_mesh(self.solid)
        corners = mesh.vertices[mesh.triangles]
        labels = np.full(len(corners), OTHER)
        numbers = np.zeros(len(corners), np.int64)
        for number, bore in enumerate(self.bores):
            arms = corners[:, :, :2] - np.array(bore.centre)
            off = np.hypot(arms[..., 0], arms[..., 1]) - bore.surface.radii_at(corners[..., 2])
            on = (np.abs(off) < 1e-5).all(axis=1) & (np.ptp(corners[..., 2], axis=1) > 1e-6)
            labels[on], numbers[on] = BORE, number
        generators = tuple(bore.generators if is_true else np.empty(0) for bore in self.bores)
        return TruedPart(mesh, labels, generators, len(labels), 0.0, 0.0, numbers)

    def pieces(self, *, is_true: bool = True) -> tuple[Piece, ...]:
        return self.pieces_of(self.trued(is_true=is_true))

    def pieces_of(self, trued: TruedPart) -> tuple[Piece, ...]:
        plan = Plan((Cut(SEAM, (SEAM, SEAM), "as asked"),), (joint_of(self.tenon),))
        settings = Settings((300.0, 300.0, 300.0), least_wall=LEAST_WALL)
        return build_pieces(self.survey(trued), trued, plan, settings, "part")


def bored_part(
    outside: Manifold,
    bores: Sequence[Bore],
    wall: float,
    *,
    around: tuple[int, ...] = (0,),
    key_angle: float = 1.0,
    tenon_wall: float = 1.6,
) -> BoredPart:
    """A solid with bores, and a tenon around some of them.

    wall : mm, that there is around them at the least
    """
    solid = outside
    for bore in bores:
        solid -= bore.solid()
    tenon = tenon_around([bores[k].surface for k in around], around, key_angle, tenon_wall)
    return BoredPart(solid, tuple(bores), tenon, wall)


def tenon_around(
    surfaces: Sequence[RoundSurface],
    around: tuple[int, ...],
    key_angle: float,
    tenon_wall: float = 1.6,
) -> Tenon:
    """A tenon 8 mm up to its tip, with a land of 0.8 mm, two ribs and a nick."""
    tip = SEAM + 8.0
    at_tip = [surface.radius_at(tip) for surface in surfaces]
    centres = np.array([surface.offset for surface in surfaces])
    crest = at_tip[0] - least_parameter(centres, np.array(at_tip))
    widest = max(surface.radius_at(SEAM) - surface.radius_at(tip) for surface in surfaces)
    radius = at_tip[0] + max(widest, 0.0) + tenon_wall
    over = (0.2 + 0.8) / (1.0 + surfaces[0].slope) if len(around) == 1 else 0.2 + 0.8
    bare = Tenon(
        station=SEAM,
        engagement=tip + crest - SEAM,
        tenon_radius=radius,
        socket_radius=radius + CLEARANCE,
        radial_clearance=CLEARANCE,
        land=0.8,
        bore_radius_at_tip=at_tip[0],
        roof_top=tip + crest + over,
        bores=around,
        centres=tuple(surface.offset for surface in surfaces),
        swells=tuple(radius - at_tip[0] for radius in at_tip),
        crest=crest,
        outline_excess=outline_excess(centres, np.array(at_tip)),
    )
    ribs = key_angle, turned_along(bare, key_angle, SECOND_RIB)
    whole = 2.0 * math.pi * radius + bare.outline_excess
    nick = turned_along(bare, key_angle, -2.0 * math.pi * NICK_APART / whole)
    return replace(
        bare,
        keys=tuple(Key(angle, 1.4 / radius, CLEARANCE / radius, 0.5) for angle in ribs),
        marks=(Mark(nick, 0.5 / radius, NICK_DEPTH),),
    )


def as_mesh(solid: Manifold) -> Mesh:
    made = solid.to_mesh64()
    return Mesh(made.vert_properties[:, :3], made.tri_verts.astype(np.int64))


def as_solid(mesh: Mesh) -> Manifold:
    """A piece's mesh as a manifold."""
    made = Manifold(
        ManifoldMesh(mesh.vertices.astype(np.float32), mesh.triangles.astype(np.uint32))
    )
    assert not made.is_empty(), made.status()
    return made


def in_place(piece: Piece) -> Mesh:
    """A piece where it belongs."""
    moved = piece.mesh.vertices @ piece.to_source[:3, :3].T + piece.to_source[:3, 3]
    return Mesh(moved, piece.mesh.triangles)


def prism(section: CrossSection) -> Manifold:
    """As long as the part."""
    return Manifold.extrude(section, LENGTH)


def disc(radius: float, count: int = 200, centre: tuple[float, float] = (0.0, 0.0)) -> CrossSection:
    return CrossSection.circle(radius, count).translate(centre)
