"""A page of HTML read back with the standard library's parser, which knows nothing of ours."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

_WITHOUT_END = {"meta", "br"}


@dataclass(eq=False)
class Element:
    """An element with its attributes, and texts and elements inside, in order."""

    tag: str
    attributes: dict[str, str]
    inside: list[Element | str] = field(default_factory=list)

    @property
    def children(self) -> list[Element]:
        return [one for one in self.inside if isinstance(one, Element)]

    @property
    def text(self) -> str:
        return "".join(one if isinstance(one, str) else one.text for one in self.inside)

    @property
    def classes(self) -> list[str]:
        return self.attributes.get("class", "").split()

    def all(self, *tags: str) -> Iterator[Element]:
        """Elements inside, at any depth, in order; of these tags, if any are given."""
        for child in self.children:
            if not tags or child.tag in tags:
                yield child
            yield from child.all(*tags)

    def having(self, name: str) -> list[Element]:
        """Elements inside of a class."""
        return [one for one in self.all() if name in one.classes]


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open = [Element("", {})]
        self.declarations: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert len({name for name, _ in attrs}) == len(attrs), f"an attribute twice: {attrs}"
        made = Element(tag, {name: value or "" for name, value in attrs})
        self.open[-1].inside.append(made)
        if tag not in _WITHOUT_END:
            self.open.append(made)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop().tag == tag

    def handle_data(self, data: str) -> None:
        self.open[-1].inside.append(data)

    def handle_decl(self, decl: str) -> None:
        self.declarations.append(decl)

    def handle_comment(self, data: str) -> None:
        raise AssertionError(f"a comment: {data}")

    def handle_pi(self, data: str) -> None:
        raise AssertionError(f"an instruction: {data}")

    def unknown_decl(self, data: str) -> None:
        raise AssertionError(f"a declaration: {data}")


def read_page(page: str) -> Element:
    """The root of a page; every element that is begun is ended, none is ended twice."""
    reader = _Reader()
    reader.feed(page)
    reader.close()
    assert reader.declarations == ["DOCTYPE html"]
    assert len(reader.open) == 1
    (root,) = reader.open[0].children
    assert root.tag == "html"
    return root


def cells_of(table: Element) -> list[list[str]]:
    """The texts of a table, row by row, its header first."""
    return [[cell.text for cell in row.children] for row in table.all("tr")]
