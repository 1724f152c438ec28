"""Borewright: splits tubular prints that are too tall into proven, keyed pieces."""

from .addon import register, unregister

__all__ = ["register", "unregister"]
