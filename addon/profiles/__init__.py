"""Printer profiles as they are kept."""
