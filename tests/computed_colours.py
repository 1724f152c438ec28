"""Which colour everything on a page has, and on which it stands, by the page's own style.

A small cascade: rules of tags, classes and descendants, by specificity and order (CSS Cascading
and Inheritance Level 4, 6.1), for those properties that colour anything.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from tests.read_page import Element

Scheme = Literal["light", "dark", "print"]

_COLOURING = ("color", "background", "fill", "stroke", "stroke-opacity")
_RULE = re.compile(r"([^{}]+)\{([^{}]*)\}")
_SHAPES = frozenset({"path", "circle"})


@dataclass(frozen=True)
class Seen:
    """Something that is seen: its colour, and the one behind it, each as #rrggbb."""

    what: Literal["text", "line"]
    colour: str
    opacity: float
    behind: str


@dataclass(frozen=True)
class _Rule:
    selector: tuple[str, ...]
    declared: dict[str, str]
    order: int

    @property
    def weight(self) -> tuple[int, int, int]:
        words = " ".join(self.selector)
        tags = sum(not part.startswith(".") for part in self.selector)
        return words.count("."), tags, self.order


@dataclass(frozen=True)
class _Look:
    color: str = "#000000"
    background: str = "none"
    fill: str = "#000000"
    stroke: str = "none"
    opacity: float = 1.0


def seen_on(page: Element, style: str, scheme: Scheme) -> set[Seen]:
    """All pairs of colours that a page shows in a scheme."""
    return set(_seen(page, (), _Look(), _rules(style, scheme)))


def _rules(style: str, scheme: Scheme) -> list[_Rule]:
    told = [*_in_scheme(style, scheme)]
    variables = {}
    for selector, body in told:
        if selector.strip() == ":root":
            variables.update(re.findall(r"(--[\w-]+): ([^;]+);", body))
    rules = []
    for order, (selectors, body) in enumerate(told):
        found: dict[str, str] = dict(re.findall(r"([\w-]+): ([^;]+);?", body))
        declared = {name: _plain(found[name], variables) for name in _COLOURING if name in found}
        for selector in selectors.split(",") if declared else []:
            assert re.fullmatch(r"[\w. -]+|\*", selector.strip()), f"not understood: {selector}"
            rules.append(_Rule(tuple(selector.split()), declared, order))
    return sorted(rules, key=lambda rule: rule.weight)


def _in_scheme(style: str, scheme: Scheme) -> Iterator[tuple[str, str]]:
    """(selectors, declarations) that count in a scheme; of media that ask for a size, all."""
    while block := re.search(r"@(media|page)([^{]*)\{", style):
        yield from _RULE.findall(style[: block.start()])
        end = _closed(style, block.end())
        inside, asked = style[block.end() : end], block[2]
        if block[1] == "media" and _counts(asked, scheme):
            yield from _in_scheme(inside, scheme)
        style = style[end + 1 :]
    yield from _RULE.findall(style)


def _counts(asked: str, scheme: Scheme) -> bool:
    if "dark" in asked:
        return scheme == "dark"
    return ("print" in asked) == (scheme == "print") or "width" in asked


def _closed(style: str, start: int) -> int:
    depth = 1
    for place in range(start, len(style)):
        depth += {"{": 1, "}": -1}.get(style[place], 0)
        if not depth:
            return place
    raise AssertionError("a block without an end")


def _plain(value: str, variables: dict[str, str]) -> str:
    return re.sub(r"var\((--[\w-]+)\)", lambda found: variables[found[1]], value)


def _seen(
    element: Element, above: tuple[Element, ...], inherited: _Look, rules: list[_Rule]
) -> Iterator[Seen]:
    path = (*above, element)
    look = _look(path, inherited, rules)
    drawn = look.fill if element.tag == "text" else look.color
    for inside in element.inside:
        if isinstance(inside, Element):
            if inside.tag not in {"style", "title", "head"}:
                yield from _seen(inside, path, look, rules)
        elif inside.strip():
            yield Seen("text", _colour(drawn, look), 1.0, look.background)
    if element.tag in _SHAPES:
        for colour, opacity in ((look.stroke, look.opacity), (look.fill, 1.0)):
            if colour != "none":
                yield Seen("line", _colour(colour, look), opacity, look.background)


def _colour(value: str, look: _Look) -> str:
    return look.color if value == "currentColor" else value


def _look(path: tuple[Element, ...], look: _Look, rules: list[_Rule]) -> _Look:
    for rule in rules:
        if _matches(path, rule.selector):
            told = {k.replace("stroke-opacity", "opacity"): v for k, v in rule.declared.items()}
            if told.get("color") in {"inherit", "currentColor"}:
                del told["color"]
            if told.get("background") == "none":  # what lies behind is seen through it
                told["background"] = _paper(rules)
            opacity = float(told.pop("opacity", look.opacity))
            look = replace(look, opacity=opacity, **told)  # type: ignore[arg-type]
    return look


def _paper(rules: list[_Rule]) -> str:
    """The colour of the page itself."""
    return next(r.declared["background"] for r in rules if r.selector == ("body",))


def _matches(path: tuple[Element, ...], selector: tuple[str, ...]) -> bool:
    *ancestors, last = selector
    if not _is(path[-1], last):
        return False
    above = iter(reversed(path[:-1]))
    return all(any(_is(one, wanted) for one in above) for wanted in reversed(ancestors))


def _is(element: Element, compound: str) -> bool:
    tag, *classes = compound.split(".")
    return tag in {"", "*", element.tag} and set(classes) <= set(element.classes)
