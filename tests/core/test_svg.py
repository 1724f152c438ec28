"""Texts and their boxes: widths against a published font's, markup, and rows that spread."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from borewright.core.sheet.character_widths import is_bounded, shortened, text_width
from borewright.core.sheet.dimensions import (
    columns_of,
    level_dimension,
    spread,
    spread_within,
    upright_dimension,
)
from borewright.core.sheet.svg import Pen, short
from hypothesis import given
from hypothesis import strategies as st

from tests.drawn import (
    beyond_frame,
    crossing_dimensions,
    overlapping,
    struck_through,
    untrue_dimensions,
)

# Widths in thousandths, Adobe Core 14 font metrics, Helvetica (from memory).
HELVETICA = {
    " ": 278, "0": 556, "1": 556, "9": 556, "A": 667, "M": 833, "W": 944, "a": 556, "i": 222,
    "m": 833, "w": 722, ".": 278, ",": 278, "-": 333, ":": 278, "%": 889, "@": 1015, "/": 278,
    "Q": 778, "x": 500,
}  # fmt: skip


def test_no_character_of_helvetica_is_wider_than_its_bound() -> None:
    for character, thousandths in HELVETICA.items():
        assert text_width(character, 1000.0) >= thousandths
        assert text_width(character, 1000.0) <= 1.45 * thousandths


@given(st.text(max_size=40))
def test_any_text_gives_xml_that_reads_back(text: str) -> None:
    pen = Pen()
    pen.text(text, (0.0, 0.0))
    drawing = pen.drawing(text, text, None)
    root = ET.fromstring(drawing.svg)
    (element,) = root.iter("{http://www.w3.org/2000/svg}text")
    assert len(element) == 0
    assert (element.text or "") == "".join(c if c.isprintable() else "\ufffd" for c in text)
    assert ("textLength" in element.attrib) == (not is_bounded(element.text or ""))


@given(st.text(max_size=60), st.floats(5.0, 80.0))
def test_a_shortened_text_fits_and_keeps_both_its_ends(text: str, room: float) -> None:
    told = shortened(text, 3.5, room)
    assert text_width(told, 3.5) <= room
    if told != text:
        ahead, behind = told.split("\u2026")[0], told.split("\u2026")[-1]
        assert text.startswith(ahead)
        assert text.endswith(behind)


@given(st.text(max_size=60), st.floats(0.0, 60.0))
def test_no_longer_cut_would_have_fitted(text: str, room: float) -> None:
    told = shortened(text, 2.5, room)
    if told != text:
        for kept in range(len(told), len(text)):
            longer = f"{text[: kept - kept // 2]}…{text[len(text) - kept // 2 :]}"
            assert text_width(longer, 2.5) > room


def test_a_text_that_runs_upwards_has_an_upright_box() -> None:
    pen = Pen()
    level = pen.text("123.45", (10.0, 20.0), "middle")
    upright = pen.text("123.45", (10.0, 20.0), "middle", upwards=True)
    assert (upright.width, upright.height) == (level.height, level.width)
    assert level.x + level.width / 2.0 == pytest.approx(10.0)
    assert upright.y + upright.height / 2.0 == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("length", "told"),
    [(0.0, "0"), (-0.001, "0"), (12.5, "12.5"), (100.0, "100"), (-3.456, "-3.46")],
)
def test_lengths_are_written_short(length: float, told: str) -> None:
    assert short(length) == told


@given(st.lists(st.floats(0.0, 100.0), min_size=1, max_size=30), st.floats(0.5, 8.0))
def test_spread_rows_keep_their_pitch_and_move_no_more_than_they_must(
    places: list[float], pitch: float
) -> None:
    wanted = sorted(places)
    found = spread(wanted, [pitch] * len(wanted))
    assert all(b - a >= pitch - 1e-9 for a, b in pairwise(found))
    assert np.mean(found) == pytest.approx(np.mean(wanted), abs=1e-6)
    if all(b - a >= pitch for a, b in pairwise(wanted)):
        assert found == pytest.approx(wanted)
    most = pitch * (len(wanted) - 1) + 1.0
    kept = spread_within(wanted, [pitch] * len(wanted), 0.0, most)
    assert min(kept) >= -1e-9
    assert max(kept) <= most + 1e-9
    assert all(b - a >= pitch - 1e-9 for a, b in pairwise(kept))


def test_spans_that_overlap_stand_in_different_columns() -> None:
    assert columns_of([(0.0, 10.0), (8.0, 20.0), (12.0, 15.0), (25.0, 30.0)], 0.5) == [0, 1, 0, 0]


def test_what_is_wrong_with_a_drawing_is_seen() -> None:
    """The checks that all drawings are held to, each on a drawing that fails it."""
    pen = Pen()
    level_dimension(pen, 0.0, 40.0, 0.0, "40", 1.0, 40.0)
    upright_dimension(pen, 10.0, 30.0, -10.0, "41", 1.0)
    pen.text("told", (18.0, -1.5))
    pen.line("narrow", (60.0, 0.0), (80.0, 10.0))
    pen.text("struck", (65.0, 6.0))
    drawing = pen.drawing("wrong", "", None)
    assert crossing_dimensions(drawing) == [("40", "41")]
    assert overlapping(drawing) == [("40", "told")]
    assert struck_through(drawing) == ["struck"]
    assert [told.split(":")[0] for told in untrue_dimensions(drawing)] == ["41"]
    assert beyond_frame(drawing) == []
    assert set(beyond_frame(replace(drawing, width=70.0))) >= {"struck", "M60 0 80 10"}
