"""Bytes to tables of text, with the line on which each row stands."""
