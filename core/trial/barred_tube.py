"""A round tube, or bar of solid, with raised bars: the part that a trial ring is cut from.

It is made as a survey and as truing would hand it on, so that the joint's own
builders and proofs take it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..jointing.face_builder import FaceBuilder
from ..meshes.mesh_checks import compact
from ..truing.unroll import strip_count
from ..values import (
    BORE,
    HIGH_END,
    LOW_END,
    OTHER,
    OUTSIDE,
    BoolArray,
    FloatArray,
    Frame,
    IntArray,
    RoundSurface,
    Survey,
    TruedPart,
    WallStretch,
)
from .trial_bars import Bars

_APART = 0.1
"""Least distance, mm along the outside, from a bar's flank to another line."""

_BELOW_SEAM = 0.01
"""How far, mm, bars start below the seam, so that they stand on the bed of the ring above."""


@dataclass(frozen=True, slots=True, eq=False)
class BarredTube:
    """A tube as the survey tells it, and as truing leaves it."""

    survey: Survey
    trued: TruedPart


def barred_tube(
    bore_radius: float, outer_radius: float, length: float, seam: float, bars: Bars, number: int
) -> BarredTube:
    """A tube about the axis with so many bars from the seam up, the first to the top.

    Parameters
    ----------
    bore_radius : mm; 0 for a solid one
    number : of bars, from 0
    """
    made = Labelled(np.empty((0, 3)))
    inner = _regular(strip_count(bore_radius)) if bore_radius else np.empty(0)
    covers, outer = _outer_angles(outer_radius, bars, number)
    height = length - seam
    levels = (0.0, seam - _BELOW_SEAM, seam + bars.short_height(height), length)
    skin = [made.circle(outer, outer_radius, level) for level in levels]
    fronts = [made.circle(outer, outer_radius + bars.proud, level) for level in levels]
    made.add(OUTSIDE).quads(skin[0], skin[1], closed=True, up=True)
    add_bars(made, skin[1:], fronts[1:], covers)
    lining = [made.circle(inner, bore_radius, level) for level in (0.0, length)]
    if bore_radius:
        made.add(BORE).quads(lining[1], lining[0], closed=True, up=True)
    made.end(skin[0], lining[0], LOW_END)
    made.end(skin[-1], lining[1], HIGH_END)
    return _surveyed(made, inner, bore_radius, outer_radius, length)


def _regular(count: int) -> FloatArray:
    angles: FloatArray = -math.pi + (np.arange(count) + 0.5) * 2.0 * math.pi / count
    return angles


def _outer_angles(radius: float, bars: Bars, number: int) -> tuple[IntArray, FloatArray]:
    """Which bar, from 0, the strip after each of the outside's lines lies under; the lines.

    -1: none. The lines are ascending angles.
    """
    middles, half = bars.angles(number), bars.half_width
    flanks = np.concatenate([middles - half, middles + half])
    regular = _regular(strip_count(radius))
    apart = np.abs(_short_way(regular[:, None] - flanks[None])).min(axis=1, initial=math.pi)
    lines = np.sort(_short_way(np.concatenate([regular[apart * radius > _APART], flanks])))
    ahead = np.append(lines[1:], lines[0] + 2.0 * math.pi)
    off = _short_way((lines + ahead)[:, None] / 2.0 - middles[None])
    covers = np.full(len(lines), -1)
    strip, bar = np.nonzero(np.abs(off) < half)
    covers[strip] = bar
    return covers, lines


def _short_way(angles: FloatArray) -> FloatArray:
    turned: FloatArray = np.mod(angles + math.pi, 2.0 * math.pi) - math.pi
    return turned


def add_bars(
    made: Labelled, skin: list[IntArray], fronts: list[IntArray], covers: IntArray
) -> None:
    """An outside in two bands, under all bars and under the first only, and the bars.

    Parameters
    ----------
    skin, fronts : rings of the outside, and as far out as bars stand: at the bars' foot, the
        short ones' top, the first one's top
    covers : which bar the strip after each of their corners lies under, -1 none
    """
    every, first = covers >= 0, covers == 0
    for low, covered in ((0, every), (1, first)):
        for chain in _chains(~covered):
            made.add(OUTSIDE).quads(skin[low][chain], skin[low + 1][chain], closed=False, up=True)
        for chain in _chains(covered):
            rows = (skin[low][chain], fronts[low][chain], fronts[low + 1][chain])
            _add_bar(made, *rows, skin[low + 1][chain])
    ends = (
        (skin[0], fronts[0], every),
        (fronts[1], skin[1], every & ~first),
        (fronts[2], skin[2], first),
    )
    for one, other, covered in ends:
        for chain in _chains(covered):
            made.add(OTHER).quads(one[chain], other[chain], closed=False, up=True)


def _add_bar(
    made: Labelled, foot: IntArray, front: IntArray, top_front: IntArray, top: IntArray
) -> None:
    """The front and both flanks of a bar on one band."""
    made.add(OTHER).quads(front, top_front, closed=False, up=True)
    made.add(OTHER).upright_face([foot[0], front[0], top_front[0], top[0]])
    made.add(OTHER).upright_face([front[-1], foot[-1], top[-1], top_front[-1]])


def _chains(chosen: BoolArray) -> list[IntArray]:
    """Lines around each stretch of chosen strips, first and last included."""
    count = len(chosen)
    if chosen.all():
        return [np.arange(count + 1) % count]
    starts = np.flatnonzero(chosen & ~np.roll(chosen, 1))
    stops = np.flatnonzero(~chosen & np.roll(chosen, 1))
    lengths = ((stops[None] - starts[:, None]) % count).min(axis=1, initial=count)
    return [
        (start + np.arange(length + 1)) % count
        for start, length in zip(starts.tolist(), lengths.tolist(), strict=True)
    ]


class Labelled:
    """Faces of a tube, and what kind of surface each belongs to."""

    def __init__(self, vertices: FloatArray) -> None:
        self.builder = FaceBuilder(vertices)
        self.labels: list[int] = []

    def circle(self, angles: FloatArray, radius: float, station: float) -> IntArray:
        """Numbers of new vertices at angles."""
        heights = np.full(len(angles), station)
        around = radius * np.cos(angles), radius * np.sin(angles)
        return self.builder.ring(np.column_stack([*around, heights]))

    def add(self, label: int) -> FaceBuilder:
        """The builder, whose next faces are of a kind."""
        self.labels.append(label)
        return self.builder

    def end(self, ring: IntArray, core: IntArray, label: int) -> None:
        """A flat end."""
        rings = [ring, core[::-1]] if len(core) else [ring]
        self.add(label).section(rings, up=label == HIGH_END)


def _surveyed(
    made: Labelled, generators: FloatArray, bore_radius: float, outer_radius: float, length: float
) -> BarredTube:
    """The tube with what a survey and truing would tell of it."""
    faces = made.builder.faces
    labels = np.repeat(np.array(made.labels), [len(each) for each in faces])
    mesh = compact(made.builder.vertices, np.vstack(faces))
    bores = (RoundSurface(bore_radius, 0.0, 0.0, length),) if bore_radius else ()
    outer = RoundSurface(outer_radius, 0.0, 0.0, length)
    wall = WallStretch((0,) if bores else (), bores[0] if bores else None, outer, 0.0, length)
    survey = Survey(
        mesh=mesh,
        labels=labels,
        numbers=np.zeros_like(labels),
        frame=Frame(np.zeros(3), np.eye(3)),
        length=length,
        bores=bores,
        outsides=(outer,),
        walls=(wall,),
        side_holes=(),
        ornaments=(),
        wall_least=outer_radius - bore_radius,
        wall_median=outer_radius - bore_radius,
    )
    trued = TruedPart(mesh, labels, (generators,) if bores else (), len(mesh.triangles), 0.0)
    return BarredTube(survey, trued)
