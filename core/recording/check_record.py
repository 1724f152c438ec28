"""Proofs, for a record."""

from __future__ import annotations

from collections.abc import Mapping

from ..values import Check


def check_entry(check: Check, where: Mapping[str, object]) -> dict[str, object]:
    """A proof for a record, `where` between its name and what was measured."""
    limit = list(check.limit) if isinstance(check.limit, tuple) else check.limit
    measured = {"value": check.value, "limit": limit, "ok": check.ok}
    return {"name": check.name, **where, **measured}
