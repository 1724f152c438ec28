"""Meshes of files and of Blender, checked and as the core has them."""
