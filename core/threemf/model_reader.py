"""The elements of a 3MF model: unit, objects and build.

Of the standard's core only. What is not known where it stands is passed over with all that
is in it: extensions, unless the file says that it cannot be understood without them.

References
----------
3MF Core Specification 1.4.0 (2025), sections 3.3 (transforms), 3.4 (model) and 4 (objects,
meshes, components, build).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from ..errors import BadFile
from ..meshes.coordinates import MOST_COORDINATE, check_coordinates
from ..meshes.places import counted
from ..surveying.unit_guess import StatedUnit
from ..values import FloatArray, Mesh
from .number_rows import DECIMAL, WHOLE, NumberRows, read_number
from .resources import (
    MOST_PLACED,
    MOST_TRIANGLES,
    Placing,
    Resource,
    find_resource,
    group_resource,
    mesh_resource,
)
from .standard import CORE

UNITS = {
    "micron": StatedUnit("micron", 0.001),
    "millimeter": StatedUnit("mm", 1.0),
    "centimeter": StatedUnit("cm", 10.0),
    "inch": StatedUnit("in", 25.4),
    "foot": StatedUnit("foot", 304.8),
    "meter": StatedUnit("m", 1000.0),
}
"""Those of the standard, by its words."""

_KINDS = ("model", "solidsupport", "support", "surface", "other")
_MOST_OBJECTS = 20_000
_REMEDY = "export the part again, or as STL"


@dataclass(slots=True)
class _Open:
    """The object that is being read."""

    number: int
    kind: str
    vertices: NumberRows | None = None
    triangles: NumberRows | None = None
    parts: list[Placing] | None = None


@dataclass(frozen=True, slots=True)
class _Element:
    """What to do at an element's start and end, and which elements in it are known."""

    begin: Callable[[list[str]], None]
    end: Callable[[], None] | None = None
    known: dict[str, _Element] = field(default_factory=dict)


def _pass_over(_: list[str]) -> None:
    """An element of an extension, or one that says nothing about shape."""


_UNKNOWN = _Element(_pass_over)


class ModelReader:
    """Takes in a model's elements as they come.

    unit : what one unit of the coordinates is
    known : objects by their numbers
    items : of the build
    """

    def __init__(self) -> None:
        self._namespaces: dict[str, str] = {}
        self.unit = UNITS["millimeter"]
        self.known: dict[int, Resource] = {}
        self.items: list[Placing] = []
        self._object = _Open(0, "model")
        self._placings = 0
        self._around: list[_Element] = []

    # As the XML comes

    def declare(self, prefix: str, namespace: str) -> None:
        """Of interest up to the root only, which may name extensions by their prefixes."""
        if not self._around:
            self._namespaces[prefix] = namespace

    def begin(self, name: str, attributes: list[str]) -> None:
        """What is not known where it stands is passed over with all that is in it."""
        if not self._around:
            self._begin_root(name, attributes)
            return
        element = self._around[-1].known.get(name, _UNKNOWN)
        self._around.append(element)
        element.begin(attributes)

    def end(self) -> None:
        """The innermost element is over."""
        element = self._around.pop()
        if element.end is not None:
            element.end()

    # The elements

    def _begin_root(self, name: str, attributes: list[str]) -> None:
        if name != f"{CORE} model":
            namespace, _, own = name.rpartition(" ")
            raise BadFile(
                f"1 root element {own[:80]!r} of namespace {namespace[:120]!r}",
                f"'model' of {CORE!r}",
                _REMEDY,
            )
        told = _told(attributes)
        self._check_extensions(told.get("requiredextensions", "").split())
        unit = told.get("unit", "millimeter")
        if unit not in UNITS:
            raise BadFile(f"1 unit that is none: {unit[:40]!r}", f"one of {', '.join(UNITS)}",
                          _REMEDY)  # fmt: skip
        self.unit = UNITS[unit]
        self._around.append(self._grammar())

    def _grammar(self) -> _Element:
        """The elements that are known, each where it may stand."""
        rows = {"vertices": {"vertex": _Element(self._add_vertex)},
                "triangles": {"triangle": _Element(self._add_triangle)}}  # fmt: skip
        mesh = {
            "vertices": _Element(self._begin_vertices, None, _in_core(rows["vertices"])),
            "triangles": _Element(self._begin_triangles, None, _in_core(rows["triangles"])),
        }
        component = {"component": _Element(self._add_component)}
        shapes = {
            "mesh": _Element(_pass_over, None, _in_core(mesh)),
            "components": _Element(self._begin_components, None, _in_core(component)),
        }
        objects = {"object": _Element(self._begin_object, self._end_object, _in_core(shapes))}
        return _Element(
            _pass_over,
            None,
            _in_core({
                "resources": _Element(_pass_over, None, _in_core(objects)),
                "build": _Element(
                    _pass_over, None, _in_core({"item": _Element(self._add_item)})
                ),
            }),
        )  # fmt: skip

    def _check_extensions(self, prefixes: list[str]) -> None:
        if prefixes:
            names = [self._namespaces.get(prefix, prefix)[:120] for prefix in prefixes[:5]]
            raise BadFile(
                f"{counted(len(prefixes), 'extension', 'extensions')} without which the file "
                f"cannot be understood: {', '.join(names)}",
                "a file that needs the core of the 3MF standard only",
                "export the part without them, or as STL",
            )

    def _begin_object(self, attributes: list[str]) -> None:
        told = _told(attributes)
        number = _number_of(told, "id", f"object {len(self.known)} (counted from 0)")
        if number in self.known:
            raise BadFile(f"2 objects of the id {number}", "an id of its own for each", _REMEDY)
        if len(self.known) >= _MOST_OBJECTS:
            raise BadFile(
                f"more than {_MOST_OBJECTS:,} objects", f"at most {_MOST_OBJECTS:,}", _REMEDY
            )
        kind = told.get("type", "model")
        if kind not in _KINDS:
            raise BadFile(f"object {number} of type {kind[:40]!r}", f"one of {', '.join(_KINDS)}",
                          _REMEDY)  # fmt: skip
        self._object = _Open(number, kind)

    def _begin_vertices(self, _: list[str]) -> None:
        self._check_first(self._object.vertices, "lists of vertices")
        what = f"object {self._object.number}'s vertex"
        self._object.vertices = NumberRows(what, ("x", "y", "z"), DECIMAL, MOST_TRIANGLES)

    def _begin_triangles(self, _: list[str]) -> None:
        self._check_first(self._object.triangles, "lists of triangles")
        what = f"object {self._object.number}'s triangle"
        self._object.triangles = NumberRows(what, ("v1", "v2", "v3"), WHOLE, MOST_TRIANGLES)

    def _begin_components(self, _: list[str]) -> None:
        self._check_first(self._object.parts, "lists of components")
        self._object.parts = []

    def _check_first(self, earlier: object, what: str) -> None:
        if earlier is not None:
            raise BadFile(f"2 {what} in object {self._object.number}", "1", _REMEDY)

    def _add_vertex(self, attributes: list[str]) -> None:
        assert self._object.vertices is not None
        self._object.vertices.add(attributes)

    def _add_triangle(self, attributes: list[str]) -> None:
        assert self._object.triangles is not None
        self._object.triangles.add(attributes)

    def _add_component(self, attributes: list[str]) -> None:
        parts, number = self._object.parts, self._object.number
        assert parts is not None
        parts.append(self._placing(attributes, f"component {len(parts)} of object {number}"))

    def _add_item(self, attributes: list[str]) -> None:
        item = self._placing(attributes, f"item {len(self.items)} of the build")
        find_resource(item.number, self.known, "the build")
        self.items.append(item)

    def _placing(self, attributes: list[str], what: str) -> Placing:
        told = _told(attributes)
        elsewhere = [name for name in told if name.endswith(" path")]
        if elsewhere:
            raise BadFile(
                f"{what} in another part of the file, {told[elsewhere[0]][:80]!r}, by the "
                f"extension {elsewhere[0].split(' ')[0][:120]}; 1 part is read",
                "a file that needs the core of the 3MF standard only",
                "export the part without that extension, or as STL",
            )
        self._placings += 1
        if self._placings > MOST_PLACED:
            raise BadFile(f"more than {MOST_PLACED:,} items and components",
                          f"at most {MOST_PLACED:,}", _REMEDY)  # fmt: skip
        number = _number_of(told, "objectid", what)
        return Placing(number, _matrix(told.get("transform"), f"the place of object {number}"))

    def _end_object(self) -> None:
        one = self._object
        if (one.triangles is None) == (one.parts is None):
            shapes = "neither a mesh nor components" if one.parts is None else "2 kinds of shape"
            raise BadFile(f"object {one.number} with {shapes}", "a mesh or components", _REMEDY)
        if one.parts is None:
            resource = mesh_resource(one.kind, _mesh(one))
        elif one.parts:
            resource = group_resource(one.number, one.kind, one.parts, self.known)
        else:
            raise BadFile(f"0 components in object {one.number}", "at least 1", _REMEDY)
        self.known[one.number] = resource


def _in_core(elements: dict[str, _Element]) -> dict[str, _Element]:
    return {f"{CORE} {name}": element for name, element in elements.items()}


def _told(attributes: list[str]) -> dict[str, str]:
    return dict(zip(attributes[::2], attributes[1::2], strict=True))


def _number_of(told: dict[str, str], name: str, what: str) -> int:
    """An object's number, which the standard has from 1 to 2**31 - 1."""
    number = int(read_number(told.get(name, ""), WHOLE, f"the {name} of {what}"))
    if not 0 < number < 2**31:
        raise BadFile(f"{number} for the {name} of {what}", f"1 to {2**31 - 1}", _REMEDY)
    return number


def _matrix(text: str | None, whose: str) -> FloatArray:
    """(4, 4) for columns; the file has it for rows, without the last column."""
    matrix = np.eye(4)
    if text is not None:
        words = text.split()
        if len(words) != 12:
            raise BadFile(f"{len(words)} numbers for {whose}", "12", _REMEDY)
        numbers = np.array([read_number(word, DECIMAL, whose) for word in words]).reshape(4, 3)
        if not np.abs(numbers).max() <= MOST_COORDINATE:
            raise BadFile(
                f"{numbers.flat[np.abs(numbers).argmax()]:g} in {whose}",
                f"none over {MOST_COORDINATE:g}",
                _REMEDY,
            )
        matrix[:3] = numbers.T
    return matrix


def _mesh(one: _Open) -> Mesh:
    """The mesh of an object.

    Raises
    ------
    BadFile : vertices that are too far away, triangles that name vertices that are none
    """
    assert one.triangles is not None
    vertices = np.empty((0, 3)) if one.vertices is None else one.vertices.table()
    check_coordinates(vertices, per_triangle=False, whose=f"object {one.number}")
    triangles = one.triangles.table()
    if len(triangles) and triangles.max() >= len(vertices):
        row, column = np.argwhere(triangles >= len(vertices))[0]
        raise BadFile(
            f"triangle {row} (counted from 0) of object {one.number} at vertex "
            f"{triangles[row, column]:.0f}, of {len(vertices)} vertices",
            "vertices from 0 on that the object has",
            _REMEDY,
        )
    return Mesh(vertices, triangles.astype(np.int64))
