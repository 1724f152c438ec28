"""The source as truing sees it: regions, their borders, and who belongs to which."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from ..meshes.borders import loops_through, mixed_vertices, regions_at, triangles_at
from ..meshes.in_blocks import in_blocks
from ..values import ROUND_OFF, BoolArray, IntArray, Mesh, Settings, Survey, read_only
from .borders import Borders, match_borders
from .specks import without_specks
from .targets import Regions, Target, regions_of

_ROUNDS = 4
"""How often specks are looked for: one may lie in another."""


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """The part's mesh, taken apart into regions.

    targets : by region
    near : (k,) numbers of the triangles at borders, ascending
    rest : (k,) numbers of the triangles of no target, ascending
    max_move : mm, how far off a surface a vertex may lie and still belong to it
    """

    mesh: Mesh
    regions: Regions
    borders: Borders
    targets: dict[int, Target]
    near: IntArray
    rest: IntArray
    max_move: float

    def __post_init__(self) -> None:
        read_only(self.near)
        read_only(self.rest)

    def members(self, regions: list[int]) -> list[IntArray]:
        """Vertices of each of some regions."""
        ids, borders = self.regions.ids, self.borders
        some = regions_at(self.mesh.triangles, ids, len(self.mesh.vertices))
        edges = [[loop.vertices for loop in borders.loops if loop.region == one] for one in regions]
        return [
            np.concatenate([np.flatnonzero(some == one), *loops])
            for one, loops in zip(regions, edges, strict=True)
        ]

    def triangles_of(self, region: int) -> IntArray:
        """Triangles of a region."""
        if region in self.targets:
            return np.flatnonzero(self.regions.ids == region)
        triangles: IntArray = self.rest[self.regions.ids[self.rest] == region]
        return triangles


def take_apart(survey: Survey, targets: tuple[Target, ...], settings: Settings) -> Source:
    """The survey's mesh by regions, with the loops between them."""
    mesh = survey.mesh
    max_move = max(settings.max_move, ROUND_OFF)
    regions = regions_of(survey, targets, max_move)
    among = survey.at_borders
    if among is None:
        among = np.arange(len(mesh.triangles))
    mixed = _mixed(mesh, regions, among)
    near = among[triangles_at(mesh.triangles[among], mixed)]
    loops = loops_through(mesh.triangles, regions.ids, mixed, near)
    for _ in range(_ROUNDS):
        cleared = without_specks(mesh, regions, loops, max_move)
        if cleared is None:
            break
        regions = cleared
        mixed = _mixed(mesh, regions, near)
        loops = loops_through(mesh.triangles, regions.ids, mixed, near)
    return Source(
        mesh=mesh,
        regions=regions,
        borders=match_borders(loops),
        targets={target.region: target for target in targets},
        near=near,
        rest=_of_no_target(regions),
        max_move=max_move,
    )


def _mixed(mesh: Mesh, regions: Regions, among: IntArray) -> BoolArray:
    """(n,) whether each vertex touches several regions, told by triangles that hold all borders."""
    some = mesh.triangles[among]
    return mixed_vertices(some, regions.ids[among], len(mesh.vertices))


def _of_no_target(regions: Regions) -> IntArray:
    own = [target.region for target in regions.targets]
    return np.concatenate(in_blocks(partial(_without, regions.ids, own), len(regions.ids)))


def _without(ids: IntArray, own: list[int], block: slice) -> IntArray:
    some = ids[block]
    others = np.ones(len(some), bool)
    for region in own:
        others &= some != region
    return np.flatnonzero(others) + int(block.start)
