"""From a joined part to a finished one: tight, clean, coated, cared for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..bench.assembly import Joined
from ..recording.job_record import JobRecord
from ..values import Outcome, Settings
from .cautions import make_step
from .joining_steps import glue_choices, glue_words
from .openings import holes_words, is_twin, openings_words
from .sheet_text import Step, Value
from .tables import surveyed


def leak_steps(outcome: Outcome, joints: Sequence[Joined], settings: Settings) -> Iterator[Step]:
    """Of a part with a bore and a joint, in case air goes through it."""
    if not outcome.survey.bores or not joints:
        return
    glue = glue_words(glue_choices(outcome, settings)) if settings.fit == "glue" else None
    other = "the other end of each bore in turn" if is_twin(outcome) else "the other end"
    yield make_step(
        "Leak test" if settings.wind else "Leak test, if air is to go through it",
        (
            (
                f"{_stop_words(outcome, glued=glue is not None)}; hold each joint under water and "
                f"press a little air in at {other} with a rubber bulb, not with your mouth."
            ),
            f"Where bubbles come out of a seam: dry it, and {_cure_words(outcome, glue)}.",
            (
                "Bubbles out of a wall come from between its lines: dry it, rub a thin coat of "
                "clear varnish into that place, and try anew when it is dry."
            ),
            "Let all of it dry before anything else is put on it.",
        ),
        [Value("joints at", ", ".join(f"{one.joint.station:.2f} mm" for one in joints))],
    )


def _stop_words(outcome: Outcome, *, glued: bool) -> str:
    """What has to be closed first."""
    closed = ["one end of both bores" if is_twin(outcome) else "one end"]
    if outcome.survey.side_holes:
        closed.append(holes_words(outcome))
    stop = f"top {' and '.join(closed)} with tape"
    return f"When it has set fully, s{stop}" if glued else f"S{stop}"


def _cure_words(outcome: Outcome, glue: str | None) -> str:
    """What makes a seam tight."""
    if glue is not None:
        return f"let a little more {glue} run into the seam from outside"
    kinds = {joint.kind for joint in outcome.plan.joints}
    if "oring" in kinds:
        return "clean the groove, grease or change the ring"
    return "wind another turn of thread" if "lapped" in kinds else "rub what goes in with wax"


def seam_steps(outcome: Outcome, settings: Settings) -> Iterator[Step]:
    """The seam outside: of what is glued for good, and of what comes apart."""
    joints, holes = outcome.plan.joints, outcome.survey.side_holes
    if not joints:
        return
    text: list[str]
    if settings.fit == "glue" and all(joint.kind == "collar" for joint in joints):
        text = [
            "When it has set, trim what stands out at the collar's rims with a blade.",
            "Round the rims with fine paper if they catch.",
        ]
    elif settings.fit == "glue":
        text = [
            (
                "When it has set, scrape what stands out of the seam off with a blade held square, "
                "along the part."
            ),
            "Sand the seam flush with fine paper on a flat block, along the part, then around.",
        ]
    else:
        text = [
            (
                "Sand a step at the seam flush with fine paper, the joint put together, a little "
                "at a time and on both pieces."
            ),
            "Take it apart and brush the dust out before it is put together again.",
        ]
    if holes:
        text.append("Keep off the rims of holes.")
    yield make_step("Clean up the seam", text)


def coat_step(outcome: Outcome, settings: Settings) -> Step:
    """Stain and clear coat, for whoever wants them."""
    text = [
        (
            "Try stain or coating on a spare print first: on many plastics stain does not hold, "
            "and some solvents craze them. Plastic filled with wood takes stain best."
        ),
        (
            "Wipe or brush it on in thin coats, each dried as its label says before "
            "the next; rub lightly with fine paper between coats."
        ),
    ]
    if outcome.survey.bores:
        text.append(f"Keep it out of {openings_words(outcome)}: a coat makes openings narrower.")
    if outcome.plan.joints and settings.fit != "glue":
        text.append("Keep it off the joints: they are made for bare plastic. Cover them with tape.")
    return make_step("Stain and coat, if you want to", text)


def mouth_step() -> Step:
    """Of a bored part that a mouth may touch."""
    return make_step(
        "If a mouth touches it: seal the mouthpiece",
        (
            "Sand where lips go until no groove can be felt, and wash off the dust.",
            (
                "Coat it all over there, inside edge too, with a coating whose label says that it "
                "is made for contact with food or mouth when cured."
            ),
            "Let it cure for as long as the label says, then wash it.",
        ),
    )


def care_steps(record: JobRecord) -> tuple[Step, ...]:
    """What the finished piece cannot bear."""
    text = [f"Keep it out of cars in the sun, off heaters and out of dishwashers: {_heat(record)}."]
    outcomes = [found for part in record.parts if (found := surveyed(part)) is not None]
    if any(outcome.plan.joints for outcome in outcomes):
        text.append("Look at the seams from time to time; do not use it when one opens.")
        text.append("Do not rely on a joint where its failure could hurt someone.")
    else:
        text.append("Do not rely on it where its failure could hurt someone.")
    return (make_step("Care", text),)


def _heat(record: JobRecord) -> str:
    material = record.settings.printing.material
    if "PLA" in material:
        return "PLA softens from about 55 C (data sheets: 55 to 65 C)"
    return f"its maker's data sheet says from when {material} softens"
