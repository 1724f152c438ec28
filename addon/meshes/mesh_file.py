"""Is a mesh file whole? Checked on its bytes, before Blender reads it; 3MF it cannot read.

Blender's importers call a truncated file finished, read words as zeros and drop
what they cannot place, all without an error; so size, counts and coordinates
are checked here first.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ...core.errors import BadFile
from ...core.meshes.coordinates import MOST_COORDINATE, check_coordinates
from ...core.surveying.unit_guess import StatedUnit
from ...core.threemf.read_model import read_model
from ...core.values import Mesh
from .file_numbers import line_number, read_numbers
from .ply_check import check_ply

Kind = Literal["stl", "obj", "ply", "3mf"]

_STL_HEADER, _STL_TRIANGLE = 84, 50
_STL_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_SOME_TRIANGLES = 1 << 15
_MOST_BLANK = 4096
"""Bytes in which a text file's first or last word is looked for."""

_BYTE_ORDER_MARK = b"\xef\xbb\xbf"
# For texts with a line end put in front: it is found far faster than the start of a line.
_STL_KEYWORD = re.compile(rb"(?i)\n[ \t]*(facet|outer|vertex|endloop|endfacet)\b")
_STL_VERTEX = re.compile(rb"\n[ \t]*vertex[ \t]([^\r\n]*)")
_OBJ_VERTEX = re.compile(rb"\n[ \t]*v[ \t]+([^\r\n]*)")
_OBJ_FACE = re.compile(rb"\n[ \t]*f[ \t]")


@dataclass(frozen=True, slots=True, eq=False)
class MeshFile:
    """A mesh file that passed its checks.

    faces : as many as the file says it holds; triangles, in STL and 3MF
    unit : what the file says its unit is; of all kinds only 3MF does
    mesh : of a 3MF file, which is read whole to be checked; Blender reads the others
    remarks : what of the file was passed over
    """

    path: Path
    kind: Kind
    sha256: str
    faces: int
    unit: StatedUnit | None = None
    mesh: Mesh | None = None
    remarks: tuple[str, ...] = ()


def check_mesh_file(path: Path) -> MeshFile:
    """The file's kind, hash and count of faces.

    Raises
    ------
    BadFile : missing, a folder, empty, of another kind, cut short, with counts
        that contradict its size, or with coordinates that are no numbers; 3MF that
        `read_model` refuses
    """
    kind = _kind(path)
    data = _read(path)
    file = _checked_3mf(path, data) if kind == "3mf" else _checked(path, kind, data)
    if file.faces == 0:
        raise BadFile(f"0 faces in {path.name}", "a closed surface", "export the part again")
    return file


def _checked(path: Path, kind: Literal["stl", "obj", "ply"], data: bytes) -> MeshFile:
    with np.errstate(invalid="ignore"):  # numbers that are none are looked for
        faces = {"stl": _check_stl, "obj": _check_obj, "ply": check_ply}[kind](data)
    return MeshFile(path, kind, hashlib.sha256(data).hexdigest(), faces)


def _checked_3mf(path: Path, data: bytes) -> MeshFile:
    model = read_model(data)
    return MeshFile(
        path=path,
        kind="3mf",
        sha256=hashlib.sha256(data).hexdigest(),
        faces=len(model.mesh.triangles),
        unit=model.unit,
        mesh=model.mesh,
        remarks=model.remarks,
    )


def stl_size(triangles: int) -> int:
    """Bytes of a binary STL."""
    return _STL_HEADER + _STL_TRIANGLE * triangles


def stl_corners(data: bytes) -> NDArray[np.float32]:
    """(n, 3, 3) corners of a binary STL's triangles, in the file's order.

    Raises
    ------
    BadFile : the size contradicts the header
    """
    count = int.from_bytes(data[80:84], "little")
    needed = stl_size(count)
    if len(data) != needed:
        raise BadFile(
            f"{len(data)} bytes, where the header counts {count} triangles",
            f"{needed} bytes: {_STL_HEADER} and {_STL_TRIANGLE} a triangle",
            "export or copy the file again",
        )
    corners: NDArray[np.float32] = np.frombuffer(data, _STL_RECORD, offset=_STL_HEADER)["corners"]
    return corners


def _kind(path: Path) -> Kind:
    match path.suffix.lower():
        case ".stl":
            return "stl"
        case ".obj":
            return "obj"
        case ".ply":
            return "ply"
        case ".3mf":
            return "3mf"
    raise BadFile(
        f"1 file that ends in {path.suffix or 'nothing'!r}: {path.name}",
        "1 that ends in .stl, .obj, .ply or .3mf",
        "export the part as STL",
    )


def _read(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise BadFile(f"1 folder: {path}", "1 mesh file", "a file in that folder")
        if path.exists() and not path.is_file():
            raise BadFile(
                f"1 pipe or device, which might never end: {path}", "1 file on a disk",
                "save it to a file first",
            )  # fmt: skip
        data = path.read_bytes()
    except OSError as problem:
        raise BadFile(
            f"{path} cannot be read: {problem.strerror} (error {problem.errno})",
            "1 file that can be read",
            "another path, or the file's permissions",
        ) from None
    if not data:
        raise BadFile(f"{path} is empty: 0 bytes", "a mesh file", "export the part again")
    return data


def _check_stl(data: bytes) -> int:
    whole = len(data) == _STL_HEADER + _STL_TRIANGLE * int.from_bytes(data[80:84], "little")
    starts = data[:_MOST_BLANK].removeprefix(_BYTE_ORDER_MARK).lstrip()[:5].lower()
    if starts == b"solid" and not whole and b"\0" not in data:
        return _check_ascii_stl(data)
    if len(data) < _STL_HEADER:
        raise BadFile(
            f"{len(data)} bytes", f"at least {_STL_HEADER} bytes of header", "export the part again"
        )
    corners = stl_corners(data)
    if not _all_near(corners):
        check_coordinates(corners.reshape(-1, 3), per_triangle=True)
    return len(corners)


def _all_near(corners: NDArray[np.float32]) -> bool:
    """Whether each is a number in range; a little at a time, for the file may be large."""
    for start in range(0, len(corners), _SOME_TRIANGLES):
        some = corners[start : start + _SOME_TRIANGLES].reshape(-1)
        if not (some.max() <= MOST_COORDINATE and some.min() >= -MOST_COORDINATE):
            return False
    return True


def _check_ascii_stl(data: bytes) -> int:
    ends = data.count(b"endfacet")
    text = b"\n" + data
    _check_keywords(text, ends)
    last = data[-_MOST_BLANK:].rstrip().rsplit(b"\n", 1)[-1].split()
    if [word.lower() for word in last[:1]] != [b"endsolid"]:
        raise BadFile(
            f"{ends} whole triangles and then no 'endsolid'",
            "a last line of 'endsolid'",
            "export or copy the file again: it was cut short",
        )
    corners = read_numbers(text, _STL_VERTEX, width=3)
    if len(corners) != 3 * ends:
        raise BadFile(
            f"{len(corners)} vertices in {ends} triangles",
            f"{3 * ends} vertices, 3 a triangle, each in a line of its own",
            "export the part again",
        )
    check_coordinates(corners, per_triangle=True)
    return ends


def _check_keywords(text: bytes, ends: int) -> None:
    """Blender reads keywords in small letters only, and nothing where they are in capitals."""
    if ends and ends == text.lower().count(b"endfacet"):
        return
    for found in _STL_KEYWORD.finditer(text):
        if not found[1].islower():
            raise BadFile(
                f"{found[1].decode()!r} in line {line_number(text, found.start(1))}",
                f"keywords in small letters, as in {found[1].lower().decode()!r}",
                "export the part again, as binary STL",
            )


def _check_obj(data: bytes) -> int:
    text = b"\n" + data
    first = _OBJ_VERTEX.search(text)
    faces = len(_OBJ_FACE.findall(text))
    if first is None or not faces:
        vertices = len(_OBJ_VERTEX.findall(text))
        raise BadFile(
            f"{vertices} vertices and {faces} faces",
            "at least 4 of each",
            "export the part again",
        )
    numbers = read_numbers(text, _OBJ_VERTEX, width=max(3, len(first[1].split())))
    check_coordinates(numbers[:, :3], per_triangle=False)
    return faces
