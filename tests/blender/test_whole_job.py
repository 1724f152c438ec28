"""Several files in one job: split, passed through and passed on, all on beds with a trial's rings.

The files are read back with lib3mf, the reference implementation of the 3MF standard, and
with trimesh; that nothing overlaps is asked of manifold3d's polygons.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import lib3mf
import manifold3d
import numpy as np
import pytest
import trimesh
from borewright.addon.command_line.command import main

from tests.parts import plain_tube

FLOOR, HEIGHT = (120.0, 120.0), 180.0
SPACING = 4.0
POSE_ERROR = 1e-5
"""mm: what the standard's reader and the job's STL may differ by."""


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A tall body, a foot that fits, two files named alike, and a loose block."""
    folder = tmp_path_factory.mktemp("set")
    plain_tube().mesh.export(folder / "body.stl")
    plain_tube(length=90.0).mesh.export(folder / "foot.stl")
    (folder / "spare").mkdir()
    plain_tube(length=70.0).mesh.export(folder / "spare" / "Foot.stl")
    bracket().export(folder / "block.stl")
    files = [str(folder / name) for name in ("body.stl", "foot.stl", "spare/Foot.stl", "block.stl")]
    envelope = f"{FLOOR[0]:g}x{FLOOR[1]:g}x{HEIGHT:g}"
    asked = ["--envelope", envelope, "--trial", "--spacing", f"{SPACING:g}"]
    out = folder / "out"
    assert main(["split", *files, *asked, "--out", str(out), "--quiet"]) == 0
    return out


def bracket() -> trimesh.Trimesh:
    """An angle bracket: no tube, and no straight line through its sections."""
    corner = [(0.0, 0.0), (20.0, 0.0), (20.0, 5.0), (5.0, 5.0), (5.0, 26.0), (0.0, 26.0)]
    made = manifold3d.CrossSection([corner]).extrude(12.0).rotate((30.0, 40.0, 0.0)).to_mesh()
    return trimesh.Trimesh(made.vert_properties, made.tri_verts)


def record_of(job: Path) -> Any:
    return json.loads((job / "job.json").read_text())


def test_one_record_tells_what_each_file_came_to(job: Path) -> None:
    parts = record_of(job)["parts"]
    assert [part["name"] for part in parts] == ["body", "foot", "Foot-2", "block"]
    assert [len(part["cuts"]) for part in parts] == [1, 0, 0, 0]
    assert [part["survey"] is None for part in parts] == [False, False, False, True]
    assert parts[3]["passed_on"].endswith(".")
    files = [piece["file"] for part in parts for piece in part["pieces"]]
    assert files == ["body-01.stl", "body-02.stl", "foot-01.stl", "Foot-2-01.stl", "block-01.stl"]


def test_a_block_too_small_to_tell_its_unit_is_read_as_the_files_beside_it(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = record_of(job)
    assert [part["source"]["unit"] for part in record["parts"]] == ["mm"] * 4
    assert any("block: Read in mm, as the files beside it" in said for said in record["warnings"])
    alone = ["split", str(job.parent / "block.stl"), "--envelope", "120x120x180"]
    assert main([*alone, "--out", str(tmp_path / "out"), "--quiet"]) == 1
    assert "0 likely readings of the part's size" in capsys.readouterr().err


def test_a_ring_that_would_be_of_cm_by_its_size_is_of_mm_beside_files_in_mm(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ring = plain_tube(length=2.0, bore=7.0, outside=10.0)
    ring.save(tmp_path / "ring.stl")
    metres = plain_tube(length=300.0, unit=1000.0)
    metres.save(tmp_path / "metres.stl")
    parts = [
        str(job.parent / "body.stl"),
        *(str(tmp_path / f"{n}.stl") for n in ("ring", "metres")),
    ]
    assert main(["plan", *parts, "--envelope", "120x120x180", "--json", "--quiet"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert [part["source"]["unit"] for part in record["parts"]] == ["mm", "mm", "m"]
    assert any("ring: Read in mm, as the files beside it" in said for said in record["warnings"])


def test_a_trial_that_cannot_be_made_is_refused_by_plan_and_split_alike(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Rings of at least 23 mm with a millimetre between them, two in a row: more than 40 mm."""
    asked = [str(job.parent / "body.stl"), "--envelope", "40x40x180", "--trial", "--quiet"]
    told = []
    for command in ("plan", "split"):
        assert main([command, *asked, "--out", str(tmp_path / "out")]) == 1
        told.append(capsys.readouterr().err)
    assert told[0] == told[1]
    assert "found: for --trial, of the first joint of body: " in told[0]
    assert "; try: the job without --trial; or by itself, a trial of a narrower joint" in told[0]
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("asked", [("--cut", "130"), ("--pieces", "20")])
def test_what_one_of_several_parts_cannot_have_may_be_asked_for_another_by_name(
    job: Path, capsys: pytest.CaptureFixture[str], asked: tuple[str, str]
) -> None:
    files = [str(job.parent / name) for name in ("foot.stl", "body.stl")]
    whole = ["--envelope", "120x120x180", "--quiet"]
    assert main(["plan", *files, *whole, *asked]) == 1
    flag, value = asked
    assert f"; or {flag} NAME:{value} with the name of the part" in capsys.readouterr().err
    assert main(["plan", files[0], *whole, *asked]) == 1
    assert "NAME" not in capsys.readouterr().err
    assert main(["plan", *files, *whole, flag, f"body:{value}"]) == 0


def test_every_file_is_listed_with_its_hash(job: Path) -> None:
    record = record_of(job)
    pieces = [piece for part in record["parts"] for piece in part["pieces"]]
    listed = {
        one["file"]: one["sha256"]
        for one in (*pieces, *record["beds"], record["trial"], record["sheet"])
    }
    written = {path.name for path in job.iterdir()} - {"job.json", "timings.json"}
    assert set(listed) == written
    for name, recorded in listed.items():
        assert hashlib.sha256((job / name).read_bytes()).hexdigest() == recorded


def test_everything_stands_on_one_bed_and_says_which(job: Path) -> None:
    record = record_of(job)
    names = [name for bed in record["beds"] for name in bed["pieces"]]
    pieces = {piece["name"]: piece for part in record["parts"] for piece in part["pieces"]}
    assert sorted(names) == sorted([*pieces, "fit-trial"])
    for number, bed in enumerate(record["beds"]):
        assert all(pieces[name]["bed"] == number for name in bed["pieces"] if name in pieces)


def test_the_standards_reader_finds_the_poses_of_the_stl_files(job: Path) -> None:
    for bed in record_of(job)["beds"]:
        model = lib3mf.get_wrapper().CreateModel()
        reader = model.QueryReader("3mf")
        reader.SetStrictModeActive(True)
        reader.ReadFromFile(str(job / bed["file"]))
        assert reader.GetWarningCount() == 0
        assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
        items = model.GetBuildItems()
        places = {place["piece"]: np.array(place["to_bed"]) for place in bed["places"]}
        found = {}
        while items.MoveNext():
            item = items.GetCurrent()
            placed = item.GetObjectResource()
            mesh = model.GetMeshObjectByID(placed.GetResourceID())
            vertices = np.array([list(v.Coordinates) for v in mesh.GetVertices()])
            triangles = np.array([list(t.Indices) for t in mesh.GetTriangleIndices()])
            motion = np.array([list(row) for row in item.GetObjectTransform().Fields])
            moved = np.hstack([vertices, np.ones((len(vertices), 1))]) @ motion
            found[placed.GetName()] = moved[triangles]
        assert found.keys() == places.keys()
        for name, corners in found.items():
            stl = trimesh.load_mesh(job / f"{name}.stl", process=False)
            wanted = stl.apply_transform(places[name]).triangles
            assert np.abs(corners - wanted).max() <= POSE_ERROR


def test_trimesh_reads_the_beds_and_nothing_on_them_overlaps(job: Path) -> None:
    for bed in record_of(job)["beds"]:
        scene = trimesh.load_scene(job / bed["file"])
        shadows = []
        for node in scene.graph.nodes_geometry:
            motion, name = scene.graph[node]
            mesh = scene.geometry[name].copy().apply_transform(motion)
            low, high = mesh.bounds
            assert (low >= -1e-6).all()
            assert (high <= np.array([*FLOOR, HEIGHT]) + 0.002).all()
            assert low[2] == 0.0
            shadows.append(shadow(mesh))
        assert len(shadows) == len(bed["pieces"])
        for number, one in enumerate(shadows):
            grown = one.offset(SPACING - 0.01, manifold3d.JoinType.Round, circular_segments=256)
            for other in shadows[number + 1 :]:
                assert (grown ^ other).area() < 1e-6


def shadow(mesh: trimesh.Trimesh) -> manifold3d.CrossSection:
    """The convex outline of a piece seen from above."""
    return manifold3d.CrossSection.hull_points(mesh.vertices[:, :2].tolist())


def test_the_same_job_gives_the_same_beds(job: Path, tmp_path: Path) -> None:
    folder = job.parent
    files = [str(folder / name) for name in ("body.stl", "foot.stl", "spare/Foot.stl", "block.stl")]
    asked = ["--envelope", "120x120x180", "--trial", "--spacing", "4", "--quiet"]
    assert main(["split", *files, *asked, "--out", str(tmp_path / "again")]) == 0
    for path in sorted(job.iterdir()):
        if path.name != "timings.json":
            assert path.read_bytes() == (tmp_path / "again" / path.name).read_bytes()
