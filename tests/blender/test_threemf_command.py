"""A 3MF file as PART: the same job as with any other file."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import lib3mf
import numpy as np
import pytest
import trimesh
from borewright.addon.command_line.command import main
from lib3mf import get_wrapper

from tests.blender.conftest import JOB, refused, tree, two_tubes
from tests.models_3mf import mesh_in, mesh_text, model_text, package, transform, written_by_lib3mf
from tests.parts import plain_tube, shuffled


def as_3mf(mesh: trimesh.Trimesh, unit: str = "millimeter", place: str = "") -> bytes:
    """`place` : of the only item, the 12 numbers of its transform."""
    text = model_text(
        f'<object id="1">{mesh_text(mesh.vertices, mesh.faces)}</object>',
        f'<item objectid="1" transform="{place or "1 0 0 0 1 0 0 0 1 0 0 0"}"/>',
        f'unit="{unit}"',
    )
    return package(text)


def save(folder: Path, name: str, data: bytes) -> str:
    path = folder / name
    path.write_bytes(data)
    return str(path)


def run(*arguments: str, out: Path) -> dict[str, Any]:
    assert main(["split", *arguments, *JOB, "--out", str(out), "--quiet"]) == 0
    record: dict[str, Any] = json.loads((out / "job.json").read_text())
    return record


def pieces_of(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest()
            for path in sorted(folder.glob("*.stl"))}  # fmt: skip


def test_the_same_part_as_stl_and_as_3mf_gives_the_same_pieces(
    tube_stl: Path, job: Path, tmp_path: Path
) -> None:
    """To the byte: the corners are the same float32, their triangles in the same order."""
    part = trimesh.load(tube_stl)
    record = run(save(tmp_path, "pipe.3mf", as_3mf(part)), out=tmp_path / "out")
    assert pieces_of(tmp_path / "out") == pieces_of(job)
    (source,) = (part["source"] for part in record["parts"])
    data = (tmp_path / "pipe.3mf").read_bytes()
    assert source == {
        "file": "pipe.3mf", "sha256": hashlib.sha256(data).hexdigest(),
        "triangles": len(part.faces), "unit": "mm", "scale_to_mm": 1.0,
    }  # fmt: skip
    theirs = json.loads((job / "job.json").read_text())
    assert record["warnings"] == theirs["warnings"]
    assert record["parts"][0]["survey"] == theirs["parts"][0]["survey"]


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_part_that_lies_in_the_build_turned_or_mirrored_is_cut_alike(
    tmp_path: Path, *, mirrored: bool
) -> None:
    """A tube is its own mirror image: sizes and stations are those of the upright one."""
    lying = np.array([[0, 0, 1, 5.0], [0, 1, 0, 0], [1 if mirrored else -1, 0, 0, 0], [0, 0, 0, 1]])
    assert np.linalg.det(lying[:3, :3]) == pytest.approx(-1.0 if mirrored else 1.0)
    place = " ".join(f"{number:g}" for number in lying[:3].T.ravel())
    data = as_3mf(plain_tube().mesh, place=place)
    record = run(save(tmp_path, "lying.3mf", data), out=tmp_path / "out")
    (part,) = record["parts"]
    assert np.abs(part["survey"]["axis"]["direction"]) == pytest.approx([1.0, 0.0, 0.0], abs=1e-4)
    assert part["survey"]["length"] == pytest.approx(300.0, abs=1e-3)
    volumes = [trimesh.load(tmp_path / "out" / piece["file"]).volume for piece in part["pieces"]]
    assert min(volumes) > 0.0 and all(check["ok"] for check in record["checks"])
    assert not [said for said in record["warnings"] if "outward" in said]


def test_the_file_s_unit_is_taken_where_size_alone_would_leave_it_open(tmp_path: Path) -> None:
    part = plain_tube().mesh
    part.apply_scale(1.0 / 25.4)
    data = as_3mf(part, "inch")
    record = run(save(tmp_path, "inch.3mf", data), out=tmp_path / "out")
    (source,) = (part["source"] for part in record["parts"])
    assert (source["unit"], source["scale_to_mm"]) == ("in", 25.4)
    assert record["parts"][0]["survey"]["length"] == pytest.approx(300.0, abs=1e-3)
    assert [said for said in record["warnings"] if said.startswith("Read in in, as the file says")]


def test_units_that_are_asked_for_beat_the_file_s_and_are_told(tmp_path: Path) -> None:
    part = plain_tube().mesh
    data = as_3mf(part, "foot")
    record = run(save(tmp_path, "foot.3mf", data), "--units", "mm", out=tmp_path / "out")
    (source,) = (part["source"] for part in record["parts"])
    assert (source["unit"], source["scale_to_mm"]) == ("mm", 1.0)
    assert "Read in mm, as --units says; the file says foot." in record["warnings"]


def test_a_unit_that_we_have_no_word_for_is_recorded_by_the_standard_s(tmp_path: Path) -> None:
    part = plain_tube().mesh
    part.apply_scale(1000.0)
    data = as_3mf(part, "micron")
    record = run(save(tmp_path, "small.3mf", data), out=tmp_path / "out")
    (source,) = (part["source"] for part in record["parts"])
    assert (source["unit"], source["scale_to_mm"]) == ("micron", 0.001)


def test_two_objects_of_one_file_are_two_parts(tmp_path: Path) -> None:
    small, large = two_tubes().split()
    model = get_wrapper().CreateModel()
    for part in (small, large):
        model.AddBuildItem(mesh_in(model, part.vertices, part.faces), transform(np.eye(4)))
    support = mesh_in(model)
    support.SetType(lib3mf.ObjectType.Support)
    model.AddBuildItem(support, transform(np.eye(4)))
    data = written_by_lib3mf(model)
    record = run(save(tmp_path, "two.3mf", data), out=tmp_path / "out")
    assert [part["name"] for part in record["parts"]] == ["two-a", "two-b"]
    assert any("1 of 3 items of the file were left out: of type 'support'" in said
               for said in record["warnings"])  # fmt: skip


def test_order_of_vertices_and_triangles_does_not_change_the_plan(tmp_path: Path) -> None:
    records = [
        run(save(tmp_path, "pipe.3mf", as_3mf(part)), out=tmp_path / f"out-{k}")
        for k, part in enumerate(
            (plain_tube().mesh, shuffled(plain_tube().mesh, np.random.default_rng(1)))
        )
    ]
    stations = [[cut["station"] for cut in one["parts"][0]["cuts"]] for one in records]
    assert stations[0] == pytest.approx(stations[1], abs=1e-6)


@pytest.mark.parametrize("command", ["split", "plan", "trial"])
@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"PK\x03\x04 and no more", r"16 bytes that is damaged or cut short"),
        (package(model_text(items="")), r"0 items in the build, of 1 object;"),
        (
            package(model_text('<object id="1"><mesh><triangles/></mesh></object>')),
            r"0 faces in part\.3mf",
        ),
        (
            package(model_text().replace("<model", "<!DOCTYPE model []><model", 1)),
            r"1 of 3D/3dmodel\.model.*none, as the 3MF standard says",
        ),
    ],
    ids=["cut short", "nothing in the build", "no triangles", "document type"],
)
def test_a_bad_3mf_file_is_refused_without_a_trace(
    command: str,
    data: bytes,
    words: str,
    tmp_path: Path,
    place: Path,
    capfd: pytest.CaptureFixture[str],
) -> None:
    path = save(tmp_path, "part.3mf", data)
    before = tree(place)
    code = main([command, path, *JOB, "--out", str(place / "out")])
    assert code == 1
    refused(code, capfd.readouterr(), words)
    assert tree(place) == before
