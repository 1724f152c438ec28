"""Blender's module with a user folder of its own, and the extension installed in it.

Sizes are in mm and the parts' truth is what made them; nothing here is published.
"""

from __future__ import annotations

import atexit
import os
import re
import shutil
import struct
import tempfile
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import trimesh
from borewright.addon.command_line.command import main
from numpy.typing import NDArray

from tests.parts import plain_tube

_USER_FOLDER = tempfile.mkdtemp(prefix="borewright-test-")
atexit.register(shutil.rmtree, _USER_FOLDER, ignore_errors=True)
os.environ["BLENDER_USER_RESOURCES"] = _USER_FOLDER

import bpy  # noqa: E402 - after its folder is set

ROOT = Path(__file__).resolve().parents[2]
EXTENSION = "bl_ext.user_default.borewright"

ENVELOPE = ["--envelope", "180x180x180"]
JOB = [*ENVELOPE, "--engagement", "11"]
"""Half of this tube's joint diameter is 11.25, midway between two steps of engagement."""


def blender_data() -> dict[str, list[str]]:
    """Names of all that an importer could leave behind."""
    kinds = ("objects", "meshes", "materials", "collections", "images", "scenes", "curves")
    return {kind: [data.name for data in getattr(bpy.data, kind)] for kind in kinds}


def stl_bytes(corners: NDArray[np.float64], *, count: int | None = None) -> bytes:
    """A binary STL by its layout: 80 bytes, a count, 50 bytes a triangle."""
    body = b"".join(struct.pack("<12fH", 0, 0, 0, *triangle.ravel(), 0) for triangle in corners)
    return b"\0" * 80 + struct.pack("<I", len(corners) if count is None else count) + body


@pytest.fixture(scope="session")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The extension's archive, built and validated by Blender's own tool."""
    from bl_pkg import bl_extension_cli

    folder = tmp_path_factory.mktemp("archive")
    blender = bl_extension_cli.cli_extension_handler
    assert blender(["build", "--source-dir", str(ROOT), "--output-dir", str(folder)]) == 0
    (built,) = folder.glob("*.zip")
    assert blender(["validate", str(built)]) == 0
    return built


@pytest.fixture(scope="session")
def installed(archive: Path) -> str:
    """Name of the module of the installed extension, not enabled."""
    bpy.ops.extensions.package_install_files(
        filepath=str(archive), repo="user_default", enable_on_install=False
    )
    return EXTENSION


@pytest.fixture
def extension(installed: str) -> Iterator[ModuleType]:
    """The extension enabled, in an empty scene."""
    import addon_utils

    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    module = addon_utils.enable(installed, default_set=True)
    yield module
    addon_utils.disable(installed, default_set=True)


def tree(folder: Path) -> dict[str, object]:
    """Every path under a folder, with its bytes."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
    }


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


def tube_corners() -> NDArray[np.float64]:
    mesh = plain_tube().mesh
    corners: NDArray[np.float64] = mesh.vertices[mesh.faces]
    return corners


def two_tubes(*more: trimesh.Trimesh) -> trimesh.Trimesh:
    """Tubes of 300 and of 240 side by side, upright, the smaller one first, and more."""
    small = plain_tube(length=240.0, bore=15.0, outside=23.0, pose=shifted(60.0)).mesh
    return trimesh.util.concatenate([small, plain_tube().mesh, *more])


def shifted(x: float) -> NDArray[np.float64]:
    pose = np.eye(4)
    pose[0, 3] = x
    return pose


@pytest.fixture(scope="session")
def tube_stl(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A tube 300 long, bore 19, outside 26, as binary STL in mm."""
    path = tmp_path_factory.mktemp("part") / "pipe.stl"
    plain_tube().save(path)
    return path


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A folder for the output to be made in, with something in it."""
    folder = tmp_path / "place"
    folder.mkdir()
    (folder / "note.txt").write_text("mine")
    return folder


@pytest.fixture(scope="session")
def job(tube_stl: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The output of a job that was done."""
    out = tmp_path_factory.mktemp("job") / "out"
    assert main(["split", str(tube_stl), *JOB, "--out", str(out), "--quiet"]) == 0
    return out
