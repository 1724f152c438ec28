"""The command: its arguments, its sub-commands and what it writes."""
