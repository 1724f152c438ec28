"""Hidden lines against closed forms, and the pieces apart read back from their SVG."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from borewright.core.sheet.exploded import exploded_drawing
from borewright.core.sheet.hidden_lines import Eye, visible_edges
from borewright.core.sheet.polylines import joined, simplified
from borewright.core.values import Mesh, Settings
from numpy.typing import NDArray

from tests.drawn import assert_sound, root_of, texts_of
from tests.drawn_jobs import SETTINGS, own_job, shared_job
from tests.recorded import recorded_job

FloatArray = NDArray[np.float64]

ISOMETRIC = Eye(math.radians(45.0), math.asin(1.0 / math.sqrt(3.0)))


def as_mesh(solid: trimesh.Trimesh) -> Mesh:
    return Mesh(np.asarray(solid.vertices), np.asarray(solid.faces))


def lengths(runs: FloatArray) -> FloatArray:
    found: FloatArray = np.hypot(*(runs[:, 1] - runs[:, 0]).T)
    return found


def test_a_cube_shows_nine_edges_all_shortened_alike() -> None:
    """Isometric projection: every edge at sqrt(2/3) of its length, three edges hidden."""
    runs = visible_edges(as_mesh(trimesh.creation.box((10.0, 10.0, 10.0))), ISOMETRIC, 0.02)
    shown = lengths(runs)
    whole = shown[shown > 1.0]
    assert len(whole) == 9
    assert whole == pytest.approx(np.full(9, 10.0 * math.sqrt(2.0 / 3.0)), abs=0.1)
    assert shown.sum() - whole.sum() < 0.3


def test_a_cylinder_shows_one_rim_half_of_the_other_and_two_sides() -> None:
    """Rims are ellipses of axes R and R sin(elevation); Ramanujan (1914) for their length."""
    radius, height, eye = 10.0, 60.0, Eye(0.3, ISOMETRIC.elevation)
    solid = trimesh.creation.cylinder(radius=radius, height=height, sections=240)
    total = lengths(visible_edges(as_mesh(solid), eye, 0.02)).sum()
    a, b = radius, radius * math.sin(eye.elevation)
    h = ((a - b) / (a + b)) ** 2
    rim = math.pi * (a + b) * (1.0 + 3.0 * h / (10.0 + math.sqrt(4.0 - 3.0 * h)))
    assert total == pytest.approx(1.5 * rim + 2.0 * height * math.cos(eye.elevation), rel=0.01)


def test_what_lies_behind_is_hidden_and_what_lies_before_is_not() -> None:
    large = trimesh.creation.box((10.0, 40.0, 40.0))
    for x, count in ((-20.0, 9), (20.0, 18)):
        small = trimesh.creation.box((4.0, 4.0, 4.0))
        small.apply_translation((x, 0.0, 0.0))
        both = as_mesh(trimesh.util.concatenate([large, small]))
        shown = lengths(visible_edges(both, Eye(0.2, 0.2), 0.02))
        assert (shown > 0.5).sum() == count


def test_runs_join_to_lines_and_rings() -> None:
    corners = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    ring = np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)
    (line,) = joined(ring[[2, 0, 3, 1]], 0.01)
    assert len(line) == 5
    assert line[0] == pytest.approx(line[-1])
    (bent,) = joined(ring[[1, 0]], 0.01)
    assert {tuple(bent[0]), tuple(bent[-1])} == {(0.0, 0.0), (1.0, 1.0)}


def test_a_simplified_line_keeps_within_its_tolerance() -> None:
    angles = np.linspace(0.0, math.pi, 400)
    arc = 10.0 * np.column_stack([np.cos(angles), np.sin(angles)])
    few = simplified(arc, 0.05)
    assert len(few) < 40
    middles = np.hypot(*((few[1:] + few[:-1]) / 2.0).T)
    assert middles.min() > 10.0 - 0.051
    assert few[0] == pytest.approx(arc[0])
    assert few[-1] == pytest.approx(arc[-1])


@pytest.mark.parametrize("name", sorted(SETTINGS))
def test_drawings_of_own_pieces_apart_are_sound(name: str) -> None:
    record = own_job(name)
    drawing = exploded_drawing(record.parts[0], record)
    assert_sound(drawing)
    numbers = [text for text in texts_of(drawing) if text.isdigit()]
    assert numbers == [str(k) for k in range(1, len(record.parts[0].pieces) + 1)]
    assert len(drawing.svg) < 300_000


@pytest.mark.parametrize("name", ["double", "newel", "sunshade", "fife-noisy"])
def test_drawings_of_shared_pieces_apart_are_sound(name: str) -> None:
    record = shared_job(name)
    drawing = exploded_drawing(record.parts[0], record)
    assert_sound(drawing)
    assert len(drawing.svg) < 300_000


def test_a_part_with_far_too_many_edges_stays_small() -> None:
    """A ball whose skin is all folds: each of its 82 thousand faces has another slope."""
    ball = trimesh.creation.icosphere(subdivisions=6, radius=30.0)
    rng = np.random.default_rng(3)
    rough = ball.vertices * rng.uniform(0.97, 1.0, (len(ball.vertices), 1))
    mesh = Mesh(rough, np.asarray(ball.faces))
    record = recorded_job({"ball": mesh}, Settings((100.0, 100.0, 100.0)))
    drawing = exploded_drawing(record.parts[0], record)
    assert_sound(drawing)
    assert len(drawing.svg) < 300_000
    assert root_of(drawing).tag.endswith("svg")
