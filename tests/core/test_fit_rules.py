"""Gaps by fit, nozzle and profile, and the words that tell them.

The ranges are common practice of filament printing, no source: a side 0.10 to 0.15 for a
tight fit and 0.20 to 0.30 for a sliding one; other pages, half of a gap on the diameter, 0.05
to 0.10 for a snug and 0.15 to 0.25 for a sliding one. A glue's best gap, 0.05 to 0.20, is of
handbooks of adhesives.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from borewright.core.errors import BadSetting
from borewright.core.fitting.fit_rules import (
    LEAST_CLEARANCE,
    check_layer,
    choose_clearance,
    choose_fit,
    fit_notes,
    fit_sentence,
    rule_clearance,
    rule_least_wall,
    usual_layer,
    wall_sentence,
)
from borewright.core.fitting.printer_profile import FitClearances, PrinterProfile
from borewright.core.values import Compensation, Fit, JointKind, Settings

ASKED = Settings((180.0, 180.0, 180.0))
NOZZLES = [0.1, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.2, 2.0]
FITS: list[Fit] = ["push", "glue", "take-apart"]


@pytest.mark.parametrize(("fit", "low", "high"), [
    ("glue", 0.10, 0.20), ("push", 0.10, 0.15), ("push", 0.05, 0.10),
    ("take-apart", 0.20, 0.30), ("take-apart", 0.15, 0.25),
])  # fmt: skip
def test_for_the_usual_nozzle_each_gap_lies_in_what_the_trade_gives(
    fit: Fit, low: float, high: float
) -> None:
    assert low <= rule_clearance(fit, 0.4) <= high


def test_without_anything_given_the_gap_is_the_contracts() -> None:
    chosen = choose_clearance("glue", 0.4, asked=None, profile=None)
    assert (chosen.radial_clearance, chosen.origin) == (0.15, "rule")
    assert ASKED.clearance == chosen.radial_clearance
    assert ASKED.clearance_from == chosen.origin


@pytest.mark.parametrize("fit", FITS)
def test_a_wider_nozzle_takes_no_narrower_gap(fit: Fit) -> None:
    gaps = [rule_clearance(fit, nozzle) for nozzle in NOZZLES]
    assert gaps == sorted(gaps)
    assert gaps[0] < gaps[-1]
    assert min(gaps) >= LEAST_CLEARANCE
    assert all(round(gap, 2) == gap for gap in gaps)


@pytest.mark.parametrize("nozzle", NOZZLES)
def test_glue_never_gets_more_than_it_fills_and_push_is_the_tightest(nozzle: float) -> None:
    push, glue, apart = (rule_clearance(fit, nozzle) for fit in FITS)
    assert glue <= 0.20
    assert push < apart
    assert glue <= apart
    assert push <= 0.50 >= apart


def test_half_of_a_gap_goes_with_the_nozzle() -> None:
    """0.20 (1 + (0.6 / 0.4 - 1) / 2) = 0.25; 0.10 at twice the nozzle 0.15; glue held at 0.20."""
    assert rule_clearance("take-apart", 0.6) == 0.25
    assert rule_clearance("push", 0.8) == 0.15
    assert rule_clearance("glue", 0.8) == 0.20


def test_asked_beats_profile_and_profile_beats_the_rule() -> None:
    profile = PrinterProfile("mini", clearances=FitClearances(glue=0.12))
    gaps = [
        choose_clearance("glue", 0.4, asked=0.0, profile=profile),
        choose_clearance("glue", 0.4, asked=None, profile=profile),
        choose_clearance("push", 0.4, asked=None, profile=profile),
    ]
    assert [(gap.radial_clearance, gap.origin) for gap in gaps] == [
        (0.0, "asked"), (0.12, "profile"), (0.1, "rule"),
    ]  # fmt: skip


def test_the_layer_is_half_the_nozzle_and_never_more_than_it() -> None:
    assert usual_layer(0.4) == ASKED.layer == 0.2
    check_layer(0.4, 0.4)
    with pytest.raises(BadSetting, match=r"layers of 0\.41 mm from a nozzle of 0\.4 mm") as told:
        check_layer(0.4, 0.41)
    assert "--layer 0.2" in str(told.value)


def test_the_fit_is_told_in_one_sentence_with_its_gap_and_its_reason() -> None:
    assert fit_sentence(ASKED) == (
        "Fit glue: 0.15 mm a side, common practice for a 0.4 mm nozzle: room for a thin film of "
        "glue, which holds best below 0.20 mm."
    )
    kept = replace(ASKED, clearance=0.12, clearance_from="profile", profile="mini", fit="push")
    assert fit_sentence(kept) == "Fit push: 0.12 mm a side, as printer profile mini has it."
    asked = replace(kept, clearance_from="asked")
    assert fit_sentence(asked) == "Fit push: 0.12 mm a side, as asked for."


def compensated(**made: float) -> Settings:
    return replace(ASKED, compensation=Compensation(**made))


def test_a_printer_that_needs_nothing_gets_no_notes() -> None:
    assert fit_notes(ASKED, jointed=True) == ()


def test_what_is_made_otherwise_is_told_with_its_place() -> None:
    (holes,) = fit_notes(compensated(hole_undersize=0.2), jointed=True)
    assert "0.100 mm a side wider, 0.250 mm" in holes
    assert "0.2 mm too narrow on the diameter" in holes
    assert "the part's own bores and holes are left" in holes
    (bulge,) = fit_notes(compensated(first_layer_bulge=0.35), jointed=True)
    assert "Mouths of sockets are bevelled by up to 0.45 mm" in bulge
    (shrink,) = fit_notes(compensated(shrink_percent=2.0), jointed=True)
    assert "1.02041 times" in shrink


def test_of_a_part_in_one_piece_only_its_shrink_is_told() -> None:
    both = compensated(hole_undersize=0.2, first_layer_bulge=0.2, shrink_percent=1.0)
    (shrink,) = fit_notes(replace(both, layer=0.4), jointed=False)
    assert "shrinks by 1 %" in shrink


@pytest.mark.parametrize(("nozzle", "layer", "count"), [
    (0.4, 0.1, 0), (0.4, 0.2, 0), (0.4, 0.09, 1), (0.4, 0.3, 1), (0.4, 0.31, 2), (0.8, 0.2, 0),
    (0.8, 0.21, 1),
])  # fmt: skip
def test_layers_out_of_practice_or_over_the_axial_gap_are_told(
    nozzle: float, layer: float, count: int
) -> None:
    """A quarter to three quarters of the nozzle (common practice, no source); 0.2 over the tip."""
    wall = rule_least_wall(nozzle)
    asked = replace(ASKED, nozzle=nozzle, layer=layer, least_wall=wall)
    assert len(fit_notes(asked, jointed=True)) == count


# --- least wall ----------------------------------------------------------------------------


@pytest.mark.parametrize("nozzle", NOZZLES)
def test_the_thinnest_wall_is_two_lines_of_the_nozzle_and_never_under_the_usual(
    nozzle: float,
) -> None:
    wall = rule_least_wall(nozzle)
    assert wall == pytest.approx(max(0.8, 2.0 * nozzle))
    assert wall == round(wall, 6)  # and reads as it is


def test_without_anything_given_the_least_wall_is_the_contracts() -> None:
    assert rule_least_wall(0.4) == ASKED.least_wall == 0.8


@pytest.mark.parametrize(("nozzle", "wall", "words"), [
    (0.4, 0.8, "0.80 mm at the least, two lines of a 0.4 mm nozzle."),
    (0.6, 1.2, "1.20 mm at the least, two lines of a 0.6 mm nozzle."),
    (0.25, 0.8, "0.80 mm at the least, what is usual; two lines of a 0.25 mm nozzle are thinner."),
    (0.6, 1.0, "1.00 mm at the least, as asked for."),
])  # fmt: skip
def test_the_least_wall_is_told_with_its_reason(nozzle: float, wall: float, words: str) -> None:
    assert words in wall_sentence(replace(ASKED, nozzle=nozzle, least_wall=wall))


def test_a_wall_asked_for_that_is_thinner_than_two_lines_is_told() -> None:
    thin = replace(ASKED, nozzle=0.6, layer=0.3, least_wall=0.8)
    said = [note for note in fit_notes(thin, jointed=True) if "two lines" in note]
    assert ["0.8 mm thin" in note and "0.6 mm nozzle take 1.2" in note for note in said] == [True]
    assert not any("lines" in note for note in fit_notes(thin, jointed=False))
    enough = replace(thin, least_wall=1.2)
    assert not any("two lines" in note for note in fit_notes(enough, jointed=True))


# --- fit by the kind of joint -----------------------------------------------------------------


@pytest.mark.parametrize("joint", [None, "tenon", "pins", "collar", "sleeve"])
def test_joints_without_a_groove_are_glued_unless_asked_otherwise(joint: JointKind | None) -> None:
    assert choose_fit(None, joint) == "glue"
    for fit in FITS:
        assert choose_fit(fit, joint) == fit


@pytest.mark.parametrize("joint", ["oring", "lapped"])
def test_joints_with_a_groove_are_taken_apart_and_never_glued(joint: JointKind) -> None:
    assert choose_fit(None, joint) == "take-apart"
    assert choose_fit("push", joint) == "push"
    with pytest.raises(BadSetting, match=f"glue, .*--joint {joint}.*take-apart, or push"):
        choose_fit("glue", joint)
