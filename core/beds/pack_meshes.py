"""Finished meshes on as few beds as possible."""

from __future__ import annotations

from collections.abc import Mapping

from ..values import Mesh, Settings
from .bed import Bed
from .bed_item import bed_item
from .pack import pack_beds


def pack_meshes(standing: Mapping[str, Mesh], settings: Settings) -> tuple[Bed, ...]:
    """Place all that is printed on the printer's beds.

    standing : meshes in the pose of their files, by name

    Raises
    ------
    TooWide : as `pack_beds`
    """
    items = [bed_item(name, mesh) for name, mesh in standing.items()]
    return pack_beds(items, settings.envelope[:2], settings.spacing)
