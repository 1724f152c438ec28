"""What holds two pieces together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from .lengths import AXIAL_GAP, CHORD_TOLERANCE
from .settings import JointKind
from .survey import RoundSurface


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

    def entering_radius(self, station: float) -> float:
        """Radius, mm, of what goes in: the part under a collar, a sleeve itself."""
        if self.place == "outside":
            return self.outer.radius_at(station)
        return self.inner.radius_at(station) - self.radial_clearance - CHORD_TOLERANCE

    def glue_area(self, station: float) -> float:
        """Area, mm2, of what goes into or under it on one side of the seam at a station.

        Lugs and tapers are left out.
        """
        return 2.0 * math.pi * self.entering_radius(station) * self.reach


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
        return self.collar.glue_area(self.station)
