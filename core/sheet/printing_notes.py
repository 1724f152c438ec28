"""What to mind at the printer: notes that follow from the geometry of a part's pieces."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from ..bench.assembly import joinings
from ..bench.layer_steps import (
    LEAST_TIP_GAP,
    LayerStep,
    Span,
    least_tip_gap,
    length_offs,
    piece_steps,
    tip_gaps,
    truest_layer,
)
from ..estimating.tip_risk import BRIM_RATIO, SLOWER_RATIO
from ..fitting.fit_rules import LAYER_SHARES
from ..recording.estimate_record import ADVICE_WORDS
from ..recording.job_record import JobRecord, PartRecord
from ..recording.table_text import degrees_text
from ..values import Outcome, Piece, Settings
from .cautions import make_step
from .sheet_text import Step, Table, Value
from .tables import least_hole_width, standing_of, surveyed
from .together import rows_together, values_together

_SHOWN = 0.005
"""Half of the last digit that is told, mm."""


def printing_notes(part: PartRecord, record: JobRecord) -> tuple[Step, ...]:
    """All that apply, in the order in which they matter; none of a plan, which has no files."""
    pieces = [piece for piece in part.pieces if piece.name in record.files]
    if not pieces:
        return ()
    outcome, settings = surveyed(part), record.settings
    notes = [
        _stand_note(pieces, part, record),
        _brim_note(pieces, part, record),
        _supports_note(part),
    ]
    if outcome is not None and outcome.plan.lean is None:
        notes.append(_layer_start_note(outcome))
        notes.append(_height_note(pieces, settings))
        notes += _hole_roof_notes(outcome)
    notes.append(_first_layers_note(pieces, record))
    notes.append(_after_note(pieces, outcome))
    return tuple(notes)


def _stand_note(pieces: Sequence[Piece], part: PartRecord, record: JobRecord) -> Step:
    stances = dict.fromkeys(standing_of(piece, part)[0] for piece in pieces)
    each = "each piece" if len(pieces) > 1 else "the piece"
    text = [f"Print {each} as its file stands; do not turn or lay it down."]
    outcome = surveyed(part)
    if outcome is not None and outcome.plan.lean is None:
        text.append(
            "Its axis is upright: so it is built of round layers, and only so it has the sizes "
            "told here."
        )
    if len(pieces) > 1:
        text.append("Print all pieces of a part from one spool, with the same settings.")
    if outcome is not None and outcome.plan.joints:
        text.append(_trial_words(record))
    return make_step("Stand", text, [Value("stands on", "; ".join(stances))])


def _trial_words(record: JobRecord) -> str:
    if record.trial is not None:
        return f"Print the fit trial {record.trial.saved.file} first, and try its rings."
    if record.settings.clearance_from == "rule":
        return "The gap is a rule of thumb: print a fit trial first, unless you have before."
    return "Print a fit trial first where material, nozzle or layer height are new."


def _brim_note(pieces: Sequence[Piece], part: PartRecord, record: JobRecord) -> Step:
    outcome = surveyed(part)
    if outcome is not None and outcome.plan.lean is not None:
        return make_step(
            "Against tipping",
            ("It leans, on an edge: what holds it to the bed is supports and a wide brim.",),
        )
    tips = {piece.name: record.estimates[piece.name].tip for piece in pieces}
    rows = [
        (
            f"{tip.height:.1f}",
            f"{tip.base_width:.1f}",
            f"{tip.ratio:.1f}",
            ADVICE_WORDS[tip.advice],
        )
        for tip in tips.values()
    ]
    told = {tip.advice for tip in tips.values()}
    text = ["Tall pieces are knocked over by the nozzle, or come off the bed."]
    if told == {"none"}:
        help_ = "none of these needs help" if len(pieces) > 1 else "this one needs no help"
        text.append(f"By height over width {help_}.")
    else:
        text.append("Give a brim where the table says so; it comes off afterwards.")
    if "brim and slower" in told:
        text.append(
            "Where it says slower, print slower towards the top, or print props beside the piece "
            "and break them off, or make shorter pieces."
        )
    table = Table(
        "Height over width",
        ("piece", "height", "least width on the bed", "ratio", "against tipping"),
        rows_together([*tips], [[row] for row in rows]),
        (
            (
                f"A brim over {BRIM_RATIO:g}, slower too over {SLOWER_RATIO:g}: common practice, "
                "no source."
            ),
        ),
    )
    return make_step("Against tipping", text, tables=[table])


def _supports_note(part: PartRecord) -> Step:
    outcome = surveyed(part)
    if outcome is None:
        return make_step(
            "Supports",
            (
                (
                    "This part is as it was in your file: look in the preview for what hangs, and "
                    "give supports there."
                ),
            ),
        )
    if outcome.plan.lean is not None:
        tilt = degrees_text(outcome.plan.lean.tilt)
        return make_step(
            "Supports",
            (
                "A leaning part needs supports under its lower side, and a brim.",
                (
                    "Keep supports out of bores and holes as far as your settings allow; what "
                    "stands in there has to come out again."
                ),
            ),
            [Value("leans by", f"{tilt} degrees from upright")],
        )
    text = ["Nothing that was made here hangs flatter than 45 degrees: no supports for that."]
    outside = [one for one in outcome.survey.ornaments if one.place != "bore"]
    values = [
        Value(f"ring, step or block {number}", f"stations {one.start:.2f} to {one.stop:.2f} mm")
        for number, one in enumerate(outside, 1)
    ]
    if outside:
        text.append(
            "The part's own rings, steps and blocks may hang: look for that in the preview."
        )
    return make_step("Supports", text, values)


def _layer_start_note(outcome: Outcome) -> Step:
    """Where layers begin and end they leave a ridge: put it where nothing is."""
    angles = sorted({*_hole_angles_deg(outcome), *_key_angles_deg(outcome)})
    spoilt = "make joints tight" if outcome.plan.joints else "roughen it"
    text = [
        (
            "Have all layers start in one line along the piece, not scattered: the ridges that "
            f"they leave would {spoilt} all around."
        ),
    ]
    if not angles:
        text.append("Any side will do; the one least seen is best.")
        return make_step("Start of layers", text)
    middle, width = widest_free(angles)
    values = [
        Value("line at", f"{middle:.0f} degrees"),
        Value("free about it", f"{width:.0f} degrees"),
    ]
    text.append(
        "Put that line where no hole and no key is. Angles are those of the tables: "
        "counter-clockwise seen from above."
    )
    holes = _hole_angles_deg(outcome)
    name = "hole 1" if holes else "the first key of joint 1"
    turn = math.remainder(middle - [*holes, *_key_angles_deg(outcome)][0], 360.0)
    way = "counter-clockwise" if turn > 0.0 else "clockwise"
    values.append(Value(f"from {name}", f"{abs(turn):.0f} degrees {way}, seen from above"))
    return make_step("Start of layers", text, values)


def _hole_angles_deg(outcome: Outcome) -> list[float]:
    return [math.degrees(hole.angle) % 360.0 for hole in outcome.survey.side_holes]


def _key_angles_deg(outcome: Outcome) -> list[float]:
    joints = outcome.plan.joints
    return [math.degrees(angle) % 360.0 for joint in joints for angle in joint.key_angles]


def widest_free(angles: Sequence[float]) -> tuple[float, float]:
    """Middle and width, degrees, of the widest stretch around that holds none of some angles.

    angles : 0 to 360, ascending
    """
    after = [*angles[1:], angles[0] + 360.0]
    width, start = max((high - low, -low) for low, high in zip(angles, after, strict=True))
    return (width / 2.0 - start) % 360.0, width


def _height_note(pieces: Sequence[Piece], settings: Settings) -> Step:
    """Heights against whole layers."""
    gaps = {
        one.number: tip_gaps(one.joint, one.lower, one.upper, settings.layer)
        for one in joinings(pieces)
        if one.joint.tenons
    }
    text = ["Heights are printed in whole layers."]
    if gaps:
        text.append(
            "Shoulders meet only while something is left over each tenon's tip: if a joint stands "
            "open in the dry fit, sand the tip."
        )
    if any(low < LEAST_TIP_GAP for low, _ in gaps.values()):
        text.append("Where nothing may be left over a tip, take another layer height.")
    values = [
        *_length_values(pieces, settings),
        *values_together(
            "joint",
            ((number, _gap_words(gap)) for number, gap in gaps.items()),
            "left over the tip at {}",
        ),
    ]
    return make_step("Layer height", text, values, [_heights_table(pieces, settings.layer)])


def _heights_table(pieces: Sequence[Piece], layer: float) -> Table:
    return Table(
        f"Heights in layers of {layer:g} mm",
        ("piece", "height of", "in the file", "layers", "printed", "off"),
        rows_together(
            [piece.name for piece in pieces],
            [[_height_row(step) for step in piece_steps(piece, layer)] for piece in pieces],
        ),
        (
            (
                "The first layer counted as high as the others; half a layer at the most is lost "
                "or gained. Common practice, no source."
            ),
        ),
    )


def _height_row(step: LayerStep) -> tuple[str, ...]:
    return (
        step.what,
        f"{step.height:.3f}",
        str(step.layers),
        f"{step.printed:.3f}",
        _off_words(step),
    )


def _length_values(pieces: Sequence[Piece], settings: Settings) -> Iterator[Value]:
    """What the length comes to, and in which layers it would come out truer."""
    layer = settings.layer
    yield Value("the part comes out", _length_words(length_offs(pieces, layer)))
    other = truest_layer(pieces, layer, settings.nozzle, LAYER_SHARES)
    if other != layer:
        comes, left = _length_words(length_offs(pieces, other)), least_tip_gap(pieces, other)
        over = "" if math.isinf(left) else f"; over each tip at least {max(left, 0.0):.3f} mm"
        yield Value(f"in layers of {other:g} mm it would come out", comes + over)


def _off_words(step: LayerStep) -> str:
    if step.is_even:
        return f"{step.layer / 2.0:.3f} either way"
    return f"{round(step.off, 3) + 0.0:+.3f}"


def _gap_words(gap: Span) -> str:
    low, high = (round(max(end, 0.0), 3) + 0.0 for end in gap)
    return f"{low:.3f} mm" if low == high else f"{low:.3f} to {high:.3f} mm"


def _length_words(offs: Span) -> str:
    low, high = offs
    if max(abs(low), abs(high)) < _SHOWN:
        return f"{_one_length(0.0)}, to {_SHOWN:g} mm"
    if high - low > _SHOWN:
        return f"{_one_length(low)} to {_one_length(high)}"
    return _one_length(low)


def _one_length(off: float) -> str:
    if abs(off) < _SHOWN:
        return "as long as it is drawn"
    return f"{abs(off):.3f} mm {'longer' if off > 0.0 else 'shorter'}"


def _hole_roof_notes(outcome: Outcome) -> Iterator[Step]:
    """Of a round hole across the layers the roof past 45 degrees spans d / sqrt 2."""
    holes = outcome.survey.side_holes
    if not holes:
        return
    values = values_together(
        "hole",
        (
            (number, f"{least_hole_width(hole) / math.sqrt(2.0):.2f} mm")
            for number, hole in enumerate(holes, 1)
            if hole.wall is not None
        ),
        "top of {}",
    )
    yield make_step(
        "Side holes",
        (
            (
                "They print across the layers: the top of a round one hangs flatter than 45 "
                "degrees over the width told here, its diameter over the root of 2, and sags."
            ),
            "Give them no supports; clean them at the bench.",
        ),
        values,
    )


def _first_layers_note(pieces: Sequence[Piece], record: JobRecord) -> Step:
    settings = record.settings
    relief = settings.mouth_relief
    values = []
    text = [
        "Stay for the first three layers, and keep your fingers off the hot nozzle.",
        (
            "Each outline has to be closed, stuck all around and without gaps between its lines; "
            "stop and begin again if a corner lifts or a line drags."
        ),
    ]
    if any(piece.joint_below is not None and piece.joint_below.tenons for piece in pieces):
        text.append(
            "At a socket's mouth the inside edge has to be bevelled. If the first layers bulge "
            "beyond the bevel the joint does not close: level the bed anew, or keep the bulge in a "
            "printer profile and split the part again."
        )
        values.append(Value("bevel at the mouth", f"{relief:.2f} mm"))
    return make_step("First layers", text, values)


def _after_note(pieces: Sequence[Piece], outcome: Outcome | None) -> Step:
    text = ["Let bed and print cool; then take the print off and trim off brims if any."]
    if outcome is None or outcome.plan.lean is not None:
        text.append("Break off supports a little at a time, with pliers and safety glasses.")
    if len(pieces) > 1:
        text.append("Keep the pieces in their order: each fits its own neighbours only.")
    return make_step("Off the bed", text)
