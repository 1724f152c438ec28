"""How much plastic pieces take, and whether they stand safely."""
