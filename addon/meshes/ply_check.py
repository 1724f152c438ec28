"""Is a PLY file whole? Checked on its bytes: Blender allocates whatever the header counts."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from ...core.errors import BadFile
from ...core.meshes.coordinates import check_coordinates
from .file_numbers import read_numbers

_KINDS = {
    "char": "i1", "uchar": "u1", "int8": "i1", "uint8": "u1",
    "short": "i2", "ushort": "u2", "int16": "i2", "uint16": "u2",
    "int": "i4", "uint": "u4", "int32": "i4", "uint32": "u4", "float": "f4", "float32": "f4",
    "double": "f8", "float64": "f8",
}  # fmt: skip
_WHOLE_KINDS = {kind: code for kind, code in _KINDS.items() if code[0] != "f"}
_FORMATS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_OTHER_NAMES = {"vertex_index": "vertex_indices"}
_LINE = re.compile(rb"\n([^\r\n]+)")


@dataclass(frozen=True, slots=True)
class _Property:
    """One number, or a list of them.

    item : numpy's code of a number, with the file's byte order
    count : that of a list's length; none of a single number
    """

    name: str
    item: np.dtype[np.generic]
    count: np.dtype[np.generic] | None = None


@dataclass(frozen=True, slots=True)
class _Element:
    """One element of the header, and how many the file holds."""

    name: str
    count: int
    properties: tuple[_Property, ...] = ()

    @property
    def has_lists(self) -> bool:
        """Whether its records may be of several sizes."""
        return any(each.count is not None for each in self.properties)

    @property
    def least_size(self) -> int:
        """Bytes of all of it, were every list empty."""
        return self.count * sum((each.count or each.item).itemsize for each in self.properties)


def check_ply(data: bytes) -> int:
    """How many faces it holds.

    Raises
    ------
    BadFile : a header that says something unknown, another size than it counts, or
        coordinates that are no numbers
    """
    end = re.search(rb"(?m)^end_header[ \t]*\r?\n", data)
    if not data.startswith(b"ply") or end is None:
        raise BadFile(
            f"{len(data)} bytes without a PLY header",
            "a first line 'ply' and a line 'end_header'",
            "export the part again",
        )
    header, body = data[: end.start()], data[end.end() :]
    order, elements = _read_header(header.decode("latin-1"))
    _check_elements(elements)
    if order:
        _check_binary(body, elements)
    else:
        _check_text(body, elements, before=header.count(b"\n") + 1)
    return sum(element.count for element in elements if element.name == "face")


def _read_header(header: str) -> tuple[str, list[_Element]]:
    """The byte order, none of a text, and the elements."""
    order: str | None = None
    elements: list[_Element] = []
    for number, line in enumerate(header.split("\n"), 1):
        match line.split():
            case [] | ["ply"] | ["comment" | "obj_info", *_]:
                pass
            case ["format", kind, "1.0"] if kind in _FORMATS and order is None:
                order = _FORMATS[kind]
            case ["element", name, count] if count.isdecimal() and order is not None:
                elements.append(_Element(name, int(count)))
            case ["property", *said] if elements and (found := _property(said, order or "")):
                last = elements[-1]
                elements[-1] = _Element(last.name, last.count, (*last.properties, found))
            case _:
                raise BadFile(
                    f"line {number} of the PLY header is {line.strip()[:60]!r}",
                    "a format, then elements with their counts and properties of known kinds",
                    "export the part again",
                )
    if order is None:
        raise BadFile(
            "0 lines of 'format' in the PLY header", "1 such line", "export the part again"
        )
    return order, elements


def _property(said: list[str], order: str) -> _Property | None:
    match said:
        case [item, name] if item in _KINDS:
            return _Property(name, np.dtype(order + _KINDS[item]))
        case ["list", count, item, name] if count in _WHOLE_KINDS and item in _KINDS:
            codes = order + _KINDS[item], order + _WHOLE_KINDS[count]
            return _Property(name, np.dtype(codes[0]), np.dtype(codes[1]))
    return None


def _check_elements(elements: list[_Element]) -> None:
    """Blender ends, and all that runs in it, where it misses one of these."""
    names = [element.name for element in elements]
    if names.count("vertex") != 1 or names.count("face") != 1:
        raise BadFile(
            f"{names.count('vertex')} elements 'vertex' and {names.count('face')} 'face' in the "
            "PLY header",
            "1 of each",
            "export the part again",
        )
    for name, needed in (("vertex", ("x", "y", "z")), ("face", ("vertex_indices",))):
        has = [each.name for each in elements[names.index(name)].properties]
        if not set(needed) <= {_OTHER_NAMES.get(each, each) for each in has}:
            raise BadFile(
                f"an element {name!r} of {len(has)} properties ({', '.join(has)[:60]})",
                f"among them {', '.join(needed)}",
                "export the part again",
            )


def _check_text(body: bytes, elements: list[_Element], before: int) -> None:
    """`before` : lines of the header."""
    lines = [line for line in body.splitlines() if line.strip()]
    needed = sum(element.count for element in elements)
    if len(lines) != needed:
        raise BadFile(
            f"{len(lines)} lines after the header, which counts {needed}",
            f"{needed} lines",
            "export or copy the file again",
        )
    if elements and _holds_points(elements[0]):
        first = elements[0]
        vertices = b"\n".join([b"", *lines[: first.count]])
        numbers = read_numbers(vertices, _LINE, width=len(first.properties), before=before)
        check_coordinates(numbers[:, _columns(first)], per_triangle=False)


def _check_binary(body: bytes, elements: list[_Element]) -> None:
    place = 0
    for element in elements:
        _check_size(body, place + element.least_size, element)
        if _holds_points(element):
            records = np.frombuffer(body, _record(element, ()), element.count, place)
            points = [records[f"f{k}"].astype(np.float64) for k in _columns(element)]
            check_coordinates(np.column_stack(points), per_triangle=False)
        place = _end_of(body, place, element)


def _holds_points(element: _Element) -> bool:
    return element.name == "vertex" and not element.has_lists


def _columns(element: _Element) -> list[int]:
    """Where x, y and z are among an element's properties."""
    names = [each.name for each in element.properties]
    return [names.index(name) for name in "xyz"]


def _check_size(body: bytes, needed: int, element: _Element) -> None:
    if needed > len(body):
        raise BadFile(
            f"{len(body)} bytes after the header, which counts {element.count} of {element.name!r}",
            f"at least {needed} bytes",
            "export or copy the file again: it was cut short",
        )


def _record(element: _Element, lengths: tuple[int, ...]) -> np.dtype[np.void]:
    """Layout of a record whose lists are so long."""
    fields: list[tuple[str, np.dtype[np.generic]]] = []
    left = list(lengths)
    for each in element.properties:
        if each.count is not None:
            fields.append((f"n{len(fields)}", each.count))
            fields.append((f"f{len(fields)}", np.dtype((each.item, (left.pop(0),)))))
        else:
            fields.append((f"f{len(fields)}", each.item))
    return np.dtype(fields)


def _end_of(body: bytes, place: int, element: _Element) -> int:
    """Where an element ends that starts at a place.

    Raises
    ------
    BadFile : not within the file
    """
    if not element.count or not element.properties:
        return place
    first, lengths = _next_record(body, place, element)
    record = _record(element, lengths)
    end = place + element.count * record.itemsize
    if end <= len(body):
        records = np.frombuffer(body, record, element.count, place)
        counts = [records[name] for name in record.names or () if name.startswith("n")]
        if all((count == n).all() for count, n in zip(counts, lengths, strict=True)):
            return end
    for _ in range(element.count - 1):  # faces of several sizes
        first, _lengths = _next_record(body, first, element)
    return first


def _next_record(body: bytes, place: int, element: _Element) -> tuple[int, tuple[int, ...]]:
    """Where a record ends, and how long its lists are."""
    lengths = []
    for each in element.properties:
        length = 1
        if each.count is not None:
            _check_size(body, place + each.count.itemsize, element)
            length = int(np.frombuffer(body, each.count, 1, place)[0])
            if length < 0:
                raise BadFile(
                    f"a list of {length} items in {element.name!r}",
                    "0 or more",
                    "export the part again",
                )
            lengths.append(length)
            place += each.count.itemsize
        place += length * each.item.itemsize
        _check_size(body, place, element)
    return place, tuple(lengths)
