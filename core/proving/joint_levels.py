"""At which levels a finished joint is looked at: between those of its corners.

Between levels at which a corner lies every outline runs on straight, and areas are
quadratic. A joint in rough surfaces, or with curves in space, has corners on too many
levels: it is looked at evenly, between those at which its own surfaces change.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..meshes.mesh_checks import triangle_normals
from ..values import AXIAL_GAP, MOUTH_RELIEF, FloatArray, Mesh, Tenon, read_only
from .section import band_of

CONTACT = 1e-4
"""Levels this close, mm, are one: float32 holds no more at the far end of a part."""

LEVEL_FLATNESS = 0.999
"""Cosine from which a face counts as flat across the axis."""

_MOST_LEVELS = 40
_SAME_LEVEL = 0.01
"""Corners closer than this, mm, along the axis lie on one level; flat faces do not."""

_SHORT_PANEL = 0.1
"""Up to this length, mm, a stretch is looked at once, in its middle."""

_NEAR_END = 0.01
"""What runs straight is least and greatest at its ends: so much of the stretch before them."""

_ROUGH_PANEL, _AREA_PANEL = 1.7, 0.5
"""Height, mm, of what is looked at, and summed, at once where nothing is known to run straight."""

_GAUSS_PLACES = 0.5 + np.array([-0.5, 0.5]) / math.sqrt(3.0)


@dataclass(frozen=True, slots=True, eq=False)
class JointLevels:
    """Levels between which a joint's surfaces run on.

    bounds : (n,) stations, ascending, from the joint's lowest to its highest
    are_all : whether these are the levels of all its corners
    """

    bounds: FloatArray
    are_all: bool

    def __post_init__(self) -> None:
        read_only(self.bounds)

    def slices(self) -> FloatArray:
        """(s,) stations to look at: by both ends of each stretch that runs straight."""
        if not self.are_all:
            return self.gauss_slices(_ROUGH_PANEL)[0]
        low, length = self.bounds[:-1], np.diff(self.bounds)
        short = length <= _SHORT_PANEL
        ends = [low + length * share for share in (_NEAR_END, 1.0 - _NEAR_END)]
        stations = np.column_stack([np.where(short, low + length / 2.0, ends[0]), ends[1]])
        kept: FloatArray = stations[np.column_stack([np.ones(len(short), bool), ~short])]
        return kept

    def area_slices(self) -> tuple[FloatArray, FloatArray]:
        """(a,), (a,) stations and the heights that they stand for, for areas to be summed.

        Where `are_all`, areas are quadratic between the bounds, and summed exactly.
        """
        return self.gauss_slices(math.inf if self.are_all else _AREA_PANEL)

    def gauss_slices(self, longest: float) -> tuple[FloatArray, FloatArray]:
        """Two Gauss points, and their weights, to a panel of at most that length."""
        pieces = np.maximum(np.ceil(np.diff(self.bounds) / longest), 1).astype(np.int64)
        lengths = np.repeat(np.diff(self.bounds) / pieces, pieces)
        starts = self.bounds[0] + np.cumsum(lengths) - lengths
        stations = starts[:, None] + lengths[:, None] * _GAUSS_PLACES
        return stations.ravel(), np.repeat(lengths / 2.0, 2)


def joint_levels(lower: Mesh, upper: Mesh, tenon: Tenon, bottom: float, top: float) -> JointLevels:
    """The levels of two pieces' corners from bottom to top, in the part frame."""
    bands = [band_of(mesh, bottom, top) for mesh in (lower, upper)]
    flats = [flat_levels(band, facing) for band in bands for facing in (1, -1)]
    firm = np.concatenate([*flats, [bottom, top]])
    firm = firm[(firm >= bottom) & (firm <= top)]
    heights = np.concatenate([band.vertices[:, 2] for band in bands])
    corners = _distinct(heights[(heights >= bottom) & (heights <= top)], CONTACT)
    if len(corners) <= _MOST_LEVELS:
        return JointLevels(_merged(firm, corners), are_all=True)
    designed = _designed(tenon)
    within = designed[(designed > bottom) & (designed < top)]
    return JointLevels(_merged(firm, within), are_all=False)


def flat_levels(mesh: Mesh, facing: int) -> FloatArray:
    """Stations of the corners of faces flat across the axis.

    facing : 1 for faces that look up, -1 for faces that look down
    """
    flat = triangle_normals(mesh)[0][:, 2] * facing > LEVEL_FLATNESS
    stations: FloatArray = np.unique(mesh.vertices[mesh.triangles[flat], 2])
    return stations


def _designed(tenon: Tenon) -> FloatArray:
    """Stations at which a joint's surfaces change, by its design."""
    outs = (0.0, tenon.relief)
    grooved = tenon.groove.profile if tenon.groove is not None else ()
    rib_top = tenon.roof_top if tenon.rib_height is None else tenon.station + tenon.rib_height
    return np.array(
        [
            tenon.station + tenon.mouth_bevel(MOUTH_RELIEF),
            *(tenon.station + mark.depth for mark in tenon.marks),
            *(tenon.tip_height_at(tenon.tenon_radius + out) for out in outs),
            *(tenon.roof_height_at(tenon.socket_radius + out) for out in outs),
            tenon.tip,
            tenon.tip + AXIAL_GAP,
            tenon.roof_height_at(tenon.bore_radius_at_tip),
            tenon.highest,
            tenon.roof_top,
            *(tenon.station + height for _, height in grooved),
            *(rib_top, min(rib_top + AXIAL_GAP, tenon.roof_top), tenon.rib_roof),
        ]
    )


def _merged(firm: FloatArray, loose: FloatArray) -> FloatArray:
    """All firm levels that are not one, and loose ones away from them and from each other."""
    firm = _distinct(firm, CONTACT)
    apart = np.abs(loose[:, None] - firm[None]).min(axis=1) > _SAME_LEVEL
    return np.sort(np.concatenate([firm, _distinct(loose[apart], _SAME_LEVEL)]))


def _distinct(stations: FloatArray, apart: float) -> FloatArray:
    """One of those that lie within `apart` of the one before, ascending; of a run at most all."""
    ordered = np.unique(stations)
    kept: FloatArray = ordered[np.unique(np.floor(ordered / apart), return_index=True)[1]]
    close = np.diff(kept, prepend=-np.inf) <= apart
    close[1:] &= ~close[:-1]  # of three in a row the middle one goes
    return kept[~close]
