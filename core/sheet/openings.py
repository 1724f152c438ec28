"""What is open in a part, in words: what glue and coatings are to be kept out of."""

from __future__ import annotations

from ..values import Outcome


def is_twin(outcome: Outcome) -> bool:
    """Do two bores go through its joints?"""
    return any(len(joint.bores) > 1 for joint in outcome.plan.joints)


def openings_words(outcome: Outcome) -> str:
    """The bore, or both, and the side holes if there are any; of a part with a bore."""
    bores = "the bores" if is_twin(outcome) else "the bore"
    holes = len(outcome.survey.side_holes)
    if not holes:
        return bores
    return f"{bores} and the side {'hole' if holes == 1 else 'holes'}"


def holes_words(outcome: Outcome) -> str:
    """All side holes, counted; of a part that has some."""
    holes = len(outcome.survey.side_holes)
    return {1: "the side hole", 2: "both side holes"}.get(holes, f"all {holes} side holes")
