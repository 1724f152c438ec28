"""That loose tenons could be sealed, where their wall has room for a groove."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from ..errors import BadSetting
from ..values import Joint, Settings, Survey
from .ways import grooved_spans, ways_on


def seal_remarks(survey: Survey, settings: Settings, joints: tuple[Joint, ...]) -> list[str]:
    """Which kinds of joint would seal, where all joints are loose tenons and no kind was asked."""
    loose = settings.fit == "take-apart" and settings.joint is None
    if not loose or not joints or any(joint.kind != "tenon" for joint in joints):
        return []
    forms: tuple[Literal["oring", "lapped"], ...] = ("oring", "lapped")
    sealing = [f"--joint {form}" for form in forms if _would_hold(survey, settings, joints, form)]
    if not sealing:
        return []
    gap = f"{settings.clearance:.2f} mm a side"
    would = f"{' or '.join(sealing)} would, in this wall"
    return [f"Tenons to be taken apart have {gap} and do not seal: {would}."]


def _would_hold(
    survey: Survey, settings: Settings, joints: tuple[Joint, ...], form: Literal["oring", "lapped"]
) -> bool:
    """Whether a groove has room at every joint."""
    grooved = replace(settings, joint=form)
    try:
        ways = ways_on(survey, grooved)
    except BadSetting:
        return False
    spans = [span for way in ways for span in grooved_spans(way, grooved)]
    return all(any(low <= joint.station <= high for low, high in spans) for joint in joints)
