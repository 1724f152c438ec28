"""What is drawn in the viewport of the active object's survey and plan."""

from .drawing_hooks import register, unregister

__all__ = ["register", "unregister"]
