"""A job of mesh files, from what is asked for to the folder of its pieces."""
