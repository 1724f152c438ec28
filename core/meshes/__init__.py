"""Closed meshes, and triangles cut and made."""
