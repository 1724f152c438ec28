"""Parts that are passed on and parts that lean, through the command, measured on their files."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from borewright.addon.command_line.command import main
from borewright.core.values import Mesh

from tests.blender.conftest import ENVELOPE, refused, tree
from tests.loose_parts import a_block, a_mouthpiece, as_trimesh
from tests.parts import plain_tube


def saved(folder: Path, name: str, mesh: Mesh) -> str:
    as_trimesh(mesh).export(folder / name)
    return str(folder / name)


def record_in(out: Path) -> dict[str, Any]:
    record: dict[str, Any] = json.loads((out / "job.json").read_text())
    return record


def placed(out: Path, piece: dict[str, Any]) -> trimesh.Trimesh:
    return trimesh.load_mesh(out / piece["file"]).apply_transform(piece["to_source"])


def test_what_fits_goes_along_with_what_is_split(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """A tube that is too tall, a mouthpiece and a loose block, of 30.0 mm the least side."""
    plain_tube().save(tmp_path / "body.stl")
    loose = {"block": a_block(40.0, 30.0, 45.0), "mouthpiece": a_mouthpiece()}
    files = [saved(tmp_path, f"{name}.stl", mesh) for name, mesh in loose.items()]
    out = tmp_path / "out"
    files.insert(0, str(tmp_path / "body.stl"))
    assert main(["split", *files, *ENVELOPE, "--units", "mm", "--out", str(out), "--quiet"]) == 0
    parts = {part["name"]: part for part in record_in(out)["parts"]}
    assert [len(part["pieces"]) for part in parts.values()] == [2, 1, 1]
    for name, mesh in loose.items():
        (piece,) = parts[name]["pieces"]
        assert piece["file"] == f"{name}-01.stl"
        assert placed(out, piece).bounds == pytest.approx(as_trimesh(mesh).bounds, abs=1e-4)
        assert piece["volume"] == pytest.approx(as_trimesh(mesh).volume, rel=1e-5)
    assert parts["block"]["pieces"][0]["size"] == pytest.approx([40.0, 45.0, 30.0], abs=1e-4)
    assert "an axis that bends" in parts["mouthpiece"]["passed_on"]
    assert "1 piece as it is" in capfd.readouterr().out


def test_a_part_that_leans_does_so_in_its_file_and_again(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """L cos t + D sin t = 180 with L 200 and D 26 mm."""
    plain_tube(length=200.0).save(tmp_path / "pipe.stl")
    argv = ["split", str(tmp_path / "pipe.stl"), "--quiet"]
    assert main([*argv, *ENVELOPE, "--lean", "--out", str(tmp_path / "out")]) == 0
    record = record_in(tmp_path / "out")
    (part,) = record["parts"]
    due = math.atan2(26.0, 200.0) + math.acos(180.0 / math.hypot(26.0, 200.0))
    assert part["lean_deg"] == pytest.approx(math.degrees(due), abs=0.02)
    assert record["settings"]["lean"] is True
    (piece,) = part["pieces"]
    stood = trimesh.load_mesh(tmp_path / "out" / piece["file"])
    assert np.all(stood.bounds[0] == 0.0) and np.all(stood.bounds[1] <= 180.002)
    assert stood.is_watertight
    bounds = placed(tmp_path / "out", piece).bounds
    assert bounds == pytest.approx(plain_tube(length=200.0).mesh.bounds, abs=0.03)
    assert "the part leans by" in capfd.readouterr().out
    old = str(tmp_path / "out" / "job.json")
    assert main([*argv, "--from", old, "--out", str(tmp_path / "again")]) == 0
    one, other = tree(tmp_path / "out"), tree(tmp_path / "again")
    assert one["pipe-01.stl"] == other["pipe-01.stl"]


def test_what_neither_fits_nor_can_be_read_leaves_no_folder(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    block = saved(tmp_path, "block.stl", a_block(90.0, 80.0, 85.0))
    argv = ["split", block, "--envelope", "70x70x70", "--units", "mm", "--quiet"]
    assert main([*argv, "--out", str(tmp_path / "out")]) == 1
    refused(1, capfd.readouterr(), r"90\.00 x 80\.00 x 85\.00 mm, which fits .* on none")
    assert not (tmp_path / "out").exists()
