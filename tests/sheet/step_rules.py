"""What the numbers of notes, steps and cautions have to be."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from tests.sheet.made import Made, between_jaws, cut_at, nearest, turn
from tests.sheet.numbers import Near, Rules, Wanted, constant, counted_on
from tests.sheet.table_rules import FACETS, bore_width, file_for, reach_of, tip_height
from tests.sheet.told import NUMBER, Told

DROP = (0.02 / 1.06, 0.03 / 1.06)
"""ml: 0.02 to 0.03 g of 1.06 g/cm3. From memory."""

NOZZLE = (180, 260, 50, 110)
DUST = (95, 2)
"""Masks of class N95 or P2. Common practice, no source."""

GRAINS = (240, 58.5, 400, 35, 600, 25.8, 6344)
"""Mean grain, micrometres, of P grades by FEPA (ISO 6344). From memory."""

Of = Callable[[Made, int], float]


def _by_number(wanted: Of) -> Callable[[Made, Told], Sequence[Wanted]]:
    """A rule for a value whose name has the number of its joint or hole."""
    return lambda made, told: [wanted(made, told.keys[-1])]


# --- printing ----------------------------------------------------------------------------


def _hangs(made: Made, number: int) -> float:
    """Between the two points at 45 degrees of a round roof."""
    diameter = made.survey["side_holes"][number - 1]["diameter"]
    ends = [diameter / 2.0 * math.cos(math.radians(at)) for at in (45.0, 135.0)]
    return float(ends[0] - ends[1])


def _taken(made: Made) -> list[float]:
    holes = [hole["angle_deg"] for hole in made.survey["side_holes"]]
    return holes + [angle for joint in made.joints for angle in joint["key_angles_deg"]]


def _farthest(made: Made) -> float:
    """Degrees, from the freest place around to what is nearest to it, tried at every tenth."""
    tried = np.arange(0.0, 360.0, 0.1)
    off = np.abs((tried[:, None] - np.array(_taken(made)) + 180.0) % 360.0 - 180.0)
    return float(off.min(axis=1).max())


def _line(made: Made, _told: Told) -> Sequence[Wanted]:
    taken, best = _taken(made), _farthest(made)
    return [lambda line: min(turn(line, one) for one in taken) >= best - 0.6]


def _free(made: Made, _told: Told) -> Sequence[Wanted]:
    return [Near(2.0 * _farthest(made), 0.2)]


def _from_first(made: Made, told: Told) -> Sequence[Wanted]:
    sign = -1.0 if " clockwise" in told.words else 1.0
    taken, best = _taken(made), _farthest(made)
    return [
        lambda turned: (
            min(turn(taken[0] + sign * turned, one) for one in taken) >= best - 0.6
            and turned <= 180.0
        )
    ]


def _offs(height: float, layer: float) -> tuple[float, float]:
    """Of the nearest whole number of layers, mm; both ways where it lies in the middle of one."""
    rest = height - math.floor(height / layer + 1e-9) * layer
    if abs(rest - layer / 2.0) < 0.005:
        return -rest, layer - rest
    off = -rest if rest < layer / 2.0 else layer - rest
    return off, off


def left_over_tip(made: Made, number: int, layer: float) -> tuple[float, float]:
    """Printed roof over printed tip, the roof drawn 0.2 mm over the tip, both from the seam."""
    shoulder, tip = made.shoulder(number), tip_height(made, number)
    roof, own = _offs(tip - shoulder + 0.2, layer), _offs(shoulder, layer)
    low = 0.2 + roof[0] - _offs(tip, layer)[1] + own[0]
    return low, 0.2 + roof[1] - _offs(tip, layer)[0] + own[1]


def comes_out(made: Made, layer: float) -> tuple[float, float]:
    """Of all shoulders and the last top, in whole layers: least and most."""
    heights = [made.shoulder(number) for number in range(1, len(made.joints) + 1)]
    heights.append(float(made.mesh(made.bodies[-1]).vertices[:, 2].max()))
    low, high = np.array([_offs(height, layer) for height in heights]).sum(axis=0)
    return float(low), float(high)


def _left_over_tip(made: Made, told: Told) -> Sequence[Wanted]:
    ends = left_over_tip(made, told.keys[-1], made.settings["layer"])
    ends = ends if len(told.numbers) == 2 else ends[:1]
    return [Near(max(end, 0.0), 0.002) for end in ends]


def _comes_out(made: Made, told: Told) -> Sequence[Wanted]:
    return _as_told(comes_out(made, made.settings["layer"]), told.words)


def _as_told(ends: tuple[float, float], words: str) -> Sequence[Wanted]:
    """Lengths in words: each is longer or shorter, or as long as it is drawn."""
    wanted: list[Wanted] = []
    said = words.removesuffix(", to 0.005 mm").split(" to ")
    for one, end in zip(said, (ends[0], ends[-1]), strict=False):
        if one == "as long as it is drawn":
            assert abs(end) < 0.0055
            continue
        wanted.append(Near(end if one.endswith("longer") else -end, 0.002))
    return [*wanted, 0.005] if words.endswith(", to 0.005 mm") else wanted


def _another_layer(made: Made, _told: Told) -> Sequence[Wanted]:
    """Of the usual ones that this nozzle lays none is truer and leaves something over each tip."""
    best = min(_falseness(made, layer) for layer in _laid(made))
    return [lambda layer: layer in _laid(made) and _falseness(made, layer) == best]


def _laid(made: Made) -> list[float]:
    """Layers of a quarter to three quarters of the nozzle. Common practice, no source."""
    usual = (0.08, 0.1, 0.12, 0.15, 0.16, 0.2, 0.24, 0.25, 0.28, 0.3, 0.32, 0.4, 0.5, 0.6)
    low, high = 0.25 * made.settings["nozzle"], 0.75 * made.settings["nozzle"]
    return [one for one in usual if low - 1e-9 <= one <= high + 1e-9]


def _falseness(made: Made, layer: float) -> tuple[bool, int]:
    """Does a tip stand up; and by how many hundredths of a mm may the length be off?"""
    return _least_left(made, layer) < 0.005, round(100.0 * max(map(abs, comes_out(made, layer))))


def _least_left(made: Made, layer: float) -> float:
    tenons = [n for n in range(1, len(made.joints) + 1) if not made.is_collared(n)]
    return min((left_over_tip(made, number, layer)[0] for number in tenons), default=math.inf)


def _in_another(made: Made, told: Told) -> Sequence[Wanted]:
    layer = float(NUMBER.findall(told.place)[-1])
    length, _, over = told.words.partition("; ")
    wanted = list(_as_told(comes_out(made, layer), length))
    return [*wanted, Near(max(_least_left(made, layer), 0.0), 0.002)] if over else wanted


def _bevel(made: Made, _told: Told) -> Sequence[Wanted]:
    """At 45 degrees it is as high as wide: the mouth's radius on the bed less the one past it."""
    upper, piece = made.pair(1)[1], made.bodies[1]
    middle = made.in_file(piece, (0.0, 0.0))
    if made.is_twin(1):
        points = upper.vertices[:, 2]
        levels = np.unique(np.round(points[(points > 0.01) & (points < 1.0)], 4))
        return [Near(float(levels[0]), 1e-3)]
    mouth, past = (nearest(cut_at(upper, z), middle) for z in (1e-4, 1.0))
    return [Near(mouth - past, FACETS)]


def _ornament(made: Made, told: Told) -> Sequence[Wanted]:
    """As far as the mesh reaches out beside them; stations as the document has them."""
    outside = [one for one in made.survey["ornaments"] if one["on"] == "outside"]
    ornament = outside[told.keys[-1] - 1]
    return [ornament["from"], ornament["to"]]


# --- measuring and clearing --------------------------------------------------------------


def parallel(made: Made, number: int) -> Wanted:
    """From the shoulder up to where a tenon begins to narrow: levels of its mesh's corners."""
    joint, piece = made.joints[number - 1], made.bodies[number - 1]
    mesh, shoulder = made.mesh(piece), made.shoulder(number)
    points = mesh.vertices[mesh.vertices[:, 2] > shoulder + 0.5]
    if made.is_twin(number):
        levels, counts = np.unique(np.round(points[:, 2], 3), return_counts=True)
        return _one_of([float(z) - shoulder for z in levels[counts > 20]])
    radius = joint["tenon_diameter"] / 2.0
    off = np.hypot(*(points[:, :2] - made.in_file(piece, (0.0, 0.0))).T)
    return float(points[np.abs(off - radius) < 0.003][:, 2].max() - shoulder)


def _one_of(numbers: Sequence[float]) -> Wanted:
    return lambda told: min(abs(told - number) for number in numbers) <= 0.0051


def _parallel(made: Made, told: Told) -> Sequence[Wanted]:
    return [parallel(made, told.keys[-1])]


def _rib(made: Made, _told: Told) -> Sequence[Wanted]:
    """How far the farthest of a tenon lies from its middle, over what a caliper reads."""
    if made.is_twin(1):
        sides = reach_of(made.pair(1)[0], made.shoulder(1) + 1.5, "short")
        return [Near(max(sides) - min(sides), FACETS)]
    piece = made.bodies[0]
    cut = cut_at(made.mesh(piece), made.shoulder(1) + 1.5).reshape(-1, 2)
    off = np.hypot(*(cut - made.in_file(piece, (0.0, 0.0))).T)
    return [Near(float(off.max()) - between_jaws(cut) / 2.0, FACETS)]


def _nicks(made: Made, number: int) -> int:
    return int(made.joints[number - 1]["witness_marks"])


def _hole(made: Made, told: Told) -> Sequence[Wanted]:
    hole = made.survey["side_holes"][told.keys[-1] - 1]
    return [file_for(hole), hole["axial_width"], hole["across_width"]]


def _bore(made: Made, told: Told) -> Sequence[Wanted]:
    return [bore_width(made, told.keys[-1])]


# --- gluing ------------------------------------------------------------------------------


def volume(made: Made, number: int) -> float:
    """Of a joint's gap, mm3: area by gap; of one end under a collar."""
    joint = made.joints[number - 1]
    return float(joint["glue_area"] * made.settings["clearance"])


def _glue(made: Made, told: Told) -> Sequence[Wanted]:
    """Few drops, of the largest there are; many, of the smallest."""
    held, gap = volume(made, told.keys[-1]), made.settings["clearance"]
    drops = [math.floor(held / 1000.0 / DROP[1]), math.ceil(held / 1000.0 / DROP[0])]
    assert held <= 300.0
    assert gap <= 0.2
    return [held, gap, max(1, drops[0]), max(1, drops[1])]


def _epoxy(made: Made, told: Told) -> Sequence[Wanted]:
    held, gap = volume(made, told.keys[-1]), made.settings["clearance"]
    assert held > 300.0 or gap > 0.2
    return [held, gap, max(1.0, 2.0 * held / 1000.0)]


def _band(made: Made, told: Told) -> Sequence[Wanted]:
    whole = parallel(made, told.keys[-1])
    if callable(whole):
        return [lambda half: whole(round(2.0 * half, 1)) or _near_double(whole, half)]
    assert isinstance(whole, float)
    return [whole / 2.0]


def _near_double(whole: Callable[[float], bool], half: float) -> bool:
    """Is it half of one of the lengths, to 0.05 mm?"""
    return any(whole(2.0 * half + step / 100.0) for step in range(-11, 12))


def _collar_band(made: Made, told: Told) -> Sequence[Wanted]:
    reach = float(np.ptp(made.ring(told.keys[-1]).vertices[:, 2])) / 2.0
    return [reach / 2.0, reach]


def _length(made: Made, told: Told) -> Sequence[Wanted]:
    number = told.keys[-1]
    (low, _), (start, stop) = made.spans[0], made.spans[number - 1 : number + 1][-1]
    whole = [stop - low]
    pair = [stop - made.spans[number - 1][0]]
    assert start > low
    return whole if len(told.numbers) == 1 else whole + pair


def _stations(made: Made, _told: Told) -> Sequence[Wanted]:
    return list(made.seams)


def _holes_count(made: Made, _told: Told) -> Sequence[Wanted]:
    return [len(made.survey["side_holes"])]


# --- what is asked for, and what the job says --------------------------------------------


def _asked(made: Made, _told: Told) -> Sequence[Wanted]:
    asked = made.settings
    return [*(float(size) for size in asked["envelope"]), asked["nozzle"], asked["layer"]]


def _warning(made: Made, told: Told) -> Sequence[Wanted]:
    """The document has the same sentence."""
    said = [NUMBER.findall(sentence) for sentence in made.job["warnings"]]
    assert told.numbers in said
    return [float(number) for number in told.numbers]


RULES: Rules = {
    "page | For an envelope of # x # x # mm, a # mm nozzle and layers of # mm.": _asked,
    "notes of the job | *": _warning,
    # printing
    "Supports | Nothing that was made here hangs flatter than # degrees: *": constant(45),
    "Supports | name | ring, step or block #": counted_on,
    "Supports | ring, step or block # | stations # to # mm": _ornament,
    "Start of layers | line at | # degrees": _line,
    "Start of layers | free about it | # degrees": _free,
    "Start of layers | name | from hole #": constant(1),
    "Start of layers | name | from the first key of joint #": constant(1),
    "Start of layers | from * | # degrees *clockwise, seen from above": _from_first,
    "Layer height | name | left over the tip at joint #": counted_on,
    "Layer height | left over the tip at joint # | *# mm": _left_over_tip,
    "Layer height | name | in layers of # mm it would come out": _another_layer,
    "Layer height | in layers of # mm it would come out | *": _in_another,
    "Layer height | the part comes out | *": _comes_out,
    "Side holes | They print across the layers: *": constant(45, 2),
    "Side holes | name | top of hole #": counted_on,
    "Side holes | top of hole # | # mm": _by_number(_hangs),
    "First layers | bevel at the mouth | # mm": _bevel,
    # measuring, trying, clearing
    "Measure | name | joint #": counted_on,
    "Measure | joint # | parallel over # mm above the shoulder": _parallel,
    "Measure | keys stand out | # mm": _rib,
    "Try it dry | name | joint #": counted_on,
    "Try it dry | joint # | # nick* on either side": _by_number(_nicks),
    "Clear and smooth the bore | name | bore #": counted_on,
    "Clear and smooth the bore | bore # | # mm": _bore,
    "Clear and smooth the bore | paper | P# (# micrometres), *": constant(*GRAINS),
    "Clean the side holes | name | hole #": counted_on,
    "Clean the side holes | hole # | # mm round file; drawn # along, # across": _hole,
    # gluing
    "Get the glue ready | Epoxy where the gap is over # mm a side, or one *over # mm *": constant(
        0.2, 300
    ),
    "Get the glue ready | name | joint #": counted_on,
    "Get the glue ready | name | joint #, each end": counted_on,
    "Get the glue ready | joint # | # mm in a gap of # mm: # to # drops of *": _glue,
    "Get the glue ready | joint #, each end | # mm in a gap of # mm: mix # ml of *": _epoxy,
    "Get the glue ready | a drop | # to # mm (from memory: # to # g of # g/cm)": constant(
        1000.0 * DROP[0], 1000.0 * DROP[1], 0.02, 0.03, 1.06
    ),
    "Get the glue ready | mixed | of * # times what the gap holds, and at least # ml *": constant(
        2, 1
    ),
    "Spread it and push home | name | joint #": counted_on,
    "Spread it and push home | name | joint #, glue on": counted_on,
    "Spread it and push home | joint # | NAME, NAME*: # nick* on either side": _by_number(_nicks),
    "Spread it and push home | joint #, glue on | the # mm of the tenon *": _band,
    "Spread it and push home | joint #, glue on | from # to # mm from the end": _collar_band,
    "Hold it | name | after joint #": counted_on,
    "Hold it | after joint # | # mm*": _length,
    "Let it set | medium instant glue, leave alone for | # to # min *": constant(10, 60),
    "Let it set | medium instant glue, full strength after | # h *": constant(24),
    "Let it set | two-part epoxy, leave alone for | # min to # h *": constant(15, 24),
    "Let it set | two-part epoxy, full strength after | # h to # days *": constant(24, 7),
    "Leak test, if air is to go through it | When it has set fully, *": _holes_count,
    "Leak test, if air is to go through it | joints at | *# mm": _stations,
    "Care | *: PLA softens from about # C (data sheets: # to # C).": constant(55, 55, 65),
    # cautions, by their own words
    "page | caution | Hot printer. Nozzle (# to # C) and bed (# to # C) *#D *": constant(
        *NOZZLE, 3
    ),
    "page | caution | Dust. *Work wet, * N# or P#. *#D Printing *": constant(*DUST, 3),
    "page | caution | Instant glue. *dossier #*": constant(16286),
    "page | caution | Instant glue vapour. *RR#; WHO CICAD # (#))": constant(646, 36, 2001),
    "page | caution | Oily rags. *in the last # days *": constant(30),
    "page | caution | Mouth. *(in the EU #/#, in the US # CFR)*": constant(10, 2011, 21),
    "page | caution | Small parts. Strings, brims, *: # CFR #, from memory)": constant(16, 1501.4),
}
