"""What is true of a generated part, and the part itself.

Everything is in millimetres and degrees, in the *build frame*: the main bore (the
outside, where there are two bores) about the z axis, the low end at z = 0.
`as_counted` tells the same by the contract's rules of direction, low end and angle.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.part_frame import contract_frame

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

Surface = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
"""(n, 3) points to (n,) values, zero on the surface, and their (n, 3) gradients."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A straight or tapered stretch of a bore or of a round outside.

    diameters : at `start` and at `stop`
    """

    diameters: tuple[float, float]
    start: float
    stop: float
    offset: tuple[float, float] = (0.0, 0.0)

    def diameter_at(self, station: float) -> float:
        share = (station - self.start) / (self.stop - self.start)
        return self.diameters[0] + (self.diameters[1] - self.diameters[0]) * share


@dataclass(frozen=True, slots=True)
class Opening:
    """A side hole as the contract counts it: centre line and widths at the outside."""

    station: float
    angle_deg: float
    axial: float
    across: float
    bore: int = 0


@dataclass(frozen=True, slots=True)
class Truth:
    """What was built, and where it was put.

    outsides : none where the outside is not round
    least_wall : in sections square to the axis; None where sections do not tell
    sagitta : how far the axis bends, and towards which angle; 0 for a straight part
    pose : (4, 4) rigid, build frame to the source's coordinates in mm
    unit : mm that one unit of the part's mesh stands for
    """

    length: float
    bores: tuple[Stretch, ...]
    outsides: tuple[Stretch, ...] = ()
    openings: tuple[Opening, ...] = ()
    least_wall: float | None = None
    sagitta: float = 0.0
    pose: FloatArray = field(default_factory=lambda: np.eye(4))
    unit: float = 1.0


@dataclass(frozen=True, slots=True)
class Part:
    """A closed mesh in units of its file and what is true of it.

    owner : (m,) which of `surfaces` each triangle lies on
    surfaces : the true surfaces, in the build frame
    """

    vertices: FloatArray
    triangles: IntArray
    owner: IntArray
    surfaces: tuple[Surface, ...]
    truth: Truth

    def save(self, path: Path) -> None:
        """Write a binary STL."""
        record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
        rows = np.zeros(len(self.triangles), record)
        rows["corners"] = self.vertices.astype(np.float32)[self.triangles]
        path.write_bytes(bytes(80) + np.uint32(len(rows)).tobytes() + rows.tobytes())


def placed(part: Part, pose: FloatArray, unit: float = 1.0) -> Part:
    """The part, fresh from its build frame, in another place and unit."""
    assert np.array_equal(part.truth.pose, np.eye(4))
    assert part.truth.unit == 1.0
    vertices = (part.vertices @ pose[:3, :3].T + pose[:3, 3]) / unit
    truth = replace(part.truth, pose=pose, unit=unit)
    return replace(part, vertices=vertices, truth=truth)


def shuffled(part: Part, rng: np.random.Generator) -> Part:
    """The same surface with vertices, triangles and their first corners in another order."""
    order = rng.permutation(len(part.vertices))
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    rows = rng.permutation(len(part.triangles))
    first = rng.integers(0, 3, size=(len(rows), 1))
    triangles = np.take_along_axis(place[part.triangles[rows]], (first + np.arange(3)) % 3, axis=1)
    return replace(part, vertices=part.vertices[order], triangles=triangles, owner=part.owner[rows])


def noisy(part: Part, sigma: float, rng: np.random.Generator) -> Part:
    """Every vertex moved by a normal deviate of `sigma` along each axis, as a scan has it."""
    moved = part.vertices + rng.normal(0.0, sigma / part.truth.unit, part.vertices.shape)
    return replace(part, vertices=moved)


@dataclass(frozen=True, slots=True)
class Counted:
    """The truth by the contract's rules: stations from the low end that it defines.

    Stretches and openings are in order of their stations.

    opened : for each opening, the offset of the bore that it leads into
    """

    direction: FloatArray
    point: FloatArray
    bores: tuple[Stretch, ...]
    outsides: tuple[Stretch, ...]
    openings: tuple[Opening, ...]
    opened: tuple[tuple[float, float], ...]


def as_counted(truth: Truth) -> Counted:
    """The truth in the contract's frame; stations from the end that it counts as low."""
    axis, origin = truth.pose[:3, 2], truth.pose[:3, 3]
    rows, turned = contract_frame(axis)
    direction = rows[2]
    to_plane = rows[:2] @ truth.pose[:3, :2]
    openings = _counted_openings(truth, to_plane, turned=turned)
    offsets = [(to_plane @ truth.bores[o.bore].offset).tolist() for o in openings]
    return Counted(
        direction=direction,
        point=origin + axis * truth.length if turned else origin,
        bores=_counted_stretches(truth.bores, truth.length, to_plane, turned=turned),
        outsides=_counted_stretches(truth.outsides, truth.length, to_plane, turned=turned),
        openings=openings,
        opened=tuple((x, y) for x, y in offsets),
    )


def _counted_stretches(
    stretches: tuple[Stretch, ...], length: float, to_plane: FloatArray, *, turned: bool
) -> tuple[Stretch, ...]:
    counted = []
    for stretch in stretches:
        x, y = (to_plane @ stretch.offset).tolist()
        if turned:
            low, high = stretch.diameters[::-1]
            start, stop = length - stretch.stop, length - stretch.start
        else:
            low, high = stretch.diameters
            start, stop = stretch.start, stretch.stop
        counted.append(Stretch((low, high), start, stop, (x, y)))
    return tuple(sorted(counted, key=lambda s: (round(s.start, 6), s.offset)))


def _counted_openings(truth: Truth, to_plane: FloatArray, *, turned: bool) -> tuple[Opening, ...]:
    counted = []
    for opening in truth.openings:
        angle = math.radians(opening.angle_deg)
        x, y = to_plane @ [math.cos(angle), math.sin(angle)]
        station = truth.length - opening.station if turned else opening.station
        seen = math.degrees(math.atan2(y, x))
        counted.append(replace(opening, station=station, angle_deg=seen))
    return tuple(sorted(counted, key=lambda o: (round(o.station, 6), o.angle_deg)))
