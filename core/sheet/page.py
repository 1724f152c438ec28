"""The plan sheet: one page that goes from the printer to the bench, complete in itself."""

from __future__ import annotations

from collections.abc import Iterable

from ..recording.job_record import JobRecord, PartRecord
from ..values import Outcome
from .bed_drawing import bed_drawings
from .drawing import part_drawing
from .exploded import exploded_drawing
from .joint_drawing import joint_drawings
from .markup import Markup, element, joined
from .sheet_parts import sheet_parts
from .sheet_text import Caution, PartText, Step, Table, Value
from .style import page_style
from .svg import Drawing


def sheet_html(record: JobRecord) -> str:
    """The page of a finished job, from the same values as its record and table.

    It needs nothing but itself: no scripts, no requests, one style.
    """
    text = sheet_parts(record)
    names = ", ".join(part.outcome.name for part in record.parts)
    body = element(
        "body",
        element("h1", f"Plan sheet: {names}"),
        *(element("p", said, class_="soft") for said in text.before),
        _asked(record),
        *(_part(part, told, record) for part, told in zip(record.parts, text.parts, strict=True)),
        _beds(record),
        _section("When it is done", [_steps("ul", text.after)]) if text.after else Markup(),
        _warnings(record),
    )
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="color-scheme", content="light dark"),
        element("title", f"Plan sheet: {names}"),
        element("style", Markup(page_style())),
    )
    return f"<!DOCTYPE html>\n{element('html', head, body, lang='en')}\n"


def _asked(record: JobRecord) -> Markup:
    settings = record.settings
    envelope = " x ".join(f"{size:g}" for size in settings.envelope)
    profile = "" if settings.profile is None else f"printer {settings.profile}, "
    told = (
        f"For {profile}an envelope of {envelope} mm, a {settings.nozzle:g} mm nozzle and layers of "
        f"{settings.layer:g} mm."
    )
    return element("p", told)


def _part(part: PartRecord, told: PartText, record: JobRecord) -> Markup:
    drawings: list[Drawing] = []
    if isinstance(part.outcome, Outcome):
        drawings = [part_drawing(part, record), *joint_drawings(part, record)]
        if len(part.pieces) > 1:
            drawings.append(exploded_drawing(part, record))
    inside: list[str] = [_figure(drawing) for drawing in drawings]
    inside += [_table(table) for table in told.tables]
    if told.printing:
        inside += [element("h3", "On the printer"), _steps("ul", told.printing)]
    if told.bench:
        inside += [element("h3", "At the bench"), _steps("ol", told.bench)]
    return _section(told.name, inside)


def _beds(record: JobRecord) -> Markup:
    if not record.beds:
        return Markup()
    return _section("Beds", [_figure(drawing) for drawing in bed_drawings(record)])


def _warnings(record: JobRecord) -> Markup:
    told = record.every_warning
    if not told:
        return Markup()
    return _section("Notes of the job", [element("ul", *(element("li", said) for said in told))])


def _section(title: str, inside: Iterable[str]) -> Markup:
    return element("section", element("h2", title), *inside)


def _figure(drawing: Drawing) -> Markup:
    shown = element("div", Markup(drawing.svg), class_="scroll")
    return element("figure", shown, element("figcaption", drawing.name))


def _table(table: Table) -> Markup:
    head = element("tr", *(element("th", cell, scope="col") for cell in table.header))
    rows = (element("tr", *(element("td", cell) for cell in row)) for row in table.rows)
    made = element(
        "table",
        element("caption", table.title),
        element("thead", head),
        element("tbody", *rows),
    )
    notes = (element("p", note, class_="soft") for note in table.notes)
    return joined([element("div", made, class_="scroll"), *notes])


def _steps(kind: str, steps: Iterable[Step]) -> Markup:
    return element(kind, *(_step(step) for step in steps))


def _step(step: Step) -> Markup:
    return element(
        "li",
        element("strong", step.title),
        *(element("p", sentence) for sentence in step.text),
        _values(step.values) if step.values else Markup(),
        *(_table(table) for table in step.tables),
        *(_caution(caution) for caution in step.cautions),
    )


def _values(values: Iterable[Value]) -> Markup:
    pairs = (joined([element("dt", value.name), element("dd", value.shown)]) for value in values)
    return element("dl", *pairs)


def _caution(caution: Caution) -> Markup:
    source = element("span", f" ({caution.source})", class_="soft")
    inside = element("p", element("strong", "Take care: "), caution.text, source)
    return element("div", inside, class_="caution", role="note")
