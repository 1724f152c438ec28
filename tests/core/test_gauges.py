"""What a caliper should read, against what the gap between tenon and socket comes to."""

from __future__ import annotations

import numpy as np
import pytest
from borewright.core.bench.gauges import FACET_LOSS, GOOD_GAPS, Gauge, joint_gauges
from borewright.core.values import CHORD_TOLERANCE, Fit

FITS: tuple[Fit, ...] = ("glue", "push", "take-apart")


def verdict(gauge: Gauge, reading: float) -> str:
    """What to do when it reads so much, to a millionth of a mm."""
    low, high = gauge.go
    if low - 1e-6 <= reading <= high + 1e-6:
        return "go"
    for word, end in (("sand", gauge.sand_to), ("fill", gauge.fill_to)):
        near = low if end < low else high
        if min(end, near) - 1e-6 <= reading <= max(end, near) + 1e-6:
            return word
    return "reprint"


def test_readings_of_a_glued_joint_are_those_worked_by_hand() -> None:
    """17.65 mm, 0.15 a side, printer true to 0.2: 0.10 in hand before 0.05, 0.05 before 0.20."""
    gauges = joint_gauges(17.65, 0.15, "glue", 0.2)
    assert gauges.within.go == pytest.approx((17.60, 17.75))
    assert (gauges.within.sand_to, gauges.within.fill_to) == pytest.approx((17.95, 17.40))
    assert gauges.around.made == pytest.approx(17.95)
    assert gauges.around.go == pytest.approx((17.85, 18.00))
    assert (gauges.around.sand_to, gauges.around.fill_to) == pytest.approx((17.65, 18.20))
    assert gauges.gap.go == pytest.approx((0.10, 0.40))


@pytest.mark.parametrize("fit", FITS)
@pytest.mark.parametrize("clearance", [0.0, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5])
def test_two_that_are_good_alone_are_good_together(fit: Fit, clearance: float) -> None:
    """Of every tenon and socket that read good, the gap reads good; and none beyond serves."""
    gauges = joint_gauges(20.0, clearance, fit, 0.2)
    least, most = GOOD_GAPS[fit]
    for within in np.linspace(*gauges.within.go, 7):
        for around in np.linspace(*gauges.around.go, 7):
            assert verdict(gauges.gap, around - within) == "go"
            side = (around - within) / 2.0
            assert min(least, clearance) - 1e-9 <= side <= max(most, clearance) + 1e-9


@pytest.mark.parametrize("fit", FITS)
def test_what_is_not_good_is_sanded_filled_or_made_again(fit: Fit) -> None:
    clearance = sum(GOOD_GAPS[fit]) / 2.0
    gauges = joint_gauges(20.0, clearance, fit, 0.2)
    loose = "fill" if fit == "glue" else "reprint"
    thick, thin = gauges.within.go[1], gauges.within.go[0]
    verdicts = [verdict(gauges.within, x) for x in (thick + 0.19, thick + 0.21, thin - 0.19)]
    assert verdicts == ["sand", "reprint", loose]
    narrow, wide = gauges.around.go
    verdicts = [verdict(gauges.around, x) for x in (narrow - 0.19, narrow - 0.21, wide + 0.19)]
    assert verdicts == ["sand", "reprint", loose]
    assert verdict(gauges.gap, gauges.gap.go[1] + 0.21) == "reprint"
    assert verdict(gauges.within, gauges.within.made) == "go"


def test_a_printer_that_is_never_off_may_be_sanded_all_the_same() -> None:
    gauges = joint_gauges(20.0, 0.15, "glue", 0.01)
    assert gauges.within.sand_to - gauges.within.go[1] == pytest.approx(0.1)


def test_across_facets_a_tenon_reads_less_by_two_chord_errors() -> None:
    """A regular polygon with its corners on a circle of 20: across facets 20 cos(pi / n)."""
    corners = int(np.ceil(np.pi / np.arccos(1.0 - CHORD_TOLERANCE / 10.0)))
    assert 20.0 * (1.0 - np.cos(np.pi / corners)) <= FACET_LOSS
    assert 20.0 * (1.0 - np.cos(np.pi / (corners - 1))) > FACET_LOSS
