"""A part's whole drawing: what does not change with the scale is found once, then drawn to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..errors import BadSetting
from ..planning.plan_survey import map_planned
from ..planning.station_map import StationMap, map_stations
from ..stages import KnownPart
from ..values import FloatArray, Joint, Plan, Settings, Survey
from .beside import Beside, Height, draw_heights, draw_seams, draw_stretches, label_holes
from .drawing import Drawing, Line
from .rings import Segments, hole_outlines, section_rings
from .section_view import CutFace, face_lines

AXIS_BEYOND = 24.0
"""How far the axis is drawn beyond the ends, pixels."""
BRACKET = 5.0
"""Half of a tick across the axis, pixels."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What is to be drawn; angle : radians, of the section about the axis."""

    holes: bool = True
    stretches: bool = True
    sizes: bool = True
    section: bool = False
    angle: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class PartView:
    """What is shown of a part, whatever the scale.

    seams, zones : rings of the seams, and of where their joints end
    ends : stations of the lowest and highest points
    radius : mm, the greatest from the axis, of part and collars
    faces : of a section, if one is shown, cut at `angle`
    """

    known: KnownPart
    settings: Settings
    joints: tuple[Joint, ...]
    leans: bool
    stations: StationMap
    seams: tuple[Segments, ...]
    zones: tuple[Segments, ...]
    holes: Segments
    ends: tuple[float, float]
    radius: float
    faces: tuple[CutFace, ...] = field(default=())

    @property
    def heights(self) -> tuple[tuple[float, float], ...]:
        """Stations between which each piece stands, its tenon counted."""
        lows = (self.ends[0], *(joint.station for joint in self.joints))
        highs = (*(joint.highest for joint in self.joints), self.ends[1])
        return tuple(zip(lows, highs, strict=True))

    @property
    def names(self) -> tuple[str, ...]:
        """Of the pieces, as their files are called; the ring of a collar has a number, too."""
        rings = np.cumsum([0, *(joint.collar is not None for joint in self.joints)])
        return tuple(
            f"{self.known.name}-{number + below:02d}" for number, below in enumerate(rings, 1)
        )

    @property
    def seam_radii(self) -> tuple[float, ...]:
        """The widest of the part at each seam, mm."""
        return tuple(float(np.hypot(*ring[0][:, :2].T).max()) for ring in self.seams)


def view_part(known: KnownPart, plan: Plan | None, settings: Settings) -> PartView:
    """What is to be shown of a part; plan : None where it cannot be planned."""
    exact = known.exact
    asked = replace(settings, envelope=settings.room)
    stations = _unplanned(exact, asked) if plan is None else map_planned(exact, asked, plan)
    joints = plan.joints if plan is not None else ()
    mesh = known.trued.mesh
    return PartView(
        known=known,
        settings=settings,
        joints=joints,
        leans=plan is not None and plan.lean is not None,
        stations=stations,
        seams=tuple(section_rings(mesh, [joint.station for joint in joints])),
        zones=tuple(section_rings(mesh, _zone_ends(joints))),
        holes=hole_outlines(known.trued),
        ends=exact.ends(settings),
        radius=widest_radius(known, joints),
    )


def widest_radius(known: KnownPart, joints: Sequence[Joint]) -> float:
    """How far a part and the collars over it reach from its axis, mm."""
    part = float(np.hypot(*known.trued.mesh.vertices[:, :2].T).max())
    return max(part, *(_collar_radius(joint) for joint in joints), 0.0)


def _collar_radius(joint: Joint) -> float:
    """How far the ring of a joint reaches from the part's axis, mm; 0 without one outside."""
    collar = joint.collar
    if collar is None or collar.place == "inside":
        return 0.0
    ends = collar.outer.radii_at(np.array(joint.zone))
    beyond = collar.outer.eccentricity + collar.radial_clearance + collar.thickness
    return float(ends.max()) + beyond


def _unplanned(exact: Survey, asked: Settings) -> StationMap:
    """Where seams may lie; nothing of a part that cannot have the joint that was asked for."""
    try:
        return map_stations(exact, asked, ())
    except BadSetting:
        return StationMap(())


def _zone_ends(joints: tuple[Joint, ...]) -> list[float]:
    """Stations where joints begin or end, but for seams."""
    return [end for joint in joints for end in joint.zone if end != joint.station]


def draw_part(view: PartView, shown: Shown, mm_per_pixel: float) -> Drawing:
    """All that is shown of a part, at a scale."""
    beside = Beside(view.radius, mm_per_pixel)
    drawing = Drawing((_axis(view, mm_per_pixel),))
    drawing += Drawing(tuple(Line(*ring, "solid", "seam", "surface", 3.0) for ring in view.seams))
    drawing += Drawing(tuple(Line(*ring, "dashed", "seam", "surface", 1.5) for ring in view.zones))
    if shown.holes:
        drawing += Drawing((Line(*view.holes, width=2.0), *_kept_by_holes(view, mm_per_pixel)))
        if shown.sizes:
            drawing += label_holes(view.known.exact.side_holes, beside)
    if shown.stretches:
        drawing += draw_stretches(view.stations.stretches, beside)
    drawing += draw_seams(view.joints, view.seam_radii, beside, sizes=shown.sizes)
    if not view.leans:
        room, scale = view.settings.envelope[2], view.settings.print_scale
        ends = (view.radius, *view.seam_radii), (*view.seam_radii, view.radius)
        pieces = [
            Height(name, *span, *radii)
            for name, span, radii in zip(
                view.names, view.heights, zip(*ends, strict=True), strict=True
            )
        ]
        drawing += draw_heights(pieces, room, scale, beside, sizes=shown.sizes)
    for face in view.faces:
        drawing += Drawing(tuple(face_lines(face, shown.angle, mm_per_pixel)))
    return drawing


def _axis(view: PartView, mm_per_pixel: float) -> Line:
    beyond = AXIS_BEYOND * mm_per_pixel
    low, high = (np.array([[0.0, 0.0, z]]) for z in view.ends)
    along = np.array([0.0, 0.0, beyond])
    return Line(low - along, high + along, "chain", "plain", "front", 1.0)


def _kept_by_holes(view: PartView, mm_per_pixel: float) -> list[Line]:
    """The stretches that joints keep out of for side holes, along the axis, with their ends."""
    guard = view.settings.guard
    kept = np.array(
        [(hole.low - guard, hole.high + guard) for hole in view.known.exact.side_holes], np.float64
    ).reshape(-1, 2)
    half = np.array([BRACKET * mm_per_pixel, 0.0, 0.0])
    ends = _on_axis(kept.reshape(-1))
    return [
        Line(_on_axis(kept[:, 0]), _on_axis(kept[:, 1]), "dotted", "alert", "front", 3.0),
        Line(ends - half, ends + half, "solid", "alert", "beside", 1.5),
    ]


def _on_axis(stations: FloatArray) -> FloatArray:
    placed: FloatArray = stations[:, None] * np.array([0.0, 0.0, 1.0])
    return placed
