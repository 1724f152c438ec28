"""Finished pieces in the scene, and how they are saved from there."""
