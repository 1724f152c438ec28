"""Parts cut once, their joint built with manifold3d's booleans, by no code of the core.

Tubes, a bore off the part's axis in any outside, and two bores side by side. Only the
sizes of the joint come from the core's design. Tests damage the pieces.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import trimesh
from borewright.core.proving.prove import prove_pieces
from borewright.core.values import (
    Check,
    Cut,
    Frame,
    IntArray,
    Joint,
    Mesh,
    Piece,
    Plan,
    RoundSurface,
    Settings,
    SideHole,
    Survey,
    TruedPart,
)
from manifold3d import CrossSection, Manifold

from tests.bored import Bore
from tests.core.test_capsule_joint import EQUAL, room_solid, tenon_solid, two_bored
from tests.surveys import a_survey, design_joint

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
    joint: Joint
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
        station = self.joint.station
        plan = Plan((Cut(station, (station, station), "as asked"),) * seams, (self.joint,) * seams)
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


def tenon_of(joint: Joint, *, fatter: float = 0.0) -> Manifold:
    """The tenon with a rib or a notch, without its bore."""
    radius, relief = joint.tenon_radius + fatter, joint.key.relief
    land, bottom = joint.bore_radius_at_tip + joint.land, joint.station - 1.0
    reach = radius + relief
    body = turned(
        [
            (0.0, bottom),
            (reach, bottom),
            (reach, joint.tip_height_at(reach)),
            (land, joint.tip),
            (0.0, joint.tip),
        ]
    )
    key = wedge(joint.key.angle, joint.key.half_width, joint.station, joint.tip + 1.0)
    return body - key if joint.key.kind == "notch" else body - (shell(radius, joint) - key)


def socket_of(joint: Joint) -> Manifold:
    """What the socket takes away; scaled so that its facets are tangent."""
    radius, reach = joint.socket_radius, joint.socket_radius + joint.key.relief
    body = turned(
        [
            (0.0, joint.station - 1.0),
            (reach + 1.4, joint.station - 1.0),
            (reach, joint.station + 0.4),
            (reach, joint.roof_height_at(reach)),
            (0.0, joint.roof_height_at(0.0)),
        ]
    )
    lug = joint.key.half_width - joint.key.side_gap
    groove = joint.key.half_width + joint.key.side_gap
    tangent = 1.0 / math.cos(math.pi / SEGMENTS)
    body = body.scale((tangent, tangent, 1.0))
    if joint.key.kind == "notch":
        return body - wedge(joint.key.angle, lug, joint.station, joint.tip + 2.0)
    around = shell(radius, joint, relief=0.4).scale((tangent, tangent, 1.0))
    return body - (around - wedge(joint.key.angle, groove, joint.station - 2.0, joint.tip + 2.0))


def shell(radius: float, joint: Joint, *, relief: float = 0.0) -> Manifold:
    """All beyond a radius from the seam up, its lower inside edge bevelled by `relief`."""
    low = joint.station
    return turned(
        [
            (radius + relief, low),
            (radius + 5.0, low),
            (radius + 5.0, joint.tip + 2.0),
            (radius, joint.tip + 2.0),
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
) -> BuiltJoint:
    """A tube with side holes, cut at SEAM; a thin wall has a notch, a thick one a rib."""
    bore = RoundSurface(BORE_RADIUS, slope, 0.0, LENGTH)
    outside = RoundSurface(outside_radius, slope, 0.0, LENGTH)
    joint = design_joint(bore, outside, SEAM, 10.0, clearance, LEAST_WALL, key_angle)
    part = tube(outside, bore, holes)
    lower, upper = halves(part)
    return BuiltJoint(
        part=part,
        lower=lower + (part ^ tenon_of(joint)),
        upper=upper - socket_of(joint),
        joint=joint,
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
    lower, upper = lower + (part ^ tenon_of(made.joint)), upper - socket_of(made.joint)
    along = (*offset, 0.0)
    return replace(
        made,
        part=part.translate(along),
        lower=lower.translate(along),
        upper=upper.translate(along),
        joint=replace(made.joint, centres=(offset,)),
        bore=replace(made.bore, offset=offset),
        outside=replace(made.outside, offset=offset),
        settings=replace(made.settings, envelope=(60.0, 60.0, 45.0)),
        is_round=False,
    )


def build_two_bored(bores: tuple[Bore, Bore] = EQUAL) -> BuiltJoint:
    """A part with two bores side by side, and one joint around both."""
    made = two_bored(bores)
    surfaces = [bore.surface for bore in made.bores]
    lower, upper = halves(made.solid, made.joint.station)
    return BuiltJoint(
        part=made.solid,
        lower=lower + tenon_solid(made),
        upper=upper - room_solid(made),
        joint=made.joint,
        outside=made.survey(made.trued()).walls[0].outer,
        bore=surfaces[0],
        holes=(),
        settings=Settings(envelope=(60.0, 60.0, 45.0), least_wall=LEAST_WALL),
        bores=tuple(surfaces[1:]),
        is_round=False,
    )
