"""Each bed seen from above: its floor, and the shadows of the pieces where they stand."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ..beds.bed import Placed
from ..beds.bed_item import bed_item
from ..meshes.segments import nearest_on
from ..recording.job_record import JobRecord, SavedBed
from ..values import FloatArray, Mesh
from .character_widths import ASCENT, DESCENT, shortened, text_width
from .cut_faces import Placing
from .dimensions import BEYOND, GAP, LINE_ROW, ROW, level_dimension, upright_dimension
from .lettering import HALF_CAPITAL
from .scales import fitting_scale, told_length
from .svg import TEXT_SIZE, Drawing, Pen, Point, TextBox

_ROOM = (70.0, 90.0)
"""For the floor, mm on paper."""

_COLUMN, _ROWS = 66.0, 16
"""Width of a column of the list of pieces, mm on paper, and how long it gets."""

_COLUMNS = 2


@dataclass(frozen=True, slots=True, eq=False)
class _Shadow:
    """A piece on the bed.

    number : of all that is printed, from 1
    outline : (n, 2) mm, about its shadow, convex, on the bed
    """

    number: int
    name: str
    outline: FloatArray
    height: float


def bed_drawings(record: JobRecord) -> tuple[Drawing, ...]:
    """One drawing for each bed of a job; pieces are counted through the whole job."""
    meshes = {piece.name: piece.mesh for part in record.parts for piece in part.pieces}
    return tuple(_bed_drawing(one, meshes, record) for one in record.beds)


def _bed_drawing(one: SavedBed, meshes: dict[str, Mesh], record: JobRecord) -> Drawing:
    numbers = {name: number for number, name in enumerate(meshes, 1)}
    shadows = [
        _shadow(
            numbers.get(placed.name, len(meshes) + 1), placed, _standing(placed, meshes, record)
        )
        for placed in one.bed.placed
    ]
    x, y, _ = record.settings.envelope
    scale = fitting_scale((x, y), _ROOM)
    placing, pen = Placing(scale.factor), Pen()
    _draw_floor(pen, placing, (x, y))
    for shadow in shadows:
        pen.outlines("outline", [placing.all_at(shadow.outline)], shadow.name)
    floor = _box_around(placing.all_at(np.array([(0.0, 0.0), (x, y)])))
    unnumbered = _draw_numbers(pen, placing, shadows, floor)
    _draw_list(pen, shadows, pen.low[0])
    told = f"{one.saved.file}, seen from above, its front at the bottom, scale {scale.told}"
    remarks = [told, *_draw_least_apart(pen, placing, shadows)]
    if unnumbered:
        remarks.append(f"no room for the numbers {', '.join(unnumbered)}")
    return pen.drawing(f"{one.saved.file}, seen from above", "; ".join(remarks), scale.factor)


def _standing(placed: Placed, meshes: dict[str, Mesh], record: JobRecord) -> Mesh:
    """What stands there: a piece, or the fit trial."""
    if placed.name in meshes:
        return meshes[placed.name]
    assert record.trial is not None
    return record.trial.trial.mesh


def _shadow(number: int, placed: Placed, mesh: Mesh) -> _Shadow:
    item, motion = bed_item(placed.name, mesh), placed.to_bed
    outline: FloatArray = item.outline @ motion[:2, :2].T + motion[:2, 3]
    return _Shadow(number, placed.name, outline, item.height)


def _draw_numbers(pen: Pen, placing: Placing, shadows: list[_Shadow], floor: TextBox) -> list[str]:
    """Each piece's number in its shadow, or beside it; those that have no room there."""
    around = [_box_around(placing.all_at(one.outline)) for one in shadows]
    unnumbered = []
    for shadow, own in zip(shadows, around, strict=True):
        told = str(shadow.number)
        place = _place_of(told, own, floor, [*around, *pen.boxes])
        if place is None:
            unnumbered.append(told)
        else:
            pen.text(told, (place[0], place[1] + HALF_CAPITAL), "middle")
    return unnumbered


def _place_of(told: str, own: TextBox, floor: TextBox, taken: list[TextBox]) -> Point | None:
    """The middle of a number: within its shadow, or beside it on the floor, where it is free."""
    width, height = text_width(told, TEXT_SIZE), (ASCENT + DESCENT) * TEXT_SIZE
    x, y = own.x + own.width / 2.0, own.y + own.height / 2.0
    if min(own.width, own.height) > width + 1.0:
        return x, y
    over, aside = (own.height + height) / 2.0 + 0.2, (own.width + width) / 2.0 + 0.4
    for place in ((x, y - over), (x, y + over), (x + aside, y), (x - aside, y)):
        box = TextBox(told, place[0] - width / 2.0, place[1] - height / 2.0, width, height)
        if floor.holds(box) and not any(box.overlaps(other) for other in taken):
            return place
    return None


def _box_around(outline: FloatArray) -> TextBox:
    (left, top), (right, bottom) = outline.min(axis=0).tolist(), outline.max(axis=0).tolist()
    return TextBox("", left, top, right - left, bottom - top)


def _draw_list(pen: Pen, shadows: list[_Shadow], left: float) -> None:
    """The pieces with their heights, in as many columns as they need."""
    most = _ROWS * _COLUMNS
    told = [f"{one.number}: {_named(one)}" for one in shadows]
    if len(told) > most:
        told[most - 1 :] = [f"{len(told) - most + 1} more stand in their table only"]
    top = pen.high[1] + 1.0 + ASCENT * TEXT_SIZE
    for number, text in enumerate(told):
        column, row = divmod(number, _ROWS)
        pen.text(text, (left + column * _COLUMN, top + row * ROW))


def _named(shadow: _Shadow) -> str:
    height = f", {told_length(shadow.height)} high"
    room = _COLUMN - 3.0 - text_width(f"{shadow.number}: {height}", TEXT_SIZE)
    return f"{shortened(shadow.name, TEXT_SIZE, room)}{height}"


def _draw_least_apart(pen: Pen, placing: Placing, shadows: list[_Shadow]) -> list[str]:
    """A line where two pieces are nearest to each other, and what it is long."""
    least = _least_apart(shadows)
    if least is None:
        return []
    near, far = (placing.at(*end) for end in least[1])
    pen.line("narrow", near, far)
    for end in (near, far):
        pen.circle("dot", end, 0.5)
    return [f"{told_length(least[0])} apart at the least, between the dots"]


def _draw_floor(pen: Pen, placing: Placing, floor: Point) -> None:
    """The floor's outline with its lengths."""
    (left, bottom), (right, top) = placing.at(0.0, 0.0), placing.at(*floor)
    corners = np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
    pen.outlines("phantom", [corners])
    width, depth = (told_length(length) for length in floor)
    y, x = bottom + GAP + LINE_ROW, left - GAP - LINE_ROW
    level_dimension(pen, left, right, y, width, placing.factor, right)
    upright_dimension(pen, x, bottom, top, depth, placing.factor)
    for end in (left, right):
        pen.broken_line("narrow", (end, bottom + GAP), (end, y + BEYOND))
    for end in (bottom, top):
        pen.broken_line("narrow", (left - GAP, end), (x - BEYOND, end))


def _least_apart(shadows: list[_Shadow]) -> tuple[float, tuple[Point, Point]] | None:
    """The least distance between two outlines, mm, and the two points it lies between."""
    found = [
        _corner_to_sides(one.outline, other.outline)
        for first, second in combinations(shadows, 2)
        for one, other in ((first, second), (second, first))
    ]
    return min(found, default=None)


def _corner_to_sides(corners: FloatArray, outline: FloatArray) -> tuple[float, tuple[Point, Point]]:
    """The nearest that corners are to the sides of another outline, and where."""
    feet = nearest_on(corners[:, None], outline, np.roll(outline, -1, axis=0))
    apart = np.hypot(*(corners[:, None] - feet).transpose(2, 0, 1))
    corner, side = np.unravel_index(int(apart.argmin()), apart.shape)
    (x, y), (foot_x, foot_y) = corners[corner].tolist(), feet[corner, side].tolist()
    return float(apart[corner, side]), ((x, y), (foot_x, foot_y))
