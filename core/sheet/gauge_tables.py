"""What to measure before anything is joined: readings and what to do with each."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from ..bench.gauges import FACET_LOSS, SOURCE, Gauge, JointGauges, joint_gauges
from ..recording.joint_record import fit_diameters
from ..values import Joint, Settings, Tenon
from .sheet_text import Table
from .together import rows_together

_FILL = "fill"

_HEADER = ("joint", "measure", "should read", "good", "sand", _FILL, "print again", "your printer")


def gauge_table(joints: Sequence[Joint], settings: Settings) -> Table:
    """Go and no-go for each joint, alike ones once; what lies outside of all is printed again."""
    numbers = [str(number) for number in range(1, len(joints) + 1)]
    rows = rows_together(numbers, [[*_rows(joint, settings)] for joint in joints])
    kept = [at for at, name in enumerate(_HEADER) if name != _FILL or settings.fit == "glue"]
    return Table(
        "Readings",
        tuple(_HEADER[at] for at in kept),
        tuple(tuple(row[at] for at in kept) for row in rows),
        tuple(_notes(settings)),
    )


def _rows(joint: Joint, settings: Settings) -> Iterator[tuple[str, ...]]:
    gap = printed_gap(joint, settings)
    for name, within in _measured(joint):
        told = joint_gauges(within, gap, settings.fit, settings.spread)
        goes_in, goes_around = names_of(joint)
        yield _row(f"{goes_in}{name}", told.within, settings)
        yield _row(f"{goes_around}{name}", told.around, settings)
    yield _gap_row(told)
    for tenon in joint.tenons:
        yield from _groove_rows(tenon, settings)


def printed_gap(joint: Joint, settings: Settings) -> float:
    """Gap a side, mm, as it should come off the printer: of the files, less what holes lose."""
    within, around = fit_diameters(joint)
    return (around - settings.compensation.hole_undersize - within) / 2.0


def names_of(joint: Joint) -> tuple[str, str]:
    """What goes in at a joint, and what goes around it."""
    if joint.collar is None:
        return ("pin", "socket") if joint.kind == "pins" else ("tenon", "socket")
    if joint.collar.place == "outside":
        return "end, outside", "collar, inside"
    return "sleeve, outside", "end, inside"


def _measured(joint: Joint) -> list[tuple[str, float]]:
    """Widths of what goes in, mm, each with what tells it from the others."""
    if joint.collar is not None:
        return [("", fit_diameters(joint)[0])]
    if len(joint.tenons) == 1:
        return tenon_widths(joint.tenon)
    return [
        (f" {number}{word}", width)
        for number, tenon in enumerate(joint.tenons, 1)
        for word, width in tenon_widths(tenon)
    ]


def tenon_widths(tenon: Tenon) -> list[tuple[str, float]]:
    """Diameter, mm; of a hull of two discs the width across both, and the length over both."""
    radii = [tenon.tenon_radius + swell for swell in tenon.swells]
    across = 2.0 * max(radii)
    if len(radii) == 1:
        return [("", across)]
    long = math.dist(*tenon.centres) + sum(radii)
    return [(", the short way", across), (", the long way", long)]


def _row(what: str, gauge: Gauge, settings: Settings) -> tuple[str, ...]:
    low, high = gauge.go
    loose = "" if gauge.fill_to in gauge.go else _span(gauge.fill_to, _nearer(gauge, gauge.fill_to))
    return (
        what,
        f"{gauge.made:.2f}",
        _span(low, high),
        _span(gauge.sand_to, _nearer(gauge, gauge.sand_to)),
        loose,
        _print_again(gauge),
        _span(gauge.made - settings.spread, gauge.made + settings.spread),
    )


def _nearer(gauge: Gauge, beyond: float) -> float:
    low, high = gauge.go
    return low if beyond < low else high


def _print_again(gauge: Gauge) -> str:
    """Under the lowest and over the highest reading that is good or can be put right."""
    reach = (*gauge.go, gauge.sand_to, gauge.fill_to)
    return f"under {min(reach):.2f}, over {max(reach):.2f}"


def _gap_row(told: JointGauges) -> tuple[str, ...]:
    """What decides: the second reading less the first."""
    gap = told.gap
    loose = "" if gap.fill_to in gap.go else _span(gap.go[1], gap.fill_to)
    return (
        "outer less inner",
        f"{gap.made:.2f}",
        _span(*gap.go),
        f"under {gap.go[0]:.2f}",
        loose,
        f"over {max(gap.go[1], gap.fill_to):.2f}",
        "",
    )


def _groove_rows(tenon: Tenon, settings: Settings) -> Iterator[tuple[str, ...]]:
    """An O-ring's shares of squeeze were reckoned with this spread; past it they do not hold."""
    groove = tenon.groove
    if groove is None or groove.cord is None:
        return
    bottom = 2.0 * (tenon.tenon_radius - groove.depth)
    span = _span(bottom - settings.spread, bottom + settings.spread)
    low, high = bottom - settings.spread, bottom + settings.spread
    again = f"under {low:.2f}, over {high:.2f}"
    yield "groove's bottom", f"{bottom:.2f}", span, "", "", again, span


def _span(one: float, other: float) -> str:
    low, high = sorted((one, other))
    return f"{low:.2f} to {high:.2f}"


def _notes(settings: Settings) -> Iterator[str]:
    yield (
        "Diameters. Where one of the two is not good by itself, what counts is the outer reading "
        "less the inner."
    )
    yield (
        f"Across facets in place of corners a tenon reads up to {FACET_LOSS:.2f} less, and a "
        "socket as much more: turn the part in the caliper, keep a tenon's greatest reading and a "
        "socket's least."
    )
    yield (
        f"Your printer: what it should read, plus and minus {settings.spread:g} mm, to which it "
        "holds diameters. The other columns: gaps that serve the fit, shared by both sides; "
        f"{SOURCE}."
    )
    undersize = settings.compensation.hole_undersize
    if undersize:
        yield (
            f"Sockets are drawn {undersize:g} mm wider than told here, for holes that print too "
            "narrow."
        )
