"""Slices through a collar and the two ends that it lies over, seen from its centre line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.angles import short_way
from ..values import LEAD_IN, MOUTH_RELIEF, BoolArray, Collar, FloatArray, Mesh, read_only
from .arcs import Outlines, outlines_of
from .clearances import Facing
from .joint_levels import JointLevels
from .overlaps import shared_areas, touching_levels
from .section import band_of, cut_sections

EDGE = 1.0
"""This near to the seam, mm, an end may be bevelled and nicked."""

_SAME_LEVEL = 0.05
_MOST_LEVELS = 80
_ROUGH_PANEL = 1.0
_OVERLAP_PANEL = 0.5

_BESIDE_LUG = np.radians(1.1)


@dataclass(frozen=True, slots=True, eq=False)
class FinishedCollar:
    """A collar, or a sleeve, as made: three meshes in the part frame, and the trued part.

    number : which joint
    ring : the collar itself
    """

    number: int
    collar: Collar
    station: float
    part: Mesh
    lower: Mesh
    upper: Mesh
    ring: Mesh

    @property
    def is_outside(self) -> bool:
        """It lies over the outside; else it is a sleeve in the bore."""
        return self.collar.place == "outside"

    @property
    def centre(self) -> FloatArray:
        """(2,) mm, of the line about which it would turn."""
        surface = self.collar.outer if self.is_outside else self.collar.inner
        return np.array(surface.offset)

    @property
    def mouth(self) -> float:
        """Station, mm, of the upper piece's lowest point."""
        return float(self.upper.vertices[:, 2].min())

    @property
    def reach(self) -> tuple[float, float]:
        """Stations, mm, of the ring's ends."""
        heights = self.ring.vertices[:, 2]
        return float(heights.min()), float(heights.max())

    def off_lugs(self, points: FloatArray) -> BoolArray:
        """(n,) whether points from the centre line miss the lugs and their gaps.

        What is nearer to a lug's flank than the clearance faces the flank.
        """
        angles = np.arctan2(points[:, 1], points[:, 0])
        off = np.ones(len(points), bool)
        least = min(self.collar.inner.radius_at(end) for end in self.reach)
        for lug in self.collar.lugs:
            beside = max(_BESIDE_LUG, self.collar.radial_clearance / least)
            half = lug.half_width + lug.side_gap + beside
            off &= np.abs(short_way(angles - lug.angle)) > half
        return off


@dataclass(frozen=True, slots=True, eq=False)
class CollarSlices:
    """A finished collar's outlines on its levels.

    stations : (s,) mm, ascending
    ends : of the lower piece and of the upper
    held : for each end the levels (s,) on which the ring lies over it
    plain : (s,) off the bevels of ring and ends
    shared_volume : mm3, that any two of the three share
    touched : for each end the levels (s,) on which its outlines and the ring's may meet
    """

    stations: FloatArray
    part: Outlines
    ring: Outlines
    ends: tuple[Outlines, Outlines]
    held: tuple[BoolArray, BoolArray]
    plain: BoolArray
    shared_volume: float
    touched: tuple[BoolArray, BoolArray]

    def __post_init__(self) -> None:
        for array in (self.stations, self.plain, *self.held, *self.touched):
            read_only(array)

    def facing(self, made: FinishedCollar, number: int) -> tuple[Facing, Facing]:
        """What the ring and one end turn to each other, on the levels of that end."""
        sides = []
        for outlines, looks_out in (
            (self.ends[number], made.is_outside),
            (self.ring, not made.is_outside),
        ):
            towards = outlines.turn > 0.0 if looks_out else outlines.turn < 0.0
            near = ~(made.off_lugs(outlines.starts) & made.off_lugs(outlines.stops))
            if outlines is self.ring:
                near &= outlines.is_void == made.is_outside
            kept = np.flatnonzero(self.held[number][outlines.level] & (towards | near))
            chosen = outlines[kept]
            off = [towards[kept] & made.off_lugs(ends) for ends in (chosen.starts, chosen.stops)]
            sides.append(Facing(chosen, outlines, off[0], off[1]))
        return sides[0], sides[1]


def slice_collar(made: FinishedCollar) -> CollarSlices:
    """Cut all three, and the part, on levels over the ring's whole length."""
    low, high = made.reach
    bodies = (made.part, made.ring, made.lower, made.upper)
    bands = [band_of(mesh, low, high) for mesh in bodies]
    levels = _levels(bands[1:], low, high, made.station)
    stations = levels.slices()
    part, ring, lower, upper = _outlines(bands, stations, made.centre)
    count = len(stations)
    touched = touching_levels(lower, ring, count), touching_levels(upper, ring, count)
    pairs_touch = touched[0].any() or touched[1].any() or _ends_cross(made)
    station, top = made.station, float(bands[2].vertices[:, 2].max(initial=-np.inf))
    seam = min(station, made.mouth), max(station, top)
    return CollarSlices(
        stations=stations,
        part=part,
        ring=ring,
        ends=(lower, upper),
        held=(stations < seam[0], stations > seam[1]),
        plain=(stations > low + MOUTH_RELIEF)
        & (stations < high - LEAD_IN)
        & (np.abs(stations - station) > EDGE),
        shared_volume=_shared_volume(bands[1:], levels, made.centre) if pairs_touch else 0.0,
        touched=touched,
    )


def _ends_cross(made: FinishedCollar) -> bool:
    """Does the lower piece reach above the upper one's lowest point?"""
    return float(made.lower.vertices[:, 2].max()) > made.mouth


def _outlines(bands: list[Mesh], stations: FloatArray, centre: FloatArray) -> list[Outlines]:
    return [outlines_of(cut_sections(band, stations), centre) for band in bands]


def _levels(bands: list[Mesh], low: float, high: float, seam: float) -> JointLevels:
    """Those of all corners; on rough surfaces evenly, the seam among them in any case."""
    heights = np.concatenate([band.vertices[:, 2] for band in bands])
    heights = heights[(heights > low + _SAME_LEVEL) & (heights < high - _SAME_LEVEL)]
    heights = heights[np.abs(heights - seam) > _SAME_LEVEL]
    ordered = np.unique(np.round(heights / _SAME_LEVEL)) * _SAME_LEVEL
    if len(ordered) > _MOST_LEVELS:
        ordered = np.arange(low + _ROUGH_PANEL, high, _ROUGH_PANEL)
        ordered = ordered[np.abs(ordered - seam) > _SAME_LEVEL]
    return JointLevels(np.sort(np.concatenate([[low, seam, high], ordered])), are_all=True)


def _shared_volume(bands: list[Mesh], levels: JointLevels, centre: FloatArray) -> float:
    """Volume, mm3, that any two of ring, lower and upper piece share."""
    stations, weights = levels.gauss_slices(_OVERLAP_PANEL)
    ring, lower, upper = _outlines(bands, stations, centre)
    pairs = ((ring, lower), (ring, upper), (lower, upper))
    areas = sum((shared_areas(*pair, len(stations)) for pair in pairs), np.zeros(len(stations)))
    return float(areas @ weights)
