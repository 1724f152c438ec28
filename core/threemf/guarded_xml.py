"""XML read in pieces, with nothing in it that could grow without end.

A document type is refused, and with it every entity that is not built in. What has to be
held at once is bounded: how deep elements lie in each other, how long one tag is, how
many different names there are.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol
from xml.parsers import expat

from ..errors import BadFile

_DEEPEST = 64
_LONGEST_TAG = 1 << 20
_MOST_NAMES = 20_000
_REMEDY = "export the part again, or as STL"


class Listener(Protocol):
    """Whoever is told of the elements. A name is its namespace, a blank and its own name."""

    def declare(self, prefix: str, namespace: str) -> None:
        """A prefix that the next element declares."""

    def begin(self, name: str, attributes: list[str]) -> None:
        """`attributes` : names and values in turn."""

    def end(self) -> None:
        """The element that began last ends."""


def read_xml(pieces: Iterable[bytes], part: str, listener: Listener) -> None:
    """Tell a listener of every element.

    part : what the text is called in a refusal

    Raises
    ------
    BadFile : no XML in UTF-8 or UTF-16, with a document type, or beyond a bound
    """
    guarded = _GuardedParser(part, listener)
    for piece in pieces:
        guarded.feed(piece)
    guarded.feed(b"", last=True)


class _GuardedParser:
    """The parser, and how far it has come."""

    def __init__(self, part: str, listener: Listener) -> None:
        self._part = part
        self._depth = self._fed = 0
        self._listener = listener
        # Given an encoding, the parser looks for no other but UTF-16, by its mark.
        self._parser = parser = expat.ParserCreate("UTF-8", namespace_separator=" ")
        parser.ordered_attributes = True
        parser.XmlDeclHandler = self._check_declaration
        parser.StartDoctypeDeclHandler = self._refuse_document_type
        parser.StartNamespaceDeclHandler = self._declare
        parser.StartElementHandler = self._begin
        parser.EndElementHandler = self._end

    def feed(self, piece: bytes, *, last: bool = False) -> None:
        try:
            self._parser.Parse(piece, last)
        except expat.ExpatError as problem:
            raise BadFile(
                f"no XML in line {problem.lineno}, column {problem.offset} of {self._part}: "
                f"{expat.ErrorString(problem.code)}",
                "well-formed XML, in UTF-8 or UTF-16",
                _REMEDY,
            ) from None
        self._fed += len(piece)
        self._check_bounds()

    def _check_bounds(self) -> None:
        if self._fed - self._parser.CurrentByteIndex > 2 * _LONGEST_TAG:
            raise _too_much("a tag or comment of more than", _LONGEST_TAG, "bytes", self._part)
        if len(self._parser.intern) > _MOST_NAMES:
            raise _too_much("more than", _MOST_NAMES, "different names", self._part)

    def _check_declaration(self, _: str, encoding: str | None, __: int) -> None:
        if encoding is not None and encoding.upper() not in {"UTF-8", "UTF-16"}:
            raise BadFile(
                f"encoding {encoding[:40]!r} in line 1 of {self._part}",
                "UTF-8 or UTF-16, which are all that a 3MF file may have",
                _REMEDY,
            )

    def _refuse_document_type(self, name: str, *_: object) -> None:
        raise BadFile(
            f"a document type (DTD) {name[:40]!r} in line {self._parser.CurrentLineNumber} of "
            f"{self._part}",
            "none, as the 3MF standard says: entities could grow without end or read other files",
            _REMEDY,
        )

    def _declare(self, prefix: str | None, namespace: str | None) -> None:
        self._listener.declare(prefix or "", namespace or "")

    def _begin(self, name: str, attributes: list[str]) -> None:
        self._depth += 1
        if self._depth > _DEEPEST:
            raise _too_much("elements in each other more than", _DEEPEST, "deep", self._part)
        self._listener.begin(name, attributes)

    def _end(self, _: str) -> None:
        self._depth -= 1
        self._listener.end()


def _too_much(what: str, most: int, of: str, part: str) -> BadFile:
    return BadFile(f"{what} {most:,} {of} in {part}", f"at most {most:,}", _REMEDY)
