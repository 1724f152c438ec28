"""Putting pieces together: by glue, by friction, or to be taken apart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from ..bench.assembly import Joined
from ..bench.glue_amounts import (
    DROP,
    EPOXY_SHARE,
    FILLING,
    LEAST_MIXED,
    MOST_INSTANT,
    THIN,
    GlueChoice,
    drops_for,
    glue_for,
    mixed_for,
)
from ..fitting.strength import DEFAULT_ASSUMPTIONS, Stated
from ..meshes.places import counted
from ..recording.groove_record import groove_words, ring_housing
from ..recording.joint_record import joint_nicks
from ..recording.strength_record import strength_of
from ..values import Joint, Outcome, Settings, Survey
from .cautions import make_step
from .gauge_tables import gauge_table
from .openings import openings_words
from .sheet_text import Step, Value
from .together import values_together

_READY = "Get the glue ready"

_GUIDES = {
    "tenon": "keys", "oring": "keys", "lapped": "keys", "pins": "wide pin",
    "collar": "lugs", "sleeve": "lugs",
}  # fmt: skip
"""What lets a joint of each kind seat in one rotation only."""

_STRAIGHT = 0.1
"""mm, on the radius, by which a part may be narrower and still lie straight."""

_SOAK_WORDS = (
    f"Put the joint together without glue and hold it home. Then touch a little {THIN} to the "
    "seam, drop by drop and all around: it draws in by itself, and too much runs through."
)

_RING_WORDS = {
    "outside": (
        "Put a thin ring of {glue} on the end of the piece, on the half that is farther from the "
        "seam, and push the collar over it until its lugs lie in the notches. The rest comes out "
        "at the collar's rim. Then do the same with the other piece."
    ),
    "inside": (
        "Put a thin ring of {glue} on the sleeve, on the half that is nearer its middle, and push "
        "it in until its lugs lie in the notches. The rest comes out at the seam, not in the bore. "
        "Then do the same with the other half and the other piece. Where the part has to be tight, "
        "fill the gaps around the lugs, which show outside."
    ),
}
"""Where the glue of a collar and of a sleeve goes."""


def measure_step(outcome: Outcome, settings: Settings) -> Step:
    """What to read before anything is joined."""
    joints = outcome.plan.joints
    text = [
        "Let the pieces cool to room temperature: warm plastic reads large. Brush strings off.",
        (
            "Measure what goes in over its parallel part, and what goes around it past its bevel, "
            "each in two directions."
        ),
        (
            "Where it reads in the column sand, sand what goes in, a little at a time and evenly, "
            "and measure again."
        ),
    ]
    if settings.fit == "glue":
        text.append(f"Where it reads in the column fill, keep it, and see “{_READY}”.")
    tenons = [tenon for joint in joints for tenon in joint.tenons if tenon.keys]
    values = values_together(
        "joint",
        (
            (number, f"parallel over {joint.tenon.parallel_length:.2f} mm above the shoulder")
            for number, joint in enumerate(joints, 1)
            if joint.tenons
        ),
    )
    if tenons:
        relief = max(tenon.relief for tenon in tenons)
        text.append("Measure between the keys, which stand out.")
        values.append(Value("keys stand out", f"{relief:.2f} mm"))
    return make_step("Measure", text, values, [gauge_table(joints, settings)])


def dry_step(joints: Sequence[Joined]) -> Step:
    """A trial before anything is fixed."""
    nicks = values_together(
        "joint", ((one.number, nick_words(one.joint, one.number)) for one in joints)
    )
    return make_step(
        "Try it dry",
        (
            "Put the pieces together dry, from the low end up, in the order of their numbers.",
            (
                "Turn until the nicks face each other: each joint seats in one rotation only. "
                "Never force it, and do not twist it once it has begun to go in."
            ),
            "It is home when the seam closes all around and shows no light.",
            "Take it apart again, straight along the axis.",
        ),
        nicks,
    )


def nick_words(joint: Joint, number: int) -> str:
    """How many nicks count a joint, or that it has none."""
    count = joint_nicks(joint, number)
    if not count:
        return f"no nicks: its walls are too thin for them; go by the {_GUIDES[joint.kind]}"
    return f"{counted(count, 'nick', 'nicks')} on either side"


def joining_steps(outcome: Outcome, joints: Sequence[Joined], settings: Settings) -> Iterator[Step]:
    """What the fit asks for."""
    grooved = [one for one in joints if any(tenon.groove for tenon in one.joint.tenons)]
    if grooved:
        yield from _groove_steps(grooved, settings)
    if settings.fit == "glue":
        yield from _glue_steps(outcome, joints, settings)
    elif settings.fit == "push":
        yield _push_step(joints)
    else:
        yield _slide_step(joints)


# --- glue --------------------------------------------------------------------------------


def _glue_steps(outcome: Outcome, joints: Sequence[Joined], settings: Settings) -> Iterator[Step]:
    amounts = [(one, _volume(one.joint, outcome, settings)) for one in joints]
    choices = {one.number: glue_for(settings.clearance, volume) for one, volume in amounts}
    kinds = list(dict.fromkeys(choices.values()))
    yield _prepare_step(amounts, choices, settings)
    yield _spread_step(outcome, joints, kinds)
    yield _hold_step(outcome, joints, kinds)
    yield _wait_step(kinds)


def _volume(joint: Joint, outcome: Outcome, settings: Settings) -> float:
    """Of the gap, mm3: of one end under a collar."""
    strength = strength_of(joint, outcome.survey, settings)
    return 0.0 if strength is None else strength.glue_volume


def glue_words(kinds: Iterable[GlueChoice]) -> str:
    """What to glue with, by its names: so that whoever says it has its cautions, too."""
    return " or ".join(dict.fromkeys(choice.kind for choice in kinds))


def glue_choices(outcome: Outcome, settings: Settings) -> list[GlueChoice]:
    """Those of the part's joints, each once."""
    volumes = (_volume(joint, outcome, settings) for joint in outcome.plan.joints)
    return list(dict.fromkeys(glue_for(settings.clearance, volume) for volume in volumes))


def _prepare_step(
    amounts: Sequence[tuple[Joined, float]], choices: dict[int, GlueChoice], settings: Settings
) -> Step:
    kinds = list(choices.values())
    is_instant = any(choice.is_instant for choice in kinds)
    text = [
        (
            f"Lay out {glue_words(kinds)}, gloves, glasses, and something to wipe with that the "
            "label allows; read the label first."
        ),
        (
            "Wipe dust off what goes in and off the inside of what goes around it. Practise the "
            "push once more without glue: later there is no time to turn anything."
        ),
    ]
    if is_instant:
        text.append("The drops fill the whole gap: begin with the fewer.")
    if FILLING in kinds:
        text.append(
            f"Epoxy where the gap is over {DEFAULT_ASSUMPTIONS.greatest_gap.high:g} mm a side, or "
            f"one gap holds over {MOST_INSTANT.high:g} mm3 ({MOST_INSTANT.source})."
        )
    text.append(_fill_words(is_instant=is_instant))
    values = [*_amount_values(amounts, choices, settings.clearance)]
    if is_instant:
        values.append(Value("a drop", f"{DROP.low:.0f} to {DROP.high:.0f} mm3 ({DROP.source})"))
    values.append(Value("mixed", _mixing_words()))
    return make_step(_READY, text, values)


def _amount_values(
    amounts: Sequence[tuple[Joined, float]], choices: dict[int, GlueChoice], clearance: float
) -> Iterator[Value]:
    """What each gap holds, and how much to take."""
    for end in dict.fromkeys(_each_end(one.joint) for one, _ in amounts):
        gap = f"mm3 in a gap of {clearance:.2f} mm"
        told = (
            (one.number, f"{volume:.0f} {gap}: {_amount_words(volume, choices[one.number])}")
            for one, volume in amounts
            if _each_end(one.joint) == end
        )
        yield from values_together("joint", told, f"{{}}{end}")


def _fill_words(*, is_instant: bool) -> str:
    """What to do about a joint that is too loose."""
    loose = "Where “Measure” put a joint in the column fill"
    on_both = "spread it on both sides of the gap"
    if is_instant:
        return f"{loose}: take {FILLING.kind}, which fills gaps, and {on_both}."
    return f"{loose}: {on_both}."


def _mixing_words() -> str:
    return (
        f"of {FILLING.kind} {EPOXY_SHARE} times what the gap holds, and at least "
        f"{LEAST_MIXED.low:g} {LEAST_MIXED.unit} ({LEAST_MIXED.source})"
    )


def _each_end(joint: Joint) -> str:
    return "" if joint.collar is None else ", each end"


def _amount_words(volume: float, choice: GlueChoice) -> str:
    if not choice.is_instant:
        return f"mix {mixed_for(volume):.1f} ml of {choice.kind}"
    few, many = drops_for(volume)
    count = counted(many, "drop", "drops") if few == many else f"{few} to {many} drops"
    return f"{count} of {choice.kind} (cyanoacrylate)"


def _spread_step(outcome: Outcome, joints: Sequence[Joined], kinds: Sequence[GlueChoice]) -> Step:
    text = ["Glue one joint at a time, from the low end up; let each hold before the next."]
    soaks = all(choice.kind == THIN for choice in kinds)
    text += [_SOAK_WORDS] if soaks else _ring_words(outcome, joints, glue_words(kinds))
    if outcome.survey.bores:
        text.append(f"Keep it out of {openings_words(outcome)}.")
    if any(len(tenon.bores) > 1 for one in joints for tenon in one.joint.tenons):
        text.append(
            "Over the web between two bores a slit stays open: close it from one end with a little "
            "epoxy on a stick, or the bores leak into each other."
        )
    text.append("Wipe off at once what comes out.")
    if any(choice.is_instant for choice in kinds) and not soaks:
        text.append("Instant glue may hold within seconds: push home in one go.")
    values = [Value(f"joint {one.number}", _pair_words(one)) for one in joints]
    if not soaks:
        bands = ((one.number, _band_words(one.joint)) for one in joints)
        values += values_together("joint", bands, "{}, glue on")
    return make_step("Spread it and push home", text, values)


def _ring_words(outcome: Outcome, joints: Sequence[Joined], glue: str) -> Iterator[str]:
    """Where it goes on, so that the rest is pushed out."""
    if any(one.joint.tenons for one in joints):
        within = "each pin" if any(one.joint.kind == "pins" for one in joints) else "the tenon"
        inward = (
            "into the bore" if outcome.survey.bores else "over the tip, and hold the joint open"
        )
        yield (
            f"Put a thin ring of {glue} on {within}, on the half near its root. The socket then "
            "pushes what is too much out at the seam; in the socket, or at the tip, it would be "
            f"pushed {inward}."
        )
    places = {one.joint.collar.place for one in joints if one.joint.collar is not None}
    for place, words in _RING_WORDS.items():
        if place in places:
            yield words.format(glue=glue)
    yield "Line up as told here before it goes in, and push straight home."


def _band_words(joint: Joint) -> str:
    """Where glue goes, so that the rest is pushed out."""
    if joint.collar is None:
        half = joint.tenon.parallel_length / 2.0
        within = "each pin" if joint.kind == "pins" else "the tenon"
        return f"the {half:.1f} mm of {within} next to the shoulder"
    half = joint.collar.reach / 2.0
    if joint.collar.place == "inside":
        return f"the {half:.1f} mm of the sleeve next to its middle"
    return f"from {half:.1f} to {joint.collar.reach:.1f} mm from the end"


def _pair_words(one: Joined) -> str:
    names = [one.lower.name, *(ring.name for ring in one.rings), one.upper.name]
    return f"{', '.join(names)}: {nick_words(one.joint, one.number)}"


def _hold_step(outcome: Outcome, joints: Sequence[Joined], kinds: Sequence[GlueChoice]) -> Step:
    glue = glue_words(kinds)
    text = [
        (
            "Push along the axis until the shoulders meet; then only hold it there: more force "
            "bends the part."
        ),
        (
            "Lay the part in a straight corner, as of two boards, against an end stop, and set "
            "a second stop at the length told here; hold it with tape or a weight, not with a "
            "clamp from the side."
        ),
    ]
    if not _lies_straight(outcome.survey):
        text.append("Pack it under its narrower stretches, until its axis lies straight.")
    text.append(f"At once, before the {glue} holds: look along it from both ends: is it straight?")
    if outcome.survey.bores:
        text.append(
            "At once too: look through the bore, and push glue in it out with a plastic rod, "
            "nothing of cloth on it."
        )
    return make_step(
        "Hold it", text, [Value(f"after joint {one.number}", _length_words(one)) for one in joints]
    )


def _lies_straight(survey: Survey) -> bool:
    """Is it as wide all along, with nothing that stands out?"""
    radii = [one.radius_at(z) for one in survey.outsides for z in (one.start, one.stop)]
    stands_out = any(one.place != "bore" for one in survey.ornaments)
    return not stands_out and (not radii or max(radii) - min(radii) < _STRAIGHT)


def _length_words(one: Joined) -> str:
    """Over all, and over the two alone where there are more; a tenon on top counts."""
    above = one.upper.joint_above
    tip = " to the tip of the tenon" if above is not None and above.tenons else ""
    if one.number == 1:
        return f"{one.length:.2f} mm{tip}"
    return f"{one.length:.2f} mm in all{tip}; these two pieces alone {one.pair_length:.2f} mm"


def _wait_step(kinds: Sequence[GlueChoice]) -> Step:
    values = []
    for choice in dict.fromkeys((*kinds, FILLING)):
        values += [
            Value(f"{choice.kind}, leave alone for", stated_words(choice.handling)),
            Value(f"{choice.kind}, full strength after", stated_words(choice.full)),
        ]
    return make_step(
        "Let it set",
        (
            "The label's times come first; these are ranges.",
            "Do not load the joint before it has its full strength.",
        ),
        values,
    )


def stated_words(number: Stated) -> str:
    """A range of time with its unit and its source."""
    low, high = (_time_words(value, number.unit) for value in (number.low, number.high))
    if low == high:
        return f"{high} ({number.source})"
    same = low.split()[1] == high.split()[1]
    return f"{low.split()[0] if same else low} to {high} ({number.source})"


def _time_words(value: float, unit: str) -> str:
    if unit == "min" and value < 1.0:
        return f"{value * 60.0:g} s"
    if unit == "min" and value > 60.0:
        return f"{value / 60.0:g} h"
    return f"{value / 24.0:g} days" if unit == "h" and value > 48.0 else f"{value:g} {unit}"


# --- without -----------------------------------------------------------------------------


def _push_step(joints: Sequence[Joined]) -> Step:
    return make_step(
        "Push together",
        (
            (
                "From the low end up: line the nicks up and push straight along the axis, by hand, "
                "until the shoulders meet. Do not hammer."
            ),
            "It stays by friction alone. To take it apart pull straight; never twist or bend.",
            "If it has worn loose, print again what goes in.",
        ),
        _length_values(joints),
    )


def _slide_step(joints: Sequence[Joined]) -> Step:
    return make_step(
        "Put together and take apart",
        (
            (
                "From the low end up: line the nicks up and slide straight along the axis until "
                "the shoulders meet."
            ),
            "To take them apart pull straight, both hands near the joint; never twist or bend.",
            (
                "Keep it out of the sun and off heaters: warm plastic creeps, and the joint seizes "
                "or comes loose."
            ),
        ),
        _length_values(joints),
    )


def _length_values(joints: Sequence[Joined]) -> list[Value]:
    pairs = [Value(f"joint {one.number}", _pair_words(one)) for one in joints]
    return pairs + [Value(f"after joint {one.number}", _length_words(one)) for one in joints]


def _groove_steps(grooved: Sequence[Joined], settings: Settings) -> Iterator[Step]:
    values = values_together(
        "joint", ((one.number, _housing_words(one.joint, settings)) for one in grooved)
    )
    tenons = [tenon for one in grooved for tenon in one.joint.tenons]
    if any(ring_housing(tenon, settings) is not None for tenon in tenons):
        yield make_step(
            "Fit the O-rings",
            (
                (
                    "Feel the groove with a fingernail and take off every ridge and string: the "
                    "ring leaks over them."
                ),
                (
                    "Roll the ring on over the tip into its groove, without twisting it, and over "
                    "nothing sharp."
                ),
                "Smear it thinly with a grease that its maker allows for it and for this plastic.",
            ),
            values,
        )
    else:
        yield make_step(
            "Lap the tenons",
            (
                (
                    "Tie waxed thread at the groove's lower end and wind it side by side, as even "
                    "as you can, with little pull: thread wound tight crushes a thin tenon."
                ),
                (
                    "Try it every few turns; stop when the tenon goes in with a light push, and "
                    "tuck the end under."
                ),
                "Add a turn when it has worn loose, take one off when it binds.",
            ),
            values,
        )


def _housing_words(joint: Joint, settings: Settings) -> str:
    """Of its grooves, alike ones once."""
    told = (
        "; ".join(groove_words(tenon, settings))
        for tenon in joint.tenons
        if tenon.groove is not None
    )
    return "; ".join(dict.fromkeys(told))
