"""Every text of a sheet with the place where it stands, read as a browser reads the page.

html5lib parses as the HTML standard says, and knows nothing of the code that wrote the page.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import html5lib

from tests.told_together import cells_singly, singly

NUMBER = re.compile(r"(?<![\d.])(?:(?<![\w-])[-+])?\d+(?:\.\d+)?")
_UNIT = re.compile(r"\b(mm|cm)[23]\b")
_SVG = "{http://www.w3.org/2000/svg}"
_CLAUSE_END = re.compile(r"; |, (?!\d)")
_TEXTS = {"p", "h1", "h2", "h3", "h4", "li", "span"}


@dataclass(frozen=True, slots=True)
class Told:
    """A text of the page.

    place : where it stands: a table and its column, a step and a value's name, a drawing
    words : the text, without names of files and pieces
    row : in a table, the whole row by its columns
    svg : of a text in a drawing, all of it
    order : how many texts with the same place and the same words but for numbers came before
    """

    place: str
    words: str
    row: dict[str, str] = field(default_factory=dict)
    svg: Any = None
    order: int = 0

    @property
    def numbers(self) -> list[str]:
        return NUMBER.findall(self.words)

    @property
    def keys(self) -> list[int]:
        """Whole numbers of the place: of a joint, a hole, a bore."""
        return [int(number) for number in NUMBER.findall(self.place) if number.isdigit()]

    @property
    def form(self) -> str:
        """Place and words, a # for each number."""
        return NUMBER.sub("#", f"{self.place} | {self.words}")


def told_by(page: Path, names: Iterable[str], pieces: Sequence[str]) -> list[Told]:
    """All texts of a page, in order; each of the names given is NAME in them.

    What is told of several joints or pieces at once is told of each.

    pieces : names of all pieces, in order
    """
    root = html5lib.parse(page.read_text(encoding="utf-8"), namespaceHTMLElements=False)
    body = root.find("body")
    found = list(_texts(body, "page"))
    assert _digits(body.itertext()) == _digits(one.words for one in found), "a text was passed by"
    told = [
        replace(one, place=_bare(one.place, names), words=_bare(one.words, names))
        for several in found
        for one in _singly(several, pieces)
    ]
    return [*_counted(told)]


def _singly(told: Told, pieces: Sequence[str]) -> Iterator[Told]:
    """Of each joint, hole, bore or piece that it is told of."""
    if told.row:
        first = next(iter(told.row))
        is_key = told.place.endswith(f" | {first}")
        for row in cells_singly(told.row, pieces):
            yield replace(told, row=row, words=row[first] if is_key else told.words)
    elif told.place.endswith(" | name"):
        yield from (replace(told, words=name) for name in singly(told.words))
    else:
        yield from (replace(told, place=place) for place in singly(told.place))


def _counted(told: Sequence[Told]) -> Iterator[Told]:
    """With the order of each; of what is named by its number, by that number."""
    seen: Counter[str] = Counter()
    orders: dict[int, int] = {}
    for at in sorted(range(len(told)), key=lambda at: _named(told[at])):
        orders[at] = seen[told[at].form]
        seen[told[at].form] += 1
    yield from (replace(one, order=orders[at]) for at, one in enumerate(told))


def _named(told: Told) -> int:
    """The number that it is named by; 0 of all else, which stays as it stands."""
    is_name = told.place.endswith((" | name", " | joint"))
    return (
        int(told.numbers[-1]) if is_name and told.numbers[-1:] and told.numbers[-1].isdigit() else 0
    )


def _digits(texts: Iterable[str]) -> Counter[str]:
    return Counter(one for text in texts for one in text if one.isdigit())


def _bare(text: str, names: Iterable[str]) -> str:
    for name in sorted(names, key=len, reverse=True):
        text = text.replace(name, "NAME")
    return _UNIT.sub(lambda unit: unit[1], text)


def _texts(element: Any, place: str) -> Iterator[Told]:
    """Of an element: the texts inside, each as a whole, with its place."""
    if element.tag == "figure":
        yield from _drawn(element)
    elif element.tag == "dl":
        for name, shown in element:
            yield Told(f"{place} | name", _all_of(name))
            yield Told(f"{place} | {_all_of(name)}", _all_of(shown))
    elif element.tag == "table":
        yield from _cells(element)
    elif element.tag in _TEXTS and "said" not in element.get("class", "") and not _holds(element):
        yield Told(place, _all_of(element))
    else:
        inside = _place_in(element, place)
        for child in element:
            yield from _texts(child, inside)


def _holds(element: Any) -> bool:
    """Are there texts inside that stand by themselves?"""
    return element.tag == "li" and element.find("div") is not None


def _place_in(element: Any, place: str) -> str:
    """Of what stands in an element: the step, the table, the list of cautions that it is."""
    if element.tag == "li":
        return next(_all_of(one) for one in element.iter() if one.tag in {"h3", "h4"})
    if "caution" in element.get("class", "").split():
        return f"{place} | caution"
    if element.get("class") == "block":
        return f"{_all_of(element.find('.//caption'))} | note"
    if element.tag == "ul" and element.find("li/div") is None:
        return "notes of the job"
    return place


def _all_of(element: Any) -> str:
    return "".join(element.itertext()).strip()


def _cells(table: Any) -> Iterator[Told]:
    caption = _all_of(table.find("caption"))
    yield Told("caption", caption)
    header = [_all_of(cell) for cell in table.find("thead/tr")]
    assert len(set(header)) == len(header), f"{caption}: two columns are called the same"
    yield from (Told(f"{caption} | head", cell) for cell in header)
    for row in table.find("tbody"):
        cells = dict(zip(header, map(_all_of, row), strict=True))
        for column, cell in cells.items():
            yield Told(f"{caption} | {column}", cell, cells)


def _drawn(figure: Any) -> Iterator[Told]:
    """Texts of a drawing; its title and the words under it clause by clause."""
    svg = figure.find(f".//{_SVG}svg")
    title, caption = _all_of(svg.find(f"{_SVG}title")), _all_of(figure.find("figcaption"))
    subject = ", ".join(_CLAUSE_END.split(title)[:2])
    for place, words in (("title", title), ("caption", caption)):
        for clause in _CLAUSE_END.split(words):
            yield Told(f"{subject} | {place}", clause, svg=svg)
    for text in svg.iter(f"{_SVG}text"):
        yield Told(subject, _all_of(text), svg=svg)
