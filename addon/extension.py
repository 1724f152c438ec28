"""The extension as Blender names it."""

ROOT = (__package__ or "").rpartition(".")[0]
"""Its package: where it is installed Blender knows its preferences and its folder by that."""
