"""The part of Borewright that knows no Blender: arrays in, proven pieces out."""
