"""JSON read strictly: what is doubled, endless or of another kind is told, never guessed at.

Readers take a value as JSON has it and raise TypeError or OverflowError with what it has
to be; `read_value` tells that with what was found, as the error that its caller asks for.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from .errors import CoreError

Damaged = Callable[[str, str], CoreError]
"""Makes an error of what was found and what is needed."""

_Read = TypeVar("_Read")
_Word = TypeVar("_Word", bound=str)

_SHOWN = 60
"""Letters of a value that a message shows."""


def parse_object(text: str, damaged: Damaged) -> dict[str, object]:
    """The JSON object that a text holds.

    Raises
    ------
    CoreError : of the kind that `damaged` makes: it is no JSON, no object, or holds a
        key twice or a number that is none
    """

    def once(pairs: list[tuple[str, object]]) -> dict[str, object]:
        return _once(pairs, damaged)

    def no_constant(word: str) -> float:
        raise damaged(f"1 value {word}", "finite numbers")

    try:
        document = json.loads(text, object_pairs_hook=once, parse_constant=no_constant)
    except RecursionError:
        raise damaged("lists in lists, thousands deep", "1 JSON object") from None
    except json.JSONDecodeError as problem:
        raise damaged(
            f"no JSON: {problem.msg} at line {problem.lineno}, column {problem.colno}",
            "1 JSON object",
        ) from None
    except ValueError as problem:  # a number of thousands of digits
        raise damaged(f"1 value that is no number: {problem}", "1 JSON object") from None
    if not isinstance(document, dict):
        raise damaged(f"1 JSON {type(document).__name__}", "1 JSON object")
    return document


def _once(pairs: list[tuple[str, object]], damaged: Damaged) -> dict[str, object]:
    """An object each of whose keys stands in it once."""
    document = dict(pairs)
    if len(document) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise damaged(f"key {twice!r} {keys.count(twice)} times", "each key once")
    return document


def read_value(
    document: Mapping[str, object], key: str, read: Callable[[object], _Read], damaged: Damaged
) -> _Read:
    """The value of a key that is there, as `read` takes it.

    Raises
    ------
    CoreError : of the kind that `damaged` makes: it is not what it has to be
    """
    try:
        return read(document[key])
    except (TypeError, OverflowError) as problem:
        shown = str(document[key])[:_SHOWN]
        raise damaged(f"{key} is {shown!r}, 0 of what it has to be", str(problem)) from None


def text(value: object) -> str:
    """A text."""
    if not isinstance(value, str):
        raise TypeError("1 text")
    return value


def flag(value: object) -> bool:
    """A yes or no."""
    if not isinstance(value, bool):
        raise TypeError("true or false")
    return value


def number(value: object) -> float:
    """A finite number: true and false are Python's integers, and are none here."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise TypeError("1 number")
    if abs(value) > 1e300 or not math.isfinite(value):
        raise OverflowError("1 finite number")
    return float(value)


def whole_number(value: object) -> int:
    """A number without a fraction."""
    whole = number(value)
    if not whole.is_integer():
        raise TypeError("1 whole number")
    return int(whole)


def three_numbers(value: object) -> tuple[float, float, float]:
    """Three finite numbers."""
    if not isinstance(value, list) or len(value) != 3:
        raise TypeError("3 numbers, or null")
    x, y, z = (number(length) for length in value)
    return x, y, z


def optional(read: Callable[[object], _Read]) -> Callable[[object], _Read | None]:
    """A reader that takes null too."""
    return lambda value: None if value is None else read(value)


def many(read: Callable[[object], _Read]) -> Callable[[object], tuple[_Read, ...]]:
    """A reader of a list, each of its values read."""

    def read_many(value: object) -> tuple[_Read, ...]:
        if not isinstance(value, list):
            raise TypeError("1 list")
        return tuple(read(one) for one in value)

    return read_many


def number_from(low: float, high: float) -> Callable[[object], float]:
    """A reader of a number in a range."""

    def read_number(value: object) -> float:
        if not low <= number(value) <= high:
            raise OverflowError(f"1 number from {low:g} to {high:g}")
        return number(value)

    return read_number


def whole_from(low: float, high: float) -> Callable[[object], int]:
    """A reader of a whole number in a range."""

    def read_whole(value: object) -> int:
        if not low <= whole_number(value) <= high:
            raise OverflowError(f"1 whole number from {low:g} to {high:g}")
        return whole_number(value)

    return read_whole


def one_of(words: Sequence[_Word]) -> Callable[[object], _Word]:
    """A reader of one word of several."""

    def read_word(value: object) -> _Word:
        for word in words:
            if value == word:
                return word
        raise TypeError(f"1 of {', '.join(words)}")

    return read_word


def stretch(low: float, high: float) -> Callable[[object], tuple[float, float]]:
    """A reader of two numbers in a range, the first the lower."""

    def read_stretch(value: object) -> tuple[float, float]:
        ends = many(number_from(low, high))(value)
        if len(ends) != 2 or not ends[0] < ends[1]:
            raise TypeError("2 numbers, the first the lower")
        return ends[0], ends[1]

    return read_stretch


def entry(value: object) -> dict[str, object]:
    """An object, its keys not looked at."""
    if not isinstance(value, dict):
        raise TypeError("1 JSON object")
    return value
