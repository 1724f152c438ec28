"""What a sheet tells at once of several joints, holes, bores or pieces, told of each by itself.

"1 to 3, 5 and 7" is read as 1, 2, 3, 5, 7; of names, "a to d" as all between in their order.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

_SAID = r"\d+(?:(?:, | and | to )\d+)*"
_SEVERAL = re.compile(rf"\b(joint|hole|bore|block)s ({_SAID})")


def numbers_of(said: str) -> list[int]:
    """Those that a list of numbers says."""
    assert re.fullmatch(_SAID, said), said
    return [int(name) for name in names_of(said, [str(number) for number in range(1000)])]


def names_of(said: str, order: Sequence[str]) -> list[str]:
    """Those that a list says; all that are named stand in an order, each but once."""
    assert len(set(order)) == len(order)
    found: list[str] = []
    for run in re.split(r", | and ", said):
        first, _, last = run.partition(" to ")
        start, stop = order.index(first), order.index(last or first)
        assert stop > start or not last
        found += order[start : stop + 1]
    assert len(set(found)) == len(found), said
    return found


def singly(name: str) -> list[str]:
    """The name of a value that is told of several, once for each: of joints 1 and 2, two."""
    several = _SEVERAL.search(name)
    if several is None:
        return [name]
    word, said = several.groups()
    before, after = name[: several.start()], name[several.end() :]
    return [f"{before}{word} {number}{after}" for number in numbers_of(said)]


def rows_singly(
    header: Sequence[str], rows: Sequence[Sequence[str]], order: Sequence[str]
) -> Iterator[dict[str, str]]:
    """Rows of a table by their headings, one for each joint or piece that they are told of.

    Parameters
    ----------
    order : names of the pieces
    """
    for row in rows:
        cells = dict(zip(header, row, strict=True))
        yield from cells_singly(cells, order)


def cells_singly(cells: dict[str, str], order: Sequence[str]) -> list[dict[str, str]]:
    """The same of one row; the joint or piece is its first cell."""
    key = next(iter(cells))
    if key == "joint":
        return [{**cells, key: str(number)} for number in numbers_of(cells[key])]
    if key == "piece":
        return [{**cells, key: name} for name in names_of(cells[key], order)]
    return [cells]
