"""Lengths that several stages share."""

from __future__ import annotations

CHORD_TOLERANCE = 0.005
"""Greatest distance from a facet of ours to the true surface, mm."""

FACET_ALLOWANCE = 0.02
"""Wall kept over the least wall, mm, so that facets cannot eat into it."""

AXIAL_GAP = 0.2
"""Axial gap over the tenon's tip, mm, where glue goes and shoulders meet first."""

LEAD_IN = 0.5
"""Least width of the 45 degree bevel at the tenon's tip, mm."""

MOUTH_RELIEF = 0.4
"""45 degree bevel at the socket mouth's inside edge, mm, for the first layer's bulge."""

KEY_RELIEF = 0.5
"""How far a key rib stands out of its tenon, mm, at the least."""

ROUND_OFF = 0.001
"""A vertex this near to a surface, mm, is on it, however small max-move is."""

FIT_SLACK = 0.002
"""How far a piece may pass the envelope, mm: STL's float32 cannot hold less at 1 m."""
