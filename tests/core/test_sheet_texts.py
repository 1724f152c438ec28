"""What a name or a message may hold, the page holds as text: nothing of it becomes markup."""

from __future__ import annotations

from dataclasses import replace

import html5lib
import pytest
from borewright.core.recording.job_record import JobRecord, PartRecord
from borewright.core.sheet.markup import element
from borewright.core.sheet.page import sheet_html
from borewright.core.values import Outcome, Piece
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.core.test_sheet_page import assert_harmless
from tests.read_page import Element, read_page
from tests.sheet_jobs import job_of

ODD = [
    "<script>alert(1)</script>", "</title><script src=//x>", '"><img src=x onerror=alert(1)>',
    "' onload='alert(1)", "</style><style>*{display:none}", "<!--", "]]>", "<?php ?>", "&lt;b&gt;",
    "&#x3c;script&#x3e;", "${7*7}", "\u202egnp.exe", "a\u2066b\u2069c\u200f", "\x00\x07\x1b[31m",
    "\x85\x9b\ud800", "\ufdd0\ufffe\U0001ffff\U0010ffff", "tab\tline\nreturn\r", "🎺👩‍🔧",
    "x" * 300, "x" * 10_000, "long words " * 900,
    "\ud83d" * 50, "<" * 10_000, "\u0627\u0644\u0646\u0627\u064a", "%3Cscript%3E", "`", "\\",
]  # fmt: skip
NAMES = st.text(st.characters(), min_size=1, max_size=40) | st.sampled_from(ODD)
BIDI = "\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
"""Characters that turn the text about them around (Unicode Standard Annex 9)."""


def renamed(record: JobRecord, name: str) -> JobRecord:
    """The same job with a text in every place that somebody else's text gets to."""
    names = {piece.name: f"{name}-{k}" for k, piece in enumerate(_pieces(record), 1)}
    parts = tuple(_renamed_part(part, name, names) for part in record.parts)
    beds = tuple(
        replace(
            one,
            saved=replace(one.saved, file=f"{name}.3mf"),
            bed=replace(
                one.bed,
                placed=tuple(replace(at, name=names[at.name]) for at in one.bed.placed),
            ),
        )
        for one in record.beds
    )
    return replace(
        record,
        settings=replace(record.settings, profile=name),
        parts=parts,
        beds=beds,
        files={names[old]: replace(file, file=f"{name}.stl") for old, file in record.files.items()},
        estimates={names[old]: one for old, one in record.estimates.items()},
        warnings=(name,),
    )


def _pieces(record: JobRecord) -> list[Piece]:
    return [piece for part in record.parts for piece in part.pieces]


def _renamed_part(part: PartRecord, name: str, names: dict[str, str]) -> PartRecord:
    outcome = part.outcome
    assert isinstance(outcome, Outcome)
    pieces = tuple(replace(piece, name=names[piece.name]) for piece in outcome.pieces)
    source = replace(part.source, file=f"{name}.stl")
    return replace(part, source=source, outcome=replace(outcome, name=name, pieces=pieces))


def _tags(page: Element) -> list[str]:
    """Of all elements; in no order, as a drawing that a long name widens stands elsewhere."""
    return sorted(one.tag for one in page.all())


@pytest.mark.parametrize("name", ODD)
def test_an_odd_name_stays_a_text_in_every_place(name: str) -> None:
    plain = read_page(sheet_html(renamed(job_of("flute"), "plain")))
    page = sheet_html(renamed(job_of("flute"), name))
    html5lib.HTMLParser(strict=True).parse(page)
    read = read_page(page)
    assert_harmless(read)
    assert _tags(read) == _tags(plain)
    assert not set(BIDI) & set(page)
    assert next(read.all("title")).text == next(read.all("h1")).text
    assert len(page.encode("utf-8")) < 2_000_000


@settings(max_examples=25, deadline=None)
@given(name=NAMES)
def test_any_name_stays_a_text_in_every_place(name: str) -> None:
    read = read_page(sheet_html(renamed(job_of("flute"), name)))
    assert_harmless(read)


@given(texts=st.lists(st.text(), max_size=4), value=st.text())
def test_an_element_holds_what_it_is_given_and_nothing_else(texts: list[str], value: str) -> None:
    page = f"<!DOCTYPE html>{element('html', *(element('p', one) for one in texts), lang=value)}"
    read = read_page(page)
    assert [one.tag for one in read.all()] == ["p"] * len(texts)
    assert set(read.attributes) == {"lang"}
    for given_text, one in zip(texts, read.children, strict=True):
        for asked, shown in zip(given_text, one.text, strict=True):
            assert shown in {asked, "\N{REPLACEMENT CHARACTER}"}
            assert shown == asked or not (asked.isprintable() or asked in "\t\r\n")


def test_texts_that_look_like_markup_are_read_as_they_were_written() -> None:
    for name in ('<b>"&"</b>', "a & b", "it's", "&amp;", "<"):
        read = read_page(f"<!DOCTYPE html>{element('html', name, lang=name)}")
        assert read.text == name
        assert read.attributes["lang"] == name
