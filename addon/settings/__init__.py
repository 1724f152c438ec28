"""What can be asked for, and what printer, joint and fit decide of it."""
