"""Faces between chains lie where they should, whatever way they are found."""

from __future__ import annotations

import numpy as np
import pytest
from borewright.core.jointing.face_builder import FaceBuilder
from borewright.core.meshes.polygon import doubled_areas

LEFT = [(0.0, 3.0, 0.0), (1.0, 2.0, 0.1), (1.2, 1.0, 0.2), (0.0, 0.0, 3.0)]


@pytest.mark.parametrize("top", [3.0, 9.0], ids=["alike", "heights that do not go together"])
def test_between_two_chains_no_face_is_folded_over(top: float) -> None:
    """Steps by height alone would fold the second, as the left chain would end too soon."""
    points = np.array([*LEFT, (3.0, 3.0, 0.0), (3.0, 0.0, top)])
    builder = FaceBuilder(points)
    builder.between(np.arange(4), np.array([4, 5]), up=True)
    (faces,) = builder.faces
    areas = doubled_areas(points[:, :2], faces) / 2.0
    assert areas.min() > 0.0
    assert areas.sum() == pytest.approx(9.0 - 0.5 - 1.1 - 0.6)


def test_quads_drop_what_has_no_area_and_keep_their_side() -> None:
    points = np.array([(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (1.0, 1.0, 0.0), (0.0, 1.0, 0.0)])
    builder = FaceBuilder(points)
    builder.quads(np.array([0, 1]), np.array([3, 1]), closed=False, up=False)
    (faces,) = builder.faces
    assert faces.tolist() == [[3, 1, 0]]
