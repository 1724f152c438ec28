"""Tables of the sheet as HTML."""

from __future__ import annotations

import re

from .markup import Markup, element
from .sheet_text import Table

_NUMBER = re.compile(r"[-+]?\d+(\.\d+)?")

_TALL = 25
"""Rows from which a table may go on over the next page."""

_SHORT, _LONGEST_WORD = 16, 24
"""Characters: a cell up to so many is kept on one line, a word of more is broken."""


def table_block(table: Table) -> Markup:
    """A table that scrolls by itself where it is too wide, and the sentences under it."""
    head = element("tr", *(element("th", cell, scope="col") for cell in table.header))
    made = element(
        "table",
        element("caption", table.title),
        element("thead", head),
        element("tbody", *(_row(row) for row in table.rows)),
    )
    notes = (element("p", note, class_="soft") for note in table.notes)
    kind = "block" if len(table.rows) < _TALL else "block tall"
    return element("div", element("div", made, class_="scroll"), *notes, class_=kind)


def _row(cells: tuple[str, ...]) -> Markup:
    first, *others = cells
    named = element("th", first, scope="row", **_kind(first))
    return element("tr", named, *(element("td", cell, **_kind(cell)) for cell in others))


def _kind(cell: str) -> dict[str, str]:
    """The class that says how a cell is set."""
    if _NUMBER.fullmatch(cell):
        return {"class_": "number"}
    if len(cell) <= _SHORT:
        return {"class_": "short"}
    if max(map(len, cell.split())) > _LONGEST_WORD:
        return {"class_": "long"}
    return {"class_": "words"}
