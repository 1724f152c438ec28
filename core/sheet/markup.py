"""HTML elements with every text in them escaped: no string is put into markup by hand."""

from __future__ import annotations

import re
from collections.abc import Iterable
from html import escape

_PLANES = range(0x10000, 0x120000, 0x10000)
_LAST_OF_PLANES = "".join(chr(end - last) for end in _PLANES for last in (1, 2))
_NOT_SHOWN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufdd0-\ufdef"
    f"\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069{_LAST_OF_PLANES}]"
)
"""Characters that HTML does not allow, and those that turn the text about them around; names of
files may hold them."""

_EMPTY = frozenset({"meta", "br"})
"""Elements that have no end."""


class Markup(str):
    """A text that is HTML already."""

    __slots__ = ()


def shown(text: str) -> Markup:
    """A text as HTML shows it, whatever is in it."""
    if isinstance(text, Markup):
        return text
    return Markup(escape(_NOT_SHOWN.sub("�", text)))


def element(name: str, /, *inside: str, **attributes: str) -> Markup:
    """An element; texts inside are escaped, markup stays as it is.

    Parameters
    ----------
    attributes : by name; an underscore at the end keeps off Python's own words
    """
    told = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{shown(value)}"'
        for key, value in attributes.items()
    )
    if name in _EMPTY:
        return Markup(f"<{name}{told}>")
    return Markup(f"<{name}{told}>{joined(inside)}</{name}>")


def joined(pieces: Iterable[str]) -> Markup:
    """One after another."""
    return Markup("".join(shown(piece) for piece in pieces))
