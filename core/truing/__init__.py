"""Exact surfaces in place of facets and noise."""
