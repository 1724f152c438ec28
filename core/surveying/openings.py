"""What opens the wall of a part, and what else lies on it: side holes, ornaments."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from ..meshes.in_blocks import shared_out
from ..values import (
    HOLE,
    BoolArray,
    FloatArray,
    IntArray,
    Mesh,
    Ornament,
    RoundSurface,
    SideHole,
    read_only,
)
from .bore_openings import Terrain, find_openings_of_bores, survey_terrain
from .crossed_sheets import CrossedSheets, find_crossed_sheets
from .hole_passages import Passage, find_passages
from .hole_sizes import SizedHole, measure_hole
from .labelling import Regions
from .ornaments import Loose, find_ornaments
from .passing_sheets import passing_points


@dataclass(frozen=True, slots=True, eq=False)
class Openings:
    """Side holes and ornaments, and the labels with the walls of round holes marked.

    labels, numbers, at_borders : as in `Survey`
    in_holes : numbers of the triangles that are walls of side holes, round or not
    passing : (k, 3) mm, where the mesh has gone through a round wall
    crossed : where its sheets cross elsewhere
    """

    side_holes: tuple[SideHole, ...]
    ornaments: tuple[Ornament, ...]
    labels: IntArray
    numbers: IntArray
    at_borders: IntArray
    passing: FloatArray
    in_holes: IntArray
    loose: Loose
    crossed: CrossedSheets

    def __post_init__(self) -> None:
        read_only(self.labels)
        read_only(self.numbers)
        read_only(self.at_borders)
        read_only(self.passing)
        read_only(self.in_holes)


def find_openings(
    part: Mesh,
    regions: Regions,
    shared: BoolArray,
    bores: tuple[RoundSurface, ...],
    outsides: tuple[RoundSurface, ...],
    length: float,
    band: float,
) -> Openings:
    """Side holes and ornaments of a part in its own frame.

    A side hole is an opening of a bore's wall that leads to the outside. Whatever else
    belongs to no surface is an ornament, if it is more than noise.

    Parameters
    ----------
    regions : bores, outsides and ends marked, all else OTHER
    shared : (n,) which vertices lie near several stretches of bores and outsides
    outsides : none where the outside is not round: then it is OTHER as well
    length : mm, between the ends
    band : mm, how far off its surface a vertex may lie
    """
    terrain = survey_terrain(part, regions, shared, bores)
    passages = find_passages(terrain, find_openings_of_bores(terrain), bores, outsides, band)
    measure = partial(measure_hole, terrain, outsides=outsides, band=band)
    sized = shared_out(measure, passages)
    order = sorted(range(len(sized)), key=lambda k: (sized[k].hole.station, sized[k].hole.angle))
    walls = [passage.triangles for passage in passages]
    in_holes = np.concatenate([*walls, np.empty(0, np.int64)])
    holes = [_opening_bore(terrain, passages[k], sized[k].hole, bores) for k in order]
    marked = _mark_walls(regions, [sized[k] for k in order])
    ornaments, loose = find_ornaments(terrain, in_holes, bores, outsides, length, band)
    passing = passing_points(terrain, in_holes, bores, outsides, band)
    crossed = find_crossed_sheets(terrain, marked.labels, (*bores, *outsides), length, band)
    return Openings(
        tuple(holes),
        ornaments,
        marked.labels,
        marked.numbers,
        terrain.near,
        passing,
        in_holes,
        loose,
        crossed,
    )


def _opening_bore(
    terrain: Terrain, passage: Passage, hole: SideHole, bores: tuple[RoundSurface, ...]
) -> SideHole:
    """The hole with the stretch of the bore that most of its rim opens."""
    line = terrain.lines[passage.opening.line]
    station = float(terrain.part.vertices[passage.opening.loop.vertices, 2].mean())
    gaps = [
        max(bore.start - station, station - bore.stop, 0.0) if bore.offset == line else np.inf
        for bore in bores
    ]
    return replace(hole, bore=int(np.argmin(gaps)))


def _mark_walls(regions: Regions, holes: list[SizedHole]) -> Regions:
    marked, counted = regions.labels.copy(), regions.numbers.copy()
    for k, sized in enumerate(holes):
        marked[sized.on_wall] = HOLE
        counted[sized.on_wall] = k
    return Regions(marked, counted)
