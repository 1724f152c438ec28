"""What record and table say of plastic and of standing. Sizes here are this project's own."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest
from borewright.core.estimating.estimates import (
    FilamentEstimate,
    PieceEstimate,
    Plastic,
    sum_estimates,
)
from borewright.core.estimating.tip_risk import TipRisk
from borewright.core.recording.estimate_record import (
    estimate_entry,
    estimate_lines,
    filament_entry,
)
from borewright.core.values import Printing, Settings

SETTINGS = Settings((180.0, 180.0, 180.0))
FLOWING = replace(SETTINGS, printing=Printing("wood-PLA", 2.85, 2, 5, 20.0, flow=4.0))


def estimate(height: float) -> PieceEstimate:
    """A piece on a base of 10 mm, with a solid of 20 and a figure of 12 cm3."""
    solid, figure = Plastic(20e3, 24.8, 8.32), Plastic(12e3, 14.88, 4.989)
    return PieceEstimate(FilamentEstimate(solid, figure), TipRisk(height, 10.0))


def told(pieces: dict[str, PieceEstimate], settings: Settings = SETTINGS, **beds: list[str]) -> str:
    """The table, with one blank between words."""
    return " ".join(" ".join(estimate_lines(pieces, settings, beds)).split())


def test_the_record_holds_bound_figure_and_standing() -> None:
    entry = estimate_entry(estimate(55.0), SETTINGS)
    assert json.loads(json.dumps(entry, allow_nan=False)) == {
        "filament": {
            "material": "PLA",
            "density": 1.24,
            "densities": [1.22, 1.26],
            "density_source": "from memory; in data sheets",
            "diameter": 1.75,
            "solid": {"volume": 20e3, "mass_g": 24.8, "length_m": 8.32},
            "figure": {"volume": 12e3, "mass_g": 14.88, "length_m": 4.989},
        },
        "tip": {"height": 55.0, "base_width": 10.0, "ratio": 5.5, "advice": "brim"},
    }


def test_time_is_recorded_with_a_flow_only() -> None:
    assert not {"flow", "least_time_s"} & filament_entry(estimate(9.0).filament, SETTINGS).keys()
    entry = filament_entry(estimate(9.0).filament, FLOWING)
    assert (entry["flow"], entry["least_time_s"]) == (4.0, 3000.0)


def test_a_bed_is_recorded_as_the_sum_of_its_pieces() -> None:
    entry = filament_entry(sum_estimates([estimate(9.0), estimate(30.0)]), SETTINGS)
    assert entry["solid"] == {"volume": 40e3, "mass_g": 49.6, "length_m": pytest.approx(16.64)}


def test_the_table_has_a_row_for_each_piece_bed_and_all() -> None:
    lines = estimate_lines(
        {"pipe-01": estimate(30.0), "pipe-02": estimate(90.0)},
        SETTINGS,
        {"bed-01": ["pipe-01"], "bed-02": ["pipe-02"]},
    )
    rows = [" ".join(line.split()) for line in lines[:6]]
    assert rows[0].startswith("piece solid g m figure g m")
    assert rows[1] == "pipe-01 24.8 8.32 14.9 4.99 30.0 / 10.0 3.0 stands by itself"
    assert rows[2] == "pipe-02 24.8 8.32 14.9 4.99 90.0 / 10.0 9.0 a brim, and slower"
    assert rows[3:] == [
        "bed-01 24.8 8.32 14.9 4.99", "bed-02 24.8 8.32 14.9 4.99", "all 49.6 16.64 29.8 9.98",
    ]  # fmt: skip
    assert all(len(line) <= 96 for line in "\n".join(lines).splitlines())


def test_one_piece_needs_no_sum() -> None:
    assert " all " not in told({"pipe": estimate(30.0)}).split(" solid: ")[0]


def test_what_bound_and_figure_rest_on_is_told() -> None:
    words = told({"pipe": estimate(30.0)})
    assert "walls of 3 lines, 0.4 mm wide each, 4 solid layers" in words
    assert (
        "15 % of the rest. PLA of 1.24 g/cm3 (from memory; in data sheets, 1.22 to 1.26)" in words
    )
    wood = told({"pipe": estimate(30.0)}, FLOWING)
    assert "wood-filled PLA of 1.20 g/cm3 (from memory, doubtful, 1.15 to 1.25), 2.85 mm" in wood
    assert "walls of 2 lines" in wood


def test_one_line_and_one_solid_layer_are_told_as_one() -> None:
    single = replace(FLOWING, printing=replace(FLOWING.printing, lines=1, solid_layers=1))
    words = told({"pipe": estimate(30.0)}, single)
    assert "walls of 1 line, 0.4 mm wide each, 1 solid layer under and over" in words


@pytest.mark.parametrize(("height", "said", "unsaid"), [
    (40.0, "stands by itself", "common practice"),
    (41.0, "a brim where the height is over 4 times", "another way"),
    (81.0, "Or another way: shorter pieces (--pieces)", "stands by itself"),
])  # fmt: skip
def test_tipping_is_told_where_it_may_be(height: float, said: str, unsaid: str) -> None:
    words = told({"pipe": estimate(height)})
    assert said in words
    assert unsaid not in words


@pytest.mark.parametrize(("flow", "said"), [
    (200.0, "at 200 mm3/s, at least 1 min"), (4.0, "at 4 mm3/s, at least 50 min"),
    (math.nextafter(10.0 / 3.0, 4.0), "at 3.33333 mm3/s, at least 59 min"),
    (2.0, "at 2 mm3/s, at least 1 h 40 min"), (0.1, "at 0.1 mm3/s, at least 33 h 20 min"),
])  # fmt: skip
def test_the_least_time_is_told_with_a_flow(flow: float, said: str) -> None:
    """12 000 mm3 over the flow, in whole minutes that are never more than it takes."""
    words = told({"pipe": estimate(30.0)}, replace(SETTINGS, printing=Printing(flow=flow)))
    assert f"{said} to lay the figure's plastic; moves and heating come on top." in words


def test_no_time_is_told_without_a_flow() -> None:
    words = told({"pipe": estimate(90.0)})
    assert " min " not in words
    assert "time:" not in words
