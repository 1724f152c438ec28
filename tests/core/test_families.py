"""The survey, and the whole job, on families of parts whose truth is a closed form."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from borewright.core.errors import NotTubular
from borewright.core.values import RoundSurface

from tests.families.checks import in_build_frame, is_closed, stray, volume, worst_facing
from tests.families.gallery import GALLERY, SIGMA, scanned
from tests.families.judged import Bounds, faults, read, turned_by
from tests.families.shapes import (
    Facets,
    Part,
    as_counted,
    bell,
    curved,
    odd_holes,
    placed,
    shuffled,
    stepped,
)
from tests.families.truth import FloatArray
from tests.parts import random_pose

ROUND_OUTSIDE = ("eccentric", "two diameters", "bell", "closed end", "odd holes", "keyway")


# The families are what they say


@pytest.mark.parametrize("name", GALLERY)
def test_a_family_is_closed_and_on_its_true_surfaces(name: str) -> None:
    part = GALLERY[name]()
    assert is_closed(part.triangles)
    assert volume(part) > 0.0
    assert stray(part) < 1e-8
    assert worst_facing(part) > 0.5


def test_openings_are_as_wide_as_told() -> None:
    """Rim edges of 0.3 mm on a rim of radius 3 mm or more lie at most 0.004 mm inside it."""
    part = odd_holes()
    points = in_build_frame(part)
    on_outside = np.unique(part.triangles[part.owner == 0])
    walls = np.unique(part.triangles[(part.owner != 0)])
    rim = points[np.intersect1d(on_outside, walls)]
    rim = rim[(rim[:, 2] > 1.0) & (rim[:, 2] < part.truth.length - 1.0)]
    for opening in part.truth.openings:
        angle = math.radians(opening.angle_deg)
        near = rim[np.abs(rim[:, 2] - opening.station) < 12.0]
        tangent = near[:, :2] @ [-math.sin(angle), math.cos(angle)]
        assert np.ptp(near[:, 2]) == pytest.approx(opening.axial, abs=0.01)
        assert np.ptp(tangent) == pytest.approx(opening.across, abs=0.01)


# Survey


@pytest.mark.parametrize("name", GALLERY)
def test_every_family_reads_as_it_was_built(name: str) -> None:
    rng = np.random.default_rng(sorted(GALLERY).index(name))
    part = placed(GALLERY[name](), random_pose(rng))
    assert faults(part, read(part)) == []


@pytest.mark.parametrize("name", ROUND_OUTSIDE)
@pytest.mark.parametrize("facets", [Facets(24), Facets(48, 2.0)], ids=["coarse", "grid"])
def test_round_families_read_the_same_in_other_facets(name: str, facets: Facets) -> None:
    """The wall is left out: with 24 sides it is up to 0.1 mm thinner than between circles."""
    part = GALLERY[name](facets=facets)
    assert faults(part, read(part), Bounds(wall=(0.13, 0.02))) == []


FINE = Facets(96, 0.7)
"""So fine that a survey looks closely at what some planes cut only."""


@pytest.mark.parametrize(
    ("name", "seed"), [("octagon", 8), ("two bores in an oval", 28), ("bell", 40)]
)
def test_families_read_the_same_in_fine_facets(name: str, seed: int) -> None:
    """An octagon's corners are no circle; few bends on one side of a bore do not fix it."""
    rng = np.random.default_rng(seed)
    part = shuffled(placed(GALLERY[name](facets=FINE), random_pose(rng)), rng)
    assert faults(part, read(part), Bounds(diameter=0.001)) == []


def test_a_fine_part_shows_every_short_stretch_of_its_bore() -> None:
    """13 of 15 mm, each met by 4 or 5 of the 64 planes across the part."""
    steps = [(15.0 * (k + 1), 12.0 + k % 4) for k in range(13)]
    part = stepped(steps=steps, facets=Facets(96, 0.8))
    assert faults(part, read(part), Bounds(diameter=0.001)) == []


@pytest.mark.parametrize("seed", range(4))
def test_stretches_about_one_line_have_one_offset(seed: int) -> None:
    part = placed(bell(), random_pose(np.random.default_rng(seed)))
    survey = read(part)
    assert len(survey.outsides) == 3
    assert len({surface.offset for surface in survey.outsides}) == 1


@pytest.mark.parametrize("name", ["tube", "taper", "oval", "two bores"])
def test_noise_of_a_scan_is_averaged_out(name: str) -> None:
    """Of the least wall's two faces each may, somewhere, be 4.5 sigma off."""
    part = placed(scanned(name), random_pose(np.random.default_rng(3)))
    survey = read(part)
    assert faults(part, survey, Bounds(axis_deg=0.05, wall=(9.0 * SIGMA, 0.02))) == []


@pytest.mark.parametrize("sagitta", [0.6, 1.5, 6.0])
def test_a_bent_tube_is_refused_with_how_far_and_where(sagitta: float) -> None:
    part = placed(curved(sagitta=sagitta), random_pose(np.random.default_rng(8)))
    with pytest.raises(NotTubular) as refusal:
        read(part)
    told = [float(number) for number in re.findall(r"\d+\.\d+", refusal.value.found)]
    assert min(abs(number - sagitta) for number in told) < 0.05 * sagitta + 0.02
    pose = part.truth.pose
    middle = pose[:3, :3] @ [sagitta, 0.0, part.truth.length / 2.0] + pose[:3, 3]
    places = np.array(refusal.value.places)
    assert np.linalg.norm(places - middle, axis=1).min() < 15.0


# Invariance


POSE_ROUNDING = 5e-4
"""mm. A file's float32 rounds coordinates below 512 by 1.5e-5; what is read of one vertex
moves by that, and a diameter, tilted axis or station by a few times as much. Steps of a
search that stops early would show as more."""


@pytest.mark.parametrize("name", ["odd holes", "bell", "oval", "two bores in a capsule", "octagon"])
def test_pose_unit_and_order_do_not_change_the_answer(name: str) -> None:
    built = GALLERY[name]()
    usual = departures(built)
    rng = np.random.default_rng(17)
    for unit in (1.0, 25.4):
        part = shuffled(placed(built, upright_pose(rng), unit), rng)
        assert departures(part) == pytest.approx(usual, abs=POSE_ROUNDING)


def upright_pose(rng: np.random.Generator) -> FloatArray:
    """A random pose that leaves the low end the low end."""
    while True:
        pose = random_pose(rng)
        axis = pose[:3, 2]
        if axis[np.argmax(np.abs(axis))] > 0.0:
            return pose


def departures(part: Part) -> FloatArray:
    """How far each reading of the survey is from the truth, mm; lengths only."""
    survey, due = read(part), as_counted(part.truth)
    rows = [survey.length - part.truth.length, survey.wall_least, survey.wall_median]
    for surface in sorted((*survey.bores, *survey.outsides), key=_place):
        rows += [surface.radius_at(surface.start), surface.radius_at(surface.stop)]
        rows += [surface.start, surface.stop, surface.eccentricity]
    for hole, opening in zip(survey.side_holes, due.openings, strict=True):
        turn = turned_by(hole, opening.angle_deg)
        rows += [hole.station, 10.0 * turn, hole.axial_width, hole.across_width]
    return np.array(rows)


def _place(surface: RoundSurface) -> tuple[float, float]:
    return round(surface.start, 1), surface.radius_at(surface.start)
