"""How much of a piece is plastic: walls, solid layers at level faces, infill between them.

A section of area A is bounded by outlines. Walls of width t inside of it take of a smooth
outer outline of length L the area L t - pi t^2, and around a hollow L t + pi t^2: Steiner's
formula for parallel curves, exact while t is under the reach (no curvature over 1 / t, no
two outlines nearer than 2 t). Past it the formula is held to what is there: t at an
outer outline to L / (2 pi), a disc's radius, and each sum to its area.

The sides of the error. Too much, where an outer outline has corners: (tan(c / 2) - c / 2) t^2
for each turn by c, 0.21 t^2 of a right angle; and where walls overlap in some places of a
section, until all of it is wall. Exact at corners of hollows and at re-entrant ones. Too
little, where a slicing program fills a gap between walls, too narrow for infill, with
solid plastic.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..meshes.mesh_checks import triangle_normals
from ..meshes.plane_sections import Sections, cut_sections
from ..values import BoolArray, FloatArray, Mesh, Settings, read_only

_LEVEL = math.cos(math.radians(1.0))
"""Faces that lean less than a degree are level."""

_SLABS = 24
"""A piece is cut into at least so many slabs; more where level faces begin solid layers."""

_LEAST_LEVEL = 0.02
"""Of the largest level area: slabs end at level faces that have as much."""

_MOST_LEVELS = 24
"""So many at the most, those with most area."""

_STEP = 1e-4
"""mm; heights nearer than that are one."""

_GAUSS = (0.5 - math.sqrt(1.0 / 12.0), 0.5 + math.sqrt(1.0 / 12.0))
"""Where in a slab two sections stand for it: Gauss and Legendre's rule, exact for cubics."""


@dataclass(frozen=True, slots=True, eq=False)
class _Faces:
    """Faces from the lowest up.

    heights : (n,) mm
    areas : (n,) mm2
    """

    heights: FloatArray
    areas: FloatArray

    def __post_init__(self) -> None:
        read_only(self.heights)
        read_only(self.areas)

    def area_below(self, heights: FloatArray) -> FloatArray:
        """(k,) mm2, of the faces under each height."""
        added = np.concatenate([[0.0], np.cumsum(self.areas)])
        below: FloatArray = added[np.searchsorted(self.heights, heights)]
        return below


def laid_volume(mesh: Mesh, solid: float, settings: Settings) -> float:
    """Plastic, mm3, in walls, solid layers and infill; at most all that the mesh encloses.

    A line is as wide as the nozzle's bore, as everywhere here where walls are counted in
    lines. Common practice, no source, is 1 to 1.2 times that: wider lines take more.

    Parameters
    ----------
    mesh : closed, in the pose of its file
    solid : mm3, that it encloses
    """
    printing = settings.printing
    faces = _level_faces(mesh)
    depth = printing.solid_layers * settings.layer
    heights, spans = _slab_sections(mesh, _levels(faces), depth)
    columns = [np.ascontiguousarray(column) for column in mesh.vertices.T]
    sections = cut_sections(columns, mesh.triangles, heights)
    areas = np.maximum(_by_plane(sections, sections.areas), 0.0)
    inside = areas - np.minimum(wall_areas(sections, printing.lines * settings.nozzle), areas)
    open_share = 1.0 - _covered(faces, heights, areas, depth)
    sparse = float(spans @ (inside * open_share)) / float(spans @ areas)
    return solid * (1.0 - sparse * (1.0 - printing.infill_percent / 100.0))


def wall_areas(sections: Sections, width: float) -> FloatArray:
    """(k,) mm2 in each plane, of walls along all outlines; may pass the section's area.

    width : mm, of a wall
    """
    lengths = sections.sums(np.hypot(*(sections.ends - sections.starts).T))
    inward = np.minimum(width, lengths / (2.0 * math.pi))
    outer = np.minimum(sections.areas, lengths * inward - math.pi * inward**2)
    around = lengths * width + math.pi * width**2
    return _by_plane(sections, np.where(sections.areas > 0.0, outer, around))


def _by_plane(sections: Sections, values: FloatArray) -> FloatArray:
    """(k,) values, one an outline, added up over each plane."""
    added: FloatArray = np.bincount(sections.plane, values, len(sections.heights)).astype(float)
    return added


def _slab_sections(mesh: Mesh, levels: FloatArray, depth: float) -> tuple[FloatArray, FloatArray]:
    """Heights of sections, ascending, and the height that each stands for, mm.

    Slabs end where level faces are, and where solid layers beside them do.
    """
    low, high = float(mesh.vertices[:, 2].min()), float(mesh.vertices[:, 2].max())
    marks = np.concatenate(
        [levels, levels - depth, levels + depth, np.linspace(low, high, _SLABS + 1)]
    )
    ends = np.unique(np.round(marks[(marks > low) & (marks < high)] / _STEP)) * _STEP
    ends = np.concatenate([[low], ends[(ends > low + _STEP) & (ends < high - _STEP)], [high]])
    slabs = np.diff(ends)
    heights = (ends[:-1, None] + slabs[:, None] * np.array(_GAUSS)).ravel()
    return heights, np.repeat(slabs / 2.0, 2)


def _level_faces(mesh: Mesh) -> tuple[_Faces, _Faces]:
    """Level faces that look up, and those that look down."""
    normals, areas = triangle_normals(mesh)
    heights = mesh.vertices[mesh.triangles, 2].mean(axis=1)
    up, down = (
        _faces(heights, areas, picked)
        for picked in (normals[:, 2] > _LEVEL, normals[:, 2] < -_LEVEL)
    )
    return up, down


def _faces(heights: FloatArray, areas: FloatArray, picked: BoolArray) -> _Faces:
    order = np.argsort(heights[picked], kind="stable")
    return _Faces(heights[picked][order], areas[picked][order])


def _levels(faces: tuple[_Faces, _Faces]) -> FloatArray:
    """(n,) mm, the heights at which there is much level area."""
    heights, areas = (
        np.concatenate(of_both)
        for of_both in zip(*((one.heights, one.areas) for one in faces), strict=True)
    )
    level, number = np.unique(np.round(heights / _STEP), return_inverse=True)
    area = np.bincount(number.reshape(-1), areas, len(level))
    most = np.argsort(-area, kind="stable")[:_MOST_LEVELS]
    largest: FloatArray = level[most[area[most] >= _LEAST_LEVEL * area.max(initial=0.0)]] * _STEP
    return largest


def _covered(
    faces: tuple[_Faces, _Faces], heights: FloatArray, areas: FloatArray, depth: float
) -> FloatArray:
    """(k,) share of each section that lies within `depth`, mm, under or over level faces.

    The share is taken to hold for what the walls leave too: exact where a face is as
    wide as the section, too much where it lies along a border, for there the walls are.

    areas : (k,) mm2, of the sections
    """
    up, down = faces
    under = up.area_below(heights + depth) - up.area_below(heights)
    over = down.area_below(heights) - down.area_below(heights - depth)
    share: FloatArray = (under + over) / np.where(areas > 0.0, areas, 1.0)
    return np.clip(share, 0.0, 1.0)
