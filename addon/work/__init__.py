"""Long work beside Blender."""
