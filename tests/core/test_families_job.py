"""The whole job on families of parts: what comes apart is right, measured without the core."""

from __future__ import annotations

import numpy as np
import pytest
from borewright.core.values import Mesh, Settings

from tests.families.gallery import GALLERY
from tests.families.judged_pieces import piece_faults
from tests.families.shapes import Facets, Part, placed
from tests.jobs import split_surveyed
from tests.parts import random_pose

HEIGHTS = {
    "oval": 95.0,
    "octagon": 95.0,
    "eccentric": 95.0,
    "two bores in a capsule": 95.0,
    "two diameters": 95.0,
    "bell": 110.0,
    "closed end": 95.0,
    "odd holes": 120.0,
    "flat": 95.0,
    "whistle head": 75.0,
    "free form": 80.0,
}
"""Height of the envelope, mm, in which a part of this family has to come apart."""

FACETS = Facets(160)
"""Their chords are within 0.003 mm of a circle of 26 mm; ours are within 0.005."""


def faults_of_pieces(part: Part, height: float, chord: float) -> list[str]:
    stored = Mesh(part.vertices.astype(np.float32), part.triangles)
    settings = Settings(envelope=(200.0, 200.0, height))
    (outcome,) = split_surveyed(stored, "part", settings)
    assert len(outcome.pieces) >= 2
    return piece_faults(part, outcome, height, chord)


@pytest.mark.parametrize("name", HEIGHTS)
def test_a_family_comes_apart_into_right_pieces(name: str) -> None:
    pose = random_pose(np.random.default_rng(sorted(HEIGHTS).index(name)))
    part = placed(GALLERY[name](facets=FACETS), pose)
    assert faults_of_pieces(part, HEIGHTS[name], chord=0.005) == []
