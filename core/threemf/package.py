"""The package of a 3MF file: a zip whose relationships lead to the model.

Nothing is written to disk and only two parts are ever inflated, a piece at a time;
bounds are checked on what the zip says of itself first, and the zip is held to that.

References
----------
3MF Core Specification 1.4.0 (2025), section 2; ISO/IEC 29500-2, Open Packaging Conventions.
"""

from __future__ import annotations

import contextlib
import io
import posixpath
import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import unquote

from ..errors import BadFile
from .guarded_xml import read_xml
from .standard import MODEL_RELATIONSHIP, RELATIONSHIPS, RELATIONSHIPS_PART

_MOST_PARTS = 4096
_MOST_RELATIONSHIPS = 1 << 20
_MOST_MODEL = 1 << 29
"""Bytes of the model, inflated: seven million triangles or so."""
_MOST_RATIO = 100
"""Bytes for each deflated one. Models of meshes have 5 to 20; deflate can reach 1032."""
_HARMLESS = 1 << 24
"""Bytes, inflated, whose ratio is not looked at."""

_PIECE = 1 << 18
_ENTRY_MARK, _FIRST_MARK = b"PK\x01\x02", b"PK\x03\x04"
_ENCRYPTED = 0x1 | 0x40 | 0x2000
_METHODS = {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}
_AGAIN = "export or copy the file again"


@dataclass(frozen=True, slots=True)
class ModelPart:
    """The model's text, to be read once, from the first piece to the last."""

    name: str
    pieces: Iterator[bytes]


def open_model(data: bytes) -> ModelPart:
    """The model part of a package.

    Raises
    ------
    BadFile : no zip, cut short, encrypted, compressed in a way that the standard does
        not have, too large, with names that lead elsewhere, or without a model
    """
    parts = _Parts(data)
    texts = parts.pieces(RELATIONSHIPS_PART, _MOST_RELATIONSHIPS)
    relationships = _ModelRelationships()
    read_xml(texts, RELATIONSHIPS_PART, relationships)
    targets = relationships.targets
    if len(targets) != 1:
        raise BadFile(
            f"{len(targets)} models in {RELATIONSHIPS_PART}", "1 model, where the package starts",
            "export the part again as 3MF, or as STL",
        )  # fmt: skip
    name = _part_name(targets[0])
    return ModelPart(name, parts.pieces(name, _MOST_MODEL))


class _ModelRelationships:
    """The targets of the package's relationships to models."""

    def __init__(self) -> None:
        self.targets: list[str] = []

    def declare(self, prefix: str, namespace: str) -> None:
        """Prefixes do not matter here."""

    def begin(self, name: str, attributes: list[str]) -> None:
        told = dict(zip(attributes[::2], attributes[1::2], strict=True))
        if name == f"{RELATIONSHIPS} Relationship" and told.get("Type") == MODEL_RELATIONSHIP:
            if told.get("TargetMode", "Internal") != "Internal":
                raise BadFile(
                    f"1 model outside the file, at {told.get('Target', '')[:80]!r}",
                    "a model in the file itself",
                    "export the part again as 3MF, or as STL",
                )
            self.targets.append(told.get("Target", ""))

    def end(self) -> None:
        """Nor does where an element ends."""


def _part_name(target: str) -> str:
    """A target as seen from the package's root. It cannot lead out of the zip."""
    return posixpath.normpath("/" + unquote(target)).lstrip("/")


class _Parts:
    """The parts of a package by their names, in which capitals make no difference."""

    def __init__(self, data: bytes) -> None:
        self._size = len(data)
        _check_zip(data)
        with _zip_faults(self._size):
            self._archive = zipfile.ZipFile(io.BytesIO(data))
        self._entries: dict[str, zipfile.ZipInfo] = {}
        for entry in self._archive.infolist():
            _check_name(entry.filename)
            if self._entries.setdefault(entry.filename.lower(), entry) is not entry:
                raise BadFile(
                    f"2 parts of the name {entry.filename[:80]!r}", "1 of each name", _AGAIN
                )

    def pieces(self, name: str, most: int) -> Iterator[bytes]:
        """A part's bytes, checked first."""
        entry = self._entries.get(name.lower())
        if entry is None:
            raise BadFile(
                f"{len(self._entries)} parts in the file, and no {name[:80]!r}",
                f"that part, which a 3MF file {'starts' if name == RELATIONSHIPS_PART else 'names'}"
                " with",
                "export the part again as 3MF, or as STL",
            )
        _check_entry(entry, most, self._size)
        return self._inflated(entry)

    def _inflated(self, entry: zipfile.ZipInfo) -> Iterator[bytes]:
        with _zip_faults(self._size):
            stream = self._archive.open(entry)
        with stream:
            while True:
                with _zip_faults(self._size):
                    piece = stream.read(_PIECE)
                if not piece:
                    return
                yield piece


def _check_zip(data: bytes) -> None:
    """Before the list of parts is read, which would hold all of them at once."""
    if not data.startswith(_FIRST_MARK):
        raise BadFile(
            f"{len(data)} bytes that are no zip",
            "a 3MF file, which is one",
            "export the part again; what is protected by a password, without it",
        )
    count = data.count(_ENTRY_MARK)
    if count > _MOST_PARTS:
        raise BadFile(
            f"about {count:,} parts in the file", f"at most {_MOST_PARTS:,}",
            "export the part again, without pictures and other models",
        )  # fmt: skip


def _check_name(name: str) -> None:
    """Nothing is ever written by these names: one that leads elsewhere is a bad sign."""
    steps = name.split("/")
    if name.startswith("/") or "\\" in name or ":" in steps[0] or ".." in steps:
        raise BadFile(
            f"1 part whose name leads out of the file: {name[:80]!r}",
            "names that lead down from the file's root",
            "a file from a source that you trust",
        )


def _check_entry(entry: zipfile.ZipInfo, most: int, size: int) -> None:
    if entry.flag_bits & _ENCRYPTED:
        raise BadFile(
            f"an encrypted part, {entry.filename[:80]!r} (flags {entry.flag_bits:#x})",
            "parts that can be read",
            "export the part again without a password",
        )
    if entry.compress_type not in _METHODS:
        raise BadFile(
            f"compression method {entry.compress_type} of {entry.filename[:80]!r}",
            "0 (stored) or 8 (deflated), which are all that a 3MF file may have",
            "export the part again",
        )
    if entry.file_size > most:
        raise BadFile(
            f"{entry.filename[:80]!r} of {entry.file_size:,} bytes when inflated",
            f"at most {most:,}",
            "a mesh of fewer triangles, or STL",
        )
    packed = max(1, min(entry.compress_size, size))
    if entry.file_size > max(_HARMLESS, _MOST_RATIO * packed):
        raise BadFile(
            f"{entry.filename[:80]!r} inflates {packed:,} bytes to {entry.file_size:,}",
            f"at most {_MOST_RATIO} times as many: meshes do not shrink that far",
            "a file from a source that you trust, or STL",
        )


@contextlib.contextmanager
def _zip_faults(size: int) -> Iterator[None]:
    """What the zip reader finds wrong, as a refusal."""
    try:
        yield
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError,
            OverflowError, RuntimeError, OSError, struct.error) as problem:  # fmt: skip
        raise BadFile(
            f"a zip of {size} bytes that is damaged or cut short: {problem}",
            "a whole zip",
            _AGAIN,
        ) from None
