"""Pieces placed on the printer's beds."""
