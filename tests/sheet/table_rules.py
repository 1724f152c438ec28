"""What the numbers of the tables have to be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

import numpy as np
import trimesh

from tests.sheet.made import FloatArray, Made, between_jaws, cut_at, middle_of, nearest, turn
from tests.sheet.numbers import Near, Rules, Wanted, constant, counted_on
from tests.sheet.told import NUMBER, Told

DENSITY = {"PLA": 1.24}
"""g/cm3, from memory."""

FILES = (2, 3, 4, 5, 6, 8, 10, 12)
PAPERS = (0.2, 0.4)
"""mm; common practice, no source, doubtful."""

FOAMS = (2.0, 3.0, 5.0)
GOOD = {"glue": (0.05, 0.20), "push": (0.05, 0.15), "take-apart": (0.10, 0.30)}
"""Gaps a side, mm, that serve a fit. Common practice, no source."""

FACETS = 0.011
"""mm, that a width may be off on facets whose chords are off by up to 0.005 on either side."""


def _numbers(text: str) -> list[float]:
    return [float(number) for number in NUMBER.findall(text)]


# --- pieces ------------------------------------------------------------------------------


def _height(made: Made, told: Told) -> Sequence[Wanted]:
    return [made.height(told.row["piece"])]


def _solid(made: Made, told: Told) -> Sequence[Wanted]:
    mesh = made.meshes[told.row["piece"]]
    return [float(mesh.volume) / 1000.0 * DENSITY[made.settings["printing"]["material"]]]


def _figure(made: Made, told: Told) -> Sequence[Wanted]:
    volume = made.piece(told.row["piece"])["filament"]["figure"]["volume"]
    return [volume / 1000.0 * DENSITY[made.settings["printing"]["material"]]]


def _metres(made: Made, told: Told) -> Sequence[Wanted]:
    volume = made.piece(told.row["piece"])["filament"]["figure"]["volume"]
    across = made.settings["printing"]["filament"]
    return [volume / (math.pi * across**2 / 4.0) / 1000.0]


def _bed(made: Made, told: Told) -> Sequence[Wanted]:
    beds = [bed["pieces"] for bed in made.job["beds"]]
    return [1 + next(k for k, pieces in enumerate(beds) if told.row["piece"] in pieces)]


def _roof_deg(made: Made, told: Told) -> Sequence[Wanted]:
    """The flattest of what hangs inside a socket; around two bores a ridge as steep."""
    mesh = made.meshes[told.row["piece"]]
    number = [piece["name"] for piece in made.bodies].index(told.row["piece"])
    joint = made.joints[number - 1]
    middle = middle_of(mesh, 0.01)
    faces = mesh.triangles.mean(axis=1)
    inside = np.hypot(*(faces[:, :2] - middle).T) < joint["socket_diameter"] / 2.0 - 0.1
    hangs = (mesh.face_normals[:, 2] < -0.1) & (faces[:, 2] > 0.01) & inside
    hangs &= faces[:, 2] < joint["engagement"] + 1.5 * joint["socket_diameter"]
    steep = np.degrees(np.arccos(-mesh.face_normals[hangs, 2]))
    return [Near(float(np.median(steep)), 0.1)]


# --- joints and holes --------------------------------------------------------------------


def _joint(told: Told) -> int:
    return int(told.row["joint"])


def _station(made: Made, told: Told) -> Sequence[Wanted]:
    return [made.seams[_joint(told) - 1]]


def _inner(made: Made, told: Told) -> Sequence[Wanted]:
    return [inner_width(made, _joint(told))]


def _outer(made: Made, told: Told) -> Sequence[Wanted]:
    return [outer_width(made, _joint(told))]


def inner_width(made: Made, number: int, way: str = "short") -> Near:
    """Of what goes in at a joint, mm: a caliper's reading above its foot, clear of its keys."""
    lower, _ = made.pair(number)
    if made.is_collared(number):
        return Near(between_jaws(cut_at(lower, 2.0).reshape(-1, 2)), FACETS)
    level = made.shoulder(number) + 1.5
    if made.is_twin(number):
        return Near(2.0 * min(reach_of(lower, level, way)), FACETS)
    return Near(between_jaws(cut_at(lower, level).reshape(-1, 2)), FACETS)


def reach_of(mesh: trimesh.Trimesh, level: float, way: str) -> tuple[float, float]:
    """From a tenon's middle to both sides, the long way or the short; a key is on one of them."""
    points = cut_at(mesh, level).reshape(-1, 2) - middle_of(mesh, 1.0)
    sides = [(float(along.max()), -float(along.min())) for along in points.T]
    return sorted(sides, key=min)[0 if way == "short" else 1]


def outer_width(made: Made, number: int, way: str = "short") -> Near:
    """Of what goes around it, mm: the thickest round bar that passes, past the bevel."""
    if made.is_collared(number):
        ring = made.ring(number)
        return Near(2.0 * nearest(cut_at(ring, 2.0), middle_of(ring, 2.0)), FACETS)
    _, upper = made.pair(number)
    cut, middle = cut_at(upper, 2.0), middle_of(upper, 2.0)
    if not made.is_twin(number):
        return Near(2.0 * nearest(cut, middle), FACETS)
    inside = _inside(cut - middle)
    sides = [(float(along.max()), -float(along.min())) for along in inside.reshape(-1, 2).T]
    return Near(2.0 * min(sorted(sides, key=min)[0 if way == "short" else 1]), FACETS)


def _inside(lines: FloatArray) -> FloatArray:
    """Of the cut of a socket around two bores, about its middle, all but the body's outline.

    That is two half circles and two straight sides: its distance from the line between the
    circles' centres is the same all around.
    """
    reach = np.abs(lines).max(axis=(0, 1))
    along, radius = int(reach.argmax()), float(reach.min())
    off = np.abs(lines.mean(axis=1))
    beyond = np.maximum(off[:, along] - (float(reach.max()) - radius), 0.0)
    inside: FloatArray = lines[np.hypot(beyond, off[:, 1 - along]) < radius - 0.5]
    return inside


def _engagement(made: Made, told: Told) -> Sequence[Wanted]:
    number = _joint(told)
    if made.is_collared(number):
        return [float(np.ptp(made.ring(number).vertices[:, 2])) / 2.0]
    return [made.spans[number - 1][1] - made.seams[number - 1]]


def _gap(_made: Made, told: Told) -> Sequence[Wanted]:
    inner, outer = (float(told.row[name]) for name in ("inner", "outer"))
    return [Near((outer - inner) / 2.0, 0.005)]


def _keys(made: Made, told: Told) -> Sequence[Wanted]:
    number = _joint(told)
    return [_is_at(made, number, angle) for angle in made.joints[number - 1]["key_angles_deg"]]


def _is_at(made: Made, number: int, angle: float) -> Wanted:
    """At that angle, to 0.05 degrees; and, of one ring around one bore, a rib stands there."""
    ribs = rib_angles(made, number)
    return lambda told: (
        turn(told, angle) <= 0.051 and (not ribs or min(turn(told, rib) for rib in ribs) < 0.3)
    )


def rib_angles(made: Made, number: int) -> list[float]:
    """Degrees: of the middles of what stands out of a round tenon, from its own mesh."""
    if made.is_collared(number) or made.is_twin(number):
        return []
    piece = made.bodies[number - 1]
    cut = cut_at(made.mesh(piece), made.shoulder(number) + 1.5).reshape(-1, 2)
    seen = made.across(piece, np.c_[cut, np.zeros(len(cut))])
    radius = made.joints[number - 1]["tenon_diameter"] / 2.0
    out = seen[np.hypot(*seen.T) > radius + 0.2]
    angles = np.sort(np.degrees(np.arctan2(out[:, 1], out[:, 0])))
    first = int(np.argmax(np.diff(angles, append=angles[0] + 360.0))) + 1
    around = np.r_[angles[first:], angles[:first] + 360.0]
    ribs = np.split(around, np.flatnonzero(np.diff(around) > 10.0) + 1)
    return [float((rib[0] + rib[-1]) / 2.0) for rib in ribs]


def _glue_area(made: Made, told: Told) -> Sequence[Wanted]:
    return [made.joints[_joint(told) - 1]["glue_area"]]


def _hole(made: Made, told: Told, key: str) -> Sequence[Wanted]:
    return [made.survey["side_holes"][int(told.row["hole"]) - 1][key]]


def file_for(hole: dict[str, float]) -> int:
    """The thickest usual round file of at most 0.8 times the hole, mm."""
    return max(size for size in FILES if size <= 0.8 * hole["diameter"] + 1e-9)


def _file(made: Made, told: Told) -> Sequence[Wanted]:
    return [file_for(made.survey["side_holes"][int(told.row["hole"]) - 1])]


# --- readings ----------------------------------------------------------------------------


def _reading(made: Made, told: Told) -> Sequence[Wanted]:
    number, what = _joint(told), told.row["measure"]
    way = "long" if "long" in what else "short"
    inner, outer = inner_width(made, number, way), outer_width(made, number, way)
    if what == "outer less inner":
        return [Near(outer.value - inner.value, 2.0 * FACETS)]
    goes_around = any(word in what for word in ("socket", "inside"))
    return [outer if goes_around else inner]


def _bounds(made: Made, told: Told) -> dict[str, list[float]]:
    """All readings of a row, of what it should read and of the gaps that serve.

    Half of what the gap has in hand is either side's; past it paper, or a glue that fills, puts
    right as much as the printer's diameters may be off.
    """
    made_to, fit = float(told.row["should read"]), made.settings["fit"]
    gap, spread = made.settings["clearance"], max(made.settings["spread"], 0.1)
    least, most = GOOD[fit]
    tight, loose = gap - least, most - gap
    fill = spread if fit == "glue" else 0.0
    what = told.row["measure"]
    if what == "outer less inner":
        low, high = made_to - 2.0 * tight, made_to + 2.0 * loose
        return {"good": [low, high], "sand": [low], "fill": [high, high + fill],
                "print again": [high + fill]}  # fmt: skip
    printer = [made_to - made.settings["spread"], made_to + made.settings["spread"]]
    if any(word in what for word in ("socket", "inside")):
        low, high = made_to - tight, made_to + loose
        ends = [low - spread, high + fill]
        sand, fill_ends = [ends[0], low], [high, ends[1]]
    else:
        low, high = made_to - loose, made_to + tight
        ends = [low - fill, high + spread]
        sand, fill_ends = [high, ends[1]], [ends[0], low]
    return {"good": [low, high], "sand": sand, "fill": fill_ends, "print again": ends,
            "your printer": printer}  # fmt: skip


def _bounded(made: Made, told: Told) -> Sequence[Wanted]:
    column = told.place.rpartition(" | ")[2]
    return [Near(bound, 0.0051) for bound in _bounds(made, told)[column]]


def _spread(made: Made, _told: Told) -> Sequence[Wanted]:
    return [made.settings["spread"]]


# --- heights -----------------------------------------------------------------------------


def _layer(made: Made, _told: Told) -> Sequence[Wanted]:
    return [made.settings["layer"]]


def _in_file(made: Made, told: Told) -> Sequence[Wanted]:
    """Of shoulder, tip and top on the mesh; a roof is as wide at its height as the tip under it."""
    mesh, what = made.meshes[told.row["piece"]], told.row["height of"]
    body = next((k for k, one in enumerate(made.bodies) if one["name"] == told.row["piece"]), None)
    top = float(mesh.vertices[:, 2].max())
    if what == "top" or body is None:
        return [top]
    if what == "shoulder":
        return [made.shoulder(body + 1)]
    if what == "tenon's tip":
        return [tip_height(made, body + 1)]
    if made.is_twin(body):
        return [tip_height(made, body) - made.shoulder(body) + 0.2]
    return [lambda height: abs(_roof_width(mesh, height) - land_width(made, body)) < 0.0139]


def tip_height(made: Made, number: int) -> float:
    """Of a joint's tenon; around two bores the level of its ends, under the ridge between them."""
    lower, _ = made.pair(number)
    if not made.is_twin(number):
        return float(lower.vertices[:, 2].max())
    level = lower.face_normals[:, 2] > 0.9999
    heights = lower.triangles[level].mean(axis=1)[:, 2]
    return float(heights[heights > made.shoulder(number) + 1.0].max())


def land_width(made: Made, number: int) -> float:
    """Diameter, mm, of a tenon's level top."""
    lower, _ = made.pair(number)
    top = lower.vertices[lower.vertices[:, 2] > lower.vertices[:, 2].max() - 1e-4][:, :2]
    return 2.0 * float(np.hypot(*(top - middle_of(lower, 1.0)).T).max())


def _roof_width(mesh: trimesh.Trimesh, height: float) -> float:
    """Of a socket's roof at a height, mm, between its corners there."""
    off = np.hypot(*(cut_at(mesh, height).reshape(-1, 2) - middle_of(mesh, 1.0)).T)
    return 2.0 * float(np.median(off[off < off.min() + 0.05]))


def _layers(made: Made, told: Told) -> Sequence[Wanted]:
    whole = float(told.row["in the file"]) / made.settings["layer"]
    near = {math.floor(whole + half) for half in (0.49, 0.5, 0.51)}
    return [lambda layers: layers in near]


def _printed(made: Made, told: Told) -> Sequence[Wanted]:
    return [int(told.row["layers"]) * made.settings["layer"]]


def _off(_made: Made, told: Told) -> Sequence[Wanted]:
    return [Near(float(told.row["printed"]) - float(told.row["in the file"]), 0.0011)]


def _either_way(made: Made, told: Told) -> Sequence[Wanted]:
    """Half a layer, where the height lies in the middle of one."""
    layer = made.settings["layer"]
    rest = float(told.row["in the file"]) % layer
    return [lambda off: abs(off - layer / 2.0) < 5e-4 and abs(rest - layer / 2.0) < 0.0056]


# --- dowels ------------------------------------------------------------------------------


STOCK = (2, 3, 4, 5, 6, 8, 10, 12, 15, 16, 18, 20, 22, 25, 28, 30, 35, 40, 45, 50)
"""mm. In inches, eighths and sixteenths. Common stock; common practice, no source."""


def _dowel(_made: Made, told: Told) -> Sequence[Wanted]:
    """Common stock, and what is left of the width with paper without foam and paper."""
    dowel, foam = dowel_mm(told.words), _numbers(told.row["foam"])[0]
    left = [across - 2.0 * foam for across in _numbers(told.row["with paper"])]
    wanted = [across - 2.0 * paper for across, paper in zip(left, PAPERS, strict=True)]
    assert all(abs(one - dowel) <= 0.0051 for one in wanted)
    assert dowel in STOCK or abs(16.0 * dowel / 25.4 - round(16.0 * dowel / 25.4)) < 1e-9
    return [float(number) for number in told.numbers]


def dowel_mm(words: str) -> float:
    """25.4 mm to the inch, exactly."""
    if words.endswith(" mm"):
        return float(words[:-3])
    return float(25.4 * sum(Fraction(word) for word in words.removesuffix(" in").split()))


def _foam(_made: Made, _told: Told) -> Sequence[Wanted]:
    return [lambda foam: foam in FOAMS]


def _across(told: Told) -> list[float]:
    foam = _numbers(told.row["foam"])[0]
    return [dowel_mm(told.row["dowel"]) + 2.0 * foam + 2.0 * paper for paper in PAPERS]


def _with_paper(_made: Made, told: Told) -> Sequence[Wanted]:
    return _across(told)


def _squeeze(_made: Made, told: Told) -> Sequence[Wanted]:
    (bore,), foam = _numbers(told.place.split(" | ")[0]), _numbers(told.row["foam"])[0]
    return [Near(50.0 * (across - bore) / foam, 0.2) for across in _across(told)]


def _wall_left(made: Made, told: Told) -> Sequence[Wanted]:
    (bore,) = _numbers(told.place.split(" | ")[0])
    return [thinnest(made) - max(0.0, _across(told)[1] - bore) / 2.0]


def thinnest(made: Made) -> float:
    """Wall beside the bores, mm: the part's own, and the tenons' on the meshes of its pieces."""
    walls = [float(made.survey["wall"]["least"])]
    for number in range(1, len(made.joints) + 1):
        if made.is_collared(number):
            continue
        walls += [part["root_wall"] for part in made.joints[number - 1]["strength"]]
    return min(walls)


def _wall_note(made: Made, _told: Told) -> Sequence[Wanted]:
    return [thinnest(made), made.settings["least_wall"]]


def _bore(made: Made, _told: Told) -> Sequence[Wanted]:
    return [bore_width(made, 1)]


def bore_width(made: Made, number: int) -> Near:
    """Of a bore, mm, on the mesh of the first piece, 5 mm over the bed."""
    piece = made.bodies[0]
    place = made.in_file(piece, made.survey["bores"][number - 1]["offset"])
    return Near(2.0 * nearest(cut_at(made.mesh(piece), 5.0), place), FACETS)


def _base(made: Made, told: Told) -> Sequence[Wanted]:
    mesh = made.meshes[told.row["piece"]]
    level = made.settings["layer"] / 2.0
    return [Near(between_jaws(cut_at(mesh, level).reshape(-1, 2)), FACETS)]


def _ratio(made: Made, told: Told) -> Sequence[Wanted]:
    (base,) = _base(made, told)
    assert isinstance(base, Near)
    return [Near(made.height(told.row["piece"]) / base.value, 0.01)]


RULES: Rules = {
    "Pieces | height | #": _height,
    "Pieces | solid g | #": _solid,
    "Pieces | figure g | #": _figure,
    "Pieces | filament m | #": _metres,
    "Pieces | bed | #": _bed,
    "Pieces | why | the socket's roof, a # degree cone*": _roof_deg,
    "Joints | joint | #": counted_on,
    "Joints | station | #": _station,
    "Joints | inner | #": _inner,
    "Joints | outer | #": _outer,
    "Joints | engagement | #": _engagement,
    "Joints | gap a side | #": _gap,
    "Joints | keys at | #, #": _keys,
    "Joints | glue mm | #": _glue_area,
    "Side holes | hole | #": counted_on,
    "Side holes | station | #": lambda made, told: _hole(made, told, "station"),
    "Side holes | angle | #": lambda made, told: _hole(made, told, "angle_deg"),
    "Side holes | along | #": lambda made, told: _hole(made, told, "axial_width"),
    "Side holes | across | #": lambda made, told: _hole(made, told, "across_width"),
    "Side holes | clean with | # mm round file": _file,
    "Side holes | note | Clean with: a usual round file, at most # times *": constant(0.8),
    "Readings | joint | #": lambda made, _told: [
        lambda number: number in range(1, len(made.joints) + 1)
    ],
    "Readings | should read | #": _reading,
    "Readings | good | # to #": _bounded,
    "Readings | sand | # to #": _bounded,
    "Readings | sand | under #": _bounded,
    "Readings | fill | # to #": _bounded,
    "Readings | print again | under #, over #": _bounded,
    "Readings | print again | over #": _bounded,
    "Readings | your printer | # to #": _bounded,
    "Readings | note | Across facets *up to # less*": constant(0.01),
    "Readings | note | Your printer: what it should read, plus and minus # mm*": _spread,
    "Height over width | height | #": _height,
    "Height over width | least width on the bed | #": _base,
    "Height over width | ratio | #": _ratio,
    "Height over width | note | A brim over #, slower too over #*": constant(4, 8),
    "caption | Heights in layers of # mm": _layer,
    "Heights in layers of # mm | in the file | #": _in_file,
    "Heights in layers of # mm | layers | #": _layers,
    "Heights in layers of # mm | printed | #": _printed,
    "Heights in layers of # mm | off | #": _off,
    "Heights in layers of # mm | off | # either way": _either_way,
    "caption | For the bore of # mm": _bore,
    "For the bore of # mm | dowel | *": _dowel,
    "For the bore of # mm | foam | # mm": _foam,
    "For the bore of # mm | with paper | # to #": _with_paper,
    "For the bore of # mm | foam squeezed by | # to # %": _squeeze,
    "For the bore of # mm | wall left | #": _wall_left,
    "For the bore of # mm | note | Across: *": constant(*PAPERS, 0, 30),
    "For the bore of # mm | note | Wall left: *": _wall_note,
}
