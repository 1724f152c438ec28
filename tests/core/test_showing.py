"""What is drawn of a part: lines that lie where they should, words that do not overlap."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from borewright.core.errors import BadSetting
from borewright.core.jointing.split import build_pieces
from borewright.core.showing.drawing import DASHES, Drawing, Line, dashed
from borewright.core.showing.drawn_part import PartView, Shown, draw_part, view_part
from borewright.core.showing.label_places import Words, place_words, seen_part
from borewright.core.showing.rings import hole_outlines, section_rings
from borewright.core.showing.section_view import (
    CutFace,
    cut_face,
    cut_pieces,
    face_lines,
    hatching,
)
from borewright.core.stages import KnownPart, know_part, mend_parts, plan_known
from borewright.core.values import CHORD_TOLERANCE, FloatArray, Mesh, Plan, Settings

from tests.families.odd_outside import oval_tube, two_bores
from tests.families.truth import Part
from tests.parts import plain_tube, ringed_pipe, turned_pose

SETTINGS = Settings(envelope=(180.0, 180.0, 100.0))
SCALE = 0.4
"""Of the drawings here, mm a pixel."""


def known(mesh: Mesh, settings: Settings = SETTINGS) -> KnownPart:
    (sound,) = mend_parts(mesh, "part", lambda _: settings, 1.0)
    return know_part(sound, settings, lambda _: None)


@cache
def planned_pipe() -> tuple[KnownPart, Plan]:
    """Of `ringed_pipe`: rings and a block outside, side holes."""
    pose = turned_pose((1.0, 2.0, 3.0), 50.0, (12.0, -40.0, 75.0))
    part = known(as_mesh(ringed_pipe(pose=pose).mesh))
    return part, plan_known(part, SETTINGS).plan


def as_mesh(mesh: object) -> Mesh:
    return Mesh(mesh.vertices, mesh.faces)  # type: ignore[attr-defined]


def of_family(part: Part) -> Mesh:
    return Mesh(part.vertices, part.triangles)


@cache
def pipe_view() -> PartView:
    part, plan = planned_pipe()
    return view_part(part, plan, SETTINGS)


def drawn(shown: Shown | None = None) -> Drawing:
    return draw_part(pipe_view(), shown or Shown(), SCALE)


def texts(drawing: Drawing) -> list[str]:
    return [label.template.format(**label.values) for label in drawing.labels]


def closed(line: tuple[FloatArray, FloatArray]) -> bool:
    """Every point is as often a start as an end."""
    starts, ends = (sorted(map(tuple, points.tolist())) for points in line)
    return starts == ends


def test_rings_are_the_outside_at_their_stations() -> None:
    part = of_family(oval_tube())
    low, high = part.vertices[:, 2].min(), part.vertices[:, 2].max()
    stations = [low + share * (high - low) for share in (0.71, 0.21, 0.21)]
    rings = section_rings(part, stations)
    section = [part.vertices[:, :2]]
    for (starts, ends), station in zip(rings, stations, strict=True):
        assert closed((starts, ends))
        assert (starts[:, 2] == station).all()
        assert (starts[1:] == ends[:-1]).all()
        reach = np.hypot(*starts[:, :2].T)
        assert reach.max() == pytest.approx(np.hypot(*section[0].T).max(), rel=1e-3)
        area = float((starts[:, 0] * ends[:, 1] - starts[:, 1] * ends[:, 0]).sum()) / 2.0
        assert area > math.pi * 7.0**2, "the outside, not the bore"


def test_outlines_of_holes_lie_on_the_round_outside_and_close() -> None:
    part, _ = planned_pipe()
    starts, ends = hole_outlines(part.trued)
    assert closed((starts, ends))
    exact = part.exact
    radius = np.hypot(starts[:, 0], starts[:, 1])
    due = [np.abs(radius - surface.radii_at(starts[:, 2])) for surface in exact.outsides]
    assert np.min(due, axis=0).max() < 1e-3
    near = np.array([[hole.low, hole.high] for hole in exact.side_holes])
    inside = (near[:, 0] - 1e-3 <= starts[:, 2, None]) & (starts[:, 2, None] <= near[:, 1] + 1e-3)
    assert inside.any(axis=1).all()
    assert inside.any(axis=0).all()


def test_a_part_without_holes_has_no_outlines() -> None:
    part = known(as_mesh(plain_tube().mesh))
    assert len(hole_outlines(part.trued)[0]) == 0


def test_stretches_tile_the_part_and_tell_their_state_by_style() -> None:
    stretches = pipe_view().stations.stretches
    beside = [line for line in drawn(Shown(holes=False)).lines if line.layer == "beside"]
    upright = [
        line for line in beside
        if len(line.starts) == 1 and line.starts[0, 0] == line.ends[0, 0] < 0.0
    ]  # fmt: skip
    spans = sorted((line.starts[0, 2], line.ends[0, 2], line.style) for line in upright)
    assert spans[0][0] == 0.0
    assert spans[-1][1] == pytest.approx(planned_pipe()[0].exact.length)
    assert all(one[1] == other[0] for one, other in pairwise(spans))
    wide = [stretch for stretch in stretches if stretch.low < stretch.high]
    due = ["solid" if s.cuts else "dashed" if s.is_open else "dotted" for s in wide]
    assert [style for _, _, style in spans] == due
    assert len(set(due)) > 1


def test_seams_lie_on_a_stretch_that_is_free_for_them() -> None:
    view = pipe_view()
    assert view.joints
    for number, joint in enumerate(view.joints):
        assert any(
            stretch.low - 1e-6 <= joint.station <= stretch.high + 1e-6 and number in stretch.cuts
            for stretch in view.stations.stretches
        )


def test_words_tell_each_pieces_height_of_the_envelopes() -> None:
    view = pipe_view()
    part, plan = planned_pipe()
    pieces = build_pieces(part.exact, part.trued, plan, SETTINGS, "part")
    for piece in pieces:
        height = np.ptp(piece.mesh.vertices[:, 2])
        assert f"{piece.name}: {height:.1f} of 100 mm" in texts(drawn())
    assert len(view.heights) == len(pieces)


def test_heights_count_the_shrink_of_the_print() -> None:
    part, _ = planned_pipe()
    shrunk = replace(
        SETTINGS, compensation=replace(SETTINGS.compensation, shrink_percent=1.0),
        envelope=(180.0, 180.0, 200.0),
    )  # fmt: skip
    view = view_part(part, plan_known(part, shrunk).plan, shrunk)
    low, high = view.heights[0]
    assert any(f": {(high - low) / 0.99:.1f} of 200 mm" in text
               for text in texts(draw_part(view, Shown(), SCALE)))  # fmt: skip


def test_a_part_without_a_plan_is_too_tall_and_shows_where_seams_may_lie() -> None:
    part, _ = planned_pipe()
    drawing = draw_part(view_part(part, None, SETTINGS), Shown(), SCALE)
    (whole,) = [label for label in drawing.labels if label.template.startswith("whole")]
    assert whole.tone == "alert"
    assert any(line.style == "dashed" and line.layer == "beside" for line in drawing.lines)
    assert not any(line.tone == "seam" and len(line.starts) for line in drawing.lines)


def test_of_a_part_that_cannot_have_the_joint_the_axis_and_height_are_drawn() -> None:
    """A collar around two bores: the plan is refused, and with it the map of stations."""
    settings = replace(SETTINGS, joint="collar")
    part = known(of_family(two_bores()), settings)
    with pytest.raises(BadSetting):
        plan_known(part, settings)
    drawing = draw_part(view_part(part, None, settings), Shown(), SCALE)
    assert drawing.lines[0].style == "chain"
    assert any(text.startswith("whole part") for text in texts(drawing))
    assert not any(text.startswith("free") for text in texts(drawing))


def test_what_stands_beside_a_part_is_clear_of_its_collars() -> None:
    settings = replace(SETTINGS, joint="collar", envelope=(180.0, 180.0, 180.0))
    part = known(as_mesh(plain_tube().mesh), settings)
    plan = plan_known(part, settings).plan
    pieces = build_pieces(part.exact, part.trued, plan, settings, "part")
    faces = cut_pieces(pieces, part.exact.frame, 0.4)
    assert [face.role for face in faces] == ["piece", "collar", "piece"]
    reach = max(float(np.abs(face.starts[:, 0]).max()) for face in faces)
    radius = view_part(part, plan, settings).radius
    assert radius == pytest.approx(reach, abs=CHORD_TOLERANCE), "its facets lie about its circle"


def test_toggles_leave_out_what_they_name() -> None:
    everything = texts(drawn())
    assert any(text.startswith("hole 1 at") for text in everything)
    assert any(text.startswith("no seam") for text in everything)
    assert not any(text.startswith("hole") for text in texts(drawn(Shown(holes=False))))
    assert not any(text.startswith("no seam") for text in texts(drawn(Shown(stretches=False))))
    assert not any("mm" in text for text in texts(drawn(Shown(sizes=False))))


@pytest.mark.parametrize("angle", [0.0, 0.3, math.pi / 2.0])
def test_a_plain_tube_cut_open_is_two_rectangles(angle: float) -> None:
    """Area 2 (R - r) L, and of a facet's chord at most 1 - cos(pi / n) less on each radius."""
    radii = np.array([7.0, 10.0])
    length, count = 120.0, 96
    mesh = tube_of(radii, length, count)
    face = cut_face(mesh, angle)
    sagitta = 10.0 * (1.0 - math.cos(math.pi / count))
    assert closed((face.starts, face.ends))
    assert face.area == pytest.approx(2.0 * 3.0 * length, abs=4.0 * sagitta * length)
    turned = face.starts[:, 0] * face.ends[:, 1] - face.starts[:, 1] * face.ends[:, 0]
    assert -turned.sum() / 2.0 == pytest.approx(face.area), "the solid lies right of each"
    assert face.starts[:, 1].min() == 0.0
    assert face.starts[:, 1].max() == length


def tube_of(radii: FloatArray, length: float, count: int) -> Mesh:
    """A tube of facets, from circles at radius and height."""
    turns = np.arange(count) * 2.0 * math.pi / count
    circle = np.column_stack([np.cos(turns), np.sin(turns)])
    corners = [(radii[1], 0.0), (radii[1], length), (radii[0], length), (radii[0], 0.0)]
    vertices = np.concatenate(
        [np.column_stack([radius * circle, np.full(count, z)]) for radius, z in corners]
    )
    here = np.arange(count)
    ahead = (here + 1) % count
    triangles = []
    for k in range(4):
        low, high = k * count, (k + 1) % 4 * count
        triangles.append(np.column_stack([low + here, low + ahead, high + ahead]))
        triangles.append(np.column_stack([low + here, high + ahead, high + here]))
    return Mesh(vertices, np.concatenate(triangles))


def section_of_pipe(angle: float = 0.2) -> list[CutFace]:
    part, plan = planned_pipe()
    pieces = build_pieces(part.exact, part.trued, plan, SETTINGS, "part")
    return cut_pieces(pieces, part.exact.frame, angle)


def test_sections_of_pieces_are_closed_in_place_and_hatched_in_turn() -> None:
    _, plan = planned_pipe()
    faces = section_of_pipe()
    assert [face.rising for face in faces] == [k % 2 == 0 for k in range(len(faces))]
    for face in faces:
        assert closed((face.starts, face.ends))
        assert face.area > 0.0
    for joint, lower, upper in zip(plan.joints, faces, faces[1:], strict=False):
        assert lower.ends[:, 1].max() == pytest.approx(joint.highest, abs=1e-4)
        assert upper.ends[:, 1].min() == pytest.approx(joint.station, abs=1e-4)


def test_sections_of_pieces_are_that_of_the_part_less_the_gaps() -> None:
    """Two pieces leave between them a gap of clearance and roof, and what their nicks take."""
    part, plan = planned_pipe()
    whole = cut_face(part.trued.mesh, 0.2).area
    split = sum(face.area for face in section_of_pipe())
    lost = whole - split
    least = sum(2.0 * joint.radial_clearance * joint.tenon.parallel_length for joint in plan.joints)
    assert least < lost < 8.0 * least


@pytest.mark.parametrize("tilt", [math.pi / 4.0, 3.0 * math.pi / 4.0])
def test_hatching_fills_the_area_evenly(tilt: float) -> None:
    """Strokes times their spacing are the area, but for half a spacing along the border."""
    face = cut_face(tube_of(np.array([7.0, 10.0]), 120.0, 96), 0.1)
    spacing = 0.05
    strokes = hatching(face.starts, face.ends, tilt, spacing)
    lengths = np.linalg.norm(strokes[:, 1] - strokes[:, 0], axis=1)
    assert float(lengths.sum()) * spacing == pytest.approx(face.area, rel=2e-3)
    middles = np.abs(strokes.mean(axis=1)[:, 0])
    assert ((middles > 6.9) & (middles < 10.0)).all()
    along = strokes[:, 1] - strokes[:, 0]
    assert np.abs(along[:, 1] - math.tan(tilt) * along[:, 0]).max() < 1e-9


def test_a_face_is_drawn_in_its_plane() -> None:
    angle = 0.2
    for line in face_lines(section_of_pipe(angle)[0], angle, SCALE):
        off = -math.sin(angle) * line.starts[:, 0] + math.cos(angle) * line.starts[:, 1]
        assert np.abs(off).max() < 1e-9
        assert line.layer == "front"


@pytest.mark.parametrize("style", ["dashed", "dotted", "chain"])
def test_dashes_cover_their_share_of_a_line_and_run_on_around_corners(style: str) -> None:
    turns = np.linspace(0.0, 2.0 * math.pi, 2001)
    points = 50.0 * np.column_stack([np.cos(turns), np.sin(turns), np.zeros_like(turns)])
    line = Line(points[:-1], points[1:], style)  # type: ignore[arg-type]
    strokes = dashed(line, 0.1)
    pattern = 0.1 * np.array(DASHES[style])  # type: ignore[index]
    lengths = np.linalg.norm(strokes[:, 1] - strokes[:, 0], axis=1)
    share = pattern[::2].sum() / pattern.sum()
    assert float(lengths.sum()) == pytest.approx(share * 100.0 * math.pi, abs=pattern.sum())
    assert np.abs(np.hypot(*strokes[:, 0, :2].T) - 50.0).max() < 1e-3


def test_dashes_of_a_straight_line_are_where_the_pattern_says() -> None:
    line = Line(np.zeros((1, 3)), np.array([[30.0, 0.0, 0.0]]), "dashed")
    strokes = dashed(line, 1.0)
    assert strokes[:, :, 0].tolist() == [[0.0, 9.0], [14.0, 23.0], [28.0, 30.0]]


SCREEN = (0.0, 0.0, 200.0, 300.0)


def a_label(y: float, width: float = 60.0) -> Words:
    return Words((10.0, y), (10.0, y), width, 12.0, (0.0, -0.5))


def test_words_that_would_overlap_are_moved_apart_and_too_many_left_out() -> None:
    placed = place_words([a_label(100.0) for _ in range(30)], (0.0, 0.0, 400.0, 300.0))
    shown = [place for place in placed if place is not None]
    assert len(shown) == 1 + len(a_label(0.0).steps)
    assert not shown[0].moved
    heights = sorted(place.corner[1] for place in shown)
    assert min(b - a for a, b in pairwise(heights)) >= 12.0


def test_words_stay_on_the_screen_sideways() -> None:
    (right, left) = place_words(
        [replace(a_label(50.0), low=(190.0, 50.0), high=(190.0, 50.0)),
         replace(a_label(90.0), shift=(-1.0, -0.5))],
        SCREEN,
    )  # fmt: skip
    assert right is not None and left is not None
    assert (right.corner[0], left.corner[0]) == (140.0, 0.0)


def test_only_what_is_seen_of_a_stretch_counts() -> None:
    assert seen_part((50.0, -100.0), (50.0, 100.0), SCREEN) == ((50.0, 0.0), (50.0, 100.0))
    tall = Words((50.0, -100.0), (50.0, 100.0), 60.0, 12.0, (0.0, -0.5), room=99.0)
    (placed,) = place_words([tall], SCREEN)
    assert placed is not None and placed.anchor == (50.0, 50.0)
    assert place_words([replace(tall, room=101.0)], SCREEN) == [None]
    assert seen_part((-10.0, 5.0), (-5.0, 8.0), SCREEN) is None
    assert seen_part((5.0, 5.0), (5.0, 5.0), SCREEN) == ((5.0, 5.0), (5.0, 5.0))
