"""What the parts of a job are called: by their files, told apart where two have one name."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from pathlib import Path


def part_stems(paths: Sequence[Path]) -> tuple[str, ...]:
    """A name for each file: its stem, and of several files of one stem a number from the second on.

    Of pipe.stl, pipe.obj and pipe-2.stl: pipe, pipe-3 and pipe-2. A path that is given
    twice is two copies. Stems that differ in capitals only are one, as on some file systems.
    """
    given = [path.stem for path in paths]
    taken = {_key(stem) for stem in given}
    names: list[str] = []
    seen: set[str] = set()
    for stem in given:
        name = stem if _key(stem) not in seen else _numbered(stem, taken)
        seen.add(_key(stem))
        taken.add(_key(name))
        names.append(name)
    return tuple(names)


def _numbered(stem: str, taken: set[str]) -> str:
    """The stem with the first number from 2 on that no other name has."""
    number = 2
    while _key(f"{stem}-{number}") in taken:
        number += 1
    return f"{stem}-{number}"


def known_name(name: str, stems: Sequence[str]) -> str | None:
    """A part's name as its files will have it, however it is capitalised; None: there is none.

    name : a stem, or a stem with the letter of one of its bodies, as in pipe-a
    """
    spelt = {_key(stem): stem for stem in stems}
    if _key(name) in spelt:
        return spelt[_key(name)]
    lettered = re.fullmatch(r"(.+)-([a-z]+)", name, re.DOTALL)
    if lettered and _key(lettered[1]) in spelt:
        return f"{spelt[_key(lettered[1])]}-{lettered[2]}"
    return None


def stem_of(name: str, stems: Sequence[str]) -> str:
    """The stem among `stems` that a part is called by; `name` may have a body's letter more."""
    return name if name in stems else name.rpartition("-")[0]


def _key(stem: str) -> str:
    """What two stems have in common that are one on some file system."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", stem).casefold())
