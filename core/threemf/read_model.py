"""A 3MF file's parts as one mesh.

Of what the build holds, objects of type "model" are the part; "solidsupport", "support" and
"surface" are there for the print of this file as it stands, "other" should not be there at
all, so all four are left out and told. An object that is part of another counts as what
that one is, whatever its own type.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..errors import BadFile
from ..meshes.places import counted
from ..surveying.unit_guess import StatedUnit
from ..values import Mesh
from .guarded_xml import read_xml
from .model_reader import ModelReader
from .package import open_model
from .resources import Placing, Resource, placed_mesh


@dataclass(frozen=True, slots=True, eq=False)
class ReadModel:
    """What a 3MF file holds.

    mesh : all parts, in the file's unit
    remarks : what was left out
    """

    mesh: Mesh
    unit: StatedUnit
    remarks: tuple[str, ...]


def read_model(data: bytes) -> ReadModel:
    """The parts in a 3MF file.

    Raises
    ------
    BadFile : no package with a model in it, or a model that the standard does not allow,
        that needs an extension, or that grows beyond bounds
    """
    part = open_model(data)
    reader = ModelReader()
    read_xml(part.pieces, part.name, reader)
    parts, remarks = _parts(reader.items, reader.known)
    return ReadModel(placed_mesh(parts, reader.known), reader.unit, remarks)


def _parts(
    items: Sequence[Placing], known: Mapping[int, Resource]
) -> tuple[list[Placing], tuple[str, ...]]:
    """The items that are parts, and what is to be told of the others."""
    if not items:
        raise BadFile(
            f"0 items in the build, of {counted(len(known), 'object', 'objects')}",
            "at least 1 item: what is not in the build is not to be made",
            "put the part on the bed and export it again, or as STL",
        )
    parts = [item for item in items if known[item.number].kind == "model"]
    others = Counter(known[item.number].kind for item in items)
    del others["model"]
    if not parts:
        raise BadFile(
            f"{len(items)} items in the build, of type {' and '.join(map(repr, others))}",
            "at least 1 of type 'model'",
            "export the part again, or as STL",
        )
    remarks = tuple(
        f"{count} of {len(items)} items of the file were left out: of type {kind!r}, not 'model'."
        for kind, count in others.items()
    )
    return parts, remarks
