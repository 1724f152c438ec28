"""A plain tube with side holes in any number of triangles, every vertex on its true surfaces.

The unrolled outside and bore are one regular grid; round each hole a rectangle of cells
gives way to layers that lead from the rectangle's outline to the hole's rim.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tests.families.surfaces import Direction, cone, ellipse, level, swept
from tests.families.truth import FloatArray, IntArray, Opening, Part, Stretch, Surface, Truth

HOLES = ((96.0, 0.0, 7.0), (122.0, 180.0, 6.0), (147.0, 0.0, 7.5), (196.0, 0.0, 7.0),
         (221.0, 0.0, 8.5), (247.0, 0.0, 6.5))  # fmt: skip
"""Station, angle in degrees (whole quarters of a turn), diameter."""


@dataclass(frozen=True, slots=True)
class _Patch:
    """A hole's rectangle of cells: rows first..last of the grid, columns round the middle one."""

    station: float
    angle: float
    radius: float
    rows: tuple[int, int]
    middle: int
    half: int
    layers: int


@dataclass(frozen=True, slots=True)
class _Grid:
    sides: int
    stations: FloatArray
    patches: tuple[_Patch, ...]
    radii: tuple[float, float]
    wall_layers: int

    def count(self) -> int:
        """Triangles that this grid comes to."""
        total = 4 * (len(self.stations) - 1 + self.wall_layers) * self.sides
        for patch in self.patches:
            rows = patch.rows[1] - patch.rows[0]
            round_about = 2 * rows + 4 * patch.half
            total -= 8 * rows * patch.half
            total += 2 * round_about * (2 * patch.layers + self.wall_layers)
        return total


def dense_tube(
    triangles: int,
    holes: int = 6,
    *,
    length: float = 352.0,
    outside: float = 21.4,
    bore: float = 14.2,
) -> Part:
    """The tube, in about that many triangles (within 5 %, from 3,000 up)."""
    cut = HOLES[:holes]
    radii = outside / 2.0, bore / 2.0
    even = 2.0 * math.sqrt(math.pi * sum(radii) * length / triangles)
    grids = (_laid_out(even * size, cut, length, radii) for size in np.geomspace(0.8, 8.0, 300))
    grid = min(grids, key=lambda laid: abs(laid.count() - triangles))
    builder = _Builder(grid)
    builder.build()
    vertices, faces, owner = builder.arrays()
    truth = Truth(
        length=length,
        bores=(Stretch((bore, bore), 0.0, length),),
        outsides=(Stretch((outside, outside), 0.0, length),),
        openings=tuple(Opening(station, angle, d, d) for station, angle, d in cut),
        least_wall=(outside - bore) / 2.0,
    )
    return Part(vertices, faces, owner, _true_surfaces(radii, length, cut), truth)


def _true_surfaces(
    radii: tuple[float, float], length: float, holes: tuple[tuple[float, float, float], ...]
) -> tuple[Surface, ...]:
    """In the order of the builder's numbers: outside, bore, ends, holes."""
    drilled = []
    for station, angle_deg, diameter in holes:
        cosine, sine = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
        frame = Direction(
            np.array([0.0, 0.0, station]),
            np.array([-sine, cosine, 0.0]),
            np.array([0.0, 0.0, 1.0]),
            np.array([cosine, sine, 0.0]),
        )
        drilled.append(swept(ellipse(diameter / 2.0, diameter / 2.0), frame))
    rounds = [cone(radius, 0.0, (0.0, 0.0)) for radius in radii]
    return (*rounds, level(0.0), level(length), *drilled)


def _laid_out(
    edge: float,
    holes: tuple[tuple[float, float, float], ...],
    length: float,
    radii: tuple[float, float],
) -> _Grid:
    """Rows, columns and layers for edges of about this length."""
    sides = 4 * max(6, round(math.pi * sum(radii) / edge / 4.0))
    stations: list[float] = [0.0]
    patches = []
    for station, angle_deg, diameter in holes:
        radius = diameter / 2.0
        _add_rows(stations, station - 1.5 * radius, edge)
        first = len(stations) - 1
        _add_rows(stations, station + 1.5 * radius, min(edge, 1.5 * radius))
        wide = 1.3 * math.asin(radius / radii[1])
        half = math.ceil(wide / (2.0 * math.pi / sides)) + 1
        layers = max(1, round(0.5 * radius / edge))
        middle = round(angle_deg / 360.0 * sides)
        angle = math.radians(angle_deg)
        rows = first, len(stations) - 1
        patches.append(_Patch(station, angle, radius, rows, middle, half, layers))
    _add_rows(stations, length, edge)
    wall_layers = max(1, round((radii[0] - radii[1]) / edge))
    return _Grid(sides, np.array(stations), tuple(patches), radii, wall_layers)


def _add_rows(stations: list[float], stop: float, edge: float) -> None:
    start = stations[-1]
    steps = max(1, round((stop - start) / edge))
    stations += [start + (stop - start) * step / steps for step in range(1, steps + 1)]


OUTSIDE, BORE, LOW, HIGH, FIRST_HOLE = 0, 1, 2, 3, 4


class _Builder:
    """Gathers vertices and triangles, patch by patch."""

    def __init__(self, grid: _Grid) -> None:
        self.grid = grid
        self._points: list[FloatArray] = []
        self._faces: list[IntArray] = []
        self._owners: list[IntArray] = []
        self._count = 0

    def build(self) -> None:
        outer, outer_rims = self._round_surface(OUTSIDE)
        inner, inner_rims = self._round_surface(BORE)
        low = self._between(outer[0], inner[0])
        high = self._between(outer[-1], inner[-1])
        self._band(low[:, ::-1], LOW)
        self._band(high, HIGH)
        for number, (outer_rim, inner_rim) in enumerate(zip(outer_rims, inner_rims, strict=True)):
            self._band(self._between(outer_rim, inner_rim), FIRST_HOLE + number)

    def arrays(self) -> tuple[FloatArray, IntArray, IntArray]:
        """Vertices, triangles and owners, without the vertices that patches replaced."""
        points, faces = np.vstack(self._points), np.vstack(self._faces)
        used = np.zeros(len(points), bool)
        for corner in faces.T:
            used[corner] = True
        place = np.cumsum(used) - 1
        return points[used], place[faces], np.concatenate(self._owners)

    def _round_surface(self, number: int) -> tuple[IntArray, list[IntArray]]:
        """Grid of vertex numbers of the outside or the bore, and the rim of each hole."""
        grid, radius = self.grid, self.grid.radii[number]
        rows, sides = len(grid.stations), grid.sides
        angles = np.tile(2.0 * np.pi * np.arange(sides) / sides, rows)
        here = self._add(_rolled(angles, np.repeat(grid.stations, sides), radius))
        here = here.reshape(rows, sides)
        kept = np.ones((rows - 1, sides), bool)
        rims = []
        for patch in grid.patches:
            columns = np.arange(patch.middle - patch.half, patch.middle + patch.half) % sides
            kept[patch.rows[0] : patch.rows[1], columns] = False
            rims.append(self._patch(patch, here, number))
        right = np.roll(here, -1, axis=1)
        quads = np.stack((here[:-1], right[:-1], right[1:], here[1:]), axis=-1)[kept]
        self._add_quads(quads if number == OUTSIDE else quads[:, ::-1], number)
        return here, rims

    def _patch(self, patch: _Patch, here: IntArray, number: int) -> IntArray:
        """The layers from a rectangle of the grid to the hole; returns the rim, in order."""
        row, column = _round_about(patch)
        border = here[row, (column + patch.middle) % self.grid.sides]
        radius = self.grid.radii[number]
        beside = 2.0 * np.pi * column / self.grid.sides
        above = self.grid.stations[row] - patch.station
        turn = np.arctan2(above, sum(self.grid.radii) / 2.0 * beside)
        rim_beside = np.arcsin(patch.radius * np.cos(turn) / radius)
        rim_above = patch.radius * np.sin(turn)
        share = np.arange(1, patch.layers + 1)[:, None] / patch.layers
        angles = patch.angle + beside + share * (rim_beside - beside)
        stations = patch.station + above + share * (rim_above - above)
        added = self._add(_rolled(angles.ravel(), stations.ravel(), radius))
        layers = np.vstack((border, added.reshape(patch.layers, -1)))
        self._band(layers if number == OUTSIDE else layers[:, ::-1], number)
        return layers[-1]

    def _between(self, start: IntArray, stop: IntArray) -> IntArray:
        """Layers of vertices on the straight lines between two rings."""
        points = np.vstack(self._points)
        count = self.grid.wall_layers
        share = np.arange(1, count)[:, None, None] / count
        middle = points[start] + share * (points[stop] - points[start])
        added = self._add(middle.reshape(-1, 3)).reshape(count - 1, len(start))
        return np.vstack((start, added, stop))

    def _band(self, layers: IntArray, number: int) -> None:
        """Quads between successive closed rings, the next ring on the left hand."""
        right = np.roll(layers, -1, axis=1)
        quads = np.stack((layers[:-1], right[:-1], right[1:], layers[1:]), axis=-1)
        self._add_quads(quads.reshape(-1, 4), number)

    def _add(self, points: FloatArray) -> IntArray:
        self._points.append(points)
        self._count += len(points)
        return np.arange(self._count - len(points), self._count)

    def _add_quads(self, quads: IntArray, number: int) -> None:
        self._faces.append(quads[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3))
        self._owners.append(np.full(2 * len(quads), number))


def _rolled(angles: FloatArray, stations: FloatArray, radius: float) -> FloatArray:
    return np.column_stack((radius * np.cos(angles), radius * np.sin(angles), stations))


def _round_about(patch: _Patch) -> tuple[IntArray, IntArray]:
    """Rows, and columns from the middle one, counter-clockwise along a patch's outline."""
    low, high = patch.rows
    across, up = np.arange(-patch.half, patch.half), np.arange(low, high)
    row = np.concatenate((np.full(len(across), low), up, np.full(len(across), high), up[::-1] + 1))
    column = np.concatenate(
        (across, np.full(len(up), patch.half), -across, np.full(len(up), -patch.half))
    )
    return row, column
