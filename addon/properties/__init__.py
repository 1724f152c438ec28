"""What Blender keeps for Borewright, and the settings that it comes to."""
