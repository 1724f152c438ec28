"""A finished joint in slices: the outlines of its two pieces, and the areas between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..values import BoolArray, FloatArray, Mesh, Tenon, read_only
from .arcs import Outlines, outlines_of
from .joint_levels import JointLevels, joint_levels
from .joint_shape import JointShape
from .overlaps import shared_areas, touching_levels
from .section import band_of, cut_sections

_CONE_EDGE = 0.1
"""Height, mm, beside a cone in which a tenon that is a little wider is on its cone already."""

_BESIDE_GROOVE = 0.002
"""Height, mm, beside a groove's edges in which a slice may cut it."""

_OVERLAP_PANEL = 0.1
"""Height, mm, of which a shared volume is summed at once."""


@dataclass(frozen=True, slots=True, eq=False)
class JointSlices:
    """Slices of one joint, s of them.

    stations : (s,) mm
    lower, upper : the outlines of either piece, about the joint's middle
    shared_volume : mm3, in both pieces
    touched : (s,) of the slices in which outlines of the two may cross
    parallel : (s,) of the slices in which tenon and socket are both parallel, a groove left out
    guiding : (s,) of those but for the very edge of the cones
    key_parallel : (s,) of those in which rib and its groove are as well
    cone : (s,) of the slices from there to the joint's top
    on_tenon : (s,) of the slices in which the tenon is as thick as it gets
    beyond_relief : (s,) of the slices above the socket mouth's relief
    areas : of the gap and the outside, summed more finely
    """

    stations: FloatArray
    lower: Outlines
    upper: Outlines
    shared_volume: float
    touched: BoolArray
    parallel: BoolArray
    guiding: BoolArray
    key_parallel: BoolArray
    cone: BoolArray
    on_tenon: BoolArray
    beyond_relief: BoolArray
    areas: JointAreas

    def __post_init__(self) -> None:
        for name in ("stations", "touched"):
            read_only(getattr(self, name))


@dataclass(frozen=True, slots=True, eq=False)
class JointAreas:
    """Areas of a joint at stations of their own, a of them.

    stations, weights : (a,) mm
    gap : (a,) mm2, inside the part and the socket, yet in neither piece
    lost_outside : (a,) mm2, within the part's outer outlines and not the upper piece's
    outline_length : (a,) mm, of all the part's outlines
    """

    stations: FloatArray
    weights: FloatArray
    gap: FloatArray
    lost_outside: FloatArray
    outline_length: FloatArray

    def __post_init__(self) -> None:
        for name in self.__slots__:
            read_only(getattr(self, name))


def slice_joint(
    part: Mesh,
    lower: Mesh,
    upper: Mesh,
    shape: JointShape,
    mouth_relief: float,
    top: float,
) -> JointSlices:
    """Cut the part and the two pieces of a joint about one of its tenons, in the part frame.

    top : station up to which any tenon of the joint reaches
    """
    tenon = shape.tenon
    mouth = float(upper.vertices[:, 2].min())
    nicks = max((mark.depth for mark in tenon.marks), default=0.0)
    bottom = min(mouth, tenon.station - nicks)
    top = max(float(lower.vertices[:, 2].max()), top)
    bands = [band_of(mesh, bottom, top) for mesh in (part, lower, upper)]
    levels = joint_levels(bands[1], bands[2], tenon, bottom, top)
    stations = levels.slices()
    outlines = [outlines_of(cut_sections(band, stations), shape.middle) for band in bands[1:]]
    touched = touching_levels(outlines[0], outlines[1], len(stations))
    cones = _cones_start(tenon, 0.0)
    beyond_relief = stations > tenon.station + tenon.mouth_bevel(mouth_relief)
    plain = beyond_relief & ~_in_groove(tenon, stations)
    return JointSlices(
        stations=stations,
        lower=outlines[0],
        upper=outlines[1],
        shared_volume=_shared_volume(bands, levels, shape) if touched.any() else 0.0,
        touched=touched,
        parallel=plain & (stations < cones),
        guiding=plain & (stations < cones - _CONE_EDGE),
        key_parallel=beyond_relief & (stations < ribs_stop(tenon)),
        cone=(stations > cones) & (stations < tenon.roof_top),
        on_tenon=(stations > tenon.station) & (stations < tenon.tip_height_at(tenon.tenon_radius)),
        beyond_relief=beyond_relief & (stations < tenon.roof_top),
        areas=_areas(bands, levels, mouth),
    )


def _shared_volume(bands: list[Mesh], levels: JointLevels, shape: JointShape) -> float:
    """Volume, mm3, that the two pieces share, where they are known to."""
    stations, weights = levels.gauss_slices(_OVERLAP_PANEL)
    outlines = [outlines_of(cut_sections(band, stations), shape.middle) for band in bands[1:]]
    return float(shared_areas(outlines[0], outlines[1], len(stations)) @ weights)


def _areas(bands: list[Mesh], levels: JointLevels, mouth: float) -> JointAreas:
    """Areas of the gap: under the upper piece's mouth all that the lower one lacks of the part."""
    stations, weights = levels.area_slices()
    whole, below, above = (cut_sections(band, stations) for band in bands)
    in_socket = above.void_areas() - whole.void_areas() - below.areas()
    return JointAreas(
        stations=stations,
        weights=weights,
        gap=np.where(stations > mouth, in_socket, whole.areas() - below.areas()),
        lost_outside=whole.material_areas() - above.material_areas(),
        outline_length=whole.outline_lengths(),
    )


def ribs_stop(tenon: Tenon) -> float:
    """Station up to which ribs and their grooves are parallel."""
    cones = _cones_start(tenon, tenon.relief)
    return cones if tenon.rib_height is None else min(cones, tenon.station + tenon.rib_height)


def _in_groove(tenon: Tenon, stations: FloatArray) -> BoolArray:
    """(s,) whether slices lie in a groove around the tenon, or by its very edges."""
    if tenon.groove is None:
        return np.zeros(len(stations), bool)
    above = stations - tenon.station
    low, high = tenon.groove.start - _BESIDE_GROOVE, tenon.groove.stop + _BESIDE_GROOVE
    within: BoolArray = (above > low) & (above < high)
    return within


def _cones_start(tenon: Tenon, relief: float) -> float:
    """Station of the lower of the tenon's and the socket's cones, `relief` further out."""
    tip = tenon.tip_height_at(tenon.tenon_radius + relief)
    return min(tip, tenon.roof_height_at(tenon.socket_radius + relief))
