"""The values that pass between the stages.

Every length is a millimetre and every angle a radian; a quantity that departs
from this carries its unit in its name. From the survey on, coordinates are in
the *part frame*: z is the station (0 at the low end, growing along the axis),
x is the reference direction and y its left-hand normal, so that atan2(y, x) is
the angle of the contract. `Frame` leads back to the source's coordinates.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

CHORD_TOLERANCE = 0.005
"""Greatest distance from a facet of ours to the true surface, mm."""

FACET_ALLOWANCE = 0.02
"""Wall kept over the least wall, mm, so that facets cannot eat into it."""

AXIAL_GAP = 0.2
"""Axial gap over the tenon's tip, mm, where glue goes and shoulders meet first."""

LEAD_IN = 0.5
"""Least width of the 45 degree bevel at the tenon's tip, mm."""

MOUTH_RELIEF = 0.4
"""45 degree bevel at the socket mouth's inside edge, mm, for the first layer's bulge."""

KEY_RELIEF = 0.5
"""How far a key rib stands out of its tenon, mm, at the least."""

ROUND_OFF = 0.001
"""A vertex this near to a surface, mm, is on it, however small max-move is."""

FIT_SLACK = 0.002
"""How far a piece may pass the envelope, mm: STL's float32 cannot hold less at 1 m."""


def read_only(array: NDArray[np.generic]) -> None:
    """Make an array of a frozen value refuse writes."""
    array.setflags(write=False)


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles of one surface.

    vertices : (n, 3) float, mm
    triangles : (m, 3) int, counter-clockwise seen from outside
    """

    vertices: FloatArray
    triangles: IntArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "vertices", np.ascontiguousarray(self.vertices, np.float64))
        object.__setattr__(self, "triangles", np.ascontiguousarray(self.triangles, np.int64))
        assert self.vertices.ndim == 2 and self.vertices.shape[1] == 3
        assert self.triangles.ndim == 2 and self.triangles.shape[1] == 3
        read_only(self.vertices)
        read_only(self.triangles)


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """Where the part lies in the source's coordinates.

    origin : (3,) mm, the point of the axis at station 0
    rows : (3, 3), unit rows: reference, left-hand normal, axis direction
    """

    origin: FloatArray
    rows: FloatArray

    def __post_init__(self) -> None:
        assert np.allclose(self.rows @ self.rows.T, np.eye(3), atol=1e-9)
        read_only(self.origin)
        read_only(self.rows)

    def to_part(self, points: FloatArray) -> FloatArray:
        """(n, 3) mm, source coordinates to part frame."""
        moved: FloatArray = (points - self.origin) @ self.rows.T
        return moved

    def to_source(self, points: FloatArray) -> FloatArray:
        """(n, 3) mm, part frame to source coordinates."""
        moved: FloatArray = points @ self.rows + self.origin
        return moved


@dataclass(frozen=True, slots=True)
class RoundSurface:
    """A cylinder or cone about a line parallel to the part's axis.

    The radius at station z is ``radius_at_zero + slope * z``.

    start, stop : stations of the stretch that it covers
    offset : (x, y) mm, of its centre line from the part's axis
    rms : mm, of the distances of the vertices used from the surface
    sagitta : mm, how far inside its radius the surface may lie, between the
        vertices of coarse facets; 0 where it is, or will be, trued
    """

    radius_at_zero: float
    slope: float
    start: float
    stop: float
    offset: tuple[float, float] = (0.0, 0.0)
    rms: float = 0.0
    sagitta: float = 0.0

    def __post_init__(self) -> None:
        assert self.start < self.stop
        assert min(self.radius_at(self.start), self.radius_at(self.stop)) > 0.0

    def radius_at(self, station: float) -> float:
        """Radius, mm, at a station."""
        return self.radius_at_zero + self.slope * station

    def radii_at(self, stations: FloatArray) -> FloatArray:
        """Radii, mm, at many stations."""
        radii: FloatArray = self.radius_at_zero + self.slope * stations
        return radii

    @property
    def held_about_axis(self) -> RoundSurface:
        """The widest surface about the part's axis that lies in this one; it needs to hold it."""
        if self.offset == (0.0, 0.0):
            return self
        return replace(
            self, radius_at_zero=self.radius_at_zero - self.eccentricity, offset=(0.0, 0.0)
        )

    @property
    def eccentricity(self) -> float:
        """Distance, mm, of the centre line from the part's axis."""
        return float(np.hypot(*self.offset))


@dataclass(frozen=True, slots=True)
class WallStretch:
    """A stretch of the part where joints may go: round inside or solid, and wall up to `outer`.

    bores : which of the survey's bores a joint's footprint runs around, the first of
        them being `inner`; none where the part is solid
    inner : that bore; None where the part is solid
    outer : nothing but wall lies between the bores and this surface: the round outside,
        or the widest that the section holds about the bore's own centre line. With
        several bores it stands for the outline around discs about their centre lines,
        each wider than its bore by as much as `outer` is wider than `inner`. Where the
        part is solid: the widest about the part's own axis that the section holds.
    start, stop : stations
    """

    bores: tuple[int, ...]
    inner: RoundSurface | None
    outer: RoundSurface
    start: float
    stop: float

    def __post_init__(self) -> None:
        assert self.start < self.stop
        assert bool(self.bores) == (self.inner is not None)

    @property
    def bore(self) -> RoundSurface:
        """`inner`, of a stretch that is not solid."""
        assert self.inner is not None
        return self.inner


@dataclass(frozen=True, slots=True)
class HoleWall:
    """The cylinder that the wall of a round side hole follows, in the part frame.

    point : (x, y, z) mm, where its centre line meets the outside
    direction : unit vector along the centre line, outward
    """

    point: tuple[float, float, float]
    direction: tuple[float, float, float]
    radius: float

    def __post_init__(self) -> None:
        assert self.radius > 0.0
        assert abs(math.hypot(*self.direction) - 1.0) < 1e-9


@dataclass(frozen=True, slots=True)
class SideHole:
    """A hole through the wall, from the outside into the bore.

    station : where its centre line meets the outside
    angle : radians about the axis, in (-pi, pi]
    axial_width, across_width : mm at the outside, along and across the axis
    low, high : stations between which every edge of it lies, inside and outside
    bore : which of the survey's bores it opens
    wall : its own cylinder, where it is one
    """

    station: float
    angle: float
    axial_width: float
    across_width: float
    low: float
    high: float
    bore: int = 0
    wall: HoleWall | None = None


@dataclass(frozen=True, slots=True)
class Ornament:
    """Something on the outside (or in the bore) that is not its round surface.

    start, stop : stations between which it lies
    least_radius, greatest_radius : mm from the axis, of all its points
    place : which surface it interrupts; "along": the outside over such a length that seams
        have to run through it, and the walls tell what it leaves
    """

    start: float
    stop: float
    least_radius: float
    greatest_radius: float
    place: Literal["outside", "bore", "along"] = "outside"


BORE, OUTSIDE, LOW_END, HIGH_END, OTHER, HOLE = 0, 1, 2, 3, 4, 5
"""Labels of triangles: what kind of surface each belongs to."""


JointKind = Literal["tenon", "pins", "collar", "sleeve", "oring", "lapped"]
Fit = Literal["glue", "push", "take-apart"]
ClearanceOrigin = Literal["rule", "profile", "asked"]
Role = Literal["piece", "collar", "sleeve"]


@dataclass(frozen=True, slots=True)
class Compensation:
    """What a printer does to a size, made good once in the files.

    hole_undersize : mm on the diameter, by which holes print too narrow
    first_layer_bulge : mm a side, by which the first layers print too wide
    shrink_percent : of every length, by which a print is shorter than its file
    """

    hole_undersize: float = 0.0
    first_layer_bulge: float = 0.0
    shrink_percent: float = 0.0


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything the person can ask for. None means: chosen for them.

    clearance_from : a common rule for the fit, a printer profile, or what was asked
    spread : mm, plus and minus, that the printer holds a diameter to
    profile : name of the printer profile that some of it came from
    """

    envelope: tuple[float, float, float]
    clearance: float = 0.15
    engagement: float | None = None
    guard: float = 2.0
    max_move: float = 0.1
    true: Literal["both", "bore", "outside", "none"] = "both"
    least_wall: float = 0.8
    units: Literal["mm", "cm", "m", "in", "auto"] = "auto"
    cuts: tuple[float, ...] = ()
    pieces: int | None = None
    flip: bool = False
    bore: float | None = None
    """Diameter, mm, that the bore is to have."""
    joint: JointKind | None = None
    fit: Fit = "glue"
    nozzle: float = 0.4
    layer: float = 0.2
    compensation: Compensation = Compensation()
    profile: str | None = None
    clearance_from: ClearanceOrigin = "rule"
    spread: float = 0.2

    @property
    def made_clearance(self) -> float:
        """Gap a side, mm, in the files: the one asked for, and what the printer takes from it."""
        return self.clearance + self.compensation.hole_undersize / 2.0

    @property
    def print_scale(self) -> float:
        """How much larger than the piece its file is, so that the print shrinks to size."""
        return 1.0 / (1.0 - self.compensation.shrink_percent / 100.0)

    @property
    def room(self) -> tuple[float, float, float]:
        """The envelope, mm, as pieces of their own size may use it."""
        x, y, z = (length / self.print_scale for length in self.envelope)
        return x, y, z

    @property
    def mouth_relief(self) -> float:
        """Bevel at a socket's mouth, mm: more than the first layers bulge."""
        return max(MOUTH_RELIEF, self.compensation.first_layer_bulge + 0.1)


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """What the part is. The mesh is welded, closed, and in the part frame.

    labels : (m,) int, one of BORE, OUTSIDE, LOW_END, HIGH_END, OTHER, HOLE a triangle
    numbers : (m,) int, which of its kind: of the bores, outsides or side holes; 0 on
        the ends and on OTHER
    length : mm, between the ends: flat ends count as planes
    bores : every straight or tapered stretch of every bore, the main one first; none
        where the part is solid
    outsides : the same of the round outside; none where the outside is not round
    walls : where joints may go, by station
    wall_least, wall_median : mm, of the part's own wall; of a solid part the radius of
        the widest disc about its axis
    beyond_ends : mm, how far anything reaches past the low and the high end once
        flat ends are planes
    beyond_rough_ends : the same with the ends left as they are
    """

    mesh: Mesh
    labels: IntArray
    numbers: IntArray
    frame: Frame
    length: float
    bores: tuple[RoundSurface, ...]
    outsides: tuple[RoundSurface, ...]
    walls: tuple[WallStretch, ...]
    side_holes: tuple[SideHole, ...]
    ornaments: tuple[Ornament, ...]
    wall_least: float
    wall_median: float
    remarks: tuple[str, ...] = ()
    beyond_ends: tuple[float, float] = (0.0, 0.0)
    beyond_rough_ends: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        assert len(self.labels) == len(self.numbers) == len(self.mesh.triangles)
        read_only(self.labels)
        read_only(self.numbers)

    @property
    def bore(self) -> RoundSurface:
        """The main bore."""
        return self.bores[0]

    @property
    def outside(self) -> RoundSurface:
        """The main stretch of a round outside."""
        return self.outsides[0]

    def ends(self, settings: Settings) -> tuple[float, float]:
        """Stations of the lowest and highest points once truing is done."""
        low, high = self.beyond_rough_ends if settings.true == "none" else self.beyond_ends
        return -low, self.length + high


@dataclass(frozen=True, slots=True, eq=False)
class TruedPart:
    """The part with exact round surfaces and ends, in the part frame.

    labels, numbers : (m,) int, what each triangle belongs to, as in `Survey`; no numbers
        given: the first of its kind
    generators : one array a bore, (k,) ascending angles in [-pi, pi) about its own centre
        line at which its facets meet; empty where it was left as it is
    max_move : mm, greatest move of a vertex of the source, chord error apart
    greatest_chord : mm, greatest chord error of the source that truing filled
    """

    mesh: Mesh
    labels: IntArray
    generators: tuple[FloatArray, ...]
    triangles_before: int
    max_move: float
    greatest_chord: float = 0.0
    numbers: IntArray = field(default_factory=lambda: np.empty(0, np.int64))

    def __post_init__(self) -> None:
        if not len(self.numbers):
            object.__setattr__(self, "numbers", np.zeros_like(self.labels))
        assert len(self.labels) == len(self.numbers) == len(self.mesh.triangles)
        read_only(self.labels)
        read_only(self.numbers)
        for angles in self.generators:
            read_only(angles)


@dataclass(frozen=True, slots=True)
class Lug:
    """A hexagon of a collar's wall that fills a notch across the seam, through the part's wall.

    Seen from the side it is upright flanks from `flank` below the seam to `flank` above
    it, and a 45 degree gable at either end: it prints unsupported, and so do its notches.

    angle : radians, of its middle, about the collar's centre line
    half_width : radians
    side_gap : radians, on each flank; its gables are as far off the notch's, in mm
    flank : mm
    """

    angle: float
    half_width: float
    side_gap: float
    flank: float


@dataclass(frozen=True, slots=True)
class Collar:
    """A ring of its own over both ends at a seam, or a sleeve within both.

    place : it goes over the outside, or into the bore
    wall : which of the survey's walls the seam lies in
    inner, outer : the part's bore and outside there
    reach : mm, how far it covers either side of the seam
    thickness : mm, of its own wall
    radial_clearance : mm, between it and the part
    """

    place: Literal["outside", "inside"]
    wall: int
    inner: RoundSurface
    outer: RoundSurface
    reach: float
    thickness: float
    radial_clearance: float
    lugs: tuple[Lug, ...]

    @property
    def glue_area(self) -> float:
        """Area, mm2, between the collar and one piece; lugs and tapers left out."""
        surface = self.outer if self.place == "outside" else self.inner
        middle = (surface.start + surface.stop) / 2.0
        return float(2.0 * np.pi * surface.radius_at(middle) * self.reach)


@dataclass(frozen=True, slots=True)
class Key:
    """A rib of the tenon, and its groove in the socket.

    angle : radians, of its middle, seen from the middle of the centres of the tenon's bores
    half_width : radians, half of the rib at the tenon; times the tenon's radius it is a
        length along the tenon's outline
    side_gap : radians as `half_width`, gap on each flank; the play about one bore is
        plus and minus this
    relief : mm, by which it stands out of the tenon
    """

    angle: float
    half_width: float
    side_gap: float
    relief: float


@dataclass(frozen=True, slots=True)
class Mark:
    """A witness mark: a nick in the tenon's root, and one in the socket's mouth over it.

    angle, half_width : radians, as a key's
    depth : mm, into the shoulder beyond tenon and socket, sloped at 45 degrees
    """

    angle: float
    half_width: float
    depth: float


@dataclass(frozen=True, slots=True)
class TenonGroove:
    """A groove around a tenon, for an O-ring or for thread.

    From its lower edge up: a level flank, the bottom, a ceiling at 45 degrees.

    start : mm over the seam, of its lower edge
    width : mm, of its bottom, along the axis
    depth : mm, into the tenon
    wall_left : mm, between its bottom and the widest bore beside it; of a solid tenon the
        bottom's radius
    lead_in : mm, bevel at the socket's mouth that spares what lies in the groove
    cord : mm, thickness of the O-ring; None: it is for thread
    """

    start: float
    width: float
    depth: float
    wall_left: float
    lead_in: float
    cord: float | None = None

    def __post_init__(self) -> None:
        assert min(self.start, self.width, self.depth, self.wall_left) > 0.0

    @property
    def stop(self) -> float:
        """Height over the seam, mm, of its upper edge."""
        return self.start + self.width + self.depth

    @property
    def profile(self) -> tuple[tuple[float, float], ...]:
        """(depth, height over the seam), mm, of its four corners, from the lower edge up."""
        floor = self.start + self.width
        return (0.0, self.start), (self.depth, self.start), (self.depth, floor), (0.0, self.stop)


@dataclass(frozen=True, slots=True)
class Tenon:
    """A tenon around one bore or two, or a solid one, and its socket. Heights are stations.

    Its outlines are hulls of discs about the centres of its bores, `swells` wider than
    the first disc. Radii are of the first disc; the u of a point is the radius at which
    the point lies on the hull's outline (`jointing/hull.py`): with one bore, its
    distance from the bore's centre line.

    station : the seam plane; the tenon's highest point is station + engagement
    land : mm, width of the flat at the tenon's tip, beside the bore; its radius on a solid one
    bore_radius_at_tip : mm, of the first bore at the tenon's tip; 0 of a solid one
    roof_top : station up to which it reaches: where the socket's roof meets the
        bore, or the ridge of the roof between two bores, or the cone's top
    wall : which of the survey's walls the seam lies in
    bores : which of the survey's bores it runs around; none: it is solid
    centres : (x, y) mm, of their centre lines; its own of a solid one
    swells : mm, how much wider than the first each bore is at the tip
    crest : mm, how far the tenon's ridge between two bores stands over its tip
    outline_excess : mm, by which an outline is longer than the circle of its first disc
    rib_height : mm over the seam, to which its ribs stand, level on top; None: up to the cone
    groove : around its parallel part, over the ribs
    """

    station: float
    engagement: float
    tenon_radius: float
    socket_radius: float
    radial_clearance: float
    land: float
    bore_radius_at_tip: float
    roof_top: float
    keys: tuple[Key, ...] = ()
    wall: int = 0
    bores: tuple[int, ...] = (0,)
    centres: tuple[tuple[float, float], ...] = ((0.0, 0.0),)
    swells: tuple[float, ...] = (0.0,)
    crest: float = 0.0
    outline_excess: float = 0.0
    marks: tuple[Mark, ...] = ()
    rib_height: float | None = None
    groove: TenonGroove | None = None

    def __post_init__(self) -> None:
        assert len(self.centres) == len(self.swells) == max(1, len(self.bores))

    @property
    def relief(self) -> float:
        """How far its ribs stand out, mm; 0 without any."""
        return max((key.relief for key in self.keys), default=0.0)

    @property
    def reach(self) -> float:
        """The socket's widest u, mm, its grooves counted."""
        return self.socket_radius + self.relief

    @property
    def rib_roof(self) -> float:
        """Station at which the grooves for its ribs end, a 45 degree roof counted."""
        if self.rib_height is None:
            return self.roof_height_at(self.reach)
        return self.station + self.rib_height + AXIAL_GAP + self.relief

    def mouth_bevel(self, mouth_relief: float) -> float:
        """Bevel at the socket's mouth, mm: for the first layer, or wider for what goes in."""
        return mouth_relief if self.groove is None else max(mouth_relief, self.groove.lead_in)

    @property
    def highest(self) -> float:
        """Station of the tenon's highest point."""
        return self.station + self.engagement

    @property
    def tip(self) -> float:
        """Station of the flat at the tenon's end: its highest point, but for a ridge."""
        return self.station + self.engagement - self.crest

    def tip_height_at(self, u: float) -> float:
        """Station of the tenon's end: flat land, and a 45 degree cone outside of it.

        Between two bores, u less than the bore's radius, it rises to a ridge at 45 degrees.
        """
        beyond = u - self.bore_radius_at_tip
        if len(self.bores) > 1 and beyond < 0.0:
            return self.tip - beyond
        return self.tip - max(0.0, beyond - self.land)

    def roof_height_at(self, u: float) -> float:
        """Station of the socket's roof, a 45 degree cone, or a ridge between two bores."""
        return self.tip + AXIAL_GAP - (u - self.bore_radius_at_tip - self.land)

    @property
    def parallel_length(self) -> float:
        """Length, mm, of the tenon's parallel part."""
        return self.tip_height_at(self.tenon_radius) - self.station

    @property
    def glue_area(self) -> float:
        """Area, mm2, of the tenon's parallel part but for a groove; ribs count as plain."""
        outline = 2.0 * np.pi * self.tenon_radius + self.outline_excess
        lost = self.groove.stop - self.groove.start if self.groove is not None else 0.0
        return float(outline * (self.parallel_length - lost))


@dataclass(frozen=True, slots=True)
class Joint:
    """What holds two pieces together at a seam: one tenon or several, or a collar of its own.

    station : the seam plane
    """

    kind: JointKind
    station: float
    tenons: tuple[Tenon, ...]
    collar: Collar | None = None

    def __post_init__(self) -> None:
        assert bool(self.tenons) != (self.collar is not None)
        assert all(tenon.station == self.station for tenon in self.tenons)

    @property
    def tenon(self) -> Tenon:
        """The first of its tenons."""
        return self.tenons[0]

    @property
    def radial_clearance(self) -> float:
        """Gap a side, mm, in the files."""
        ring = self.collar
        return ring.radial_clearance if ring is not None else self.tenon.radial_clearance

    @property
    def key_angles(self) -> tuple[float, ...]:
        """Angles of its keys or lugs, the first one first; of pins those of the pins."""
        if self.collar is not None:
            return tuple(lug.angle for lug in self.collar.lugs)
        keys = tuple(key.angle for tenon in self.tenons for key in tenon.keys)
        return keys or tuple(math.atan2(*tenon.centres[0][::-1]) for tenon in self.tenons)

    @property
    def highest(self) -> float:
        """Station up to which the lower piece stands."""
        return max((tenon.highest for tenon in self.tenons), default=self.station)

    @property
    def engagement(self) -> float:
        """From the seam to the tenons' highest point, or to a collar's end, mm."""
        return self.collar.reach if self.collar is not None else self.highest - self.station

    @property
    def zone(self) -> tuple[float, float]:
        """Stations from which and up to which it reaches."""
        if self.collar is not None:
            return self.station - self.collar.reach, self.station + self.collar.reach
        return self.station, max(tenon.roof_top for tenon in self.tenons)

    @property
    def bores(self) -> tuple[int, ...]:
        """The survey's bores that its tenons run around, tenon after tenon."""
        return tuple(bore for tenon in self.tenons for bore in tenon.bores)

    @property
    def glue_area(self) -> float:
        """Area, mm2, that glue holds: of the tenons, or of one side of a collar."""
        if self.collar is None:
            return sum(tenon.glue_area for tenon in self.tenons)
        return self.collar.glue_area


@dataclass(frozen=True, slots=True)
class Cut:
    """Where a seam goes and why.

    window : the stretch of stations in which this seam could lie
    """

    station: float
    window: tuple[float, float]
    why: str


@dataclass(frozen=True, slots=True)
class Plan:
    """Cuts and their joints, from the low end up. No cuts: the part fits as it is."""

    cuts: tuple[Cut, ...]
    joints: tuple[Joint, ...]
    remarks: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        assert len(self.cuts) == len(self.joints)


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One finished piece, standing as it prints.

    mesh : in the pose of its file: z up, on z = 0, x and y >= 0; every
        coordinate is exactly a float32, as the file will hold it
    to_source : (4, 4), rigid motion from that pose to its place in the source
    low, high : stations of its ends, the tenon counted
    role : a collar or sleeve lies at a seam, `joint_below`
    scale : the file is so much larger than the piece is to be, for the print's shrink
    """

    name: str
    mesh: Mesh
    to_source: FloatArray
    low: float
    high: float
    joint_below: Joint | None = None
    joint_above: Joint | None = None
    role: Role = "piece"
    scale: float = 1.0

    def __post_init__(self) -> None:
        read_only(self.to_source)


@dataclass(frozen=True, slots=True)
class Check:
    """One promise, measured.

    limit : what the value is held against; `ok` is the verdict
    """

    name: str
    value: float
    limit: float | tuple[float, float]
    ok: bool
    piece: str | None = None
    joint: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """All that one part came to. A plan has no pieces and no checks."""

    name: str
    survey: Survey
    trued: TruedPart
    plan: Plan
    pieces: tuple[Piece, ...] = ()
    checks: tuple[Check, ...] = ()
    warnings: tuple[str, ...] = ()
