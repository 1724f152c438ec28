"""Clearances by fit and by printer, housings of rings, and what a joint holds."""
