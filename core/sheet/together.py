"""What is told once of several joints, pieces or holes, where all that is told is the same.

They count as the same by what a person reads, to the last digit that is told.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from itertools import chain
from typing import TypeVar

from .sheet_text import Value

Told = TypeVar("Told", bound=Hashable)


def together(each: Iterable[Told]) -> list[tuple[tuple[int, ...], Told]]:
    """Which of them are the same, by numbers from 0, in the order of their first."""
    found: dict[Told, list[int]] = {}
    for number, told in enumerate(each):
        found.setdefault(told, []).append(number)
    return [(tuple(numbers), told) for told, numbers in found.items()]


def runs_words(names: Sequence[str], chosen: Sequence[int]) -> str:
    """Some of the names, of each run of three or more the first and the last.

    Parameters
    ----------
    chosen : which of the names, from 0, ascending

    Examples
    --------
    >>> runs_words("abcdefg", (0, 1, 2, 4, 6))
    'a to c, e and g'
    """
    said: list[str] = []
    for first, last in _runs(chosen):
        if last - first > 1:
            said.append(f"{names[first]} to {names[last]}")
        else:
            said += names[first : last + 1]
    *earlier, last_said = said
    return f"{', '.join(earlier)} and {last_said}" if earlier else last_said


def _runs(chosen: Sequence[int]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    for number in chosen:
        if runs and number == runs[-1][1] + 1:
            runs[-1] = runs[-1][0], number
        else:
            runs.append((number, number))
    return runs


def numbered(word: str, numbers: Sequence[int]) -> str:
    """Things that are counted from 1: "joint 3", "joints 1 to 6"."""
    told = runs_words([str(number) for number in range(max(numbers) + 1)], numbers)
    return f"{word}{'s' if len(numbers) > 1 else ''} {told}"


def values_together(word: str, each: Iterable[tuple[int, str]], form: str = "{}") -> list[Value]:
    """A value for each different thing that is told, named after all that it is told of.

    Parameters
    ----------
    word : what is counted, as "joint"
    each : its number and what is told of it
    form : of the name, with a place for the numbered word
    """
    pairs = list(each)
    return [
        Value(form.format(numbered(word, [pairs[one][0] for one in which])), shown)
        for which, shown in together(shown for _, shown in pairs)
    ]


def rows_together(
    names: Sequence[str], blocks: Iterable[Sequence[tuple[str, ...]]]
) -> tuple[tuple[str, ...], ...]:
    """Rows of a table, the same blocks of them once, each row after the names that it stands for.

    Parameters
    ----------
    names : of what the blocks are about, in their order
    blocks : of each name its rows, without it
    """
    alike = together(tuple(block) for block in blocks)
    rows = [[(runs_words(names, which), *row) for row in block] for which, block in alike]
    return tuple(chain.from_iterable(rows))
