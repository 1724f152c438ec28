"""The loops between regions as they become: circles, rims, and loops crossed by lines.

Both regions beside a loop take the same new vertices. A loop that is neither a
circle nor a rim keeps its vertices, moved onto the surface, and gets a new one
wherever it crosses a line along the surface.
"""

from __future__ import annotations

import math

import numpy as np

from ..errors import TruingRefused
from ..values import ROUND_OFF, FloatArray, IntArray, RoundSurface
from .chains import Chain, EdgeVertices, interleaved, joined_lines
from .lines import Crossings, cross_lines
from .loop_kinds import Circle, Rim, angles_about, turns_of
from .rims import across_and_along, rim_stations
from .source import Source
from .targets import Flat, Target
from .unroll import place_lines

_SAME_PLACE = 1e-5


class MovedPoints:
    """The source's vertices, of which those on borders may be moved."""

    def __init__(self, vertices: FloatArray, on_borders: IntArray) -> None:
        self._vertices = vertices
        numbers = np.unique(on_borders)
        self._row = np.zeros(len(vertices), np.int32)  # 0 for those that stay
        self._row[numbers] = np.arange(1, len(numbers) + 1)
        self._moved = np.vstack([np.full((1, 3), np.nan), vertices[numbers]])

    def at(self, numbers: IntArray) -> FloatArray:
        """(k, 3) mm, where vertices are now."""
        rows = self._row[numbers]
        found: FloatArray = self._vertices[numbers]
        found[rows > 0] = self._moved[rows[rows > 0]]
        return found

    def put_level(self, numbers: IntArray, station: float) -> None:
        """Move border vertices along the axis to a station."""
        self._moved[self._row[numbers], 2] = station

    def put_on(self, surface: RoundSurface, numbers: IntArray) -> None:
        """Move border vertices square to the axis onto a round surface."""
        rows = self._row[numbers]
        points = self._moved[rows]
        self._moved[rows] = on_surface(surface, angles_about(points, surface), points[:, 2])


class Outlines:
    """All loops as they become, and the vertices for it."""

    def __init__(
        self, source: Source, circles: list[Circle], rims: list[Rim], flats: tuple[Flat, ...]
    ) -> None:
        self.source = source
        self.moved = MovedPoints(source.mesh.vertices, source.borders.start)
        self.new: list[FloatArray] = []
        self.count = len(source.mesh.vertices)
        replaced: list[Circle | Rim] = [*circles, *rims]
        self.replaced = {loop for found in replaced for loop in (found.loop, found.back)}
        self.chains: dict[int, Chain] = {}
        self._move_borders(flats)
        self.lines = self._place_lines(rims)
        for circle in circles:
            self._make_circle(circle)
        for rim in rims:
            self._make_rim(rim)
        self.on_edges = self._cross_borders()
        self._all_new = np.vstack([np.empty((0, 3)), *self.new])

    def chain(self, loop: int) -> Chain:
        """A loop as it becomes, in its region's own sense."""
        if loop not in self.chains:
            self.chains[loop] = self._crossed(loop)
        return self.chains[loop]

    def positions(self, numbers: IntArray) -> FloatArray:
        """(k, 3) mm of vertices."""
        is_new = numbers >= len(self.source.mesh.vertices)
        found = self.moved.at(np.where(is_new, 0, numbers))
        found[is_new] = self._all_new[numbers[is_new] - len(self.source.mesh.vertices)]
        return found

    def _add(self, points: FloatArray) -> IntArray:
        numbers = self.count + np.arange(len(points))
        self.new.append(points)
        self.count += len(points)
        return numbers

    def _kept_loops(self) -> list[int]:
        loops = self.source.borders.loops
        return [number for number in range(len(loops)) if number not in self.replaced]

    def _move_borders(self, flats: tuple[Flat, ...]) -> None:
        """Vertices of loops that are kept put exactly onto ends, then onto round surfaces."""
        ends = {flat.region: flat.station for flat in flats if flat.is_end}
        loops = self.source.borders.loops
        for number in self._kept_loops():
            if loops[number].region in ends:
                self.moved.put_level(loops[number].vertices, ends[loops[number].region])
        for number in self._kept_loops():
            target = self.source.targets.get(loops[number].region)
            if target is not None:
                self.moved.put_on(target.surface, loops[number].vertices)
        self._check_apart()

    def _check_apart(self) -> None:
        """Vertices that were apart must not have come together: a file could not tell them."""
        loops = self.source.borders.loops
        kept = [loops[number].vertices for number in self._kept_loops()]
        vertices = np.unique(np.concatenate([np.empty(0, np.int64), *kept]))
        steps = np.round(self.moved.at(vertices) / _SAME_PLACE).astype(np.int64)
        order = np.lexsort(steps.T)
        same = (steps[order[1:]] == steps[order[:-1]]).all(axis=1)
        old = self.source.mesh.vertices[vertices[order]]
        gaps = np.linalg.norm(old[1:] - old[:-1], axis=1)
        closed = np.flatnonzero(same & (gaps > ROUND_OFF))
        if len(closed):
            gap, station = float(gaps[closed[0]]), float(old[closed[0], 2])
            raise TruingRefused(
                f"a step of {gap:.3f} mm near station {station:.2f} mm that would be closed: "
                f"both its edges lie within {self.source.max_move:.3f} mm of one surface",
                "steps higher than --max-move, or none",
                f"--max-move {math.floor(gap * 40.0) / 100.0:.2f}, or --true none",
            )

    def _place_lines(self, rims: list[Rim]) -> dict[int, FloatArray]:
        """Lines for each set of surfaces about one centre, clear of all their loops."""
        lines = {}
        for number in {target.lines for target in self.source.targets.values()}:
            members = [t for t in self.source.targets.values() if t.lines == number]
            regions = {target.region for target in members}
            centre = members[0].surface
            loops = [
                angles_about(self.moved.at(self.source.borders.loops[loop].vertices), centre)
                for loop in self._kept_loops()
                if self.source.borders.loops[loop].region in regions
            ]
            loops += [angles_about(rim.points, centre) for rim in rims if rim.side.lines == number]
            widest = max((target.surface for target in members), key=_greatest_radius)
            lines[number] = place_lines(widest, loops)
        return lines

    def _make_circle(self, circle: Circle) -> None:
        """A vertex on each line of the surfaces that meet here."""
        sides = circle.sides
        both = [self.lines[side.lines] for side in sides]
        if len(sides) == 2 and sides[0].lines == sides[1].lines:
            both = both[:1]
        angles, owners = joined_lines(both)
        surface = sides[0].surface
        round_ = np.column_stack([np.cos(angles), np.sin(angles)])
        numbers = self._add(
            np.column_stack(
                [surface.offset + circle.radius * round_, np.full(len(angles), circle.station)]
            )
        )
        old = self.source.borders.loops[circle.loop].vertices
        forward = turns_of(angles_about(self.source.mesh.vertices[old], surface)) > 0
        here = Chain(numbers, owners[0])
        back = Chain(numbers, owners[-1])
        self.chains[circle.loop] = here if forward else here.backward()
        self.chains[circle.back] = back.backward() if forward else back

    def _make_rim(self, rim: Rim) -> None:
        """Evenly spread points about the hole, and one on each line that they cross."""
        surface = rim.side.surface
        lines = self.lines[rim.side.lines]
        angles = angles_about(rim.points, surface)
        crossings = cross_lines(angles, np.roll(angles, -1), lines)
        half = np.pi / len(rim.points)
        stations = rim_stations(
            surface, rim.wall.wall, lines[crossings.line], 2.0 * half * crossings.edge + half, half
        )
        chord = _along(rim.points[:, 2], np.roll(rim.points[:, 2], -1), crossings)
        stations = np.where(np.isfinite(stations), stations, chord)
        edges = np.bincount(crossings.edge, minlength=len(angles))
        vertices, owners = interleaved(
            self._add(rim.points),
            edges,
            self._add(on_surface(surface, lines[crossings.line], stations)),
            crossings.line,
        )
        chain = Chain(vertices, owners)
        old = self.source.mesh.vertices[self.source.borders.loops[rim.loop].vertices]
        across = across_and_along(old, rim.wall.wall)[0]
        forward = turns_of(np.arctan2(across[:, 1], across[:, 0])) > 0
        self.chains[rim.loop] = chain if forward else chain.backward()
        self.chains[rim.back] = self.chains[rim.loop].backward()

    def _cross_borders(self) -> EdgeVertices:
        """New vertices wherever edges that are kept cross the lines of a surface beside them."""
        borders = self.source.borders
        sets = np.full(len(borders.loops), -1)
        for number, loop in enumerate(borders.loops):
            if loop.region in self.source.targets:
                sets[number] = self.source.targets[loop.region].lines
        regions = np.array([loop.region for loop in borders.loops])
        kept = np.array([number not in self.replaced for number in range(len(regions))])
        first = np.arange(len(borders.twin)) < borders.twin
        beyond = borders.loop[borders.twin]
        rows = [np.empty((0, 4))]
        points = [np.empty((0, 3))]
        for target in self.source.targets.values():
            own = regions[borders.loop] == target.region
            across = (regions[beyond] == target.region) & (sets[borders.loop] != target.lines)
            edges = np.flatnonzero(kept[borders.loop] & first & (own | across))
            crossings, there = self._cross_edges(edges, target)
            owner = np.full(len(there), target.lines)
            points.append(there)
            rows.append(
                np.column_stack([edges[crossings.edge], crossings.share, crossings.line, owner])
            )
        edge, share, line, owner = np.vstack(rows).T
        order = np.lexsort((share, edge))
        return EdgeVertices(
            first=np.searchsorted(edge[order], np.arange(len(borders.twin) + 1)),
            vertices=self._add(np.vstack(points)[order]),
            lines=line[order].astype(np.int64),
            sets=owner[order].astype(np.int64),
        )

    def _cross_edges(self, edges: IntArray, target: Target) -> tuple[Crossings, FloatArray]:
        """Where edges cross a surface's lines, and the points of the surface there."""
        borders, lines = self.source.borders, self.lines[target.lines]
        start, end = self.moved.at(borders.start[edges]), self.moved.at(borders.end[edges])
        ways = angles_about(start, target.surface), angles_about(end, target.surface)
        crossings = cross_lines(*ways, lines)
        stations = _along(start[:, 2], end[:, 2], crossings)
        return crossings, on_surface(target.surface, lines[crossings.line], stations)

    def _crossed(self, loop: int) -> Chain:
        """A loop that is kept, with the new vertices on its edges."""
        borders, added = self.source.borders, self.on_edges
        edges = borders.edges_of(loop)
        target = self.source.targets.get(borders.loops[loop].region)
        vertices, which, counts = self.along(edges)
        owns = target is not None and added.sets[which] == target.lines
        lines = np.where(owns, added.lines[which], -1)
        return Chain(*interleaved(borders.start[edges], counts, vertices, lines))

    def along(self, edges: IntArray) -> tuple[IntArray, IntArray, IntArray]:
        """New vertices on border edges, each edge in its own sense.

        Returns
        -------
        Their numbers, their places in `on_edges`, and how many each edge has.
        """
        borders, added = self.source.borders, self.on_edges
        lower = np.minimum(edges, borders.twin[edges])
        counts = added.first[lower + 1] - added.first[lower]
        edge = np.repeat(np.arange(len(edges)), counts)
        rank = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)
        backward = (lower != edges)[edge]
        which = added.first[lower][edge] + np.where(backward, counts[edge] - 1 - rank, rank)
        return added.vertices[which], which, counts


def on_surface(surface: RoundSurface, angles: FloatArray, stations: FloatArray) -> FloatArray:
    """(n, 3) mm, points of a round surface at angles about its own centre line."""
    radii = surface.radii_at(stations)
    x, y = surface.offset
    return np.column_stack([x + radii * np.cos(angles), y + radii * np.sin(angles), stations])


def _greatest_radius(surface: RoundSurface) -> float:
    return max(surface.radius_at(surface.start), surface.radius_at(surface.stop))


def _along(start: FloatArray, end: FloatArray, crossings: Crossings) -> FloatArray:
    """Values at crossings, straight from the start to the end of each edge."""
    values: FloatArray = start[crossings.edge] + crossings.share * (end - start)[crossings.edge]
    return values
