"""What the numbers of the drawings have to be."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import combinations
from typing import Any

import numpy as np

from tests.sheet.made import FloatArray, Made, apart, cut_at, middle_of, nearest, turn
from tests.sheet.numbers import Near, Rules, Short, Wanted, counted_on
from tests.sheet.step_rules import parallel
from tests.sheet.table_rules import (
    FACETS,
    bore_width,
    inner_width,
    outer_width,
    rib_angles,
    tip_height,
)
from tests.sheet.told import Told
from tests.told_together import numbers_of

_DIGITS = 0.0051
"""mm, of what is told to 0.01 mm, where a number without decimals may be meant exactly."""


def _near(wanted: Near) -> Wanted:
    return lambda told: abs(told - wanted.value) <= wanted.off + _DIGITS


def _joint(told: Told) -> int:
    return told.keys[0]


def _seam_title(made: Made, told: Told) -> Sequence[Wanted]:
    number = _joint(told)
    return [number, Short(made.seams[number - 1])]


def _alike(made: Made, told: Told) -> Sequence[Wanted]:
    """Each of the seams that a drawing stands for has the sizes of the one that is drawn."""
    drawn, (said,) = _joint(told), re.findall(r"seams? (.*) (?:is|are) the same", told.words)
    for number in numbers_of(said):
        assert number > drawn
        assert _sizes_told(made, number) == _sizes_told(made, drawn)
        for width in (inner_width, outer_width):
            assert abs(width(made, number).value - width(made, drawn).value) <= 2.0 * FACETS
    return [float(number) for number in told.numbers]


def _sizes_told(made: Made, number: int) -> list[Any]:
    joint = made.joints[number - 1]
    keys = ("tenon_diameter", "socket_diameter", "engagement", "radial_clearance", "glue_area")
    told = [f"{joint[key]:.2f}" for key in keys]
    return [joint["kind"], len(joint["key_angles_deg"]), *told]


# --- scales ------------------------------------------------------------------------------

ISO_5455 = {(n, 1) for n in (50, 20, 10, 5, 2)} | {(1, n) for n in (1, 2, 5, 10, 20, 50, 100)}
"""Scales of ISO 5455, from memory."""


def _scale(made: Made, told: Told) -> Sequence[Wanted]:
    """Of an outline drawn of a piece, against the piece; mm on paper, mm of the piece."""
    paper, part = (int(number) for number in told.numbers[-2:])
    assert (paper, part) in ISO_5455
    shapes = _outlines(told.svg)
    assert shapes
    for name, (wide, high) in shapes.items():
        for drawn in (wide, high):
            sizes = _sizes(made, name)
            off = min(abs(drawn - size * paper / part) for size in sizes)
            assert off < 0.03, (name, drawn, sizes, paper, part)
    return [paper, part]


def _joint_scale(_made: Made, told: Told) -> Sequence[Wanted]:
    """One of the standard's; pieces are broken off there, so it is measured where they are drawn.

    tests/core/test_joint_drawing.py holds drawn sections and lengths against the built ones.
    """
    return [lambda paper: (paper, float(told.numbers[-1])) in ISO_5455, float(told.numbers[-1])]


def _outlines(svg: Any) -> dict[str, tuple[float, float]]:
    """mm on paper, how wide and high each piece is drawn."""
    found = {}
    for path in svg.iter("{http://www.w3.org/2000/svg}path"):
        if name := path.get("data-of"):
            points = np.array(re.findall(r"-?\d+(?:\.\d+)?", path.get("d")), dtype=float)
            wide, high = np.ptp(points.reshape(-1, 2), axis=0)
            found[name] = float(wide), float(high)
    return found


def _sizes(made: Made, name: str) -> list[float]:
    """Every width of a piece by the degree, and its height, mm; beside a ridge, the tip's."""
    mesh = made.meshes[name]
    names = [piece["name"] for piece in made.bodies]
    beside = [
        tip_height(made, number)
        for number in range(1, len(made.joints) + 1)
        if made.is_twin(number) and names[number - 1] == name
    ]
    angles = np.radians(np.arange(180.0))
    along = mesh.vertices[:, :2] @ np.array([np.cos(angles), np.sin(angles)])
    return [made.height(name), *beside, *np.ptp(along, axis=0).tolist()]


# --- the part in section -----------------------------------------------------------------


def _plain(made: Made, _told: Told) -> Sequence[Wanted]:
    """Stations of what is noted there, numbers of pieces, the length, or how wide it is."""
    survey = made.survey
    stations = [hole["station"] for hole in survey["side_holes"]] + made.seams
    stations += [one["from"] for one in survey["ornaments"]]
    stations += [one["from"] for key in ("bores", "outsides") for one in survey[key]]
    length = made.spans[-1][1]
    widths = made.mesh(made.bodies[0]).extents[:2].tolist()
    numbers = [float(number) for number in range(1, len(made.part["pieces"]) + 1)]
    known = [*stations, length, *widths, *numbers]
    return [lambda told: min(abs(told - one) for one in known) <= _DIGITS + 1e-5]


def _height(made: Made, told: Told) -> Sequence[Wanted]:
    piece = made.part["pieces"][told.order]
    return [Short(made.height(piece["name"])), Short(made.settings["envelope"][2])]


def _width(made: Made, _told: Told) -> Sequence[Wanted]:
    """Of the bores and of the outside at both ends, on the meshes."""
    known = [bore_width(made, k + 1) for k in range(len(made.survey["bores"]))]
    for piece, level in ((made.bodies[0], 0.0), (made.bodies[-1], None)):
        mesh = made.mesh(piece)
        height = mesh.vertices[:, 2].max() - 0.01 if level is None else 0.01
        points = cut_at(mesh, height).reshape(-1, 2)
        wide = 2.0 * float(np.hypot(*(points - middle_of(mesh, height)).T).max())
        known += [Near(wide, FACETS)]
    known += [Near(end, 0.0) for bore in made.survey["bores"] for end in bore["end_diameters"]]
    return [lambda told: any(abs(told - one.value) <= one.off + _DIGITS for one in known)]


def _hole(made: Made, told: Told) -> Sequence[Wanted]:
    hole = made.survey["side_holes"][told.order]
    return [told.order + 1, Short(hole["diameter"]), Short(hole["angle_deg"], 0.1)]


def _ornament(made: Made, told: Told) -> Sequence[Wanted]:
    one = made.survey["ornaments"][told.order]
    return [Short(one["to"]), _near(Near(_reach(made, one), FACETS))]


def _reach(made: Made, ornament: Any) -> float:
    """How wide a piece's mesh is between an ornament's stations, mm, about the axis."""
    widest = 0.0
    for piece, (low, _) in zip(made.bodies, made.spans, strict=True):
        points = made.mesh(piece).vertices
        level = points[:, 2] / piece["scale"] + low
        there = points[(level >= ornament["from"] - 0.01) & (level <= ornament["to"] + 0.01)]
        if len(there):
            off = np.hypot(*(there[:, :2] - made.in_file(piece, (0.0, 0.0))).T)
            widest = max(widest, 2.0 * float(off.max()))
    return widest


def _section_angle(made: Made, _told: Told) -> Sequence[Wanted]:
    """Through the first hole; of two bores, across; else as clear of keys as can be."""
    holes, joints = made.survey["side_holes"], made.joints
    if joints and made.is_twin(1):
        first, second = (np.array(bore["offset"]) for bore in made.survey["bores"][:2])
        line = math.degrees(math.atan2(*(second - first)[::-1]))
        return [lambda angle: min(abs(turn(angle, line) - off) for off in (0, 90, 180)) < 0.06]
    if holes:
        return [Short(holes[0]["angle_deg"], 0.1)]
    keys = np.array([angle for joint in joints for angle in joint["key_angles_deg"]])
    best = max(_margin(float(angle), keys) for angle in np.arange(0.0, 180.0, 0.5))
    return [lambda angle: _margin(angle, keys) > best - 0.02]


def _margin(angle: float, keys: FloatArray) -> float:
    """How far, as a sine, a plane at an angle stays off the nearest key on either side."""
    return float(np.abs(np.sin(np.radians(angle - keys))).min())


# --- joints ------------------------------------------------------------------------------


def _engagement(made: Made, told: Told) -> Sequence[Wanted]:
    number = _joint(told)
    gap = (outer_width(made, number).value - inner_width(made, number).value) / 2.0
    if made.is_collared(number):
        deep = float(np.ptp(made.ring(number).vertices[:, 2])) / 2.0
    else:
        deep = made.spans[number - 1][1] - made.seams[number - 1]
    keys = range(1, len(made.joints[number - 1]["key_angles_deg"]) + 1)
    return [
        lambda told: abs(told - deep) <= _DIGITS
        or abs(told - gap) <= _DIGITS + FACETS
        or told in keys
    ]  # fmt: skip


def _level(made: Made, told: Told) -> Sequence[Wanted]:
    """In the middle of what is parallel; across a collar's lugs, halfway up from the seam."""
    number = _joint(told)
    if made.is_collared(number):
        ring = made.ring(number)
        middle = float(np.ptp(ring.vertices[:, 2])) / 2.0
        levels, counts = np.unique(np.round(ring.vertices[:, 2], 3), return_counts=True)
        over = levels[(levels > middle) & (levels < middle + 5.0) & (counts > 100)].min() - middle
        return [Short(float(over) / 2.0)]
    whole = parallel(made, number)
    if callable(whole):
        return [lambda level: any(whole(2.0 * level + step / 200.0) for step in (-2, -1, 0, 1, 2))]
    assert isinstance(whole, float)
    return [Short(whole / 2.0)]


def _piece(made: Made, _told: Told) -> Sequence[Wanted]:
    return [lambda number: number in range(1, len(made.part["pieces"]) + 1)]


def _key(made: Made, told: Told) -> Sequence[Wanted]:
    number, angles = _joint(told), made.joints[_joint(told) - 1]["key_angles_deg"]
    which = int(told.numbers[0]) - 1
    ribs = rib_angles(made, number)
    return [
        which + 1,
        lambda angle: turn(angle, angles[which]) <= 0.051
        and (not ribs or min(turn(angle, rib) for rib in ribs) < 0.3),
    ]  # fmt: skip


def _far_side(made: Made, told: Told) -> Sequence[Wanted]:
    return [_near(Near(float(made.ring(_joint(told)).extents[0]), FACETS))]


def _tip_gap(made: Made, told: Told) -> Sequence[Wanted]:
    """From the edge of a tenon's level top straight up to the roof, on the two meshes."""
    number = _joint(told)
    lower, upper = made.pair(number)
    if made.is_twin(number):
        return [0.2]
    top = float(lower.vertices[:, 2].max())
    edge = lower.vertices[lower.vertices[:, 2] > top - 1e-4][:, :2]
    land = float(np.hypot(*(edge - made.in_file(made.bodies[number - 1], (0.0, 0.0))).T).max())
    over = top - made.shoulder(number)
    axis = made.in_file(made.bodies[number], (0.0, 0.0))

    def is_roof(gap: float) -> bool:
        return abs(nearest(cut_at(upper, over + gap), axis) - land) < 0.015

    return [is_roof]


# --- beds --------------------------------------------------------------------------------


def _floor(made: Made, _told: Told) -> Sequence[Wanted]:
    known = {*made.settings["envelope"][:2], *range(1, len(made.meshes) + 1)}
    return [lambda number: number in known]


def _on_bed(made: Made, told: Told) -> Sequence[Wanted]:
    (bed,) = made.job["beds"]
    return [told.order + 1, Short(made.height(bed["pieces"][told.order]))]


def _least_apart(made: Made, _told: Told) -> Sequence[Wanted]:
    """Between the convex shadows of any two meshes where the document puts them."""
    (bed,) = made.job["beds"]
    stood = []
    for place in bed["places"]:
        mesh = made.meshes[place["piece"]].copy()
        mesh.apply_transform(np.array(place["to_bed"]))
        stood.append(mesh)
    least = min(apart(one, other) for one, other in combinations(stood, 2))
    return [Short(least)]


_SECTION = "NAME, section through the axis"
_SEAM = "NAME, seam # at #"
_BED = "NAME, seen from above"

RULES: Rules = {
    f"{_SECTION} | #": _plain,
    f"{_SECTION} | # of #": _height,
    f"{_SECTION} | * | scale #:#": _scale,
    f"{_SECTION} | caption | *A-A *#°*": _section_angle,
    f"{_SECTION} | hole #, Ø#, #°": _hole,
    f"{_SECTION} | seam #, *": counted_on,
    f"{_SECTION} | to #: ornament, Ø# at most": _ornament,
    f"{_SECTION} | Ø#": _width,
    "NAME, its pieces apart | #": counted_on,
    f"{_SEAM} | * | seam # at #": _seam_title,
    f"{_SEAM} | *(#:#)": _joint_scale,
    f"{_SEAM} | caption | seam* the same but for station and pieces and *": _alike,
    f"{_SEAM} | caption | C-C lies # over the seam": _level,
    f"{_SEAM} | caption | *key # at #°": _key,
    f"{_SEAM} | caption | *lug # at #°": _key,
    f"{_SEAM} | tip gap #": _tip_gap,
    f"{_SEAM} | #": _engagement,
    f"{_SEAM} | piece #": _piece,
    f"{_SEAM} | tenon Ø#": lambda made, told: [_near(inner_width(made, _joint(told)))],
    f"{_SEAM} | socket Ø#": lambda made, told: [_near(outer_width(made, _joint(told)))],
    f"{_SEAM} | bore Ø#": lambda made, _told: [_near(bore_width(made, 1))],
    f"{_SEAM} | collar's bore Ø#": lambda made, told: [_near(outer_width(made, _joint(told)))],
    f"{_SEAM} | part's outside Ø#": lambda made, told: [_near(inner_width(made, _joint(told)))],
    f"{_SEAM} | collar's outside Ø#": _far_side,
    f"{_BED} | #": _floor,
    f"{_BED} | #: NAME, # high": _on_bed,
    f"{_BED} | * | # apart at the least": _least_apart,
    f"{_BED} | * | scale #:#": _scale,
}
