"""From a joined part to a finished one: tight, clean, coated, cared for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..bench.assembly import Joined
from ..values import Outcome, Settings
from .cautions import make_step
from .sheet_text import Step, Value


def leak_steps(outcome: Outcome, joints: Sequence[Joined], settings: Settings) -> Iterator[Step]:
    """Of a part with a bore and a joint, in case air goes through it."""
    if not outcome.survey.bores or not joints:
        return
    cure = {
        "glue": "Where bubbles come out of a seam: dry it, and let a little more of the same glue "
        "run into the seam from outside.",
        "push": "Where bubbles come out of a seam: dry it, and rub the tenon with wax.",
        "take-apart": "Where bubbles come out of a seam: dry it, and rub the tenon with wax.",
    }[settings.fit]
    if any(joint.kind == "oring" for joint in outcome.plan.joints):
        cure = (
            "Where bubbles come out of a seam: dry it, clean the groove, grease or change the ring."
        )
    if any(joint.kind == "lapped" for joint in outcome.plan.joints):
        cure = "Where bubbles come out of a seam: dry it, and wind another turn of thread."
    holes = len(outcome.survey.side_holes)
    stop = "Stop one end" + (f" and all {holes} side holes with tape" if holes > 1 else "")
    stop += " and the side hole with tape" if holes == 1 else ""
    wait = "When the glue has had its full time: " if settings.fit == "glue" else ""
    stop = wait + (stop[0].lower() + stop[1:] if wait else stop)
    yield make_step(
        "Leak test, if air is to go through it",
        (
            (
                f"{stop}; hold each joint under water and press a little air in at the other end "
                "with a rubber bulb, not with your mouth."
            ),
            cure,
            "Bubbles out of a wall come from between its lines: seal that place thinly, try anew.",
        ),
        [Value("joints at", ", ".join(f"{one.joint.station:.2f} mm" for one in joints))],
    )


def seam_steps(joints: Sequence[Joined], settings: Settings) -> Iterator[Step]:
    """The seam outside: of what is glued for good, and of what comes apart."""
    if not joints:
        return
    text: tuple[str, ...]
    if settings.fit == "glue" and all(one.joint.kind == "collar" for one in joints):
        text = (
            "When it has set, trim what stands out at the collar's rims with a blade.",
            "Round the rims with fine paper if they catch.",
        )
    elif settings.fit == "glue":
        text = (
            (
                "When it has set, scrape what stands out of the seam off with a blade held square, "
                "along the part."
            ),
            "Sand the seam flush with fine paper on a flat block, along the part, then around.",
            "Keep off the rims of holes.",
        )
    else:
        text = (
            (
                "Sand a step at the seam flush with fine paper, the joint put together, a little "
                "at a time and on both pieces."
            ),
            "Take it apart and brush the dust out before it is put together again.",
        )
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
        text.append("Keep it out of bores and side holes: a coat makes them narrower.")
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


def care_steps() -> tuple[Step, ...]:
    """What the finished piece cannot bear."""
    return (
        make_step(
            "Care",
            (
                (
                    "Keep it out of cars in the sun, off heaters and out of dishwashers: PLA "
                    "softens from about 55 C (data sheets: 55 to 65 C), others at their own."
                ),
                "Look at the seams from time to time; do not use it when one opens.",
                "Do not rely on a joint where its failure could hurt someone.",
            ),
        ),
    )
