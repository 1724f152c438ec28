"""The 3MF file format: models written and read."""
