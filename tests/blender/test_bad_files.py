"""Files and places that are refused, in words and without a trace."""

from __future__ import annotations

import os
import re
import struct
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from borewright.addon.command_line.command import main
from numpy.typing import NDArray

from tests.blender.conftest import (
    ENVELOPE,
    blender_data,
    refused,
    stl_bytes,
    tree,
    tube_corners,
)


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
    refused(1, capfd.readouterr(), r"cannot be read or written.*error \d+")


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
