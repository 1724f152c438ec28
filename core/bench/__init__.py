"""Values of the work at the bench: readings, amounts, stock sizes, times. No words."""
