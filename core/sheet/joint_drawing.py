"""Enlarged drawings of a part's joints: in section, across, and the gap ten times its size.

Section B-B lies clear of keys and witness marks, at least to its right, where sizes are told;
keys are seen in section C-C, across. All outlines are cut from the finished pieces. Two
drawings stand beside each other on paper, and one is no wider than a phone.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from ..jointing.collar_design import mating_surface
from ..recording.job_record import JobRecord, PartRecord
from ..values import Joint, Outcome
from .assembled import assemble, edges_beyond, spans_at
from .cross_sections import clipped
from .cut_faces import Placing, draw_cut_face
from .cut_joint import CutJoint, axis_across, cut_joint, is_round
from .dimensions import BEYOND, GAP, break_line, upright_dimension, upright_room
from .joint_likeness import alike_joints
from .joint_notes import (
    PlaceNote,
    key_word,
    level_of_keys,
    notes_of,
    shown_gap,
    told_keys,
    told_others,
)
from .joint_views import detail_window, draw_across, draw_detail, draw_frame
from .lettering import Note, draw_notes
from .part_notes import KIND_WORDS
from .plane_marks import LEVEL_MARK, mark_level_plane
from .scales import told_length
from .svg import Drawing, Pen
from .together import numbered

_APART = 6.0
"""Between the drawings on one sheet, mm."""

_TOLD_VIEWS = {
    "half": ["drawn to the right of its axis only"],
    "wall": ["only the wall to the right is drawn"],
}


def joint_drawings(part: PartRecord, record: JobRecord) -> tuple[Drawing, ...]:
    """One drawing for each joint of a part, from the low end up, and one only for those alike."""
    del record
    if not isinstance(part.outcome, Outcome):
        return ()
    whole = assemble(part)
    cuts = [
        cut_joint(whole, joint, number) for number, joint in enumerate(part.outcome.plan.joints)
    ]
    return tuple(
        _joint_drawing(part.outcome, cuts[numbers[0]], numbers)
        for numbers in alike_joints(cuts, part.outcome.survey)
    )


def _joint_drawing(outcome: Outcome, cut: CutJoint, numbers: Sequence[int]) -> Drawing:
    """Of the first of joints that are alike, by numbers from 0."""
    joint, whole, pen = cut.joint, cut.whole, Pen()
    factor, window = cut.scale.factor, cut.window
    middle = 0.0 if cut.view == "wall" else axis_across(joint, cut.plane)
    placing = Placing(factor, (-middle * factor, joint.station * factor))
    _draw_section(pen, placing, cut)
    _draw_notes(pen, placing, cut, outcome)
    over = placing.at((window.left + window.right) / 2.0, window.high)
    pen.text(f"B-B ({cut.scale.told})", (over[0], min(over[1], pen.low[1]) - 1.5), "middle")
    top = pen.high[1] + 2.0
    right = draw_across(pen, whole, cut.numbers, joint, cut.plane)
    hatchings = [whole.hatchings[k] for k in cut.numbers]
    draw_detail(pen, cut.sections, hatchings, joint, cut.plane, (right + _APART, top))
    told = f"{outcome.name}, seam {numbers[0] + 1} at {told_length(joint.station)}"
    words = [told, *_told(cut), *_told_alike(joint, numbers[1:])]
    return pen.drawing(f"{told}, enlarged", "; ".join(words), factor)


def _told(cut: CutJoint) -> Iterator[str]:
    """What the caption says after the joint's name."""
    joint = cut.joint
    yield KIND_WORDS[joint.kind]
    yield from _TOLD_VIEWS.get(cut.view, [])
    over = told_length(level_of_keys(joint) - joint.station)
    yield f"C-C lies {over} over the seam, seen from above: {told_keys(joint)}"
    yield from told_others(joint, cut.plane)


def _told_alike(joint: Joint, others: Sequence[int]) -> Iterator[str]:
    """That a drawing stands for more joints, and what of them it does not tell."""
    if others:
        same = numbered("seam", [number + 1 for number in others])
        verb = "are" if len(others) > 1 else "is"
        yield (
            f"{same} {verb} the same but for station and pieces and the angles of "
            f"{key_word(joint)}s: see “Joints”"
        )


# --- in section -------------------------------------------------------------------------


def _draw_section(pen: Pen, placing: Placing, cut: CutJoint) -> None:
    """The pieces, broken off over and under the joint, and the axis."""
    window, whole = cut.window, cut.whole
    for number, loops in zip(cut.numbers, cut.sections, strict=True):
        mark, hatching = whole.pieces[number].name, whole.hatchings[number]
        draw_cut_face(pen, placing, loops, hatching, mark=mark, line="fine", window=window)
        for station in (window.low, window.high):
            for left, right in spans_at(loops, station, (window.left, window.right)):
                ends = placing.at(max(left, window.left), station), placing.at(right, station)
                pen.polylines("narrow", [break_line(*ends)])
    for across in _centre_lines(cut):
        beyond = clipped(edges_beyond(cut.sections, across), window)
        pen.segments("fine", placing.all_at(beyond))
        (x, low), (_, high) = (placing.at(across, z) for z in (window.low, window.high))
        pen.line("axis", (x, low + 3.0), (x, high - 3.0))
        if cut.view == "half" and is_round(cut.joint):
            _draw_symmetry(pen, x, (low + 1.5, high - 1.5))


def _draw_symmetry(pen: Pen, x: float, ends: tuple[float, float]) -> None:
    """Two short lines across each end of an axis: its other side is the same, and not drawn."""
    for y in ends:
        for step in (-0.5, 0.5):
            pen.line("narrow", (x - 1.75, y + step), (x + 1.75, y + step))


def _centre_lines(cut: CutJoint) -> list[float]:
    """Across, mm, of each centre line that lies in the plane."""
    joint, plane = cut.joint, cut.plane
    if joint.collar is not None:
        centres = [mating_surface(joint.collar).offset]
    else:
        centres = [centre for tenon in joint.tenons for centre in tenon.centres]
    near = [centre for centre in centres if abs(plane.beyond(*centre)) < 0.05]
    places = {round(plane.across(*centre), 3) for centre in near}
    if cut.view == "half":
        places.add(round(cut.window.left, 3))
    return sorted(x for x in places if cut.window.left - 0.01 < x < cut.window.right)


def _draw_notes(pen: Pen, placing: Placing, cut: CutJoint, outcome: Outcome) -> None:
    """Where the other views lie; engagement to the left; sizes, pieces and seam to the right."""
    joint, window = cut.joint, cut.window
    level = level_of_keys(joint)
    right = mark_level_plane(
        pen, "C", placing.at(window.left, level), placing.at(window.right, level)
    )
    detail = detail_window(joint, cut.plane)
    draw_frame(pen, placing, detail)
    seam = "shoulders meet" if joint.collar is None else "ends meet"
    edge = spans_at(cut.sections[0], joint.station - 0.05, (-math.inf, math.inf))[-1][1]
    notes = [
        *notes_of(joint, cut.plane, outcome.survey),
        PlaceNote(detail.right, detail.low, "D"),
        PlaceNote(edge, joint.station, seam),
        *_draw_engagement(pen, placing, cut),
    ]
    told = [Note(placing.at(note.across, note.station), note.text) for note in notes]
    told += [Note(placing.at(note.across, note.station), note.text, "dot") for note in _pieces(cut)]
    told.append(Note(right, "C", "none"))
    draw_notes(pen, told, placing.at(window.right, 0.0)[0] + 2.0, 1.0)


def _pieces(cut: CutJoint) -> list[PlaceNote]:
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


def _draw_engagement(pen: Pen, placing: Placing, cut: CutJoint) -> list[PlaceNote]:
    """How far it goes in, over the seam; a note where its line is too short for that."""
    joint = cut.joint
    told, top = told_length(joint.engagement), joint.station + joint.engagement
    low, high = (placing.at(0.0, station)[1] for station in (joint.station, top))
    if upright_room(told) > low - high:
        return [PlaceNote(shown_gap(joint, cut.plane).inner, top, f"engagement {told}")]
    x = placing.at(cut.window.left, 0.0)[0] - LEVEL_MARK - 1.0
    upright_dimension(pen, x, low, high, told, placing.factor)
    for start, y in zip(_extended_from(placing, cut), (low, high), strict=True):
        pen.broken_line("narrow", (start - GAP, y), (x - BEYOND, y))
    return []


def _extended_from(placing: Placing, cut: CutJoint) -> tuple[float, float]:
    """Where the seam and the joint's end are met from the left, mm on paper."""
    joint, left = cut.joint, cut.window.left
    if cut.view == "full":
        edge = placing.at(left, 0.0)[0]
        return edge, edge
    top = joint.station + joint.engagement - 0.01
    own = cut.sections[0 if joint.collar is None else -1]
    spans = spans_at(own, top, (left, math.inf))
    inner = shown_gap(joint, cut.plane).inner
    return placing.at(inner, 0.0)[0], placing.at(max(spans[0][0], left), 0.0)[0]
