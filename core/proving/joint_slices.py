"""A finished joint in slices: the outlines of its two pieces, level by level.

Between levels at which a corner lies every outline runs on straight. The slices lie at
Gauss points between such levels, so that areas integrate to volumes and every stretch of
the joint is met.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.mesh_checks import triangle_normals
from ..values import MOUTH_RELIEF, BoolArray, FloatArray, Joint, Mesh, read_only
from .arcs import Outlines, outlines_of
from .joint_shape import JointShape
from .overlaps import shared_areas
from .section import band_of, cut_sections

CONTACT = 1e-4
"""Levels this close, mm, are one: float32 holds no more at the far end of a part."""

LEVEL_FLATNESS = 0.999
"""Cosine from which a face counts as flat across the axis."""

_LONGEST_PANEL, _LONGEST_ROUGH_PANEL = 4.0, 2.5
_MOST_LEVELS = 40
"""A joint whose corners lie on more levels than this, on rough surfaces, is cut evenly."""

_SAME_LEVEL = 0.01
"""Corners closer than this, mm, along the axis lie on one level; flat faces do not."""

_SHORT_PANELS = (0.1, 0.5)
"""Up to these lengths, mm, a panel has one Gauss point and two; beyond them three. Areas
between levels are quadratic, for which two are exact."""

_CONE_EDGE = 0.1
"""Height, mm, beside a cone in which a tenon that is a little wider is on its cone already."""

_GAUSS_PLACES = 0.5 + 0.5 * np.array(
    [[0.0, 0.0, 0.0], [-np.sqrt(1 / 3), np.sqrt(1 / 3), 0.0], [-np.sqrt(0.6), 0.0, np.sqrt(0.6)]]
)
_GAUSS_WEIGHTS = np.array([[18.0, 0.0, 0.0], [9.0, 9.0, 0.0], [5.0, 8.0, 5.0]]) / 18.0


@dataclass(frozen=True, slots=True, eq=False)
class JointSlices:
    """Slices of one joint, s of them.

    stations, weights : (s,) mm, of the Gauss points; the weights sum to the height
    lower, upper : the outlines of either piece, about the joint's middle
    shared : (s,) mm2, in both pieces
    touched : (s,) of the slices in which outlines of the two may cross
    gap : (s,) mm2, inside the part and the socket, yet in neither piece
    lost_outside : (s,) mm2, within the part's outer outlines and not the upper piece's
    outside_length : (s,) mm, of the part's outlines
    parallel : (s,) of the slices in which tenon and socket are both parallel
    guiding : (s,) of those but for the very edge of the cones
    key_parallel : (s,) of those in which rib and groove are as well
    cone : (s,) of the slices from there to the tenon's top
    on_tenon : (s,) of the slices in which the tenon is as thick as it gets
    beyond_relief : (s,) of the slices above the socket mouth's relief
    """

    stations: FloatArray
    weights: FloatArray
    lower: Outlines
    upper: Outlines
    shared: FloatArray
    touched: BoolArray
    gap: FloatArray
    lost_outside: FloatArray
    outside_length: FloatArray
    parallel: BoolArray
    guiding: BoolArray
    key_parallel: BoolArray
    cone: BoolArray
    on_tenon: BoolArray
    beyond_relief: BoolArray

    def __post_init__(self) -> None:
        for name in ("stations", "weights", "shared", "gap", "lost_outside"):
            read_only(getattr(self, name))


def slice_joint(part: Mesh, lower: Mesh, upper: Mesh, shape: JointShape) -> JointSlices:
    """Cut the part and the two pieces of a joint, all in the part frame."""
    joint = shape.joint
    bottom = min(float(upper.vertices[:, 2].min()), joint.station)
    top = max(float(lower.vertices[:, 2].max()), joint.roof_top)
    bands = [band_of(mesh, bottom, top) for mesh in (part, lower, upper)]
    stations, weights = _gauss_points(*_levels(bands[1], bands[2], joint, bottom, top))
    whole, below, above = (cut_sections(band, stations) for band in bands)
    outlines = [outlines_of(sections, shape.middle) for sections in (below, above)]
    shared, touched = shared_areas(outlines[0], outlines[1], len(stations))
    cones = _cones_start(joint, 0.0)
    beyond_relief = stations > joint.station + MOUTH_RELIEF
    return JointSlices(
        stations=stations,
        weights=weights,
        lower=outlines[0],
        upper=outlines[1],
        shared=shared,
        touched=touched,
        gap=above.void_areas() - whole.void_areas() - below.areas(),
        lost_outside=whole.material_areas() - above.material_areas(),
        outside_length=whole.outline_lengths(),
        parallel=beyond_relief & (stations < cones),
        guiding=beyond_relief & (stations < cones - _CONE_EDGE),
        key_parallel=beyond_relief & (stations < _cones_start(joint, joint.key.relief)),
        cone=(stations > cones) & (stations < joint.roof_top),
        on_tenon=(stations > joint.station) & (stations < joint.tip_height_at(joint.tenon_radius)),
        beyond_relief=beyond_relief & (stations < joint.roof_top),
    )


def _cones_start(joint: Joint, relief: float) -> float:
    """Station of the lower of the tenon's and the socket's cones, `relief` further out."""
    tenon = joint.tip_height_at(joint.tenon_radius + relief)
    return min(tenon, joint.roof_height_at(joint.socket_radius + relief))


def _levels(
    lower: Mesh, upper: Mesh, joint: Joint, bottom: float, top: float
) -> tuple[FloatArray, float]:
    """Stations from bottom to top on which corners lie, ascending; longest panel between."""
    flats = [flat_levels(mesh, facing) for mesh in (lower, upper) for facing in (1, -1)]
    firm = np.concatenate([*flats, [bottom, top]])
    firm = firm[(firm >= bottom) & (firm <= top)]
    heights = np.concatenate([mesh.vertices[:, 2] for mesh in (lower, upper)])
    corners = np.unique(heights[(heights >= bottom) & (heights <= top)])
    corners = corners[np.diff(corners, prepend=-np.inf) > CONTACT]
    if len(corners) <= _MOST_LEVELS:
        return _merged(firm, corners), _LONGEST_PANEL
    outs = (0.0, joint.key.relief)
    designed = np.array(
        [
            joint.station + MOUTH_RELIEF,
            *(joint.tip_height_at(joint.tenon_radius + out) for out in outs),
            *(joint.roof_height_at(joint.socket_radius + out) for out in outs),
            joint.tip,
        ]
    )
    designed = designed[(designed > bottom) & (designed < top)]
    return _merged(firm, designed), _LONGEST_ROUGH_PANEL


def _merged(firm: FloatArray, loose: FloatArray) -> FloatArray:
    """All firm levels that are not one, and loose ones away from them and from each other."""
    firm = np.unique(firm)
    firm = firm[np.diff(firm, prepend=-np.inf) > CONTACT]
    apart = np.abs(loose[:, None] - firm[None]).min(axis=1) > _SAME_LEVEL
    loose = np.sort(loose[apart])
    loose = loose[np.unique(np.floor(loose / _SAME_LEVEL), return_index=True)[1]]
    return np.sort(np.concatenate([firm, loose]))


def flat_levels(mesh: Mesh, facing: int) -> FloatArray:
    """Stations of the corners of faces flat across the axis.

    facing : 1 for faces that look up, -1 for faces that look down
    """
    flat = triangle_normals(mesh)[0][:, 2] * facing > LEVEL_FLATNESS
    stations: FloatArray = np.unique(mesh.vertices[mesh.triangles[flat], 2])
    return stations


def _gauss_points(bounds: FloatArray, longest: float) -> tuple[FloatArray, FloatArray]:
    """Gauss points in every panel between levels, none longer than that: fewer in short ones."""
    pieces = np.ceil(np.diff(bounds) / longest).astype(np.int64)
    lengths = np.repeat(np.diff(bounds) / pieces, pieces)
    starts = bounds[0] + np.cumsum(lengths) - lengths
    counts = 1 + (lengths > _SHORT_PANELS[0]) + (lengths > _SHORT_PANELS[1])
    panel = np.repeat(np.arange(len(counts)), counts)
    within = np.arange(len(panel)) - np.repeat(np.cumsum(counts) - counts, counts)
    rule = counts[panel] - 1, within
    return starts[panel] + lengths[panel] * _GAUSS_PLACES[rule], lengths[panel] * _GAUSS_WEIGHTS[
        rule
    ]
