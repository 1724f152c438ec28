"""Three numbers in the attributes of each of very many elements, as an array."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..errors import BadFile
from ..values import FloatArray

_AT_ONCE = 1 << 18
"""Words, names and values, that are held as text."""
_XML_BLANKS = " \t\r\n"
_REMEDY = "export the part again, or as STL"


@dataclass(frozen=True, slots=True)
class Notation:
    """How a number is written.

    characters : all that there can be in one
    """

    pattern: re.Pattern[str]
    characters: bytes
    words: str


DECIMAL = Notation(
    re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"), b"0123456789+-.eE",
    "a number, as 12.5 or 1.25e1",
)  # fmt: skip
WHOLE = Notation(re.compile(r"\+?[0-9]{1,15}"), b"0123456789", "a whole number from 0 on")


def read_number(word: str, notation: Notation, whose: str) -> float:
    """A number that may stand between blanks.

    Raises
    ------
    BadFile : it is none
    """
    if notation.pattern.fullmatch(bare := word.strip(_XML_BLANKS)):
        return float(bare)
    raise BadFile(f"{word[:40]!r} for {whose}", notation.words, _REMEDY)


class NumberRows:
    """Rows that come one by one; what is done is held as numbers."""

    def __init__(
        self, what: str, names: tuple[str, str, str], notation: Notation, most: int
    ) -> None:
        self._what, self._names, self._notation, self._most = what, names, notation, most
        self._words: list[str] = []
        self._done = [np.empty((0, 3))]
        self._count = 0

    def add(self, attributes: list[str]) -> None:
        """One row: names and values in turn, perhaps others among them."""
        if len(attributes) != 6:
            attributes = self._in_order(attributes, self._count + len(self._words) // 6)
        self._words += attributes
        if len(self._words) >= _AT_ONCE:
            self._convert()

    def table(self) -> FloatArray:
        """(n, 3) all rows.

        Raises
        ------
        BadFile : a row lacks one of its numbers, or has a word in its place; too many rows
        """
        self._convert()
        return self._done[-1] if len(self._done) == 2 else np.concatenate(self._done)

    def _convert(self) -> None:
        words, self._words = self._words, []
        rows = len(words) // 6
        if any(words[2 * k :: 6].count(name) != rows for k, name in enumerate(self._names)):
            words = list(self._all_in_order(words))
        columns = [self._column(words[2 * k + 1 :: 6], name) for k, name in enumerate(self._names)]
        self._done.append(np.column_stack(columns))
        self._count += rows
        if self._count > self._most:
            raise BadFile(
                f"more than {self._most:,} of {self._what}s", f"at most {self._most:,}",
                "a mesh of fewer triangles, or STL",
            )  # fmt: skip

    def _all_in_order(self, words: list[str]) -> Iterator[str]:
        for start in range(0, len(words), 6):
            yield from self._in_order(words[start : start + 6], self._count + start // 6)

    def _in_order(self, attributes: list[str], row: int) -> list[str]:
        """The names and values that are wanted, in their order."""
        told = dict(zip(attributes[::2], attributes[1::2], strict=True))
        for name in self._names:
            if name not in told:
                raise BadFile(f"no {name} of {self._what} {row} (counted from 0)",
                              f"{', '.join(self._names)} of each", _REMEDY)  # fmt: skip
        return [word for name in self._names for word in (name, told[name])]

    def _column(self, words: list[str], name: str) -> FloatArray:
        if not "".join(words).encode("ascii", "replace").translate(None, self._notation.characters):
            try:
                return np.fromiter(map(float, words), np.float64, len(words))
            except ValueError:
                pass  # told below, with its place
        numbers = [
            read_number(
                word, self._notation, f"{name} of {self._what} {self._count + row} (counted from 0)"
            )
            for row, word in enumerate(words)
        ]
        return np.array(numbers)
