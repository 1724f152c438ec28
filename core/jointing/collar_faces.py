"""The faces of a collar, and of the two ends that it lies over.

The part is cut flat below and above all notches (`collar_design.flat_cuts`); its wall is
made anew from there to the seam, notches and all, so the pieces are closed because the part
is. The n-th joint's ends carry n witness nicks beside the first notch, in the edge that the
collar covers; so does the bevel at the collar's upper end.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..values import (
    FACET_ALLOWANCE,
    LEAD_IN,
    MOUTH_RELIEF,
    BoolArray,
    Collar,
    FloatArray,
    IntArray,
    Mesh,
    RoundSurface,
    read_only,
)
from .collar_corners import (
    Hexagons,
    corner_angles,
    hexagons_on,
    is_deeper_ahead,
    nick_angles,
    nick_depths,
    outside_share,
    reach_to,
)
from .collar_design import (
    SET_BACK,
    collar_width,
    mating_radius,
    mating_surface,
    notch_of,
)
from .face_builder import FaceBuilder

_LEAST_RELIEF = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class _Corners:
    """Corners of rings about a collar's centre line.

    angles : (n,) ascending
    hexagons : the notches, or lugs, along them
    nicks : (n,) mm, depth of the nicks at each corner
    """

    centre: tuple[float, float]
    angles: FloatArray
    hexagons: Hexagons
    nicks: FloatArray

    def __post_init__(self) -> None:
        read_only(self.angles)
        read_only(self.nicks)

    def points(self, radii: FloatArray | float, stations: FloatArray | float) -> FloatArray:
        """(n, 3) mm, at radii about the centre."""
        count = len(self.angles)
        x = self.centre[0] + np.cos(self.angles) * radii
        y = self.centre[1] + np.sin(self.angles) * radii
        return np.column_stack([x, y, np.broadcast_to(stations, count)])

    def on(self, surface: RoundSurface, stations: FloatArray | float, further: float) -> FloatArray:
        """(n, 3) mm, on a surface of the part, or so much farther from the centre."""
        heights = np.broadcast_to(stations, len(self.angles)).astype(np.float64)
        radii = reach_to(surface, self.centre, self.angles, heights)
        return self.points(radii + further, heights)


def add_collar_end(
    builder: FaceBuilder,
    outer: IntArray,
    inner: IntArray,
    collar: Collar,
    station: float,
    least_wall: float,
    marks: int,
    *,
    upper: bool,
) -> None:
    """The wall of a piece from where it is cut flat to the seam, with its notches and nicks.

    The upper piece's edge at the collar is bevelled for the first layer's bulge, where the
    wall has that to spare.

    Parameters
    ----------
    outer, inner : vertex numbers of the open rings at the flat cut, of outside and bore,
        both counter-clockwise from above
    marks : how many nicks: 1 for the lowest joint of a part
    upper : the piece is the joint's upper one
    """
    corners = _end_corners(collar, station, marks)
    side = 1.0 if upper else -1.0
    relief = _relief(collar, station, least_wall) if upper else 0.0
    levels = station + side * corners.hexagons.height
    faces = _Ring(builder, flipped=upper)
    walls = [
        builder.ring(corners.on(surface, levels, 0.0)) for surface in (collar.outer, collar.inner)
    ]
    for ring, wall, out in zip((outer, inner), walls, (True, False), strict=True):
        builder.band(ring, wall, corners.centre, closed=True, up=out is not upper)
    edges = _end_edges(builder, corners, collar, station, relief, side)
    mating, far = (0, 1) if collar.place == "outside" else (1, 0)
    rims = {mating: edges[0], far: edges[2]}
    ends = {mating: edges[1], far: edges[2]}
    for span in corners.hexagons.spans:
        faces.quads(walls[0][span], walls[1][span], up=True)
    for arc in corners.hexagons.off:
        faces.quads(walls[0][arc], rims[0][arc], up=True)
        faces.quads(walls[1][arc], rims[1][arc], up=False)
        if relief:
            faces.quads(rims[mating][arc], ends[mating][arc], up=mating == 0)
        deeper = is_deeper_ahead(corners.nicks)[arc[:-1]]
        faces.sloped(ends[0][arc], ends[1][arc], deeper ^ (mating == 0), up=True)
        outline = [walls[0], walls[1], ends[1], ends[0]]
        if relief:
            outline.insert(2 if mating else 4, rims[mating])
        faces.flank([ring[arc[0]] for ring in outline], ahead=False)
        faces.flank([ring[arc[-1]] for ring in outline], ahead=True)


def collar_mesh(collar: Collar, station: float, marks: int) -> Mesh:
    """The collar, or the sleeve, in the part frame, upright as it prints.

    Its edges at the part are bevelled: a lead-in at the top with the nicks in it, a relief
    for the first layer's bulge at the bottom.
    """
    nicks = nick_angles(collar, station, marks)
    angles = corner_angles(collar, station, collar.lugs, nicks, collar_width(collar, station) / 2.0)
    corners = _Corners(
        mating_surface(collar).offset,
        angles,
        hexagons_on(angles, collar, station, collar.lugs),
        nick_depths(angles, collar, station, nicks),
    )
    builder = FaceBuilder(np.empty((0, 3)))
    _add_ring(builder, corners, collar, station)
    return Mesh(builder.vertices, np.vstack(builder.faces))


def _end_corners(collar: Collar, station: float, marks: int) -> _Corners:
    """The corners of both pieces' ends."""
    notches = tuple(notch_of(collar, station, lug) for lug in collar.lugs)
    nicks = nick_angles(collar, station, marks)
    radius = collar.outer.radius_at(station)
    angles = corner_angles(collar, station, notches, nicks, radius)
    return _Corners(
        mating_surface(collar).offset,
        angles,
        hexagons_on(angles, collar, station, notches),
        nick_depths(angles, collar, station, nicks),
    )


def _end_edges(
    builder: FaceBuilder,
    corners: _Corners,
    collar: Collar,
    station: float,
    relief: float,
    side: float,
) -> tuple[IntArray, IntArray, IntArray]:
    """Rings of an end's edges: where the collar lies, the same past its bevel, and the other."""
    mating, other = collar.outer, collar.inner
    inward = -1.0
    if collar.place == "inside":
        mating, other, inward = other, mating, 1.0
    nicks = station + side * corners.nicks
    rim = builder.ring(corners.on(mating, nicks + side * relief, 0.0))
    end = builder.ring(corners.on(mating, nicks, inward * relief)) if relief else rim
    return rim, end, builder.ring(corners.on(other, station, 0.0))


def _relief(collar: Collar, station: float, least_wall: float) -> float:
    """Bevel, mm, of the upper piece's edge at the collar; 0 where the wall cannot spare it."""
    off = float(np.hypot(*np.subtract(collar.outer.offset, collar.inner.offset)))
    wall = collar.outer.radius_at(station) - collar.inner.radius_at(station) - off
    relief = min(MOUTH_RELIEF, wall - least_wall - FACET_ALLOWANCE / 2.0)
    return relief if relief >= _LEAST_RELIEF else 0.0


def _add_ring(builder: FaceBuilder, corners: _Corners, collar: Collar, station: float) -> None:
    """The collar around its lugs; for a sleeve all that faces inward faces outward."""
    out = 1.0 if collar.place == "outside" else -1.0
    low, high = station - collar.reach, station + collar.reach
    share = outside_share(corners.angles) if out > 0.0 else np.ones(len(corners.angles))
    height = corners.hexagons.height

    def ring(stations: FloatArray | float, further: float) -> IntArray:
        heights = np.broadcast_to(stations, len(share)).astype(np.float64)
        radii = np.array([mating_radius(collar, z) for z in heights.tolist()])
        return builder.ring(corners.points(radii * share + out * further, heights))

    foot, mouth = ring(low, collar.thickness), ring(low, MOUTH_RELIEF)
    up = [
        mouth,
        ring(low + MOUTH_RELIEF, 0.0),
        ring(station - height, 0.0),
        ring(station + height, 0.0),
        ring(high - LEAD_IN, 0.0),
        ring(high - corners.nicks, LEAD_IN),
    ]
    head = ring(high, collar.thickness)
    faces = _Ring(builder, flipped=out < 0.0)
    closed = np.arange(len(share) + 1) % len(share)
    faces.quads(foot[closed], mouth[closed], up=False)
    faces.quads(foot[closed], head[closed], up=True)
    deeper = is_deeper_ahead(corners.nicks)
    faces.sloped(head[closed], up[5][closed], deeper, up=True)
    for k in (0, 1, 3, 4):
        faces.quads(up[k][closed], up[k + 1][closed], up=False)
    for arc in corners.hexagons.off:
        faces.quads(up[2][arc], up[3][arc], up=False)
    _add_lugs(faces, corners, collar, station, (up[2], up[3]))


def _add_lugs(
    faces: _Ring,
    corners: _Corners,
    collar: Collar,
    station: float,
    roots: tuple[IntArray, IntArray],
) -> None:
    """Lugs from the collar's surface to where they stay back from the wall's other side."""
    builder, height = faces.builder, corners.hexagons.height
    other, back = collar.inner, SET_BACK
    if collar.place == "inside":
        other, back = collar.outer, -SET_BACK
    tips = [builder.ring(corners.on(other, station + side * height, back)) for side in (-1.0, 1.0)]
    for span in corners.hexagons.spans:
        for root, tip, up in ((roots[0], tips[0], False), (roots[1], tips[1], True)):
            faces.gable(root[span], tip[span], up=up)
        faces.quads(tips[0][span], tips[1][span], up=False)
        outline = (roots[0], tips[0], tips[1], roots[1])
        faces.flank([ring[span[0]] for ring in outline], ahead=False)
        faces.flank([ring[span[-1]] for ring in outline], ahead=True)


@dataclass(frozen=True, slots=True)
class _Ring:
    """Faces of a body, or of its mirror image: what looks up, or outward, is turned round."""

    builder: FaceBuilder
    flipped: bool

    def quads(self, first: IntArray, second: IntArray, *, up: bool) -> None:
        """Faces between two chains; `up` as in `FaceBuilder.quads`."""
        self.builder.quads(first, second, closed=False, up=up is not self.flipped)

    def sloped(self, first: IntArray, second: IntArray, swapped: BoolArray, *, up: bool) -> None:
        """Faces between two chains, divided from first to second, or where swapped back.

        A nick's faces are divided from its edge to its valley's far end: they slope along
        the ring only, and lie no flatter than its V.
        """
        turns = np.flatnonzero(np.diff(swapped)) + 1
        for start, stop in pairwise([0, *turns.tolist(), len(swapped)]):
            pair = first[start : stop + 1], second[start : stop + 1]
            if swapped[start]:
                self.quads(pair[1], pair[0], up=not up)
            else:
                self.quads(*pair, up=up)

    def gable(self, root: IntArray, tip: IntArray, *, up: bool) -> None:
        """A lug's gable, divided as its notch's: from outside to the next corner inside."""
        if self.flipped:
            self.quads(tip, root, up=not up)
        else:
            self.quads(root, tip, up=up)

    def flank(self, outline: list[IntArray], *, ahead: bool) -> None:
        """A radial face with corners that bulge everywhere, its outline upward from outside.

        ahead : it looks the way angles grow
        """
        fan = np.array([[outline[0], one, other] for one, other in pairwise(outline[1:])])
        self.builder.faces.append(fan if ahead is not self.flipped else fan[:, ::-1])
