"""The headless command: exit codes, messages, and what it does to files."""

from __future__ import annotations

import hashlib
import importlib
import io
import json
import math
import os
import re
import shutil
import struct
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import trimesh
from borewright.addon.command import main
from numpy.typing import NDArray

from tests.blender.conftest import blender_data, stl_bytes, two_tubes
from tests.parts import plain_tube

ENVELOPE = ["--envelope", "180x180x180"]
JOB = [*ENVELOPE, "--engagement", "11"]
"""Half of this tube's joint diameter is 11.25, midway between two steps of engagement."""

STAGES = ["import", "mend", "survey", "true up", "plan", "build", "prove", "save"]


def tree(folder: Path) -> dict[str, object]:
    """Every path under a folder, with its bytes."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
    }


def tube_corners() -> NDArray[np.float64]:
    mesh = plain_tube().mesh
    corners: NDArray[np.float64] = mesh.vertices[mesh.faces]
    return corners


def half_a_tube() -> NDArray[np.float64]:
    """Without what lies beyond the middle plane: one tear along the whole of the tube."""
    corners = tube_corners()
    return corners[corners[:, :, 1].mean(axis=1) > 0.0]


def changed(index: int, value: float) -> bytes:
    corners = tube_corners().copy()
    corners.reshape(-1)[index] = value
    return stl_bytes(corners)


def ply_bytes(value: float) -> bytes:
    """A binary PLY of four corners, one of which has an odd coordinate."""
    corners = np.array([[0, 0, 0], [9, 0, 0], [0, value, 0], [0, 0, 9]], "<f4")
    header = PLY_HEADER.replace(b"ascii", b"binary_little_endian")
    faces = np.array([(3, *face) for face in ((0, 2, 1), (0, 1, 3), (1, 2, 3), (2, 0, 3))],
                     [("n", "u1"), ("a", "<i4"), ("b", "<i4"), ("c", "<i4")])  # fmt: skip
    return header + corners.tobytes() + faces.tobytes()


ASCII_TRIANGLE = (
    b"facet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 9 0 0\nvertex 0 9 0\nendloop\nendfacet\n"
)
PLY_HEADER = (
    b"ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\n"
    b"property float z\nelement face 4\nproperty list uchar int vertex_indices\nend_header\n"
)
PLY_VERTICES = b"0 0 0\n90 0 0\n0 90 0\n0 0 90\n"
PLY_BINARY = PLY_HEADER.replace(b"ascii", b"binary_little_endian")

BAD_FILES: dict[str, tuple[str, Callable[[], bytes], str]] = {
    "empty": ("part.stl", lambda: b"", r"0 bytes"),
    "garbage": ("part.stl", lambda: b"\x93garbage" * 40, r"320 bytes.*\d+ bytes"),
    "short garbage": ("part.stl", lambda: b"what", r"4 bytes.*84 bytes"),
    "truncated": ("part.stl", lambda: stl_bytes(tube_corners())[:-10], r"\d+ bytes.*\d+ bytes"),
    "too long": ("part.stl", lambda: stl_bytes(tube_corners()) + b"x", r"\d+ bytes.*\d+ bytes"),
    "lying header": ("part.stl", lambda: stl_bytes(tube_corners(), count=9), r"counts 9 triangles"),
    "header of none": ("part.stl", lambda: stl_bytes(tube_corners()[:0]), r"0 faces"),
    "NaN": ("part.stl", lambda: changed(94, float("nan")), r"corner 1 of triangle 10 .*nan"),
    "signalling NaN": (
        "part.stl",
        lambda: stl_bytes(tube_corners()).replace(
            struct.pack("<f", tube_corners()[0, 0, 0]), b"\x01\x00\xa0\x7f", 1
        ),
        r"corner 0 of triangle 0 .*nan",
    ),
    "infinite": ("part.stl", lambda: changed(2, float("inf")), r"corner 0 of triangle 0 .*inf"),
    "far away": ("part.stl", lambda: changed(94, 1e30), r"corner 1 of triangle 10 .*1e\+30"),
    "NaN in binary PLY": ("part.ply", lambda: ply_bytes(float("nan")), r"vertex 2 .*nan"),
    "signalling NaN in binary PLY": (
        "part.ply",
        lambda: ply_bytes(77.25).replace(struct.pack("<f", 77.25), b"\x01\x00\xa0\x7f"),
        r"vertex 2 .*nan",
    ),
    "far away in binary PLY": ("part.ply", lambda: ply_bytes(1e30), r"vertex 2 .*1e\+30"),
    "torn": ("part.stl", lambda: stl_bytes(half_a_tube()), r"edges.*\(-?\d+\.\d+, "),
    "single triangle": ("part.stl", lambda: stl_bytes(tube_corners()[:1]), r"1 triangles"),
    "other kind": ("part.txt", lambda: b"hello", r"1 file .*'\.txt'"),
    "no ending": ("part", lambda: b"hello", r"1 file .*'nothing'"),
    "ascii cut short": (
        "part.stl", lambda: b"solid a\n" + ASCII_TRIANGLE + b"facet normal", r"1 whole triangles"
    ),
    "ascii with 2 corners": (
        "part.stl",
        lambda: b"solid a\n" + ASCII_TRIANGLE.replace(b"vertex 9 0 0\n", b"") + b"endsolid a\n",
        r"2 vertices in 1 triangles",
    ),
    "ascii with a word": (
        "part.stl",
        lambda: b"solid a\n" + ASCII_TRIANGLE.replace(b"9 0 0", b"9 x 0") + b"endsolid a\n",
        r"'x' in line 5: 'vertex 9 x 0'.*3 numbers",
    ),
    "ascii with 4 numbers": (
        "part.stl",
        lambda: b"solid a\n" + ASCII_TRIANGLE.replace(b"9 0 0", b"9 0 0 1") + b"endsolid a\n",
        r"4 numbers in line 5.*3 numbers",
    ),
    "ascii with rows that only together are right": (
        "part.stl",
        lambda: b"solid a\n" + ASCII_TRIANGLE.replace(b"9 0 0\nvertex", b"9 0\nvertex 1")
        + b"endsolid a\n",
        r"2 numbers in line 5.*3 numbers",
    ),
    "ascii in capitals": (
        "part.stl",
        (b"solid a\n" + ASCII_TRIANGLE + b"endsolid a\n").upper,
        r"'FACET' in line 2.*'facet'",
    ),
    "ascii of one line": (
        "part.stl",
        lambda: (b"solid a\n" + ASCII_TRIANGLE).replace(b"\n", b" ") + b"\nendsolid a\n",
        r"0 vertices in 1 triangles.*3 a triangle, each in a line of its own",
    ),
    "ascii NaN": (
        "part.stl",
        lambda: b"solid a\n" + ASCII_TRIANGLE.replace(b"9 0 0", b"9 nan 0") + b"endsolid a\n",
        r"corner 1 of triangle 0",
    ),
    "obj without faces": ("part.obj", lambda: b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", r"0 faces"),
    "obj NaN": ("part.obj", lambda: b"v 0 0 0\nv 1 nan 0\nv 0 1 0\nf 1 2 3\n", r"vertex 1 .*nan"),
    "obj of numbers that run together": (
        "part.obj", lambda: b"v 0 0 0\nv 1 5-2 0\nv 0 1 0\nf 1 2 3\n", r"'5-2' in line 2"
    ),
    "obj with a word": (
        "part.obj",
        lambda: b"v 0 0 0\nv 1 x 0\nv 0 1 0\nf 1 2 3\n",
        r"'x' in line 2: 'v 1 x 0'.*3 numbers",
    ),
    "obj without such vertices": (
        "part.obj", lambda: b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n", r"0 faces.*counts 1"
    ),
    "ply without header": ("part.ply", lambda: b"ply\nformat ascii 1.0\n", r"21 bytes"),
    "ply of an unknown property": (
        "part.ply", lambda: PLY_HEADER.replace(b"float z", b"real z"), r"line 6 of the PLY header"
    ),
    "ply without vertices": (
        "part.ply",
        lambda: PLY_BINARY.replace(b"vertex 4", b"vertes 4") + bytes(48 + 13 * 4),
        r"0 elements 'vertex' and 1 'face'",
    ),
    "ply without y": (
        "part.ply",
        lambda: PLY_HEADER.replace(b"float y", b"float v") + PLY_VERTICES + b"3 0 1 2\n" * 4,
        r"'vertex' of 3 properties \(x, v, z\).*x, y, z",
    ),
    "ply of a broken list": (
        "part.ply",
        lambda: PLY_BINARY.replace(b"list", b"lost") + bytes(48 + 13 * 4),
        r"line 8 of the PLY header is 'property lost uchar",
    ),
    "ply of more than there can be": (
        "part.ply",
        lambda: PLY_BINARY.replace(b"vertex 4", b"vertex 99999999999") + bytes(100),
        r"100 bytes.*at least 1199999999988 bytes",
    ),
    "ply of a list of less than nothing": (
        "part.ply",
        lambda: PLY_BINARY.replace(b"uchar", b"char") + bytes(48) + b"\xff" + bytes(51),
        r"a list of -1 items in 'face'",
    ),
    "ply of a list that runs out of the file": (
        "part.ply",
        lambda: PLY_BINARY + bytes(48) + struct.pack("<B3i", 3, 0, 1, 2) * 3 + b"\xff" + bytes(12),
        r"100 bytes.*at least 1108 bytes",
    ),
    "ply of no format": (
        "part.ply", lambda: PLY_HEADER.replace(b"ascii 1.0", b"ascii"), r"line 2 of the PLY header"
    ),
    "ply of a point far away in other order": (
        "part.ply",
        lambda: PLY_BINARY.replace(b"float x", b"float u").replace(b"float z", b"float x\n"
        b"property float z") + struct.pack("<16f", *[1e30, 0, 0, 0] * 3, 0, 0, 1e30, 0)
        + struct.pack("<B3i", 3, 0, 1, 2) * 4,
        r"vertex 3 .* at \(1e\+30, 0, 0\)",
    ),
    "ply cut short": ("part.ply", lambda: PLY_HEADER + PLY_VERTICES, r"4 lines.*8 lines"),
    "ply with a word": (
        "part.ply",
        lambda: PLY_HEADER.replace(b"face 4", b"face 1")
        + PLY_VERTICES.replace(b"90 0 0", b"90 0 O") + b"3 0 1 2\n",
        r"'O' in line 11: '90 0 O'",
    ),
    "ply NaN": (
        "part.ply",
        lambda: PLY_HEADER.replace(b"face 4", b"face 1") + PLY_VERTICES[:-3] + b"nan\n3 0 1 2\n",
        r"vertex 3 .*nan",
    ),
    "binary ply cut short": (
        "part.ply",
        lambda: PLY_BINARY + struct.pack("<12f", *range(12)),
        r"48 bytes.*at least 52 bytes",
    ),
    "binary ply with corners that are none": (
        "part.ply",
        lambda: PLY_BINARY + struct.pack("<12f", *range(12)) + struct.pack("<B3i", 3, 0, 1, 9) * 4,
        r"0 faces.*counts 4",
    ),
}  # fmt: skip


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A folder for the output to be made in, with something in it."""
    folder = tmp_path / "place"
    folder.mkdir()
    (folder / "note.txt").write_text("mine")
    return folder


def refused(code: int, output: tuple[str, str], pattern: str) -> None:
    """One message, with numbers, on standard error; nothing on standard output."""
    out, err = output
    assert out == ""
    assert "Traceback" not in err
    lines = [line for line in err.splitlines() if not re.fullmatch(r"[a-z ]+ \d+\.\d\d s", line)]
    assert len(lines) == 1, err
    assert re.search(pattern, lines[0]), lines[0]
    if code == 1:
        assert re.fullmatch(r"borewright: found: .*\d.*; needed: .*; try: .+", lines[0]), lines[0]


@pytest.mark.parametrize("case", BAD_FILES)
def test_a_bad_file_is_refused_and_nothing_is_touched(
    case: str, place: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    name, content, pattern = BAD_FILES[case]
    part = tmp_path / name
    part.write_bytes(content())
    before, data = tree(place), blender_data()
    assert main(["split", str(part), *ENVELOPE, "--out", str(place / "out")]) == 1
    refused(1, capfd.readouterr(), pattern)
    assert tree(place) == before
    assert blender_data() == data


def test_a_missing_file_is_refused(place: Path, capfd: pytest.CaptureFixture[str]) -> None:
    before = tree(place)
    part = str(place / "none.stl")
    assert main(["split", part, *ENVELOPE, "--out", str(place / "out")]) == 1
    refused(1, capfd.readouterr(), r"cannot be read.*error 2")
    assert tree(place) == before


def test_a_name_that_the_file_system_refuses_is_told(
    place: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", str(place / ("x" * 300 + ".stl")), *ENVELOPE]) == 1
    refused(1, capfd.readouterr(), r"cannot be read.*error \d+")


def test_a_folder_is_refused(place: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (place / "part.stl").mkdir()
    before = tree(place)
    assert main(["plan", str(place / "part.stl"), *ENVELOPE]) == 1
    refused(1, capfd.readouterr(), r"1 folder.*1 mesh file")
    assert tree(place) == before


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs pipes with a name")
def test_a_pipe_is_refused_and_not_waited_for(
    place: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    os.mkfifo(place / "part.stl")
    assert main(["plan", str(place / "part.stl"), *ENVELOPE]) == 1
    refused(1, capfd.readouterr(), r"1 pipe.*1 file")


def test_links_that_lead_in_a_circle_are_told(
    tube_stl: Path, place: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (place / "one.stl").symlink_to("two.stl")
    (place / "two.stl").symlink_to("one.stl")
    loop = str(place / "one.stl")
    assert main(["plan", loop, *ENVELOPE]) == 1
    refused(1, capfd.readouterr(), r"cannot be read.*error \d+")
    assert main(["split", str(tube_stl), *ENVELOPE, "--out", loop]) == 1
    refused(1, capfd.readouterr(), r"1 file in the place of a folder")


WRONG_ARGUMENTS = {
    "none": ([], r"required"),
    "unknown command": (["trial", "a.stl"], r"invalid choice: 'trial'"),
    "later command": (["profile"], r"invalid choice: 'profile'"),
    "no envelope": (["split", "a.stl", "--out", "x"], r"required: --envelope"),
    "no out": (["split", "a.stl", *ENVELOPE], r"required: --out"),
    "no part": (["plan", *ENVELOPE], r"required: PART"),
    "two parts": (["plan", "a.stl", "b.stl", *ENVELOPE], r"found 2 parts; needed: 1"),
    "unknown option": (["plan", "a.stl", *ENVELOPE, "--bogus"], r"--bogus"),
    "later option": (["plan", "a.stl", *ENVELOPE, "--fit", "glue"], r"--fit"),
    "shortened option": (["plan", "a.stl", *ENVELOPE, "--clear", "0.1"], r"--clear"),
    "flat envelope": (["plan", "a.stl", "--envelope", "180x180"], r"found 2 lengths"),
    "no number": (["plan", "a.stl", "--envelope", "180xax180"], r"found 'a'"),
    "negative envelope": (["plan", "a.stl", "--envelope", "180x-3x180"], r"'-3'.*from 1 to 10000"),
    "endless envelope": (["plan", "a.stl", "--envelope", "180xinfx180"], r"'inf'"),
    "NaN envelope": (["plan", "a.stl", "--envelope", "nanx180x180"], r"'nan'"),
    "clearance": (["plan", "a.stl", *ENVELOPE, "--clearance", "1.01"], r"'1\.01'.*from 0 to 1"),
    "engagement": (["plan", "a.stl", *ENVELOPE, "--engagement", "0"], r"'0'.*from 1 to 100"),
    "guard": (["plan", "a.stl", *ENVELOPE, "--guard", "-0.5"], r"'-0\.5'.*from 0 to 100"),
    "max-move": (["plan", "a.stl", *ENVELOPE, "--max-move", "nan"], r"'nan'"),
    "least-wall": (["plan", "a.stl", *ENVELOPE, "--least-wall", "0"], r"'0'.*from 0\.2 to 20"),
    "bore": (["plan", "a.stl", *ENVELOPE, "--bore", "0"], r"'0'.*from 0\.5 to 1000"),
    "cut": (["plan", "a.stl", *ENVELOPE, "--cut", "0"], r"'0'.*from 0\.001 to 10000"),
    "pieces": (["plan", "a.stl", *ENVELOPE, "--pieces", "0"], r"'0'.*from 1 to 100"),
    "a name in no alphabet": (["plan", "a\udcff.stl", *ENVELOPE], r"udcff.*character 2"),
    "half a piece": (["plan", "a.stl", *ENVELOPE, "--pieces", "2.5"], r"'2\.5'"),
    "true": (["plan", "a.stl", *ENVELOPE, "--true", "all"], r"invalid choice: 'all'"),
    "units": (["plan", "a.stl", *ENVELOPE, "--units", "ft"], r"invalid choice: 'ft'"),
}


@pytest.mark.parametrize("case", WRONG_ARGUMENTS)
def test_wrong_arguments_are_told_in_one_line(case: str, capfd: pytest.CaptureFixture[str]) -> None:
    argv, pattern = WRONG_ARGUMENTS[case]
    assert main(argv) == 2
    refused(2, capfd.readouterr(), r"error 2, wrong arguments: .*" + pattern)


@pytest.mark.parametrize("command", [[], ["split"], ["plan"]])
def test_help_ends_with_0(command: list[str], capfd: pytest.CaptureFixture[str]) -> None:
    assert main([*command, "--help"]) == 0
    out, err = capfd.readouterr()
    assert out.startswith("usage: borewright")
    assert "PART ..." not in out
    assert "[PART" not in out
    assert err == ""


def unwritable_places(place: Path) -> dict[str, Path]:
    (place / "file").write_text("x")
    (place / "full").mkdir()
    (place / "full" / "other.txt").write_text("theirs")
    return {
        "parent is a file": place / "file" / "out",
        "parent is missing": place / "missing" / "out",
        "is a file": place / "file",
        "is not empty": place / "full",
    }


@pytest.mark.parametrize(
    "case", ["parent is a file", "parent is missing", "is a file", "is not empty"]
)
def test_a_place_that_cannot_be_written_is_told_before_the_part_is_read(
    case: str, place: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    out = unwritable_places(place)[case]
    before = tree(place)
    assert main(["split", str(place / "none.stl"), *ENVELOPE, "--out", str(out)]) == 1
    refused(1, capfd.readouterr(), re.escape(str(out.parent)))
    assert tree(place) == before


def test_the_working_folder_is_not_replaced_under_the_shell(
    place: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(place)
    assert main(["split", "none.stl", *ENVELOPE, "--out", ".", "--overwrite"]) == 1
    refused(1, capfd.readouterr(), r"1 folder that this runs in")


def test_a_file_system_that_refuses_is_told(
    tube_stl: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    if not Path("/proc/self").is_dir():
        pytest.skip("needs a file system that nobody can write to")
    assert main(["split", str(tube_stl), *ENVELOPE, "--out", "/proc/out", "--quiet"]) == 1
    refused(1, capfd.readouterr(), r"/proc.*\(error \d+\)")


def test_a_part_that_cannot_be_cut_leaves_no_trace(
    tube_stl: Path, place: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    before = tree(place)
    argv = ["split", str(tube_stl), "--envelope", "20x20x180", "--out", str(place / "out")]
    assert main(argv) == 1
    refused(1, capfd.readouterr(), r"\d")
    assert tree(place) == before


@pytest.fixture(scope="session")
def job(tube_stl: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The output of a job that was done."""
    out = tmp_path_factory.mktemp("job") / "out"
    assert main(["split", str(tube_stl), *JOB, "--out", str(out), "--quiet"]) == 0
    return out


def test_a_job_leaves_these_files_and_no_others(job: Path) -> None:
    names = ["job.json", "pipe-01.stl", "pipe-02.stl", "timings.json"]
    assert sorted(tree(job)) == names
    assert [path.name for path in job.parent.iterdir()] == ["out"]


def test_timings_are_seconds(job: Path) -> None:
    timings = json.loads((job / "timings.json").read_text())
    assert list(timings) == ["import_s", "core_s", "export_s"]
    assert all(0.0 < seconds < 60.0 for seconds in timings.values())


@pytest.mark.parametrize(("where", "name", "counted"), [
    ("addon.headless", "import_mesh", "import_s"), ("addon.headless", "choose_unit", "core_s"),
    ("core.job", "mend_bodies", "core_s"), ("core.job", "check_proofs", "core_s"),
    ("addon.headless", "export_stl", "export_s"),
])  # fmt: skip
def test_the_unit_and_mending_count_as_core(
    where: str, name: str, counted: str, tube_stl: Path, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    module = importlib.import_module(f"borewright.{where}")
    real = getattr(module, name)

    def slowly(*values: object) -> object:
        time.sleep(1.0)
        return real(*values)

    monkeypatch.setattr(module, name, slowly)
    out = tmp_path / "out"
    assert main(["split", str(tube_stl), *JOB, "--out", str(out), "--quiet"]) == 0
    timings = json.loads((out / "timings.json").read_text())
    assert max(timings, key=timings.__getitem__) == counted
    assert timings[counted] >= 1.0


def test_the_record_lists_the_files_as_they_are(job: Path, tube_stl: Path) -> None:
    record = json.loads((job / "job.json").read_text())
    assert record["schema"] == "borewright.job/1"
    (part,) = record["parts"]
    assert part["source"] == {
        "file": "pipe.stl", "sha256": hashlib.sha256(tube_stl.read_bytes()).hexdigest(),
        "triangles": len(plain_tube().mesh.faces), "unit": "mm", "scale_to_mm": 1.0,
    }  # fmt: skip
    assert [piece["file"] for piece in part["pieces"]] == ["pipe-01.stl", "pipe-02.stl"]
    for piece in part["pieces"]:
        data = (job / piece["file"]).read_bytes()
        assert piece["sha256"] == hashlib.sha256(data).hexdigest()
        mesh = trimesh.load_mesh(job / piece["file"])
        assert len(data) == 84 + 50 * len(mesh.faces)
        assert np.allclose(piece["size"], mesh.extents, atol=1e-6)
        assert np.isclose(piece["volume"], mesh.volume, rtol=1e-6)
        assert np.isclose(piece["mass_g"], mesh.volume * 1.24e-3, rtol=1e-6)
        turn = np.array(piece["to_source"])[:3, :3]
        assert np.allclose(turn @ turn.T, np.eye(3), atol=1e-12)


def test_the_same_input_and_options_give_the_same_bytes(
    job: Path, tube_stl: Path, place: Path
) -> None:
    out = place / "again"
    assert main(["split", str(tube_stl), *JOB, "--out", str(out), "--quiet"]) == 0
    first, second = tree(job), tree(out)
    first.pop("timings.json")
    second.pop("timings.json")
    assert first == second


def test_progress_is_a_line_a_stage_and_the_table_is_on_standard_output(
    tube_stl: Path, place: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert main(["split", str(tube_stl), *JOB, "--out", str(place / "out")]) == 0
    out, err = capfd.readouterr()
    assert [line.rsplit(" ", 2)[0] for line in err.splitlines()] == STAGES
    assert out.startswith("pipe: 2 pieces for an envelope of 180 x 180 x 180 mm\n")
    for heading in ("Survey", "Cuts", "Joints", "Pieces", "Proofs"):
        assert f"\n{heading}\n" in out
    assert max(map(len, out.splitlines())) <= 100
    assert out.isascii()


def test_quiet_and_json_print_the_record_alone(
    tube_stl: Path, place: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    argv = ["split", str(tube_stl), *JOB, "--out", str(place / "out"), "--quiet", "--json"]
    assert main(argv) == 0
    out, err = capfd.readouterr()
    assert err == ""
    assert out == (place / "out" / "job.json").read_text()


def test_plan_writes_nothing_and_tells_the_same_cuts(
    tube_stl: Path, job: Path, place: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    before = tree(place), tree(tube_stl.parent)
    assert main(["plan", str(tube_stl), *JOB, "--json"]) == 0
    planned = json.loads(capfd.readouterr().out)
    done = json.loads((job / "job.json").read_text())
    assert planned["parts"][0]["cuts"] == done["parts"][0]["cuts"]
    assert planned["parts"][0]["joints"] == done["parts"][0]["joints"]
    assert planned["parts"][0]["pieces"] == []
    assert (tree(place), tree(tube_stl.parent)) == before


def test_a_file_in_metres_is_told_and_gives_the_same_pieces(
    job: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    plain_tube(unit=1000.0).save(tmp_path / "pipe.stl")
    part, out = str(tmp_path / "pipe.stl"), tmp_path / "out"
    assert main(["split", part, *JOB, "--out", str(out), "--json"]) == 0
    record = json.loads(capfd.readouterr().out)
    source = record["parts"][0]["source"]
    assert (source["unit"], source["scale_to_mm"]) == ("m", 1000.0)
    assert record["warnings"] == ["Read in m: about 300 mm long and 26 mm across."]
    assert json.loads((job / "job.json").read_text())["warnings"] == []
    for name in ("pipe-01.stl", "pipe-02.stl"):
        one, other = trimesh.load_mesh(job / name), trimesh.load_mesh(out / name)
        assert np.allclose(one.bounds, other.bounds, atol=1e-3)


def test_faces_that_the_import_leaves_out_are_told(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    corners = tube_corners()
    part = tmp_path / "pipe.stl"
    part.write_bytes(stl_bytes(np.concatenate([corners, corners[:2]])))
    assert main(["plan", str(part), *JOB, "--json", "--quiet"]) == 0
    (warning,) = json.loads(capfd.readouterr().out)["warnings"]
    assert warning.startswith(f"2 of {len(corners) + 2} faces of the file were left out")


def test_settings_are_recorded_as_used(tube_stl: Path, capfd: pytest.CaptureFixture[str]) -> None:
    options = ["--clearance", "0.2", "--engagement", "9", "--guard", "3", "--max-move", "0.05",
               "--true", "bore", "--least-wall", "0.9", "--units", "mm", "--cut", "150",
               "--pieces", "2", "--flip", "--bore", "19.05"]  # fmt: skip
    assert main(["plan", str(tube_stl), *ENVELOPE, *options, "--json", "--quiet"]) == 0
    assert json.loads(capfd.readouterr().out)["settings"] == {
        "envelope": [180.0, 180.0, 180.0], "clearance": 0.2, "engagement": 9.0, "guard": 3.0,
        "max_move": 0.05, "true": "bore", "least_wall": 0.9, "units": "mm", "cut": [150.0],
        "pieces": 2, "flip": True, "bore": 19.05,
    }  # fmt: skip


@pytest.mark.parametrize("ending", ["obj", "ply", "ascii ply", "ascii stl"])
def test_other_kinds_of_file_give_the_same_pieces(ending: str, job: Path, tmp_path: Path) -> None:
    """STL holds float32; the text files are written with enough digits for the same."""
    mesh = plain_tube().mesh
    mesh.vertices = mesh.vertices.astype(np.float32)
    part = tmp_path / f"pipe.{ending.rsplit(maxsplit=1)[-1]}"
    match ending:
        case "obj":
            part.write_text(trimesh.exchange.obj.export_obj(mesh, digits=12))
        case "ascii stl":
            part.write_text(trimesh.exchange.stl.export_stl_ascii(mesh))
        case _:
            text = "ascii" if "ascii" in ending else "binary"
            part.write_bytes(trimesh.exchange.ply.export_ply(mesh, encoding=text))
    out = tmp_path / "out"
    assert main(["split", str(part), *JOB, "--out", str(out), "--quiet"]) == 0
    for name in ("pipe-01.stl", "pipe-02.stl"):
        one, other = trimesh.load_mesh(job / name), trimesh.load_mesh(out / name)
        assert np.isclose(one.volume, other.volume, rtol=1e-5)
        assert np.allclose(one.bounds, other.bounds, atol=2e-4)


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
    assert sorted(tree(pair)) == ["job.json", *names, "timings.json"]
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
    refused(1, capfd.readouterr(), r"0\.25")
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


def run(*command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *command], cwd=folder, capture_output=True, text=True, timeout=120,
        check=False, env=os.environ,
    )  # fmt: skip


def test_python_m_borewright_is_the_same_command(tube_stl: Path, job: Path, place: Path) -> None:
    done = run("-m", "borewright", "split", str(tube_stl), *JOB, "--out", "out", folder=place)
    assert done.returncode == 0, done.stderr
    assert (place / "out" / "job.json").read_bytes() == (job / "job.json").read_bytes()
    wrong = run("-m", "borewright", "split", "none.stl", *JOB, "--out", "two", folder=place)
    assert (wrong.returncode, wrong.stdout) == (1, "")
    assert run("-m", "borewright", "split", folder=place).returncode == 2


def test_a_background_script_reaches_the_installed_extension(
    installed: str, tube_stl: Path, job: Path, place: Path
) -> None:
    """README's line, with Blender's module in the place of Blender."""
    line = (
        f"import sys; from {installed}.addon.command import main; "
        "sys.exit(main(sys.argv[sys.argv.index('--') + 1:]))"
    )
    arguments = ["--", "split", str(tube_stl), *JOB, "--out", "out"]
    script = f"import bpy, addon_utils; addon_utils.enable({installed!r}); " + line
    done = run("-c", script, *arguments, folder=place)
    assert done.returncode == 0, done.stderr
    assert (place / "out" / "job.json").read_bytes() == (job / "job.json").read_bytes()


class Deaf(io.StringIO):
    """A stream that takes nothing, as a pipe whose reader has gone."""

    def write(self, text: str) -> int:
        raise BrokenPipeError(32, "Broken pipe", text[:0] or None)


@pytest.mark.parametrize(("command", "code"), [("split", 0), ("plan", 1)])
def test_standard_output_that_takes_no_text_is_told_and_the_pieces_are_there(
    command: str, code: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    part = tmp_path / "part.stl"
    part.write_bytes(stl_bytes(tube_corners()))
    monkeypatch.setattr(sys, "stdout", Deaf())
    assert main([command, str(part), *ENVELOPE, "--out", str(tmp_path / "out")]) == code
    assert "standard output takes no text" in capfd.readouterr().err
    assert (tmp_path / "out").exists() == (command == "split")


def test_letters_that_standard_output_does_not_have_are_spelt_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    part = tmp_path / "flöte.stl"
    part.write_bytes(stl_bytes(tube_corners()))
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="ascii"))
    assert main(["plan", str(part), *ENVELOPE, "--quiet"]) == 0
    assert b"fl\\xf6te" in raw.getvalue()


def test_a_stop_by_the_person_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    from borewright.addon import headless

    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    part = tmp_path / "part.stl"
    part.write_bytes(stl_bytes(tube_corners()))
    monkeypatch.setattr(headless, "split_parts", stop)
    assert main(["split", str(part), *ENVELOPE, "--out", str(tmp_path / "out")]) == 130
    assert "stopped; 0 files" in capfd.readouterr().err
    assert not (tmp_path / "out").exists()


TOLD_TO_STOP = """
import os, signal, sys
from borewright.addon import headless
from borewright.addon.command import main

def stop(*_):
    os.kill(os.getpid(), signal.SIGTERM)

headless.export_stl = stop
code = main(sys.argv[1:])
assert signal.getsignal(signal.SIGTERM) == signal.SIG_DFL
sys.exit(code)
"""


@pytest.mark.skipif(os.name != "posix", reason="asks a process to end the POSIX way")
def test_a_job_that_the_system_stops_while_it_saves_leaves_no_trace(
    tube_stl: Path, place: Path
) -> None:
    before = tree(place)
    done = run("-c", TOLD_TO_STOP, "split", str(tube_stl), *JOB, "--out", "out", folder=place)
    assert (done.returncode, done.stdout) == (143, "")
    assert done.stderr.endswith("borewright: told to stop; 0 files written\n")
    assert tree(place) == before
