"""Pieces of window that the views share."""
