"""The drawing of a whole part: in section through the axis, to scale, as it is put together.

It stands as its pieces print, low end down. To its left are the pieces' numbers and heights and
the whole length; to its right the stations, counted from the low end, of all that there is to
find on it; under and over it the diameters at its ends. Lines and dimensions are in the manner
of ISO 128 and ISO 129-1; nothing is broken off.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..recording.job_record import JobRecord, PartRecord
from ..values import Outcome, RoundSurface, SideHole
from .assembled import (
    AssembledPart,
    assemble,
    edges_beyond,
    hole_angle,
    hole_middle,
    is_shown,
    spans_at,
)
from .character_widths import ASCENT, DESCENT, shortened, text_width
from .cross_sections import Loops, Plane, section_across
from .cut_faces import Placing, draw_cut_face
from .dimensions import (
    BEYOND,
    GAP,
    LINE_ROW,
    ROW,
    TEXT_LIFT,
    arrow,
    columns_of,
    level_dimension,
    spread_within,
    upright_dimension,
    upright_room,
)
from .lettering import BALLOON, HALF_CAPITAL, PAPER, draw_balloon
from .part_notes import StationNote, few_enough, station_notes, told_angle
from .plane_marks import mark_upright_plane
from .scales import SCALES, Scale, fitting_scale, told_length
from .svg import TEXT_SIZE, DimensionLine, Drawing, Line, Pen, Point

_MOST_WIDTH, _WIDTH_ALONE = 62.0, 110.0
"""For the part itself, mm on paper: with notes beside it, and without any."""

_AROUND = 62.0
"""Of the paper's height, mm, for the rows over and under the part."""

_BALLOON_PITCH, _MOST_BALLOONS = 7.0, 25
"""From one piece's number to the next, mm, and as many as find room on a page."""

_STATION_LINE, _ELBOW = 7.0, 5.0
"""From the part to the line of stations, and from there to their values, mm."""

_Size = tuple[float, float, str]
"""From where to where across, mm, and what it is told as."""

_IN_PLANE = 0.1
"""mm, off the plane, within which a surface's centre line counts as on it."""

_VIEW_ROOM = (32.0, 32.0)
"""For the section across, mm on paper, where it is not as large as the other."""

_SECTION = "section through the axis"

_MOST_NOTES = 40
"""As many as find room beside a part on one page."""


@dataclass(frozen=True, slots=True)
class _Paper:
    """Where the part lies on paper: its axis upright at x = 0, station 0 at y = 0.

    left, right, top, bottom : mm, of all that is cut
    """

    factor: float
    left: float
    right: float
    top: float
    bottom: float

    @property
    def placing(self) -> Placing:
        return Placing(self.factor)


@dataclass(frozen=True, slots=True)
class _Height:
    """How high a piece is, between two stations, and what stands at its dimension line."""

    low: float
    high: float
    text: str


def part_drawing(part: PartRecord, record: JobRecord) -> Drawing:
    """A part in section with its pieces, holes, seams and sizes.

    Parameters
    ----------
    part : one of the record's, with its pieces
    """
    whole = assemble(part)
    width, height = (whole.extent[1] - whole.extent[0]).tolist()
    room = _MOST_WIDTH if whole.survey is not None else _WIDTH_ALONE
    largest = fitting_scale((width, height), (room, PAPER[1] - _AROUND))
    for scale in SCALES[SCALES.index(largest) :]:
        drawing = _drawing_at(part, record, whole, scale)
        if drawing.width <= PAPER[0] and drawing.height <= PAPER[1]:
            break
    return drawing


def _drawing_at(part: PartRecord, record: JobRecord, whole: AssembledPart, scale: Scale) -> Drawing:
    paper, pen = _paper(whole, scale), Pen()
    _draw_section(pen, paper, whole)
    _draw_axes(pen, paper, whole)
    heights, left_over = _heights(part, whole, record, scale)
    notes, untold = _notes(part, left_over)
    rows = _draw_stations(pen, paper, notes)
    balloons = _draw_balloons(pen, paper, whole)
    _draw_heights(pen, paper, whole, heights)
    top = min(paper.top, *rows, *balloons) - ASCENT * TEXT_SIZE
    bottom = max(paper.bottom, *rows, *balloons) + DESCENT * TEXT_SIZE
    right = _draw_diameters(pen, paper, whole, top, bottom)
    _draw_view(pen, paper, whole, (right + 12.0, bottom + 6.0))
    if whole.survey is not None:
        pen.text("A-A", (0.0, pen.low[1] - 2.0), "middle")
    told = "; ".join(_told(part, record, whole, scale, untold))
    return pen.drawing(f"{part.outcome.name}, {_SECTION}", told, scale.factor)


def _paper(whole: AssembledPart, scale: Scale) -> _Paper:
    low, high = whole.extent
    left, right, top, bottom = low[0], high[0], -high[1], -low[1]
    sides = (float(side) * scale.factor for side in (left, right, top, bottom))
    return _Paper(scale.factor, *sides)


# --- the part itself --------------------------------------------------------------------


def _draw_section(pen: Pen, paper: _Paper, whole: AssembledPart) -> None:
    """Every piece's cut faces, hatched, neighbours the other way; edges and holes beyond."""
    drawn = zip(whole.pieces, whole.sections, whole.hatchings, strict=True)
    for piece, loops, hatching in drawn:
        draw_cut_face(pen, paper.placing, loops, hatching, mark=piece.name)
    if whole.survey is None:
        return
    for bore in whole.survey.bores:
        edges = edges_beyond(whole.sections, whole.plane.across(*bore.offset))
        pen.segments("fine", paper.placing.all_at(edges))
    for hole in whole.survey.side_holes:
        _draw_hole(pen, paper, whole, hole)


def _draw_hole(pen: Pen, paper: _Paper, whole: AssembledPart, hole: SideHole) -> None:
    """A hole's centre line where the plane shows it, else its rim beyond or before the plane."""
    survey, plane = whole.survey, whole.plane
    assert survey is not None
    place = hole_middle(survey, hole)
    across = plane.across(*place)
    if is_shown(survey, hole, plane):
        inner = plane.across(*survey.bores[hole.bore].offset)
        outward = math.copysign(2.0, across - inner)
        (start, y), (stop, _) = (
            paper.placing.at(inner, hole.station),
            paper.placing.at(across, hole.station),
        )
        pen.line("axis", (start - outward, y), (stop + outward, y))
        return
    seen = abs(math.sin(hole_angle(survey, hole) - plane.angle))
    angles = np.linspace(0.0, 2.0 * math.pi, 49)[:-1]
    wide, high = seen * hole.across_width / 2.0, hole.axial_width / 2.0
    rim = np.column_stack([across + wide * np.cos(angles), hole.station + high * np.sin(angles)])
    line: Line = "narrow" if plane.beyond(*place) > 0.0 else "phantom"
    pen.outlines(line, [paper.placing.all_at(rim)])


def _draw_axes(pen: Pen, paper: _Paper, whole: AssembledPart) -> None:
    """The centre lines of the bores, or of the solid part; of an unknown shape none."""
    if whole.survey is None:
        return
    offsets = [bore.offset for bore in whole.survey.bores]
    for across in sorted({round(whole.plane.across(*offset), 2) for offset in offsets} or {0.0}):
        x = across * paper.factor
        pen.line("axis", (x, paper.bottom + 3.0), (x, paper.top - 3.0))


# --- stations, to the right -------------------------------------------------------------


def _notes(part: PartRecord, heights: list[_Height]) -> tuple[list[StationNote], int]:
    """What stands at the stations, and how many notes are left to the tables."""
    told = [StationNote((h.low + h.high) / 2.0, h.text, has_value=False) for h in heights]
    found = station_notes(part.outcome) if isinstance(part.outcome, Outcome) else []
    notes = sorted([*found, *told], key=lambda note: note.station)
    return few_enough(notes, _MOST_NOTES)


def _draw_stations(pen: Pen, paper: _Paper, notes: list[StationNote]) -> list[float]:
    """Running dimensions from the low end up; the base lines of their rows.

    Values are spread where they would meet, each tied to its arrow.
    """
    if not notes:
        return [paper.bottom]
    valued = [note.station for note in notes if note.has_value]
    line = paper.right + _STATION_LINE
    lowered = HALF_CAPITAL
    wanted = [note.station * paper.factor - lowered for note in notes]
    least, most = -paper.bottom, max(-paper.top, -paper.bottom + ROW * (len(notes) - 1))
    rows = [-row for row in spread_within(wanted, [ROW] * len(notes), least - lowered, most)]
    widths = [text_width(told_length(station), TEXT_SIZE) for station in valued]
    column = max(widths, default=-2.0)
    text = line + _ELBOW + 0.8
    for note, row in zip(notes, rows, strict=True):
        y = -note.station * paper.factor
        _draw_note(pen, paper, note, (line, y), (text, row), column)
    if valued:
        pen.circle("narrow", (line, 0.0), 0.9)
        pen.line("narrow", (line, -0.9), (line, -valued[-1] * paper.factor))
        pen.line("narrow", (paper.right + GAP, 0.0), (line - 0.9, 0.0))
    return rows


def _draw_note(
    pen: Pen, paper: _Paper, note: StationNote, tip: Point, text: Point, column: float
) -> None:
    """One row: its extension line, arrow, value and words."""
    line, y = tip
    elbow = line + _ELBOW, text[1] - HALF_CAPITAL
    pen.polylines("narrow", [[(paper.right + GAP, y), (line + 1.0, y), elbow]])
    if note.has_value:
        told = told_length(note.station)
        arrow(pen, tip, (0.0, -1.0))
        pen.dimensions.append(DimensionLine((line, 0.0), tip, told, paper.factor))
        pen.text(told, (text[0] + column, text[1]), "end")
    else:
        arrow(pen, (paper.right + GAP, y), (-1.0, 0.0))
    room = PAPER[0] - 70.0
    pen.text(shortened(note.note, TEXT_SIZE, room), (text[0] + column + 2.0, text[1]))


# --- pieces, to the left ----------------------------------------------------------------


def _draw_balloons(pen: Pen, paper: _Paper, whole: AssembledPart) -> list[float]:
    """Each piece's number in a circle, with a line to a dot in what is cut of it.

    Of more than a page holds every second one is told, or every third, and so on.
    """
    every = math.ceil(len(whole.sections) / _MOST_BALLOONS)
    told = range(0, len(whole.sections), every)
    dots = {k: _dot_in(whole.sections[k]) for k in told}
    order = sorted(told, key=lambda k: dots[k][1])
    wanted = [dots[k][1] * paper.factor for k in order]
    pitches = [_BALLOON_PITCH] * len(order)
    most = max(-paper.top, -paper.bottom + _BALLOON_PITCH * (len(order) - 1))
    heights = spread_within(wanted, pitches, -paper.bottom, most)
    x = paper.left - 7.0
    for k, height in zip(order, heights, strict=True):
        draw_balloon(pen, (x, -height), str(k + 1), paper.placing.at(*dots[k]))
    return [-height for height in heights]


def _dot_in(loops: Loops) -> Point:
    """A place well within what is cut, on its left, near its middle height."""
    stations = np.concatenate([loop[:, 1] for loop in loops])
    low, high = float(stations.min()), float(stations.max())
    for share in (0.53, 0.47, 0.42, 0.58, 0.35, 0.65):
        station = low + share * (high - low)
        spans = spans_at(loops, station, (-math.inf, math.inf))
        if spans:
            return (spans[0][0] + spans[0][1]) / 2.0, station
    return float(loops[0][:, 0].mean()), (low + high) / 2.0


def _heights(
    part: PartRecord, whole: AssembledPart, record: JobRecord, scale: Scale
) -> tuple[list[_Height], list[_Height]]:
    """Those whose value finds room at its line, and those that are told as notes.

    Of a part passed on the caption tells the envelope's height.
    """
    of = f" of {told_length(round(record.settings.room[2], 2))}" if whole.survey else ""
    fitting, left_over = [], []
    leaning = isinstance(part.outcome, Outcome) and part.outcome.plan.lean is not None
    for number, mesh in enumerate(() if leaning else whole.meshes, 1):
        low, high = float(mesh.vertices[:, 2].min()), float(mesh.vertices[:, 2].max())
        told, room = told_length(high - low), (high - low) * scale.factor
        texts = [text for text in (f"{told}{of}", told) if upright_room(text) <= room]
        if texts:
            fitting.append(_Height(low, high, texts[0]))
        else:
            left_over.append(_Height(low, high, f"piece {number}: {told}{of} high"))
    return fitting, left_over


def _draw_heights(pen: Pen, paper: _Paper, whole: AssembledPart, heights: list[_Height]) -> None:
    """Dimension lines of the pieces, side by side where they overlap, and of the whole."""
    columns = columns_of([(height.low, height.high) for height in heights], 0.01)
    first = paper.left - 7.0 - BALLOON - 3.0
    ends: list[Point] = []
    for height, column in zip(heights, columns, strict=True):
        x = first - column * LINE_ROW
        low, high = -height.low * paper.factor, -height.high * paper.factor
        upright_dimension(pen, x, low, high, height.text, paper.factor)
        ends += [(x, low), (x, high)]
    length = whole.survey.length if whole.survey is not None else 0.0
    told = told_length(length)
    if upright_room(told) <= length * paper.factor:
        x = first - (1 + max(columns, default=-1)) * LINE_ROW
        upright_dimension(pen, x, 0.0, -length * paper.factor, told, paper.factor)
        ends += [(x, 0.0), (x, -length * paper.factor)]
    for x, y in ends:
        pen.broken_line("narrow", (paper.left - GAP, y), (x - BEYOND, y))


# --- diameters, under and over ----------------------------------------------------------


def _draw_diameters(
    pen: Pen, paper: _Paper, whole: AssembledPart, top: float, bottom: float
) -> float:
    """Bores and outside at the low end, and where they differ at the high end.

    Returns
    -------
    how far to the right those at the low end reach, mm on paper
    """
    reached = paper.right
    low, high = _sizes_below_and_above(whole)
    for count, (left, right, text) in enumerate(low):
        y = bottom + 3.0 + TEXT_LIFT + ASCENT * TEXT_SIZE + count * LINE_ROW
        ended = _draw_diameter(pen, paper, (left, right), y, (paper.bottom, 1.0), text)
        reached = max(reached, ended)
    if [text for *_, text in low] != [text for *_, text in high]:
        for count, (left, right, text) in enumerate(high):
            y = top - 3.0 - count * LINE_ROW
            _draw_diameter(pen, paper, (left, right), y, (paper.top, -1.0), text)
    return reached


def _sizes_below_and_above(whole: AssembledPart) -> tuple[list[_Size], list[_Size]]:
    """What is told at the low and at the high end; the width where nothing there is round."""
    survey = whole.survey
    low, high = whole.extent
    wide = (float(low[0]), float(high[0]), told_length(float(high[0] - low[0])))
    if survey is None:
        return [wide], [wide]
    at_low, at_high = _end_sizes(whole, 0.0), _end_sizes(whole, survey.length)
    return (at_low, at_high) if survey.outsides else ([*at_low, wide], [*at_high, wide])


def _end_sizes(whole: AssembledPart, station: float) -> list[_Size]:
    """The round surfaces that reach a station, the narrowest first."""
    survey, plane = whole.survey, whole.plane
    assert survey is not None
    reaching = [
        surface
        for surface in (*survey.bores, *survey.outsides)
        if surface.start - 0.05 <= station <= surface.stop + 0.05
        and abs(plane.beyond(*surface.offset)) < _IN_PLANE
    ]
    sizes = (_ends(surface, plane, station) for surface in reaching)
    return sorted(sizes, key=lambda size: size[1] - size[0])


def _ends(surface: RoundSurface, plane: Plane, station: float) -> _Size:
    middle, radius = plane.across(*surface.offset), surface.radius_at(station)
    return middle - radius, middle + radius, f"Ø{told_length(2.0 * radius)}"


def _draw_diameter(
    pen: Pen,
    paper: _Paper,
    ends: tuple[float, float],
    y: float,
    side: tuple[float, float],
    text: str,
) -> float:
    edge, outward = side
    left, right = ends[0] * paper.factor, ends[1] * paper.factor
    reached = level_dimension(pen, left, right, y, text, paper.factor, paper.right)
    for x in (left, right):
        pen.broken_line("narrow", (x, edge + outward * GAP), (x, y + outward * BEYOND))
    return reached


# --- where the plane lies, seen from above ----------------------------------------------


def _draw_view(pen: Pen, paper: _Paper, whole: AssembledPart, corner: Point) -> None:
    """A section across, seen from the high end, with the plane of the large one as A to A.

    Parameters
    ----------
    corner : mm on paper, left of and over all of it
    """
    if whole.survey is None:
        return
    loops = section_across(whole.meshes[0], _telling_station(whole))
    reach = float(np.hypot(*np.concatenate(loops).T).max())
    scale = fitting_scale((2.0 * reach, 2.0 * reach), _VIEW_ROOM)
    factor = min(scale.factor, paper.factor)
    middle = corner[0] + reach * factor + 6.0, corner[1] + reach * factor + 6.0
    draw_cut_face(pen, Placing(factor, middle), loops, whole.hatchings[0])
    mark_upright_plane(pen, "A", whole.plane, factor, middle, reach * factor)
    if factor < paper.factor:
        under = middle[0], middle[1] + reach * factor + 6.0 + 2.0 * TEXT_SIZE
        pen.text(scale.told, under, "middle")


def _telling_station(whole: AssembledPart) -> float:
    """A station of the lowest piece: of the first hole in the plane, or its middle."""
    survey = whole.survey
    assert survey is not None
    top = min(float(mesh.vertices[:, 2].max()) for mesh in whole.meshes)
    shown = [h.station for h in survey.side_holes if is_shown(survey, h, whole.plane)]
    low = [station for station in shown if station < top]
    return low[0] if low else top / 2.0


# --- what stands under it ---------------------------------------------------------------


def _told(
    part: PartRecord, record: JobRecord, whole: AssembledPart, scale: Scale, untold: int
) -> Iterator[str]:
    """What is drawn, to which scale, in which plane, and what found no room."""
    at = f"scale {scale.told}, lengths in mm"
    if not isinstance(part.outcome, Outcome):
        yield f"{part.outcome.name} as it stands on the bed, cut through its middle, {at}"
        high, most = float(part.outcome.piece.size[2]), record.settings.envelope[2]
        yield f"{told_length(high)} of {told_length(most)} high"
        return
    yield f"{part.outcome.name}, {_SECTION}, {at}, stations from the low end"
    yield f"the right side of A-A is at {told_angle(whole.plane.angle)}"
    if part.outcome.plan.lean is not None:
        yield f"printed in one piece, leaning {told_angle(part.outcome.plan.lean.tilt)}"
    if untold:
        yield f"{untold} more notes find no room: see the tables"
