"""Enlarged drawings of a part's joints: in section, across, and the gap ten times its size.

The section lies clear of keys and witness marks, so that what it shows is the same on both
sides; keys are seen in the section across. All outlines are cut from the finished pieces.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..jointing.collar_design import mating_surface
from ..recording.job_record import JobRecord, PartRecord
from ..values import Joint, Outcome
from .assembled import AssembledPart, assemble, spans_at
from .cross_sections import Loops, Plane, Window, section_across, section_along
from .cut_faces import Placing, draw_cut_face
from .dimensions import (
    BEYOND,
    GAP,
    LINE_ROW,
    ROW,
    break_line,
    level_dimension,
    upright_dimension,
    upright_room,
)
from .joint_notes import (
    PlaceNote,
    key_notes,
    level_of_keys,
    notes_of,
    shown_gap,
    telling_plane,
    told_others,
)
from .lettering import PAPER, Note, draw_notes
from .part_notes import KIND_WORDS
from .scales import Scale, fitting_scale, told_length
from .svg import TEXT_SIZE, Drawing, Pen, Point

_ROOM = (84.0, 96.0)
"""For the section itself, mm on paper."""

_ROOM_ACROSS = (64.0, 64.0)
"""For the section across, mm on paper."""

_BEYOND_ZONE = 4.0
"""How much of the pieces is drawn over and under a joint, mm, at the least."""

_DETAIL = Scale(10, 1)
_DETAIL_INWARD, _DETAIL_OUTWARD = 1.8, 2.2
_DETAIL_BELOW, _DETAIL_ABOVE = 1.6, 2.6
"""How far around the gap at the seam is drawn ten times its size, mm."""

_DETAIL_SIZE, _COMFORTABLE = (40.0, 84.0), 140.0
"""Width and greatest height of that drawing with its words, mm on paper, and the width up to
which a sheet can still be read on a phone."""

_APART = 9.0
"""Between the drawings on one sheet, mm."""


def joint_drawings(part: PartRecord, record: JobRecord) -> tuple[Drawing, ...]:
    """One drawing for each joint of a part, from the low end up."""
    del record
    if not isinstance(part.outcome, Outcome):
        return ()
    whole = assemble(part)
    return tuple(
        _joint_drawing(part.outcome, whole, joint, number)
        for number, joint in enumerate(part.outcome.plan.joints)
    )


@dataclass(frozen=True, slots=True, eq=False)
class _CutJoint:
    """A joint's pieces in section.

    numbers : of its pieces, from 0, as the whole part counts them
    """

    joint: Joint
    whole: AssembledPart
    numbers: tuple[int, ...]
    plane: Plane
    sections: tuple[Loops, ...]
    window: Window

    @property
    def middle(self) -> float:
        """Across, mm, halfway."""
        return (self.window.left + self.window.right) / 2.0


def _joint_drawing(outcome: Outcome, whole: AssembledPart, joint: Joint, number: int) -> Drawing:
    cut = _cut_joint(whole, joint, number)
    window = cut.window
    scale = fitting_scale((window.right - window.left, window.high - window.low), _ROOM)
    placing = Placing(scale.factor, (-cut.middle * scale.factor, joint.station * scale.factor))
    pen = Pen()
    _draw_section(pen, placing, cut)
    _draw_notes(pen, placing, cut, outcome)
    top = pen.high[1] + _APART
    right = _draw_across(pen, cut, top)
    _draw_detail(pen, cut, _detail_corner(pen, right, top))
    told = f"{outcome.name}, seam {number + 1} at {told_length(joint.station)}"
    half = [] if _centre_lines(cut) else ["the wall to the right, broken off"]
    title = [f"{told}, {KIND_WORDS[joint.kind]}, scale {scale.told}", *half, *told_others(joint)]
    return pen.drawing(f"{told}, enlarged", "; ".join(title), scale.factor)


def _cut_joint(whole: AssembledPart, joint: Joint, number: int) -> _CutJoint:
    plane = telling_plane(joint)
    numbers = _pieces_at(whole, joint, number)
    sections = tuple(section_along(whole.meshes[k], plane) for k in numbers)
    low, high = joint.zone
    margin = max(_BEYOND_ZONE, 0.15 * (high - low))
    low, high = low - margin, high + margin
    spans = [
        span
        for loops in sections
        for station in np.linspace(low, high, 23).tolist()
        for span in spans_at(loops, station, (-math.inf, math.inf))
    ]
    left, right = min(a for a, _ in spans), max(b for _, b in spans)
    if fitting_scale((right - left, high - low), _ROOM).factor < 1.0:
        left = _right_half(spans, (left + right) / 2.0)
    window = Window(left - 0.2, right + 0.2, low, high)
    return _CutJoint(joint, whole, numbers, plane, sections, window)


def _right_half(spans: list[tuple[float, float]], axis: float) -> float:
    """From where a wide joint is drawn, mm across: its wall to the right, or from the axis on."""
    return min((left for left, _ in spans if left > axis), default=axis)


def _pieces_at(whole: AssembledPart, joint: Joint, number: int) -> tuple[int, ...]:
    """Which pieces meet at a seam: the lower, the upper, and a collar of its own."""
    bodies = [k for k, piece in enumerate(whole.pieces) if piece.role == "piece"]
    rings = [
        k
        for k, piece in enumerate(whole.pieces)
        if piece.role != "piece"
        and piece.joint_below is not None
        and piece.joint_below.station == joint.station
    ]
    return (bodies[number], bodies[number + 1], *rings)


# --- in section -------------------------------------------------------------------------


def _draw_section(pen: Pen, placing: Placing, cut: _CutJoint) -> None:
    """The pieces, broken off over and under the joint, and the axis."""
    window, whole = cut.window, cut.whole
    for number, loops in zip(cut.numbers, cut.sections, strict=True):
        mark = whole.pieces[number].name
        draw_cut_face(pen, placing, loops, number, mark=mark, line="fine", window=window)
        for station in (window.low, window.high):
            for left, right in spans_at(loops, station, (window.left, window.right)):
                ends = placing.at(max(left, window.left), station), placing.at(right, station)
                pen.polylines("narrow", [break_line(*ends)])
    for across in _centre_lines(cut):
        low, high = (placing.at(across, z) for z in (window.low - 1.0, window.high + 1.0))
        pen.line("axis", low, high)


def _centre_lines(cut: _CutJoint) -> list[float]:
    """Across, mm, of each centre line that lies in the plane."""
    joint, plane = cut.joint, cut.plane
    if joint.collar is not None:
        centres = [mating_surface(joint.collar).offset]
    else:
        centres = [centre for tenon in joint.tenons for centre in tenon.centres]
    near = [centre for centre in centres if abs(plane.beyond(*centre)) < 0.05]
    places = {round(plane.across(*centre), 3) for centre in near}
    return sorted(x for x in places if cut.window.left < x < cut.window.right)


def _draw_notes(pen: Pen, placing: Placing, cut: _CutJoint, outcome: Outcome) -> None:
    """Engagement to the left; sizes, pieces and the seam to the right."""
    joint, window = cut.joint, cut.window
    seam = "shoulders meet" if joint.collar is None else "ends meet"
    edge = spans_at(cut.sections[0], joint.station - 0.05, (-math.inf, math.inf))[-1][1]
    notes = [
        *notes_of(joint, cut.plane, outcome.survey),
        *_piece_notes(cut),
        PlaceNote(edge, joint.station, seam),
        *_draw_engagement(pen, placing, cut),
    ]
    told = [Note(placing.at(note.across, note.station), note.text) for note in notes]
    draw_notes(pen, told, placing.at(window.right, 0.0)[0], 1.0)


def _piece_notes(cut: _CutJoint) -> list[PlaceNote]:
    """The number of each piece at a place well within what is cut of it."""
    window, reach = cut.window, cut.joint.zone
    levels = [
        (window.low + reach[0]) / 2.0,
        (window.high + reach[1]) / 2.0,
        cut.joint.station + 0.8 * cut.joint.engagement,
    ]
    notes = []
    for number, loops, station in zip(cut.numbers, cut.sections, levels, strict=False):
        spans = spans_at(loops, station, (-math.inf, math.inf))
        if spans:
            place = spans[-1][0] + 0.75 * (spans[-1][1] - spans[-1][0])
            notes.append(PlaceNote(place, station, f"piece {number + 1}"))
    return notes


def _draw_engagement(pen: Pen, placing: Placing, cut: _CutJoint) -> list[PlaceNote]:
    """How far it goes in, over the seam; a note where its line is too short for that."""
    joint, window = cut.joint, cut.window
    told = told_length(joint.engagement)
    edge, low = placing.at(window.left, joint.station)
    high = placing.at(window.left, joint.station + joint.engagement)[1]
    if upright_room(told) > low - high:
        station = joint.station + joint.engagement
        return [PlaceNote(shown_gap(joint, cut.plane).inner, station, f"engagement {told}")]
    x = edge - GAP - LINE_ROW
    upright_dimension(pen, x, low, high, told, placing.factor)
    for y in (low, high):
        pen.broken_line("narrow", (edge - GAP, y), (x - BEYOND, y))
    return []


# --- across -----------------------------------------------------------------------------


def _draw_across(pen: Pen, cut: _CutJoint, top: float) -> float:
    """The section across the keys, seen from the high end, with their angles.

    Returns
    -------
    where it ends to the right, mm on paper
    """
    level, before = level_of_keys(cut.joint), len(pen.boxes)
    sections = [section_across(cut.whole.meshes[k], level) for k in cut.numbers]
    points = np.concatenate([loop for loops in sections for loop in loops])
    (left, low), (right, high) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    scale = fitting_scale((right - left, high - low), _ROOM_ACROSS)
    middle = (left + right) / 2.0
    placing = Placing(scale.factor, (-middle * scale.factor, top + high * scale.factor + ROW))
    for number, loops in zip(cut.numbers, sections, strict=True):
        draw_cut_face(pen, placing, loops, number, line="fine")
    (x1, y1), (x2, y2), (x, y) = (
        placing.at(*place) for place in ((left, high), (right, low), (0.0, 0.0))
    )
    pen.line("axis", (x, y1 - 2.0), (x, y2 + 2.0))
    pen.line("axis", (x1 - 2.0, y), (x2 + 2.0, y))
    keys = [(x >= middle, Note(placing.at(x, y), text)) for x, y, text in key_notes(cut.joint)]
    draw_notes(pen, [note for is_right, note in keys if is_right], x2 + 1.0, 1.0)
    draw_notes(pen, [note for is_right, note in keys if not is_right], x1 - 1.0, -1.0)
    under = (x1 + x2) / 2.0, max(y2, pen.high[1]) + 3.0 + TEXT_SIZE
    pen.text(f"across, from above, {scale.told}", under, "middle")
    return max(x2 + 2.0, *(box.x + box.width for box in pen.boxes[before:]))


# --- the gap ----------------------------------------------------------------------------


def _draw_detail(pen: Pen, cut: _CutJoint, corner: Point) -> None:
    """The gap at the seam ten times its size, with the clearance a side."""
    joint, factor = cut.joint, _DETAIL.factor
    gap, window = shown_gap(joint, cut.plane), _detail_window(joint, cut.plane)
    top = corner[1] + LINE_ROW + 2.0
    placing = Placing(factor, (corner[0] - window.left * factor, top + window.high * factor))
    for number, loops in zip(cut.numbers, cut.sections, strict=True):
        draw_cut_face(pen, placing, loops, number, line="fine", window=window)
    (left, bottom), (right, _) = (
        placing.at(window.left, window.low),
        placing.at(window.right, window.high),
    )
    frame = np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
    pen.outlines("narrow", [frame])
    inner, outer = (placing.at(across, 0.0)[0] for across in (gap.inner, gap.outer))
    y = top - 3.5
    level_dimension(pen, inner, outer, y, told_length(joint.radial_clearance), factor, outer)
    for x in (inner, outer):
        pen.broken_line("narrow", (x, top - GAP), (x, y - BEYOND))
    text = f"clearance a side, {_DETAIL.told}"
    pen.text(text, (left, bottom + 3.0 + TEXT_SIZE))


def _detail_corner(pen: Pen, right: float, top: float) -> Point:
    """Where the gap is drawn: beside the section across, or under it where the sheet gets wide.

    Parameters
    ----------
    right, top : mm, where the section across ends and starts
    """
    below = pen.high[1] + _APART
    width = right + _APART + _DETAIL_SIZE[0] - pen.low[0]
    if width > _COMFORTABLE and below + _DETAIL_SIZE[1] - pen.low[1] < PAPER[1]:
        return -_DETAIL_SIZE[0] / 2.0, below
    return right + _APART, top


def _detail_window(joint: Joint, plane: Plane) -> Window:
    """Around the gap at the seam, as far up as it is parallel."""
    gap, above = shown_gap(joint, plane), _DETAIL_ABOVE
    below = _DETAIL_BELOW if joint.collar is None else _DETAIL_ABOVE
    if joint.collar is None:
        above = min(above, 0.9 * joint.tenon.parallel_length)
    left, right = gap.middle - _DETAIL_INWARD, gap.middle + _DETAIL_OUTWARD
    return Window(left, right, joint.station - below, joint.station + above)
