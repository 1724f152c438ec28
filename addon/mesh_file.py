"""Is a mesh file whole? Checked on its bytes, before Blender reads it.

Blender's importers call a truncated file finished, read words as zeros and drop
what they cannot place, all without an error; so size, counts and coordinates
are checked here first.
"""

from __future__ import annotations

import hashlib
import re
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..core.errors import CoreError

FloatArray = NDArray[np.float64]
Kind = Literal["stl", "obj", "ply"]

MOST_COORDINATE = 1e7
"""Ten kilometres in mm: beyond it float32 cannot hold a wall."""

_STL_HEADER, _STL_TRIANGLE = 84, 50
_STL_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_SOME_TRIANGLES = 1 << 15
_MOST_BLANK = 4096
"""Bytes in which a text file's first or last word is looked for."""

_BYTE_ORDER_MARK = b"\xef\xbb\xbf"
_STL_KEYWORD = re.compile(rb"(?im)^[ \t]*(facet|outer|vertex|endloop|endfacet)\b")
_STL_VERTEX = re.compile(rb"(?m)^[ \t]*vertex[ \t]([^\r\n]*)")
_OBJ_VERTEX = re.compile(rb"(?m)^[ \t]*v[ \t]+([^\r\n]*)")
_OBJ_FACE = re.compile(rb"(?m)^[ \t]*f[ \t]")
_PLY_VERTEX = re.compile(rb"(?m)^([^\r\n]*\S[^\r\n]*)")
_PLY_KINDS = {
    "char": "i1", "uchar": "u1", "int8": "i1", "uint8": "u1",
    "short": "i2", "ushort": "u2", "int16": "i2", "uint16": "u2",
    "int": "i4", "uint": "u4", "int32": "i4", "uint32": "u4", "float": "f4", "float32": "f4",
    "double": "f8", "float64": "f8",
}  # fmt: skip


class BadFile(CoreError):
    """The file is missing, is no mesh file, is cut short or contradicts itself."""


@dataclass(frozen=True, slots=True)
class MeshFile:
    """A mesh file that passed its checks.

    faces : as many as the file says it holds; triangles, in STL
    """

    path: Path
    kind: Kind
    sha256: str
    faces: int


def check_mesh_file(path: Path) -> MeshFile:
    """The file's kind, hash and count of faces.

    Raises
    ------
    BadFile : missing, a folder, empty, of another kind, cut short, with counts
        that contradict its size, or with coordinates that are no numbers
    """
    kind = _kind(path)
    data = _read(path)
    faces = {"stl": _check_stl, "obj": _check_obj, "ply": _check_ply}[kind](data)
    if faces == 0:
        raise BadFile(f"0 faces in {path.name}", "a closed surface", "export the part again")
    return MeshFile(path, kind, hashlib.sha256(data).hexdigest(), faces)


def stl_corners(data: bytes) -> NDArray[np.float32]:
    """(n, 3, 3) corners of a binary STL's triangles, in the file's order.

    Raises
    ------
    BadFile : the size contradicts the header
    """
    count = int.from_bytes(data[80:84], "little")
    needed = _STL_HEADER + _STL_TRIANGLE * count
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
    raise BadFile(
        f"1 file that ends in {path.suffix or 'nothing'!r}: {path.name}",
        "1 that ends in .stl, .obj or .ply",
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
        _check_coordinates(corners.reshape(-1, 3), per_triangle=True)
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
    _check_keywords(data, ends)
    last = data[-_MOST_BLANK:].rstrip().rsplit(b"\n", 1)[-1].split()
    if [word.lower() for word in last[:1]] != [b"endsolid"]:
        raise BadFile(
            f"{ends} whole triangles and then no 'endsolid'",
            "a last line of 'endsolid'",
            "export or copy the file again: it was cut short",
        )
    corners = _numbers(data, _STL_VERTEX, width=3)
    if len(corners) != 3 * ends:
        raise BadFile(
            f"{len(corners)} vertices in {ends} triangles",
            f"{3 * ends} vertices, 3 a triangle, each in a line of its own",
            "export the part again",
        )
    _check_coordinates(corners, per_triangle=True)
    return ends


def _check_keywords(data: bytes, ends: int) -> None:
    """Blender reads keywords in small letters only, and nothing where they are in capitals."""
    if ends and ends == data.lower().count(b"endfacet"):
        return
    for found in _STL_KEYWORD.finditer(data):
        if not found[1].islower():
            raise BadFile(
                f"{found[1].decode()!r} in line {_line_number(data, found.start(1))}",
                f"keywords in small letters, as in {found[1].lower().decode()!r}",
                "export the part again, as binary STL",
            )


def _check_obj(data: bytes) -> int:
    first = _OBJ_VERTEX.search(data)
    faces = len(_OBJ_FACE.findall(data))
    if first is None or not faces:
        vertices = len(_OBJ_VERTEX.findall(data))
        raise BadFile(
            f"{vertices} vertices and {faces} faces",
            "at least 4 of each",
            "export the part again",
        )
    numbers = _numbers(data, _OBJ_VERTEX, width=max(3, len(first[1].split())))
    _check_coordinates(numbers[:, :3], per_triangle=False)
    return faces


@dataclass(frozen=True, slots=True)
class _PlyElement:
    """One element of a PLY header.

    scalars : numpy's code of each plain property, in order
    lists : (bytes of the count, bytes of an item) of each list property
    """

    name: str
    count: int
    scalars: tuple[str, ...]
    lists: tuple[tuple[int, int], ...]

    @property
    def least_size(self) -> int:
        """Bytes of all of it, were every list of three items."""
        lists = sum(count + 3 * item for count, item in self.lists)
        return self.count * (sum(int(code[1:]) for code in self.scalars) + lists)


def _check_ply(data: bytes) -> int:
    header, body = _ply_halves(data)
    elements = _ply_elements(header)
    faces = sum(element.count for element in elements if element.name == "face")
    if b"format ascii" in header:
        _check_ascii_ply(body, elements, header.count(b"\n") + 1)
        return faces
    needed = sum(element.least_size for element in elements)
    if len(body) < needed:
        raise BadFile(
            f"{len(body)} bytes after the header, which counts {faces} faces",
            f"at least {needed} bytes",
            "export or copy the file again: it was cut short",
        )
    first = elements[0] if elements else None
    if first and first.name == "vertex" and not first.lists and len(first.scalars) >= 3:
        order = ">" if b"big_endian" in header else "<"
        fields = [(f"property {k}", order + code) for k, code in enumerate(first.scalars)]
        vertices = np.frombuffer(body, np.dtype(fields), first.count)
        points = [vertices[name].astype(np.float64) for name, _ in fields[:3]]
        _check_coordinates(np.column_stack(points), per_triangle=False)
    return faces


def _ply_halves(data: bytes) -> tuple[bytes, bytes]:
    end = re.search(rb"(?m)^end_header[ \t]*\r?\n", data)
    if not data.startswith(b"ply") or end is None:
        raise BadFile(
            f"{len(data)} bytes without a PLY header",
            "a first line 'ply' and a line 'end_header'",
            "export the part again",
        )
    return data[: end.start()], data[end.end() :]


def _ply_elements(header: bytes) -> list[_PlyElement]:
    elements: list[_PlyElement] = []
    for number, line in enumerate(header.decode("latin-1").splitlines(), 1):
        words = line.split()
        try:
            match words:
                case ["element", name, count]:
                    elements.append(_PlyElement(name, int(count), (), ()))
                case ["property", "list", count, item, _]:
                    last = elements.pop()
                    sizes = (int(_PLY_KINDS[count][1:]), int(_PLY_KINDS[item][1:]))
                    elements.append(
                        _PlyElement(last.name, last.count, last.scalars, (*last.lists, sizes))
                    )
                case ["property", kind, _]:
                    last = elements.pop()
                    scalars = (*last.scalars, _PLY_KINDS[kind])
                    elements.append(_PlyElement(last.name, last.count, scalars, last.lists))
        except (KeyError, ValueError, IndexError):
            raise BadFile(
                f"line {number} of the PLY header is {line!r}",
                "an element with its count, or a property of a known kind",
                "export the part again",
            ) from None
    return elements


def _check_ascii_ply(body: bytes, elements: list[_PlyElement], before: int) -> None:
    """`before` : lines of the header."""
    lines = [line for line in body.splitlines() if line.strip()]
    needed = sum(element.count for element in elements)
    if len(lines) != needed:
        raise BadFile(
            f"{len(lines)} lines after the header, which counts {needed}",
            f"{needed} lines",
            "export or copy the file again",
        )
    first = elements[0] if elements else None
    if first and first.name == "vertex" and not first.lists:
        vertices = b"\n".join(lines[: first.count])
        numbers = _numbers(vertices, _PLY_VERTEX, width=len(first.scalars), before=before)
        _check_coordinates(numbers[:, :3], per_triangle=False)


def _numbers(data: bytes, line: re.Pattern[bytes], *, width: int, before: int = 0) -> FloatArray:
    """(n, width) numbers of all lines of a kind.

    line : its first group is what follows the keyword
    before : lines of the file that are not in the data

    Raises
    ------
    BadFile : a line has a word for a number, or another count of them
    """
    rows = line.findall(data)
    numbers = _parsed(b" nan ".join([*rows, b""]))  # a nan where each row ends
    if numbers is not None and len(numbers) == (width + 1) * len(rows):
        table = numbers.reshape(-1, width + 1)
        if np.isnan(table[:, -1]).all():
            return table[:, :-1]
    for found in line.finditer(data):
        words = found[1].split()
        odd = [word for word in words if _parsed(word) is None]
        if odd or len(words) != width:
            what = repr(odd[0].decode("latin-1")) if odd else f"{len(words)} numbers"
            raise BadFile(
                f"{what} in line {before + _line_number(data, found.start(1))}: "
                f"{found[0].strip().decode('latin-1')[:60]!r}",
                f"{width} numbers in that line",
                "export the part again",
            )
    raise AssertionError("lines that are wrong together and right alone")


def _parsed(text: bytes) -> FloatArray | None:
    """Numbers parted by blanks; nothing where a word is no number."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", DeprecationWarning)
        try:
            return np.fromstring(text.decode("latin-1"), np.float64, sep=" ")
        except (ValueError, DeprecationWarning):
            return None


def _line_number(data: bytes, place: int) -> int:
    return data.count(b"\n", 0, place) + 1


def _check_coordinates(points: FloatArray | NDArray[np.float32], *, per_triangle: bool) -> None:
    good = np.isfinite(points) & (np.abs(points) <= MOST_COORDINATE)
    if good.all():
        return
    wrong = int(np.flatnonzero(~good.all(axis=1))[0])
    where = f"corner {wrong % 3} of triangle {wrong // 3}" if per_triangle else f"vertex {wrong}"
    raise BadFile(
        f"{where} (counted from 0) at ({', '.join(f'{x:g}' for x in points[wrong])})",
        f"finite coordinates, none over {MOST_COORDINATE:g}",
        "export the part again",
    )
