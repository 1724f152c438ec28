"""The drawing of a whole part, read back from its SVG, against what was built."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from borewright.core.sheet.assembled import telling_plane
from borewright.core.sheet.drawing import part_drawing
from borewright.core.sheet.part_notes import StationNote, few_enough
from borewright.core.sheet.scales import SCALES, Scale, fitting_scale
from borewright.core.sheet.svg import printable
from borewright.core.values import Settings

from tests.drawn import area_of, assert_sound, loops_of, root_of, texts_of
from tests.drawn_jobs import ODD, SETTINGS, all_drawings, as_mesh, own_job, shared_job
from tests.parts import Hole, tube
from tests.recorded import recorded_job


@pytest.mark.parametrize("name", sorted(SETTINGS))
def test_drawings_of_own_parts_are_sound(name: str) -> None:
    assert_sound(part_drawing(own_job(name).parts[0], own_job(name)))


@pytest.mark.parametrize("name", ["fife", "double", "newel", "sunshade", "chanter", "turned"])
def test_drawings_of_shared_parts_are_sound(name: str) -> None:
    record = shared_job(name)
    assert_sound(part_drawing(record.parts[0], record))


@pytest.mark.parametrize("seed", range(8))
def test_drawings_of_random_parts_are_sound(seed: int) -> None:
    rng = np.random.default_rng(seed)
    length, bore = rng.uniform(120.0, 700.0), rng.uniform(8.0, 40.0)
    outside = bore + rng.uniform(6.5, 14.0)
    stations = np.sort(rng.uniform(20.0, length - 20.0, int(rng.integers(0, 7))))
    holes = [
        Hole(float(z), float(rng.uniform(-180.0, 180.0)), float(rng.uniform(2.0, bore / 2.0)))
        for z in stations[np.diff(stations, prepend=-99.0) > bore]
    ]
    part = tube(length=float(length), bore=float(bore), outside=float(outside), holes=holes)
    record = recorded_job({"pipe": as_mesh(part)}, Settings((200.0, 200.0, 210.0)))
    for drawing in all_drawings(record):
        assert_sound(drawing)


@pytest.mark.parametrize("seed", range(6))
def test_drawings_of_random_parts_with_random_joints_are_sound(seed: int) -> None:
    """Tapers, rings and walls of all widths, every kind of joint, names of all lengths."""
    rng = np.random.default_rng(100 + seed)
    kind: Any = ["tenon", "collar", "sleeve", "oring", "lapped", "pins"][seed]
    bore = 6.0 if kind == "pins" else float(rng.uniform(14.0, 60.0))
    outside = bore + (float(rng.uniform(60.0, 90.0)) if kind == "pins" else 14.0)
    length = float(rng.uniform(220.0, 500.0))
    outer = outside if kind in {"collar", "pins"} else (outside, outside - 2.0)
    part = tube(length=length, bore=bore, outside=outer)
    settings = Settings((200.0, 200.0, 160.0), joint=kind, clearance=0.2)
    record = recorded_job({"x" * int(rng.integers(1, 60)): as_mesh(part)}, settings)
    assert len(record.parts[0].pieces) > 1
    for drawing in all_drawings(record):
        assert_sound(drawing)


def test_a_part_whose_rows_take_too_much_of_a_page_is_drawn_smaller() -> None:
    """At 1:1 it would fit by itself, but not with its sizes at both ends and the view across."""
    part = tube(length=180.0, bore=(49.0, 42.0), outside=61.4)
    record = recorded_job({"pipe": as_mesh(part)}, Settings((200.0, 200.0, 210.0)))
    drawing = part_drawing(record.parts[0], record)
    assert_sound(drawing)
    assert drawing.factor == 0.5


def test_the_section_of_a_plain_tube_has_the_area_of_its_two_walls() -> None:
    """Facets lie at most 0.005 mm inside: two walls of 1.5 x 100, at the scale squared."""
    record = own_job("whole")
    drawing = part_drawing(record.parts[0], record)
    assert drawing.factor is not None
    area = area_of(loops_of(drawing, "whole-01")) / drawing.factor**2
    assert area == pytest.approx(
        2.0 * 1.5 * 100.0, abs=4.0 * 100.0 * (0.005 + 0.005 / drawing.factor)
    )


def test_the_sections_of_a_cut_bar_add_up_to_it_less_its_gaps() -> None:
    record = own_job("bar")
    drawing = part_drawing(record.parts[0], record)
    assert drawing.factor is not None
    names = [piece.name for piece in record.parts[0].pieces]
    areas = [area_of(loops_of(drawing, name)) / drawing.factor**2 for name in names]
    joints = len(names) - 1
    assert 38.0 * 420.0 - joints * 30.0 < sum(areas) < 38.0 * 420.0


def test_a_part_is_drawn_with_all_that_is_found_on_it() -> None:
    record = own_job("flute")
    drawing = part_drawing(record.parts[0], record)
    texts = texts_of(drawing)
    assert {"96", "147", "221", "352", "Ø14.2", "Ø21.4", "1", "2", "seam 1, tenon"} <= set(texts)
    assert {"hole 1, Ø7, 0°", "hole 2, Ø7, 0°", "hole 3, Ø7, 0°"} <= set(texts)
    assert "scale 1:2" in drawing.caption


def test_a_part_passed_on_is_told_with_its_height_against_the_envelope() -> None:
    """A ring of 50 to 85 mm radius, 20 high: two faces of 35 x 20 are cut, and no axis is known."""
    record = own_job(ODD)
    drawing = part_drawing(record.parts[0], record)
    assert drawing.caption.endswith("; 20 of 180 high")
    assert drawing.factor is not None
    mark = printable(record.parts[0].pieces[0].name)
    area = area_of(loops_of(drawing, mark)) / drawing.factor**2
    assert area == pytest.approx(2.0 * 35.0 * 20.0, rel=0.01)
    paths = root_of(drawing).iter("{http://www.w3.org/2000/svg}path")
    assert not [path for path in paths if path.get("class") == "axis"]


def test_holes_without_room_are_counted() -> None:
    record = own_job("crowded")
    outcome: Any = record.parts[0].outcome
    drawing = part_drawing(record.parts[0], record)
    shown = sum(text.startswith("hole ") for text in texts_of(drawing))
    assert shown < len(outcome.survey.side_holes)
    untold = len(outcome.survey.side_holes) - shown
    assert drawing.caption.endswith(f"; {untold} more notes find no room: see the tables")


def test_of_too_many_notes_heights_go_first_then_holes_from_the_high_end() -> None:
    notes = [
        StationNote(10.0, "seam 1, tenon"),
        StationNote(20.0, "hole 1", is_hole=True),
        StationNote(30.0, "piece 1: 20 of 180 high", has_value=False),
        StationNote(40.0, "hole 2", is_hole=True),
        StationNote(50.0, "high end"),
    ]
    told = [[note.station for note in few_enough(notes, most)[0]] for most in (5, 4, 3, 2)]
    assert told == [
        [10.0, 20.0, 30.0, 40.0, 50.0], [10.0, 20.0, 40.0, 50.0], [10.0, 20.0, 50.0], [10.0, 50.0],
    ]  # fmt: skip
    assert [few_enough(notes, most)[1] for most in (9, 3)] == [0, 2]


def test_a_two_bored_part_is_cut_along_its_holes() -> None:
    """Body 19.5 over a bore of 11 at that plane: two walls of 4.25 x 300, less three holes."""
    record = shared_job("double")
    outcome: Any = record.parts[0].outcome
    assert abs(math.cos(telling_plane(outcome).angle)) < 0.02
    drawing = part_drawing(record.parts[0], record)
    assert drawing.factor is not None
    names = [piece.name for piece in record.parts[0].pieces]
    area = sum(area_of(loops_of(drawing, name)) for name in names) / drawing.factor**2
    assert area == pytest.approx(4.25 * (600.0 - 6.0 - 6.5 - 6.5), abs=12.0)


def test_only_holes_aside_of_the_plane_are_drawn_as_rims() -> None:
    """Of six holes four lie in the plane at 0 and 180 degrees, two at 20 and 90."""
    record = own_job("five")
    paths = root_of(part_drawing(record.parts[0], record)).iter("{http://www.w3.org/2000/svg}path")
    rims = [
        path.attrib["d"]
        for path in paths
        if path.get("class") in {"narrow", "phantom"} and path.attrib["d"].endswith("Z")
    ]
    assert len(rims) == 2


def test_a_hole_in_the_plane_parts_the_wall_by_its_width() -> None:
    record = own_job("flute")
    drawing = part_drawing(record.parts[0], record)
    assert drawing.factor is not None
    lower = record.parts[0].pieces[0]
    loops = loops_of(drawing, lower.name)
    edges = np.concatenate(loops)[:, 1] / -drawing.factor
    for edge in (96.0 - 3.5, 96.0 + 3.5):
        assert np.abs(edges - edge).min() < 0.02


def test_scales_are_those_of_the_standard() -> None:
    """ISO 5455, table 1, from memory."""
    told = [scale.told for scale in SCALES]
    assert told[:9] == ["50:1", "20:1", "10:1", "5:1", "2:1", "1:1", "1:2", "1:5", "1:10"]
    assert {"1:20", "1:50", "1:100", "1:200", "1:500", "1:1000"} <= set(told)
    assert fitting_scale((352.0, 21.4), (180.0, 60.0)) == Scale(1, 2)
    assert fitting_scale((361.0, 21.4), (180.0, 60.0)) == Scale(1, 5)
    assert math.isclose(Scale(5, 1).factor, 5.0)
