"""Where seams may lie and the best plans: entries for a record, lines of a table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from ..planning.plan_survey import RankedPlan
from ..planning.station_map import MapStretch, StationMap
from .table_text import table, wrapped

_TERMS = {
    "distance": "distance",
    "wall": "wall",
    "hidden": "hidden",
    "preferred": "preferred",
    "collars": "collars",
    "evenness": "uneven",
}
"""The terms of a score, and their columns' headings; those that are 0 in all plans are left out."""

_MEANINGS = {
    "distance": "distance, of joints from holes and ends of wall",
    "wall": "wall, at the joints",
    "hidden": "hidden, at the foot of a ring or step",
    "preferred": "preferred, near a station asked for",
    "collars": "collars, that have to be printed too",
    "evenness": "uneven, lengths that differ from their mean",
}


def stations_entry(stations: StationMap) -> list[dict[str, object]]:
    """The whole part, stretch after stretch, in mm; cuts count from 0."""
    return [_stretch_entry(stretch) for stretch in stations.stretches]


def _stretch_entry(stretch: MapStretch) -> dict[str, object]:
    engagement = stretch.engagement
    return {
        "from": stretch.low,
        "to": stretch.high,
        "open": stretch.is_open,
        "kinds": list(stretch.kinds),
        "engagement": None if engagement is None else list(engagement),
        "cuts": list(stretch.cuts),
        "rules": list(stretch.rules),
        "why_not": stretch.reason or None,
    }


def plans_entry(plans: Sequence[RankedPlan]) -> list[dict[str, object]]:
    """The best plans, best first, with every term of their scores."""
    return [
        {
            "stations": list(plan.stations),
            "kinds": list(plan.kinds),
            "engagements": list(plan.engagements),
            "lengths": list(plan.lengths),
            "score": {"total": plan.score.total, **asdict(plan.score)},
        }
        for plan in plans
    ]


def station_lines(stations: StationMap) -> list[str]:
    """From end to end: the joints that may be made over a stretch, or why none."""
    spans = [(f"{stretch.low:.2f}", f"{stretch.high:.2f}") for stretch in stations.stretches]
    starts = table("rr", [("from", "to"), *spans])
    told = [_stretch_words(stretch) for stretch in stations.stretches]
    lines = [f"{starts[0]}  a seam"]
    for start, words in zip(starts[1:], told, strict=True):
        indent = " " * (len(start) + 2)
        lines.append(start + wrapped(words, indent)[len(start) :])
    return lines


def _stretch_words(stretch: MapStretch) -> str:
    if stretch.engagement is None:
        return f"none: {stretch.reason}"
    least, most = stretch.engagement
    engagement = f"{least:g}" if least == most else f"{least:g} to {most:g}"
    told = f"{' or '.join(stretch.kinds)}, engagement {engagement} mm"
    if not stretch.cuts:
        return told
    numbers = " or ".join(str(number + 1) for number in stretch.cuts)
    return f"{told}; seam {numbers} can lie here"


def plan_lines(plans: Sequence[RankedPlan]) -> list[str]:
    """The scores of the best plans, term by term, and where its seams are."""
    if not plans or not plans[0].stations:
        return ["  one only: no seams"]
    told = [name for name in _TERMS if any(getattr(plan.score, name) for plan in plans)]
    header = ("plan", "score", *(_TERMS[name] for name in told))
    rows = [
        (
            str(number),
            f"{plan.score.total:.2f}",
            *(f"{round(getattr(plan.score, name), 2) + 0.0:.2f}" for name in told),
        )
        for number, plan in enumerate(plans, 1)
    ]
    cuts = [
        wrapped(f"plan {number} has seams at {_stations(plan)} mm", "  ")
        for number, plan in enumerate(plans, 1)
    ]
    return [*table("r" * len(header), [header, *rows]), *cuts, wrapped(_meaning(told, plans), "  ")]


def _stations(plan: RankedPlan) -> str:
    return ", ".join(f"{station:.2f}" for station in plan.stations)


def _meaning(told: Sequence[str], plans: Sequence[RankedPlan]) -> str:
    terms = "; ".join(_MEANINGS[name] for name in told)
    more = {
        1: " No other plan of as many pieces has a seam 5 mm or more elsewhere.",
        2: " No third plan of as many pieces has a seam 5 mm or more off both.",
    }
    made = " The first is the one made." if len(plans) > 1 else ""
    return f"More is better. It is the sum of {terms}.{made}{more.get(len(plans), '')}"
