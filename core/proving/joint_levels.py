"""At which levels a finished joint is looked at: Gauss points between those of its corners.

Between levels at which a corner lies every outline runs on straight, and areas are
quadratic. A joint in rough surfaces, or with curves in space, has corners on too many
levels: it is looked at evenly, between those at which its own surfaces change.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.mesh_checks import triangle_normals
from ..values import AXIAL_GAP, MOUTH_RELIEF, FloatArray, Joint, Mesh, read_only
from .section import band_of

CONTACT = 1e-4
"""Levels this close, mm, are one: float32 holds no more at the far end of a part."""

LEVEL_FLATNESS = 0.999
"""Cosine from which a face counts as flat across the axis."""

_MOST_LEVELS = 40
_SAME_LEVEL = 0.01
"""Corners closer than this, mm, along the axis lie on one level; flat faces do not."""

_SHORT_PANELS = (0.1, 0.5)
"""Up to these lengths, mm, a panel is looked at once and twice; a longer one three times."""

_GAUSS_PLACES = 0.5 + 0.5 * np.array(
    [[0.0, 0.0, 0.0], [-np.sqrt(1 / 3), np.sqrt(1 / 3), 0.0], [-np.sqrt(0.6), 0.0, np.sqrt(0.6)]]
)
_GAUSS_WEIGHTS = np.array([[18.0, 0.0, 0.0], [9.0, 9.0, 0.0], [5.0, 8.0, 5.0]]) / 18.0


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

    def slices(self) -> tuple[FloatArray, FloatArray]:
        """(s,), (s,) stations to look at, and the height that each stands for.

        Where `are_all`, areas are quadratic between the bounds, and summed exactly.
        """
        return _gauss_points(self.bounds, 4.0 if self.are_all else 2.5, _SHORT_PANELS)

    def area_slices(self) -> tuple[FloatArray, FloatArray]:
        """The same, finely enough for areas of any kind to be summed to volumes."""
        return _gauss_points(self.bounds, 0.5, (0.0, np.inf))


def joint_levels(lower: Mesh, upper: Mesh, joint: Joint, bottom: float, top: float) -> JointLevels:
    """The levels of two pieces' corners from bottom to top, in the part frame."""
    bands = [band_of(mesh, bottom, top) for mesh in (lower, upper)]
    flats = [flat_levels(band, facing) for band in bands for facing in (1, -1)]
    firm = np.concatenate([*flats, [bottom, top]])
    firm = firm[(firm >= bottom) & (firm <= top)]
    heights = np.concatenate([band.vertices[:, 2] for band in bands])
    corners = _distinct(heights[(heights >= bottom) & (heights <= top)], CONTACT)
    if len(corners) <= _MOST_LEVELS:
        return JointLevels(_merged(firm, corners), are_all=True)
    designed = _designed(joint)
    within = designed[(designed > bottom) & (designed < top)]
    return JointLevels(_merged(firm, within), are_all=False)


def flat_levels(mesh: Mesh, facing: int) -> FloatArray:
    """Stations of the corners of faces flat across the axis.

    facing : 1 for faces that look up, -1 for faces that look down
    """
    flat = triangle_normals(mesh)[0][:, 2] * facing > LEVEL_FLATNESS
    stations: FloatArray = np.unique(mesh.vertices[mesh.triangles[flat], 2])
    return stations


def _designed(joint: Joint) -> FloatArray:
    """Stations at which a joint's surfaces change, by its design."""
    outs = (0.0, joint.key.relief)
    return np.array(
        [
            joint.station + MOUTH_RELIEF,
            *(joint.tip_height_at(joint.tenon_radius + out) for out in outs),
            *(joint.roof_height_at(joint.socket_radius + out) for out in outs),
            joint.tip,
            joint.tip + AXIAL_GAP,
            joint.roof_height_at(joint.bore_radius_at_tip),
            joint.highest,
            joint.roof_top,
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


def _gauss_points(
    bounds: FloatArray, longest: float, short: tuple[float, float]
) -> tuple[FloatArray, FloatArray]:
    """Gauss points in every panel between levels, none longer than that: fewer in short ones."""
    pieces = np.maximum(np.ceil(np.diff(bounds) / longest), 1).astype(np.int64)
    lengths = np.repeat(np.diff(bounds) / pieces, pieces)
    starts = bounds[0] + np.cumsum(lengths) - lengths
    counts = 1 + (lengths > short[0]) + (lengths > short[1])
    panel = np.repeat(np.arange(len(counts)), counts)
    within = np.arange(len(panel)) - np.repeat(np.cumsum(counts) - counts, counts)
    rule = counts[panel] - 1, within
    places = starts[panel] + lengths[panel] * _GAUSS_PLACES[rule]
    return places, lengths[panel] * _GAUSS_WEIGHTS[rule]
