"""How high the pieces of a plan stand, before they are built."""

from __future__ import annotations

from itertools import pairwise

from ...core.values import Joint, Outcome, PassedOn, Settings


def planned_heights(
    planned: Outcome | PassedOn, settings: Settings
) -> tuple[tuple[str, float], ...]:
    """Name and height, mm, of each piece and ring, from the low end up; none of one that leans."""
    if isinstance(planned, PassedOn):
        piece = planned.piece
        return ((piece.name, (piece.high - piece.low) * piece.scale),)
    if planned.plan.lean is not None:
        return ()
    low, high = planned.survey.ends(settings)
    heights: list[float] = []
    for below, above in pairwise((None, *planned.plan.joints, None)):
        heights.append(_top(above, high) - (low if below is None else below.station))
        if above is not None and above.collar is not None:
            heights.append(2.0 * above.collar.reach)
    return tuple(
        (f"{planned.name}-{number:02d}", height * settings.print_scale)
        for number, height in enumerate(heights, 1)
    )


def _top(above: Joint | None, high: float) -> float:
    return high if above is None else above.highest
