"""A part cut in planes across one direction, and the round hollows seen in them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.plane_sections import Sections, cut_sections
from ..meshes.products import columns_along
from ..values import FloatArray, Mesh, read_only
from .cylinder_fit import frame_rows
from .outline_circles import OutlineCircles, fit_circles
from .outline_tracks import Track, fills_circle, follow_outlines, hold_another

PLANES = 64
_GAPS_LOOKED_INTO = 60
_GAP_PLACES = (0.2, 0.5, 0.8)
_LEAST_GAP = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class PartCut:
    """A part cut across one direction.

    rows : (3, 3) unit rows, the direction last
    width : mm, the part's greatest extent along the first two rows
    """

    rows: FloatArray
    sections: Sections
    width: float

    def __post_init__(self) -> None:
        read_only(self.rows)

    @property
    def direction(self) -> FloatArray:
        """Across which it is cut."""
        direction: FloatArray = self.rows[2]
        return direction

    @property
    def spacing(self) -> float:
        """Distance, mm, of the planes at even steps."""
        return float(np.ptp(self.sections.heights)) / (PLANES - 1)

    @property
    def length(self) -> float:
        """mm, of the part along the direction, but for what the planes leave out."""
        return float(np.ptp(self.sections.heights)) + self.spacing

    def place(self, x: float, y: float, height: float) -> tuple[float, float, float]:
        """A point of the view in the mesh's coordinates."""
        at_x, at_y, at_z = (float(v) for v in np.array([x, y, height]) @ self.rows)
        return at_x, at_y, at_z


@dataclass(frozen=True, slots=True, eq=False)
class PartView(PartCut):
    """A part cut across one direction, and the circles of its outlines.

    hollows : round ones, those of most planes first
    gaps : (g,) heights of the planes in which one round hollow lies around another
    """

    circles: OutlineCircles
    hollows: list[Track]
    gaps: FloatArray

    def __post_init__(self) -> None:
        PartCut.__post_init__(self)
        read_only(self.gaps)

    def merit(self) -> float:
        """How much bore is seen along this direction: planes with a round one."""
        return len(self.hollows[0].heights) if self.hollows else 0.0


def look_along(mesh: Mesh, direction: FloatArray, tolerance: float) -> PartView:
    """The part cut across a direction.

    tolerance : mm, within which a corner lies on a circle
    """
    return look_at(cut_across(mesh, direction), tolerance)


def cut_across(mesh: Mesh, direction: FloatArray) -> PartCut:
    """The part cut across a direction, no outline looked at."""
    rows = frame_rows(direction)
    columns = columns_along(mesh.vertices, rows, np.zeros(3))
    sections = cut_sections(columns, mesh.triangles, _heights(columns[2]))
    return PartCut(rows, sections, max(float(np.ptp(columns[0])), float(np.ptp(columns[1]))))


def look_at(cut: PartCut, tolerance: float) -> PartView:
    """The outlines of a cut part; as `look_along`."""
    sections = cut.sections
    circles = fit_circles(sections, tolerance)
    round_ones = fills_circle(sections, circles)
    around = hold_another(sections, circles, round_ones)
    gaps = np.unique(sections.heights[sections.plane[around]])
    hollows = follow_outlines(sections, circles, round_ones & ~around)
    return PartView(cut.rows, sections, cut.width, circles, hollows, gaps)


def _heights(stations: FloatArray) -> FloatArray:
    """Planes at even steps, and where a coarse mesh has few levels three between any two."""
    low, high = float(stations.min()), float(stations.max())
    even = low + (high - low) * (np.arange(PLANES) + 0.5123) / PLANES
    levels = (
        np.unique(np.round(stations / _LEAST_GAP)) * _LEAST_GAP if len(stations) < 1e5 else even
    )
    gaps = np.diff(levels)
    if len(levels) > _GAPS_LOOKED_INTO:
        return even
    between = levels[:-1, None] + gaps[:, None] * np.array(_GAP_PLACES)
    both = np.sort(np.concatenate([even, between.ravel()]))
    both = both[(both > low) & (both < high)]
    apart: FloatArray = both[np.concatenate([[True], np.diff(both) > 1e-3])]
    return apart
