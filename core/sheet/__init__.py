"""The plan sheet: drawings and words of a job for the printer and the bench."""
