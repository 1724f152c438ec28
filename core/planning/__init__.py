"""Where to cut, and why not elsewhere."""
