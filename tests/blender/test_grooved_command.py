"""--joint oring through the command: the files' own groove, and refusals with numbers.

The housing of a 2.62 mm cord, 2.00 deep and 3.60 wide, is metric practice by ISO 3601-2.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import trimesh
from borewright.addon.command import main
from manifold3d import Manifold

from tests.blender.conftest import refused, tree
from tests.grooved import hole_radii, outer_radii
from tests.measure import solid_of


def a_tube(folder: Path, wall: float) -> Path:
    path = folder / "tube.stl"
    trimesh.creation.annulus(7.0, 7.0 + wall, 220.0, sections=128).export(path)
    return path


def about_axis(path: Path) -> Manifold:
    """A piece as its file has it, its middle put on the axis."""
    mesh = trimesh.load_mesh(path)
    middle = mesh.bounds.mean(axis=0)
    return solid_of(mesh).translate((-middle[0], -middle[1], 0.0))


def test_the_files_hold_the_housing_of_the_ring(tmp_path: Path) -> None:
    stl, out = a_tube(tmp_path, 5.0), tmp_path / "out"
    argv = ["split", str(stl), "--envelope", "180x180x150", "--joint", "oring", "--quiet"]
    assert main([*argv, "--out", str(out)]) == 0
    record = json.loads((out / "job.json").read_text())
    (part,) = record["parts"]
    (joint,) = part["joints"]
    assert joint["kind"] == "oring"
    assert all(check["ok"] for check in record["checks"])
    lower, upper = (about_axis(out / piece["file"]) for piece in part["pieces"])
    seam = joint["station"]
    floors = []
    for over in np.arange(3.8, 11.6, 0.05).tolist():
        tenon = outer_radii(lower.slice(seam + over))
        socket = hole_radii(upper.slice(over))
        assert socket[1] - tenon[0] <= 2.03
        if socket[0] - tenon[1] >= 1.97:
            floors.append(over)
    # the bottom, and 0.03 of the ceiling, seen in steps of 0.05
    assert floors[-1] - floors[0] == pytest.approx(3.6, abs=0.06)


@pytest.mark.parametrize(("joint", "needed"), [("oring", "3.64"), ("lapped", "3.69")])
def test_a_thin_wall_is_refused_and_nothing_is_written(
    joint: str, needed: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    stl = a_tube(tmp_path, 3.6)
    before = tree(tmp_path)
    argv = ["split", str(stl), "--envelope", "180x180x150", "--joint", joint, "--quiet"]
    assert main([*argv, "--out", str(tmp_path / "out")]) == 1
    refused(1, capfd.readouterr(), rf"wall 3\.60 mm.*needed: {needed} mm of wall for a groove")
    assert tree(tmp_path) == before
