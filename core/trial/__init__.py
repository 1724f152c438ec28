"""A small set of rings that tries a joint's fit before the part is printed."""
