"""Tenons, sockets, and the pieces that carry them."""
