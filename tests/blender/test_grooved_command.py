"""--joint oring through the command: the files' own groove, and refusals with numbers.

The housing of a 2.62 mm cord, 2.00 deep and 3.60 wide, is metric practice by ISO 3601-2.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import trimesh
from borewright.addon.command_line.command import main
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


@pytest.mark.parametrize(("joint", "needed"), [("oring", "3.64"), ("lapped", "3.74")])
def test_a_thin_wall_is_refused_and_nothing_is_written(
    joint: str, needed: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    stl = a_tube(tmp_path, 3.6)
    before = tree(tmp_path)
    argv = ["split", str(stl), "--envelope", "180x180x150", "--joint", joint, "--quiet"]
    assert main([*argv, "--out", str(tmp_path / "out")]) == 1
    refused(1, capfd.readouterr(), rf"wall 3\.60 mm.*needed: {needed} mm of wall for a groove")
    assert tree(tmp_path) == before


@pytest.mark.parametrize("joint", ["oring", "lapped"])
def test_a_groove_makes_the_joint_one_that_is_taken_apart(
    joint: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    argv = ["plan", str(a_tube(tmp_path, 5.0)), "--envelope", "180x180x150", "--joint", joint]
    assert main([*argv, "--quiet"]) == 0
    told = capfd.readouterr().out
    assert "Fit take-apart: 0.20 mm a side" in told
    assert "glue" not in told.lower().replace("leave glue", "")
    assert main([*argv, "--quiet", "--fit", "glue"]) == 1
    refused(1, capfd.readouterr(), rf"--fit glue,.*with --joint {joint}.*take-apart")


@pytest.mark.parametrize(("more", "wall"), [
    ([], 0.8), (["--nozzle", "0.6"], 1.2), (["--nozzle", "0.2"], 0.8),
    (["--nozzle", "0.6", "--least-wall", "0.9"], 0.9),
])  # fmt: skip
def test_a_wide_nozzle_makes_walls_of_two_lines_in_the_files(
    more: list[str], wall: float, tmp_path: Path
) -> None:
    stl, out = a_tube(tmp_path, 5.0), tmp_path / "out"
    argv = ["split", str(stl), "--envelope", "180x180x150", "--quiet", "--out", str(out), *more]
    assert main(argv) == 0
    record = json.loads((out / "job.json").read_text())
    assert record["settings"]["least_wall"] == wall
    (part,) = record["parts"]
    upper = about_axis(out / part["pieces"][1]["file"])
    # beside the ribs' grooves, which the proofs look at, over the mouth's bevel
    sections = [upper.slice(over) for over in (1.5, 2.5, 3.5)]
    assert min(12.0 - hole_radii(section)[1] for section in sections) >= wall - 0.002
    walls = [check for check in record["checks"] if "wall" in check["name"]]
    assert walls
    assert all(check["limit"] == wall and check["ok"] for check in walls)
