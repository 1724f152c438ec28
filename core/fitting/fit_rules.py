"""Which gap a fit takes, and why: what is asked for beats a printer profile, and that the rule.

Gaps are radial, mm a side, between true surfaces. The rule is common practice of
filament printing, no standard: trade pages give 0.10 to 0.15 a side for a tight fit and
0.20 to 0.30 for a sliding one, others 0.05 to 0.10 for a snug and 0.15 to 0.25 for a
sliding one (both are half of a gap on the diameter); each default lies in both. They are
for a 0.4 mm nozzle. A fit trial on the printer at hand is worth more than any of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..errors import BadSetting
from ..values import AXIAL_GAP, ClearanceOrigin, Fit, JointKind, Settings
from .printer_profile import PrinterProfile

USUAL_NOZZLE = 0.4
"""Bore of the nozzle, mm, that the rule's gaps are for."""

LEAST_CLEARANCE = 0.05
"""Narrowest gap of the rule, mm a side; nearer than that, two walls print as one."""

LAYER_SHARES = (0.25, 0.75)
"""Layer height over the nozzle's bore: common practice, no source."""

USUAL_LEAST_WALL = 0.8
"""Thinnest wall of a joint, mm, of the usual nozzle and narrower ones: two of its lines."""

WALL_LINES = 2
"""Lines of plastic in the thinnest wall of a joint, each as wide as the nozzle's bore.

Common practice, no source: a single line has nothing beside it to hold to.
"""

_NOZZLE_SHARE = 0.5
"""Of a gap, what goes with the line's width; the rest is the machine's. Judgement, no source."""

_GRID = 0.01
"""Gaps of the rule are told as they are: whole hundredths of a mm."""


@dataclass(frozen=True, slots=True)
class _Rule:
    """A fit's gap.

    usual : mm a side, for the usual nozzle
    most : mm a side, for any nozzle
    reason : what the gap is to do
    """

    usual: float
    most: float
    reason: str


_RULES: dict[Fit, _Rule] = {
    "glue": _Rule(0.15, 0.20, "room for a thin film of glue, which holds best below 0.20 mm"),
    "push": _Rule(0.10, 0.50, "tight, to be pushed home by hand and to stay by friction"),
    "take-apart": _Rule(0.20, 0.50, "sliding, to be taken apart and put together again"),
}


@dataclass(frozen=True, slots=True)
class Clearance:
    """A gap, mm a side, and where it came from."""

    radial_clearance: float
    origin: ClearanceOrigin


GROOVED: tuple[JointKind, ...] = ("oring", "lapped")
"""Kinds of joint with something soft in a groove: they are to be taken apart."""


def choose_fit(asked: Fit | None, joint: JointKind | None) -> Fit:
    """The fit asked for, else glue; for a joint with a groove take-apart.

    Raises
    ------
    BadSetting : glue is asked for in a joint that is to be taken apart
    """
    if joint not in GROOVED:
        return asked or "glue"
    if asked == "glue":
        raise BadSetting(
            f"--fit glue, a film of at most {_RULES['glue'].most:.2f} mm that sets, with --joint "
            f"{joint}, which is to be taken apart",
            "--fit take-apart, or push for a narrower gap",
            "leave --fit out, or take another --joint to glue",
        )
    return asked or "take-apart"


def rule_clearance(fit: Fit, nozzle: float) -> float:
    """Gap, mm a side, by common practice for a fit and a nozzle.

    Half of it grows and shrinks as the nozzle's bore does. A layer's height does not
    change it: layers are stacked along the axis, the gap lies across it.
    """
    rule = _RULES[fit]
    scaled = rule.usual * (1.0 + _NOZZLE_SHARE * (nozzle / USUAL_NOZZLE - 1.0))
    whole = round(scaled / _GRID) * _GRID
    return round(min(max(whole, LEAST_CLEARANCE), rule.most), 6)


def choose_clearance(
    fit: Fit, nozzle: float, *, asked: float | None, profile: PrinterProfile | None
) -> Clearance:
    """The gap asked for, else the profile's for the fit, else the rule's."""
    if asked is not None:
        return Clearance(asked, "asked")
    kept = profile.clearances.of(fit) if profile is not None else None
    if kept is not None:
        return Clearance(kept, "profile")
    return Clearance(rule_clearance(fit, nozzle), "rule")


def usual_layer(nozzle: float) -> float:
    """Layer height, mm, where none is given: half the nozzle's bore."""
    return nozzle / 2.0


def rule_least_wall(nozzle: float) -> float:
    """Thinnest wall of a joint, mm, where none is asked for: what is usual, or two lines."""
    return max(USUAL_LEAST_WALL, round(WALL_LINES * nozzle, 6))


def check_layer(nozzle: float, layer: float) -> None:
    """Raises `BadSetting` where a nozzle cannot lay so high a layer."""
    if layer > nozzle:
        raise BadSetting(
            f"layers of {layer:g} mm from a nozzle of {nozzle:g} mm",
            f"layers of at most {nozzle:g} mm, by common practice {LAYER_SHARES[0] * nozzle:g} "
            f"to {LAYER_SHARES[1] * nozzle:g} mm",
            f"--layer {usual_layer(nozzle):g}, or the nozzle that the printer has",
        )


def fit_sentence(settings: Settings) -> str:
    """The gap in mm a side, where it came from, and why it is so much."""
    gap = f"Fit {settings.fit}: {settings.clearance:.2f} mm a side"
    if settings.clearance_from == "asked":
        return f"{gap}, as asked for."
    if settings.clearance_from == "profile":
        return f"{gap}, as printer profile {settings.profile} has it."
    reason = _RULES[settings.fit].reason
    return f"{gap}, common practice for a {settings.nozzle:g} mm nozzle: {reason}."


def wall_sentence(settings: Settings) -> str:
    """How thin the walls of joints may be, and why."""
    wall, nozzle = settings.least_wall, settings.nozzle
    told = f"Walls of joints: {wall:.2f} mm at the least"
    if wall != rule_least_wall(nozzle):
        return f"{told}, as asked for."
    if wall > WALL_LINES * nozzle + 1e-9:
        return f"{told}, what is usual; two lines of a {nozzle:g} mm nozzle are thinner."
    return f"{told}, two lines of a {nozzle:g} mm nozzle."


def fit_notes(settings: Settings, *, jointed: bool) -> tuple[str, ...]:
    """What was made otherwise for the printer's sake, and where; and what its layers may do.

    jointed : are there joints?
    """
    if not jointed:
        return tuple(_shrink_notes(settings))
    return (
        *_joint_compensations(settings),
        *_wall_notes(settings),
        *_layer_notes(settings),
        *_shrink_notes(settings),
    )


def _joint_compensations(settings: Settings) -> Iterator[str]:
    made = settings.compensation
    if made.hole_undersize:
        yield (
            f"Gaps of joints are made {settings.made_clearance - settings.clearance:.3f} mm a side "
            f"wider, {settings.made_clearance:.3f} mm, for holes that print "
            f"{made.hole_undersize:g} mm too narrow on the diameter; the part's own bores and "
            "holes are left as they are."
        )
    if made.first_layer_bulge:
        yield (
            f"Mouths of sockets are bevelled by up to {settings.mouth_relief:.2f} mm, for first "
            f"layers that bulge {made.first_layer_bulge:g} mm a side."
        )


def _wall_notes(settings: Settings) -> Iterator[str]:
    lines = WALL_LINES * settings.nozzle
    if settings.least_wall < lines - 1e-9:
        yield (
            f"Walls of joints may be {settings.least_wall:g} mm thin, as asked for, where two "
            f"lines of a {settings.nozzle:g} mm nozzle take {lines:g}: such walls may print with "
            "gaps or not at all."
        )


def _shrink_notes(settings: Settings) -> Iterator[str]:
    shrink = settings.compensation.shrink_percent
    if shrink:
        yield (
            f"Files are {settings.print_scale:.5f} times as large as the pieces are to be, for a "
            f"print that shrinks by {shrink:g} %; the envelope holds the files."
        )


def _layer_notes(settings: Settings) -> Iterator[str]:
    nozzle, layer = settings.nozzle, settings.layer
    least, most = (share * nozzle for share in LAYER_SHARES)
    if not least - 1e-9 <= layer <= most + 1e-9:
        yield (
            f"Layers of {layer:g} mm from a {nozzle:g} mm nozzle: common practice is {least:g} to "
            f"{most:g} mm."
        )
    if layer > AXIAL_GAP + 1e-9:
        yield (
            f"Layers of {layer:g} mm can set a tenon's tip half a layer too high and a socket's "
            f"roof half a layer too low, together more than the {AXIAL_GAP:g} mm between them: "
            "see in a dry fit that the shoulders meet."
        )
