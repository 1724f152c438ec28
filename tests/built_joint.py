"""Parts cut once, their joint built with manifold3d's booleans, by no code of the core.

Tubes, a bore off the part's axis in any outside, and two bores side by side. Only the
sizes of the joint come from the core's design. Tests damage the pieces.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import trimesh
from borewright.core.proving.prove import prove_pieces
from borewright.core.values import (
    Check,
    Cut,
    Frame,
    IntArray,
    Mesh,
    Piece,
    Plan,
    RoundSurface,
    Settings,
    SideHole,
    Survey,
    Tenon,
    TruedPart,
)
from manifold3d import CrossSection, Manifold, OpType

from tests.bored import Bore
from tests.core.test_capsule_joint import EQUAL, room_solid, tenon_solid, two_bored
from tests.surveys import a_survey, design_tenon, joint_of

SEGMENTS = 160
LENGTH = 60.0
SEAM = 30.0
BORE_RADIUS = 7.9
HOLE_RADIUS = 3.0
LEAST_WALL = 0.8
SLIVER = 2e-5
"""Edges of the booleans this short, mm, would collapse in float32; they go before."""


@dataclass(frozen=True)
class BuiltJoint:
    """Part and pieces as manifolds in the part frame, and the values that tell of them.

    outside : of a part whose outside is round about its bore, or what its wall holds
    bores : further ones
    """

    part: Manifold
    lower: Manifold
    upper: Manifold
    tenon: Tenon
    outside: RoundSurface
    bore: RoundSurface
    holes: tuple[float, ...]
    settings: Settings
    bores: tuple[RoundSurface, ...] = ()
    is_round: bool = True

    def pieces(self) -> tuple[Piece, ...]:
        """Both pieces as their files hold them."""
        return as_piece("pipe-01", self.lower), as_piece("pipe-02", self.upper)

    def checks(self) -> dict[str, list[Check]]:
        """Every check of the pieces by its name."""
        return self.prove(self.pieces())

    def prove(
        self,
        pieces: tuple[Piece, ...],
        *,
        trued: Manifold | None = None,
        survey: Survey | None = None,
    ) -> dict[str, list[Check]]:
        """The checks by name, of pieces of one's own."""
        mesh = as_mesh(trued or self.part)
        kept = TruedPart(mesh, labels_of(mesh), (np.empty(0),), len(mesh.triangles), 0.0)
        seams = len(pieces) - 1
        station = self.tenon.station
        joint = joint_of(self.tenon)
        plan = Plan((Cut(station, (station, station), "as asked"),) * seams, (joint,) * seams)
        named: dict[str, list[Check]] = {}
        for check in prove_pieces(survey or self.survey(), kept, plan, pieces, self.settings):
            named.setdefault(check.name, []).append(check)
        return named

    def survey(self) -> Survey:
        """What a survey would tell of the part."""
        mesh = as_mesh(self.part)
        survey = a_survey(
            mesh=mesh,
            labels=labels_of(mesh),
            frame=posed_frame(),
            length=LENGTH,
            bore=self.bore,
            outside=self.outside,
            side_holes=tuple(side_hole(station) for station in self.holes),
            ornaments=(),
            wall_least=3.0,
            wall_median=3.0,
        )
        outsides = survey.outsides if self.is_round else ()
        return replace(survey, bores=(self.bore, *self.bores), outsides=outsides)


def labels_of(mesh: Mesh) -> IntArray:
    return np.zeros(len(mesh.triangles), np.int64)


def side_hole(station: float) -> SideHole:
    return SideHole(
        station=station,
        angle=0.0,
        axial_width=2.0 * HOLE_RADIUS,
        across_width=2.0 * HOLE_RADIUS,
        low=station - HOLE_RADIUS,
        high=station + HOLE_RADIUS,
    )


def posed_frame() -> Frame:
    """A frame turned and shifted in no special way."""
    turn = trimesh.transformations.rotation_matrix(1.1, [0.3, -0.5, 0.8])[:3, :3]
    return Frame(np.array([12.5, -40.25, 7.75]), np.ascontiguousarray(turn))


def as_mesh(solid: Manifold) -> Mesh:
    mesh = solid.to_mesh64()
    return Mesh(np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts))


def as_piece(name: str, solid: Manifold) -> Piece:
    """Stand a manifold of the part frame on the bed, in float32 as a file holds it.

    Slivers of the booleans that float32 collapses are left out, as an exporter would.
    """
    mesh = as_mesh(solid.simplify(SLIVER))
    corner = mesh.vertices.min(axis=0)
    stored = (mesh.vertices - corner).astype(np.float32)
    vertices, number = np.unique(stored, axis=0, return_inverse=True)
    triangles = number.reshape(-1)[mesh.triangles]
    a, b, c = triangles.T
    frame = posed_frame()
    motion = np.eye(4)
    motion[:3, :3] = frame.rows.T
    motion[:3, 3] = frame.to_source(corner[None])[0]
    top = float(mesh.vertices[:, 2].max())
    kept = Mesh(vertices.astype(np.float64), triangles[(a != b) & (b != c) & (c != a)])
    return Piece(name, kept, motion, float(corner[2]), top)


def turned(profile: list[tuple[float, float]]) -> Manifold:
    """A solid of revolution about z through (radius, station) points, vertices on them."""
    return Manifold.revolve(CrossSection([np.array(profile)]), SEGMENTS)


def wedge(angle: float, half_width: float, low: float, high: float) -> Manifold:
    """A sector of a disc of radius 50 between two stations."""
    ends = [
        (50.0 * math.cos(angle + k), 50.0 * math.sin(angle + k)) for k in (-half_width, half_width)
    ]
    sector = CrossSection([np.array([(0.0, 0.0), *ends])])
    return Manifold.extrude(sector, high - low).translate((0.0, 0.0, low))


def tube(outside: RoundSurface, bore: RoundSurface, holes: tuple[float, ...]) -> Manifold:
    ring = [
        (bore.radius_at(0.0), 0.0),
        (outside.radius_at(0.0), 0.0),
        (outside.radius_at(LENGTH), LENGTH),
        (bore.radius_at(LENGTH), LENGTH),
    ]
    part = turned(ring)
    for station in holes:
        drill = Manifold.cylinder(30.0, HOLE_RADIUS, circular_segments=48)
        part -= drill.rotate((0.0, 90.0, 0.0)).translate((0.0, 0.0, station))
    return part


def tenon_of(tenon: Tenon, *, fatter: float = 0.0) -> Manifold:
    """The tenon with its ribs, without its bore."""
    radius, relief = tenon.tenon_radius + fatter, tenon.relief
    land, bottom = tenon.bore_radius_at_tip + tenon.land, tenon.station - 1.0
    reach = radius + relief
    body = turned(
        [
            (0.0, bottom),
            (reach, bottom),
            (reach, tenon.tip_height_at(reach)),
            (land, tenon.tip),
            (0.0, tenon.tip),
        ]
    )
    return body - (shell(radius, tenon) - sectors(tenon, 0.0, tenon.station, tenon.tip + 1.0))


def socket_of(tenon: Tenon) -> Manifold:
    """What the socket takes away; scaled so that its facets are tangent."""
    radius, reach = tenon.socket_radius, tenon.reach
    body = turned(
        [
            (0.0, tenon.station - 1.0),
            (reach + 1.4, tenon.station - 1.0),
            (reach, tenon.station + 0.4),
            (reach, tenon.roof_height_at(reach)),
            (0.0, tenon.roof_height_at(0.0)),
        ]
    )
    tangent = 1.0 / math.cos(math.pi / SEGMENTS)
    body = body.scale((tangent, tangent, 1.0))
    around = shell(radius, tenon, relief=0.4).scale((tangent, tangent, 1.0))
    grooves = sectors(tenon, 1.0, tenon.station - 2.0, tenon.tip + 2.0)
    nicks = mouth_nicks(tenon).scale((tangent, tangent, 1.0))
    return body - (around - grooves) + nicks


def sectors(tenon: Tenon, gaps: float, low: float, high: float) -> Manifold:
    """Where the tenon's ribs are, with so many of their gaps on either flank."""
    ribs = [wedge(key.angle, key.half_width + gaps * key.side_gap, low, high) for key in tenon.keys]
    return Manifold.batch_boolean(ribs, OpType.Add)


def root_nicks(tenon: Tenon) -> Manifold:
    """The witness marks in the shoulder: 45 degrees down to the tenon's root."""
    radius, seam = tenon.tenon_radius, tenon.station
    return _nicks(
        tenon,
        lambda deep: [
            (radius, seam - deep),
            (radius + deep + 1.0, seam + 1.0),
            (radius, seam + 1.0),
        ],
    )


def mouth_nicks(tenon: Tenon) -> Manifold:
    """The witness marks in the socket's mouth: 45 degrees up to its wall."""
    low, inner = tenon.station - 1.0, tenon.socket_radius - 1.0
    return _nicks(
        tenon, lambda deep: [(inner, low), (inner + deep + 2.0, low), (inner, low + deep + 2.0)]
    )


def _nicks(tenon: Tenon, profile: Callable[[float], list[tuple[float, float]]]) -> Manifold:
    nicks = Manifold()
    for mark in tenon.marks:
        column = wedge(mark.angle, mark.half_width, tenon.station - 3.0, tenon.station + 3.0)
        nicks += turned(profile(mark.depth)) ^ column
    return nicks


def shell(radius: float, tenon: Tenon, *, relief: float = 0.0) -> Manifold:
    """All beyond a radius from the seam up, its lower inside edge bevelled by `relief`."""
    low = tenon.station
    return turned(
        [
            (radius + relief, low),
            (radius + 5.0, low),
            (radius + 5.0, tenon.tip + 2.0),
            (radius, tenon.tip + 2.0),
            (radius, low + relief),
        ]
    )


def halves(part: Manifold, seam: float = SEAM) -> tuple[Manifold, Manifold]:
    upper, lower = part.split_by_plane((0.0, 0.0, 1.0), seam)
    return lower, upper


def build_joint(
    outside_radius: float = 11.6,
    holes: tuple[float, ...] = (20.0, 50.0),
    *,
    slope: float = 0.0,
    clearance: float = 0.15,
    key_angle: float = 2.0,
    number: int = 0,
) -> BuiltJoint:
    """A tube with side holes, cut at SEAM."""
    bore = RoundSurface(BORE_RADIUS, slope, 0.0, LENGTH)
    outside = RoundSurface(outside_radius, slope, 0.0, LENGTH)
    tenon = design_tenon(
        bore, outside, SEAM, 10.0, clearance, LEAST_WALL, key_angle, number=number, count=3
    )
    part = tube(outside, bore, holes)
    lower, upper = halves(part)
    return BuiltJoint(
        part=part,
        lower=lower + (part ^ tenon_of(tenon)) - root_nicks(tenon),
        upper=upper - socket_of(tenon),
        tenon=tenon,
        outside=outside,
        bore=bore,
        holes=holes,
        settings=Settings(envelope=(30.0, 30.0, 45.0), clearance=clearance, least_wall=LEAST_WALL),
    )


def build_off_axis(
    section: CrossSection,
    wall: float,
    offset: tuple[float, float],
    *,
    holes: tuple[float, ...] = (20.0, 50.0),
) -> BuiltJoint:
    """A part of any section with its bore, and joint, about a line off the part's axis.

    section : about the bore
    wall : mm, that the section holds around the bore at the least
    """
    made = build_joint(BORE_RADIUS + wall, holes)
    part = Manifold.extrude(section, LENGTH) - turned(
        [(0.0, -1.0), (BORE_RADIUS, -1.0), (BORE_RADIUS, LENGTH + 1.0), (0.0, LENGTH + 1.0)]
    )
    for station in holes:
        drill = Manifold.cylinder(30.0, HOLE_RADIUS, circular_segments=48)
        part -= drill.rotate((0.0, 90.0, 0.0)).translate((0.0, 0.0, station))
    lower, upper = halves(part)
    lower = lower + (part ^ tenon_of(made.tenon)) - root_nicks(made.tenon)
    upper -= socket_of(made.tenon)
    along = (*offset, 0.0)
    return replace(
        made,
        part=part.translate(along),
        lower=lower.translate(along),
        upper=upper.translate(along),
        tenon=replace(made.tenon, centres=(offset,)),
        bore=replace(made.bore, offset=offset),
        outside=replace(made.outside, offset=offset),
        settings=replace(made.settings, envelope=(60.0, 60.0, 45.0)),
        is_round=False,
    )


def build_two_bored(bores: tuple[Bore, Bore] = EQUAL) -> BuiltJoint:
    """A part with two bores side by side, and one tenon around both."""
    made = two_bored(bores)
    surfaces = [bore.surface for bore in made.bores]
    lower, upper = halves(made.solid, made.tenon.station)
    return BuiltJoint(
        part=made.solid,
        lower=lower + tenon_solid(made),
        upper=upper - room_solid(made),
        tenon=made.tenon,
        outside=made.survey(made.trued()).walls[0].outer,
        bore=surfaces[0],
        holes=(),
        settings=Settings(envelope=(60.0, 60.0, 45.0), least_wall=LEAST_WALL),
        bores=tuple(surfaces[1:]),
        is_round=False,
    )
