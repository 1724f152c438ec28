"""The sheet as a page: valid, complete in itself, to be read by all, and nothing left out.

Contrast after WCAG 2.2, 1.4.3 and 1.4.11 (text 4.5 to 1, lines 3 to 1), luminance after its
definition of relative luminance. html5lib parses as the HTML standard does and names each error.
"""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise

import html5lib
import pytest
import trimesh
from borewright.core.sheet.cautions import CAUTIONS
from borewright.core.sheet.page import sheet_html
from borewright.core.sheet.sheet_text import Hazard, Step
from borewright.core.sheet.style import DARK, LIGHT, page_style

from tests.computed_colours import Scheme, seen_on
from tests.drawn_jobs import SETTINGS, all_drawings, own_job
from tests.read_page import Element, cells_of, read_page
from tests.sheet_jobs import JOBS, document_of, job_of, steps_of, text_of
from tests.told_together import rows_singly

ALLOWED = {
    "html": {"lang"}, "head": set(), "body": set(), "title": set(), "style": set(),
    "meta": {"charset", "name", "content"}, "section": set(),
    "h1": set(), "h2": set(), "h3": set(), "h4": set(), "p": {"class"}, "span": {"class"},
    "strong": set(), "div": {"class", "role"}, "figure": {"class"}, "figcaption": set(),
    "table": set(), "caption": set(), "thead": set(), "tbody": set(), "tr": set(),
    "th": {"scope", "class"}, "td": {"class"}, "ol": set(), "ul": set(), "li": set(),
    "dl": set(), "dt": set(), "dd": set(),
    "svg": {"xmlns", "class", "role", "viewbox", "width", "height"},
    "path": {"class", "data-of", "d"}, "circle": {"class", "cx", "cy", "r"},
    "text": {"x", "y", "font-size", "text-anchor", "transform", "textlength", "lengthadjust"},
}  # fmt: skip
"""All elements and attributes that a sheet is made of."""

DENSITIES = {"PLA": 1.24e-3, "PETG": 1.27e-3}
"""g/mm3, from memory."""


@cache
def html_of(name: str) -> str:
    return sheet_html(job_of(name))


@cache
def page_of(name: str) -> Element:
    return read_page(html_of(name))


def assert_harmless(page: Element) -> None:
    """Nothing but what is allowed: so no script, no handler, no link, nothing to be fetched."""
    for element in (page, *page.all()):
        assert element.tag in ALLOWED
        assert set(element.attributes) <= ALLOWED[element.tag]
    styles = list(page.all("style"))
    assert [one.text for one in styles] == [page_style()]
    assert not re.search(r"url\(|@import|//|\\", page_style())


@pytest.mark.parametrize("name", JOBS)
def test_a_page_is_valid_and_asks_for_nothing(name: str) -> None:
    html5lib.HTMLParser(strict=True).parse(html_of(name))
    assert_harmless(page_of(name))


@pytest.mark.parametrize("name", JOBS)
def test_a_page_can_be_read_without_seeing_it(name: str) -> None:
    page = page_of(name)
    assert page.attributes == {"lang": "en"}
    levels = [int(one.tag[1]) for one in page.all("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(lower <= upper + 1 for upper, lower in pairwise(levels))
    assert all(figure.children[-1].tag == "figcaption" for figure in page.all("figure"))
    for svg in page.all("svg"):
        assert svg.attributes["role"] == "img"
        assert svg.children[0].tag == "title"
        assert svg.children[0].text
    for table in page.all("table"):
        assert table.children[0].tag == "caption"
        assert all(head.attributes.get("scope") in {"col", "row"} for head in table.all("th"))
        assert all(row.children[0].tag == "th" for row in table.all("tr"))


@pytest.mark.parametrize("name", JOBS)
def test_all_that_the_sheet_says_stands_on_the_page(name: str) -> None:
    page, text = page_of(name), text_of(name)
    steps = [step for part in text.parts for step in (*part.printing, *part.bench, *part.tuning)]
    steps += text.after
    tables = [table for part in text.parts for table in part.tables]
    tables += [table for step in steps for table in step.tables]
    shown = [(table.children[0].text, cells_of(table)) for table in page.all("table")]
    told = [(one.title, [list(row) for row in (one.header, *one.rows)]) for one in tables]
    assert sorted(shown) == sorted(told)
    notes = {note.text for note in page.having("soft")}
    assert {note for table in tables for note in table.notes} <= notes
    assert all(said in page.text for said in (*text.before, *job_of(name).every_warning))
    for step, item in zip(steps, _items(page), strict=True):
        (title,) = item.all("h3", "h4")
        assert title.text == step.title
        assert [span.text.strip() for span in item.having("said")[0].children] == [*step.text]
        values = [(one.name, one.shown) for one in step.values]
        assert list(zip(_texts(item, "dt"), _texts(item, "dd"), strict=True)) == values


def _items(page: Element) -> list[Element]:
    return [item for item in page.all("li") if item.having("step")]


def _texts(inside: Element, tag: str) -> list[str]:
    return [one.text for one in inside.all(tag)]


@pytest.mark.parametrize("name", JOBS)
def test_every_caution_of_the_sheet_is_told_in_full_once_before_all_steps(name: str) -> None:
    page = page_of(name)
    (whole,) = page.having("whole")
    first, *said = [one.text for one in whole.children]
    assert all(word in first for word in ("Labels", "local codes", "licensed trades", "come first"))
    carried = {one for step in _steps(name) for one in step.cautions}
    in_full = {
        one.hazard: f"{one.hazard.capitalize()}. {one.text} ({one.source})" for one in carried
    }
    assert sorted(said) == sorted(in_full.values())
    assert all(page.text.count(f"{one.text} ({one.source})") == 1 for one in carried)
    heading = next(one for one in page.all("h2", "h3") if one.text == "Take care")
    order = [*page.all("h2", "h3", "h4", "div")]
    steps = [place for place, one in enumerate(order) if one.attributes.get("class") == "step"]
    assert order.index(heading) + 1 == order.index(whole) < steps[0]


@pytest.mark.parametrize("name", JOBS)
def test_what_the_job_notes_is_told_before_anything_is_done(name: str) -> None:
    text = page_of(name).text
    for warning in job_of(name).every_warning:
        assert text.index(warning) < text.index("What can hurt at the steps below")


@pytest.mark.parametrize(("name", "high"), [("flute", 211), ("collar", 229), ("rough", 202)])
def test_the_pieces_come_before_the_joints_where_page_one_has_room(name: str, high: int) -> None:
    """Under 211 mm of drawings two rows fit on Letter, 263 mm; under 202 mm four rows do not."""
    page = page_of(name)
    heights = [float(svg.attributes["height"].removesuffix("mm")) for svg in page.all("svg")]
    assert max(heights[:2]) == high
    comes_first = page.text.index("figure g") < page.text.index(", seam 1 at")
    assert comes_first == (name == "flute")


@pytest.mark.parametrize("name", JOBS)
def test_every_step_warns_by_itself_of_each_hazard_before_what_to_do(name: str) -> None:
    items = _items(page_of(name))
    for step, item in zip(_steps(name), items, strict=True):
        boxes = item.having("caution")
        assert len(boxes) == bool(step.cautions), step.title
        if boxes:
            said = " ".join(one.brief for one in step.cautions)
            assert not re.search(r"(?<!gloves\.) It can burn on|(?<!them\.) Its vapour", said)
            assert boxes[0].text == f"Take care (in full above): {said}"
            tags = [one.attributes.get("class", one.tag) for one in item.having("step")[0].children]
            assert tags.index("caution") < tags.index("said")


HARM = {
    "instant glue": "bonds skin and eyelids",
    "instant glue on cloth": "burn on cloth",
    "instant glue vapour": "irritates airways.*asthma",
    "epoxy": "irritates skin.*allergic",
    "dust": "eyes and lungs",
    "solvent": "catch fire.*dizzy",
    "oily rags": "catch fire by themselves",
    "mouth": "not fit for the mouth",
    "hot printer": "burn skin",
    "blade": "cut",
    "small parts": "choke a child",
    "load": "part without warning.*hurt someone",
}
HELP = {
    "instant glue": "glasses, gloves", "instant glue on cloth": "keep it off",
    "instant glue vapour": "ventilate", "epoxy": "gloves, ventilate", "dust": "wet.*glasses, mask",
    "solvent": "no flame", "oily rags": "flat outdoors.*water in a closed metal can",
    "mouth": "coated and cured", "hot printer": "also a while after", "blade": "away from your",
    "small parts": "pick them up", "load": "not where",
}  # fmt: skip
"""What a hazard does to a person, and what helps, as whoever reads one step only has to be told."""


@pytest.mark.parametrize("hazard", CAUTIONS)
def test_a_caution_in_brief_says_what_hurts_and_what_to_do(hazard: Hazard) -> None:
    brief = CAUTIONS[hazard].brief
    assert re.search(HARM[hazard], brief)
    assert re.search(HELP[hazard], brief)
    assert brief.endswith(".")
    assert len(brief) < 140 < len(CAUTIONS[hazard].text + CAUTIONS[hazard].source)


def _steps(name: str) -> list[Step]:
    """All notes and steps, in the order of the page."""
    return [*steps_of(name)]


@pytest.mark.parametrize("name", JOBS)
def test_every_drawing_of_the_job_stands_on_the_page_as_it_was_drawn(name: str) -> None:
    record = job_of(name)
    page = html_of(name)
    drawings = all_drawings(record)
    assert all(page.count(drawing.svg) == 1 for drawing in drawings)
    figures = list(page_of(name).all("figure"))
    assert len(figures) == len(drawings)
    captions = [figure.children[-1].text for figure in figures]
    assert sorted(captions) == sorted(drawing.caption for drawing in drawings)


@pytest.mark.parametrize("name", JOBS)
def test_nothing_that_stands_under_a_drawing_stands_in_it_as_well(name: str) -> None:
    for figure in page_of(name).all("figure"):
        caption = figure.children[-1].text
        words = [text.text for text in figure.all("text") if " " in text.text]
        assert not any(text in caption for text in words)


@pytest.mark.parametrize("name", JOBS)
def test_the_pieces_table_is_that_of_the_document_and_the_meshes(name: str) -> None:
    (table,) = [one for one in page_of(name).all("table") if one.children[0].text == "Pieces"]
    header, *told = cells_of(table)
    entries = [piece for part in document_of(name)["parts"] for piece in part["pieces"]]
    material = document_of(name)["settings"]["printing"]["material"]
    pieces = {piece.name: piece.mesh for part in job_of(name).parts for piece in part.pieces}
    rows = {row["piece"]: [*row.values()] for row in rows_singly(header, told, [*pieces])}
    assert sorted(rows) == sorted(pieces)
    for entry, mesh in zip(entries, pieces.values(), strict=True):
        row = rows[entry["name"]]
        solid = trimesh.Trimesh(mesh.vertices, mesh.triangles)
        assert float(row[1]) == pytest.approx(float(solid.extents[2]), abs=0.005001)
        assert float(row[2]) == pytest.approx(entry["mass_g"], abs=0.05001)
        assert solid.volume * DENSITIES[material] == pytest.approx(entry["mass_g"], rel=1e-6)
        assert int(row[5]) == entry["bed"] + 1


@pytest.mark.parametrize("name", sorted(SETTINGS))
def test_every_page_stays_under_2_mb(name: str) -> None:
    page = sheet_html(own_job(name))
    assert len(page.encode()) < 2_000_000
    assert_harmless(read_page(page))


def test_the_same_job_gives_the_same_bytes() -> None:
    made = own_job.__wrapped__
    assert sheet_html(made("five")).encode() == sheet_html(made("five")).encode()


@pytest.mark.parametrize("scheme", ["light", "dark", "print"])
@pytest.mark.parametrize("name", ["flute", "collar", "block"])
def test_texts_and_lines_stand_out_from_what_is_behind(name: str, scheme: Scheme) -> None:
    """Every pair of colours that the page's own style puts on it."""
    pairs = seen_on(page_of(name), page_style(), scheme)
    assert {pair.what for pair in pairs} == {"text", "line"}
    for pair in pairs:
        front, back = _channels(pair.colour), _channels(pair.behind)
        share = pair.opacity
        mixed = [
            share * one + (1.0 - share) * other for one, other in zip(front, back, strict=True)
        ]
        assert _contrast(mixed, back) >= (4.5 if pair.what == "text" else 3.0), pair


def test_all_colours_of_texts_are_found_on_the_page() -> None:
    """So that the test of contrast looks at something: ink and soft on paper and on cautions."""
    pairs = {(one.colour, one.behind) for one in seen_on(page_of("flute"), page_style(), "dark")}
    assert pairs == {
        (DARK[ink], DARK[on]) for ink in ("ink", "soft") for on in ("paper", "caution")
    }
    printed = seen_on(page_of("flute"), page_style(), "print")
    assert {one.behind for one in printed} == {LIGHT["paper"]}


def test_what_is_printed_is_large_enough() -> None:
    """Steps and their cautions can be read at arm's length: 10 point; nothing is under 8."""
    (printed,) = re.findall(r"@media print \{\n(.*?)\n\}", page_style(), re.DOTALL)
    sizes = dict(re.findall(r"([^{}]+?) \{[^}]*font-size: ([\d.]+)pt", printed))
    sizes = {name.strip(): float(size) for name, size in sizes.items()}
    assert sizes.pop("html") >= 10.0
    assert sizes.pop(".caution") >= 10.0
    assert min(sizes.values()) >= 8.0
    small = {name for name, size in sizes.items() if size < 10.0}
    assert small == {".soft, figcaption, table", ".source"}


def test_a_page_of_paper_may_end_between_two_rows_of_drawings() -> None:
    """Drawings are set like words: orphans and widows would keep two rows on one page."""
    (printed,) = re.findall(r"@media print \{\n(.*?)\n\}", page_style(), re.DOTALL)
    assert re.search(r"^  body \{[^}]*orphans: 1; widows: 1;", printed, re.MULTILINE)
    assert re.search(r"^  figure, \.block \{[^}]*break-inside: avoid;", printed, re.MULTILINE)
    assert re.search(r"^  \.step, tr \{[^}]*break-inside: avoid;", printed, re.MULTILINE)


def test_no_other_colour_is_used() -> None:
    style = page_style()
    used = set(re.findall(r"#[0-9a-fA-F]{3,8}\b", style))
    assert used == {*LIGHT.values(), *DARK.values()}
    assert not re.search(r"\b(rgba?|hsla?|hwb|lab|lch|oklab|oklch|color-mix)\(", style)
    values = re.findall(r"(?:[ {;])(?:color|background|fill|stroke): ([^;]+);", style)
    assert set(values) <= {
        "var(--paper)", "var(--ink)", "var(--soft)", "var(--caution)",
        "currentColor", "inherit", "none",
    }  # fmt: skip
    assert re.findall(r"opacity: ([^;]+);", style) == [".7"]


def _channels(colour: str) -> list[float]:
    return [int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5)]


def _contrast(one: list[float], other: list[float]) -> float:
    dark, light = sorted((_luminance(one), _luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def _luminance(channels: list[float]) -> float:
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
