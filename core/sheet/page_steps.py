"""Notes and steps of the sheet as HTML, each with its cautions beside it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from .markup import Markup, element
from .page_tables import table_block
from .sheet_text import Caution, Hazard, Step, Value

_SENTENCE_END = re.compile(r"(?<=\.)\s+(?=[A-Z])")

_ENOUGH = 60
"""Characters of a caution that is not told in full again, at least."""


def steps_list(kind: str, steps: Iterable[Step], level: int) -> Markup:
    """A list of steps, in order (`ol`) or not (`ul`).

    A caution is told in full at the first step of a list that needs it. At each later one its
    first sentences stand, and where to find the rest.

    Parameters
    ----------
    level : of the headings of the steps
    """
    in_full: dict[Hazard, str] = {}
    return element(kind, *[_step(step, in_full, level) for step in steps])


def brief(text: str) -> str:
    """The first sentences of a caution, as many as say enough."""
    said = ""
    for sentence in _SENTENCE_END.split(text):
        said = f"{said} {sentence}".strip()
        if len(said) >= _ENOUGH:
            break
    return said


def _step(step: Step, in_full: dict[Hazard, str], level: int) -> Markup:
    to_do = element("div", element(f"h{level}", step.title), _said(step.text), _values(step.values))
    inside = [to_do]
    if step.cautions:
        inside.append(element("div", *_cautions(step, in_full), class_="caution", role="note"))
    tables = (table_block(table) for table in step.tables)
    return element("li", element("div", *inside, class_="step"), *tables)


def _said(sentences: Iterable[str]) -> Markup:
    """On a screen each sentence has a line of its own."""
    return element("p", *(element("span", f"{sentence} ") for sentence in sentences), class_="said")


def _values(values: Iterable[Value]) -> Markup:
    pairs = [
        element("div", element("dt", value.name), element("dd", value.shown)) for value in values
    ]
    return element("dl", *pairs) if pairs else Markup()


def _cautions(step: Step, in_full: dict[Hazard, str]) -> Iterator[Markup]:
    yield element("p", element("strong", "Take care"))
    for caution in step.cautions:
        yield _caution(caution, in_full.get(caution.hazard))
        in_full.setdefault(caution.hazard, step.title)


def _caution(caution: Caution, told_at: str | None) -> Markup:
    """In full with its source; or in brief, with the step that has the rest."""
    if told_at is None:
        source = element("span", f" ({caution.source})", class_="source")
        return element("p", caution.text, source)
    said = brief(caution.text)
    rest = "Source" if said == caution.text else "More"
    return element("p", said, element("span", f" {rest} at “{told_at}”.", class_="source"))
