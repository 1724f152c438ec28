"""Every promise, measured on the finished pieces."""
