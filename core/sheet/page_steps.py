"""Notes and steps of the sheet as HTML, each with what can hurt at it; and all of that in full."""

from __future__ import annotations

from collections.abc import Iterable

from .markup import Markup, element, joined
from .page_tables import table_block
from .sheet_text import Caution, Step, Value

TAKE_CARE = "Take care"

FIRST = (
    "What can hurt at the steps below, in full; each step says which of it applies. Labels and "
    "safety data sheets of your products, your local codes and rules, and licensed trades where "
    "the law asks for them come first."
)


def cautions_block(cautions: Iterable[Caution], level: int) -> Markup:
    """All cautions of the sheet in full, each with its source, under a heading of a level."""
    told = (_in_full(caution) for caution in cautions)
    said = element("p", FIRST)
    whole = element("div", said, *told, class_="caution whole", role="note")
    return joined([element(f"h{level}", TAKE_CARE), whole])


def _in_full(caution: Caution) -> Markup:
    named = element("strong", f"{caution.hazard.capitalize()}.")
    source = element("span", f" ({caution.source})", class_="source")
    return element("p", named, f" {caution.text}", source)


def steps_list(kind: str, steps: Iterable[Step], level: int) -> Markup:
    """A list of steps, in order (`ol`) or not (`ul`).

    Parameters
    ----------
    level : of the headings of the steps
    """
    return element(kind, *[_step(step, level) for step in steps])


def _step(step: Step, level: int) -> Markup:
    """What can hurt stands before what to do."""
    inside = [element(f"h{level}", step.title)]
    if step.cautions:
        inside.append(element("div", _in_brief(step.cautions), class_="caution", role="note"))
    inside += [_said(step.text), _values(step.values)]
    to_do = element("div", *inside, class_="step")
    if not step.tables:
        return element("li", to_do)
    tables = (table_block(table) for table in step.tables)
    return element("li", element("div", to_do, *tables, class_="work"))


def _in_brief(cautions: Iterable[Caution]) -> Markup:
    said = " ".join(caution.brief for caution in cautions)
    return element("p", element("strong", TAKE_CARE), f" (in full above): {said}")


def _said(sentences: Iterable[str]) -> Markup:
    """On a screen each sentence has a line of its own."""
    return element("p", *(element("span", f"{sentence} ") for sentence in sentences), class_="said")


def _values(values: Iterable[Value]) -> Markup:
    pairs = [
        element("div", element("dt", value.name), element("dd", value.shown)) for value in values
    ]
    return element("dl", *pairs) if pairs else Markup()
