"""The plan sheet: one page that goes from the printer to the bench, complete in itself.

On paper page one holds the title and the first part in section; which labels and rules come
first, what is asked for and what the job notes stands beside it or right after it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from ..recording.job_record import JobRecord, PartRecord
from ..values import Outcome
from .bed_drawing import bed_drawings
from .drawing import part_drawing
from .exploded import exploded_drawing
from .joint_drawing import joint_drawings
from .markup import Markup, element, joined
from .page_steps import cautions_block, steps_list
from .page_tables import table_block
from .sheet_parts import sheet_parts
from .sheet_text import PartText, SheetText, Table
from .style import page_style
from .svg import Drawing

_NARROW = 6
"""Columns of a table that may stand beside a joint's drawing."""

_ACROSS, _MARGIN = 190, 2
"""mm: what a page of A4 holds, and what a drawing keeps free to its right, as in the style."""

_DOWN, _ROW, _AROUND = 247, 9, 16
"""mm: what a page of Letter holds under its title and over a caption, what a row of the table of
pieces takes where a cell of it has two lines, and its title, head and note."""

_FITTED = 118
"""mm: a drawing up to so wide is made as narrow as a phone, where it can still be read."""


def sheet_html(record: JobRecord) -> str:
    """The page of a finished job, from the same values as its record and table.

    It needs nothing but itself: no scripts, no requests, one style.
    """
    title = f"{', '.join(part.outcome.name for part in record.parts)}: plan sheet"
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="color-scheme", content="light dark"),
        element("title", title),
        element("style", Markup(page_style())),
    )
    body = element("body", element("h1", title), *_content(record))
    return f"<!DOCTYPE html>\n{element('html', head, body, lang='en')}\n"


def _content(record: JobRecord) -> Iterator[str]:
    """All under the title; a part that is alone needs no heading with its name again."""
    text = sheet_parts(record)
    alone = len(record.parts) == 1
    level = 2 if alone else 3
    beds = bed_drawings(record)
    for number, (part, told) in enumerate(zip(record.parts, text.parts, strict=True)):
        shown = [*_shown(part, record)]
        own_beds = [_figure(bed) for bed in beds if alone]
        beside = _fit_beside([*shown, *beds[:1]])
        inside = [*(_figure(one, "aside") for one in shown), *(own_beds if beside else ())]
        if number == 0:
            inside.append(_before(text, record, level))
        wide = [table_block(table) for table in told.tables if len(table.header) > _NARROW]
        narrow = [table_block(table) for table in told.tables if len(table.header) <= _NARROW]
        joints = [*_joints(part, record), *(() if beside else own_beds)]
        first = beside and bool(told.tables) and _has_room_for(told.tables[0], shown)
        inside += [*wide, *joints, *narrow] if first else [*joints, *narrow, *wide]
        if number == 0 and text.cautions:
            inside.append(cautions_block(text.cautions, level))
        inside += _work(told, level)
        yield _section("" if alone else told.name, inside)
    if beds and not alone:
        yield _section("Beds", [_figure(bed) for bed in beds])
    if text.after:
        yield _section("When it is done", [steps_list("ul", text.after, 3)])


def _shown(part: PartRecord, record: JobRecord) -> Iterator[Drawing]:
    """The part in section, and its pieces apart, or what was passed on as it stands."""
    yield part_drawing(part, record)
    if len(part.pieces) > 1 or not isinstance(part.outcome, Outcome):
        yield exploded_drawing(part, record)


def _has_room_for(table: Table, drawings: Sequence[Drawing]) -> bool:
    """Is there room on page one for a table under drawings with the small print beside them?"""
    left = _DOWN - max(drawing.height for drawing in drawings)
    return _AROUND + _ROW * len(table.rows) <= left


def _fit_beside(drawings: Sequence[Drawing]) -> bool:
    """Do drawings, each with its margin, stand beside each other on A4?"""
    return sum(drawing.width + _MARGIN for drawing in drawings) <= _ACROSS


def _joints(part: PartRecord, record: JobRecord) -> Iterator[Markup]:
    if isinstance(part.outcome, Outcome):
        yield from (_figure(drawing, "aside") for drawing in joint_drawings(part, record))


def _before(text: SheetText, record: JobRecord, level: int) -> Markup:
    """What comes before everything else, in words, what was asked for, and what the job notes."""
    said = (element("p", sentence) for sentence in text.before)
    inside = [element("div", *said, _asked(record), class_="soft")]
    if record.every_warning:
        notes = (element("li", warning) for warning in record.every_warning)
        inside += [element(f"h{level}", "Notes of the job"), element("ul", *notes)]
    return element("div", *inside, class_="before")


def _asked(record: JobRecord) -> Markup:
    settings = record.settings
    envelope = " x ".join(f"{size:g}" for size in settings.envelope)
    profile = "" if settings.profile is None else f"printer {settings.profile}, "
    told = (
        f"For {profile}an envelope of {envelope} mm, a {settings.nozzle:g} mm nozzle and layers of "
        f"{settings.layer:g} mm."
    )
    return element("p", told)


def _work(told: PartText, level: int) -> Iterator[Markup]:
    """Notes for the printer and steps at the bench, under headings of a level."""
    if told.printing:
        notes = steps_list("ul", told.printing, level + 1)
        yield joined([element(f"h{level}", "On the printer"), notes])
    if told.bench:
        steps = steps_list("ol", told.bench, level + 1)
        yield joined([element(f"h{level}", "At the bench"), steps])
    if told.tuning:
        notes = steps_list("ul", told.tuning, level + 1)
        yield joined([element(f"h{level}", "Tuning"), notes])


def _section(title: str, inside: Iterable[str]) -> Markup:
    heading = element("h2", title) if title else Markup()
    return element("section", heading, *inside)


def _figure(drawing: Drawing, place: str = "row") -> Markup:
    """A drawing in a row with what is around it, or to the left of what comes after it, "aside"."""
    fitting = " fitting" if drawing.width <= _FITTED else ""
    shown = element("div", Markup(drawing.svg), class_=f"scroll{fitting}")
    return element("figure", shown, element("figcaption", drawing.caption), class_=place)
