"""Checks made from a measured value and what it is held against.

A value that could not be measured is not a number, and fails.
"""

from __future__ import annotations

import math

import numpy as np

from ..values import Check, FloatArray


def at_most(
    name: str, value: float, limit: float, *, piece: str | None = None, joint: int | None = None
) -> Check:
    """The check that value <= limit."""
    return Check(name, float(value), float(limit), bool(value <= limit), piece, joint)


def at_least(
    name: str, value: float, limit: float, *, piece: str | None = None, joint: int | None = None
) -> Check:
    """The check that value >= limit."""
    return Check(name, float(value), float(limit), bool(value >= limit), piece, joint)


def exactly(
    name: str, value: float, limit: float, *, piece: str | None = None, joint: int | None = None
) -> Check:
    """The check that value == limit, for counts and what must be met to the bit."""
    return Check(name, float(value), float(limit), bool(value == limit), piece, joint)


def between(
    name: str,
    value: float,
    low: float,
    high: float,
    *,
    piece: str | None = None,
    joint: int | None = None,
) -> Check:
    """The check that low <= value <= high."""
    limit = (float(low), float(high))
    return Check(name, float(value), limit, bool(low <= value <= high), piece, joint)


def least(values: FloatArray) -> float:
    """The least finite value; not a number where there is none."""
    finite = values[np.isfinite(values)]
    return float(finite.min()) if finite.size else math.nan


def greatest(values: FloatArray) -> float:
    """The greatest value; not a number where there is none."""
    return float(values.max()) if values.size else math.nan
