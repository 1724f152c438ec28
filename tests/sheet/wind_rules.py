"""What the numbers on the tuning of a wind instrument have to be: a tube open at both ends.

Speed of sound 331.3 sqrt(1 + T / 273.15) m/s; an open end lengthens by 0.6133 of the radius
(Levine and Schwinger 1948); holes after Benade, Fundamentals of Musical Acoustics, chapter 21.
All from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from tests.sheet.made import Made
from tests.sheet.numbers import Near, Rules, Wanted, constant, counted_on
from tests.sheet.table_rules import land_width
from tests.sheet.told import Told

END = 0.6133
GAP = 0.1
"""mm, that a seam gapes."""

WARM = 20.0


def _sound(celsius: float) -> float:
    """m/s."""
    return 331.3 * math.sqrt(1.0 + celsius / 273.15)


def _cents(longer: float, length: float) -> float:
    """Of a pipe that becomes longer, mm."""
    return -1200.0 * math.log2((length + longer) / length)


def _column(made: Made) -> Any:
    (column,) = made.part["wind"]["columns"]
    return column


def _radius(made: Made) -> float:
    return float(made.survey["bores"][0]["diameter"] / 2.0)


def _bare(made: Made) -> float:
    """Effective length without holes, mm: both ends lengthen it."""
    return made.spans[-1][1] + 2.0 * END * _radius(made)


def _closed(made: Made, holes: Sequence[Any]) -> float:
    """mm, that closed holes add: half of their volume over the bore's section."""
    return math.fsum(_chimney(made) * _share(made, hole) / 2.0 for hole in holes)


def _chimney(made: Made) -> float:
    """mm, of a hole through the wall of a straight tube."""
    return float(made.survey["outsides"][0]["diameter"] / 2.0 - _radius(made))


def _share(made: Made, hole: Any) -> float:
    """Of a hole's section over the bore's."""
    return float((hole["diameter"] / 2.0 / _radius(made)) ** 2)


def _whole(made: Made) -> float:
    return _bare(made) + _closed(made, made.survey["side_holes"])


def _sounding(made: Made, number: int, *, from_low: bool) -> float:
    """Effective length, mm, from an end to a hole, those before it closed, those beyond open.

    Hole by hole from the far end: the air in a hole and the air beyond it move side by side.
    """
    length = made.spans[-1][1]
    holes = sorted(
        ((hole["station"] if from_low else length - hole["station"]), hole)
        for hole in _by_station(made)
    )
    mine = made.survey["side_holes"][number - 1]
    place = next(at for at, hole in holes if hole is mine)
    beyond, reached = END * _radius(made), length
    for at, hole in reversed([one for one in holes if one[0] >= place]):
        through = (_chimney(made) + 1.5 * hole["diameter"] / 2.0) / _share(made, hole)
        ahead = reached - at + beyond
        beyond, reached = 1.0 / (1.0 / ahead + 1.0 / through), at
    before = [hole for at, hole in holes if at < place]
    return END * _radius(made) + place + beyond + _closed(made, before)


def _by_station(made: Made) -> list[Any]:
    holes: list[Any] = made.survey["side_holes"]
    assert len({hole["station"] for hole in holes}) == len(holes)
    return holes


def _volume(made: Made) -> float:
    """mm3, that the first joint adds to the bore: over the tip, under the roof.

    The level land, 0.2 mm of it, and a cone of 45 degrees from there in to the bore.
    """
    wide, radius = land_width(made, 1) / 2.0 - _radius(made), _radius(made)
    level = 0.2 * ((radius + wide) ** 2 - radius**2)
    return math.pi * (level + radius * wide**2 + wide**3 / 3.0)


def _most(made: Made, _told: Told) -> Sequence[Wanted]:
    """Cents, by Rayleigh: of a volume where a mode's pressure or flow is greatest."""
    share = _volume(made) / (math.pi * _radius(made) ** 2 * _bare(made))
    return [Near(1200.0 / math.log(2.0) * share, 0.002)]


def _length_and_cents(made: Made, _told: Told) -> Sequence[Wanted]:
    length = made.spans[-1][1]
    return [length, Near(_cents(length - made.survey["length"], _whole(made)), 0.001)]


def _in_layers(made: Made, _told: Told) -> Sequence[Wanted]:
    low, high = made.part["wind"]["layers_longer"]
    assert abs(high - low) < 1e-6
    return [low, Near(_cents(low, _whole(made)), 0.001)]


def _joint(made: Made, told: Told, key: str) -> float:
    return float(_column(made)["joints"][int(told.row["joint"]) - 1][key])


def _mode(made: Made, told: Told) -> Sequence[Wanted]:
    """As the document has it; never more than at most."""
    number = int(told.place.rpartition(" ")[2])
    cents = _column(made)["joints"][int(told.row["joint"]) - 1]["cents"][number - 1]
    most = _most(made, told)[0]
    assert isinstance(most, Near)
    assert abs(cents) <= most.value + 0.002
    return [cents]


def _edge(made: Made, told: Told) -> Sequence[Wanted]:
    hole = made.survey["side_holes"][int(told.row["hole"]) - 1]
    return [min(abs(hole["station"] - seam) for seam in made.seams) - hole["diameter"] / 2.0]


def _from_end(made: Made, told: Told) -> float:
    return _sounding(made, int(told.row["hole"]), from_low="low" in told.place)


RULES: Rules = {
    "Leak test | When it has set fully, *": lambda made, _: [len(made.survey["side_holes"])],
    "Leak test | joints at | *# mm": lambda made, _: list(made.seams),
    "What this is | About # cents *": constant(5),
    "What this is | Formulas: *(#), *section #, *(#); *": constant(1948, 265, 1976),
    "Length of the air | length before | # mm": lambda made, _: [made.survey["length"]],
    "Length of the air | length of the pieces, *# mm, # cents": _length_and_cents,
    "Length of the air | name | printed in whole layers of # mm": lambda made, _: [
        made.settings["layer"]
    ],
    "Length of the air | printed in whole layers of # mm | # mm, # cents": _in_layers,
    "Length of the air | name | each # mm that a seam gapes": constant(GAP),
    "Length of the air | each # mm that a seam gapes | # cents": lambda made, _: [
        _cents(GAP, _whole(made))
    ],
    "Length of the air | what truing did to the bore | # cents": lambda made, _: [
        _column(made)["trued_cents"][0]
    ],
    "Length of the air | effective length, holes closed | # mm": lambda made, _: [_whole(made)],
    "Length of the air | name | lowest tone of the bare tube at # C": constant(WARM),
    "Length of the air | lowest tone of the bare tube at # C | # Hz": lambda made, _: [
        _sound(WARM) * 1000.0 / 2.0 / _whole(made)
    ],
    "Joints and the tuning | head | mode #": lambda _, told: [told.order + 1],
    "Joints and the tuning | joint | #": counted_on,
    "Joints and the tuning | from | #": lambda made, _: [made.spans[0][1]],
    "Joints and the tuning | to | #": lambda made, _: [
        made.spans[0][1] + 0.2 + land_width(made, 1) / 2.0 - _radius(made)
    ],
    "Joints and the tuning | bore mm | #": lambda made, _: [Near(_volume(made), 0.05)],
    "Joints and the tuning | mode # | #": _mode,
    "Joints and the tuning | at most | #": _most,
    "Joints and the tuning | gap empty | #": lambda made, told: [
        _joint(made, told, "greatest_cents_empty")
    ],
    "At the joints | Told are cents of the # lowest modes, *": constant(3),
    "Holes and the tuning | hole | #": counted_on,
    "Holes and the tuning | seam | #": constant(1),
    "Holes and the tuning | off its edge | #": _edge,
    "Holes and the tuning | mm from * | #": lambda made, told: [_from_end(made, told)],
    "Holes and the tuning | cents from * | #": lambda made, told: [
        _cents(GAP, _from_end(made, told))
    ],
    "At the holes | Seam: *cents: of # mm *": constant(GAP),
    "When you compare | *best at # C*": constant(WARM),
    "When you compare | each K warmer | # cents": lambda *_: [
        1200.0 * math.log2(_sound(WARM + 0.5) / _sound(WARM - 0.5))
    ],
    "When you compare | name | sound at # C": constant(WARM),
    "When you compare | sound at # C | # m/s *": constant(_sound(WARM)),
}
