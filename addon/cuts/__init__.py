"""Cuts that a person moves, by the mouse, by number or by a script."""
