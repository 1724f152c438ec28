"""Several bodies in one file; bores brought to a diameter; what is told of it."""

from __future__ import annotations

import json
import math
import re
import shutil
from pathlib import Path

import numpy as np
import pytest
import trimesh
from borewright.addon.command_line.command import main

from tests.blender.conftest import ENVELOPE, JOB, refused, tree, two_tubes
from tests.parts import plain_tube


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The output for a file of two tubes and a speck."""
    folder = tmp_path_factory.mktemp("pair")
    speck = trimesh.creation.icosahedron()
    two_tubes(speck.apply_scale(0.2).apply_translation([100.0, 0.0, 50.0])).export(
        folder / "pair.stl"
    )
    out = folder / "out"
    assert main(["split", str(folder / "pair.stl"), *JOB, "--out", str(out), "--quiet"]) == 0
    return out


def test_two_bodies_are_two_parts_the_larger_first(pair: Path) -> None:
    names = [f"pair-{part}-{piece}.stl" for part in "ab" for piece in ("01", "02")]
    assert sorted(tree(pair)) == ["bed-01.3mf", "job.json", *names, "sheet.html", "timings.json"]
    record = json.loads((pair / "job.json").read_text())
    assert [part["name"] for part in record["parts"]] == ["pair-a", "pair-b"]
    assert [round(part["survey"]["length"], 3) for part in record["parts"]] == [300.0, 240.0]
    assert record["parts"][0]["source"] == record["parts"][1]["source"]
    listed = [piece["file"] for part in record["parts"] for piece in part["pieces"]]
    assert listed == names


def test_pieces_of_two_parts_lead_back_each_to_its_own_body(pair: Path) -> None:
    truths = ((plain_tube(), 0.0), (plain_tube(length=240.0, bore=15.0, outside=23.0), 60.0))
    record = json.loads((pair / "job.json").read_text())
    for part, (truth, x) in zip(record["parts"], truths, strict=True):
        placed = [
            trimesh.load_mesh(pair / piece["file"]).apply_transform(piece["to_source"])
            for piece in part["pieces"]
        ]
        bounds = np.array([piece.bounds for piece in placed])
        middle = (bounds[:, 0] + bounds[:, 1])[:, :2] / 2.0
        assert np.allclose(middle, [x, 0.0], atol=0.02)
        assert np.allclose([bounds[:, 0, 2].min(), bounds[:, 1, 2].max()],
                           [0.0, truth.truth.length], atol=1e-3)  # fmt: skip
        whole = sum(piece.volume for piece in placed)
        assert 0.98 * truth.mesh.volume < whole < 1.01 * truth.mesh.volume


def test_checks_and_the_table_tell_the_part(pair: Path, capfd: pytest.CaptureFixture[str]) -> None:
    record = json.loads((pair / "job.json").read_text())
    for name in ("pair-a", "pair-b"):
        own = [check for check in record["checks"] if check["part"] == name]
        assert {check["piece"] for check in own if "piece" in check} == {f"{name}-01", f"{name}-02"}
        assert {check["joint"] for check in own if "joint" in check} == {0}
    assert main(["plan", str(pair.parent / "pair.stl"), *JOB]) == 0
    told = capfd.readouterr()
    for name in ("pair-a", "pair-b"):
        assert f"{name}: 2 pieces for an envelope" in told.out
        assert re.search(rf"^survey {name} \d+\.\d\d s$", told.err, re.MULTILINE)


def test_a_speck_that_was_dropped_is_told(pair: Path) -> None:
    record = json.loads((pair / "job.json").read_text())
    (told,) = [warning for warning in record["warnings"] if "speck" in warning]
    assert re.search(r"\b1 speck\b", told), told


def test_the_pieces_of_two_parts_are_replaced_as_one_job(pair: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    shutil.copytree(pair, out)
    argv = ["split", str(pair.parent / "pair.stl"), *JOB, "--out", str(out), "--quiet"]
    assert main([*argv, "--overwrite", "--cut", "130"]) == 0
    first, second = (json.loads((folder / "job.json").read_text()) for folder in (pair, out))
    assert len(tree(out)) == len(tree(pair))
    for part in second["parts"]:
        assert [cut["station"] for cut in part["cuts"]] == [130.0]
    assert first["parts"] != second["parts"]


def test_a_refusal_names_which_of_two_parts_it_is(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    two_tubes().export(tmp_path / "pair.stl")
    argv = ["split", str(tmp_path / "pair.stl"), *ENVELOPE, "--out", str(tmp_path / "out")]
    assert main([*argv, "--cut", "250", "--quiet"]) == 1
    refused(1, capfd.readouterr(), r"found: in part pair-b: ")
    assert not (tmp_path / "out").exists()


def test_a_bore_is_brought_to_the_diameter_asked_for(
    tube_stl: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    argv = ["split", str(tube_stl), *JOB, "--out", str(out), "--bore", "19.1", "--json", "--quiet"]
    assert main(argv) == 0
    record = json.loads(capfd.readouterr().out)
    assert record["settings"]["bore"] == 19.1
    assert record["warnings"] == ["Bore 1 was found 19.000 mm wide and brought to 19.100 mm."]
    assert np.isclose(record["parts"][0]["survey"]["bores"][0]["diameter"], 19.0, atol=1e-4)
    assert np.isclose(record["parts"][0]["truing"]["max_move"], 0.05, atol=0.002)
    (joint,) = record["parts"][0]["joints"]
    middle = (joint["tenon_diameter"] + joint["socket_diameter"]) / 2.0
    assert np.isclose(middle, (19.1 + 26.0) / 2.0, atol=1e-3)
    for piece in record["parts"][0]["pieces"]:
        mesh = trimesh.load_mesh(out / piece["file"]).apply_transform(piece["to_source"])
        radii = np.linalg.norm(mesh.vertices[:, :2], axis=1)
        assert np.isclose(np.median(radii[radii < 10.0]), 19.1 / 2.0, atol=0.001)


def test_a_bore_beyond_max_move_is_refused(
    tube_stl: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    argv = ["split", str(tube_stl), *JOB, "--out", str(tmp_path / "out"), "--bore", "19.5"]
    assert main(argv) == 1
    refused(1, capfd.readouterr(), r"bore of 19\.000 mm.*19\.50 mm.*--max-move 0\.2[56]")
    assert not (tmp_path / "out").exists()


def test_coarse_facets_that_truing_evens_out_are_told(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """Closed form: a polygon of 20 sides lies R (1 - cos(pi / 20)) inside its circle."""
    plain_tube(facets=20).save(tmp_path / "pipe.stl")
    argv = ["plan", str(tmp_path / "pipe.stl"), *JOB, "--json", "--quiet"]
    sagitta = 13.0 * (1.0 - math.cos(math.pi / 20.0))
    for max_move, count in (("0.1", 1), ("0.2", 0)):
        assert main([*argv, "--max-move", max_move]) == 0
        record = json.loads(capfd.readouterr().out)
        chord = record["parts"][0]["truing"]["greatest_chord"]
        assert np.isclose(chord, sagitta, atol=1e-4)
        told = [said for said in record["warnings"] if f"up to {sagitta:.3f} mm off" in said]
        assert len(told) == count
